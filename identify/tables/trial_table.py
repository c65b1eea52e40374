"""The trial table: its rows to entries."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from identify.notebook.measurement import Source
from identify.notebook.quantity.quantities import Quantity, excerpt, read_uncertainty
from identify.notebook.quantity.units import known_unit
from identify.tables.columns import TableCell, TableColumn
from identify.tables.entry import CIRCUMSTANCES, PERCENT, Entry
from identify.tables.faults import Fault, HeadingsRead, UnreadableError
from identify.tables.headings.dictionary import TRIAL_HEADINGS, UNKNOWN
from identify.tables.headings.header import Header, with_row_of_units
from identify.tables.headings.spellings import ASIDE, FIRST_NAME, REPORTED
from identify.tables.rows import TableRow, is_blank, sound_rows

_STUDENTS = ("student", FIRST_NAME)
_NAMES = (*_STUDENTS, "label")  # in this order, so that an empty label can say whose it is
_MAX_TRIALS = 4  # of one person; common practice: two to four
_OTHER = f"{UNKNOWN}; leave it out, or name it note (this column is not read)"
_THREE_DIGITS = re.compile(r"\s*[-+−]?[0-9]{1,3}([.,])[0-9]{3}(?![0-9])")
_DECIMAL_MARK = re.compile(r"[0-9]([.,])[0-9]")


@dataclass(frozen=True)
class Entries:
    """What the rows of a table hold.

    Parameters
    ----------
    entries : sequence of Entry
    rows : tuple of int
        Those below the header that hold anything.
    header_row : int
    columns : frozenset of str
        The headings that are read, as they stand there.
    headings : HeadingsRead or None
    notes : tuple of str
        What else should be known of the table.
    """

    entries: Sequence[Entry]
    rows: tuple[int, ...] = ()
    header_row: int = 1
    columns: frozenset[str] = frozenset()
    headings: HeadingsRead | None = None
    notes: tuple[str, ...] = ()


def table_entries(
    header_row: TableRow,
    rows: Iterable[TableRow],
    faults: list[Fault],
    refuses_others: bool = False,
) -> Entries:
    """Read the rows of a trial table.

    Parameters
    ----------
    header_row : TableRow
    rows : iterable of TableRow
        All others.
    faults : list of Fault
        Takes columns and rows that cannot be used; no entry is made of such rows.
    refuses_others : bool
        Whether a column that does not concern this kind of table is a fault.

    Raises
    ------
    UnreadableError
        If there is no column of labels, or nothing below the header.
    """
    header_row, rows = with_row_of_units(header_row, rows)
    header = TRIAL_HEADINGS.header(header_row.cells)
    if header.columns:  # else this is not a header at all, which is one fault
        others = header.unread if refuses_others else []
        faults += header.faults(header_row)
        faults += [header_row.fault(name, "", _OTHER) for name in others]
    fields = frozenset(column.field for column in header.columns)
    if "label" not in fields:
        advice = f"has no column named label; {_label_advice(header)}"
        raise UnreadableError(advice, header_row.number)
    first = header_row.number
    body = sound_rows(rows, len(header_row.cells), faults)
    below = _rows_below(first, body, faults)
    if not below:
        raise UnreadableError("has column names but no rows below them", first)
    faults += _unnamed(header_row.cells, body)
    entries = _entries(body, header.columns, faults)
    notes = _of_many_students(entries) if fields.isdisjoint(_STUDENTS) else ()
    names = frozenset(excerpt(column.header) for column in header.columns)
    return Entries(entries, below, first, names, header.told, notes)


def _rows_below(first: int, body: Sequence[TableRow], faults: Sequence[Fault]) -> tuple[int, ...]:
    """Return the rows below the header that hold anything, those that cannot be read among them."""
    broken = {fault.row for fault in faults if fault.row is not None and fault.row > first}
    return tuple(sorted(broken | {row.number for row in body}))


def _entries(
    body: Sequence[TableRow], columns: Iterable[TableColumn], faults: list[Fault]
) -> list[Entry]:
    # Names first, so that a fault in any other cell can say whose it is; uncertainties last.
    in_order = sorted(columns, key=_place_in_reading)
    headers = {column.field: column.header for column in in_order if not column.is_uncertainty}
    marks = _decimal_marks(body, in_order)
    entries = []
    for row in body:
        entry = Entry(Source(row.file, row.number), label="", columns=headers, faults=faults)
        for column in in_order:
            _read_cell(entry, TableCell.of(row, column), marks)
        entries += [] if entry.nameless else [entry]
    trial = next((column for column in in_order if column.field == "trial"), None)
    return entries if trial is None else _by_trial(entries, body, trial)


def _place_in_reading(column: TableColumn) -> tuple[bool, int]:
    names = _NAMES.index(column.field) if column.field in _NAMES else len(_NAMES)
    return column.is_uncertainty, names


def _by_trial(
    entries: Sequence[Entry], body: Sequence[TableRow], column: TableColumn
) -> list[Entry]:
    """Put the rows of each unknown in the order of their trials, where each has a number."""
    numbers = {row.number: _first_number(TableCell.of(row, column).value) for row in body}
    places: dict[tuple[str, str], list[int]] = {}
    for place, entry in enumerate(entries):
        places.setdefault((entry.label, entry.student), []).append(place)
    ordered = list(entries)
    for own in places.values():
        trials = {place: numbers.get(entries[place].source.row or 0) for place in own}
        if None not in trials.values():
            in_order = sorted(own, key=lambda place: trials[place] or 0)
            for place, source in zip(own, in_order, strict=True):
                ordered[place] = entries[source]
    return ordered


def _first_number(cell: object) -> int | None:
    found = re.search("[0-9]{1,6}", str(cell))
    return int(found[0]) if found else None


def _of_many_students(entries: Sequence[Entry]) -> tuple[str, ...]:
    """Say where rows that nobody's name parts are too many for one person's trials."""
    counts = Counter(entry.label for entry in entries)
    many = [label for label, count in counts.items() if count > _MAX_TRIALS]
    if not many:
        return ()
    others = f" (and of {len(many) - 1} more labels)" if len(many) > 1 else ""
    return (
        f"no column names the students: the {counts[many[0]]} rows of "
        f'"{excerpt(many[0])}"{others} are taken for the trials of one person; '
        "add a column student",
    )


def _label_advice(header: Header) -> str:
    for name, error in header.refused:
        if "label" in error.field.split():
            return f'rename the column "{excerpt(name)}" to label, if it names the bottles'
    return (
        "begin with a row of column names, such as "
        "label, empty_g, condensed_g, bath_C, room_C, pressure_mmHg, volume_mL"
    )


def _unnamed(header: Sequence[object], body: Sequence[TableRow]) -> Iterable[Fault]:
    """Yield the first cell in each column without a name."""
    for place in (place for place, name in enumerate(header) if is_blank(name)):
        column = TableColumn(place, f"column {place + 1}", "")
        for row in body:
            if not (cell := TableCell.of(row, column)).is_blank:
                advice = "stands in a column without a name (this column is not read)"
                yield row.fault(column.header, excerpt(cell.value), advice)
                break


def _read_cell(entry: Entry, cell: TableCell, marks: Counter[str]) -> None:
    column, field = cell.column, cell.column.field
    if cell.is_blank:
        if field == "label":
            entry.refuse(field, "is empty", "name the bottle in every row")
    elif column.is_uncertainty:
        _add_uncertainty(entry, cell)
    elif field in _NAMES:
        with entry.reading(field):
            _read_name(entry, field, cell.text())
    elif field in REPORTED:
        entry.read_reported(field, cell.value, column.unit)
    elif field in ASIDE:
        return
    elif field in CIRCUMSTANCES:
        entry.read_circumstance(field, cell.value)
    elif _may_be_thousands(cell.value, marks):
        reason = 'can be read two ways, since the table writes decimals with both "." and ","'
        advice = "write it without thousands separator, decimals as in the other cells"
        entry.refuse(field, reason, advice, cell.value)
    else:
        entry.read(field, cell.value, column.unit)
        if column.stated and f"{field}_at" not in entry.columns:
            entry.read(f"{field}_at", column.stated, "")


def _read_name(entry: Entry, field: str, text: str) -> None:
    if field == FIRST_NAME:
        entry.student = f"{text} {entry.student}".strip()
    else:
        setattr(entry, field, text)


def _add_uncertainty(entry: Entry, cell: TableCell) -> None:
    """Give a column's uncertainty to its quantity, unless the cell there states its own."""
    field, unit = cell.column.field, cell.column.unit
    entry.columns = {**entry.columns, f"{field}_u": cell.column.header}
    uncertainty = None
    with entry.reading(f"{field}_u"):
        uncertainty = read_uncertainty(cell.value, unit)
    if uncertainty is None:
        # No usual uncertainty is taken for one that was written: the reading goes with it.
        _lose(entry, field)
    else:
        for name, quantity in _of_column(entry, field).items():
            if quantity.uncertainty is None:
                scale = known_unit(unit).scale / known_unit(quantity.unit).scale
                entry.written[name] = replace(quantity, uncertainty=uncertainty * scale)


