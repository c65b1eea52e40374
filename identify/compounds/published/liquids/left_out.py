"""A property of liquids from their structures, each by a model that did not see that compound."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from identify.compounds.published.estimate import (
    FOLDS,
    folds_by_skeleton,
    kernel_ridge,
    standardized,
)
from identify.physics.arrays import Array

_one_thread = threadpool_limits.wrap(limits=1)

_NEIGHBORS = 25
# Flat enough for homologues to inform each other, and hardly damped: handbooks are exact. Of
# 0.015 to 0.03 and 0.0003 to 0.003 these left the smallest errors.
_GAMMA, _DAMPING = 0.03, 0.0003
# Of the first round's errors, in their median: further off is not what the second round learns.
_UNLIKELY = 8.0
_NORMAL_95 = 1.96
_MEAN_TO_STANDARD = 1.25  # of a normal distribution's absolute error
# Where neighbors are few, the error is as likely to be that of all.
_SMALLEST_SPREAD = 0.5


@dataclass(frozen=True)
class Estimates:
    """Estimates of n compounds, each left out together with its stereoisomers.

    Parameters
    ----------
    value : array, shape (n,)
    u : array, shape (n,)
        Standard uncertainty: of the errors, 95 % are within 1.96 of it.
    """

    value: Array
    u: Array


@_one_thread
def left_out_estimates(features: Array, known: Array, skeletons: list[str]) -> Estimates:
    """Estimate a property of each compound from the others.

    Kernel ridge regression on standardized descriptors, in five folds by skeleton and two rounds:
    what is far from the first round's estimate does not train the second. The uncertainty of an
    estimate follows the errors of the 25 compounds most like it, and is scaled so that it covers
    95 % of all errors.

    Parameters
    ----------
    features : array, shape (n, d)
        Descriptors of the structures.
    known : array, shape (n,)
        The property; NaN where it is not known.
    skeletons : list of str, length n
        Key of the structure without stereo marks.
    """
    fold, scaled = folds_by_skeleton(skeletons), standardized(features)
    trains = np.isfinite(known)
    for _ in range(2):
        value = np.full(len(known), np.nan)
        for held in range(FOLDS):
            train, test = trains & (fold != held), fold == held
            value[test] = kernel_ridge(scaled, known, train, test, _GAMMA, _DAMPING)
        error = np.abs(known - value)
        trains = np.isfinite(known) & (error < _UNLIKELY * np.nanmedian(error))
    spread = _neighbors_error(scaled, error, fold, trains)
    ratio = error[trains] / spread[trains]
    return Estimates(value, spread * np.quantile(ratio, 0.95) / _NORMAL_95)


def _neighbors_error(
    scaled: Array, error: Array, fold: NDArray[np.int64], trains: NDArray[np.bool_]
) -> Array:
    """Return the standard error of the compounds most like each, none of its own fold."""
    from sklearn.neighbors import NearestNeighbors

    spread = np.empty(len(error))
    usual = _MEAN_TO_STANDARD * float(error[trains].mean())
    for held in range(FOLDS):
        train, test = trains & (fold != held), fold == held
        neighbors = NearestNeighbors(n_neighbors=_NEIGHBORS).fit(scaled[train])
        _, nearest = neighbors.kneighbors(scaled[test])
        spread[test] = _MEAN_TO_STANDARD * error[train][nearest].mean(axis=1)
    return np.maximum(spread, _SMALLEST_SPREAD * usual)
