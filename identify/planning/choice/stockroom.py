"""The liquids that a stockroom would hand out: told apart well enough, then common and harmless.

Farther apart than it takes helps nobody. Of all sets whose liquids are told apart as surely as is
wanted, the one is taken that costs least: nothing on a warning list where that can be, then what
classes are given most often and is handled most easily. Where no set is that far apart, the
farthest is taken, and only what is free in it is chosen so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from identify.matching.advise.separation import APART
from identify.physics.arrays import Array, Rows
from identify.planning.choice.farthest_points import farthest_points
from identify.planning.choice.packing import Packing, SearchTooLarge

# A set among more liquids is chosen from those that cost least. The proof of the farthest points
# ends there, too.
_MAX_CHOSEN_FROM = 450
_MOST_SURE = 0.9999
_AS_FAR = 1.0 - 1e-9  # of a separation: rounding must not forbid the set that has it


@dataclass(frozen=True)
class StockroomChoice:
    """A set of liquids, and the set that is farthest apart.

    Parameters
    ----------
    rows : tuple of int
        In ascending order.
    smallest : float
        Separation of its two nearest [standard uncertainties].
    is_proved : bool
        Whether no other set as far apart as needed costs less.
    needed : float
        Separation from which on two liquids are told apart as surely as is wanted.
    farthest : tuple of int
        The set whose nearest two are farthest apart.
    farthest_smallest, at_most : float
        Separation of its two nearest, and what no set exceeds.
    """

    rows: tuple[int, ...]
    smallest: float
    is_proved: bool
    needed: float
    farthest: tuple[int, ...]
    farthest_smallest: float
    at_most: float


def sufficient_separation(liquids: int, share: float) -> float:
    """Return the separation at which a liquid is told from all others in a share of its runs.

    Each of the others takes at most its part of the runs that may go wrong.

    Parameters
    ----------
    liquids : int
        Two or more.
    share : float
        Of the runs, 0 to 1.

    Examples
    --------
    >>> [round(sufficient_separation(liquids, 0.95), 2) for liquids in (2, 8, 20)]
    [3.29, 4.9, 5.58]
    """
    wrong = (1.0 - min(share, _MOST_SURE)) / (liquids - 1)
    return max(APART, -2.0 * NormalDist().inv_cdf(wrong))


def stockroom_choice(
    points: Array,
    size: int,
    cost: Array,
    needed: float,
    must_have: Sequence[int] = (),
    is_listed: NDArray[np.bool_] | None = None,
    seed: int = 0,
) -> StockroomChoice:
    """Choose the points that cost least among those that are far enough apart.

    Parameters
    ----------
    points : array, shape (n, dimensions)
    size : int
        From 2 to n.
    cost : array, shape (n,)
    needed : float
        Distance from which on a larger one is of no use.
    must_have : sequence of int
    is_listed : array of bool, shape (n,), optional
        Points that are not taken where a set without them is as far apart.
    seed : int
        As for `farthest_points`.

    Examples
    --------
    >>> line = np.array([[0.0], [4.0], [5.0], [9.0], [30.0]])
    >>> stockroom_choice(line, 3, np.array([0.0, 0.0, 9.0, 0.0, 5.0]), needed=4.0).rows
    (0, 1, 3)
    >>> stockroom_choice(line, 3, np.array([0.0, 0.0, 9.0, 0.0, 5.0]), needed=9.0).rows
    (0, 3, 4)
    """
    farthest = farthest_points(points, size, must_have, seed)
    reached, at_most = farthest.rows, farthest.at_most
    if farthest.smallest < needed and is_listed is not None:
        reached = _unlisted(points, size, must_have, is_listed, farthest.smallest) or reached
    kept = _cheapest_rows(cost, must_have, reached)
    distances = _distances(points[kept])
    place = {int(row): where for where, row in enumerate(kept)}
    fixed = {place[row] for row in must_have}
    if farthest.smallest < needed:
        # Pairs that no set keeps farther apart: they stay, and the others are far from them.
        held = [place[row] for row in reached]
        near = distances[np.ix_(held, held)] < _AS_FAR * needed
        np.fill_diagonal(near, False)
        fixed |= {held[one] for one in np.flatnonzero(near.any(axis=1))}
    try:
        found = Packing(distances, size, frozenset(fixed)).cheapest(_AS_FAR * needed, cost[kept])
    except SearchTooLarge:
        found = None
    rows, is_proved = ([place[row] for row in reached], False) if found is None else found
    within = distances[np.ix_(rows, rows)]
    smallest = float(within[np.triu_indices(size, 1)].min())
    return StockroomChoice(
        rows=tuple(sorted(int(kept[row]) for row in rows)),
        smallest=smallest,
        is_proved=is_proved and len(kept) == len(points),
        needed=needed,
        farthest=farthest.rows,
        farthest_smallest=farthest.smallest,
        at_most=at_most,
    )


def _unlisted(
    points: Array,
    size: int,
    must_have: Sequence[int],
    is_listed: NDArray[np.bool_],
    smallest: float,
) -> tuple[int, ...]:
    """Return a set without listed points that is as far apart, empty where there is none."""
    allowed = ~is_listed
    allowed[list(must_have)] = True
    rows = np.flatnonzero(allowed)
    if len(rows) < size:
        return ()
    fixed = np.flatnonzero(np.isin(rows, list(must_have))).tolist()
    found = farthest_points(points[rows], size, fixed)
    if found.smallest < _AS_FAR * smallest:
        return ()
    return tuple(int(rows[row]) for row in found.rows)


def _cheapest_rows(cost: Array, must_have: Sequence[int], farthest: Sequence[int]) -> Rows:
    """Return the points to choose from, in ascending order."""
    cheapest = np.argsort(cost, kind="stable")[:_MAX_CHOSEN_FROM]
    wanted = np.array([*must_have, *farthest], dtype=np.int64)
    return np.union1d(cheapest, wanted).astype(np.int64)


def _distances(points: Array) -> Array:
    squares = ((points[:, np.newaxis] - points[np.newaxis]) ** 2).sum(axis=2)
    return np.asarray(np.sqrt(squares))
