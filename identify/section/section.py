"""A section worked out: bottle by bottle, as written and with shared faults set right."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from identify.bench.bench import Bench
from identify.checks.assumed import conditions_assumed
from identify.matching.answer import Ranking
from identify.matching.evidence import Matcher
from identify.matching.posterior import Posterior
from identify.matching.ranked import ranking_of
from identify.notebook.findings import Finding, worst_first
from identify.observables.class_spread import ClassPrecision
from identify.section.bottles.findings import BottleFindings
from identify.section.bottles.pooling import BottlePooling, PooledBottle
from identify.section.grading import Bottled, Graded
from identify.section.key import Key
from identify.section.result import (
    Cause,
    KeyRow,
    PooledCandidate,
    StudentResult,
    UnknownResult,
)
from identify.section.runs import BottleRuns, StudentRun, runs_by_bottle
from identify.section.shared.causes import SharedCauses
from identify.section.shared.class_precision import WeighedResult, class_precision
from identify.section.shared.offset import CommonOffset
from identify.section.shared.thermometers import thermometer_faults
from identify.section.shared.weighings import SectionWeighings, weighing_faults
from identify.section.students.findings import student_findings
from identify.section.students.unweighed import Unweighed
from identify.section.wording import as_percent

_MAX_CANDIDATES, _MIN_PROBABILITY = 10, 1e-3  # of an unknown that are listed


class Section:
    """All bottles of a section, and what their students share.

    Parameters
    ----------
    runs : sequence of StudentRun
    matcher : Matcher
    key : Key
        Empty where there is none.

    Attributes
    ----------
    written : dict of str to BottleRuns
        By label as `folded_label` writes it, as the file has them.
    faults : list of SharedFault
        That many students share.
    common : CommonOffset
    pooled : dict of str to PooledBottle
        By label, with shared faults set right.
    bottle_findings : BottleFindings
    causes : SharedCauses
    """

    def __init__(self, runs: Sequence[StudentRun], matcher: Matcher, key: Key) -> None:
        self.key, self._table, self._matcher = key, matcher.table, matcher
        self.written = runs_by_bottle(runs)
        self._unweighed = Unweighed(runs)
        key_rows = [entry.row for entry in key.rows.values() if entry.row is not None]
        self._pooling = pooling = BottlePooling(matcher, key_rows)
        firsts = {label: pooling.first_look(bottle) for label, bottle in self.written.items()}
        weighings = SectionWeighings(
            list(self.written.values()),
            [pooling.liquid(first.reference) for first in firsts.values()],
        )
        of_thermometers, weighings = thermometer_faults(weighings)
        of_weighings, weighings = weighing_faults(weighings)
        self.faults = [*of_weighings, *of_thermometers]
        bottles = dict(zip(self.written, weighings.bottles, strict=True))
        if of_thermometers:
            firsts = {label: pooling.card_again(bottles[label], firsts[label]) for label in firsts}
        self.common = CommonOffset.of(bottles, firsts, key, pooling)
        self.pooled = {
            label: pooling.pooled(bottle, firsts[label], self.common.weighings, self.common.boiling)
            for label, bottle in bottles.items()
        }
        self.bottle_findings = BottleFindings(self.pooled, key, self._table)
        self.causes = SharedCauses(self.pooled, self.faults, self.common, self.bottle_findings)

    def findings(self) -> list[Finding]:
        """Return what concerns the section as a whole."""
        return [
            *(fault.finding for fault in self.faults),
            *self.common.findings(),
            *self._unweighed.findings(),
            *self.key.findings,
            *self.key.compared([bottle.label for bottle in self.written.values()]),
            *conditions_assumed(
                [run.bench for bottle in self.written.values() for run in bottle.runs]
            ),
        ]

    # ------------------------------------------------------------------------------- the unknowns

    def unknowns(self) -> Iterator[UnknownResult]:
        """Yield the bottles in their order."""
        for label, pooled in self.pooled.items():
            mean, mass = pooled.mean, None
            if mean.count:
                mass = pooled.molar_mass(self._table.number("molar_mass"))
            yield UnknownResult(
                label=pooled.bottle.label,
                students=len(pooled.bottle.runs),
                used=mean.count,
                molar_mass=mass,
                molar_mass_u=None if mass is None else mass * mean.uncertainty,
                # One student alone spreads from nobody.
                spread_percent=100.0 * mean.spread if mean.count > 1 else None,
                candidates=tuple(self._candidates(pooled)) if pooled.is_known else (),
                none_of_these=pooled.none_of_these,
                key=self.key.of(label),
                findings=tuple(worst_first(self.bottle_findings.of(label))),
            )

    def _candidates(self, pooled: PooledBottle) -> Iterator[PooledCandidate]:
        table = self._table
        likely = np.flatnonzero(pooled.probability >= _MIN_PROBABILITY)
        order = np.lexsort((self._matcher.order[likely], -pooled.probability[likely]))
        rows = likely[order][:_MAX_CANDIDATES] if len(likely) else [pooled.leader]
        for row in rows:
            yield PooledCandidate(
                **{name: table.text(name)[row] for name in ("name", "cas", "smiles", "formula")},
                molar_mass=float(table.number("molar_mass")[row]),
                boiling_point_C=float(table.number("boiling_point_C")[row]),
                probability=float(pooled.probability[row]),
            )

    # ------------------------------------------------------------------------------- the students

    def rankings(self, matcher: Matcher) -> Iterator[tuple[int, Ranking]]:
        """Yield the answer to each run, what many share set right, with the run's index."""
        for label, bottle in self.written.items():
            of_bottle = self.causes.matcher(label, matcher)
            for run in bottle.runs:
                judged = self.causes.without(label, run)
                bench = run.bench if judged is run.measurement else Bench.of(judged)
                yield run.index, ranking_of(judged, Posterior.of(of_bottle.evidence(bench)))

    def students(self, rankings: Mapping[int, Ranking]) -> list[StudentResult]:
        """Return the students in the order of the file, with the ranking of each run."""
        findings = student_findings(self.pooled, self._table, self._matcher.tolerances)
        results: dict[int, StudentResult] = {}
        for label, bottle in self.written.items():
            entry = self.key.of(label)
            errors = self._percent_errors(label, bottle)
            bottled = Bottled(self._table, self.causes.liquid(label, entry))
            for run, error in zip(bottle.runs, errors, strict=True):
                shared = tuple(one for one in self.causes.told if run.index in one.runs)
                ranking = rankings[run.index]
                own = [*ranking.findings, *findings.get(run.index, ()), *map(_see, shared)]
                results[run.index] = StudentResult(
                    student=run.measurement.student,
                    label=run.measurement.label,
                    rows=run.rows,
                    run=run.measurement,
                    ranking=ranking,
                    bench=run.bench,
                    key=entry,
                    key_rank=_key_rank(ranking, entry),
                    percent_error=error,
                    findings=tuple(worst_first(self._unweighed.of(run, own))),
                    causes=shared,
                    graded=Graded.of(run.measurement, run.bench, bottled),
                )
        return [results[index] for index in sorted(results)]

    def _percent_errors(self, label: str, bottle: BottleRuns) -> list[float | None]:
        """Return each student's error of the molar mass, as it was written [percent]."""
        row = self.causes.liquid(label, self.key.of(label))
        if row is None:
            return [None] * len(bottle.runs)
        offsets = bottle.offsets(self._pooling.liquid(row))[:, 0]
        return [as_percent(one) if np.isfinite(one) else None for one in offsets]

    def precision(self) -> ClassPrecision | None:
        """Return how well the class weighs, shared faults set right."""
        return class_precision(list(self._weighed()))

    def _weighed(self) -> Iterator[WeighedResult]:
        # What is in a bottle that is in doubt is not known well enough to say who is off.
        doubtful = {run for one in self.causes.told if one.is_of_bottle for run in one.runs}
        for label, pooled in self.pooled.items():
            row = self.causes.liquid(label, self.key.of(label))
            if row is None or any(run.index in doubtful for run in pooled.bottle.runs):
                continue
            offsets = pooled.bottle.offsets(self._pooling.liquid(row))[:, 0]
            for run, offset in zip(pooled.bottle.runs, offsets, strict=True):
                if np.isfinite(offset):
                    yield WeighedResult(
                        pooled.bottle.label,
                        self._table.text("name")[row],
                        float(np.expm1(offset)),
                        run.circumstances(next(iter(run.measurement.trials), None)),
                    )


def _key_rank(ranking: Ranking, key: KeyRow | None) -> int | None:
    """Return the rank of the key's compound, None where it is not listed."""
    if key is None or key.row is None:
        return None
    ranks = (one.rank for one in ranking.candidates if one.index == key.row)
    return next(ranks, None)


def _see(cause: Cause) -> Finding:
    return Finding(
        "see-shared-fault",
        "note",
        f"Many share this, and it was set right before this result was judged: {cause.message}",
        "Do not mark it down to one student; see the findings of the section.",
    )
