"""The molar mass from weighings: corrections, constants, findings, the liquid unknown."""

from __future__ import annotations

from dataclasses import replace
from math import cos, pi, sqrt
from statistics import mean

import numpy as np
import pytest
from ordinary_run import CONDITIONS, EMPTY, codes, line, run_of, worked

from identify import Conditions, Flask, Measurement, Trial, load_candidates
from identify.calculations.molar_mass import Constants, MolarMassResult, molar_mass
from identify.matching.expected.expectation import Expectation
from identify.notebook.quantity.quantities import QuantityError
from identify.physics.boiling import vapor_pressure
from identify.physics.vapor import second_virial

ROOM, BATH, PRESSURE, VOLUME = 295.65, 372.05, 98925.2, 287.4e-6  # K, K, Pa, m3
GAIN = 0.2589e-3  # kg
GAS_CONSTANT = 8.314462618
GLASS = 9.9e-6  # 1/K, three times the linear expansion of borosilicate glass 3.3


def change(found: MolarMassResult, words: str) -> float:
    (correction,) = (one for one in found.corrections if words in one.name)
    return correction.change


# ---------------------------------------------------------------- corrections

MERCURY = replace(CONDITIONS, mercury_barometer=True)
BY_CONSTANTS = Constants(
    vapor_pressure="111.0 mmHg", second_virial="-480 cm3/mol", density="0.79 g/mL"
)
VAPOR, VIRIAL, DENSITY = 111.0 * 133.322387, -480e-6, 790.0
# Pa, at 22.5 degrees Celsius: steam tables have 2645 and 2811 at 22 and 23; from memory.
SATURATED_WATER = sqrt(2645.0 * 2811.0)


def shortcut(pressure: float = PRESSURE) -> float:
    return 1e3 * GAIN * GAS_CONSTANT * BATH / (pressure * VOLUME)


def by_hand() -> dict[str, float]:
    """Return each correction's size, the textbook's formula for each [g/mol]."""
    hot = VOLUME * (1.0 + GLASS * (BATH - ROOM))
    to_molar_mass = 1e3 * GAS_CONSTANT * BATH / (PRESSURE * hot)
    air = 28.96546e-3 * PRESSURE / (GAS_CONSTANT * ROOM)  # dry, ideal
    shut_out = air * VOLUME * VAPOR / PRESSURE
    vapor = GAIN + shut_out
    # Of the vapor that filled the flask, this part is a drop of liquid now.
    condensed = 1.0 - VAPOR * BATH / (PRESSURE * ROOM)
    drop = vapor * condensed / DENSITY
    # Moist air is lighter by 0.378 of the water's share.
    wet = 0.378 * 0.5 * SATURATED_WATER / PRESSURE
    ideal = (vapor + air * drop * (1.0 - VAPOR / PRESSURE)) * to_molar_mass
    return {
        "expansion of the glass": (hot / VOLUME - 1.0) * -shortcut(),
        "buoyancy of the weights": -air / 8000.0 * shortcut(),
        "air shut out": shut_out * to_molar_mass,
        "air displaced by the liquid": air * drop * (1.0 - VAPOR / PRESSURE) * to_molar_mass,
        "moisture": -wet * shut_out * to_molar_mass,
        "not an ideal gas": VIRIAL * PRESSURE / (GAS_CONSTANT * BATH) * ideal,
    }


@pytest.mark.parametrize("name", by_hand())
def test_each_correction_is_that_of_a_hand_calculation(name):
    found = molar_mass(run_of(), constants=BY_CONSTANTS, draws=0)
    assert change(found, name) == pytest.approx(by_hand()[name], rel=0.02)


def test_the_hand_calculation_ends_where_the_program_does():
    found = molar_mass(run_of(), constants=BY_CONSTANTS, draws=0)
    assert found.ideal_gas == pytest.approx(shortcut(), rel=1e-6)
    assert found.value == pytest.approx(shortcut() + sum(by_hand().values()), rel=3e-4)


def at_sea(latitude: float) -> float:
    """Return gravity at sea level by the formula of 1980 (GRS 80; from memory) [m/s2]."""
    squared = (1.0 - cos(2.0 * pi * latitude / 180.0)) / 2.0
    return 9.780327 * (1.0 + 0.0053024 * squared)


