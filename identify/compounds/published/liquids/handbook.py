"""Numbers of the CRC Handbook's table of organic compounds, with the temperature behind them.

The library keeps a density as the handbook prints it, with the temperature that stands above the
line run on as further digits: 0.7845 at 25 degrees Celsius is 0.784525 there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

_USUAL = (20, 25)  # degrees Celsius: nine densities in ten
_ON_A_BENCH = range(10, 36)
_ABOVE_MELTING = 15  # K: melts are read a little above their melting point


@dataclass(frozen=True)
class Printed:
    """A number as a handbook prints it.

    Parameters
    ----------
    value : float
    decimals : int
    temperature : float
        In degrees Celsius; NaN where none is printed.
    """

    value: float
    decimals: int
    temperature: float


def as_printed(run_on: float, melting_point: float = math.nan) -> Printed:
    """Return a density whose temperature is run on behind its last digit.

    Parameters
    ----------
    run_on : float
        In g/mL, with the two digits of the temperature behind.
    melting_point : float
        In degrees Celsius, NaN where not known; above it, a temperature is that of a melt.

    Examples
    --------
    Acetone, formic acid, trioxane (which melts at 60 degrees Celsius) and one without temperature:

    >>> as_printed(0.784525)
    Printed(value=0.7845, decimals=4, temperature=25.0)
    >>> as_printed(1.22020)
    Printed(value=1.22, decimals=3, temperature=20.0)
    >>> as_printed(1.1765, melting_point=60.0)
    Printed(value=1.17, decimals=2, temperature=65.0)
    >>> as_printed(0.869)
    Printed(value=0.869, decimals=4, temperature=nan)
    """
    millionths = round(run_on * 1e6)
    readings = []
    for decimals, unit in ((4, 1), (3, 10), (2, 100)):
        digits, rest = divmod(millionths, unit)
        if rest == 0 and digits % 100:
            value = digits // 100 / 10**decimals
            readings.append(Printed(value, decimals, float(digits % 100)))
    melts = range(0)
    if math.isfinite(melting_point):
        melts = range(math.floor(melting_point), math.ceil(melting_point) + _ABOVE_MELTING)
    for temperatures in (_USUAL, melts, _ON_A_BENCH, range(100)):
        for reading in readings:
            # Four decimals are the rule; with fewer, the temperature must be a usual one.
            is_usual = temperatures != range(100) or (reading.decimals == 4 and millionths % 10)
            if reading.temperature in temperatures and is_usual:
                return reading
    return Printed(run_on, 4, math.nan)
