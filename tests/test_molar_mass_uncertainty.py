"""The uncertainty of a molar mass: inputs, what trials share, pooling, the simulation."""

from __future__ import annotations

import warnings
from dataclasses import replace
from math import inf, sqrt
from statistics import mean, stdev
from types import SimpleNamespace

import numpy as np
import pytest
from ordinary_run import CONDENSED, CONDITIONS, EMPTY, line, run_of, worked

from identify import Flask, Measurement, Trial
from identify.budget.liquids import PossibleLiquids
from identify.calculations.molar_mass.doubts import _first_order
from identify.calculations.molar_mass.simulation import Simulation
from identify.notebook.usual import ROOM
from identify.physics.boiling import vapor_pressure

THREE = run_of("98.3721 g", "98.3764 g", "98.3698 g")

# ----------------------------------------------------------------- the inputs


@pytest.mark.parametrize(
    ("change_of", "words", "stated", "unit", "usual", "origin"),
    [
        ({"bath": "98.9 ± 0.2 C"}, "bath", 0.2, "°C", 0.5, "thermometer"),
        ({"bath": "210.0 ± 0.9 F"}, "bath", 0.5, "°C", 0.5, "thermometer"),
        ({"room": "22.5 ± 0.1 C"}, "room thermometer", 0.1, "°C", 0.5, "thermometer"),
        ({"pressure": "742.0 ± 0.2 mmHg"}, "barometer", 0.2, "mmHg", 0.5, "barometer"),
        ({"pressure": "98.93(4) kPa"}, "barometer", 0.300, "mmHg", 0.5, "barometer"),
        ({"humidity": "40 ± 2 %"}, "humidity", 2.0, "%", 30.0 / sqrt(3.0), "20 to 80"),
        ({"humidity": "40 %"}, "humidity", 5.0, "%", 30.0 / sqrt(3.0), "20 to 80"),
        ({"volume": "287.4 ± 0.3 mL"}, "volume", 0.3, "mL", 0.5 * sqrt(3.0), "3 fills"),
        ({"empty": "98.1132(3) g"}, "empty", 0.0003, "g", 0.0001, "last digit"),
        ({"condensed": "98.3721(2) g"}, "liquid, weighed", 0.0002, "g", 0.0001, "last digit"),
    ],
)
def test_a_stated_uncertainty_replaces_the_usual_one(change_of, words, stated, unit, usual, origin):
    conditions = {k: v for k, v in change_of.items() if k in ("room", "pressure", "humidity")}
    run = run_of(
        change_of.get("condensed", CONDENSED),
        empty=change_of.get("empty", EMPTY),
        bath=change_of.get("bath", "98.9 C"),
        conditions=replace(CONDITIONS, **conditions),
        flask=Flask(volume=change_of.get("volume", "287.4 mL")),
    )
    with_it, without = line(worked(run), words), line(worked(run_of()), words)
    assert (with_it.standard_uncertainty, with_it.unit) == (pytest.approx(stated, rel=2e-3), unit)
    assert without.standard_uncertainty == pytest.approx(usual)
    assert origin in without.origin
    assert with_it.origin == "stated" or stated == 5.0
    assert with_it.contribution == pytest.approx(
        abs(with_it.sensitivity) * with_it.standard_uncertainty, rel=1e-3
    )


