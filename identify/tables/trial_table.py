"""The trial table: its rows to entries."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from identify.notebook.measurement import Source
from identify.notebook.quantities import excerpt, read_uncertainty
from identify.notebook.units import known_unit
from identify.tables.columns import TableCell, TableColumn
from identify.tables.entry import CIRCUMSTANCES, PERCENT, Entry
from identify.tables.faults import Fault, UnreadableError
from identify.tables.headings.dictionary import TRIAL_HEADINGS, Header
from identify.tables.rows import TableRow, is_blank, sound_rows

_NAMES = ("label", "student")
_THREE_DIGITS = re.compile(r"\s*[-+−]?[0-9]{1,3}([.,])[0-9]{3}(?![0-9])")
_DECIMAL_MARK = re.compile(r"[0-9]([.,])[0-9]")


@dataclass(frozen=True)
class Entries:
    """What the rows of a table hold, and which rows below its header hold anything."""

    entries: Sequence[Entry]
    rows: tuple[int, ...] = ()


def table_entries(header_row: TableRow, rows: Iterable[TableRow], faults: list[Fault]) -> Entries:
    """Read the rows of a trial table.

    Parameters
    ----------
    header_row : TableRow
    rows : iterable of TableRow
        All others.
    faults : list of Fault
        Takes columns and rows that cannot be used; no entry is made of such rows.

    Returns
    -------
    Entries

    Raises
    ------
    UnreadableError
        If there is no column of labels, or nothing below the header.
    """
    header = TRIAL_HEADINGS.header(header_row.cells)
    if header.columns:  # else this is not a header at all, which is one fault
        faults += header.faults(header_row)
    if not any(column.field == "label" for column in header.columns):
        advice = f"has no column named label; {_label_advice(header)}"
        raise UnreadableError(advice, header_row.number)
    first = header_row.number
    body = sound_rows(rows, len(header_row.cells), faults)
    broken = {fault.row for fault in faults if fault.row is not None and fault.row > first}
    below = tuple(sorted(broken | {row.number for row in body}))
    if not below:
        raise UnreadableError("has column names but no rows below them", first)
    faults += _unnamed(header_row.cells, body)
    return Entries(_entries(body, header.columns, faults), below)


def _entries(
    body: Sequence[TableRow], columns: Iterable[TableColumn], faults: list[Fault]
) -> list[Entry]:
    # Names first, so that a fault in any other cell can say whose it is; uncertainties last.
    in_order = sorted(
        columns, key=lambda column: (column.is_uncertainty, column.field not in _NAMES)
    )
    headers = {column.field: column.header for column in in_order if not column.is_uncertainty}
    marks = _decimal_marks(body, in_order)
    entries = []
    for row in body:
        entry = Entry(Source(row.file, row.number), label="", columns=headers, faults=faults)
        for column in in_order:
            _read_cell(entry, TableCell.of(row, column), marks)
        entries += [] if entry.faulty else [entry]
    return entries


def _label_advice(header: Header) -> str:
    for name, error in header.refused:
        if error.field == "label":
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
            setattr(entry, field, cell.text())
    elif field in CIRCUMSTANCES:
        entry.read_circumstance(field, cell.value)
    elif _may_be_thousands(cell.value, marks):
        reason = 'can be read two ways, since the table writes decimals with both "." and ","'
        advice = "write it without thousands separator, decimals as in the other cells"
        entry.refuse(field, reason, advice, cell.value)
    else:
        entry.read(field, cell.value, column.unit)


def _add_uncertainty(entry: Entry, cell: TableCell) -> None:
    """Give a column's uncertainty to its quantity, unless the cell there states its own."""
    field, unit = cell.column.field, cell.column.unit
    entry.columns = {**entry.columns, f"{field}_u": cell.column.header}
    with entry.reading(f"{field}_u"):
        uncertainty = read_uncertainty(cell.value, unit)
        for name, quantity in entry.written.items():
            of_column = name.startswith(PERCENT) if field == "percent" else name == field
            if of_column and quantity.uncertainty is None:
                scale = known_unit(unit).scale / known_unit(quantity.unit).scale
                entry.written[name] = replace(quantity, uncertainty=uncertainty * scale)


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
