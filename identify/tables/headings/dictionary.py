"""What the headings of a table mean: every heading looked up, and what is not read said."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import cached_property

from identify.notebook.composition.percentages import element_symbol
from identify.notebook.quantity.quantities import Quantity, QuantityError, read_quantity, unit_name
from identify.notebook.quantity.units import plain_characters
from identify.physics.constants import STANDARD_PRESSURE
from identify.tables.columns import GAP, IDENTITIES, TableColumn, heading_key
from identify.tables.entry import FIELDS
from identify.tables.headings.header import Header, header_of
from identify.tables.headings.phrases import Phrase, vocabulary
from identify.tables.headings.spellings import (
    ALL_ELEMENTS,
    COLLECTION,
    FIRST_NAME,
    HEADINGS,
    NOTE,
    STOCK,
    TRIAL,
    Heading,
)
from identify.tables.headings.wording import LEXICON, WORD_OF, Wording, is_unit, wordings
from identify.tables.rows import MARKS

UNKNOWN = "is not a known column"
_EITHER = "could mean"
_LONGEST_HEADING = 120  # characters, that could be one of those here
_LONGEST_TEXT = 1000  # characters, of a heading at all
_USUAL_TEMPERATURE = 293.15  # K, of a constant of the liquid whose heading or row names none
_TRIAL_WORDS = frozenset({"trial", "number"})
_WEIGHED = frozenset({"empty", "condensed", "gain", "molar_mass"})
# Known to pint as units of density.
_NOT_A_UNIT = frozenset({"water", "mercury", "h2o", "hg"})
_MARKED = re.compile(r"[_(\[/]")  # sets a unit off
_MISSPELT = 0.8  # similarity of a word to the one that is meant, as `difflib` counts it
_SHORTEST_MISSPELT = 4  # letters


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

    Examples
    --------
    >>> for heading in ("Boiling point (K)", "B.P., deg F", "Lit. bp (°C)"):
    ...     column = STOCK_HEADINGS.meaning(heading)
    ...     print(column.field, column.dimension, column.unit)
    boiling_point temperature K
    boiling_point temperature F
    boiling_point temperature C
    """

    def __init__(self, headings: Iterable[Heading], kind: str, keys: Iterable[str]) -> None:
        self.kind = kind
        self.keys = frozenset(keys)
        self._by_field = {one.field: one for one in headings if kind in one.tables.split()}
        self._documented = {heading_key(one.field): one for one in self._by_field.values()}
        shown = [one.shown() for one in self._by_field.values() if one.field != FIRST_NAME]
        self._advised = {one.lower(): one for one in shown}

    def shown(self, field: str, unit: str = "") -> str:
        """Return how advice writes the heading of a field."""
        return self._by_field[field].shown(unit)

    def meaning(self, header: str, place: int = 0) -> TableColumn | None:
        """Return what a column holds; None where that does not concern this kind of table.

        Raises
        ------
        QuantityError
            If the heading could mean two columns, is nearly one that is read, or has a unit that
            it cannot have. Its ``field`` names what is asked about, separated by blanks.
        """
        if len(header) > _LONGEST_TEXT and self.kind == TRIAL:
            raise QuantityError(header, "is too long for a heading", "check the quotation marks")
        if not header.strip() or len(header) > _LONGEST_HEADING:
            return None
        worded = list(wordings(header))
        column, problem = self._plain_column(header, place, worded)
        if column is not None:
            return column
        self._ask(header, worded)
        if problem is not None and _is_nearly_unit(problem):
            raise problem
        self._ask_nearly(header, worded)
        if problem is not None and "_" in header:
            raise problem
        return None

    def header(self, cells: Sequence[object]) -> Header:
        """Return what the headings of a table mean, see `Header`."""
        return header_of(self, cells)

    def in_context(self, columns: list[TableColumn]) -> list[TableColumn]:
        """Take a molar mass that somebody worked out for the reading where nothing was weighed."""
        if not _WEIGHED.isdisjoint(column.field for column in columns):
            return columns
        return [
            replace(column, field="molar_mass")
            if column.field == "reported_molar_mass" and not column.is_usual
            else column
            for column in columns
        ]

    def score(self, cells: Sequence[object]) -> tuple[bool, int]:
        """Return whether one of the key columns is among these headings, and how many are read."""
        fields = [field for cell in cells if (field := self._field(str(cell or "").strip()))]
        return not self.keys.isdisjoint(fields), len(fields)

    def _field(self, header: str) -> str:
        if any(mark in header for mark in MARKS):  # several, under another separator
            return ""
        if not header or len(header) > _LONGEST_HEADING:
            return ""
        try:
            column, _ = self._plain_column(header, 0, list(wordings(header)))
        except QuantityError:
            return ""
        return column.field if column and column.field != NOTE else ""

    def _plain_column(
        self, header: str, place: int, worded: Sequence[Wording]
    ) -> tuple[TableColumn | None, QuantityError | None]:
        """Return the column that a heading plainly means, and why it is not one of the guide's."""
        try:
            if (documented := self._documented_column(header, place)) is not None:
                return documented, None
        except QuantityError as error:
            return self._column(header, place, worded), error
        return self._column(header, place, worded), None

    # ---------------------------------------------------------------- as the guide writes headings

    def _documented_column(self, header: str, place: int) -> TableColumn | None:
        """Return the column whose field a heading begins with, and nothing but a unit behind it."""
        text = plain_characters(header).strip()
        is_uncertainty = heading_key(text).endswith("_u")
        heading, unit = self._begun(_split(text)[-1][0] if is_uncertainty else text)
        if heading is None or not _takes(heading, unit, is_uncertainty):
            return None
        if is_uncertainty and self.kind != TRIAL:
            raise QuantityError(header, "is an uncertainty, which is not read here", "leave it out")
        if unit and not is_unit(unit) and not _MARKED.search(text):
            return None
        unit = _unit(unit, heading.dimension) if unit else heading.unit
        return TableColumn(place, header, heading.field, heading.dimension, unit, is_uncertainty)

    def _begun(self, text: str) -> tuple[Heading | None, str]:
        """Return the longest field that a text begins with, and the unit behind it."""
        for before, behind in [(text, ""), *reversed(_split(text))]:
            if heading := self._documented.get(heading_key(before)):
                if heading is ALL_ELEMENTS and behind:
                    element_symbol(behind)  # is none, or it would have been found
                return heading, behind
        return None, ""

    # -------------------------------------------------------------------- as people write headings

    def _column(self, header: str, place: int, worded: Sequence[Wording]) -> TableColumn | None:
        """Return the one column that a heading plainly means."""
        for wording in worded:
            if not wording.words <= self._vocabulary:
                continue
            found = list(self._meant(wording, lambda heading: heading.phrases))
            if not found:
                continue
            rank = min(phrase.rank for _, phrase, _ in found)
            heading, phrase, unit = next(one for one in found if one[1].rank == rank)
            column = TableColumn(
                place, header, heading.field, heading.dimension, unit, rank=phrase.rank + 1
            )
            return self._under(column, wording) if wording.at else column
        return None

    def _meant(
        self, wording: Wording, phrases_of: Callable[[Heading], Sequence[Phrase]]
    ) -> Iterator[tuple[Heading, Phrase, str]]:
        """Yield the headings with a phrase that fits, with the unit; one whose unit fits."""
        for heading in self._by_field.values():
            for phrase in phrases_of(heading):
                if phrase.fits(wording) and (unit := _fitting_unit(heading, phrase, wording)):
                    yield heading, phrase, unit.strip()
                    break

    @cached_property
    def _vocabulary(self) -> frozenset[str]:
        known = self._by_field.values()
        return vocabulary(one for heading in known for one in heading.phrases) | _TRIAL_WORDS

    def _under(self, column: TableColumn, wording: Wording) -> TableColumn | None:
        """Return a column whose heading states a temperature or pressure, kept if it matters.

        Raises
        ------
        QuantityError
            If this kind of table has no place for it.
        """
        at = f"{column.field}_at"
        if at not in FIELDS:
            return None
        stated = read_quantity(wording.at, FIELDS[at].dimension)
        if _is_usual(stated):
            return column
        if at not in self._by_field:
            raise QuantityError(column.header, f"is at {stated}", f"leave it out, or write {at}")
        return replace(column, stated=str(stated))

    # ------------------------------------------------------------------------------ what is asked

    def _ask(self, header: str, worded: Sequence[Wording]) -> None:
        """Raise a question where a heading could mean two columns, or only seems to mean one."""
        for wording in worded:
            found = list(self._meant(wording, lambda heading: heading.questions))
            if found:
                shown = [heading.shown(unit) for heading, _, unit in found]
                fields = " ".join(heading.field for heading, _, _ in found)
                raise _question(header, shown, fields)
        for wording in worded:
            self._ask_about_one_of_several(header, wording)
            self._ask_about_uncertainty(header, wording)

    def _ask_about_one_of_several(self, header: str, wording: Wording) -> None:
        """Refuse a column that holds one trial of several."""
        numbers = {word for word in wording.words if word.isdecimal()}
        rest = replace(wording, words=wording.words - numbers - _TRIAL_WORDS)
        if self.kind != TRIAL or not numbers or not rest.words:
            return
        if (column := self._column(header, 0, [rest])) and column.dimension:
            shown = self.shown(column.field, column.unit)
            advice = f"write one row a trial, with a column {shown}"
            raise QuantityError(header, "holds one trial of several", advice, column.field)

    def _ask_about_uncertainty(self, header: str, wording: Wording) -> None:
        rest = replace(wording, words=wording.words - {"uncertainty"})
        if self.kind != TRIAL or rest.words == wording.words or "percent" in rest.words:
            return
        column = None
        with suppress(QuantityError):  # an error in percent, of what is not read in percent
            column = self._column(header, 0, [rest])
        if column and column.dimension:
            shown = f"{self.shown(column.field, column.unit)}_u"
            raise _question(header, [shown], f"{column.field}_u")

    def _ask_nearly(self, header: str, worded: Sequence[Wording]) -> None:
        """Raise a question where a heading differs by few letters from one that is read."""
        key = heading_key(header).removesuffix("_u")
        near = difflib.get_close_matches(key, self._advised, 1, _MISSPELT)
        if near and _is_misspelt(key, near[0]):
            raise _question(header, [self._advised[near[0]]])
        for wording in worded:
            respelt = frozenset(map(self._respelt, wording.words))
            if respelt != wording.words and (
                column := self._column(header, 0, [replace(wording, words=respelt)])
            ):
                raise _question(header, [self.shown(column.field, column.unit)])

    def _respelt(self, word: str) -> str:
        """Return a known word for one that differs from it by a letter or two."""
        if word in LEXICON or word in self._vocabulary or len(word) < _SHORTEST_MISSPELT:
            return word
        near = difflib.get_close_matches(word, self._spelt, 1, _MISSPELT)
        return WORD_OF.get(near[0], near[0]) if near else word

    @cached_property
    def _spelt(self) -> list[str]:
        words = self._vocabulary | {
            one for one, word in WORD_OF.items() if word in self._vocabulary
        }
        return sorted(word for word in words if len(word) >= _SHORTEST_MISSPELT)


