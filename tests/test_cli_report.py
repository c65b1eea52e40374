"""``--report``: the page that match, check-stock and section write beside their answer."""

from __future__ import annotations

from pathlib import Path

import pytest

from identify.cli.app import main
from tests.command import Outcome, Run

DEMO = Path(__file__).parents[1] / "data" / "demo"
GIVEN = {
    "match": (DEMO / "C-31.toml",),
    "check-stock": (DEMO / "stock.csv",),
    "section": (DEMO / "section.csv", "--key", DEMO / "stock.csv"),
}


@pytest.fixture
def run(invoke: Run) -> Run:
    def call(name: str, report: object, *more: object) -> Outcome:
        return invoke(name, *GIVEN[name], *more, "--report", report)

    return call


@pytest.mark.parametrize(
    ("command", "status", "says"),
    [
        ("match", 0, "cyclohexane"),
        ("check-stock", 1, "cards-exchanged"),
        ("section", 2, "D-05"),  # rows of the demo's key are wrong on purpose
    ],
)
def test_page_is_written(run: Run, tmp_path: Path, command: str, status: int, says: str) -> None:
    page = tmp_path / "page.html"
    outcome = run(command, page)
    assert outcome.status == status
    html = page.read_text(encoding="utf-8")
    assert html.lower().startswith("<!doctype html>")
    assert says in html
    assert outcome.output  # the answer is printed all the same
    assert [path.name for path in tmp_path.iterdir()] == ["page.html"]


@pytest.mark.parametrize("command", GIVEN)
def test_same_input_same_bytes(run: Run, tmp_path: Path, command: str) -> None:
    run(command, tmp_path / "one.html")
    run(command, tmp_path / "two.html")
    assert (tmp_path / "one.html").read_bytes() == (tmp_path / "two.html").read_bytes()


@pytest.mark.parametrize("command", GIVEN)
@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("page.pdf", "ends in none of .html, .htm"),
        ("nowhere/page.html", "there is no such folder"),
    ],
)
def test_what_cannot_be_written(
    run: Run, tmp_path: Path, command: str, name: str, said: str
) -> None:
    outcome = run(command, tmp_path / name)
    assert outcome.status == 2
    assert outcome.output == ""
    assert outcome.complaints.startswith("--report: ")
    assert said in outcome.complaints
    assert len(outcome.complaints.splitlines()) == 1
    assert not list(tmp_path.iterdir())


def test_never_over_the_input(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = tmp_path / "stock.html"
    page.write_bytes((DEMO / "stock.csv").read_bytes())
    assert main(["check-stock", str(page), "--report", str(page)]) == 2
    assert "would be lost" in capsys.readouterr().err
    assert page.read_bytes() == (DEMO / "stock.csv").read_bytes()


def test_a_page_that_fails_leaves_the_old_one(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = tmp_path / "page.html"
    page.write_text("old", encoding="utf-8")

    def fail(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("identify.notebook.saving.os.replace", fail)
    outcome = run("match", page)
    assert outcome.status == 2
    assert "No space left on device" in outcome.complaints
    assert page.read_text(encoding="utf-8") == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["page.html"]


# What several unknowns' pages are called by a pattern: rows, name, files with the labels on each.
PATTERNS: dict[str, tuple[list[str], str, dict[str, list[str]]]] = {
    "a page an unknown": (
        ["C-1,Ada,56.1", "C-2,Bo,78.4"],
        "{label}.html",
        {"C-1.html": ["C-1"], "C-2.html": ["C-2"]},
    ),
    "a page a student, with all of theirs": (
        ["C-1,Ada,56.1", "C-2,Ada,78.4", "C-3,Bo,64.6"],
        "{student}.html",
        {"Ada.html": ["C-1", "C-2"], "Bo.html": ["C-3"]},
    ),
    "what no file name holds": (
        ["C/1,Ada,56.1", "../C,Zo\u0308e,78.4"],
        "{label} of {student}.htm",
        {"C_1 of Ada.htm": ["C/1"], "_C of Zöe.htm": ["../C"]},
    ),
    "one page of all": (["C-1,Ada,56.1", "C-2,Bo,78.4"], "all.html", {"all.html": ["C-1", "C-2"]}),
}


@pytest.mark.parametrize("case", PATTERNS)
def test_pages_by_a_pattern(invoke: Run, tmp_path: Path, case: str) -> None:
    rows, name, files = PATTERNS[case]
    pages = tmp_path / "pages"
    pages.mkdir()
    outcome = invoke("match", _table(tmp_path, rows), "--top=2", "--report", pages / name)
    assert (outcome.status, outcome.complaints) == (0, "")
    assert sorted(page.name for page in pages.iterdir()) == sorted(files)
    every = {label for labels in files.values() for label in labels}
    for page, labels in files.items():
        html = (pages / page).read_text(encoding="utf-8")
        assert {label for label in every if f"Unknown {label}<" in html} == set(labels)


@pytest.mark.parametrize(
    ("rows", "name", "said"),
    [
        (["C-1,A/B,56.1", "C-1,A_B,56.1"], "{student}.html", "put {label} into the name"),
        (["c-1,A,56.1", "C-1,B,56.1"], "{label}.html", "2 unknowns would all be written into"),
        (["C-1,A,56.1"], "{label}.pdf", "ends in none of .html, .htm"),
        (["C-1,A,56.1"], "missing/{label}.html", "there is no such folder"),
        (["section,A,56.1"], "../{label}.html", "would be lost"),
    ],
)
def test_patterns_that_will_not_do(
    invoke: Run, tmp_path: Path, rows: list[str], name: str, said: str
) -> None:
    pages = tmp_path / "pages"
    pages.mkdir()
    table = _table(tmp_path, rows)
    if said == "would be lost":
        table = table.rename(tmp_path / "section.html")
    before = table.read_bytes()
    outcome = invoke("match", table, "--report", pages / name)
    assert outcome.status == 2
    assert outcome.complaints.startswith("--report: ")
    assert said in outcome.complaints
    assert len(outcome.complaints.splitlines()) == 1
    assert not list(pages.iterdir())
    assert table.read_bytes() == before


@pytest.mark.parametrize("command", ["check-stock", "section"])
def test_one_page_of_all_alone(run: Run, tmp_path: Path, command: str) -> None:
    outcome = run(command, tmp_path / "{student}.html")
    assert outcome.status == 2
    assert "names more than one page, and here is one" in outcome.complaints
    assert not list(tmp_path.iterdir())


def _table(folder: Path, rows: list[str]) -> Path:
    file = folder / "section.csv"
    file.write_text("\n".join(["label,student,boiling_point_C", *rows]) + "\n", encoding="utf-8")
    return file
