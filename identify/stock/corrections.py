"""A corrected copy of a stock table: the changes of its check applied, and nothing else altered."""

from __future__ import annotations

import codecs
import io
import re
from collections.abc import Iterator, Mapping, Set
from pathlib import Path

from identify.notebook.errors import UnusableInput
from identify.notebook.quantity.quantities import excerpt
from identify.notebook.saving import harmless, written_beside
from identify.stock.result import Change, StockCheck, StockRow
from identify.tables.faults import TableError, UnreadableError
from identify.tables.stock_rows import read_stock_sheet

_WORKBOOKS = (".xlsx", ".xlsm", ".xls", ".ods")
_PLAIN_NUMBER = re.compile(r"[-+]?\d+(?:[.,]\d+)?")
# A number, with or without a unit, is not a formula, whatever its sign; nor is a lone dash.
_NO_FORMULA = re.compile(
    rf"\s*(?:{_PLAIN_NUMBER.pattern}(?:[eE][-+]?\d+)?\s*[°%]?[A-Za-z]{{0,4}}(?:/[A-Za-z]{{1,3}})?|-*)\s*"
)

# What changes of cells set right.
_CORRECTED_CODES = frozenset(
    {
        "boiling-point-wrong",
        "cas-check-digit",
        "formula-wrong",
        "identity-disagrees",
        "molar-mass-wrong",
        "percent-sum",
        "percent-wrong",
    }
)

# Where a change goes: row as a spreadsheet counts, and the place of the column from 0.
_Cells = Mapping[tuple[int, int], Change]


def corrected_copy(check: StockCheck, source: Path, target: Path) -> int:
    """Write a corrected copy of a stock table.

    Parameters
    ----------
    check : StockCheck
        Of the source; its ``changes`` are applied.
    source : Path
        CSV or XLSX.
    target : Path
        Another file of the same kind. A text table is written in UTF-8 with the separator, decimal
        mark, quotation marks and line ends of the source; in a workbook the other cells stay, and
        formulas are worked out when a spreadsheet opens it. A text table knows no formulas: a text
        that a spreadsheet would run gets an apostrophe before it.

    Returns
    -------
    int
        How many cells beside the changes got that apostrophe.

    Raises
    ------
    ValueError
        If the target is the source, or of another kind, or the source is no longer what was
        checked; in one sentence.
    TableError
        If the source cannot be read.
    OSError
        If nothing can be written there.
    """
    from identify.tables.lines import file_bytes, is_excel

    _must_differ(source, target)
    sheet = read_stock_sheet(source)
    data = file_bytes(source)
    _must_be_of_one_kind(source, target, is_excel(data))
    places = {column.header: column.place for column in sheet.columns.values()}
    cells: dict[tuple[int, int], Change] = {}
    for change in check.changes:
        if change.column not in places:
            raise _not_as_checked(source, change)
        cells[change.row, places[change.column]] = change
    copy = _workbook if is_excel(data) else _text_table
    content, quieted = copy(source, data, cells)
    with written_beside(target) as beside:
        beside.write_bytes(content)
    return quieted


def left_to_decide(check: StockCheck) -> list[StockRow]:
    """Return the rows with an error that the corrected copy leaves: a person must look."""
    corrected = {change.row for change in check.changes}
    return [
        row
        for row in check.rows
        if any(
            finding.severity == "error"
            and not (row.row in corrected and finding.code in _CORRECTED_CODES)
            for finding in row.findings
        )
    ]


def _must_differ(source: Path, target: Path) -> None:
    is_same = target.exists() and source.exists() and target.samefile(source)
    if is_same or target.resolve() == source.resolve():
        raise UnusableInput(
            f"{target} is the table itself; name another file for the corrected copy"
        )


def _must_be_of_one_kind(source: Path, target: Path, is_workbook: bool) -> None:
    suffix = target.suffix.lower()
    if suffix == ".xlsx" if is_workbook else suffix not in _WORKBOOKS:
        return
    kind, own = ("workbook", ".xlsx") if is_workbook else ("text table", ".csv")
    raise UnusableInput(f"{source} is a {kind}, and so is its corrected copy; name that with {own}")


def _not_as_checked(source: Path, change: Change) -> ValueError:
    return ValueError(
        f'{source}, row {change.row}, {change.column}: no longer holds "{excerpt(change.read)}"; '
        "check the table again"
    )


def _holds(cell: object, change: Change) -> bool:
    """Whether a cell still holds what was checked, as `StockBottle.text` shows it."""
    if isinstance(cell, float) and cell.is_integer():
        cell = int(cell)
    return " ".join(str("" if cell is None else cell).split()) == change.read


