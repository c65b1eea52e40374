"""What a terminal shows last: the answer, after a legend and a caution that stand once."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from identify.answers.text.last_line import ending_lines
from identify.answers.text.page import TERMINAL_CAUTION, Page
from tests.command import Run

DEMO = Path(__file__).parents[1] / "data" / "demo"
STOCK, SECTION = DEMO / "stock.csv", DEMO / "section.csv"
BURNED = ("--sample", "0.4310 g", "--co2", "0.8235 g", "--h2o", "0.5057 g")
C_31, C_14, C_08 = (DEMO / f"{label}.toml" for label in ("C-31", "C-14", "C-08"))

# The arguments, what the last line is, and whether the answer is about a liquid to handle.
ANSWERS: dict[str, tuple[tuple[object, ...], str, bool]] = {
    "one unknown": (("match", C_31), r"C-31: cyclohexane \(.*\), once a slip is set right\.", True),
    "two unknowns": (("match", C_08, C_14), r"C-08: tetrahydrofuran; C-14: methanol\.", True),
    "many unknowns": (
        ("match", *sorted(DEMO.glob("C-*.toml")), SECTION),
        r"10 unknowns: single match \d+(, several matches \d+)?(, no match \d+)?\.",
        True,
    ),
    "no match": (
        ("match", "--boiling-point=300 C", "--percent=C=1 H=2 O=97"),
        r"unknown: no match with every reading; nearest is .*\.",
        True,
    ),
    "undecided": (
        ("match", "--boiling-point=80 C"),
        r"unknown: undecided; first .* \(\d.* %\)\.",
        True,
    ),
    "section": (
        ("section", SECTION, "--key", STOCK),
        r"4 results: no shared cause, 1 needs a look, 3 of 3 named right\.",
        True,
    ),
    "check-stock": (
        ("check-stock", STOCK),
        r"13 bottles: 4 rows are wrong, 2 cannot be told apart\.",
        True,
    ),
    "plan": (
        ("plan", "--liquids=4", "--runs=40", "--elements=C H O"),
        r"4 liquids: \d.* % of runs name theirs; the worst, .*, \d+ %\.",
        True,
    ),
    "molar-mass": (
        ("molar-mass", C_14, "--as", "methanol"),
        r"C-14: 31\.9 ± \d.* g/mol, as methanol\.",
        True,
    ),
    "two molar masses": (
        ("molar-mass", C_14, C_08),
        r"C-14: \d.* ± \d.* g/mol; C-08: \d.* ± \d.* g/mol\.",
        True,
    ),
    "composition": (
        ("composition", *BURNED),
        r"C 52\.146 ± 0\.014 %, H 13\.130 ± 0\.004 %, O 34\.723 ± 0\.017 %\.",
        False,
    ),
    "formula": (
        ("formula", "C=59.9", "H=13.4", "O=26.7", "--molar-mass=60.1"),
        r"Molecular formula C3H8O\.",
        False,
    ),
    "no formula": (("formula", "C=1", "H=50", "O=49"), r"No formula fits\.", False),
    "boiling-point": (
        ("boiling-point", "--observed=77.7 C", "--at=742 mmHg", "--as=ethanol"),
        r"78\.3 ± 0\.5 °C at 760 mmHg \(vapor-pressure curve of ethanol\)\.",
        False,
    ),
    "candidates": (
        ("candidates", "find", "--formula=C4H8O", "--top=3"),
        r"\d+ compounds, 3 of them shown\.",
        False,
    ),
    "one candidate": (("candidates", "find", "--formula=CH4O"), r"1 compound\.", False),
}


@pytest.mark.parametrize("columns", [80, 120])
@pytest.mark.parametrize("answer", ANSWERS)
def test_the_last_line_is_the_answer(
    invoke: Run, monkeypatch: pytest.MonkeyPatch, answer: str, columns: int
) -> None:
    arguments, expected, is_handled = ANSWERS[answer]
    monkeypatch.setenv("COLUMNS", str(columns))
    output = invoke(*arguments).output
    *_, before, last = output.splitlines()
    assert re.fullmatch(expected, last)
    assert not before or answer == "no formula"
    assert max(map(len, output.splitlines())) <= columns
    flat = " ".join(output.split())
    assert flat.count(TERMINAL_CAUTION) == flat.count("Caution: ") == int(is_handled)


def test_cards_end_with_the_file(
    invoke: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    lines = invoke("cards", STOCK, "--pdf", "cards.pdf", "--key", "key.pdf").output.splitlines()
    assert lines[-1] == "9 cards in cards.pdf; no card of 4 rows."
    assert "key, for the instructor only: key.pdf" in lines


@pytest.mark.parametrize("width", [60, 80, 120])
def test_nothing_wraps_inside_a_word(width: int) -> None:
    legend = "used: students whose weighings agree, who alone are pooled."
    answer = "13 bottles: 4 rows are wrong, 2 cannot be told apart, and this goes on for a while."
    lines = ending_lines(Page(width), answer, legend)
    assert max(map(len, lines)) <= width
    assert " ".join(" ".join(lines).split()) == f"{legend} {TERMINAL_CAUTION} {answer}"


def test_the_caution_takes_two_lines() -> None:
    assert len(Page(80).wrapped(TERMINAL_CAUTION)) == 2
