"""Notebook entries: what fields take, what they refuse, and how trials override the run."""

from __future__ import annotations

import copy
import dataclasses
import pickle

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.notebook import usual
from identify.notebook.composition.percentages import element_symbol
from identify.notebook.fields import Fills, Summed, is_word
from identify.notebook.measurement import Conditions, Flask, Measurement, Source, Trial, readings
from identify.notebook.quantity.quantities import UNITS, Quantity, QuantityError
from identify.physics.constants import ELEMENTS

RUN = Measurement(
    label="C-14",
    percent={"C": 37.48, "H": "12.58 ± 0.3 %"},
    boiling_point="64.6 C",
    conditions=Conditions(pressure="742.0 mmHg", room=22.5, humidity=45),
    flask=Flask(volume="287.4 mL"),
    trials=[
        Trial(98.1132, 98.3721, 98.9),
        Trial(
            empty="98.1140 g",
            condensed="98.3709 g",
            bath="98.7 C",
            conditions=Conditions(pressure="741.2 mmHg"),
            flask=Flask(water_mass=286.6, water_temperature=23),
        ),
    ],
    source=Source("section.csv", 2),
)


@pytest.mark.parametrize(
    "given", [64.6, "64.6", "64.6 C", "64,6 °C", np.float64(64.6), Quantity(64.6, "C")]
)
def test_a_field_takes_number_text_or_quantity(given):
    assert Measurement("C-14", boiling_point=given).boiling_point == Quantity(64.6, "C")


@pytest.mark.parametrize(
    ("record", "field", "unit"),
    [
        (record, name, field.unit)
        for record in (Measurement, Conditions, Flask, Trial)
        for name, field in readings(record).items()
    ],
)
def test_each_field_takes_its_unit_and_no_other_dimension(record, field, unit):
    needed = {"label": "C-14"} if record is Measurement else {}
    # A number that the field's limits hold.
    value = 1.4 if field in ("refractive_index", "density") else 20.0
    made = record(**needed, **{field: value})
    assert getattr(made, field) == Quantity(value, unit)
    assert getattr(record(**needed), field) is None
    wrong = "mL" if UNITS[unit].dimension != "volume" else "g"
    no_reading = (f"20 {wrong}", "hot", float("nan"), "", [20, True], True, Quantity(20.0, wrong))
    lists = () if field == "water_volume" else ([20], [20, 20])
    adds_up = isinstance(readings(record)[field], Fills | Summed)
    for reading in (*no_reading, *lists, *(() if adds_up else (f"20 + 20 {unit}",))):
        with pytest.raises(QuantityError) as caught:
            record(**needed, **{field: reading})
        assert str(caught.value).startswith(f"{field}: ")


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ("756 - 26 mm Hg", "730 mmHg"),
        ("740 - 742 mmHg", "741.00 ± 0.58 mmHg"),  # goes up: a range
        ("740-742 mmHg", "741.00 ± 0.58 mmHg"),
    ],
)
def test_a_pressure_may_be_a_difference_or_a_range(written, shown):
    assert str(Conditions(pressure=written).pressure) == shown


@pytest.mark.parametrize(
    "given",
    [
        "100.0 + 100.0 + 83.6 mL",
        [100.0, "100.0 mL", 83.6],
        ("100.0", Quantity(100.0, "mL"), 83.6),
        np.array([100.0, 100.0, 83.6]),
        pd.Series([100.0, 100.0, 83.6]),
        Quantity(283.6, "mL", fills=3),
    ],
)
def test_water_volume_adds_up_fills(given):
    flask = Flask(water_volume=given)
    assert flask.water_volume == Quantity(283.6, "mL", fills=3)
    # A trial's flask is merged over the run's, and a record copied, without losing count.
    run = Measurement("C-14", flask=Flask(water_temperature=23), trials=[Trial(flask=flask)])
    assert run.trial_flask(run.trials[0]).water_volume == flask.water_volume
    assert dataclasses.replace(flask, water_temperature=23).water_volume == flask.water_volume
    assert hash(flask) == hash(copy.deepcopy(flask))


@pytest.mark.parametrize("element", ELEMENTS)
def test_element_in_any_case(element):
    for key in (element, element.lower(), element.upper(), f" {element} "):
        assert element_symbol(key) == element


@pytest.mark.parametrize(
    ("percent", "words"),
    [
        ({"Xx": 5}, "Xx.*is not an element known here; use C, H, N"),
        ({"": 5}, "not an element"),
        ({"Na": 5}, "not an element"),
        ({"C": 5, "c": 5}, "twice"),
        ({"C": -5}, "percent C: .*negative"),
        ({"Cl": "much"}, "percent Cl: .*number"),
        ({"C": "5 g"}, "is a mass"),
        (["C", 5], "percent: .*is not a composition"),
        ("five", "is not an element and its percent"),
        (5.0, "is not a composition"),
    ],
)
def test_composition_refuses(percent, words):
    with pytest.raises(QuantityError, match=words):
        Measurement("C-14", percent=percent)


