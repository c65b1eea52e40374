"""The boiling point: read by the student, or off the bottle's card."""

from __future__ import annotations

from math import exp

import numpy as np

from identify.observables.comparison import Array, Comparison
from identify.observables.observable import Observable

BOILING_POINT = Observable(
    name="boiling_point",
    words="boiling point",
    unit="C",
    bench_unit="K",
    tolerance=2.0,
    tolerance_unit="C",
    decimals=1,
    headings="b p, boiling, boiling point t, boiling pt, boiling t, boiling temp, "
    "boiling temperature, bp, t boil",
)

# Chance and scale [K] of a gross error. Common practice: one to a few slips in a hundred entries.
GROSS_BOILING_POINT = 0.02
GROSS_BOILING_SCALE = 25.0
# Bandwidth [K] of "a compound like those in the table, but not in it".
KERNEL_BOILING_POINT = 15.0
# "A compound like none in the table": median and scale [K]. Common practice: liquids for this
# experiment lie well inside.
ANY_BOILING_POINT, ANY_BOILING_SCALE = 373.15, 100.0
# A stated uncertainty below this [K] is not believed: the purity of the liquid and the rounding
# on the card limit a reading then.
LEAST_BOILING_POINT = 0.2
# A candidate whose boiling point is known worse than this [K] does not agree with everything.
LARGEST_ALLOWANCE = 10.0


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
    allowance = np.minimum(squares, LARGEST_ALLOWANCE * LARGEST_ALLOWANCE)
    gross_density = np.exp(np.abs(deviation) * (-1.0 / GROSS_BOILING_SCALE))
    gross_density /= 2.0 * GROSS_BOILING_SCALE
    return Comparison(
        deviation=deviation,
        sigma=np.sqrt(own + squares),
        half_width=2.0 * np.sqrt(own + allowance),
        gross=GROSS_BOILING_POINT,
        gross_density=gross_density,
        bandwidth=np.hypot(sigma, KERNEL_BOILING_POINT),
        any_density=exp(-abs(observed - ANY_BOILING_POINT) / ANY_BOILING_SCALE)
        / (2.0 * ANY_BOILING_SCALE),
    )
