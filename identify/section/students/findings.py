"""What only the section shows of a student: off from the others, another bottle, a shared fault."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from identify.compounds.table import CandidateTable
from identify.matching.expectation import Expectation
from identify.notebook.findings import Finding, listed
from identify.observables.comparison import Array
from identify.observables.tolerances import Tolerances
from identify.section.bottles.card import BottleCard
from identify.section.bottles.pooling import PooledBottle
from identify.section.robust_mean import RobustMean
from identify.section.runs import StudentRun
from identify.section.shared.search import SharedFault
from identify.section.students.copied import copied_weighings
from identify.section.wording import as_percent

# Standard deviations from the others' mean: in sections of a thousand sound students, one is told
# so in every sixteenth.
_FAR = 4.0
_MANY = 5  # students whose spread is known well enough for that
# Of three or four that agree it is not: a sound one is further off than this in half a percent.
_FAR_FROM_FEW = 6.0
_FEW = 3
# Weighings fit another bottle where they are this near to its students' mean [standard
# deviations], and not their own where they are further off than one run's tolerance too.
_NEAR = 2.0
_SAME_READING = 1e-5  # what a change of unit does to a copied number
_MAX_BOTTLES_IN_SENTENCE = 3


@dataclass(frozen=True)
class StudentFindings:
    """What a section shows of its students, one by one, beside the others.

    Parameters
    ----------
    pooled : mapping of str to PooledBottle
        By label, the readings of the bottles with shared faults set right.
    table : CandidateTable
    tolerances : Tolerances
    """

    pooled: Mapping[str, PooledBottle]
    table: CandidateTable
    tolerances: Tolerances

    def by_run(self, faults: Sequence[SharedFault]) -> Mapping[int, list[Finding]]:
        """Return the findings by the index of the run."""
        found: defaultdict[int, list[Finding]] = defaultdict(list)
        for label, pooled in self.pooled.items():
            for run, finding in self._of_bottle(label, pooled):
                found[run.index].append(finding)
        runs = [run for pooled in self.pooled.values() for run in pooled.bottle.runs]
        for run, finding in copied_weighings(sorted(runs, key=lambda run: run.index)):
            found[run.index].append(finding)
        for fault in faults:
            for index in fault.students:
                found[index].append(_see(fault))
        return found

    def _of_bottle(self, label: str, pooled: PooledBottle) -> Iterator[tuple[StudentRun, Finding]]:
        """Yield who miscopied the card, is far from the others, or had another bottle."""
        runs, mean = pooled.bottle.runs, pooled.mean
        others = {place: self._other_card(label, run) for place, run in enumerate(runs)}
        for place, finding in pooled.card.miscopied(pooled.bottle, self.tolerances):
            # A card of another bottle is told once, and not entry by entry.
            if others[place] is None:
                yield runs[place], finding
        off = np.nan_to_num(mean.values - mean.value)
        far = np.abs(off) > _far_from(mean)
        out = far & (np.abs(off) > 0.01 * self.tolerances.molar_mass)
        nearest = self._nearest(label, pooled) if out.any() else {}
        for place, run in enumerate(runs):
            if far[place]:
                yield run, self._far(pooled, float(off[place]))
            near = nearest.get(place, []) if out[place] else []
            yield from ((run, finding) for finding in _wrong_bottle(run, others[place], near))

    def _far(self, pooled: PooledBottle, off: float) -> Finding:
        mean, spread = pooled.mean, 100.0 * pooled.mean.spread
        mass = float(self.table.number("molar_mass")[pooled.reference])
        own, others = (mass * float(np.exp(mean.value + x)) for x in (off, 0.0))
        percent = as_percent(off)
        return Finding(
            "far-from-the-others",
            "warning" if abs(percent) > self.tolerances.molar_mass else "note",
            f"The weighings give {own:.1f} g/mol; the {mean.count} other students of bottle "
            f"{pooled.bottle.label} who agree with each other have {others:.1f} g/mol and spread "
            f"by {spread:.1f} %. This is {abs(percent):.1f} % "
            f"{'above' if percent > 0 else 'below'} them.",
            "Look at the masses, the volume and the bath of this run first.",
            {
                "molar_mass_g_per_mol": own,
                "others_g_per_mol": others,
                "off_percent": percent,
                "spread_percent": spread,
            },
        )

    def _nearest(self, label: str, pooled: PooledBottle) -> dict[int, list[str]]:
        """Return the bottles that each student's weighings fit, the nearest first."""
        others = [
            one for other, one in self.pooled.items() if other != label and one.mean.count >= _MANY
        ]
        if not others:
            return {}
        liquids = Expectation.of(self.table.take([one.reference for one in others]))
        means = np.array([one.mean.value for one in others])
        spreads = np.array([one.mean.spread for one in others])
        off: Array = np.abs(pooled.bottle.offsets(liquids) - means) / spreads
        return {
            place: [others[at].bottle.label for at in np.argsort(row) if row[at] <= _NEAR]
            for place, row in enumerate(np.nan_to_num(off, nan=np.inf))
        }

    def _other_card(self, label: str, run: StudentRun) -> str | None:
        """Return the bottle whose card a student copied, None where it is the own or nobody's."""
        if _copied_share(run, self.pooled[label].card) != 0.0:
            return None
        for other, one in self.pooled.items():
            if other != label and _copied_share(run, one.card) == 1.0:
                return one.bottle.label
        return None


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


def _see(fault: SharedFault) -> Finding:
    return Finding(
        "see-shared-fault",
        "note",
        f"This student shares a fault of the {fault.about} with others: {fault.finding.message}",
        "Do not mark it down to one student; see the findings of the section.",
    )
