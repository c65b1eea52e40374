"""What all bottles of a section are off by together: one barometer for all, one height."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import exp, sqrt

import numpy as np

from identify.notebook.findings import Finding
from identify.section.bottles.pooling import BottlePooling, FirstLook
from identify.section.key import Key
from identify.section.robust_mean import robust_sigma
from identify.section.runs import BottleRuns
from identify.section.shared.repair import Repair
from identify.section.wording import as_percent, high_or_low

# Of fewer bottles the median may be that of faulty ones.
_MIN_BOTTLES = 5
# Smaller offsets are within what the students of a bottle share anyway, or what a card rounds to.
_MIN_LOG_RATIO, _MIN_KELVIN = 0.015, 1.0
_SURELY = 4.0  # standard uncertainties of the median


@dataclass(frozen=True)
class CommonOffset:
    """How far all bottles are off together; zero where that is too little to matter.

    Parameters
    ----------
    weighings : float
        Of the molar masses, as a logarithm.
    boiling : float
        Of the boiling points [K].
    bottles : int
        That show it.
    """

    weighings: float = 0.0
    boiling: float = 0.0
    bottles: int = 0

    @classmethod
    def of(
        cls,
        bottles: Mapping[str, BottleRuns],
        firsts: Mapping[str, FirstLook],
        key: Key,
        pooling: BottlePooling,
    ) -> CommonOffset:
        """Compare all bottles with what the key says is in them, else with what is likeliest.

        Parameters
        ----------
        bottles, firsts : mapping
            By label.
        key : Key
        pooling : BottlePooling
        """
        weighed: list[float] = []
        boiled: list[float] = []
        for label, bottle in bottles.items():
            entry = key.of(label)
            row = firsts[label].reference if entry is None else entry.row
            if row is None:
                continue
            liquid = pooling.liquid(row)
            weighed.append(pooling.mean_offset(bottle, liquid).value)
            card = firsts[label].card.bench()
            if card.boiling_point is not None:
                expected = float(liquid.boiling_point(card.boiling_pressure)[0])
                boiled.append(card.boiling_point.value - expected)
        weighings, boiling = _sure(weighed, _MIN_LOG_RATIO), _sure(boiled, _MIN_KELVIN)
        return cls(weighings, boiling, len(bottles))

    def repairs(self) -> Iterator[Repair]:
        """Yield how everybody's readings are set right."""
        if self.weighings:
            yield Repair("pressure", factor=exp(self.weighings))
        if self.boiling:
            yield Repair("boiling_point", shift=-self.boiling)

    def findings(self) -> Iterator[Finding]:
        """Yield what all bottles are off by together."""
        if self.weighings:
            percent = as_percent(self.weighings)
            size = f"{abs(percent):.1f} %"
            yield Finding(
                "section-off",
                "warning",
                f"The molar masses of all bottles are {size} {high_or_low(percent)} together, as "
                f"from a pressure that reads {size} {high_or_low(-percent)} on all days. The "
                "bottles were compared without that.",
                "Compare the barometer with another, and ask whether the pressure is that of the "
                "laboratory or one reduced to the sea; look how the flasks were dried, and whether "
                "their volumes are those to the brim.",
                {"off_percent": percent, "bottles": float(self.bottles)},
            )
        if self.boiling:
            yield Finding(
                "boiling-points-off",
                "warning",
                f"The boiling points of all bottles are {abs(self.boiling):.1f} K "
                f"{high_or_low(self.boiling)} together, as if they held at another pressure than "
                "the one written with them (760 mmHg where none is). The bottles were compared "
                "without that.",
                "Write the pressure of the boiling points into a column boiling_point_at_mmHg.",
                {"off_K": self.boiling, "bottles": float(self.bottles)},
            )


def _sure(values: list[float], least: float) -> float:
    """Return the median of values, zero where it is less than chance or ``least``."""
    known = np.array([value for value in values if np.isfinite(value)])
    if len(known) < _MIN_BOTTLES:
        return 0.0
    center = float(np.median(known))
    sigma = robust_sigma(known - center) / sqrt(len(known))
    return center if abs(center) > _SURELY * sigma and abs(center) >= least else 0.0
