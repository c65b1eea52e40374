"""Sound runs of real liquids raise findings no more often than noise alone accounts for.

Every compound of the built-in table that boils between 25 and 93 °C by published values is
measured as a class would: weighings to 2.5 %, a card with its elements to 0.2 points, a boiling
point to 1 °C (standard deviations). ``pytest -s`` prints how often each finding was raised.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from functools import cache
from math import sqrt
from statistics import NormalDist

import numpy as np
import pytest

from identify import (
    Conditions,
    Finding,
    Flask,
    Measurement,
    Trial,
    check,
    load_candidates,
    match,
)
from identify.physics.constants import ELEMENTS
from identify.physics.vapor import Liquid, Weighing, gain

SEED = 20
DRAWS = 3
MOLAR_MASS, PERCENT, BOILING_POINT = 0.025, 0.2, 1.0  # relative; points; K
# Of the 2.5 %, what differs between trials of one person.
BETWEEN_TRIALS = 0.02
BATH, ROOM, ZERO = 98.9, 22.5, 273.15  # degrees Celsius
ATMOSPHERE = 101325.0  # Pa

FORMULAS = ("composition-no-formula", "composition-valence", "molar-mass-no-multiple")
SUMS = ("percent-sum-low", "percent-sum-high")
# What the physics of a liquid that boils near the bath or the room deserves.
DESERVED = ("bath-near-boiling-point", "boils-in-room", "mass-lost")


def beyond(standard_deviations: float) -> float:
    """Chance that noise alone leaves so many standard deviations, either way."""
    return 2.0 * NormalDist().cdf(-standard_deviations)


@dataclass(frozen=True)
class Clean:
    """A simulated run, the boiling point that was read, and the gain without noise [kg]."""

    run: Measurement
    boiling_point: float
    noiseless_gain: float


@cache
def simulated(trials: int, pressure: float = ATMOSPHERE, bath: float = BATH) -> tuple[Clean, ...]:
    table = load_candidates()
    boiling = table.number("boiling_point_C")
    published = table.number("boiling_point_published") != 0.0
    rows = np.flatnonzero(published & (boiling >= 25.0) & (boiling <= 93.0))
    taken = Weighing(
        gain=np.zeros(1),
        bath=np.array([bath + ZERO]),
        room=np.array([ROOM + ZERO]),
        pressure=np.array([pressure]),
        volume=np.array([287.4e-6]),
        volume_temperature=np.array([ROOM + ZERO]),
        humidity=np.array([0.5]),
    )
    liquid = Liquid(
        boiling_point=boiling[rows] + ZERO,
        vapor_curve=table.vapor_curve[rows],
        virial=table.virial[rows],
        density=np.nan_to_num(table.number("liquid_density_25C")[rows], nan=800.0),
    )
    molar_mass = 1e-3 * table.number("molar_mass")[rows]
    noiseless = gain(molar_mass, taken, liquid)[0]
    noise = np.random.default_rng(SEED).standard_normal(
        (len(rows), DRAWS, 1 + trials + len(ELEMENTS) + 1)
    )
    shared = sqrt(MOLAR_MASS**2 - BETWEEN_TRIALS**2) * noise[..., :1]
    factors = 1.0 + shared + BETWEEN_TRIALS * noise[..., 1 : 1 + trials]
    gains = np.empty_like(factors)
    for draw, trial in np.ndindex(DRAWS, trials):
        gains[:, draw, trial] = gain(molar_mass * factors[:, draw, trial], taken, liquid)[0]
    found = []
    for place, row in enumerate(rows.tolist()):
        listed = np.flatnonzero(table.percent[row])
        for off, weighed in zip(noise[place], gains[place], strict=True):
            card = table.percent[row] + PERCENT * off[1 + trials : -1]
            read = round(float(boiling[row] + BOILING_POINT * off[-1]), 1)
            run = Measurement(
                table.text("name")[row],
                percent={ELEMENTS[e]: max(round(float(card[e]), 2), 0.0) for e in listed},
                boiling_point=read,
                conditions=Conditions(pressure=f"{pressure} Pa", room=ROOM),
                flask=Flask(volume="287.4 mL"),
                trials=[Trial(98.1132, f"{98.1132 + 1e3 * one:.4f} g", bath) for one in weighed],
            )
            found.append(Clean(run, read, noiseless[place]))
    return tuple(found)


@cache
def checked(*simulation: float) -> list[list[Finding]]:
    """Return what is found in each simulated run."""
    return [check(one.run) for one in simulated(*simulation)]


@pytest.fixture(scope="module")
def single() -> tuple[Clean, ...]:
    return simulated(1, ATMOSPHERE, BATH)


@pytest.fixture(scope="module")
def found() -> list[list[Finding]]:
    return checked(1, ATMOSPHERE, BATH)


def counted(found: list[list[Finding]]) -> Counter[tuple[str, str]]:
    counts = Counter((one.code, one.severity) for findings in found for one in findings)
    for (code, severity), number in sorted(counts.items()):
        print(f"\n{code:<26}{severity:<9}{number:6d}{100.0 * number / len(found):7.2f} %", end="")
    return counts


def allowed(share: float, runs: int) -> float:
    """Three standard deviations of counting above an expected share."""
    return runs * share + 3.0 * sqrt(runs * share)


def test_there_are_enough_runs(single):
    assert len({one.run.label for one in single}) > 300
    assert len(single) > 2000


def test_few_sound_runs_raise_an_error_or_a_warning(found):
    doubted = [
        findings
        for findings in found
        if any(one.severity != "note" and one.code not in DESERVED for one in findings)
    ]
    print(f"\nundeserved errors and warnings: {100.0 * len(doubted) / len(found):.2f} %", end="")
    assert len(doubted) <= 0.02 * len(found)


def test_only_findings_that_noise_can_raise_are_raised(found):
    assert {one.code for findings in found for one in findings} <= {*FORMULAS, *SUMS, *DESERVED}


def test_each_finding_is_as_rare_as_its_limit_says(single, found):
    counts, runs = counted(found), len(found)
    # A sum leaves two standard deviations by chance, rarely three.
    notes = sum(counts[code, "note"] for code in SUMS)
    assert notes <= allowed(beyond(2.0), runs)
    assert notes >= 0.5 * beyond(2.0) * runs  # a check that is never raised would pass too
    assert counts["percent-sum-low", "warning"] <= allowed(0.5 * beyond(3.0), runs)
    assert counts["percent-sum-high", "error"] <= allowed(0.5 * beyond(3.0), runs)
    # A formula is lost where an element or the molar mass leaves three standard deviations.
    readings = float(np.mean([len(one.run.percent) + 1 for one in single]))
    lost = sum(counts[code, "warning"] for code in FORMULAS)
    assert lost <= allowed(readings * beyond(3.0), runs)


def test_what_the_physics_deserves_is_raised_and_nothing_else(single, found):
    for one, findings in zip(single, found, strict=True):
        codes = {finding.code for finding in findings}
        near = round(BATH - one.boiling_point, 1) < 5.0
        assert ("bath-near-boiling-point" in codes) is near, one.run.label
        boils = round(one.boiling_point - ROOM, 1) < 5.0
        assert ("boils-in-room" in codes) is boils, one.run.label
        # Lighter than the air that its vapor shuts out: hydrogen cyanide, which hardly condenses.
        assert ("mass-lost" in codes) <= (one.noiseless_gain < 0.01e-3), one.run.label


def test_sound_trials_seldom_scatter():
    found = checked(3)
    counts = counted(found)
    # The limit is a confidence of 99 %.
    assert 0.002 * len(found) <= counts["trials-scatter", "warning"] <= allowed(0.01, len(found))


def test_the_molar_mass_of_a_match_raises_no_more(single):
    one_draw = single[::DRAWS]
    found = [list(match(one.run).findings) for one in one_draw]
    counts, runs = counted(found), len(found)
    readings = float(np.mean([len(one.run.percent) + 2 for one in one_draw]))
    lost = sum(counts[code, "warning"] for code in FORMULAS)
    assert lost <= allowed((readings - 1.0) * beyond(3.0), runs)
    # Some reading is outside its tolerance of two standard deviations in one run of five: worth a
    # note. All together are further off than 99 % of sound runs in one of a hundred.
    outside = 1.0 - (1.0 - beyond(2.0)) ** readings
    assert counts["nothing-plausible", "note"] <= allowed(outside, runs)
    assert counts["nothing-plausible", "warning"] <= allowed(0.01, runs)


@pytest.mark.parametrize(
    # Each bath just below what water boils at there.
    ("pressure", "bath"),
    [(70000.0, 89.0), (85000.0, 94.4), (ATMOSPHERE, BATH)],
)
@pytest.mark.parametrize("without", ["boiling_point", "nothing"])
def test_the_shortcut_makes_no_molar_mass_suspect(pressure, bath, without):
    """It leaves out up to 28 g/mol, which only a boiling point lets one estimate."""
    runs = simulated(1, pressure, bath)
    found = (
        checked(1, pressure, bath)
        if without == "nothing"
        else [check(replace(one.run, boiling_point=None)) for one in runs]
    )
    raised = sum(
        any(finding.code == "molar-mass-no-multiple" for finding in findings) for findings in found
    )
    print(f"\nmolar-mass-no-multiple: {100.0 * raised / len(runs):.2f} %", end="")
    readings = float(np.mean([len(one.run.percent) + 1 for one in runs]))
    assert raised <= allowed(readings * beyond(3.0), len(runs))
