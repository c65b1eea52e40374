"""How alike two structures are to the boiling-point estimate: a sum of three Laplacian kernels.

``k(x, x') = 1 + a1 exp(-d1) + a2 exp(-r2 d2) + a3 exp(-r3 d3)``, with ``d1`` the weighted
city-block distance between descriptors and frequent surroundings, ``d2`` that between the counts of
all surroundings, ``d3`` that between the counts of atom pairs. City-block distances because a step
from one ring to two then costs as much as one from five to six.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from identify.candidates.boiling_features import Counts

Array = NDArray[np.float64]

FARTHEST_FEATURE = 6.0
"""Standard deviations at which a feature is taken to lie that lies farther: no long leaps."""
MOST_COUNTED = 8
"""What a count of a frequent surrounding is taken to be that is larger."""


@dataclass(frozen=True)
class Shape:
    """Amplitudes of the three terms, and rates of the second and third.

    Parameters
    ----------
    amplitudes : tuple of three float
        In the unit of the constant term.
    rates : tuple of two float
        A feature more or less in the surroundings, and in the pairs.
    """

    amplitudes: tuple[float, float, float]
    rates: tuple[float, float]

    @property
    def largest(self) -> float:
        """Likeness of a structure with itself, the constant term left out."""
        return sum(self.amplitudes)


@dataclass(frozen=True)
class Traits:
    """Structures as the kernel compares them.

    Parameters
    ----------
    coordinates : array, shape (n, f)
        Features in standard deviations, times their weights.
    surroundings, pairs : sequences of n mappings
        Counts by identifier.
    """

    coordinates: Array
    surroundings: Sequence[Mapping[int, int]]
    pairs: Sequence[Mapping[int, int]]

    def take(self, places: NDArray[np.int64]) -> Traits:
        """Return the structures at the given places."""
        return Traits(
            self.coordinates[places],
            [self.surroundings[place] for place in places],
            [self.pairs[place] for place in places],
        )


class _Usual:
    """City-block distances by columns, counted from the usual value: most features are usual."""

    def __init__(self, coordinates: Array) -> None:
        self._columns = np.ascontiguousarray(coordinates.T)
        self._usual = np.array([_most_frequent(column) for column in self._columns])
        self._beyond = np.abs(self._columns - self._usual[:, None])
        self._total = self._beyond.sum(axis=0)

    def distances(self, coordinates: Array) -> Array:
        distance = self._total.copy()
        step = np.empty_like(distance)
        for column in np.flatnonzero(coordinates != self._usual):
            np.subtract(self._columns[column], coordinates[column], out=step)
            np.abs(step, out=step)
            step -= self._beyond[column]
            distance += step
        return distance


def _most_frequent(values: Array) -> float:
    found, count = np.unique(values, return_counts=True)
    return float(found[count.argmax()])


class _Overlap:
    """City-block distances between counts: both totals, less twice what is held in common."""

    def __init__(self, counts: Counts) -> None:
        self._rows = counts.dense()
        self._place = {int(key): place for place, key in enumerate(counts.keys)}
        self._total = self._rows.sum(axis=0, dtype=np.int32)

    def distances(self, counts: Mapping[int, int]) -> NDArray[np.int32]:
        common = np.zeros(len(self._total), dtype=np.int32)
        total = 0
        for key, number in counts.items():
            held = min(number, 255)
            total += held
            place = self._place.get(key)
            if place is not None:
                common += np.minimum(self._rows[place], np.uint8(held))
        return self._total + total - 2 * common


class Known:
    """Structures that others are compared with.

    Parameters
    ----------
    traits : array, shape (n, f)
        Their weighted coordinates.
    surroundings, pairs : Counts
        Of the same n structures.
    shape : Shape
    """

    def __init__(
        self, coordinates: Array, surroundings: Counts, pairs: Counts, shape: Shape
    ) -> None:
        self._coordinates = _Usual(coordinates)
        self._surroundings = _Overlap(surroundings)
        self._pairs = _Overlap(pairs)
        self._shape = shape
        self._size = len(coordinates)

    def likeness(self, others: Traits) -> Array:
        """Return the kernel between other structures and these, shape (others, n).

        The constant term of 1 is in it.
        """
        first, second, third = self._shape.amplitudes
        slow, slower = self._shape.rates
        likeness = np.empty((len(others.coordinates), self._size))
        for row, coordinates in enumerate(others.coordinates):
            alike = first * np.exp(-self._coordinates.distances(coordinates))
            around = self._surroundings.distances(others.surroundings[row])
            alike += second * np.exp(-slow * around)
            alike += third * np.exp(-slower * self._pairs.distances(others.pairs[row]))
            likeness[row] = 1.0 + alike
        return likeness
