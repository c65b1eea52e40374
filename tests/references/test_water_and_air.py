"""Water, moist air, glass, gravity, virial coefficients and boiling points, from outside.

``pytest -s`` prints how far second virial coefficients are from those of a handbook.
"""

from __future__ import annotations

import numpy as np
import pytest
from chemicals.volume import rho_data_CRC_virial
from CoolProp.CoolProp import HAPropsSI, PropsSI
from iapws import IAPWS95, IAPWS97
from weighings import ZERO_CELSIUS, Fluid, reference_fluids, why_absent

from identify import load_candidates
from identify.matching.expected.expectation import Expectation
from identify.physics.air import moist_air_density, water_saturation_pressure
from identify.physics.barometer import local_gravity, mercury_barometer_pressure
from identify.physics.vapor import Weighing, second_virial
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
        # A printed table of air densities (appendix of Gupta, S. V. Mass Metrology, Springer), as
        # the same test suite quotes it.
        (10.0, 730.0, 40.0, 1.19569),
        (40.0, 760.0, 40.0, 1.11497),
    ],
)
def test_moist_air_is_as_dense_as_printed(celsius, mmhg, percent, expected):
    shown = moist_air_density(celsius + ZERO_CELSIUS, mmhg * MMHG, percent / 100.0)
    assert shown == pytest.approx(expected, rel=2e-4)


def short_formula(celsius: float, hectopascal: float, percent: float) -> float:
    """Return the density of moist air after EURAMET's calibration guide 18, appendix A, [kg/m3].

    Its relative standard uncertainty is 2.4e-4; both as the R library masscor has them.
    """
    moisture = 0.009024 * percent * np.exp(0.0612 * celsius)
    return float((0.34848 * hectopascal - moisture) / (ZERO_CELSIUS + celsius))


@pytest.mark.parametrize("celsius", [15.0, 20.0, 25.0, 27.0])
@pytest.mark.parametrize("hectopascal", [600.0, 800.0, 1013.25, 1100.0])
@pytest.mark.parametrize("percent", [20.0, 50.0, 80.0])
def test_moist_air_is_as_dense_as_the_short_formula_says(celsius, hectopascal, percent):
    shown = moist_air_density(celsius + ZERO_CELSIUS, 100.0 * hectopascal, percent / 100.0)
    assert shown == pytest.approx(short_formula(celsius, hectopascal, percent), rel=2.4e-4)


@pytest.mark.parametrize(
    ("step", "printed"),
    [
        # Picard et al. 2008, the table of uncertainties: what one pascal, one kelvin and all of the
        # relative humidity change the density by, relatively, to one digit; from memory.
        ((10.0, 0.0, 0.0), 1e-5 * 10.0),
        ((0.0, 0.1, 0.0), -4e-3 * 0.1),
        ((0.0, 0.0, 0.01), -9e-3 * 0.01),
    ],
)
def test_moist_air_answers_to_each_reading_as_printed(step, printed):
    pascal, kelvin, humidity = step
    above, below = (
        float(
            moist_air_density(
                293.15 + sign * kelvin, 101325.0 + sign * pascal, 0.5 + sign * humidity
            )
        )
        for sign in (0.5, -0.5)
    )
    digit = 10.0 ** np.floor(np.log10(abs(printed)))
    assert np.log(above / below) == pytest.approx(printed, abs=0.5 * digit)


# -------------------------------------------------------------------------------------- the flask


@pytest.mark.parametrize(
    ("celsius", "larger"),
    [
        # Borosilicate glass 3.3 after ISO 3585: 3.3e-6 per kelvin of length, mean from 20 to 300 C,
        # as makers of such glass print it; by volume three times that.
        (100.0, 7.92e-4),
        (25.0, 4.95e-5),
        (15.0, -4.95e-5),
    ],
)
def test_a_flask_grows_as_its_glass_does(celsius, larger):
    volume, at = np.array([280e-6]), np.array([293.15])
    flask = Weighing(volume, at, at, at, volume, at, at)
    grown = flask.volume_at(np.array([celsius + ZERO_CELSIUS]))[0] / 280e-6 - 1.0
    assert grown == pytest.approx(larger, rel=1e-6)
    # A cube of the glass is larger by the three sides, to within the squares of so small a number.
    side = 1.0 + 3.3e-6 * (celsius - 20.0)
    assert grown == pytest.approx(side**3 - 1.0, abs=3e-7)


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


