"""What readings of a dimension are: their units, how they are written, and what no bench gives."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, kw_only=True)
class Dimension:
    """What a teaching bench could write down at all in a dimension.

    The ends are far outside anything useful: they catch slips of a decimal point or a unit by many
    powers of ten, and numbers that arithmetic could not handle. Common practice, no standard.

    Parameters
    ----------
    lowest, highest : float
        In SI units.
    example : str
        How a reading is written; shown as advice.
    si : str
        The SI unit, where other units than those of `units` are accepted too.
    measured_in : str
        The dimension whose units it has, where that is another.
    rough : float
        Standard uncertainty of a reading that is written as rough ("about 78 C"), in SI units; 0
        for 2 % of it, or half of its last digit. Common practice.
    zero_allowed, negative_allowed : bool
    """

    lowest: float
    highest: float
    example: str
    si: str = ""
    measured_in: str = ""
    rough: float = 0.0
    zero_allowed: bool = False
    negative_allowed: bool = False


DIMENSIONS: Mapping[str, Dimension] = MappingProxyType(
    {
        "pressure": Dimension(
            lowest=1e-3, highest=1e7, example="742.0 mmHg", si="Pa", rough=1500.0
        ),
        "temperature": Dimension(
            lowest=1e-3,
            highest=1273.15,
            example="22.5 °C",
            si="K",
            rough=2.0,
            negative_allowed=True,
        ),
        "mass": Dimension(
            lowest=0.0, highest=100.0, example="98.1132 g", si="kg", zero_allowed=True
        ),
        "volume": Dimension(lowest=1e-12, highest=1.0, example="287.4 mL", si="m**3"),
        "molar mass": Dimension(lowest=1e-3, highest=10.0, example="46.1 g/mol", si="kg/mol"),
        # From methane's to that of a liquid of 1000 g/mol.
        "vapor density": Dimension(
            lowest=0.01,
            highest=1.0,
            example="37 (H2 = 1) or 2.55 (air = 1)",
            measured_in="molar mass",
        ),
        # A second virial coefficient: the only molar volume that is asked for.
        "molar volume": Dimension(
            lowest=-0.1,
            highest=0.1,
            example="-1500 cm3/mol",
            si="m**3/mol",
            zero_allowed=True,
            negative_allowed=True,
        ),
        "percent": Dimension(
            lowest=0.0, highest=10.0, example="37.48 %", rough=0.01, zero_allowed=True
        ),
        "fraction": Dimension(lowest=0.0, highest=10.0, example="0.45", zero_allowed=True),
        "length": Dimension(
            lowest=-2e4,
            highest=2e4,
            example="120 m",
            si="m",
            zero_allowed=True,
            negative_allowed=True,
        ),
        # A latitude: the only angle that a notebook page holds.
        "angle": Dimension(
            lowest=-math.pi / 2,
            highest=math.pi / 2,
            example="52.1 deg",
            zero_allowed=True,
            negative_allowed=True,
        ),
        "density": Dimension(lowest=1e-3, highest=3e4, example="0.789 g/mL", si="kg/m**3"),
        # From perfluoropentane (1.24) to diiodomethane (1.74, and 3.3 g/mL), and from pentane
        # (0.63 g/mL); from memory of the CRC Handbook.
        "refractive index": Dimension(
            lowest=1.2, highest=1.8, example="1.3614", measured_in="fraction", rough=0.005
        ),
        "liquid density": Dimension(
            lowest=500.0, highest=3500.0, example="0.789 g/mL", measured_in="density"
        ),
        "mass of a liter": Dimension(
            lowest=0.01, highest=100.0, example="2.55 g/L", measured_in="density"
        ),
    }
)
