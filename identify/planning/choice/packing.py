"""Whether a wanted number of points can be found that are all far enough from each other.

Two points that are too near exclude each other. Points without such a pair are an independent set
of the graph of the pairs that are too near; whether there is one of the wanted size is decided
exactly, by integer programming. Most questions need none: a greedy choice is large enough, or
the points fall into too few groups whose members all exclude each other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from identify.physics.arrays import Array

_Mask = NDArray[np.bool_]

# Nodes of the search tree after which a question stays open. A count, not a time: the answer is
# then the same on any machine.
_MAX_SEARCH_NODES = 2000


class SearchTooLarge(Exception):
    """The search was given up undecided."""


@dataclass
class Packing:
    """Points with their distances, and those that must be taken.

    Parameters
    ----------
    distances : array, shape (n, n)
    size : int
        Number of points wanted.
    fixed : frozenset of int
        Always taken, however near they are to each other.
    """

    distances: Array
    size: int
    fixed: frozenset[int] = frozenset()

    def free_pairs(self, rows: Sequence[int]) -> list[tuple[int, int]]:
        """Return the pairs of some points that are not both fixed, the nearest first."""
        pairs = [pair for pair in combinations(sorted(rows), 2) if not self.fixed.issuperset(pair)]
        return sorted(pairs, key=lambda pair: float(self.distances[pair]))

    def cheapest(self, least: float, cost: Array) -> tuple[list[int], bool] | None:
        """Return the points of `at_least` whose cost together is lowest.

        Parameters
        ----------
        least : float
        cost : array, shape (n,)
            Of each point, from zero.

        Returns
        -------
        rows : list of int
        is_proved : bool
            Whether no others cost less. None in place of both where there are no such points.

        Raises
        ------
        SearchTooLarge
            Where the search tree grew too large before any were found.
        """
        free, fixed = self._free(least)
        wanted = self.size - len(fixed)
        if len(free) < wanted:
            return None
        if wanted == 0:
            return fixed.tolist(), True
        near = self.distances[np.ix_(free, free)] < least
        np.fill_diagonal(near, False)
        found = _by_integers(near, cliques(near), wanted, cost[free])
        if found is None:
            return None
        chosen, is_proved = found
        return sorted([*fixed.tolist(), *free[chosen].tolist()]), is_proved

    def _free(self, least: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Return the points that may be taken beside the fixed ones, and these."""
        fixed = np.array(sorted(self.fixed), dtype=np.int64)
        free = np.setdiff1d(np.arange(len(self.distances)), fixed)
        if len(fixed):
            free = free[(self.distances[np.ix_(free, fixed)] >= least).all(axis=1)]
        return free, fixed

    def at_least(self, least: float) -> list[int] | None:
        """Return points no two of which are nearer than ``least``, fixed pairs apart.

        Returns
        -------
        list of int or None
            ``size`` points in ascending order, the fixed ones among them; None where there are no
            such points.

        Raises
        ------
        SearchTooLarge
            Where the search tree grew too large.
        """
        free, fixed = self._free(least)
        wanted = self.size - len(fixed)
        if len(free) < wanted:
            return None
        near = self.distances[np.ix_(free, free)] < least
        np.fill_diagonal(near, False)
        chosen = _independent(near, wanted)
        return None if chosen is None else sorted([*fixed.tolist(), *free[chosen].tolist()])


def _independent(near: _Mask, wanted: int) -> list[int] | None:
    """Return as many points as wanted, no two of them near; None where there are none."""
    if wanted <= 0:
        return []
    if len(found := _greedy(near)) >= wanted:
        return found[:wanted]
    groups = cliques(near)
    if len(groups) < wanted:
        return None
    chosen = _by_integers(near, groups, wanted, np.zeros(len(near)))
    return None if chosen is None else chosen[0]


def _greedy(near: _Mask) -> list[int]:
    """Return points without a near pair, taking the one that excludes fewest each time."""
    left = np.ones(len(near), dtype=bool)
    chosen = []
    while left.any():
        excluded = np.where(left, near[:, left].sum(axis=1), len(near) + 1)
        place = int(np.argmin(excluded))
        chosen.append(place)
        left &= ~near[place]
        left[place] = False
    return chosen


def cliques(near: _Mask) -> list[list[int]]:
    """Divide the points into groups whose members are all near each other.

    The fewer, the better: a set without near pairs holds at most one point of each.
    """
    groups: list[list[int]] = []
    left = np.ones(len(near), dtype=bool)
    while left.any():
        # Begin where fewest could join, so that those do not remain one by one.
        count = np.where(left, near[:, left].sum(axis=1), len(near) + 1)
        group = [int(np.argmin(count))]
        joining = near[group[0]] & left
        while joining.any():
            within = np.where(joining, near[:, joining].sum(axis=1), -1)
            place = int(np.argmax(within))
            group.append(place)
            joining = joining & near[place]
        left[group] = False
        groups.append(group)
    return groups


def _by_integers(
    near: _Mask, groups: Sequence[Sequence[int]], wanted: int, cost: Array
) -> tuple[list[int], bool] | None:
    """Decide by integer programming: at most one point of each group, as many as wanted.

    The cheapest of them, and whether that is proved.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    count = len(near)
    rows = [*groups, *_covering_groups(near, groups)]
    rows = [group for group in rows if len(group) > 1]
    places = np.repeat(np.arange(len(rows)), [len(group) for group in rows])
    members = np.array([member for group in rows for member in group], dtype=np.int64)
    excluding = csr_array((np.ones(len(members)), (places, members)), shape=(len(rows), count))
    solved = milp(
        cost,
        integrality=np.ones(count),
        bounds=Bounds(0.0, 1.0),
        constraints=[
            LinearConstraint(excluding, -np.inf, 1.0),
            LinearConstraint(np.ones((1, count)), wanted, wanted),
        ],
        options={"node_limit": _MAX_SEARCH_NODES},
    )
    if solved.status == 2:  # infeasible
        return None
    if solved.x is None:
        raise SearchTooLarge
    chosen = np.flatnonzero(solved.x > 0.5).tolist()
    if len(chosen) != wanted or near[np.ix_(chosen, chosen)].any():
        raise SearchTooLarge
    return chosen, solved.status == 0


def _covering_groups(near: _Mask, groups: Sequence[Sequence[int]]) -> list[list[int]]:
    """Return further groups of mutually near points, so that every near pair lies in one."""
    uncovered = near.copy()
    for group in groups:
        uncovered[np.ix_(group, group)] = False
    more = []
    for first in range(len(near)):
        while uncovered[first].any():
            group, joining = [first], near[first].copy()
            fresh = uncovered[first].astype(np.int64)
            while joining.any():
                # The one that adds most pairs that no group holds yet.
                place = int(np.argmax(np.where(joining, fresh, -1)))
                group.append(place)
                joining &= near[place]
                fresh += uncovered[place]
            uncovered[np.ix_(group, group)] = False
            more.append(group)
    return more
