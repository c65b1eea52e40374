"""Molar masses trial by trial, for any deviations of the inputs from what was read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.budget.liquids import PossibleLiquids, vapor_pressure_slope
from identify.budget.readings import Input
from identify.physics.arrays import Array
from identify.physics.boiling import vapor_pressure
from identify.physics.vapor import Liquid, Weighing, implied_and_gained

GRAMS = 1e3  # in a kilogram


@dataclass(frozen=True)
class Model:
    """From the inputs to the molar masses.

    Parameters
    ----------
    weighing : Weighing
        As read, k trials.
    liquids : PossibleLiquids
        n liquids.
    inputs : tuple of Input
        The readings, p of them with the constants of the liquid.
    """

    weighing: Weighing
    liquids: PossibleLiquids
    inputs: tuple[Input, ...]

    def molar_masses(self) -> Array:
        """Return the molar mass with each liquid's corrections, shape (k, n) [g/mol]."""
        return self.implied_and_gained[0]

    @cached_property
    def implied_and_gained(self) -> tuple[Array, Array]:
        """The molar mass, and what of it the balance showed; shapes (k, n) [g/mol]."""
        implied, gained = self._moved
        return implied[-1], gained[-1]

    def first_order(self) -> Array:
        """Return what one standard uncertainty of each input changes, shape (p, k, n) [g/mol].

        Half the difference between plus and minus one standard uncertainty, as JCGM 100 (GUM)
        5.1.4 note 2 has it.
        """
        above, below = np.split(self._moved[0][:-1], 2)
        return np.asarray(0.5 * (above - below))

    @cached_property
    def _moved(self) -> tuple[Array, Array]:
        """Molar mass, and what was gained of it, shapes (2 p + 1, k, n) [g/mol].

        Each input one standard uncertainty higher, each one lower, and all as they were read.
        """
        one = np.eye(len(self.inputs))
        moved = np.concatenate([one, -one, np.zeros((1, len(one)))])
        return self._at(moved, self.liquids.liquid, self._errors)

    def drawn_liquids(self, count: int, generator: np.random.Generator) -> NDArray[np.int64]:
        """Draw so many of the liquids by their probabilities; return their places."""
        weight = self.liquids.weight
        return generator.choice(len(weight), size=count, p=weight)

    def drawn(self, deviations: Array, places: NDArray[np.int64]) -> Drawn:
        """Return the molar masses for drawn deviations and liquids.

        Parameters
        ----------
        deviations : array, shape (draws, p)
            In standard uncertainties.
        places : array of int, shape (draws,)
            Of the liquids.
        """
        liquids = self.liquids
        each = np.repeat(places, self.weighing.trials)[:, np.newaxis]
        liquid = liquids.liquid.take(each)
        errors = {name: error[each] for name, error in self._errors.items()}
        molar_masses, _ = self._at(deviations, liquid, errors)
        if not liquids.boiling_known:
            never = np.zeros(len(deviations), bool)
            return Drawn(molar_masses[..., 0], never, never)
        shifted = self._shifted(deviations)
        bath, room, pressure = (
            shifted[name].reshape(-1, 1) for name in ("bath", "room", "pressure")
        )
        hot, cold = (
            vapor_pressure(there, liquid.boiling_point, liquid.vapor_curve)
            for there in (bath, room)
        )
        filled = np.minimum(hot / pressure, 1.0).reshape(molar_masses.shape)
        # Cooled, all of the vapor has this pressure, near enough: where the liquid's own is
        # higher, no drop is left.
        dry = (cold > pressure * room / bath).reshape(molar_masses.shape)
        return Drawn(
            (molar_masses / filled)[..., 0],
            np.asarray((filled < 1.0).any(axis=(1, 2))),
            np.asarray(dry.any(axis=(1, 2))),
        )

    @cached_property
    def _errors(self) -> dict[str, Array]:
        """What one standard uncertainty of each constant changes, shape (n,) each.

        Second virial coefficients relatively, boiling points that stand for vapor pressures [K],
        logarithms of dimerization constants.
        """
        liquids = self.liquids
        return {
            "virial": liquids.virial_u,
            "vapor_pressure": self._shift,
            "dimers": liquids.dimers_u,
        }

    @cached_property
    def _shift(self) -> Array:
        """What a liquid boils lower whose vapor pressure is one uncertainty higher, (n,) [K]."""
        room = float(np.mean(self.weighing.room))
        slope = vapor_pressure_slope(self.liquids.liquid, room)
        # Far above its boiling point a liquid's curve ends, and with it what a shift would change.
        none = np.zeros_like(slope)
        return np.divide(self.liquids.vapor_pressure_u, slope, out=none, where=slope > 0.0)

    def _shifted(self, deviations: Array) -> dict[str, Array]:
        """Return the readings with deviations, each of shape (draws, k)."""
        trials = self.weighing.trials
        shape = (len(deviations), trials)
        shifted = {
            one.name: np.full(shape, getattr(self.weighing, one.name)) for one in fields(Weighing)
        }
        shifted |= {name: np.zeros(shape) for name in self._errors}
        for column, one in enumerate(self.inputs):
            for name, effect in one.effects.items():
                shifted[name] += deviations[:, [column]] * effect
        shifted["humidity"] = np.clip(shifted["humidity"], 0.0, 1.0)
        return shifted

    def _at(
        self, deviations: Array, liquid: Liquid, errors: Mapping[str, Array]
    ) -> tuple[Array, Array]:
        """Return the molar masses, and what was gained of them, shapes (draws, k, n) [g/mol]."""
        shifted = self._shifted(deviations)
        off = {name: shifted.pop(name).reshape(-1, 1) * error for name, error in errors.items()}
        weighing = Weighing(**{name: values.ravel() for name, values in shifted.items()})
        moved = replace(
            liquid,
            boiling_point=liquid.boiling_point - off["vapor_pressure"],
            virial=liquid.virial * (1.0 + off["virial"])[..., np.newaxis],
            dimers=liquid.dimers + off["dimers"][..., np.newaxis] * (1.0, 0.0),
        )
        shape = (len(deviations), self.weighing.trials, -1)
        implied, gained = implied_and_gained(weighing, moved)
        return GRAMS * implied.reshape(shape), GRAMS * gained.reshape(shape)


@dataclass(frozen=True)
class Drawn:
    """What drawn errors make of the weighings.

    Parameters
    ----------
    molar_masses : array, shape (draws, k)
        In g/mol. A bath below the boiling point leaves air in the flask: there the vapor has but
        its own pressure, and what was weighed is that part of a flask full.
    unfilled, dry : array of bool, shape (draws,)
        Whether that was so in any trial; and whether no drop was left in the cooled flask.
    """

    molar_masses: Array
    unfilled: NDArray[np.bool_]
    dry: NDArray[np.bool_]
