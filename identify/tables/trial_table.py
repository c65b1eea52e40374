"""The trial table: its columns by name, and its rows to entries."""

from __future__ import annotations

import datetime
import difflib
import numbers
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from identify.notebook.measurement import Source, element_symbol
from identify.notebook.quantities import QuantityError, excerpt, read_uncertainty, unit_name
from identify.notebook.units import known_unit, plain_characters
from identify.physics.constants import ELEMENTS
from identify.tables.entry import (
    BAROMETER,
    CIRCUMSTANCE_OF,
    CIRCUMSTANCES,
    FIELDS,
    NOTES,
    PERCENT,
    Entry,
)
from identify.tables.faults import Fault, UnreadableError
from identify.tables.headings import meant_by

Row: TypeAlias = tuple[int, Sequence[object]]

_NAMES = ("label", "student")
_WORDS = (*_NAMES, BAROMETER, *CIRCUMSTANCE_OF)
_BASES = sorted((*FIELDS, *_WORDS, "percent"), key=len, reverse=True)
# As advice writes them.
_KNOWN = [
    *_WORDS,
    "percent_u",
    *(f"percent_{element}" for element in ELEMENTS),
    *(
        name if name == "molar_mass" or reading.unit == "1" else f"{name}_{reading.unit}"
        for name, reading in FIELDS.items()
    ),
]
_LONGEST_HEADING = 60
_THREE_DIGITS = re.compile(r"\s*[-+−]?[0-9]{1,3}([.,])[0-9]{3}(?![0-9])")
_DECIMAL_MARK = re.compile(r"[0-9]([.,])[0-9]")


@dataclass(frozen=True)
class Column:
    """One column that is read."""

    position: int
    header: str
    field: str
    unit: str = ""
    is_uncertainty: bool = False


def count_known_columns(headers: Iterable[str]) -> int:
    """Count the headers that name a column of a trial table."""
    count = 0
    for header in headers:
        try:
            count += _column(0, header) is not None
        except QuantityError:
            continue
    return count


@dataclass(frozen=True)
class Entries:
    """What the rows of a table hold, and which rows below its header hold anything."""

    entries: Sequence[Entry]
    rows: tuple[int, ...] = ()


def table_entries(rows: Sequence[Row], file: str, faults: list[Fault]) -> Entries:
    """Read the rows of a trial table.

    Parameters
    ----------
    rows : sequence of (int, sequence)
        Row numbers and cells (text, numbers or None), the header among them.
    file : str
        For sources and faults.
    faults : list of Fault
        Takes columns and rows that cannot be used; no entry is made of such rows. What it already
        holds of rows below the header is about rows of this table.

    Returns
    -------
    Entries

    Raises
    ------
    UnreadableError
        If there is no header with a label column, or nothing below it.
    """
    filled = [row for row in rows if not all(_is_blank(cell) for cell in row[1])]
    if not filled:
        raise UnreadableError("is empty; check that it was saved")
    (header_row, header), *body = filled
    column_faults: list[Fault] = []
    columns = _columns(header, Source(file, header_row), column_faults)
    if columns:  # else this is no header at all, which is one fault
        faults += column_faults
    if not any(column.field == "label" for column in columns):
        raise UnreadableError(f"has no column named label; {_label_advice(header)}", header_row)
    broken = {fault.row for fault in faults if fault.row is not None and fault.row > header_row}
    if not body and not broken:
        raise UnreadableError("has column names but no rows below them", header_row)
    filled_rows = tuple(sorted(broken | {number for number, _ in body}))
    marks = _decimal_marks(body, columns)
    _report_unnamed(header, body, file, faults)
    width = len(header)
    entries = []
    for number, cells in body:
        if not all(_is_blank(cell) for cell in cells[width:]):
            advice = (
                f"has {len(cells)} cells where there are {width} column names; "
                "if commas mark the decimals, separate the columns by semicolons"
            )
            faults.append(Fault(file, number, "", "", advice))
            continue
        entry = _entry(cells, columns, marks, Source(file, number), faults)
        if not entry.faulty:
            entries.append(entry)
    return Entries(entries, filled_rows)


