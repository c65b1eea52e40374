"""Consistency findings: each raised by what it is for, and silent beside it."""

from __future__ import annotations

from dataclasses import replace
from math import exp, hypot

import pytest

from identify import Combustion, Conditions, Flask, Measurement, Trial, check
from identify.checks.facts import Facts

# Ethanol as a class would have measured it: nothing is wrong with it.
CONDITIONS = Conditions(pressure="742.0 mmHg", room="22.5 C")
FLASK = Flask(volume="287.4 mL")
TRIAL = Trial(empty="98.1132 g", condensed="98.5097 g", bath="98.9 C")
CLEAN = Measurement(
    "C-14",
    percent={"C": 52.1, "H": 13.1, "O": 34.7},
    boiling_point="78.3 C",
    conditions=CONDITIONS,
    flask=FLASK,
    trials=[TRIAL],
)
ETHANOL = {"C": 52.1, "H": 13.1, "O": 34.7}
BURNED = Combustion("0.4310 g", "0.8235 g", "0.5057 g")


def varied(**fields) -> Measurement:
    """Return the clean run with other readings; a trial's and the flask's by their names."""
    trial = {name: fields.pop(name) for name in ("empty", "condensed", "bath") if name in fields}
    conditions = {
        name: fields.pop(name) for name in ("pressure", "room", "humidity") if name in fields
    }
    run = replace(CLEAN, conditions=replace(CONDITIONS, **conditions))
    if trial:
        fields["trials"] = [replace(TRIAL, **trial)]
    if "volume" in fields:
        fields["flask"] = Flask(volume=fields.pop("volume"))
    return replace(run, **fields)


def repeated(*gains: float, **more) -> Measurement:
    """Return a run with a trial for each gain [g]."""
    trials = [replace(TRIAL, condensed=f"{98.1132 + gain:.4f} g") for gain in gains]
    return replace(CLEAN, trials=trials, **more)


def found(run: Measurement, **options) -> list[tuple[str, str]]:
    return [(finding.code, finding.severity) for finding in check(run, **options)]


def shown_numbers(finding) -> dict[str, float]:
    return {name: round(value, 3) for name, value in finding.numbers.items()}


@pytest.mark.parametrize(
    "run",
    [
        CLEAN,
        Measurement("C-14"),
        Measurement("C-14", boiling_point=78.3, molar_mass=46.1),
        # Its one hydrogen atom, 0.4 %, is not on the card.
        Measurement("C-14", percent={"C": 9.9, "F": 23.4, "Cl": 14.5, "I": 51.9}),
        # The simplest formula has an odd number of hydrogen atoms, its double does not.
        Measurement("C-14", percent={"C": 53.3, "H": 11.2, "O": 35.5}),
        Measurement("C-14", percent={"C": 52.1, "H": 13.1, "O": 34.7}, molar_mass=46.1),
        varied(pressure=None),
        varied(room=None),
        varied(bath=None),
        varied(empty=None, condensed=None),
        varied(boiling_point=None),
        varied(percent={}),
        varied(trials=[]),
        varied(flask=Flask(water_mass="286.6 g", water_temperature="23 C")),
        varied(flask=Flask(water_volume="287.4 mL")),
        varied(boiling_point="77.6 C", boiling_point_at="742 mmHg"),
        repeated(0.3965, 0.4012, 0.3917),
    ],
)
def test_a_clean_run_has_no_findings(run):
    assert check(run) == []


# ------------------------------------------------------------------- weighings, bath, composition

GAINS_WITH_NONE = ("0.3965 g", "0 g", "0.3970 g")