@pytest.mark.parametrize(
    ("latitude", "height", "gravity"),
    [
        (None, None, 9.80665),
        ("45 deg", None, at_sea(45.0)),
        ("0 deg", None, 9.7803),
        ("-90 deg", None, 9.8322),
        ("45 deg", "1600 m", at_sea(45.0) - 3.086e-6 * 1600.0),
    ],
)
def test_a_mercury_barometer_has_two_lines(latitude, height, gravity):
    conditions = replace(MERCURY, latitude=latitude, height=height)
    found = worked(run_of(conditions=conditions))
    # Mercury at 22.5 degrees Celsius is 0.409 % lighter, the brass scale 0.041 % longer.
    at_zero = PRESSURE * (1.0 + 1.84e-5 * 22.5) / (1.0 + 1.818e-4 * 22.5)
    by_temperature = shortcut(at_zero) - shortcut()
    assert change(found, "mercury") == pytest.approx(by_temperature, rel=1e-3)
    by_gravity = shortcut(at_zero * gravity / 9.80665) - shortcut(at_zero)
    assert change(found, "gravity") == pytest.approx(by_gravity, abs=3e-3)


def test_other_barometers_are_not_corrected():
    found = worked(run_of(conditions=replace(CONDITIONS, latitude="45 deg", height="1600 m")))
    assert change(found, "mercury") == change(found, "gravity") == 0.0


RUNS = {
    "one trial": run_of(),
    "three trials": run_of("98.3721 g", "98.3764 g", "98.3698 g"),
    "mercury": run_of(conditions=replace(MERCURY, latitude="45 deg", height="300 m")),
    "weighed water": run_of(flask=Flask(water_mass="285.9 g", water_temperature="21 C")),
    "humid": run_of(conditions=replace(CONDITIONS, humidity="85 %")),
}


@pytest.mark.parametrize("identity", ["methanol", "acetone", "diethyl ether", None])
@pytest.mark.parametrize("run", RUNS.values(), ids=RUNS)
def test_sums_add_up(run, identity):
    found = worked(run, identity)
    changes = sum(one.change for one in found.corrections)
    assert changes == pytest.approx(found.value - found.ideal_gas, abs=1e-9)
    assert sum(one.share for one in found.budget.lines) == pytest.approx(1.0)
    variance = sum(one.contribution**2 for one in found.budget.lines)
    assert variance == pytest.approx(found.standard_uncertainty**2)
    assert sum(trial.weight for trial in found.trials) == pytest.approx(1.0)
    pooled = sum(trial.weight * trial.value for trial in found.trials)
    assert pooled == pytest.approx(found.value)
    for one in found.budget.lines:
        assert one.share == pytest.approx((one.contribution / found.standard_uncertainty) ** 2)
        assert 0.0 <= one.share <= 1.0


# ------------------------------------------------------------------ constants


def constants_of(name: str, room: float, bath: float) -> dict[str, str]:
    """Return a compound's constants as someone would look them up and type them."""
    table = load_candidates()
    (row,) = table.find(name)
    liquid = Expectation.of(table).liquid
    pressure = vapor_pressure(room, liquid.boiling_point[row], liquid.vapor_curve[row])
    virial = second_virial(bath, liquid.virial[row])
    return {
        "vapor_pressure": f"{float(pressure):.3f} Pa",
        "second_virial": f"{1e6 * float(virial):.2f} cm3/mol",
        "density": f"{liquid.density[row]:.2f} kg/m3",
    }


@pytest.mark.parametrize("name", ["methanol", "acetone", "ethanol", "cyclohexane", "1-propanol"])
def test_constants_stand_in_for_the_name(name):
    given_constants = Constants(**constants_of(name, ROOM, BATH))
    by_name, by_constants = worked(run_of(), name), molar_mass(run_of(), constants=given_constants)
    assert by_constants.value == pytest.approx(by_name.value, abs=2e-3)
    for one, other in zip(by_name.corrections, by_constants.corrections, strict=True):
        assert one.change == pytest.approx(other.change, abs=2e-3)
    assert "correction-left-out" not in codes(by_constants)