@pytest.mark.parametrize(
    ("flask", "words", "uncertainty"),
    [
        ({"volume": "87.4 mL"}, "volume", 0.5),
        ({"volume": "100 mL"}, "volume", 0.5),
        ({"volume": "287.4 mL"}, "volume", 0.5 * sqrt(3.0)),
        ({"volume": "1104 mL"}, "volume", 0.5 * sqrt(12.0)),
        ({"water_volume": "287.4 mL"}, "volume", 0.5 * sqrt(3.0)),
        ({"water_volume": "100.0 + 100.0 + 50.0 + 37.4 mL"}, "volume", 1.0),
        ({"water_volume": ["100.0(3) mL", "100.0(4) mL"]}, "volume", 0.5),
        ({"water_mass": "286.7 g"}, "water in the flask", 0.1),
        ({"water_mass": "286.72 g"}, "water in the flask", 0.01),
        ({"water_mass": "286.72(5) g"}, "water in the flask", 0.05),
    ],
)
def test_the_volume_is_as_uncertain_as_it_was_measured(flask, words, uncertainty):
    found = worked(run_of(flask=Flask(**flask)))
    of_volume = [one for one in found.budget.lines if words in one.input]
    assert [one.standard_uncertainty for one in of_volume] == [pytest.approx(uncertainty, rel=0.02)]


def test_warm_water_is_light_water():
    found = worked(run_of(flask=Flask(water_mass="286.72 g", water_temperature="22.5 C")))
    of_water = line(found, "water thermometer")
    # The density of water falls by 0.230 g/L for each degree at 22.5 degrees Celsius.
    # The air that is shut out grows with the flask: only the rest is divided by its volume.
    shut_out = next(one.change for one in found.corrections if "shut out" in one.name)
    expected = (found.value - shut_out) * 0.230 / 997.66 * 0.5
    assert of_water.contribution == pytest.approx(expected, rel=0.03)
    assert of_water.sensitivity < 0.0  # a warmer water fills a larger flask


# ------------------------------------------------------ what the trials share

OWN_FLASKS = ("286.1 mL", "291.8 mL", "279.4 mL")
GAINS = (0.2589, 0.2600, 0.2581)
SHARED = {
    "one empty weighing": run_of("98.3721 g", "98.3742 g", "98.3699 g"),
    "own empty weighings": run_of(
        "98.3721 g", "98.3742 g", "98.3699 g", empty=("98.1132 g", "98.1135 g", "98.1131 g")
    ),
    "the same condensed mass twice": run_of("98.3721 g", "98.3721 g", "98.3725 g"),
    "own flasks": replace(
        run_of(
            "98.3711 g", "98.3772 g", "98.3649 g", empty=("98.1132 g", "98.1135 g", "98.1131 g")
        ),
        trials=[
            Trial(
                empty=f"{98.1132 + 0.0003 * place:.4f} g",
                condensed=f"{98.1132 + 0.0003 * place + gain * factor:.4f} g",
                bath=f"{98.9 - 0.2 * place:.1f} C",
                flask=Flask(volume=volume),
            )
            for place, (gain, factor, volume) in enumerate(
                zip(GAINS, (0.9955, 1.0153, 0.9722), OWN_FLASKS, strict=True)
            )
        ],
    ),
}


def moved(run: Measurement, place: int, field: str, step: str) -> Measurement:
    """Return a run with one reading of one trial moved; its own conditions are made so first."""
    trial = run.trials[place]
    owner = {"pressure": "conditions", "room": "conditions", "humidity": "conditions"}.get(field)
    owner = "flask" if field == "volume" else owner
    part = {"conditions": run.trial_conditions, "flask": run.trial_flask}.get(owner or "")
    holder = trial if part is None else part(trial)
    written = getattr(holder, field)
    value, unit = (50.0, "%") if written is None else (written.value, written.unit)
    new = replace(holder, **{field: f"{value + float(step):.9f} {unit}"})
    trial = new if owner is None else replace(trial, **{owner: new})
    return replace(run, trials=[*run.trials[:place], trial, *run.trials[place + 1 :]])


