"""What one unknown's readings say about every candidate, observable by observable."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from itertools import chain
from math import prod
from typing import Self

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.compounds.table import CandidateTable
from identify.matching.expected.expectation import (
    Expectation,
    assumed_u,
    believed_u,
    worked_out,
)
from identify.matching.expected.suitability import (
    KEPT_COMPARISONS,
    LEAST_CHANCE,
    Suitability,
    meant_for_a_bath,
)
from identify.matching.expected.unknown_constants import ConstantsKnown
from identify.matching.settings import DEFAULT_PRIOR, MatchSettings, Prior
from identify.matching.totals import OUTSIDE, Totals, isomers_possible
from identify.notebook.usual import tolerance_u
from identify.observables.boiling_point import BOILING_POINT, ERRORS, compare_boiling_point
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.observables.composition import (
    PERCENT,
    Unmentioned,
    compare_element,
    compare_unmentioned,
)
from identify.observables.error.comparison import Comparison, KnownOnly
from identify.observables.error.technique import Technique
from identify.observables.tolerances import Tolerances
from identify.observables.weighing import (
    MolarMassComparison,
    ObservedMolarMass,
    compare_molar_mass,
)
from identify.physics.arrays import Array, Recent, in_quadrature


@dataclass(frozen=True)
class CandidateEvidence:
    """What one unknown's readings say about each of n candidates, before anything is divided.

    Parameters
    ----------
    matcher : Matcher
        That compared them.
    bench : Bench
        The readings.
    base : array, shape (n,)
        Chance before the readings: prior, and whether it stays in a bottle as a liquid and boils
        off in the bath; not normalized.
    unlisted : array, shape (n,)
        Chance that a compound beside each candidate, which is not in the table, is in the bottle;
        not normalized, see `Totals`.
    isomers : array, shape (n,)
        The same, where that is an isomer of each.
    stays_liquid, vaporized : array, shape (n,)
        Chance that it stays in a bottle as a liquid, and that it boiled off in the bath.
    molar_mass : MolarMassComparison or None
        None where not measured.
    boiling_point : Comparison or None
        Likewise.
    observed_molar_mass : array, shape (n,), or None
        The bench's molar mass with each candidate's corrections [g/mol].
    by_assumption : dict of str to array, shape (n,)
        What one spread of each assumed condition changes that by [g/mol].
    elements : dict of int to Comparison
        By row of the table's elements.
    unmentioned : Unmentioned or None
        What a complete card leaves out.
    further : dict of str to KnownOnly
        What else was read of the liquid, by name.
    """

    matcher: Matcher
    bench: Bench
    base: Array
    unlisted: Array
    isomers: Array
    stays_liquid: Array
    vaporized: Array
    molar_mass: MolarMassComparison | None = None
    observed_molar_mass: Array | None = None
    by_assumption: dict[str, Array] = field(default_factory=dict)
    boiling_point: Comparison | None = None
    elements: dict[int, Comparison] = field(default_factory=dict)
    unmentioned: Unmentioned | None = None
    further: dict[str, KnownOnly] = field(default_factory=dict)

    @cached_property
    def by_formula(self) -> dict[str, tuple[Comparison, ...]]:
        """The readings that the formula alone decides, by observable."""
        read = {
            "molar_mass": () if self.molar_mass is None else (self.molar_mass,),
            "composition": tuple(self.elements.values()),
        }
        return {name: comparisons for name, comparisons in read.items() if comparisons}

    @cached_property
    def by_liquid(self) -> dict[str, Comparison]:
        """The readings in which isomers differ, by observable."""
        boiling = {} if self.boiling_point is None else {"boiling_point": self.boiling_point}
        return {**boiling, **self.further}

    @cached_property
    def comparisons(self) -> tuple[Comparison, ...]:
        """All readings that were compared."""
        of_formula = chain.from_iterable(self.by_formula.values())
        return (*of_formula, *self.by_liquid.values())

    @cached_property
    def likelihoods(self) -> dict[str, Array]:
        """Density of each observable's readings for each candidate, arrays of shape (n,).

        ``molar_mass``, ``composition``, ``boiling_point``, and the names of ``further``; one where
        the table does not know a constant.
        """
        found: dict[str, Array] = {}
        for name, comparisons in self.by_formula.items():
            found[name] = np.ones(len(self.base))
            for comparison in comparisons:
                found[name] *= comparison.likelihood()
        if self.unmentioned is not None:
            found["composition"] *= self.unmentioned.likelihood()
        return found | {name: one.likelihood() for name, one in self.by_liquid.items()}

    @cached_property
    def plausible(self) -> NDArray[np.bool_]:
        """Whether each candidate agrees with every reading, and suits room and bath, shape (n,)."""
        plausible = (self.stays_liquid > LEAST_CHANCE) & (self.vaporized > LEAST_CHANCE)
        for comparison in (*self.comparisons, self.unmentioned):
            if comparison is not None:
                plausible &= comparison.agrees()
        return plausible

    @cached_property
    def weight(self) -> Array:
        """Chance before the readings times the likelihoods of all of them, shape (n,)."""
        weight = self.base.copy()
        for likelihood in self.likelihoods.values():
            weight *= likelihood
        return weight

    @cached_property
    def formula(self) -> Array:
        """Likelihoods of what the formula decides, times the kernels of the rest, shape (n,).

        For isomers of each candidate that are not in the table.
        """
        product = self.isomers.copy()
        for name in self.by_formula:
            product *= self.likelihoods[name]
        for kernel in self._liquid_kernels:
            product *= kernel
        return product

    @cached_property
    def similar(self) -> Array:
        """Kernels of all readings, shape (n,), for compounds that are not in the table."""
        product = self.unlisted.copy()
        if self.molar_mass is not None:
            # Classes err by more than similar compounds differ: its likelihood will do.
            product *= self.likelihoods["molar_mass"]
        for comparison in self.elements.values():
            product *= comparison.kernel()
        for kernel in self._liquid_kernels:
            product *= kernel
        return product

    @cached_property
    def _liquid_kernels(self) -> tuple[Array, ...]:
        return tuple(comparison.kernel() for comparison in self.by_liquid.values())

    @property
    def anything(self) -> float:
        """Density of all readings for a compound like none in the table."""
        return prod(comparison.any_density for comparison in self.comparisons)

    @cached_property
    def pattern(self) -> NDArray[np.int64] | None:
        """Which further constants are not known, bit by bit, shape (n,); None where none was read.

        See `Totals`.
        """
        if not self.further:
            return None
        pattern = np.zeros(len(self.base), dtype=np.int64)
        for place, one in enumerate(self.further.values()):
            pattern |= (~one.known).astype(np.int64) << place
        return pattern

    @cached_property
    def totals(self) -> Totals:
        """The sums over these candidates."""
        known = [
            (
                float(self.base[one.known].sum()),
                float((self.base * self.likelihoods[name])[one.known].sum()),
                float(one.known.sum()),
                float(one.kernel()[one.known].sum()),
            )
            for name, one in self.further.items()
        ]
        return Totals(
            base=float(self.base.sum()),
            unlisted=float(self.unlisted.sum()),
            isomers=float(self.isomers.sum()),
            weight=self.summed(self.weight),
            formula=self.summed(self.formula),
            similar=self.summed(self.similar),
            known=np.array(known).reshape(-1, 4),
        )

    def summed(self, values: Array) -> Array:
        """Return sums of one value a candidate, pattern by pattern, shape (2**k,)."""
        if self.pattern is None:
            return np.array([float(values.sum())])
        sums = np.bincount(self.pattern, values, minlength=1 << len(self.further))
        return sums.astype(np.float64)


def _filled(evidence: CandidateEvidence, known: ConstantsKnown) -> CandidateEvidence:
    """Return evidence in which constants that are not known tell nothing."""
    return replace(
        evidence,
        base=known.base(evidence.base),
        unlisted=known.filled(evidence.unlisted),
        isomers=known.filled(evidence.isomers),
        stays_liquid=known.filled(evidence.stays_liquid),
        vaporized=known.filled(evidence.vaporized),
        boiling_point=known.boiling(evidence.boiling_point),
        elements=dict(known.elements(evidence.elements, evidence.unmentioned)),
        unmentioned=known.claim(evidence.unmentioned),
    )


class Matcher(Suitability):
    """One candidate table with tolerances and prior, ready for any number of unknowns.

    Parameters
    ----------
    table : CandidateTable
    tolerances : Tolerances, optional
        The defaults where not given.
    prior : {"classroom", "commerce", "uniform"}
        As in a classroom, as in commerce, or all candidates alike; see `CandidateTable.weights`.
    is_part : bool
        Whether the table is part of a larger one, so that its priors do not add up to one.
    order : array of int, shape (n,), optional
        Decides between equal probabilities; by InChIKey and name where not given.
    outside : str or float, default=0.01
        Assumed share of liquids that are not in the table, see `outside_share`.
    technique : Technique or str, optional
        How well the class works. Where not given, an explicit tolerance of the molar mass says it,
        else nothing is known of it.

    Raises
    ------
    ValueError
        If there is no such prior, share or technique.
    """

    def __init__(
        self,
        table: CandidateTable,
        tolerances: Tolerances | None = None,
        prior: Prior = DEFAULT_PRIOR,
        is_part: bool = False,
        order: NDArray[np.int64] | None = None,
        outside: str | float = OUTSIDE,
        technique: Technique | str | None = None,
    ) -> None:
        self.settings = MatchSettings.of(tolerances, prior, outside, technique)
        self.is_part = is_part
        weights = table.weights(prior)
        if not is_part:
            weights = (1.0 - self.outside) * weights / weights.sum()
        super().__init__(table, Expectation.of(table), weights)
        self.isomers_possible = isomers_possible(
            self.expectation.molar_mass, self.expectation.percent
        )
        self.in_class = prior == "classroom"
        """Whether what is handed out is meant for a bath of boiling water."""
        # Equal probabilities are ordered by compound, so that the order of the table has no say.
        self.order = table.by_compound() if order is None else order

    @classmethod
    def of(
        cls,
        table: CandidateTable,
        settings: MatchSettings,
        is_part: bool = False,
        order: NDArray[np.int64] | None = None,
    ) -> Matcher:
        """Return the matcher of a table under given settings."""
        return cls(
            table,
            settings.tolerances,
            settings.prior,
            is_part,
            order,
            settings.outside,
            settings.technique,
        )

    def __copy__(self) -> Self:
        """Return a copy that may be changed: it remembers no comparison."""
        other = object.__new__(type(self))
        other.__dict__.update(self.__dict__, _recent=Recent(KEPT_COMPARISONS))
        return other

    def with_tolerances(self, tolerances: Tolerances) -> Self:
        """Return a matcher of the same candidates with other tolerances, and what they say."""
        other = copy(self)
        other.settings = MatchSettings.of(tolerances, self.settings.prior, self.outside)
        return other

    @property
    def tolerances(self) -> Tolerances:
        """Within which readings agree."""
        return self.settings.tolerances

    @property
    def technique(self) -> Technique:
        """How well the class works."""
        return self.settings.technique

    @property
    def outside(self) -> float:
        """Assumed share of liquids that are not in the table."""
        return self.settings.outside

    def evidence(
        self, bench: Bench, weighed: tuple[Array | None, MolarMassComparison | None] | None = None
    ) -> CandidateEvidence:
        """Compare one unknown's readings with every candidate.

        Parameters
        ----------
        bench : Bench
        weighed : (array of shape (n,), Comparison), optional
            Molar mass with each candidate's corrections, and its comparison, in place of the
            bench's own: of many students together.
        """
        melted, suits = self.melted(bench), self.liquid(bench)
        stays_liquid, vaporized = suits * melted, self.vaporized_in_bath(bench)
        if bench.weighing is not None:
            suits = suits * meant_for_a_bath(vaporized)
        # The prior of what is listed in a class has that already.
        unlisted = suits * self._suits_class if self.in_class else suits
        by_assumption: dict[str, Array] = {}
        if weighed is None:
            by_assumption = self.by_assumption(bench)
            weighed = self._molar_mass(bench, vaporized, assumed_u(by_assumption))
        observed, molar_mass = weighed
        elements, unmentioned = self._composition(bench)
        evidence = CandidateEvidence(
            matcher=self,
            bench=bench,
            base=self.prior * suits * melted,
            unlisted=unlisted,
            isomers=unlisted * self.isomers_possible,
            stays_liquid=stays_liquid,
            vaporized=vaporized,
            molar_mass=molar_mass,
            observed_molar_mass=observed,
            by_assumption=by_assumption,
            boiling_point=self._boiling_point(bench),
            elements=elements,
            unmentioned=unmentioned,
            further=self._further(bench),
        )
        return evidence if self.known is None else _filled(evidence, self.known)

    @cached_property
    def known(self) -> ConstantsKnown | None:
        """Of which candidates constants are not known; None where they are of all."""
        boiling_point = np.isfinite(self.table.number("boiling_point_C"))
        composition = np.isfinite(self.table.percent).all(axis=1)
        if not self.table.is_incomplete or (boiling_point & composition).all():
            return None
        return ConstantsKnown(np.asarray(boiling_point), np.asarray(composition), self.prior)

    @cached_property
    def commerce_over_classroom(self) -> Array:
        """How much likelier each candidate is in commerce than in a classroom, shape (n,)."""
        in_commerce, in_classroom = map(self.table.weights, ("commerce", "classroom"))
        none = np.zeros(self.size)
        return np.divide(in_commerce, in_classroom, out=none, where=in_classroom > 0.0)

    def by_assumption(self, bench: Bench) -> dict[str, Array]:
        """Return what one spread of each assumed condition changes the molar mass by [g/mol]."""
        # Nobody writes the humidity down, and it changes a molar mass by a twentieth of a percent.
        assumed = [one for one in bench.assumed if one.condition != "humidity"]
        if bench.weighing is None or not assumed:
            return {}
        as_assumed = self.expectation.mean_of_trials(bench.weighing).value
        return {
            one.condition: self.expectation.mean_of_trials(one.shifted).value - as_assumed
            for one in assumed
        }

    def _molar_mass(
        self, bench: Bench, vaporized: Array, assumed: Array | float
    ) -> tuple[Array | None, MolarMassComparison | None]:
        observed = self._observed(bench, assumed)
        if observed is None:
            return None, None
        is_weighed = bench.molar_mass is None
        return observed.value, self.compared(observed, vaporized if is_weighed else 1.0)

    def compared(
        self, observed: ObservedMolarMass, vaporized: Array | float = 1.0
    ) -> MolarMassComparison:
        """Compare an observed molar mass with each candidate's."""
        predicted = self.expectation.molar_mass
        tolerance = 0.01 * self.tolerances.molar_mass * predicted
        return compare_molar_mass(observed, predicted, self.technique, tolerance, vaporized)

    def _observed(self, bench: Bench, assumed: Array | float) -> ObservedMolarMass | None:
        """Return the molar mass as the bench gave it, None where it gave none."""
        if bench.molar_mass is not None:
            return worked_out(
                bench.molar_mass, bench.as_weighed, self.expectation.liquid, self.size
            )
        if bench.weighing is None:
            return None
        observed = self.expectation.mean_of_trials(bench.weighing)
        stated = in_quadrature(bench.weighing_u * observed.value, bench.gain_u)
        return replace(
            observed, instruments=in_quadrature(stated, assumed), shortcut=bench.ideal_molar_mass()
        )

    def _boiling_point(self, bench: Bench) -> Comparison | None:
        if bench.boiling_point is None:
            return None
        expected = self.expectation.boiling_point(bench.boiling_pressure)
        half = tolerance_u(self.tolerances.boiling_point)
        sigma = believed_u(bench.boiling_point, half, BOILING_POINT.least)
        uncertainty = self.expectation.boiling_point_u
        error, read = ERRORS[bench.boiling_point_by], bench.boiling_point.value
        return self._recent.of(
            ("boiling point", read, sigma, bench.boiling_pressure, bench.boiling_point_by),
            lambda: compare_boiling_point(read, expected, sigma, uncertainty, error),
        )

    def _further(self, bench: Bench) -> dict[str, KnownOnly]:
        compared = {}
        for name, stated in bench.further.items():
            constant = LIQUID_CONSTANTS[name]
            half = constant.scale * tolerance_u(getattr(self.tolerances, name))
            sigma = believed_u(stated, half, constant.least)
            predicted = self.expectation.predicted(name, stated.at)
            compared[name] = constant.compare(stated.value, sigma, predicted)
        return compared

    def _composition(self, bench: Bench) -> tuple[dict[int, Comparison], Unmentioned | None]:
        card = tuple(bench.percent.items())
        return self._recent.of(("composition", card), lambda: self._card_compared(bench))

    def _card_compared(self, bench: Bench) -> tuple[dict[int, Comparison], Unmentioned | None]:
        half = tolerance_u(self.tolerances.percent)
        elements: dict[int, Comparison] = {}
        listed_sum = variance = 0.0
        remaining = np.full(self.size, 100.0)
        for row, stated in bench.percent.items():
            expected = self.expectation.percent[row]
            sigma = believed_u(stated, half, PERCENT.least)
            elements[row] = compare_element(stated.value, expected, sigma)
            remaining -= expected
            listed_sum += stated.value
            variance += sigma * sigma
        if not elements:
            return elements, None
        return elements, compare_unmentioned(listed_sum, remaining, float(np.sqrt(variance)))


kept_matcher = lru_cache(maxsize=4)(Matcher.of)
"""The matcher of a table with its settings, kept for the next call."""
