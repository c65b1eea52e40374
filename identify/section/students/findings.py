"""What only the section shows of a student: off from the others, another bottle, a shared fault."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from identify.compounds.table import CandidateTable
from identify.matching.answer import Ranking
from identify.notebook.findings import Finding
from identify.observables.comparison import Array
from identify.observables.tolerances import Tolerances
from identify.section.bottles.card import Card
from identify.section.bottles.pooling import Pooled
from identify.section.key import some
from identify.section.result import KeyEntry
from identify.section.robust_mean import Middle
from identify.section.runs import Attempt, expectation_of
from identify.section.shared.thermometers import SharedFault
from identify.section.students.copied import repeated

# Standard deviations from the others' middle: in sections of a thousand sound students, one is told
# so in every sixteenth.
_FAR = 4.0
_FEWEST = 5  # students whose spread is known well enough for that
# Of three or four that agree it is not: a sound one is further off than this in half a percent.
_FAR_FROM_FEW = 6.0
_FEW = 3
# Weighings fit another bottle where they are this near to its students' middle [standard
# deviations], and not their own where they are further off than one run's tolerance too.
_NEAR = 2.0


@dataclass(frozen=True)
class Students:
    """The students of a section, one by one, beside the others.

    Parameters
    ----------
    pooled : mapping of str to Pooled
        By label, the readings of the bottles with shared faults set right.
    table : CandidateTable
    tolerances : Tolerances
    """

    pooled: Mapping[str, Pooled]
    table: CandidateTable
    tolerances: Tolerances

    def findings(self, faults: Sequence[SharedFault]) -> dict[int, list[Finding]]:
        """Return what the section shows of each student, by the place of the run."""
        found: dict[int, list[Finding]] = {}
        for label, pooled in self.pooled.items():
            others = {
                place: card
                for place, attempt in enumerate(pooled.bottle.attempts)
                if (card := self._card_of(label, attempt)) is not None
            }
            for place, finding in pooled.card.miscopied(pooled.bottle, self.tolerances):
                # A card of another bottle is told once, and not entry by entry.
                if place not in others:
                    found.setdefault(pooled.bottle.attempts[place].place, []).append(finding)
            for attempt, finding in self._bottle(label, pooled, others):
                found.setdefault(attempt.place, []).append(finding)
        attempts = [one for pooled in self.pooled.values() for one in pooled.bottle.attempts]
        attempts.sort(key=lambda attempt: attempt.place)
        for attempt, finding in repeated(attempts):
            found.setdefault(attempt.place, []).append(finding)
        for fault in faults:
            for place in sorted(fault.students):
                found.setdefault(place, []).append(_see(fault))
        return found

    def _bottle(
        self, label: str, pooled: Pooled, others: Mapping[int, str]
    ) -> Iterator[tuple[Attempt, Finding]]:
        """Yield who is far from the others of a bottle, and whose readings are another's."""
        middle = pooled.middle
        off = middle.values - middle.value
        far = np.abs(np.nan_to_num(off)) > _far_from(middle)
        out = far & (np.abs(np.nan_to_num(off)) > 0.01 * self.tolerances.molar_mass)
        nearest = self._nearest(label, pooled) if out.any() else {}
        for place, attempt in enumerate(pooled.bottle.attempts):
            if far[place]:
                yield attempt, self._far(pooled, place, float(off[place]))
            card = others.get(place)
            near = nearest.get(place, []) if out[place] else []
            if card is not None or near:
                yield attempt, _wrong_bottle(attempt, card, near)

    def _far(self, pooled: Pooled, place: int, off: float) -> Finding:
        middle, bottle = pooled.middle, pooled.bottle
        mass = float(self.table.number("molar_mass")[pooled.reference])
        own, others = (mass * float(np.exp(middle.value + x)) for x in (off, 0.0))
        percent = 100.0 * float(np.expm1(off))
        return Finding(
            "far-from-the-others",
            "warning" if abs(percent) > self.tolerances.molar_mass else "note",
            f"The weighings give {own:.1f} g/mol; the {middle.count} other students of bottle "
            f"{bottle.label} who agree with each other have {others:.1f} g/mol and spread by "
            f"{100.0 * middle.spread:.1f} %. This is {abs(percent):.1f} % "
            f"{'above' if percent > 0 else 'below'} them.",
            "Look at the masses, the volume and the bath of this run first.",
            {
                "molar_mass_g_per_mol": own,
                "others_g_per_mol": others,
                "off_percent": percent,
                "spread_percent": 100.0 * middle.spread,
            },
        )

    def _nearest(self, label: str, pooled: Pooled) -> dict[int, list[str]]:
        """Return for each student the bottles that the weighings fit, the nearest first."""
        others = {
            other: one
            for other, one in self.pooled.items()
            if other != label and one.middle.count >= _FEWEST
        }
        if not others:
            return {}
        liquids = expectation_of(self.table, [one.reference for one in others.values()])
        centers = np.array([one.middle.value for one in others.values()])
        spreads = np.array([one.middle.spread for one in others.values()])
        off: Array = np.abs(pooled.bottle.offsets(liquids) - centers) / spreads
        names = [one.bottle.label for one in others.values()]
        return {
            place: [names[at] for at in np.argsort(row) if row[at] <= _NEAR]
            for place, row in enumerate(np.nan_to_num(off, nan=np.inf))
        }

    def _card_of(self, label: str, attempt: Attempt) -> str | None:
        """Return the bottle whose card a student copied, None where it is the own or nobody's."""
        own = self.pooled[label].card
        if _copied(attempt, own) != 0.0:
            return None
        for other, one in self.pooled.items():
            if other != label and _copied(attempt, one.card) == 1.0:
                return one.bottle.label
        return None


