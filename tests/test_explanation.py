"""Why a compound is as probable as it is: the lines add up, and name what decides."""

from __future__ import annotations

import json
from math import exp, log
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from identify import Conditions, Flask, Measurement, Trial, explain, load_candidates, match
from identify.bench.bench import Bench
from identify.compounds.naming.lookup import NameFault, row_meant
from identify.compounds.table import CandidateTable
from identify.matching.evidence import Matcher
from identify.matching.expected.suitability import NOT_FOR_THIS_BATH
from identify.matching.explain.explanation import Explanation, explain_row, times_text
from identify.matching.explain.terms import terms
from identify.matching.posterior import Posterior

BUILT_IN = load_candidates()
MATCHER = Matcher(BUILT_IN)
BENCH = {
    "conditions": Conditions(pressure="742.0 mmHg", room="22.5 C"),
    "flask": Flask(volume="287.4 mL"),
}


def weighed(gain: float, bath: float = 98.9, **card: object) -> Measurement:
    return Measurement("C-9", trials=[Trial(98.1132, 98.1132 + gain, bath)], **BENCH, **card)


METHANOL = weighed(0.2487, boiling_point="64.6 C", percent={"C": 37.5, "H": 12.6, "O": 49.9})
ETHANOL = Measurement("C-10", boiling_point="78.4 C", percent={"C": 52.1, "H": 13.1})
FURTHER = Measurement("C-11", refractive_index=1.3611, density=0.789, melting_point="-114 C")


def line(explanation: Explanation, observable: str) -> dict[str, object]:
    (found,) = (one for one in explanation.lines if one.observable == observable)
    return found.to_dict()


# ---------------------------------------------------------------------------------- adding up


@st.composite
def runs(draw: st.DrawFn) -> Measurement:
    """Draw readings of any kind, also such as no compound would give."""
    card = {
        "boiling_point": draw(st.none() | st.floats(-50.0, 250.0)),
        "percent": draw(
            st.dictionaries(st.sampled_from(["C", "H", "O", "Cl"]), st.floats(0.5, 99.0))
        ),
        "refractive_index": draw(st.none() | st.floats(1.25, 1.7)),
        "density": draw(st.none() | st.floats(0.55, 3.0)),
        "melting_point": draw(st.none() | st.floats(-150.0, 30.0)),
    }
    if draw(st.booleans()):
        return weighed(draw(st.floats(-0.1, 2.0)), draw(st.floats(35.0, 120.0)), **card)
    return Measurement("X", molar_mass=draw(st.none() | st.floats(10.0, 400.0)), **card)


@settings(max_examples=60, deadline=None)
@given(runs(), st.integers(0, len(BUILT_IN) - 1))
def test_the_lines_add_up_to_the_ratio_of_probabilities(run: Measurement, row: int) -> None:
    explanation = explain_row(run, row, MATCHER)
    compound, other = explanation.compound.probability, explanation.other.probability
    assert compound > 0.0
    assert explanation.total == pytest.approx(log(compound) - log(other), abs=1e-9)
    written = explanation.to_dict()
    each = [one["log_odds"] for one in written["lines"]]
    assert sum(each) == pytest.approx(written["log_odds"], abs=1e-9)


@settings(max_examples=20, deadline=None)
@given(runs())
def test_the_terms_add_up_for_all_compounds_at_once(run: Measurement) -> None:
    bench = Bench.of(run)
    posterior = Posterior.of(MATCHER.evidence(bench))
    total = sum(term.log_likelihood for term in terms(posterior))
    spread = total - np.log(posterior.probability)
    assert np.ptp(spread) < 1e-9


@pytest.mark.parametrize("prior", ["classroom", "commerce", "uniform"])
def test_before_the_readings(prior: str) -> None:
    explanation = explain(ETHANOL, "dimethyl ether", prior=prior)
    row = {name: row_meant(BUILT_IN, name) for name in ("dimethyl ether", "ethanol")}
    weights = BUILT_IN.weights(prior)
    ratio = weights[row["dimethyl ether"]] / weights[row["ethanol"]]
    assert line(explanation, "commonness")["log_odds"] == pytest.approx(log(ratio), abs=1e-9)
    # It boils at -25 degrees Celsius: a gas, of which one bottle in a hundred holds the liquid.
    assert line(explanation, "liquid_in_room")["times_as_likely"] == pytest.approx(0.01, rel=0.01)


# --------------------------------------------------------------------------------- one by one


