"""One row of a table, or one part of a run record, before rows are put together."""

from __future__ import annotations

import datetime
import numbers
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from identify.notebook.measurement import (
    Conditions,
    Flask,
    Measurement,
    Reading,
    Source,
    Trial,
    element_symbol,
    readings,
)
from identify.notebook.quantities import Quantity, QuantityError, read_quantity
from identify.tables.faults import Fault

CARD_FIELDS = tuple(readings(Measurement))
CONDITION_FIELDS = tuple(readings(Conditions))
FLASK_FIELDS = tuple(readings(Flask))
TRIAL_FIELDS = tuple(readings(Trial))
FIELDS: Mapping[str, Reading] = MappingProxyType(
    {
        name: reading
        for part in (Measurement, Conditions, Flask, Trial)
        for name, reading in readings(part).items()
    }
)
BAROMETER = "barometer"  # holds a word, not a quantity
PERCENT = "percent_"  # a composition's fields are "percent_C", "percent_H", ...

# Cells that only a person reads: let pass wherever they stand.
NOTES = frozenset({"note", "notes", "comment", "comments", "remark", "remarks", "date"})
# What tells one day, instrument or place from another.
CIRCUMSTANCES = ("balance", "barometer_name", "bench", "day", "flask", "thermometer")
# Names of columns and keys, and the circumstance that each of them tells.
CIRCUMSTANCE_OF: Mapping[str, str] = MappingProxyType(
    {**{name: name for name in CIRCUMSTANCES}, "date": "day"}
)
LABORATORY = "laboratory"  # a boiling point read at the run's own pressure
_BAROMETERS = {"mercury": True, "aneroid": False, "digital": False, "electronic": False}


@dataclass
class Entry:
    """What one row holds, by field."""

    source: Source
    label: str
    student: str = ""
    written: dict[str, Quantity] = field(default_factory=dict)
    barometer: bool | None = None  # True for a mercury column
    at_laboratory: bool = False
    circumstances: dict[str, str] = field(default_factory=dict)
    columns: dict[str, str] = field(default_factory=dict)  # each field as the file calls it
    faulty: bool = False

    @property
    def is_trial(self) -> bool:
        """Whether something was weighed, or a bath read."""
        return any(name in self.written for name in TRIAL_FIELDS)

    @property
    def is_weighed(self) -> bool:
        """Whether something was weighed."""
        return any(name in self.written for name in TRIAL_FIELDS if name != "bath")

    def holds_same(self, other: Entry) -> bool:
        """Whether two entries read the same; on which day or bench is no reading."""
        return (self.written, self.barometer, self.at_laboratory) == (
            other.written,
            other.barometer,
            other.at_laboratory,
        )

    def part(self, names: tuple[str, ...]) -> dict[str, Quantity]:
        """Return those of the fields that are written."""
        return {name: self.written[name] for name in names if name in self.written}

    def circumstance(self, name: str) -> dict[str, str]:
        """Return one of the circumstances, if it is written."""
        return {name: self.circumstances[name]} if name in self.circumstances else {}

    def read(self, name: str, cell: object, unit: str, faults: list[Fault]) -> None:
        """Read a cell into a field; a fault marks the entry as faulty.

        Parameters
        ----------
        name : str
            A key of `FIELDS`, ``"percent_C"`` and so on, or ``"barometer"``.
        cell : object
            Text or number; for `Fills` also a list.
        unit : str
            Unit of a plain number.
        faults : list of Fault
            Takes what cannot be read.
        """
        word = cell.strip().casefold() if isinstance(cell, str) and len(cell) < 40 else ""
        try:
            if name == BAROMETER:
                if word not in _BAROMETERS:
                    advice = f"write one of {', '.join(_BAROMETERS)}"
                    raise QuantityError(str(cell), "is no kind of barometer", advice)
                self.barometer = _BAROMETERS[word]
            elif name == "boiling_point_at" and word == LABORATORY:
                self.at_laboratory = True
            else:
                self.written[name] = (
                    FIELDS[name].read(cell, unit)
                    if name in FIELDS
                    else read_quantity(cell, "percent", unit)
                )
        except QuantityError as error:
            self.fault(name, error, faults)

    def read_circumstance(self, name: str, cell: object, faults: list[Fault]) -> None:
        """Take the word that a cell holds for a circumstance."""
        try:
            self.circumstances[name] = circumstance_word(cell)
        except QuantityError as error:
            self.fault(name, error, faults)

    def read_element(self, symbol: str, cell: object, place: str, faults: list[Fault]) -> None:
        """Read one element's percentage, as `read` does; ``place`` is how the file calls it."""
        self.columns["percent"] = place
        try:
            name = PERCENT + element_symbol(symbol)
            if name in self.written:
                raise QuantityError(symbol, "is there twice", "give each element once")
        except QuantityError as error:
            self.fault("percent", error, faults)
            return
        self.columns[name] = place
        self.read(name, cell, "%", faults)

    def fault(self, name: str, error: QuantityError, faults: list[Fault]) -> None:
        """Report a field that cannot be used."""
        self.faulty = True
        column = self.columns.get(name, name)
        faults.append(Fault.from_error(self.source, column, error, self.label, self.student))


def circumstance_word(cell: object) -> str:
    """Take what names a day or an instrument as text: a number as it is shown, a date in ISO form.

    Raises
    ------
    QuantityError
        If it is neither text nor number nor date.

    Examples
    --------
    >>> circumstance_word(" bench  2 "), circumstance_word(14.0)
    ('bench 2', '14')
    >>> circumstance_word(datetime.datetime(2026, 3, 14))
    '2026-03-14'
    """
    if isinstance(cell, datetime.datetime):  # a spreadsheet's date has a time, which is midnight
        cell = cell.date()
    if isinstance(cell, datetime.date | datetime.time):
        return cell.isoformat()
    if isinstance(cell, float) and cell.is_integer():
        cell = int(cell)
    if not isinstance(cell, str | numbers.Real) or isinstance(cell, bool):
        raise QuantityError(str(cell), "is no name", "write a word, a number or a date")
    return " ".join(str(cell).split())
