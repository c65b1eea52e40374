"""What chance alone does to readings."""

from __future__ import annotations

from math import sqrt
from statistics import NormalDist


def chi_squared_quantile(degrees: int, probability: float = 0.99) -> float:
    """Return a quantile of the chi-squared distribution, within 3 % for probabilities above 0.9.

    References
    ----------
    Wilson, E. B.; Hilferty, M. M. Proc. Natl. Acad. Sci. 1931, 17, 684.

    Examples
    --------
    The tables have 6.63, 9.21 and 23.21:

    >>> [round(chi_squared_quantile(degrees), 1) for degrees in (1, 2, 10)]
    [6.6, 9.2, 23.2]
    """
    if degrees == 1:
        return NormalDist().inv_cdf(0.5 + 0.5 * probability) ** 2
    ninth = 2.0 / (9.0 * degrees)
    return float(degrees * (1.0 - ninth + NormalDist().inv_cdf(probability) * sqrt(ninth)) ** 3)