# ------------------------------------------------- second virial coefficients from a handbook

# CRC Handbook of Chemistry and Physics, "Virial coefficients of selected gases" (Kehiaian, H. V.):
# B = sum of a_i (298.15 K / T - 1)^(i-1), fitted to measurements, most of them in Dymond, J. H.;
# Smith, E. B. The Virial Coefficients of Pure Gases and Mixtures, 1980. The library ``chemicals``
# has the coefficients; the package does not use them.


def handbook_virial(cas: str, kelvin: float) -> float:
    """Return the second virial coefficient of the handbook [cm3/mol]."""
    coefficients = rho_data_CRC_virial.loc[cas, ["a1", "a2", "a3", "a4", "a5"]]
    return float(np.polynomial.Polynomial(coefficients.astype(float))(298.15 / kelvin - 1.0))


@pytest.mark.parametrize(
    ("cas", "kelvin", "printed"),
    [
        # The ends of their ranges, as the handbook's own page prints them.
        ("67-64-1", 300.0, -1996.0),
        ("67-64-1", 480.0, -375.0),
        ("75-05-8", 330.0, -3468.0),
        ("75-05-8", 410.0, -1425.0),
        ("75-07-0", 290.0, -1352.0),
        ("75-07-0", 470.0, -283.0),
    ],
)
def test_the_handbook_is_read_rightly(cas, kelvin, printed):
    assert handbook_virial(cas, kelvin) == pytest.approx(printed, abs=2.0)


HANDBOOK = {
    row: cas
    for cas in rho_data_CRC_virial.index
    for row in TABLE.find(cas)
    if 20.0 <= TABLE.frame["boiling_point_C"][row] <= 98.0
}
HANDBOOK_NAMES = {row: TABLE.text("name")[row] for row in HANDBOOK}
# Their molecules hold together in the vapor as no corresponding-states equation knows: the table's
# vapors of methanol and ethanol are nearer to ideal gases, and their molar masses come out higher,
# by 1.1 % and 0.5 % beside the handbook, by 0.4 % and 0.3 % beside the equations of state.
ASSOCIATED = {"methanol": 350.0, "ethanol": 160.0}
# A tertiary amine, on the other side by 12 %.
FARTHEST = ASSOCIATED | {"triethylamine": 145.0}


def off_the_handbook(row: int) -> tuple[float, float]:
    """Return the handbook's and the table's coefficient in a bath of 99 C [cm3/mol]."""
    kelvin = 99.0 + ZERO_CELSIUS
    return handbook_virial(HANDBOOK[row], kelvin), 1e6 * float(
        second_virial(kelvin, TABLE.virial[row])
    )


@pytest.mark.parametrize("row", HANDBOOK, ids=HANDBOOK_NAMES.get)
def test_second_virial_coefficients_are_near_those_of_the_handbook(row):
    printed, shown = off_the_handbook(row)
    # 100 cm3/mol are a third of a percent of the molar mass.
    assert shown == pytest.approx(printed, abs=FARTHEST.get(HANDBOOK_NAMES[row], 100.0))


def test_second_virial_coefficients_are_as_uncertain_as_the_budget_says():
    alike = [row for row in HANDBOOK if HANDBOOK_NAMES[row] not in ASSOCIATED]
    both = {row: off_the_handbook(row) for row in HANDBOOK}
    off = np.array([both[row][1] / both[row][0] - 1.0 for row in alike])
    spread = float(np.sqrt(np.mean(off**2)))
    print(f"\n{len(off)} liquids without methanol and ethanol: {100 * spread:.1f} % (rms)")
    for row, (printed, shown) in both.items():
        print(f"{HANDBOOK_NAMES[row]:<40}{printed:>8.0f}{shown:>8.0f} cm3/mol")
    assert len(off) >= 30
    assert spread < 0.07
