"""A section's result as a workbook: a sheet each for students, unknowns, findings and the rest."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

from identify.answers.files.rows import (
    SECTION_TABLES,
    Cell,
    CellKind,
    Row,
    SectionTable,
    SheetColumn,
)
from identify.notebook.printable import printable
from identify.notebook.saving import harmless, written_beside

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.styles import PatternFill
    from openpyxl.worksheet._write_only import WriteOnlyWorksheet

    from identify.section.result import SectionResult

# What a cell holds at most, in UTF-16 code units. ECMA-376, part 1, 18.18.37 leaves it to the
# application; the number is that of the spreadsheet programs in use, from memory.
LONGEST_CELL = 32_767

_WIDEST = {CellKind.sentence: 70.0, CellKind.text: 34.0}
_NARROWEST = 7.0
_MARGIN = 2.5  # characters, for the filter's arrow
_FORMATS = {CellKind.count: "0", CellKind.number: "0.00", CellKind.share: "0.0%"}

_FONT = "Calibri"  # what spreadsheet programs have or replace by one as wide

# Chosen for this project: pale, and told apart in gray too.
_HEADER_FILL, _HEADER_INK = "E4E9EC", "24323A"
_FILLS = {"error": "F3D3CC", "warning": "F8EBC8", "slip": "E3DDEE", "no": "F3D3CC"}

_Filled = tuple[SectionTable, list[Row]]


def write_workbook(section: SectionResult, target: Path) -> None:
    """Write a section's result as a workbook (XLSX).

    A sheet that explains comes first; then students, unknowns, findings, and rows set aside, each
    with filters. Every text is stored as text: no cell can run a formula.

    Parameters
    ----------
    section : SectionResult
    target : Path
        Replaced where it is there already; left as it is where anything goes wrong.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    book.properties.creator = "identify-unknown"
    book.properties.title = inert(f"Check of {section.file}")
    cells = _StyledCells(book)
    sheets = [(table, table.rows(section)) for table in SECTION_TABLES]
    _write_overview(cells, section, sheets)
    for table, rows in sheets:
        _write_sheet(cells, table, rows)
    with written_beside(target) as beside:
        book.save(beside)


def inert(text: str) -> str:
    r"""Return text as a cell can hold it: no character that a workbook cannot, and not too long.

    Examples
    --------
    >>> inert("C-14\x07")
    'C-14\ufffd'
    >>> len(inert("x" * 40_000)), inert("x" * 40_000)[-1]
    (32767, '…')
    """
    # XML 1.0, section 2.2: a carriage return would be read back as a line feed; of what XML cannot
    # hold, nothing is shown.
    kept = printable(text.replace("\r\n", "\n").replace("\r", "\n"), kept="\n\t")
    units = kept.encode("utf-16-le")
    if len(units) <= 2 * LONGEST_CELL:
        return kept
    # Half of a surrogate pair at the cut is dropped.
    return units[: 2 * (LONGEST_CELL - 1)].decode("utf-16-le", "ignore") + "…"


def _fill(color: str) -> PatternFill:
    from openpyxl.styles import PatternFill

    return PatternFill("solid", fgColor=color)


def add_styles(book: Workbook) -> None:
    """Give a workbook the named styles of its cells: "identify heading", "identify text", ..."""
    from openpyxl.styles import Alignment, Font, NamedStyle

    top: dict[str, Any] = {"alignment": Alignment(vertical="top"), "font": Font(_FONT, 11)}
    wrapped = {**top, "alignment": Alignment(vertical="top", wrap_text=True)}
    bold = {"font": Font(_FONT, 11, bold=True, color=_HEADER_INK), "fill": _fill(_HEADER_FILL)}
    styles = {kind.value: dict(top) for kind in CellKind}
    styles |= {"sentence": wrapped, "heading": {**wrapped, **bold}}
    styles |= {"title": {"font": Font(_FONT, 14, bold=True, color=_HEADER_INK)}}
    styles |= {"left": {**top, "alignment": Alignment(horizontal="left", vertical="top")}}
    styles |= {word: {**top, "fill": _fill(color)} for word, color in _FILLS.items()}
    for kind, number_format in _FORMATS.items():
        styles[kind.value]["number_format"] = number_format
    for name, parts in styles.items():
        book.add_named_style(NamedStyle(f"identify {name}", **parts))


class _StyledCells:
    """Makes the cells of a workbook, each in one of a few named styles."""

    def __init__(self, book: Workbook) -> None:
        self.book = book
        add_styles(book)

    def cell(self, sheet: WriteOnlyWorksheet, value: Cell, style: str) -> Any:
        """Return a cell; a text is stored as text, whatever it looks like."""
        from openpyxl.cell import WriteOnlyCell

        if isinstance(value, bool):
            value = "yes" if value else "no"
            style = value if value in _FILLS else style
        if isinstance(value, str):
            value = inert(value) or None  # an empty text is an empty cell
        cell = WriteOnlyCell(sheet, value=value)
        cell.style = f"identify {style}"
        if isinstance(value, str):
            cell.data_type = "s"
            # Stays a text when somebody edits the cell, too.
            cell.quotePrefix = harmless(value) != value
        return cell