def _label_advice(header: Sequence[object]) -> str:
    for cell in header:
        name = "" if _is_blank(cell) else str(cell)[:_LONGEST_HEADING]
        if _meant(name) == "label":
            return f'rename the column "{excerpt(name)}" to label, if it names the bottles'
    return (
        "begin with a row of column names, such as "
        "label, empty_g, condensed_g, bath_C, room_C, pressure_mmHg, volume_mL"
    )


def _entry(
    cells: Sequence[object],
    columns: Sequence[Column],
    marks: Counter[str],
    source: Source,
    faults: list[Fault],
) -> Entry:
    headers = {column.field: column.header for column in columns if not column.is_uncertainty}
    entry = Entry(source, label="", columns=headers)
    uncertainties = []
    for column in columns:
        cell = cells[column.position] if column.position < len(cells) else None
        if _is_blank(cell):
            if column.field == "label":
                error = QuantityError("", "is empty", "name the bottle in every row")
                entry.fault("label", error, faults)
        elif column.is_uncertainty:
            uncertainties.append((column, cell))
        elif column.field in _NAMES:
            _read_word(entry, column.field, cell, faults)
        elif column.field in CIRCUMSTANCES:
            entry.read_circumstance(column.field, cell, faults)
        elif isinstance(cell, str) and _may_be_thousands(cell, marks):
            error = QuantityError(
                cell,
                'can be read two ways, since the table writes decimals with both "." and ","',
                "write it without thousands separator, decimals as in the other cells",
            )
            entry.fault(column.field, error, faults)
        else:
            entry.read(column.field, cell, column.unit, faults)
    for column, cell in uncertainties:
        _add_uncertainty(entry, column, cell, faults)
    return entry


def _add_uncertainty(entry: Entry, column: Column, cell: object, faults: list[Fault]) -> None:
    """Give a column's uncertainty to its quantity, unless the cell there states its own."""
    try:
        uncertainty = read_uncertainty(cell, column.unit)
    except QuantityError as error:
        entry.columns = {**entry.columns, f"{column.field}_u": column.header}
        entry.fault(f"{column.field}_u", error, faults)
        return
    for name, quantity in entry.written.items():
        of_column = name.startswith(PERCENT) if column.field == "percent" else name == column.field
        if of_column and quantity.uncertainty is None:
            scale = known_unit(column.unit).scale / known_unit(quantity.unit).scale
            entry.written[name] = replace(quantity, uncertainty=uncertainty * scale)


# ------------------------------------------------------------------------------------- columns


def _columns(header: Sequence[object], source: Source, faults: list[Fault]) -> list[Column]:
    columns: dict[tuple[str, bool], Column] = {}
    for position, cell in enumerate(header):
        if _is_blank(cell):
            continue
        name = str(cell).strip()
        try:
            column = _column(position, name)
            if column is None:
                continue
            earlier = columns.setdefault((column.field, column.is_uncertainty), column)
            if earlier is not column:
                raise QuantityError(
                    "", f'says the same as column "{excerpt(earlier.header)}"', "keep one of them"
                )
        except QuantityError as error:
            read = "" if error.read == excerpt(name) else error.read
            advice = f"{error.reason}; {error.advice} (this column is not read)"
            faults.append(Fault(source.file, source.row, excerpt(name), read, advice))
    # Names first, so that a fault in any other cell can say whose it is.
    return sorted(columns.values(), key=lambda column: column.field not in _NAMES)


def _column(position: int, header: str) -> Column | None:
    """Find what a column holds from its name; None for notes.

    Raises
    ------
    QuantityError
        If there is no such column or unit.
    """
    try:
        return _named(position, header)
    except QuantityError:
        if meant := _meant(header[:_LONGEST_HEADING]):
            raise QuantityError(header, "is no known column", f"did you mean {meant}?") from None
        raise