def _of_column(entry: Entry, field: str) -> dict[str, Quantity]:
    """Return the readings that a column of uncertainties belongs to."""
    prefix = PERCENT if field == "percent" else ""
    return {
        name: quantity
        for name, quantity in entry.written.items()
        if name == field or (prefix and name.startswith(prefix))
    }


def _lose(entry: Entry, field: str) -> None:
    for name in _of_column(entry, field):
        del entry.written[name]
        entry.lose("percent" if field == "percent" else name)


def _decimal_marks(body: Sequence[TableRow], columns: Sequence[TableColumn]) -> Counter[str]:
    """Count the cells with a decimal point and those with a decimal comma."""
    numbers = [column for column in columns if column.dimension]
    cells = (TableCell.of(row, column).value for row in body for column in numbers)
    texts = (cell[:40] for cell in cells if isinstance(cell, str))
    return Counter(found[1] for text in texts if (found := _DECIMAL_MARK.search(text)))


def _may_be_thousands(cell: object, marks: Counter[str]) -> bool:
    """Tell whether "1,013" stands in a table whose decimals are mostly written the other way."""
    if not isinstance(cell, str):
        return False
    found = [match[1] for number in cell.split("+") if (match := _THREE_DIGITS.match(number))]
    return any(marks[",."[mark == ","]] >= marks[mark] for mark in found)
