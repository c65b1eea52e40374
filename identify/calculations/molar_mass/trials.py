"""How several trials agree: mean, scatter, outliers, and the weights that pool them."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt
from statistics import mean, stdev
from typing import Any

import numpy as np

from identify.notebook.serializing import plain, rounded
from identify.notebook.statistics import (
    dixon_critical,
    dixon_ratio,
    grubbs_critical,
    grubbs_statistic,
    student_t_quantile,
)
from identify.physics.arrays import Array

_GRUBBS_SOURCE = "Grubbs and Beck, Technometrics 1972, 14, 847"
_DIXON_SOURCE = "Rorabacher, Anal. Chem. 1991, 63, 139"
_STEPS = 60  # halvings of the interval in which the common scatter lies


@dataclass(frozen=True)
class OutlierTest:
    """Whether the most distant trial is an outlier, two-sided at 5 %."""

    test: str
    statistic: float
    critical: float
    source: str

    @property
    def outlier(self) -> bool:
        """Whether chance alone would rarely put a trial so far away."""
        return self.statistic > self.critical

    def to_dict(self) -> dict[str, Any]:
        """Return the test as plain data."""
        return {
            "test": self.test,
            "statistic": rounded(self.statistic, 4),
            "critical": rounded(self.critical, 4),
            "outlier": self.outlier,
            "source": self.source,
        }


@dataclass(frozen=True)
class Agreement:
    """What the trials alone say, without any knowledge of the instruments.

    Parameters
    ----------
    mean, standard_deviation : float
        In g/mol.
    confidence : float
        Half-width of the 95 % confidence interval of the mean, by Student's t [g/mol].
    farthest : int
        Place of the trial farthest from the mean, from 0.
    tests : tuple of OutlierTest
        Grubbs's first, which decides; empty for two trials: neither can be the outlier.
    """

    mean: float
    standard_deviation: float
    confidence: float
    farthest: int
    tests: tuple[OutlierTest, ...]

    @classmethod
    def of(cls, values: Array) -> Agreement | None:
        """Compare molar masses, shape (k,) [g/mol]; None for a single one."""
        if len(values) < 2:
            return None
        listed = [float(value) for value in values]
        center, spread = mean(listed), stdev(listed)
        half = student_t_quantile(len(listed) - 1) * spread / sqrt(len(listed))
        farthest = int(np.argmax(np.abs(values - center)))
        return cls(center, spread, half, farthest, _tests(listed))

    @property
    def outlier(self) -> bool:
        """Whether the farthest trial is an outlier, by Grubbs's test alone.

        ISO 5725-2 recommends it; of two tests at 5 %, one or the other errs more often.
        """
        return bool(self.tests) and self.tests[0].outlier

    def to_dict(self) -> dict[str, Any]:
        """Return the agreement as plain data."""
        return {
            "mean": rounded(self.mean, 4),
            "standard_deviation": rounded(self.standard_deviation, 4),
            "confidence_half_width": rounded(self.confidence, 4),
            "confidence_level": 0.95,
            "farthest_trial": self.farthest + 1,
            "outlier": self.outlier,
            "outlier_tests": plain(self.tests),
        }


@dataclass(frozen=True)
class TrialWeights:
    """The weights of k trials, and what their scatter makes of the pooled value.

    Parameters
    ----------
    weight : array, shape (k,)
        Adds up to one.
    scatter : float
        Standard uncertainty of the pooled value by the trials' scatter [g/mol], zero for one trial.
    degrees : float
        Of freedom of that.
    """

    weight: Array
    scatter: float
    degrees: float

    @classmethod
    def of(cls, values: Array, own: Array) -> TrialWeights:
        """Weigh trials by their own uncertainty and by the scatter that all have in common.

        Parameters
        ----------
        values : array, shape (k,)
            Molar masses [g/mol].
        own : array, shape (k,)
            Standard uncertainty of each from readings of its own [g/mol].

        References
        ----------
        Paule, R. C.; Mandel, J. J. Res. Natl. Bur. Stand. 1982, 87, 377: the common variance is
        that which makes the weighted squares as large as they should be.
        """
        count = len(values)
        if count == 1:
            return cls(np.ones(1), 0.0, inf)
        variance = np.maximum(own * own, 1e-12 * float(np.max(values * values)))
        common = _common_variance(values, variance)
        inverse = 1.0 / (variance + common)
        weight = inverse / inverse.sum()
        off = values - float(weight @ values)
        squared = float(inverse @ (off * off)) / ((count - 1) * float(inverse.sum()))
        return cls(weight, sqrt(squared), count - 1.0)


def _common_variance(values: Array, variance: Array) -> float:
    def excess(common: float) -> float:
        inverse = 1.0 / (variance + common)
        off = values - float(inverse @ values) / float(inverse.sum())
        return float(inverse @ (off * off)) - (len(values) - 1)

    low, high = 0.0, float(np.var(values, ddof=1)) + float(variance.max())
    if excess(low) <= 0.0:
        return 0.0
    while excess(high) > 0.0:
        high *= 2.0
    for _ in range(_STEPS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if excess(middle) > 0.0 else (low, middle)
    return 0.5 * (low + high)


def _tests(values: list[float]) -> tuple[OutlierTest, ...]:
    if len(values) < 3:
        return ()
    count = len(values)
    tests = [
        OutlierTest("Grubbs", grubbs_statistic(values), grubbs_critical(count), _GRUBBS_SOURCE)
    ]
    critical = dixon_critical(count)
    if critical is not None:
        tests.append(OutlierTest("Dixon", dixon_ratio(values), critical, _DIXON_SOURCE))
    return tuple(tests)
