"""What a teaching bench could write down at all, and the refusal of anything else."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from identify.notebook.units import QuantityError, known_unit


@dataclass(frozen=True)
class Range:
    """Values of a dimension [SI units] that a teaching bench could write down at all.

    The ends are far outside anything useful: they catch slips of a decimal point or a unit by many
    powers of ten, and numbers that arithmetic could not handle. Common practice, no standard.
    """

    lowest: float
    highest: float
    zero_allowed: bool = False
    negative_allowed: bool = False


RANGES: Mapping[str, Range] = MappingProxyType(
    {
        "pressure": Range(1e-3, 1e7),
        "temperature": Range(1e-3, 1273.15, negative_allowed=True),
        "mass": Range(0.0, 100.0, zero_allowed=True),
        "volume": Range(1e-12, 1.0),
        "molar mass": Range(1e-3, 10.0),
        # A second virial coefficient: the only molar volume that is asked for.
        "molar volume": Range(-0.1, 0.1, zero_allowed=True, negative_allowed=True),
        "percent": Range(0.0, 10.0, zero_allowed=True),
        "fraction": Range(0.0, 10.0, zero_allowed=True),
        "length": Range(-2e4, 2e4, zero_allowed=True, negative_allowed=True),
        # A latitude: the only angle that a notebook page holds.
        "angle": Range(-math.pi / 2, math.pi / 2, zero_allowed=True, negative_allowed=True),
        "density": Range(1e-3, 3e4),
        # From perfluoropentane (1.24) to diiodomethane (1.74, and 3.3 g/mL), and from pentane
        # (0.63 g/mL); from memory of the CRC Handbook.
        "refractive index": Range(1.2, 1.8),
        "liquid density": Range(500.0, 3500.0),
    }
)


_FRACTIONS = 1.5  # percent: what fractions written as percentages add up to at most


def look_like_fractions(total: float, elements: int) -> bool:
    """Say whether the percentages of a card can hardly be anything but fractions of one.

    Parameters
    ----------
    total : float
        What they add up to [percent].
    elements : int
        How many there are.

    Examples
    --------
    >>> look_like_fractions(1.0, elements=3), look_like_fractions(0.9, elements=1)
    (True, False)
    """
    return elements > 1 and 0.0 < total <= _FRACTIONS


# No instrument divides a dimension's range more finely; past it, squares overflow.
_FINEST = 1e-15


def check_uncertainty(uncertainty: float, unit: str, read: str) -> None:
    """Refuse an uncertainty wider than the whole range, or finer than any instrument's."""
    known = known_unit(unit)
    part = uncertainty * known.scale / RANGES[known.dimension].highest
    if not _FINEST <= part <= 1.0:
        reason = f"has an uncertainty too {'large' if part > 1.0 else 'small'} for any "
        advice = "check its digits and its unit, or leave it out"
        raise QuantityError(read, reason + known.dimension, advice)