# Code and severity; the run that raises it; what its message quotes; its numbers; the nearest run
# that does not raise it.
RAISED = {
    "pressure of the boiling point without its unit": (
        ("boiling-point-pressure", "warning"),
        Measurement("C-14", boiling_point=64.6, boiling_point_at=98.9),
        "98.9 kPa would be a laboratory's.",
        {"read_hPa": 131.9, "meant_hPa": 989.0},
        Measurement("C-14", boiling_point=64.6, boiling_point_at="98.9 mmHg"),
    ),
    "same mass twice": (
        ("mass-unchanged", "error"),
        varied(condensed="98.1132 g"),
        "the mass of the empty one, 98.1132 g.",
        {"gain_g": 0.0},
        varied(condensed="98.5097 g"),
    ),
    "one gain of three is nothing": (
        ("mass-unchanged", "error"),
        replace(CLEAN, trials=[Trial(gain=g, bath="98.9 C") for g in GAINS_WITH_NONE]),
        "Trial 2: no gain is written, 0 g.",
        {"gain_g": 0.0},
        replace(CLEAN, trials=[Trial(gain=g, bath="98.9 C") for g in GAINS_WITH_NONE[::2]]),
    ),
    "masses exchanged": (
        ("mass-lost", "error"),
        varied(empty="98.5097 g", condensed="98.1132 g"),
        "is 0.3965 g lighter than the empty one",
        {"gain_g": -0.3965},
        CLEAN,
    ),
    "coarse balance": (
        ("gain-small", "warning"),
        varied(empty="98.11 g", condensed="98.51 g"),
        "The gain of 0.4 g is known only to about 0.014 g, 4 % of it.",
        {"gain_g": 0.4, "standard_uncertainty_g": 0.014},
        varied(empty="98.113 g", condensed="98.510 g"),
    ),
    "stated uncertainty": (
        ("gain-small", "warning"),
        varied(empty="98.1132(80) g", condensed="98.5097(80) g"),
        "The gain of 0.3965 g is known only to about 0.011 g, 3 % of it.",
        {"gain_g": 0.396, "standard_uncertainty_g": 0.011},
        varied(empty="98.1132(60) g", condensed="98.5097(60) g"),
    ),
    "printed size": (
        ("volume-nominal", "warning"),
        Measurement("C-14", flask=Flask(volume="250 mL")),
        "The volume of the flask, 250 mL, is exactly what is printed on a flask of 250 mL.",
        {"volume_mL": 250.0, "brim_volume_from_mL": 262.5, "brim_volume_to_mL": 312.5},
        Measurement("C-14", flask=Flask(volume="250.3 mL")),
    ),
    "printed size in liters": (
        ("volume-nominal", "warning"),
        Measurement("C-14", flask=Flask(volume="0.125 L")),
        "The volume of the flask, 0.125 L, is exactly what is printed on a flask of 125 mL.",
        {"volume_mL": 125.0, "brim_volume_from_mL": 131.25, "brim_volume_to_mL": 156.25},
        Measurement("C-14", flask=Flask(volume="0.1407 L")),
    ),
    "printed size as water": (
        ("volume-nominal", "warning"),
        Measurement("C-14", flask=Flask(water_volume="500.0 mL")),
        "The volume of the flask, 500.0 mL, is exactly",
        {"volume_mL": 500.0, "brim_volume_from_mL": 525.0, "brim_volume_to_mL": 625.0},
        Measurement("C-14", flask=Flask(water_volume="500.5 mL")),
    ),
    "two volumes": (
        ("volumes-disagree", "warning"),
        Measurement("C-14", flask=Flask(volume="143.7 mL", water_mass="120.0 g")),
        "The flask's volume is written as 143.7 mL, but the water that filled it as 120.0 g.",
        {"volume_mL": 143.7, "water_mL": 120.0},
        Measurement("C-14", flask=Flask(volume="143.7 mL", water_mass="143.1 g")),
    ),
    "molar mass beside weighings": (
        ("weighings-unused", "note"),
        replace(CLEAN, percent={}, molar_mass="46.9 g/mol"),
        "A molar mass is given, 46.9 g/mol, and was used; the weighings, which give about",
        {"molar_mass_g_per_mol": 46.9},
        replace(CLEAN, percent={}, trials=(), molar_mass="46.9 g/mol"),
    ),
    "digit too many": (
        ("weighing-implausible", "error"),
        replace(CLEAN, percent={}, trials=[replace(TRIAL, condensed="108.5097 g")]),
        "The readings give about 1131 g/mol, which no volatile liquid has.",
        {"ideal_molar_mass_g_per_mol": 1131.144},
        replace(CLEAN, percent={}, trials=[replace(TRIAL, condensed="104.4 g")]),
    ),
    "zero in the gain": (
        ("weighing-implausible", "error"),
        replace(CLEAN, percent={}, trials=[replace(TRIAL, condensed="98.1532 g")]),
        "The readings give about 4.352 g/mol",
        {"ideal_molar_mass_g_per_mol": 4.352},
        replace(CLEAN, percent={}, trials=[replace(TRIAL, condensed="98.2132 g")]),
    ),
    "two trials apart": (
        ("trials-scatter", "warning"),
        repeated(0.3965, 0.4400),
        "43.1, 47.9 g/mol by the ideal-gas shortcut, a standard deviation of 7 %",
        {"standard_deviation_percent": 7.354, "chi_squared": 11.81},
        repeated(0.3965, 0.4200),
    ),
    "one of three apart": (
        ("trials-scatter", "warning"),
        repeated(0.3965, 0.4550, 0.3990),
        "43.1, 49.5, 43.4 g/mol by the ideal-gas shortcut",
        {"standard_deviation_percent": 7.906, "chi_squared": 27.49},
        repeated(0.3965, 0.4150, 0.3990),
    ),
    "cold bath": (
        ("bath-below-boiling-point", "error"),
        varied(bath="76.0 C"),
        "A bath of 76.0 °C is below the boiling point: a liquid that boils at 77.5 °C",
        {"bath_C": 76.0, "boiling_point_at_pressure_C": 77.505, "margin_K": -1.505},
        varied(bath="82.5 C"),
    ),
    "bath that may be read too low": (
        ("bath-near-boiling-point", "warning"),
        varied(bath="76.2 C"),
        "A bath of 76.2 °C is no higher than the boiling point",
        {"bath_C": 76.2, "boiling_point_at_pressure_C": 77.505, "margin_K": -1.305},
        varied(bath="82.5 C"),
    ),
    "cool bath": (
        ("bath-near-boiling-point", "warning"),
        varied(bath="82.4 C"),
        "A bath of 82.4 °C is only 4.9 °C above the boiling point",
        {"bath_C": 82.4, "boiling_point_at_pressure_C": 77.505, "margin_K": 4.895},
        varied(bath="82.5 C"),
    ),
    "cool bath at one atmosphere": (
        ("bath-near-boiling-point", "warning"),
        varied(pressure="760 mmHg", bath="83.2 C"),
        "A bath of 83.2 °C is only 4.9 °C above the boiling point",
        {"bath_C": 83.2, "boiling_point_at_pressure_C": 78.3, "margin_K": 4.9},
        varied(pressure="760 mmHg", bath="83.3 C"),
    ),
    "boiling point at its own pressure": (
        ("bath-near-boiling-point", "warning"),
        varied(boiling_point="77.6 C", boiling_point_at="742 mmHg", bath="82.4 C"),
        "a liquid that boils at 77.6 °C at the laboratory's pressure",
        {"bath_C": 82.4, "boiling_point_at_pressure_C": 77.6, "margin_K": 4.8},
        varied(boiling_point="77.4 C", boiling_point_at="742 mmHg", bath="82.4 C"),
    ),
    "hotter than water": (
        ("bath-above-boiling-water", "warning"),
        varied(bath="100.5 C"),
        "The bath was 100.5 °C, but at 742.0 mmHg water boils at 99.3 °C.",
        {"bath_C": 100.5, "water_boils_C": 99.332, "pressure_hPa": 989.252},
        varied(bath="100.3 C"),
    ),
    "mountain pressure": (
        ("bath-above-boiling-water", "warning"),
        varied(pressure="742 hPa", percent={}),
        "The bath was 98.9 °C, but at 742 hPa water boils at 91.5 °C.",
        {"bath_C": 98.9, "water_boils_C": 91.535, "pressure_hPa": 742.0},
        varied(pressure="742 hPa", percent={}, bath="92.4 C"),
    ),
    "boils in the hand": (
        ("boils-in-room", "warning"),
        replace(CLEAN, boiling_point="27.8 C", percent={}),
        "A liquid that boils at 27.1 °C at the laboratory's pressure hardly condenses in a room "
        "of 22.5 °C",
        {"boiling_point_at_pressure_C": 27.12, "room_C": 22.5},
        replace(CLEAN, boiling_point="28.3 C", percent={}),
    ),
    "digit lost in a percentage": (
        ("percent-sum-low", "warning"),
        varied(percent={"C": 52.1, "H": 13.1, "O": 33.7}),
        "add up to 98.90 (C 52.1 + H 13.1 + O 33.7), 1.10 less than 100.",
        {"sum_percent": 98.9},
        varied(percent={"C": 52.1, "H": 13.1, "O": 34.2}),
    ),
    "element left out": (
        ("percent-sum-low", "warning"),
        varied(percent={"C": 52.1, "O": 34.8}),
        "add up to 86.90 (C 52.1 + O 34.8), 13.10 less than 100.",
        {"sum_percent": 86.9},
        CLEAN,
    ),
    "oxygen left to the reader": (
        ("oxygen-not-listed", "note"),
        varied(percent={"C": 52.1, "H": 13.1}),
        "carbon and hydrogen only (C 52.1 + H 13.1), 34.80 less than 100.",
        {"sum_percent": 65.2},
        CLEAN,
    ),
    "sum low by chance": (
        ("percent-sum-low", "note"),
        varied(percent={"C": 51.9, "H": 12.9, "O": 34.4}),
        "0.80 less than 100. Chance alone does that in one card of twenty.",
        {"sum_percent": 99.2},
        varied(percent={"C": 52.0, "H": 12.9, "O": 34.5}),
    ),
    "digit too many in a percentage": (
        ("percent-sum-high", "error"),
        varied(percent={"C": 52.1, "H": 13.1, "O": 35.9}),
        "add up to 101.10 (C 52.1 + H 13.1 + O 35.9), 1.10 more than 100.",
        {"sum_percent": 101.1},
        varied(percent={"C": 52.1, "H": 13.1, "O": 35.2}),
    ),
    "sum high by chance": (
        ("percent-sum-high", "note"),
        varied(percent={"C": 52.4, "H": 13.4, "O": 35.0}),
        "0.80 more than 100. Chance alone does that in one card of twenty.",
        {"sum_percent": 100.8},
        varied(percent={"C": 52.4, "H": 13.3, "O": 34.9}),
    ),
    "sum within its own uncertainty": (
        ("percent-sum-high", "error"),
        varied(percent={"C": "52.1(1) %", "H": "13.1(1) %", "O": "35.4(1) %"}),
        "0.60 more than 100.",
        {"sum_percent": 100.6},
        varied(percent={"C": "52.1(5) %", "H": "13.1(5) %", "O": "35.4(5) %"}),
    ),
    "fractions": (
        ("percent-as-fraction", "error"),
        varied(percent={"C": 0.521, "H": 0.131, "O": 0.347}),
        "add up to 0.999 (C 0.521 + H 0.131 + O 0.347): these look like fractions.",
        {"sum_percent": 0.999},
        CLEAN,
    ),
    "digits exchanged in two percentages": (
        ("composition-no-formula", "warning"),
        Measurement("C-14", percent={"C": 57.2, "H": 13.1, "O": 29.7}),
        "No formula of plausible size has this composition (C 57.2 + H 13.1 + O 29.7). Nearest is "
        "C5H12O2, with 1.5 percentage points less H.",
        {"most_atoms": 12.0, "nearest_off_percent": -1.49},
        Measurement("C-14", percent={"C": 59.9, "H": 13.4, "O": 26.7}),
    ),
    "hydrogen beyond all valences": (
        ("composition-valence", "warning"),
        Measurement("C-14", percent={"C": 50.0, "H": 16.8, "O": 33.2}),
        "(C 50 + H 16.8 + O 33.2) fits C2H8O, C6H25O3 and C8H31O4 only, and no molecule has such "
        "a formula",
        {"formulas": 7.0},
        Measurement("C-14", percent={"C": 52.1, "H": 13.1, "O": 34.7}),
    ),
    "boiling point without a number": (
        ("reading-unread", "warning"),
        replace(CLEAN, boiling_point=None, unread=("boiling_point", "percent")),
        "The boiling point and composition are on the page and could not be read.",
        {},
        replace(CLEAN, boiling_point=None),
    ),
    "another formula": (
        ("formula-differs", "warning"),
        Measurement("C-14", percent={"C": 52.1, "H": 13.1, "O": 34.7}, formula="CH4O"),
        "The formula CH4O has 49.93 % O; the composition beside it (C 52.1 + H 13.1 + O 34.7) has "
        "34.70.",
        {"off_percent": -15.23},
        Measurement("C-14", percent={"C": 52.1, "H": 13.1, "O": 34.7}, formula="C2H6O"),
    ),
    "vapor density of another liquid": (
        ("reading-unused", "warning"),
        Measurement("C-14", molar_mass=60.1, vapor_density=39),
        "A molar mass is given, 60.1 g/mol, and was used; the vapor density beside it, 39 relative "
        "to hydrogen, which makes 78.62 g/mol, was not.",
        {},
        Measurement("C-14", vapor_density=39),
    ),
    "vapor density of the same liquid": (
        ("reading-unused", "note"),
        Measurement("C-14", molar_mass=60.1, vapor_density=30),
        "which makes 60.48 g/mol, was not.",
        {},
        Measurement("C-14", molar_mass=60.1),
    ),
    "combustion of another liquid": (
        ("reading-unused", "warning"),
        Measurement(
            "C-14", percent=ETHANOL, combustion=Combustion("0.1 g", "0.2697 g", "0.0899 g")
        ),
        "Percentages are given and were used; the combustion beside them, which gives C 73.61 + "
        "H 10.06 + O 16.33, was not.",
        {},
        Measurement("C-14", percent=ETHANOL),
    ),
    "combustion of the same liquid": (
        ("reading-unused", "note"),
        Measurement("C-14", percent=ETHANOL, combustion=BURNED),
        "which gives C 52.15 + H 13.13 + O 34.72, was not.",
        {},
        Measurement("C-14", percent=ETHANOL),
    ),
    "oxygen of a combustion": (
        ("oxygen-by-difference", "note"),
        Measurement("C-14", combustion=BURNED),
        "what the other elements leave to 100 %, 34.72 %, was taken for it.",
        {"oxygen_percent": 34.723},
        Measurement("C-14", combustion=Combustion("0.1 g", "0.3385 g", "0.0692 g")),
    ),
    "odd hydrogen at this molar mass": (
        ("composition-valence", "warning"),
        Measurement("C-14", percent={"C": 53.28, "H": 11.18, "O": 35.54}, molar_mass=45.1),
        "(C 53.28 + H 11.18 + O 35.54) fits C2H5O only, and no molecule has such a formula",
        {"formulas": 1.0},
        Measurement("C-14", percent={"C": 53.28, "H": 11.18, "O": 35.54}, molar_mass=90.1),
    ),
    "molar mass between the multiples": (
        ("molar-mass-no-multiple", "warning"),
        Measurement("C-14", percent={"C": 24.3, "H": 4.1, "Cl": 71.6}, molar_mass=75.0),
        "fits CH2Cl, of which no whole multiple is near the molar mass of 75.0 g/mol (standard "
        "uncertainty 1.9). The nearest has 99.0.",
        {
            "molar_mass_g_per_mol": 75.0,
            "standard_uncertainty_g_per_mol": 1.875,
            "nearest_g_per_mol": 98.954,
        },
        Measurement("C-14", percent={"C": 24.3, "H": 4.1, "Cl": 71.6}, molar_mass=96.5),
    ),
    "weighings of another liquid": (
        ("molar-mass-no-multiple", "warning"),
        repeated(0.6300),
        "fits C2H6O, of which no whole multiple is near the molar mass of 70.9 g/mol",
        {
            "molar_mass_g_per_mol": 70.9,
            "standard_uncertainty_g_per_mol": 1.91,
            "nearest_g_per_mol": 46.069,
        },
        repeated(0.4150),
    ),
}


