"""``identify-unknown molar-mass``: its contract, its pages, and what it says to bad input."""

from __future__ import annotations

import csv
import io
import math
import os
import subprocess
import sys
import warnings
from pathlib import Path
from typing import Any

import pytest

from tests.command import Outcome, Run

CHECKOUT = Path(__file__).resolve().parents[1]
READINGS = {
    "empty": "98.1132",
    "condensed": "98.3721",
    "bath": "98.9 C",
    "room": "22.5 C",
    "pressure": "742.0 mmHg",
    "volume": "287.4",
}
THREE = ["98.3721", "98.3764", "98.3698"]
CARD = {"boiling-point": "64.6 C", "percent": "C=37.48 H=12.58 O=49.93"}
METHANOL = {"as": "methanol"}
CONSTANTS = {"vapor-pressure": "111.4 mmHg", "second-virial": "-544 cm3/mol", "density": "0.79"}

PAGE = """label = "C-14"
[conditions]
pressure = "742.0 mmHg"
room = "22.5 C"
[flask]
volume = "287.4 mL"
[[trial]]
empty = "98.1132 g"
condensed = "98.3721 g"
bath = "98.9 C"
"""
HEADER = "label,student,empty_g,condensed_g,bath_C,room_C,pressure_mmHg,volume_mL\n"
ROW = "98.1132,98.3721,98.9,22.5,742.0,287.4\n"


def options(**changes: str | list[str] | None) -> list[str]:
    """Return a run's options, with changes; None leaves one out, a list repeats it."""
    typed: list[str] = []
    named = {name.replace("_", "-"): value for name, value in changes.items()}
    for name, value in (READINGS | named).items():
        for each in [value] if isinstance(value, str) else value or []:
            typed += [f"--{name}", each]
    return typed


@pytest.fixture
def run(invoke: Run) -> Run:
    def call(*arguments: object) -> Outcome:
        # A warning of numpy's would land on standard error, beside what is said to the user.
        with warnings.catch_warnings():
            warnings.simplefilter("error", RuntimeWarning)
            return invoke("molar-mass", *arguments)

    return call


def finite(value: Any) -> bool:
    """Say whether all numbers in a JSON document are finite."""
    if isinstance(value, dict):
        return all(map(finite, value.values()))
    if isinstance(value, list):
        return all(map(finite, value))
    return not isinstance(value, float) or math.isfinite(value)


# ------------------------------------------------------------------------------- JSON, CSV


def test_json_keeps_its_contract(run):
    outcome = run(*options(condensed=THREE, **METHANOL), "--format", "json")
    assert (outcome.status, outcome.complaints) == (0, "")
    found = outcome.data
    keys = "value standard_uncertainty expanded_uncertainty ideal_gas assumed_identity"
    assert {*keys.split(), "corrections", "budget", "trials"} <= set(found)
    assert found["assumed_identity"] == "methanol"
    assert all({"name", "change"} <= set(one) for one in found["corrections"])
    assert all({"input", "standard_uncertainty", "share"} <= set(one) for one in found["budget"])
    assert [trial["trial"] for trial in found["trials"]] == [1, 2, 3]
    changes = sum(one["change"] for one in found["corrections"])
    assert changes == pytest.approx(found["value"] - found["ideal_gas"], abs=2e-4)
    assert sum(line["share"] for line in found["budget"]) == pytest.approx(1.0, abs=1e-4)
    assert found["expanded_uncertainty"] == pytest.approx(
        found["coverage_factor"] * found["standard_uncertainty"], rel=1e-3
    )
    assert finite(found)


def test_json_is_an_object_for_one_run_and_an_array_for_several(run, tmp_path):
    one, several = tmp_path / "one.toml", tmp_path / "several.csv"
    one.write_text(PAGE)
    several.write_text(f"{HEADER}C-1,Ada,{ROW}C-2,Ben,{ROW}")
    assert run(one, "--as", "methanol", "--format", "json").data["label"] == "C-14"
    both = run(several, "--as", "methanol", "--format", "json").data
    assert [(found["label"], found["student"]) for found in both] == [
        ("C-1", "Ada"),
        ("C-2", "Ben"),
    ]


