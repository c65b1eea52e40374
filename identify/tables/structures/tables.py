"""Records from tables: CSV, TSV and workbooks, row by row."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import fields

from identify.notebook.quantities import QuantityError
from identify.tables.columns import TableCell, TableColumn
from identify.tables.faults import UnreadableError
from identify.tables.lines import text_lines
from identify.tables.rows import (
    MARKS,
    TableRow,
    choose_separator,
    naming_other_sheets,
    split_header,
    text_rows,
    workbook_rows,
)
from identify.tables.structures.columns import Chosen, choose_columns, header_score
from identify.tables.structures.source import Headings, Opened, Reading, Record, Source

Say = Callable[[str], None]


def read_table(
    opened: Opened, source: Source, wanted: Headings, reading: Reading, say: Say
) -> Iterator[None]:
    """Turn rows into records; pauses after each, so that full chunks can be taken.

    Raises
    ------
    UnreadableError
        If there is no header with a column that says which compound it is.
    InputFault
        If a column that the user named is not there, or two may be meant.
    """
    file = str(source.path)
    score = header_score(wanted)
    data = b""
    if source.kind == "workbook":
        data = opened.in_memory().getvalue()
        rows = workbook_rows(data, file)
    else:
        marks = "\t" + MARKS.replace("\t", "") if source.is_tabbed else MARKS
        mark, lines = choose_separator(text_lines(opened.stream), score, marks)
        rows = text_rows(lines, mark, file)
    with naming_other_sheets(data):
        header, rows = split_header(rows, score)
        names = ["" if cell is None else str(cell) for cell in header.cells]
        chosen = choose_columns(names, wanted, file)
        if not chosen.identifies:
            raise UnreadableError(
                "no column says which compound it is; begin with a row of column names, one of "
                "them smiles, or name the column by --smiles-column"
            )
    if chosen.said:
        say(f"{file}: {chosen.said}")
    reading.unit = chosen.unit
    columns = _columns(names, chosen)
    for row in rows:
        _read_row(row.within(len(names)), columns, reading)
        yield


def _columns(names: Sequence[str], chosen: Chosen) -> list[TableColumn]:
    """Return the columns in the order of a record's fields; one that is not there has no name."""
    nowhere = len(names)
    places = [(one.name, chosen.places.get(one.name, nowhere)) for one in fields(Headings)]
    return [TableColumn(place, [*names, ""][place], field) for field, place in places]


def _read_row(row: TableRow, columns: Sequence[TableColumn], reading: Reading) -> None:
    if row.problem:
        reading.refuse(row.number, row.read, row.problem)
        return
    width = len(row.cells)
    texts = []
    try:
        for column in columns:
            cell = row.cells[column.place] if column.place < width else ""
            texts.append(cell.strip() if isinstance(cell, str) else TableCell(column, cell).text())
    except QuantityError as error:
        reading.refuse(row.number, error.read, f"{error.reason}; {error.advice}")
    else:
        reading.add(Record(row.number, *texts))
