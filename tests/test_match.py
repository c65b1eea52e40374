"""The answer for one unknown: probabilities, verdicts, deviations, and what is missing."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from identify import (
    Conditions,
    Flask,
    Measurement,
    Ranking,
    Trial,
    match,
)
from identify.bench.bench import Bench
from identify.compounds.table import CandidateTable
from identify.matching.answer import RankedCandidate
from identify.matching.evidence import Matcher
from identify.matching.expected.expectation import MeltingPoints
from identify.matching.posterior import Posterior
from identify.matching.totals import OUTSIDE
from identify.physics.vapor import Liquid, gain

METHANOL = {"C": 37.48, "H": 12.58, "O": 49.93}
ETHANOL = {"C": 52.14, "H": 13.13, "O": 34.73}
HEXANE = {"C": 83.63, "H": 16.37}
THF = {"C": 66.63, "H": 11.18, "O": 22.19}
# A page whose corrected molar mass is methanol's within 0.5 %.
PAGE: dict[str, Any] = {
    "conditions": Conditions(pressure="742.4 mmHg", room="22.4 C"),
    "flask": Flask(volume="287.6 mL"),
    "trials": [Trial("99.4925 g", "99.7414 g", "98.4 C")],
}
COMPLETE = Measurement("C-14", boiling_point="64.5 C", percent=METHANOL, **PAGE)


def posterior(matcher: Matcher, run: Measurement) -> Posterior:
    return Posterior.of(matcher.evidence(Bench.of(run)))


def by_name(ranking: Ranking) -> dict[str, RankedCandidate]:
    return {candidate.name: candidate for candidate in ranking.candidates}


RUNS = [
    COMPLETE,
    replace(COMPLETE, trials=()),
    replace(COMPLETE, boiling_point=None),
    replace(COMPLETE, percent={}),
    Measurement("E", boiling_point=78.4),
    Measurement("F", molar_mass=58.6),
    Measurement("G", percent=ETHANOL),
    Measurement("H", molar_mass=46.1, boiling_point=300.0, percent={"C": 1.0, "Br": 3.0}),
    Measurement("I"),
]


@pytest.mark.parametrize("run", RUNS, ids=lambda run: run.label)
@pytest.mark.parametrize("prior", ["classroom", "commerce", "uniform"])
def test_probabilities_sum_to_one_with_none_of_these(
    run: Measurement, prior: Any, table: CandidateTable
) -> None:
    answer = posterior(Matcher(table, prior=prior), run)
    assert answer.probability.sum() + answer.none_of_these == pytest.approx(1.0, abs=1e-12)
    assert (answer.probability >= 0.0).all()
    assert 0.0 < answer.none_of_these < 1.0


# A shelf of three bottles, none of which gives such readings; what classes weigh speaks less.
@pytest.mark.parametrize(
    ("run", "least"),
    [
        (Measurement("octane", molar_mass=114.2, boiling_point=125.7), 0.25),
        (Measurement("octane", molar_mass=114.2, percent={"C": 84, "H": 16}), 0.5),
        (Measurement("octane", percent={"C": 84, "H": 16}), 0.5),
        (Measurement("far", molar_mass=400, boiling_point=300), 0.5),
        (Measurement("farther", boiling_point=300), 0.5),
    ],
    ids=str,
)
def test_readings_far_from_every_bottle_are_none_of_these(
    run: Measurement, least: float, table: CandidateTable
) -> None:
    shelf = table.take([table.find(name)[0] for name in ("ethanol", "methanol", "acetone")])
    ranking = match(run, shelf)
    assert ranking.verdict == "no match"
    assert ranking.none_of_these > least


def test_without_readings_the_prior_remains(matcher: Matcher) -> None:
    answer = posterior(matcher, Measurement("I"))
    # Of what is a liquid in the room; the rest hardly counts.
    melted = matcher.prior * matcher.melted(Bench())
    weight = melted * matcher.liquid(Bench())
    np.testing.assert_allclose(
        answer.probability, (1.0 - OUTSIDE) * weight / weight.sum(), rtol=1e-12
    )
    boiling = matcher.table.number("boiling_point_C")
    published = matcher.table.number("boiling_point_u") < 1.0
    assert (
        weight[published & (boiling < 10.0)] < 0.02 * matcher.prior[published & (boiling < 10.0)]
    ).all()
    assert (
        weight[published & (boiling > 32.0)] > 0.99 * melted[published & (boiling > 32.0)]
    ).all()
    assert answer.none_of_these == pytest.approx(OUTSIDE)
    codes = [finding.code for finding in match(Measurement("I")).findings]
    assert codes == ["nothing-measured"]


# -------------------------------------------------------------------------------------- verdict


@pytest.mark.parametrize(
    ("run", "verdict", "first"),
    [
        (COMPLETE, "single match", "methanol"),
        (replace(COMPLETE, trials=()), "single match", "methanol"),
        (Measurement("D-02", boiling_point=78.0, percent=ETHANOL), "single match", "ethanol"),
        (Measurement("C-77", molar_mass=58.6), "several matches", None),
        (Measurement("E", boiling_point=80.0), "several matches", None),
        # One that leads without being nearly sure.
        (
            Measurement("C-08", boiling_point=64.1, percent={"C": 66.63, "H": 11.18}),
            "several matches",
            "tetrahydrofuran",
        ),
        (Measurement("F", percent={"C": 0.5}), "no match", None),
        # Ethanol's card on a liquid of another boiling point: a few in a thousand cards are as
        # far off, but none is as far as the last.
        (
            Measurement("G", molar_mass=46.1, boiling_point=50.0, percent=ETHANOL),
            "single match",
            "ethanol",
        ),
        (
            Measurement("G", molar_mass=46.1, boiling_point=550.0, percent=ETHANOL),
            "no match",
            "ethanol",
        ),
        # A molar mass as rough classes find it.
        (
            Measurement("G", molar_mass=62.0, boiling_point=78.3, percent=ETHANOL),
            "single match",
            "ethanol",
        ),
        # Chlorine trifluoride is not a candidate: it has no carbon.
        (Measurement("H", molar_mass=92.4, percent={"Cl": 38.35, "F": 61.65}), "no match", None),
    ],
)
def test_verdict(run: Measurement, verdict: str, first: str | None) -> None:
    ranking = match(run)
    assert ranking.verdict == verdict
    assert first in (None, ranking.candidates[0].name)
    if verdict != "no match":
        assert (ranking.candidates[0].probability >= 0.9) is (verdict == "single match")


def test_what_agrees_is_a_mark() -> None:
    """A probable candidate may disagree, and an agreeing one be improbable."""
    run = Measurement("D-02", molar_mass=54.0, boiling_point=78.3, percent=ETHANOL)
    first = match(run).candidates[0]
    assert (first.name, first.plausible) == ("ethanol", False)
    assert first.probability > 0.99
    others = match(Measurement("C-77", molar_mass=58.6)).candidates
    assert any(one.plausible and one.probability < 0.01 for one in others)


def test_ranks_and_order() -> None:
    ranking = match(Measurement("C-77", molar_mass=58.6))
    assert [candidate.rank for candidate in ranking.candidates] == list(range(1, 51))
    probabilities = [candidate.probability for candidate in ranking.candidates]
    # Alike to nine digits counts as equal: then the compound decides, not the last bit.
    assert all(a >= b * (1.0 - 3e-9) for a, b in pairwise(probabilities))


# ----------------------------------------------------------------------------------- deviations


@pytest.mark.parametrize(
    ("molar_mass", "boiling_point", "carbon"),
    [(46.99, 79.4, 52.34), (45.15, 77.4, 51.94), (46.069, 78.41, 52.14)],
)
def test_deviations_are_reading_minus_prediction(
    molar_mass: float, boiling_point: float, carbon: float
) -> None:
    run = Measurement(
        "E", molar_mass=molar_mass, boiling_point=boiling_point, percent=ETHANOL | {"C": carbon}
    )
    off = by_name(match(run))["ethanol"].deviations
    assert off.molar_mass_percent == pytest.approx(100.0 * (molar_mass / 46.069 - 1.0), abs=0.01)
    assert off.boiling_point_C == pytest.approx(boiling_point - 78.41, abs=0.1)
    assert off.percent["C"] == pytest.approx(carbon - 52.14, abs=0.02)
    assert off.percent["H"] == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize(("at", "expected"), [("760 mmHg", 78.4), ("700 mmHg", 76.3)])
def test_boiling_point_deviates_from_that_at_its_own_pressure(at: str, expected: float) -> None:
    run = Measurement("E", boiling_point=78.0, boiling_point_at=at, percent=ETHANOL)
    off = by_name(match(run))["ethanol"].deviations
    assert off.boiling_point_C == pytest.approx(78.0 - expected, abs=0.15)


def test_deviations_of_what_was_not_measured_are_none() -> None:
    off = match(Measurement("E", boiling_point=78.4)).candidates[0].deviations
    assert (off.molar_mass_percent, off.percent) == (None, {})
    off = match(Measurement("E", molar_mass=46.1)).candidates[0].deviations
    assert off.boiling_point_C is None


# -------------------------------------------------------------------------------- the card's gaps


def test_card_that_leaves_an_element_out() -> None:
    """Carbon and hydrogen of tetrahydrofuran alone: nothing is claimed about the missing 22 %."""
    run = Measurement("C-08", molar_mass=72.1, boiling_point=65.9, percent=THF | {"O": None})
    first = match(run).candidates[0]
    assert (first.name, first.plausible) == ("tetrahydrofuran", True)
    assert set(first.deviations.percent) == {"C", "H"}


def test_complete_card_speaks_against_elements_that_it_does_not_list() -> None:
    hexane = match(Measurement("D-07", boiling_point=68.7, percent=HEXANE)).candidates[0]
    assert (hexane.name, hexane.plausible) == ("hexane", True)
    # Carbon as in tetrahydrofuran, and all the rest said to be hydrogen.
    card = {"C": 66.63, "H": 33.37}
    ranking = match(Measurement("C-08", boiling_point=65.9, percent=card))
    other = by_name(ranking)["tetrahydrofuran"]
    assert not other.plausible
    assert other.deviations.percent["O"] == pytest.approx(-22.19, abs=0.02)


def test_complete_card_has_no_room_for_the_rest() -> None:
    """Chloroform with carbon and chlorine both 0.39 points high: no room for 0.84 % hydrogen."""
    percent = {"C": 10.06 + 0.39, "Cl": 89.10 + 0.39}
    high, sound = (
        by_name(match(Measurement("L", boiling_point=61.2, percent=card)))["chloroform"]
        for card in (percent, {"C": 10.06 + 0.39, "Cl": 89.10 - 0.39})
    )
    assert (high.plausible, sound.plausible) == (False, True)


@pytest.mark.parametrize("missing", ["C", "H", "O"])
def test_one_element_less_never_makes_the_truth_implausible(missing: str) -> None:
    percent = {element: share for element, share in METHANOL.items() if element != missing}
    ranking = match(replace(COMPLETE, percent=percent))
    assert (ranking.candidates[0].name, ranking.candidates[0].plausible) == ("methanol", True)


# ----------------------------------------------------------------------- missing means never there


@pytest.mark.parametrize(
    ("left_out", "nothing"),
    [
        ("boiling_point", {"boiling_point": None}),
        ("molar_mass", {"trials": ()}),
        ("elements", {"percent": {}}),
    ],
)
def test_missing_observable_is_absent(
    left_out: str, nothing: dict[str, Any], matcher: Matcher
) -> None:
    """What is known with one reading more is what is known without, times its likelihood."""
    with_it = posterior(matcher, COMPLETE)
    without = posterior(matcher, replace(COMPLETE, **nothing))
    assert not getattr(without.evidence, left_out)
    given = getattr(with_it.evidence, left_out)
    likelihood = np.ones(len(matcher.table))
    for comparison in given.values() if isinstance(given, dict) else [given]:
        likelihood *= comparison.likelihood()
    if left_out == "elements":
        assert with_it.evidence.unmentioned is not None
        likelihood *= with_it.evidence.unmentioned.likelihood()
    expected = without.probability * likelihood
    # The weighings also tell the room and the bath, and with them what anyone would put there.
    expected *= with_it.base / without.base
    expected /= expected.sum()
    known = with_it.probability / with_it.probability.sum()
    np.testing.assert_allclose(known, expected, rtol=1e-9, atol=1e-300)


@pytest.mark.parametrize(
    ("given", "never_had"),
    [
        (
            Measurement("A", boiling_point=64.6, percent={"C": 37.5, "O": None}, molar_mass=None),
            Measurement("A", boiling_point=64.6, percent={"C": 37.5}),
        ),
        (
            # A flask without a weighing measures nothing.
            Measurement("A", boiling_point=64.6, flask=Flask(volume=287.4)),
            Measurement("A", boiling_point=64.6, conditions=Conditions(pressure=742.0)),
        ),
    ],
)
def test_nothing_written_is_nothing_measured(given: Measurement, never_had: Measurement) -> None:
    assert match(given) == match(never_had)


@pytest.mark.parametrize(
    "conditions", [Conditions(room=22.0), Conditions(pressure=742.0), Conditions()]
)
def test_a_condition_that_nobody_wrote_down_is_taken_as_usual(conditions: Conditions) -> None:
    known, assumed = match(COMPLETE), match(replace(COMPLETE, conditions=conditions))
    assert assumed.candidates[0].name == known.candidates[0].name
    assert known.molar_mass is not None
    assert assumed.molar_mass is not None
    off = assumed.molar_mass.value - known.molar_mass.value
    assert abs(off) < 2.0 * assumed.molar_mass.standard_uncertainty
    assert assumed.molar_mass.standard_uncertainty > known.molar_mass.standard_uncertainty
    assert "condition-assumed" in {finding.code for finding in assumed.findings}
    assert {one.condition for one in assumed.assumed} == {"humidity"} | {
        name for name in ("room", "pressure") if getattr(conditions, name) is None
    }
    assert 0.0 < sum(one.share for one in assumed.assumed) < 1.0


# --------------------------------------------------------------------------------- several trials


def trials(*gains: float) -> Measurement:
    return replace(COMPLETE, trials=[Trial(99.4925, 99.4925 + gain, 98.4) for gain in gains])


def measured(run: Measurement) -> tuple[float, float]:
    molar_mass = match(run).molar_mass
    assert molar_mass is not None
    return molar_mass.value, molar_mass.standard_uncertainty


@pytest.mark.parametrize(
    "gains",
    [
        (0.2489,),
        (0.2489, 0.2489),
        (0.2480, 0.2498),
        (0.20, 0.25, 0.30),
        (0.10, 0.40),
        tuple(0.21 + 0.0125 * (number // 25) for number in range(150)),  # more than fit at once
    ],
    ids=len,
)
def test_trials_are_averaged_and_their_scatter_counts(gains: tuple[float, ...]) -> None:
    alone = {gain: measured(trials(gain))[0] for gain in set(gains)}
    each = [alone[gain] for gain in gains]
    value, uncertainty = measured(trials(*gains))
    assert value == pytest.approx(np.mean(each), rel=1e-9)
    # A third of it at least, where two trials alone say how they scatter.
    scatter = np.std(each, ddof=1) / np.sqrt(len(each)) if len(each) > 1 else 0.0
    assert uncertainty > scatter / 3.0


def test_scatter_widens_the_answer(matcher: Matcher) -> None:
    alone = replace(trials(0.40), percent={}, boiling_point=None)
    scattered = replace(trials(0.10, 0.70), percent={}, boiling_point=None)
    narrow, wide = (posterior(matcher, run) for run in (alone, scattered))
    assert wide.evidence.plausible.sum() >= narrow.evidence.plausible.sum()
    assert wide.probability.max() < narrow.probability.max()
    # A gain that is so small besides is taken for vapor that is missing, and says so.
    assert [slip.code for slip in match(scattered).slips] == ["mass-missing"]


# ------------------------------------------------------------------ tolerances and what is stated


@pytest.mark.parametrize(
    ("reading", "plausible"),
    [
        # Ethanol: 46.069 g/mol, 78.4 C, 52.14 % C; by default within 5 %, 2 C, 0.4 points.
        ({"molar_mass": 46.069 * 1.049}, True),
        ({"molar_mass": 46.069 * 1.051}, False),
        ({"molar_mass": f"{46.069 * 1.051} ± 2 g/mol"}, True),
        # However well it is stated to be known, it is read by a class.
        ({"molar_mass": f"{46.069 * 1.049} ± 0.5 g/mol"}, True),
        ({"boiling_point": 80.2}, True),
        ({"boiling_point": 81.2}, False),
        ({"boiling_point": "81.2 ± 2 C"}, True),
        ({"boiling_point": "79.8 ± 0.3 C"}, False),
        ({"percent": {"C": 52.50}}, True),
        ({"percent": {"C": 52.60}}, False),
        ({"percent": {"C": "52.60 ± 0.3 %"}}, True),
        ({"percent": {"C": "52.50 ± 0.1 %"}}, False),
    ],
)
def test_plausible_within_tolerance(
    reading: dict[str, Any], plausible: bool, matcher: Matcher
) -> None:
    (row,) = matcher.table.find("64-17-5")
    found = posterior(matcher, Measurement("E", **reading)).evidence
    assert bool(found.plausible[row]) is plausible


@pytest.mark.parametrize(
    ("balance_g", "expected"), [(0.0001, 0.731), (0.002, 0.794), (0.02, 3.16), (0.2, 30.1)]
)
def test_a_stated_uncertainty_of_the_readings_can_only_widen(
    balance_g: float, expected: float
) -> None:
    read = [f"{grams} ± {balance_g} g" for grams in (99.4925, 99.7414)]
    run = replace(COMPLETE, trials=[Trial(*read, 98.4)])
    molar_mass = match(run, technique="careful").molar_mass
    assert molar_mass is not None
    assert molar_mass.standard_uncertainty == pytest.approx(expected, rel=0.03)


def test_no_gain_does_not_agree_with_everything(table: CandidateTable) -> None:
    """A gain of 0.1 mg, give or take 0.4 mg, is as well known as any other."""
    run = replace(
        COMPLETE, boiling_point=None, percent={}, trials=[Trial("98.1132(3)", "98.1133(3)", 98.4)]
    )
    row = table.find("methanol")[0]
    as_written = posterior(Matcher(table, prior="uniform"), run)
    assert not as_written.evidence.plausible[row]
    # Only a gross error, or a slip, may have left it so small.
    assert as_written.probability[row] < 0.002
    methanol = by_name(match(run, prior="uniform")).get("methanol")
    assert methanol is None or methanol.probability < 0.01


# ---------------------------------------------------------------------------------------- priors


@pytest.mark.parametrize(("name", "span"), [("commerce", 4e3), ("classroom", 2.61e7)])
def test_a_prior_weighs_the_same_likelihood(table: CandidateTable, name: Any, span: float) -> None:
    run = Measurement("C-77", molar_mass=58.6)
    weighed, uniform = (posterior(Matcher(table, prior=prior), run) for prior in (name, "uniform"))
    prior = table.weights(name)
    weighted = uniform.probability * prior
    np.testing.assert_allclose(
        weighed.probability / weighed.probability.sum(), weighted / weighted.sum(), rtol=1e-9
    )
    # A thousand of it is for what no laboratory can bottle.
    assert prior.max() / prior.min() == pytest.approx(span, rel=0.05)


def test_there_are_three_priors() -> None:
    with pytest.raises(ValueError, match='"fame" is not one of classroom, commerce, uniform'):
        match(COMPLETE, prior="fame")


# ------------------------------------------------------------------------ what can be in the flask


@pytest.mark.parametrize(
    ("cas", "plausible"),
    [
        ("67-56-1", True),  # methanol
        ("106-99-0", False),  # 1,3-butadiene boils at -4 C: no bottle holds it in a room
        ("109-97-7", False),  # pyrrole boils at 130 C, far above the bath
    ],
)
def test_weighings_are_of_liquids_that_boil_off(
    cas: str, plausible: bool, matcher: Matcher
) -> None:
    (row,) = matcher.table.find(cas)
    molar_mass = np.array([matcher.table.number("molar_mass")[row] / 1000.0])
    bench = Bench.of(replace(COMPLETE, percent={}, boiling_point=None))
    assert bench.weighing is not None
    liquid = matcher.expectation.liquid
    own = Liquid(
        liquid.boiling_point[[row]],
        liquid.vapor_curve[[row]],
        liquid.virial[[row]],
        liquid.density[[row]],
    )
    # Weighed as if all of it had vaporized, whether it boils off in that bath or not.
    weighed = replace(
        bench, weighing=replace(bench.weighing, gain=gain(molar_mass, bench.weighing, own)[:, 0])
    )
    assert bool(matcher.evidence(weighed).plausible[row]) is plausible


def test_a_pressure_that_is_a_slip_does_not_decide_what_is_a_liquid(matcher: Matcher) -> None:
    (row,) = matcher.table.find("67-56-1")
    slip = replace(COMPLETE, conditions=replace(COMPLETE.conditions, pressure="29.3 mmHg"))
    assert matcher.liquid(Bench.of(slip))[row] > 0.99


def test_what_stands_on_a_shelf_is_melted_whatever_it_is() -> None:
    value = np.array([250.0, 350.0, 350.0, np.nan])
    on_shelf = np.array([False, False, True, False])
    melted = MeltingPoints(value, np.full(4, 0.01), on_shelf).melted(295.0)
    assert melted[0] > 0.98
    assert melted[1] < 0.05
    assert melted[2] == 1.0
