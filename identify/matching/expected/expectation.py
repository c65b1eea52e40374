"""What the bench would have read, for every candidate at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.bench.readings import SIReading
from identify.compounds.table import CandidateTable
from identify.notebook.plausible import PLAUSIBLE
from identify.notebook.usual import ROOM
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.observables.liquid_constant import Columns, LiquidConstants
from identify.observables.melting_point import chance_of_wrong, melted_chance
from identify.observables.weighing import ObservedMolarMass, relative_scatter
from identify.physics.arrays import Array, Recent, in_quadrature
from identify.physics.boiling import boiling_temperature
from identify.physics.constants import ICE_POINT, STANDARD_PRESSURE
from identify.physics.vapor import (
    Liquid,
    Vapor,
    Weighing,
    implied_and_gained,
    implied_molar_mass,
)

# Liquids that boil below 100 degrees C: 600 to 1600 kg/m3, most near this; the density only sets
# how much air the drop of condensed liquid displaces, a thousandth of its mass.  Common practice.
_USUAL_LIQUID_DENSITY = 800.0

_KEPT_PRESSURES = 64
_TRIALS_AT_ONCE = 64  # beside twelve thousand candidates: 6 MB an array

# Of what the shortcut leaves out, in a flask and a room that are only taken as usual. Vapor
# pressures change by 4 to 5 % a kelvin; and published results by the shortcut are seldom as low as
# they should be, for acetone 2 of 13: liquid that is left makes up for the air that is shut out.
_USUAL_CONDITIONS = 0.5

_UNKNOWN_BOILING_POINT_U = 30.0  # K

_Uncertainty = TypeVar("_Uncertainty")


@dataclass(frozen=True)
class Expectation:
    """The candidates' constants as contiguous arrays.

    Parameters
    ----------
    molar_mass : array, shape (n,)
        In g/mol.
    normal_boiling_point, boiling_point_u : array, shape (n,)
        Boiling point at 101325 Pa and its standard uncertainty [K].
    percent : array, shape (12, n)
        Percent by mass, one row an element, in the order of the table's elements.
    liquid : Liquid
        What the vapor's physics needs of the candidates.
    constants : LiquidConstants
        Refractive index, density and melting point.
    """

    molar_mass: Array
    normal_boiling_point: Array
    boiling_point_u: Array
    percent: Array
    liquid: Liquid
    constants: LiquidConstants
    _at_pressure: Recent = field(
        default_factory=lambda: Recent(_KEPT_PRESSURES), repr=False, compare=False
    )

    @classmethod
    def of(cls, table: Columns) -> Expectation:
        """Take the constants from a table."""
        boiling_point, boiling_point_u, percent = _usual_where_unknown(table)
        density = table.number("liquid_density_25C")
        return cls(
            molar_mass=np.ascontiguousarray(table.number("molar_mass")),
            normal_boiling_point=boiling_point,
            boiling_point_u=boiling_point_u,
            percent=percent,
            # Each coefficient of all candidates in one piece.
            liquid=Liquid(
                boiling_point=boiling_point,
                vapor_curve=np.asfortranarray(table.vapor_curve),
                virial=np.asfortranarray(table.virial),
                density=np.where(density > 0.0, density, _USUAL_LIQUID_DENSITY),
                dimers=table.dimers,
            ),
            constants=LiquidConstants(table),
        )

    def boiling_point(self, pressure: float) -> Array:
        """Return the boiling points at a pressure [Pa], shape (n,) [K]."""
        if pressure == STANDARD_PRESSURE:
            return self.normal_boiling_point
        # A section works at a few pressures: each is worked out once.
        return self._at_pressure.of(
            pressure,
            lambda: boiling_temperature(
                pressure, self.normal_boiling_point, self.liquid.vapor_curve
            ),
        )

    def predicted(self, name: str, temperature: float | None = None) -> tuple[Array, Array]:
        """Return what a constant of the liquid would have read, see `LiquidConstants.predicted`.

        Parameters
        ----------
        name : str
            A key of `LIQUID_CONSTANTS`.
        temperature : float, optional
            Of the reading [K].

        Returns
        -------
        value, standard_uncertainty : arrays, shape (n,)
        """
        return self.constants.predicted(LIQUID_CONSTANTS[name], temperature)

    def implied_molar_mass(self, weighing: Weighing) -> Array:
        """Return the molar mass that the weighings give with each candidate's corrections.

        Parameters
        ----------
        weighing : Weighing
            One entry a trial.

        Returns
        -------
        array, shape (trials, n) [g/mol]
        """
        return 1e3 * np.atleast_2d(implied_molar_mass(weighing, self.liquid))

    def implied_and_gained(self, weighing: Weighing) -> tuple[Array, Array]:
        """Return the same, and the part of it that the balance showed: the rest is air shut out."""
        implied, gained = implied_and_gained(weighing, self.liquid)
        return 1e3 * np.atleast_2d(implied), 1e3 * np.atleast_2d(gained)

    def mean_of_trials(self, weighing: Weighing) -> ObservedMolarMass:
        """Return the mean over the trials and how they scatter.

        Part by part, for a file may give one label to any number of rows.
        """
        count = weighing.trials
        total, shut_out = np.zeros((2, len(self.molar_mass)))
        for part in weighing.parts(_TRIALS_AT_ONCE):
            molar_mass, not_shown = Vapor.of(part, self.liquid).summed(part)
            total += molar_mass
            shut_out += not_shown
        total, shut_out = 1e3 * total, 1e3 * shut_out
        scatter = float(relative_scatter(weighing.ideal_molar_mass()))
        return ObservedMolarMass(total / count, shut_out / count, trials=count, scatter=scatter)


def _usual_where_unknown(table: Columns) -> tuple[Array, Array, Array]:
    """Return boiling points [K], their uncertainties, and percentages (12, n).

    What of a program's own candidates is not known is filled for the physics alone: the boiling
    point with two thirds of the critical temperature (Guldberg's rule), the composition with the
    average of the others.
    """
    boiling_point = table.number("boiling_point_C") + ICE_POINT
    uncertainty, percent = np.array(table.number("boiling_point_u")), np.array(table.percent.T)
    unknown = np.isnan(boiling_point)
    if unknown.any():
        boiling_point[unknown] = table.number("critical_temperature_K")[unknown] * 2.0 / 3.0
        uncertainty[unknown] = _UNKNOWN_BOILING_POINT_U
    if np.isnan(percent).any():
        known = ~np.isnan(percent).any(axis=0)
        average = percent[:, known].mean(axis=1) if known.any() else np.zeros(len(percent))
        percent[:, ~known] = average[:, np.newaxis]
    return boiling_point, np.ascontiguousarray(uncertainty), np.ascontiguousarray(percent)


def worked_out(
    stated: SIReading, weighing: Weighing | None, liquid: Liquid, count: int
) -> ObservedMolarMass:
    """Return a molar mass that was worked out before, beside n liquids.

    Parameters
    ----------
    stated : SIReading
        In g/mol.
    weighing : Weighing or None
        That gives it by the shortcut; what that leaves out is put right for each liquid.
    liquid : Liquid
        Of n liquids.
    count : int
        How many, n.
    """
    own = stated.uncertainty or 0.0
    if weighing is None:
        return ObservedMolarMass(
            np.full(count, stated.value), instruments=own, shortcut=stated.value
        )
    implied, gained = (1e3 * one[0] for one in implied_and_gained(weighing, liquid))
    usual = in_quadrature(own, _of_usual_conditions(implied - stated.value))
    return ObservedMolarMass(implied, implied - gained, usual, shortcut=stated.value)


def _of_usual_conditions(correction: Array | float) -> Array:
    """Return the standard uncertainty of a shortcut's correction for usual conditions [g/mol]."""
    return np.asarray(_USUAL_CONDITIONS * np.abs(correction))


def assumed_u(by_assumption: Mapping[str, Array]) -> Array | float:
    """Return the standard uncertainty of a molar mass from all assumed conditions [g/mol]."""
    if not by_assumption:
        return 0.0
    return np.asarray(np.sqrt(sum(change * change for change in by_assumption.values())))


@dataclass(frozen=True)
class MeltingPoints:
    """The melting points of a table's compounds, and how far each can be relied on.

    What stands on a shelf under a label is there, whatever it is: it is taken for melted.

    Parameters
    ----------
    value : array, shape (n,)
        In K; NaN where not known.
    wrong : array, shape (n,)
        Chance that it is wrong.
    on_shelf : array of bool, shape (n,)
        Whether a bottle of it stands on a shelf.
    """

    value: Array
    wrong: Array
    on_shelf: NDArray[np.bool_]

    @classmethod
    def of(cls, table: CandidateTable) -> MeltingPoints:
        """Take them from a table."""
        return cls(
            table.number("melting_point_C") + ICE_POINT,
            chance_of_wrong(table.text("melting_point_source")),
            np.array([bool(label) for label in table.text("label")]),
        )

    def melted(self, room: float) -> Array:
        """Return the chance that each is melted in a room [K], shape (n,)."""
        chance = melted_chance(self.value, self.wrong, room)
        chance[self.on_shelf] = 1.0
        return chance


def believed_u(stated: SIReading, default: _Uncertainty, least: float) -> _Uncertainty | float:
    """Return the standard uncertainty of a reading: as stated, else half the tolerance."""
    return default if stated.uncertainty is None else max(stated.uncertainty, least)


def room_of(bench: Bench) -> float:
    """Return the room's temperature [K], the usual one where none is known or credible."""
    read = np.nan if bench.weighing is None else float(np.mean(bench.weighing.room))
    return read if PLAUSIBLE["room"].holds_si(read) else ROOM