@pytest.mark.parametrize(
    ("expected", "run", "quoted", "numbers", "near"), RAISED.values(), ids=RAISED
)
def test_a_finding_is_raised_alone_and_only_then(expected, run, quoted, numbers, near):
    (finding,) = check(run)
    assert (finding.code, finding.severity) == expected
    assert quoted in finding.message
    assert finding.message[0].isupper()
    assert finding.advice.endswith((".", "?"))
    assert shown_numbers(finding) == pytest.approx(numbers, rel=0.02, abs=1e-3)
    assert check(near) == []


def test_every_code_is_in_the_table():
    assert {expected[0] for expected, *_ in RAISED.values()} == {
        "mass-unchanged",
        "mass-lost",
        "gain-small",
        "volume-nominal",
        "volumes-disagree",
        "weighings-unused",
        "weighing-implausible",
        "trials-scatter",
        "boiling-point-pressure",
        "bath-below-boiling-point",
        "bath-near-boiling-point",
        "bath-above-boiling-water",
        "boils-in-room",
        "oxygen-not-listed",
        "percent-sum-low",
        "percent-sum-high",
        "percent-as-fraction",
        "reading-unread",
        "reading-unused",
        "oxygen-by-difference",
        "composition-no-formula",
        "composition-valence",
        "formula-differs",
        "molar-mass-no-multiple",
    }


