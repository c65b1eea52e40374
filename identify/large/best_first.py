"""The largest weights of a table, looked for where the bounds say that they can be."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from identify.large.blocks import Places
from identify.physics.arrays import Array, Rows

_FIRST_PARTS = 64  # parts
_MIN_CHOICE = 4096  # parts
_WIDENING = 16  # times as many parts, where the first ones are not enough

Weights = tuple[Rows | slice, Array]
"""Rows of the table, and their weights."""


class Bound:
    """What one weight in each part of a table comes to at most.

    At first as if each part had the likeliest liquid; by the liquids it has where that matters.

    Parameters
    ----------
    parts : array, shape (parts,)
        What each part multiplies in.
    highest : float
        The liquids' largest factor.
    single : callable
        From places of some parts to the largest factor of the liquids that are in each.
    """

    def __init__(self, parts: Array, highest: float, single: Callable[[Places], Array]) -> None:
        self._parts, self._single = parts, single
        self._bound = parts * highest
        self._by_own_liquids = np.zeros(len(parts), dtype=bool)

    def __len__(self) -> int:
        return len(self._parts)

    def largest(self, count: int = _FIRST_PARTS) -> Places:
        """Return parts with large bounds: of those that had them with the likeliest liquid."""
        some = largest(self._bound, max(_MIN_CHOICE, count))
        self._narrow(some)
        return some[largest(self._bound[some], count)]

    def _reaching(self, least: float) -> Places:
        """Return the parts that may have a weight as large as this, but for rounding."""
        least *= 1.0 - 1e-8
        some = np.flatnonzero(self._bound >= least)
        self._narrow(some)
        return some[self._bound[some] >= least]

    def _narrow(self, some: Places) -> None:
        new = some[~self._by_own_liquids[some]]
        self._bound[new] = self._parts[new] * self._single(new)
        self._by_own_liquids[new] = True

    def best_first(
        self, first: Places, weights: Callable[[Places], Weights], count: int
    ) -> Weights:
        """Look at parts of a table until no other can hold one of the largest weights.

        Parameters
        ----------
        first : array of int
            Parts to look at first.
        weights : callable
            From parts to rows and weights, at least those that are among their largest.
        count : int
            How many weights.

        Returns
        -------
        rows, weights
            The largest, and those that equal the last of them but for rounding, among others.
        """
        looked_at, chosen = max(len(first), _FIRST_PARTS), first
        new = np.ones(len(self), dtype=bool)
        while True:
            rows, weight = weights(chosen)
            new[chosen] = False
            # Whatever is found further on, the last of the largest weights is at least this.
            least = float(np.partition(weight, -count)[-count]) if len(weight) >= count else 0.0
            missing = self._reaching(least)
            if not new[missing].any():
                return rows, weight
            looked_at *= _WIDENING
            if len(missing) > looked_at:
                missing = self.largest(looked_at)
            new[missing] = False
            chosen = np.flatnonzero(~new)


def largest(values: Array, count: int = _FIRST_PARTS) -> Places:
    """Return the places of the largest values, in the order of the places."""
    few = min(count, len(values))
    return np.sort(np.argpartition(values, -few)[-few:])
