"""How several trials agree: mean, scatter, outliers."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
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
