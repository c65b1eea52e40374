"""Whether the students of a bottle agree: in one group, in two, or spread widely."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from identify.compounds.table import CandidateTable
from identify.notebook.findings import Finding
from identify.physics.arrays import Array
from identify.section.bottles.pooling import PooledBottle
from identify.section.robust_mean import robust_sigma

# Distance of two groups that makes them two liquids, and spread that is wide, both in standard
# uncertainties of one run.
_MIN_APART, _MIN_WIDE = 2.0, 2.0
# Where one value of ten is a slip, the median distance from the median of ten and more comes out
# larger by twice 1 + 3 / sqrt(n) in less than 1 of 1,000 lots: 20,000 drawn of each of n = 10 to
# 80, the slips up to thirty standard deviations off.
_WIDER_BY_CHANCE, _MIN_STUDENTS = 3.0, 10

# The smaller of two groups has a quarter of the students, and four at least. The outermost 6 % at
# either end are clipped, for some are wrong. Their distance is in standard deviations within them:
# the best split of one normal lot of n values is further apart than 5 + 450/n^2 in less than 1 of
# 1,000 lots, 20,000 drawn of each of n = 8 to 50.
_MIN_SHARE, _MIN_IN_GROUP = 0.25, 4
_CLIPPED_SHARE = 0.06
_SPLIT, _SPLIT_OF_FEW = 5.0, 450.0
# Another liquid's values lie as close together as the first one's; slips do not.
_MAX_RATIO_OF_SPREADS = 1.5


def spread_findings(pooled: PooledBottle, table: CandidateTable) -> Iterator[Finding]:
    """Yield whether the students of a bottle disagree with each other."""
    groups = two_groups(pooled.mean.values)
    if groups is not None and groups.apart >= _MIN_APART * pooled.mean.usual:
        yield _two_liquids(pooled, groups, table)
    else:
        yield from _wide(pooled)


def _two_liquids(pooled: PooledBottle, groups: _TwoGroups, table: CandidateTable) -> Finding:
    molar_mass = float(table.number("molar_mass")[pooled.reference])
    (few, low), (many, high) = (
        (int(group.sum()), molar_mass * float(np.exp(np.nanmean(pooled.mean.values[group]))))
        for group in (groups.lower, groups.upper)
    )
    return Finding(
        "students-disagree",
        "warning",
        f"The students of bottle {pooled.bottle.label} fall into two groups: {few} with "
        f"{low:.1f} g/mol and {many} with {high:.1f} g/mol (with the corrections of "
        f"{table.text('name')[pooled.reference]}), with next to nobody between them.",
        "Some of them probably had another bottle, or it was filled up with another liquid in "
        "between: compare the days and the places at which they worked.",
        {"lower_g_per_mol": low, "upper_g_per_mol": high, "lower": few, "upper": many},
    )


def _wide(pooled: PooledBottle) -> Iterator[Finding]:
    known = pooled.mean.values[np.isfinite(pooled.mean.values)]
    if len(known) < _MIN_STUDENTS:
        return
    spread = robust_sigma(known - np.median(known))
    if spread <= _MIN_WIDE * pooled.mean.usual * (1.0 + _WIDER_BY_CHANCE / sqrt(len(known))):
        return
    yield Finding(
        "students-disagree",
        "warning",
        f"The molar masses of bottle {pooled.bottle.label} spread by {100.0 * spread:.1f} % from "
        f"student to student, where {100.0 * pooled.mean.usual:.1f} % is what one run is good to.",
        "Look whether the liquid boils off in the bath, whether it is one liquid, and how the "
        "flasks were dried.",
        {"spread_percent": 100.0 * spread, "students": float(len(known))},
    )


@dataclass(frozen=True)
class _TwoGroups:
    """Values that lie in two places.

    Parameters
    ----------
    lower, upper : array of bool, shape (students,)
        Whose value lies in which; in neither where there is none.
    apart : float
        Distance of the two means.
    """

    lower: NDArray[np.bool_]
    upper: NDArray[np.bool_]
    apart: float


def two_groups(values: Array) -> _TwoGroups | None:
    """Return two groups of values, None where they lie in one place.

    Parameters
    ----------
    values : array, shape (students,)
        NaN where a student has none.

    Examples
    --------
    >>> one = np.linspace(-0.01, 0.01, 11)
    >>> two_groups(one) is None
    True
    >>> found = two_groups(np.concatenate([one, one[2:8] + 0.12]))
    >>> round(found.apart, 3), int(found.upper.sum())
    (0.118, 6)
    """
    finite = np.flatnonzero(np.isfinite(values))
    order = finite[np.argsort(values[finite], kind="stable")]
    count = len(order)
    least = max(_MIN_IN_GROUP, int(np.ceil(_MIN_SHARE * count)))
    if count < 2 * least:
        return None
    clipped = int(_CLIPPED_SHARE * count)
    places = np.clip(np.arange(count), clipped, count - 1 - clipped)
    ordered = values[order][places] - float(np.median(values[order]))
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
    groups = np.split(order, [int(below[best])])
    (_, of_fewer), (_, of_more) = sorted(
        (len(group), robust_sigma(values[group] - np.median(values[group]))) for group in groups
    )
    if of_fewer > _MAX_RATIO_OF_SPREADS * of_more:
        return None
    lower, upper = (np.isin(np.arange(len(values)), group) for group in groups)
    return _TwoGroups(lower, upper, apart)
