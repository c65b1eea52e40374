"""One row of a table, or one part of a run record, before rows are put together."""

from __future__ import annotations

import datetime
import numbers
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from identify.notebook.composition.percentages import element_symbol, split_composition
from identify.notebook.fields import OneOf, Reading
from identify.notebook.measurement import (
    IN_FLASK,
    Combustion,
    Conditions,
    Flask,
    Measurement,
    Source,
    Trial,
    readings,
    words,
)
from identify.notebook.plausible import PLAUSIBLE, cannot_be
from identify.notebook.quantity.notation import PLAIN_NUMBER
from identify.notebook.quantity.quantities import Quantity, QuantityError, excerpt, read_quantity
from identify.tables.faults import Fault


def _fields(part: type) -> dict[str, Reading | OneOf]:
    return {**readings(part), **words(part)}


CARD_FIELDS = tuple(_fields(Measurement))
TRIAL_FIELDS = tuple(_fields(Trial))
CONDITION_FIELDS = tuple(name for name in _fields(Conditions) if name not in TRIAL_FIELDS)
FLASK_FIELDS = tuple(_fields(Flask))
COMBUSTION_FIELDS = tuple(_fields(Combustion))
# Of a trial, but often the same in all of them, so that a page has it once.
ONCE_FOR_ALL = tuple(name for name in _fields(Conditions) if name in TRIAL_FIELDS)
WEIGHINGS = tuple(name for name in TRIAL_FIELDS if name not in ONCE_FOR_ALL)
# What a column of a table may hold.
FIELDS: Mapping[str, Reading] = MappingProxyType(
    {
        name: reading
        for part in (Measurement, Conditions, Flask, Trial)
        for name, reading in readings(part).items()
    }
)
# What a key of a run record may hold, besides.
RECORD_FIELDS: Mapping[str, Reading | OneOf] = MappingProxyType(
    {
        name: one
        for part in (Combustion, Measurement, Conditions, Flask, Trial)
        for name, one in _fields(part).items()
    }
)
BAROMETER = "barometer"  # holds a word, not a quantity
PERCENT = "percent_"  # a composition's fields are "percent_C", "percent_H", ...

