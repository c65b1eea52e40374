"""The record as it was read: what stands in the file, and what it was taken for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from identify.bench.assumed import AssumedCondition
from identify.notebook.measurement import (
    Combustion,
    Conditions,
    Flask,
    Measurement,
    Trial,
    readings,
    words,
)
from identify.notebook.quantity.quantities import Quantity
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.physics.combustion import PRODUCTS


@dataclass(frozen=True)
class RecordTable:
    """Some readings.

    Parameters
    ----------
    title : str
    rows : tuple of (str, str, str)
        What it is, as written, and as it was read.
    """

    title: str
    rows: tuple[tuple[str, str, str], ...]


# Names of fields where their words alone do not say it.
_NAMES = {
    "empty": "flask and lid, empty",
    "condensed": "flask, lid and condensed liquid",
    "bath": "temperature of the bath",
    "room": "temperature of the room",
    "gain": "gain in mass",
    "weighed_at": "temperature of the cooled flask",
    "liquid": "liquid that was poured in",
    "size": "size printed on it",
    "pressure": "pressure",
    "volume": "volume to the brim",
    "water_mass": "mass of the water that fills it",
    "water_temperature": "temperature of that water",
    "water_volume": "volume of the water that fills it",
    "boiling_point_at": "pressure of the boiling point",
    **{
        f"{name}_at": f"temperature of the {constant.words}"
        for name, constant in LIQUID_CONSTANTS.items()
    },
    "humidity": "relative humidity",
    "height": "height above sea level",
    "sample": "what was burned",
    **{product.formula.lower(): product.name for product in PRODUCTS},
}


def record_tables(
    run: Measurement, assumed: Sequence[AssumedCondition] = ()
) -> tuple[RecordTable, ...]:
    """Return what was read, in the order of a notebook page, and what was assumed beside it.

    Examples
    --------
    >>> card, flask = record_tables(
    ...     Measurement("C-14", boiling_point="64,6 C", flask=Flask(volume=287.4))
    ... )
    >>> card.title, card.rows
    ('Card', (('boiling point', '64,6 C', '64.6 °C'),))
    """
    card = [*_rows(run), *_percent(run)]
    burned = [] if run.combustion is None else list(_rows(run.combustion))
    parts = [("Card", card), ("Combustion", burned), ("Laboratory", _conditions(run.conditions))]
    parts.append(("Flask", list(_rows(run.flask))))
    for number, trial in enumerate(run.trials, 1):
        title = "Weighing" if len(run.trials) == 1 else f"Trial {number}"
        if trial.source.row is not None:
            title += f", row {trial.source.row}"
        parts.append((title, trial_rows(trial)))
    parts.append(("Not written down, taken as usual", [_assumed(one) for one in assumed]))
    return tuple(RecordTable(title, tuple(rows)) for title, rows in parts if rows)


def _assumed(one: AssumedCondition) -> tuple[str, str, str]:
    name = _NAMES.get(one.condition, one.condition)
    taken = Quantity(one.value, one.unit, one.standard_uncertainty)
    return name, "", f"{taken} ({100.0 * one.share:.0f} % of the variance)"


def trial_rows(trial: Trial) -> list[tuple[str, str, str]]:
    """Return what was read in one trial: what it is, as written, and as it was read."""
    own = [] if trial.conditions is None else _conditions(trial.conditions)
    flask = [] if trial.flask is None else list(_rows(trial.flask))
    circumstances = [(name, what, what) for name, what in trial.circumstances]
    return [*_rows(trial), *own, *flask, *circumstances]


def _conditions(conditions: Conditions) -> list[tuple[str, str, str]]:
    rows = list(_rows(conditions))
    if conditions.mercury_barometer:
        rows.append(("barometer", "mercury", "a mercury column, to be corrected"))
    return rows


def _rows(
    record: Measurement | Combustion | Conditions | Flask | Trial,
) -> Iterator[tuple[str, str, str]]:
    for field in readings(type(record)):
        quantity: Any = getattr(record, field)
        if quantity is not None:
            yield _row(_NAMES.get(field, field.replace("_", " ")), quantity)
    for field in words(type(record)):
        if word := getattr(record, field):
            yield field.replace("_", " "), word, word


def _percent(run: Measurement) -> Iterator[tuple[str, str, str]]:
    for element, quantity in run.percent.items():
        yield _row(f"percent {element}", quantity)


def _row(name: str, quantity: Quantity) -> tuple[str, str, str]:
    return name, quantity.text or str(quantity), str(quantity)
