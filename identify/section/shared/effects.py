"""How far the students of a group are off from the others of the same bottles."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from identify.notebook.statistics import student_t_quantile
from identify.observables.comparison import Array
from identify.section.robust_mean import MAD_TO_SIGMA

FEWEST = 4  # students within a group, and outside of it: fewer show no pattern
# Residuals count as no further off than so many standard deviations. Huber, P. J. Ann. Math. Stat.
# 1964, 35, 73; at 2.5 a normal lot loses 2 % of its efficiency.
_CLIPPED = 2.5
_STEPS = 4  # of an estimate made better; each leaves a few hundredths of what was wrong


@dataclass(frozen=True)
class Effects:
    """What each group is off by.

    Parameters
    ----------
    size : array, shape (groups,)
        Group against the others, in the unit of the values; NaN for a group that is too small, or
        has nobody to be compared with.
    uncertainty : array, shape (groups,)
    degrees : float
        Of freedom.
    students : array of int, shape (groups,)
    """

    size: Array
    uncertainty: Array
    degrees: float
    students: NDArray[np.int64]

    @property
    def strength(self) -> Array:
        """Effects in standard uncertainties, zero where there is none, shape (groups,)."""
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.nan_to_num(np.abs(self.size) / self.uncertainty)

    @property
    def tested(self) -> int:
        """Number of groups that could be tested."""
        return int(np.isfinite(self.size).sum())

    def limit(self, chance: float) -> float:
        """Return the strength that is exceeded by chance with this probability, two-sided."""
        return student_t_quantile(max(self.degrees, 1.0), 1.0 - 0.5 * chance)


def centered(values: Array, bottle: NDArray[np.int64]) -> Array:
    """Return values less the median of their bottle; NaN stays."""
    found = np.full(len(values), np.nan)
    for one in np.unique(bottle):
        places = np.flatnonzero((bottle == one) & np.isfinite(values))
        if len(places):
            found[places] = values[places] - np.median(values[places])
    return found


def effects(
    values: Array,
    bottle: NDArray[np.int64],
    student: NDArray[np.int64],
    codes: NDArray[np.int64],
    groups: int,
) -> Effects:
    """Compare each group with the others, bottle by bottle.

    Parameters
    ----------
    values : array, shape (trials,)
        Residuals, less the median of their bottle; NaN is left out.
    bottle, student : array of int, shape (trials,)
    codes : array of int, shape (trials,)
        Group of each, -1 for none.
    groups : int

    Returns
    -------
    Effects
        The trials of one student in one group count as one value. A bottle all of whose students
        are in the group, or none, says nothing of it.
    """
    known = np.flatnonzero(np.isfinite(values) & (codes >= 0))
    nothing = np.full(groups, np.nan)
    if not len(known):
        return Effects(nothing, nothing, 0.0, np.zeros(groups, dtype=np.int64))
    pairs, unit = np.unique(
        np.stack([student[known], codes[known], bottle[known]]), axis=1, return_inverse=True
    )
    unit = unit.ravel()
    _, of_group, of_bottle = pairs
    means = np.bincount(unit, values[known]) / np.bincount(unit)
    sigma = max(MAD_TO_SIGMA * float(np.median(np.abs(means))), 1e-9)
    clipped = np.clip(means, -_CLIPPED * sigma, _CLIPPED * sigma)
    _, of_bottle = np.unique(of_bottle, return_inverse=True)
    bottles = int(of_bottle.max()) + 1
    counts, sums = (np.zeros((bottles, groups)) for _ in range(2))
    np.add.at(counts, (of_bottle, of_group), 1.0)
    np.add.at(sums, (of_bottle, of_group), clipped)
    others = counts.sum(axis=1, keepdims=True) - counts
    with np.errstate(invalid="ignore", divide="ignore"):
        difference = sums / counts - (sums.sum(axis=1, keepdims=True) - sums) / others
        weight = np.where((counts > 0) & (others > 0), counts * others / (counts + others), 0.0)
        total = weight.sum(axis=0)
        size = (weight * np.nan_to_num(difference)).sum(axis=0) / total
    inside, outside = (np.where(weight > 0, n, 0.0).sum(axis=0) for n in (counts, others))
    size = np.where((inside >= FEWEST) & (outside >= FEWEST), size, np.nan)
    degrees = float(len(means) - bottles - 1)
    within = clipped - (np.bincount(of_bottle, clipped) / np.bincount(of_bottle))[of_bottle]
    variance = float((within**2).sum()) / max(degrees, 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        uncertainty = np.sqrt(variance / total)
    everyone = np.unique(np.stack([student[known], codes[known]]), axis=1)[1]
    return Effects(size, uncertainty, degrees, np.bincount(everyone, minlength=groups))


def refined(
    values: Array,
    bottle: NDArray[np.int64],
    student: NDArray[np.int64],
    members: NDArray[np.bool_],
) -> float:
    """Return the size of one group's effect, its own values not taken for wild ones.

    Parameters
    ----------
    values : array, shape (trials,)
        Residuals; NaN is left out.
    bottle, student : array of int, shape (trials,)
    members : array of bool, shape (trials,)
        Of the group, which `effects` could test.

    Notes
    -----
    Starts from the difference of the medians, and goes on with Huber's estimate of what is left.
    """
    beside = centered(values, bottle)
    size = float(np.nanmedian(beside[members]) - np.nanmedian(beside[~members]))
    for _ in range(_STEPS):
        left = centered(values - np.where(members, size, 0.0), bottle)
        size += float(effects(left, bottle, student, members.astype(np.int64), 2).size[1])
    return size
