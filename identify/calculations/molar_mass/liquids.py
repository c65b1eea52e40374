"""The liquids whose constants the corrections need: by name, by constants, or the plausible."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite, log

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.bench.readings import SIReading
from identify.compounds.loading import load_candidates
from identify.compounds.search import row_meant
from identify.compounds.table import CandidateTable
from identify.matching.expectation import Expectation
from identify.notebook.fields import Reading
from identify.notebook.measurement import Measurement
from identify.notebook.quantities import Quantity, QuantityError
from identify.notebook.usual import BATH_READ_WITHIN, ROOM, tolerance_u
from identify.observables.tolerances import Tolerances
from identify.physics.arrays import Array
from identify.physics.boiling import TROUTON, vapor_pressure
from identify.physics.constants import STANDARD_PRESSURE
from identify.physics.vapor import Liquid

# Relative standard uncertainties of the constants, beside reference equations of state for 25
# liquids (root mean square, ``scripts/interval_coverage.py --constants``): second virial
# coefficient 0.08, published vapor-pressure curves 0.005, corresponding states with published
# critical constants 0.01. With critical constants from structure: common practice.
_VIRIAL_U = 0.08
# Small alcohols hold together as vapors, which corresponding states do not know: at 99 degrees
# Celsius 0.43 below the CRC Handbook's coefficient for methanol and 0.19 for ethanol, 0.15 and 0.09
# below their reference equations of state.
_VIRIAL_U_OF = {"67-56-1": 0.30, "64-17-5": 0.15}
_PUBLISHED_CURVE_U = 0.005
_CORRESPONDING_STATES_U = 0.01
_FROM_STRUCTURE_U = 0.05
# Constants that someone typed without their uncertainty.
_GIVEN_PRESSURE_U = 0.01

# Of a boiling point on a card.
_BOILING_POINT_READ = tolerance_u(Tolerances.boiling_point)  # K
_LEAST_PROBABILITY = 1e-3


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
class PossibleLiquids:
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
    molar_mass : array, shape (n,)
        Their own, by their formulas [g/mol]; NaN where only constants were given.
    assumed : str or None
        The name it was told to assume; None where the liquid is not known.
    boiling_known : bool
        Whether it is known where they boil: not where only constants were given.
    """

    names: tuple[str, ...]
    liquid: Liquid
    weight: Array
    virial_u: Array
    vapor_pressure_u: Array
    plausible: NDArray[np.bool_]
    molar_mass: Array
    assumed: str | None
    boiling_known: bool = True

    @property
    def likeliest(self) -> int:
        """Place of the most probable."""
        return int(np.argmax(self.weight))

    @property
    def own_molar_mass(self) -> float | None:
        """That of the one assumed, by its formula [g/mol]; None where none is, or not known."""
        if self.assumed is None or not isfinite(self.molar_mass[0]):
            return None
        return float(self.molar_mass[0])

    def without_nonideality(self) -> Liquid:
        """Return the liquids with vapors that are ideal gases."""
        return replace(self.liquid, virial=np.zeros_like(self.liquid.virial))


def named(identity: str, table: CandidateTable) -> PossibleLiquids:
    """Return the one compound of a table that a name, CAS number or SMILES means.

    Raises
    ------
    NameFault
        If it means none, or several.
    """
    rows = np.array([row_meant(table, identity)])
    return _of_rows(table, rows, np.ones(1), np.ones(1, bool), None)


def plausible(run: Measurement, table: CandidateTable | None) -> PossibleLiquids:
    """Return the compounds that the readings of a weighed run leave, with their probabilities.

    Where the run has a boiling point, one that the table knows less well gives way to it.
    """
    from identify.matching.ranking import match

    table = table or load_candidates()
    leading = match(run, table).candidates
    kept = [one for one in leading if one.probability >= _LEAST_PROBABILITY] or leading[:1]
    rows, weight, agrees = (
        np.array([getattr(one, name) for one in kept])
        for name in ("index", "probability", "plausible")
    )
    bench = Bench.of(run)
    assert bench.weighing is not None
    # What does not boil in the bath fills no flask, and the corrections are not meant for it.
    lowest, hottest = float(np.min(bench.weighing.pressure)), float(np.max(bench.weighing.bath))
    boils_at = Expectation.of(table).boiling_point(lowest)[rows]
    boils_off = boils_at < hottest + BATH_READ_WITHIN
    taken = boils_off if boils_off.any() else np.ones_like(boils_off)
    weight = weight[taken]
    return _of_rows(table, rows[taken], weight / weight.sum(), agrees[taken], bench)


