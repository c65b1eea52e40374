"""What chance alone does to readings, and the digits that it leaves them."""

from __future__ import annotations

from collections.abc import Sequence
from math import erfc, floor, isfinite, isinf, log10, sqrt
from statistics import NormalDist, mean, stdev

_LEAST_TAIL = 1e-15  # below it, one minus the chance is one


def normal_above(deviation: float) -> float:
    """Return the chance that a normal error is above so many standard deviations.

    Examples
    --------
    >>> round(normal_above(1.959964), 4)
    0.025
    """
    return 0.5 * erfc(deviation / sqrt(2.0))


def deviation_above(chance: float) -> float:
    """Return how many standard deviations a normal error is above with this chance, 8 at most.

    Examples
    --------
    >>> round(deviation_above(0.025), 2), round(deviation_above(0.0), 2)
    (1.96, 7.94)
    """
    return NormalDist().inv_cdf(1.0 - max(chance, _LEAST_TAIL))


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


def to_uncertainty(value: float, uncertainty: float) -> str:
    """Return a value with the digits that its standard uncertainty leaves it.

    Examples
    --------
    >>> to_uncertainty(52.1432, 0.1321), to_uncertainty(52.1432, 0.6), to_uncertainty(1234.0, 45.0)
    ('52.14 ± 0.13', '52.1 ± 0.6', '1234 ± 45')
    """
    if not (isfinite(uncertainty) and uncertainty > 0.0):
        return f"{value:.6g}"
    leading = floor(log10(uncertainty))
    # Two digits of an uncertainty that begins with 1 or 2, else one: the trade's usual rounding.
    digits = max(1 - leading if uncertainty / 10.0**leading < 2.95 else -leading, 0)
    return f"{value:.{digits}f} ± {uncertainty:.{digits}f}"


def with_digits_of(uncertainty: float, *values: float) -> list[str]:
    """Return values with the digits that a standard uncertainty leaves them.

    Examples
    --------
    >>> with_digits_of(3.9, 19.713, 41.2), with_digits_of(0.13, 51.886, 52.4)
    (['20', '41'], ['51.89', '52.40'])
    """
    return [to_uncertainty(value, uncertainty).split(" ")[0] for value in values]


def with_expanded(value: float, expanded: float) -> str:
    """Return a value with its expanded uncertainty, that to two digits at least.

    One digit would round the interval's half-width by up to a seventh.

    Examples
    --------
    >>> with_expanded(33.04, 3.3), with_expanded(52.143, 0.45), with_expanded(52.1, 0.0996)
    ('33.0 ± 3.3', '52.14 ± 0.45', '52.10 ± 0.10')
    """
    if not (isfinite(expanded) and expanded > 0.0):
        return f"{value:.6g}"
    # Of the rounded one: 0.0996 becomes 0.10.
    digits = max(1 - floor(log10(float(f"{expanded:.1e}"))), 0)
    return f"{value:.{digits}f} ± {expanded:.{digits}f}"


def student_t_quantile(degrees: float, probability: float = 0.975) -> float:
    """Return a quantile of Student's t distribution.

    Parameters
    ----------
    degrees : float
        Of freedom, above zero; infinite for the normal distribution.
    probability : float, default=0.975
        From below: 0.975 bounds the middle 95 %.

    Examples
    --------
    >>> [round(student_t_quantile(degrees), 3) for degrees in (1, 2, 10, float("inf"))]
    [12.706, 4.303, 2.228, 1.96]
    """
    if isinf(degrees):
        return NormalDist().inv_cdf(probability)
    from scipy.special import stdtrit

    return float(stdtrit(degrees, probability))


# Probability of calling one of n sound values an outlier.
OUTLIER_CHANCE = 0.05

# Dixon's ratio for n values, two-sided at 5 %. Rorabacher, D. B. Anal. Chem. 1991, 63, 139,
# table I, r10, 95 % confidence.
_DIXON_CRITICAL = {3: 0.970, 4: 0.829, 5: 0.710, 6: 0.625, 7: 0.568, 8: 0.526, 9: 0.493, 10: 0.466}


def grubbs_statistic(values: Sequence[float]) -> float:
    """Return the largest distance from the mean, in standard deviations of the values.

    Raises
    ------
    statistics.StatisticsError
        For fewer than two values.

    References
    ----------
    Grubbs, F. E. Technometrics 1969, 11, 1; recommended by ISO 5725-2.

    Examples
    --------
    The ratios of uranium's isotopes in the NIST/SEMATECH e-Handbook, section 1.3.5.17.1:

    >>> round(grubbs_statistic([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]), 2)
    2.47
    """
    center, spread = mean(values), stdev(values)
    return max(abs(value - center) for value in values) / spread if spread > 0.0 else 0.0


def grubbs_critical(count: int, chance: float = OUTLIER_CHANCE) -> float:
    """Return what `grubbs_statistic` exceeds by chance alone with this probability, two-sided.

    Parameters
    ----------
    count : int
        Of values, three or more.
    chance : float, default=0.05

    References
    ----------
    Grubbs, F. E.; Beck, G. Technometrics 1972, 14, 847: the quantile follows from Student's t.

    Examples
    --------
    >>> round(grubbs_critical(8), 2)
    2.13
    """
    squared = student_t_quantile(count - 2, 1.0 - chance / (2.0 * count)) ** 2
    return (count - 1) / sqrt(count) * sqrt(squared / (count - 2 + squared))


def dixon_ratio(values: Sequence[float]) -> float:
    """Return the gap of the most distant end value over the range of all values.

    Raises
    ------
    ValueError
        For fewer than three values.

    References
    ----------
    Dixon, W. J. Ann. Math. Stat. 1950, 21, 488: the ratio r10.

    Examples
    --------
    >>> round(dixon_ratio([57.9, 58.3, 58.1, 61.4]), 3)
    0.886
    """
    if len(values) < 3:
        raise ValueError(f"{len(values)} values have no gap; Dixon's ratio needs three")
    ordered = sorted(values)
    width = ordered[-1] - ordered[0]
    gap = max(ordered[1] - ordered[0], ordered[-1] - ordered[-2])
    return gap / width if width > 0.0 else 0.0


def dixon_critical(count: int) -> float | None:
    """Return what `dixon_ratio` exceeds by chance alone in one case of twenty, two-sided.

    Parameters
    ----------
    count : int
        Of values.

    Returns
    -------
    float or None
        None for fewer than 3 values or more than 10, for which the ratio is not meant.

    Examples
    --------
    >>> dixon_critical(4)
    0.829
    """
    return _DIXON_CRITICAL.get(count)