# ---------------------------------------------------------------------------------- several trials


def test_a_gain_of_nothing_in_a_flask_closed_while_hot():
    """The air that never came back is weighed with it: there is a molar mass."""
    trials = [Trial(gain=gain, bath="99 C") for gain in ("0.0200 g", "0")]
    run = Measurement("C-14", flask=Flask(volume=143.0, closed="hot"), trials=trials)
    assert [finding.code for finding in check(run)] == ["mass-unchanged", "trials-scatter"]


KEPT = replace(CLEAN, percent={}, boiling_point=None)
COLD = replace(TRIAL, bath="80.5 C")
LIGHT = replace(TRIAL, condensed="98.0132 g")
EQUAL = replace(TRIAL, condensed="98.1132 g")


@pytest.mark.parametrize(
    ("run", "code", "begins"),
    [
        (replace(CLEAN, trials=[COLD]), "bath-near-boiling-point", "A bath of 80.5"),
        (replace(CLEAN, trials=[TRIAL, COLD]), "bath-near-boiling-point", "Trial 2: a bath"),
        (
            replace(CLEAN, trials=[COLD, TRIAL, COLD]),
            "bath-near-boiling-point",
            "Trials 1 and 3: a bath of 80.5",
        ),
        (
            replace(CLEAN, trials=[COLD, COLD, COLD]),
            "bath-near-boiling-point",
            "Trials 1, 2 and 3: a bath of 80.5",
        ),
        # The worst of them is quoted.
        (
            replace(CLEAN, trials=[COLD, replace(TRIAL, bath="78.1 C")]),
            "bath-near-boiling-point",
            "Trials 1 and 2: a bath of 78.1",
        ),
        (replace(KEPT, trials=[TRIAL, LIGHT]), "mass-lost", "Trial 2: the flask"),
        (replace(KEPT, trials=[LIGHT, LIGHT]), "mass-lost", "Trials 1 and 2: the flask"),
        (replace(KEPT, trials=[EQUAL, TRIAL, EQUAL]), "mass-unchanged", "Trials 1 and 3: the"),
        (
            replace(KEPT, trials=[replace(TRIAL, bath="103 C")] * 2),
            "bath-above-boiling-water",
            "Trials 1 and 2: the bath was 103",
        ),
        (
            replace(KEPT, trials=[Trial("98.11 g", "98.51 g", "98.9 C")] * 2),
            "gain-small",
            "Trials 1 and 2: the gain of 0.4 g",
        ),
    ],
)
def test_trials_share_one_finding_that_names_them(run, code, begins):
    (finding,) = check(run)
    assert finding.code == code
    assert finding.message.startswith(begins)


