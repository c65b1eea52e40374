"""What a teaching bench usually reads, and what is taken where nothing is written.

The one place for such numbers. Where no source stands beside a number it is common practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from math import exp, inf, log, pi, sqrt
from types import MappingProxyType

from identify.notebook.quantity.notation import THOUSANDS
from identify.notebook.quantity.quantities import Quantity
from identify.notebook.quantity.units import known_unit
from identify.physics.constants import ICE_POINT

# ------------------------------------------------------- bounds of what a bench can have read


@dataclass(frozen=True)
class Plausible:
    """What a reading of one kind is on a teaching bench; beyond it, the reading is a slip.

    Parameters
    ----------
    reading : str
        As it stands in a sentence.
    kind : str
        Begins the codes of its findings.
    lowest, highest : float
        In the first of ``units``.
    usual : float
        Of several units that would do, the one that brings the reading nearest to this is named.
    units : tuple of str
        Units that people mistake for each other.
    why : str
        Where the limits come from; ends the message.
    """

    reading: str
    kind: str
    lowest: float
    highest: float
    usual: float
    units: tuple[str, ...]
    why: str

    def holds(self, quantity: Quantity) -> bool:
        """Say whether a reading is plausible as it was written."""
        return self.lowest <= quantity.to(self.units[0]).value <= self.highest

    @cached_property
    def limits(self) -> tuple[float, float]:
        """The lowest and the highest plausible reading [SI units]."""
        unit = self.units[0]
        return _si(self.lowest, unit), _si(self.highest, unit)

    def holds_si(self, value: float) -> bool:
        """Say whether a reading in SI units is plausible; NaN is not."""
        lowest, highest = self.limits
        return lowest <= value <= highest

    def meant(self, quantity: Quantity) -> Quantity | None:
        """Return the reading in the unit that makes it plausible, None where no unit does.

        Or with its comma read as one of thousands: "1,013 hPa" is 1.013 hPa as it was read.
        """
        others = [
            Quantity(quantity.value, unit, text=str(quantity.value))
            for unit in self.units
            if unit != quantity.unit
        ]
        if THOUSANDS.search(quantity.text):  # first: of two that are alike, this is the likelier
            others.insert(0, Quantity(1000.0 * quantity.value, quantity.unit))
        fit = [other for other in others if self.holds(other)]
        return min(fit, key=self._far_from_usual, default=None)

    def _far_from_usual(self, quantity: Quantity) -> float:
        read, usual = _si(quantity.value, quantity.unit), _si(self.usual, self.units[0])
        # Degrees Celsius may be zero, or below: temperatures differ by kelvins.
        if known_unit(self.units[0]).dimension == "temperature":
            return abs(read - usual)
        ratio = read / usual
        return abs(log(ratio)) if ratio > 0.0 else inf  # below the sea


def _si(value: float, unit: str) -> float:
    known = known_unit(unit)
    return (value + known.zero) * known.scale


_PRESSURES = ("hPa", "mmHg", "kPa", "inHg", "psi", "atm", "bar", "Pa")
_TEMPERATURES = ("C", "F", "K")
_MASSES = ("g", "kg", "mg")


def temperature_range(
    reading: str, lowest: float, highest: float, usual: float, why: str
) -> Plausible:
    """Say what a temperature is on a bench [degrees Celsius]; see `Plausible`."""
    return Plausible(reading, "temperature", lowest, highest, usual, _TEMPERATURES, why)


def _pressure(reading: str, lowest: float, highest: float, why: str) -> Plausible:
    return Plausible(reading, "pressure", lowest, highest, 1013.0, _PRESSURES, why)


# Down to the bulb of a pipet, of 1.5 g.
_VOLUME = Plausible(
    "volume of the flask",
    "volume",
    5.0,
    2500.0,
    250.0,
    ("mL", "L", "uL", "m3"),
    "flasks and bulbs for this experiment hold 5 to 2500 mL",
)
_WATER_MASS = Plausible(
    "mass of the water in the flask",
    "mass",
    5.0,
    2500.0,
    250.0,
    _MASSES,
    "flasks and bulbs for this experiment hold 5 to 2500 g",
)
_FLASK_MASS = Plausible(
    "mass of the flask",
    "mass",
    1.0,
    1500.0,
    100.0,
    _MASSES,
    "flasks and bulbs for this experiment have 1 to 1500 g",
)
_MOLAR_MASS = Plausible(
    "molar mass",
    "molar-mass",
    15.0,
    600.0,
    70.0,
    ("g/mol",),
    "volatile liquids have 15 to 600 g/mol",
)
_HUMIDITY = Plausible(
    "relative humidity",
    "humidity",
    1.5,
    100.0,
    50.0,
    ("%", "1"),
    "rooms have 1.5 to 100 %",
)

# Of a weighed liquid that was vaporized in a syringe, in place of what a flask in a bath has. Its
# vapor is taken at less than the air's pressure, too: textbooks have it down to 75 mmHg.
IN_A_SYRINGE: Mapping[str, Plausible] = MappingProxyType(
    {
        "bath": temperature_range(
            "temperature of the vapor in the syringe",
            0.0,
            300.0,
            100.0,
            "syringes with vapor have 0 to 300 °C",
        ),
        "pressure": _pressure(
            "pressure of the vapor", 60.0, 3000.0, "vapors are measured at 60 to 3000 hPa"
        ),
    }
)

# By field of a measurement and its parts; constants of the liquid have theirs in their own files,
# see `identify.observables.catalog`.
PLAUSIBLE: Mapping[str, Plausible] = MappingProxyType(
    {
        "boiling_point": temperature_range(
            "boiling point",
            10.0,
            300.0,
            80.0,
            "liquids for this experiment boil between 10 and 300 °C",
        ),
        # Down to a good vacuum, since a card may give any.
        "boiling_point_at": _pressure(
            "pressure of the boiling point",
            0.1,
            1200.0,
            "boiling points are given at 1200 hPa at most",
        ),
        "molar_mass": _MOLAR_MASS,
        # A laboratory at 4,500 m in a low, and the highest pressure on record at sea level
        # (1084 hPa, from memory).
        "pressure": _pressure(
            "pressure of the laboratory", 550.0, 1090.0, "laboratories have 550 to 1090 hPa"
        ),
        "room": temperature_range(
            "temperature of the room", 5.0, 45.0, 22.0, "rooms are between 5 and 45 °C"
        ),
        "weighed_at": temperature_range(
            "temperature of the flask at the second weighing",
            -20.0,
            60.0,
            22.0,
            "a cooled flask has -20 to 60 °C",
        ),
        "size": _VOLUME,
        "humidity": _HUMIDITY,
        "height": Plausible(
            "height of the laboratory",
            "height",
            -430.0,
            5500.0,
            300.0,
            ("m", "ft", "km"),
            "people live from 430 m below the sea to 5500 m above it",
        ),
        "volume": _VOLUME,
        "water_volume": _VOLUME,
        "water_mass": _WATER_MASS,
        "water_temperature": temperature_range(
            "temperature of the water in the flask",
            1.0,
            60.0,
            22.0,
            "water for a volume is between 1 and 60 °C",
        ),
        "empty": _FLASK_MASS,
        "condensed": _FLASK_MASS,
        "bath": temperature_range(
            "temperature of the bath", 30.0, 200.0, 98.0, "baths are between 30 and 200 °C"
        ),
    }
)

# For these no slip of the pen is thought of where they cannot be, unlike for pressure, bath, volume
# and masses.
_NEVER_A_SLIP = ("room", "humidity", "water_temperature", "weighed_at", "height")


def cannot_be(field: str, written: object) -> bool:
    """Say whether a condition was written that is none in any unit.

    Examples
    --------
    >>> [cannot_be("room", Quantity(room, "C")) for room in (22.5, 72.5, 200.0)]
    [False, False, True]
    """
    if field not in _NEVER_A_SLIP or not isinstance(written, Quantity):
        return False
    plausible = PLAUSIBLE[field]
    return not plausible.holds(written) and plausible.meant(written) is None


_FRACTIONS = 1.5  # percent: what fractions written as percentages add up to at most


def look_like_fractions(total: float, elements: int) -> bool:
    """Say whether the percentages of a card can hardly be anything but fractions of one.

    Parameters
    ----------
    total : float
        What they add up to [percent].
    elements : int
        How many there are.

    Examples
    --------
    >>> look_like_fractions(1.0, elements=3), look_like_fractions(0.9, elements=1)
    (True, False)
    """
    return elements > 1 and 0.0 < total <= _FRACTIONS


_LEAST_OXYGEN = 6.0  # percent: an atom of it in the heaviest of these liquids, of 250 g/mol


def lists_no_oxygen(percent: Mapping[str, float]) -> bool:
    """Say whether a card lists carbon and hydrogen, and leaves the oxygen to the reader.

    Common practice: oxygen is what is left to 100, and is not measured.

    Examples
    --------
    >>> lists_no_oxygen({"C": 52.1, "H": 13.1}), lists_no_oxygen({"C": 85.6, "H": 14.4})
    (True, False)
    """
    return percent.keys() == {"C", "H"} and sum(percent.values()) < 100.0 - _LEAST_OXYGEN


# What a laboratory is planned for may lie further out than what one run is believed: where people
# live and work [Pa, K], and what a bath of oil reaches.
LABORATORY: Mapping[str, tuple[float, float, str]] = MappingProxyType(
    {
        "pressure": (5.0e4, 1.1e5, "from 375 to 825 mmHg"),
        "room": (ICE_POINT + 5.0, ICE_POINT + 45.0, "from 5 to 45 °C"),
        "bath": (ICE_POINT + 30.0, ICE_POINT + 250.0, "from 30 to 250 °C"),
    }
)

# ------------------------------------------------------------- how readings lie within bounds


@dataclass(frozen=True)
class _ReadingSpread:
    """How readings of one kind are spread: a share around a value, the rest between limits."""

    value: float
    spread: float
    share: float
    lowest: float
    highest: float

    def density(self, value: float) -> float:
        """Return the density of a reading [per SI unit]."""
        anywhere = (1.0 - self.share) / (self.highest - self.lowest)
        off = (value - self.value) / self.spread
        around = exp(-0.5 * off * off) / (self.spread * sqrt(2.0 * pi))
        inside = self.lowest < value < self.highest
        return self.share * around + anywhere * (1.0 if inside else _NEXT_TO_NONE)


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
ICE_BATH = ICE_POINT + 2.0  # K: the vapor space of a flask in ice is a little warmer than the ice
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
    return ROOM if word in ROOM_WORDS else ICE_BATH


# --------------------------------------------------------------------- flasks, baths and trials

NOMINAL_SIZES = (25, 50, 100, 125, 150, 200, 250, 300, 400, 500, 600, 1000, 2000)  # mL, printed
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
    nearest = min(NOMINAL_SIZES, key=lambda size: abs(size - milliliters))
    return nearest if abs(milliliters - nearest) <= _SAME_SIZE * nearest else None
