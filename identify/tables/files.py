"""Bytes of a file to text, and to the rows of a table."""

from __future__ import annotations

import codecs
import csv
import io
import os
import re
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from identify.tables.faults import Fault, UnreadableError
from identify.tables.trial_table import Row, count_known_columns

_SAVE_AS = "save it as CSV (UTF-8), XLSX or TOML"
_ZIP = b"PK\x03\x04"  # an XLSX file is a zip archive
_OLD_EXCEL = bytes.fromhex("D0CF11E0A1B11AE1")  # compound file of the XLS format
# UTF-32 first: its little-endian mark begins with that of UTF-16.
_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
# In one cell. An open quotation mark would else take all rows up to the next mark into its cell.
_MOST_LINES = 200
_CONTROL = re.compile("[\x00-\x08\x0e-\x1f\x7f]")


def file_bytes(path: str | Path) -> bytes:
    """Read a file whole.

    Raises
    ------
    UnreadableError
        If there is none, it is a folder, it may not be read, or it is empty.
    """
    try:
        data = Path(path).read_bytes()
    except FileNotFoundError:
        raise UnreadableError("there is no such file; check the name and the folder") from None
    except IsADirectoryError:
        raise UnreadableError("is a folder; name a file in it") from None
    except (OSError, ValueError) as error:
        if os.path.isdir(path):  # Windows reports a folder as one that may not be opened
            raise UnreadableError("is a folder; name a file in it") from None
        reason = getattr(error, "strerror", None) or "not a file name"
        raise UnreadableError(f"cannot be opened ({reason})") from None
    if not data.strip():
        raise UnreadableError("is empty; check that it was saved")
    return data


def text_of(data: bytes) -> str:
    """Decode a text file: by its byte order mark, else UTF-8, else Windows-1252.

    Raises
    ------
    UnreadableError
        If it is no text in these encodings.
    """
    encodings = [name for mark, name in _MARKS if data.startswith(mark)][:1]
    for encoding in encodings or ["utf-8", "cp1252"]:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if _CONTROL.search(text):
            break
        if not text.strip():
            raise UnreadableError("is empty; check that it was saved")
        return text
    if data.startswith(_OLD_EXCEL):
        raise UnreadableError("is a workbook of the old XLS kind; save it as XLSX or CSV")
    raise UnreadableError(f"is no text in a known encoding; {_SAVE_AS}")


def is_excel(data: bytes) -> bool:
    """Tell whether the bytes are an XLSX workbook, whatever the file is called."""
    return data.startswith(_ZIP)


def text_rows(text: str, file: str, faults: list[Fault]) -> list[Row]:
    """Split a text table into numbered rows of cells.

    Parameters
    ----------
    text : str
        The whole table.
    file : str
        For the faults.
    faults : list of Fault
        Takes rows whose quotation marks do not pair.

    Returns
    -------
    list of (int, list of str)
        Rows as a spreadsheet counts them, from 1.
    """
    delimiter, skipped = _delimiter(text)
    lines = _Lines(text)
    rows: list[Row] = []
    number = 0
    # The module's own limit would refuse a long cell with an error that names no column.
    limit = csv.field_size_limit(len(text) + 1)
    try:
        while not lines.ended:
            reader = csv.reader(lines, delimiter=delimiter, skipinitialspace=True, strict=True)
            try:
                while True:
                    number += 1
                    lines.begin_row()
                    cells = next(reader)
                    if number > skipped:
                        rows.append((number, cells))
            except StopIteration:
                break
            except csv.Error:
                advice = "has quotation marks that do not pair; write each mark in a cell twice"
                faults.append(Fault(file, number, "", "", advice))
                lines.go_on_after_first()
    finally:
        csv.field_size_limit(limit)
    return rows