def is_question(error: QuantityError) -> bool:
    """Tell whether a heading is only asked about, and nothing else is the matter with it."""
    return error.reason.startswith((UNKNOWN, _EITHER))


def _takes(heading: Heading, unit: str, is_uncertainty: bool) -> bool:
    """Tell whether a heading can have what stands behind it, or nothing."""
    if unit or is_uncertainty:
        return bool(heading.dimension)
    return heading.stands_alone and not heading.needs_unit


def _question(header: str, shown: Sequence[str], fields: str = "") -> QuantityError:
    if len(shown) == 1:
        return QuantityError(header, UNKNOWN, f"did you mean {shown[0]}?", fields)
    choice = f"{', '.join(shown[:-1])} or {shown[-1]}"
    return QuantityError(header, f"{_EITHER} {choice}", "name it by the one that it is", fields)


def _is_misspelt(key: str, right: str) -> bool:
    """Tell whether a heading has the words of another, and each that differs is a slip of it.

    Examples
    --------
    >>> _is_misspelt("emtpy_g", "empty_g"), _is_misspelt("vapor_pressure", "pressure_mmhg")
    (True, False)
    >>> _is_misspelt("accepted_molar_mass", "reported_molar_mass"), _is_misspelt("room_k", "room_c")
    (False, False)
    """
    pairs = list(zip(key.split("_"), right.split("_"), strict=False))
    wrong = [(word, other) for word, other in pairs if word != other]
    return key.count("_") == right.count("_") and all(
        word not in LEXICON and difflib.SequenceMatcher(None, word, other).ratio() >= _MISSPELT
        for word, other in wrong
    )