def test_composition_takes_a_series():
    run = Measurement("C-14", percent=pd.Series({"C": 52.1, "H": 13.1}))
    assert run.percent == Measurement("C-14", percent={"C": 52.1, "H": 13.1}).percent


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({"label": None}, "label: None is not a text"),
        ({"label": 14}, "label: 14 is not a text"),
        ({"student": ["R"]}, "student: .* is not a text"),
        ({"conditions": {"pressure": 742}}, "conditions: .* is not a Conditions"),
        ({"conditions": None}, "conditions: None is not a Conditions"),
        ({"flask": 287.4}, "flask: 287.4 is not a Flask"),
        ({"trials": None}, "trials: None is not a list of Trial"),
        ({"trials": Trial(98, 98.3, 98)}, "trials: .* is not a list of Trial"),
        ({"trials": [{"empty": 98}]}, "trials: .* is not a Trial"),
    ],
)
def test_a_part_of_another_class_is_refused(parts, words):
    with pytest.raises(TypeError, match=words):
        Measurement(**{"label": "C-14", **parts})


def test_composition_is_in_the_order_of_elements_and_leaves_out_what_is_missing():
    percent = Measurement("C-14", percent={"O": 49.9, "CL": None, "c": "37.5 %"}).percent
    assert list(percent) == ["C", "O"]
    assert percent == {"C": Quantity(37.5, "%"), "O": Quantity(49.9, "%")}
    with pytest.raises(TypeError, match="does not support item assignment"):
        percent["H"] = Quantity(12.6, "%")


def test_nothing_written_is_none():
    run = Measurement("C-14")
    assert (run.molar_mass, run.boiling_point, run.conditions.pressure) == (None, None, None)
    assert (dict(run.percent), run.trials, run.student) == ({}, (), "")


def test_trial_overrides_field_by_field():
    first, second = RUN.trials
    assert RUN.trial_conditions(first) == RUN.conditions
    assert RUN.trial_flask(first) == RUN.flask
    conditions = RUN.trial_conditions(second)
    assert str(conditions.pressure) == "741.2 mmHg"
    assert (conditions.room, conditions.humidity) == (RUN.conditions.room, Quantity(45.0, "%"))
    flask = RUN.trial_flask(second)
    assert (str(flask.volume), str(flask.water_mass)) == ("287.4 mL", "286.6 g")


@pytest.mark.parametrize(
    ("run", "trial", "merged"),
    [(False, False, False), (True, False, True), (False, True, True), (True, True, True)],
)
def test_mercury_barometer_of_run_or_trial(run, trial, merged):
    own = Conditions(pressure=741, mercury_barometer=trial)
    measurement = Measurement("C-14", conditions=Conditions(mercury_barometer=run))
    assert measurement.trial_conditions(Trial(conditions=own)).mercury_barometer is merged


def test_records_are_frozen_and_behave_as_values():
    assert isinstance(RUN.trials, tuple)
    with pytest.raises(dataclasses.FrozenInstanceError, match="cannot assign to field"):
        RUN.boiling_point = 65.0
    for again in (pickle.loads(pickle.dumps(RUN)), copy.deepcopy(RUN), dataclasses.replace(RUN)):
        assert again == RUN
        assert hash(again) == hash(RUN)
    assert dataclasses.replace(RUN, boiling_point=65.0) != RUN
    assert dataclasses.asdict(RUN)["boiling_point"]["value"] == 64.6


@given(st.floats(-50, 300), st.sampled_from(["C", "K", "F"]))
def test_change_of_unit_gives_the_same_temperature(celsius: float, unit: str):
    there = Quantity(celsius, "C").to(unit)
    for given_as in (there, f"{there.value!r} {unit}"):
        field = Measurement("C-14", boiling_point=given_as).boiling_point
        assert field is not None
        assert field.to("K").value == pytest.approx(celsius + 273.15, rel=1e-9)


@pytest.mark.parametrize(
    ("written", "bath", "is_a_word"),
    [
        ("Boiling  Water", "100 °C", True),
        ("boiling", "100 °C", True),
        ("boiling water, 99 C", "99 °C", False),
        ("Boiling water (99.5 °C)", "99.5 °C", False),
        ("boiling water at about 99 C", "99 ± 2 °C", False),
        ("water bath: 98.9(2) C", "98.9 ± 0.2 °C", False),
        ("100 C (boiling water)", "100 °C", False),
        ("211 F, boiling water", "211 °F", False),
        ("97-99 C", "98.00 ± 0.58 °C", False),
    ],
)
def test_a_word_of_the_bench_and_the_number_beside_it(written, bath, is_a_word):
    read = Trial(bath=written).bath
    assert (str(read), is_word(read, usual.BATH_WORDS)) == (bath, is_a_word)


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("boiling oil 99", 'bath: "oil 99" does not start with a number'),
        ("warm", 'bath: "warm" does not start with a number'),
        ("boilingwater9", 'bath: "boilingwater9" does not start with a number'),
        ("steam 5 g", 'bath: "5 g" is a mass, not a temperature'),
    ],
)
def test_what_is_no_word_of_the_bench(written, words):
    with pytest.raises(QuantityError, match=words):
        Trial(bath=written)