def covariance(run: Measurement) -> np.ndarray:
    """Return the covariance matrix of the trials, made by moving one reading at a time."""
    count = len(run.trials)
    here = np.array([trial.value for trial in worked(run).trials])

    def slope(place: int, field: str, uncertainty: float) -> float:
        ends = [
            worked(moved(run, place, field, str(sign * uncertainty))).trials[place].value
            for sign in (-1.0, 1.0)
        ]
        return (ends[1] - ends[0]) / 2.0

    total = np.zeros((count, count))
    volumes = [run.trial_flask(trial).volume for trial in run.trials]
    empties = [trial.empty for trial in run.trials]
    for field, uncertainty, together in (
        ("bath", 0.5, lambda i, j: True),
        ("room", 0.5, lambda i, j: True),
        ("pressure", 0.5, lambda i, j: True),
        ("humidity", 30.0 / sqrt(3.0), lambda i, j: True),
        ("volume", 0.5 * sqrt(3.0), lambda i, j: volumes[i] == volumes[j]),
        ("empty", 0.0001, lambda i, j: empties[i] == empties[j]),
        ("condensed", 0.0001, lambda i, j: i == j),
    ):
        slopes = [slope(place, field, uncertainty) for place in range(count)]
        for i in range(count):
            for j in range(count):
                total[i, j] += slopes[i] * slopes[j] * together(i, j)
    # The liquid's constants are the same for all; their size is that of the budget's lines.
    budget = worked(run).budget
    for words in ("vapor pressure", "virial"):
        (one,) = (line for line in budget.lines if words in line.input)
        each = one.contribution * here / here.mean()
        total += np.outer(each, each)
    return total


@pytest.mark.parametrize("run", SHARED.values(), ids=SHARED)
def test_the_pooled_variance_is_that_of_the_covariance_matrix(run):
    found = worked(run)
    weight = np.array([trial.weight for trial in found.trials])
    variance = float(weight @ covariance(run) @ weight)
    beyond = [line.contribution for line in found.budget.lines if "scatter" in line.input]
    assert found.standard_uncertainty**2 == pytest.approx(variance + sum(beyond) ** 2, rel=2e-3)
    each = np.sqrt(np.diag(covariance(run)))
    assert [trial.standard_uncertainty for trial in found.trials] == pytest.approx(each, rel=3e-3)


@pytest.mark.parametrize(
    ("name", "words", "readings"),
    [
        ("one empty weighing", "empty flask", 1),
        ("own empty weighings", "empty flask", 3),
        ("one empty weighing", "flask with liquid", 3),
        ("the same condensed mass twice", "flask with liquid", 3),
        ("one empty weighing", "volume", 1),
        ("own flasks", "volume", 3),
        ("own flasks", "bath thermometer", 1),
    ],
)
def test_what_is_one_reading(name, words, readings):
    assert line(worked(SHARED[name]), words).readings == readings


# -------------------------------------------------------------------- pooling


def test_equal_balances_pool_to_the_mean():
    found = worked(THREE)
    assert found.value == pytest.approx(mean(trial.value for trial in found.trials), abs=1e-4)
    assert found.agreement is not None
    assert found.agreement.mean == pytest.approx(found.value, abs=1e-4)


@pytest.mark.parametrize(
    "condensed",
    [
        ("98.3721(1) g", "98.3721(200) g", "98.3731(1) g"),
        ("98.3721 g", "98.3621 g"),
        ("98.37 g", "98.3729 g", "98.3689 g", "98.4021 g"),
    ],
)
def test_all_trials_count_alike(condensed):
    found = worked(run_of(*condensed))
    assert [trial.weight for trial in found.trials] == [1.0 / len(condensed)] * len(condensed)
    assert found.value == pytest.approx(mean(trial.value for trial in found.trials), rel=1e-12)
    assert found.ideal_gas == pytest.approx(mean(one.ideal_gas for one in found.trials), rel=1e-12)


def test_welch_and_satterthwaite_by_hand():
    found = worked(run_of("98.3721 g", "98.3791 g", "98.3690 g", "98.3750 g"))
    values = [trial.value for trial in found.trials]
    # All trials weigh the same: the scatter is the standard error of their mean.
    scatter = stdev(values) / sqrt(len(values))
    balance = line(found, "flask with liquid").contribution
    beyond = line(found, "scatter")
    assert beyond.contribution == pytest.approx(sqrt(scatter**2 - balance**2), rel=1e-3)
    assert beyond.degrees == 3
    degrees = found.standard_uncertainty**4 / (scatter**4 / 3.0)
    assert found.budget.degrees == pytest.approx(degrees, rel=1e-3)
    assert found.expanded_uncertainty > 1.96 * found.standard_uncertainty


