"""One number after ±: match and molar-mass say the same of one page and liquid."""

from __future__ import annotations

import json
from dataclasses import replace
from math import hypot

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ordinary_run import codes, line, run_of, worked

import identify
from identify import Conditions, Flask, Measurement, Tolerances, Trial
from identify.bench.bench import Bench
from identify.budget.budget import IDENTITY, SCATTER, TECHNIQUE
from identify.cli import main
from identify.matching.evidence import Matcher
from identify.matching.posterior import Posterior
from identify.matching.ranked import ranking_of
from identify.observables.error.technique import AS_CLASSES_WORK, Technique

COOLER = "vapor cooler than the bath"
TECHNIQUES = (None, "careful", "usual", "rough", "4 %", "none")
ONE, THREE = run_of(), run_of("98.3721 g", "98.3764 g", "98.3698 g")
PAGES = {
    "one trial": ONE,
    "three trials": THREE,
    "trials far apart": run_of("98.3721 g", "98.4221 g"),
    "the flask weighed with water": run_of(flask=Flask(water_mass="286.7 g")),
    "flasks of their own": replace(
        ONE,
        trials=[
            Trial("98.1132 g", "98.3721 g", "98.9 C"),
            Trial("98.1132 g", "98.2402 g", "98.9 C", flask=Flask(volume="142.0 mL")),
        ],
    ),
    "no room and no pressure written": replace(ONE, conditions=Conditions()),
    "a mercury barometer": replace(
        ONE, conditions=Conditions(pressure="742 mmHg", room="26 C", mercury_barometer=True)
    ),
    "weighed cold": replace(ONE, trials=[replace(ONE.trials[0], weighed_at="8 C")]),
    "closed while hot": run_of("98.1500 g", flask=Flask(volume="287.4 mL", closed="hot")),
    "a loss of mass": run_of("98.0132 g"),
    "uncertainties stated": run_of(
        "98.372(20) g", conditions=Conditions(pressure="742 ± 5 mmHg", room="22 ± 3 C")
    ),
}


def both(run: Measurement, technique: str | None) -> tuple[identify.Ranking, object]:
    """Return the match of a run, and its molar mass as the first compound of that."""
    matcher = Matcher(identify.load_candidates(), technique=technique)
    ranking = ranking_of(run, Posterior.of(matcher.evidence(Bench.of(run))))
    first = ranking.candidates[0]
    name = first.cas or first.smiles
    return ranking, identify.molar_mass(run, name, draws=0, technique=technique)


def assert_one_number(run: Measurement, technique: str | None) -> None:
    ranking, worked_out = both(run, technique)
    matched = ranking.molar_mass
    assert matched is not None
    assert matched.value == pytest.approx(worked_out.value, rel=1e-12)
    assert matched.standard_uncertainty == pytest.approx(worked_out.standard_uncertainty, rel=1e-12)
    assert matched.interval_95 == pytest.approx(worked_out.interval_95, rel=1e-12)
    low, high = matched.interval_95
    # Of a loss of mass nothing is below what was found: a molar mass is none below zero.
    assert low < matched.value < high or low == matched.value < 0.0
    assert matched.standard_uncertainty > 0.0


@pytest.mark.parametrize("technique", TECHNIQUES)
@pytest.mark.parametrize("run", PAGES.values(), ids=PAGES)
def test_match_and_molar_mass_say_the_same(run, technique):
    assert_one_number(run, technique)


grams = st.floats(0.1, 0.9).map(lambda gain: f"{98.1132 + gain:.4f} g")


@settings(max_examples=25, deadline=None)
@given(
    st.lists(grams, min_size=1, max_size=4),
    st.floats(580.0, 790.0),
    st.one_of(st.none(), st.floats(15.0, 30.0)),
    st.floats(92.0, 100.0),
    st.sampled_from([Flask(volume="287.4 mL"), Flask(size="250 mL"), Flask(water_mass="141.2 g")]),
    st.sampled_from(TECHNIQUES),
)
def test_whatever_the_page_says(masses, pressure, room, bath, flask, technique):
    conditions = Conditions(
        pressure=f"{pressure:.1f} mmHg", room=None if room is None else f"{room:.1f} C"
    )
    run = run_of(*masses, bath=f"{bath:.1f} C", conditions=conditions, flask=flask)
    assert_one_number(run, technique)


