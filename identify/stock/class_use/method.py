"""Whether the method works for a liquid.

It must boil off in the bath and condense in the room, and its vapor must be single molecules.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from identify.bench.bath_margin import BathMargin
from identify.bench.laboratory import Laboratory, pressure_text
from identify.compounds.table import CandidateTable
from identify.notebook.findings import Finding
from identify.notebook.usual import BATH_MARGIN, HUMIDITY, THERMOMETER
from identify.observables.tolerances import Tolerances
from identify.physics.air import moist_air_density
from identify.physics.boiling import boiling_temperature, vapor_pressure
from identify.physics.constants import GAS_CONSTANT, ICE_POINT
from identify.physics.dimers import particles_at_pressure
from identify.physics.vapor import Liquid, compressibility, cooled_vapor
from identify.stock.class_use.shelf import Shelf

# An error that is left out of account takes at most a tenth of the tolerance: the ten-to-one rule
# of measuring practice, common practice. Of the usual 5 % that is 0.5 % of the molar mass: with the
# thermometer 0.5 K off, acetone errs by 0.33 %, methanol and dichloromethane by 0.40 %, pentane by
# 0.51 %, diethyl ether by 0.54 % (22 °C, 101325 Pa, bath 99 °C).
_MAX_PART_OF_TOLERANCE = 0.1
# Vapor drifts out of the pinhole while the flask is dried and weighed; from here on there is more
# of that than of liquid. It keeps methanol in a warm room (28 °C: 0.51 %, a quarter uncondensed)
# from being warned of.
_MAX_UNCONDENSED = 0.5
# Dimers that make the vapor denser by less than the usual tolerance are not a reason to leave one
# out: of acids whose molecules hold the hydrogen of the acid group themselves.
_MAX_DIMERIZED = 0.01 * Tolerances.molar_mass


@dataclass(frozen=True)
class _LiquidInMethod:
    """One liquid in this laboratory.

    Parameters
    ----------
    name : str
    boils, boils_u : float
        At the laboratory's pressure, and the standard uncertainty [K].
    melts : float
        In K; NaN where not known.
    uncondensed : float
        Share of the vapor in the flask that stays vapor in the room, 1 where nothing condenses.
    room_effect : float
        What 0.5 K in the temperature of the room changes the molar mass by [percent].
    molar_mass : float
        In g/mol.
    particles : float
        That a molecule makes in the vapor where it boils off, 1 where there are no dimers.
    particles_u : float
        Relative standard uncertainty of that [percent].
    laboratory : Laboratory
    largest_effect : float
        That the class can bear [percent].
    """

    name: str
    boils: float
    boils_u: float
    melts: float
    uncondensed: float
    room_effect: float
    molar_mass: float
    particles: float
    particles_u: float
    laboratory: Laboratory
    largest_effect: float

    @property
    def margin(self) -> float:
        """Of the bath over the boiling point [K]."""
        return self.laboratory.bath - self.boils

    @property
    def boils_C(self) -> float:
        """Where it boils at the laboratory's pressure [degrees Celsius]."""
        return self.boils - ICE_POINT

    @property
    def bath_C(self) -> float:
        """Temperature of the bath [degrees Celsius]."""
        return self.laboratory.bath - ICE_POINT

    @property
    def room_C(self) -> float:
        """Temperature of the room [degrees Celsius]."""
        return self.laboratory.room - ICE_POINT

    @property
    def boils_text(self) -> str:
        """Name and boiling point as they stand in a sentence."""
        pressure = pressure_text(self.laboratory.pressure)
        return f"{self.name} boils at {self.boils_C:.1f} °C at {pressure}"

    @property
    def boiling_numbers(self) -> dict[str, float]:
        """The numbers of a finding on where it boils."""
        return {
            "boiling_point_at_pressure_C": self.boils_C,
            "pressure_hPa": 0.01 * self.laboratory.pressure,
        }

    def findings(self) -> tuple[Finding, ...]:
        """Return what speaks against it in this laboratory."""
        return tuple(finding for check in _METHOD_CHECKS for finding in check(self))