def _inert(text: str) -> str:
    """Return a text as no spreadsheet runs it; numbers stay, whatever their sign."""
    return text if _NO_FORMULA.fullmatch(text) else harmless(text)


# -------------------------------------------------------------------------------------- workbook


def _workbook(source: Path, data: bytes, cells: _Cells) -> tuple[bytes, int]:
    import openpyxl

    from identify.tables.workbooks import table_sheet

    book = openpyxl.load_workbook(io.BytesIO(data))
    # The check read the last results of formulas.
    values = table_sheet(openpyxl.load_workbook(io.BytesIO(data), data_only=True))
    sheet = table_sheet(book)
    for (row, place), change in cells.items():
        at = {"row": row, "column": place + 1}
        value = values.cell(**at).value
        if not _holds(value, change):
            raise _not_as_checked(source, change)
        cell = sheet.cell(**at)
        if isinstance(value, int | float) and _PLAIN_NUMBER.fullmatch(change.written):
            cell.value = float(change.written.replace(",", "."))
        else:
            cell.value = _inert(change.written)
    content = io.BytesIO()
    book.save(content)
    return content.getvalue(), 0


# ------------------------------------------------------------------------------------ text table


def _text_table(source: Path, data: bytes, cells: _Cells) -> tuple[bytes, int]:
    from identify.tables.headings.dictionary import STOCK_HEADINGS
    from identify.tables.lines import text_lines, text_of
    from identify.tables.rows import choose_separator, text_rows

    try:
        text = text_of(data)
    except UnreadableError as error:
        raise TableError(str(error.fault(str(source)))) from None
    delimiter, lines = choose_separator(
        text_lines(io.BytesIO(data), len(data)), STOCK_HEADINGS.score
    )
    broken = {row.number for row in text_rows(lines, delimiter, str(source)) if row.problem}
    spans = dict(_spans(text, delimiter, broken))
    read = {key: _unquoted(text[start:end]) for key, (start, end) in spans.items()}
    quieted = {key: _inert(one) for key, one in read.items() if _inert(one) != one}
    for key, change in cells.items():
        if not _holds(read.get(key, ""), change):
            raise _not_as_checked(source, change)
    new = quieted | {key: _inert(change.written) for key, change in cells.items()}
    pieces, done = [], 0
    for key in sorted(new):
        start, end = spans[key]
        pieces += [text[done:start], _quoted(new[key], delimiter)]
        done = end
    copy = "".join([*pieces, text[done:]])
    # Only by the mark does a spreadsheet tell UTF-8 from its own older encodings.
    marked = data.startswith((codecs.BOM_UTF8, codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    encoded = copy.encode("utf-8-sig" if marked or not _is_utf8(data) else "utf-8")
    return encoded, len(quieted.keys() - cells.keys())


def _is_utf8(data: bytes) -> bool:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _spans(
    text: str, delimiter: str, broken: Set[int]
) -> Iterator[tuple[tuple[int, int], tuple[int, int]]]:
    """Yield row and place of each cell, and where it begins and ends in the text.

    A row whose quotation marks do not pair, one of ``broken``, is one line.
    """
    row, position = 1, 0
    while position < len(text):
        if row in broken:
            position = _line_end(text, position)
        else:
            cells, position = _row(text, position, delimiter)
            yield from (((row, place), span) for place, span in enumerate(cells))
        row, position = row + 1, position + (2 if text.startswith("\r\n", position) else 1)


def _row(text: str, start: int, delimiter: str) -> tuple[list[tuple[int, int]], int]:
    """Return where the cells of a row begin and end, and where the row does."""
    cells: list[tuple[int, int]] = []
    is_quoted = False
    for position in range(start, len(text)):
        letter = text[position]
        # A mark within a quoted cell is doubled: the cell closes and opens again.
        if letter == '"' and text[start : position + 1].lstrip(" ").startswith('"'):
            is_quoted = not is_quoted
        elif not is_quoted and letter in (delimiter, "\n", "\r"):
            cells.append((start, position))
            if letter != delimiter:
                return cells, position
            start = position + 1
    return [*cells, (start, len(text))], len(text)


def _line_end(text: str, start: int) -> int:
    ends = [end for end in (text.find(mark, start) for mark in "\r\n") if end >= 0]
    return min(ends, default=len(text))


def _unquoted(raw: str) -> str:
    stripped = raw.strip(" ")
    if len(stripped) > 1 and stripped[0] == stripped[-1] == '"':
        return stripped[1:-1].replace('""', '"')
    return raw


def _quoted(text: str, delimiter: str) -> str:
    if any(mark in text for mark in (delimiter, '"', "\n", "\r")):
        return '"' + text.replace('"', '""') + '"'
    return text
