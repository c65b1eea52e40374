"""Records from tables: CSV, TSV and workbooks, row by row."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from identify.notebook.quantity.quantities import QuantityError
from identify.tables.columns import TableCell, TableColumn
from identify.tables.faults import HeadingsRead, UnreadableError
from identify.tables.limits import MAX_FILE, size_text
from identify.tables.rows import (
    MARKS,
    TableRow,
    choose_separator,
    naming_other_sheets,
    split_header,
    text_rows,
    workbook_rows,
)
from identify.tables.structures.columns import choose_columns, header_score
from identify.tables.structures.source import Gathering, Headings, OpenedFile, Record
from identify.tables.workbooks import hidden_sheets


def read_table(opened: OpenedFile, wanted: Headings, gathering: Gathering) -> Iterator[None]:
    """Turn rows into records; pauses after each, so that full chunks can be taken.

    Raises
    ------
    UnreadableError
        If no column says which compound it is, one that the user named is not there, or two may be
        meant.
    """
    source, score, data = gathering.source, header_score(wanted), b""
    file = str(source.path)
    if source.kind == "workbook":
        data = opened.stream.read(MAX_FILE + 1)  # of a format that is read from its end
        if len(data) > MAX_FILE:
            advice = "save it as CSV, of which any size is read"
            raise UnreadableError(f"is a workbook of more than {size_text(MAX_FILE)}; {advice}")
        rows = workbook_rows(data, file)
    else:
        marks = "".join(sorted(MARKS, key=lambda mark: (mark == "\t") != source.is_tabbed))
        mark, lines = choose_separator(opened.lines(), score, marks)
        rows = text_rows(lines, mark, file)
    with naming_other_sheets(data, score):
        header, rows = split_header(rows, score)
        names = ["" if cell is None else str(cell) for cell in header.cells]
        chosen = choose_columns(names, wanted)
        if not chosen.identifies:
            raise UnreadableError(
                "no column says which compound it is; begin with a row of column names, one of "
                "them smiles, or name the column by --smiles-column"
            )
    hidden = HeadingsRead(hidden=hidden_sheets(data) if data else ())
    gathering.begin(chosen.unit, "; ".join(filter(None, (chosen.said, str(hidden)))))
    columns = [TableColumn(place, names[place], field) for field, place in chosen.places.items()]
    for row in rows:
        _read_row(row.within(len(names)), columns, gathering)
        yield


def _read_row(row: TableRow, columns: Sequence[TableColumn], gathering: Gathering) -> None:
    if row.problem:
        gathering.refuse(row.number, str(row.cells[0]), row.problem)
        return
    width = len(row.cells)
    texts = {}
    try:
        for column in columns:
            cell = row.cells[column.place] if column.place < width else ""
            is_text = isinstance(cell, str)
            texts[column.field] = str(cell).strip() if is_text else TableCell(column, cell).text()
    except QuantityError as error:
        gathering.refuse(row.number, error.read, f"{error.reason}; {error.advice}")
    else:
        gathering.add(Record(row.number, **texts))
