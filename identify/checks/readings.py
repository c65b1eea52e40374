"""Readings that no teaching bench shows: mostly a number in another unit than was written."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from identify.findings import Finding
from identify.measurement import Measurement
from identify.quantities import Quantity


@dataclass(frozen=True)
class Plausible:
    """What a reading of one kind is on a teaching bench.

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

    def meant(self, quantity: Quantity) -> Quantity | None:
        """Return the reading in the unit that makes it plausible, None where no unit does."""
        others = [
            Quantity(quantity.value, unit, text=str(quantity.value))
            for unit in self.units
            if unit != quantity.unit
        ]
        fit = [other for other in others if self.holds(other)]
        return min(fit, key=self._far_from_usual, default=None)

    def _far_from_usual(self, quantity: Quantity) -> float:
        return abs(math.log(quantity.to(self.units[0]).value / self.usual))


_PRESSURES = ("hPa", "mmHg", "kPa", "inHg", "psi", "atm", "bar", "Pa")
_TEMPERATURES = ("C", "F", "K")

# Common practice, all of them. Pressure: a laboratory at 4,500 m in a low, and the highest
# pressure on record at sea level (1084 hPa, from memory).
PRESSURE = Plausible(
    "pressure of the laboratory",
    "pressure",
    550.0,
    1090.0,
    1000.0,
    _PRESSURES,
    "laboratories have 550 to 1090 hPa",
)
ROOM = Plausible(
    "temperature of the room",
    "temperature",
    5.0,
    45.0,
    22.0,
    _TEMPERATURES,
    "rooms are between 5 and 45 °C",
)
WATER = Plausible(
    "temperature of the water in the flask",
    "temperature",
    1.0,
    60.0,
    22.0,
    _TEMPERATURES,
    "water for a volume is between 1 and 60 °C",
)
BATH = Plausible(
    "temperature of the bath",
    "temperature",
    30.0,
    200.0,
    98.0,
    _TEMPERATURES,
    "baths are between 30 and 200 °C",
)
BOILING_POINT = Plausible(
    "boiling point",
    "temperature",
    10.0,
    300.0,
    80.0,
    _TEMPERATURES,
    "liquids for this experiment boil between 10 and 300 °C",
)
# Of the boiling point: down to a good vacuum, since a card may give any.
BOILING_PRESSURE = Plausible(
    "pressure of the boiling point",
    "pressure",
    0.1,
    1200.0,
    1013.0,
    _PRESSURES,
    "boiling points are given at 1200 hPa at most",
)
VOLUME = Plausible(
    "volume of the flask",
    "volume",
    15.0,
    2500.0,
    250.0,
    ("mL", "L", "uL", "m3"),
    "flasks for this experiment hold 15 to 2500 mL",
)
WATER_MASS = Plausible(
    "mass of the water in the flask",
    "mass",
    15.0,
    2500.0,
    250.0,
    ("g", "kg", "mg"),
    "flasks for this experiment hold 15 to 2500 g",
)
FLASK_MASS = Plausible(
    "mass of the flask",
    "mass",
    5.0,
    1500.0,
    100.0,
    ("g", "kg", "mg"),
    "flasks for this experiment have 5 to 1500 g",
)
MOLAR_MASS = Plausible(
    "molar mass",
    "molar-mass",
    15.0,
    600.0,
    70.0,
    ("g/mol", "kg/mol"),
    "volatile liquids have 15 to 600 g/mol",
)
HUMIDITY = Plausible(
    "relative humidity",
    "humidity",
    1.5,
    100.0,
    50.0,
    ("%", "1"),
    "rooms have 1.5 to 100 %",
)

# Where the reading is kept, by name of field.
_OF_CONDITIONS = {"pressure": PRESSURE, "room": ROOM, "humidity": HUMIDITY}
_OF_FLASK = {
    "volume": VOLUME,
    "water_volume": VOLUME,
    "water_mass": WATER_MASS,
    "water_temperature": WATER,
}
_OF_TRIAL = {"empty": FLASK_MASS, "condensed": FLASK_MASS, "bath": BATH}
_OF_RUN = {
    "boiling_point": BOILING_POINT,
    "boiling_point_at": BOILING_PRESSURE,
    "molar_mass": MOLAR_MASS,
}

Doubted = frozenset[tuple[str, Quantity]]


def unbelievable(run: Measurement) -> tuple[list[Finding], Doubted]:
    """Find the readings that no bench shows.

    Parameters
    ----------
    run : Measurement

    Returns
    -------
    findings : list of Finding
        One for each such reading, however many trials share it.
    doubted : frozenset of (str, Quantity)
        Field and reading; the other checks leave these out.
    """
    found: dict[tuple[str, Quantity], Finding] = {}
    for field, plausible, quantity in _readings(run):
        if (field, quantity) not in found and not plausible.holds(quantity):
            found[field, quantity] = _finding(plausible, quantity)
    return list(found.values()), frozenset(found)


def _readings(run: Measurement) -> Iterator[tuple[str, Plausible, Quantity]]:
    places: list[tuple[object, dict[str, Plausible]]] = [
        (run, _OF_RUN),
        (run.conditions, _OF_CONDITIONS),
        (run.flask, _OF_FLASK),
    ]
    for trial in run.trials:
        places += [
            (trial, _OF_TRIAL),
            (run.trial_conditions(trial), _OF_CONDITIONS),
            (run.trial_flask(trial), _OF_FLASK),
        ]
    for record, fields in places:
        for field, plausible in fields.items():
            quantity = getattr(record, field)
            if quantity is not None:
                yield field, plausible, quantity


def _finding(plausible: Plausible, quantity: Quantity) -> Finding:
    meant = plausible.meant(quantity)
    unit = plausible.units[0]
    shown = quantity.to(unit)
    also = "" if quantity.unit == unit else f", that is {shown.value:.4g} {_name(unit)}"
    message = f"The {plausible.reading} is written as {quantity}{also}; {plausible.why}."
    numbers = {f"read_{_key(unit)}": shown.value}
    if meant is None:
        return Finding(
            f"{plausible.kind}-implausible",
            "error",
            message,
            "Look at the number in the notebook again: its digits, its decimal point, its unit.",
            numbers,
        )
    corrected = meant.to(unit)
    same = "" if meant.unit == unit else f" ({corrected.value:.4g} {_name(unit)})"
    return Finding(
        f"{plausible.kind}-unit",
        "error",
        message,
        f"Did you mean {meant.value:.10g} {_name(meant.unit)}{same}? Write it with that unit.",
        {**numbers, f"meant_{_key(unit)}": corrected.value},
    )


def _name(unit: str) -> str:
    return {"C": "°C", "F": "°F", "1": "as a fraction"}.get(unit, unit)


def _key(unit: str) -> str:
    return {"%": "percent", "g/mol": "g_per_mol"}.get(unit, unit)
