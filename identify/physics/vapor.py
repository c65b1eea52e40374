"""What a flask of vapor weighs once it has cooled, and the molar mass that such a weighing gives.

The first weighing holds the flask full of air. In the bath the vapor drives the air out; on
cooling, most of it condenses, air comes back through the pinhole, and the second weighing holds
the liquid, its saturated vapor, and the air that these two leave room for::

    gain (1 - rho_air/8000) = m - rho_air V_liquid - rho_air (V - V_liquid) p / P

with ``m = M P V' / (Z R T)`` the vapor that filled the flask (volume ``V'`` at the bath's
temperature), ``p`` the pressure of the vapor that has not condensed, and 8000 kg/m3 the density of
the balance's weights. Everything outside the flask displaces the same air at both weighings. Where
the flask was closed while hot, no air came back; in a syringe there was none from the beginning.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, fields
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.physics.air import moist_air_density
from identify.physics.arrays import Array, Recent, once
from identify.physics.boiling import vapor_pressure
from identify.physics.constants import GAS_CONSTANT, WEIGHT_DENSITY
from identify.physics.dimers import (
    SINGLE_MOLECULES,
    particles_at_concentration,
    particles_at_pressure,
)

# 3.3e-6 / K: linear expansion of borosilicate glass 3.3, ISO 3585; three times that by volume.
_GLASS_EXPANSION = 3 * 3.3e-6

# Vapor near its saturation is never further from ideal than this; below it the series in the
# pressure has lost its meaning.  Common practice.
_LEAST_COMPRESSIBILITY = 0.5  # a clip to two limits takes half the time of a maximum

_FEW_TRIALS = 4  # which hardly repeat a temperature
_KEPT_TEMPERATURES = 16  # beside twelve thousand candidates: 3 MB


@dataclass(frozen=True)
class Liquid:
    """What the physics needs to know of n liquids.

    Parameters
    ----------
    boiling_point : array, shape (n,)
        Normal boiling point [K].
    vapor_curve : array, shape (n, 3)
        Coefficients of the vapor-pressure curve, see `identify.physics.boiling`.
    virial : array, shape (n, 4)
        Coefficients of the second virial coefficient, see `second_virial` [m3/mol].
    density : array, shape (n,)
        Of the liquid at room temperature [kg/m3].
    dimers : array, shape (n, 2)
        Coefficients of the constant by which two molecules of the vapor make one, see
        `identify.physics.dimers`; where not given there are only single molecules.
    """

    boiling_point: Array
    vapor_curve: Array
    virial: Array
    density: Array
    dimers: Array = field(default_factory=lambda: np.array(SINGLE_MOLECULES))
    _recent: Recent = field(
        default_factory=lambda: Recent(_KEPT_TEMPERATURES), init=False, repr=False, compare=False
    )

    def __post_init__(self) -> None:
        if np.ndim(self.dimers) == 1:
            shape = (*np.shape(self.boiling_point), 2)
            object.__setattr__(self, "dimers", np.broadcast_to(self.dimers, shape))

    @cached_property
    def dimerizing(self) -> NDArray[np.int64]:
        """Places of the liquids whose vapors are partly dimers, along the last axis."""
        held = np.isfinite(self.dimers[..., 0])
        return np.flatnonzero(held.any(axis=tuple(range(held.ndim - 1))))

    def take(self, rows: NDArray[np.int64] | NDArray[np.bool_]) -> Liquid:
        """Return the liquids at some places, in the shape of those."""
        given = (one.name for one in fields(self) if one.init)
        return Liquid(**{name: getattr(self, name)[rows] for name in given})

    def virial_at(self, temperature: Array | float) -> Array:
        """Return the second virial coefficients at temperatures, see `second_virial`."""
        return self._of_each("virial", temperature, lambda one: second_virial(one, self.virial))

    def vapor_pressure(self, temperature: Array | float) -> Array:
        """Return the vapor pressures at temperatures [Pa]."""
        return self._of_each(
            "vapor pressure",
            temperature,
            lambda one: vapor_pressure(one, self.boiling_point, self.vapor_curve),
        )

    def _of_each(
        self, what: str, temperature: Array | float, work: Callable[[Array | float], Array]
    ) -> Array:
        """Return what a temperature makes of each liquid, equal ones only once.

        Parameters
        ----------
        what : str
            The name of what is worked out.
        temperature : array, shape (k, 1), or float
            Where each trial has its own liquid, so has each temperature.
        work : callable
            Takes such temperatures, returns an array of shape (k, n).
        """
        if np.ndim(self.boiling_point) != 1 or np.ndim(temperature) != 2:
            return work(temperature)
        if np.size(temperature) == 1:  # as a class works in few rooms
            return self._recent.of((what, float(np.max(temperature))), lambda: work(temperature))
        if np.size(temperature) <= _FEW_TRIALS:
            return work(temperature)
        distinct, places = np.unique(temperature, return_inverse=True)
        return work(distinct[:, np.newaxis])[places.ravel()]


@dataclass(frozen=True)
class Weighing:
    """The readings of k trials, all arrays of shape (k,), or all floats.

    Parameters
    ----------
    gain : array
        Balance reading with the condensed liquid minus that of the empty flask [kg].
    bath, room : array
        In K.
    pressure : array
        In the laboratory [Pa].
    volume : array
        Of the flask, filled to the brim [m3].
    volume_temperature : array
        At which the volume holds [K].
    humidity : array
        Relative humidity of the room, 0 to 1.
    contents : array
        How much warmer than the room the flask's contents were at the second weighing [K]; zero
        where it is not given.
    air_before, air_after : array
        Share of the flask that held air at the first weighing, and whether air came in beside the
        vapor at the second: 1 in an open flask, as where it is not given.
    """

    gain: Array
    bath: Array
    room: Array
    pressure: Array
    volume: Array
    volume_temperature: Array
    humidity: Array
    contents: Array = field(default_factory=lambda: np.array(0.0))
    air_before: Array = field(default_factory=lambda: np.array(1.0))
    air_after: Array = field(default_factory=lambda: np.array(1.0))

    def __post_init__(self) -> None:
        for name in ("contents", "air_before", "air_after"):
            given = getattr(self, name)
            if np.shape(given) != np.shape(self.gain):
                object.__setattr__(self, name, np.broadcast_to(given, np.shape(self.gain)))

    @property
    def trials(self) -> int:
        """Number of trials, k."""
        return int(np.size(self.gain))

    def parts(self, most: int) -> Iterator[Weighing]:
        """Yield the trials in their order, at most so many at once."""
        if self.trials <= most:
            yield self
            return
        for start in range(0, self.trials, most):
            yield self.some(slice(start, start + most))

    def some(self, trials: slice | NDArray[np.int64]) -> Weighing:
        """Return the weighings of some of the trials."""
        return Weighing(**{name: value[trials] for name, value in self._readings().items()})

    def _readings(self) -> dict[str, Array]:
        return {one.name: getattr(self, one.name) for one in fields(self)}

    @classmethod
    def joined(cls, weighings: Sequence[Weighing]) -> Weighing:
        """Return the trials of several as one."""
        each = [one._readings() for one in weighings]
        return cls(**{name: np.concatenate([one[name] for one in each]) for name in each[0]})

    @property
    def cooled(self) -> Array:
        """Temperature of the contents at the second weighing, shape (k,) [K]."""
        return np.asarray(self.room + self.contents)

    @once
    def ideal_molar_mass(self) -> Array:
        """Return the shortcut of the ideal gas, shape (k,) [kg/mol].

        What is missing of the air of a flask that was closed while hot is added to the gain.
        """
        lost = (self.air_before - self.air_after) * self.air_density * self.volume
        return ideal_molar_mass(self.gain + lost, self.bath, self.pressure, self.volume)

    @cached_property
    def air_density(self) -> Array:
        """Density of the laboratory's air, shape (k,) [kg/m3]."""
        return moist_air_density(self.room, self.pressure, self.humidity)

    def volume_at(self, temperature: Array) -> Array:
        """Return the flask's volume at a temperature [K], shape (k,) [m3]."""
        return np.asarray(
            self.volume * (1.0 + _GLASS_EXPANSION * (temperature - self.volume_temperature))
        )


