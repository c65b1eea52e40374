"""How likely a reading is, given what a candidate would have shown.

Each reading follows a mixture: nearly always its usual error, a normal distribution unless an
observable has one of its own, and now and then a gross one (a slip of the pen, a wrong bottle), a
broad distribution around the same value.
All densities are per unit of the reading (g/mol, K, percentage points), so that readings with
wide and with narrow errors weigh as they should.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from identify.physics.arrays import Array, Rows, once

ROOT_TWO_PI = sqrt(2.0 * pi)
_LOWEST_EXPONENT = -700.0


@dataclass(frozen=True)
class Comparison:
    """One reading beside what each of n candidates would have shown.

    Its arrays are worked out once, and are not to be written to.

    Parameters
    ----------
    deviation : array, shape (n,)
        Reading minus prediction, in the reading's unit.
    sigma : array, shape (n,), or float
        Standard uncertainty of the deviation: of its normal part, where it has others.
    half_width : array, shape (n,), or float
        Deviations up to this count as agreement.
    gross : float, or array, shape (n,)
        Chance that the reading says nothing about the candidate: a gross error.
    gross_density : array, shape (n,), or float
        Density of the reading after a gross error [1 / unit].
    bandwidth : array, shape (n,), or float
        Of the kernel that stands for compounds outside the table.
    any_density : float
        Density of the reading for a compound like none in the table [1 / unit].
    """

    deviation: Array
    sigma: Array | float
    half_width: Array | float
    gross: float | Array
    gross_density: Array | float
    bandwidth: Array | float
    any_density: float

    @once
    def likelihood(self) -> Array:
        """Return the density of the reading for each candidate, shape (n,) [1 / unit]."""
        density = self.core()
        density *= 1.0 - self.gross
        density += self.gross * self.gross_density
        return density

    def core(self) -> Array:
        """Return the density of the reading where nothing gross happened, shape (n,)."""
        return normal(self.deviation, self.sigma)

    def parts(self, rows: Rows) -> Mapping[str, Array]:
        """Return what of some candidates' likelihood stands for a known slip, by its code."""
        return {}

    @once
    def peak(self) -> Array | float:
        """Return the highest density that a sound reading has of each candidate [1 / unit]."""
        return 1.0 / (ROOT_TWO_PI * self.sigma)

    def in_standard_deviations(self, row: int) -> float:
        """Return a deviation as that of a normal error that is as far out."""
        sigma = np.broadcast_to(self.sigma, self.deviation.shape)
        return float(self.deviation[row] / sigma[row])

    @once
    def kernel(self) -> Array:
        """Return the density around each candidate's place, shape (n,) [1 / unit]."""
        return normal(self.deviation, self.bandwidth)

    @once
    def agrees(self) -> NDArray[np.bool_]:
        """Return for each candidate whether the reading is within tolerance, shape (n,)."""
        # A reading exactly at the limit agrees, whatever the last bit of a change of unit says.
        return np.abs(self.deviation) <= self.half_width * (1.0 + 1e-9)


@dataclass(frozen=True)
class KnownOnly(Comparison):
    """A comparison with a constant that the table knows of some of its compounds only.

    Where it does not, deviation and uncertainty are NaN. Such a compound agrees with any reading,
    and neither gains nor loses: the average over those that have the constant stands in for its
    likelihood, see `identify.matching.totals.Totals`.
    """

    @cached_property
    def known(self) -> NDArray[np.bool_]:
        """Whether the table knows the constant, shape (n,)."""
        return np.isfinite(self.deviation)

    @once
    def likelihood(self) -> Array:
        """Return the density of the reading, one where the constant is not known, shape (n,)."""
        return np.where(self.known, super().likelihood(), 1.0)

    @once
    def kernel(self) -> Array:
        """Return the density around each candidate's place, one where not known, shape (n,)."""
        return np.where(self.known, super().kernel(), 1.0)

    def agrees(self) -> NDArray[np.bool_]:
        """Return whether the reading is within tolerance or not known to be out, shape (n,)."""
        return np.asarray(super().agrees() | ~self.known)


def normal(deviation: Array, sigma: Array | float) -> Array:
    """Return the normal density, elementwise.

    Examples
    --------
    >>> normal(np.array([0.0, 1.0]), 1.0).round(4)
    array([0.3989, 0.242 ])
    """
    density = bell(deviation / sigma)
    density /= sigma * ROOT_TWO_PI
    return density


def bell(scaled: Array) -> Array:
    """Return ``exp(-x^2 / 2)`` in the place of x, no less than 1e-304: as good as zero.

    Exponentials that underflow take ten times as long, and far from a sharp reading most would.
    """
    np.multiply(scaled, scaled, out=scaled)
    scaled *= -0.5
    np.clip(scaled, _LOWEST_EXPONENT, 0.0, out=scaled)
    np.exp(scaled, out=scaled)
    return scaled


def at_least(excess: Array, uncertainty: Array | float) -> Array:
    """Return the chance that a difference known to this standard uncertainty is above zero.

    The logistic curve that is within 0.01 of the normal distribution's. It is given to 1e-7,
    so that what is as good as certain of many candidates tells none of them apart.

    Examples
    --------
    >>> at_least(np.array([-10.0, 0.0, 1.0]), 1.0).round(2)
    array([0.  , 0.5 , 0.85])
    """
    chance = 1.0 / (1.0 + np.exp(np.clip(-1.702 * excess / uncertainty, -50.0, 50.0)))
    return np.asarray(np.round(chance, 7))
