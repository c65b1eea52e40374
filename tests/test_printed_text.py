"""What stands in labels, names and headings reaches no output as more than a text to look at."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from identify import Measurement, check_section, match
from identify.answers.files.data import csv_text, json_text
from identify.answers.html.page import shown
from identify.answers.text import Page
from identify.cli.terminal.streams import complain
from identify.notebook.printable import on_one_line, printable
from identify.tables import Runs
from tests.command import Run

# Right-to-left override and isolate, a separator of paragraphs, C1 and a tag: all that a table in
# UTF-8 may hold; then what only a record or a program can hand in.
IN_A_TABLE = "X\u202eR\u2066L\u200e\u061cW\ufeff\U000e0041\ue000"
ANYWHERE = IN_A_TABLE + "\x1b[31m\x9b2J\x07\x7f\u2028\u2029"


def not_shown(text: str, kept: str = "\n") -> set[str]:
    """Return the characters that no output may hold, told apart without the program's own rule."""
    never = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
    joiners = "\u200c\u200d"
    return {one for one in text if unicodedata.category(one) in never and one not in kept + joiners}


@given(st.text())
@example(ANYWHERE)
@example(
    "\N{WOMAN}\N{ZERO WIDTH JOINER}\N{MICROSCOPE} نیم\N{ZERO WIDTH NON-JOINER}فاصله Zoë\u00a0M."
)
def test_every_output_of_a_text(text: str) -> None:
    for page in (Page(), Page(unicode=False)):
        assert not not_shown(page.text(text), "")
        assert len(page.text(text)) >= len(text) or not page.unicode
    assert not not_shown(shown(text), "")
    assert not not_shown(on_one_line(text), "")
    assert not not_shown(csv_text([{text or "x": text}]), "\n\t")
    written = json_text({"text": text})
    assert not not_shown(written)
    assert json.loads(written)["text"] == text  # nothing is lost there


@given(st.text(st.characters(categories=["L", "M", "N", "P", "S", "Zs"])))
def test_what_people_write_stays(text: str) -> None:
    assert printable(text) == text


def test_complaint(capsys: pytest.CaptureFixture[str]) -> None:
    complain(f"{ANYWHERE}: cannot be read")
    said = capsys.readouterr().err
    assert not not_shown(said)
    assert said.count("\n") == 1


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    odd = IN_A_TABLE
    (tmp_path / "section.csv").write_text(
        f"label,student,boiling_point_C,molar_mass,answer,note{odd},balance\n"
        f"B{odd}1,S{odd}1,64.6,32.0,meth{odd}anol,x,b{odd}\n"
        f"B{odd}1,S{odd}2,64.6,45{odd},ethanol,x,\n"
        "=1+1,@S3,78.3,46,ethanol,x,\n",
        encoding="utf-8",
    )
    (tmp_path / "stock.csv").write_text(
        f"label,identity,boiling_point_C,h{odd}\nB{odd}1,methanol,64.6,1\n"
        f"=1+1,C{odd}C,78.3,2\n+2,CCO,78.3,2\n",
        encoding="utf-8",
    )
    escaped = "".join(f"\\u{ord(one):04X}" if ord(one) < 0x10000 else "" for one in ANYWHERE)
    (tmp_path / "record.toml").write_text(
        f'label = "{escaped}"\n[card]\nmolar_mass = 32.0\n"x{escaped}" = "{escaped}"\n',
        encoding="utf-8",
    )
    return tmp_path


def would_run(text: str) -> Iterator[str]:
    """Yield the cells of a table that a spreadsheet would run."""
    for cell in re.findall(r'(?:^|[,\n])"?([^",\n]*)', text):
        if re.match(r"\s*(?:[=@＝＠]|[+-](?!\d))", cell):
            yield cell


@pytest.mark.parametrize("form", ["table", "json", "csv"])
@pytest.mark.parametrize(
    "command",
    [
        ["match", "record.toml"],
        ["match", "section.csv"],
        ["section", "section.csv", "--key", "stock.csv", "--all"],
        ["check-stock", "stock.csv"],
        ["molar-mass", "record.toml"],
        ["candidates", "show", f"eth{ANYWHERE}anol", "ethanol", "--candidates", "stock.csv"],
        ["guide", ANYWHERE],
        ["boiling-point", "--observed", f"77{ANYWHERE}", "--at", "742 mmHg"],
    ],
    ids=lambda command: " ".join(command[:2]) if command[1].isascii() else command[0],
)
def test_commands(
    invoke: Run, folder: Path, monkeypatch: pytest.MonkeyPatch, command: list[str], form: str
) -> None:
    monkeypatch.chdir(folder)
    outcome = invoke(*command, "--format", form)
    assert outcome.status in (0, 1, 2)
    assert not not_shown(outcome.output)
    assert not not_shown(outcome.complaints)
    if form == "csv":
        assert list(would_run(outcome.output)) == []


def test_files(invoke: Run, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    given = ("section", "section.csv", "--key", "stock.csv", "--out")
    invoke(*given, "out.csv", "--report", "report.html", "--feedback", "pages")
    invoke(*given, "out.json")
    invoke(*given, "out.xlsx")
    invoke("match", "section.csv", "--report", "match.html", "--plot", "{label}{student}.svg")
    invoke("check-stock", "stock.csv", "--report", "stock.html")
    names = ("out.csv", "out.json", "report.html", "match.html", "stock.html")
    pages = [*folder.glob("pages/*.html"), *folder.glob("*.svg")]
    assert len(pages) == 6
    for file in [*(folder / name for name in names), *pages]:
        assert not not_shown(file.read_text("utf-8"), "\n\t"), file
        assert not not_shown(file.name)
    assert list(would_run((folder / "out.csv").read_text("utf-8"))) == []
    cells = [
        cell
        for sheet in openpyxl.load_workbook(folder / "out.xlsx")
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, str)
    ]
    assert not [cell.value for cell in cells if not_shown(cell.value) or cell.data_type == "f"]


def test_what_a_programmer_is_shown() -> None:
    run = Measurement(ANYWHERE, molar_mass=32.0, boiling_point=64.6, student=ANYWHERE)
    for result in (match(run), check_section(Runs([run]))):
        assert not not_shown(result._repr_html_())
        assert not not_shown(repr(result))


def test_corrected_copy_runs_nothing(
    invoke: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "stock.csv").write_text(
        "label,identity,formula,molar_mass,boiling_point_C,note\n"
        'A,ethanol,=C2H6O,"=46.07",78.4,-\n'
        "B,acetone,+C3H6O,+58.08,+56.1 C,@now\n"
        'C,"=HYPERLINK(""http://example.org"")",-C,58.1,-56.1,--\n'
        'D,hexane," =C6H14",96.18,68.7,-7.5\n',
        encoding="utf-8",
    )
    outcome = invoke("check-stock", "stock.csv", "--fix", "copy.csv")
    copy = (tmp_path / "copy.csv").read_text("utf-8").splitlines()
    assert copy[1:] == [
        "A,ethanol,'=C2H6O,'=46.07,78.4,-",
        "B,acetone,'+C3H6O,+58.08,+56.1 C,'@now",
        'C,"\'=HYPERLINK(""http://example.org"")",\'-C,58.1,-56.1,--',
        "D,hexane,' =C6H14,86.18,68.7,-7.5",
    ]
    assert (
        "copy.csv: 7 texts that a spreadsheet would run as formulas have an" in outcome.complaints
    )
