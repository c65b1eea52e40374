"""The header of a table: which of its columns are read as what, and which are not."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, zip_longest
from typing import NamedTuple, Protocol

from identify.notebook.quantity.quantities import QuantityError, excerpt
from identify.tables.columns import TableColumn
from identify.tables.faults import Fault, HeadingRead, HeadingsRead
from identify.tables.headings.spellings import NOTE, TRIAL
from identify.tables.headings.wording import is_unit, wordings
from identify.tables.rows import TableRow, is_blank

_FOIL = frozenset({"mass", "foil"})


class _HeadingDictionary(Protocol):
    @property
    def kind(self) -> str: ...
    def meaning(self, header: str, place: int = 0) -> TableColumn | None: ...
    def in_context(self, columns: list[TableColumn]) -> list[TableColumn]: ...
    def shown(self, field: str, unit: str = "") -> str: ...


class Header(NamedTuple):
    """What the headings of a table mean.

    Parameters
    ----------
    columns : list of TableColumn
        Those that are read, one a field.
    again : list of (TableColumn, QuantityError)
        Those whose field another column has, in words as plain.
    refused : list of (str, QuantityError)
        Headings that are a fault, and why; the error's ``field`` is what they seem to mean.
    unread : list of str
        Headings of other columns, and those that another column says in plainer words.
    told : HeadingsRead
        What a person is told of all that.
    """

    columns: list[TableColumn]
    again: list[tuple[TableColumn, QuantityError]]
    refused: list[tuple[str, QuantityError]]
    unread: list[str]
    told: HeadingsRead

    def faults(self, row: TableRow) -> list[Fault]:
        """Report every column that is a fault; ``row`` is that of the headings."""
        again = [(column.header, error) for column, error in self.again]
        return [
            row.fault(
                header,
                "" if error.read == excerpt(header) else error.read,
                f"{error.reason}; {error.advice} (this column is not read)",
            )
            for header, error in [*self.refused, *again]
        ]


def header_of(headings: _HeadingDictionary, cells: Sequence[object]) -> Header:
    """Return what the headings of a table mean.

    Where two mean the same, the plainer one is read, and of two that are as plain the first.
    """
    found, refused, unread = _meanings(headings, cells)
    found, refused = _without_flask_alone(found, refused, unread)
    read, again, less_plain = _one_a_field(headings.in_context(found))
    # What only may be meant is asked about in a trial table even where another column says it: it
    # could be a second reading.
    held = set() if headings.kind == TRIAL else {column.field for column in found}
    asked = [one for one in refused if not _is_held(one[1].field, held)]
    unread += less_plain + [name for name, error in refused if _is_held(error.field, held)]
    not_read = [name for name, _ in asked] + [column.header for column, _ in again] + unread
    told = HeadingsRead(
        tuple(_as_read(headings, read)),
        tuple(_in_order(not_read, cells)),
        tuple(_in_order(unread, cells)),
    )
    return Header(read, again, asked, unread, told)


def _one_a_field(
    found: Iterable[TableColumn],
) -> tuple[list[TableColumn], list[tuple[TableColumn, QuantityError]], list[str]]:
    """Return the columns that are read, those that say the same, and what gives way to them."""
    columns: dict[tuple[str, bool], TableColumn] = {}
    again, less_plain = [], []
    for column in sorted(found, key=lambda one: one.rank):
        earlier = columns.setdefault((column.field, column.is_uncertainty), column)
        if earlier is column:
            continue
        if column.rank > max(earlier.rank, 1):
            less_plain.append(column.header)
        else:
            reason = f'says the same as column "{excerpt(earlier.header)}"'
            again.append((column, QuantityError("", reason, "keep one of them")))
    return sorted(columns.values(), key=lambda column: column.place), again, less_plain


def _without_flask_alone(
    found: list[TableColumn], refused: list[tuple[str, QuantityError]], unread: Sequence[str]
) -> tuple[list[TableColumn], list[tuple[str, QuantityError]]]:
    """Refuse the mass of a flask as that of flask and foil where the foil has a column of its own.

    It may be without the foil then, and the next weighing is with it.
    """
    foil = next((name for name in unread if _is_of_foil(name)), None)
    bare = [one for one in found if one.field == "empty" and one.rank > 1]
    if foil is None or not bare:
        return found, refused
    error = QuantityError(
        bare[0].header,
        f'may be without the foil, which stands in column "{excerpt(foil)}"',
        "write the sum of both, as empty_g",
        "empty",
    )
    others = [one for one in found if one is not bare[0]]
    is_there = any(one.field == "empty" for one in others)
    return (found, refused) if is_there else (others, [*refused, (bare[0].header, error)])


def _is_of_foil(heading: str) -> bool:
    return any(wording.words == _FOIL for wording in wordings(heading))


def _is_held(fields: str, held: set[str]) -> bool:
    return bool(fields) and held.issuperset(fields.split())


def _meanings(
    headings: _HeadingDictionary, cells: Sequence[object]
) -> tuple[list[TableColumn], list[tuple[str, QuantityError]], list[str]]:
    found, refused, unread = [], [], []
    for place, cell in enumerate(cells):
        name = "" if is_blank(cell) else str(cell).strip()
        if not name:
            continue
        try:
            column = headings.meaning(name, place)
        except QuantityError as error:
            refused.append((name, error))
            continue
        if column is None:
            unread.append(name)
        elif column.field != NOTE:
            found.append(column)
    return found, refused, unread


def _as_read(headings: _HeadingDictionary, columns: Iterable[TableColumn]) -> Iterable[HeadingRead]:
    for column in columns:
        if column.rank > 0:
            at = f" at {column.stated}" if column.stated else ""
            yield HeadingRead(column.header, headings.shown(column.field, column.unit) + at)


def _in_order(names: Sequence[str], cells: Sequence[object]) -> list[str]:
    places = {str(cell).strip(): place for place, cell in reversed(list(enumerate(cells)))}
    return sorted(names, key=lambda name: places.get(name, 0))


def with_row_of_units(
    header: TableRow, rows: Iterable[TableRow]
) -> tuple[TableRow, Iterator[TableRow]]:
    """Return header and rows; where the first row holds units alone, they go to the headings.

    Examples
    --------
    >>> rows = [TableRow("a.csv", 2, ["", "(°C)"]), TableRow("a.csv", 3, ["K-1", "78"])]
    >>> header, rows = with_row_of_units(TableRow("a.csv", 1, ["label", "b.p."]), rows)
    >>> header.cells, [row.number for row in rows]
    (['label', 'b.p. (°C)'], [3])
    """
    rest = iter(rows)
    first = next(rest, None)
    if first is None:
        return header, rest
    units = _units_alone(first)
    if not units or len(units) > len(header.cells):
        return header, chain([first], rest)
    cells = [
        f"{heading} ({unit})" if unit and not _has_unit(str(heading)) else heading
        for heading, unit in zip_longest(header.cells, units, fillvalue="")
    ]
    return header._replace(cells=cells), rest


def _units_alone(row: TableRow) -> list[str]:
    """Return the units in a row that holds nothing else; empty where it holds anything."""
    cells = ["" if is_blank(cell) else str(cell).strip() for cell in row.cells]
    units = [cell.strip(" ()[]") for cell in cells]
    # A letter alone may be the label of a bottle.
    is_sure = any(len(cell) > 1 for cell in cells)
    is_alone = not row.problem and all(is_unit(unit) for unit in units if unit)
    return units if is_alone and is_sure else []


def _has_unit(heading: str) -> bool:
    return any(wording.unit for wording in wordings(heading))