def test_csv_has_one_row_a_run(run, tmp_path):
    file = tmp_path / "several.csv"
    file.write_text(f"{HEADER}C-1,Ada,{ROW}C-1,Ada,{ROW}C-2,Ben,{ROW}")
    outcome = run(file, "--as", "methanol", "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(outcome.output)))
    assert (outcome.status, outcome.complaints) == (0, "")
    assert [(row["label"], row["trials"]) for row in rows] == [("C-1", "2"), ("C-2", "1")]
    assert float(rows[0]["molar_mass"]) == pytest.approx(33.03, abs=0.05)
    assert rows[1]["findings"] == "single-trial"
    low, high = (float(rows[1][f"interval_95_{end}"]) for end in ("low", "high"))
    assert low < float(rows[1]["molar_mass"]) < high
    assert rows[1]["standard_deviation"] == ""


# ------------------------------------------------------------------------------- the page


@pytest.mark.parametrize("columns", ["60", "80", "120"])
@pytest.mark.parametrize(
    "changes",
    [
        METHANOL,
        {**METHANOL, "condensed": THREE},
        {"condensed": THREE},
        CARD,
        CONSTANTS,
        {**METHANOL, "barometer": "mercury", "latitude": "45", "height": "1600"},
        {**METHANOL, "volume": None, "water-volume": "100.0 + 100.0 + 87.4 mL"},
        {"as": "diethyl ether", "volume": None, "water-mass": "286 g", "water-temperature": "21 C"},
        {**METHANOL, "condensed": "98.3721 ± 5 g"},
        {**METHANOL, "label": "unknown " * 30},
    ],
)
def test_no_line_is_longer_than_the_page(run, monkeypatch, columns, changes):
    monkeypatch.setenv("COLUMNS", columns)
    outcome = run(*options(**changes))
    assert outcome.status == 0
    too_long = [line for line in outcome.output.splitlines() if len(line) > int(columns)]
    # Below 80 columns the tables of numbers stay as they are.
    assert not [line for line in too_long if int(columns) >= 80 or len(line) > 80]
    for words in ("Molar mass", "ideal-gas shortcut", "share of", "Working", "Caution: "):
        assert words in outcome.output
    assert "\x1b" not in outcome.output


@pytest.mark.parametrize(
    "changes", [{**METHANOL, "condensed": THREE}, {}, {"condensed": "99.9"}, CONSTANTS]
)
def test_a_terminal_without_utf8_gets_ascii(changes):
    done = subprocess.run(
        [sys.executable, "-m", "identify", "molar-mass", *options(**changes)],
        cwd=CHECKOUT,
        env={**os.environ, "COLUMNS": "80", "PYTHONIOENCODING": "ascii"},
        capture_output=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.isascii()
    assert b"+/-" in done.stdout
    assert b"\\x" not in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80


def test_the_working_can_be_left_out(run):
    full = run(*options(**METHANOL))
    short = run(*options(**METHANOL), "--no-show-work")
    assert "Working" in full.output
    assert "Working" not in short.output
    assert "M = m R T" not in short.output
    assert short.output.splitlines()[0] == full.output.splitlines()[0]


@pytest.mark.parametrize("changes", [METHANOL, {**METHANOL, "condensed": THREE}, CONSTANTS, CARD])
def test_the_working_is_the_same_in_json_as_printed(run, changes):
    printed = " ".join(run(*options(**changes)).output.split("Working", 1)[1].split())
    steps = run(*options(**changes), "--format", "json").data["work"]
    assert steps
    place = 0
    for step in steps:
        for words in (step["what"], step["formula"], f"= {step['numbers']}", f"= {step['result']}"):
            # The captured page is not in UTF-8.
            shown = " ".join(words.replace("±", "+/-").replace("°", " ").split())
            found = printed.replace("°", " ").replace("±", "+/-")
            found = " ".join(found.split())
            assert shown in found[place:]
            place = found.index(shown, place)


def test_the_working_has_no_correction_that_was_left_out(run):
    output = run(*options(vapor_pressure="111.4 mmHg")).output
    assert not {"inf", "nan"} & set(output.replace("(", " ").split())


# ------------------------------------------------------------------------ the liquid by name


@pytest.mark.parametrize(
    ("name", "assumed"),
    [
        ("methanol", "methanol"),
        ("Methanol", "methanol"),
        ("67-56-1", "methanol"),
        ("CO", "methanol"),
        ("methyl alcohol", "methanol"),
        ("propan-2-one", "acetone"),
        ("LFQSCWFLJHTTHZ-UHFFFAOYSA-N", "ethanol"),
    ],
)
def test_the_liquid_by_any_name(run, name, assumed):
    assert run(*options(), "--as", name, "--format", "json").data["assumed_identity"] == assumed


@pytest.mark.parametrize("name", ["unobtainium", "", "C1CC(", "99-99-9"])
def test_a_liquid_that_is_not_in_the_table(run, tmp_path, name):
    file = tmp_path / "several.csv"
    file.write_text(f"{HEADER}C-1,Ada,{ROW}C-2,Ben,{ROW}")
    for given in (options(), [file]):
        outcome = run(*given, "--as", name)
        assert (outcome.status, outcome.output) == (2, "")
        assert outcome.complaints.startswith("--as: ")
        assert name in outcome.complaints
        assert outcome.complaints.count("\n") == 1  # once, not once a run


def test_a_stock_table_of_ones_own(run, tmp_path):
    stock = tmp_path / "stock.csv"
    stock.write_text("label,identity\nS-1,methanol\nS-2,acetone\n")
    outcome = run(*options(), "--as", "methanol", "--candidates", stock, "--format", "json")
    assert outcome.status == 0
    assert outcome.data["value"] == pytest.approx(33.03, abs=0.05)
    assert run(*options(), "--as", "ethanol", "--candidates", stock).status == 2


# ------------------------------------------------------------------------------- constants


def test_constants_reproduce_the_named_liquid(run):
    by_name = run(*options(**METHANOL), "--format", "json").data
    by_constants = run(*options(**CONSTANTS), "--format", "json").data
    assert by_constants["value"] == pytest.approx(by_name["value"], abs=0.02)
    assert "constants" in by_constants["assumed_identity"]


@pytest.mark.parametrize("missing", CONSTANTS)
def test_a_missing_constant_is_said(run, missing):
    kept = {name: value for name, value in CONSTANTS.items() if name != missing}
    found = run(*options(**kept), "--format", "json").data
    assert "correction-left-out" in [finding["code"] for finding in found["findings"]]


@pytest.mark.parametrize(
    ("changes", "option", "words"),
    [
        ({"second-virial": "-472 mL"}, "--second-virial", "molar volume"),
        ({"second-virial": "much"}, "--second-virial", "number"),
        ({"second-virial": "-1e9"}, "--second-virial", "below"),
        ({"second-virial": "0 ± 100 cm3/mol"}, "--second-virial", "zero"),
        ({"vapor-pressure": "-3 mmHg"}, "--vapor-pressure", "negative"),
        ({"vapor-pressure": "0"}, "--vapor-pressure", "zero"),
        ({"vapor-pressure": "22.5 C"}, "--vapor-pressure", "temperature"),
        ({"density": "0"}, "--density", ""),
        ({"density": "790"}, "--density", "above"),
        ({"density": "nan"}, "--density", "number"),
        ({**METHANOL, "density": "0.79"}, "--as", "not both"),
    ],
)
def test_constants_that_cannot_be_used(run, changes, option, words):
    outcome = run(*options(**changes))
    assert (outcome.status, outcome.output) == (2, "")
    assert outcome.complaints.startswith(f"{option}: ")
    assert words in outcome.complaints
    assert outcome.complaints.count("\n") == 1


VAPOR = {"vapor-mass": "0.184", "vapor-volume": "76.2", "vapor-temperature": "98"}
NO_FLASK = dict.fromkeys(READINGS)


@pytest.mark.parametrize(
    ("pressure", "shortcut"),
    [
        ({}, 73.54),
        ({"vapor-pressure": "101.3 kPa"}, 73.56),
        ({"vapor-pressure": "700 mmHg"}, 79.84),
        ({"pressure": "700 mmHg"}, 79.84),
    ],
)
def test_a_vapor_in_a_syringe(run, pressure, shortcut):
    outcome = run(*options(**NO_FLASK | VAPOR | pressure), "--format", "json")
    assert (outcome.status, outcome.complaints) == (0, "")
    assert outcome.data["ideal_gas"] == pytest.approx(shortcut, abs=0.006)
    assumed = [one["condition"] for one in outcome.data["assumed"]]
    assert assumed == ([] if pressure else ["pressure"])


def test_a_vapor_pressure_beside_a_pressure_that_nobody_wrote(run):
    typed = options(pressure=None, **CONSTANTS | {"vapor-pressure": "700 mmHg"})
    codes = [finding["code"] for finding in run(*typed, "--format", "json").data["findings"]]
    assert {"boils-in-room", "condition-assumed"} <= set(codes)


# ------------------------------------------------------------------------------- barometer


def test_a_mercury_barometer_is_corrected(run):
    plain = run(*options(**METHANOL), "--format", "json").data
    mercury = {**METHANOL, "barometer": "mercury", "latitude": "45", "height": "1600"}
    found = run(*options(**mercury), "--format", "json").data
    sizes = {one["name"]: one["change"] for one in found["corrections"]}
    assert sizes["barometer: temperature of the mercury"] == pytest.approx(0.104, abs=0.002)
    assert sizes["barometer: local gravity"] == pytest.approx(0.0152, abs=0.001)
    assert found["ideal_gas"] == plain["ideal_gas"]
    assert found["value"] > plain["value"]


@pytest.mark.parametrize("kind", ["aneroid", "digital"])
def test_other_barometers_are_not(run, kind):
    plain = run(*options(**METHANOL), "--format", "json").data
    found = run(*options(**METHANOL, barometer=kind), "--format", "json").data
    assert found["value"] == plain["value"]


# ----------------------------------------------------------------------- what cannot be read


@pytest.mark.parametrize("name", ["pressure", "room", "bath"])
def test_a_missing_condition_is_assumed_and_named(run, name):
    outcome = run(*options(**METHANOL, **{name: None}), "--format", "json")
    assert (outcome.status, outcome.complaints) == (0, "")
    known = run(*options(**METHANOL), "--format", "json").data
    assert outcome.data["standard_uncertainty"] > known["standard_uncertainty"]
    (assumed,) = (one for one in outcome.data["assumed"] if one["condition"] == name)
    assert 0.0 < assumed["share"] < 1.0
    assert "condition-assumed" in [finding["code"] for finding in outcome.data["findings"]]


@pytest.mark.parametrize("name", ["volume", "empty", "condensed"])
def test_a_missing_reading_is_named(run, name):
    outcome = run(*options(**METHANOL, **{name: None}))
    assert (outcome.status, outcome.output) == (2, "")
    assert len(outcome.complaints.splitlines()) == 1
    assert name.split("_")[0] in outcome.complaints


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"bath": "nan"}, "--bath"),
        ({"bath": "98.9 ± nan C"}, "--bath"),
        ({"pressure": "inf"}, "--pressure"),
        ({"pressure": "742 ± 742 mmHg"}, "third"),
        ({"volume": "lots"}, "--volume"),
        ({"volume": ""}, "--volume"),
        ({"volume": "0.5 ± 300 mL"}, "third"),
        ({"condensed": "1e308"}, "--condensed"),
        ({"condensed": "98.3721 ± 0 g"}, "--condensed"),
        ({"bath": "-300 C"}, "absolute zero"),
        ({"bath": "98.9 ± 200 C"}, "third"),
        ({"latitude": "91", "barometer": "mercury"}, "--latitude"),
        ({"barometer": "water"}, "--barometer"),
        ({"condensed": THREE, "bath": ["98.9", "98.8"]}, "2 times for 3 trials"),
        ({"volume": None, "water-mass": "0 g", "water-temperature": "20 C"}, "volume"),
        ({"room": "800 C"}, "room"),
        ({"room": "-80 C"}, "room"),
        ({"room": "800 C", "barometer": "mercury"}, "room"),
        ({"humidity": "150 %"}, "humidity"),
        (
            {"volume": None, "water-mass": "286", "water-temperature": "0 C"},
            "temperature of the water",
        ),
        (
            {"volume": None, "water-mass": "286", "water-temperature": "200 C"},
            "temperature of the water",
        ),
    ],
)
def test_readings_that_cannot_be_used(run, changes, words):
    outcome = run(*options(**METHANOL, **changes))
    assert (outcome.status, outcome.output) == (2, "")
    assert words in outcome.complaints
    assert len(outcome.complaints.splitlines()) == 1


