"""``identify-unknown section``: its contract, its pages and files, and bad input."""

from __future__ import annotations

import csv
import io
import json
import os
from functools import partial
from pathlib import Path

import pytest
from openpyxl import load_workbook

from identify.answers.files.rows import STUDENT_TABLE
from identify.answers.text import Page
from identify.answers.text.section import section_lines
from identify.section import check_section
from tests.command import Run

DEMO = Path(__file__).resolve().parents[1] / "data" / "demo" / "section.csv"
KEY = "label,identity\nD-02,ethanol\nD-05,acetone\nD-07,hexane\nD-09,67-56-1\n"
# A bath that is not a number, and a trial without its empty flask: rows 10 and 11.
BAD = "D-02,bench 5,99.0663,99.4799,hot,22.9,745.0,286.9,78.4,52.14,13.13,34.73\n"
BAD += "D-05,bench 6,,98.8548,98.6,23.4,745.6,288.8,,,,\n"


@pytest.fixture
def run(invoke: Run) -> Run:
    return partial(invoke, "section")


@pytest.fixture
def key(tmp_path: Path) -> Path:
    file = tmp_path / "key.csv"
    file.write_text(KEY, encoding="utf-8")
    return file


@pytest.fixture
def spoiled(tmp_path: Path) -> Path:
    file = tmp_path / "section.csv"
    file.write_text(DEMO.read_text(encoding="utf-8") + BAD, encoding="utf-8")
    return file


def test_help_has_worked_examples(run: Run) -> None:
    status, output, _ = run("--help")
    assert status == 0
    for words in ("section section.csv --key stock.csv", "--out", "--strict", "Exit status"):
        assert words in output
    assert "or no match" not in output


def test_json_keeps_its_contract(run: Run, key: Path) -> None:
    status, output, complaints = run(DEMO, "--key", key, "--format", "json", "--top", "2")
    answer = json.loads(output)
    assert (status, complaints) == (0, "")
    assert {"students", "unknowns", "set_aside", "findings"} <= set(answer)
    names = {"student", "label", "molar_mass", "candidates", "findings", "slips"}
    for student in answer["students"]:
        assert names <= set(student)
        assert 1 <= len(student["candidates"]) <= 2
    for unknown in answer["unknowns"]:
        assert {"label", "pooled", "findings"} <= set(unknown)
        assert set(unknown["pooled"]) == {"name", "cas", "probability"}
    assert [one["label"] for one in answer["students"]] == ["D-02", "D-05", "D-07", "D-09"]
    assert [one["key_rank"] for one in answer["students"]] == [1, 1, 1, 1]
    assert answer["set_aside"] == []


def test_rows_that_cannot_be_used_are_told_and_the_rest_is_answered(
    run: Run, spoiled: Path
) -> None:
    status, output, complaints = run(spoiled, "--format", "json")
    answer = json.loads(output)
    assert status == 2
    assert [row["row"] for row in answer["set_aside"]] == [11]
    # What is written on the card of row 10 is answered, and the cell that is not read is told.
    told_of = [one for student in answer["students"] for one in student["findings"]]
    (fault,) = (one for one in told_of if one["code"] == "file-fault")
    assert 'row 10, bath_C: "hot"' in fault["message"]
    told = complaints.splitlines()
    assert len(told) == 2
    for line, words in zip(told, ("row 10, bath_C", "row 11, empty"), strict=True):
        assert str(spoiled) in line
        assert words in line
    used = [row for student in answer["students"] for row in student["rows"]]
    assert sorted([*used, 11]) == list(range(2, 12))
    assert answer["rows"] == 10


def test_table_says_what_was_found(run: Run, spoiled: Path, key: Path) -> None:
    status, output, _ = run(spoiled, "--key", key)
    assert status == 2
    words = ("10 rows, 6 results by 6 students on 4 unknowns", "5 of 5 are named right")
    order = (*words, "1 row was set aside", "Shared by many", "Unknowns", "pooled")
    order += ("Students: ", "pressure-unit", "Rows set aside", "row 11", "Caution: ")
    flat = " ".join(output.split())
    places = [flat.index(text) for text in order]
    assert places == sorted(places)


