"""Readings that can be read and make no sense, in every field: an answer, and never a failure."""

from __future__ import annotations

import json
import math
from dataclasses import fields
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from identify import (
    Combustion,
    Conditions,
    Flask,
    Measurement,
    Trial,
    load_candidates,
    match,
    match_many,
    molar_mass,
    score,
)
from identify.notebook.errors import UnusableInput
from identify.notebook.fields import Fills, Reading
from identify.notebook.measurement import readings, words
from identify.notebook.quantity.dimensions import DIMENSIONS
from identify.notebook.quantity.quantities import Quantity, QuantityError, as_quantity
from identify.notebook.quantity.units import UNITS
from identify.physics.constants import ELEMENTS

BUILT_IN = load_candidates()
_BOILING = BUILT_IN.number("boiling_point_C")
TABLE = BUILT_IN.take(np.flatnonzero((_BOILING > 40.0) & (_BOILING < 70.0)))

# What stands in cells that were meant for a number, and is one, or nearly.
ODD_TEXTS = ["nan", "-inf", "1e308", "1e-308", "-0", "0", "0,0", "1/2", "1e3", "½", "٣", "1,013"]
ODD_TEXTS += [
    "1.5 ± 1.5",
    "about 5",
    "5-5",
    "5 (C)",
    "1_000",
    "0x10",
    "+5",
    "5.",
    ".5",
    "98 °",
    "''",
]


def units_of(dimension: str) -> list[str]:
    measured_in = DIMENSIONS[dimension].measured_in or dimension
    alike = {"percent": ("percent", "fraction"), "fraction": ("percent", "fraction")}
    return [
        unit
        for unit, known in UNITS.items()
        if known.dimension in alike.get(measured_in, (measured_in,))
    ]


@st.composite
def quantities(draw: st.DrawFn, field: Reading) -> object:
    """Draw a reading of a field from the whole range of its dimension, ends and odd texts too."""
    limits = DIMENSIONS[field.dimension]
    low, high = limits.lowest, limits.highest
    near = 1e-6 * high
    si = draw(
        st.one_of(
            st.floats(low, high),
            st.sampled_from([low, high, 0.5 * (low + high), near, 273.15, 1.0]),
            st.floats(-12.0, 0.0).map(lambda decade: high * 10.0**decade),
        )
    )
    unit = draw(st.sampled_from(units_of(field.dimension)))
    known = UNITS[unit]
    value = si / known.scale - known.zero
    spread = draw(st.sampled_from([None, None, 1e-12, 1e-3, 0.3, 1.0]))
    uncertainty = None if spread is None else spread * high / known.scale
    if draw(st.integers(0, 9)) == 0:
        return draw(st.sampled_from(ODD_TEXTS)) + draw(st.sampled_from(["", f" {unit}"]))
    if draw(st.booleans()):
        return Quantity(value, unit, uncertainty)
    return f"{value:.{draw(st.integers(1, 12))}g} {unit}"


@st.composite
def records(draw: st.DrawFn, record: type, chance: int = 4, **given: Any) -> Any:
    """Draw a record, each of its fields in one case of some; what cannot be read is left out."""
    written: dict[str, Any] = dict(given)
    for name, field in readings(record).items():
        if draw(st.integers(0, chance)) == 0:
            read = draw(quantities(field))
            try:
                probe = as_quantity(read, field.dimension, field.unit)
            except QuantityError:
                continue
            is_list = isinstance(field, Fills) and draw(st.booleans())
            written[name] = [probe] if is_list else read
    try:
        return record(**written)
    except QuantityError:  # together they cannot be: more carbon dioxide than was burned
        return record(**{name: one for name, one in given.items() if name == "label"})


def percents() -> st.SearchStrategy[dict[str, Any]]:
    ends = st.sampled_from([0.0, 1e-9, 0.5, 50.0, 100.0, 100.4, 900.0, 1000.0])
    return st.dictionaries(
        st.sampled_from(ELEMENTS), st.one_of(ends, st.floats(0.0, 1000.0)), max_size=5
    )


@st.composite
def anything(draw: st.DrawFn) -> Measurement:
    """Draw a measurement with anything in any field."""
    trials = [
        draw(
            records(
                Trial,
                1,
                conditions=draw(st.one_of(st.none(), records(Conditions))),
                flask=draw(st.one_of(st.none(), records(Flask))),
                vaporized_in=draw(st.sampled_from(["flask", "flask", "syringe"])),
            )
        )
        for _ in range(draw(st.integers(0, 3)))
    ]
    return draw(
        records(
            Measurement,
            label="X",
            percent=draw(percents()),
            conditions=draw(records(Conditions, 2, mercury_barometer=draw(st.booleans()))),
            flask=draw(records(Flask, 2, closed=draw(st.sampled_from(["", "hot"])))),
            trials=trials,
            formula=draw(st.sampled_from(["", "", "C2H6O", "C200H402", "CF4", "H2O"])),
            combustion=draw(st.one_of(st.none(), records(Combustion, 1))),
            boiling_point_by=draw(st.sampled_from(["", "own", "card"])),
            molar_mass_by=draw(st.sampled_from(["", "ideal gas"])),
        )
    )


def test_every_field_is_drawn() -> None:
    """A field that is new must be drawn here, too."""
    drawn = {"label", "percent", "conditions", "flask", "trials", "formula", "combustion"}
    drawn |= {"boiling_point_by", "molar_mass_by"}
    aside = {"student", "source", "circumstances", "unread", "reported"}  # no match looks at them
    assert {one.name for one in fields(Measurement)} == drawn | aside | set(readings(Measurement))
    assert set(words(Measurement)) == {"boiling_point_by", "formula", "molar_mass_by"}


def numbers_in(value: object) -> list[float]:
    if isinstance(value, dict):
        return [one for part in value.values() for one in numbers_in(part)]
    if isinstance(value, list | tuple):
        return [one for part in value for one in numbers_in(part)]
    return [value] if isinstance(value, float) else []


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(anything())
@example(Measurement("X", percent={"C": 100.4}))
@example(Measurement("X", flask=Flask(size="1000 L"), trials=[Trial(gain=0.3)]))
@example(
    Measurement("X", trials=[Trial(gain=0.3, bath="1000 C"), Trial(gain=0.3)], flask=Flask(250.0))
)
@example(
    Measurement(
        "X",
        flask=Flask(250.0),
        trials=[Trial(gain=0.3, conditions=Conditions(room="0.001 K")), Trial(gain=0.3)],
    )
)
def test_an_answer_for_anything(run: Measurement) -> None:
    ranking = match(run, TABLE)
    answer = ranking.to_dict()
    json.dumps(answer, allow_nan=False)
    assert all(math.isfinite(one) for one in numbers_in(answer))
    (many,) = [block for _, block in match_many([run], TABLE).groupby("label")]
    assert many["name"].tolist()[0] == ranking.candidates[0].name
    assert many["verdict"].iloc[0] == ranking.verdict
    np.testing.assert_allclose(
        many["probability"].to_numpy()[:5],
        [one.probability for one in ranking.candidates[:5]],
        rtol=1e-9,
    )
    scores = score(run, TABLE)
    assert scores["probability"].between(0.0, 1.0).all()
    total = float(scores["probability"].sum()) + scores.attrs["none_of_these"]
    assert total == pytest.approx(1.0, abs=1e-9)


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(anything())
def test_a_molar_mass_or_one_sentence_for_anything(run: Measurement) -> None:
    try:
        found = molar_mass(run, "acetone", candidates=BUILT_IN, draws=200)
    except UnusableInput:
        return
    json.dumps(found.to_dict(), allow_nan=False)
