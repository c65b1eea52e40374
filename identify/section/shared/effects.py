"""How far the students of a group are off from the others of the same bottles."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from identify.notebook.statistics import student_t_quantile
from identify.physics.arrays import Array
from identify.section.robust_mean import robust_sigma
from identify.section.shared.trials import Trials

MIN_STUDENTS = 4  # within a group, and outside of it: fewer show no pattern
# Residuals are clipped at so many standard deviations. Huber, P. J. Ann. Math. Stat. 1964, 35, 73;
# at 2.5 a normal lot loses 2 % of its efficiency.
_CLIPPED = 2.5
_LEAST_SIGMA = 1e-9  # of values that all agree
_STEPS = 4  # of refinement; each leaves a few hundredths of the error


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
    """

    size: Array
    uncertainty: Array
    degrees: float

    @classmethod
    def of(cls, values: Array, trials: Trials, codes: NDArray[np.int64], groups: int) -> Effects:
        """Compare each group with the others, bottle by bottle.

        The trials of one student in one group count as one value. A bottle all of whose students
        are in the group, or none, says nothing of it.

        Parameters
        ----------
        values : array, shape (trials,)
            Residuals, less the median of their bottle; NaN is left out.
        trials : Trials
        codes : array of int, shape (trials,)
            Group of each, -1 for none.
        groups : int
        """
        known = np.flatnonzero(np.isfinite(values) & (codes >= 0))
        if not len(known):
            nothing = np.full(groups, np.nan)
            return cls(nothing, nothing, 0.0)
        means, group, bottle = _student_means(values, trials, codes, known)
        sigma = max(robust_sigma(means), _LEAST_SIGMA)
        clipped = np.clip(means, -_CLIPPED * sigma, _CLIPPED * sigma)
        bottles = int(bottle.max()) + 1
        counts, sums = (np.zeros((bottles, groups)) for _ in range(2))
        np.add.at(counts, (bottle, group), 1.0)
        np.add.at(sums, (bottle, group), clipped)
        others = counts.sum(axis=1, keepdims=True) - counts
        of_others = sums.sum(axis=1, keepdims=True) - sums
        degrees = float(len(means) - bottles - 1)
        within = clipped - (np.bincount(bottle, clipped) / np.bincount(bottle))[bottle]
        variance = float((within**2).sum()) / max(degrees, 1.0)
        with np.errstate(invalid="ignore", divide="ignore"):
            difference = sums / counts - of_others / others
            weight = np.where((counts > 0) & (others > 0), counts * others / (counts + others), 0.0)
            total = weight.sum(axis=0)
            size = (weight * np.nan_to_num(difference)).sum(axis=0) / total
            uncertainty = np.sqrt(variance / total)
        inside, outside = (np.where(weight > 0, n, 0.0).sum(axis=0) for n in (counts, others))
        enough = (inside >= MIN_STUDENTS) & (outside >= MIN_STUDENTS)
        return cls(np.where(enough, size, np.nan), uncertainty, degrees)

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


def _student_means(
    values: Array, trials: Trials, codes: NDArray[np.int64], known: NDArray[np.int64]
) -> tuple[Array, NDArray[np.int64], NDArray[np.int64]]:
    """Return each student's mean in each group and bottle, the group, and the bottle's number."""
    units, unit = np.unique(
        np.stack([trials.student[known], codes[known], trials.bottle[known]]),
        axis=1,
        return_inverse=True,
    )
    unit = unit.ravel()
    _, bottle = np.unique(units[2], return_inverse=True)
    return np.bincount(unit, values[known]) / np.bincount(unit), units[1], bottle


def scatter(values: Array, trials: Trials, members: NDArray[np.bool_]) -> float:
    """Return how far a group's students are from the others of their bottles.

    Parameters
    ----------
    values : array, shape (trials,)
        Residuals; NaN is left out.
    trials : Trials
    members : array of bool, shape (trials,)

    Returns
    -------
    float
        Half the sum of the squares in standard deviations, far ones clipped.
    """
    beside = centered(values, trials.bottle)
    known = np.flatnonzero(np.isfinite(beside))
    means, group, _ = _student_means(beside, trials, members.astype(np.int64), known)
    sigma = max(robust_sigma(means), _LEAST_SIGMA)
    of_group = means[group == 1]
    return 0.5 * float((np.minimum(np.abs(of_group) / sigma, _CLIPPED) ** 2).sum())


def centered(values: Array, bottle: NDArray[np.int64]) -> Array:
    """Return values less the median of their bottle; NaN stays."""
    found = np.full(len(values), np.nan)
    for one in np.unique(bottle):
        places = np.flatnonzero((bottle == one) & np.isfinite(values))
        if len(places):
            found[places] = values[places] - np.median(values[places])
    return found


def refined_effect(values: Array, trials: Trials, members: NDArray[np.bool_]) -> float:
    """Return the size of one group's effect, without clipping its values for being far off.

    Starts from the difference of the medians, and goes on with Huber's estimate of what is left.

    Parameters
    ----------
    values : array, shape (trials,)
        Residuals; NaN is left out.
    trials : Trials
    members : array of bool, shape (trials,)
        Of the group, which `Effects` could test.
    """
    beside = centered(values, trials.bottle)
    size = float(np.nanmedian(beside[members]) - np.nanmedian(beside[~members]))
    for _ in range(_STEPS):
        left = centered(values - np.where(members, size, 0.0), trials.bottle)
        size += float(Effects.of(left, trials, members.astype(np.int64), 2).size[1])
    return size
