"""How far an estimated boiling point may be off, from its neighbors and how well those are met.

The scale of the error is ``exp(b · terms)``. Its coefficients are fitted to, and the interval's
factor is counted off, compounds that the estimate had not seen (conformal prediction, locally
weighted: Lei, J. et al. J. Am. Stat. Assoc. 2018, 113, 1094, section 5.2).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from identify.physics.arrays import Array

_NEIGHBORS = 25
_SPARE = 16  # more than stereoisomers that a structure has
_WEIGHT_POWER = 4  # of the likeness: the nearest few neighbors count most
_MAX_RESIDUAL = 40.0  # K: one misprint among the neighbors must not dominate
# What is added before a logarithm is taken: a twin of a known compound is still not known exactly.
_MIN_GAP, _MIN_RESIDUAL = 1e-3, 0.5  # of the likeness; K


class Neighborhood(NamedTuple):
    """How structures lie among the known ones; each an array, shape (n,).

    Parameters
    ----------
    nearest, four_nearest : array
        One less the likeness to the nearest known compound, and to the mean of four.
    residuals : array
        By how much the known neighbors are missed where they are left out [K].
    """

    nearest: Array
    four_nearest: Array
    residuals: Array

    @classmethod
    def among(cls, likeness: Array, largest: float, residuals: Array) -> Neighborhood:
        """Read the neighborhood off likenesses.

        Parameters
        ----------
        likeness : array, shape (n, known)
            The kernel, its constant term of 1 included.
        largest : float
            A structure's likeness with itself, constant term left out.
        residuals : array, shape (known,)
            Each known compound's residual where it is left out [K].

        Examples
        --------
        >>> alike = np.full((1, 30), 1.5)
        >>> alike[0, 0] = 2.0
        >>> found = Neighborhood.among(alike, 1.0, np.full(30, -3.0))
        >>> [round(float(value[0]), 3) for value in found]
        [0.0, 0.375, 3.0]
        """
        nearest = _most_alike(likeness, _NEIGHBORS)
        alike = (np.take_along_axis(likeness, nearest, axis=1) - 1.0) / largest
        weight = alike**_WEIGHT_POWER
        missed = np.minimum(np.abs(residuals[nearest]), _MAX_RESIDUAL)
        # Where nothing is alike at all, the weights vanish together; the plain mean is left.
        weight += 1e-300
        around = (weight * missed).sum(axis=1) / weight.sum(axis=1)
        ordered = -np.sort(-alike, axis=1)
        return cls(1.0 - ordered[:, 0], 1.0 - ordered[:, :4].mean(axis=1), around)

    def terms(self, unknown: NDArray[np.int64], kelvin: Array) -> Array:
        """Return what the scale of the error depends on, shape (n, 6).

        Its columns: constant, nearest, four nearest, residuals, unknown, temperature.

        Parameters
        ----------
        unknown : array of int, shape (n,)
            Surroundings that no known compound has.
        kelvin : array, shape (n,)
            The estimate [K].
        """
        return np.column_stack(
            [
                np.ones_like(self.nearest),
                np.log(np.maximum(self.nearest, 0.0) + _MIN_GAP),
                np.log(np.maximum(self.four_nearest, 0.0) + _MIN_GAP),
                np.log(self.residuals + _MIN_RESIDUAL),
                np.minimum(unknown, 3),
                np.log(np.maximum(kelvin, 50.0) / 400.0),
            ]
        )


def _most_alike(likeness: Array, count: int) -> NDArray[np.int64]:
    """Return the places of the largest likenesses in each row, shape (n, count).

    Of equals, such as stereoisomers, the first ones: which of them a partial sort finds depends on
    the processor.
    """
    taken = min(count + _SPARE, likeness.shape[1])
    places = np.sort(np.argpartition(-likeness, taken - 1, axis=1)[:, :taken], axis=1)
    rounded = np.round(np.take_along_axis(likeness, places, axis=1), 12)
    first = np.argsort(-rounded, axis=1, kind="stable")[:, :count]
    return np.take_along_axis(places, first, axis=1)


def error_scale(terms: Array, coefficients: Array) -> Array:
    """Return the scale of the error of each estimate [K], between 0.1 and 400."""
    return np.exp(np.clip(terms @ coefficients, np.log(0.1), np.log(400.0)))
