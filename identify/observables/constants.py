"""The constants of candidates that a prediction needs, wherever they come from."""

from __future__ import annotations

from typing import Protocol

from identify.observables.likelihood import Array


class Constants(Protocol):
    """Columns of n candidates as arrays; a candidate table is one."""

    def number(self, column: str) -> Array:
        """Return a column of numbers, shape (n,); NaN where a candidate has no value."""
        ...

    @property
    def percent(self) -> Array:
        """Percent by mass, shape (n, 12), a column an element."""
        ...

    @property
    def vapor_curve(self) -> Array:
        """Coefficients of the vapor-pressure curve, shape (n, 3)."""
        ...

    @property
    def virial(self) -> Array:
        """Coefficients of the second virial coefficient, shape (n, 4) [m3/mol]."""
        ...
