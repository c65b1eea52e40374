"""The choice of the liquids farthest apart, against all sets where these can be counted."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import pytest
from scipy.spatial.distance import cdist, pdist, squareform

from identify import load_candidates
from identify.bench.laboratory import Laboratory
from identify.compounds.table import CandidateTable
from identify.matching.advise.separation import Separations
from identify.planning.choice import farthest_points as choosing
from identify.planning.choice import packing
from identify.planning.choice.farthest_points import farthest_points
from identify.planning.pool.conditions import LiquidConditions
from identify.planning.pool.liquid_pool import pool_of
from identify.planning.precision import ClassSetup
from identify.planning.result import Precision

TABLE = load_candidates()
LABORATORY = Laboratory()
Array = np.ndarray


def separations(table: CandidateTable) -> Array:
    tolerances = ClassSetup.of(table, LABORATORY, Precision()).tolerances()
    return Separations(table, tolerances).points


def by_trying_all(points: Array, size: int, must_have: Sequence[int] = ()) -> tuple[int, ...]:
    """Return the best of all sets: the largest smallest distance, then the next smallest."""
    distances = squareform(pdist(points))
    best: tuple[tuple[float, ...], tuple[int, ...]] = ((), ())
    pairs = np.triu_indices(size, 1)
    for rows in combinations(range(len(points)), size):
        if set(must_have) <= set(rows):
            sorted_distances = tuple(np.sort(distances[np.ix_(rows, rows)][pairs]))
            best = max(best, (sorted_distances, rows))
    return best[1]


def drawn_pool(seed: int, size: int) -> Array:
    everything = pool_of(TABLE, LiquidConditions(commonly_sold=3), LABORATORY, 2)
    rows = np.random.default_rng(seed).choice(len(everything.table), size, replace=False)
    return separations(everything.table.take(np.sort(rows)))


@pytest.mark.parametrize("seed", range(4))
def test_ten_of_sixteen_against_all_sets(seed: int) -> None:
    points = drawn_pool(seed, 16)
    found = farthest_points(points, 10)
    assert found.is_proved
    assert found.rows == by_trying_all(points, 10)
    assert found.smallest == found.at_most == pdist(points[list(found.rows)]).min()


@pytest.mark.parametrize("observables", [2, 14])
@pytest.mark.parametrize("seed", range(10, 16))
def test_five_of_twelve_against_all_sets(seed: int, observables: int) -> None:
    points = drawn_pool(seed, 12)[:, :observables]
    assert farthest_points(points, 5).rows == by_trying_all(points, 5)


@pytest.mark.parametrize("must_have", [(3,), (0, 7), (2, 5, 6), (1, 2, 3, 4, 5)])
def test_what_must_be_had_against_all_sets(must_have: tuple[int, ...]) -> None:
    points = drawn_pool(20, 12)[:, :2]
    assert farthest_points(points, 5, must_have).rows == by_trying_all(points, 5, must_have)


@pytest.mark.parametrize("seed", range(3))
def test_choice_without_proof_lies_between_its_bounds(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    points = drawn_pool(seed, 60)[:, :2]
    proved = farthest_points(points, 10)
    monkeypatch.setattr(choosing, "_MAX_PROVED_POINTS", 30)
    monkeypatch.setattr(choosing, "_THINNED_POINTS", 20)
    seen = farthest_points(points, 10, seed=seed)
    assert not seen.is_proved
    assert 0.8 * proved.smallest <= seen.smallest <= proved.smallest <= seen.at_most
    assert seen == farthest_points(points, 10, seed=seed)
    held = farthest_points(points, 10, must_have=[4, 9], seed=seed)
    assert {4, 9} <= set(held.rows)


@pytest.mark.parametrize(("seed", "count", "size"), [(5, 60, 12), (2, 40, 10)])
def test_question_that_stays_open_is_no_proof(
    monkeypatch: pytest.MonkeyPatch, seed: int, count: int, size: int
) -> None:
    points = np.random.default_rng(seed).uniform(size=(count, 3))
    proved = farthest_points(points, size)

    def give_up(*_: object) -> None:
        raise packing.SearchTooLarge

    monkeypatch.setattr(packing, "_by_integers", give_up)
    found = farthest_points(points, size)
    assert not found.is_proved
    assert list(found.rows) == sorted(found.rows)
    assert found.smallest <= proved.smallest <= found.at_most


def test_choice_does_not_depend_on_the_order() -> None:
    points = drawn_pool(30, 40)
    order = np.random.default_rng(1).permutation(len(points))
    first, second = farthest_points(points, 8), farthest_points(points[order], 8)
    assert set(first.rows) == {int(order[place]) for place in second.rows}


def test_same_points_are_never_a_proof_of_distance() -> None:
    points = np.array([[0.0], [0.0], [1.0]])
    assert farthest_points(points, 2).smallest == 1.0
    assert farthest_points(points, 3).smallest == 0.0


@pytest.mark.parametrize(("size", "must_have"), [(0, ()), (4, ()), (1, (0, 1))])
def test_choice_that_is_none(size: int, must_have: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="points"):
        farthest_points(np.arange(3.0)[:, np.newaxis], size, must_have)


def ring(size: int) -> Array:
    """Return points of which each is near its two neighbors alone: distances 1 and 2."""
    steps = np.abs(np.subtract.outer(np.arange(size), np.arange(size)))
    apart = np.minimum(steps, size - steps)
    return np.where(apart == 0, 0.0, np.where(apart == 1, 1.0, 2.0))


@pytest.mark.parametrize(
    ("size", "wanted", "exists"), [(5, 2, True), (5, 3, False), (9, 4, True), (9, 5, False)]
)
def test_rings_need_the_exact_answer(size: int, wanted: int, exists: bool) -> None:
    # An odd ring of n holds (n - 1)/2 points without neighbors; groups of two would allow one more.
    found = packing.Packing(ring(size), wanted).at_least(1.5)
    assert (found is not None) == exists
    assert len(packing.cliques(ring(size) == 1.0)) == (size + 1) // 2


@pytest.mark.parametrize("seed", range(8))
def test_packing_against_all_sets(seed: int) -> None:
    random = np.random.default_rng(seed)
    distances = squareform(random.uniform(size=66))
    for wanted in (3, 4, 5):
        found = packing.Packing(distances, wanted, frozenset({2})).at_least(0.5)
        possible = any(
            2 in rows and (distances[np.ix_(rows, rows)][np.triu_indices(wanted, 1)] >= 0.5).all()
            for rows in combinations(range(12), wanted)
        )
        assert (found is not None) == possible
        if found is not None:
            part = distances[np.ix_(found, found)][np.triu_indices(wanted, 1)]
            assert 2 in found
            assert (part >= 0.5).all()


def crowd(seed: int) -> Array:
    """Return more points than a choice is proved for."""
    return np.random.default_rng(seed).uniform(size=(choosing._MAX_PROVED_POINTS + 150, 2))


def smallest(points: Array, rows: Sequence[int]) -> float:
    return float(pdist(points[list(rows)]).min())


def best_single_exchange(points: Array, rows: Sequence[int], fixed: Sequence[int]) -> float:
    """Return the largest smallest distance with one of the rows exchanged, or none."""
    reached = [smallest(points, rows)]
    for place in (place for place, row in enumerate(rows) if row not in fixed):
        others = [*rows[:place], *rows[place + 1 :]]
        within = pdist(points[others]).min()
        reached.append(min(within, cdist(points, points[others]).min(axis=1).max()))
    return float(max(reached))


@pytest.mark.parametrize("must_have", [(), (5,), (5, 6)])
@pytest.mark.parametrize("seed", range(3))
def test_exchange_mends_a_bad_start(seed: int, must_have: tuple[int, ...]) -> None:
    points = crowd(seed)
    middle = np.argsort(((points - 0.5) ** 2).sum(axis=1)).tolist()
    start = [*must_have, *(row for row in middle if row not in must_have)][:7]
    rows = choosing._exchanged(points, start, must_have)
    assert len(set(rows)) == 7
    assert set(must_have) <= set(rows)
    assert smallest(points, rows) > 2.0 * smallest(points, start)
    assert smallest(points, rows) == best_single_exchange(points, rows, must_have)


@pytest.mark.parametrize("must_have", [(), (7,), (100, 400)])
def test_no_single_exchange_betters_a_choice_from_a_large_pool(must_have: tuple[int, ...]) -> None:
    points = crowd(9)
    found = farthest_points(points, 6, must_have, seed=2)
    assert (len(set(found.rows)), found.is_proved) == (6, False)
    assert set(must_have) <= set(found.rows)
    assert found.smallest == smallest(points, found.rows)
    assert found.smallest == best_single_exchange(points, found.rows, must_have)
    # Nor is it worse than any of its starts.
    first = choosing._farthest_first(points, 6, list(must_have))
    assert found.smallest >= smallest(points, first)
    # The bound holds, and is not idle: two fixed ones stay as near as they are.
    held = smallest(points, must_have) if len(must_have) > 1 else float("inf")
    assert found.smallest <= found.at_most <= held
    assert found.at_most < 2.5 * found.smallest
