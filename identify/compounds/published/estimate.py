"""Boiling points estimated from structure, each by models that did not see that compound."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from importlib import import_module
from typing import ParamSpec, TypeVar

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from identify.physics.arrays import Array

FOLDS = 5
_Given = ParamSpec("_Given")
_Found = TypeVar("_Found")
# A published value this far below the first round's estimate does not train the second round.
_SUSPECT_K = 45.0


def _one_thread(function: Callable[_Given, _Found]) -> Callable[_Given, _Found]:
    """Let a function run in one thread: sums in the same order, and so the same table anywhere."""

    @wraps(function)
    def alone(*given: _Given.args, **named: _Given.kwargs) -> _Found:
        # Only what is loaded can be limited; unlimited, its threads wait for each other in a loop.
        for module in ("ensemble", "kernel_ridge", "neighbors"):
            import_module(f"sklearn.{module}")
        with threadpool_limits(limits=1):
            return function(*given, **named)

    return alone


@_one_thread
def out_of_fold_boiling_points(
    descriptors: Array, published: Array, skeletons: list[str]
) -> tuple[Array, Array]:
    """Estimate each compound's normal boiling point from the others of the table.

    Two models, averaged: gradient-boosted trees with absolute error (values at reduced pressure
    are a third of some ranges, and absolute error resists them) and kernel ridge regression on
    standardized descriptors. Two rounds: values far below the first round's estimate do not train
    the second. Folds follow the skeleton, so that a stereoisomer never informs its twin.

    Parameters
    ----------
    descriptors : array, shape (n, d)
        Structure descriptors.
    published : array, shape (n,)
        A robust published value for each compound [K].
    skeletons : list of str, length n
        Key of the structure without stereo marks.

    Returns
    -------
    estimate, spread : arrays, shape (n,)
        The estimate and a scale of its error [K], itself learned from the out-of-fold residuals.
    """
    fold = folds_by_skeleton(skeletons)
    scaled = standardized(descriptors)
    first = np.full(len(published), np.nan)
    for held in range(FOLDS):
        train, test = fold != held, fold == held
        first[test] = _trees(descriptors, published, train, test)
    sound = published > first - _SUSPECT_K
    estimate = np.full(len(published), np.nan)
    for held in range(FOLDS):
        train, test = (fold != held) & sound, fold == held
        trees = _trees(descriptors, published, train, test)
        kernel = kernel_ridge(scaled, published, train, test)
        estimate[test] = 0.5 * (trees + np.clip(kernel, trees - 60.0, trees + 60.0))
    return estimate, _spread(scaled, np.abs(published - estimate), fold, sound)


def folds_by_skeleton(skeletons: list[str]) -> NDArray[np.int64]:
    """Return each compound's fold, the same for all with one skeleton, shape (n,)."""
    order = {key: place for place, key in enumerate(sorted(set(skeletons)))}
    shuffled = np.random.default_rng(20).permutation(len(order))
    return np.array([shuffled[order[key]] % FOLDS for key in skeletons])


def standardized(descriptors: Array) -> Array:
    """Return descriptors in their standard deviations from the mean, six at most."""
    spread = descriptors.std(axis=0)
    kept = spread > 1e-9
    return np.clip(
        (descriptors[:, kept] - descriptors[:, kept].mean(axis=0)) / spread[kept], -6.0, 6.0
    )


def _trees(
    descriptors: Array, target: Array, train: NDArray[np.bool_], test: NDArray[np.bool_]
) -> Array:
    from sklearn.ensemble import HistGradientBoostingRegressor

    model = HistGradientBoostingRegressor(
        loss="absolute_error",
        max_iter=220,
        learning_rate=0.12,
        max_leaf_nodes=24,
        min_samples_leaf=12,
        l2_regularization=1.0,
        early_stopping=False,
        random_state=0,
    )
    return np.asarray(model.fit(descriptors[train], target[train]).predict(descriptors[test]))


def kernel_ridge(
    scaled: Array,
    target: Array,
    train: NDArray[np.bool_],
    test: NDArray[np.bool_],
    gamma: float = 0.1,
    damping: float = 0.03,
) -> Array:
    """Return what kernel ridge regression on some compounds estimates for others.

    Parameters
    ----------
    scaled : array, shape (n, d)
        See `standardized`.
    target : array, shape (n,)
    train, test : array of bool, shape (n,)
    gamma : float
        Of the Gaussian kernel, divided by d.
    damping : float
    """
    from sklearn.kernel_ridge import KernelRidge

    center = float(np.median(target[train]))
    model = KernelRidge(kernel="rbf", gamma=gamma / scaled.shape[1], alpha=damping)
    return (
        np.asarray(model.fit(scaled[train], target[train] - center).predict(scaled[test])) + center
    )


def _spread(
    scaled: Array, error: Array, fold: NDArray[np.int64], sound: NDArray[np.bool_]
) -> Array:
    """Scale of the error around each compound: the mean error of its structural neighbors [K]."""
    from sklearn.neighbors import NearestNeighbors

    spread = np.empty(len(error))
    for held in range(FOLDS):
        train, test = (fold != held) & sound, fold == held
        neighbors = NearestNeighbors(n_neighbors=25).fit(scaled[train])
        _, nearest = neighbors.kneighbors(scaled[test])
        spread[test] = error[train][nearest].mean(axis=1)
    # Mean absolute error to standard deviation of a normal: 1.25.
    return np.clip(1.25 * spread, 6.0, 60.0)


@_one_thread
def boosted_trees_fill(descriptors: Array, known: Array) -> Array:
    """Return ``known`` with its NaN filled in by trees that learned from the rest."""
    missing = np.isnan(known)
    filled = known.copy()
    if missing.any():
        filled[missing] = _trees(descriptors, known, ~missing, missing)
    return filled
