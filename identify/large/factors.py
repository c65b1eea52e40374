"""What an indexed table's formulas and liquids multiply into the weights of its candidates.

A candidate's weight is prior x its formula's factor x its liquid's factor. A sum over candidates
thus is a sum over formulas: of the formula's factor, times the sum over its candidates of prior
x liquid's factor, which is taken once a record and formula, whichever sums it goes into.

The liquids (pairs of boiling point and uncertainty) are sorted into bins. Known for every record
alike is how many of a formula's candidates are in each bin; a record adds the highest and the
lowest value of each bin's liquids. So a formula's sum is bounded without a look at its candidates.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.large.blocks import BestCase, FormulaMatcher, Places
from identify.large.indexed import IndexedTable
from identify.matching.evidence import Matcher
from identify.matching.expected.expectation import MeltingPoints
from identify.matching.settings import MatchSettings
from identify.notebook.usual import ROOM
from identify.physics.arrays import Array, Rows

_BY_BOILING_POINT, _BY_UNCERTAINTY = 16, 2
# Sums of some thousands of positive numbers are exact to far better than this.
ROUNDING = 1e-9
_SORTED_BY = ("boiling_point_C", "boiling_point_u")
_ROWS_IN_CACHE = 32_768  # rows
_SCATTERED_COST = 3  # so much longer it takes to look rows up one by one than straight through them


class _Bins:
    """The liquids of a table sorted into bins of about as many candidates each.

    First by boiling point, then, within each of those, by uncertainty. One liquid is in one bin,
    however many candidates have it.
    """

    def __init__(self, table: IndexedTable) -> None:
        boiling, uncertainty = (table.liquids.number(name) for name in _SORTED_BY)
        held = np.bincount(table.pair, minlength=len(boiling)).astype(np.float64)
        by_boiling = _cut(np.lexsort([uncertainty, boiling]), held, _BY_BOILING_POINT)
        bin_of = np.empty(len(boiling), dtype=np.int64)
        begins = 0
        for liquids in by_boiling:
            for part in _cut(
                liquids[np.argsort(uncertainty[liquids], kind="stable")], held, _BY_UNCERTAINTY
            ):
                bin_of[part] = begins
                begins += 1
        self.of_liquid = bin_of
        """Each liquid's bin, shape (p,)."""
        self._order = np.argsort(bin_of, kind="stable")
        self._begins = np.searchsorted(bin_of[self._order], np.arange(begins))

    def __len__(self) -> int:
        return len(self._begins)

    def highest(self, values: Array) -> Array:
        """Return the highest value of each bin's liquids, shape (bins,)."""
        return np.asarray(np.maximum.reduceat(values[self._order], self._begins))

    def lowest(self, values: Array) -> Array:
        """Return the lowest value of each bin's liquids, shape (bins,)."""
        return np.asarray(np.minimum.reduceat(values[self._order], self._begins))


def all_but(values: Array, least: float) -> NDArray[np.int64]:
    """Return the places of all but the smallest values, which come to so much at most.

    Examples
    --------
    >>> all_but(np.array([0.001, 4.0, 0.0, 0.002]), 0.01)
    array([1])
    """
    if not len(values):
        return np.zeros(0, dtype=np.int64)
    # By powers of two: sorting a hundred thousand takes longer than most of the sums.
    _, power = np.frexp(values)
    power[values == 0.0] = power.min()
    lowest = int(power.min())
    below = np.cumsum(np.bincount(power - lowest, values))
    return np.flatnonzero(power - lowest >= np.searchsorted(below, least, side="right"))


def liquid_weights(table: IndexedTable, settings: MatchSettings) -> Array:
    """Return the priors times the chances to be melted in the usual room, shape (n,)."""
    weights = table.weights(settings.prior)
    if len(solids := table.solids(ROOM)):
        weights = weights.astype(np.float64)
        weights[solids] *= MeltingPoints.of(table.take(solids)).melted(ROOM)
    return weights


def _cut(liquids: NDArray[np.int64], held: Array, parts: int) -> list[NDArray[np.int64]]:
    """Cut sorted liquids into parts of about as many candidates each, none of them empty."""
    before = np.cumsum(held[liquids]) - held[liquids]
    total = before[-1] + held[liquids[-1]]
    edges = np.searchsorted(before, total * np.arange(1, parts) / parts)
    return [part for part in np.split(liquids, np.unique(edges)) if len(part)]


class _LiquidMatcher(Matcher):
    """Compares pairs of boiling point and uncertainty."""

    def liquid(self, bench: Bench) -> Array:
        """Return the chance that each stays a liquid, the same for every separable record."""
        return self._liquid

    @cached_property
    def _liquid(self) -> Array:
        return super().liquid(Bench())


