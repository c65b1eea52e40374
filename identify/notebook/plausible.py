"""What a teaching bench can have read: beyond these bounds a reading is a slip.

Where no source stands beside a number it is common practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from math import inf, log
from types import MappingProxyType

from identify.notebook.quantity.notation import THOUSANDS
from identify.notebook.quantity.quantities import Quantity
from identify.notebook.quantity.units import known_unit
from identify.physics.constants import ICE_POINT


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
