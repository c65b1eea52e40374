"""Readings that no teaching bench shows: mostly a number in another unit than was written."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from identify.notebook.findings import Finding, listed
from identify.notebook.measurement import Measurement
from identify.notebook.quantities import Quantity


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
    1013.0,
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
MELTING_POINT = Plausible(
    "melting point",
    "temperature",
    -220.0,
    100.0,
    0.0,
    _TEMPERATURES,
    "liquids in the room melt between -220 and 100 °C",
)
INDEX_TEMPERATURE = Plausible(
    "temperature of the refractive index",
    "temperature",
    0.0,
    60.0,
    20.0,
    _TEMPERATURES,
    "refractive indices are read between 0 and 60 °C",
)
DENSITY_TEMPERATURE = Plausible(
    "temperature of the density",
    "temperature",
    0.0,
    60.0,
    20.0,
    _TEMPERATURES,
    "densities are read between 0 and 60 °C",
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
    ("g/mol",),
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
    "refractive_index_at": INDEX_TEMPERATURE,
    "density_at": DENSITY_TEMPERATURE,
    "melting_point": MELTING_POINT,
}

Doubted = frozenset[tuple[str, Quantity]]


@dataclass(frozen=True)
class _Read:
    """One reading, and the trial whose own it is, None where it is the run's."""

    field: str
    plausible: Plausible
    quantity: Quantity
    trial: int | None


def unbelievable(run: Measurement) -> tuple[list[Finding], Doubted]:
    """Find the readings that no bench shows.

    Parameters
    ----------
    run : Measurement

    Returns
    -------
    findings : list of Finding
        One for each mistake, however many readings and trials share it.
    doubted : frozenset of (str, Quantity)
        Field and reading; the other checks leave these out.
    """
    mistakes: defaultdict[tuple[str, str, str], list[_Read]] = defaultdict(list)
    doubted = set()
    for read in _readings(run):
        if not read.plausible.holds(read.quantity):
            meant = read.plausible.meant(read.quantity)
            unit = "" if meant is None else meant.unit
            mistakes[read.plausible.reading, read.quantity.unit, unit].append(read)
            doubted.add((read.field, read.quantity))
    several = len(run.trials) > 1
    return [_finding(same, several) for same in mistakes.values()], frozenset(doubted)


def _readings(run: Measurement) -> Iterator[_Read]:
    places: list[tuple[object, dict[str, Plausible], int | None]] = [
        (run, _OF_RUN, None),
        (run.conditions, _OF_CONDITIONS, None),
        (run.flask, _OF_FLASK, None),
    ]
    for number, one in enumerate(run.trials, 1):
        places += [
            (one, _OF_TRIAL, number),
            (one.conditions, _OF_CONDITIONS, number),
            (one.flask, _OF_FLASK, number),
        ]
    for record, fields, trial in places:
        for field, plausible in fields.items():
            quantity = getattr(record, field, None)
            if quantity is not None:
                yield _Read(field, plausible, quantity, trial)


def _finding(reads: Sequence[_Read], several_trials: bool) -> Finding:
    plausible = reads[0].plausible
    quantities = list(dict.fromkeys(read.quantity for read in reads))
    trials = {read.trial: None for read in reads if read.trial is not None}
    unit = plausible.units[0]
    shown = [quantity.to(unit).value for quantity in quantities]
    written = listed([str(quantity) for quantity in quantities])
    if quantities[0].unit != unit:
        written += f", that is {listed([f'{value:.4g}' for value in shown])} {_name(unit)}"
    sentence = f"the {plausible.reading} is written as {written}; {plausible.why}."
    message = about_trials(list(trials) if several_trials else [], sentence)
    numbers = _numbered("read", unit, shown)
    meant = [plausible.meant(quantity) for quantity in quantities]
    corrected = [one.to(unit).value for one in meant if one is not None]
    if meant[0] is None:
        return Finding(
            f"{plausible.kind}-implausible",
            "error",
            message,
            "Look at the number in the notebook again: its digits, its decimal point, its unit.",
            numbers,
        )
    same = "" if meant[0].unit == unit else f" ({corrected[0]:.4g} {_name(unit)})"
    return Finding(
        f"{plausible.kind}-unit",
        "error",
        message,
        f"Did you mean {meant[0].value:.10g} {_name(meant[0].unit)}{same}? Write it with that "
        "unit.",
        numbers | _numbered("meant", unit, corrected),
    )


def about_trials(numbers: Sequence[int], sentence: str) -> str:
    """Put the trials that a sentence is about before it.

    Examples
    --------
    >>> about_trials([1, 3], "the bath was cold.")
    'Trials 1 and 3: the bath was cold.'
    >>> about_trials([], "the bath was cold.")
    'The bath was cold.'
    """
    if not numbers:
        return sentence[:1].upper() + sentence[1:]
    word = "Trial" if len(numbers) == 1 else "Trials"
    return f"{word} {listed([str(number) for number in numbers])}: {sentence}"


def _numbered(what: str, unit: str, values: Sequence[float]) -> dict[str, float]:
    """Name the numbers: ``read_C``, and ``read_2_C`` where there is a second."""
    return {
        f"{what}_{_key(unit)}" if place == 1 else f"{what}_{place}_{_key(unit)}": value
        for place, value in enumerate(values, 1)
    }


def _name(unit: str) -> str:
    return {"C": "°C", "F": "°F", "1": "as a fraction"}.get(unit, unit)


def _key(unit: str) -> str:
    return {"%": "percent", "g/mol": "g_per_mol"}.get(unit, unit)