def test_trials_that_agree_leave_the_degrees_many():
    found = worked(run_of("98.3721 g", "98.3722 g", "98.3721 g"))
    assert found.budget.degrees == inf
    assert found.expanded_uncertainty == pytest.approx(
        1.95996 * found.standard_uncertainty, rel=1e-5
    )


# ----------------------------------------------------------------- simulation


def test_the_simulation_gives_the_same_figures_twice():
    first, second = (worked(THREE, draws=5_000).simulation for _ in range(2))
    assert first == second
    assert first is not None
    assert first.draws == 5_000


@pytest.mark.parametrize(("asked", "drawn"), [(1, 2_000), (3_000, 3_000)])
def test_how_many_are_drawn(asked, drawn):
    simulation = worked(run_of(), draws=asked).simulation
    assert simulation is not None
    assert simulation.draws == drawn


@pytest.mark.parametrize(("trials", "drawn"), [(6, 100_000), (7, 85_714), (60, 10_000)])
def test_fewer_are_drawn_of_many_trials(trials, drawn):
    """So that the memory that is taken does not grow with them."""
    masses = (f"98.37{trial:02d} g" for trial in range(trials))
    simulation = worked(run_of(*masses), draws=100_000).simulation
    assert simulation is not None
    assert simulation.draws == drawn


def test_no_simulation_where_none_is_asked_for():
    assert worked(run_of()).simulation is None
    assert worked(run_of()).to_dict()["monte_carlo"] is None


@pytest.mark.parametrize("run", SHARED.values(), ids=SHARED)
def test_first_order_and_simulation_agree(run):
    found = worked(run, draws=40_000)
    assert found.simulation is not None
    assert found.simulation.standard_uncertainty == pytest.approx(
        found.standard_uncertainty, rel=0.02
    )
    assert found.simulation.value == pytest.approx(
        found.value, abs=0.05 * found.standard_uncertainty
    )


@pytest.mark.parametrize("condensed", ["98.0132 g", "97.0 g", "50 g"])
def test_what_no_liquid_has_is_not_simulated(condensed):
    assert worked(run_of(condensed), draws=2_000).simulation is None


@pytest.mark.parametrize(
    "run",
    [
        run_of("98.372 ± 5 g"),
        run_of(conditions=replace(CONDITIONS, pressure="742 ± 240 mmHg")),
        run_of(conditions=replace(CONDITIONS, room="22.5 ± 98 C")),
        run_of(flask=Flask(volume="287.4 ± 95 mL")),
        run_of(bath="98.9 ± 120 C"),
        run_of("98.0 g", "98.1264 g"),
    ],
)
def test_large_errors_give_no_nonsense(run):
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        found = worked(run, draws=20_000)
    assert found.simulation is not None
    low, high = found.simulation.interval
    assert 0.0 < low < high < 1e4
    assert 0.0 < found.simulation.value < 1e4
    assert "budget-not-linear" in [finding.code for finding in found.findings]


