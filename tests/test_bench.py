"""From what the notebook says to SI units: units, flasks, barometers, uncertainties."""

from __future__ import annotations

from dataclasses import asdict, replace
from math import hypot, sqrt
from typing import Any

import numpy as np
import pytest

from identify import Conditions, Flask, Measurement, Trial
from identify.bench.assumed import station_pressure
from identify.bench.bench import Bench
from identify.bench.readings import SIReading
from identify.bench.trials import trials_of, weighing_of
from identify.physics.air import moist_air_density
from identify.physics.barometer import mercury_barometer_pressure
from identify.physics.constants import ELEMENTS, GAS_CONSTANT, STANDARD_PRESSURE
from identify.physics.water import water_filled_volume

MMHG = 133.322387415  # Pa, conventional: NIST SP 811
READINGS = {
    "empty": "98.1132 g",
    "condensed": "98.3721 g",
    "bath": "98.9 C",
    "pressure": "742.0 mmHg",
    "room": "22.5 C",
    "humidity": "40 %",
    "volume": "287.4 mL",
    "boiling_point": "64.6 C",
    "boiling_point_at": "742.0 mmHg",
    "C": "37.48 %",
}


def run(**changed: str | None) -> Measurement:
    """Return one complete run with some readings written otherwise, or not at all."""
    said = READINGS | changed
    flask = {name: said.get(name) for name in ("water_mass", "water_temperature", "water_volume")}
    return Measurement(
        "C-14",
        boiling_point=said["boiling_point"],
        boiling_point_at=said["boiling_point_at"],
        percent={"C": said["C"]},
        conditions=Conditions(said["pressure"], said["room"], said["humidity"]),
        flask=Flask(volume=said["volume"], **flask),
        trials=[Trial(said["empty"], said["condensed"], said["bath"])],
    )


def numbers(bench: Bench) -> dict[str, Any]:
    """Return all numbers of a bench that are there, flat."""
    flat: dict[str, Any] = {}
    for name, value in asdict(replace(bench, trials=(), assumed=())).items():
        for key, part in value.items() if isinstance(value, dict) else [("", value)]:
            parts = part.items() if isinstance(part, dict) else [("", part)]
            flat |= {f"{name} {key} {end}": x for end, x in parts if x is not None}
    return flat


def assert_same(left: Bench, right: Bench, rel: float = 1e-12) -> None:
    ours, theirs = numbers(left), numbers(right)
    assert ours.keys() == theirs.keys()
    for name, value in ours.items():
        assert theirs[name] == (value if isinstance(value, str) else pytest.approx(value, rel=rel))


# --------------------------------------------------------------------------------------- units


def test_readings_in_si_units() -> None:
    bench = Bench.of(run())
    weighing = bench.weighing
    assert weighing is not None
    expected = {
        "gain": 0.2589e-3,
        "bath": 372.05,
        "room": 295.65,
        "pressure": 742.0 * MMHG,
        "volume": 287.4e-6,
        "volume_temperature": 295.65,  # of the room, where no water's was written
        "humidity": 0.4,
    }
    for name, value in expected.items():
        assert getattr(weighing, name) == pytest.approx([value], rel=1e-9), name
    assert bench.boiling_point == SIReading(pytest.approx(337.75))
    assert bench.boiling_pressure == pytest.approx(742.0 * MMHG)
    assert bench.percent == {ELEMENTS.index("C"): SIReading(37.48)}
    assert (bench.molar_mass, bench.weighing_u) == (None, 0.0)


@pytest.mark.parametrize(
    ("reading", "written"),
    [
        ("empty", "0.0981132 kg"),
        ("empty", "98113.2 mg"),
        ("condensed", "0.0983721 kg"),
        ("bath", "372.05 K"),
        ("bath", "210.02 F"),
        ("room", "295.65 K"),
        ("room", "72.5 F"),
        ("pressure", "989.252114619 hPa"),
        ("pressure", "98.9252114619 kPa"),
        ("pressure", "0.989252114619 bar"),
        ("pressure", "29.2125984252 inHg"),
        ("volume", "0.2874 L"),
        ("volume", "287.4 cm3"),
        ("volume", "0.0002874 m3"),
        ("boiling_point", "337.75 K"),
        ("boiling_point", "148.28 F"),
        ("boiling_point_at", "0.976315928566 atm"),
        ("boiling_point_at", "14.3478888 psi"),
    ],
)
def test_same_readings_in_other_units(reading: str, written: str) -> None:
    assert_same(Bench.of(run()), Bench.of(run(**{reading: written})), rel=1e-7)


