"""A section's result as a workbook and as rows: complete, formatted, and inert."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from identify.answers.files.data import csv_text
from identify.answers.files.rows import SECTION_TABLES, STUDENT_TABLE, CellKind
from identify.answers.files.workbook import LONGEST_CELL, inert, write_workbook
from identify.compounds.table import CandidateTable
from identify.matching.ranking import match
from identify.matching.slips import Slip
from identify.notebook.findings import Finding
from identify.notebook.measurement import Measurement
from identify.section.result import (
    KeyRow,
    PooledCandidate,
    RowSetAside,
    SectionResult,
    StudentResult,
    UnknownResult,
)

HOSTILE = (
    "=1+1",
    "+cmd",
    "-2",
    "@x",
    "\tleading tab",
    "\rleading return",
    " =1+1",
    "＝1+1",
    '=HYPERLINK("http://example.org","D-02")',
    "<script>alert(1)</script>",
    "#DIV/0!",
    "2",
    "TRUE",
)
RUNS = (
    Measurement("D-02", molar_mass=46.1, boiling_point=78.4, student="bench 1"),
    Measurement("D-02", molar_mass=60.2, boiling_point=78.4, student="bench 2"),
    Measurement("D-05", molar_mass=58.4, boiling_point=56.1, student="bench 1"),
)
ETHANOL = KeyRow("D-02", "ethanol", "64-17-5", "LFQSCWFLJHTTHZ-UHFFFAOYSA-N", 46.07, 0)
SHARED = Finding("thread", "warning", "Two of three thermometers agree.", "Read them again.")
STUDENT_COLUMNS, UNKNOWN_COLUMNS, FINDING_COLUMNS, SET_ASIDE_COLUMNS = (
    table.columns for table in SECTION_TABLES
)
SLIP = Slip("digits-exchanged", "64.1 was meant.", 0.87, {"molar mass": "64.1"})


@pytest.fixture(scope="module")
def section(table: CandidateTable) -> SectionResult:
    """Three results on two unknowns, one of them wrong, and two rows set aside."""
    rankings = [match(run, table) for run in RUNS]
    rankings[1] = replace(rankings[1], slips=(SLIP,))
    students = tuple(
        StudentResult(
            run.student,
            run.label,
            (2 * place, 2 * place + 1),
            run,
            ranking,
            ETHANOL if run.label == "D-02" else None,
            1 if place == 1 else None,
            -2.345 if place == 1 else None,
            (*ranking.findings, SHARED),
        )
        for place, (run, ranking) in enumerate(zip(RUNS, rankings, strict=True), start=1)
    )
    first = rankings[0].candidates[0]
    pooled = PooledCandidate(
        first.name, first.cas, first.smiles, first.formula, 46.07, 78.3, first.probability
    )
    unknowns = (
        UnknownResult("D-02", 2, 1, 46.2, 0.3, 1.25, (pooled,), 0.01, ETHANOL, (SHARED,)),
        UnknownResult("D-05", 1, 1, None, float("nan"), None, (), 1.0),
    )
    set_aside = (
        RowSetAside(8, 'bath_C: "hot" is not a number', "D-05", "bench 3"),
        RowSetAside(9, "empty"),
    )
    return SectionResult("section.csv", 8, students, unknowns, set_aside, (SHARED,))


@pytest.fixture(scope="module")
def book(section: SectionResult, tmp_path_factory: pytest.TempPathFactory) -> Workbook:
    return saved(section, tmp_path_factory.mktemp("book"))


def saved(section: SectionResult, folder: Path) -> Workbook:
    target = folder / "result.xlsx"
    write_workbook(section, target)
    return load_workbook(target)


def contents(sheet: Worksheet) -> list[dict[str, Any]]:
    heading, *rows = sheet.iter_rows(values_only=True)
    return [dict(zip(map(str, heading), row, strict=True)) for row in rows]


def labeled(section: SectionResult, text: str) -> SectionResult:
    """Put a text wherever a file's own words could stand."""
    first, *others = section.students
    finding = Finding("code", "error", text, text)
    return replace(
        section,
        file=text,
        students=(replace(first, label=text, student=text, findings=(finding,)), *others),
        unknowns=(replace(section.unknowns[0], label=text), *section.unknowns[1:]),
        set_aside=(RowSetAside(8, text, text, text),),
        findings=(finding,),
    )


def test_sheets(book: Workbook) -> None:
    assert book.sheetnames == ["Overview", "Students", "Unknowns", "Findings", "Set aside"]


