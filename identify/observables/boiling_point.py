"""The boiling point: read by the student, or off the bottle's card."""

from __future__ import annotations

from math import exp

import numpy as np

from identify.observables.comparison import Comparison
from identify.observables.observable import Observable
from identify.physics.arrays import Array

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
    bandwidth=15.0,
    least=0.2,
    usual=373.15,
    spread=100.0,
    allowance=10.0,
)


def compare_boiling_point(
    observed: float, expected: Array, sigma: float, expected_u: Array
) -> Comparison:
    """Compare a boiling point with each candidate's at the same pressure.

    Parameters
    ----------
    observed, sigma : float
        Reading and its standard uncertainty [K].
    expected, expected_u : array, shape (n,)
        The candidates' boiling points and their standard uncertainties [K].
    """
    deviation = observed - expected
    # Square roots take a tenth of the time of hypot.
    own, squares = sigma * sigma, expected_u * expected_u
    allowance = np.minimum(squares, BOILING_POINT.allowance * BOILING_POINT.allowance)
    gross_density = np.exp(np.abs(deviation) * (-1.0 / BOILING_POINT.gross_scale))
    gross_density /= 2.0 * BOILING_POINT.gross_scale
    return Comparison(
        deviation=deviation,
        sigma=np.sqrt(own + squares),
        half_width=2.0 * np.sqrt(own + allowance),
        gross=BOILING_POINT.gross,
        gross_density=gross_density,
        bandwidth=np.hypot(sigma, BOILING_POINT.bandwidth),
        any_density=exp(-abs(observed - BOILING_POINT.usual) / BOILING_POINT.spread)
        / (2.0 * BOILING_POINT.spread),
    )
