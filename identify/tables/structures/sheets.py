"""Records from tables: CSV, TSV and workbooks, row by row."""

from __future__ import annotations

import csv
import datetime
import io
import warnings
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import fields
from typing import Any, NamedTuple

from identify.tables.structures.headings import Chosen, choose_columns, count_usual
from identify.tables.structures.lines import LONGEST_LINE, Line
from identify.tables.structures.source import (
    Headings,
    InputFault,
    Opened,
    Reading,
    Record,
    Source,
)

Say = Callable[[str], None]
# In one cell. An open quotation mark would else take all rows up to the next mark into its cell.
_MOST_LINES = 200
_DATE = "is a date to the spreadsheet; format the cell as text, and enter it again"
_PAIRS = "has quotation marks that do not pair; write each mark in a cell twice"


class Row(NamedTuple):
    """A row of cells, or why there are none."""

    number: int
    cells: Sequence[object]
    fault: str = ""
    read: str = ""


def table_rows(lines: Iterator[Line], wanted: Headings, tabs: bool) -> Iterator[Row]:
    """Yield the rows of a text table, the header first, numbered as a spreadsheet counts them.

    Parameters
    ----------
    lines : iterator of Line
    wanted : Headings
        Columns that the user named, by which the separator is found.
    tabs : bool
        Whether tabs separate, whatever the header looks like.
    """
    waiting: deque[Line] = deque()

    def following() -> Line | None:
        return waiting.popleft() if waiting else next(lines, None)

    mark = ""
    number = 0
    while (line := following()) is not None:
        number += 1
        text = line.text
        if line.fault:
            yield Row(number, (), line.fault, text)
            continue
        if not mark and text.strip(" \t,;"):
            if not tabs and text.lower().startswith("sep=") and len(text) == 5:
                mark = text[4]  # a line that spreadsheets write for themselves
                continue
            mark = "\t" if tabs else _separator(text, wanted)
        taken = [line]
        while text.count('"') % 2 and len(taken) < _MOST_LINES and len(text) < LONGEST_LINE:
            further = following()
            if further is None or further.fault:
                if further is not None:
                    taken.append(further)
                break
            taken.append(further)
            text += "\n" + further.text
        if text.count('"') % 2:
            waiting.extendleft(reversed(taken[1:]))
            yield Row(number, (), _PAIRS, line.text)
            continue
        yield _parsed(number, text, mark or ",")


def _parsed(number: int, text: str, mark: str) -> Row:
    if '"' not in text:
        return Row(number, text.split(mark))
    try:
        cells = next(csv.reader([text], delimiter=mark, skipinitialspace=True, strict=True))
    except (csv.Error, StopIteration):
        return Row(number, (), _PAIRS, text)
    return Row(number, cells)


def _separator(header: str, wanted: Headings) -> str:
    """Choose the mark under which the header shows most known columns."""

    def score(mark: str) -> tuple[int, int]:
        names = header.replace('"', "").split(mark)
        return count_usual(names, wanted), len(names)

    return max(",;\t", key=score)


def workbook_rows(opened: Opened) -> Iterator[Row]:
    """Yield the rows of the first sheet of a workbook.

    A formula that no spreadsheet has worked out yet stands as its text, so that it is seen.

    Raises
    ------
    InputFault
        If it is damaged, without the file's name.
    """
    from identify.tables.files import has_formulas

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and extensions, which are not read
            data = opened.in_memory()
            sheet = _first_sheet(data, values=True)
            if has_formulas(data.getvalue()):
                rows = _with_formulas(sheet, _first_sheet(data, values=False))
            else:
                rows = sheet.iter_rows(values_only=True)
            for number, cells in enumerate(rows, start=1):
                yield Row(number, cells)
    except GeneratorExit:
        raise
    except Exception:  # a damaged workbook raises whatever its zip, XML and style readers raise
        raise InputFault(
            "is no workbook that can be read, or is damaged; save it again as XLSX or CSV"
        ) from None


def _first_sheet(data: io.BytesIO, values: bool) -> Any:
    import openpyxl

    book = openpyxl.load_workbook(data, read_only=True, data_only=values)
    sheet = book.worksheets[0]
    sheet.reset_dimensions()  # some programs state them wrongly
    return sheet


def _with_formulas(values: Any, formulas: Any) -> Iterator[list[object]]:
    from identify.tables.files import seen

    for row, formula_row in zip(values.iter_rows(), formulas.iter_rows(), strict=True):
        yield [
            seen((cell.value, cell.data_type), (formula.value, formula.data_type))[0]
            for cell, formula in zip(row, formula_row, strict=True)
        ]


def read_rows(
    rows: Iterator[Row], source: Source, wanted: Headings, reading: Reading, say: Say
) -> Iterator[None]:
    """Turn rows into records; pauses after each, so that full chunks can be taken.

    Raises
    ------
    InputFault
        If there is no header with a column that says which compound it is.
    """
    header = _header(rows, reading)
    names = ["" if cell is None else str(cell) for cell in header]
    chosen = choose_columns(names, wanted, str(source.path))
    _must_identify(chosen, source)
    if chosen.said:
        say(f"{source.path}: {chosen.said}")
    reading.unit = chosen.unit
    order = [chosen.places.get(one.name, -1) for one in fields(Headings)]
    for row in rows:
        if row.fault:
            reading.refuse(row.number, row.read, row.fault)
        elif not all(map(_is_blank, row.cells)):
            _read_row(row, len(names), order, reading)
        yield


def _header(rows: Iterator[Row], reading: Reading) -> Sequence[object]:
    for row in rows:
        if row.fault:
            reading.refuse(row.number, row.read, row.fault)
        elif any(not _is_blank(cell) for cell in row.cells):
            return row.cells
    return ()


def _must_identify(chosen: Chosen, source: Source) -> None:
    if not {"smiles", "inchi", "cas", "name"} & set(chosen.places):
        raise InputFault(
            f"{source.path}: no column says which compound it is; begin with a row of column "
            "names, one of them smiles, or name the column by --smiles-column"
        )


def _read_row(row: Row, width: int, order: Sequence[int], reading: Reading) -> None:
    if len(row.cells) > width and any(not _is_blank(cell) for cell in row.cells[width:]):
        reading.refuse(
            row.number,
            str(row.cells[0]),
            f"has {len(row.cells)} cells where there are {width} column names; if commas mark the "
            "decimals, separate the columns by semicolons",
        )
        return
    cells = row.cells
    texts = []
    for place in order:
        cell = cells[place] if 0 <= place < len(cells) else ""
        if isinstance(cell, str):
            texts.append(cell.strip())
        elif isinstance(cell, datetime.date | datetime.time):
            reading.refuse(row.number, str(cell).removesuffix(" 00:00:00"), _DATE)
            return
        else:
            texts.append(_text(cell))
    reading.add(Record(row.number, *texts))


def _text(cell: object) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell).strip()


def _is_blank(cell: object) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())
