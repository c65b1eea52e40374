"""The trial table: its rows to entries."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from identify.notebook.measurement import Source
from identify.notebook.quantities import QuantityError, excerpt, read_uncertainty
from identify.notebook.units import known_unit
from identify.tables.columns import TRIAL_HEADINGS, Cell, Header, TableColumn
from identify.tables.entry import CIRCUMSTANCES, PERCENT, Entry
from identify.tables.faults import Fault, UnreadableError
from identify.tables.rows import TableRow, is_blank

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
    if header.columns:  # else this is no header at all, which is one fault
        faults += header.faults(header_row)
    if not any(column.field == "label" for column in header.columns):
        advice = f"has no column named label; {_label_advice(header)}"
        raise UnreadableError(advice, header_row.number)
    width = len(header_row.cells)
    checked = [row.within(width) for row in rows if not row.is_blank]
    below = tuple(row.number for row in checked if row.number > header_row.number)
    if not below:
        raise UnreadableError("has column names but no rows below them", header_row.number)
    faults += [row.fault("", "", row.problem) for row in checked if row.problem]
    body = [row for row in checked if not row.problem]
    faults += _unnamed(header_row.cells, body)
    # Names first, so that a fault in any other cell can say whose it is.
    columns = sorted(header.columns, key=lambda column: column.field not in _NAMES)
    marks = _decimal_marks(body, columns)
    entries = [_entry(row, columns, marks, faults) for row in body]
    return Entries([entry for entry in entries if not entry.faulty], below)


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
            if not (cell := Cell.of(row, column)).is_blank:
                advice = "stands in a column without a name (this column is not read)"
                yield row.fault(column.header, excerpt(cell.value), advice)
                break


def _entry(
    row: TableRow, columns: Sequence[TableColumn], marks: Counter[str], faults: list[Fault]
) -> Entry:
    headers = {column.field: column.header for column in columns if not column.is_uncertainty}
    entry = Entry(Source(row.file, row.number), label="", columns=headers)
    cells = [Cell.of(row, column) for column in columns]
    for cell in cells:
        if not cell.column.is_uncertainty:
            _read_cell(entry, cell, marks, faults)
    for cell in cells:
        if cell.column.is_uncertainty and not cell.is_blank:
            _add_uncertainty(entry, cell, faults)
    return entry


def _read_cell(entry: Entry, cell: Cell, marks: Counter[str], faults: list[Fault]) -> None:
    field = cell.column.field
    try:
        if cell.is_blank:
            if field == "label":
                raise QuantityError("", "is empty", "name the bottle in every row")
        elif field in _NAMES:
            setattr(entry, field, cell.text())
        elif field in CIRCUMSTANCES:
            entry.read_circumstance(field, cell.value, faults)
        elif _may_be_thousands(cell.value, marks):
            raise QuantityError(
                str(cell.value),
                'can be read two ways, since the table writes decimals with both "." and ","',
                "write it without thousands separator, decimals as in the other cells",
            )
        else:
            entry.read(field, cell.value, cell.column.unit, faults)
    except QuantityError as error:
        entry.fault(field, error, faults)


def _add_uncertainty(entry: Entry, cell: Cell, faults: list[Fault]) -> None:
    """Give a column's uncertainty to its quantity, unless the cell there states its own."""
    field, unit = cell.column.field, cell.column.unit
    try:
        uncertainty = read_uncertainty(cell.value, unit)
    except QuantityError as error:
        entry.columns = {**entry.columns, f"{field}_u": cell.column.header}
        entry.fault(f"{field}_u", error, faults)
        return
    for name, quantity in entry.written.items():
        of_column = name.startswith(PERCENT) if field == "percent" else name == field
        if of_column and quantity.uncertainty is None:
            scale = known_unit(unit).scale / known_unit(quantity.unit).scale
            entry.written[name] = replace(quantity, uncertainty=uncertainty * scale)


def _decimal_marks(body: Sequence[TableRow], columns: Sequence[TableColumn]) -> Counter[str]:
    """Count the cells with a decimal point and those with a decimal comma."""
    numbers = [column for column in columns if column.dimension]
    cells = (Cell.of(row, column).value for row in body for column in numbers)
    texts = (cell[:40] for cell in cells if isinstance(cell, str))
    return Counter(found[1] for text in texts if (found := _DECIMAL_MARK.search(text)))


def _may_be_thousands(cell: object, marks: Counter[str]) -> bool:
    """Tell whether "1,013" stands in a table whose decimals are mostly written the other way."""
    if not isinstance(cell, str):
        return False
    found = [match[1] for number in cell.split("+") if (match := _THREE_DIGITS.match(number))]
    return any(marks[",."[mark == ","]] >= marks[mark] for mark in found)
