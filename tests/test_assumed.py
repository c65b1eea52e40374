"""Conditions that nobody wrote down, readings of another kind, and what an answer says of them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from identify import Conditions, Flask, Measurement, Trial, match, match_many
from identify.bench.bench import Bench
from identify.calculations.molar_mass import molar_mass
from identify.compounds.loading import load_candidates
from identify.matching.expected.expectation import Expectation
from identify.notebook import usual
from identify.physics.constants import ICE_POINT, STANDARD_PRESSURE
from identify.physics.vapor import Weighing, gain
from identify.tables import read_runs

MMHG = 133.322387415  # Pa


def page(conditions: dict[str, Any] | None = None, flask: Any = None, **trial: Any) -> Measurement:
    """Return a page with what is given of conditions, flask and one trial, and nothing else."""
    return Measurement(
        "C-14",
        conditions=Conditions(**(conditions or {})),
        flask=Flask(**(flask or {"volume": "287.4 mL"})),
        trials=[Trial(**({"gain": "0.2580 g"} | trial))],
    )


def assumed(run: Measurement) -> dict[str, tuple[float, str, float]]:
    """Return what was assumed for a page: value, unit and spread."""
    return {
        one.condition: (one.value, one.unit, one.standard_uncertainty) for one in match(run).assumed
    }


@pytest.mark.parametrize(
    ("run", "condition", "value", "unit", "spread"),
    [
        (page(), "room", 22.0, "C", 3.0),
        (page(), "pressure", 760.0, "mmHg", 3e3 / MMHG),
        (page(), "humidity", 50.0, "%", 17.32),
        (page(), "bath", 99.0, "C", 2.0),
        (page({"pressure": "742 mmHg"}), "bath", 98.33, "C", 2.0),
        (page(bath="boiling water"), "bath", 99.0, "C", 1.0),
        (page({"bath": "Water bath", "height": "1600 m"}), "bath", 93.66, "C", 1.0),
        (page({"height": "1600 m"}), "pressure", 626.48, "mmHg", 1e3 / MMHG),
        (page({"height": "5250 ft"}), "pressure", 626.5, "mmHg", 1e3 / MMHG),
        (page({"room": "room temperature"}), "room", 22.0, "C", 3.0),
        (page(flask={"size": "125 mL"}), "volume", 141.25, "mL", 6.25),
        (page({"room": 25.0}, {"water_mass": 286.0}), "water_temperature", 25.0, "C", 2.0),
    ],
)
def test_what_is_usual(
    run: Measurement, condition: str, value: float, unit: str, spread: float
) -> None:
    taken, in_unit, give_or_take = assumed(run)[condition]
    assert (taken, in_unit) == (pytest.approx(value, rel=3e-4), unit)
    assert give_or_take == pytest.approx(spread, rel=1e-3)


@pytest.mark.parametrize(
    ("run", "condition"),
    [
        (page({"room": 25.0}), "room"),
        (page({"pressure": "742 mmHg", "height": "1600 m"}), "pressure"),
        (page({"bath": "98 C"}), "bath"),
        (page(bath="98 C"), "bath"),
        (page({"humidity": 40.0}), "humidity"),
        (page(flask={"size": "125 mL", "volume": "141 mL"}), "volume"),
        (page(flask={"size": "125 mL", "water_mass": "141 g"}), "volume"),
        (page(flask={"volume": 141.0}), "water_temperature"),
        (page(flask={"water_mass": 141.0, "water_temperature": 22.0}), "water_temperature"),
    ],
)
def test_what_is_written_is_not_assumed(run: Measurement, condition: str) -> None:
    assert condition not in assumed(run)


@pytest.mark.parametrize(
    ("run", "words"),
    [
        (page(flask={"closed": ""}), "the volume of the flask"),
        (page(gain=None, empty="98.1 g"), "the mass of flask and condensed liquid"),
        (page({"room": "200 C"}), "the temperature of the room"),
        (page({"humidity": "450 %"}), "the humidity"),
        (page({"height": "-1500 m"}), "the pressure"),
        (replace(page(), unread=("bath",)), "the temperature of the bath"),
        (
            replace(page(), trials=[Trial(gain=0.258, unread=("pressure",))]),
            "the pressure",
        ),
    ],
)
def test_a_weighing_that_cannot_be_used_is_told_in_the_answer(run: Measurement, words: str) -> None:
    ranking = match(replace(run, boiling_point="64.6 C"))
    assert ranking.molar_mass is None
    (finding,) = [one for one in ranking.findings if one.code == "weighings-unused"]
    # That alone: what would follow from it is not told as missing, too.
    assert f"because {words} is missing" in finding.message
    # Who has weighed is not told to weigh.
    assert "weighing" not in {one.code for one in ranking.next_measurements}
    with pytest.raises(ValueError, match=words):
        molar_mass(run)


def test_neither_match_nor_match_many_raises_for_what_is_missing() -> None:
    runs = [
        Measurement("A"),
        Measurement("B", trials=[Trial()]),
        Measurement("C", trials=[Trial(empty=98.1)]),
        Measurement("D", trials=[Trial(bath=98.1)], boiling_point=64.6),
        page(),
        page({"mercury_barometer": True}),
        replace(page(), trials=[Trial(gain=0.258), Trial(empty=98.1), Trial()]),
    ]
    frame = match_many(runs)
    assert frame["label"].nunique() == 5
    for run in runs:
        match(run)


def test_the_shares_are_those_of_the_budget() -> None:
    run = page({"pressure": "742 mmHg", "humidity": 50.0}, bath="98 C")
    found = molar_mass(run, "methanol")
    (room,) = found.assumed
    line = next(one for one in found.budget.lines if one.input == "room, assumed")
    assert room.share == line.share
    # By hand: what three degrees of the room change of the molar mass, up and down.
    expectation = Expectation.of(load_candidates())
    row = load_candidates().find("67-56-1")[0]
    up, down = (
        expectation.implied_molar_mass(
            Bench.of(replace(run, conditions=replace(run.conditions, room=celsius))).weighing
        )[0, row]
        for celsius in (25.0, 19.0)
    )
    assert line.contribution == pytest.approx(0.5 * (up - down), rel=1e-3)


def test_a_pressure_that_is_assumed_takes_the_bath_with_it() -> None:
    bench = Bench.of(page())
    (pressure,) = (one for one in bench.assumed if one.condition == "pressure")
    assert set(pressure.effects) == {"pressure", "bath"}
    assert pressure.effects["pressure"] == pytest.approx([3e3])
    assert pressure.effects["bath"] == pytest.approx([0.82], abs=0.02)  # 27 to 28 mK a hPa


# -------------------------------------------------------------------------- other ways to weigh


@pytest.mark.parametrize("name", ["methanol", "acetone", "ethyl acetate", "chloroform"])
@pytest.mark.parametrize(
    ("written", "read"),
    [
        ({}, {}),
        ({"weighed_at": "8 C"}, {"contents": 8.0 - 22.0}),
        ({"weighed_at": "room temperature"}, {}),
    ],
)
def test_what_was_weighed_comes_back(name: str, written: Any, read: Any) -> None:
    expectation = Expectation.of(load_candidates())
    row = load_candidates().find(name)[0]
    usual_run = {"bath": ICE_POINT + 99.0, "room": ICE_POINT + 22.0, "pressure": STANDARD_PRESSURE}
    weighing = Weighing(
        np.zeros(1),
        *(np.array([value]) for value in (*usual_run.values(), 287.4e-6, ICE_POINT + 22.0, 0.5)),
        **{key: np.array([value]) for key, value in read.items()},
    )
    grams = 1e3 * gain(1e-3 * expectation.molar_mass, weighing, expectation.liquid)[0, row]
    run = page({"room": 22.0, "pressure": "1 atm", "humidity": 50}, bath=99.0, **written)
    run = replace(run, trials=[replace(run.trials[0], gain=grams)])
    found = molar_mass(run, name, draws=0)
    assert found.value == pytest.approx(expectation.molar_mass[row], rel=1e-6)


def test_cold_contents_are_heavier() -> None:
    """From 22 to 8 °C the air in 287 mL gains 17 mg, and less of it is shut out."""
    warm, cold = (
        molar_mass(page(bath="98 C", **written), "acetone", draws=0)
        for written in ({}, {"weighed_at": "8 C"})
    )
    assert cold.ideal_gas == warm.ideal_gas
    assert warm.value - cold.value > 17e-3 * 1e3 * 8.314 * 371.15 / (101325 * 287.4e-6) * 1e-3


def test_a_flask_closed_while_hot_lacks_its_air() -> None:
    """A bulb of 250.0 mL sealed in boiling water: air of 1.19 g/L went out, and none came back."""
    flask = {"volume": "250.0 mL", "closed": "hot"}
    run = page({"pressure": "1 atm", "room": "22 C"}, flask, gain="0.1809 g", bath="100 C")
    found = molar_mass(run, "acetone", draws=0)
    vapor = 0.1809 + 1.1905 * 0.2500  # g
    assert found.ideal_gas == pytest.approx(vapor * 0.0820574 * 373.15 / 0.2500, rel=2e-3)
    # Nothing but non-ideality is left to correct: acetone's vapor is 3 % denser.
    assert found.value == pytest.approx(found.ideal_gas * 0.970, rel=5e-3)


def test_a_syringe_has_no_air() -> None:
    """0.1042 g in 43.6 mL at 100 °C and 1 atm."""
    run = Measurement(
        "S",
        trials=[
            Trial(
                gain="0.1042 g",
                bath="100 C",
                vaporized_in="syringe",
                flask=Flask(volume="43.6 mL"),
                conditions=Conditions(pressure="1 atm"),
            )
        ],
    )
    assert {one.condition for one in match(run).assumed} == set()
    found = molar_mass(run, "acetone", draws=0)
    assert found.ideal_gas == pytest.approx(0.1042 * 0.0820574 * 373.15 / 0.0436, rel=1e-4)
    assert found.value == pytest.approx(found.ideal_gas * 0.970, rel=3e-3)


def test_a_difference_counts_like_its_weighings() -> None:
    both = page(gain=None, empty="98.1132 g", condensed="98.3712 g")
    one, two = match(page()).molar_mass, match(both).molar_mass
    assert one is not None
    assert two is not None
    assert one.value == pytest.approx(two.value, rel=1e-9)
    assert one.standard_uncertainty == pytest.approx(two.standard_uncertainty, rel=1e-6)


# ------------------------------------------------------------------- what was worked out before


@pytest.mark.parametrize("name", ["acetone", "chloroform", "methanol", "pentane"])
def test_a_shortcut_is_put_right_with_each_candidates_corrections(name: str) -> None:
    expectation = Expectation.of(load_candidates())
    row = load_candidates().find(name)[0]
    weighing = Bench.of(Measurement("X", molar_mass=50.0, molar_mass_by="ideal gas")).as_weighed
    assert weighing is not None
    read = gain(1e-3 * expectation.molar_mass, weighing, expectation.liquid)[:, row]
    shortcut = 1e3 * float(replace(weighing, gain=read).ideal_molar_mass()[0])
    assert shortcut < 0.95 * expectation.molar_mass[row] or name == "chloroform"
    run = Measurement("X", molar_mass=shortcut, molar_mass_by="ideal gas")
    evidence = match(run)
    found = next(one for one in evidence.candidates if one.name == name)
    assert found.deviations.molar_mass_percent == pytest.approx(0.0, abs=1e-6)
    assert found.plausible


def test_what_a_student_read_decides_less_than_a_card() -> None:
    run = Measurement("X", molar_mass=58.0, boiling_point="62 C")
    card, own = (
        match(replace(run, boiling_point_by=by), prior="commerce") for by in ("card", "own")
    )
    acetone = [
        next((one.probability for one in ranking.candidates if one.name == "acetone"), 0.0)
        for ranking in (card, own)
    ]
    assert acetone[1] > 3.0 * acetone[0]
    assert usual.OWN_BOILING_POINT == 5.6


def test_what_follows_from_a_missing_reading_is_not_missing_beside_it() -> None:
    run = page({"room": "200 C", "bath": None}, {"water_mass": 286.0})
    (finding,) = [one for one in match(run).findings if one.code == "weighings-unused"]
    assert "because the temperature of the room is missing" in finding.message


@pytest.mark.parametrize(
    "written",
    [
        'volume = "90.0 cm3 at STP"',
        'volume = "90.0 mL (S.T.P.)"',
        'volume = "90.0 mL"\ntemperature = "STP"',
        'volume = "90.0 mL"\ntemperature = "standard temperature and pressure"\npressure = "STP"',
    ],
)
def test_a_vapor_at_stp(written: str, tmp_path: Path) -> None:
    file = tmp_path / "S.toml"
    file.write_text(f'label = "S"\n[vapor]\nmass = "0.233 g"\n{written}\n', encoding="utf-8")
    runs = read_runs(file)
    assert runs.faults == ()
    # A mole of an ideal gas fills 22.414 L there (CODATA 2018).
    ideal = Bench.of(runs[0]).ideal_molar_mass()
    assert ideal == pytest.approx(0.233 / 0.0900 * 22.41397, rel=1e-5)


def test_a_trial_that_lacks_a_condition_takes_it_from_the_next() -> None:
    own = Conditions(pressure="640 mmHg", room="25 C")
    one = Trial(gain=0.258, bath="94 C", conditions=own)
    run = replace(page(), trials=[one, Trial(gain=0.2575)])
    assert assumed(run) == {
        "pressure": (pytest.approx(640.0), "mmHg", pytest.approx(300.0 / MMHG, rel=1e-3)),
        "room": (25.0, "C", 1.0),
        "bath": (94.0, "C", 1.0),
        "humidity": (50.0, "%", pytest.approx(17.32, rel=1e-3)),
    }
    # What the first trial said is not what boiling water would be, nor a word for it.
    worded = replace(run, trials=[replace(one, bath="boiling water"), Trial(gain=0.2575)])
    assert assumed(worded)["bath"][0] == pytest.approx(94.24, abs=0.02)


@pytest.mark.parametrize(
    ("others", "taken"),
    [
        ([94.0, 94.0], (94.0, 1.0)),
        ([94.0, 98.0], (96.0, 3.0)),  # the spread of others, 2.828, and that beside others, 1.0
        ([98.0, 94.0], (96.0, 3.0)),
        ([94.0, 98.0, 95.0], (95.0, 2.309)),  # the middle one
        ([94.0, 700.0], (94.0, 1.0)),  # no bath
    ],
)
@pytest.mark.parametrize("at", [0, 1, -1])
def test_what_a_trial_lacks_is_the_middle_of_the_others_in_any_order(
    others: list[float], taken: tuple[float, float], at: int
) -> None:
    own = Conditions(pressure="742 mmHg", room="25 C")
    baths = [f"{bath} C" for bath in others]
    baths.insert(at % len(baths), None)
    trials = [Trial(gain=0.258, bath=bath, conditions=own) for bath in baths]
    value, unit, spread = assumed(replace(page(), trials=trials))["bath"]
    assert (value, unit, spread) == (taken[0], "C", pytest.approx(taken[1], rel=1e-3))


def test_the_shortcut_is_given_whenever_it_can_be() -> None:
    """0.2580 g, 98 °C, 742 mmHg and 287.4 mL are enough, whatever the room is said to be."""
    run = page({"pressure": "742 mmHg", "room": "200 C"}, bath="98 C")
    by_hand = 0.2580 * 62.36367 * 371.15 / (742.0 * 0.2874)
    with pytest.raises(ValueError, match=rf"shortcut alone gives {by_hand:.4g} g/mol.*the room"):
        molar_mass(run)
