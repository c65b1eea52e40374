"""One unknown of very many trials, as a class without a column of students makes it."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from identify import Conditions, Flask, Measurement, Trial, match, molar_mass

CONDITIONS = Conditions(pressure="742.4 mmHg", room="22.4 C")


def acetone(trials: int, seed: int = 1) -> Measurement:
    """Return a run of so many trials that scatter by two percent."""
    random = np.random.default_rng(seed)
    gains = 0.4552 * (1.0 + 0.02 * random.standard_normal(trials))
    empty = 99.0 + random.random(trials)
    return Measurement(
        "C-30",
        boiling_point="56.2 C",
        conditions=CONDITIONS,
        flask=Flask(volume="287.6 mL"),
        trials=[
            Trial(f"{own:.4f} g", f"{own + gain:.4f} g", "98.4 C")
            for own, gain in zip(empty, gains, strict=True)
        ],
    )


@pytest.mark.parametrize("trials", [9, 30, 100])
def test_many_trials_name_the_liquid(trials: int) -> None:
    run = acetone(trials)
    found = match(run)
    assert found.candidates[0].name == "acetone"
    assert found.candidates[0].probability > 0.9
    assert not found.slips
    # The value is that of all trials, not of the ones that slips are looked for in.
    whole = molar_mass(run, identity="acetone", draws=0)
    assert found.molar_mass is not None
    assert found.molar_mass.value == pytest.approx(whole.value)
    assert len(whole.trials) == trials
    each = [one.value for one in whole.trials]
    assert whole.value == pytest.approx(np.mean(each))


def test_what_each_trial_reads_anew_averages_out() -> None:
    few, many = (molar_mass(acetone(count), identity="acetone", draws=0) for count in (64, 128))
    name = "flask with liquid, weighed"
    lines = [next(one for one in run.budget.lines if one.input == name) for run in (few, many)]
    assert lines[1].contribution / lines[0].contribution == pytest.approx(0.5**0.5, rel=0.02)
    shared = [next(o for o in run.budget.lines if o.input == "barometer") for run in (few, many)]
    assert shared[1].contribution == pytest.approx(shared[0].contribution, rel=0.01)


@pytest.mark.parametrize("place", [0, 17, 29])
def test_a_slip_in_one_of_thirty_is_named(place: int) -> None:
    run = acetone(30)
    odd = run.trials[place]
    right = odd.condensed.text
    # The first decimal and the second have changed places.
    digits = list(right)
    point = digits.index(".")
    digits[point + 1], digits[point + 2] = digits[point + 2], digits[point + 1]
    wrong = replace(odd, condensed="".join(digits))
    trials = [*run.trials[:place], wrong, *run.trials[place + 1 :]]
    found = match(replace(run, trials=trials))
    assert found.candidates[0].name == "acetone"
    assert any(f"rial {place + 1}" in slip.message for slip in found.slips)


def test_a_slip_in_all_of_thirty_is_named() -> None:
    run = acetone(30)
    found = match(replace(run, conditions=Conditions(pressure="29.23 mmHg", room="22.4 C")))
    assert found.candidates[0].name == "acetone"
    assert "pressure-unit" in [slip.code for slip in found.slips]


LIMITED = """
import resource, sys
resource.setrlimit(resource.RLIMIT_AS, (2 * 2**30, 2 * 2**30))
from tests.memory import own_peak
from tests.test_many_trials import acetone
from identify import match
found = match(acetone(1000))
print(found.candidates[0].name, own_peak())
"""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows counts memory otherwise")
def test_a_thousand_trials_need_little_memory() -> None:
    done = subprocess.run(
        [sys.executable, "-c", LIMITED],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parents[1],
    )
    name, megabytes = done.stdout.split()
    assert name == "acetone"
    assert float(megabytes) < 500
