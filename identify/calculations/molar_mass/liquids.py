"""The liquids whose constants the corrections need: by name, by constants, or the plausible."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from identify.candidates.table import CandidateTable, load_candidates
from identify.matching.bench import Bench, Stated
from identify.matching.expectation import Expectation
from identify.measurement import Measurement, Reading
from identify.physics.boiling import boiling_temperature_by_trouton, vapor_pressure
from identify.physics.constants import STANDARD_PRESSURE
from identify.physics.vapor import Liquid
from identify.quantities import QuantityError

Array = NDArray[np.float64]

# Relative standard uncertainties of the constants, beside reference equations of state for 25
# liquids (root mean square, ``scripts/coverage.py --constants``): second virial coefficient 0.07,
# published vapor-pressure curves 0.005, corresponding states with published critical constants
# 0.01. With critical constants from structure: common practice.
_VIRIAL_U = 0.07
_PUBLISHED_CURVE_U = 0.005
_CORRESPONDING_STATES_U = 0.01
_FROM_STRUCTURE_U = 0.05
# Constants that someone typed without their uncertainty.
_GIVEN_PRESSURE_U = 0.01

# A boiling point on a card, half of its usual tolerance.
_BOILING_POINT_READ = 1.0  # K
_USUAL_ROOM = 295.15  # K

_LEAST_PROBABILITY = 1e-3
_CHANCE = 10.6  # entropy of vaporization over R, Trouton's rule


@dataclass(frozen=True)
class Constants:
    """A liquid's constants, instead of its name; what is missing is not corrected for.

    Parameters
    ----------
    vapor_pressure : quantity, optional
        At the temperature of the room, plain numbers in mmHg.
    second_virial : quantity, optional
        Of the vapor at the temperature of the bath, plain numbers in cm3/mol; below zero.
    density : quantity, optional
        Of the liquid, plain numbers in g/mL.

    Raises
    ------
    QuantityError
        If a constant cannot be read.
    """

    vapor_pressure: Reading = Reading("pressure", "mmHg")
    second_virial: Reading = Reading("molar volume", "cm3/mol")
    density: Reading = Reading("density", "g/mL")


@dataclass(frozen=True)
class Liquids:
    """n liquids with the probability of each.

    Parameters
    ----------
    names : tuple of str
    liquid : Liquid
        Their constants.
    weight : array, shape (n,)
        Adds up to one.
    virial_u, vapor_pressure_u : array, shape (n,)
        Relative standard uncertainties.
    plausible : array of bool, shape (n,)
        Whether all readings agree with it.
    assumed : str or None
        The name it was told to assume; None where the liquid is not known.
    """

    names: tuple[str, ...]
    liquid: Liquid
    weight: Array
    virial_u: Array
    vapor_pressure_u: Array
    plausible: NDArray[np.bool_]
    assumed: str | None

    @property
    def likeliest(self) -> int:
        """Place of the most probable."""
        return int(np.argmax(self.weight))

    def without_nonideality(self) -> Liquid:
        """Return the liquids with vapors that are ideal gases."""
        return replace(self.liquid, virial=np.zeros_like(self.liquid.virial))


def named(identity: str, table: CandidateTable) -> Liquids:
    """Return the one compound of a table that a name, CAS number or SMILES means.

    Raises
    ------
    QuantityError
        If it means none, or several.
    """
    rows = table.find(identity)
    if len(rows) != 1:
        known = "is not in the table" if not rows else f"may be {len(rows)} compounds"
        raise QuantityError(identity, known, "give a name, a CAS number or a SMILES", "as")
    return _of_rows(table, np.array(rows), np.ones(1), np.ones(1, bool), None)


def plausible(run: Measurement, table: CandidateTable | None) -> Liquids:
    """Return the compounds that a run's readings leave, with their probabilities.

    Where the run has a boiling point, one that the table knows less well gives way to it.
    """
    from identify.matching.ranking import match

    table = table or load_candidates()
    leading = match(run, table).candidates
    kept = [one for one in leading if one.probability >= _LEAST_PROBABILITY] or leading[:1]
    weight = np.array([one.probability for one in kept])
    rows = np.array([one.index for one in kept])
    agrees = np.array([one.plausible for one in kept])
    return _of_rows(table, rows, weight / weight.sum(), agrees, run)


def with_constants(constants: Constants, room: float) -> Liquids:
    """Return a liquid of which only these constants are known.

    Parameters
    ----------
    constants : Constants
    room : float
        Temperature at which the vapor pressure holds [K].
    """
    pressure, virial, density = constants.vapor_pressure, constants.second_virial, constants.density
    # A curve through the one point known, by Trouton's rule; where none is, there is no vapor.
    known = 1e-3 if pressure is None else pressure.to("Pa").value
    boiling = boiling_temperature_by_trouton(STANDARD_PRESSURE, room, known, _CHANCE)
    coefficient = 0.0 if virial is None else virial.to("m3/mol").value
    return Liquids(
        names=("the liquid with these constants",),
        liquid=Liquid(
            boiling_point=np.array([boiling]),
            vapor_curve=np.array([[_CHANCE, 0.0, 0.0]]),
            virial=np.array([[coefficient, 0.0, 0.0, 0.0]]),
            density=np.array([np.inf if density is None else density.to("kg/m3").value]),
        ),
        weight=np.ones(1),
        virial_u=np.array([_relative(virial, _VIRIAL_U)]),
        vapor_pressure_u=np.array([_relative(pressure, _GIVEN_PRESSURE_U)]),
        plausible=np.ones(1, bool),
        assumed="a liquid with the constants given",
    )


def vapor_pressure_slope(liquid: Liquid, room: Array | float) -> Array:
    """Return ``d ln p / dT`` at the temperature of the room [1/K]."""
    width = 0.5  # K: small beside the curve's bend
    warmer, colder = (
        vapor_pressure(room + step, liquid.boiling_point, liquid.vapor_curve)
        for step in (width, -width)
    )
    return np.asarray(np.log(warmer / colder) / (2.0 * width))


def _of_rows(
    table: CandidateTable,
    rows: NDArray[np.int64],
    weight: Array,
    agrees: NDArray[np.bool_],
    run: Measurement | None,
) -> Liquids:
    """Take liquids from the table; without a run, the liquid is one that is known."""
    expectation = Expectation.of(table)
    everything = expectation.liquid
    boiling, uncertainty = everything.boiling_point[rows], expectation.boiling_point_u[rows]
    if run is not None and run.boiling_point is not None:
        bench = Bench.of(run)
        expected = expectation.boiling_point(bench.boiling_pressure)[rows]
        boiling, uncertainty = _informed(boiling, uncertainty, expected, bench.boiling_point)
    liquid = Liquid(
        boiling_point=boiling,
        vapor_curve=everything.vapor_curve[rows],
        virial=everything.virial[rows],
        density=everything.density[rows],
    )
    by_curve = np.array([_curve_uncertainty(table, int(row)) for row in rows])
    # The curve starts at the boiling point: what that is off by, the curve is.
    by_boiling_point = uncertainty * vapor_pressure_slope(liquid, _USUAL_ROOM)
    names = tuple(table.text("name")[row] for row in rows)
    return Liquids(
        names=names,
        liquid=liquid,
        weight=weight,
        virial_u=np.full(len(rows), _VIRIAL_U),
        vapor_pressure_u=np.hypot(by_curve, by_boiling_point),
        plausible=agrees,
        assumed=names[0] if run is None else None,
    )


def _informed(
    boiling: Array, uncertainty: Array, expected: Array, read: Stated | None
) -> tuple[Array, Array]:
    """Return boiling points and their uncertainties [K], the table's and the reading together."""
    if read is None:
        return boiling, uncertainty
    own = uncertainty**2
    error = (_BOILING_POINT_READ if read.uncertainty is None else read.uncertainty) ** 2
    share = own / (own + error)
    return boiling + share * (read.value - expected), np.sqrt(share * error)


def _curve_uncertainty(table: CandidateTable, row: int) -> float:
    if "corresponding states" not in table.text("vapor_curve_source")[row]:
        return _PUBLISHED_CURVE_U
    if "structure" in table.text("critical_source")[row]:
        return _FROM_STRUCTURE_U
    return _CORRESPONDING_STATES_U


def _relative(quantity: object, usual: float) -> float:
    value, uncertainty = getattr(quantity, "value", 0.0), getattr(quantity, "uncertainty", None)
    return usual if uncertainty is None or not value else abs(uncertainty / value)