def second_virial(temperature: Array | float, virial: Array) -> Array:
    """Return the second virial coefficient ``B = v0 + v1 t + v2 t^3 + v3 t^8``, t = 300 K / T.

    Parameters
    ----------
    temperature : array or float, broadcasting against (n,)
        In K.
    virial : array, shape (n, 4)
        Coefficients v0 to v3 [m3/mol].

    Returns
    -------
    array [m3/mol]

    References
    ----------
    The powers are those of Tsonopoulos, C. AIChE J. 1974, 20, 263.
    """
    tau = np.divide(300.0, temperature)
    cube = tau * tau * tau
    return np.asarray(
        virial[..., 0]
        + virial[..., 1] * tau
        + virial[..., 2] * cube
        + virial[..., 3] * (cube * cube * tau * tau)
    )


def compressibility(bath: Array | float, pressure: Array | float, liquid: Liquid) -> Array:
    """Return the compression factor of the vapor that fills the flask.

    ``Z = 1 + B P / (R T)``, and of that the share that dimers leave: see `identify.physics.dimers`.

    Parameters
    ----------
    bath, pressure : array or float, broadcasting against (n,)
        In K and Pa.
    liquid : Liquid

    Returns
    -------
    array [-]
    """
    virial = liquid.virial_at(bath)
    ratio = virial * np.divide(pressure, GAS_CONSTANT * np.asarray(bath))
    factor = np.clip(1.0 + ratio, _LEAST_COMPRESSIBILITY, np.inf)
    rows = liquid.dimerizing
    if rows.size:
        factor[..., rows] *= particles_at_pressure(bath, pressure, liquid.dimers[..., rows, :])
    return factor


