"""The command ``plan``: what it prints and writes, what it refuses, its progress."""

from __future__ import annotations

import csv
import io
import json
import os
import pty
import subprocess
import sys
from functools import cache, partial
from pathlib import Path
from typing import Any

import pytest

from identify.answers.text import Page
from identify.answers.text.plan import plan_lines, summary
from identify.planning.plan import PlanRequest, make_plan
from identify.planning.precision import precision_of
from tests.command import Run

CHECKOUT = Path(__file__).resolve().parents[1]
QUICK = ("--liquids", "5", "--runs", "40", "--percent", "none")
# Hydrocarbons alone, with a coarse thermometer: some are taken for others.
ALIKE = ("--elements", "C H", "--boiling-point", "4 C", "--commonly-sold", "4")


@pytest.fixture
def run(invoke: Run) -> Run:
    return partial(invoke, "plan")


@pytest.fixture
def stock(tmp_path: Path) -> Path:
    """Return a stock table of eight bottles, one of which does not boil off."""
    path = tmp_path / "stock.csv"
    path.write_text(
        "label,identity,boiling_point_C\n"
        "K-1,acetone,56.1\nK-2,methanol,64.6\nK-3,ethyl acetate,77.1\nK-4,cyclohexane,80.7\n"
        "K-5,ethanol,78.3\nK-6,2-butanone,79.6\nK-7,toluene,110.6\nK-8,chloroform,61.2\n",
        encoding="utf-8",
    )
    return path


def test_json_says_all_of_it(run: Run) -> None:
    status, output, complaints = run(*QUICK, "--seed", 3, "--format", "json")
    plan = json.loads(output)
    assert (status, complaints) == (0, "")
    assert set(plan) >= {
        "liquids",
        "confusion",
        "smallest_separation",
        "success",
        "is_proved",
        "pool",
        "runs",
        "seed",
        "requirements",
        "findings",
    }
    assert (len(plan["liquids"]), plan["runs"], plan["seed"]) == (5, 40, 3)
    assert set(plan["requirements"][0]) == {"instrument", "unit", "now", "needed", "is_open"}
    assert plan["precision"]["percent"] is None  # not measured
    assert plan["conditions"][0]["left"] + plan["conditions"][0]["removed"] > 10_000


def test_csv_is_a_row_a_liquid(run: Run) -> None:
    status, output, _ = run(*QUICK, *ALIKE, "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(output)))
    assert status == 0
    assert len(rows) == 5
    for row in rows:
        taken = [part.rpartition(" ") for part in row["taken_for"].split("; ") if part]
        assert {name for name, _, _ in taken} <= {one["name"] for one in rows} - {row["name"]}
        total = float(row["success"]) + sum(float(share) for _, _, share in taken)
        assert total == pytest.approx(1.0, abs=0.01)
        assert float(row["success_low"]) <= float(row["success"]) <= float(row["success_high"])


def test_same_seed_prints_the_same(run: Run) -> None:
    first, second, other = (run(*QUICK, *ALIKE, "--seed", seed).output for seed in (1, 1, 2))
    assert first == second
    assert "(seed 1)" in " ".join(first.split())
    assert first != other


def test_stock_table(run: Run, stock: Path) -> None:
    status, output, complaints = run(stock, "--liquids", 4, "--must-have", "K-8", "--runs", 20)
    assert (status, complaints) == (0, "")
    text = " ".join(output.split())
    assert "K-8 chloroform" in text
    assert "toluene" not in text.partition("Where they come from")[0]
    assert f"8 liquids in {stock.name}" in text.replace(f"{stock.parent}/", "")
    assert "is on a list of carcinogens" in text  # what is in stock is not left out, but said


def test_stock_table_with_a_bad_row(run: Run, stock: Path) -> None:
    stock.write_text(stock.read_text(encoding="utf-8") + "K-9,no such liquid,50\n", "utf-8")
    status, output, complaints = run(stock, "--liquids", 3, "--runs", 10, "--format", "json")
    assert status == 2
    assert len(json.loads(output)["liquids"]) == 3
    assert f"{stock}, row 10, identity" in complaints
    assert len(complaints.splitlines()) == 1


def test_named_liquids(run: Run) -> None:
    _, output, _ = run(
        *QUICK, "--must-have", "ethanol", "--must-have", "67-64-1", "--without", "methanol",
        "--format", "json",
    )  # fmt: skip
    held = {liquid["name"] for liquid in json.loads(output)["liquids"]}
    assert {"ethanol", "acetone"} <= held
    assert "methanol" not in held


def test_against_the_whole_table(run: Run) -> None:
    arguments = ("--liquids", 3, "--runs", 5, "--against", "table")
    seldom = ("--must-have", "1-chlorobutane", "--must-have", "2,3-dimethylbutane")
    _, output, _ = run(*arguments, *seldom, "--percent", "none", "--boiling-point", "8 C")
    text = " ".join(output.split())
    assert "named among all compounds of the built-in table" in text
    assert "a compound outside of the plan" in text
    assert "(named among the plan's 3 liquids)" in text


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--elements", "Xx"), '--elements: "Xx" is not one of C H N O'),
        (("--balance", "1 C"), '--balance: "1 C" is a temperature, not a mass'),
        (("--technique", "300 %"), "--technique"),
        (("--percent", "many"), '--percent: "many" does not start with a number'),
        (("--must-have", "toluene"), "does not boil off in a bath of 99.0"),
        (
            ("--must-have", "bottle seven"),
            '--must-have: "bottle seven" is not a compound known here',
        ),
        (("--without", "bottle seven"), '--without: "bottle seven" is not a compound known here'),
        (("--flash-point-above", "hot"), '--flash-point-above: "hot"'),
        (("--exposure-limit-above", "low"), '--exposure-limit-above: "low" is not a number of ppm'),
        (("--boils-above", "90", "--boils-below", "80 C"), "no liquid boils above 90.0"),
        (("--pressure", "29.92 mmHg"), "--pressure"),
        (
            ("--flash-point-above", "20 C", "--liquids", "9"),
            "1 liquid remains under these conditions for a plan of 9",
        ),
        (("nowhere.csv",), "nowhere.csv: there is no such file"),
        (("--liquids", "1"), "--liquids"),
        (("--liquids", "200"), "for a plan of 200; ask for fewer liquids"),
        (("--success", "120"), "--success"),
    ],
)
def test_what_cannot_be_used_is_one_line(run: Run, arguments: tuple[str, ...], said: str) -> None:
    status, output, complaints = run(*arguments)
    assert (status, output) == (2, "")
    assert said in complaints
    assert len(complaints.splitlines()) == 1
    assert "Traceback" not in complaints


