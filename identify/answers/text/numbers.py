"""Numbers, chances and answers as they are printed."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from identify.notebook.findings import listed
from identify.notebook.statistics import to_uncertainty

NOTHING = "-"  # where there is no number or answer


def percent_text(probability: float) -> str:
    """Return a probability as percent, never rounded to certainty.

    Examples
    --------
    >>> [percent_text(p) for p in (0.974, 0.0312, 0.0004, 0.99996, 1.0, 0.0)]
    ['97 %', '3.1 %', '<0.1 %', '>99.9 %', '>99.9 %', '<0.1 %']
    """
    percent = 100.0 * probability
    if percent > 99.9:
        return ">99.9 %"
    if percent < 0.1:
        return "<0.1 %"
    digits = 1 if percent < 9.95 or percent >= 99.0 else 0
    return f"{percent:.{digits}f} %"


def with_chance(name: str, probability: float) -> str:
    """Return a compound's name with its probability.

    Examples
    --------
    >>> with_chance("acetone", 0.974)
    'acetone (97 %)'
    """
    return f"{name} ({percent_text(probability)})"


def with_uncertainty(value: float, uncertainty: float, unit: str) -> str:
    """Return a value with the digits that its standard uncertainty justifies.

    Examples
    --------
    >>> with_uncertainty(46.2183, 0.6321, "g/mol")
    '46.2 ± 0.6 g/mol'
    >>> with_uncertainty(46.2183, 0.1321, "g/mol")
    '46.22 ± 0.13 g/mol'
    """
    if not (isfinite(uncertainty) and uncertainty > 0.0):
        return f"{value:.4g} {unit}"
    return f"{to_uncertainty(value, uncertainty)} {unit}"


def signed(value: float | None, digits: int) -> str:
    """Return a deviation with its sign, a dash where there is none."""
    if value is None or not isfinite(value):
        return NOTHING
    if abs(value) < 0.5 * 10.0**-digits:
        return f"{0.0:.{digits}f}"
    text = f"{value:+.{digits}f}"
    if len(text) > digits + 6:  # thousands and more: the digits no longer matter
        return f"{value:+.0e}"
    return text


def yes_or_no(answer: bool | None) -> str:
    """Return an answer as a word, a dash where there is none."""
    return {None: NOTHING, True: "yes", False: "no"}[answer]


def decimals_text(value: float | None, decimals: int) -> str:
    """Return a number with so many decimals, a dash where there is none."""
    return NOTHING if value is None or not isfinite(value) else f"{value:.{decimals}f}"


def listed_up_to(most: int, names: Sequence[str]) -> str:
    """Return names as they stand in a sentence, and how many there are beyond so many.

    Examples
    --------
    >>> listed_up_to(2, ["ethanol", "acetone"]), listed_up_to(1, ["ethanol", "acetone", "hexane"])
    ('ethanol and acetone', 'ethanol and 2 more')
    """
    more = len(names) - most
    return listed([*names[:most], *([f"{more:,} more"] if more > 0 else [])])


def counted(count: int, one: str, many: str = "") -> str:
    """Return how many there are of something.

    Examples
    --------
    >>> counted(1, "row"), counted(2, "row"), counted(0, "entry", "entries")
    ('1 row', '2 rows', '0 entries')
    """
    return f"{count} {one if count == 1 else many or f'{one}s'}"