class Factors:
    """An indexed table's formulas and liquids, each with a matcher of its own."""

    def __init__(self, table: IndexedTable, settings: MatchSettings) -> None:
        self.table, self.settings = table, settings
        self.formulas = FormulaMatcher(table.formulas, settings)
        self.blocks = BestCase(table.formulas, settings)
        size = len(table.liquids)
        alike = replace(settings, prior="uniform")
        self.liquids = _LiquidMatcher.of(table.liquids, alike, is_part=True, order=np.arange(size))
        self.liquids.in_class = settings.prior == "classroom"
        # Where all priors are the same they are a factor of all sums, and tell nothing apart.
        weights = liquid_weights(table, settings)
        varies = bool((weights != weights[0]).any())
        self.weight = weights if varies else None
        self.liquids.prior = self.liquids.prior * (1.0 if varies else float(weights[0]))
        self.count = np.diff(table.starts)
        self.bins = _Bins(table)

    @cached_property
    def base(self) -> float:
        """Chance before any reading, summed over all candidates."""
        return float(self.base_sums.of(np.arange(len(self.count))).sum())

    @cached_property
    def base_sums(self) -> LiquidSums:
        """Sums of the chance before any reading."""
        return LiquidSums(self, self.liquids.prior * self.liquids.liquid(Bench()))

    @cached_property
    def unlisted(self) -> float:
        """Chance of what is not in the table, before any reading, see `Totals`."""
        return float(self.unlisted_sums.of(np.arange(len(self.count))).sum())

    @cached_property
    def isomers(self) -> float:
        """Chance of isomers of its formulas that are not in the table, likewise."""
        each = self.unlisted_sums.of(np.arange(len(self.count)))
        return float((self.formulas.isomers_possible * each).sum())

    @cached_property
    def unlisted_sums(self) -> LiquidSums:
        """Sums of that chance."""
        return LiquidSums(self, self.liquids.evidence(Bench()).unlisted, weighed=False)

    @cached_property
    def held(self) -> Array:
        """Priors of each formula's candidates in each bin, summed, shape (f, bins)."""
        return self.candidates if self.weight is None else self._in_bins(self.weight)

    @cached_property
    def candidates(self) -> Array:
        """How many candidates of each formula are in each bin, shape (f, bins)."""
        return self._in_bins(None)

    def _in_bins(self, weights: Array | None) -> Array:
        formulas, bins = len(self.count), len(self.bins)
        place = np.repeat(np.arange(formulas) * bins, self.count)
        place += self.bins.of_liquid[self.table.pair]
        sums = np.bincount(place, weights, minlength=formulas * bins)
        return sums.astype(np.float64).reshape(formulas, bins)

    def of_blocks(self, values: Array) -> Array:
        """Add up a value a formula, block by block of similar formulas."""
        return np.asarray(np.add.reduceat(values[self.blocks.formulas], self.blocks.starts))

    @cached_property
    def prior_of_formulas(self) -> Array:
        """Priors of each formula's candidates, summed, shape (f,)."""
        return np.asarray(self.held.sum(axis=1))

    @cached_property
    def held_by_blocks(self) -> Array:
        """The same as `held`, added up over blocks of formulas, shape (bins, b)."""
        return np.ascontiguousarray(self.of_blocks(self.held).T)

    @cached_property
    def candidates_of_blocks(self) -> Array:
        """The same as `candidates`, added up over blocks of formulas, shape (bins, b)."""
        if self.weight is None:
            return self.held_by_blocks
        return np.ascontiguousarray(self.of_blocks(self.candidates).T)

    @cached_property
    def commonest(self) -> Array:
        """Largest prior of each formula's candidates, shape (f,)."""
        if self.weight is None:
            return np.ones(len(self.count))
        return np.maximum.reduceat(self.weight, self.table.starts[:-1]).astype(np.float64)

    @cached_property
    def commonest_of_blocks(self) -> Array:
        """Largest prior of the candidates of each block of formulas, shape (b,)."""
        return np.maximum.reduceat(self.commonest[self.blocks.formulas], self.blocks.starts)

    @cached_property
    def prior_of_liquids(self) -> Array:
        """Priors of each liquid's candidates, summed, shape (p,)."""
        held = np.bincount(self.table.pair, self.weight, len(self.table.liquids))
        return held.astype(np.float64)

    @cached_property
    def lightness_of_liquids(self) -> Array:
        """Priors of each liquid's candidates over their molar masses, summed, shape (p,)."""
        each = np.repeat(1.0 / self.formulas.expectation.molar_mass, self.count)
        if self.weight is not None:
            each *= self.weight
        return np.bincount(self.table.pair, each, len(self.table.liquids)).astype(np.float64)

    def rows(self, formulas: Places) -> Rows | slice:
        """Return the rows of some formulas, one formula after the other."""
        if len(formulas) == len(self.count):
            return slice(None)
        count = self.count[formulas]
        offset = self.table.starts[formulas] - (np.cumsum(count) - count)
        return np.repeat(offset, count) + np.arange(int(count.sum()))

    def values(self, liquid: Array, rows: Rows | slice, weighed: bool = True) -> Array:
        """Return what the liquid decides, times the prior where it is weighed, one value a row."""
        pair = self.table.pair[rows] if isinstance(rows, slice) else self.table.pair.take(rows)
        values = liquid.take(pair)
        if weighed and self.weight is not None:
            values *= self.weight[rows]
        return values

    @cached_property
    def stretches(self) -> Places:
        """First formulas of stretches that a processor's cache holds the rows of, and the end."""
        rows = np.arange(0, len(self.table), _ROWS_IN_CACHE)
        return np.unique(np.append(np.searchsorted(self.table.starts[:-1], rows), len(self.count)))


