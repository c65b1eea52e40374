"""A match over the parts of a table gives what a match against the whole table gives."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from identify import Measurement, match
from identify.bench.bench import Bench
from identify.compounds.table import CandidateTable
from identify.large.shares import PartMatching, PartShare, share_of
from identify.matching.settings import MatchSettings, Prior
from identify.notebook.measurement import Conditions, Flask, Trial


def weighed(label: str, *condensed: str, **card: Any) -> Measurement:
    return Measurement(
        label,
        conditions=Conditions(pressure="742.0 mmHg", room="22.5 C"),
        flask=Flask(volume="287.4 mL"),
        trials=tuple(
            Trial(
                empty="98.1132 g",
                condensed=f"{mass} g",
                bath="98.9 C",
            )
            for mass in condensed
        ),
        **card,
    )


ETHANOL = {"C": 52.1, "H": 13.1, "O": 34.7}
RUNS = {
    "card": Measurement("K-1", boiling_point=78.4, percent=ETHANOL, molar_mass=46.0),
    "molar mass": Measurement("K-2", molar_mass=72.4),
    "boiling point": Measurement("K-3", boiling_point=56.0),
    "composition": Measurement("K-4", percent=ETHANOL),
    "digits exchanged": Measurement("K-5", boiling_point=87.4, percent=ETHANOL, molar_mass=46.0),
    "two wrong": Measurement("K-6", boiling_point=140.0, percent=ETHANOL, molar_mass=92.0),
    "element left out": Measurement("K-7", boiling_point=78.4, percent={"C": 52.1, "H": 13.1}),
    "weighed": weighed("K-8", "98.3721"),
    "weighed and card": weighed("K-9", "98.3721", "98.3698", boiling_point=78.4, percent=ETHANOL),
    "further": Measurement("K-10", boiling_point=78.0, refractive_index=1.361, density=0.79),
    "further, wrong": Measurement(
        "K-11", boiling_point=87.0, molar_mass=46.1, refractive_index=1.361, melting_point=-114.0
    ),
    "nothing": Measurement("K-12"),
    "at another pressure": Measurement(
        "K-13", boiling_point=70.0, boiling_point_at="600 mmHg", molar_mass=46.0
    ),
}


def parted(table: CandidateTable, parts: int) -> list[CandidateTable]:
    return [table.some(rows) for rows in np.array_split(np.arange(len(table)), parts)]


def assert_same(found: dict[str, Any], wanted: dict[str, Any]) -> None:
    """Compare two answers as JSON: all numbers to 1e-9, everything else as it is.

    A large table does not say what would lead by another prior.
    """
    assert type(found) is type(wanted)
    if isinstance(wanted, dict):
        assert found.keys() == wanted.keys()
        for name, value in wanted.items():
            assert_same(found[name], [] if name == "without_classroom" else value)
    elif isinstance(wanted, list):
        assert len(found) == len(wanted)
        for one, other in zip(found, wanted, strict=True):
            assert_same(one, other)
    elif isinstance(wanted, float):
        assert math.isclose(found, wanted, rel_tol=1e-9, abs_tol=1e-9), (found, wanted)
    else:
        assert found == wanted


def over_parts(
    run: Measurement, table: CandidateTable, parts: int, prior: Prior = "classroom"
) -> dict[str, Any]:
    matching = PartMatching(MatchSettings.of(prior=prior))

    def shares(in_full: bool) -> list[PartShare]:
        every = map(matching.matcher, parted(table, parts))
        return [share_of(matcher, Bench.of(run), in_full) for matcher in every]

    return matching.ranking(run, shares).to_dict()


@pytest.mark.parametrize("parts", [1, 3, 7])
@pytest.mark.parametrize("name", RUNS)
def test_parts_give_what_the_whole_gives(table: CandidateTable, name: str, parts: int) -> None:
    run = RUNS[name]
    assert_same(over_parts(run, table, parts), match(run, table).to_dict())


@pytest.mark.parametrize("prior", ["commerce", "uniform"])
def test_with_another_prior(table: CandidateTable, prior: Prior) -> None:
    run = RUNS["digits exchanged"]
    wanted = match(run, table, prior=prior).to_dict()
    assert_same(over_parts(run, table, 4, prior), wanted)


@settings(max_examples=60, deadline=None)
@given(
    st.fixed_dictionaries(
        {},
        optional={
            "molar_mass": st.floats(20.0, 250.0),
            "boiling_point": st.floats(20.0, 200.0),
            "density": st.floats(0.6, 2.0),
        },
    )
)
def test_any_readings(table: CandidateTable, readings: dict[str, float]) -> None:
    run = Measurement("K-20", **readings)
    assert_same(over_parts(run, table, 2), match(run, table).to_dict())


def test_order_of_the_parts_does_not_matter(table: CandidateTable) -> None:
    run = RUNS["card"]
    matching = PartMatching()
    bench = Bench.of(run)
    shares = [share_of(matching.matcher(part), bench) for part in parted(table, 5)]
    forth, back = (
        matching.ranking(run, lambda in_full, given=given: given).to_dict()
        for given in (shares, shares[::-1])
    )
    assert_same(back, forth)


def test_no_parts_is_an_error() -> None:
    with pytest.raises(ValueError, match="without parts"):
        PartMatching().ranking(RUNS["card"], lambda in_full: [])
