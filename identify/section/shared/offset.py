"""What all bottles of a section are off by together: one barometer for all, one height."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from identify.matching.evidence import Matcher
from identify.notebook.findings import Finding
from identify.notebook.usual import tolerance_u
from identify.section.bottles.pooling import First
from identify.section.key import Key
from identify.section.robust_mean import middle, width_of
from identify.section.runs import Bottle, expectation_of

# Bottles of which at least half must be sound for their median to be.
_FEWEST = 5
# Less than this is within what the students of a bottle share anyway, or what a card rounds to.
_LEAST_WEIGHINGS, _LEAST_KELVIN = 0.015, 1.0
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
        bottles: Sequence[tuple[str, Bottle]],
        firsts: Sequence[First],
        key: Key,
        matcher: Matcher,
    ) -> CommonOffset:
        """Compare all bottles with what the key says is in them, else with what is likeliest.

        Parameters
        ----------
        bottles : sequence of (str, Bottle)
            With their labels as the key has them.
        firsts : sequence of First
            Of each.
        key : Key
        matcher : Matcher
        """
        weighed: list[float] = []
        boiled: list[float] = []
        half = 0.01 * tolerance_u(matcher.tolerances.molar_mass)
        for (label, bottle), first in zip(bottles, firsts, strict=True):
            entry = key.of(label)
            row = first.reference if entry is None else entry.place
            if row is None:
                continue
            liquid = expectation_of(matcher.table, [row])
            if bottle.is_weighed:
                weighed.append(middle(bottle.offsets(liquid)[:, 0], half, bottle.doubted).value)
            said = first.card.bench()
            if said.boiling_point is not None:
                expected = float(liquid.boiling_point(said.boiling_pressure)[0])
                boiled.append(said.boiling_point.value - expected)
        return cls(
            _together(weighed, _LEAST_WEIGHINGS), _together(boiled, _LEAST_KELVIN), len(bottles)
        )

    def set_right(self, first: First) -> First:
        """Return a bottle's card without what all boiling points are off by."""
        return replace(first, card=replace(first.card, boiling_off=self.boiling))


def _together(values: Sequence[float], least: float) -> float:
    known = np.array([value for value in values if np.isfinite(value)])
    if len(known) < _FEWEST:
        return 0.0
    center = float(np.median(known))
    surely = abs(center) > _SURELY * width_of(known) / sqrt(len(known))
    return center if surely and abs(center) >= least else 0.0


def common_findings(common: CommonOffset) -> Iterator[Finding]:
    """Yield what all bottles are off by together."""
    if common.weighings:
        percent = 100.0 * float(np.expm1(common.weighings))
        yield Finding(
            "section-off",
            "warning",
            f"The molar masses of all bottles are {abs(percent):.1f} % "
            f"{'high' if percent > 0 else 'low'} together, as from a pressure that reads "
            f"{abs(percent):.1f} % {'low' if percent > 0 else 'high'} on all days. The bottles "
            "were compared without that.",
            "Compare the barometer with another, and ask whether the pressure is that of the "
            "laboratory or one reduced to the sea; look how the flasks were dried, and whether "
            "their volumes are those to the brim.",
            {"off_percent": percent, "bottles": float(common.bottles)},
        )
    if common.boiling:
        yield Finding(
            "boiling-points-off",
            "warning",
            f"The boiling points of all bottles are {abs(common.boiling):.1f} K "
            f"{'high' if common.boiling > 0 else 'low'} together, as if they held at another "
            "pressure than the one written with them (760 mmHg where none is). The bottles were "
            "compared without that.",
            "Write the pressure of the boiling points into a column boiling_point_at_mmHg.",
            {"off_K": common.boiling, "bottles": float(common.bottles)},
        )
