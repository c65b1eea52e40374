"""How readings are usually spread, and what is taken where nothing is written.

The one place for such numbers. Where no source stands beside a number it is common practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log10, pi, sqrt
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from identify.physics.arrays import Array
from identify.physics.constants import ICE_POINT

# ------------------------------------------------------------- how readings lie within bounds


@dataclass(frozen=True)
class _ReadingSpread:
    """How readings of one kind are spread: a share around a value, the rest between limits."""

    value: float
    spread: float
    share: float
    lowest: float
    highest: float

    def density(self, value: Array | float) -> Array:
        """Return the density of readings [per SI unit], elementwise."""
        anywhere = (1.0 - self.share) / (self.highest - self.lowest)
        off = (value - self.value) / self.spread
        around = np.exp(-0.5 * off * off) / (self.spread * sqrt(2.0 * pi))
        inside = np.where(self.holds(value), 1.0, _NEXT_TO_NONE)
        return np.asarray(self.share * around + anywhere * inside)

    def holds(self, value: Array | float) -> NDArray[np.bool_]:
        """Say of readings whether a bench can show them at all, elementwise."""
        return np.asarray((self.lowest < value) & (value < self.highest))


_NEXT_TO_NONE = 1e-4  # of the density within the limits

# Most readings lie around a value, the others anywhere within limits that are narrower than what is
# plausible at all, and next to none outside [SI units]: water baths, heated rooms, most towns below
# 500 m, Erlenmeyer flasks, and the mass of the vapor in them.
SPREADS: Mapping[str, _ReadingSpread] = MappingProxyType(
    {
        "pressure": _ReadingSpread(1.000e5, 2e3, 0.7, 6.5e4, 1.06e5),
        "room": _ReadingSpread(ICE_POINT + 22.0, 2.5, 0.95, ICE_POINT + 5.0, ICE_POINT + 45.0),
        "bath": _ReadingSpread(ICE_POINT + 98.0, 4.0, 0.8, ICE_POINT + 32.0, ICE_POINT + 150.0),
        "volume": _ReadingSpread(2.6e-4, 1e-4, 0.8, 2e-5, 1.5e-3),
        "mass": _ReadingSpread(0.10, 0.05, 0.8, 0.01, 1.0),
    }
)


@dataclass(frozen=True)
class _LastDigit:
    """How often readings of one kind are written to the unit, a tenth and a hundredth of it."""

    unit: float
    counts: tuple[int, ...]

    def count(self, step: float) -> float:
        """Return how often they are written to this step, roughly [SI units]."""
        place = round(log10(self.unit / step))
        return self.counts[place] if 0 <= place < len(self.counts) else _SELDOM_WRITTEN


_SELDOM_WRITTEN = 0.5  # to tens, or to thousandths, on that scale

# As on the pages of `tests/references/published_pages`, each count one more than found there.
_BATH_DIGITS = _LastDigit(1.0, (15, 8, 1))
LAST_DIGITS: Mapping[str, _LastDigit] = MappingProxyType(
    {
        "pressure": _LastDigit(133.322, (13, 10, 2)),
        "bath": _BATH_DIGITS,
        "boiling_point": _BATH_DIGITS,
        "volume": _LastDigit(1e-6, (31, 7, 2)),
    }
)
"""By field of a page, to which digit it is written: mmHg, degrees Celsius, mL."""

# Of boiling points: mostly a laboratory's pressure, seldom one under which something was distilled.
BOILING_PRESSURES = _ReadingSpread(1.000e5, 2e3, 0.7, 10.0, 1.2e5)  # Pa

# ---------------------------------------------------------- taken where nothing is written down

ROOM = ICE_POINT + 22.0  # K
ROOM_SPREAD = 3.0  # K: from a cool morning to a warm afternoon, 16 to 28 °C
PRESSURE_SPREAD = 3e3  # Pa, about 1 atm: the weather at the sea, and towns up to some 500 m
WEATHER = 1e3  # Pa: how pressures at one place are spread from day to day
# How far one trial is from another of the same page, where only the other's was written.
BESIDE_OTHER_TRIALS: Mapping[str, float] = MappingProxyType(
    {"pressure": 300.0, "room": 1.0, "bath": 1.0}  # Pa, K
)
# Glassware is calibrated for 20 degrees Celsius, ISO 384: the temperature of a flask's water, and
# of a mercury column, where neither that nor the room's was written.
CALIBRATED_AT = 293.15  # K
# Half of saturation; dry or soaked air differ from it by 0.5 % of the air's density at 22 degrees
# Celsius, a twentieth of a percent of a molar mass.
HUMIDITY = 0.5
WATER_SPREAD = 2.0  # K: how far the water in a flask is from the room, where nobody read it
# A beaker that simmers is a little cooler than steam.
BATH_BELOW_BOILING_WATER = 1.0  # K
STEAM_POINT = ICE_POINT + 100.0  # K, at the sea
BOILING_WATER_SPREAD = 1.0  # K, where the page says that the water boiled
BATH_SPREAD = 2.0  # K, where it says nothing
# The neck of the flask stands out of the bath, and its foil in the room: the vapor is a little
# cooler than the thermometer beside it shows, by 1 K, give or take as much. Common practice.
VAPOR_COOLER, VAPOR_COOLER_SPREAD = 1.0, 1.0  # K
# A flask of 250 mL, filled to the brim: 8 to 20 % more than what is printed on it.
BRIM_VOLUME = 285e-6  # m3

# Words in place of a number, by field; what they mean follows from the other readings.
BATH_WORDS = frozenset(
    {
        "at the boil",
        "boiling",
        "boiling bath",
        "boiling point of water",
        "boiling water",
        "boiling water bath",
        "boiling water temperature",
        "boiling-water bath",
        "gently boiling water",
        "steam",
        "steam bath",
        "temperature of boiling water",
        "vigorously boiling water",
        "water bath",
    }
)
ROOM_WORDS = frozenset(
    {
        "ambient",
        "ambient temperature",
        "lab temperature",
        "laboratory temperature",
        "r.t.",
        "room",
        "room temp",
        "room temp.",
        "room temperature",
        "room-temperature",
        "rt",
    }
)
ICE_WORDS = frozenset({"ice", "ice bath", "ice water", "ice water bath", "ice-water bath"})
# Written in the place of a reading that there is none.
NOT_MEASURED_WORDS = frozenset(
    {
        "-",
        "--",
        "---",
        "n.a.",
        "n.d.",
        "n/a",
        "na",
        "no",
        "none",
        "not available",
        "not determined",
        "not given",
        "not measured",
        "not read",
        "not recorded",
        "not taken",
        "unknown",
        "–",
        "—",
    }
)
COOLED_WORDS = ROOM_WORDS | ICE_WORDS
_ICE_BATH = ICE_POINT + 2.0  # K: the vapor space of a flask in ice is a little warmer than the ice
ICE_BATH_SPREAD = 2.0  # K


def says_not_measured(written: object) -> bool:
    """Say whether words stand in the place of a reading which mean that there is none.

    Examples
    --------
    >>> says_not_measured(" N/A "), says_not_measured("hot")
    (True, False)
    """
    return isinstance(written, str) and written.strip().casefold() in NOT_MEASURED_WORDS


def word_means(word: str) -> float:
    """Return the temperature that a word of the bench usually means [K].

    Examples
    --------
    >>> word_means("boiling water")
    373.15
    """
    if word in BATH_WORDS:
        return STEAM_POINT
    return ROOM if word in ROOM_WORDS else _ICE_BATH


# --------------------------------------------------------------------- flasks, baths and trials

_NOMINAL_SIZES = (25, 50, 100, 125, 150, 200, 250, 300, 400, 500, 600, 1000, 2000)  # mL, printed
_SAME_SIZE = 1e-6  # relative: what a conversion between units leaves
BRIM_OVER_NOMINAL = (1.05, 1.25)  # brim volume over that, from and to
BRIM_RATIO, BRIM_RATIO_SD = 1.13, 0.05  # the same, mean and standard deviation
# Liquid that is poured in, as a multiple of what fills the flask with vapor: even where the vapor
# mixes with the air completely, less than 1 % of the air is left. In a flask of 250 mL that is 3 to
# 4 mL of acetone. Common practice.
USUAL_FILLS = 5.0
# A class, and how often each student weighs. Common practice.
CLASS_SIZE, TRIALS_EACH = 24, 3
# So that all of the liquid boils off and none is left in the neck of the flask: bath above boiling.
BATH_MARGIN = 5.0  # K
# A bath that is read so much too low may still be hot enough, and one that is read so much too high
# may still be boiling water: twice `THERMOMETER`.
BATH_READ_WITHIN = 1.0  # K
# Standard deviation between repeated trials of one person with one flask, relative, beyond what
# was stated for the readings.
REPEATABILITY = 0.02

# ----------------------------------- standard uncertainties of instruments, where none is stated

# Half of the smallest division of a thermometer in degrees and of a barometer in millimeters.
THERMOMETER = 0.5  # K
BAROMETER = 0.5  # mmHg
BALANCE = 0.001  # g: one unit of the last digit of a balance that reads milligrams
# A graduated cylinder of 100 mL, class B, is made to 1 mL (ISO 4788; from memory); half of that, at
# each fill. A flask's volume of which nothing is said was measured out in as many as it takes.
CYLINDER = 0.5  # mL
CYLINDER_SIZE = 100.0  # mL
# Nobody wrote the humidity down: anything from 20 to 80 % is alike likely. A hygrometer: 5 points.
ANY_HUMIDITY = 0.3 / sqrt(3.0)
HYGROMETER = 0.05
# Of published boiling points that students read, half are more than 5.6 K off.
OWN_BOILING_POINT = 5.6  # K
CARD_BOILING_POINT = 0.5  # K: cards give boiling points to a few tenths


def tolerance_u(tolerance: float) -> float:
    """Return the standard uncertainty that a tolerance stands for: half of it, in its unit.

    Examples
    --------
    >>> tolerance_u(2.0)
    1.0
    """
    return 0.5 * tolerance


def printed_size(milliliters: float) -> int | None:
    """Return the size that is printed on a flask where a volume is exactly that, else None [mL].

    Examples
    --------
    >>> printed_size(250.0), printed_size(250.3)
    (250, None)
    """
    nearest = min(_NOMINAL_SIZES, key=lambda size: abs(size - milliliters))
    return nearest if abs(milliliters - nearest) <= _SAME_SIZE * nearest else None
