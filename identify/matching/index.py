"""One unknown against an indexed table of millions, without a look at each candidate.

What a formula decides (molar mass, composition) is compared once a formula, and what the liquid
decides (boiling point, and whether it is a liquid in the room) once a pair of boiling point and
uncertainty: a candidate's weight is prior x its formula's factor x its liquid's factor. Sums over
candidates are taken formula by formula, and left out where all that is left out together cannot
change a probability by 1e-10, however its liquids boil. Leading candidates are looked for only in
formulas that can have any.

Weighings need each candidate's own vapor, other pressures its own vapor-pressure curve: such
records are compared with every candidate, block by block.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache, reduce
from operator import add

import numpy as np
from numpy.typing import NDArray

from identify.candidates.indexed import IndexedTable
from identify.candidates.table import CandidateTable
from identify.matching.bench import Bench
from identify.matching.compared import (
    ISOMERS,
    NONE_OF_THESE,
    UNLIKE_ANY,
    Compared,
    Totals,
    first_rows,
)
from identify.matching.likelihood import Array, Tolerances
from identify.matching.posterior import Matcher, Prior
from identify.matching.shares import MOST_PLAUSIBLE, Share, joined, most_kept, share_of_judge
from identify.matching.slips.groups import Group, chance_of, group_weight, groups_of, rows_kept
from identify.measurement import Measurement
from identify.physics.constants import STANDARD_PRESSURE

# Of the density of all readings: what the sums that are left out come to, together, at most.
_LEFT_OUT = 1e-12
_BLOCK = 65_536  # candidates compared at once, where all have to be
_FIRST_LOOK = 64  # formulas
_AS_READ = Group(())


def share_of_index(
    table: IndexedTable, run: Measurement, tolerances: Tolerances, prior: Prior
) -> Share:
    """Compare one unknown with an indexed table, see `identify.matching.shares.share_of`.

    Parameters
    ----------
    table : IndexedTable
    run : Measurement
    tolerances : Tolerances
    prior : {"commerce", "uniform"}

    Returns
    -------
    Share
        The same sums and leading candidates as with every candidate compared.
    """
    bench = Bench.of(run)
    if not is_separable(bench):
        return _of_all(table, bench, tolerances, prior)
    return _factors(table, tolerances, prior).share(bench)


def is_separable(bench: Bench) -> bool:
    """Say whether formula and boiling point alone decide what a candidate would have read."""
    return (
        bench.weighing is None
        and not bench.further
        and (bench.boiling_point is None or bench.boiling_pressure == STANDARD_PRESSURE)
    )


def _of_all(table: IndexedTable, bench: Bench, tolerances: Tolerances, prior: Prior) -> Share:
    """Compare with every candidate, block by block, a block a processor at a time."""

    def compared(block: tuple[CandidateTable, NDArray[np.int64]]) -> Share:
        judge = Matcher(block[0], tolerances, prior, is_part=True, order=block[1])
        return share_of_judge(judge, bench)

    with ThreadPoolExecutor(os.cpu_count()) as threads:
        shares = list(threads.map(compared, table.blocks(_BLOCK)))
    leading = joined([share.leading for share in shares])
    return Share(reduce(add, (share.totals for share in shares)), leading)


@lru_cache(maxsize=2)
def _factors(table: IndexedTable, tolerances: Tolerances, prior: Prior) -> _Factors:
    return _Factors(table, tolerances, prior)


class _Factors:
    """An indexed table's formulas and liquids, each with a matcher of its own."""

    def __init__(self, table: IndexedTable, tolerances: Tolerances, prior: Prior) -> None:
        self.table = table
        self.formulas = Matcher(table.formulas, tolerances, "uniform", is_part=True)
        self.liquids = Matcher(table.liquids, tolerances, "uniform", is_part=True)
        self.weight = table.weight if prior == "commerce" else None
        self.count = np.diff(table.starts)

    @cached_property
    def all_formulas(self) -> NDArray[np.int64]:
        """Places of all formulas."""
        return np.arange(len(self.count))

    @cached_property
    def base(self) -> Array:
        """Chance before any reading, summed over each formula's candidates, shape (f,)."""
        liquid = self.liquids.liquid(Bench())
        return self.summed(liquid, self.all_formulas)

    @cached_property
    def commonest(self) -> Array:
        """Largest prior of each formula's candidates, shape (f,)."""
        if self.weight is None:
            return np.ones(len(self.count))
        return np.maximum.reduceat(self.weight, self.table.starts[:-1]).astype(np.float64)

    def rows(self, formulas: NDArray[np.int64]) -> NDArray[np.int64] | slice:
        """Return the rows of some formulas, one formula after the other."""
        if len(formulas) == len(self.count):
            return slice(None)
        count = self.count[formulas]
        offset = self.table.starts[formulas] - (np.cumsum(count) - count)
        return np.repeat(offset, count) + np.arange(int(count.sum()))

    def weighed(self, liquid: Array, rows: NDArray[np.int64] | slice) -> Array:
        """Return prior times what the liquid decides, one value a row."""
        values = liquid[self.table.pair[rows]]
        if self.weight is not None:
            values *= self.weight[rows]
        return values

    def summed(self, liquid: Array, formulas: NDArray[np.int64], weighed: bool = True) -> Array:
        """Return sums over some formulas' candidates, shape (len(formulas),).

        Parameters
        ----------
        liquid : array, shape (p,)
            What the liquid decides.
        formulas : array of int
        weighed : bool
            Whether each counts as much as its prior.
        """
        if not len(formulas):
            return np.zeros(0)
        rows = self.rows(formulas)
        values = self.weighed(liquid, rows) if weighed else liquid[self.table.pair[rows]]
        count = self.count[formulas]
        return np.add.reduceat(values, np.cumsum(count) - count)

    def share(self, bench: Bench) -> Share:
        """Return the share of one unknown's answer."""
        formula = self.formulas.compare(replace(bench, boiling_point=None))
        liquid = self.liquids.compare(replace(bench, molar_mass=None, percent={}))
        return _Match(self, formula, liquid).share()


