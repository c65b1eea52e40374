"""A run whose liquid could not have filled the flask says so, where the amount was written."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from identify import Measurement, match
from identify.notebook.measurement import IN_SYRINGE, Conditions, Flask, Trial
from identify.tables import read_runs
from tests.command import Run

# 0.71 mL of acetone fill 289 mL with vapor: M P V / (Z R T) over 0.79 g/mL (CRC Handbook, from
# memory).
WEIGHED = Trial(empty="98.3980 g", condensed="98.8548 g", bath="98.6 C")
ACETONE = Measurement(
    "D-05",
    boiling_point=56.1,
    percent={"C": 62.04, "H": 10.41, "O": 27.55},
    conditions=Conditions(pressure=745.6, room=23.4),
    flask=Flask(volume=288.8),
    trials=[WEIGHED],
)


def told(run: Measurement) -> list[str]:
    return [one.message for one in match(run).findings if one.code == "liquid-too-little"]


def poured(*amounts: str | None, run: Measurement = ACETONE) -> Measurement:
    return replace(run, trials=[replace(WEIGHED, liquid=amount) for amount in amounts])


@pytest.mark.parametrize(
    ("amounts", "begins"),
    [
        ((None,), None),  # nothing was written
        (("3 mL",), None),
        (("0.7 mL",), None),
        (("0.65 mL",), None),  # as well as a pipet is read
        (("0.6 mL",), "0.6 mL of liquid cannot fill the flask: it takes 0.71 mL of acetone"),
        (("300 uL",), "300 uL of liquid cannot fill"),
        (("0.003 L",), None),
        (("3 mL", "0.3 mL"), "Trial 2: 0.3 mL of liquid"),
        (("0.5 mL", None, "0.3 mL"), "Trials 1 and 3: 0.3 mL of liquid"),
        (("3 mL", "3 mL", "3 mL"), None),
    ],
)
def test_the_least_that_fills_the_flask(
    amounts: tuple[str | None, ...], begins: str | None
) -> None:
    found = told(poured(*amounts))
    if begins is None:
        assert found == []
    else:
        (message,) = found
        assert message.startswith(begins)


def test_a_smaller_flask_takes_less() -> None:
    small = replace(ACETONE, flask=Flask(volume=144.0))
    assert told(poured("0.5 mL")) != []
    assert told(poured("0.5 mL", run=small)) == []


def test_what_is_written_once_holds_for_all_trials() -> None:
    conditions = replace(ACETONE.conditions, liquid="0.3 mL")
    (message,) = told(replace(ACETONE, conditions=conditions, trials=[WEIGHED, WEIGHED]))
    assert message.startswith("Trials 1 and 2")


def test_a_syringe_is_not_filled_by_pouring() -> None:
    drawn = Trial(
        gain="0.0765 g", bath="98.6 C", liquid="0.1 mL", vaporized_in=IN_SYRINGE,
        flask=Flask(volume=40.0),
    )  # fmt: skip
    assert told(replace(ACETONE, trials=[drawn])) == []


def test_the_match_does_not_look_at_it() -> None:
    without, with_it = match(poured(None)), match(poured("0.3 mL"))
    assert [one.probability for one in without.candidates] == [
        one.probability for one in with_it.candidates
    ]


RECORD = """label = "D-05"
[card]
boiling_point = "56.1 C"
percent = {C = 62.04, H = 10.41, O = 27.55}
[conditions]
pressure = "745.6 mmHg"
room = "23.4 C"
[flask]
volume = "288.8 mL"
[[trial]]
empty = "98.3980 g"
condensed = "98.8548 g"
bath = "98.6 C"
liquid = "0.4 mL"
"""
TABLE = """label,empty_g,condensed_g,bath_C,room_C,pressure_mmHg,volume_mL,boiling_point_C,liquid_mL
D-05,98.3980,98.8548,98.6,23.4,745.6,288.8,56.1,0.4
"""


@pytest.mark.parametrize(("name", "text"), [("run.toml", RECORD), ("runs.csv", TABLE)])
def test_records_and_tables_have_it(tmp_path: Path, name: str, text: str) -> None:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    (run,) = read_runs(path)
    assert str(run.trials[0].liquid) == "0.4 mL"
    assert told(run)


@pytest.mark.parametrize(("amount", "is_told"), [("0.4", True), ("3", False)])
def test_a_molar_mass_by_itself_says_so_too(invoke: Run, amount: str, is_told: bool) -> None:
    readings = ("--gain", "0.4568", "--bath", "98.6", "--room", "23.4", "--pressure", "745.6")
    more = ("--volume", "288.8", "--liquid", amount, "--as", "acetone", "--format", "json")
    _, output, _ = invoke("molar-mass", *readings, *more)
    codes = [one["code"] for one in json.loads(output)["findings"]]
    assert ("liquid-too-little" in codes) == is_told


def test_a_section_says_so_too(invoke: Run, tmp_path: Path) -> None:
    path = tmp_path / "section.csv"
    path.write_text(TABLE, encoding="utf-8")
    _, output, _ = invoke("section", path, "--format", "json")
    (student,) = json.loads(output)["students"]
    assert "liquid-too-little" in [one["code"] for one in student["findings"]]
