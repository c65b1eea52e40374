#!/usr/bin/env python3
"""Vapor-density weighings from reference equations of state, and what is made of them.

One weighing: vapor fills a flask at the temperature of the bath and the pressure of the
laboratory; closed by nothing but a pinhole it cools to the room, where liquid and saturated vapor
share the flask with the air that has come back; the balance shows what it gained. All densities
and vapor pressures are those of CoolProp's equations of state, moist air included. Nothing here
is taken from ``identify.physics``, which is what these weighings test.

Left out on both sides: air that dissolves in the drop of liquid, and the few tenths of a percent
by which air raises a vapor pressure.

Usage: python scripts/weighings.py [--without-reference-equations]

prints how well the molar mass comes back, liquid by liquid, the ideal-gas shortcut beside it.

References
----------
Bell, I. H.; Wronski, J.; Quoilin, S.; Lemort, V. Pure and Pseudo-pure Fluid Thermophysical
Property Evaluation and the Open-Source Thermophysical Property Library CoolProp. Ind. Eng. Chem.
Res. 2014, 53, 2498-2508. The equation of each fluid is cited there and in the library.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

try:
    from CoolProp.CoolProp import FluidsList, HAPropsSI, PropsSI, get_fluid_param_string
except ImportError:
    raise SystemExit("this needs CoolProp: scripts/test installs it") from None

from identify.compounds.loading import load_candidates
from identify.compounds.table import CandidateTable
from identify.matching.expected.expectation import Expectation
from identify.physics.vapor import Weighing, ideal_molar_mass

ZERO_CELSIUS = 273.15
ATMOSPHERE = 101325.0

# 3.3e-6 / K: linear expansion of borosilicate glass 3.3, ISO 3585.
GLASS_EXPANSION = 3 * 3.3e-6
WEIGHTS = 8000.0  # kg/m3, conventional density of balance weights, OIML D 28

LOWEST_BOILING, HIGHEST_BOILING = 20.0, 98.0  # degrees Celsius at 101325 Pa
PRESSURES = (61000.0, 70000.0, 80000.0, 90000.0, ATMOSPHERE, 104000.0)  # Pa
ROOMS = (15.0, 20.0, 25.0, 30.0)  # degrees Celsius
BATH_BELOW_WATER = 0.5  # K: a water bath that simmers
BOILS_ABOVE_ROOM = 5.0  # K


@dataclass(frozen=True)
class Fluid:
    """A liquid that CoolProp has an equation of state for."""

    name: str
    cas: str

    @cached_property
    def molar_mass(self) -> float:
        """In g/mol."""
        return 1e3 * float(PropsSI("M", self.name))

    def boiling_point(self, pressure: float = ATMOSPHERE) -> float:
        """Return the boiling temperature at a pressure [Pa], in K."""
        return float(PropsSI("T", "P", pressure, "Q", 0, self.name))


@dataclass(frozen=True)
class Laboratory:
    """Pressure [Pa], room temperature [K] and relative humidity [0 to 1] during a weighing."""

    pressure: float
    room: float
    humidity: float = 0.5

    @cached_property
    def air_density(self) -> float:
        """Density of the moist air, [kg/m3]."""
        state = ("T", self.room, "P", self.pressure, "R", self.humidity)
        return 1.0 / float(HAPropsSI("Vha", *state))

    @property
    def water_bath(self) -> float:
        """Temperature of a simmering water bath, [K]."""
        return float(PropsSI("T", "P", self.pressure, "Q", 0, "Water")) - BATH_BELOW_WATER


@dataclass(frozen=True)
class Flask:
    """Brim volume [m3] and the temperature at which it holds [K]."""

    volume: float = 280e-6
    temperature: float = 293.15

    def volume_at(self, temperature: float) -> float:
        """Return the volume at a temperature [K], in m3."""
        return self.volume * (1.0 + GLASS_EXPANSION * (temperature - self.temperature))


def vapor_mass(fluid: Fluid, bath: float, laboratory: Laboratory, flask: Flask) -> float:
    """Return the mass of the vapor that fills the flask in the bath.

    Parameters
    ----------
    fluid : Fluid
    bath : float
        In K.
    laboratory : Laboratory
    flask : Flask

    Returns
    -------
    float [kg]

    Raises
    ------
    ValueError
        If the liquid does not boil in that bath.
    """
    if bath <= fluid.boiling_point(laboratory.pressure):
        raise ValueError(
            f"{fluid.name} does not boil at {bath:.1f} K, {laboratory.pressure:.0f} Pa"
        )
    density = float(PropsSI("D", "T", bath, "P", laboratory.pressure, fluid.name))
    return density * flask.volume_at(bath)


def balance_gain(fluid: Fluid, mass: float, laboratory: Laboratory, flask: Flask) -> float:
    """Return what the balance shows for a mass of the substance in the cooled flask.

    Parameters
    ----------
    fluid : Fluid
    mass : float
        Of the substance in the flask, liquid and vapor [kg].
    laboratory : Laboratory
    flask : Flask

    Returns
    -------
    float [kg]
        Second reading minus the first, that of the flask full of air.
    """
    room, volume, air = laboratory.room, flask.volume_at(laboratory.room), laboratory.air_density
    vapor_density = float(PropsSI("D", "T", room, "Q", 1, fluid.name))
    if mass <= vapor_density * volume:  # nothing condenses
        pressure = float(PropsSI("P", "T", room, "D", mass / volume, fluid.name))
        liquid_volume = 0.0
    else:
        pressure = float(PropsSI("P", "T", room, "Q", 1, fluid.name))
        liquid_density = float(PropsSI("D", "T", room, "Q", 0, fluid.name))
        # mass = vapor_density * (volume - liquid_volume) + liquid_density * liquid_volume
        liquid_volume = (mass - vapor_density * volume) / (liquid_density - vapor_density)
    if pressure > laboratory.pressure:
        raise ValueError(f"{fluid.name} boils in a room of {room:.1f} K")
    air_inside = air * (volume - liquid_volume) * (1.0 - pressure / laboratory.pressure)
    return (mass + air_inside - air * volume) / (1.0 - air / WEIGHTS)


@lru_cache(maxsize=1)
def reference_fluids() -> tuple[Fluid, ...]:
    """Return the fluids of CoolProp that boil in the range that a water bath serves."""
    fluids = []
    for name in sorted(FluidsList()):
        fluid = Fluid(name, get_fluid_param_string(name, "CAS"))
        try:
            boiling = fluid.boiling_point() - ZERO_CELSIUS
        except ValueError:  # its equation does not reach down to the standard atmosphere
            continue
        if LOWEST_BOILING <= boiling <= HIGHEST_BOILING:
            fluids.append(fluid)
    return tuple(fluids)


def why_absent(fluid: Fluid, table: CandidateTable) -> str:
    """Return why a fluid cannot be recovered, or empty text where it is in the table."""
    if get_fluid_param_string(fluid.name, "pure") != "true":
        return "a mixture, no compound"
    if not table.find(fluid.cas):
        return f"no row {fluid.cas} in the table"
    return ""


@dataclass(frozen=True)
class Generated:
    """One generated weighing: all that was read is exact."""

    fluid: Fluid
    laboratory: Laboratory
    flask: Flask
    bath: float
    gain: float

    @property
    def ideal(self) -> float:
        """The shortcut's molar mass, [g/mol]."""
        read = (self.gain, self.bath, self.laboratory.pressure, self.flask.volume)
        return 1e3 * float(ideal_molar_mass(*read))

    def recovered(self, expectation: Expectation, row: int) -> float:
        """Return the molar mass with the corrections of a candidate, in g/mol."""
        laboratory, flask = self.laboratory, self.flask
        read = (self.gain, self.bath, laboratory.room, laboratory.pressure, flask.volume)
        weighing = Weighing(
            *(np.array([value]) for value in (*read, flask.temperature, laboratory.humidity))
        )
        return float(expectation.implied_molar_mass(weighing)[0, row])


