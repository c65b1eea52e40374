"""One bottle against the key: what disagrees, and by how much more than by chance."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import inf
from typing import NamedTuple

import numpy as np

from identify.matching.expected.suitability import LEAST_CHANCE
from identify.notebook.quantity.units import shown_unit
from identify.notebook.statistics import student_t_quantile
from identify.observables.error.comparison import Comparison
from identify.physics.constants import ELEMENTS
from identify.section.bottles.card import entry_words, observable_of
from identify.section.bottles.pooling import PooledBottle
from identify.section.result import KeyRow

# Chance of being further off from the liquid that a bottle holds: two standard deviations. Nearer
# weighings fit a liquid.
_FITTING_CHANCE = 0.0455


class CardDisagreement(NamedTuple):
    """An entry of a card, and what it is of a liquid that the card is not about."""

    name: str
    words: str
    is_copied: bool
    card: float
    liquid: float
    unit: str

    def shown(self, value: float) -> str:
        """Return a value of the entry as it stands in a sentence."""
        return f"{value:.4g} {self.unit}" if self.unit else f"{value:.4f}"


@dataclass(frozen=True)
class AgainstKey:
    """One bottle against the key.

    Parameters
    ----------
    pooled : PooledBottle
    key : KeyRow or None
    chance : float
        Of a fault being found where there is none, for this bottle.
    """

    pooled: PooledBottle
    key: KeyRow | None
    chance: float

    @property
    def row(self) -> int | None:
        """Row of the key's compound in the candidate table."""
        return None if self.key is None else self.key.row

    @property
    def count(self) -> int:
        """Number of students whose weighings agree."""
        return self.pooled.mean.count

    def off(self, row: int) -> float | None:
        """Return how far the weighings are from a liquid's molar mass, as a logarithm.

        None where nothing was weighed, or the liquid would not have boiled off.
        """
        value = float(self.pooled.offsets[row])
        if not np.isfinite(value) or self.pooled.vaporized[row] < LEAST_CHANCE:
            return None
        return value

    @cached_property
    def bound(self) -> float:
        """How far the weighings are off by chance, as a logarithm."""
        return self.pooled.mean.bound(self.chance)

    def fits(self, row: int) -> bool:
        """Say whether the weighings fit a liquid."""
        off = self.off(row)
        return off is not None and abs(off) <= self.pooled.mean.bound(_FITTING_CHANCE)

    @cached_property
    def contradicts_key(self) -> bool:
        """Whether the weighings contradict the key."""
        off = None if self.row is None else self.off(self.row)
        # One student alone may be wrong by anything.
        return self.count > 1 and off is not None and abs(off) > self.bound

    def card_disagreements(self, row: int) -> list[CardDisagreement]:
        """List the entries of the card that a liquid contradicts."""
        if self.pooled.by_card is None:
            return []
        by_card = self.pooled.by_card.evidence
        compared: dict[str, Comparison] = {}
        if by_card.boiling_point is not None:
            compared["boiling_point"] = by_card.boiling_point
        for place, comparison in by_card.elements.items():
            compared[f"percent {ELEMENTS[place]}"] = comparison
        compared |= by_card.further
        most = student_t_quantile(inf, 1.0 - 0.5 * self.chance / max(len(compared), 1))
        found: list[CardDisagreement] = []
        for name, comparison in compared.items():
            deviation = float(comparison.deviation[row])
            sigma = float(np.broadcast_to(comparison.sigma, comparison.deviation.shape)[row])
            if np.isfinite(deviation) and abs(deviation) > most * sigma:
                found.append(_disagreement(self.pooled, name, deviation))
        return found


def _disagreement(pooled: PooledBottle, name: str, deviation: float) -> CardDisagreement:
    reading, observable = pooled.card.readings[name], observable_of(name)
    card = reading.value.value
    # What all boiling points are off together is not this card's fault.
    deviation += pooled.card.boiling_off if name == "boiling_point" else 0.0
    shown = observable.shown(np.array([card, card - deviation]), reading.unit)
    unit = shown_unit(reading.unit or observable.unit).strip()
    return CardDisagreement(
        name, entry_words(name), reading.is_copied, float(shown[0]), float(shown[1]), unit
    )
