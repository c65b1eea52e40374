"""A match over the parts of a table: each part's leading candidates and its share of the sums.

*Part and readings → PartShare*, anywhere and in any order; *shares in order → Ranking*, the same as
if all parts were one table: what divides the probabilities is the sum of the parts' sums, and every
candidate that could be shown, or that a slip could lead to, is among the parts' leading ones.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.compounds.table import NUMBER_COLUMNS, TEXT_COLUMNS, CandidateTable
from identify.matching.answer import Ranking
from identify.matching.evidence import CandidateEvidence, Matcher
from identify.matching.posterior import Posterior
from identify.matching.ranked import ranking_of
from identify.matching.settings import MatchSettings
from identify.matching.slips.mechanism.groups import (
    LEADING_COUNT,
    BoundsTooWide,
    ReadingGroup,
    groups_of,
)
from identify.matching.totals import Totals, first_rows
from identify.notebook.measurement import Measurement
from identify.physics.arrays import Array

_AT_ONCE = 131_072  # leading candidates of parts held before those are chosen that lead in all
MAX_PLAUSIBLE = 64
"""Candidates kept of those that agree with every reading: a few more than an answer shows."""


@dataclass(frozen=True)
class PartShare:
    """What a part of a table adds to the answer for one unknown.

    Parameters
    ----------
    totals : Totals
        Sums over all candidates of the part.
    leading : CandidateTable
        Those that could be shown, or that a slip could lead to; priors as in the part.
    """

    totals: Totals
    leading: CandidateTable


def share_of(matcher: Matcher, bench: Bench, in_full: bool = False) -> PartShare:
    """Compare one unknown with the candidates of a part of a table.

    Parameters
    ----------
    matcher : Matcher
        Of the part, see `PartMatching`; serves many unknowns.
    bench : Bench
    in_full : bool
        With all candidates that a search for slips could need, instead of those it mostly needs.
    """
    evidence = matcher.evidence(bench)
    observables = tuple(evidence.likelihoods)
    groups = groups_of(observables, len(evidence.elements))
    kept = [
        rows[first_rows(evidence.weight[rows], matcher.order[rows], most)]
        for rows, most in _by_pattern(evidence, max_kept(groups, observables, in_full))
    ]
    sums: dict[str, Array] = {}
    for group in groups:
        weight = group.weight(evidence, evidence.base)
        sums[group.key] = np.stack([evidence.summed(weight)] * 2)
        few = group.count(observables, in_full)
        kept += [
            rows[first_rows(weight[rows], matcher.order[rows], few)] for rows in _patterns(evidence)
        ]
    totals = replace(evidence.totals, groups=sums, in_full=in_full)
    return PartShare(totals, matcher.table.some(np.unique(np.concatenate(kept))))


@dataclass(frozen=True)
class PartMatching:
    """How the parts of a table are compared with an unknown, all alike."""

    settings: MatchSettings = field(default_factory=MatchSettings.of)

    def matcher(self, part: CandidateTable, order: NDArray[np.int64] | None = None) -> Matcher:
        """Return what compares unknowns with a part.

        Parameters
        ----------
        part : CandidateTable
            Its priors on the scale of the whole table's.
        order : array of int, shape (n,), optional
            As `Matcher` takes it.
        """
        return Matcher.of(part, self.settings, is_part=True, order=order)

    def merged(self, shares: Iterable[PartShare], bench: Bench) -> PartShare:
        """Merge the shares of parts into that of all parts, holding few of them at once.

        Parameters
        ----------
        shares : iterable of PartShare
            In the order of the parts; at least one.
        bench : Bench
            The readings that they were made with.

        Raises
        ------
        ValueError
            If there is no share.
        """
        totals: Totals | None = None
        leading: list[CandidateTable] = []
        enough = _AT_ONCE
        for share in shares:
            totals = share.totals if totals is None else totals + share.totals
            leading.append(share.leading)
            if sum(map(len, leading)) > enough:
                matcher = self.matcher(_joined(leading))
                leading = [share_of(matcher, bench, totals.in_full).leading]
                enough = max(_AT_ONCE, 2 * len(leading[0]))
        if totals is None:
            raise ValueError("a table without parts has no candidates")
        return PartShare(totals, _joined(leading))

    def ranking(self, run: Measurement, shares: Callable[[bool], Iterable[PartShare]]) -> Ranking:
        """Make one answer of the shares of all parts.

        Parameters
        ----------
        run : Measurement
            From which the shares are made.
        shares : callable
            Gives the share of each part, in the order of the parts; called with False, and once
            more with True, in full, where what the parts left out turns out to matter.

        Returns
        -------
        Ranking
            As `identify.match` gives it; ``index`` counts in the leading candidates of all parts.
        """
        try:
            return self._ranking(run, shares(False))
        except BoundsTooWide:
            return self._ranking(run, shares(True))

    def _ranking(self, run: Measurement, shares: Iterable[PartShare]) -> Ranking:
        bench = Bench.of(run)
        share = self.merged(shares, bench)
        evidence = self.matcher(share.leading).evidence(bench)
        return ranking_of(run, Posterior.of(evidence, share.totals))


def _joined(tables: Sequence[CandidateTable]) -> CandidateTable:
    """Return the rows of several tables one after the other, their priors as they are."""
    return CandidateTable(
        {name: [cell for one in tables for cell in one.text(name)] for name in TEXT_COLUMNS},
        {name: np.concatenate([one.number(name) for one in tables]) for name in NUMBER_COLUMNS},
    )


def max_kept(groups: Sequence[ReadingGroup], observables: Sequence[str], in_full: bool) -> int:
    """Return how many leading candidates of a part may be shown in the end.

    A search for slips can lower all those that it looks at below others that it does not.
    """
    looked_at = [group.count(observables, in_full) for group in groups]
    return MAX_PLAUSIBLE + LEADING_COUNT + sum(looked_at)


def _by_pattern(evidence: CandidateEvidence, most: int) -> list[tuple[NDArray[np.int64], int]]:
    """Return rows to choose from, and how many at most: what stands in is the same within each."""
    parts = []
    for rows in _patterns(evidence):
        parts.append((rows, most))
        parts.append((rows[evidence.plausible[rows]], MAX_PLAUSIBLE))
    return parts


def _patterns(evidence: CandidateEvidence) -> list[NDArray[np.int64]]:
    pattern = evidence.pattern
    if pattern is None:
        return [np.arange(len(evidence.base))]
    return [np.flatnonzero(pattern == one) for one in np.unique(pattern)]