def test_both_commands_print_the_same(capsys):
    page = "data/demo/C-23.toml"
    assert main(["match", page, "--format", "json"]) == 0
    (matched,) = json.loads(capsys.readouterr().out)
    first = matched["candidates"][0]["name"]
    assert main(["molar-mass", page, "--as", first, "--format", "json"]) == 0
    alone = json.loads(capsys.readouterr().out)
    for key in ("value", "standard_uncertainty", "ideal_gas", "interval_95"):
        assert matched["molar_mass"][key] == alone[key], key
    number = None
    for command in (["match", page], ["molar-mass", page, "--as", first, "--no-show-work"]):
        assert main(command) == 0
        said = capsys.readouterr().out.replace("\n", " ").split(" g/mol")[0]
        shown = " ".join(said.split()[-3:])
        assert "±" in shown
        assert number in (None, shown)
        number = shown


# ------------------------------------------------------------------- what the interval is


@pytest.mark.parametrize("technique", TECHNIQUES)
@pytest.mark.parametrize("run", [ONE, THREE, PAGES["trials far apart"]], ids=("1", "3", "apart"))
def test_the_squares_of_the_budget_add_up(run, technique):
    found = worked(run, technique=technique)
    lines = {one.input: one.contribution for one in found.budget.lines}
    assert hypot(*lines.values()) == pytest.approx(found.standard_uncertainty, rel=1e-9)
    assert sum(one.share for one in found.budget.lines) == pytest.approx(1.0)
    beside = {SCATTER, TECHNIQUE} if technique != "none" else set()
    instruments = hypot(*(size for name, size in lines.items() if name not in beside))
    assert instruments == pytest.approx(found.instruments_uncertainty, rel=1e-9)
    low, high = found.interval_95
    assert found.expanded_uncertainty == pytest.approx(0.5 * (high - low), rel=1e-9)
    assert found.budget.coverage_factor == pytest.approx(
        found.expanded_uncertainty / found.standard_uncertainty
    )
    assert (TECHNIQUE in lines) == (COOLER in lines) == (technique != "none")


@pytest.mark.parametrize("technique", TECHNIQUES)
@pytest.mark.parametrize("run", [ONE, THREE], ids=("1", "3"))
def test_the_same_errors_drawn_agree(run, technique):
    found = worked(run, technique=technique, draws=100_000)
    drawn = found.simulation
    assert drawn is not None
    assert "budget-not-linear" not in codes(found)
    assert drawn.standard_uncertainty == pytest.approx(found.standard_uncertainty, rel=0.03)
    ends = [ours - theirs for ours, theirs in zip(found.interval_95, drawn.interval, strict=True)]
    # With few trials, first order and draws differ in how far chance may go: by Student's t.
    near = 0.03 if technique != "none" or len(run.trials) == 1 else 0.5
    assert np.abs(ends) == pytest.approx(0.0, abs=near * found.expanded_uncertainty)


@pytest.mark.parametrize(
    ("technique", "below", "above"),
    [("careful", 0.057, 0.058), ("usual", 0.34, 0.22), (None, 0.58, 0.38), ("rough", 0.70, 0.76)],
)
def test_where_technique_is_rough_the_value_is_not_in_the_middle(technique, below, above):
    """Liquid that is left makes more than vapor that is missing."""
    found = worked(ONE, technique=technique)
    low, high = ((end - found.value) / found.budget.total.gained for end in found.interval_95)
    assert (-low, high) == pytest.approx((below, above), rel=0.05)


def test_a_cool_vapor_is_a_line_of_three_tenths_of_a_percent_a_kelvin():
    found = worked(ONE, technique="careful")
    cooler = line(found, COOLER)
    assert cooler.standard_uncertainty == pytest.approx(2.0**0.5)
    assert -cooler.sensitivity / found.value == pytest.approx(0.003, rel=0.15)
    assert found.value == worked(ONE, technique="none").value
    in_syringe = replace(ONE, trials=[replace(ONE.trials[0], vaporized_in="syringe")])
    lines = worked(in_syringe, technique="careful").budget.lines
    assert COOLER not in [one.input for one in lines]


@pytest.mark.parametrize("technique", [None, "careful", "usual", "4 %"])
def test_trials_measure_scatter_and_not_bias(technique):
    one, agreeing, apart = (
        worked(run, technique=technique)
        for run in (ONE, run_of(*["98.3721 g"] * 3), run_of("98.3421 g", "98.4021 g", "98.3721 g"))
    )
    assert line(agreeing, SCATTER).contribution < 0.7 * line(one, SCATTER).contribution
    assert line(apart, SCATTER).contribution > 2.0 * line(agreeing, SCATTER).contribution
    # However well they agree, they may all be off by the same.
    assert line(agreeing, TECHNIQUE).contribution == pytest.approx(
        line(one, TECHNIQUE).contribution, rel=1e-3
    )
    assert agreeing.standard_uncertainty < one.standard_uncertainty


