"""Properties of the match: what may not change the answer, and readings from anywhere."""

from __future__ import annotations

import csv
import io
import json
import random
import tempfile
from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from identify import Conditions, Flask, Measurement, Trial, load_candidates, match, read_runs
from identify.bench.bench import Bench
from identify.compounds.table import CandidateTable
from identify.matching.answer import Ranking
from identify.matching.evidence import Matcher
from identify.matching.posterior import Posterior
from identify.matching.slips import search
from identify.notebook.measurement import readings
from identify.notebook.quantity.quantities import UNITS, Quantity
from identify.physics.constants import ELEMENTS

BUILT_IN = load_candidates()
_BOILING = BUILT_IN.number("boiling_point_C")
# What boils off in a water bath: small enough to put into another order again and again.
TABLE = BUILT_IN.take(np.flatnonzero((_BOILING > 30.0) & (_BOILING < 90.0)))

shuffles = st.randoms(use_true_random=False)


@st.composite
def runs(draw: st.DrawFn, table: CandidateTable = TABLE) -> Measurement:
    """Draw a run of one of the candidates, some of its readings missing, all a little off."""
    row = draw(st.integers(0, len(table) - 1))
    molar_mass = float(table.number("molar_mass")[row])
    near = st.floats(0.97, 1.03)
    percent = {
        element: draw(near) * float(table.percent[row, place])
        for place, element in enumerate(ELEMENTS)
        if table.percent[row, place] > 0.0 and draw(st.booleans())
    }
    boils = float(table.number("boiling_point_C")[row])
    # Gains as the ideal gas gives them, about, for the flask below: 0.009 g a g/mol.
    gains = [0.009 * molar_mass * draw(near) for _ in range(draw(st.integers(0, 4)))]
    return Measurement(
        "X",
        boiling_point=draw(st.one_of(st.none(), st.floats(-2.0, 2.0).map(lambda off: boils + off))),
        boiling_point_at=draw(st.sampled_from([None, 742.0])),
        percent=percent,
        conditions=Conditions(
            pressure=Quantity(742.0, "mmHg", draw(st.sampled_from([None, 0.5]))),
            room=22.5,
            humidity=draw(st.sampled_from([None, 30.0])),
            mercury_barometer=draw(st.booleans()),
        ),
        flask=draw(
            st.sampled_from([Flask(volume=287.4), Flask(water_mass=286.6, water_temperature=21.0)])
        ),
        trials=[Trial(98.1132, 98.1132 + gain, 95.0 + number) for number, gain in enumerate(gains)],
    )


def answer(run: Measurement, table: CandidateTable = TABLE) -> dict[str, float]:
    """Return all probabilities, by compound."""
    posterior = Posterior.of(Matcher(table).evidence(Bench.of(run)))
    return {
        **dict(zip(table.text("inchikey"), posterior.probability, strict=True)),
        "none": posterior.none_of_these,
    }


def assert_same(left: Mapping[str, float], right: Mapping[str, float]) -> None:
    assert left.keys() == right.keys()
    ours, theirs = np.array(list(left.values())), np.array([right[key] for key in left])
    np.testing.assert_allclose(ours, theirs, rtol=1e-9, atol=1e-15)


def assert_same_ranking(left: Ranking, right: Ranking) -> None:
    assert left.verdict == right.verdict
    assert [f.code for f in left.findings] == [f.code for f in right.findings]
    ours, theirs = ({c.inchikey: c for c in ranking.candidates} for ranking in (left, right))
    assert list(ours) == list(theirs)
    for key, candidate in ours.items():
        assert candidate.probability == pytest.approx(theirs[key].probability, rel=1e-9)
        assert candidate.plausible is theirs[key].plausible


# ---------------------------------------------------------------------------------- reordering


@settings(max_examples=25, deadline=None)
@given(st.lists(runs(), min_size=2, max_size=3))
def test_pages_seen_before_change_no_answer(pages: list[Measurement]) -> None:
    """A matcher remembers cards and rooms: whoever shares one is answered as if alone."""
    seen = Matcher(TABLE)
    sharing = [replace(page, percent=pages[0].percent) for page in pages[1:]]
    for page in (*pages, *sharing, pages[0]):
        bench = Bench.of(page)
        found, alone = (
            search(page, Posterior.of(one.evidence(bench))).posterior
            for one in (seen, Matcher(TABLE))
        )
        assert (found.probability == alone.probability).all()
        assert found.none_of_these == alone.none_of_these


@settings(max_examples=25, deadline=None)
@given(runs(), shuffles)
def test_order_of_the_candidates(run: Measurement, shuffle: random.Random) -> None:
    order = list(range(len(TABLE)))
    shuffle.shuffle(order)
    other = TABLE.take(order)
    assert_same(answer(run), answer(run, other))
    assert_same_ranking(match(run, TABLE), match(run, other))


