"""The melting or freezing point."""

from __future__ import annotations

import numpy as np

from identify.notebook.usual import temperature_range
from identify.observables.liquid_constant import LiquidConstant, LiquidConstants
from identify.physics.arrays import Array
from identify.physics.constants import ICE_POINT

# Of 5300 compounds in two of the collections two thirds agree within 1.2 K.
_PUBLISHED_U = 1.0  # K


def _predicted(liquids: LiquidConstants, temperature: float) -> tuple[Array, Array]:
    value = liquids.columns.number("melting_point_C") + ICE_POINT
    return value, np.where(np.isnan(value), np.nan, _PUBLISHED_U)


# Bandwidth and spread as the table's liquids below 100 degrees Celsius have them. Of 5300 melting
# points that two collections list, one in sixteen differs by more than 10 K, so that the table
# itself is at fault more often than for the other readings. Ice and salt go down to -21 degrees
# Celsius; common practice.
MELTING_POINT = LiquidConstant(
    name="melting_point",
    words="melting point",
    unit="C",
    bench_unit="K",
    tolerance=2.0,
    tolerance_unit="C",
    decimals=1,
    headings="melting/freezing point temperature? range?, melting/freezing range, "
    "melting/freezing temperature range?",
    predict=_predicted,
    has_temperature=False,
    column="melting_point_C",
    column_unit="C",
    column_decimals=1,
    column_heading="melts\noff °C",
    gross=0.06,
    gross_scale=25.0,
    bandwidth=25.0,
    usual=200.0,
    spread=50.0,
    least=0.2,
    allowance=5.0,
    plausible=temperature_range(
        "melting point", -220.0, 100.0, 0.0, "liquids in the room melt between -220 and 100 °C"
    ),
    help="Melting or freezing point, in C",
    deviation_key="melting_point_C",
    what="the freezing point in ice and salt",
    coarse_decimals=0,
    coldest=ICE_POINT - 20.0,
)
