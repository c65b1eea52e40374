"""What is said of a molar mass: against the liquid's own, over several liquids, of the trials."""

from __future__ import annotations

import json

import numpy as np
import pytest
from ordinary_run import codes, line, run_of, worked

from identify import Flask, load_candidates
from identify.budget.budget import IDENTITY, SCATTER
from identify.calculations.molar_mass import Constants, molar_mass
from identify.calculations.molar_mass.trials import Agreement
from identify.cli import main
from identify.notebook.statistics import grubbs_critical

METHANOL = 32.042  # g/mol
OF_METHANOL = "98.3613 g"  # condensed
CARD = {"boiling_point": "64.6 C", "percent": {"C": 37.48, "H": 12.58, "O": 49.93}}

# The ordinary run's readings, as options.
TYPED = ["molar-mass", "--no-show-work", "--empty", "98.1132", "--bath", "98.9"]
TYPED += ["--room", "22.5", "--pressure", "742", "--volume", "287.4"]


def page_of(capsys: pytest.CaptureFixture[str], *options: str) -> str:
    """Return a page's text, its lines joined."""
    assert main([*TYPED, *options]) == 0
    return " ".join(capsys.readouterr().out.split())


# ------------------------------------------------------ against the liquid's own


@pytest.mark.parametrize(
    ("condensed", "identity", "contradicted"),
    [
        (OF_METHANOL, "methanol", False),
        ("98.3660 g", "methanol", False),  # 1.6 % more: what happens at any bench
        ("98.3721 g", "methanol", True),
        ("98.3500 g", "methanol", True),
        (OF_METHANOL, "ethanol", True),
        ("98.372(20) g", "methanol", False),  # as far off, but the balance is that bad
    ],
)
def test_the_assumed_liquid_is_contradicted(condensed, identity, contradicted):
    found = worked(run_of(condensed), identity)
    table = load_candidates()
    own = float(table.number("molar_mass")[table.find(identity)[0]])
    assert found.assumed_molar_mass == found.to_dict()["assumed_molar_mass"] == pytest.approx(own)
    severities = [one.severity for one in found.findings if one.code == "liquid-contradicted"]
    assert severities == ["warning"] * contradicted
    off = abs(found.value - own)
    assert contradicted is (off > 3.0 * found.standard_uncertainty and off > 0.025 * own)


def test_two_trials_that_scatter_contradict_nothing():
    """With one degree of freedom, three standard uncertainties are chance."""
    found = worked(run_of("98.3560 g", "98.3790 g"))
    off = abs(found.value - METHANOL)
    assert 3.0 * found.standard_uncertainty < 1.1 * found.expanded_uncertainty
    assert (off > found.expanded_uncertainty) is ("liquid-contradicted" in codes(found))


def test_constants_alone_have_no_molar_mass():
    constants = Constants(vapor_pressure="111 mmHg", second_virial="-480 cm3/mol", density="0.79")
    found = molar_mass(run_of(), constants=constants, draws=0)
    assert found.assumed_molar_mass is None
    assert "liquid-contradicted" not in codes(found)


def test_an_error_that_explains_it_is_said_alone():
    found = worked(run_of(bath="60 C"), "ethanol")
    assert any(one.severity == "error" for one in found.findings)
    assert "liquid-contradicted" not in codes(found)


@pytest.mark.parametrize(
    ("condensed", "sentence"),
    [(OF_METHANOL, "By its formula, that liquid has 32.04 g/mol"), ("98.3721", "3.1 % above it")],
)
def test_the_page_has_the_liquids_own_molar_mass(condensed, sentence, capsys):
    assert sentence in page_of(capsys, "--condensed", condensed, "--as", "methanol")


# ---------------------------------------------------------- over several liquids