@pytest.mark.parametrize(
    ("run", "name", "observable", "predicted", "measured", "deviation"),
    [
        # Tolerances by hand: 2 degrees Celsius with the table's own error, 0.4 points, 5 %.
        (ETHANOL, "ethanol", "boiling_point", 78.4, 78.4, 0.0),
        (ETHANOL, "acetone", "boiling_point", 56.1, 78.4, 22.3 / 2.0),
        (ETHANOL, "acetone", "percent_C", 62.04, 52.1, -9.94 / 0.4),
        (METHANOL, "ethanol", "percent_O", 34.73, 49.9, 15.17 / 0.4),
        (Measurement("C", molar_mass=60.0), "ethanol", "molar_mass", 46.07, 60.0, 13.93 / 2.3035),
        # 31 % nitrogen or so, which a card that adds up to 100 has no room for.
        (METHANOL, "methylamine", "other_elements", 45.10, 0.0, None),
        (FURTHER, "ethanol", "refractive_index", 1.3613, 1.3611, None),
        (FURTHER, "ethanol", "density", 0.789, 0.789, None),
        (FURTHER, "ethanol", "melting_point", -114.1, -114.0, None),
    ],
)
def test_predicted_measured_and_deviation(
    run: Measurement,
    name: str,
    observable: str,
    predicted: float,
    measured: float,
    deviation: float | None,
) -> None:
    found = line(explain(run, name), observable)
    assert found["predicted"] == pytest.approx(predicted, rel=4e-3)
    assert found["measured"] == pytest.approx(measured, abs=1e-6)
    if deviation is not None:
        assert found["deviation"] == pytest.approx(deviation, rel=0.02, abs=0.05)


def test_a_weighing_shows_each_compound_its_own_molar_mass() -> None:
    explanation = explain(METHANOL, "acetone")
    found = line(explanation, "molar_mass")
    posterior = Posterior.of(MATCHER.evidence(Bench.of(METHANOL)))
    assert posterior.evidence.observed_molar_mass is not None
    own = posterior.evidence.observed_molar_mass[row_meant(BUILT_IN, "acetone")]
    assert found["measured"] == pytest.approx(own, rel=1e-5)
    assert found["deviation_of_other"] == pytest.approx(0.0, abs=0.2)


@pytest.mark.parametrize(("gain", "sign"), [(0.86, -1.0), (0.40, 1.0)])
def test_what_does_not_boil_off_makes_the_weighing_say_less(gain: float, sign: float) -> None:
    # Toluene boils 10 K above this bath: 0.86 g, its own molar mass, cannot be its vapor, and
    # 0.40 g, half of that, need not be.
    explanation = explain(weighed(gain), "toluene")
    found, before = line(explanation, "not_boiled_off"), line(explanation, "boils_off")
    assert found["predicted"] == before["predicted"] == pytest.approx(109.8, abs=0.5)
    assert found["measured"] == before["measured"] == pytest.approx(98.9)
    assert sign * found["log_odds"] > 1.5
    # Whoever weighs vapor is given a liquid that boils off.
    assert before["times_as_likely"] == pytest.approx(NOT_FOR_THIS_BATH, rel=0.01)
    given_as_such = explain(Measurement("C", molar_mass=92.0), "toluene")
    assert not {"boils_off", "not_boiled_off"} & {one.observable for one in given_as_such.lines}


def test_a_constant_that_is_not_known_has_no_number() -> None:
    unknown = int(np.flatnonzero(np.isnan(BUILT_IN.number("melting_point_C")))[0])
    found = line(explain_row(FURTHER, unknown, MATCHER), "melting_point")
    assert (found["predicted"], found["deviation"]) == (None, None)
    assert found["measured"] == pytest.approx(-114.0)
    assert found["log_odds"] is not None


# ------------------------------------------------------------------------------ what decides


@pytest.mark.parametrize(
    ("run", "name", "observable", "words"),
    [
        (METHANOL, "acetone", "percent_C", "speaks most against acetone: 37.50 % was read"),
        (METHANOL, "methanol", None, "speaks most for methanol"),
        (Measurement("C", boiling_point=78.4), "benzene", "boiling_point", "would have given 80.1"),
        (ETHANOL, "dimethyl ether", "boiling_point", "ethanol it is 0.0"),
        (Measurement("C"), "dimethyl ether", "liquid_in_room", "no open bottle holds it"),
    ],
)
def test_the_sentence_names_what_decides(
    run: Measurement, name: str, observable: str | None, words: str
) -> None:
    explanation = explain(run, name, prior="commerce")
    assert words in explanation.sentence
    assert explanation.strongest is not None
    if observable is not None:
        assert explanation.strongest.observable == observable


