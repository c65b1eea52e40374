"""Readings of the liquid itself whose constants the table has for some of its compounds only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from math import exp
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from identify.observables.likelihood import Array, Comparison


@dataclass(frozen=True)
class Observable:
    """How readings of one constant of the liquid err, and how liquids differ in it.

    Parameters
    ----------
    gross : float
        Chance of a gross error, in the reading or in the table.
    gross_scale : float
        Of the Laplace distribution of a gross error [unit].
    bandwidth : float
        Of the kernel that stands for compounds outside the table [unit].
    usual, spread : float
        Of a compound like none in the table: median and scale of a Laplace distribution [unit].
    least : float
        A stated uncertainty below this is not believed [unit].
    allowance : float
        A constant known worse than this does not agree with everything [unit].
    unit : float
        The tolerance's unit in SI units.
    """

    gross: float
    gross_scale: float
    bandwidth: float
    usual: float
    spread: float
    least: float
    allowance: float
    unit: float = 1.0


# Bandwidths and spreads as the table's liquids below 100 degrees Celsius have them; the chance of
# a gross error as for the other readings. Of 5300 melting points that two collections list, one in
# sixteen differs by more than 10 K, so that the table itself is at fault more often there.
FURTHER: Mapping[str, Observable] = MappingProxyType(
    {
        "refractive_index": Observable(0.02, 0.05, 0.02, 1.40, 0.05, 2e-4, 0.005),
        "density": Observable(0.02, 100.0, 40.0, 850.0, 200.0, 0.5, 40.0, unit=1e3),
        "melting_point": Observable(0.06, 25.0, 25.0, 200.0, 50.0, 0.2, 5.0),
    }
)


@dataclass(frozen=True)
class KnownOnly(Comparison):
    """A comparison with a constant that the table knows of some of its compounds only.

    Where it does not, deviation and uncertainty are NaN. Such a compound agrees with any reading,
    and neither gains nor loses: the average over those that have the constant stands in for its
    likelihood, see `identify.matching.compared.Totals`.
    """

    @cached_property
    def known(self) -> NDArray[np.bool_]:
        """Whether the table knows the constant, shape (n,)."""
        return np.isfinite(self.deviation)

    def likelihood(self) -> Array:
        """Return the density of the reading, one where the constant is not known, shape (n,)."""
        return np.where(self.known, super().likelihood(), 1.0)

    def kernel(self) -> Array:
        """Return the density around each candidate's place, one where not known, shape (n,)."""
        return np.where(self.known, super().kernel(), 1.0)

    def agrees(self) -> NDArray[np.bool_]:
        """Return whether the reading is within tolerance or not known to be out, shape (n,)."""
        return np.asarray(super().agrees() | ~self.known)


def compare_further(
    name: str, observed: float, sigma: float, predicted: tuple[Array, Array]
) -> KnownOnly:
    """Compare a further reading of the liquid with each candidate's constant.

    Parameters
    ----------
    name : str
        A key of `FURTHER`.
    observed, sigma : float
        Reading and its standard uncertainty [unit].
    predicted : (array, array), shape (n,)
        The candidates' constants and their standard uncertainties [unit]; NaN where not known.
    """
    kind = FURTHER[name]
    expected, expected_u = predicted
    deviation = observed - expected
    # Square roots take a tenth of the time of hypot.
    own, squares = sigma * sigma, expected_u * expected_u
    allowance = np.minimum(squares, kind.allowance * kind.allowance)
    scale = np.sqrt(kind.gross_scale * kind.gross_scale + squares)
    return KnownOnly(
        deviation=deviation,
        sigma=np.sqrt(own + squares),
        half_width=2.0 * np.sqrt(own + allowance),
        gross=kind.gross,
        gross_density=np.exp(-np.abs(deviation) / scale) / (2.0 * scale),
        bandwidth=np.sqrt(kind.bandwidth * kind.bandwidth + own + squares),
        any_density=exp(-abs(observed - kind.usual) / kind.spread) / (2.0 * kind.spread),
    )
