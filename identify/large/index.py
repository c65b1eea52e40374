"""One unknown against an indexed table of millions, without a look at each candidate.

What a formula decides (molar mass, composition) is compared once a formula, and what the liquid
decides (boiling point, and whether it is a liquid in the room) once a pair of boiling point and
uncertainty, see `identify.large.factors`. Most formulas are not even compared: blocks of them
are left out where all that is left out together cannot change a probability by 1e-9, whatever the
block's best formula (`identify.large.blocks`) and however its liquids boil. Leading candidates are
looked for only where there can be any.

Weighings need each candidate's own vapor, other pressures its own vapor-pressure curve: such
records are compared with every candidate, block by block.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.compounds.table import CandidateTable
from identify.large.best_first import Bound, Weights, largest
from identify.large.blocks import ComparedFormulas, Places
from identify.large.factors import ROUNDING, Factors, LiquidSums, all_but
from identify.large.indexed import IndexedTable
from identify.large.shares import MAX_PLAUSIBLE, PartMatching, PartShare, max_kept, share_of
from identify.matching.settings import MatchSettings
from identify.matching.slips.catalog.boiling_point import at_laboratory_chance
from identify.matching.slips.mechanism.groups import (
    MIN_SLIP_ODDS,
    ReadingGroup,
    groups_of,
)
from identify.matching.totals import (
    ISOMERS,
    SIMILAR,
    UNLIKE_ANY,
    Totals,
    first_rows,
)
from identify.notebook.measurement import Measurement
from identify.physics.arrays import Array, Rows
from identify.physics.constants import STANDARD_PRESSURE

# Of the density of all readings: what each sum that is left out comes to at most.
_MAX_LEFT_OUT = 2e-10
# What a search for slips leaves at least of a weight that rests on gross errors of two readings:
# most of those are slips that are known, see `identify.matching.slips.mechanism.mixture`.
_LEFT_OF_GROSS_ERRORS = 0.02
MAX_FORMULAS_AT_ONCE = 12_288  # so many are compared more quickly at once than part by part
# Of what decides: what is left out of sums, less and less, until they decide.
_SHARES_LEFT_OUT = (0.5, 0.1, 0.01, 1e-3)
_CANDIDATES_AT_ONCE = 65_536  # candidates compared at once, where all have to be
_AS_READ = ReadingGroup(())
"""No reading is explained by a slip."""


def share_of_index(
    table: IndexedTable,
    run: Measurement,
    matching: PartMatching,
    in_full: bool = False,
) -> PartShare:
    """Compare one unknown with an indexed table, see `identify.large.shares.share_of`.

    Parameters
    ----------
    table : IndexedTable
    run : Measurement
    matching : PartMatching
    in_full : bool
        Also what only decides whether a slip is worth a search, instead of bounds that mostly do,
        and all candidates that the search could need.

    Returns
    -------
    PartShare
        The same sums and leading candidates as with every candidate compared.
    """
    bench = Bench.of(run)
    if not _is_separable(bench) or at_laboratory_chance(run, bench):
        return _of_all(table, bench, matching, in_full)
    return _Match(_factors(table, matching.settings), bench, in_full).share()


def _is_separable(bench: Bench) -> bool:
    """Say whether formula and boiling point alone decide what a candidate would have read."""
    return (
        bench.weighing is None
        and not bench.further
        and (bench.boiling_point is None or bench.boiling_pressure == STANDARD_PRESSURE)
    )


def _of_all(table: IndexedTable, bench: Bench, matching: PartMatching, in_full: bool) -> PartShare:
    """Compare with every candidate, block by block, a block a processor at a time."""

    def compared(block: tuple[CandidateTable, NDArray[np.int64]]) -> PartShare:
        return share_of(matching.matcher(*block), bench, in_full)

    with ThreadPoolExecutor(os.cpu_count()) as threads:
        shares = threads.map(compared, table.blocks(_CANDIDATES_AT_ONCE))
        return matching.merged(shares, bench)


@lru_cache(maxsize=2)
def _factors(table: IndexedTable, settings: MatchSettings) -> Factors:
    return Factors(table, settings)


class _Match:
    """One unknown's readings beside the formulas and the liquids.

    Sums over all candidates leave out what cannot matter, in three steps: blocks of formulas by
    the best that a formula in them could be; formulas by how many candidates are in which bin of
    liquids; the others' candidates are added up. What is left out is bounded in each step, and
    the bounds together are below what a sum may be off.
    """

    def __init__(self, factors: Factors, bench: Bench, in_full: bool) -> None:
        self.factors, self.in_full = factors, in_full
        self.outside = outside = factors.settings.outside
        self.bench = replace(bench, boiling_point=None)
        self.liquid = factors.liquids.evidence(replace(bench, molar_mass=None, percent={}))
        self.best, self.wider = factors.blocks.best_case(self.bench)
        self.scale = (1.0 - outside) / factors.base
        """What the chances before the readings are multiplied by, see `Totals`."""
        self._sums: dict[frozenset[str], LiquidSums] = {}

    def share(self) -> PartShare:
        """Return the sums, and the leading candidates."""
        observables = (*self.best.likelihoods, *self.liquid.likelihoods)
        groups = groups_of(observables, len(self.best.elements))
        near, totals = self.totals()
        stands, _ = totals.marginal_likelihood(
            np.zeros(0), np.zeros(0), self.anything, self.outside
        )
        found, searched = [], self.in_full
        for group in groups:
            enough = MIN_SLIP_ODDS * stands / (group.chance() * self.scale)
            least, most, near_group = self.between(group, enough)
            totals.groups[group.key] = np.array([[least], [most]])
            found.append((group, near_group))
            searched |= most >= enough
        looked_for = found if searched else []
        most_shown = max_kept([group for group, _ in looked_for], observables, self.in_full)
        kept = [self.plausible(near), self.leading(_AS_READ, near, most_shown)]
        for group, near_group in looked_for:
            few = group.count(observables, self.in_full)
            kept.append(self.leading(group, near_group, few))
        if not searched:
            for bounds in totals.groups.values():
                bounds[0] = -np.inf
        leading = self.factors.table.take(np.unique(np.concatenate(kept)))
        return PartShare(replace(totals, in_full=self.in_full), leading)

    def totals(self) -> tuple[ComparedFormulas, Totals]:
        """Return the sums, those of the slips' groups left out, and the formulas they come from."""
        kernels, unlisted = self.kernels, self.factors.unlisted
        missing = self.least * self.scale / self.outside if self.outside else np.inf
        isomers, similar = missing * self.factors.isomers / ISOMERS, missing * unlisted / SIMILAR
        # Half of what may be left out is left out with blocks, half with formulas.
        counted = self.wider * kernels.at_most_of_blocks
        blocks = self.best.plausible.copy()
        blocks[all_but(self.bound(_AS_READ), 0.5 * self.least)] = True
        blocks[all_but(self.best.formula * counted, 0.5 * isomers)] = True
        near = self.near(np.flatnonzero(blocks))
        like = self.factors.blocks.of_blocks(all_but(self.best.similar * counted, 0.5 * similar))
        alike = self.factors.formulas.some(like, self.bench).similar
        sums = (
            self.sums(_AS_READ).times(near.weight(_AS_READ), near.formulas, 0.5 * self.least),
            kernels.times(near.evidence.formula, near.formulas, 0.5 * isomers),
            kernels.times(alike, like, 0.5 * similar),
        )
        weight, formula, similarity = (np.array([one]) for one in sums)
        none_known = np.zeros((0, 4))
        totals = Totals(
            self.factors.base,
            unlisted,
            self.factors.isomers,
            weight,
            formula,
            similarity,
            none_known,
            {},
        )
        return near, totals

    @cached_property
    def least(self) -> float:
        """What formulas may add to the sum of the weights, together, and be left out."""
        near = self.near(largest(self.bound(_AS_READ)))
        weight = near.weight(_AS_READ)
        first = largest(weight)
        found = float((weight[first] * self.sums(_AS_READ).of(near.formulas[first])).sum())
        similar = float((near.evidence.similar * self.kernels.at_least(near.formulas)).sum())
        none = UNLIKE_ANY * self.anything
        none += SIMILAR * similar / self.factors.unlisted
        found *= _LEFT_OF_GROSS_ERRORS
        return _MAX_LEFT_OUT * (found + self.outside * none / self.scale)

    @property
    def anything(self) -> float:
        """Density of all readings for a compound like none in the table."""
        return self.best.anything * self.liquid.anything

    @cached_property
    def kernels(self) -> LiquidSums:
        """Sums of the kernels of a boiling point, for compounds that are not in the table."""
        if self.liquid.boiling_point is None:
            return self.factors.unlisted_sums
        return LiquidSums(self.factors, self.liquid.formula, weighed=False)

    def sums(self, group: ReadingGroup) -> LiquidSums:
        """Return sums of what the liquid decides, with a group of readings explained by a slip."""
        if self.liquid.boiling_point is None:
            return self.factors.base_sums
        explained = frozenset(group.names & self.liquid.likelihoods.keys())
        if explained not in self._sums:
            of_liquid = group.weight(self.liquid, self.liquid.base)
            self._sums[explained] = LiquidSums(self.factors, of_liquid)
        return self._sums[explained]

    def of_blocks(self, group: ReadingGroup) -> Array:
        """Return the highest factor of a formula in each block, shape (b,)."""
        return group.weight(self.best, self.wider)

    def bound(self, group: ReadingGroup) -> Array:
        """Return what the weights of each block's candidates come to at most, shape (b,)."""
        return self.of_blocks(group) * self.sums(group).at_most_of_blocks

    def near(self, blocks: Places) -> ComparedFormulas:
        """Compare the formulas of some blocks, or all where that takes no longer."""
        known = self.factors.blocks
        if len(known.formulas) <= MAX_FORMULAS_AT_ONCE or 2 * len(blocks) > len(known.count):
            return self.everything
        formulas = known.of_blocks(blocks)
        return ComparedFormulas(blocks, formulas, self.factors.formulas.some(formulas, self.bench))

    @cached_property
    def everything(self) -> ComparedFormulas:
        """All formulas, compared."""
        known = self.factors.blocks
        formulas = np.arange(len(known.formulas))
        evidence = self.factors.formulas.some(formulas, self.bench)
        return ComparedFormulas(np.arange(len(known.count)), formulas, evidence)

    def between(
        self, group: ReadingGroup, decisive: float
    ) -> tuple[float, float, ComparedFormulas | None]:
        """Return bounds of the sum of all weights, both on one side of a value if that is quick.

        Parameters
        ----------
        group : ReadingGroup
            Of readings that are explained by a slip.
        decisive : float

        Returns
        -------
        float, float
        ComparedFormulas or None
            Formulas that most of it comes from.
        """
        if self._is_of_liquids(group):
            total = self.over_liquids(group)
            return total, total, None
        bound = self.bound(group)
        at_best = float(bound.sum()) * (1.0 + ROUNDING)
        if at_best < decisive and not self.in_full:
            return 0.0, at_best, None
        for share in self._shares_left_out:
            least, most, near = self._bounded(group, bound, share * decisive, decisive)
            if most < decisive or least >= 2.0 * decisive:
                return least, most, near
        left_out = 0.5 * _MAX_LEFT_OUT * decisive
        near = self.near(all_but(bound, left_out))
        total = self.sums(group).times(near.weight(group), near.formulas, left_out)
        return total, total, near

    @property
    def _shares_left_out(self) -> tuple[float, ...]:
        return () if self.in_full else _SHARES_LEFT_OUT

    def _bounded(
        self, group: ReadingGroup, bound: Array, left_out: float, decisive: float
    ) -> tuple[float, float, ComparedFormulas]:
        """Return bounds of the sum of all weights, adding up no more than it takes.

        Blocks that come to ``left_out`` at most are left out, and formulas that do.
        """
        sums, near = self.sums(group), self.near(all_but(bound, left_out))
        rest, weight = float(np.delete(bound, near.blocks).sum()), near.weight(group)
        at_most = weight * sums.at_most(near.formulas)
        most = (float(at_most.sum()) + rest) * (1.0 + ROUNDING)
        if most < decisive:
            return 0.0, most, near
        least = float((weight * sums.at_least(near.formulas)).sum())
        if least >= 2.0 * decisive:
            return least, most, near
        chosen = all_but(at_most, left_out)
        least = float((weight[chosen] * sums.of(near.formulas[chosen])).sum())
        most = (least + float(np.delete(at_most, chosen).sum()) + rest) * (1.0 + ROUNDING)
        return least, most, near

    def _is_of_liquids(self, group: ReadingGroup) -> bool:
        """Say whether a slip explains all that the formula decides, see `over_liquids`."""
        whole = {name for name, place in group.parts if place == 0}
        stated = self.bench.molar_mass
        by_share = stated is None or stated.uncertainty is None
        return bool(group.parts) and by_share and self.best.likelihoods.keys() <= whole

    def over_liquids(self, group: ReadingGroup) -> float:
        """Return the sum of all weights where a slip explains all that the formula decides.

        The highest density of an element's readings is the same for every formula, and that of a
        molar mass is proportional to 1 / M where no uncertainty is stated that is not a share of
        it. So the sum is one over liquids, whose candidates' priors, or priors over M, are known
        for all records.
        """
        one = self.near(np.zeros(1, dtype=np.int64))
        of_formula = float(one.weight(group)[0])
        of_liquid = self.sums(group).liquid
        if self.bench.molar_mass is None:
            return of_formula * float((self.factors.prior_of_liquids * of_liquid).sum())
        molar_mass = float(self.factors.formulas.expectation.molar_mass[one.formulas[0]])
        lightness = self.factors.lightness_of_liquids
        return of_formula * molar_mass * float((lightness * of_liquid).sum())

    def leading(self, group: ReadingGroup, near: ComparedFormulas | None, count: int) -> Rows:
        """Return the rows of the largest weights.

        Parameters
        ----------
        group : ReadingGroup
            Of readings that are explained by a slip.
        near : ComparedFormulas or None
            Formulas to look at first.
        count : int
            Rows returned at most.
        """
        sums, factors = self.sums(group), self.factors
        parts = self.of_blocks(group) * factors.commonest_of_blocks
        bound = Bound(parts, sums.highest, sums.single_of_blocks)

        if near is None:
            near = self.near(bound.largest())

        def of_some_blocks(blocks: Places) -> Weights:
            some = near if blocks is near.blocks else self.near(blocks)
            of_formula = some.weight(group)
            formulas = Bound(
                of_formula * factors.commonest[some.formulas],
                sums.highest,
                lambda places: sums.single(some.formulas[places]),
            )
            return formulas.best_first(
                formulas.largest(),
                lambda places: self.weights(group, some.formulas[places], of_formula[places]),
                count,
            )

        rows, weight = bound.best_first(near.blocks, of_some_blocks, count)
        return _rows_at(rows, first_rows(weight, factors.table.order[rows], count))

    def plausible(self, near: ComparedFormulas) -> Rows:
        """Return the leading ones of those that agree with every reading."""
        agreeing = np.flatnonzero(near.evidence.plausible)
        if not len(agreeing):
            return agreeing
        table, formulas = self.factors.table, near.formulas[agreeing]
        rows, weight = self.weights(_AS_READ, formulas, near.weight(_AS_READ)[agreeing])
        places = np.flatnonzero(self.liquid.plausible[table.pair[rows]])
        rows, weight = _rows_at(rows, places), weight[places]
        return rows[first_rows(weight, table.order[rows], MAX_PLAUSIBLE)]

    def weights(self, group: ReadingGroup, formulas: Places, of_formula: Array) -> Weights:
        """Return the rows of some formulas, and their weights."""
        rows = self.factors.rows(formulas)
        weight = self.factors.values(self.sums(group).liquid, rows)
        weight *= np.repeat(of_formula, self.factors.count[formulas])
        return rows, weight


def _rows_at(rows: Rows | slice, places: Places) -> Rows:
    return places if isinstance(rows, slice) else rows[places]