@pytest.mark.parametrize(
    ("missing", "correction", "severity"),
    [
        ("vapor_pressure", "air shut out", "warning"),
        ("second_virial", "not an ideal gas", "note"),
        ("density", "air displaced by the liquid", "note"),
    ],
)
def test_a_missing_constant_leaves_its_correction_out(missing, correction, severity):
    known = constants_of("methanol", ROOM, BATH)
    del known[missing]
    found = molar_mass(run_of(), constants=Constants(**known))
    assert change(found, correction) == pytest.approx(0.0, abs=1e-6)
    (finding,) = (one for one in found.findings if one.code == "correction-left-out")
    assert finding.severity == severity
    assert missing.replace("_", " ").removeprefix("second ") in finding.message
    assert all(np.isfinite(one.contribution) for one in found.budget.lines)
    assert found.simulation is not None
    assert found.simulation.agrees(found.value, found.instruments_uncertainty)


@pytest.mark.parametrize(
    ("constants", "code"),
    [
        ({"second_virial": "480 cm3/mol"}, "constant-unusual"),
        ({"second_virial": "-48000 cm3/mol"}, "constant-unusual"),
        ({"density": "0.79 kg/m3"}, "constant-unusual"),
        ({"density": "0.79 kg/m3"}, "molar-mass-impossible"),
        ({"density": "20 g/mL"}, "constant-unusual"),
        ({"vapor_pressure": "800 mmHg"}, "boils-in-room"),
    ],
)
def test_constants_that_no_liquid_has(constants, code):
    known = constants_of("methanol", ROOM, BATH)
    assert code in codes(molar_mass(run_of(), constants=Constants(**(known | constants)), draws=0))
    assert code not in codes(molar_mass(run_of(), constants=Constants(**known), draws=0))


def test_a_stated_uncertainty_of_a_constant_counts():
    found = molar_mass(run_of(), constants=Constants(vapor_pressure="111.0 ± 11.1 mmHg"), draws=0)
    assert line(found, "vapor pressure").standard_uncertainty == pytest.approx(10.0)
    shut_out = change(found, "air shut out")
    assert line(found, "vapor pressure").contribution == pytest.approx(0.1 * shut_out, rel=0.01)