def suitabilities(
    shelf: Shelf, laboratory: Laboratory, tolerances: Tolerances
) -> tuple[_LiquidInMethod, ...]:
    """Work out how well the method works for each liquid of a shelf.

    Returns
    -------
    tuple of _LiquidInMethod, in the order of ``shelf.table``
    """
    table = shelf.table
    if table is None:
        return ()
    boiling = table.number("boiling_point_C") + ICE_POINT
    boils = boiling_temperature(laboratory.pressure, boiling, table.vapor_curve)
    uncondensed, room_effect = _in_the_cooled_flask(table, laboratory)
    particles, particles_u = _in_the_bath(table, np.maximum(boils, laboratory.bath), laboratory)
    return tuple(
        _LiquidInMethod(
            name,
            float(boils[place]),
            float(table.number("boiling_point_u")[place]),
            float(table.number("melting_point_C")[place]) + ICE_POINT,
            float(uncondensed[place]),
            float(room_effect[place]),
            float(table.number("molar_mass")[place]),
            float(particles[place]),
            float(particles_u[place]),
            laboratory,
            _MAX_PART_OF_TOLERANCE * tolerances.molar_mass,
        )
        for place, name in enumerate(table.text("name"))
    )


def _in_the_bath(
    table: CandidateTable, temperature: np.ndarray, laboratory: Laboratory
) -> tuple[np.ndarray, np.ndarray]:
    """Return how many particles a molecule makes, and how uncertain that is [percent]."""
    error = np.nan_to_num(table.number("dimer_u"))[:, np.newaxis] * (1.0, 0.0)
    fewer, particles, more = (
        particles_at_pressure(temperature, laboratory.pressure, table.dimers + off)
        for off in (error, 0.0, -error)
    )
    return particles, 50.0 * np.log(more / fewer)


def _in_the_cooled_flask(
    table: CandidateTable, laboratory: Laboratory
) -> tuple[np.ndarray, np.ndarray]:
    """Return the share that stays vapor, and what 0.5 K of the room changes M by [percent].

    ``M = M(shown) + rho_air (Z R T / P) p / P``: a wrong room puts a wrong vapor pressure p into
    the correction for the air that the vapor shuts out.
    """
    pressure, room, bath = laboratory.pressure, laboratory.room, laboratory.bath
    boiling = table.number("boiling_point_C") + ICE_POINT
    curve = table.vapor_curve
    # The density is that of the drop, which has no part in this.
    liquid = Liquid(boiling, curve, table.virial, np.ones(len(table)), table.dimers)
    molar_volume = compressibility(bath, pressure, liquid) * GAS_CONSTANT * bath / pressure
    _, uncondensed = cooled_vapor(room, 1.0 / molar_volume, liquid)
    low, high = (
        vapor_pressure(room + step, boiling, curve) for step in (-THERMOMETER, THERMOMETER)
    )
    air = float(moist_air_density(room, pressure, HUMIDITY))
    change = air * molar_volume * 0.5 * (high - low) / pressure
    relative = 100.0 * change / (1e-3 * table.number("molar_mass"))
    return uncondensed, relative


def _not_boiled_off(liquid: _LiquidInMethod) -> Iterator[Finding]:
    severity = BathMargin(liquid.margin, liquid.boils_u).severity
    if severity is None:
        return
    margin = round(liquid.margin, 1)
    bath, needed = f"the bath of {liquid.bath_C:.1f} °C", liquid.boils_C + BATH_MARGIN
    numbers = {
        **liquid.boiling_numbers,
        "bath_C": liquid.bath_C,
        "margin_K": liquid.margin,
        "bath_needed_C": needed,
    }
    takes = f"it takes one of {needed:.0f} °C at least"
    if severity == "error":
        yield Finding(
            "not-boiled-off",
            severity,
            f"{liquid.boils_text}, {-margin:.1f} °C above {bath}: it does not drive the air out "
            "of the flask.",
            f"Leave it out, or use a hotter bath as the instructor and local rules allow: {takes}.",
            numbers,
        )
        return
    where = f"only {margin:.1f} °C below {bath}" if margin > 0.0 else f"no lower than {bath}"
    doubt = f" (known to ± {liquid.boils_u:.0f} °C)" if liquid.boils_u > 2.0 else ""
    yield Finding(
        "bath-margin",
        severity,
        f"{liquid.boils_text}{doubt}, {where}: liquid or air may be left in the flask.",
        f"Heat longer and look for the last liquid to go; for the usual margin of "
        f"{BATH_MARGIN:.0f} °C {takes}.",
        numbers,
    )


