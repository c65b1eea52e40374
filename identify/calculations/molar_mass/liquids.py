"""The liquids whose constants the corrections need: by name, by constants, or the plausible."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import log

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.bench.readings import SIReading
from identify.budget.liquids import VIRIAL_U, PossibleLiquids
from identify.compounds.loading import load_candidates
from identify.compounds.naming.lookup import row_meant
from identify.compounds.table import CandidateTable
from identify.matching.expected.expectation import Expectation
from identify.notebook.fields import Reading
from identify.notebook.measurement import Measurement
from identify.notebook.quantity.quantities import Quantity, QuantityError
from identify.notebook.usual import BATH_READ_WITHIN, tolerance_u
from identify.observables.tolerances import Tolerances
from identify.physics.arrays import Array
from identify.physics.boiling import TROUTON
from identify.physics.constants import STANDARD_PRESSURE
from identify.physics.vapor import Liquid

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


def possible_liquids(
    run: Measurement,
    identity: str | None,
    constants: Constants | None,
    candidates: CandidateTable | None,
    room: float,
) -> PossibleLiquids:
    """Return what the liquid of a weighed run may be, as far as it is said what it is.

    Parameters
    ----------
    run : Measurement
    identity : str or None
        A name, CAS number or SMILES.
    constants : Constants or None
        Instead of a name.
    candidates : CandidateTable or None
        The built-in table where not given.
    room : float
        In K.

    Raises
    ------
    NameFault
        If the name means none of the table, or several.
    """
    if constants is not None:
        return _with_constants(constants, room)
    table = candidates or load_candidates()
    return _plausible(run, table) if identity is None else named(identity, table)


def named(identity: str, table: CandidateTable) -> PossibleLiquids:
    """Return the one compound of a table that a name, CAS number or SMILES means.

    Raises
    ------
    NameFault
        If it means none, or several.
    """
    rows = np.array([row_meant(table, identity)])
    return _of_rows(table, rows, np.ones(1), np.ones(1, bool), None)


def _plausible(run: Measurement, table: CandidateTable) -> PossibleLiquids:
    """Return the compounds that the readings of a weighed run leave, with their probabilities.

    Where the run has a boiling point, one that the table knows less well gives way to it.
    """
    from identify.matching.ranking import match

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


def _with_constants(constants: Constants, room: float) -> PossibleLiquids:
    """Return a liquid of which only these constants are known, the vapor pressure in the room."""
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
        virial_u=np.array([_relative(virial, VIRIAL_U)]),
        vapor_pressure_u=np.array(
            [0.0 if pressure is None else _relative(pressure, _GIVEN_PRESSURE_U)]
        ),
        dimers_u=np.zeros(1),
        plausible=np.ones(1, bool),
        molar_mass=np.full(1, np.nan),
        assumed="a liquid with the constants given",
        boiling_known=False,
    )


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
    found = PossibleLiquids.of_rows(table, rows, liquid, uncertainty, bench is None)
    return replace(found, weight=weight, plausible=agrees)


def _informed(
    boiling: Array, uncertainty: Array, expected: Array, read: SIReading
) -> tuple[Array, Array]:
    """Return boiling points and their uncertainties [K], the table's and the reading together."""
    own = uncertainty**2
    error = read.uncertainty_or(_BOILING_POINT_READ) ** 2
    share = own / (own + error)
    return boiling + share * (read.value - expected), np.sqrt(share * error)


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