def test_a_coefficient_of_zero_has_no_relative_uncertainty():
    with pytest.raises(QuantityError, match="zero"):
        molar_mass(run_of(), constants=Constants(second_virial="0 ± 100 cm3/mol"))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: molar_mass(run_of(), "methanol", BY_CONSTANTS), "not both"),
        (lambda: molar_mass(Measurement("C-14", molar_mass=32.0), "methanol"), "no trial"),
        (lambda: molar_mass(run_of(), "unobtainium"), "unobtainium"),
        (
            lambda: molar_mass(replace(run_of(), unread=("pressure",), conditions=Conditions())),
            "pr",
        ),
        (lambda: molar_mass(replace(run_of(), conditions=Conditions(room=800.0))), "room"),
        (lambda: molar_mass(replace(run_of(), flask=Flask())), "volume"),
        (lambda: molar_mass(replace(run_of(), trials=[Trial(empty=EMPTY, bath=98.9)])), "mass"),
        (lambda: molar_mass(run_of(bath="98.9 ± 200 C")), "third"),
        (lambda: molar_mass(run_of(flask=Flask(volume="287.4 ± 100 mL"))), "third"),
        (lambda: molar_mass(run_of(conditions=replace(CONDITIONS, pressure="742(742)"))), "third"),
    ],
)
def test_what_cannot_be_worked_out(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_a_molar_mass_worked_out_before_does_not_stand_in():
    known = replace(run_of(), molar_mass="46.1 g/mol")
    assert worked(known).value == worked(run_of()).value


# ------------------------------------------------------------------- findings

SOUND = ("98.3613 g", "98.3627 g", "98.3601 g", "98.3620 g")  # of methanol


@pytest.mark.parametrize(
    ("run", "identity", "code", "severity"),
    [
        (run_of(*SOUND[:3], "98.3990 g"), "methanol", "trial-outlier", "warning"),
        (run_of(*SOUND[:3], "98.3450 g"), "methanol", "trial-outlier", "warning"),
        (
            run_of("98.372 g", "98.372 g", "98.373 g", empty="98.113 g"),
            "methanol",
            "outlier-within-readings",
            "note",
        ),
        (run_of(), "methanol", "single-trial", "note"),
        (run_of(), None, "liquid-not-named", "warning"),
        (run_of(), "methanol", "liquid-contradicted", "warning"),
        (run_of("98.0132 g"), None, "nothing-plausible", "warning"),
        (run_of("98.0132 g"), "methanol", "mass-lost", "error"),
        (run_of(bath="60 C"), "methanol", "bath-below-boiling-point", "error"),
        (run_of(bath="67 C"), "methanol", "bath-near-boiling-point", "warning"),
        (run_of(), "glycerol", "bath-below-boiling-point", "error"),
        (run_of(), "propane", "boils-in-room", "warning"),
        (run_of(), "methane", "boils-in-room", "warning"),
        (run_of("98.372(200) g"), "methanol", "budget-not-linear", "warning"),
        (run_of("98.372 ± 5 g"), "methanol", "budget-not-linear", "warning"),
        (run_of(bath="65.5 ± 2 C"), "methanol", "budget-not-linear", "warning"),
    ],
)
def test_finding(run, identity, code, severity):
    found = worked(run, identity, draws=20_000)
    assert [(one.code, one.severity) for one in found.findings if one.code == code] == [
        (code, severity)
    ]


@pytest.mark.parametrize("masses", [SOUND, SOUND[:3], SOUND[:2]])
def test_sound_trials_raise_nothing(masses):
    assert codes(worked(run_of(*masses), draws=20_000)) == set()


def test_the_outlier_is_named_and_kept():
    found = worked(run_of(*SOUND, "98.4100 g"))
    (finding,) = (one for one in found.findings if one.code == "trial-outlier")
    without = mean(trial.value for trial in found.trials[:4])
    assert "Trial 5" in finding.message
    assert finding.numbers["mean_without_it"] == pytest.approx(without)
    assert found.value > without
    assert {test.test for test in found.agreement.tests if test.outlier} == {"Grubbs", "Dixon"}


def test_the_boiling_point_on_the_card_is_checked_once():
    found = worked(replace(run_of(bath="60 C"), boiling_point="64.6 C"))
    assert [one.code for one in found.findings].count("bath-below-boiling-point") == 1


# --------------------------------------------------------- the liquid unknown


def test_an_unknown_liquid_is_the_mean_over_what_it_may_be():
    found = worked(run_of(), None)
    weights = np.array([one.probability for one in found.candidates])
    values = np.array([one.value for one in found.candidates])
    assert found.assumed_identity is None
    assert weights.sum() == pytest.approx(1.0)
    assert found.value == pytest.approx(weights @ values)
    assert found.spread == pytest.approx((values.min(), values.max()))
    spread = sqrt(weights @ (values - found.value) ** 2)
    assert line(found, "choice of the liquid").contribution == pytest.approx(spread)


@pytest.mark.parametrize("bath", ["98.9 C", "70 C"])
def test_no_liquid_is_thought_of_that_does_not_boil_in_the_bath(bath):
    found = worked(run_of(bath=bath), None, draws=20_000)
    assert found.simulation is not None
    assert found.simulation.unfilled < 0.2
    table = load_candidates()
    boiling = table.number("boiling_point_C")
    rows = [table.find(one.name) for one in found.candidates]
    assert all(boiling[row[0]] < float(bath.split()[0]) + 2.0 for row in rows if len(row) == 1)


def test_a_card_settles_the_liquid():
    card = replace(run_of(), boiling_point="64.6 C", percent={"C": 37.48, "H": 12.58, "O": 49.93})
    found, known = worked(card, None), worked(run_of())
    assert found.candidates[0].name == "methanol"
    assert found.value == pytest.approx(known.value, abs=0.1)
    assert found.standard_uncertainty == pytest.approx(known.standard_uncertainty, rel=0.1)