def _named(position: int, header: str) -> Column | None:
    name = re.sub(r"[\s(\[]+", "_", plain_characters(header).strip()).rstrip(")]")
    if len(name) > _LONGEST_HEADING:
        raise QuantityError(header, "is no known column", "leave it out, or name it note")
    folded = name.lower()
    if folded in CIRCUMSTANCE_OF:
        return Column(position, header, CIRCUMSTANCE_OF[folded])
    if folded in NOTES:
        return None
    is_uncertainty = folded.endswith("_u")
    if is_uncertainty:
        name, folded = name[:-2], folded[:-2]
    for base in _BASES:
        if folded != base and not folded.startswith(f"{base}_"):
            continue
        suffix = name[len(base) + 1 :]
        if base == "percent" and (suffix or is_uncertainty):
            field = PERCENT + element_symbol(suffix) if suffix else base
            return Column(position, header, field, "%", is_uncertainty)
        if base in FIELDS:
            reading = FIELDS[base]
            unit = (
                unit_name(suffix.replace("_", " "), reading.dimension) if suffix else reading.unit
            )
            return Column(position, header, base, unit, is_uncertainty)
        if base in _WORDS and not suffix and not is_uncertainty:
            return Column(position, header, base)
    lower = {known.lower(): known for known in _KNOWN}
    near = [lower[name] for name in difflib.get_close_matches(folded, lower, n=1)]
    advice = f"did you mean {near[0]}?" if near else "leave it out, or name it note"
    raise QuantityError(header, "is no known column", advice)


def _meant(header: str) -> str:
    """Return the column that a heading of another kind seems to mean, as advice writes it."""
    name, unit = meant_by(plain_characters(header))
    if not name or name in _KNOWN:
        return name
    try:
        unit = unit_name(unit, FIELDS[name].dimension)
    except QuantityError:
        return next(known for known in _KNOWN if known.startswith(name))
    return f"{name}_{unit}"


def _report_unnamed(
    header: Sequence[object], body: Sequence[Row], file: str, faults: list[Fault]
) -> None:
    for position, name in enumerate(header):
        if not _is_blank(name):
            continue
        for number, cells in body:
            if position < len(cells) and not _is_blank(cells[position]):
                advice = "stands in a column without a name (this column is not read)"
                read = excerpt(cells[position])
                faults.append(Fault(file, number, f"column {position + 1}", read, advice))
                break


# --------------------------------------------------------------------------------------- cells


def _is_blank(cell: object) -> bool:
    return cell is None or (isinstance(cell, str) and (not cell or cell.isspace()))


def _read_word(entry: Entry, field: str, cell: object, faults: list[Fault]) -> None:
    """Take a label or name as text; a spreadsheet gives bottle 14 as the number 14.0."""
    if isinstance(cell, float) and cell.is_integer():
        cell = int(cell)
    if isinstance(cell, str | numbers.Real) and not isinstance(cell, bool):
        setattr(entry, field, " ".join(str(cell).split()))
        return
    if isinstance(cell, datetime.date | datetime.time):
        # What a spreadsheet makes of "3-14".
        reason, advice = "is a date or time", "format the cell as text, and enter it again"
    else:
        reason, advice = f"is no {field}", "write it as text"
    entry.fault(field, QuantityError(str(cell), reason, advice), faults)


def _decimal_marks(body: Sequence[Row], columns: Sequence[Column]) -> Counter[str]:
    """Count the cells with a decimal point and those with a decimal comma."""
    positions = [column.position for column in columns if column.field not in _WORDS]
    marks: Counter[str] = Counter()
    for _, cells in body:
        for position in positions:
            cell = cells[position] if position < len(cells) else None
            if isinstance(cell, str) and (found := _DECIMAL_MARK.search(cell[:40])):
                marks[found[1]] += 1
    return marks


def _may_be_thousands(cell: str, marks: Counter[str]) -> bool:
    """Tell whether "1,013" stands in a table whose decimals are mostly written the other way."""
    for number in cell.split("+"):
        if found := _THREE_DIGITS.match(number):
            own, other = marks[found[1]], marks[",."[found[1] == ","]]
            if other >= own:
                return True
    return False
