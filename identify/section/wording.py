"""How the differences of a section stand in a sentence."""

from __future__ import annotations

import numpy as np


def as_percent(log_ratio: float) -> float:
    """Return the difference that the logarithm of a ratio stands for [percent].

    Examples
    --------
    >>> round(as_percent(0.0953), 2), round(as_percent(-0.0953), 2)
    (10.0, -9.09)
    """
    return 100.0 * float(np.expm1(log_ratio))


def high_or_low(difference: float) -> str:
    """Return on which side of the others a value lies.

    Examples
    --------
    >>> high_or_low(1.2), high_or_low(-1.2)
    ('high', 'low')
    """
    return "high" if difference > 0.0 else "low"


def students(count: int) -> str:
    """Return a number of students in words that agree with it.

    Examples
    --------
    >>> students(1), students(5)
    ('1 student', '5 students')
    """
    return "1 student" if count == 1 else f"{count} students"


def sentence(text: str) -> str:
    """Return a text with a full stop, where it does not end with a mark already."""
    return text if text.endswith((".", "?")) else f"{text}."