def _fitting_unit(heading: Heading, phrase: Phrase, wording: Wording) -> str:
    """Return the unit of a column, a blank where it needs none, empty where the unit cannot be.

    Raises
    ------
    QuantityError
        If the unit is nearly one, or one of another dimension, beside a heading that is plain.
    """
    if not wording.unit:
        return heading.unit or " "
    if not heading.dimension:
        return ""
    try:
        return _unit(wording.unit, heading.dimension)
    except QuantityError as error:
        is_sure = heading.unit != "1" and not (phrase.needs_unit or phrase in heading.questions)
        if is_sure and wording.is_marked and _is_nearly_unit(error):
            raise
        return ""


def _unit(text: str, dimension: str) -> str:
    """Return the name of a unit."""
    # What is looked up further is a word: of several, anything makes a unit.
    if not is_unit(text) and (text.casefold() in _NOT_A_UNIT or len(text.split()) > 1):
        raise QuantityError(text, f"is not a unit of {dimension}", "write one behind the heading")
    return unit_name(text, dimension)


def _is_nearly_unit(problem: QuantityError) -> bool:
    """Tell whether what cannot be the unit of a column is one of another, or nearly one."""
    return is_unit(problem.read) or problem.advice.startswith("did you mean")


def _is_usual(stated: Quantity) -> bool:
    """Tell whether a constant is at 20 degrees Celsius, or a boiling point at one atmosphere."""
    if FIELDS["boiling_point_at"].dimension == stated.dimension:
        return abs(stated.to("Pa").value / STANDARD_PRESSURE - 1.0) < 1e-3
    return abs(stated.to("K").value - _USUAL_TEMPERATURE) < 0.1


def _split(text: str) -> list[tuple[str, str]]:
    """Return what stands before and behind each gap between the words of a heading.

    Examples
    --------
    >>> _split("pressure (mm Hg)")
    [('pressure', 'mm Hg'), ('pressure (mm', 'Hg')]
    """
    gaps = list(GAP.finditer(text))
    return [(text[: gap.start()], _behind(text[gap.end() :])) for gap in gaps]


def _behind(text: str) -> str:
    return " ".join(text.replace("_", " ").replace("(", " ").replace("[", " ").split()).strip(" )]")


TRIAL_HEADINGS = Dictionary(HEADINGS, TRIAL, ["label"])
STOCK_HEADINGS = Dictionary(HEADINGS, STOCK, IDENTITIES)
COLLECTION_HEADINGS = Dictionary(HEADINGS, COLLECTION, ["smiles", "inchi", "cas", "name"])
