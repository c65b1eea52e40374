"""Lines of a text table, or cells of a workbook, to numbered rows; and the header among them."""

from __future__ import annotations

import csv
import io
import re
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from itertools import chain, islice
from typing import NamedTuple, TypeAlias

from identify.notebook.quantity.quantities import excerpt
from identify.tables.faults import Fault, UnreadableError
from identify.tables.limits import (
    MAX_BROKEN_ROWS,
    MAX_CELLS,
    MAX_COLUMNS,
    MAX_ROWS,
    MAX_SHEET_ROWS,
)
from identify.tables.lines import LONGEST_LINE, TextLine, is_excel, text_lines
from identify.tables.workbooks import other_sheets, sheet_cells

# Whether some cells are a header, by the names that the kind of table must have; and how many of
# them are names that it has.
Score: TypeAlias = Callable[[Sequence[object]], tuple[bool, int]]

MARKS = ",;\t"  # that may separate the cells of a text table
_SEP = re.compile(r"sep=([^\w\s\"]|\t)", re.IGNORECASE)  # a line that spreadsheets write themselves
# In one cell. An open quotation mark would else take all rows up to the next mark into its cell.
_MAX_LINES_IN_ROW = 200
_MAX_ROWS_ABOVE_HEADER = 20
_MAX_LINES_ABOVE_HEADER = 10_000  # blank ones too
_MAX_MARKS = 16_384  # in a row: a sheet of XLSX has no more columns
_SURE_HEADER = 3  # names that the kind of table has: fewer may stand in a title
_MAX_SHEETS_NAMED = 3
_NO_LIMIT = 2**31 - 1
_HEADER_AGAIN = "repeats the row of column names; leave it out"
_PAIRS = "has quotation marks that do not pair; write each mark in a cell twice"


class TableRow(NamedTuple):
    """A row as it stands in its file, numbered as a spreadsheet counts; or why there is none."""

    file: str
    number: int
    cells: Sequence[object]
    problem: str = ""

    @property
    def is_blank(self) -> bool:
        """Whether it holds nothing, and nothing is the matter with it."""
        return not self.problem and all(map(is_blank, self.cells))

    def fault(self, column: str, read: str, advice: str) -> Fault:
        """Return what is wrong with a cell, or with the row where no column is named."""
        return Fault(self.file, self.number, excerpt(column), read, advice)

    def within(self, width: int) -> TableRow:
        """Return the row, with a problem if cells stand beyond a header of this width."""
        if len(self.cells) <= width or all(map(is_blank, self.cells[width:])):
            return self
        advice = (
            f"has {len(self.cells)} cells where there are {width} column names; "
            "if commas mark the decimals, separate the columns by semicolons"
        )
        return self._replace(problem=advice)


def is_blank(cell: object) -> bool:
    """Whether a cell holds nothing."""
    return cell is None or (isinstance(cell, str) and (not cell or cell.isspace()))


def table_rows(data: bytes, file: str, score: Score) -> tuple[TableRow, Iterator[TableRow]]:
    """Return the header of a text table or workbook, and all rows below it that hold anything.

    Parameters
    ----------
    data : bytes
        The file. Of a workbook the first sheet is read.
    file : str
        For the rows.
    score : callable
        Of the kind of table, see `Score`.

    Raises
    ------
    UnreadableError
        If it is empty, no text, or a damaged workbook.
    """
    if is_excel(data):
        rows = workbook_rows(data, file)
    else:
        mark, lines = choose_separator(text_lines(io.BytesIO(data), len(data)), score)
        rows = text_rows(lines, mark, file)
    return split_header(_few(rows), score)


def _few(rows: Iterable[TableRow]) -> Iterator[TableRow]:
    """Yield rows as long as they are as many as a table may have.

    Raises
    ------
    UnreadableError
        If they are more.
    """
    filled, cells, broken = 0, 0, 0
    for row in rows:
        if row.number > MAX_SHEET_ROWS:
            raise _too_much(f"{MAX_SHEET_ROWS:,} rows")
        if row.is_blank:
            continue
        filled += 1
        cells += len(row.cells)
        broken += bool(row.problem)
        if filled > MAX_ROWS + 1:  # and the header
            raise _too_much(f"{MAX_ROWS:,} rows that hold anything")
        if cells > MAX_CELLS:
            raise _too_much(f"{MAX_CELLS:,} cells")
        if broken > MAX_BROKEN_ROWS:
            raise UnreadableError(
                f"{row.problem} (so in {MAX_BROKEN_ROWS:,} rows before)", row.number
            )
        yield row


