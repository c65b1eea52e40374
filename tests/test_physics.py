"""The physics: inverses, limits, known values, array shapes, and readings that are missing."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify import load_candidates
from identify.matching.expected.expectation import Expectation
from identify.physics import boiling, water
from identify.physics.air import moist_air_density, water_saturation_pressure
from identify.physics.barometer import local_gravity, mercury_barometer_pressure
from identify.physics.constants import GAS_CONSTANT, STANDARD_PRESSURE, WEIGHT_DENSITY
from identify.physics.vapor import (
    Liquid,
    Weighing,
    compressibility,
    gain,
    ideal_molar_mass,
    implied_molar_mass,
    second_virial,
)

NAN = float("nan")
CURVE = np.array([19.74, -7.14, 1.28])  # near ethanol's
STEEP = np.array([400.0, 0.0, 0.0])  # next to no vapor below its boiling point
# Vapors of the trade, at a bath's temperature -200 to -2500 cm3/mol; t = 300 K / T is near 0.8.
VIRIAL = np.array([60e-6, -300e-6, -400e-6, -600e-6])
IDEAL = np.zeros(4)


def weighing(**readings: float) -> Weighing:
    usual = {
        "gain": 0.26e-3,
        "bath": 372.05,
        "room": 295.65,
        "pressure": 98925.0,
        "volume": 287.4e-6,
        "volume_temperature": 295.65,
        "humidity": 0.5,
    }
    return Weighing(**{name: np.array([value]) for name, value in (usual | readings).items()})


def liquid(
    boiling_point: float = 337.8,
    curve: np.ndarray = CURVE,
    virial: np.ndarray = VIRIAL,
    density: float = 800.0,
) -> Liquid:
    return Liquid(np.array([boiling_point]), curve[None], virial[None], np.array([density]))


# ------------------------------------------------------------------------------- vapor: inverse

BENCHES = st.builds(
    weighing,
    bath=st.floats(330.0, 390.0),
    room=st.floats(283.0, 308.0),
    pressure=st.floats(55e3, 108e3),
    volume=st.floats(20e-6, 2e-3),
    volume_temperature=st.floats(278.0, 308.0),
    humidity=st.floats(0.0, 1.0),
)
# From liquids that boil in the room, whose vapor never condenses, to those that hardly boil.
LIQUIDS = st.builds(
    liquid,
    boiling_point=st.floats(250.0, 420.0),
    curve=st.builds(lambda a, b: np.array([a, b, 1.0]), st.floats(15.0, 25.0), st.floats(-8, 0)),
    virial=st.builds(lambda scale: scale * VIRIAL, st.floats(0.0, 3.0)),
    density=st.floats(500.0, 3000.0),
)


@given(BENCHES, LIQUIDS, st.floats(0.01, 0.5))
def test_gain_and_molar_mass_are_inverse(bench: Weighing, one: Liquid, molar_mass: float) -> None:
    shown = gain(np.array([molar_mass]), bench, one)[0]
    again = implied_molar_mass(replace(bench, gain=shown), one)
    np.testing.assert_allclose(again, molar_mass, rtol=1e-12)


@given(BENCHES, LIQUIDS)
def test_heavier_molecules_weigh_more(bench: Weighing, one: Liquid) -> None:
    first, second, third = (gain(np.array([m]), bench, one)[0, 0] for m in (0.05, 0.1, 0.15))
    assert first < second
    assert third - second == pytest.approx(second - first, rel=1e-9)


def test_trials_are_rows_and_liquids_are_columns() -> None:
    several = Weighing(
        **{
            name: np.concatenate([getattr(weighing(bath=bath), name) for bath in (370, 372, 374)])
            for name in Weighing.__dataclass_fields__
        }
    )
    two = Liquid(
        np.array([330.0, 350.0]), np.tile(CURVE, (2, 1)), np.tile(VIRIAL, (2, 1)), np.full(2, 800.0)
    )
    assert implied_molar_mass(several, two).shape == (3, 2)
    assert gain(np.array([0.05, 0.06]), several, two).shape == (3, 2)
    for row, bath in enumerate((370.0, 372.0, 374.0)):
        for column, boiling_point in enumerate((330.0, 350.0)):
            alone = implied_molar_mass(weighing(bath=bath), liquid(boiling_point))
            assert implied_molar_mass(several, two)[row, column] == pytest.approx(alone[0, 0])
    as_floats = Weighing(
        **{name: float(getattr(weighing(), name)[0]) for name in Weighing.__dataclass_fields__}
    )
    assert implied_molar_mass(as_floats, two).shape == (1, 2)


@pytest.mark.parametrize("missing", ["gain", "bath", "room", "pressure", "volume", "humidity"])
def test_a_missing_reading_gives_no_number(missing: str) -> None:
    assert np.isnan(implied_molar_mass(weighing(**{missing: NAN}), liquid())).all()


# -------------------------------------------------------------------------------- vapor: limits


def test_without_vapor_pressure_the_shortcut_remains_and_buoyancy() -> None:
    bench = weighing()
    involatile = liquid(boiling_point=372.0, curve=STEEP, virial=IDEAL, density=900.0)
    shortcut = ideal_molar_mass(bench.gain, bench.bath, bench.pressure, bench.volume)
    air = bench.air_density
    # Glass that was filled at 22.5 C holds 0.076 % more at the bath's 98.9 C.
    glass = 1.0 + 3 * 3.3e-6 * (372.05 - 295.65)
    expected = shortcut * (1.0 - air / WEIGHT_DENSITY) / (1.0 - air / 900.0) / glass
    assert implied_molar_mass(bench, involatile)[0, 0] == pytest.approx(expected[0], rel=1e-12)


def test_shut_out_air_is_what_the_vapor_pressure_says() -> None:
    bench = weighing()
    kept = liquid(virial=IDEAL, density=math.inf)
    share = boiling.vapor_pressure(bench.room, 337.8, CURVE) / bench.pressure
    shut_out = bench.air_density * bench.volume * share
    expected = ideal_molar_mass(
        bench.gain * (1.0 - bench.air_density / WEIGHT_DENSITY) + shut_out,
        bench.bath,
        bench.pressure,
        bench.volume_at(bench.bath),
    )
    assert implied_molar_mass(bench, kept)[0, 0] == pytest.approx(expected[0], rel=1e-12)


def test_vapor_that_never_condenses_weighs_as_a_gas() -> None:
    # Boils at -40 C; ideal: on cooling its pressure falls as T does, and air makes up the rest.
    bench = weighing()
    gas = liquid(boiling_point=233.0, virial=IDEAL, density=1e-9)
    vapor = 0.06 * bench.pressure * bench.volume_at(bench.bath) / (GAS_CONSTANT * bench.bath)
    share = bench.room / bench.bath * bench.volume_at(bench.bath) / bench.volume_at(bench.room)
    air = bench.air_density * bench.volume_at(bench.room) * share
    expected = (vapor - air) / (1.0 - bench.air_density / WEIGHT_DENSITY)
    assert gain(np.array([0.06]), bench, gas)[0, 0] == pytest.approx(expected[0], rel=1e-9)


@pytest.mark.parametrize("boiling_point", np.linspace(280.0, 300.0, 9))
def test_gain_has_no_step_where_the_last_drop_goes(boiling_point: float) -> None:
    below, above = (
        gain(np.array([0.07]), weighing(), liquid(boiling_point + off))[0, 0]
        for off in (-1e-4, 1e-4)
    )
    assert above == pytest.approx(below, rel=1e-4)


@pytest.mark.parametrize(
    ("volume_temperature", "bath", "factor"),
    # 9.9e-6 / K by volume: borosilicate glass 3.3, ISO 3585.
    [(293.15, 293.15, 1.0), (293.15, 373.15, 1.000792), (298.15, 288.15, 0.999901)],
)
def test_glass_expands(volume_temperature: float, bath: float, factor: float) -> None:
    bench = weighing(volume=300e-6, volume_temperature=volume_temperature)
    assert bench.volume_at(np.array([bath])) == pytest.approx([300e-6 * factor], rel=1e-9)


@pytest.mark.parametrize(
    ("virial", "pressure", "expected"),
    [
        (IDEAL, 1e5, 1.0),
        (np.array([-1e-3, 0.0, 0.0, 0.0]), 1e5, 1.0 - 100.0 / (GAS_CONSTANT * 350.0)),
        (np.array([-1e-3, 0.0, 0.0, 0.0]), 0.0, 1.0),
        (np.array([-1.0, 0.0, 0.0, 0.0]), 1e5, 0.5),  # where the series means nothing
    ],
)
def test_compressibility(virial: np.ndarray, pressure: float, expected: float) -> None:
    shown = compressibility(350.0, pressure, liquid(virial=virial))
    assert shown == pytest.approx([expected], rel=1e-12)


@pytest.mark.parametrize(
    ("temperature", "expected"),
    [
        (300.0, VIRIAL.sum()),
        (600.0, 60e-6 - 300e-6 / 2 - 400e-6 / 2**3 - 600e-6 / 2**8),
        (math.inf, 60e-6),
    ],
)
def test_second_virial_coefficient(temperature: float, expected: float) -> None:
    assert second_virial(temperature, VIRIAL) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("mass", "bath", "pressure", "volume", "expected"),
    [
        # Molar volume of an ideal gas: 22.414 L at 273.15 K and 101325 Pa.
        (1e-3, 273.15, STANDARD_PRESSURE, 1e-3, 22.41397e-3),
        (0.0, 372.0, 1e5, 3e-4, 0.0),
        (-1e-3, 273.15, STANDARD_PRESSURE, 1e-3, -22.41397e-3),
        (NAN, 372.0, 1e5, 3e-4, NAN),
    ],
)
def test_shortcut(
    mass: float, bath: float, pressure: float, volume: float, expected: float
) -> None:
    shown = ideal_molar_mass(mass, bath, pressure, volume)
    assert shown == pytest.approx(expected, rel=1e-6, nan_ok=True)


# ------------------------------------------------------------------------------------- boiling


@given(st.floats(250.0, 420.0), st.floats(50e3, 110e3), st.floats(15.0, 25.0), st.floats(-8, 0))
def test_boiling_point_and_vapor_pressure_are_inverse(
    boiling_point: float, pressure: float, first: float, second: float
) -> None:
    curve = np.array([first, second, 1.0])
    boils = boiling.boiling_temperature(pressure, boiling_point, curve)
    assert boiling.vapor_pressure(boils, boiling_point, curve) == pytest.approx(pressure, rel=1e-9)


@pytest.mark.parametrize("curve", [CURVE, STEEP, np.array([10.6, 0.0, 0.0])])
def test_every_curve_passes_through_its_boiling_point(curve: np.ndarray) -> None:
    assert boiling.vapor_pressure(350.0, 350.0, curve) == pytest.approx(STANDARD_PRESSURE)
    assert boiling.boiling_temperature(STANDARD_PRESSURE, 350.0, curve) == pytest.approx(350.0)


def test_boiling_broadcasts() -> None:
    points = np.array([330.0, 350.0, 370.0])
    curves = np.tile(CURVE, (3, 1))
    rooms = np.array([[290.0], [300.0]])
    assert boiling.vapor_pressure(rooms, points, curves).shape == (2, 3)
    assert boiling.boiling_temperature(np.array([[9e4], [1e5]]), points, curves).shape == (2, 3)
    assert boiling.boiling_temperature(9e4, points, curves).shape == (3,)
    assert boiling.vapor_pressure(NAN, points, curves).shape == (3,)


@pytest.mark.parametrize("function", [boiling.vapor_pressure, boiling.boiling_temperature])
def test_boiling_of_a_missing_reading(function) -> None:
    assert np.isnan(function(NAN, 350.0, CURVE))
    assert np.isnan(function(np.array([300.0, NAN]), np.full(2, 350.0), np.tile(CURVE, (2, 1)))[1])


@pytest.mark.parametrize("temperature", [1.0, 50.0, 2000.0, 1e6])
def test_far_away_the_curve_stays_finite(temperature: float) -> None:
    assert np.isfinite(boiling.vapor_pressure(temperature, 350.0, CURVE))
    assert boiling.vapor_pressure(1.0, 350.0, CURVE) < 1.0


@pytest.mark.parametrize(
    ("pressure", "middle", "nearly_all"),
    [(61e3, 0.7, 2.2), (80e3, 0.3, 1.05), (90e3, 0.15, 0.55), (104e3, 0.04, 0.13)],
)
def test_trouton_is_near_the_curves_of_the_table(
    pressure: float, middle: float, nearly_all: float
) -> None:
    expectation = Expectation.of(load_candidates())
    normal = expectation.normal_boiling_point
    inside = (normal > 293.0) & (normal < 373.0)
    by_rule = [boiling.boiling_temperature_by_trouton(pressure, point) for point in normal[inside]]
    off = np.abs(by_rule - expectation.boiling_point(pressure)[inside])
    assert np.median(off) < middle
    assert np.quantile(off, 0.95) < nearly_all


@pytest.mark.parametrize("name", ["methanol", "ethanol", "isopropanol", "2-butanol"])
@pytest.mark.parametrize(("pressure", "limit"), [(61e3, 4.5), (80e3, 2.1), (104e3, 0.25)])
def test_trouton_for_the_common_alcohols(name: str, pressure: float, limit: float) -> None:
    expectation = Expectation.of(load_candidates())
    (row,) = load_candidates().find(name)
    by_rule = boiling.boiling_temperature_by_trouton(
        pressure, expectation.normal_boiling_point[row]
    )
    assert by_rule == pytest.approx(expectation.boiling_point(pressure)[row], abs=limit)


@given(st.floats(250.0, 420.0), st.floats(1e4, 2e5), st.floats(1e4, 2e5))
def test_trouton_and_its_inverse(boiling_point: float, known_at: float, pressure: float) -> None:
    boils = boiling.boiling_temperature_by_trouton(pressure, boiling_point, known_at)
    again = boiling.vapor_pressure_by_trouton(boils, boiling_point, known_at)
    assert again == pytest.approx(pressure, rel=1e-9)
    assert (boils > boiling_point) is (pressure > known_at) or pressure == pytest.approx(known_at)


# --------------------------------------------------------------------- water, barometer, and air


@pytest.mark.parametrize(
    ("grams", "celsius", "air", "milliliters"),
    [
        (287.0, 21.0, 1.2, 287.878),
        (287.0, 21.0, 0.0, 287.576),  # in a vacuum: mass over density
        # ISO 4787 and its like tabulate 1.0028 to 1.0029 mL/g at 20 C and 101.3 kPa; from memory.
        (100.0, 20.0, 1.2, 100.286),
        (0.0, 20.0, 1.2, 0.0),
    ],
)
def test_water_filled_volume(grams: float, celsius: float, air: float, milliliters: float) -> None:
    volume = water.water_filled_volume(1e-3 * grams, celsius + 273.15, air)
    assert 1e6 * volume == pytest.approx(milliliters, abs=2e-3)


@pytest.mark.parametrize(
    ("celsius", "expected"),
    # Outside of what is liquid, the nearer end: 999.84 and 958.4 kg/m3.
    [(-39.0, 999.84), (0.0, 999.84), (4.0, 999.97), (100.0, 958.4), (294.0, 958.4)],
)
def test_water_density(celsius: float, expected: float) -> None:
    assert water.water_density(celsius + 273.15) == pytest.approx(expected, abs=0.1)


def test_water_that_boils_at_no_known_pressure() -> None:
    assert math.isnan(water.boiling_temperature(NAN))


@pytest.mark.parametrize("celsius", [60.0, 80.0, 95.0, 100.0])
def test_water_boils_where_its_vapor_pressure_says(celsius: float) -> None:
    pressure = float(water_saturation_pressure(celsius + 273.15))
    assert water.boiling_temperature(pressure) == pytest.approx(celsius + 273.15, abs=1e-6)


@pytest.mark.parametrize(
    ("mmhg", "celsius", "correction"),
    [
        # Temperature corrections of a mercury barometer with a brass scale, from the tables that
        # chemical handbooks print; from memory.
        (760.0, 0.0, 0.0),
        (760.0, 10.0, -1.24),
        (760.0, 20.0, -2.47),
        (760.0, 30.0, -3.71),
        (700.0, 20.0, -2.28),
        (620.0, 25.0, -2.52),
    ],
)
def test_mercury_column_is_too_long_when_warm(
    mmhg: float, celsius: float, correction: float
) -> None:
    shown = mercury_barometer_pressure(mmhg, celsius + 273.15)
    assert shown - mmhg == pytest.approx(correction, abs=0.02)


@pytest.mark.parametrize(
    ("latitude", "height", "higher"),
    [(0.0, 0.0, False), (90.0, 0.0, True), (45.0, 2000.0, False), (-60.0, 0.0, True)],
)
def test_gravity_counts_only_where_the_latitude_is_known(
    latitude: float, height: float, higher: bool
) -> None:
    plain = mercury_barometer_pressure(1e5, 295.0)
    assert mercury_barometer_pressure(1e5, 295.0, None, height) == plain
    local = mercury_barometer_pressure(1e5, 295.0, latitude, height)
    assert (local > plain) is higher
    assert local / plain == pytest.approx(local_gravity(latitude, height) / 9.80665)


def test_air_is_lighter_where_it_is_moist_warm_or_thin() -> None:
    base = moist_air_density(293.15, 1e5, 0.5)
    for changed in ((293.15, 1e5, 0.9), (303.15, 1e5, 0.5), (293.15, 9e4, 0.5)):
        assert moist_air_density(*changed) < base


def test_air_takes_arrays() -> None:
    temperatures = np.array([[288.15], [NAN]])
    density = moist_air_density(temperatures, np.array([9e4, 1e5, 1.02e5]), 0.4)
    assert density.shape == (2, 3)
    assert np.isfinite(density[0]).all()
    assert np.isnan(density[1]).all()
    assert water_saturation_pressure(temperatures).shape == (2, 1)