@settings(max_examples=50, deadline=None)
@given(runs(), shuffles)
def test_order_of_trials_and_elements(run: Measurement, shuffle: random.Random) -> None:
    trials, percent = list(run.trials), list(run.percent.items())
    shuffle.shuffle(trials)
    shuffle.shuffle(percent)
    other = replace(run, trials=trials, percent=dict(percent))
    assert_same(answer(run), answer(other))


COLUMNS = ["label", "student", "empty_g", "condensed_g", "bath_C", "room_C", "pressure_mmHg"]
COLUMNS += ["volume_mL", "boiling_point_C", "percent_C", "percent_H", "percent_O"]
ROWS = [
    ["D-02", "Ada", 99.0663, 99.4799, 98.7, 22.9, 745.0, 286.9, 78.4, 52.14, 13.13, 34.73],
    ["D-02", "Ada", 99.0665, 99.4801, 98.5, 22.9, 745.0, 286.9, 78.4, 52.14, 13.13, 34.73],
    ["D-02", "Ben", 99.0665, 99.4701, 98.5, 22.9, 745.0, 286.9, 78.4, 52.14, 13.13, 34.73],
    ["D-05", "Cem", 98.3980, 98.8548, 98.6, 23.4, 745.6, 288.8, 56.1, 62.04, 10.41, 27.55],
    ["D-05", "Cem", 98.3976, 98.8575, 98.5, 23.4, 745.6, 288.8, 56.1, 62.04, 10.41, 27.55],
    ["D-05", "Cem", 98.3976, 98.8575, 98.4, 23.5, 745.1, 288.8, "", "", "", ""],
    ["D-07", "Dag", 97.0143, 97.7684, 98.8, 23.0, 745.9, 283.7, 68.7, 83.63, 16.37, ""],
    ["D-08", "Eve", "", "", "", "", "", "", 64.6, 37.48, 12.58, ""],
]


def section(rows: list[list[Any]], columns: list[int]) -> dict[tuple[str, str], dict[str, float]]:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerows([row[place] for place in columns] for row in [COLUMNS, *rows])
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "section.csv"
        file.write_text(text.getvalue(), encoding="utf-8")
        read = read_runs(file)
    assert read.faults == ()
    return {(run.label, run.student): answer(run) for run in read}


@settings(max_examples=15, deadline=None)
@given(shuffles)
def test_order_of_a_files_rows_and_columns(shuffle: random.Random) -> None:
    rows, columns = list(ROWS), list(range(len(COLUMNS)))
    expected = section(rows, columns)
    assert len(expected) == 5
    shuffle.shuffle(rows)
    shuffle.shuffle(columns)
    shuffled = section(rows, columns)
    assert shuffled.keys() == expected.keys()
    for key, probabilities in expected.items():
        assert_same(probabilities, shuffled[key])


# ---------------------------------------------------------------------------------- other units


def in_other_units(record: Any, draw: st.DrawFn, dimension_units: dict[str, list[str]]) -> Any:
    changed = {}
    for name in readings(type(record)):
        quantity = getattr(record, name)
        if quantity is not None:
            changed[name] = quantity.to(draw(st.sampled_from(dimension_units[quantity.dimension])))
    return replace(record, **changed)


def run_in_other_units(run: Measurement, draw: st.DrawFn) -> Measurement:
    by_dimension: dict[str, list[str]] = {}
    for unit, known in UNITS.items():
        by_dimension.setdefault(known.dimension, []).append(unit)
    return replace(
        in_other_units(run, draw, by_dimension),
        conditions=in_other_units(run.conditions, draw, by_dimension),
        flask=in_other_units(run.flask, draw, by_dimension),
        trials=[in_other_units(trial, draw, by_dimension) for trial in run.trials],
    )


@settings(max_examples=100, deadline=None)
@given(st.data(), runs())
def test_change_of_every_unit(data: st.DataObject, run: Measurement) -> None:
    other = run_in_other_units(run, data.draw)
    assert_same(answer(run), answer(other))


USUAL = ("acetone", "ethanol", "isopropanol", "chloroform", "hexane", "methanol", "diethyl ether")


