"""What only the section shows of a student: off from the others, another bottle, a shared fault."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from identify.compounds.table import CandidateTable
from identify.matching.expected.expectation import Expectation
from identify.notebook.findings import Finding, listed
from identify.observables.tolerances import Tolerances
from identify.section.bottles.card import BottleCard
from identify.section.bottles.pooling import PooledBottle
from identify.section.robust_mean import RobustMean
from identify.section.runs import StudentRun
from identify.section.students.copied import copied_weighings
from identify.section.wording import as_percent

# Standard deviations from the others' mean. Of sixteen sections of a thousand sound students, one
# has a student told so.
_FAR = 4.0
_MANY = 5  # students whose spread is known well enough for that
# Of three or four that agree it is not: half a percent of the sound ones are further off than this.
_FAR_FROM_FEW = 6.0
_FEW = 3
# SectionWeighings fit another bottle where they are this near to its students' mean [standard
# deviations], and not their own where they are further off than one run's tolerance too.
_NEAR = 2.0
_SAME_READING = 1e-5  # what a change of unit does to a copied number
_MAX_BOTTLES_IN_SENTENCE = 3


def student_findings(
    pooled: Mapping[str, PooledBottle],
    table: CandidateTable,
    tolerances: Tolerances,
) -> Mapping[int, list[Finding]]:
    """Return what only the section shows of its students, by the index of the run.

    Parameters
    ----------
    pooled : mapping of str to PooledBottle
        By label, with shared faults set right.
    table : CandidateTable
    tolerances : Tolerances
    """
    found: defaultdict[int, list[Finding]] = defaultdict(list)
    for label, bottle in pooled.items():
        others = {other: one for other, one in pooled.items() if other != label}
        beside = _BesideOthers(bottle, list(others.values()), table, tolerances)
        for run, finding in beside.findings():
            found[run.index].append(finding)
    runs = [run for one in pooled.values() for run in one.bottle.runs]
    for run, finding in copied_weighings(sorted(runs, key=lambda run: run.index)):
        found[run.index].append(finding)
    return found


@dataclass(frozen=True)
class _BesideOthers:
    """The students of one bottle beside each other, and beside the other bottles."""

    pooled: PooledBottle
    others: Sequence[PooledBottle]
    table: CandidateTable
    tolerances: Tolerances

    def findings(self) -> Iterator[tuple[StudentRun, Finding]]:
        """Yield who miscopied the card, is far from the others, or had another bottle."""
        runs, mean = self.pooled.bottle.runs, self.pooled.mean
        cards = [self._other_card(run) for run in runs]
        for place, finding in self.pooled.card.miscopied(self.pooled.bottle, self.tolerances):
            # A card of another bottle is told once, and not entry by entry.
            if cards[place] is None:
                yield runs[place], finding
        off = np.nan_to_num(mean.values - mean.value)
        far = np.abs(off) > _far_from(mean)
        out = far & (np.abs(off) > 0.01 * self.tolerances.molar_mass)
        fitting = self._fitting_bottles() if out.any() else [[]] * len(runs)
        for place, run in enumerate(runs):
            if far[place]:
                yield run, self._far(float(off[place]))
            for finding in _wrong_bottle(run, cards[place], fitting[place] if out[place] else []):
                yield run, finding

    def _far(self, off: float) -> Finding:
        mean, label = self.pooled.mean, self.pooled.bottle.label
        spread = 100.0 * mean.spread
        others = self.pooled.molar_mass(self.table.number("molar_mass"))
        own, leader = others * float(np.exp(off)), self.table.text("name")[self.pooled.leader]
        percent = as_percent(off)
        return Finding(
            "far-from-the-others",
            "warning" if abs(percent) > self.tolerances.molar_mass else "note",
            f"The weighings give {own:.1f} g/mol; the {mean.count} other students of bottle "
            f"{label} who agree with each other have {others:.1f} g/mol, both with the corrections "
            f"of {leader}, and spread by {spread:.1f} %. This is {abs(percent):.1f} % "
            f"{'above' if percent > 0 else 'below'} them.",
            "Look at the masses, the volume and the bath of this run first.",
            {
                "molar_mass_g_per_mol": own,
                "others_g_per_mol": others,
                "off_percent": percent,
                "spread_percent": spread,
            },
        )

    def _fitting_bottles(self) -> list[list[str]]:
        """Return the bottles that each student's weighings fit, the nearest first."""
        known = [one for one in self.others if one.mean.count >= _MANY]
        if not known:
            return [[]] * len(self.pooled.bottle.runs)
        liquids = Expectation.of(self.table.take([one.reference for one in known]))
        means = np.array([one.mean.value for one in known])
        spreads = np.array([one.mean.spread for one in known])
        off = np.abs(self.pooled.bottle.offsets(liquids) - means) / spreads
        return [
            [known[at].bottle.label for at in np.argsort(row) if row[at] <= _NEAR]
            for row in np.nan_to_num(off, nan=np.inf)
        ]

    def _other_card(self, run: StudentRun) -> str | None:
        """Return the bottle whose card a student copied, None where it is the own or nobody's."""
        if _copied_share(run, self.pooled.card) != 0.0:
            return None
        copied = (one for one in self.others if _copied_share(run, one.card) == 1.0)
        return next((one.bottle.label for one in copied), None)


def _far_from(mean: RobustMean) -> float:
    """Return how far from the mean of those who agree a student is far from them."""
    if mean.count < _FEW:
        return inf
    return (_FAR if mean.count >= _MANY else _FAR_FROM_FEW) * mean.spread


def _copied_share(run: StudentRun, card: BottleCard) -> float | None:
    """Return which part of a student's entries is a card's, None where they cannot be compared."""
    said, bench = replace(card, boiling_off=0.0).bench(), run.bench
    pairs = [(one, said.percent.get(place)) for place, one in bench.percent.items()]
    if bench.boiling_point is not None:
        pairs.append((bench.boiling_point, said.boiling_point))
    if len(pairs) < 2 or not any(reading.is_copied for reading in card.readings.values()):
        return None
    same = [
        other is not None and abs(one.value - other.value) < _SAME_READING for one, other in pairs
    ]
    return sum(same) / len(same)


def _wrong_bottle(run: StudentRun, card: str | None, near: Sequence[str]) -> Iterator[Finding]:
    """Yield which bottle a student's readings are of, if another: by its card, or the weighings."""
    written = run.measurement.label
    if card is not None and card in near:
        yield Finding(
            "wrong-bottle",
            "warning",
            f"Card and weighings are those of bottle {card}, and not of bottle {written}, which "
            "is written here.",
            f"Judge this run as one of bottle {card}, once the student has confirmed it.",
        )
    elif card is not None:
        yield Finding(
            "wrong-bottle",
            "warning",
            f"Boiling point and percentages are those on the card of bottle {card}, and not of "
            f"bottle {written}, which is written here; the weighings do not fit bottle {card}.",
            "Ask which bottle it was, and copy its card again.",
        )
    elif near:
        yield Finding(
            "wrong-bottle",
            "note",
            f"The weighings would fit bottle {listed(near, _MAX_BOTTLES_IN_SENTENCE)}, and do not "
            f"fit {written}; a weighing that is wrong for another reason may do so by chance.",
            "Ask which bottle it was.",
        )
