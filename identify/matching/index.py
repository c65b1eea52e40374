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
from dataclasses import dataclass, field, replace
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
from identify.matching.slips.groups import (
    WORTH_WHILE,
    Group,
    chance_of,
    group_weight,
    groups_of,
    rows_kept,
)
from identify.measurement import Measurement
from identify.physics.constants import STANDARD_PRESSURE

# Of the density of all readings: what the sums that are left out come to, together, at most.
_LEFT_OUT = 2e-10
_BLOCK = 65_536  # candidates compared at once, where all have to be
_FIRST_LOOK = 64  # formulas
_BINS = 16  # of boiling points


def share_of_index(
    table: IndexedTable,
    run: Measurement,
    tolerances: Tolerances,
    prior: Prior,
    exact: bool = False,
) -> Share:
    """Compare one unknown with an indexed table, see `identify.matching.shares.share_of`.

    Parameters
    ----------
    table : IndexedTable
    run : Measurement
    tolerances : Tolerances
    prior : {"commerce", "uniform"}
    exact : bool
        Also what only decides whether a slip is worth a search, instead of bounds that mostly do.

    Returns
    -------
    Share
        The same sums and leading candidates as with every candidate compared.
    """
    bench = Bench.of(run)
    if not is_separable(bench):
        return _of_all(table, bench, tolerances, prior)
    return _factors(table, tolerances, prior).share(bench, exact)


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


class _Formulas(Matcher):
    """Compares formulas, which have no boiling point."""

    def liquid(self, bench: Bench) -> Array:
        """Return what a formula says of staying a liquid: nothing, shape (f,)."""
        return np.ones(len(self.table))


class _Liquids(Matcher):
    """Compares pairs of boiling point and uncertainty."""

    def liquid(self, bench: Bench) -> Array:
        """Return the chance that each stays a liquid, the same for every separable record."""
        return self._liquid

    @cached_property
    def _liquid(self) -> Array:
        return super().liquid(Bench())


