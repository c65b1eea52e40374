"""The mean of many students' values, of which some are wrong."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, inf, nan, sqrt

import numpy as np
from numpy.typing import NDArray

from identify.notebook.statistics import student_t_quantile
from identify.physics.arrays import Array

# Turns the median absolute deviation of normal values into their standard deviation.
_MAD_TO_SIGMA = 1.4826
# Standard deviations beyond which a value is left out: three in ten lots of a hundred sound values
# lose one.
_OUTLYING = 3.0
# No value is left out for less than three times this part of the usual spread: half of a few values
# may agree to any digit by chance.
_LEAST_SPREAD = 0.4
# What the students of a section have in common, as a part of what one run is good to (half its
# tolerance): barometer, bath, kind of thermometer, the manner in which all were told to dry the
# flask. Of molar masses, at the usual tolerance of 5 %, it is 1 %: a barometer off by 5 mmHg, or a
# bath read 2 K wrong, make 0.7 % each. Common practice.
_SHARED_PART = 0.4
# What is known of the spread beforehand weighs as much as this many students.
_EXPECTED_WEIGHT = 2.0


@dataclass(frozen=True)
class RobustMean:
    """The mean of several students' values, those left out that do not agree.

    Parameters
    ----------
    value : float
        NaN where there is no value.
    spread : float
        Standard deviation from student to student.
    used : array of bool, shape (students,)
        Whose values agree.
    values : array, shape (students,)
        All of them.
    usual : float
        Standard deviation that such values have.
    """

    value: float
    spread: float
    used: NDArray[np.bool_]
    values: Array
    usual: float

    @classmethod
    def of(
        cls, values: Array, usual: float, doubted: NDArray[np.bool_] | None = None
    ) -> RobustMean:
        """Take the mean of values.

        Parameters
        ----------
        values : array, shape (students,)
            NaN where a student has none.
        usual : float
            Standard deviation that such values have. The spread starts from it with the weight of
            two students, for a few cannot tell it.
        doubted : array of bool, shape (students,), optional
            Left out from the start.

        Examples
        --------
        >>> found = RobustMean.of(np.array([58.1, 58.3, 57.9, 58.0, 70.0]), 0.2)
        >>> round(found.value, 2), found.used.tolist()
        (58.08, [True, True, True, True, False])
        """
        usable = np.isfinite(values)
        if doubted is not None:
            usable &= ~doubted
        if not usable.any():
            return cls(nan, usual, usable, values, usual)
        off = np.abs(values - np.median(values[usable]))
        used = usable & (off <= _OUTLYING * max(robust_sigma(off[usable]), _LEAST_SPREAD * usual))
        kept = values[used]
        mean = float(kept.mean())
        squares = float(((kept - mean) ** 2).sum()) + _EXPECTED_WEIGHT * usual**2
        spread = sqrt(squares / (len(kept) - 1 + _EXPECTED_WEIGHT))
        return cls(mean, spread, used, values, usual)

    @property
    def count(self) -> int:
        """Number of values that agree."""
        return int(self.used.sum())

    @property
    def _own_and_shared(self) -> tuple[float, float]:
        """Standard uncertainties of the mean: from the students' own errors, and the shared one."""
        return self.spread / sqrt(max(self.count, 1)), _SHARED_PART * self.usual

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty of the mean, with what the students have in common."""
        return hypot(*self._own_and_shared)

    def bound(self, chance: float) -> float:
        """Return what the mean is off by with less than this chance, two-sided."""
        own, shared = self._own_and_shared
        degrees = max(self.count - 1, 0) + _EXPECTED_WEIGHT
        return hypot(
            own * student_t_quantile(degrees, 1.0 - 0.5 * chance),
            shared * student_t_quantile(inf, 1.0 - 0.5 * chance),
        )


def robust_sigma(deviations: Array) -> float:
    """Return the standard deviation of normal deviations by their median size.

    Examples
    --------
    >>> round(robust_sigma(np.array([-0.2, 0.1, -0.1, 0.2, 30.0])), 2)
    0.3
    """
    return _MAD_TO_SIGMA * float(np.median(np.abs(deviations)))