@dataclass
class LiquidSums:
    """Sums over a formula's candidates of prior times what the liquid decides.

    Parameters
    ----------
    factors : Factors
    liquid : array, shape (p,)
        What the liquid decides.
    weighed : bool, default=True
        Whether each candidate counts as much as its prior.
    """

    factors: Factors
    liquid: Array
    weighed: bool = True
    _sums: Array = field(init=False)
    _known: NDArray[np.bool_] = field(init=False)

    def __post_init__(self) -> None:
        self._sums = np.zeros(len(self.factors.count))
        self._known = np.zeros(len(self.factors.count), dtype=bool)

    def of(self, formulas: Places) -> Array:
        """Return the sums of some formulas, shape (len(formulas),)."""
        missing = ~self._known[formulas]
        if missing.any():
            self._add_up(formulas[missing])
        return self._sums[formulas]

    def times(self, of_formula: Array, formulas: Places, least: float) -> float:
        """Return the sum over some formulas' candidates, but for what comes to this at most.

        Parameters
        ----------
        of_formula : array, shape (n,)
            What each formula multiplies in.
        formulas : array of int, shape (n,)
        least : float
        """
        # At first as if all liquids were the likeliest, then bin by bin, each for half of it.
        held = self.factors.prior_of_formulas if self.weighed else self.factors.count
        crude = of_formula * held[formulas] * (self.highest * (1.0 + ROUNDING))
        chosen = all_but(crude, 0.5 * least)
        of_formula, formulas = of_formula[chosen], formulas[chosen]
        if not self._known[formulas].all() and 2 * len(formulas) < len(self.factors.count):
            chosen = all_but(of_formula * self.at_most(formulas), 0.5 * least)
            of_formula, formulas = of_formula[chosen], formulas[chosen]
        return float((of_formula * self.of(formulas)).sum())

    def _add_up(self, formulas: Places) -> None:
        """Take the sums of some formulas, straight through stretches that hold many of them."""
        factors = self.factors
        self._known[formulas] = True
        wanted = np.zeros(len(self._known), dtype=bool)
        wanted[formulas] = True
        stretches = factors.stretches
        rows = np.add.reduceat(np.where(wanted, factors.count, 0), stretches[:-1])
        starts = factors.table.starts
        for place in np.flatnonzero(_SCATTERED_COST * rows > np.diff(starts[stretches])):
            some = slice(stretches[place], stretches[place + 1])
            first, last = int(starts[some.start]), int(starts[some.stop])
            self._sums[some] = self._summed(slice(first, last), starts[some] - first)
            self._known[some], wanted[some] = True, False
        rest = np.flatnonzero(wanted)
        if len(rest):
            count = factors.count[rest]
            self._sums[rest] = self._summed(factors.rows(rest), np.cumsum(count) - count)

    def _summed(self, rows: Rows | slice, starts: Places) -> Array:
        values = self.factors.values(self.liquid, rows, self.weighed)
        return np.asarray(np.add.reduceat(values, starts))

    @cached_property
    def _highest(self) -> Array:
        return self.factors.bins.highest(self.liquid)

    @cached_property
    def _lowest(self) -> Array:
        return self.factors.bins.lowest(self.liquid)

    @property
    def _held(self) -> Array:
        return self.factors.held if self.weighed else self.factors.candidates

    @cached_property
    def at_most_of_blocks(self) -> Array:
        """What the sums over blocks of formulas come to at most, shape (b,)."""
        factors = self.factors
        held = factors.held_by_blocks if self.weighed else factors.candidates_of_blocks
        return _times(held.T, self._highest) * (1.0 + ROUNDING)

    def at_most(self, formulas: Places) -> Array:
        """Return what the sums of some formulas come to at most, shape (len(formulas),)."""
        return _times(self._held[formulas], self._highest) * (1.0 + ROUNDING)

    def at_least(self, formulas: Places) -> Array:
        """Return what the sums of some formulas come to at least, shape (len(formulas),)."""
        return _times(self._held[formulas], self._lowest) * (1.0 - ROUNDING)

    def single(self, formulas: Places) -> Array:
        """Return what a single candidate of some formulas adds at most, where its prior is one."""
        return np.asarray(((self._held[formulas] > 0.0) * self._highest).max(axis=1, initial=0.0))

    def single_of_blocks(self, blocks: Places) -> Array:
        """Return what a single candidate of some blocks adds at most, where its prior is one."""
        occupied = self.factors.held_by_blocks[:, blocks] > 0.0
        return np.asarray((occupied * self._highest[:, np.newaxis]).max(axis=0, initial=0.0))

    @cached_property
    def highest(self) -> float:
        """What a single candidate adds at most, where its prior is one."""
        return float(self._highest.max())


def _times(held: Array, values: Array) -> Array:
    """Return a matrix times a vector, by one thread: two wait longer for each other."""
    return np.asarray(np.einsum("ij,j->i", held, values))