def test_all_shows_everyone(run: Run) -> None:
    _, some, _ = run(DEMO)
    _, every, _ = run(DEMO, "--all")
    students = [f"bench {number}" for number in (1, 2, 3, 4)]
    assert [name in every for name in students] == [True] * 4
    hidden = sum(name not in some for name in students)
    assert hidden >= 1
    assert f"{hidden} not shown" in some
    assert "not shown" not in every


@pytest.mark.parametrize("everyone", [(), ("--all",)])
@pytest.mark.parametrize("columns", [60, 80, 120])
def test_table_fits(
    run: Run,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    key: Path,
    columns: int,
    everyone: tuple[str, ...],
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    file = tmp_path / "section.csv"
    long = DEMO.read_text(encoding="utf-8").replace("bench 4", "the bench by the left window " * 2)
    file.write_text(long.replace("D-07", "bottle on the upper shelf 7"), encoding="utf-8")
    _, output, _ = run(file, "--key", key, *everyone)
    assert max(map(len, output.splitlines())) <= columns
    assert "\x1b" not in output


def test_page_without_unicode_is_ascii() -> None:
    text = "\n".join(section_lines(check_section(DEMO), Page(80, unicode=False), everyone=True))
    assert text.isascii()
    assert "+/-" in text


def test_csv_is_the_students_table(run: Run, key: Path) -> None:
    status, output, complaints = run(DEMO, "--key", key, "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(output)))
    assert (status, complaints) == (0, "")
    assert list(rows[0]) == [column.key for column in STUDENT_TABLE.columns]
    assert [row["student"] for row in rows] == ["bench 1", "bench 2", "bench 3", "bench 4"]
    assert [row["rows"] for row in rows] == ["2 3", "4 5", "6 7", "8 9"]
    assert {row["named_right"] for row in rows} == {"true"}
    assert "pressure-unit" in rows[3]["slips"].split()


def test_formulas_in_a_file_reach_no_spreadsheet(run: Run, tmp_path: Path) -> None:
    file, target = tmp_path / "section.csv", tmp_path / "result.xlsx"
    file.write_text("label,student,boiling_point_C\n=1+1,@x,56.1\n-7,+cmd,78.3\n")
    _, output, _ = run(file, "--format", "csv", "--out", target)
    rows = list(csv.DictReader(io.StringIO(output)))
    assert [(row["label"], row["student"]) for row in rows] == [("'=1+1", "'@x"), ("'-7", "'+cmd")]
    students = load_workbook(target)["Students"]
    cells = [cell for row in students.iter_rows(min_row=2, max_col=2) for cell in row]
    assert [cell.value for cell in cells] == ["=1+1", "@x", "-7", "+cmd"]
    assert {cell.data_type for cell in cells} == {"s"}


@pytest.mark.parametrize("ending", [".csv", ".json", ".xlsx", ".CSV"])
def test_out_writes_a_file_by_its_ending(run: Run, tmp_path: Path, ending: str) -> None:
    target = tmp_path / f"result{ending}"
    target.write_text("old")
    status, output, complaints = run(DEMO, "--out", target)
    assert (status, complaints) == (0, "")
    assert "Caution: " in output
    assert [file.name for file in tmp_path.iterdir()] == [target.name]
    if ending == ".xlsx":
        assert load_workbook(target)["Students"].max_row == 5
        return
    same = run(DEMO, "--format", ending.lower().removeprefix("."))[1]
    assert target.read_bytes().decode("utf-8") == same


def test_file_written_by_one_is_complete_where_rows_are_set_aside(
    run: Run, tmp_path: Path, spoiled: Path
) -> None:
    target = tmp_path / "result.xlsx"
    assert run(spoiled, "--out", target)[0] == 2
    sheet = load_workbook(target)["Set aside"]
    assert [row[0] for row in sheet.iter_rows(min_row=2, values_only=True)] == [11]


@pytest.mark.parametrize(
    ("target", "fault"),
    [
        ("result.txt", "ends in none of .xlsx, .csv, .json"),
        ("result", "ends in none of"),
        ("missing/result.xlsx", "there is no such folder"),
        ("folder.csv", "is a folder"),
        ("section.csv", "would be lost"),
        ("./section.csv", "would be lost"),
        ("link.csv", "would be lost"),
        ("key.csv", "would be lost"),
        ("stock.csv", "would be lost"),
    ],
)
def test_out_that_cannot_be_is_refused_before_any_work(
    run: Run, tmp_path: Path, spoiled: Path, key: Path, target: str, fault: str
) -> None:
    stock = tmp_path / "stock.csv"
    stock.write_text(KEY, encoding="utf-8")
    (tmp_path / "folder.csv").mkdir()
    (tmp_path / "link.csv").symlink_to(spoiled)
    before = {file: file.read_bytes() for file in tmp_path.iterdir() if file.is_file()}
    out = f"{tmp_path}/{target}"
    status, output, complaints = run(spoiled, "--key", key, "--candidates", stock, "--out", out)
    assert (status, output) == (2, "")
    assert complaints.startswith("--out: ")
    assert complaints.count("\n") == 1
    assert fault in complaints
    assert {file: file.read_bytes() for file in tmp_path.iterdir() if file.is_file()} == before


def test_out_that_cannot_be_written_is_one_line_and_leaves_the_old(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    target = tmp_path / "result.xlsx"
    target.write_bytes(b"old")
    monkeypatch.setattr(os, "replace", fail)
    status, output, complaints = run(DEMO, "--out", target)
    assert status == 2
    assert complaints == f"--out: {target}: No space left on device\n"
    assert "Caution: " in output
    assert [file.read_bytes() for file in tmp_path.iterdir()] == [b"old"]


@pytest.mark.parametrize(
    ("arguments", "fault"),
    [
        (("missing.csv",), "there is no such file"),
        ((".",), "is a folder"),
        ((DEMO, "--key", "missing.csv"), "there is no such file"),
        ((DEMO, "--candidates", "missing.csv"), "there is no such file"),
        ((DEMO, "--tolerance", "mass=3"), "--tolerance"),
        ((DEMO, "--tolerance", "percent=-1"), "--tolerance"),
        ((), "FILE"),
        ((DEMO, "--format", "text"), "--format"),
    ],
)
def test_what_cannot_be_used_is_one_line(
    run: Run,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: tuple[object, ...],
    fault: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    status, output, complaints = run(*arguments)
    assert (status, output) == (2, "")
    assert complaints.count("\n") == 1
    assert fault in complaints
    assert "Traceback" not in complaints


@pytest.mark.parametrize(
    "contents",
    [
        b"",
        b"label,student\n",
        b"\x00\x01\x02\xff" * 50,
        b"PK\x03\x04 no workbook",
        b"nothing,here\n1,2\n",
        b"label,boiling_point_C\nC-1,warm\n",
    ],
)
def test_file_without_a_usable_row(run: Run, tmp_path: Path, contents: bytes) -> None:
    file, target = tmp_path / "section.csv", tmp_path / "result.json"
    file.write_bytes(contents)
    status, output, complaints = run(file, "--format", "json", "--out", target)
    answer = json.loads(output)
    assert (status, answer["students"]) == (2, [])
    assert target.exists() == bool(answer["set_aside"])
    assert str(file) in complaints
    assert "program itself failed" not in complaints


def test_unusable_row_of_the_key_is_told(run: Run, tmp_path: Path) -> None:
    key = tmp_path / "key.csv"
    key.write_text(KEY.replace("acetone", "acetoone"), encoding="utf-8")
    status, output, complaints = run(DEMO, "--key", key, "--format", "json")
    assert status == 2
    assert "key.csv, row 3, identity" in complaints
    assert [one["key"] is None for one in json.loads(output)["students"]].count(True) == 1


@pytest.mark.parametrize(
    ("pressures", "options", "status"),
    [
        ("29.33", (), 0),
        ("29.33", ("--strict",), 1),
        ("745.0", ("--strict",), 0),
    ],
)
def test_strict(
    run: Run, tmp_path: Path, pressures: str, options: tuple[str, ...], status: int
) -> None:
    file = tmp_path / "section.csv"
    lines = DEMO.read_text(encoding="utf-8").replace("29.33", pressures)
    file.write_text(lines, encoding="utf-8")
    assert run(file, *options)[0] == status


def test_prior_tolerance_and_stock_are_passed_on(run: Run, key: Path) -> None:
    options = ("--prior", "uniform", "--tolerance", "molar-mass=3", "--candidates", key)
    status, output, complaints = run(DEMO, *options, "--format", "json")
    answer = json.loads(output)
    assert (status, complaints) == (0, "")
    names = {one["name"] for student in answer["students"] for one in student["candidates"]}
    assert names <= {"ethanol", "acetone", "hexane", "methanol"}