def _far_from(middle: Middle) -> float:
    """Return how far from the middle of those who agree a student is far from them."""
    if middle.count < _FEW:
        return inf
    return (_FAR if middle.count >= _FEWEST else _FAR_FROM_FEW) * middle.spread


def _copied(attempt: Attempt, card: Card) -> float | None:
    """Return which part of a student's entries is a card's, None where they cannot be compared."""
    said, bench = replace(card, boiling_off=0.0).bench(), attempt.bench
    pairs = [(one, said.percent.get(place)) for place, one in bench.percent.items()]
    if bench.boiling_point is not None:
        pairs.append((bench.boiling_point, said.boiling_point))
    if len(pairs) < 2 or not any(reading.is_copied for reading in card.readings.values()):
        return None
    same = [other is not None and abs(one.value - other.value) < 1e-5 for one, other in pairs]
    return sum(same) / len(same)


def _wrong_bottle(attempt: Attempt, card: str | None, near: Sequence[str]) -> Finding:
    """Say which bottle a student's readings are of."""
    if card is not None and card in near:
        return Finding(
            "wrong-bottle",
            "warning",
            f"Card and weighings are those of bottle {card}, and not of bottle "
            f"{attempt.run.label}, which is written here.",
            f"Judge this run as one of bottle {card}, once the student has confirmed it.",
        )
    if card is not None:
        return Finding(
            "wrong-bottle",
            "warning",
            f"Boiling point and percentages are those on the card of bottle {card}, and not of "
            f"bottle {attempt.run.label}, which is written here; the weighings do not fit "
            f"bottle {card}.",
            "Ask which bottle it was, and copy its card again.",
        )
    return Finding(
        "wrong-bottle",
        "note",
        f"The weighings would fit bottle {some(near, 3)}, and do not fit {attempt.run.label}; a "
        "weighing that is wrong for another reason may do so by chance.",
        "Ask which bottle it was.",
    )


def _see(fault: SharedFault) -> Finding:
    return Finding(
        "see-shared-fault",
        "note",
        f"This student shares a fault of the {fault.about} with others: {fault.finding.message}",
        "Do not mark it down to one student; see the findings of the section.",
    )


def key_rank(ranking: Ranking, entry: KeyEntry | None) -> int | None:
    """Return the rank of the key's compound, None where it is not listed."""
    if entry is None or entry.place is None:
        return None
    ranks = (one.rank for one in ranking.candidates if one.index == entry.place)
    return next(ranks, None)
