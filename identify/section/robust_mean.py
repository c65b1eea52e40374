"""The middle of many students' values, of which some are wrong."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from identify.notebook.statistics import student_t_quantile
from identify.observables.comparison import Array

# Turns the median absolute deviation of normal values into their standard deviation.
MAD_TO_SIGMA = 1.4826
# Beyond this many standard deviations a value is not one of the many: of a hundred sound ones,
# three in ten lots lose one.
_APART = 3.0
# What is known of the spread before anybody is looked at weighs as much as this many students.
_EXPECTED_WEIGHT = 2.0


@dataclass(frozen=True)
class Middle:
    """Where values of several students lie, those left out that do not agree.

    Parameters
    ----------
    value : float
        Mean of the values that agree; NaN where there is none.
    spread : float
        Standard deviation from student to student.
    used : array of bool, shape (students,)
    values : array, shape (students,)
        All of them.
    """

    value: float
    spread: float
    used: NDArray[np.bool_]
    values: Array

    @property
    def count(self) -> int:
        """Number of values that agree."""
        return int(self.used.sum())

    @property
    def width(self) -> float:
        """Standard deviation of all values by their median distance from the median."""
        known = self.values[np.isfinite(self.values)]
        return width_of(known) if len(known) else 0.0

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty of the mean, what all of them share not included."""
        return self.spread / sqrt(max(self.count, 1))

    def bound(self, shared: float, chance: float) -> float:
        """Return what the middle is off by with less than this chance, two-sided.

        Parameters
        ----------
        shared : float
            Standard uncertainty that the values have in common.
        chance : float
        """
        degrees = max(self.count - 1, 0) + _EXPECTED_WEIGHT
        own = student_t_quantile(degrees, 1.0 - 0.5 * chance) * self.uncertainty
        common = student_t_quantile(float("inf"), 1.0 - 0.5 * chance) * shared
        return hypot(own, common)


def middle(values: Array, usual: float, doubted: NDArray[np.bool_] | None = None) -> Middle:
    """Return the middle of values.

    Parameters
    ----------
    values : array, shape (students,)
        NaN where a student has none.
    usual : float
        Standard deviation that such values have, for what a few of them cannot tell: the spread
        starts from it with the weight of two students.
    doubted : array of bool, shape (students,), optional
        Left out from the start.

    Examples
    --------
    >>> found = middle(np.array([58.1, 58.3, 57.9, 58.0, 70.0]), 0.2)
    >>> round(found.value, 2), found.used.tolist()
    (58.08, [True, True, True, True, False])
    """
    usable = np.isfinite(values)
    if doubted is not None:
        usable &= ~doubted
    if not usable.any():
        return Middle(float("nan"), usual, usable, values)
    off = np.abs(values - np.median(values[usable]))
    # With few values half of them may agree to any number of digits: no narrower than usual ones.
    width = max(MAD_TO_SIGMA * float(np.median(off[usable])), 0.4 * usual)
    used = usable & (off <= _APART * width)
    kept = values[used]
    mean = float(kept.mean())
    squares = float(((kept - mean) ** 2).sum()) + _EXPECTED_WEIGHT * usual**2
    return Middle(mean, sqrt(squares / (len(kept) - 1 + _EXPECTED_WEIGHT)), used, values)


def width_of(values: Array) -> float:
    """Return the standard deviation of values by their median distance from the median."""
    return MAD_TO_SIGMA * float(np.median(np.abs(values - np.median(values))))


@dataclass(frozen=True)
class Clusters:
    """Values that lie in two places.

    Parameters
    ----------
    upper : array of bool, shape (students,)
        Those of the higher place.
    lower : array of bool, shape (students,)
    apart : float
        Distance of the two means.
    """

    upper: NDArray[np.bool_]
    lower: NDArray[np.bool_]
    apart: float


# Distance of two clusters in standard deviations within them, the smaller of which has a quarter
# of the students and no fewer than four; so many of a hundred at either end count as no further out
# than the next, for some are wrong. The best split of one normal lot of n values is further apart
# than 5 + 450/n^2 in less than 1 of 1,000 lots: 20,000 drawn of each of n = 8 to 50.
_LEAST_SHARE, _FEWEST = 0.25, 4
_ENDS = 0.06
_SPLIT, _SPLIT_OF_FEW = 5.0, 450.0
# Another liquid's values lie as close together as the first one's; slips do not.
_LOOSE = 1.5


def two_places(values: Array) -> Clusters | None:
    """Return two clusters of values, None where they lie in one place.

    Parameters
    ----------
    values : array, shape (students,)
        NaN where a student has none.

    Examples
    --------
    >>> one = np.linspace(-0.01, 0.01, 11)
    >>> two_places(one) is None
    True
    >>> found = two_places(np.concatenate([one, one[2:8] + 0.12]))
    >>> round(found.apart, 3), int(found.upper.sum())
    (0.118, 6)
    """
    finite = np.flatnonzero(np.isfinite(values))
    order = finite[np.argsort(values[finite], kind="stable")]
    count = len(order)
    least = max(_FEWEST, int(np.ceil(_LEAST_SHARE * count)))
    if count < 2 * least:
        return None
    middle_value = float(np.median(values[order]))
    ends = int(_ENDS * count)
    ordered = values[order][np.clip(np.arange(count), ends, count - 1 - ends)] - middle_value
    sums, squares = np.cumsum(ordered), np.cumsum(ordered**2)
    below = np.arange(least, count - least + 1)
    above = count - below
    low, high = sums[below - 1], sums[-1] - sums[below - 1]
    within = squares[-1] - low**2 / below - high**2 / above
    best = int(np.argmin(within))
    apart = float(high[best] / above[best] - low[best] / below[best])
    sigma = sqrt(max(float(within[best]), 0.0) / (count - 2))
    if apart < (_SPLIT + _SPLIT_OF_FEW / count**2) * max(sigma, 1e-12):
        return None
    parts = np.split(values[order], [int(below[best])])
    spreads = sorted((len(part), width_of(part)) for part in parts)
    if spreads[0][1] > _LOOSE * spreads[1][1]:
        return None
    upper, lower = (np.zeros(len(values), dtype=bool) for _ in range(2))
    lower[order[: below[best]]] = True
    upper[order[below[best] :]] = True
    return Clusters(upper, lower, apart)