def cooled_vapor(room: Array | float, concentration: Array, liquid: Liquid) -> tuple[Array, Array]:
    """Return what is left as vapor in a flask that has cooled.

    Parameters
    ----------
    room : array or float, broadcasting against (n,)
        In K.
    concentration : array, shape (..., n)
        Of all molecules in the flask, those in dimers counted twice [mol/m3].
    liquid : Liquid

    Returns
    -------
    pressure : array [Pa]
        Of the vapor that has not condensed.
    share : array
        Of the molecules that are in it, 1 where nothing condenses.
    """
    virial = liquid.virial_at(room)
    nonideality = np.clip(1.0 + virial * concentration, _LEAST_COMPRESSIBILITY, np.inf)
    rows, dimers = liquid.dimerizing, liquid.dimers[..., liquid.dimerizing, :]
    whole = particles_at_concentration(room, concentration[..., rows], dimers) if rows.size else 1.0
    nonideality[..., rows] *= whole
    # All of a very volatile liquid stays vapor: at this pressure.
    uncondensed = concentration * nonideality * (GAS_CONSTANT * np.asarray(room))
    pressure = np.minimum(liquid.vapor_pressure(room), uncondensed)
    share = pressure / uncondensed
    if rows.size:
        # At its lower pressure the vapor holds fewer dimers.
        left = whole / particles_at_pressure(room, pressure[..., rows], dimers)
        share[..., rows] = np.minimum(share[..., rows] * left, 1.0)
    return pressure, share


def gain(molar_mass: Array, weighing: Weighing, liquid: Liquid) -> Array:
    """Return what the balance shows: the inverse of `implied_molar_mass`.

    Parameters
    ----------
    molar_mass : array, shape (n,)
        In kg/mol.
    weighing : Weighing
        Its own ``gain`` is not looked at.
    liquid : Liquid
        Of n liquids.

    Returns
    -------
    array, shape (k, n) [kg]
    """
    vapor = Vapor.of(weighing, liquid)
    mass = molar_mass / vapor.molar_mass_per_mass
    shown = mass * vapor.liquid_buoyancy - vapor.air_shut_out
    return _each_trial(shown / _column(1.0 - weighing.air_density / WEIGHT_DENSITY), weighing)


def implied_molar_mass(weighing: Weighing, liquid: Liquid) -> Array:
    """Return the molar mass that the weighings give if the liquid is this one.

    Parameters
    ----------
    weighing : Weighing
        Of k trials.
    liquid : Liquid
        Of n liquids.

    Returns
    -------
    array, shape (k, n) [kg/mol]
    """
    return implied_and_gained(weighing, liquid)[0]


def implied_and_gained(weighing: Weighing, liquid: Liquid) -> tuple[Array, Array]:
    """Return the same molar mass, and the part of it that the balance showed.

    The rest is air that the vapor shut out. Both arrays have the shape (k, n) [kg/mol].
    """
    return Vapor.of(weighing, liquid).implied_and_gained(weighing)


def ideal_molar_mass(
    gain: Array | float, bath: Array | float, pressure: Array | float, volume: Array | float
) -> Array:
    """Return the shortcut of the ideal gas, ``M = m R T / (P V)``.

    Parameters
    ----------
    gain, bath, pressure, volume : array or float
        In kg, K, Pa, m3.

    Returns
    -------
    array [kg/mol]

    Examples
    --------
    >>> print(ideal_molar_mass(0.2589e-3, 372.05, 98925.2, 287.4e-6).round(5))
    0.02817
    """
    return np.asarray(np.asarray(gain) * GAS_CONSTANT * bath / (np.asarray(pressure) * volume))