@pytest.mark.parametrize(
    ("own", "code", "begins"),
    [
        (Conditions(pressure="560 hPa"), "bath-above-boiling-water", "Trial 2: the bath was 98.9"),
        (Conditions(pressure="29.92 mmHg"), "pressure-unit", "Trial 2: the pressure"),
        (Conditions(room="72.5 C"), "temperature-unit", "Trial 2: the temperature of the room"),
    ],
)
def test_a_trial_has_conditions_of_its_own(own, code, begins):
    run = replace(KEPT, trials=[TRIAL, replace(TRIAL, conditions=own)])
    findings = [finding for finding in check(run) if finding.code != "trials-scatter"]
    assert [finding.code for finding in findings] == [code]
    assert findings[0].message.startswith(begins)


def test_a_flask_of_its_own_is_looked_at_once():
    own = replace(TRIAL, flask=Flask(volume="250 mL"))
    run = replace(KEPT, trials=[replace(TRIAL, flask=Flask(volume="263 mL")), own, own])
    assert found(run) == [("volume-nominal", "warning")]


@pytest.mark.parametrize(
    ("volumes", "raised"),
    [
        (("250.0", "250.0", "250.0"), True),
        (("249.7", "250.0", "250.4"), False),  # only what is measured varies
        (("250.0", "284.2", "283.8"), True),  # the same flask, filled to the brim at last
        (("250.0", "141.3"), True),  # two flasks
        (("250.0", "125.0"), True),
    ],
)
def test_a_volume_that_varies_is_measured(volumes, raised):
    trials = [replace(TRIAL, flask=Flask(volume=f"{one} mL")) for one in volumes]
    codes = {finding.code for finding in check(replace(KEPT, trials=trials))}
    assert ("volume-nominal" in codes) == raised


