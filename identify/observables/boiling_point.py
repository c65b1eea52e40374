"""The boiling point: read by the student, or off the bottle's card."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp, hypot, sqrt
from types import MappingProxyType

import numpy as np

from identify.notebook.statistics import deviation_above, normal_above
from identify.notebook.usual import OWN_BOILING_POINT
from identify.observables.error.comparison import ROOT_TWO_PI, Comparison, normal
from identify.observables.observable import Observable
from identify.physics.arrays import Array, Rows, once

# Common practice: one to a few slips in a hundred entries; liquids for this experiment lie well
# inside the spread of a compound like none in the table.
BOILING_POINT = Observable(
    name="boiling_point",
    words="boiling point",
    unit="C",
    bench_unit="K",
    tolerance=2.0,
    tolerance_unit="C",
    decimals=1,
    headings="boiling point temperature? normal? range?, boiling temperature normal? range?, "
    "boiling range, boiling *, boiling at *, temperature b *",
    gross=0.02,
    gross_scale=25.0,
    bandwidth=8.0,
    least=0.2,
    usual=373.15,
    spread=100.0,
    allowance=10.0,
)


@dataclass(frozen=True)
class BoilingPointError:
    """How far a boiling point is off, whoever read it: a normal core, and a broad part around it.

    Parameters
    ----------
    broad : float
        Share of the broad part: Student's t with two degrees of freedom.
    scale : float
        Of that [K].
    least : float
        The core's standard deviation is no less than this [K].
    mark : float
        Deviations up to twice this count as agreement, where the reading is not known better [K].
    """

    broad: float
    scale: float
    least: float = 0.0
    mark: float = 0.0


# Of a card: what is printed differs by the source, the purity and the year. Of boiling points that
# students read, half are more than 5.6 K off.
ERRORS: Mapping[str, BoilingPointError] = MappingProxyType(
    {"": BoilingPointError(0.18, 4.0), "own": BoilingPointError(0.75, 5.0, 2.0, OWN_BOILING_POINT)}
)
"""By who read it: as on a card where nothing is said, and ``"own"`` for the student."""


@dataclass(frozen=True)
class BoilingPointComparison(Comparison):
    """A boiling point beside each candidate's, under the error that cards and students make.

    Parameters
    ----------
    broad : float
        Share of the broad part.
    scale : array, shape (n,)
        Of that [K].
    """

    broad: float
    scale: Array

    def core(self) -> Array:
        """Return the density of the reading where nothing gross happened, shape (n,)."""
        density = normal(self.deviation, self.sigma)
        density *= 1.0 - self.broad
        density += self.broad * _student_2(self.deviation, self.scale)
        return density

    @once
    def kernel(self) -> Array:
        """Return the density around each candidate's place, shape (n,) [1 / unit].

        Student's t with two degrees of freedom: as liquids of the built-in table boil around their
        isomers there, each left out in turn.
        """
        return _student_2(self.deviation, self.bandwidth)

    def parts(self, rows: Rows) -> Mapping[str, Array]:
        """Return what the broad part has of some candidates' likelihood, by its slip's code."""
        deviation = self.deviation[rows]
        broad = (1.0 - self.gross) * self.broad * _student_2(deviation, self.scale[rows])
        is_high = deviation > 0.0
        return {"superheated": broad * is_high, "thread-uncorrected": broad * ~is_high}

    @once
    def peak(self) -> Array:
        """Return the highest density that a sound reading has of each candidate [1 / unit]."""
        sharp = (1.0 - self.broad) / (ROOT_TWO_PI * self.sigma)
        return np.asarray(sharp + self.broad / (sqrt(8.0) * self.scale))

    def in_standard_deviations(self, row: int) -> float:
        """Return a deviation as that of a normal error that is as far out."""
        size = abs(float(self.deviation[row]))
        sigma = float(np.broadcast_to(self.sigma, self.deviation.shape)[row])
        scaled = size / float(self.scale[row])
        above = (1.0 - self.broad) * normal_above(size / sigma)
        above += self.broad * 0.5 * (1.0 - scaled / sqrt(2.0 + scaled * scaled))
        return float(np.sign(self.deviation[row])) * deviation_above(above)


def _student_2(deviation: Array, scale: Array | float) -> Array:
    """Return the density of Student's t with two degrees of freedom, elementwise.

    Examples
    --------
    >>> _student_2(np.array([0.0, 4.0]), 4.0).round(4)
    array([0.0884, 0.0481])
    """
    squares = deviation / scale
    np.multiply(squares, squares, out=squares)
    squares += 2.0
    return np.asarray(1.0 / (scale * squares * np.sqrt(squares)))


def compare_boiling_point(
    observed: float,
    expected: Array,
    sigma: float,
    expected_u: Array,
    error: BoilingPointError = ERRORS[""],
) -> BoilingPointComparison:
    """Compare a boiling point with each candidate's at the same pressure.

    Parameters
    ----------
    observed, sigma : float
        Reading and its standard uncertainty [K].
    expected, expected_u : array, shape (n,)
        The candidates' boiling points and their standard uncertainties [K].
    error : BoilingPointError
        By who read it.
    """
    deviation = observed - expected
    mark, sigma = max(sigma, error.mark), max(sigma, error.least)
    own, squares = sigma * sigma, expected_u * expected_u
    allowance = np.minimum(squares, BOILING_POINT.allowance * BOILING_POINT.allowance)
    gross_density = np.exp(np.abs(deviation) * (-1.0 / BOILING_POINT.gross_scale))
    gross_density /= 2.0 * BOILING_POINT.gross_scale
    return BoilingPointComparison(
        deviation=deviation,
        sigma=np.sqrt(own + squares),
        half_width=2.0 * np.sqrt(mark * mark + allowance),
        gross=BOILING_POINT.gross,
        gross_density=gross_density,
        bandwidth=hypot(sigma, error.broad * error.scale, BOILING_POINT.bandwidth),
        any_density=exp(-abs(observed - BOILING_POINT.usual) / BOILING_POINT.spread)
        / (2.0 * BOILING_POINT.spread),
        broad=error.broad,
        scale=np.sqrt(error.scale * error.scale + squares),
    )
