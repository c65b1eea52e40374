"""One reading in SI units."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class SIReading:
    """A value with its standard uncertainty, None where none was stated.

    Parameters
    ----------
    value : float
    uncertainty : float or None
    at : float or None
        Temperature of the reading [K], where it has one.
    """

    value: float
    uncertainty: float | None = None
    at: float | None = None