class _Lines(Iterator[str]):
    """The lines of a text; can go back to the second line of a row that was no row."""

    def __init__(self, text: str) -> None:
        self._lines = list(io.StringIO(text, newline=""))
        self._next = self._first = 0

    @property
    def ended(self) -> bool:
        return self._next >= len(self._lines)

    def begin_row(self) -> None:
        self._first = self._next

    def go_on_after_first(self) -> None:
        self._next = self._first + 1

    def __next__(self) -> str:
        if self.ended:
            raise StopIteration
        if self._next - self._first >= _MOST_LINES:
            raise csv.Error
        self._next += 1
        return self._lines[self._next - 1]


def _delimiter(text: str) -> tuple[str, int]:
    """Choose the mark under which the header shows most known columns.

    Counting marks would fail with decimal commas; a header has none. Returns the mark and the
    number of leading rows to skip.
    """
    header = ""
    for number, line in enumerate(io.StringIO(text)):
        if told := re.fullmatch(r"sep=([,;\t])", line.rstrip("\r\n"), re.IGNORECASE):
            return told[1], number + 1  # a line that spreadsheets write for themselves
        if line.strip(" \t\r\n,;"):
            header = line.rstrip("\r\n")
            break
    scores = {
        mark: (count_known_columns(header.replace('"', "").split(mark)), header.count(mark))
        for mark in ",;\t"
    }
    return max(scores, key=lambda mark: scores[mark]), 0


def excel_rows(data: bytes) -> list[Row]:
    """Take the rows of the first sheet of a workbook; formulas give their last values.

    A formula that no spreadsheet has worked out yet stands as its text, so that it is seen.

    Raises
    ------
    UnreadableError
        If the workbook is damaged or holds no sheet.
    """
    import openpyxl  # slow to load

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and extensions, which are not read
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
            cells = _cells(book.worksheets[0])
            if has_formulas(data):
                formulas = openpyxl.load_workbook(io.BytesIO(data), read_only=True)
                _put_in_formulas(cells, _cells(formulas.worksheets[0]))
    except Exception:  # a damaged workbook raises whatever its zip, XML and style readers raise
        raise UnreadableError(
            "is no workbook that can be read, or is damaged; save it again as XLSX or CSV"
        ) from None
    return [(number, [value for value, _ in row]) for number, row in enumerate(cells, start=1)]


def further_sheets(data: bytes) -> list[str]:
    """Name the sheets of a workbook behind its first that hold anything."""
    import openpyxl

    try:
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        return [
            str(sheet.title)
            for sheet in book.worksheets[1:]
            if any(value is not None for row in _cells(sheet) for value, _ in row)
        ]
    except Exception:  # as in `excel_rows`; that it is damaged is said there
        return []


# A cell's value, and the kind that the file states for it.
_Cell = tuple[object, str]


def _cells(sheet: Any) -> list[list[_Cell]]:
    sheet.reset_dimensions()  # some programs state them wrongly
    return [[(cell.value, cell.data_type) for cell in row] for row in sheet.iter_rows()]


def has_formulas(data: bytes) -> bool:
    """Say whether any sheet of a workbook holds a formula."""
    import zipfile

    with zipfile.ZipFile(io.BytesIO(data)) as book:
        return any(
            re.search(rb"<f[ >/]", book.read(name)) is not None
            for name in book.namelist()
            if name.startswith("xl/worksheets/")
        )


def _put_in_formulas(cells: list[list[_Cell]], formulas: list[list[_Cell]]) -> None:
    """Let a formula without a value stand as its text."""
    for row, formula_row in zip(cells, formulas, strict=True):
        for place, (cell, formula) in enumerate(zip(row, formula_row, strict=False)):
            row[place] = seen(cell, formula)


def seen(cell: _Cell, formula: _Cell) -> _Cell:
    """Return a cell, or the formula in it where that has no value.

    One that gave an empty text has no value either, but is marked as text.

    Parameters
    ----------
    cell, formula : (object, str)
        The same cell read for its value, and for its formula; each with the kind that is stated.
    """
    if formula[1] == "f" and cell == (None, "n"):
        return str(getattr(formula[0], "text", formula[0])), "f"
    return cell
