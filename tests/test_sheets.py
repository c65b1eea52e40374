"""Which sheet of a workbook is read, and how many faults of one kind are printed."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.chart import BarChart, Reference

from tests.command import Run, invoke

__all__ = ["invoke"]

TABLE = [("label", "identity", "boiling_point_C"), ("C-1", "acetone", 56.1)]
OLD = [("label", "identity", "boiling_point_C"), ("C-9", "ethanol", 78.3)]


def workbook(path: Path, before: str) -> None:
    """Write the table on its sheet, behind one of another kind."""
    book = Workbook()
    first = book.active
    assert first is not None
    first.title = "Bench"
    for row in TABLE:
        first.append(row)
    if before == "chart":
        chart = BarChart()
        chart.add_data(Reference(first, min_col=3, min_row=1, max_row=2))
        book.create_chartsheet("Chart", 0).add_chart(chart)
    else:
        other = book.create_sheet("Lists", 0)
        for row in OLD if before == "hidden table" else [("acetone",), ("ethanol",)]:
            other.append(row)
        other.sheet_state = "veryHidden" if before == "very hidden" else "hidden"
        book.active = 1
    book.save(path)


COMMANDS = {
    "match": ("match", "book.xlsx", "--format=csv"),
    "section": ("section", "book.xlsx", "--format=csv"),
    "check-stock": ("check-stock", "book.xlsx", "--format=json"),
    "candidates": ("match", "--boiling-point=56 C", "--candidates=book.xlsx", "--format=csv"),
    "cards": ("cards", "book.xlsx", "--html=cards.html", "--format=csv"),
}


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("before", ["chart", "hidden", "very hidden", "hidden table"])
def test_the_first_sheet_that_can_be_seen_is_read(
    invoke: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, before: str, command: str
) -> None:
    monkeypatch.chdir(tmp_path)
    workbook(Path("book.xlsx"), before)
    outcome = invoke(*COMMANDS[command])
    assert outcome.status in (0, 1)
    assert "C-1" in outcome.output or "acetone" in outcome.output
    assert "C-9" not in outcome.output
    named = [line for line in outcome.said if 'hidden sheets, passed over: "Lists"' in line]
    assert len(named) == (before != "chart")
    assert all(line.startswith("book.xlsx: ") for line in named)


@pytest.mark.parametrize("command", COMMANDS)
def test_a_table_on_the_second_sheet_is_named(
    invoke: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    """A sheet of notes stands before it, and can be seen: that one is read, and is not a table."""
    monkeypatch.chdir(tmp_path)
    workbook(Path("book.xlsx"), "hidden")
    book = load_workbook("book.xlsx")
    book["Lists"].sheet_state = "visible"
    book.save("book.xlsx")
    outcome = invoke(*COMMANDS[command])
    (said,) = outcome.said
    assert outcome.status == 2
    assert "C-1" not in outcome.output
    assert said.startswith("book.xlsx")
    assert "has no column named " in said
    assert said.endswith('; only the first sheet is read, move "Bench" to the front')


def test_a_corrected_copy_is_of_the_sheet_that_is_read(invoke: Run, tmp_path: Path) -> None:
    workbook(tmp_path / "book.xlsx", "hidden table")
    book = load_workbook(tmp_path / "book.xlsx")
    book["Bench"]["D1"], book["Bench"]["D2"] = "molar_mass", 85.08  # of acetone: 58.08
    book.save(tmp_path / "book.xlsx")
    outcome = invoke("check-stock", tmp_path / "book.xlsx", "--fix", tmp_path / "new.xlsx")
    assert outcome.status == 1
    copy = load_workbook(tmp_path / "new.xlsx")
    assert [cell.value for cell in copy["Lists"][2]] == ["C-9", "ethanol", 78.3]
    assert copy["Bench"]["D2"].value == 58.08


@pytest.mark.parametrize("command", ["match", "section", "check-stock"])
def test_faults_of_one_kind_are_counted(invoke: Run, tmp_path: Path, command: str) -> None:
    file = tmp_path / "rows.csv"
    rows = "".join(f"C-{place},hot,acetone\n" for place in range(300))
    file.write_text(f"label,boiling_point_C,identity\n{rows}C-x,56.1,acetone\n", encoding="utf-8")
    outcome = invoke(command, file, "--format=json")
    if command == "check-stock":  # where each row has its findings, and they are the answer
        assert len(outcome.said) < 30
        return
    assert outcome.status == 2
    faults = [line for line in outcome.said if "does not start with a number" in line]
    assert [f"row {row}," in line for row, line in enumerate(faults[:20], start=2)] == [True] * 20
    assert len(faults) == 21
    assert faults[-1].startswith(f"280 more of this kind: {file}, row ..., boiling_point_C: ")
    assert outcome.said[-1] == faults[-1]


def test_faults_of_several_files_are_all_told(invoke: Run, tmp_path: Path) -> None:
    files = [tmp_path / f"{number}.toml" for number in range(25)]
    for file in files:
        file.write_text("[card]\nboiling_point = '56 C'\n", encoding="utf-8")
    outcome = invoke("match", *files)
    assert outcome.status == 2
    assert [line.partition(",")[0] for line in outcome.said] == [str(file) for file in files]