def _too_much(what: str) -> UnreadableError:
    return UnreadableError(f"has more than {what}; split it, or leave out the rest")


def _not_too_wide(file: str, number: int, cells: Sequence[object], problem: str = "") -> TableRow:
    """Return a row, cut off with a problem where it has more columns than a table may have."""
    if len(cells) <= MAX_COLUMNS:
        return TableRow(file, number, cells, problem)
    kept = next((n for n in range(len(cells), 0, -1) if not is_blank(cells[n - 1])), 0)
    if kept <= MAX_COLUMNS:
        return TableRow(file, number, cells[:kept], problem)
    too_many = f"has more than {MAX_COLUMNS:,} cells, and a table no more columns; check its commas"
    return TableRow(file, number, cells[:MAX_COLUMNS], problem or too_many)


def split_header(rows: Iterator[TableRow], score: Score) -> tuple[TableRow, Iterator[TableRow]]:
    """Return the header, and the rows that hold anything with which something is still to do.

    The header is the first row with a name that the kind of table must have and at least two more
    that it has, else that with most of them; rows above it are titles. Where there is none, the
    first row that holds anything stands for it.

    Raises
    ------
    UnreadableError
        If no row holds anything.
    """
    filled = (row for row in rows if not row.is_blank)
    first, scores = list[TableRow](), list[tuple[bool, int]]()
    for row in islice(filled, _MAX_ROWS_ABOVE_HEADER):
        first.append(row)
        scores.append((False, 0) if row.problem else score(row.cells))
        if _is_header(scores[-1]):
            break
    if not first:
        raise UnreadableError("is empty; check that it was saved")
    place = _header_place(scores)
    header, above = first[place], first[:place]
    if header.problem:  # what else is wrong follows from that
        raise UnreadableError(header.problem, header.number)
    below = chain(first[place + 1 :], filled)
    return header, chain((row for row in above if row.problem), _not_again(header, below))


def _not_again(header: TableRow, rows: Iterable[TableRow]) -> Iterator[TableRow]:
    """Yield rows, with a problem where one is the header again: tables were put together."""
    for row in rows:
        yield row._replace(problem=_HEADER_AGAIN) if row.cells == header.cells else row


def _is_header(scored: tuple[bool, int]) -> bool:
    has_key, count = scored
    return has_key and count >= _SURE_HEADER


def _header_place(scores: Sequence[tuple[bool, int]]) -> int:
    """Return the place of the row that is the header; the first where none has a key."""
    sure = (place for place, scored in enumerate(scores) if _is_header(scored))
    counts = [count if has_key else 0 for has_key, count in scores]
    return next(sure, counts.index(max(counts)))


def sound_rows(rows: Iterable[TableRow], width: int, faults: list[Fault]) -> list[TableRow]:
    """Return the rows below a header of this width that can be used; the others become faults."""
    checked = [row.within(width) for row in rows if not row.is_blank]
    faults += [row.fault("", "", row.problem) for row in checked if row.problem]
    return [row for row in checked if not row.problem]


# ----------------------------------------------------------------------------------- text tables


def choose_separator(
    lines: Iterator[TextLine], score: Score, marks: str = MARKS
) -> tuple[str, Iterator[TextLine]]:
    """Choose the mark under which the header shows most names that the kind of table has.

    Counting marks would fail with decimal commas; a header has none.

    Parameters
    ----------
    lines : iterator of TextLine
    score : callable
        Of the kind of table, see `Score`.
    marks : str
        The first of them goes before the others where they are equal.

    Returns
    -------
    str, iterator of TextLine
        The mark, and all lines.
    """
    seen: list[TextLine] = []
    filled: list[str] = []
    for line in lines:
        if not filled and (told := _SEP.fullmatch(line.text)):
            return told[1], chain(seen, [TextLine("")], lines)
        seen.append(line)
        if line.text.strip(" \t,;") and not line.fault:
            filled.append(line.text)
        if len(filled) >= _MAX_ROWS_ABOVE_HEADER or len(seen) >= _MAX_LINES_ABOVE_HEADER:
            break

    def under(mark: str) -> tuple[bool, int, int, int]:
        """Return what speaks for a mark: a header, then how few cells hold another one."""
        scores = []
        for text in filled:
            cells = text.replace('"', "").split(mark, MAX_COLUMNS)[:MAX_COLUMNS]
            mixed = sum(any(other in cell for other in MARKS) for cell in cells)
            scores.append((*score(cells), -mixed, len(cells)))
        if not scores:
            return (False, 0, 0, 0)
        return scores[_header_place([one[:2] for one in scores])]

    return max(marks, key=under), chain(seen, lines)


