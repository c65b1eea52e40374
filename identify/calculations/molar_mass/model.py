"""Molar masses trial by trial, for any deviations of the inputs from what was read."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.calculations.molar_mass.liquids import PossibleLiquids, vapor_pressure_slope
from identify.calculations.molar_mass.readings import Input
from identify.physics.arrays import Array
from identify.physics.boiling import vapor_pressure
from identify.physics.constants import WEIGHT_DENSITY
from identify.physics.vapor import Liquid, Weighing, implied_molar_mass

_GRAMS = 1e3  # in a kilogram


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
        return _GRAMS * implied_molar_mass(self.weighing, self.liquids.liquid)

    def first_order(self) -> Array:
        """Return what one standard uncertainty of each input changes, shape (p, k, n) [g/mol].

        Half the difference between plus and minus one standard uncertainty, as JCGM 100 (GUM)
        5.1.4 note 2 has it.
        """
        one = np.eye(len(self.inputs))
        both = np.concatenate([one, -one])
        molar_masses = self._at(both, self.liquids.liquid, self.liquids.virial_u, self._shift)
        above, below = np.split(molar_masses, 2)
        return np.asarray(0.5 * (above - below))

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

        Returns
        -------
        Drawn
        """
        liquids = self.liquids
        each = np.repeat(places, self.weighing.trials)[:, np.newaxis]
        liquid = liquids.liquid.take(each)
        molar_masses = self._at(deviations, liquid, liquids.virial_u[each], self._shift[each])
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
            one.name: np.broadcast_to(getattr(self.weighing, one.name), shape).copy()
            for one in fields(Weighing)
        }
        shifted |= {"virial": np.zeros(shape), "vapor_pressure": np.zeros(shape)}
        for column, one in enumerate(self.inputs):
            enters = list(one.trials)  # often a single one of many
            for name, effect in one.effects.items():
                shifted[name][:, enters] += deviations[:, [column]] * effect[enters]
        shifted["humidity"] = np.clip(shifted["humidity"], 0.0, 1.0)
        return shifted

    def _at(self, deviations: Array, liquid: Liquid, virial_u: Array, shift: Array) -> Array:
        """Return the molar masses, shape (draws, k, n) [g/mol]."""
        shifted = self._shifted(deviations)
        virial, own = (shifted.pop(name).reshape(-1, 1) for name in ("virial", "vapor_pressure"))
        weighing = Weighing(**{name: values.ravel() for name, values in shifted.items()})
        moved = replace(
            liquid,
            boiling_point=liquid.boiling_point - own * shift,
            virial=liquid.virial * (1.0 + virial * virial_u)[..., np.newaxis],
        )
        flat = _GRAMS * implied_molar_mass(weighing, moved)
        return flat.reshape(len(deviations), self.weighing.trials, -1)


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


@dataclass(frozen=True)
class ShortcutCorrection:
    """One thing that the shortcut leaves out, and what it changes the molar mass by [g/mol]."""

    name: str
    change: float


def corrected(
    model: Model, as_read: Array, at_zero: Array
) -> tuple[Array, tuple[tuple[str, Array], ...]]:
    """Return the shortcut's molar mass, and that after each further correction.

    Parameters
    ----------
    model : Model
    as_read, at_zero : array, shape (k,)
        Pressure as the barometer shows it, and corrected for the mercury's temperature but not
        for gravity [Pa].

    Returns
    -------
    array, shape (k,) [g/mol]
        The shortcut.
    tuple of (str, array of shape (k, n))
        Name of the correction, and the molar mass with it and all before it [g/mol].
    """
    read, liquids = model.weighing, model.liquids
    dry = replace(read, humidity=np.zeros_like(read.humidity))
    ideal = liquids.without_nonideality()
    dropless = replace(ideal, density=np.full_like(ideal.density, np.inf))
    filled = read.volume_at(read.bath)

    def shortcut(pressure: Array, volume: Array) -> Array:
        return _GRAMS * replace(read, pressure=pressure, volume=volume).ideal_molar_mass()

    expanded = shortcut(read.pressure, filled)
    stages = (
        ("barometer: temperature of the mercury", shortcut(at_zero, read.volume)),
        ("barometer: local gravity", shortcut(read.pressure, read.volume)),
        ("expansion of the glass", expanded),
        ("buoyancy of the weights", expanded * (1.0 - dry.air_density / WEIGHT_DENSITY)),
        ("air shut out by the vapor left", _GRAMS * implied_molar_mass(dry, dropless)),
        ("air displaced by the liquid", _GRAMS * implied_molar_mass(dry, ideal)),
        ("moisture of the air", _GRAMS * implied_molar_mass(read, ideal)),
        ("the vapor is not an ideal gas", model.molar_masses()),
    )
    shape = (read.trials, len(liquids.weight))
    return shortcut(as_read, read.volume), tuple(
        (name, np.broadcast_to(value[:, np.newaxis] if value.ndim == 1 else value, shape))
        for name, value in stages
    )