@pytest.mark.parametrize(
    ("shares", "reason", "repeat"),
    [
        (
            (0.1, 0.2, 0.3),
            "The gain is hardly more than its own error.",
            "a hotter bath, a larger flask.",
        ),
        (
            (0.0, 0.2, 0.3),
            "In 20 % of them the bath was below the boiling point, so that air stayed in the "
            "flask.",
            "a hotter bath, a larger flask.",
        ),
        (
            (0.0, 0.0, 0.3),
            "In 30 % of them no drop was left in the cooled flask: the liquid boils hardly above "
            "the room.",
            "in a cooler room.",
        ),
        (
            (0.0, 0.0, 0.0),
            "The errors are too large for straight lines.",
            "a hotter bath, a larger flask.",
        ),
    ],
)
def test_why_first_order_is_not_enough(shares, reason, repeat):
    impossible, unfilled, dry = shares
    drawn = Simulation(46.0, 2.0, (42.5, 49.5), impossible, unfilled, dry, 20_000, (46.31, 1.33))
    found = SimpleNamespace(value=46.0, instruments_uncertainty=1.0)
    (finding,) = _first_order(found, drawn)
    assert finding.message == (
        "The budget gives 46.00 g/mol with a standard uncertainty by the instruments of 1; the "
        "same errors drawn at random give 46.31 and 1.3, and 42.5 to 49.5 g/mol in 95 % of all "
        f"draws. {reason}"
    )
    assert finding.advice == f"Believe the draws, or better repeat the run: {repeat}"
    assert list(_first_order(found, replace(drawn, of_instruments=(46.04, 1.01)))) == []


@pytest.mark.parametrize(
    ("mean", "deviation", "agrees"),
    [(46.0, 1.019, True), (46.0, 0.981, True), (46.0, 1.021, False), (46.0, 0.979, False),
     (46.049, 1.0, True), (45.951, 1.0, True), (46.051, 1.0, False), (45.949, 1.0, False)],
)  # fmt: skip
def test_within_what_first_order_and_simulation_agree(mean, deviation, agrees):
    drawn = Simulation(46.0, 2.0, (42.5, 49.5), 0.0, 0.0, 0.0, 20_000, (mean, deviation))
    assert drawn.agrees(46.0, 1.0) is agrees
    assert drawn.agrees(46.0, 0.0)


# ------------------------------------------------------------- the constants of the liquid


@pytest.mark.parametrize(
    ("cas", "curve", "virial"),
    [
        ("67-64-1", 0.005, 0.08),  # acetone: a published curve
        ("67-56-1", 0.005, 0.30),  # methanol, ethanol: associated vapors
        ("64-17-5", 0.005, 0.15),
        ("590-86-3", 0.01, 0.08),  # 3-methylbutanal: corresponding states, published constants
        ("149-73-5", 0.05, 0.08),  # trimethoxymethane: with constants from its structure
    ],
)
@pytest.mark.parametrize("boiling_point_u", [0.0, 0.3])
def test_how_well_the_constants_of_a_liquid_are_known(matcher, cas, curve, virial, boiling_point_u):
    rows = matcher.table.index.find(cas)
    liquid = matcher.expectation.liquid.take(np.array(rows))
    known = PossibleLiquids.of_rows(
        matcher.table, np.array(rows), liquid, np.full(len(rows), boiling_point_u)
    )
    # The liquid boils higher by 0.3 K: its curve is then lower by so much in the room.
    room, boils, of = ROOM, liquid.boiling_point, liquid.vapor_curve
    lower = np.log(vapor_pressure(room, boils, of) / vapor_pressure(room, boils + 0.3, of))
    off = float(lower[0]) if boiling_point_u else 0.0
    assert known.vapor_pressure_u == pytest.approx([np.hypot(curve, off)], rel=0.02)
    assert known.virial_u == pytest.approx([virial])
    assert known.dimers_u == pytest.approx([0.0])


def test_the_published_curve_stands_in_the_budget():
    """Acetone's is known to 0.5 %, and so is what the shut-out air takes."""
    found = worked(run_of(), "acetone")
    of_curve = line(found, "vapor pressure in the room")
    (shut_out,) = (one for one in found.corrections if one.name.startswith("air shut out"))
    assert of_curve.sensitivity == pytest.approx(shut_out.change / 100.0, rel=0.05)
    assert of_curve.unit == "%"
    assert of_curve.standard_uncertainty == pytest.approx(0.5, abs=0.1)
    assert of_curve.origin == "that of published curves, or of an estimate"
