"""The points that are farthest apart: their smallest distance is as large as it can be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from identify.physics.arrays import Array
from identify.planning.choice.packing import Packing, SearchTooLarge

# Up to this many points the best choice is proved. All 438 liquids that boil off in a water bath
# take 1 to 5 s with their compositions and 2 to 9 s without, for 5 to 20 liquids; 40 take half a
# minute.
_MAX_PROVED_POINTS = 450
# More points are first thinned to this many, and what is found is only the best that was seen.
_THINNED_POINTS = 120
_SEARCH_STARTS = 8


@dataclass(frozen=True)
class _FarthestPoints:
    """Points that are far from each other.

    Parameters
    ----------
    rows : tuple of int
        In ascending order.
    smallest : float
        Distance of the two nearest; infinite for a single point.
    is_proved : bool
        Whether no other choice has a larger one.
    at_most : float
        No choice has a larger smallest distance than this.
    """

    rows: tuple[int, ...]
    smallest: float
    is_proved: bool
    at_most: float


def farthest_points(
    points: Array, size: int, must_have: Sequence[int] = (), seed: int = 0
) -> _FarthestPoints:
    """Choose the points whose smallest distance is largest.

    Among choices with the same smallest distance, the one whose next smallest is larger, and so
    on. The answer depends on the points and the seed alone.

    Parameters
    ----------
    points : array, shape (n, dimensions)
    size : int
        From 1 to n.
    must_have : sequence of int
        Points that must be among them.
    seed : int
        Of the starts of the search, where there are too many points for a proof.

    Raises
    ------
    ValueError
        If there are fewer points than wanted, or more of them are fixed than wanted.

    Examples
    --------
    >>> line = np.array([[0.0], [1.0], [2.1], [5.0], [5.5]])
    >>> farthest_points(line, 3)
    _FarthestPoints(rows=(0, 2, 4), smallest=2.1, is_proved=True, at_most=2.1)
    """
    if not max(len(must_have), 1) <= size <= len(points):
        raise ValueError(f"{size} of {len(points)} points, {len(must_have)} of them fixed")
    if size == 1:
        return _FarthestPoints(
            (must_have[0] if must_have else 0,), float("inf"), True, float("inf")
        )
    if size == len(must_have):
        smallest = _smallest_distance(points, must_have)
        return _FarthestPoints(tuple(sorted(must_have)), smallest, True, smallest)
    if len(points) <= _MAX_PROVED_POINTS:
        return _best(points, size, must_have)
    return _best_seen(points, size, must_have, seed)


def _smallest_distance(points: Array, rows: Sequence[int]) -> float:
    """Return the distance between the two nearest of some points."""
    from scipy.spatial.distance import pdist

    return float(pdist(points[list(rows)]).min())


def _best(points: Array, size: int, must_have: Sequence[int]) -> _FarthestPoints:
    from scipy.spatial.distance import pdist, squareform

    distances = squareform(pdist(points))
    packing = Packing(distances, size, frozenset(must_have))
    rows = _exchanged(points, _farthest_first(points, size, list(must_have)), must_have)
    rows, too_far = _widest(packing, rows)
    smallest = _smallest_distance(points, rows)
    if too_far > float(distances[_nearest_free_pair(packing, rows)]):
        # Some question stayed open: below this, no set was ruled out.
        return _FarthestPoints(tuple(sorted(rows)), smallest, False, too_far)
    while len(packing.fixed) < size:
        # The nearest pair is decided; of the others the smallest distance is made largest.
        fixed = packing.fixed | set(_nearest_free_pair(packing, rows))
        packing = Packing(distances, size, fixed)
        if len(fixed) < size:
            rows, _ = _widest(packing, rows)
    return _FarthestPoints(tuple(sorted(rows)), smallest, True, smallest)


def _nearest_free_pair(packing: Packing, rows: Sequence[int]) -> tuple[int, int]:
    """Return the nearest pair of some points that are not both fixed."""
    return packing.free_pairs(rows)[0]


def _widest(packing: Packing, rows: list[int]) -> tuple[list[int], float]:
    """Return the points whose smallest distance is largest, pairs of fixed ones apart.

    Parameters
    ----------
    packing : Packing
    rows : list of int
        Points to begin with.

    Returns
    -------
    rows : list of int
    at_most : float
        No choice has a larger smallest distance: that of ``rows`` where all was decided.
    """
    distances = packing.distances
    steps = np.unique(distances[np.triu_indices(len(distances), 1)])
    low = int(np.searchsorted(steps, distances[_nearest_free_pair(packing, rows)]))
    high = ruled_out = len(steps)
    while high - low > 1:
        middle = (low + high) // 2
        try:
            found = packing.at_least(float(steps[middle]))
        except SearchTooLarge:
            high = middle
            continue
        if found is None:
            high = ruled_out = middle
        else:
            rows = found
            low = int(np.searchsorted(steps, distances[_nearest_free_pair(packing, rows)]))
    return rows, float(steps[ruled_out - 1])


def _farthest_first(points: Array, size: int, start: Sequence[int]) -> list[int]:
    """Return points of which each is the farthest from those before it.

    References
    ----------
    Gonzalez, T. F. Theor. Comput. Sci. 1985, 38, 293.
    """
    if not start:
        start = [int(np.argmax(_squares(points, points.mean(axis=0))))]
    chosen = list(start)
    nearest = np.min([_squares(points, points[row]) for row in chosen], axis=0)
    while len(chosen) < size:
        # A point is taken only once, even where others lie upon it.
        nearest[chosen] = -1.0
        chosen.append(int(np.argmax(nearest)))
        nearest = np.minimum(nearest, _squares(points, points[chosen[-1]]))
    return chosen


def _squares(points: Array, center: Array) -> Array:
    """Return the squared distance of each point from one."""
    return np.asarray(((points - center) ** 2).sum(axis=1))


def _exchanged(points: Array, rows: Sequence[int], fixed: Sequence[int]) -> list[int]:
    """Exchange points for others as long as that moves the nearest two apart."""
    from scipy.spatial.distance import cdist

    chosen = list(rows)
    while True:
        apart = cdist(points[chosen], points[chosen])
        np.fill_diagonal(apart, np.inf)
        now = float(apart.min())
        best, exchange = now, None
        for place in np.flatnonzero(apart.min(axis=1) == now):
            if chosen[place] in fixed:
                continue
            others = chosen[:place] + chosen[place + 1 :]
            nearest = cdist(points, points[others]).min(axis=1)
            nearest[chosen] = -1.0
            rest = np.delete(np.delete(apart, place, 0), place, 1).min()
            row = int(np.argmax(nearest))
            if min(nearest[row], rest) > best:
                best, exchange = min(float(nearest[row]), float(rest)), (int(place), row)
        if exchange is None:
            return chosen
        chosen[exchange[0]] = exchange[1]


def _best_seen(points: Array, size: int, must_have: Sequence[int], seed: int) -> _FarthestPoints:
    """Choose from more points than can be proved: among thinned ones, then by exchange with all."""
    order = _farthest_first(points, _THINNED_POINTS, list(must_have))
    thinned = _best(points[order], size, range(len(must_have)))
    starts = [[order[row] for row in thinned.rows], order[:size]]
    random = np.random.default_rng(seed)
    for row in random.choice(len(points), _SEARCH_STARTS, replace=False).tolist():
        starts.append(_farthest_first(points, size, list(must_have) or [row]))
    found = [_exchanged(points, rows, must_have) for rows in starts]
    best = max(found, key=lambda rows: _smallest_distance(points, rows))
    smallest = _smallest_distance(points, best)
    # Fewer balls than wanted points cover everything: two of these share a ball, whose diameter
    # is the bound.
    covering = order[: max(size - 1, len(must_have))]
    bound = float("inf")
    if len(covering) < size:
        reach = np.min([_squares(points, points[row]) for row in covering], axis=0)
        bound = 2.0 * float(np.sqrt(reach.max()))
    if len(must_have) > 1:
        bound = min(bound, _smallest_distance(points, must_have))
    return _FarthestPoints(tuple(sorted(best)), smallest, False, max(bound, smallest))