def _write_sheet(cells: _StyledCells, table: SectionTable, rows: Sequence[Row]) -> None:
    from openpyxl.utils import get_column_letter

    page = cells.book.create_sheet(table.name)
    page.freeze_panes = table.frozen
    last = get_column_letter(len(table.columns))
    page.auto_filter.ref = f"A1:{last}{len(rows) + 1}"
    for place, column in enumerate(table.columns, start=1):
        page.column_dimensions[get_column_letter(place)].width = _width(column, rows)
    set_up_print(page, repeated="1:1")
    with closing(page):
        page.append([cells.cell(page, column.title, "heading") for column in table.columns])
        for row in rows:
            values = [(column, row[column.key]) for column in table.columns]
            page.append(
                [cells.cell(page, value, _style(column, value)) for column, value in values]
            )


def _style(column: SheetColumn, value: Cell) -> str:
    if column.key == "severity" and value in _FILLS:
        return str(value)
    return column.kind.value


def _width(column: SheetColumn, rows: Iterable[Row]) -> float:
    """Return a width at which the heading's words and the cells fit, up to the widest."""
    longest = max(
        (
            min(len(value), LONGEST_CELL) if isinstance(value, str) else _NARROWEST
            for row in rows
            if (value := row[column.key]) is not None
        ),
        default=_NARROWEST,
    )
    word = max(map(len, column.title.split()))
    return min(max(longest, word + _MARGIN, _NARROWEST), _WIDEST.get(column.kind, 14.0)) + 1.0


def set_up_print(page: Any, repeated: str = "") -> None:
    """Have a sheet printed across the page, with rows such as ``1:1`` repeated on each."""
    # Any: the stubs of openpyxl lack what a sheet written row by row shares with the others.
    page.page_setup.orientation = "landscape"
    page.page_setup.fitToWidth = 1
    page.page_setup.fitToHeight = 0  # as many pages as it takes
    page.sheet_properties.pageSetUpPr.fitToPage = True
    page.page_margins.left = page.page_margins.right = 0.4  # inches
    page.page_margins.top = page.page_margins.bottom = 0.6
    page.page_margins.footer = 0.3
    page.oddFooter.left.text = "&A"
    page.oddFooter.right.text = "&P / &N"
    if repeated:
        page.print_title_rows = repeated


# ------------------------------------------------------------------------------------- overview


def _write_overview(cells: _StyledCells, section: SectionResult, sheets: Sequence[_Filled]) -> None:
    page = cells.book.create_sheet("Overview")
    page.column_dimensions["A"].width = 30.0
    page.column_dimensions["B"].width = 100.0
    set_up_print(page)
    with closing(page):
        for first, second, styles in _overview(section, sheets):
            pair = zip((first, second), styles, strict=True)
            page.append([cells.cell(page, value, style) for value, style in pair])


_TITLE, _HEADING = ("title", "sentence"), ("heading", "heading")
_COUNT, _SAID = ("text", "left"), ("text", "sentence")
_OverviewLine = tuple[Cell, Cell, tuple[str, str]]


def _overview(section: SectionResult, sheets: Sequence[_Filled]) -> Iterator[_OverviewLine]:
    from identify.answers.text import CAUTION

    yield f"Check of {section.file}", None, _TITLE
    yield None, None, _SAID
    yield "What was checked", None, _HEADING
    yield "each student", _STUDENTS_CHECKED, _SAID
    yield "each unknown", _UNKNOWNS_CHECKED, _SAID
    yield "the section", _SECTION_CHECKED, _SAID
    yield None, None, _SAID
    yield "How many", None, _HEADING
    for words, count in _counts(section, sheets):
        yield words, count, _COUNT
    for table, _ in sheets:
        yield None, None, _SAID
        yield f"Sheet {table.name}", table.lists, _HEADING
        for column in table.columns:
            yield column.title, column.meaning, _SAID
    yield None, None, _SAID
    yield "Caution", CAUTION.removeprefix("Caution: "), _SAID


_STUDENTS_CHECKED = (
    "The readings were compared with what every compound of the table would have given, and looked "
    "through for what does not hold together and for the usual slips."
)
_UNKNOWNS_CHECKED = (
    "The readings of all students of one bottle were pooled, leaving out weighings that do not "
    "agree with the others, and compared with the key where there is one."
)
_SECTION_CHECKED = (
    "What many students share: one balance, one barometer reading, one thermometer, one day."
)


def _counts(section: SectionResult, sheets: Sequence[_Filled]) -> Iterator[tuple[str, int]]:
    yield "rows of the file", section.rows
    yield "students' results", len(section.students)
    yield "unknowns", len(section.unknowns)
    yield "rows set aside", len(section.set_aside)
    judged = [one.named_right for one in section.students if one.named_right is not None]
    if judged:
        yield "results with a key", len(judged)
        yield "of these named right", sum(judged)
    yield "results that need a look", sum(one.is_doubtful for one in section.students)
    told = [row["severity"] for _, rows in sheets for row in rows if "severity" in row]
    for severity, words in _SEVERITIES.items():
        yield words, told.count(severity)


_SEVERITIES = {"error": "errors", "warning": "warnings", "note": "notes", "slip": "slips"}