def test_nothing_given(run):
    outcome = run()
    assert (outcome.status, outcome.output) == (2, "")
    assert outcome.complaints.startswith("nothing to work on")


def test_files_and_options_together(run, tmp_path):
    file = tmp_path / "C-14.toml"
    file.write_text(PAGE)
    outcome = run(file, "--bath", "98.9", "--as", "methanol")
    assert (outcome.status, outcome.output) == (2, "")
    assert "not both" in outcome.complaints


def test_a_run_without_trials(run, tmp_path):
    file = tmp_path / "card.toml"
    file.write_text('label = "C-14"\n[card]\nmolar_mass = "32.4 g/mol"\n')
    outcome = run(file, "--as", "methanol")
    assert (outcome.status, outcome.output) == (2, "")
    assert "nothing was weighed" in outcome.complaints
    assert "card.toml" in outcome.complaints


@pytest.mark.parametrize("text", ["not = = toml", "\x00\x01\x02", ""])
def test_one_file_of_several_that_cannot_be_read(run, tmp_path, text):
    good, bad, last = (tmp_path / name for name in ("good.toml", "bad.toml", "last.toml"))
    good.write_text(PAGE)
    bad.write_text(text)
    last.write_text(PAGE.replace("C-14", "C-15"))
    outcome = run(good, bad, tmp_path / "none.toml", last, "--as=methanol", "--format=json")
    assert outcome.status == 2
    assert [found["label"] for found in outcome.data] == ["C-14", "C-15"]
    assert len(outcome.complaints.splitlines()) == 2
    assert "bad.toml" in outcome.complaints
    assert "none.toml" in outcome.complaints