@pytest.mark.parametrize(
    ("written", "grams"), [("32.4 g/mol", 32.4), ("0.0324 kg/mol", 32.4), ("32.4(2) g/mol", 32.4)]
)
def test_given_molar_mass_replaces_the_weighings(written: str, grams: float) -> None:
    bench = Bench.of(replace(run(), molar_mass=written))
    assert bench.weighing is None
    assert bench.molar_mass is not None
    assert bench.molar_mass.value == pytest.approx(grams)
    assert bench.molar_mass.uncertainty == (None if "(" not in written else pytest.approx(0.2))
    assert bench.ideal_molar_mass() is None


def test_nothing_measured() -> None:
    bench = Bench.of(Measurement("C-14"))
    assert repr(bench) == repr(Bench())  # a pressure that is not a number equals none
    assert bench.ideal_molar_mass() is None
    assert bench.boiling_pressure == STANDARD_PRESSURE


def test_shortcut_is_the_mean_over_the_trials() -> None:
    one = run()
    two = replace(one, trials=(*one.trials, Trial(98.1140, 98.3709, 98.7)))
    each = [
        1e3
        * (condensed - empty)
        * 1e-3
        * GAS_CONSTANT
        * (bath + 273.15)
        / (742.0 * MMHG * 2.874e-4)
        for empty, condensed, bath in ((98.1132, 98.3721, 98.9), (98.1140, 98.3709, 98.7))
    ]
    assert Bench.of(one).ideal_molar_mass() == pytest.approx(each[0], rel=1e-9)
    assert Bench.of(two).ideal_molar_mass() == pytest.approx(np.mean(each), rel=1e-9)


@pytest.mark.parametrize("element", ELEMENTS)
def test_every_element_stands_in_its_own_row(element: str) -> None:
    bench = Bench.of(Measurement("C-14", percent={element: "12.5 ± 0.1 %"}))
    (row,) = bench.percent
    assert ELEMENTS[row] == element
    assert bench.percent[row] == SIReading(pytest.approx(12.5), pytest.approx(0.1))


# ---------------------------------------------------------------------------------- the volume


def flask_bench(**flask: str | None) -> Bench:
    return Bench.of(run(**({"volume": None} | flask)))


@pytest.mark.parametrize(
    ("flask", "milliliters", "kelvin"),
    [
        ({"volume": "287.4 mL"}, 287.4, 295.65),
        ({"volume": "287.4 mL", "water_temperature": "20 C"}, 287.4, 293.15),
        ({"water_volume": "287.4 mL"}, 287.4, 295.65),
        ({"water_volume": "287.4 mL", "water_temperature": "68 F"}, 287.4, 293.15),
        ({"water_volume": "100.0 + 100.0 + 87.4 mL"}, 287.4, 295.65),
        ({"water_volume": "0.1 L + 100.0 mL + 87.4 mL"}, 287.4, 295.65),
        # 0.997996 and 0.998207 g/mL at 21 and 20 C, and 1.00102 for buoyancy in air of 1.165 kg/m3.
        ({"water_mass": "287.0 g", "water_temperature": "21 C"}, 287.87, 294.15),
        ({"water_mass": "287.0 g", "water_temperature": "20 C"}, 287.81, 293.15),
        # The water has the room's temperature, 22.5 C, where none is written: 0.99766 g/mL.
        ({"water_mass": "0.287 kg"}, 287.97, 295.65),
        # What was read off as a volume goes before what was worked out from a mass.
        ({"volume": "287.4 mL", "water_mass": "250 g"}, 287.4, 295.65),
    ],
)
def test_volume(flask: dict[str, str], milliliters: float, kelvin: float) -> None:
    weighing = flask_bench(**flask).weighing
    assert weighing is not None
    assert weighing.volume == pytest.approx([1e-6 * milliliters], abs=1e-8)
    assert weighing.volume_temperature == pytest.approx([kelvin])