@pytest.mark.parametrize(
    ("given", "technique", "relative"),
    [
        (60.0, "careful", 0.0257),
        (60.0, "5 %", 0.052),
        (60.0, "none", 0.003),
        ("60.0 ± 1.2 g/mol", "none", 0.02),
        ("60.0 ± 1.2 g/mol", "careful", 0.0329),
        (60.0, None, 0.104),
    ],
)
def test_a_molar_mass_as_given_has_technique_and_what_was_stated(given, technique, relative):
    matcher = Matcher(identify.load_candidates(), technique=technique)
    run = Measurement("C-77", molar_mass=given)
    found = ranking_of(run, Posterior.of(matcher.evidence(Bench.of(run)))).molar_mass
    assert found is not None
    assert found.value == 60.0
    assert found.ideal_gas is None
    assert found.standard_uncertainty / 60.0 == pytest.approx(relative, rel=0.05)


@pytest.mark.parametrize(("tolerance", "expected"), [(2.0, 0.01), (5.0, 0.025), (10.0, 0.05)])
def test_half_an_explicit_tolerance_is_the_technique(tolerance, expected):
    run = replace(ONE, boiling_point="64.6 C", percent={"C": 37.48, "H": 12.58, "O": 49.93})
    found = identify.match(run, tolerances=Tolerances(molar_mass=tolerance)).molar_mass
    assert found is not None
    instruments = worked(run, technique="careful").instruments_uncertainty
    together = hypot(expected * found.value, instruments)
    assert found.standard_uncertainty == pytest.approx(together, rel=0.04)


# ------------------------------------------------------------------- how technique is said


@pytest.mark.parametrize(
    ("technique", "words"),
    [
        (None, "technique as classes work, from good to rough"),
        ("careful", "careful technique"),
        ("ROUGH", "rough technique"),
        ("2,5 %", "technique good to 2.5 %"),
        (AS_CLASSES_WORK, "technique as classes work, from good to rough"),
        (Technique.named("usual"), "usual technique"),
    ],
)
def test_the_page_says_which_technique_was_assumed(technique, words):
    found = worked(ONE, technique=technique)
    assert found.to_dict()["technique"] == words
    assert words in line(found, TECHNIQUE).origin


@pytest.mark.parametrize(
    ("technique", "error"), [("sloppy", ValueError), ("0 %", ValueError), (2.5, TypeError)]
)
def test_no_such_technique(technique, error):
    with pytest.raises(error, match="technique"):
        identify.molar_mass(ONE, "methanol", technique=technique, draws=0)


def test_an_explicit_card_or_name_changes_no_technique():
    named, with_card, open_ = (
        worked(run, identity, technique=None)
        for run, identity in (
            (ONE, "methanol"),
            (replace(ONE, boiling_point="64.6 C", percent={"C": 37.48}), "methanol"),
            (replace(ONE, boiling_point="64.6 C", percent={"C": 37.48}), None),
        )
    )
    assert named.technique == with_card.technique == open_.technique == AS_CLASSES_WORK
    assert named.standard_uncertainty == with_card.standard_uncertainty
    assert IDENTITY not in [one.input for one in named.budget.lines]


def test_the_command_takes_a_technique(capsys):
    page = ["molar-mass", "data/demo/C-14.toml", "--as", "methanol", "--no-show-work"]
    found = {}
    for word in ("careful", "none", "8 %"):
        assert main([*page, "--technique", word, "--format", "json"]) == 0
        found[word] = json.loads(capsys.readouterr().out)["standard_uncertainty"]
    assert found["none"] < found["careful"] < found["8 %"]
    assert main([*page, "--technique", "sloppy"]) == 2
    assert '--technique: "sloppy" is not careful' in capsys.readouterr().err


@pytest.mark.parametrize(
    ("condensed", "identity", "technique", "contradicted"),
    [
        ("98.3721 g", "methanol", None, False),  # 3.3 % more
        ("98.3721 g", "methanol", "careful", False),
        ("98.3721 g", "methanol", "none", True),
        ("98.4421 g", "methanol", None, False),  # liquid was left in many a class
        ("98.4421 g", "methanol", "careful", True),
        ("98.3613 g", "ethanol", None, False),  # vapor is missing in some
        ("98.3613 g", "chloroform", None, True),
        ("98.3613 g", "ethanol", "careful", True),
        ("98.3613 g", "ethanol", "rough", False),
    ],
)
def test_a_liquid_is_contradicted_by_what_technique_does_not_explain(
    condensed, identity, technique, contradicted
):
    found = worked(run_of(condensed), identity, technique=technique)
    assert ("liquid-contradicted" in codes(found)) is contradicted
