"""Bounds of sums over a formula's candidates, without a look at each candidate.

The liquids (pairs of boiling point and uncertainty) are sorted into bins. What is known for every
record alike: how many of a formula's candidates are in each bin. What a record adds: the highest
and the lowest value of the liquids in each bin. A formula's sum lies between its candidates times
the lowest and its candidates times the highest, bin by bin.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from identify.large.indexed import IndexedTable
from identify.observables.comparison import Array

_BY_BOILING_POINT, _BY_UNCERTAINTY = 16, 2
# Sums of some thousands of positive numbers are exact to far better than this.
ROUNDING = 1e-9


class Bins:
    """The liquids of a table sorted into bins of about as many candidates each.

    First by boiling point, then, within each of those, by uncertainty. One liquid is in one bin,
    however many candidates have it.

    Parameters
    ----------
    table : IndexedTable
    """

    def __init__(self, table: IndexedTable) -> None:
        boiling, uncertainty = (table.liquids.number(name) for name in _SORTED_BY)
        held = np.bincount(table.pair, minlength=len(boiling)).astype(np.float64)
        by_boiling = _cut(np.lexsort([uncertainty, boiling]), held, _BY_BOILING_POINT)
        bin_of = np.empty(len(boiling), dtype=np.int64)
        begins = 0
        for liquids in by_boiling:
            for part in _cut(
                liquids[np.argsort(uncertainty[liquids], kind="stable")], held, _BY_UNCERTAINTY
            ):
                bin_of[part] = begins
                begins += 1
        self.of_liquid = bin_of
        """Each liquid's bin, shape (p,)."""
        self._order = np.argsort(bin_of, kind="stable")
        self._begins = np.searchsorted(bin_of[self._order], np.arange(begins))

    def __len__(self) -> int:
        return len(self._begins)

    def highest(self, values: Array) -> Array:
        """Return the highest value of each bin's liquids, shape (bins,)."""
        return np.asarray(np.maximum.reduceat(values[self._order], self._begins))

    def lowest(self, values: Array) -> Array:
        """Return the lowest value of each bin's liquids, shape (bins,)."""
        return np.asarray(np.minimum.reduceat(values[self._order], self._begins))


_SORTED_BY = ("boiling_point_C", "boiling_point_u")


def all_but(values: Array, least: float) -> NDArray[np.int64]:
    """Return the places of all but the smallest values, which come to so much at most.

    Examples
    --------
    >>> all_but(np.array([0.001, 4.0, 0.0, 0.002]), 0.01)
    array([1])
    """
    if not len(values):
        return np.zeros(0, dtype=np.int64)
    # By powers of two: sorting a hundred thousand takes longer than most of the sums.
    _, power = np.frexp(values)
    power[values == 0.0] = power.min()
    lowest = int(power.min())
    below = np.cumsum(np.bincount(power - lowest, values))
    return np.flatnonzero(power - lowest >= np.searchsorted(below, least, side="right"))


def _cut(liquids: NDArray[np.int64], held: Array, parts: int) -> list[NDArray[np.int64]]:
    """Cut sorted liquids into parts of about as many candidates each, none of them empty."""
    before = np.cumsum(held[liquids]) - held[liquids]
    total = before[-1] + held[liquids[-1]]
    edges = np.searchsorted(before, total * np.arange(1, parts) / parts)
    return [part for part in np.split(liquids, np.unique(edges)) if len(part)]
