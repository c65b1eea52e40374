"""What the headings of a table mean: every heading looked up, and what is not read said."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence
from operator import attrgetter
from typing import NamedTuple

from identify.notebook.composition.percentages import ELEMENT_OF, element_symbol
from identify.notebook.quantities import QuantityError, excerpt, unit_name
from identify.notebook.units import plain_characters
from identify.tables.columns import GAP, IDENTITIES, TableColumn, heading_key
from identify.tables.entry import PERCENT
from identify.tables.faults import Fault
from identify.tables.headings.spellings import (
    ALL_ELEMENTS,
    COLLECTION,
    HEADINGS,
    NOTE,
    STOCK,
    TRIAL,
    Heading,
)
from identify.tables.rows import MARKS, TableRow, is_blank

UNKNOWN = "is not a known column"
_LONGEST_HEADING = 60  # characters
_WORD = re.compile(r"[a-z0-9%]+")
_PERCENT_WORD = re.compile(r"%|\b(?:percent|pct|wt|mass|weight|by|of)\b")


class Header(NamedTuple):
    """What the headings of a table mean.

    Parameters
    ----------
    columns : list of TableColumn
        Those that are read, one a field.
    again : list of (TableColumn, QuantityError)
        Those whose field another column has.
    refused : list of (str, QuantityError)
        Headings that are not read, and why; the error's ``field`` is what they seem to mean.
    """

    columns: list[TableColumn]
    again: list[tuple[TableColumn, QuantityError]]
    refused: list[tuple[str, QuantityError]]

    def faults(self, row: TableRow) -> list[Fault]:
        """Report every column that is not read; ``row`` is that of the headings."""
        again = [(column.header, error) for column, error in self.again]
        return [
            row.fault(
                header,
                "" if error.read == excerpt(header) else error.read,
                f"{error.reason}; {error.advice} (this column is not read)",
            )
            for header, error in [*self.refused, *again]
        ]


class Dictionary:
    """The headings of one kind of table.

    Parameters
    ----------
    headings : iterable of Heading
        Those of other kinds are passed over.
    kind : str
        ``trial``, ``stock`` or ``collection``.
    keys : iterable of str
        Fields of which a table must have one.
    is_strict : bool
        Whether every column that is not read is refused, or only one whose heading is nearly known.

    Examples
    --------
    >>> column = STOCK_HEADINGS.meaning("Boiling point (K)")
    >>> column.field, column.dimension, column.unit
    ('boiling_point', 'temperature', 'K')
    """

    def __init__(
        self, headings: Iterable[Heading], kind: str, keys: Iterable[str], is_strict: bool = False
    ) -> None:
        self.keys = frozenset(keys)
        self.is_strict = is_strict
        self._by_field = {one.field: one for one in headings if kind in one.tables.split()}
        own = self._by_field.values()
        self._read = {heading_key(said): one for one in own for said in one.spellings()}
        self._asked = {said: one for one in own for said in one.asked_about()}
        shown = [one.shown() for one in own if one.field != NOTE]
        self._advised = {one.lower(): one for one in shown}

    def shown(self, field: str) -> str:
        """Return how advice writes the heading of a field."""
        return self._by_field[field].shown()

    def meaning(self, header: str, place: int = 0) -> TableColumn | None:
        """Return what a column holds; None where that does not concern this kind of table.

        Raises
        ------
        QuantityError
            If the heading is nearly one that is read, its unit cannot be, or it is none that is
            known and the kind of table is strict. Its ``field`` is the one that is asked about.
        """
        problem = None
        try:
            if column := self._column(header, place):
                return None if column.field == NOTE else column
        except QuantityError as error:
            problem = error
        meant, shown = self._meant(plain_characters(header[:_LONGEST_HEADING]))
        if meant:
            raise QuantityError(header, UNKNOWN, f"did you mean {shown}?", meant)
        if problem is not None:
            raise problem
        if near := self._nearly(heading_key(header[: _LONGEST_HEADING + 1])):
            raise QuantityError(header, UNKNOWN, f"did you mean {near}?")
        if self.is_strict:
            raise QuantityError(header, UNKNOWN, "leave it out, or name it note")
        return None

    def header(self, cells: Sequence[object]) -> Header:
        """Return what the headings of a table mean.

        Where two mean the same, the one with the usual spelling goes first.
        """
        found, refused = self._meanings(cells)
        columns: dict[tuple[str, bool], TableColumn] = {}
        again = []
        for column in sorted(found, key=attrgetter("is_usual"), reverse=True):
            earlier = columns.setdefault((column.field, column.is_uncertainty), column)
            if earlier is not column:
                reason = f'says the same as column "{excerpt(earlier.header)}"'
                again.append((column, QuantityError("", reason, "keep one of them")))
        # What only may be meant is not asked about where it is there.
        held = set() if self.is_strict else {column.field for column in found}
        asked = [one for one in refused if one[1].field not in held]
        return Header(sorted(columns.values(), key=attrgetter("place")), again, asked)

    def _meanings(
        self, cells: Sequence[object]
    ) -> tuple[list[TableColumn], list[tuple[str, QuantityError]]]:
        found, refused = [], []
        for place, cell in enumerate(cells):
            name = "" if is_blank(cell) else str(cell).strip()
            try:
                column = self.meaning(name, place) if name else None
                found += [column] if column else []
            except QuantityError as error:
                refused.append((name, error))
        return found, refused

    def score(self, cells: Sequence[object]) -> tuple[bool, int]:
        """Return whether one of the key columns is among these headings, and how many are read."""
        fields = [field for cell in cells if (field := self._field(str(cell or "").strip()))]
        return not self.keys.isdisjoint(fields), len(fields)

    def _field(self, header: str) -> str:
        if any(mark in header for mark in MARKS):  # several, under another separator
            return ""
        try:
            column = self._column(header, 0)
        except QuantityError:
            return ""
        return column.field if column and column.field != NOTE else ""

    def _column(self, header: str, place: int) -> TableColumn | None:
        """Return what a heading that is read means, None where it is not known."""
        text = plain_characters(header[: _LONGEST_HEADING + 1]).strip()
        is_uncertainty = heading_key(text).endswith("_u")
        heading, unit = self._found(_split(text)[-1][0] if is_uncertainty else text)
        has_more = bool(unit) or is_uncertainty
        if heading is None or not (heading.dimension if has_more else heading.stands_alone):
            return None
        if is_uncertainty and not self.is_strict:
            raise QuantityError(header, "is an uncertainty, which is not read here", "leave it out")
        unit = unit_name(unit, heading.dimension) if unit else heading.unit
        return TableColumn(place, header, heading.field, heading.dimension, unit, is_uncertainty)

    def _found(self, text: str) -> tuple[Heading | None, str]:
        """Return the longest heading that a text begins with, and the unit behind it."""
        if len(text) <= _LONGEST_HEADING:
            for before, behind in [(text, ""), *reversed(_split(text))]:
                if heading := self._read.get(heading_key(before)):
                    if heading is ALL_ELEMENTS and behind:
                        element_symbol(behind)  # is none, or it would have been found
                    return heading, behind
        return None, ""

    def _meant(self, header: str) -> tuple[str, str]:
        """Return the field that a heading seems to mean, and how advice writes it.

        Both empty where nothing is recognized.
        """
        bracket = re.search(r"[(\[](.*?)[)\]]", header)
        outside = header.replace(bracket[0], " ") if bracket else header
        words = " ".join(_WORD.findall(outside.lower()))
        first, _, last = outside.replace("_", " ").strip().rpartition(" ")
        for text, unit in ((words, bracket[1] if bracket else ""), (first.lower(), last)):
            if heading := self._asked.get(" ".join(_WORD.findall(text))):
                return heading.field, _shown(heading, unit)
        if "%" in header or _PERCENT_WORD.match(words):
            rest = " ".join(_PERCENT_WORD.sub(" ", words).split())
            percent = PERCENT + ELEMENT_OF.get(rest, "")
            if percent in self._by_field:
                return percent, percent
        return "", ""

    def _nearly(self, key: str) -> str:
        """Return a heading that is read and differs by few letters, as advice writes it."""
        if len(key) > _LONGEST_HEADING:
            return ""
        # A strict kind refuses the column anyway, so that a bolder guess does no harm.
        cutoff = 0.6 if self.is_strict else 0.8
        near = difflib.get_close_matches(key.removesuffix("_u"), self._advised, 1, cutoff)
        return self._advised[near[0]] if near else ""


def _split(text: str) -> list[tuple[str, str]]:
    """Return what stands before and behind each gap between the words of a heading.

    Examples
    --------
    >>> _split("pressure (mm Hg)")
    [('pressure', 'mm Hg'), ('pressure (mm', 'Hg')]
    """
    return [
        (text[: gap.start()], re.sub(r"[\s_(\[]+", " ", text[gap.end() :]).strip(" )]"))
        for gap in GAP.finditer(text)
    ]


def _shown(heading: Heading, unit: str) -> str:
    """Return how advice writes a heading, with the unit that somebody wrote if it is one."""
    try:
        return heading.shown(unit_name(unit, heading.dimension) if heading.dimension else "")
    except QuantityError:
        return heading.shown()


TRIAL_HEADINGS = Dictionary(HEADINGS, TRIAL, ["label"], is_strict=True)
STOCK_HEADINGS = Dictionary(HEADINGS, STOCK, IDENTITIES)
COLLECTION_HEADINGS = Dictionary(HEADINGS, COLLECTION, ["smiles", "inchi", "cas", "name"])