def _gas_in_the_room(liquid: _LiquidInMethod) -> Iterator[Finding]:
    if liquid.boils > liquid.laboratory.room:
        return
    yield Finding(
        "gas-in-the-room",
        "error",
        f"{liquid.boils_text}: in a room of {liquid.room_C:.0f} °C it is a gas.",
        "Leave it out: nothing of it condenses for the second weighing, and a closed bottle of it "
        "is under pressure.",
        {**liquid.boiling_numbers, "room_C": liquid.room_C},
    )


def _vapor_pressure_high(liquid: _LiquidInMethod) -> Iterator[Finding]:
    nothing_condenses = liquid.uncondensed >= 1.0
    is_lost = liquid.uncondensed > _MAX_UNCONDENSED and liquid.room_effect > liquid.largest_effect
    if liquid.boils <= liquid.laboratory.room or not (nothing_condenses or is_lost):
        return
    share, room = 100.0 * liquid.uncondensed, f"{liquid.room_C:.0f} °C"
    why = (
        f"Nothing of {liquid.name} condenses in a flask that cools to {room}"
        if nothing_condenses
        else f"{share:.0f} % of the vapor of {liquid.name} does not condense in a flask that "
        f"cools to {room}, and {THERMOMETER:g} °C in that temperature changes the molar mass by "
        f"{liquid.room_effect:.1f} %"
    )
    yield Finding(
        "vapor-pressure-high",
        "warning",
        f"{why}: what drifts out of the pinhole is missing at the second weighing.",
        "Take a liquid that boils higher. If it must be this one, read the room beside the balance "
        "to 0.2 °C, and weigh without delay.",
        {
            "uncondensed_percent": share,
            "molar_mass_change_percent": liquid.room_effect,
            "largest_change_percent": liquid.largest_effect,
            "room_C": liquid.room_C,
        },
    )


def _vapor_of_dimers(liquid: _LiquidInMethod) -> Iterator[Finding]:
    if liquid.particles >= 1.0 - _MAX_DIMERIZED:
        return
    where = max(liquid.boils_C, liquid.bath_C)
    apparent = liquid.molar_mass / liquid.particles
    yield Finding(
        "vapor-of-dimers",
        "warning",
        f"Two molecules of {liquid.name} hold together as vapor: at {where:.0f} °C it is as dense "
        f"as one of {apparent:.0f} g/mol, where the formula has {liquid.molar_mass:.1f}.",
        "Leave it out where a molar mass is to follow from the vapor's density. A match corrects "
        f"for the dimers, which are known to ± {liquid.particles_u:.1f} % of the molar mass.",
        {
            "temperature_C": where,
            "apparent_molar_mass": apparent,
            "molar_mass": liquid.molar_mass,
            "uncertainty_percent": liquid.particles_u,
        },
    )


def _solid_in_the_room(liquid: _LiquidInMethod) -> Iterator[Finding]:
    if not liquid.melts > liquid.laboratory.room:
        return
    melts_C = liquid.melts - ICE_POINT
    yield Finding(
        "solid-in-the-room",
        "error",
        f"{liquid.name} melts at {melts_C:.1f} °C: in a room of {liquid.room_C:.0f} °C it is a "
        "solid, not a liquid.",
        "Leave it out, or give it out only where the room is warmer than that.",
        {"melting_point_C": melts_C, "room_C": liquid.room_C},
    )


_METHOD_CHECKS: tuple[Callable[[_LiquidInMethod], Iterator[Finding]], ...] = (
    _not_boiled_off,
    _gas_in_the_room,
    _vapor_pressure_high,
    _vapor_of_dimers,
    _solid_in_the_room,
)


def boiling_point_unknown(name: str) -> Finding:
    """Return the finding on a bottle of which nothing says where it boils."""
    return Finding(
        "boiling-point-unknown",
        "warning",
        f"No boiling point of {name} is known here, and the row states none: whether the method "
        "works for it, and which bottles it may be taken for, was not checked.",
        "Look it up and state it in the column boiling_point_C.",
    )