@pytest.mark.parametrize(
    ("name", "columns", "rows", "frozen"),
    [
        ("Students", STUDENT_COLUMNS, 3, "C2"),
        ("Unknowns", UNKNOWN_COLUMNS, 2, "B2"),
        ("Findings", FINDING_COLUMNS, None, "A2"),
        ("Set aside", SET_ASIDE_COLUMNS, 2, "A2"),
    ],
)
def test_sheet_is_set_up(
    book: Workbook, name: str, columns: Any, rows: int | None, frozen: str
) -> None:
    sheet = book[name]
    heading = list(sheet[1])
    assert [cell.value for cell in heading] == [column.title for column in columns]
    assert all(cell.font.b and cell.fill.fgColor.rgb != "00000000" for cell in heading)
    assert rows is None or sheet.max_row == rows + 1
    assert sheet.freeze_panes == frozen
    assert sheet.auto_filter.ref == f"A1:{heading[-1].column_letter}{sheet.max_row}"
    assert (sheet.page_setup.orientation, sheet.page_setup.fitToWidth) == ("landscape", 1)
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert sheet.page_setup.fitToHeight == 0
    assert sheet.print_title_rows == "$1:$1"
    widths = [sheet.column_dimensions[cell.column_letter].width for cell in heading]
    for column, width in zip(columns, widths, strict=True):
        assert max(map(len, column.title.split())) < width <= 71.0


@pytest.mark.parametrize(
    ("heading", "number_format"),
    [
        ("first probability", "0.0%"),
        ("molar mass, g/mol", "0.00"),
        ("percent error", "0.00"),
        ("rank of the key", "0"),
    ],
)
def test_number_formats(book: Workbook, heading: str, number_format: str) -> None:
    (column,) = (cell.column for cell in book["Students"][1] if cell.value == heading)
    cell = book["Students"].cell(2, column)
    assert cell.number_format == number_format
    assert cell.data_type == "n"
    assert isinstance(cell.value, int | float)


def test_sentences_are_wrapped(book: Workbook) -> None:
    wrapped = [column.kind is CellKind.sentence for column in FINDING_COLUMNS]
    for row in book["Findings"].iter_rows(min_row=2):
        assert [bool(cell.alignment.wrap_text) for cell in row] == wrapped


def test_every_row_of_the_file_is_accounted_for(book: Workbook) -> None:
    used = [int(row) for one in contents(book["Students"]) for row in one["rows"].split()]
    aside = [one["row"] for one in contents(book["Set aside"])]
    assert sorted([*used, *aside]) == [2, 3, 4, 5, 6, 7, 8, 9]


def test_every_finding_and_slip_is_there(section: SectionResult, book: Workbook) -> None:
    rows = contents(book["Findings"])
    told = [(row["about"], row["label"], row["student"], row["code"]) for row in rows]
    wanted = [("section", None, None, "thread"), ("unknown", "D-02", None, "thread")]
    for one in section.students:
        codes = [about.code for about in (*one.ranking.slips, *one.findings)]
        wanted += [("student", one.label, one.student, code) for code in codes]
    assert told == wanted
    (slip,) = (row for row in rows if row["severity"] == "slip")
    assert slip["what was found"] == "64.1 was meant. Probability 87 %."
    assert rows[0]["what to do"] == SHARED.advice


def test_severity_is_a_word_and_its_fill_only_supports_it(book: Workbook) -> None:
    fills = {
        cell.value: cell.fill.fgColor.rgb
        for cell in book["Findings"]["D"][1:]
        if cell.fill.fill_type == "solid"
    }
    assert {"warning", "slip"} <= set(fills)
    assert len(set(fills.values())) == len(fills)


def test_overview_counts_and_explains(book: Workbook) -> None:
    lines = list(book["Overview"].iter_rows(values_only=True))
    said = dict(reversed(lines))  # the counts come before the columns
    counts = ("rows of the file", "students' results", "unknowns", "rows set aside", "slips")
    assert [said[count] for count in counts] == [8, 3, 2, 2, 1]
    assert (said["results with a key"], said["of these named right"]) == (2, 1)
    every = (*STUDENT_COLUMNS, *UNKNOWN_COLUMNS, *FINDING_COLUMNS, *SET_ASIDE_COLUMNS)
    assert {(column.title, column.meaning) for column in every} <= set(lines)
    assert "safety data sheet" in said["Caution"]


@pytest.mark.parametrize("text", HOSTILE)
def test_texts_stay_texts(section: SectionResult, tmp_path: Path, text: str) -> None:
    book = saved(labeled(section, text), tmp_path)
    expected = text.replace("\r", "\n")
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    found = [cell for cell in cells if cell.value == expected]
    # Of students 2, unknowns 1, findings 2 + 1 + 4 by level, rows set aside 3.
    assert len(found) == 13
    assert {cell.data_type for cell in found} == {"s"}
    assert {cell.data_type for cell in cells} <= {"s", "n"}
    assert {cell.quotePrefix for cell in found} == {
        csv_text([{"a": text}]).lstrip('a\n"')[0] == "'"
    }


@pytest.mark.parametrize("text", HOSTILE)
def test_no_formula_in_the_stored_file(section: SectionResult, tmp_path: Path, text: str) -> None:
    saved(labeled(section, text), tmp_path)
    with zipfile.ZipFile(tmp_path / "result.xlsx") as archive:
        for name in archive.namelist():
            stored = archive.read(name)
            assert b"<f>" not in stored
            assert b"<f " not in stored
            assert b"<script" not in stored