def text_rows(lines: Iterator[TextLine], mark: str, file: str) -> Iterator[TableRow]:
    """Yield the rows of a text table."""
    waiting: deque[TextLine] = deque()
    taken: list[TextLine] = []

    def quoted_lines() -> Iterator[str]:
        size = 0
        while len(taken) < _MAX_LINES_IN_ROW and size <= LONGEST_LINE:
            line = waiting.popleft() if waiting else next(lines, None)
            if line is None:
                return
            taken.append(line)
            if line.is_cut:
                return
            size += len(line.text)
            yield line.text + "\n"

    number = 0
    while (line := waiting.popleft() if waiting else next(lines, None)) is not None:
        number += 1
        text = _without_end(line.text, mark)
        if '"' not in text or text.count(mark) > _MAX_MARKS:
            yield _not_too_wide(file, number, _split(text, mark), line.fault)
            continue
        waiting.appendleft(line._replace(text=text))
        taken.clear()
        cells = _quoted_cells(quoted_lines(), mark)
        if cells is None:
            waiting.extendleft(reversed(taken[1:]))
            yield TableRow(file, number, [line.text], line.fault or _PAIRS)
        else:
            problem = next((one.fault for one in taken if one.fault), "")
            yield _not_too_wide(file, number, cells, problem)


def _without_end(text: str, mark: str) -> str:
    """Return a row without blank cells behind the last where they are very many."""
    is_open = text.count('"') % 2  # what ends the line may be within a cell
    if is_open or text.count(mark) <= _MAX_MARKS:
        return text
    return text.rstrip(f"{mark} \t")


def _split(text: str, mark: str) -> list[str]:
    """Return the cells of a row that has no quotation marks, or too many cells."""
    return text.split(mark, -1 if text.count(mark) <= _MAX_MARKS else MAX_COLUMNS)


def _quoted_cells(lines: Iterator[str], mark: str) -> list[str] | None:
    """Return the cells of the first row, None if its quotation marks do not pair."""
    # The module's own limit would refuse a long cell with an error that names no column.
    limit = csv.field_size_limit(_NO_LIMIT)
    try:
        return next(csv.reader(lines, delimiter=mark, skipinitialspace=True, strict=True), None)
    except csv.Error:
        return None
    finally:
        csv.field_size_limit(limit)


# ------------------------------------------------------------------------------------- workbooks


def workbook_rows(data: bytes, file: str) -> Iterator[TableRow]:
    """Yield the rows of the sheet that is read, see `sheet_cells`.

    Raises
    ------
    UnreadableError
        As there.
    """
    for number, cells in enumerate(sheet_cells(data), start=1):
        if number > MAX_SHEET_ROWS:  # also of a collection, whose rows nobody counts
            raise _too_much(f"{MAX_SHEET_ROWS:,} rows")
        yield _not_too_wide(file, number, cells)


@contextmanager
def naming_other_sheets(data: bytes, score: Score) -> Iterator[None]:
    """Say of a workbook whose first sheet is not a table, or an empty one, that another is.

    Parameters
    ----------
    data : bytes
    score : callable
        Of the kind of table, see `Score`; a sheet of instructions has no header.

    Raises
    ------
    UnreadableError
        As it was raised within, with the other sheets that hold anything.
    """
    try:
        yield
    except UnreadableError as error:
        others = _further_tables(data, score) if is_excel(data) else []
        if not others:
            raise
        names = ", ".join(f'"{excerpt(name)}"' for name in others[:_MAX_SHEETS_NAMED])
        advice = f"{error.advice}; only the first sheet is read, move {names} to the front"
        raise UnreadableError(advice, error.row) from None


def _further_tables(data: bytes, score: Score) -> list[str]:
    try:
        sheets = other_sheets(data, _MAX_ROWS_ABOVE_HEADER)
        return [name for name, rows in sheets if _has_header(map(score, rows))]
    except UnreadableError:  # that is said of the sheet that is read
        return []


def _has_header(scores: Iterable[tuple[bool, int]]) -> bool:
    # A row of instructions may begin with the name of a column, and no more.
    return any(has_key and names > 1 for has_key, names in scores)