def test_volume_from_water_weighed_in_this_laboratorys_air() -> None:
    weighing = flask_bench(water_mass="287.0 g", water_temperature="21 C").weighing
    assert weighing is not None
    air = float(moist_air_density(295.65, 742.0 * MMHG, 0.4))
    assert weighing.volume[0] == pytest.approx(water_filled_volume(0.2870, 294.15, air))


# --------------------------------------------------------------------------------- the barometer

COLUMN = {"pressure": "742.0 mmHg", "room": "22.5 C", "mercury_barometer": True}


@pytest.mark.parametrize(
    ("written", "latitude", "height"),
    [
        (COLUMN, None, 0.0),
        (COLUMN | {"latitude": 40.0}, 40.0, 0.0),
        (COLUMN | {"latitude": 40.0, "height": "1600 m"}, 40.0, 1600.0),
        (COLUMN | {"latitude": -33.0, "height": "5250 ft"}, -33.0, 1600.2),
        # Gravity depends on height only where the latitude is known.
        (COLUMN | {"height": "1600 m"}, None, 0.0),
    ],
)
def test_mercury_column(written: dict[str, Any], latitude: float | None, height: float) -> None:
    pressure = station_pressure(Conditions(**written))
    expected = mercury_barometer_pressure(742.0 * MMHG, 295.65, latitude, height)
    assert pressure == SIReading(pytest.approx(expected, rel=1e-12))
    assert pressure.value < 742.0 * MMHG


def test_other_barometers_are_taken_at_their_word() -> None:
    plain = Conditions(pressure="742.0 ± 0.5 mmHg", room=22.5, latitude=40.0, height=1600.0)
    expected = SIReading(pytest.approx(742.0 * MMHG), pytest.approx(0.5 * MMHG))
    assert station_pressure(plain) == expected


def test_boiling_point_at_the_columns_own_pressure() -> None:
    column = Conditions(**COLUMN)
    corrected = station_pressure(column).value
    own, published = (
        Bench.of(
            Measurement("C-14", boiling_point=64.0, boiling_point_at=at, conditions=column)
        ).boiling_pressure
        for at in ("742.0 mmHg", "760 mmHg")
    )
    assert own == corrected
    assert published == pytest.approx(760.0 * MMHG)


# ----------------------------------------------------------------- what a trial has of its own


def test_trials_with_conditions_and_flasks_of_their_own() -> None:
    shared = run()
    (first,) = shared.trials
    own = [
        first,
        replace(first, conditions=Conditions(pressure="100 kPa")),
        replace(first, conditions=Conditions(room="300 K")),
        replace(first, flask=Flask(volume="300 mL")),
        replace(first, flask=Flask(water_temperature="20 C")),
    ]
    weighing = Bench.of(replace(shared, trials=own)).weighing
    assert weighing is not None
    pressure, room, volume = 742.0 * MMHG, 295.65, 287.4e-6
    assert weighing.pressure == pytest.approx([pressure, 1e5, pressure, pressure, pressure])
    assert weighing.room == pytest.approx([room, room, 300.0, room, room])
    assert weighing.volume == pytest.approx([volume, volume, volume, 300e-6, volume])
    assert weighing.volume_temperature == pytest.approx([room, room, 300.0, room, 293.15])
    assert weighing.gain == pytest.approx([0.2589e-3] * 5)


@pytest.mark.parametrize(
    ("missing", "lacking"),
    [
        (("empty",), ["the mass of the empty flask"]),
        (("condensed",), ["the mass of flask and condensed liquid"]),
        (("empty", "condensed"), ["the masses"]),
        (("volume",), ["the volume of the flask"]),
        (("bath", "room", "pressure", "humidity"), []),
    ],
)
def test_a_trial_says_what_it_lacks(missing: tuple[str, ...], lacking: list[str]) -> None:
    page = run(**dict.fromkeys(missing))
    (trial,) = trials_of(page)
    assert trial.lacking == lacking
    assert (Bench.of(page).weighing is None) == bool(lacking)
    if lacking:
        with pytest.raises(ValueError, match=lacking[0]):
            weighing_of([trial])


