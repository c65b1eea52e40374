"""What chance alone does to readings, and the digits that it leaves them."""

from __future__ import annotations

from math import floor, isfinite, log10, sqrt
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


def justified(value: float, uncertainty: float) -> str:
    """Return a value with the digits that its standard uncertainty justifies.

    Examples
    --------
    >>> justified(52.1432, 0.1321), justified(52.1432, 0.6), justified(1234.0, 45.0)
    ('52.14 ± 0.13', '52.1 ± 0.6', '1234 ± 45')
    """
    if not (isfinite(uncertainty) and uncertainty > 0.0):
        return f"{value:.6g}"
    leading = floor(log10(uncertainty))
    # Two digits of an uncertainty that begins with 1 or 2, else one: the trade's usual rounding.
    digits = max(1 - leading if uncertainty / 10.0**leading < 2.95 else -leading, 0)
    return f"{value:.{digits}f} ± {uncertainty:.{digits}f}"
