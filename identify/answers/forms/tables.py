"""The trial table and the stock table as forms: a workbook, or a CSV file of headings alone."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any

from identify.answers.files.workbook import add_styles, set_up_print
from identify.answers.forms.lines import BENCH_CAUTIONS, FORM_ELEMENTS, LINE_OF, FormLine
from identify.notebook.plausible import PLAUSIBLE
from identify.notebook.quantity.units import known_unit
from identify.tables.entry import PERCENT
from identify.tables.headings.dictionary import STOCK_HEADINGS, TRIAL_HEADINGS, Dictionary

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.datavalidation import DataValidation
    from openpyxl.worksheet.worksheet import Worksheet

_LAID_OUT = 1000  # rows with room for readings
_PRINTED = 40  # rows, where it is filled in by hand
_NARROWEST = 11.0
_INSTRUCTIONS = "Instructions"


@dataclass(frozen=True)
class TableForm:
    """One kind of table to fill in.

    Parameters
    ----------
    sheet : str
        Name of its sheet.
    headings : Dictionary
        In which its columns are headed.
    lines : tuple of FormLine
        One a column; the key is the column's field.
    rules : tuple of str
        How it is filled in.
    command : str
        Which reads it, up to the file.
    """

    sheet: str
    headings: Dictionary
    lines: tuple[FormLine, ...]
    rules: tuple[str, ...]
    command: str

    def columns(self) -> list[tuple[str, FormLine]]:
        """Return each heading with its line."""
        return [(self.headings.shown(line.key), line) for line in self.lines]

    def file(self, target: Path) -> bytes:
        """Return what a file of this name holds: a workbook, or where it is CSV the headings."""
        is_text = target.suffix.lower() == ".csv"
        return _headings(self) if is_text else _workbook(self, target.name)


def _lines(*lines: tuple[str, str, str]) -> tuple[FormLine, ...]:
    """Return lines that only tables have: key, words, example."""
    return tuple(FormLine(key, "", words, example=example) for key, words, example in lines)


def _composition(*examples: str) -> tuple[FormLine, ...]:
    parts = zip_longest(FORM_ELEMENTS, examples, fillvalue="")
    return _lines(*((PERCENT + one, f"percent by mass of {one}", share) for one, share in parts))


_TRIAL_FIELDS = ("empty", "condensed", "bath", "room", "pressure", "volume", "boiling_point")

SECTION_FORM = TableForm(
    "Trials",
    TRIAL_HEADINGS,
    (
        LINE_OF["label"],
        LINE_OF["student"],
        *_lines(("trial", "which of this student's weighings", "1")),
        *(LINE_OF[field] for field in _TRIAL_FIELDS),
        *_composition("37.48", "12.58", "", "49.93"),
        *_lines(
            ("answer", "the name that the student gives", "methanol"),
            ("day", "the day or the session", "Tuesday"),
            ("balance", "which balance, by a word or a number", "2"),
            ("thermometer", "which thermometer, likewise", "7"),
            ("note", "for you alone: it is not read", "lid torn"),
        ),
    ),
    (
        "One row for each weighing of a flask with its liquid. Leave empty what was not measured.",
        "Only the label must be there. What the card of a bottle says may stand in one row of "
        "each student alone.",
        "The unit stands behind the name of the column: empty_g is in grams. Change the heading "
        "for another unit, such as pressure_hPa or bath_F.",
        "Columns may be left out, or others added, such as percent_S or water_mass_g.",
        "day, balance and thermometer tell what many students share: an instrument that is off "
        "is then named as one cause.",
        "Keep this table on the first sheet.",
    ),
    "identify-unknown section",
)
STOCK_FORM = TableForm(
    "Bottles",
    STOCK_HEADINGS,
    (
        LINE_OF["label"],
        *_lines(
            ("identity", "its liquid: a name, a CAS number or a SMILES", "ethanol"),
            ("formula", "as it stands on the card", "C2H6O"),
            ("molar_mass", "likewise", "46.07"),
            ("boiling_point", "likewise, at 760 mmHg", "78.3"),
        ),
        *_composition("52.14", "13.13", "", "34.73"),
    ),
    (
        "One row for each bottle. Only label and identity must be there; what else is written is "
        "checked against the identity.",
        "A percentage of another element has a column of its own, such as percent_S or percent_F.",
        "Further columns, such as a price or a shelf, are passed over.",
        "The table names what is in the bottles: it is not for students.",
        "Keep it on the first sheet.",
    ),
    "identify-unknown check-stock",
)


def _headings(form: TableForm) -> bytes:
    """Return a CSV file that holds the headings."""
    text = io.StringIO(newline="")
    csv.writer(text).writerow(heading for heading, _ in form.columns())
    return text.getvalue().encode()


def _workbook(form: TableForm, name: str) -> bytes:
    """Return a workbook: the empty table, which is read, and a sheet of instructions."""
    from openpyxl import Workbook

    book = Workbook()
    book.properties.creator = "identify-unknown"
    book.properties.title = form.sheet
    add_styles(book)
    _lay_out_table(form, book)
    _lay_out_instructions(form, book.create_sheet(_INSTRUCTIONS), name)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def _lay_out_table(form: TableForm, book: Workbook) -> None:
    from openpyxl.utils import get_column_letter

    sheet: Any = book.active
    sheet.title = form.sheet
    sheet.freeze_panes = "C2"
    set_up_print(sheet, repeated="1:1")
    sheet.print_options.gridLines = True
    letters = {line.key: get_column_letter(place) for place, line in enumerate(form.lines, 1)}
    for heading, line in form.columns():
        letter = letters[line.key]
        cell = sheet[f"{letter}1"]
        cell.value, cell.style = heading, "identify heading"
        dimension = sheet.column_dimensions[letter]
        dimension.width = max(_NARROWEST, len(heading) + 2.0)
        if not line.unit:
            dimension.number_format = "@"  # else a bottle 3-14 becomes a date
        rule = _rule(line, letters)
        rule.promptTitle, rule.showInputMessage = heading, True
        rule.prompt = f"{line.words} [{line.unit_text}]" if line.unit else line.words
        rule.add(f"{letter}2:{letter}{_LAID_OUT + 1}")
        sheet.add_data_validation(rule)
    sheet.print_area = f"A1:{letter}{_PRINTED}"


def _rule(line: FormLine, letters: Mapping[str, str]) -> DataValidation:
    """Return what a spreadsheet asks about: it warns, and lets pass what is meant."""
    from openpyxl.worksheet.datavalidation import DataValidation

    if not line.unit:
        return DataValidation()
    lowest, highest = _limits(line)
    said = f"{line.words}: usually {lowest:g} to {highest:g} {line.unit_text}"
    rule: dict[str, Any] = {"type": "decimal", "operator": "between"}
    rule |= {"formula1": f"{lowest:g}", "formula2": f"{highest:g}"}
    if line.key == "condensed":
        empty, own = (f"{letters[one]}2" for one in ("empty", line.key))
        rule = {"type": "custom", "formula1": f"AND({own}>{empty},{own}<={highest:g})"}
        said += ", and more than the empty flask"
    rule |= {"errorStyle": "warning", "error": f"{said}.", "errorTitle": "Read it again"}
    return DataValidation(allow_blank=True, showErrorMessage=True, **rule)


def _limits(line: FormLine) -> tuple[float, float]:
    """Return what is plausible, in the unit of the column."""
    if line.key.startswith(PERCENT):
        return 0.0, 100.0
    unit = known_unit(line.unit)
    lowest, highest = (si / unit.scale - unit.zero for si in PLAUSIBLE[line.key].limits)
    return float(f"{lowest:.3g}"), float(f"{highest:.3g}")


def _lay_out_instructions(form: TableForm, sheet: Worksheet, name: str) -> None:
    for letter, width in zip("ABCD", (24.0, 62.0, 9.0, 14.0), strict=True):
        sheet.column_dimensions[letter].width = width
    set_up_print(sheet)
    sheet.page_setup.orientation, sheet.page_setup.fitToHeight = "portrait", 1
    for cells, style in _instructions(form, name):
        sheet.append(cells)
        for cell in sheet[sheet.max_row]:
            cell.style = f"identify {style}"
        if len(cells) == 1:
            sheet.merge_cells(None, sheet.max_row, 1, sheet.max_row, 4)
            sheet.row_dimensions[sheet.max_row].height = 15.5 * (1 + len(cells[0]) // 105)


def _instructions(form: TableForm, name: str) -> Iterator[tuple[list[str], str]]:
    yield [f"How to fill in the sheet {form.sheet}"], "title"
    for rule in form.rules:
        yield [rule], "sentence"
    yield [f"Then: {form.command} {name}"], "sentence"
    yield [""], "sentence"
    # A column of examples, not a row: nothing here can be taken for data.
    yield ["column", "what to write", "unit", "example"], "heading"
    for heading, line in form.columns():
        yield [heading, line.words, line.unit_text, line.example], "sentence"
    yield [""], "sentence"
    yield ["Cautions"], "heading"
    for caution in BENCH_CAUTIONS:
        yield [caution], "sentence"
