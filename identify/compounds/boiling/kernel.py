"""The kernel of the boiling-point estimate: a sum of terms, one for each kind of distance.

``k(x, x') = 1 + a0 f(d0) + sum of ai f(ri di)``, with ``d0`` the weighted city-block distance
between descriptors and frequent surroundings, and one ``di`` for each thing that is counted
(`features.COUNTED`): the city-block distance between all its counts. City-block distances
because a step from one ring to two then costs as much as one from five to six.

``f(d) = (1 + sqrt(3 d)) exp(-sqrt(3 d))`` is the Matérn kernel of 3/2 at the distance ``sqrt(d)``:
Rasmussen, C. E.; Williams, C. K. I. Gaussian Processes for Machine Learning; MIT Press, 2006,
equation 4.17. The root of a city-block distance is a Euclidean one, for which that kernel is
positive definite; for city-block distances themselves it is not (Schoenberg, I. J. Trans. Am. Math.
Soc. 1938, 44, 522).

Written out here, not taken from scikit-learn and scipy, whose numbers are the same to 3e-16: they
take 2 s of a processor to load, in every process of a build, and their city-block distances between
the counts of 256 structures and the known ones take 38 s, where the whole kernel takes 0.35 s.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from identify.compounds.boiling.features import COUNTED, Counts
from identify.physics.arrays import Array


def matern(distance: ArrayLike) -> Array:
    """Return the Matérn kernel of 3/2 of the root of a distance.

    Examples
    --------
    >>> matern([0.0, 1.0]).round(3).tolist()
    [1.0, 0.483]
    """
    root = np.sqrt(3.0 * np.asarray(distance))
    return np.asarray((1.0 + root) * np.exp(-root))


@dataclass(frozen=True)
class Shape:
    """Amplitudes of the terms, and the length scales of those of the counts.

    Parameters
    ----------
    amplitudes : sequence of float
        That of the features first, then those of ``COUNTED``; in the unit of the constant term.
    rates : sequence of float, one shorter
        Distance that one more or less of what is counted makes.
    """

    amplitudes: Sequence[float]
    rates: Sequence[float]

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
    counted : mapping
        For each of ``COUNTED``: n mappings, how often it occurs by identifier.
    """

    coordinates: Array
    counted: Mapping[str, Sequence[Mapping[int, int]]]


class _CityBlock:
    """City-block distances by column, from the most frequent value, which most features have."""

    def __init__(self, coordinates: Array) -> None:
        self._columns = np.ascontiguousarray(coordinates.T)
        self._frequent = np.array([_most_frequent(column) for column in self._columns])
        self._beyond = np.abs(self._columns - self._frequent[:, None])
        self._total = self._beyond.sum(axis=0)

    def distances(self, coordinates: Array) -> Array:
        distance = self._total.copy()
        step = np.empty_like(distance)
        for column in np.flatnonzero(coordinates != self._frequent):
            np.subtract(self._columns[column], coordinates[column], out=step)
            np.abs(step, out=step)
            step -= self._beyond[column]
            distance += step
        # Rounding can leave a little less than nothing between a structure and itself.
        return np.maximum(distance, 0.0, out=distance)


def _most_frequent(values: Array) -> float:
    found, count = np.unique(values, return_counts=True)
    return float(found[count.argmax()])


class _CountTerm:
    """A term of the kernel between counts.

    Their city-block distance is both totals, less twice what is held in common: a whole number, so
    that the term is looked up.
    """

    def __init__(self, counts: Counts, amplitude: float, rate: float) -> None:
        self._amplitude, self._rate = amplitude, rate
        self._by_distance = np.zeros(0)
        self._rows = counts.dense()
        self._place = {int(key): place for place, key in enumerate(counts.keys)}
        self._total = self._rows.sum(axis=0, dtype=np.int32)

    def between(self, counts: Mapping[int, int]) -> Array:
        """Return the term between other counts and these, shape (n,)."""
        distance = self._distances(counts)
        if (farthest := int(distance.max())) >= len(self._by_distance):
            # Up to twice as far: the next ones are farther yet.
            steps = np.arange(2 * farthest + 1)
            self._by_distance = self._amplitude * matern(self._rate * steps)
        return self._by_distance[distance]

    def _distances(self, counts: Mapping[int, int]) -> NDArray[np.int32]:
        common = np.zeros(len(self._total), dtype=np.int32)
        total = 0
        for key, number in counts.items():
            held = min(number, 255)
            total += held
            place = self._place.get(key)
            if place is not None:
                common += np.minimum(self._rows[place], np.uint8(held))
        return self._total + total - 2 * common


class KnownStructures:
    """Structures that others are compared with.

    Parameters
    ----------
    coordinates : array, shape (n, f)
        Features in standard deviations, times their weights.
    counted : mapping of str to Counts
        For each of ``COUNTED``: how often it occurs in the same n structures.
    shape : Shape
    """

    def __init__(self, coordinates: Array, counted: Mapping[str, Counts], shape: Shape) -> None:
        self._coordinates = _CityBlock(coordinates)
        self._amplitude = shape.amplitudes[0]
        self._terms = {
            name: _CountTerm(counted[name], amplitude, rate)
            for name, amplitude, rate in zip(
                COUNTED, shape.amplitudes[1:], shape.rates, strict=True
            )
        }
        self._size = len(coordinates)

    def likeness(self, others: Traits) -> Array:
        """Return the kernel between other structures and these, shape (others, n).

        The constant term of 1 is in it.
        """
        likeness = np.empty((len(others.coordinates), self._size))
        for row, coordinates in enumerate(others.coordinates):
            alike = self._amplitude * matern(self._coordinates.distances(coordinates))
            for name, term in self._terms.items():
                alike += term.between(others.counted[name][row])
            likeness[row] = 1.0 + alike
        return likeness