@dataclass(frozen=True)
class _Match:
    """One unknown's readings beside the formulas and the liquids."""

    factors: _Factors
    formula: Compared
    liquid: Compared

    def share(self) -> Share:
        observables = (*self.formula.likelihoods, *self.liquid.likelihoods)
        groups = groups_of(observables, len(self.formula.elements))
        plain = self.parts(_AS_READ)
        kept = [self.leading(*plain, most_kept(groups, observables)), self.plausible(*plain)]
        sums = {}
        for group in groups:
            of_formula, of_liquid = self.parts(group)
            least = self.least / (self.scale * chance_of(group, 0.0))
            sums[group.key] = np.array([self.total(of_formula, of_liquid, least)])
            kept.append(
                self.leading(of_formula, of_liquid, rows_kept(group, observables, of_a_part=True))
            )
        size, kernel = len(self.factors.table), self.liquid.formula
        per_candidate = self.least * size / NONE_OF_THESE
        totals = Totals(
            size=size,
            base=float(self.factors.base.sum()),
            weight=np.array([self.total(*plain, self.least / self.scale)]),
            formula=self.counted(self.formula.formula, kernel, per_candidate / ISOMERS),
            similar=self.counted(
                self.formula.similar, kernel, per_candidate / (1.0 - ISOMERS - UNLIKE_ANY)
            ),
            known=np.zeros((0, 4)),
            groups=sums,
        )
        return Share(totals, self.factors.table.take(np.unique(np.concatenate(kept))))

    def parts(self, group: Group) -> tuple[Array, Array]:
        """Return what formulas and what liquids decide, with a group explained by a slip."""
        return (
            group_weight(group, self.formula, np.ones(len(self.factors.count))),
            group_weight(group, self.liquid, self.liquid.base),
        )

    @property
    def scale(self) -> float:
        """What the chances before the readings are multiplied by, see `Totals`."""
        return (1.0 - NONE_OF_THESE) / float(self.factors.base.sum())

    @cached_property
    def least(self) -> float:
        """What a formula may add to the density of all readings and still be left out."""
        of_formula, of_liquid = self.parts(_AS_READ)
        first = _largest(of_formula * self.factors.base, _FIRST_LOOK)
        found = self.scale * float(of_formula[first] @ self.factors.summed(of_liquid, first))
        anything = self.formula.anything * self.liquid.anything
        at_least = found + NONE_OF_THESE * UNLIKE_ANY * anything
        return _LEFT_OUT * at_least / len(self.factors.count)

    def total(self, of_formula: Array, of_liquid: Array, least: float) -> float:
        """Return the sum over all candidates, but for formulas below this at best."""
        # The chance to be a liquid is part of both; it is counted once.
        most = float((of_liquid / self.liquid.base).max())
        chosen = np.flatnonzero(of_formula * self.factors.base * most >= least)
        return float(of_formula[chosen] @ self.factors.summed(of_liquid, chosen))

    def counted(self, of_formula: Array, kernel: Array, least: float) -> Array:
        """Return the same with all candidates alike, shape (1,)."""
        at_best = of_formula * self.factors.count * float(kernel.max())
        chosen = np.flatnonzero(at_best >= least)
        sums = self.factors.summed(kernel, chosen, weighed=False)
        return np.array([float(of_formula[chosen] @ sums)])

    def leading(self, of_formula: Array, of_liquid: Array, count: int) -> NDArray[np.int64]:
        """Return the rows of the largest weights."""
        factors = self.factors
        at_best = of_formula * factors.commonest * float(of_liquid.max())
        looked_at = min(_FIRST_LOOK, len(at_best))
        while True:
            chosen = np.sort(_largest(at_best, looked_at))
            rows = factors.rows(chosen)
            weight = factors.weighed(of_liquid, rows)
            weight *= np.repeat(of_formula[chosen], factors.count[chosen])
            missing = np.flatnonzero(at_best >= _nth_largest(weight, count) * (1.0 - 1e-8))
            if looked_at == len(at_best) or len(np.setdiff1d(missing, chosen)) == 0:
                break
            looked_at = min(max(len(missing), 4 * looked_at), len(at_best))
        places = first_rows(weight, factors.table.order[rows], count)
        return (
            np.arange(len(factors.table))[rows][places] if isinstance(rows, slice) else rows[places]
        )

    def plausible(self, of_formula: Array, of_liquid: Array) -> NDArray[np.int64]:
        """Return the leading ones of those that agree with every reading."""
        agreeing = np.flatnonzero(self.formula.plausible)
        if not len(agreeing):
            return agreeing
        factors = self.factors
        rows = factors.rows(agreeing)
        weight = factors.weighed(of_liquid, rows)
        weight *= np.repeat(of_formula[agreeing], factors.count[agreeing])
        agrees = self.liquid.plausible[factors.table.pair[rows]]
        places = np.flatnonzero(agrees)
        places = places[
            first_rows(weight[places], factors.table.order[rows][places], MOST_PLAUSIBLE)
        ]
        return places if isinstance(rows, slice) else rows[places]


def _largest(values: Array, count: int) -> NDArray[np.int64]:
    few = min(count, len(values))
    return np.argpartition(values, -few)[-few:]


def _nth_largest(values: Array, count: int) -> float:
    few = min(count, len(values))
    return float(np.partition(values, -few)[-few])
