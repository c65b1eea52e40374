"""The command line: what it prints, its exit status, and what it does not load."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Annotated, Any

import pytest
import typer

from identify import Measurement
from identify.answers.text import (
    Page,
    elided,
    percent_text,
    ranking_lines,
    signed,
    with_uncertainty,
)
from identify.cli.options.options import OutputFormat
from identify.cli.options.plain import _Plain
from tests.command import Run

CHECKOUT = Path(__file__).resolve().parents[1]
ETHANOL = ("--molar-mass", "46.1", "--boiling-point", "78.4 C", "--percent", "C=52.1 H=13.1")
WEIGHED = ("--empty", "98.1132", "--condensed", "98.3721", "--bath", "98.9", "--room", "22.5")
WEIGHED += ("--pressure", "742.0 mmHg", "--volume", "287.4")


@pytest.fixture
def run(invoke: Run) -> Run:
    return invoke


def outside(*arguments: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """Run the command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "identify", *arguments],
        cwd=CHECKOUT,
        env={**os.environ, "COLUMNS": "80", **environment},
        capture_output=True,
        check=False,
    )


def test_a_tolerance_is_wider_for_what_was_assumed(invoke):
    typed = ("match", "--gain", "0.3200", "--bath", "99", "--pressure", "755", "--room", "22")
    size, brim = ((*typed, *volume) for volume in (("--flask-size", "125"), ("--volume", "141.2")))
    words = "(molar mass 5 % and the spread of what was assumed)"
    read = [" ".join(invoke(*typed).output.split()) for typed in (size, brim)]
    assert [words in text for text in read] == [True, False]


def test_a_slip_behind_which_no_compound_stands_out(invoke):
    typed = ("--empty", "60.000", "--condensed", "60.000", "--volume", "144", "--prior=commerce")
    assert "With it set right: nothing above 5 %." in invoke("match", *typed).output


def test_version(run: Run) -> None:
    outcome = run("--version")
    assert outcome.status == 0
    assert outcome.output.startswith("identify-unknown ")


@pytest.mark.parametrize("arguments", [(), ("--help",)])
def test_help_names_the_commands(run: Run, arguments: tuple[str, ...]) -> None:
    outcome = run(*arguments)
    assert outcome.status == 0
    assert {"match", "candidates", "--install-completion"} <= set(outcome.output.split())


COMMANDS = ["match", "candidates", "composition", "formula", "boiling-point", "molar-mass"]
COMMANDS += ["check-stock", "section", "plan", "cards", "new", "demo"]
TABLE_COMMANDS = ["show", "find", "build", "index"]
FORMS = ["page", "section", "stock"]


@pytest.mark.parametrize("command", COMMANDS)
def test_help_has_a_worked_example(run: Run, command: str) -> None:
    outcome = run(command, "--help")
    assert outcome.status == 0
    assert f"\n    identify-unknown {command} " in outcome.output