def test_where_the_liquid_decides_the_page_has_the_range(capsys):
    page = page_of(capsys, "--condensed", "98.3613")
    found = worked(run_of(OF_METHANOL), None)
    low, high = (end(found.candidates, key=lambda one: one.value) for end in (min, max))
    assert found.liquid_decides
    assert f"over the liquids that it may be, {low.value:.1f} to {high.value:.1f}." in page
    assert low.name in page
    assert high.name in page
    assert "95 of 100 such intervals" not in page
    (finding,) = (one for one in found.findings if one.code == "liquid-not-named")
    assert finding.severity == "warning"


@pytest.mark.parametrize(
    ("parts", "decides"),
    [
        ({}, True),
        ({"boiling_point": "64.6 C"}, False),
        (CARD, False),
    ],
)
def test_a_card_leaves_one_value(parts, decides):
    found = worked(run_of(OF_METHANOL, **parts), None)
    shares = [one.share for one in found.budget.lines if one.input == IDENTITY]
    assert found.liquid_decides is decides
    assert decides is (sum(shares) > 0.5)


def test_page_range_and_finding_count_the_same_liquids(capsys):
    assert main(["molar-mass", "data/demo/C-08.toml", "--format", "json"]) == 0
    data = json.loads(capsys.readouterr().out)
    values = [one["value"] for one in data["candidates"]]
    agreeing = sum(one["plausible"] for one in data["candidates"])
    (finding,) = (one for one in data["findings"] if one["code"] == "liquid-not-named")
    assert 0 < agreeing < len(values)
    assert data["range"] == [min(values), max(values)]
    assert finding["numbers"] == {"compounds": len(values), "agreeing": agreeing}
    assert finding["message"].startswith(f"{len(values)} compounds count; {agreeing} agree")
    weights = np.array([one["probability"] for one in data["candidates"]])
    assert data["value"] == pytest.approx(float(weights @ values), abs=1e-3)
    assert main(["molar-mass", "data/demo/C-08.toml", "--no-show-work"]) == 0
    lines = capsys.readouterr().out.splitlines()
    for one in data["candidates"][:5]:  # so many are printed
        (row,) = (text for text in lines if text.strip().startswith(one["name"]))
        assert row.endswith("yes" if one["plausible"] else "no")


# ------------------------------------------------------------------- the findings


@pytest.mark.parametrize("condensed", ["98.3721 g", "98.4010 g"])
def test_a_finding_quotes_the_molar_mass_of_the_page(condensed):
    found = worked(run_of(condensed, percent=CARD["percent"]), "methanol")
    (finding,) = (one for one in found.findings if one.code == "molar-mass-no-multiple")
    numbers = finding.numbers
    assert numbers["molar_mass_g_per_mol"] == found.value
    assert numbers["standard_uncertainty_g_per_mol"] == found.standard_uncertainty


@pytest.mark.parametrize(
    ("values", "outlier", "by_test"),
    [
        # Two sets in which the tests agree, and two in which they do not.
        ([1.0, 1.1, 1.2, 1.3, 1.4], False, (False, False)),
        ([1.0, 1.01, 1.02, 1.03, 5.0], True, (True, True)),
        ([53.1, 49.7, 48.5, 49.6, 48.7], False, (False, True)),
        ([52.5, 49.6, 49.0, 50.2, 49.3, 48.7], True, (True, False)),
    ],
)
def test_grubbs_decides(values, outlier, by_test):
    agreement = Agreement.of(np.array(values))
    assert agreement is not None
    assert tuple(test.outlier for test in agreement.tests) == by_test
    assert [test.test for test in agreement.tests] == ["Grubbs", "Dixon"]
    assert agreement.outlier is agreement.to_dict()["outlier"] is outlier


def test_the_chance_of_an_outlier_in_sound_trials_is_five_percent():
    random = np.random.default_rng(5)
    for count in (3, 5, 8):
        sets = random.standard_normal((20_000, count))
        off = np.abs(sets - sets.mean(axis=1, keepdims=True)).max(axis=1)
        share = np.mean(off / sets.std(axis=1, ddof=1) > grubbs_critical(count))
        assert share == pytest.approx(0.05, abs=0.005)
        agreements = [Agreement.of(one) for one in sets[:2000]]
        assert np.mean([one is not None and one.outlier for one in agreements]) < 0.065