def test_a_trial_that_lacks_something_leaves_the_others() -> None:
    page = run()
    page = replace(page, trials=(replace(page.trials[0], condensed=None), *page.trials))
    bench = Bench.of(page)
    assert [trial.number for trial in bench.trials] == [2]
    assert bench.unused == 1
    assert bench.weighing is not None
    assert bench.weighing.gain == pytest.approx([0.2589e-3])


def test_humidity_may_be_missing() -> None:
    weighing = Bench.of(run(humidity=None)).weighing
    assert weighing is not None
    assert weighing.humidity == pytest.approx([0.5])


# ------------------------------------------------------------------------------- uncertainties

DIGIT = 0.1e-6  # kg: the last digit of the weighings, which counts where nothing is stated
IDEAL = 1e3 * GAS_CONSTANT * 372.05 / (742.0 * MMHG * 287.4e-6)  # g/mol a kg


@pytest.mark.parametrize(
    ("stated", "relative", "of_gain"),
    [
        ({}, 0.0, (DIGIT, DIGIT)),
        ({"bath": "98.9 ± 0.5 C"}, 0.5 / 372.05, (DIGIT, DIGIT)),
        ({"bath": "210.02 ± 0.9 F"}, 0.5 / 372.05, (DIGIT, DIGIT)),
        ({"pressure": "742.0 ± 0.7 mmHg"}, 0.7 / 742.0, (DIGIT, DIGIT)),
        ({"volume": "287.4(3) mL"}, 0.3 / 287.4, (DIGIT, DIGIT)),
        (
            {"pressure": "742.0(7) mmHg", "volume": "287.4(3) mL"},
            hypot(0.7 / 742, 0.3 / 287.4),
            (DIGIT, DIGIT),
        ),
        ({"empty": "98.1132(3) g"}, 0.0, (0.3e-6, DIGIT)),
        ({"empty": "98.1132(3) g", "condensed": "98.3721(4) g"}, 0.0, (0.3e-6, 0.4e-6)),
        ({"bath": "98.9(5) C", "condensed": "98.3721(4) g"}, 0.5 / 372.05, (DIGIT, 0.4e-6)),
        ({"empty": "98.11 g", "condensed": "98.37 g"}, 0.0, (1e-5, 1e-5)),
        # The finer of the two: a spreadsheet drops zeros at the end.
        ({"empty": "98.11 g", "condensed": "98.3721 g"}, 0.0, (DIGIT, DIGIT)),
        # That of the room is worth nothing beside these.
        ({"room": "22.5 ± 0.5 C"}, 0.0, (DIGIT, DIGIT)),
    ],
)
def test_stated_uncertainties(
    stated: dict[str, str], relative: float, of_gain: tuple[float, float]
) -> None:
    bench = Bench.of(run(**stated))
    assert bench.weighing_u == pytest.approx(relative, rel=1e-6)
    assert bench.gain_u == pytest.approx(hypot(*of_gain) * IDEAL, rel=1e-6)


def test_fills_hand_their_uncertainty_to_the_volume() -> None:
    bench = flask_bench(water_volume="100.0(5) + 100.0(5) + 87.4(5) mL")
    assert bench.weighing_u == pytest.approx(0.5 * sqrt(3) / 287.4)


def test_water_mass_hands_its_uncertainty_to_the_volume() -> None:
    bench = flask_bench(water_mass="287.0 ± 0.5 g", water_temperature="21 C")
    assert bench.weighing_u == pytest.approx(0.5 / 287.0)


