"""The study of simulated sections: what it counts, and that a fault is planted as it says."""

from __future__ import annotations

from dataclasses import replace

import pytest
from section_evaluation import FAULTS, SOUND, Tally, tallied, with_liquid_left
from simulated_sections import simulate

SMALL = replace(SOUND, rows=96, days=3, balances=2, thermometers=2, slips=0.0)


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_is_planted_and_stands_in_the_truth(name: str) -> None:
    fault = FAULTS[name]
    simulated = simulate(replace(SMALL, **fault.changes), seed=1)
    assert bool(fault.where(simulated)) == bool(fault.codes)
    assert len(simulated.truth.copied) == fault.changes.get("copied", 0)
    by_student = {row["student"]: row for row in simulated.table}
    for student, other in simulated.truth.copied.items():
        assert by_student[student] == by_student[other] | {"student": student}


def test_exchanged_bottles_hold_each_other_s_liquid() -> None:
    simulated = simulate(replace(SMALL, exchanged=1), seed=1)
    sound = {row.label: row.cas for row in simulate(SMALL, seed=1).truth.rows}
    first, second = simulated.truth.mislabeled
    assert simulated.truth.mislabeled == {first: sound[second], second: sound[first]}


def test_grams_are_added_once_the_flask_was_heated() -> None:
    sound, off = (simulate(replace(SMALL, balance_grams=grams), seed=1) for grams in (0.0, 0.06))
    for row, other in zip(off.table, sound.table, strict=True):
        gains = [float(one["condensed_g"]) - float(one["empty_g"]) for one in (row, other)]
        expected = 0.06 if row["balance"] == off.truth.balance else 0.0
        assert gains[0] - gains[1] == pytest.approx(expected, abs=1e-9)


def test_what_is_counted() -> None:
    simulated = with_liquid_left(simulate(SMALL, seed=1), 0.6)
    found, section = tallied(FAULTS["none"], simulated)
    planted = [row.student for row in simulated.truth.rows if row.slip]
    assert found.planted == {"mass-in-excess": len(set(planted))}
    assert found.noticed == found.planted
    assert found.sound == len(section.students) - len(set(planted))
    assert found.named_alone == 1
    twice = Tally()
    twice.add(found)
    twice.add(found)
    assert (twice.sections, twice.sound) == (2, 2 * found.sound)
