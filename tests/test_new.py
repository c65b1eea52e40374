"""``identify-unknown new``: forms to fill in, and pages that are asked for."""

from __future__ import annotations

import io
import os
import re
import shutil
import subprocess
import tomllib
from pathlib import Path

import openpyxl
import pypdf
import pytest

from identify.answers.cards import Paper
from identify.answers.forms.bench_sheet import bench_sheet
from identify.answers.forms.lines import BENCH_CAUTIONS, LINES, TRIALS
from identify.answers.forms.record import FilledPage, Place, blank_record
from identify.answers.forms.tables import SECTION_FORM, STOCK_FORM, TableForm
from identify.tables import read_runs
from identify.tables.records.keys import SECTIONS
from identify.tables.stock_rows import read_stock_sheet
from tests.command import Run

RARE = re.compile(r"^# ([a-z_0-9]+ = |\[)", re.MULTILINE)
NOT_READ = {"formula", "molar_mass", "molar_mass_by", "gain"}  # at a bench
EXAMPLES = {line.key: line.example for line in LINES if line.example}


@pytest.fixture
def run(invoke: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """Run the command in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return invoke


def filled(form: str) -> str:
    """Return a form with an example in every blank."""
    text = form
    for key, example in EXAMPLES.items():
        text = re.sub(rf'^{key} = ""', f'{key} = "{example}"', text, flags=re.MULTILINE)
    return text


# ------------------------------------------------------------------------------------ the record


def test_a_record_to_fill_in(run: Run) -> None:
    outcome = run("new", "page", "C-14.toml", "--trials", 3)
    assert (outcome.status, outcome.said) == (0, [])
    assert "identify-unknown match C-14.toml" in " ".join(outcome.output.split())
    text = Path("C-14.toml").read_text(encoding="utf-8")
    record = tomllib.loads(text)
    assert record["label"] == "C-14"
    assert len(record["trial"]) == 3
    assert all(caution.split(":")[0] in text for caution in BENCH_CAUTIONS)
    assert max(map(len, text.splitlines())) <= 100


def test_a_blank_record_is_told_as_such(run: Run) -> None:
    run("new", "page", "C-14.toml", "--trials", 2)
    outcome = run("match", "C-14.toml")
    assert outcome.status == 2
    (line,) = outcome.said
    assert line.startswith('C-14.toml: nothing is written of "C-14" that could tell what it is')


def test_a_filled_record_reads_back(run: Run) -> None:
    run("new", "page", "C-14.toml", "--trials", 2)
    path = Path("C-14.toml")
    path.write_text(filled(path.read_text(encoding="utf-8")), encoding="utf-8")
    runs = read_runs(path)
    assert not runs.faults
    (measured,) = runs
    assert (measured.label, measured.student, len(measured.trials)) == ("C-14", "Robin", 2)
    assert str(measured.boiling_point) == "64.6 °C"
    assert {one: share.value for one, share in measured.percent.items()} == {
        "C": 37.48,
        "H": 12.58,
        "O": 49.93,
    }
    assert str(measured.flask.water_volume) == "287.4 mL"


def test_all_keys_of_the_form_are_keys_of_a_record(tmp_path: Path) -> None:
    every = RARE.sub(r"\1", blank_record("C-14"))
    path = tmp_path / "form.toml"
    path.write_text(re.sub(r'= ""', '= "zzz"', every), encoding="utf-8")
    assert not [fault for fault in map(str, read_runs(path).faults) if "a known key" in fault]
    assert set(tomllib.loads(every)) == {"label", "student", *SECTIONS}


@pytest.mark.parametrize("label", ['C"14', "C\\14", "Flasche Nº 7", "水", "a # b", "x\x7fy"])
def test_any_label_stays_what_it_is(label: str) -> None:
    assert tomllib.loads(blank_record(label))["label"] == label
    page = FilledPage().with_text(Place("label"), label)
    assert tomllib.loads(page.text())["label"] == label


# ------------------------------------------------------------------------------ files and faults

COMMANDS = [("page", "out.toml"), ("section", "out.xlsx"), ("section", "out.csv")]
COMMANDS += [("stock", "out.xlsx"), ("page", "--print", "out.pdf")]


@pytest.mark.parametrize("command", COMMANDS)
def test_nothing_is_written_over(run: Run, command: tuple[str, ...]) -> None:
    path = Path(command[-1])
    path.write_text("mine", encoding="utf-8")
    outcome = run("new", *command)
    assert outcome.status == 2
    name = {"page": "OUT.toml", "--print": "--print"}.get(command[-2], "OUT")
    assert outcome.said == [
        f"{name}: {path} is there already, and nothing is written over; give another name"
    ]
    assert path.read_text(encoding="utf-8") == "mine"
    assert os.listdir() == [path.name]


def test_nothing_is_written_through_a_dangling_link(run: Run) -> None:
    os.symlink("elsewhere.toml", "out.toml")
    assert run("new", "page", "out.toml").status == 2
    assert not Path("elsewhere.toml").exists()


@pytest.mark.parametrize(
    ("arguments", "fault"),
    [
        (("page",), "OUT.toml: give the name of the record to write, or --print SHEET.pdf"),
        (("page", "--ask"), "OUT.toml: give the name"),
        (("page", "a.toml", "--ask", "--print", "a.pdf"), "--print: a sheet is for the bench"),
        (("page", "a.txt"), 'OUT.toml: "a.txt" ends in no .toml'),
        (("page", "a.toml", "--print", "a.png"), '--print: "a.png" ends in no .pdf'),
        (("section", "a.ods"), 'OUT: "a.ods" ends in none of .xlsx, .csv'),
        (("stock", "no/a.xlsx"), "OUT: no: there is no such folder"),
        (("page", "a.toml", "--trials", "0"), "--trials"),
        (("page", "a.toml", "--trials", "7"), "--trials"),
    ],
)
def test_what_cannot_be_written(run: Run, arguments: tuple[str, ...], fault: str) -> None:
    outcome = run("new", *arguments)
    assert outcome.status == 2
    assert fault in outcome.said[0]
    assert len(outcome.said) == 1
    assert os.listdir() == []


@pytest.mark.parametrize("form", ["json", "csv"])
def test_the_files_are_listed(run: Run, form: str) -> None:
    outcome = run("new", "page", "a.toml", "--print", "a.pdf", "--format", form)
    assert outcome.status == 0
    if form == "json":
        assert [one["file"] for one in outcome.data] == ["a.pdf", "a.toml"]
    assert sorted(os.listdir()) == ["a.pdf", "a.toml"]


def test_new_alone_shows_its_help(run: Run) -> None:
    outcome = run("new")
    assert outcome.status == 0
    assert "identify-unknown new page C-14.toml --ask" in outcome.output


# --------------------------------------------------------------------------- the sheet of paper


@pytest.mark.parametrize("trials", [1, 3, 6])
@pytest.mark.parametrize("paper", list(Paper))
def test_a_sheet_is_one_page(paper: Paper, trials: int) -> None:
    reader = pypdf.PdfReader(io.BytesIO(bench_sheet("C-14", trials, paper)))
    (page,) = reader.pages
    text = " ".join(page.extract_text().split())
    assert "C-14" in text
    assert f"trial {trials}" in text
    for caution in BENCH_CAUTIONS:
        assert caution in text
    for line in LINES:
        is_read = not line.is_rare and line.key not in (
            "formula",
            "molar_mass",
            "molar_mass_by",
            "gain",
            TRIALS,
        )
        if line.section and is_read:
            assert f" {line.key} " in text
    width = {Paper.a4: 595, Paper.letter: 612}[paper]
    assert round(page.mediabox.width) == width


def test_a_sheet_for_any_label() -> None:
    sheet = bench_sheet("水 <b>&", 2)
    text = pypdf.PdfReader(io.BytesIO(sheet)).pages[0].extract_text()
    assert "[U+6C34] <b>&" in text
    assert sheet == bench_sheet("水 <b>&", 2)


# ------------------------------------------------------------------------------------ workbooks

SECTION_ROWS = [
    {"label": "3-14", "student": "Robin", "empty_g": 98.1132, "condensed_g": 98.3721},
    {"label": "C-14", "student": "Kim", "empty_g": 97.2, "condensed_g": 97.46, "balance": 2},
]
BENCH = {"bath_C": 98.9, "room_C": 22.5, "pressure_mmHg": 742.0, "volume_mL": 287.4}
CARD = {"boiling_point_C": 64.6, "percent_C": 37.48, "percent_H": 12.58, "percent_O": 49.93}
STOCK_ROWS = [
    {"label": "C-14", "identity": "methanol", "formula": "CH4O", "boiling_point_C": 64.7},
    {"label": "3-14", "identity": "ethanol", "molar_mass": 46.07, "percent_C": 52.14},
]
FORMS = [
    pytest.param(SECTION_FORM, [{**row, **BENCH, **CARD} for row in SECTION_ROWS], id="section"),
    pytest.param(STOCK_FORM, STOCK_ROWS, id="stock"),
]


def fill(path: Path, rows: list[dict[str, object]]) -> None:
    """Type rows into a workbook as a person does."""
    book = openpyxl.load_workbook(path)
    sheet = book.worksheets[0]
    places = {cell.value: cell.column for cell in sheet[1]}
    for number, row in enumerate(rows, 2):
        for heading, value in row.items():
            sheet.cell(number, places[heading], value)
    book.save(path)


def read_back(form: TableForm, path: Path) -> list[str]:
    """Return the labels that a table was read to hold; nothing in it may be at fault."""
    if form is STOCK_FORM:
        sheet = read_stock_sheet(path)
        assert not sheet.faults
        return [bottle.text("label") for bottle in sheet.bottles]
    runs = read_runs(path)
    assert not runs.faults
    return [run.label for run in runs]


@pytest.mark.parametrize(("form", "rows"), FORMS)
def test_a_workbook_reads_back(form: TableForm, rows: list[dict[str, object]], tmp_path) -> None:
    path = tmp_path / "form.xlsx"
    path.write_bytes(form.file(path))
    fill(path, rows)
    assert read_back(form, path) == [row["label"] for row in rows]


@pytest.mark.parametrize("ending", [".xlsx", ".csv"])
def test_an_empty_table_has_no_rows(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"class{ending}"
    path.write_bytes(SECTION_FORM.file(path))
    (fault,) = read_runs(path).faults
    assert str(fault) == f"{path}, row 1: has column names but no rows below them"
    path = tmp_path / f"bottles{ending}"
    path.write_bytes(STOCK_FORM.file(path))
    assert read_back(STOCK_FORM, path) == []


@pytest.mark.parametrize(("form", "rows"), FORMS)
def test_a_workbook_explains_itself(form: TableForm, rows: object, tmp_path: Path) -> None:
    path = tmp_path / "form.xlsx"
    path.write_bytes(form.file(path))
    first, instructions = openpyxl.load_workbook(path).worksheets
    assert (first.title, instructions.title) == (form.sheet, "Instructions")
    assert first.max_row == 1
    told = [[cell.value or "" for cell in row] for row in instructions.iter_rows(max_col=4)]
    headings = [cell.value for cell in first[1]]
    assert [row[0] for row in told if row[0] in headings] == headings
    assert set(BENCH_CAUTIONS) <= {row[0] for row in told}
    prompts = {rule.promptTitle for rule in first.data_validations.dataValidation}
    assert prompts == set(headings)


def test_a_workbook_asks_where_a_number_is_unusual(tmp_path: Path) -> None:
    path = tmp_path / "class.xlsx"
    path.write_bytes(SECTION_FORM.file(path))
    sheet = openpyxl.load_workbook(path).worksheets[0]
    rules = {rule.promptTitle: rule for rule in sheet.data_validations.dataValidation}
    pressure = rules["pressure_mmHg"]
    assert (float(pressure.formula1), float(pressure.formula2)) == pytest.approx((413.0, 818.0))
    assert pressure.errorStyle == "warning"
    assert rules["condensed_g"].formula1.startswith("AND(E2>D2,")
    assert rules["label"].type is None


SOFFICE = shutil.which("soffice")


@pytest.mark.skipif(
    SOFFICE is None and not os.environ.get("CI"), reason="there is no LibreOffice here"
)
@pytest.mark.parametrize(("form", "rows"), FORMS)
def test_a_workbook_opens_in_libreoffice(
    form: TableForm, rows: list[dict[str, object]], tmp_path: Path
) -> None:
    path = tmp_path / "form.xlsx"
    path.write_bytes(form.file(path))
    fill(path, rows)
    own = f"-env:UserInstallation={(tmp_path / 'office').as_uri()}"  # whatever else is open
    for kind in ("xlsx", "csv"):
        command = [str(SOFFICE), own, "--headless", "--convert-to", kind, "--outdir"]
        command += [str(tmp_path / "out"), str(path)]
        subprocess.run(command, check=True, capture_output=True, timeout=120)
        assert read_back(form, tmp_path / "out" / f"form.{kind}") == [row["label"] for row in rows]
    book = openpyxl.load_workbook(tmp_path / "out" / "form.xlsx")
    assert book.sheetnames == [form.sheet, "Instructions"]
    rules = book.worksheets[0].data_validations.dataValidation
    assert {rule.prompt for rule in rules} >= {"what stands on the bottle"}


def test_the_commands_take_filled_workbooks(run: Run) -> None:
    run("new", "section", "class.xlsx")
    fill(Path("class.xlsx"), [{**row, **BENCH, **CARD} for row in SECTION_ROWS])
    checked = run("section", "class.xlsx", "--format", "json")
    assert checked.status == 0
    assert [one["student"] for one in checked.data["students"]] == ["Robin", "Kim"]
    run("new", "stock", "bottles.xlsx")
    fill(Path("bottles.xlsx"), STOCK_ROWS)
    checked = run("check-stock", "bottles.xlsx", "--format", "json")
    assert [one["identity"]["name"] for one in checked.data["rows"]] == ["methanol", "ethanol"]