def weighings_of(fluid: Fluid) -> Iterator[Generated]:
    """Yield weighings wherever the liquid boils well above the room and below the bath."""
    flask = Flask()
    for pressure in PRESSURES:
        boiling = fluid.boiling_point(pressure)
        for celsius in ROOMS:
            laboratory = Laboratory(pressure, celsius + ZERO_CELSIUS)
            bath = laboratory.water_bath
            if laboratory.room + BOILS_ABOVE_ROOM <= boiling < bath:
                mass = vapor_mass(fluid, bath, laboratory, flask)
                gain = balance_gain(fluid, mass, laboratory, flask)
                yield Generated(fluid, laboratory, flask, bath, gain)


@dataclass(frozen=True)
class Recovery:
    """How far the molar masses of one fluid's weighings are off, in percent of the true one."""

    fluid: Fluid
    corrected: np.ndarray
    ideal: np.ndarray


def recoveries(table: CandidateTable) -> list[Recovery]:
    """Return the errors of the molar mass for every reference fluid that the table holds."""
    expectation = Expectation.of(table)
    found = []
    for fluid in reference_fluids():
        weighings = tuple(weighings_of(fluid))
        if why_absent(fluid, table) or not weighings:
            continue
        row = table.find(fluid.cas)[0]
        corrected = np.array([weighing.recovered(expectation, row) for weighing in weighings])
        ideal = np.array([weighing.ideal for weighing in weighings])
        true = fluid.molar_mass
        found.append(Recovery(fluid, 100 * (corrected / true - 1), 100 * (ideal / true - 1)))
    return found


def report(found: Sequence[Recovery], table: CandidateTable) -> str:
    """Return the errors as a table, one line a fluid, and what was left out."""
    lines = [
        "error of the molar mass, percent       with corrections      ideal-gas shortcut",
        "fluid                 weighings       median      worst       median      worst",
    ]

    def line(name: str, corrected: np.ndarray, ideal: np.ndarray) -> str:
        def worst(errors: np.ndarray) -> float:
            return float(errors[np.argmax(np.abs(errors))])

        return (
            f"{name:<22}{len(corrected):>9}{np.median(np.abs(corrected)):>13.3f}"
            f"{worst(corrected):>+11.3f}{np.median(np.abs(ideal)):>13.2f}{worst(ideal):>+11.2f}"
        )

    lines += [line(one.fluid.name, one.corrected, one.ideal) for one in found]
    corrected = np.concatenate([one.corrected for one in found])
    ideal = np.concatenate([one.ideal for one in found])
    lines += [line(f"all {len(found)}", corrected, ideal)]
    for fluid in reference_fluids():
        if reason := why_absent(fluid, table):
            lines.append(f"left out: {fluid.name}, {reason}")
    return "\n".join(lines)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="Recover molar masses from true weighings.")
    parser.add_argument(
        "--without-reference-equations",
        action="store_true",
        help="leave out every constant that was fitted to such an equation (takes a minute)",
    )
    table = load_candidates()
    if parser.parse_args().without_reference_equations:
        from build_candidates import rows_without_reference_equations

        table = rows_without_reference_equations([fluid.cas for fluid in reference_fluids()])
    print(report(recoveries(table), table))


if __name__ == "__main__":
    main()