def test_the_trial_that_is_furthest_off_is_named():
    (finding,) = check(repeated(0.3965, 0.4550, 0.3990))
    assert "Look at trial 2 first (49.5 against 43.4 g/mol in the middle)" in finding.advice


def test_trailing_zeros_that_a_spreadsheet_drops_make_no_coarse_balance():
    assert check(varied(empty=98.1, condensed=98.5097)) == []


def test_the_bath_in_another_unit_is_named():
    (finding,) = check(varied(bath="199 C", boiling_point=None, percent={}))
    assert finding.code == "bath-above-boiling-water"
    assert "did you mean 199 °F?" in finding.advice


@pytest.mark.parametrize(
    ("reading", "meant"),
    [
        ({"melting_point": "300 C"}, "300 K (26.85 °C)"),
        ({"melting_point": "223.15 C"}, "223.15 K (-50 °C)"),
        ({"density": 0.8, "density_at": "273.15 C"}, "273.15 K (0 °C)"),
    ],
)
def test_a_temperature_meant_may_be_zero_or_below(reading, meant):
    (finding,) = check(Measurement("C-14", **reading))
    assert finding.code == "temperature-unit"
    assert f"Did you mean {meant}?" in finding.advice


@pytest.mark.parametrize(
    ("value", "tolerance", "codes"),
    [
        ({"C": 52.1, "H": 13.1, "O": 33.7}, 0.4, [("percent-sum-low", "warning")]),
        ({"C": 52.1, "H": 13.1, "O": 33.7}, 0.5, [("percent-sum-low", "note")]),
        ({"C": 52.1, "H": 13.1, "O": 33.7}, 0.7, []),
        ({"C": 52.6, "H": 13.1, "O": 34.2}, 0.1, [("composition-no-formula", "warning")]),
        ({"C": 52.6, "H": 13.1, "O": 34.2}, 0.4, []),
    ],
)
def test_the_tolerance_is_the_callers(value, tolerance, codes):
    run = Measurement("C-14", percent=value)
    assert found(run, percent_tolerance=tolerance) == codes