@pytest.mark.parametrize("count", [1, 2, 4])
@pytest.mark.parametrize(
    ("reading", "written", "alone", "averages_out"),
    [
        ("bath", "98.9 ± 0.5 C", 0.5 / 372.05, True),
        ("pressure", "742.0 ± 0.7 mmHg", 0.7 / 742.0, False),
        ("volume", "287.4 ± 0.3 mL", 0.3 / 287.4, False),
        ("condensed", "98.3721 ± 0.0004 g", hypot(0.4e-6, DIGIT) * IDEAL, True),
    ],
)
def test_what_is_read_anew_averages_out_and_what_is_shared_does_not(
    count: int, reading: str, written: str, alone: float, averages_out: bool
) -> None:
    one = run(**{reading: written})
    bench = Bench.of(replace(one, trials=one.trials * count))
    found = bench.gain_u if reading == "condensed" else bench.weighing_u
    assert found == pytest.approx(alone / sqrt(count) if averages_out else alone, rel=1e-6)


def test_no_gain_still_has_the_balances_uncertainty() -> None:
    bench = Bench.of(run(empty="98.1132(3) g", condensed="98.1132(4) g"))
    assert bench.gain_u == pytest.approx(0.5e-6 * IDEAL, rel=1e-6)
    assert bench.ideal_molar_mass() == 0.0


def test_a_flask_filled_with_no_water_has_no_volume() -> None:
    run = Measurement(
        "W",
        conditions=Conditions(pressure=742.0, room=22.5),
        flask=Flask(water_mass="0 g", water_temperature=20.0),
        trials=[Trial("98.1132 g", "98.3721 g", 98.9)],
    )
    assert Bench.of(run).weighing is None


# ---------------------------------------------------------------- what is missing, doubted, assumed


@pytest.mark.parametrize(
    ("reading", "field"),
    [
        ("empty", "empty"),
        ("condensed", "condensed"),
        ("bath", "bath"),
        ("room", "room"),
        ("pressure", "pressure"),
        ("volume", "measured_volume"),
    ],
)
def test_what_is_missing_or_doubted_is_not_a_number(reading: str, field: str) -> None:
    (missing,) = trials_of(run(**{reading: None}))
    usual = missing.assumed.get(reading)
    assert (usual is None) == bool(np.isnan(getattr(missing, field).value))
    assert getattr(missing, field).is_assumed == (usual is not None)
    (unread,) = trials_of(replace(run(**{reading: None}), unread=(reading,)))
    assert np.isnan(getattr(unread, field).value)
    whole = run()
    (trial,) = trials_of(whole)
    parts = (trial.written, trial.conditions, trial.flask)
    written = next(getattr(part, reading) for part in parts if hasattr(part, reading))
    (doubted,) = trials_of(whole, frozenset({(reading, written)}))
    assert np.isnan(getattr(doubted, field).value)
    assert getattr(trial, field).value > 0.0


def test_what_is_assumed_says_so() -> None:
    (trial,) = trials_of(run(humidity=None))
    assert trial.humidity == SIReading(
        pytest.approx(0.5), pytest.approx(0.3 / sqrt(3)), is_assumed=True
    )
    # The water's temperature is the room's, but nobody read it there.
    assert trial.water_temperature == SIReading(trial.room.value, is_assumed=True)
    (trial,) = trials_of(run(water_temperature="20 ± 0.1 C"))
    assert trial.humidity == SIReading(pytest.approx(0.4))
    assert trial.water_temperature == SIReading(pytest.approx(293.15), pytest.approx(0.1))


@pytest.mark.parametrize("pressures", [("742 mmHg",), ("742 mmHg", "98 kPa", "755 mmHg")])
def test_trials_of_several_days_stand_in_any_order(pressures: tuple[str, ...]) -> None:
    """Where each has its own pressure, none of them is the laboratory's alone."""
    each = [Trial(gain=0.26, bath=99.0, conditions=Conditions(pressure=one)) for one in pressures]
    benches = {
        Bench.of(Measurement("X", flask=Flask(287.4), trials=trials)).laboratory_pressure
        for trials in (each, each[::-1], [*each[1:], *each[:1]])
    }
    assert len(benches) == 1
    assert min(benches) == pytest.approx(np.mean([742 * MMHG, 98e3, 755 * MMHG][: len(each)]))
