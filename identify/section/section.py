"""A section put together: bottle by bottle, as written and with shared faults set right."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from identify.matching.answer import Ranking
from identify.matching.evidence import Matcher
from identify.notebook.findings import Finding, worst_first
from identify.notebook.usual import tolerance_u
from identify.section.bottles.findings import Sources
from identify.section.bottles.pooling import First, Pool, Pooled
from identify.section.key import Key
from identify.section.result import PooledCandidate, StudentResult, UnknownResult
from identify.section.runs import Attempt, Bottle, bottles_of, expectation_of
from identify.section.shared.faults import SharedFaults
from identify.section.shared.offset import CommonOffset, common_findings
from identify.section.students.findings import Students, key_rank

_MOST_LISTED, _LEAST_LISTED = 10, 1e-3  # compounds of an unknown that are listed


@dataclass(frozen=True)
class Section:
    """All bottles of a section, and what their students share.

    Parameters
    ----------
    matcher : Matcher
    key : Key
    written : mapping of str to Bottle
        By label, as the file has them.
    pooled : mapping of str to Pooled
        The same, with shared faults set right.
    shared : SharedFaults
    common : CommonOffset
    sources : Sources
    """

    matcher: Matcher
    key: Key
    written: Mapping[str, Bottle]
    pooled: Mapping[str, Pooled]
    shared: SharedFaults
    common: CommonOffset
    sources: Sources

    @classmethod
    def of(cls, attempts: Sequence[Attempt], matcher: Matcher, key: Key) -> Section:
        """Put the runs of a section together.

        Parameters
        ----------
        attempts : sequence of Attempt
        matcher : Matcher
        key : Key
            Empty where there is none.
        """
        written = bottles_of(attempts)
        places = [entry.place for entry in key.entries.values() if entry.place is not None]
        pool = Pool(matcher, places)
        firsts: list[First] = [pool.first(bottle) for bottle in written.values()]
        liquids = [expectation_of(matcher.table, [first.reference]) for first in firsts]
        shared = SharedFaults(list(written.values()), liquids)
        right = dict(zip(written, shared.bottles, strict=True))
        common = CommonOffset.of(list(right.items()), firsts, key, matcher)
        pooled = {
            label: pool.of(bottle, common.weighings, common.set_right(first))
            for (label, bottle), first in zip(right.items(), firsts, strict=True)
        }
        half = 0.01 * tolerance_u(matcher.tolerances.molar_mass)
        sources = Sources(pooled, key, matcher.table, pool.shared, half)
        return cls(matcher, key, written, pooled, shared, common, sources)

    def findings(self) -> list[Finding]:
        """Return what concerns the section as a whole."""
        labels = [bottle.label for bottle in self.written.values()]
        return [
            *(fault.finding for fault in self.shared.faults),
            *common_findings(self.common),
            *self.key.findings,
            *self.key.compared(labels),
        ]

    def unknowns(self) -> Iterator[UnknownResult]:
        """Yield the bottles in their order."""
        for label, pooled in self.pooled.items():
            leader = pooled.leader
            mass = uncertainty = spread = None
            if pooled.middle.count:
                relative = float(np.hypot(pooled.middle.uncertainty, self.sources.shared))
                known = float(self.matcher.table.number("molar_mass")[leader])
                mass = known * float(np.exp(pooled.centers[leader]))
                uncertainty = mass * relative
                # One student alone spreads from nobody.
                spread = 100.0 * pooled.middle.spread if pooled.middle.count > 1 else None
            yield UnknownResult(
                label=pooled.bottle.label,
                students=pooled.bottle.students,
                used=pooled.middle.count,
                molar_mass=mass,
                molar_mass_u=uncertainty,
                spread_percent=spread,
                candidates=tuple(self._candidates(pooled)) if pooled.is_known else (),
                none_of_these=pooled.none_of_these,
                key=self.key.of(label),
                findings=tuple(worst_first(self.sources.findings(label))),
            )

    def _candidates(self, pooled: Pooled) -> Iterator[PooledCandidate]:
        table = self.matcher.table
        likely = np.flatnonzero(pooled.probability >= _LEAST_LISTED)
        order = np.lexsort((self.matcher.order[likely], -pooled.probability[likely]))
        rows = likely[order][:_MOST_LISTED] if len(likely) else [pooled.leader]
        for row in rows:
            yield PooledCandidate(
                **{name: table.text(name)[row] for name in ("name", "cas", "smiles", "formula")},
                molar_mass=float(table.number("molar_mass")[row]),
                boiling_point_C=float(table.number("boiling_point_C")[row]),
                probability=float(pooled.probability[row]),
            )

    def students(self, rankings: Sequence[Ranking]) -> Iterator[StudentResult]:
        """Yield the students in the order of the file."""
        shown = Students(self.pooled, self.matcher.table, self.matcher.tolerances).findings(
            self.shared.faults
        )
        by_place: dict[int, StudentResult] = {}
        for label, bottle in self.written.items():
            entry = self.key.of(label)
            errors = self._percent_errors(label, bottle)
            for attempt, error in zip(bottle.attempts, errors, strict=True):
                ranking = rankings[attempt.place]
                more = shown.get(attempt.place, ())
                by_place[attempt.place] = StudentResult(
                    student=attempt.run.student,
                    label=attempt.run.label,
                    rows=attempt.rows,
                    run=attempt.run,
                    ranking=ranking,
                    key=entry,
                    key_rank=key_rank(ranking, entry),
                    percent_error=error,
                    findings=tuple(worst_first([*ranking.findings, *more])),
                )
        yield from (by_place[place] for place in sorted(by_place))

    def _percent_errors(self, label: str, bottle: Bottle) -> list[float | None]:
        """Return each student's error of the molar mass, as it was written [percent]."""
        entry = self.key.of(label)
        row = self.pooled[label].leader if entry is None else entry.place
        if row is None or not bottle.is_weighed:
            return [None] * bottle.students
        off = bottle.offsets(expectation_of(self.matcher.table, [row]))[:, 0]
        return [100.0 * float(np.expm1(one)) if np.isfinite(one) else None for one in off]