@pytest.mark.parametrize(
    ("molar_mass", "codes"),
    [
        ((46.0, 1.2), []),
        ((49.5, 1.2), []),
        ((50.0, 1.2), [("molar-mass-no-multiple", "warning")]),
        ((50.0, 2.0), []),
        ((70.0, 2.0), [("molar-mass-no-multiple", "warning")]),
    ],
)
def test_the_molar_mass_is_the_callers(molar_mass, codes):
    assert found(CLEAN, molar_mass=molar_mass) == codes


def test_errors_come_first():
    run = replace(
        CLEAN,
        percent={"C": 52.1, "H": 13.1, "O": 44.7},
        flask=Flask(volume="250 mL"),
        trials=[replace(TRIAL, condensed="98.1132 g")],
    )
    assert found(run) == [
        ("mass-unchanged", "error"),
        ("percent-sum-high", "error"),
        ("volume-nominal", "warning"),
    ]


@pytest.mark.parametrize(
    ("pressure", "codes"),
    [
        ("90 mmHg", set()),
        ("75 mmHg", set()),  # vapors are measured at any pressure
        ("29.92 mmHg", {"pressure-unit"}),
    ],
)
def test_a_syringe_is_no_flask_in_a_laboratory(pressure, codes):
    vapor = Trial(gain="0.2308 g", bath="100 C", vaporized_in="syringe")
    run = Measurement(
        "C-14", conditions=Conditions(pressure=pressure), flask=Flask("1000 mL"), trials=[vapor]
    )
    assert {finding.code for finding in check(run)} == codes


