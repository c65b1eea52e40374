"""``check-stock``: what it prints and writes, its exit status, and the demo's table."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import make_demo
import pytest

from identify.answers.text.page import Page
from identify.answers.text.stock import group_sentence, stock_lines
from identify.bench.laboratory import Laboratory
from identify.matching.advise.separation import Narrowed
from identify.observables.tolerances import Tolerances
from identify.stock import check_stock
from identify.stock.result import BottleGroup, Change, StockCheck
from identify.tables import read_runs
from tests.command import Outcome, Run

DEMO = make_demo.DEMO / "stock.csv"
HEADER = "label,identity,boiling_point_C,percent_C,percent_H,percent_O\n"
CLEAN = HEADER + "K-1,acetone,56.1,62.0,10.4,27.6\nK-2,methanol,64.6,37.5,12.6,49.9\n"
WRONG = CLEAN.replace("37.5", "57.3")


Write = Callable[..., Path]


@pytest.fixture
def run(invoke: Run) -> Run:
    return partial(invoke, "check-stock")


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def to_file(content: str, name: str = "stock.csv") -> Path:
        path = tmp_path / name
        path.write_text(content, encoding="utf-8")
        return path

    return to_file


@pytest.fixture(scope="module")
def demo() -> StockCheck:
    return check_stock(DEMO)


def found_in(check: StockCheck) -> dict[str, list[str]]:
    """Return the codes of what is not a note, by label."""
    return {
        row.label: [one.code for one in row.findings if one.severity != "note"]
        for row in check.rows
    }


# --------------------------------------------------------------------------------- exit status


@pytest.mark.parametrize(
    ("content", "options", "status"),
    [
        (CLEAN, (), 0),
        (WRONG, (), 1),
        # Warnings alone are nothing wrong.
        (HEADER + "K-1,diethyl ether,34.5,,,\n", (), 0),
        # The bath of a laboratory where water boils at 99 degrees, and another.
        (HEADER + "K-1,toluene,110.6,,,\n", (), 1),
        (HEADER + "K-1,toluene,110.6,,,\n", ("--bath", "120 C"), 0),
        (CLEAN, ("--room", "22 parsecs"), 2),
        (CLEAN, ("--pressure", "742 C"), 2),
        (CLEAN, ("--tolerance", "boiling-point=warm"), 2),
        ("", (), 2),
        ("no,such,columns\n1,2,3\n", (), 2),
    ],
)
def test_exit_status(
    run: Run, write: Write, content: str, options: tuple[str, ...], status: int
) -> None:
    outcome = run(write(content), *options)
    assert outcome.status == status
    if status == 2:
        assert outcome.output == ""
        assert outcome.complaints.count("\n") == 1
    else:
        assert outcome.complaints == ""


def test_a_file_that_is_not_there(run: Run, tmp_path: Path) -> None:
    outcome = run(tmp_path / "nowhere.csv")
    assert (outcome.status, outcome.output) == (2, "")
    assert "nowhere.csv" in outcome.complaints


# -------------------------------------------------------------------------------- the demo table


def test_the_demo_shows_its_faults_and_nothing_else(demo: StockCheck) -> None:
    found = {label: codes for label, codes in found_in(demo).items() if codes}
    assert found.pop("C-77") == ["exposure-limit-low"]
    assert found["C-60"] == found["C-66"] == ["cards-exchanged"]
    assert len(found["C-71"]) == len(found["D-07"]) == 1
    assert set(found) == {"C-60", "C-66", "C-71", "D-07"}
    assert {row.label for row in demo.rows if row.is_wrong} == set(found)


def test_the_demos_bottles_hold_what_the_notebook_says_of_them(demo: StockCheck) -> None:
    files = [path for path in make_demo.DEMO.iterdir() if path != DEMO]
    runs = {run.label: run for path in files for run in read_runs(path)}
    shelf = make_demo.shelf()
    assert set(runs) <= set(shelf)
    for label, run in runs.items():
        if run.boiling_point is not None:
            assert run.boiling_point.to("C").value == pytest.approx(shelf[label].boils_c, abs=0.06)
    for row in demo.rows:
        if row.compound is not None:
            assert row.compound.cas == shelf[row.label].cas or row.label in ("C-60", "C-66")


def test_the_demos_groups(demo: StockCheck) -> None:
    (group,) = demo.groups
    assert group.labels == ("C-66", "C-71")
    assert "± 1.3 °C" in group_sentence(group)


# ------------------------------------------------------------------------------------ JSON and CSV


def test_json_keeps_its_contract(run: Run) -> None:
    outcome = run(DEMO, "--format", "json")
    answer = json.loads(outcome.output)
    assert (outcome.status, outcome.complaints) == (1, "")
    assert {"rows", "groups", "findings"} <= set(answer)
    assert len(answer["rows"]) == len(make_demo.shelf())
    for row in answer["rows"]:
        assert {"label", "identity", "findings"} <= set(row)
        assert set(row["identity"]) == {"name", "cas", "smiles", "formula"}
    for group in answer["groups"]:
        assert set(group["separated_by"]) == {"observable", "tolerance", "unit"}
    first = answer["rows"][0]
    assert first["standing"]["boils_C"] == pytest.approx(65.9, abs=0.1)
    assert first["standing"]["margin_K"] == pytest.approx(99.0 - 65.9, abs=0.1)


def csv_rows(outcome: Outcome) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(outcome.output)))


def test_csv_has_one_row_a_bottle_and_finding(run: Run, demo: StockCheck) -> None:
    rows = csv_rows(run(DEMO, "--format", "csv"))
    assert len(rows) == sum(max(len(row.findings), 1) for row in demo.rows) + len(demo.findings)
    assert [row["label"] for row in rows if row["code"] == "cards-exchanged"] == ["C-60", "C-66"]
    alike = {row["label"]: row["not_told_apart_from"] for row in rows}
    assert (alike["C-66"], alike["C-71"], alike["C-08"]) == ("C-71", "C-66", "")


# --------------------------------------------------------------------------------------- the text


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize("unicode", [True, False])
def test_no_line_is_wider_than_the_page(demo: StockCheck, width: int, unicode: bool) -> None:
    lines = stock_lines(demo, Page(width, unicode=unicode))
    assert [line for line in lines if len(line) > max(width, 78)] == []
    if width >= 80:
        assert [line for line in lines if len(line) > width] == []
    if not unicode:
        assert "\n".join(lines).isascii()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (CLEAN, "2 bottles: no row is wrong."),
        (WRONG, "2 bottles: 1 row is wrong."),
        (HEADER + "K-1,diethyl ether,34.5,,,\n", "1 bottle: no row is wrong, 1 has a warning."),
        (
            CLEAN + "K-3,ethyl acetate,77.1,,,\nK-4,methyl propionate,79.4,,,\n",
            "4 bottles: no row is wrong, 2 cannot be told from another by what the class measures.",
        ),
    ],
)
def test_the_summary(run: Run, write: Write, content: str, words: str) -> None:
    assert words in " ".join(run(write(content)).output.split())


@pytest.mark.parametrize(
    ("narrowed", "other", "words"),
    [
        (Narrowed("boiling_point", 1.3456, "°C"), "", "by the boiling point to ± 1.3 °C."),
        (Narrowed("molar_mass", 4.96, "%"), "", "by the molar mass to ± 4.9 %."),
        (Narrowed("percent_C", 0.299, "points"), "", "by the percentage of C to ± 0.29 points."),
        (Narrowed("boiling_point", 0.105, "°C"), "", "± 0.10 °C, finer than a bench reads."),
        (Narrowed("molar_mass", 0.5, "%"), "", "± 0.50 %, finer than a bench reads."),
        (Narrowed("percent_H", 0.03, "points"), "", "± 0.030 points, finer than a bench reads."),
        (Narrowed("boiling_point", 1.0, "°C"), "Tollens' test: …", "± 1.0 °C; or by Tollens' test"),
        (None, "Tollens' test: …", "told apart by Tollens' test"),
        (None, "", "Nothing here tells them apart"),
    ],
)
def test_what_would_separate_a_group(narrowed: Narrowed | None, other: str, words: str) -> None:
    group = BottleGroup(("K-1", "K-2"), (2, 3), 1.0, 0.31, narrowed, other)
    sentence = group_sentence(group)
    assert words in sentence
    assert "taken for the other in 31 %" in sentence


def test_a_label_cannot_move_the_cursor(run: Run, write: Write) -> None:
    outcome = run(write(WRONG.replace("K-2", "K\x1b[2J-2")))
    assert outcome.status in (1, 2)
    assert "\x1b" not in outcome.output + outcome.complaints


# ----------------------------------------------------------------------------- the corrected copy


def test_the_copy_is_right_and_every_change_is_told(run: Run, write: Write) -> None:
    table = write(WRONG)
    before, copy = table.read_bytes(), table.with_name("copy.csv")
    outcome = run(table, "--fix", copy)
    assert (outcome.status, outcome.complaints) == (1, "")
    assert table.read_bytes() == before
    text = " ".join(outcome.output.split())
    (change,) = check_stock(table).changes
    assert isinstance(change, Change)
    assert (change.row, change.column, change.read) == (3, "percent_C", "57.3")
    assert f'row 3, percent_C: "57.3" → "{change.written}" ({change.reason})' in text
    assert "copy.csv" in text.replace(" ", "")  # a long path is broken where the line ends
    after = check_stock(copy)
    assert not after.is_wrong
    assert list(after.changes) == []


def test_the_copy_of_a_table_without_faults_is_the_table(run: Run, write: Write) -> None:
    table = write(CLEAN)
    outcome = run(table, "--fix", table.with_name("copy.csv"))
    assert (outcome.status, outcome.complaints) == (0, "")
    assert "Nothing to correct" in outcome.output
    assert table.with_name("copy.csv").read_bytes() == table.read_bytes()


def test_other_formats_tell_of_the_copy_beside_the_answer(run: Run, write: Write) -> None:
    table = write(WRONG)
    outcome = run(table, "--fix", table.with_name("copy.csv"), "--format", "json")
    assert outcome.status == 1
    changes = [change for row in json.loads(outcome.output)["rows"] for change in row["changes"]]
    assert [change["column"] for change in changes] == ["percent_C"]
    assert "with 1 change" in outcome.complaints


def _the_table(table: Path) -> Path:
    return table


def _a_link_to_it(table: Path) -> Path:
    link = table.with_name("link.csv")
    link.symlink_to(table)
    return link


def _another_path_to_it(table: Path) -> Path:
    return table.parent / ".." / table.parent.name / table.name


def _a_file_that_is_there(table: Path) -> Path:
    other = table.with_name("other.csv")
    other.write_text("kept\n", encoding="utf-8")
    return other


def _no_folder(table: Path) -> Path:
    return table.parent / "nowhere" / "copy.csv"


@pytest.mark.parametrize(
    ("target", "words"),
    [
        (_the_table, "is the table itself"),
        (_a_link_to_it, "is the table itself"),
        (_another_path_to_it, "is the table itself"),
        (_a_file_that_is_there, "is there already"),
        (_no_folder, "there is no such folder"),
    ],
)
def test_nothing_is_written_over(
    run: Run, write: Write, target: Callable[[Path], Path], words: str
) -> None:
    table = write(WRONG)
    where = target(table)
    there = sorted((path.name, path.read_bytes()) for path in table.parent.iterdir())
    outcome = run(table, "--fix", where)
    assert (outcome.status, outcome.output) == (2, "")
    assert outcome.complaints.startswith("--fix: ")
    assert words in outcome.complaints
    assert sorted((path.name, path.read_bytes()) for path in table.parent.iterdir()) == there


# ------------------------------------------------------------------------------- from a notebook


def test_the_laboratory_and_the_class_are_the_callers(write: Write) -> None:
    table = write(HEADER + "K-1,ethyl acetate,77.1,,,\nK-2,methyl propionate,79.4,,,\n")
    usual, careful = check_stock(table), check_stock(table, None, Tolerances(boiling_point=0.5))
    assert (len(usual.groups), len(careful.groups)) == (1, 0)
    mountain = check_stock(str(table), Laboratory.of(pressure="640 mmHg", bath="75 C"))
    margins: list[Any] = [row.standing and row.standing.margin_K for row in mountain.rows]
    assert margins == pytest.approx([75 - 72.0, 75 - 74.2], abs=0.15)


FULL = "label,identity,formula,molar_mass,boiling_point_C,percent_C,percent_H,percent_O\n"
ACETONE_CARD = "C3H6O,58.08,56.1,62.04,10.41,27.55"
ETHANOL_CARD = "C2H6O,46.07,78.4,52.14,13.13,34.73"


@pytest.mark.parametrize(
    ("first", "second", "found"),
    [
        (ACETONE_CARD, ETHANOL_CARD, {}),
        # Whole cards: formula, molar mass and percentages speak against each identity.
        (ETHANOL_CARD, ACETONE_CARD, {"K-1": ["cards-exchanged"], "K-2": ["cards-exchanged"]}),
        (ETHANOL_CARD, ETHANOL_CARD, {"K-1": ["card-of-another-bottle"]}),
        # What is wrong alone keeps its own finding.
        (ACETONE_CARD.replace("56.1", "78.4"), ETHANOL_CARD, {"K-1": ["boiling-point-wrong"]}),
        (ACETONE_CARD.replace("58.08", "46.07"), ETHANOL_CARD, {"K-1": ["molar-mass-wrong"]}),
        # Nothing in the table has this card.
        ("CH4O,32.04,64.6,37.48,12.58,49.93", ETHANOL_CARD, {"K-1": ["identity-disagrees"]}),
    ],
)
def test_a_card_at_the_wrong_bottle_is_one_finding(
    write: Write, first: str, second: str, found: dict[str, list[str]]
) -> None:
    table = write(f"{FULL}K-1,acetone,{first}\nK-2,ethanol,{second}\n")
    check = check_stock(table)
    assert {label: codes for label, codes in found_in(check).items() if codes} == found
    for row in check.rows:
        codes = found.get(row.label, [])
        if {"cards-exchanged", "card-of-another-bottle"} & set(codes):
            assert row.changes == ()
            assert row.compound is not None


def test_rows_that_hold_nothing_known_stand_in_the_answer_too(run: Run, write: Write) -> None:
    table = write(HEADER + "K-1,bottle seven,56.1,,,\nK-2,,,,,\n,acetone,56.1,,,\n")
    outcome = run(table, "--format", "json")
    rows = json.loads(outcome.output)["rows"]
    assert outcome.status == 1
    assert [row["row"] for row in rows] == [2, 3, 4]
    assert [row["standing"] is None for row in rows] == [True, True, False]


# The built-in table has no such compound.
STRANGER = "CC(C)OCOC(C)(C)CF"


@pytest.mark.parametrize(
    ("boils", "found", "margin"),
    [("", ["boiling-point-unknown"], None), ("92.0", [], 7.0), ("96.0", ["bath-margin"], 3.0)],
)
def test_a_compound_that_the_table_lacks_goes_by_its_card(
    write: Write, boils: str, found: list[str], margin: float | None
) -> None:
    (row,) = check_stock(write(f"{HEADER}K-1,{STRANGER},{boils},,,\n")).rows
    assert row.compound is not None
    assert row.compound.place is None
    assert [one.code for one in row.findings if one.severity != "note"] == found
    assert (None if row.standing is None else row.standing.margin_K) == (
        None if margin is None else pytest.approx(margin, abs=0.1)
    )


def test_its_boiling_point_is_carried_from_the_cards_pressure(write: Write) -> None:
    header = "label,identity,boiling_point_C,boiling_point_at_mmHg\n"
    (row,) = check_stock(write(f"{header}K-1,{STRANGER},86.0,640\n")).rows
    assert row.standing is not None
    # Trouton's rule: T ln(760 / 640) / 10.6 higher.
    assert row.standing.boils_C == pytest.approx(86.0 + 359.15 * 0.01621 / (1 - 0.01621), abs=0.1)