@pytest.mark.parametrize(
    "command",
    [
        *COMMANDS,
        *(f"candidates {one}" for one in TABLE_COMMANDS),
        *(f"new {one}" for one in FORMS),
    ],
)
def test_help_fits_a_narrow_terminal(
    run: Run, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    outcome = run(*command.split(), "--help")
    assert [line for line in outcome.output.splitlines() if len(line) > 80] == []


def test_completion() -> None:
    done = outside(_IDENTIFY_UNKNOWN_COMPLETE="source_bash")
    assert done.returncode == 0
    assert b"identify-unknown" in done.stdout


def test_json_keeps_its_contract(run: Run) -> None:
    outcome = run("match", "--label", "C-9", *ETHANOL[:4], "--format", "json", "--top", "2")
    (answer,) = json.loads(outcome.output)
    assert (outcome.status, outcome.complaints) == (0, "")
    assert {"label", "verdict", "molar_mass", "candidates", "none_of_these"} <= set(answer)
    assert {"slips", "findings"} <= set(answer)
    assert answer["label"] == "C-9"
    assert answer["verdict"] in ("single match", "several matches", "no match")
    assert [candidate["rank"] for candidate in answer["candidates"]] == [1, 2]
    assert 0.0 <= answer["none_of_these"] <= 1.0
    first = answer["candidates"][0]
    names = "rank name cas smiles inchikey formula molar_mass boiling_point_C probability plausible"
    assert {*names.split(), "deviations"} <= set(first)
    assert set(first["deviations"]) == {"molar_mass_percent", "boiling_point_C", "percent"}
    assert (first["name"], first["cas"], first["formula"]) == ("ethanol", "64-17-5", "C2H6O")
    assert first["plausible"] is True


def test_csv_has_one_row_a_candidate(run: Run) -> None:
    outcome = run("match", "--label", "C-9, left", *ETHANOL[:4], "--format", "csv", "--top", "2")
    rows = list(csv.DictReader(io.StringIO(outcome.output)))
    assert [row["rank"] for row in rows] == ["1", "2"]
    assert {row["label"] for row in rows} == {"C-9, left"}
    assert rows[0]["name"] == "ethanol"
    assert 0.0 < float(rows[0]["probability"]) <= 1.0
    assert rows[0]["plausible"] == "true"
    assert rows[0]["none_of_these"] == rows[1]["none_of_these"]


def test_weighings_give_the_molar_mass_and_the_shortcut_beside_it(run: Run) -> None:
    outcome = run("match", *WEIGHED, "--boiling-point", "64.6 C")
    assert outcome.status == 0
    page = " ".join(outcome.output.split())
    value, shortcut = (
        float(page.split(before)[1].split()[0]) for before in ("Molar mass ", "alone gives ")
    )
    # m R T / (P V) by hand: 0.2589 g, 287.4 mL, 98.9 C, 742.0 mmHg.
    assert shortcut == pytest.approx(0.2589 * 8.314463 * 372.05 / (98925.2 * 287.4e-6), abs=0.1)
    assert value > shortcut


def test_several_trials_share_the_empty_flask_and_the_bath(run: Run) -> None:
    outcome = run("match", *WEIGHED, "--condensed", "98.3740", "--format", "json")
    assert (outcome.status, outcome.complaints) == (0, "")


def test_fills_of_a_cylinder_add(run: Run) -> None:
    weighed, volume = WEIGHED[: WEIGHED.index("--volume")], "--water-volume"
    outcomes = [
        run("match", *weighed, *fills, "--format", "json")
        for fills in (
            (volume, "287.4"),
            (volume, "100.0 + 100.0 + 87.4"),
            (volume, "100.0 mL", volume, "100.0", volume, "87.4 mL"),
            (volume, "100.0 + 100.0", volume, "87.4"),
        )
    ]
    assert {(outcome.status, outcome.complaints) for outcome in outcomes} == {(0, "")}
    assert len({outcome.output for outcome in outcomes}) == 1


@pytest.mark.parametrize("columns", ["60", "80", "120"])
def test_table_fits(run: Run, monkeypatch: pytest.MonkeyPatch, columns: str) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    outcome = run("match", *WEIGHED, "--percent", "C=60 H=10", "--boiling-point=90", "--top=40")
    lines = outcome.output.splitlines()
    assert max(map(len, lines)) <= int(columns)
    for words in ("Molar mass", "none of these", "agrees", "Caution: "):
        assert words in outcome.output
    assert "\x1b" not in outcome.output


def test_caution_comes_once_and_last(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "two.csv"
    file.write_text("label,boiling_point_C\nC-1,56.1\nC-2,78.3\n")
    outcome = run("match", file)
    assert outcome.output.count("Caution: ") == 1
    assert outcome.output.index("C-1") < outcome.output.index("C-2")
    assert outcome.output.index("C-2") < outcome.output.index("Caution: ")
    assert "two.csv, row 3" in outcome.output


def test_terminal_without_utf8_gets_ascii() -> None:
    done = outside("match", *WEIGHED, "--percent", "C=37.5", PYTHONIOENCODING="ascii")
    assert done.returncode == 0
    assert done.stdout.isascii()
    assert b"+/-" in done.stdout
    assert b"\\x" not in done.stdout


@pytest.mark.parametrize(
    ("arguments", "status"),
    [
        (ETHANOL, 0),
        (("--molar-mass", "46.1", "--boiling-point", "400 C", "--percent", "Cl=90"), 1),
    ],
)
def test_strict(run: Run, arguments: tuple[str, ...], status: int) -> None:
    assert run("match", *arguments, "--strict").status == status
    assert run("match", *arguments).status == 0


@pytest.mark.parametrize("prior", ["classroom", "commerce", "uniform"])
def test_prior_is_passed_on(run: Run, prior: str) -> None:
    outcome = run("match", *ETHANOL, "--prior", prior, "--format", "json")
    assert json.loads(outcome.output)[0]["candidates"][0]["name"] == "ethanol"


def test_tolerance_decides_what_agrees(run: Run) -> None:
    def agrees(tolerance: str) -> bool:
        outcome = run(
            "match", "--molar-mass=47", "--boiling-point=78.3", "--format=json", tolerance
        )
        answers = json.loads(outcome.output)[0]["candidates"]
        return next(answer["plausible"] for answer in answers if answer["name"] == "ethanol")

    assert agrees("--tolerance=molar-mass=5")
    assert not agrees("--tolerance=molar-mass=1%")


def test_unusable_rows_do_not_stop_the_others(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "section.csv"
    file.write_text("label,boiling_point_C\nC-1,warm\nC-2,78.3\n")
    outcome = run("match", file)
    assert outcome.status == 2
    assert outcome.complaints.count("\n") == 1
    assert "section.csv, row 2, boiling_point_C" in outcome.complaints
    assert "C-2" in outcome.output


@pytest.mark.parametrize(
    ("name", "cas"),
    [
        ("ethanol", "64-17-5"),
        ("Ethanol", "64-17-5"),
        ("64-17-5", "64-17-5"),
        ("CCO", "64-17-5"),
        ("LFQSCWFLJHTTHZ-UHFFFAOYSA-N", "64-17-5"),
        ("ethyl alcohol", "64-17-5"),
        ("propan-2-one", "67-64-1"),
    ],
)
def test_candidates_by_any_name(run: Run, name: str, cas: str) -> None:
    outcome = run("candidates", name, "--format", "json")
    assert (outcome.status, outcome.complaints) == (0, "")
    assert [compound["cas"] for compound in json.loads(outcome.output)] == [cas]


def test_candidates_by_formula(run: Run) -> None:
    outcome = run("candidates", "C2H6O", "--format", "csv")
    names = {row["name"] for row in csv.DictReader(io.StringIO(outcome.output))}
    assert {"ethanol", "dimethyl ether"} <= names


def test_candidates_printed(run: Run) -> None:
    outcome = run("candidates", "ethanol")
    assert max(map(len, outcome.output.splitlines())) <= 80
    assert "C 52.14, H 13.13, O 34.73" in outcome.output
    assert "boiling point" in outcome.output


@pytest.mark.parametrize("columns", ["60", "80", "120"])
def test_explanation_printed(run: Run, monkeypatch: pytest.MonkeyPatch, columns: str) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    outcome = run("match", *WEIGHED, *ETHANOL[2:], "--explain", "toluene", "--top", "1")
    assert (outcome.status, outcome.complaints) == (0, "")
    assert max(map(len, outcome.output.splitlines())) <= int(columns)
    flat = " ".join(outcome.output.split())
    words = ("Why toluene (<0.1 %) is not ahead of ", "most against toluene", "all together")
    for text in (*words, "may not have boiled off"):
        assert text in flat
    assert flat.index("all together") < flat.index("An explanation takes") < flat.index("Caution: ")


def test_explanation_in_json_only_where_asked_for(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "two.csv"
    file.write_text("label,boiling_point_C\nC-1,56.1\nC-2,78.3\n")
    plain = json.loads(run("match", file, "--format", "json").output)
    outcome = run("match", file, "--format", "json", "--explain", "64-17-5")
    answers = json.loads(outcome.output)
    assert (outcome.status, outcome.complaints) == (0, "")
    assert all("explanation" not in answer for answer in plain)
    explanations = [answer.pop("explanation") for answer in answers]
    assert answers == plain
    for explanation, answer in zip(explanations, answers, strict=True):
        assert explanation["compound"]["name"] == "ethanol"
        assert explanation["compared_with"]["name"] != "ethanol"
        each = [line["log_odds"] for line in explanation["lines"]]
        assert sum(each) == pytest.approx(explanation["log_odds"], abs=1e-9)
        assert "ethanol" in explanation["sentence"]
        assert answer["label"] in ("C-1", "C-2")


def test_bottle_of_a_stock_table_explained(run: Run, tmp_path: Path) -> None:
    stock = tmp_path / "stock.csv"
    stock.write_text("label,identity\nS-1,ethanol\nS-2,acetone\n")
    outcome = run("match", *ETHANOL, "--candidates", stock, "--explain", "S-2")
    assert (outcome.status, outcome.complaints) == (0, "")
    assert "Why acetone" in outcome.output


@pytest.mark.parametrize(
    ("options", "fault"),
    [
        (("--explain", "cyclohexxane"), "did you mean cyclohexane"),
        (("--explain", "C7H14"), "which several compounds may share"),
        (("--explain", "S-2"), "is not a compound known here"),
        (("--explain", "ethanol", "--format", "csv"), "use --format json"),
    ],
)
def test_what_cannot_be_explained_is_one_line(
    run: Run, options: tuple[str, ...], fault: str
) -> None:
    outcome = run("match", *ETHANOL, *options)
    assert outcome.status == 2
    assert outcome.complaints.startswith("--explain: ")
    assert outcome.complaints.count("\n") == 1
    assert fault in outcome.complaints
    assert "ethanol" in outcome.output  # the match itself is answered


def test_interrupted(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("identify.cli.commands.match.runs_given", interrupt)
    assert run("match", *ETHANOL) == (130, "", "")


def test_failure_inside_is_one_line(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise RuntimeError("no\nluck")

    monkeypatch.setattr("identify.cli.commands.match.runs_given", fail)
    outcome = run("match", *ETHANOL)
    assert outcome.status == 3
    assert outcome.complaints.splitlines() == [
        "the program itself failed (RuntimeError: no luck); please report it"
    ]


def test_reader_that_leaves() -> None:
    formulas = ("C6H12", "C7H14", "C8H16", "C8H18", "C6H12O2", "C7H16", "C9H20")
    process = subprocess.Popen(
        [sys.executable, "-m", "identify", "candidates", *formulas, "--top=99", "--format=json"],
        cwd=CHECKOUT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.readline()
    process.stdout.close()
    complaints = process.stderr.read()
    process.stderr.close()
    assert process.wait() == 141
    assert complaints == b""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no such device there")
@pytest.mark.parametrize(
    "arguments", [("match", *ETHANOL), ("match", *ETHANOL, "--format=json"), ("--help",)]
)
def test_standard_output_that_is_full(arguments: tuple[str, ...]) -> None:
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "identify", *arguments],
            cwd=CHECKOUT,
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
        )
    assert done.returncode == 2
    (line,) = done.stderr.splitlines()
    assert line.startswith("standard output: cannot be used (")


def test_match_loads_nothing_slow() -> None:
    program = (
        "import sys; from identify.cli import main; status = main(sys.argv[1:]); "
        "print(status, *sys.modules, file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, "match", *WEIGHED, *ETHANOL[2:], "--explain", "ethanol"],
        cwd=CHECKOUT,
        capture_output=True,
        text=True,
        check=False,
    )
    status, *loaded = done.stderr.split()
    assert status == "0"
    slow = {"pandas", "pint", "scipy", "rdkit", "sklearn", "matplotlib", "openpyxl", "chemicals"}
    slow.add("pydantic")  # with which newer versions of typer convert what is typed
    assert slow.isdisjoint(name.partition(".")[0] for name in loaded)
    assert {"identify.guide", "identify.cli.terminal.markdown", "rich.markdown"}.isdisjoint(loaded)


@pytest.mark.parametrize(
    ("value", "uncertainty", "text"),
    [
        (46.2183, 0.6321, "46.2 ± 0.6 g/mol"),
        (46.2183, 0.1321, "46.22 ± 0.13 g/mol"),
        (46.2183, 0.0996, "46.22 ± 0.10 g/mol"),
        (146.2183, 12.6, "146 ± 13 g/mol"),
        (46.2183, float("nan"), "46.22 g/mol"),
        (46.2183, 0.0, "46.22 g/mol"),
    ],
)
def test_value_has_the_digits_of_its_uncertainty(
    value: float, uncertainty: float, text: str
) -> None:
    assert with_uncertainty(value, uncertainty, "g/mol") == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, "-"),
        (float("nan"), "-"),
        (0.04, "0.0"),
        (-12.34, "-12.3"),
        (9876.54, "+9876.5"),
        (98765.4, "+1e+05"),
    ],
)
def test_deviation(value: float | None, text: str) -> None:
    assert signed(value, 1) == text


@pytest.mark.parametrize(
    ("probability", "text"),
    [(0.0, "<0.1 %"), (0.5, "50 %"), (0.0949, "9.5 %"), (0.0999, "10 %"), (0.9951, "99.5 %")],
)
def test_probability(probability: float, text: str) -> None:
    assert percent_text(probability) == text


@pytest.mark.parametrize("width", range(1, 30))
def test_elided_text_fits_and_keeps_both_ends(width: int) -> None:
    name = "2,2,3,4-tetramethylpentane"
    short = elided(name, width)
    assert len(short) <= width
    if width >= 5:
        assert short[0] == name[0]
        assert short[-1] == name[-1]


@pytest.mark.parametrize(
    ("readings", "told", "not_told"),
    [
        (
            ("--molar-mass", "60.1", "--boiling-point", "82.3 C"),
            ["(molar mass 5 %, boiling point 2 °C)"],
            ["worst element", "points", "counts neither way"],
        ),
        (
            ("--percent", "C=60.0 H=13.4", "--top", "3"),
            ["worst element: in points", "(each element 0.4 points)"],
            ["molar mass", "tolerance (boiling", "counts neither way"],
        ),
        (
            ("--boiling-point", "64.6 C", "--density", "0.79 g/mL"),
            ["(boiling point 2 °C, density 0.01 g/mL)", "-: not in the table"],
            ["worst element", "each element"],
        ),
        (
            ("--boiling-point", "78.4 C", "--percent", "C=52.1 H=13.1", "--top", "1"),
            ["(each element 0.4 points, boiling point 2 °C)"],
            ["?: a boiling point"],
        ),
    ],
)
def test_footnote_is_of_what_was_read(
    run: Run, readings: tuple[str, ...], told: list[str], not_told: list[str]
) -> None:
    footnote = " ".join(
        run("match", *readings).output.partition("\noff: ")[2].split("\n\n")[0].split()
    )
    for text in told:
        assert text in footnote
    for text in not_told:
        assert text not in footnote


def test_colored_page_says_the_same() -> None:
    from identify.matching import match
    from identify.notebook.measurement import Measurement

    ranking = match(Measurement("C-9\x1b[31m", molar_mass=46.1, boiling_point=78.4))
    plain = ranking_lines(ranking, Page(80, color=False))
    colored = ranking_lines(ranking, Page(80, color=True))
    assert all("\x1b" not in line for line in plain)
    assert any("\x1b" in line for line in colored)
    stripped = [line.replace("\x1b[0m", "") for line in colored]
    for code in ("\x1b[1m", "\x1b[2m", "\x1b[31m", "\x1b[33m"):
        stripped = [line.replace(code, "") for line in stripped]
    assert stripped == plain


@pytest.mark.parametrize(
    ("annotation", "text", "value"),
    [
        (str, "a b", "a b"),
        (Path | None, "a.csv", Path("a.csv")),
        (list[Path] | None, "a.csv", Path("a.csv")),
        (OutputFormat, "json", OutputFormat.json),
        (OutputFormat, "yaml", None),
        (int, "12", 12),
        (int, "-12", None),
        (int, "1.5", None),
        (int, 12, None),
        (Annotated[int, typer.Option(min=2, max=5)], "2", 2),
        (Annotated[int, typer.Option(min=2, max=5)], "5", 5),
        (Annotated[int, typer.Option(min=2, max=5)], "1", None),
        (Annotated[int, typer.Option(min=2, max=5)], "6", None),
    ],
)
def test_what_options_make_of_plain_texts(annotation: Any, text: Any, value: Any) -> None:
    """What is refused here, the library says why."""
    plain = _Plain.of(annotation)
    assert plain is not None
    if value is None:
        with pytest.raises(ValueError, match=re.escape(str(text))):
            plain(text)
    else:
        assert plain(text) == value


@pytest.mark.parametrize("annotation", [float, bool, int | str, Measurement])
def test_options_that_are_no_plain_texts(annotation: Any) -> None:
    assert _Plain.of(annotation) is None