@cache
def plan_of(liquids: int, **precision: str) -> Any:
    from dataclasses import replace

    from identify.planning.pool.conditions import FROM_TABLE

    conditions = replace(FROM_TABLE, elements=("C", "H"), commonly_sold=1)
    return make_plan(
        PlanRequest(liquids, conditions, runs=60),
        precision=precision_of({"percent": "none", **precision}),
    )


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize("unicode", [True, False])
@pytest.mark.parametrize("liquids", [4, 20])
def test_pages_fit(width: int, unicode: bool, liquids: int) -> None:
    lines = plan_lines(plan_of(liquids, boiling_point="4 C"), Page(width, False, unicode))
    assert max(map(len, lines)) <= width
    assert "\n".join(lines).isascii() or unicode
    assert any(line.startswith("Caution: ") for line in lines)


def test_confusion_as_a_square_and_as_a_list() -> None:
    plan = plan_of(4, boiling_point="8 C", technique="8 %")
    square, narrow = (plan_lines(plan, Page(width)) for width in (80, 60))
    assert any(line.startswith("What is named (columns)") for line in square)
    many = plan_lines(plan_of(20, boiling_point="4 C"), Page(80))
    assert "What is taken for what, % of the runs" in many
    assert narrow != square


def test_a_plan_says_how_it_was_chosen() -> None:
    from dataclasses import replace

    plan = plan_of(4)
    assert "which is proved" in summary(plan)
    assert "of those that were seen" in summary(replace(plan, is_proved=False))
    assert "less than the 4.3 that tell them apart" in summary(
        replace(plan, smallest_separation=3.0)
    )


def test_the_list_can_be_ordered(run: Run) -> None:
    """Names in full, each with its CAS number and the amount for the class, at any width."""
    plan = plan_of(20, boiling_point="4 C")
    lines = plan_lines(plan, Page(80))
    start = lines.index("What to order")
    ordered = lines[start : lines.index("", start)]
    for liquid in plan.liquids:
        (line,) = (line for line in ordered if line.split()[-4:-3] == [liquid.cas])
        assert line.strip().startswith(f"{liquid.name} ")
        assert line.endswith(f" {liquid.portion.class_mL:.0f}")
    assert "What was traded" in lines


# A bar is drawn at once, and not after a second, in which the plan may be made.
IMPATIENT = (
    "import sys; from identify.cli import main; from identify.cli.terminal import progress; "
)
IMPATIENT += "progress._PATIENCE = 0.0; sys.exit(main())"


def on_a_terminal(*arguments: str) -> tuple[bytes, bytes]:
    """Run the command with standard error on a terminal; return both streams."""
    leader, follower = pty.openpty()
    try:
        done = subprocess.run(
            [sys.executable, "-c", IMPATIENT, "plan", *arguments],
            cwd=CHECKOUT,
            env={**os.environ, "COLUMNS": "80", "TERM": "xterm"},
            stdout=subprocess.PIPE,
            stderr=follower,
            check=True,
        )
        os.set_blocking(leader, False)
        return done.stdout, os.read(leader, 1_000_000)
    finally:
        os.close(leader)
        os.close(follower)


def test_progress_on_a_terminal_alone(run: Run) -> None:
    arguments = (*QUICK, "--format", "json")
    output, shown = on_a_terminal(*arguments)
    assert json.loads(output)["runs"] == 40
    assert b"Choosing liquids" in shown or b"Finding what it takes" in shown
    assert run(*arguments).complaints == ""