def test_a_bad_row_does_not_stop_the_others(run, tmp_path):
    file = tmp_path / "several.csv"
    file.write_text(f"{HEADER}C-1,Ada,{ROW}C-2,Ben,{ROW.replace('98.9', 'hot')}C-3,Cy,{ROW}")
    outcome = run(file, "--as", "methanol", "--format", "json")
    assert outcome.status == 2
    assert [found["label"] for found in outcome.data] == ["C-1", "C-3"]
    assert "several.csv, row 3" in outcome.complaints


# ------------------------------------------------------------- readings that cannot be right


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"condensed": "98.1132"}, "mass-unchanged"),
        ({"condensed": "98.1130"}, "mass-lost"),
        ({"condensed": "48.0"}, "mass-lost"),
        ({"condensed": ["98.3721", "97.9"]}, "mass-lost"),
        ({"condensed": ["98.0", "98.1264"]}, "mass-lost"),
        ({"empty": "98", "condensed": "99"}, "budget-not-linear"),
        ({"condensed": "98.3721 ± 5 g"}, "gain-small"),
        ({"room": "22.5 ± 50 C"}, "budget-not-linear"),
        ({"room": "72 C"}, "temperature-unit"),
        ({"room": "295 C"}, "temperature-unit"),
        ({"bath": "210 C"}, "temperature-unit"),
        ({"bath": "372 C"}, "temperature-unit"),
        ({"bath": "98.9 F"}, "bath-below-boiling-point"),
        ({"bath": "98.9 K"}, "temperature-unit"),
        ({"bath": "10 C"}, "temperature-implausible"),
        ({"bath": "1000 C"}, "temperature-implausible"),
        ({"bath": "-200 C"}, "temperature-implausible"),
        ({"pressure": "742 kPa"}, "pressure-unit"),
        ({"pressure": "29.2 mmHg"}, "pressure-unit"),
        ({"pressure": "0.98 mmHg"}, "pressure-unit"),
        ({"pressure": "0.001 Pa"}, "pressure-implausible"),
        ({"pressure": "75000 mmHg"}, "pressure-unit"),
        ({"volume": "0.001 mL"}, "volume-unit"),
        ({"volume": "0.000001 mL"}, "volume-implausible"),
        ({"volume": "999 L"}, "volume-unit"),
        ({"volume": None, "water-mass": "286", "water-temperature": "99 C"}, "temperature-unit"),
        ({"as": "methane"}, "boils-in-room"),
        ({"as": "propane"}, "boils-in-room"),
        ({"as": "butane"}, "boils-in-room"),
        ({"as": "diethyl ether", "room": "40 C"}, "boils-in-room"),
        ({"as": "naphthalene"}, "bath-below-boiling-point"),
        ({"as": "glycerol"}, "bath-below-boiling-point"),
        ({"as": None, "condensed": "98.1132"}, "mass-unchanged"),
        ({"as": None, "condensed": "98.0132"}, "mass-lost"),
        ({"as": None, "bath": "40 C"}, "nothing-plausible"),
        ({"as": None, "density": "1 kg/m3"}, "molar-mass-impossible"),
        ({"as": None, "vapor-pressure": "0.0001 mmHg"}, "correction-left-out"),
        ({"as": None, "second-virial": "90000"}, "constant-unusual"),
    ],
)
def test_readings_that_cannot_be_right_are_found(run, changes, code):
    given = options(**(METHANOL | changes))
    printed, outcome = run(*given), run(*given, "--format", "json")
    assert (outcome.status, outcome.complaints) == (printed.status, printed.complaints) == (0, "")
    found = outcome.data
    assert code in [finding["code"] for finding in found["findings"]]
    assert code in printed.output
    assert finite(found)
    assert found["standard_uncertainty"] > 0.0
    assert sum(line["share"] for line in found["budget"]) == pytest.approx(1.0, abs=1e-4)
    if not 10.0 <= found["value"] <= 1000.0:
        assert "error" in [finding["severity"] for finding in found["findings"]]
    simulation = found["monte_carlo"]
    if simulation is not None:
        assert 0.0 < simulation["interval"][0] < simulation["interval"][1] < 1e4


@pytest.mark.parametrize(
    "changes",
    [
        {"condensed": ["98.3721"] * 3, "empty": ["98.1132"] * 3},
        {"condensed": [f"98.{3700 + place % 60}" for place in range(100)]},
        {"humidity": "50 ± 200 %"},
        {"volume": None, "water-mass": "286.0", "water-temperature": "4 C"},
        {"latitude": "-90"},
    ],
)
def test_unusual_readings_are_worked_out(run, changes):
    outcome = run(*options(**METHANOL, **changes), "--technique", "none", "--format", "json")
    assert (outcome.status, outcome.complaints) == (0, "")
    assert outcome.data["value"] == pytest.approx(33.2, abs=0.2)
    doubted = {one["code"] for one in outcome.data["findings"] if one["severity"] != "note"}
    assert doubted == {"liquid-contradicted"}  # methanol has 32.04 g/mol