@settings(max_examples=15, deadline=None)
@given(st.data(), st.sampled_from(USUAL), st.floats(-0.03, 0.03), st.floats(-1.0, 1.0))
def test_a_unit_moves_no_probability_by_the_slips_that_it_makes_possible(
    data: st.DataObject, name: str, off: float, warmer: float
) -> None:
    """A number in another unit may have other slips; of a sound page that is no more than a hair.

    Where a slip is likely, its possibilities depend on what is written, and so do the compounds.
    """
    row = BUILT_IN.find(name)[0]
    gained = 0.009 * float(BUILT_IN.number("molar_mass")[row]) * 0.93 * (1.0 + off)
    run = Measurement(
        "X",
        boiling_point=round(float(_BOILING[row]) + warmer, 1),
        percent=dict(zip(ELEMENTS, BUILT_IN.percent[row].round(2), strict=True)),
        conditions=Conditions(pressure=752.0, room=24.5, height="120 m"),
        flask=Flask(volume=287.4),
        trials=[Trial(98.1132, round(98.1132 + gained, 4), 98.5, weighed_at=24.0)],
    )
    other = run_in_other_units(run, data.draw)
    ours, theirs = (
        {one.inchikey: one.probability for one in match(each).candidates} for each in (run, other)
    )
    for key in ours.keys() | theirs.keys():
        assert ours.get(key, 0.0) == pytest.approx(theirs.get(key, 0.0), abs=1e-3)


# ----------------------------------------------------------------------- readings from anywhere

masses = st.one_of(st.just(0.0), st.floats(0.0, 99e3), st.floats(98.0, 99.0))
temperatures = st.floats(-270.0, 999.0)
positive = st.floats(1e-4, 1e4)


def maybe(values: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.one_of(st.none(), values)


def uncertain(values: st.SearchStrategy[float], unit: str) -> st.SearchStrategy[Quantity]:
    return st.builds(Quantity, values, st.just(unit), maybe(st.floats(1e-6, 1e3)))


anything = st.builds(
    Measurement,
    st.just("X"),
    molar_mass=maybe(uncertain(st.floats(1.0, 9e3), "g/mol")),
    percent=st.dictionaries(st.sampled_from(ELEMENTS), uncertain(st.floats(0.0, 900.0), "%")),
    boiling_point=maybe(uncertain(temperatures, "C")),
    boiling_point_at=maybe(positive),
    conditions=st.builds(
        Conditions,
        pressure=uncertain(positive, "mmHg"),
        room=temperatures,
        humidity=maybe(st.floats(0.0, 900.0)),
        mercury_barometer=st.booleans(),
        latitude=maybe(st.floats(-90.0, 90.0)),
        height=maybe(st.floats(-1e4, 1e4)),
    ),
    flask=st.one_of(
        st.builds(Flask, volume=uncertain(st.floats(1e-3, 9e5), "mL")),
        st.builds(Flask, water_mass=st.floats(1e-3, 9e4), water_temperature=temperatures),
    ),
    trials=st.lists(
        st.builds(
            Trial,
            uncertain(masses, "g"),
            uncertain(masses, "g"),
            uncertain(temperatures, "C"),
        ),
        max_size=3,
    ),
)


def absurd(flask: Flask, pressure: float, condensed: float) -> Measurement:
    return Measurement(
        "X",
        conditions=Conditions(pressure=pressure, room=0.0),
        flask=flask,
        trials=[Trial(0.0, condensed, 477.0)],
    )


@settings(max_examples=200, deadline=None)
@given(anything)
@example(absurd(Flask(water_mass=1.0, water_temperature=-39.0), 1.0, 0.0))  # ice in the flask
@example(absurd(Flask(volume=1e-3), 1e-4, 13344.0))  # so heavy that a molecule is lost in rounding
def test_any_readings_have_an_answer(run: Measurement) -> None:
    with np.errstate(over="ignore", invalid="raise", divide="raise"):
        ranking = match(run, TABLE)
    json.dumps(ranking.to_dict(), allow_nan=False)
    probabilities = [candidate.probability for candidate in ranking.candidates]
    # Alike to nine digits counts as equal: then the compound decides, not the last bit.
    assert all(a >= b * (1.0 - 3e-9) for a, b in pairwise(probabilities))
    assert all(0.0 <= probability <= 1.0 for probability in probabilities)
    assert sum(answer(run).values()) == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("gain", [-98.0, -0.5, -1e-9, 0.0, 1e-12, 1e-6, 0.26, 5.0, 5000.0])
@pytest.mark.parametrize("stated", [None, 1e-4, 10.0])
def test_any_gain_has_an_answer(gain: float, stated: float | None) -> None:
    run = Measurement(
        "X",
        boiling_point=64.6,
        conditions=Conditions(pressure=742.0, room=22.5),
        flask=Flask(volume=287.4),
        trials=[Trial(98.1132, Quantity(98.1132 + gain, "g", stated), 98.9)],
    )
    ranking = match(run)
    json.dumps(ranking.to_dict(), allow_nan=False)
    assert ranking.molar_mass is not None
    assert ranking.molar_mass.standard_uncertainty > 0.0
    # Only a gain near methanol's, or one of which nothing is known, agrees with methanol.
    agrees = {candidate.name: candidate.plausible for candidate in ranking.candidates}
    expected = gain == 0.26 or (stated == 10.0 and abs(gain) < 10.0)
    assert agrees.get("methanol", False) is expected