NAMES = ("label", "student")
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
    """What one row holds, by field; what cannot be read of it goes to ``faults``.

    Parameters
    ----------
    kind : {"", "run", "trial"}
        Of a run record: what holds for all trials, or one trial; a row of a table may be either.
    written : dict
        Fields that were read.
    words : dict
        Fields that hold a word.
    answer : str
        The liquid that the student named.
    reported : float or None
        The molar mass that the student worked out [g/mol].
    unread : list of str
        Fields in which something was written that could not be read.
    """

    source: Source
    label: str
    student: str = ""
    kind: str = ""
    written: dict[str, Quantity] = field(default_factory=dict)
    words: dict[str, str] = field(default_factory=dict)
    answer: str = ""
    reported: float | None = None
    unread: list[str] = field(default_factory=list)
    vaporized_in: str = IN_FLASK
    barometer: bool | None = None  # True for a mercury column
    at_laboratory: bool = False
    circumstances: dict[str, str] = field(default_factory=dict)
    columns: dict[str, str] = field(default_factory=dict)  # each field as the file calls it
    faults: list[Fault] = field(default_factory=list)
    faulty: bool = False
    nameless: bool = False  # whose it is cannot be told

    @property
    def is_trial(self) -> bool:
        """Whether something was weighed, or a bath read."""
        return self.kind == "trial" or (not self.kind and self._has(TRIAL_FIELDS))

    @property
    def is_weighed(self) -> bool:
        """Whether something was weighed."""
        return self._has(WEIGHINGS)

    def _has(self, names: Iterable[str]) -> bool:
        """Whether something was written in one of the fields, if only what cannot be read."""
        return any(name in self.written or name in self.unread for name in names)

    def holds_same(self, other: Entry) -> bool:
        """Whether two entries read the same; on which day or bench is not a reading."""
        return all(
            getattr(self, name) == getattr(other, name)
            for name in ("written", "words", "barometer", "at_laboratory")
        )

    def part(self, names: tuple[str, ...]) -> dict[str, Any]:
        """Return those of the fields that are written."""
        return {
            name: part[name]
            for name in names
            for part in (self.written, self.words)
            if name in part
        }

    def circumstance(self, names: tuple[str, ...]) -> dict[str, str]:
        """Return those of the circumstances that are written."""
        return {name: self.circumstances[name] for name in names if name in self.circumstances}

    def on_card(self) -> dict[str, Any]:
        """Return what is written of the card, and of a combustion in its place."""
        return {
            name: value
            for name, value in {**self.written, **self.words}.items()
            if name in (*CARD_FIELDS, *COMBUSTION_FIELDS) or name.startswith(PERCENT)
        }

    def stated(self) -> dict[str, object]:
        """Return what it says of the whole unknown."""
        stated: dict[str, object] = {**self.on_card()}
        if self.at_laboratory:
            stated["boiling_point_at"] = LABORATORY
        if self.barometer is not None:
            stated["barometer"] = "mercury" if self.barometer else "not mercury"
        return stated

    def read(self, name: str, cell: object, unit: str) -> None:
        """Read a cell into a field.

        Parameters
        ----------
        name : str
            A field of a measurement or its parts, ``"percent_C"`` and so on, or ``"barometer"``.
        cell : object
            Text or number; for `Fills` also a list.
        unit : str
            Unit of a plain number; empty for the field's own.
        """
        word = cell.strip().casefold() if isinstance(cell, str) and len(cell) < 40 else ""
        with self.reading(name):
            if name == BAROMETER:
                if word not in _BAROMETERS:
                    advice = f"write one of {', '.join(_BAROMETERS)}"
                    raise QuantityError(str(cell), "is not a kind of barometer", advice)
                self.barometer = _BAROMETERS[word]
            elif name == "boiling_point_at" and word == LABORATORY:
                self.at_laboratory = True
            elif name in RECORD_FIELDS:
                self._keep(name, RECORD_FIELDS[name].read(cell, unit))
            else:
                self.written[name] = read_quantity(cell, "percent", unit)

    def _keep(self, name: str, read: Quantity | str) -> None:
        if name in COMBUSTION_FIELDS:
            Combustion(**{name: read})  # a sample has a mass
        if isinstance(read, str):
            self.words[name] = read
        elif cannot_be(name, read):
            known = PLAUSIBLE[name]
            text = read.text or str(read)
            raise QuantityError(text, f"cannot be the {known.reading}", f"{known.why}; check it")
        else:
            self.written[name] = read

    def read_circumstance(self, name: str, cell: object) -> None:
        """Take the word that a cell holds for a circumstance; a date in ISO form."""
        if isinstance(cell, datetime.datetime):  # a spreadsheet's date has a time, midnight
            cell = cell.date()
        if isinstance(cell, datetime.date | datetime.time):
            cell = cell.isoformat()
        if (word := word_of(cell)) is None:
            self.refuse(name, "is not a name", "write a word, a number or a date", cell)
        else:
            self.circumstances[name] = word

    def read_reported(self, name: str, cell: object, unit: str) -> None:
        """Read what the student made of the readings: ``answer`` or ``reported_molar_mass``."""
        if name == "answer":
            self.answer = word_of(cell) or ""
        else:
            with self.reading(name):
                self.reported = _worked_out(cell, unit)

    def read_composition(self, text: str, place: str) -> None:
        """Read a text that holds several elements and their percentages, as for `read_element`."""
        pairs: list[tuple[str, str]] = []
        self.columns["percent"] = place
        with self.reading("percent"):
            pairs = split_composition(text)
        for symbol, number in pairs:
            self.read_element(symbol, number, f"{place} {symbol}")

    def read_element(self, symbol: str, cell: object, place: str) -> None:
        """Read one element's percentage; ``place`` is how the file calls it."""
        self.columns["percent"] = place
        with self.reading("percent"):
            name = PERCENT + element_symbol(symbol)
            if name in self.written:
                raise QuantityError(symbol, "is there twice", "give each element once")
            self.columns[name] = place
            self.read(name, cell, "%")

    @contextmanager
    def reading(self, name: str) -> Iterator[None]:
        """Report a field that cannot be read within; the entry is faulty then."""
        try:
            yield
        except QuantityError as error:
            self.refuse(name, error.reason, error.advice, error.read)

    def refuse(self, name: str, reason: str, advice: str, read: object = "") -> None:
        """Report a field that cannot be used; the entry is faulty then."""
        self.faulty = True
        self.nameless |= name in (*NAMES, "first_name")
        self.lose(name)
        self.faults.append(self.fault_of(name, f"{reason}; {advice}", read))

    def lose(self, name: str) -> None:
        """Remember that something was written for a field that could not be read."""
        if name in RECORD_FIELDS or name.startswith("percent"):
            self.unread.append(name.partition("_")[0] if name.startswith(PERCENT) else name)
            self.written.pop(name, None)
            self.words.pop(name, None)

    def fault_of(self, name: str, advice: str, read: object = "") -> Fault:
        """Return what is the matter with a field, under the name that the file has for it."""
        column, source = excerpt(self.columns.get(name, name)), self.source
        return Fault(
            source.file, source.row, column, excerpt(read), advice, self.label, self.student
        )


def _worked_out(cell: object, unit: str) -> float | None:
    """Return a molar mass as a student handed it in [g/mol]: what no liquid has is graded, too."""
    try:
        read = FIELDS["molar_mass"].read(cell, unit)
    except QuantityError:
        number = str(cell).strip()
        if not PLAIN_NUMBER.fullmatch(number):
            raise
        return float(number)
    return None if read is None else read.to("g/mol").value


def word_of(cell: object) -> str | None:
    """Return text with single blanks, or a number as it is shown; None if it is neither.

    Examples
    --------
    >>> word_of(" bench  2 "), word_of(14.0), word_of(True)
    ('bench 2', '14', None)
    """
    if isinstance(cell, float) and cell.is_integer():
        cell = int(cell)  # a spreadsheet gives bottle 14 as the number 14.0
    is_word = isinstance(cell, str | numbers.Real) and not isinstance(cell, bool)
    return " ".join(str(cell).split()) if is_word else None