def test_the_leader_is_compared_with_the_second() -> None:
    ranking = match(ETHANOL, prior="commerce")
    first, second = ranking.candidates[0], ranking.candidates[1]
    explanation = explain(ETHANOL, first.name, prior="commerce")
    assert explanation.leads
    assert (explanation.compound.cas, explanation.other.cas) == (first.cas, second.cas)
    assert explanation.total > 0.0
    others = explain(ETHANOL, second.name, prior="commerce")
    assert not others.leads
    assert (others.compound.cas, others.other.cas) == (second.cas, first.cas)
    assert others.total == pytest.approx(-explanation.total, abs=1e-12)
    # Of the readings as they are written: the answer has allowed for slips besides.
    matcher = Matcher(load_candidates(), prior="commerce")
    written = Posterior.of(matcher.evidence(Bench.of(ETHANOL))).probability
    assert others.compound.probability == pytest.approx(written[second.index], rel=1e-12)


def test_two_that_nothing_tells_apart() -> None:
    row = row_meant(BUILT_IN, "acetone")
    twins = BUILT_IN.take([row, row])
    explanation = explain_row(ETHANOL, 1, Matcher(twins))
    assert explanation.strongest is None
    assert explanation.total == 0.0
    assert explanation.sentence == "Nothing that was read tells acetone from acetone."


def test_a_compound_without_any_chance() -> None:
    rows = [row_meant(BUILT_IN, name) for name in ("ethanol", "acetone")]
    pair = BUILT_IN.take(rows)
    text = {column: pair.text(column) for column in ("name", "cas", "formula")}
    numbers = {name: pair.number(name).copy() for name in ("molar_mass", "prior")}
    numbers |= {name: pair.number(name) for name in MATCHER.table._numbers if name not in numbers}
    numbers |= {name: np.array([1.0, 0.0]) for name in ("prior", "classroom")}
    explanation = explain(ETHANOL, "acetone", CandidateTable(text, numbers))
    assert explanation.total == float("-inf")
    assert "more common" in explanation.sentence
    written = explanation.to_dict()
    assert written["log_odds"] is None
    assert json.loads(json.dumps(written, allow_nan=False)) == written


# ------------------------------------------------------------------------------------- names


STOCK = "label,identity\nS-1,ethanol\nS-2,acetone\nS-3,64-17-5\nacetone,methanol\n"


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("S-2", "acetone"),
        ("s-1", "ethanol"),
        ("S-3", "ethanol"),
        ("S-1, S-3", "ethanol"),
        ("acetone", "methanol"),  # the label on that bottle
        ("67-64-1", "acetone"),
        ("CO", "methanol"),
        ("ethyl alcohol", "ethanol"),
    ],
)
def test_a_bottle_by_its_label(tmp_path: Path, text: str, name: str) -> None:
    file = tmp_path / "stock.csv"
    file.write_text(STOCK)
    explanation = explain(ETHANOL, text, file)
    assert explanation.compound.name == name
    assert explanation.to_dict()["compound"]["bottle"] == explanation.compound.bottle != ""


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("C1CCCCC1", "cyclohexane"),
        ("c1ccccc1", "benzene"),
        (" Benzene ", "benzene"),
        ("UHOVQNZJYSORNB-UHFFFAOYSA-N", "benzene"),
    ],
)
def test_the_compound_meant(text: str, name: str) -> None:
    assert BUILT_IN.text("name")[row_meant(BUILT_IN, text)] == name


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("cyclohexxane", "did you mean cyclohexane"),
        ("C7H14", "several compounds may share"),
        ("no such thing", "its CAS number or its SMILES"),
        ("", "is empty"),
        ("x" * 5000, "is not a compound known here"),
    ],
)
def test_a_name_that_will_not_do(text: str, fault: str) -> None:
    with pytest.raises(NameFault, match=fault) as raised:
        explain(ETHANOL, text)
    assert len(str(raised.value).splitlines()) == 1
    assert len(str(raised.value)) < 300


def test_a_table_of_one() -> None:
    with pytest.raises(ValueError, match="holds ethanol alone"):
        explain(ETHANOL, "ethanol", BUILT_IN.take([row_meant(BUILT_IN, "ethanol")]))


@pytest.mark.parametrize(
    ("times", "text"),
    [
        (1.0, "1.0"),
        (0.996, "1.0"),
        (0.99, "1/1.0"),
        (9.94, "9.9"),
        (9.96, "10"),
        (0.02, "1/50"),
        (99_499.0, "99000"),
        (exp(60.0), "1e+26"),
        (0.0, "0"),
        (float("inf"), "∞"),
    ],
)
def test_times_text(times: float, text: str) -> None:
    assert times_text(times) == text