@dataclass(frozen=True)
class Vapor:
    """What fills the flask in the bath, and what of it is left as vapor once it has cooled.

    All arrays have the shape (k, n), or one row where all k trials agree.

    Parameters
    ----------
    compressibility : array
        Z of the vapor in the bath [-].
    residual_pressure : array
        Of the vapor that has not condensed in the cooled flask [Pa].
    molar_mass_per_mass : array
        Turns the mass of the vapor into the molar mass, ``Z R T / (P V)`` [1/mol].
    air_shut_out : array
        Air that is missing at the second weighing: whose place the vapor has taken that did not
        condense, or that never came back [kg].
    liquid_buoyancy : array
        What remains of the vapor's mass once the drop of liquid has displaced air [-].
    """

    compressibility: Array
    residual_pressure: Array
    molar_mass_per_mass: Array
    air_shut_out: Array
    liquid_buoyancy: Array

    @classmethod
    def of(cls, weighing: Weighing, liquid: Liquid) -> Vapor:
        """Work out the content of the flask for k trials and n liquids."""
        bath, room, pressure = map(_column, (weighing.bath, weighing.cooled, weighing.pressure))
        filled = _column(weighing.volume_at(weighing.bath))
        cooled = _column(weighing.volume_at(weighing.cooled))
        before = _column(weighing.air_before * weighing.air_density)
        # The laboratory's air, as dense as it is at the temperature of the contents.
        after = _column(weighing.air_after * weighing.air_density * weighing.room / weighing.cooled)
        nonideality = compressibility(bath, pressure, liquid)
        if not before.all():
            # A syringe colder than the boiling point holds the air that the vapor displaced.
            is_air = (before == 0.0) & (liquid.vapor_pressure(bath) < pressure)
            nonideality = np.where(is_air, 1.0, nonideality)
        concentration = pressure * filled / (GAS_CONSTANT * bath * cooled) / nonideality
        residual, uncondensed = cooled_vapor(room, concentration, liquid)
        air = after * (1.0 - residual / pressure)
        return cls(
            compressibility=nonideality,
            residual_pressure=residual,
            molar_mass_per_mass=nonideality * (GAS_CONSTANT * bath / (pressure * filled)),
            air_shut_out=cooled * (before - air),
            liquid_buoyancy=1.0 - air * (1.0 - uncondensed) / liquid.density,
        )

    @cached_property
    def per_gain(self) -> Array:
        """What a kilogram more of gain adds to the molar mass [1/mol], see `true_gain`."""
        return self.molar_mass_per_mass / self.liquid_buoyancy

    @cached_property
    def not_shown(self) -> Array:
        """What of the molar mass the balance does not show, whatever it shows [kg/mol]."""
        return self.air_shut_out * self.per_gain

    def implied_and_gained(self, weighing: Weighing) -> tuple[Array, Array]:
        """Return the molar masses, and the parts that the balance showed, see the function.

        Parameters
        ----------
        weighing : Weighing
            The one that this is the vapor of, or another one with the same readings but the gain.
        """
        gained = _column(true_gain(weighing)) * self.per_gain
        return _each_trial(gained + self.not_shown, weighing), _each_trial(gained, weighing)

    def summed(self, weighing: Weighing) -> tuple[Array, Array]:
        """Return the sums over the trials, of the molar masses and of what was not shown, (n,)."""
        not_shown = self.not_shown.sum(axis=0) * (weighing.trials / len(self.not_shown))
        gain, per_gain = np.atleast_1d(true_gain(weighing)), self.per_gain
        gained = gain @ per_gain if len(per_gain) > 1 else gain.sum() * per_gain[0]
        return gained + not_shown, not_shown


def true_gain(weighing: Weighing) -> Array:
    """Return the gain without the air that the balance's weights displace, shape (k,) [kg]."""
    return np.asarray(weighing.gain * (1.0 - weighing.air_density / WEIGHT_DENSITY))


def _each_trial(values: Array, weighing: Weighing) -> Array:
    """Return one row a trial, shape (k, n)."""
    return np.broadcast_to(values, (np.size(weighing.pressure), values.shape[-1]))


def _column(values: Array | float) -> Array:
    """Return one row a trial to broadcast against the liquids, one for all where they agree."""
    each = np.atleast_1d(np.asarray(values, dtype=np.float64))[:, np.newaxis]
    # Trials of one day share room and barometer: what follows from these is worked out once.
    return each[:1] if len(each) > 1 and (each == each[0]).all() else each
