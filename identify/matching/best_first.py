"""The largest weights of a table, looked for where the bounds say that they can be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from identify.matching.factors import Rows
from identify.matching.likelihood import Array
from identify.matching.nearby import Places

FIRST_LOOK = 64  # parts

Weights = tuple[Rows, Array]
"""Rows of the table, and their weights."""


@dataclass(frozen=True)
class Bound:
    """What one weight in each part of a table comes to at most.

    Parameters
    ----------
    parts : array, shape (parts,)
        What each part multiplies in.
    highest : float
        The liquids' largest factor.
    single : callable
        From places of some parts to the largest factor of the liquids that are in each.
    """

    parts: Array
    highest: float
    single: Callable[[Places], Array]

    def largest(self, count: int = FIRST_LOOK) -> Places:
        """Return the parts with the largest bounds, as if all had the likeliest liquid."""
        return largest(self.parts, count)

    def reaching(self, least: float) -> Places:
        """Return the parts that may have a weight as large as this, but for rounding."""
        least *= 1.0 - 1e-8
        some = np.flatnonzero(self.parts * self.highest >= least)
        return some[self.parts[some] * self.single(some) >= least]


def best_first(
    bound: Bound, first: Places, weights: Callable[[Places], Weights], count: int
) -> Weights:
    """Look at parts of a table until no other can hold one of the largest weights.

    Parameters
    ----------
    bound : Bound
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
    looked_at, chosen = max(len(first), FIRST_LOOK), first
    new = np.ones(len(bound.parts), dtype=bool)
    while True:
        rows, weight = weights(chosen)
        new[chosen] = False
        # Whatever is found further on, the last of the largest weights is no smaller than this.
        least = float(np.partition(weight, -count)[-count]) if len(weight) >= count else 0.0
        missing = bound.reaching(least)
        if not new[missing].any():
            return rows, weight
        looked_at = 4 * looked_at
        if len(missing) > looked_at:
            missing = bound.largest(looked_at)
        new[missing] = False
        chosen = np.flatnonzero(~new)


def largest(values: Array, count: int) -> Places:
    """Return the places of the largest values, in the order of the places."""
    few = min(count, len(values))
    return np.sort(np.argpartition(values, -few)[-few:])
