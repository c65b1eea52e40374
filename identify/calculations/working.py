"""The working of a calculation: line by line, as a notebook would show it."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, isfinite, log10


@dataclass(frozen=True)
class Step:
    """One line of the working.

    Parameters
    ----------
    what : str
        What is worked out.
    formula : str
        In symbols.
    numbers : str
        The same with the numbers put in.
    result : str
        With its unit.
    """

    what: str
    formula: str
    numbers: str
    result: str

    def to_dict(self) -> dict[str, str]:
        """Return the line as plain data."""
        return {
            "what": self.what,
            "formula": self.formula,
            "numbers": self.numbers,
            "result": self.result,
        }


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