@pytest.mark.parametrize(
    ("text", "stored"),
    [
        ("C-14\x07\x1b[31m", "C-14\ufffd\ufffd[31m"),
        ("C-14\x00", "C-14\ufffd"),
        ("C\ud800-\ufffe14", "C\ufffd-\ufffd14"),
        ("two\nlines", "two\nlines"),
        ("two\r\nlines", "two\nlines"),
        ("½ µL, 25 °C 🧪", "½ µL, 25 °C 🧪"),
    ],
)
def test_characters_that_a_workbook_cannot_hold(
    section: SectionResult, tmp_path: Path, text: str, stored: str
) -> None:
    book = saved(labeled(section, text), tmp_path)
    assert contents(book["Unknowns"])[0]["label"] == stored


@pytest.mark.parametrize("letter", ["x", "🧪"])
@pytest.mark.parametrize("over", [-1, 0, 1, 100])
def test_longest_cell(letter: str, over: int) -> None:
    units = len(letter.encode("utf-16-le")) // 2
    count = (LONGEST_CELL + over) // units
    kept = inert(letter * count)
    assert len(kept.encode("utf-16-le")) // 2 <= LONGEST_CELL
    assert kept.endswith("…") == (count * units > LONGEST_CELL)


def test_long_text_is_cut_in_the_file(section: SectionResult, tmp_path: Path) -> None:
    book = saved(labeled(section, "=" * 50_000), tmp_path)
    label = contents(book["Unknowns"])[0]["label"]
    assert len(label) == LONGEST_CELL
    assert label[-2:] == "=…"


def test_empty_section(tmp_path: Path) -> None:
    book = saved(SectionResult("empty.csv", 0, (), ()), tmp_path)
    assert [sheet.max_row for sheet in book if sheet.title != "Overview"] == [1, 1, 1, 1]


def _fail_at_the_end(book: Workbook, target: Path) -> None:
    Path(target).write_bytes(b"half of it")
    raise OSError(28, "No space left on device")


def _interrupt(book: Workbook, target: Path) -> None:
    raise KeyboardInterrupt("stopped")


@pytest.mark.parametrize(
    ("save", "says"), [(_fail_at_the_end, "No space left"), (_interrupt, "stopped")]
)
def test_interrupted_writing_leaves_the_old_file(
    section: SectionResult,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    save: Callable[[Workbook, Path], None],
    says: str,
) -> None:
    target = tmp_path / "result.xlsx"
    target.write_bytes(b"last week's")
    monkeypatch.setattr(Workbook, "save", save)
    with pytest.raises((OSError, KeyboardInterrupt), match=says):
        write_workbook(section, target)
    assert target.read_bytes() == b"last week's"
    assert list(tmp_path.iterdir()) == [target]


def test_rows_hold_what_the_results_hold(section: SectionResult) -> None:
    first, wrong, unkeyed = STUDENT_TABLE.rows(section)
    assert list(first) == [column.key for column in STUDENT_COLUMNS]
    assert (first["label"], first["student"], first["rows"]) == ("D-02", "bench 1", "2 3")
    assert (first["first"], first["first_cas"]) == ("ethanol", "64-17-5")
    assert first["molar_mass"] == pytest.approx(46.1)
    assert (first["percent_error"], first["key_rank"], first["named_right"]) == (-2.345, 1, True)
    assert (wrong["slips"], wrong["named_right"], wrong["needs_a_look"]) == (SLIP.code, False, True)
    assert "thread" in str(wrong["findings"]).split()
    assert (unkeyed["key"], unkeyed["key_rank"], unkeyed["named_right"]) == (None, None, None)


def test_column_keys_are_told_apart_in_every_table() -> None:
    for columns in (STUDENT_COLUMNS, UNKNOWN_COLUMNS, FINDING_COLUMNS, SET_ASIDE_COLUMNS):
        assert len({column.key for column in columns}) == len(columns)
        assert len({column.title for column in columns}) == len(columns)


@pytest.mark.parametrize(
    ("value", "cell"),
    [
        ("=1+1", "'=1+1"),
        ("+cmd", "'+cmd"),
        ("-7", "'-7"),
        ("@x", "'@x"),
        ("\tx", "'\tx"),
        ("\rx", "'\nx"),
        ("x\r=1", "x\n=1"),
        ("x\r\ny", "x\ny"),
        ("\n=x", "'\n=x"),
        ("  =x", "'  =x"),
        ("＠x", "'＠x"),
        ("D-07", "D-07"),
        ("x=1", "x=1"),
        ("<script>", "<script>"),
        ("", ""),
        (-7, "-7"),
        (-0.5, "-0.5"),
        (None, ""),
        (float("-inf"), ""),
    ],
)
def test_csv_texts_are_inert_and_numbers_stay(value: object, cell: str) -> None:
    page = csv_text([{"label": "first", "value": value}])
    (read,) = csv.DictReader(io.StringIO(page, newline=""))
    assert read["value"] == cell


def test_csv_has_its_columns_where_there_is_no_row() -> None:
    assert csv_text([], ["label", "student"]) == "label,student\n"
