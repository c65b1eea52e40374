"""The refractive index at the sodium D line."""

from __future__ import annotations

import numpy as np

from identify.observables.liquid_constant import USUAL_TEMPERATURE, LiquidConstant, LiquidConstants
from identify.physics.arrays import Array

# Organic liquids: -3.5e-4 to -5.5e-4 a kelvin; common practice.
_SLOPE, _SLOPE_U = -4.5e-4, 0.5e-4
_PUBLISHED_U = 0.0008  # at 20 degrees Celsius


def _predicted(liquids: LiquidConstants, temperature: float) -> tuple[Array, Array]:
    listed = liquids.columns.number("refractive_index")
    off = temperature - USUAL_TEMPERATURE
    uncertainty = float(np.hypot(_PUBLISHED_U, _SLOPE_U * off))
    return listed + _SLOPE * off, np.where(np.isnan(listed), np.nan, uncertainty)


# Bandwidth and spread as the table's liquids below 100 degrees Celsius have them; the chance of a
# gross error as for the other readings. Tolerance: common practice for a refractometer without a
# thermostat.
REFRACTIVE_INDEX = LiquidConstant(
    name="refractive_index",
    words="refractive index",
    unit="1",
    bench_unit="1",
    tolerance=0.002,
    tolerance_unit="",
    decimals=4,
    headings="refractive index n?",
    predict=_predicted,
    has_temperature=True,
    column="refractive_index",
    column_unit="1",
    column_decimals=4,
    column_heading="index\noff",
    gross=0.02,
    gross_scale=0.05,
    bandwidth=0.02,
    usual=1.40,
    spread=0.05,
    least=2e-4,
    allowance=0.005,
    plural="refractive indices",
    help="Of the liquid, at the sodium D line",
    coarse_decimals=3,
    least_tolerance=1e-4,
)