class _Factors:
    """An indexed table's formulas and liquids, each with a matcher of its own."""

    def __init__(self, table: IndexedTable, tolerances: Tolerances, prior: Prior) -> None:
        self.table = table
        self.formulas = _Formulas(table.formulas, tolerances, "uniform", is_part=True)
        self.liquids = _Liquids(table.liquids, tolerances, "uniform", is_part=True)
        # Where all priors are the same they are a factor of all sums, and tell nothing apart.
        varies = prior == "commerce" and bool((table.weight != table.weight[0]).any())
        self.weight = table.weight if varies else None
        self.common = float(table.weight[0]) if prior == "commerce" and not varies else 1.0
        self.liquids.prior = self.liquids.prior * self.common
        self.count = np.diff(table.starts)

    @cached_property
    def all_formulas(self) -> NDArray[np.int64]:
        """Places of all formulas."""
        return np.arange(len(self.count))

    @cached_property
    def base(self) -> Array:
        """Chance before any reading, summed over each formula's candidates, shape (f,)."""
        return self.summed(self.common * self.liquids.liquid(Bench()), self.all_formulas)

    @cached_property
    def _by_boiling_point(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """The liquids by boiling point, and where each bin of them begins."""
        boiling = self.table.liquids.number("boiling_point_C")
        order = np.argsort(boiling, kind="stable")
        held = np.cumsum(np.bincount(self.table.pair, minlength=len(boiling))[order])
        # Bins of about as many candidates each; one boiling point may fill several.
        shares = np.linspace(0.0, held[-1], _BINS, endpoint=False)
        return order, np.unique(np.searchsorted(held, shares, side="right"))

    @cached_property
    def _held(self) -> tuple[Array, Array]:
        """Chance before any reading, and candidates, of each formula in each bin, shape (f, b)."""
        order, begins = self._by_boiling_point
        bin_of = np.empty(len(order), dtype=np.int64)
        bin_of[order] = np.searchsorted(begins, np.arange(len(order)), side="right") - 1
        bins, formulas = len(begins), len(self.count)
        place = np.repeat(np.arange(formulas) * bins, self.count) + bin_of[self.table.pair]
        chance = self.weighed(self.common * self.liquids.liquid(Bench()), slice(None))
        chances, candidates = (
            np.bincount(place, weights, minlength=formulas * bins).reshape(formulas, bins)
            for weights in (chance, None)
        )
        return chances.astype(np.float64), candidates.astype(np.float64)

    def at_most(self, liquid: Array, weighed: bool = True) -> Array:
        """Return what `summed` comes to for each formula at most, shape (f,).

        Parameters
        ----------
        liquid : array, shape (p,)
            What the liquid decides, over the chance that it is one where ``weighed``.
        weighed : bool
            As for `summed`.
        """
        order, begins = self._by_boiling_point
        highest = np.maximum.reduceat(liquid[order], begins)
        return np.asarray(self._held[0 if weighed else 1] @ highest) * (1.0 + 1e-9)

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
        count = self.count[formulas]
        if 2 * count.sum() > len(self.table) and len(formulas) < len(self.count):
            # Straight through all rows is quicker than one by one through half of them.
            return self.summed(liquid, self.all_formulas, weighed)[formulas]
        rows = self.rows(formulas)
        values = self.weighed(liquid, rows) if weighed else liquid[self.table.pair[rows]]
        return np.add.reduceat(values, np.cumsum(count) - count)

    def share(self, bench: Bench, exact: bool) -> Share:
        """Return the share of one unknown's answer."""
        formula = self.formulas.compare(replace(bench, boiling_point=None))
        liquid = self.liquids.compare(replace(bench, molar_mass=None, percent={}))
        return _Match(self, formula, liquid, exact).share()


@dataclass(frozen=True)
class _Match:
    """One unknown's readings beside the formulas and the liquids."""

    factors: _Factors
    formula: Compared
    liquid: Compared
    exact: bool
    _liquids: dict[frozenset[str], tuple[Array, Array]] = field(default_factory=dict)

    def share(self) -> Share:
        observables = (*self.formula.likelihoods, *self.liquid.likelihoods)
        groups = groups_of(observables, len(self.formula.elements))
        totals = self.totals()
        kept = [
            self.leading(self.as_read, most_kept(groups, observables)),
            self.plausible(),
        ]
        skipped = set()
        stands, _ = totals.evidence(np.zeros(0), np.zeros(0), self.anything)
        for group in groups:
            product = self.product(group)
            least, most = self.between(product, WORTH_WHILE * stands / chance_of(group, 0.0))
            totals.groups[group.key] = np.array([[least], [most]])
            if chance_of(group, 0.0) * most * self.scale < WORTH_WHILE * stands and not self.exact:
                skipped.add(group.key)
                continue
            kept.append(self.leading(product, rows_kept(group, observables, of_a_part=True)))
        leading = self.factors.table.take(np.unique(np.concatenate(kept)))
        return Share(totals, leading, frozenset(skipped))

    def totals(self) -> Totals:
        """Return the sums, those of the slips' groups left out."""
        factors, kernel = self.factors, self.liquid.formula
        size = len(factors.table)
        # Half of the missing compounds are isomers, see `Totals`.
        alike = self.least * size / NONE_OF_THESE
        similar = alike / (1.0 - ISOMERS - UNLIKE_ANY)
        return Totals(
            size=size,
            base=float(factors.base.sum()),
            weight=np.array([self.summed(self.as_read, self.least / self.scale)]),
            formula=np.array([self.counted(self.formula.formula, kernel, alike / ISOMERS)]),
            similar=np.array([self.counted(self.formula.similar, kernel, similar)]),
            known=np.zeros((0, 4)),
            groups={},
        )

    @cached_property
    def as_read(self) -> _Product:
        """The weights of the readings as they stand."""
        return self.product(Group(()))

    def product(self, group: Group) -> _Product:
        """Return the weights with a group of readings explained by a slip."""
        of_formula = group_weight(group, self.formula, np.ones(len(self.factors.count)))
        of_liquid, at_most = self._of_liquid(group)
        return _Product(of_formula, of_liquid, of_formula * at_most)

    def _of_liquid(self, group: Group) -> tuple[Array, Array]:
        """Return what the liquid decides, and what that sums to at most, formula by formula."""
        explained = frozenset(group.names & self.liquid.likelihoods.keys())
        if explained not in self._liquids:
            of_liquid = group_weight(group, self.liquid, self.liquid.base)
            # The chance to be a liquid is part of what the bins hold.
            at_most = self.factors.at_most(of_liquid / self.liquid.base)
            self._liquids[explained] = (of_liquid, at_most)
        return self._liquids[explained]

    @cached_property
    def scale(self) -> float:
        """What the chances before the readings are multiplied by, see `Totals`."""
        return (1.0 - NONE_OF_THESE) / float(self.factors.base.sum())

    @property
    def anything(self) -> float:
        """Density of all readings for a compound like none in the table."""
        return self.formula.anything * self.liquid.anything

    @cached_property
    def least(self) -> float:
        """What formulas may add to the density of all readings, together, and be left out."""
        found = self.scale * self.sum_of(self.as_read, _largest(self.as_read.at_best, _FIRST_LOOK))
        return _LEFT_OUT * (found + NONE_OF_THESE * UNLIKE_ANY * self.anything)

    def sum_of(self, product: _Product, formulas: NDArray[np.int64]) -> float:
        """Return the sum of the weights of some formulas' candidates."""
        return float(
            product.of_formula[formulas] @ self.factors.summed(product.of_liquid, formulas)
        )

    def summed(self, product: _Product, least: float) -> float:
        """Return the sum of all weights, but for formulas that come to this, at best."""
        return self.sum_of(product, _all_but(product.at_best, least))

    def between(self, product: _Product, decisive: float) -> tuple[float, float]:
        """Return bounds of the sum of all weights, both on one side of a value if that is quick.

        Parameters
        ----------
        product : _Product
        decisive : float
            Times `scale`.
        """
        decisive /= self.scale
        at_best = float(product.at_best.sum()) * (1.0 + 1e-9)
        if at_best < decisive and not self.exact:
            return 0.0, at_best
        for share in () if self.exact else (0.7, 0.3, 1e-3):
            chosen = _all_but(product.at_best, share * decisive)
            found = self.sum_of(product, chosen)
            most = found + float(np.delete(product.at_best, chosen).sum()) * (1.0 + 1e-9)
            if most < decisive or found >= 2.0 * decisive:
                return found, most
        total = self.summed(product, _LEFT_OUT * decisive)
        return total, total

    def counted(self, of_formula: Array, kernel: Array, least: float) -> float:
        """Return the sum with all candidates alike, but for formulas that come to this, at best."""
        chosen = _all_but(of_formula * self.factors.at_most(kernel, weighed=False), least)
        return float(of_formula[chosen] @ self.factors.summed(kernel, chosen, weighed=False))

    def leading(self, product: _Product, count: int) -> NDArray[np.int64]:
        """Return the rows of the largest weights."""
        factors = self.factors
        at_best = product.of_formula * factors.commonest * float(product.of_liquid.max())
        looked_at = min(_FIRST_LOOK, len(at_best))
        chosen = _largest(at_best, looked_at)
        while True:
            rows, weight = self.weights(product, np.sort(chosen))
            least = np.partition(weight, -count)[-count] if len(weight) >= count else 0.0
            missing = np.flatnonzero(at_best >= least * (1.0 - 1e-8))
            if looked_at == len(at_best) or len(np.setdiff1d(missing, chosen)) == 0:
                break
            looked_at = min(4 * looked_at, len(at_best))
            chosen = missing if len(missing) <= looked_at else _largest(at_best, looked_at)
        return _rows_at(rows, first_rows(weight, factors.table.order[rows], count))

    def plausible(self) -> NDArray[np.int64]:
        """Return the leading ones of those that agree with every reading."""
        agreeing = np.flatnonzero(self.formula.plausible)
        if not len(agreeing):
            return agreeing
        table = self.factors.table
        rows, weight = self.weights(self.as_read, agreeing)
        places = np.flatnonzero(self.liquid.plausible[table.pair[rows]])
        first = first_rows(weight[places], table.order[rows][places], MOST_PLAUSIBLE)
        return _rows_at(rows, places[first])

    def weights(
        self, product: _Product, formulas: NDArray[np.int64]
    ) -> tuple[NDArray[np.int64] | slice, Array]:
        """Return the rows of some formulas, and their weights."""
        rows = self.factors.rows(formulas)
        weight = self.factors.weighed(product.of_liquid, rows)
        weight *= np.repeat(product.of_formula[formulas], self.factors.count[formulas])
        return rows, weight


@dataclass(frozen=True)
class _Product:
    """Weights as products: of what the formula decides, and what the liquid and the prior do.

    ``at_best`` is what each formula's candidates come to together, at most.
    """

    of_formula: Array
    of_liquid: Array
    at_best: Array


def _largest(values: Array, count: int) -> NDArray[np.int64]:
    few = min(count, len(values))
    return np.argpartition(values, -few)[-few:]


def _all_but(values: Array, least: float) -> NDArray[np.int64]:
    """Return the places of all but the smallest values, which come to so much at most."""
    # By powers of two: sorting a hundred thousand takes longer than most of the sums.
    _, power = np.frexp(values)
    lowest = int(power.min())
    below = np.cumsum(np.bincount(power - lowest, values))
    return np.flatnonzero(power - lowest >= np.searchsorted(below, least, side="right"))


def _rows_at(rows: NDArray[np.int64] | slice, places: NDArray[np.int64]) -> NDArray[np.int64]:
    return places if isinstance(rows, slice) else rows[places]
