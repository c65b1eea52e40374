"""Arrays by what they hold."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
"""Numbers: of candidates, trials or temperatures, NaN where one is not known."""
Rows = NDArray[np.int64]
"""Numbers of rows in a table of candidates, from zero."""


def in_quadrature(one: Array | float, other: Array | float) -> Array:
    """Return the root of the sum of two squares, as uncertainties add up.

    A square root takes a tenth of the time of `numpy.hypot`, which guards against numbers whose
    squares are too large.

    Examples
    --------
    >>> in_quadrature(np.array([3.0, 5.0]), np.array([4.0, 12.0]))
    array([ 5., 13.])
    """
    return np.asarray(np.sqrt(np.square(one) + np.square(other)))
