"""Water, moist air, gravity, second virial coefficients and boiling points, from outside."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from iapws import IAPWS95, IAPWS97
from weighings import ZERO_CELSIUS, Fluid, reference_fluids, why_absent

from identify import load_candidates
from identify.matching.expectation import Expectation
from identify.physics.air import moist_air_density, water_saturation_pressure
from identify.physics.barometer import local_gravity, mercury_barometer_pressure
from identify.physics.vapor import second_virial
from identify.physics.water import boiling_temperature, water_density

MMHG = 101325.0 / 760.0


# --------------------------------------------------------------- water, by the library ``iapws``


@pytest.mark.parametrize("celsius", [1.0, 4.0, 10.0, 15.0, 20.0, 25.0, 40.0, 60.0, 80.0, 99.0])
def test_water_density_is_that_of_iapws_95(celsius):
    temperature = celsius + ZERO_CELSIUS
    expected = IAPWS95(T=temperature, P=0.101325).rho
    assert water_density(temperature) == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize("celsius", [5.0, 15.0, 20.0, 25.0, 40.0, 60.0, 80.0, 95.0, 105.0])
def test_water_vapor_pressure_is_that_of_iapws_95(celsius):
    temperature = celsius + ZERO_CELSIUS
    expected = 1e6 * IAPWS95(T=temperature, x=0).P
    assert water_saturation_pressure(temperature) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("pressure", [50e3, 61e3, 70e3, 80e3, 92e3, 101325.0, 104e3, 110e3])
def test_water_boils_where_iapws_97_says(pressure):
    expected = IAPWS97(P=pressure / 1e6, x=0).T
    assert boiling_temperature(pressure) == pytest.approx(expected, abs=0.05)


# ----------------------------------------------------------------------------------- moist air


@pytest.mark.parametrize("celsius", [15.0, 20.0, 25.0, 30.0])
@pytest.mark.parametrize("pressure", [60e3, 80e3, 101325.0, 110e3])
@pytest.mark.parametrize("humidity", [0.0, 0.5, 1.0])
def test_moist_air_is_as_dense_as_coolprop_says(celsius, pressure, humidity):
    temperature = celsius + ZERO_CELSIUS
    expected = 1.0 / HAPropsSI("Vha", "T", temperature, "P", pressure, "R", humidity)
    assert moist_air_density(temperature, pressure, humidity) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(
    ("celsius", "mmhg", "percent", "expected"),
    [
        # NIST Standard Operating Procedure 2 for mass calibrations, appendix B, examples 1 and 3
        # (the equation of Jones, 1978), as the test suite of the R library masscor quotes them.
        (22.3, 748.1, 37.0, 1.17194),
        (23.4, 612.3, 23.0, 0.9563),
        # A printed table of air densities, as the same test suite quotes it.
        (10.0, 730.0, 40.0, 1.1957),
    ],
)
def test_moist_air_is_as_dense_as_printed(celsius, mmhg, percent, expected):
    shown = moist_air_density(celsius + ZERO_CELSIUS, mmhg * MMHG, percent / 100.0)
    assert shown == pytest.approx(expected, rel=2e-4)


# ----------------------------------------------------------------------- the mercury barometer


def normal_gravity(latitude: float) -> float:
    """Gravity on the ellipsoid of the Geodetic Reference System 1980, [m/s2].

    Moritz, H. Geodetic Reference System 1980. J. Geodesy 2000, 74, 128: Somigliana's formula.
    """
    sine = np.sin(np.radians(latitude)) ** 2
    share = (1.0 + 0.001931851353 * sine) / np.sqrt(1.0 - 0.00669438002290 * sine)
    return float(9.7803267715 * share)


@pytest.mark.parametrize("latitude", [0.0, 15.0, 30.0, 45.0, 60.0, 75.0, 90.0, -33.0])
def test_gravity_is_that_of_the_geodetic_reference_system(latitude):
    assert local_gravity(latitude, 0.0) == pytest.approx(normal_gravity(latitude), abs=3e-5)


def test_gravity_falls_with_height_as_over_a_plateau_or_in_free_air():
    # Free air 3.086e-6 per second squared; common practice.
    assert local_gravity(40.0, 0.0) - local_gravity(40.0, 1000.0) == pytest.approx(3.086e-3)


@pytest.mark.parametrize("celsius", [10.0, 15.0, 20.0, 25.0, 30.0])
@pytest.mark.parametrize("mmhg", [620.0, 700.0, 760.0, 780.0])
def test_a_mercury_column_weighs_what_its_density_says(celsius, mmhg):
    # Density of mercury relative to 0 C: 1 / (1 + 1.815868e-4 t + 4.5e-9 t^2), a rounded form of
    # the expansion that the International Critical Tables print; from memory. Brass: 18.9e-6 / K.
    mercury = 1.0 / (1.0 + 1.8144e-4 * celsius + 7.016e-9 * celsius**2)
    expected = mmhg * (1.0 + 18.9e-6 * celsius) * mercury
    shown = mercury_barometer_pressure(mmhg, celsius + ZERO_CELSIUS)
    assert shown == pytest.approx(expected, abs=0.03)


# ------------------------------------------------------------------------- the table's liquids

TABLE = load_candidates()
EXPECTATION = Expectation.of(TABLE)
FLUIDS = [fluid for fluid in reference_fluids() if not why_absent(fluid, TABLE)]


def row_of(fluid: Fluid) -> int:
    return TABLE.find(fluid.cas)[0]


@pytest.mark.parametrize("fluid", FLUIDS, ids=lambda fluid: fluid.name)
@pytest.mark.parametrize("pressure", [61e3, 80e3, 101325.0, 104e3])
def test_boiling_points_are_those_of_the_equations_of_state(fluid, pressure):
    shown = EXPECTATION.boiling_point(pressure)[row_of(fluid)]
    assert shown == pytest.approx(fluid.boiling_point(pressure), abs=0.7)


def test_boiling_points_are_close_in_the_middle():
    off = [
        abs(EXPECTATION.boiling_point(80e3)[row_of(fluid)] - fluid.boiling_point(80e3))
        for fluid in FLUIDS
    ]
    assert np.median(off) < 0.05


# A vapor in a bath at one atmosphere differs by B P / (R T) from an ideal gas: an error of 150
# cm3/mol is 0.5 % of the molar mass, and that much is what a corresponding-states equation without
# a term for polarity leaves (the polar ones stand in the list).
POLAR = {"Acetone", "Methanol", "Ethanol", "DimethylCarbonate", "Tetrahydrofuran", "Dichloroethane"}


@pytest.mark.parametrize("fluid", FLUIDS, ids=lambda fluid: fluid.name)
@pytest.mark.parametrize("celsius", [90.0, 99.0])
def test_second_virial_coefficients_are_those_of_the_equations_of_state(fluid, celsius):
    temperature = celsius + ZERO_CELSIUS
    # At vanishing density.
    expected = PropsSI("Bvirial", "T", temperature, "Dmolar", 1e-6, fluid.name)
    shown = float(second_virial(temperature, TABLE.virial[row_of(fluid)]))
    limit = 250e-6 if fluid.name in POLAR else 100e-6  # m3/mol
    assert shown == pytest.approx(expected, abs=limit)