# --------------------------------------------------------------------- the budget


def test_the_scatter_has_a_name_that_stands_alone():
    found = worked(run_of("98.3613 g", "98.3700 g", "98.3560 g"))
    assert line(found, SCATTER).contribution > 0.0
    assert SCATTER == "scatter beyond the balance"


@pytest.mark.parametrize(("water", "digit"), [("286.4 g", 0.1), ("286.42 g", 0.01)])
def test_weighed_water_is_in_grams(water, digit):
    flask = Flask(water_mass=water, water_temperature="22.0 C")
    weighed = line(worked(run_of(flask=flask)), "water in the flask")
    assert (weighed.standard_uncertainty, weighed.unit) == (pytest.approx(digit), "g")
    heavier = Flask(water_mass=f"{float(water[:-2]) + 0.1:.2f} g", water_temperature="22.0 C")
    step = worked(run_of(flask=heavier)).value - worked(run_of(flask=flask)).value
    assert weighed.sensitivity == pytest.approx(step / 0.1, rel=0.01)


@pytest.mark.parametrize(
    ("empty", "remark"),
    [
        (["98.1132 g", "98.1132 g", "98.1135 g"], "one weighing for trials 1 and 2"),
        (["98.1132 g"] * 3, "one weighing for trials 1, 2 and 3"),
        (["98.1132 g", "98.1133 g", "98.1135 g"], ""),
    ],
)
def test_equal_weighings_are_said_to_be_one(empty, remark):
    run = run_of(OF_METHANOL, OF_METHANOL, OF_METHANOL, empty=empty)
    found = worked(run)
    assert line(found, "empty flask").remark == remark
    assert line(found, "flask with liquid").remark == ""
    assert {one["remark"] for one in found.to_dict()["budget"]} == {"", remark}


def test_the_page_says_which_weighings_are_one(capsys):
    twice = ("--condensed", "98.3613", "--condensed", "98.3620", "--as", "methanol")
    assert "empty flask, weighed, one weighing for trials 1 and 2" in page_of(capsys, *twice)
    assert "one weighing" not in page_of(capsys, *twice[:2], *twice[4:])


# ----------------------------------------------------------------- what is missing

RUN = """label = "C-9"
[conditions]
pressure = "742.0 mmHg"
room = "22.5 C"
[flask]
{flask}
[[trial]]
empty = "98.1132 g"
condensed = "{condensed}"
bath = "98.9 C"
{card}
"""
BRIM = 'volume = "287.4 mL"'
BOILS = '[card]\nboiling_point = "64.6 C"'


@pytest.mark.parametrize(
    ("parts", "named"),
    [
        ({"flask": ""}, "volume"),
        ({"flask": "", "card": BOILS}, "volume"),
        ({"flask": BRIM, "card": BOILS, "condensed": "heavy"}, "condensed"),
    ],
)
def test_what_is_missing_is_said_once(parts, named, tmp_path, capsys):
    page = tmp_path / "run.toml"
    page.write_text(RUN.format(**{"condensed": "98.3613 g", "card": "", **parts}))
    assert main(["molar-mass", str(page)]) == 2
    (complaint,) = capsys.readouterr().err.splitlines()
    assert named in complaint


def test_a_card_without_weighings_is_still_named_beside_faults_of_others(tmp_path, capsys):
    table = tmp_path / "section.csv"
    table.write_text(
        "label,empty_g,condensed_g,bath_C,room_C,pressure_mmHg,volume_mL,boiling_point_C\n"
        "C-1,98.113,98.361,98.9,22.5,742,,64.6\n"
        "C-2,,,,,,,64.6\n"
    )
    assert main(["molar-mass", str(table)]) == 2
    first, second = capsys.readouterr().err.splitlines()
    assert "volume" in first
    assert "C-2: nothing was weighed" in second
