"""Readings that no bench shows: one finding for each mistake, and no other check built on them."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan, nextafter

import pytest

from identify import Conditions, Flask, Measurement, Trial, check
from identify.notebook.plausible import PLAUSIBLE
from identify.notebook.quantity.quantities import as_quantity

# Ethanol: nothing is wrong with it.
CONDITIONS = Conditions(pressure="742.0 mmHg", room="22.5 C", humidity="45 %")
TRIAL = Trial(empty="98.1132 g", condensed="98.5097 g", bath="98.9 C")
CLEAN = Measurement(
    "C-14",
    percent={"C": 52.1, "H": 13.1, "O": 34.7},
    boiling_point="78.3 C",
    conditions=CONDITIONS,
    flask=Flask(volume="287.4 mL"),
    trials=[TRIAL],
)


def with_pressure(written: str) -> Measurement:
    return replace(CLEAN, conditions=replace(CONDITIONS, pressure=written))


def with_room(written: str) -> Measurement:
    return replace(CLEAN, conditions=replace(CONDITIONS, room=written))


def with_humidity(written: str) -> Measurement:
    return replace(CLEAN, conditions=replace(CONDITIONS, humidity=written))


def with_bath(written: str) -> Measurement:
    return replace(CLEAN, trials=[replace(TRIAL, bath=written)])


def with_boiling_point(written: str) -> Measurement:
    return replace(CLEAN, boiling_point=written)


def with_boiling_pressure(written: str) -> Measurement:
    return replace(CLEAN, boiling_point_at=written)


def with_volume(written: str) -> Measurement:
    return replace(CLEAN, flask=Flask(volume=written))


def with_measured_out(written: str) -> Measurement:
    return replace(CLEAN, flask=Flask(water_volume=written))


def with_water_mass(written: str) -> Measurement:
    return replace(CLEAN, flask=Flask(water_mass=written))


def with_water(written: str) -> Measurement:
    return replace(CLEAN, flask=Flask(volume="287.4 mL", water_temperature=written))


def with_masses(written: str) -> Measurement:
    empty, condensed = (f"{number} {written.split()[2]}" for number in written.split()[:2])
    return replace(CLEAN, trials=[replace(TRIAL, empty=empty, condensed=condensed)])


def with_molar_mass(written: str) -> Measurement:
    return Measurement("C-14", molar_mass=written)


# How the reading is written, what it was meant to be, and both in the unit of the numbers.
WRONG_UNITS = [
    (with_pressure, "29.92 mmHg", "29.92 inHg (1013 hPa)", "hPa", 39.890, 1013.21),
    (with_pressure, "98.9 mmHg", "98.9 kPa (989 hPa)", "hPa", 131.856, 989.0),
    (with_pressure, "989 mmHg", "989 hPa?", "hPa", 1318.56, 989.0),
    (with_pressure, "14.35 mmHg", "14.35 psi (989.4 hPa)", "hPa", 19.132, 989.4),
    (with_pressure, "0.976 mmHg", "0.976 atm (988.9 hPa)", "hPa", 1.3012, 988.93),
    (with_pressure, "742 kPa", "742 mmHg (989.3 hPa)", "hPa", 7420.0, 989.25),
    (with_pressure, "742 inHg", "742 mmHg (989.3 hPa)", "hPa", 25127.0, 989.25),
    (with_pressure, "989 Pa", "989 hPa?", "hPa", 9.89, 989.0),
    (with_pressure, "98.9 hPa", "98.9 kPa (989 hPa)", "hPa", 98.9, 989.0),
    (with_pressure, "98925 hPa", "98925 Pa (989.2 hPa)", "hPa", 98925.0, 989.25),
    (with_pressure, "29.2 kPa", "29.2 inHg (988.8 hPa)", "hPa", 292.0, 988.8),
    (with_pressure, "1.003 kPa", "1.003 atm (1016 hPa)", "hPa", 10.03, 1016.3),
    (with_boiling_pressure, "1013 mmHg", "1013 hPa?", "hPa", 1350.6, 1013.0),
    (with_boiling_pressure, "760 kPa", "760 mmHg (1013 hPa)", "hPa", 7600.0, 1013.25),
    (with_room, "72.5 C", "72.5 °F (22.5 °C)", "C", 72.5, 22.5),
    (with_room, "295.7 C", "295.7 K (22.55 °C)", "C", 295.7, 22.55),
    (with_room, "22.5 F", "22.5 °C?", "C", -5.278, 22.5),
    (with_room, "22.5 K", "22.5 °C?", "C", -250.65, 22.5),
    (with_room, "295.7 F", "295.7 K (22.55 °C)", "C", 146.5, 22.55),
    (with_bath, "210 C", "210 °F (98.89 °C)", "C", 210.0, 98.889),
    (with_bath, "372.1 C", "372.1 K (98.95 °C)", "C", 372.1, 98.95),
    (with_bath, "98.9 K", "98.9 °C?", "C", -174.25, 98.9),
    (with_bath, "210 K", "210 °F (98.89 °C)", "C", -63.15, 98.889),
    (with_boiling_point, "351.5 C", "351.5 K (78.35 °C)", "C", 351.5, 78.35),
    (with_boiling_point, "78.3 K", "78.3 °C?", "C", -194.85, 78.3),
    (with_boiling_point, "38 F", "38 °C?", "C", 3.33333, 38.0),
    (with_water, "73 C", "73 °F (22.78 °C)", "C", 73.0, 22.778),
    (with_water, "296 C", "296 K (22.85 °C)", "C", 296.0, 22.85),
    (with_water, "23 K", "23 °C?", "C", -250.15, 23.0),
    (with_volume, "287.4 L", "287.4 mL?", "mL", 287400.0, 287.4),
    (with_volume, "0.2874 mL", "0.2874 L (287.4 mL)", "mL", 0.2874, 287.4),
    (with_volume, "287.4 uL", "287.4 mL?", "mL", 0.2874, 287.4),
    (with_measured_out, "0.2874 mL", "0.2874 L (287.4 mL)", "mL", 0.2874, 287.4),
    (with_water_mass, "0.2866 g", "0.2866 kg (286.6 g)", "g", 0.2866, 286.6),
    (with_water_mass, "28.66 kg", "28.66 g?", "g", 28660.0, 28.66),
    (with_water_mass, "286.6 mg", "286.6 g?", "g", 0.2866, 286.6),
    (with_masses, "98.1132 98.5097 kg", "98.1132 g?", "g", 98113.2, 98.1132),
    (with_masses, "98.1132 98.5097 mg", "98.1132 g?", "g", 0.0981132, 98.1132),
    (with_masses, "98113.2 98509.7 g", "98113.2 mg (98.11 g)", "g", 98113.2, 98.1132),
    (with_masses, "0.0981132 0.0985097 g", "0.0981132 kg (98.11 g)", "g", 0.0981132, 98.1132),
    (with_humidity, "0.45 %", "0.45 as a fraction (45 %)", "percent", 0.45, 45.0),
]

KINDS = {
    with_pressure: ("pressure", "pressure of the laboratory"),
    with_boiling_pressure: ("pressure", "pressure of the boiling point"),
    with_room: ("temperature", "temperature of the room"),
    with_bath: ("temperature", "temperature of the bath"),
    with_boiling_point: ("temperature", "boiling point"),
    with_water: ("temperature", "temperature of the water in the flask"),
    with_volume: ("volume", "volume of the flask"),
    with_measured_out: ("volume", "volume of the flask"),
    with_water_mass: ("mass", "mass of the water in the flask"),
    with_masses: ("mass", "mass of the flask"),
    with_humidity: ("humidity", "relative humidity"),
    with_molar_mass: ("molar-mass", "molar mass"),
}


@pytest.mark.parametrize(("change", "written", "meant", "unit", "read", "corrected"), WRONG_UNITS)
def test_a_number_in_another_unit_raises_one_finding(change, written, meant, unit, read, corrected):
    (finding,) = check(change(written))
    kind, reading = KINDS[change]
    assert (finding.code, finding.severity) == (f"{kind}-unit", "error")
    assert finding.advice.startswith(f"Did you mean {meant}")
    first = written.split()[0]
    assert finding.message.startswith(f"The {reading} is written as {first}")
    assert finding.numbers[f"read_{unit}"] == pytest.approx(read, rel=1e-4)
    assert finding.numbers[f"meant_{unit}"] == pytest.approx(corrected, rel=1e-4)


IMPLAUSIBLE = [
    (with_pressure, "200 mmHg", "hPa", 266.64),
    (with_pressure, "400 hPa", "hPa", 400.0),
    (with_pressure, "1100 hPa", "hPa", 1100.0),
    (with_pressure, "7.42 mmHg", "hPa", 9.8925),
    (with_room, "-20 C", "C", -20.0),
    (with_room, "2 C", "C", 2.0),
    (with_bath, "500 C", "C", 500.0),
    (with_bath, "9.8 C", "C", 9.8),
    (with_boiling_point, "-42 C", "C", -42.0),
    (with_boiling_point, "783 C", "C", 783.0),
    (with_water, "-5 C", "C", -5.0),
    (with_volume, "2.874 mL", "mL", 2.874),
    (with_volume, "2874 mL", "mL", 2874.0),
    (with_water_mass, "2.866 g", "g", 2.866),
    (with_masses, "0.0003 0.0004 g", "g", 0.0003),
    (with_humidity, "0.01 %", "percent", 0.01),
    (with_humidity, "450 %", "percent", 450.0),
    (with_molar_mass, "4.61 g/mol", "g_per_mol", 4.61),
    (with_molar_mass, "1200 g/mol", "g_per_mol", 1200.0),
]


@pytest.mark.parametrize(("change", "written", "unit", "read"), IMPLAUSIBLE)
def test_a_number_that_no_unit_saves_raises_one_finding(change, written, unit, read):
    found = check(change(written))
    # A condition that cannot be is not replaced: then the weighing is not used.
    (finding,) = [one for one in found if one.code != "weighings-unused"]
    kind, reading = KINDS[change]
    assert (finding.code, finding.severity) == (f"{kind}-implausible", "error")
    assert finding.message.startswith(f"The {reading} is written as {written.split()[0]}")
    assert set(finding.numbers) <= {f"read_{unit}", f"read_2_{unit}"}
    assert finding.numbers[f"read_{unit}"] == pytest.approx(read, rel=1e-4)
    assert "Look at the number in the notebook again" in finding.advice


@pytest.mark.parametrize(
    ("change", "plausible"),
    [
        (with_pressure, PLAUSIBLE["pressure"]),
        (with_boiling_pressure, PLAUSIBLE["boiling_point_at"]),
        (with_room, PLAUSIBLE["room"]),
        (with_bath, PLAUSIBLE["bath"]),
        (with_boiling_point, PLAUSIBLE["boiling_point"]),
        (with_water, PLAUSIBLE["water_temperature"]),
        (with_volume, PLAUSIBLE["volume"]),
        (with_measured_out, PLAUSIBLE["volume"]),
        (with_water_mass, PLAUSIBLE["water_mass"]),
        (with_humidity, PLAUSIBLE["humidity"]),
        (with_molar_mass, PLAUSIBLE["molar_mass"]),
    ],
)
def test_the_ends_of_a_range_are_plausible(change, plausible):
    unit = plausible.units[0]
    codes = (f"{plausible.kind}-unit", f"{plausible.kind}-implausible")
    for end, beyond in ((plausible.lowest, 0.99), (plausible.highest, 1.01)):
        inside = check(change(f"{end} {unit}"))
        assert [finding for finding in inside if finding.code in codes] == []
        outside = check(change(f"{end * beyond} {unit}"))
        assert [finding.code for finding in outside if finding.code in codes]


@pytest.mark.parametrize("lightest", [PLAUSIBLE["empty"].lowest, PLAUSIBLE["empty"].highest])
def test_the_ends_of_the_masses_are_plausible(lightest):
    step = 0.3 if lightest == PLAUSIBLE["empty"].lowest else -0.3
    empty, condensed = sorted((lightest, lightest + step))
    run = replace(CLEAN, percent={}, trials=[Trial(f"{empty:.4f} g", f"{condensed:.4f} g")])
    assert check(run) == []


# ----------------------------------------------------------------- one mistake, several readings


@pytest.mark.parametrize(
    ("trials", "code", "begins", "numbers"),
    [
        (
            [replace(TRIAL, bath="98.9 K"), replace(TRIAL, bath="98.7 K")],
            "temperature-unit",
            "Trials 1 and 2: the temperature of the bath is written as 98.9 K and 98.7 K",
            {"read_C": -174.25, "read_2_C": -174.45, "meant_C": 98.9, "meant_2_C": 98.7},
        ),
        (
            [TRIAL, replace(TRIAL, bath="371.9 C"), TRIAL],
            "temperature-unit",
            "Trial 2: the temperature of the bath is written as 371.9 °C;",
            {"read_C": 371.9, "meant_C": 98.75},
        ),
        (
            [Trial("98.1132 kg", "98.5097 kg", "98.9 C"), TRIAL],
            "mass-unit",
            "Trial 1: the mass of the flask is written as 98.1132 kg and 98.5097 kg",
            {"read_g": 98113.2, "read_2_g": 98509.7, "meant_g": 98.1132, "meant_2_g": 98.5097},
        ),
        (
            [replace(TRIAL, bath="-98.9 C"), replace(TRIAL, bath="-98.9 C"), TRIAL],
            "temperature-implausible",
            "Trials 1 and 2: the temperature of the bath is written as -98.9 °C;",
            {"read_C": -98.9},
        ),
    ],
)
def test_trials_share_one_finding_that_names_them(trials, code, begins, numbers):
    (finding,) = check(replace(CLEAN, trials=trials))
    assert finding.code == code
    assert finding.message.startswith(begins)
    assert finding.numbers == pytest.approx(numbers)


def test_a_reading_of_the_whole_run_names_no_trial():
    run = replace(with_pressure("29.92 mmHg"), trials=[TRIAL, TRIAL, TRIAL])
    (finding,) = check(run)
    assert finding.message.startswith("The pressure of the laboratory is written as 29.92 mmHg,")


def test_two_mistakes_are_two_findings():
    run = replace(with_pressure("29.92 mmHg"), boiling_point="351.5 C")
    assert sorted(finding.code for finding in check(run)) == ["pressure-unit", "temperature-unit"]


def test_a_pressure_copied_twice_is_one_reading_of_each():
    run = replace(with_pressure("98.9 mmHg"), boiling_point_at="98.9 mmHg")
    # A boiling point may well have been read under 98.9 mmHg.
    codes = [finding.code for finding in check(replace(run, boiling_point=None))]
    assert codes == ["pressure-unit"]


@pytest.mark.parametrize("unit", ["mmHg", "kPa", "hPa", "inHg", "atm", "psi", "Pa", "bar"])
def test_a_pressure_in_its_own_unit_raises_nothing(unit):
    pressure = as_quantity("742.0 mmHg", "pressure", "mmHg").to(unit)
    conditions = replace(CONDITIONS, pressure=pressure)
    assert check(replace(CLEAN, conditions=conditions, boiling_point_at=pressure)) == []


@pytest.mark.parametrize("unit", ["C", "F", "K"])
def test_a_temperature_in_its_own_unit_raises_nothing(unit):
    def same(text: str):
        return as_quantity(text, "temperature", "C").to(unit)

    run = replace(
        CLEAN,
        boiling_point=same("78.3 C"),
        conditions=replace(CONDITIONS, room=same("22.5 C")),
        flask=Flask(volume="287.4 mL", water_temperature=same("23 C")),
        trials=[replace(TRIAL, bath=same("98.9 C"))],
    )
    assert check(run) == []


@pytest.mark.parametrize(
    ("masses", "volume"),
    [(("98113.2 mg", "98509.7 mg"), "0.2874 L"), (("0.0981132 kg", "0.0985097 kg"), "287.4 cm3")],
)
def test_masses_and_volumes_in_their_own_units_raise_nothing(masses, volume):
    trial = replace(TRIAL, empty=masses[0], condensed=masses[1])
    assert check(replace(CLEAN, trials=[trial], flask=Flask(volume=volume))) == []


@pytest.mark.parametrize("field", PLAUSIBLE)
def test_the_ends_of_a_range_are_within_it_in_si_units(field: str) -> None:
    plausible = PLAUSIBLE[field]
    lowest, highest = plausible.limits
    assert lowest < highest
    assert plausible.holds_si(lowest)
    assert plausible.holds_si(highest)
    assert not plausible.holds_si(nextafter(lowest, -inf))
    assert not plausible.holds_si(nextafter(highest, inf))
    assert not plausible.holds_si(nan)
