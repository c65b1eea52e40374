"""The liquids whose constants the corrections need, and how well these are known."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from identify.budget.readings import Input
from identify.compounds.table import CandidateTable
from identify.notebook.usual import ROOM
from identify.physics.arrays import Array
from identify.physics.boiling import vapor_pressure
from identify.physics.dimers import SINGLE_MOLECULES
from identify.physics.vapor import Liquid

# Relative standard uncertainties of the constants, beside reference equations of state for 25
# liquids (root mean square, ``scripts/interval_coverage.py --constants``): second virial
# coefficient 0.08, published vapor-pressure curves 0.005, corresponding states with published
# critical constants 0.01. With critical constants from structure: common practice.
VIRIAL_U = 0.08
# Small alcohols hold together as vapors, which corresponding states do not know: at 99 degrees
# Celsius 0.43 below the CRC Handbook's coefficient for methanol and 0.19 for ethanol, 0.15 and 0.09
# below their reference equations of state.
_VIRIAL_U_OF = {"67-56-1": 0.30, "64-17-5": 0.15}
_PUBLISHED_CURVE_U = 0.005
_CORRESPONDING_STATES_U = 0.01
_FROM_STRUCTURE_U = 0.05


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
    virial_u, vapor_pressure_u, dimers_u : array, shape (n,)
        Relative standard uncertainties; that of the dimerization constant is zero where there are
        no dimers.
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
    dimers_u: Array
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
        return replace(self.without_dimers(), virial=np.zeros_like(self.liquid.virial))

    def without_dimers(self) -> Liquid:
        """Return the liquids with vapors of single molecules."""
        return replace(self.liquid, dimers=np.array(SINGLE_MOLECULES))

    @classmethod
    def of_rows(
        cls,
        table: CandidateTable,
        rows: NDArray[np.int64],
        liquid: Liquid,
        boiling_point_u: Array,
        is_known: bool = True,
    ) -> PossibleLiquids:
        """Take compounds of a table, all alike probable.

        Parameters
        ----------
        table : CandidateTable
        rows : array of int, shape (n,)
        liquid : Liquid
            Their constants.
        boiling_point_u : array, shape (n,)
            Standard uncertainty of the boiling points among them [K].
        is_known : bool, default=True
            Whether the liquid is known to be the first.
        """
        by_curve = np.array([_curve_uncertainty(table, int(row)) for row in rows])
        # The curve starts at the boiling point: what that is off by, the curve is.
        by_boiling_point = boiling_point_u * vapor_pressure_slope(liquid, ROOM)
        names = tuple(table.text("name")[row] for row in rows)
        cas = (table.text("cas")[row] for row in rows)
        dimers_u = table.number("dimer_u")[rows]
        return cls(
            names=names,
            liquid=liquid,
            weight=np.full(len(rows), 1.0 / len(rows)),
            virial_u=np.array([_VIRIAL_U_OF.get(one, VIRIAL_U) for one in cas]),
            vapor_pressure_u=np.hypot(by_curve, by_boiling_point),
            dimers_u=np.where(np.isfinite(dimers_u), dimers_u, 0.0),
            plausible=np.ones(len(rows), bool),
            molar_mass=table.number("molar_mass")[rows],
            assumed=names[0] if is_known else None,
        )


def vapor_pressure_slope(liquid: Liquid, room: Array | float) -> Array:
    """Return ``-d ln p / dTb``, what a higher boiling point takes from the vapor pressure [1/K]."""
    width = 0.5  # K: small beside the curve's bend
    lower, higher = (
        vapor_pressure(room, liquid.boiling_point + step, liquid.vapor_curve)
        for step in (-width, width)
    )
    return np.asarray(np.log(lower / higher) / (2.0 * width))


def constants_of(liquids: PossibleLiquids, trials: int) -> Iterator[Input]:
    """Yield the constants of the liquid that the corrections need, where they are known at all."""
    given = None if liquids.boiling_known else "of the constant given"
    published = "that of published curves, or of an estimate"
    states = "that of corresponding states"
    dimers = "that of published constants, or of those of similar acids"
    for name, field, relative, counts, origin in (
        (
            "vapor pressure in the room",
            "vapor_pressure",
            liquids.vapor_pressure_u,
            liquids.vapor_pressure_u,
            published,
        ),
        (
            "second virial coefficient",
            "virial",
            liquids.virial_u,
            liquids.liquid.virial,
            states,
        ),
        (
            "dimerization constant of the vapor",
            "dimers",
            liquids.dimers_u,
            liquids.dimers_u,
            dimers,
        ),
    ):
        if counts.any():
            percent = 100.0 * float(liquids.weight @ relative)
            yield Input(name, field, np.ones(trials), percent, "%", given or origin)


def _curve_uncertainty(table: CandidateTable, row: int) -> float:
    if "corresponding states" not in table.text("vapor_curve_source")[row]:
        return _PUBLISHED_CURVE_U
    if "structure" in table.text("critical_source")[row]:
        return _FROM_STRUCTURE_U
    return _CORRESPONDING_STATES_U