@pytest.mark.parametrize("boiling_point", [None, "78.3 C"])
@pytest.mark.parametrize("closed", ["", "hot"])
def test_what_the_molar_mass_may_be_before_anything_is_known_of_the_liquid(boiling_point, closed):
    """The shortcut, and what it leaves out: of any liquid, or of one that boils there."""
    flask = replace(FLASK, closed=closed)
    facts = Facts(replace(CLEAN, boiling_point=boiling_point, flask=flask))
    value, sigma = facts.estimated_molar_mass(facts.trials[0])
    air = 0.2874 * 1.160  # g; all of it never came back, or the vapor shuts out a part
    vapor = exp(10.6 * (1.0 - 351.45 / 295.65)) * 760.0 / 742.0  # Trouton's rule
    shortcut = (0.3965 + (air if closed else 0.0)) * 62.36367 * 372.05 / (742.0 * 0.2874)
    if boiling_point is None:
        assert value == pytest.approx(shortcut + 8.0, rel=1e-3)
        assert sigma == pytest.approx(hypot(0.025 * shortcut, 7.0), rel=1e-3)
    else:
        shut_out = 1.0 if closed else (0.3965 + air * vapor) / 0.3965
        assert value == pytest.approx(shut_out * shortcut / 1.038, rel=1e-3)
        assert sigma == pytest.approx(hypot(0.025, 0.010) * value, rel=1e-6)