def with_constants(constants: Constants, room: float) -> PossibleLiquids:
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
    boiling = room * (1.0 + log(STANDARD_PRESSURE / known) / TROUTON)
    coefficient = 0.0 if virial is None else virial.to("m3/mol").value
    return PossibleLiquids(
        names=("the liquid with these constants",),
        liquid=Liquid(
            boiling_point=np.array([boiling]),
            vapor_curve=np.array([[TROUTON, 0.0, 0.0]]),
            virial=np.array([[coefficient, 0.0, 0.0, 0.0]]),
            density=np.array([np.inf if density is None else density.to("kg/m3").value]),
        ),
        weight=np.ones(1),
        virial_u=np.array([_relative(virial, _VIRIAL_U)]),
        vapor_pressure_u=np.array(
            [0.0 if pressure is None else _relative(pressure, _GIVEN_PRESSURE_U)]
        ),
        plausible=np.ones(1, bool),
        molar_mass=np.full(1, np.nan),
        assumed="a liquid with the constants given",
        boiling_known=False,
    )


def vapor_pressure_slope(liquid: Liquid, room: Array | float) -> Array:
    """Return ``-d ln p / dTb``, what a higher boiling point takes from the vapor pressure [1/K]."""
    width = 0.5  # K: small beside the curve's bend
    lower, higher = (
        vapor_pressure(room, liquid.boiling_point + step, liquid.vapor_curve)
        for step in (-width, width)
    )
    return np.asarray(np.log(lower / higher) / (2.0 * width))


def _of_rows(
    table: CandidateTable,
    rows: NDArray[np.int64],
    weight: Array,
    agrees: NDArray[np.bool_],
    bench: Bench | None,
) -> PossibleLiquids:
    """Take liquids from the table; without a bench, the liquid is one that is known."""
    expectation = Expectation.of(table)
    liquid, uncertainty = expectation.liquid.take(rows), expectation.boiling_point_u[rows]
    if bench is not None and bench.boiling_point is not None:
        expected = expectation.boiling_point(bench.boiling_pressure)[rows]
        boiling, uncertainty = _informed(
            liquid.boiling_point, uncertainty, expected, bench.boiling_point
        )
        liquid = replace(liquid, boiling_point=boiling)
    by_curve = np.array([_curve_uncertainty(table, int(row)) for row in rows])
    # The curve starts at the boiling point: what that is off by, the curve is.
    by_boiling_point = uncertainty * vapor_pressure_slope(liquid, ROOM)
    names = tuple(table.text("name")[row] for row in rows)
    return PossibleLiquids(
        names=names,
        liquid=liquid,
        weight=weight,
        virial_u=np.array([_VIRIAL_U_OF.get(table.text("cas")[row], _VIRIAL_U) for row in rows]),
        vapor_pressure_u=np.hypot(by_curve, by_boiling_point),
        plausible=agrees,
        molar_mass=table.number("molar_mass")[rows],
        assumed=names[0] if bench is None else None,
    )


def _informed(
    boiling: Array, uncertainty: Array, expected: Array, read: SIReading
) -> tuple[Array, Array]:
    """Return boiling points and their uncertainties [K], the table's and the reading together."""
    own = uncertainty**2
    error = read.uncertainty_or(_BOILING_POINT_READ) ** 2
    share = own / (own + error)
    return boiling + share * (read.value - expected), np.sqrt(share * error)


def _curve_uncertainty(table: CandidateTable, row: int) -> float:
    if "corresponding states" not in table.text("vapor_curve_source")[row]:
        return _PUBLISHED_CURVE_U
    if "structure" in table.text("critical_source")[row]:
        return _FROM_STRUCTURE_U
    return _CORRESPONDING_STATES_U


def _relative(quantity: Quantity | None, usual: float) -> float:
    if quantity is None or quantity.uncertainty is None:
        return usual
    if quantity.value == 0.0:
        raise QuantityError(
            str(quantity),
            "is zero with an uncertainty, of which no share can be taken",
            "write the coefficient, or leave it out",
            "second_virial",
        )
    return abs(quantity.uncertainty / quantity.value)
