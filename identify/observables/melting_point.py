"""The melting or freezing point."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from identify.notebook.plausible import temperature_range
from identify.observables.error.comparison import at_least
from identify.observables.liquid_constant import LiquidConstant, LiquidConstants
from identify.physics.arrays import Array
from identify.physics.constants import ICE_POINT

# Of 5300 compounds in two of the collections two thirds agree within 1.2 K.
_PUBLISHED_U = 1.0  # K

# A liquid may be some kelvins below its melting point without freezing, a cold bottle is warmed up
# before it is handed out, and tert-butanol (25.8 degrees Celsius) is handed out; common practice.
_SUPERCOOLED = 10.0  # K
_MELTED_SD = 3.0  # K: of that margin, of the room where nobody read it, of the melting point
# Chance that a melting point above the room is wrong, by collection. Of the six compounds that boil
# below 130 degrees Celsius and melt above 28 by COMMON_CHEMISTRY, four are liquids (the numbers are
# boiling points under vacuum); of the 17 by the CRC Handbook none is. In the open notebook one of
# 16 differs by more than 10 K from another collection.
_WRONG = {"COMMON_CHEMISTRY": 0.5, "OPEN_NTBKM": 0.1, "WIKIDATA": 0.1}
_WRONG_ELSE = 0.02


def chance_of_wrong(sources: Sequence[str]) -> Array:
    """Return the chance that melting points of these collections are wrong, shape (n,)."""
    return np.array([_WRONG.get(source, _WRONG_ELSE) for source in sources])


def melted_chance(melting: Array, wrong: Array, room: float) -> Array:
    """Return the chance that compounds are melted in the room, shape (n,).

    Parameters
    ----------
    melting : array, shape (n,)
        Melting points [K], NaN where not known: then the chance is one.
    wrong : array, shape (n,)
        See `chance_of_wrong`.
    room : float
        In K.

    Examples
    --------
    >>> melting = np.array([np.nan, 299.0, 319.3, 319.3])
    >>> wrong = chance_of_wrong(["", "CRC_ORG", "CRC_ORG", "OPEN_NTBKM"])
    >>> melted_chance(melting, wrong, 295.15).round(2).tolist()
    [1.0, 0.97, 0.02, 0.1]
    """
    chance = np.ones(len(melting))
    solid = np.flatnonzero(melting > room)
    chance[solid] = wrong[solid] + (1.0 - wrong[solid]) * at_least(
        room + _SUPERCOOLED - melting[solid], _MELTED_SD
    )
    return chance


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
