"""One bottle beside the key: what is off, and by how much more than chance makes of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from identify.matching.evidence import LEAST_CHANCE
from identify.notebook.statistics import student_t_quantile
from identify.notebook.units import shown_unit
from identify.observables.comparison import Comparison
from identify.physics.constants import ELEMENTS
from identify.section.bottles.card import observable_of
from identify.section.bottles.pooling import Pooled
from identify.section.result import KeyEntry

# A sound section is found fault with in less than one of a hundred: shared by its bottles.
CHANCE = 0.01
# What a card says differently of a liquid: words, what the card has, what the liquid has, unit.
Disagreement = tuple[str, float, float, str]
# A liquid fits weighings that are no further off than this: two standard deviations.
_FITS = 0.0455


@dataclass(frozen=True)
class Judged:
    """One bottle beside the key.

    Parameters
    ----------
    pooled : Pooled
    entry : KeyEntry or None
    chance : float
        Of a fault being found where there is none, for this bottle.
    shared : float
        Standard uncertainty that its students' molar masses have in common, relative.
    """

    pooled: Pooled
    entry: KeyEntry | None
    chance: float
    shared: float

    @property
    def place(self) -> int | None:
        """Row of the key's compound in the candidate table."""
        return None if self.entry is None else self.entry.place

    def off(self, row: int) -> float | None:
        """Return how far the weighings are from a liquid's molar mass, as a logarithm.

        None where nothing was weighed, or the liquid would not have boiled off.
        """
        value = float(self.pooled.centers[row])
        if not np.isfinite(value) or self.pooled.vaporized[row] < LEAST_CHANCE:
            return None
        return value

    def bound(self, chance: float) -> float:
        """Return how far they are off by chance, as a logarithm."""
        return self.pooled.middle.bound(self.shared, chance)

    def fits(self, row: int) -> bool:
        """Say whether the weighings fit a liquid."""
        off = self.off(row)
        return off is not None and abs(off) <= self.bound(_FITS)

    @cached_property
    def against_key(self) -> bool:
        """Whether the weighings contradict the key."""
        off = None if self.place is None else self.off(self.place)
        # One student alone may be wrong by anything.
        return self.count > 1 and off is not None and abs(off) > self.bound(self.chance)

    @property
    def count(self) -> int:
        """Number of students whose weighings agree."""
        return self.pooled.middle.count

    def is_copied(self, words: str) -> bool:
        """Say whether an entry of the card was copied, by the words that it goes by."""
        return self.pooled.card.readings[_name(words)].is_copied

    def card_disagrees(self, row: int) -> list[Disagreement]:
        """List what the card says differently of a liquid."""
        if self.pooled.carded is None:
            return []
        carded = self.pooled.carded.evidence
        compared: dict[str, Comparison] = {}
        if carded.boiling_point is not None:
            compared["boiling point"] = carded.boiling_point
        for place, comparison in carded.elements.items():
            compared[f"percentage of {ELEMENTS[place]}"] = comparison
        compared |= {name.replace("_", " "): one for name, one in carded.further.items()}
        most = student_t_quantile(float("inf"), 1.0 - 0.5 * self.chance / max(len(compared), 1))
        told: list[Disagreement] = []
        for words, comparison in compared.items():
            deviation = float(comparison.deviation[row])
            sigma = float(np.broadcast_to(comparison.sigma, comparison.deviation.shape)[row])
            if np.isfinite(deviation) and abs(deviation) > most * sigma:
                told.append((words, *_values(self.pooled, words, deviation)))
        return told


def _values(pooled: Pooled, words: str, deviation: float) -> tuple[float, float, str]:
    name = _name(words)
    reading = pooled.card.readings[name]
    card = reading.value.value
    # What all boiling points are off together is not this card's fault.
    deviation += pooled.card.boiling_off if name == "boiling_point" else 0.0
    observable = observable_of(name)
    shown = observable.shown(np.array([card, card - deviation]), reading.unit)
    return float(shown[0]), float(shown[1]), shown_unit(reading.unit or observable.unit).strip()


def _name(words: str) -> str:
    if words.startswith("percentage of "):
        return words.replace("percentage of ", "percent ")
    return words.replace(" ", "_")
