"""What holds of a molar mass whatever the readings are."""

from __future__ import annotations

import warnings
from math import hypot, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ordinary_run import codes, line, run_of, worked

from identify import Conditions, Flask, Measurement, Trial

grams = st.floats(0.15, 0.9).map(lambda gain: round(98.1132 + gain, 4))
quick = settings(max_examples=40, deadline=None)


def masses_of(numbers: list[float]) -> tuple[str, ...]:
    return tuple(f"{number:.4f} g" for number in numbers)


@quick
@given(st.lists(grams, min_size=2, max_size=6), st.randoms(use_true_random=False))
def test_the_order_of_the_trials_changes_nothing(numbers, random):
    shuffled = random.sample(numbers, len(numbers))
    first, second = (worked(run_of(*masses_of(given_in))) for given_in in (numbers, shuffled))
    assert first.value == pytest.approx(second.value, rel=1e-9)
    assert first.standard_uncertainty == pytest.approx(second.standard_uncertainty, rel=1e-6)
    assert first.budget.degrees == pytest.approx(second.budget.degrees, rel=1e-6)
    assert codes(first) == codes(second)


@quick
@given(grams, st.floats(1.1, 20.0))
def test_the_balance_counts_by_its_error(number, factor):
    run = run_of(f"{number:.4f} ± 0.0005 g", empty="98.1132 ± 0.0005 g")
    worse = run_of(f"{number:.4f} ± {0.0005 * factor} g", empty=f"98.1132 ± {0.0005 * factor} g")
    fine, coarse = worked(run), worked(worse)
    assert fine.value == pytest.approx(coarse.value)
    for words in ("empty", "liquid, weighed"):
        assert line(coarse, words).contribution == pytest.approx(
            factor * line(fine, words).contribution, rel=1e-3
        )
    others = [
        sqrt(sum(one.contribution**2 for one in found.budget.lines if one.unit != "g"))
        for found in (fine, coarse)
    ]
    assert others[0] == pytest.approx(others[1])
    assert coarse.standard_uncertainty > fine.standard_uncertainty


@quick
@given(st.integers(2, 8), grams)
def test_more_trials_never_make_the_balance_count_more(count, number):
    def balance(trials: int) -> float:
        empties = tuple(f"{98.1132 + 0.0001 * place:.4f} g" for place in range(trials))
        masses = tuple(f"{number + 0.0001 * place:.4f} g" for place in range(trials))
        found = worked(run_of(*masses, empty=empties))
        return hypot(*(one.contribution for one in found.budget.lines if one.unit == "g"))

    assert balance(count) == pytest.approx(balance(1) / sqrt(count), rel=1e-3)


@quick
@given(st.lists(grams, min_size=1, max_size=4))
def test_units_change_nothing(numbers):
    run = run_of(*masses_of(numbers))
    other = Measurement(
        "C-14",
        conditions=Conditions(pressure="98.925207 ± 0.066661 kPa", room="295.65 ± 0.5 K"),
        flask=Flask(volume=f"0.2874 ± {0.5e-3 * sqrt(3.0):.9f} L"),
        trials=[
            Trial(
                empty="98113.2 ± 0.1 mg",
                condensed=f"{1e3 * number:.1f} ± 0.1 mg",
                bath="210.02 ± 0.9 F",
            )
            for number in numbers
        ],
    )
    first, second = worked(run), worked(other)
    assert first.value == pytest.approx(second.value, rel=1e-6)
    assert first.standard_uncertainty == pytest.approx(second.standard_uncertainty, rel=1e-4)


@quick
@given(st.floats(0.5, 2.0))
def test_a_larger_flask_with_as_much_more_vapor_is_the_same_liquid(factor):
    small = run_of(flask=Flask(volume="287.4 ± 0.5 mL"))
    large = run_of(
        f"{98.1132 + 0.2589 * factor:.7f} ± {0.0001 * factor:.9f} g",
        empty=f"98.1132 ± {0.0001 * factor:.9f} g",
        flask=Flask(volume=f"{287.4 * factor:.6f} ± {0.5 * factor:.6f} mL"),
    )
    first, second = worked(small), worked(large)
    assert first.value == pytest.approx(second.value, rel=1e-6)
    assert first.standard_uncertainty == pytest.approx(second.standard_uncertainty, rel=1e-4)


@quick
@given(
    st.lists(st.floats(97.0, 100.0), min_size=1, max_size=5),
    st.floats(10.0, 45.0),
    st.floats(30.0, 140.0),
    st.floats(560.0, 800.0),
    st.sampled_from(["methanol", "acetone", "propane", "glycerol", "pentane", "naphthalene"]),
)
def test_any_readings_give_finite_numbers_or_a_finding(numbers, room, bath, pressure, identity):
    run = run_of(
        *masses_of(numbers),
        conditions=Conditions(pressure=f"{pressure:.1f} mmHg", room=f"{room:.1f} C"),
        bath=f"{bath:.1f} C",
    )
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        found = worked(run, identity, draws=2_000)
    assert np.isfinite([found.value, found.standard_uncertainty, found.ideal_gas]).all()
    assert found.standard_uncertainty > 0.0
    if not 10.0 <= found.value <= 1000.0:
        assert any(finding.severity == "error" for finding in found.findings)
