"""The molar mass that the weighings give, or that was worked out from them before."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from identify.observables.error.comparison import Comparison
from identify.observables.error.molar_mass import MolarMassError
from identify.observables.error.technique import Technique
from identify.observables.observable import Observable
from identify.physics.arrays import Array, Rows, in_quadrature, once

# The gross error: common practice puts slips at one to a few in a hundred entries. Its scale is 0.5
# in the logarithm of a molar mass, which is a factor 1.65; with this scale the Laplace density is a
# plain square, see `compare_molar_mass`. Bandwidth and least uncertainty are of the molar mass. A
# compound like none in the table lies around 100 g/mol, with a scale of 1 in the logarithm; common
# practice: liquids for this experiment lie well inside.
MOLAR_MASS = Observable(
    name="molar_mass",
    words="molar mass",
    unit="g/mol",
    bench_unit="g/mol",
    tolerance=5.0,
    tolerance_unit="%",
    decimals=1,
    headings="molar mass relative?, formula mass, mm, mr, mass *",
    gross=0.02,
    gross_scale=0.5,
    bandwidth=0.15,
    least=0.003,
    usual=100.0,
    spread=1.0,
)

# Where nearly as much air is shut out as there is vapor, next to nothing is gained: errors are
# relative to no less than this much of the molar mass.
LEAST_GAINED = 0.2


@dataclass(frozen=True)
class ObservedMolarMass:
    """A molar mass as the bench gave it, for each of n candidates.

    Parameters
    ----------
    value : array, shape (n,)
        With each candidate's corrections, the mean over the trials [g/mol].
    shut_out : array, shape (n,), or float
        The part of it that the balance did not show: air that the vapor shut out [g/mol].
    instruments : array, shape (n,), or float
        Standard uncertainty from what was read or assumed [g/mol].
    trials : int
    scatter : array, shape (..., 1), or float
        Of the trials, see `relative_scatter`.
    shortcut : float or None
        Without any candidate's corrections [g/mol], for a compound like none in the table.
    """

    value: Array
    shut_out: Array | float = 0.0
    instruments: Array | float = 0.0
    trials: int = 1
    scatter: Array | float = 0.0
    shortcut: float | None = None

    def gained(self, molar_mass: Array) -> Array:
        """Return what was to be gained of candidates [g/mol], shape (n,)."""
        return np.maximum(molar_mass - self.shut_out, LEAST_GAINED * molar_mass)

    def error(self, technique: Technique, molar_mass: Array, gained: Array) -> MolarMassError:
        """Return the distribution of its error, relative to what was to be gained."""
        relative_to = molar_mass / gained
        return technique.error(
            self.instruments / gained,
            self.trials,
            self.scatter,
            relative_to,
            MOLAR_MASS.least * relative_to,
        )


def relative_scatter(each: Array) -> Array:
    """Return the standard deviation of single trials, relative to their mean, shape (...).

    Zero for one trial. It is that of what was gained, and the same whatever the liquid: how well
    trials agree says nothing of what it is.

    Parameters
    ----------
    each : array, shape (..., k)
        The shortcut's molar masses, or gains in one flask.

    Examples
    --------
    >>> relative_scatter(np.array([[57.0, 58.0, 59.0], [0.5, 0.0, 0.5]])).round(3)
    array([0.017, 0.866])
    """
    if each.shape[-1] == 1:
        return np.zeros(each.shape[:-1])
    deviation = each.std(axis=-1, ddof=1)
    # Nothing gained in the mean is as bad as can be.
    least = np.maximum(LEAST_GAINED * deviation, np.finfo(float).tiny)
    return np.asarray(deviation / np.maximum(np.abs(each.mean(axis=-1)), least))


@dataclass(frozen=True)
class MolarMassComparison(Comparison):
    """A molar mass beside each candidate's, under the error that classes make.

    Parameters
    ----------
    gained : array, shape (n,)
        What was to be gained of each [g/mol].
    error : MolarMassError
        Relative to that.
    """

    gained: Array
    error: MolarMassError

    @cached_property
    def off(self) -> Array:
        """The deviation, relative to what was to be gained, shape (n,)."""
        return self.deviation / self.gained

    def core(self) -> Array:
        """Return the density of the reading where nothing gross happened, shape (n,)."""
        density = self.error.density(self.off)
        density /= self.gained
        return density

    def parts(self, rows: Rows) -> Mapping[str, Array]:
        """Return what rough technique has of some candidates' likelihood, by its slip's code."""
        off, error = self.off[rows], self.error.at(rows)
        share = (1.0 - np.broadcast_to(self.gross, self.off.shape)[rows]) / self.gained[rows]
        return {code: share * density for code, density in error.rough_parts(off).items()}

    @once
    def peak(self) -> Array:
        """Return the highest density that a sound reading has of each candidate [1 / unit]."""
        return np.asarray(self.error.peak / self.gained)

    def in_standard_deviations(self, row: int) -> float:
        """Return a deviation as that of a normal error which is as far out."""
        return self.error.at(row).in_standard_deviations(float(self.off[row]))


def compare_molar_mass(
    observed: ObservedMolarMass,
    molar_mass: Array,
    technique: Technique,
    tolerance: Array | float,
    vaporized: Array | float = 1.0,
) -> MolarMassComparison:
    """Compare the molar mass that the bench gave with each candidate's.

    Parameters
    ----------
    observed : ObservedMolarMass
    molar_mass : array, shape (n,)
        The candidates' [g/mol].
    technique : Technique
        How well the class works.
    tolerance : array, shape (n,), or float
        Half-width within which the molar mass agrees, by tolerance alone [g/mol].
    vaporized : array, shape (n,), or float
        Chance that the liquid boiled off in the bath; where it did not, the weighing says nothing.
    """
    gained = observed.gained(molar_mass)
    error = observed.error(technique, molar_mass, gained)
    # A loss of mass gives a negative molar mass: as far off as can be, and no logarithm.
    positive = np.maximum(observed.value, 1e-3)
    ratio = positive / molar_mass
    # Laplace density of ln(ratio) with scale 1/2: exp(-2 |ln ratio|) = min(ratio, 1/ratio)^2.
    nearness = np.minimum(ratio, 1.0 / ratio)
    spread = observed.scatter * gained / np.sqrt(observed.trials) if observed.trials > 1 else 0.0
    sigma = in_quadrature(np.maximum(0.5 * tolerance, spread), observed.instruments)
    return MolarMassComparison(
        deviation=observed.value - molar_mass,
        sigma=sigma,
        half_width=2.0 * sigma,
        gross=1.0 - (1.0 - MOLAR_MASS.gross) * vaporized,
        gross_density=nearness * nearness / positive,
        bandwidth=in_quadrature(MOLAR_MASS.bandwidth * molar_mass, sigma),
        any_density=_any_molar_mass(
            float(np.median(positive))
            if observed.shortcut is None
            else max(observed.shortcut, 1e-3)
        ),
        gained=gained,
        error=error,
    )


def _any_molar_mass(observed: float) -> float:
    ratio = observed / MOLAR_MASS.usual
    return min(ratio, 1.0 / ratio) / (2.0 * observed)
