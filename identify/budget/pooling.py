"""The weights that pool several trials."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt

import numpy as np

from identify.physics.arrays import Array

_STEPS = 60  # halvings of the interval in which the common scatter lies


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
