"""The bytes of an XLSX workbook to the cells of the sheet that is read, row by row."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import partial
from itertools import islice
from typing import Any

from identify.tables.faults import UnreadableError
from identify.tables.limits import MAX_TAGS, MAX_TAGS_TOGETHER, MAX_UNPACKED, size_text

_BLOCK = 1 << 20  # bytes
_ENDS = re.compile(rb"</(?:\w+:)?(?:row|si)\s*>")  # behind which nothing before it is kept
_ADVICE = "copy the table alone into a new one, or save it as CSV"
_DAMAGED = "is not a workbook that can be read, or is damaged; save it again as XLSX or CSV"


def sheet_cells(data: bytes) -> Iterator[list[object]]:
    """Yield the cells of each row of the sheet that is read; formulas give their last values.

    A formula that no spreadsheet has worked out yet stands as its text, so that it is seen.

    Raises
    ------
    UnreadableError
        If the workbook is damaged, larger than what is read, or holds no sheet.
    """
    with _readable():
        rows = _sheets(data)[0].iter_rows()
        if not _has_formulas(data):
            for row in rows:
                yield [cell.value for cell in row]
            return
        formulas = _sheets(data, values=False)[0].iter_rows()
        for row, behind in zip(rows, formulas, strict=True):
            yield list(map(_seen, row, behind))


def hidden_sheets(data: bytes) -> tuple[str, ...]:
    """Return the names of hidden sheets that stand before the one that is read.

    Raises
    ------
    UnreadableError
        As `sheet_cells`.
    """
    with _readable():
        book = _book(data)
        read = table_sheet(book)
        before = book.worksheets[: book.worksheets.index(read)]
        return tuple(str(sheet.title) for sheet in before)


def other_sheets(data: bytes, rows: int) -> Iterator[tuple[str, list[tuple[object, ...]]]]:
    """Yield the name of each sheet that is not read, and its first rows.

    Raises
    ------
    UnreadableError
        As `sheet_cells`.
    """
    with _readable():
        for sheet in _sheets(data)[1:]:
            yield str(sheet.title), list(islice(sheet.iter_rows(values_only=True), rows))


def table_sheet(book: Any) -> Any:
    """Return the sheet of an openpyxl workbook that is read: the first that can be seen.

    Sheets that hold a chart alone are passed over, and those that are hidden: they are what a
    spreadsheet keeps for itself, such as the words of a drop-down list.
    """
    sheets = book.worksheets
    return next((one for one in sheets if one.sheet_state == "visible"), sheets[0])


@contextmanager
def _readable() -> Iterator[None]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and extensions, which are not read
            yield
    except UnreadableError:
        raise
    except Exception:  # a damaged workbook raises whatever its zip, XML and style readers raise
        raise UnreadableError(_DAMAGED) from None


def _sheets(data: bytes, values: bool = True) -> list[Any]:
    """Return all sheets, the one that is read first."""
    book = _book(data, values)
    for sheet in book.worksheets:
        sheet.reset_dimensions()  # some programs state them wrongly
    read = table_sheet(book)
    return [read, *(sheet for sheet in book.worksheets if sheet is not read)]


def _book(data: bytes, values: bool = True) -> Any:
    import openpyxl  # slow to load

    _refuse_large(data)
    return openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=values)


def _refuse_large(data: bytes) -> None:
    """Refuse a workbook that is more than can be read, before anything of it is."""
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        # No part gives more than is said here of it.
        if sum(part.file_size for part in book.infolist()) > MAX_UNPACKED:
            size = size_text(MAX_UNPACKED)
            raise UnreadableError(f"is a workbook of more than {size} once unpacked; {_ADVICE}")
        tags = 0
        for name in book.namelist():
            for count in _tags_together(book, name):
                tags += count
                if count > MAX_TAGS_TOGETHER or tags > MAX_TAGS:
                    cells = f"{MAX_TAGS // 4:,} cells, or {MAX_TAGS_TOGETHER // 4:,} in a row"
                    raise UnreadableError(f"is a workbook of more than {cells}; {_ADVICE}")


def _tags_together(book: zipfile.ZipFile, name: str) -> Iterator[int]:
    """Yield how many tags stand between the ends of two rows, or of two texts."""
    count = 0
    for block in _blocks(book, name):
        *whole, rest = _ENDS.split(block)
        for piece in whole:
            yield count + piece.count(b"<") + 1
            count = 0
        count += rest.count(b"<")
        if count > MAX_TAGS_TOGETHER:
            break
    yield count


def _blocks(book: zipfile.ZipFile, name: str) -> Iterable[bytes]:
    with book.open(name) as part:
        yield from iter(partial(part.read, _BLOCK), b"")


def _has_formulas(data: bytes) -> bool:
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        return any(
            re.search(rb"<f[ >/]", book.read(name)) is not None
            for name in book.namelist()
            if name.startswith("xl/worksheets/")
        )


def _seen(cell: Any, formula: Any) -> object:
    """Return a cell's value, or the formula in it where that has no value.

    One that gave an empty text has no value either, but is marked as text.
    """
    if formula.data_type == "f" and (cell.value, cell.data_type) == (None, "n"):
        return str(getattr(formula.value, "text", formula.value))
    return cell.value
