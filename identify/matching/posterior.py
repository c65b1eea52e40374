"""From readings to probabilities: one unknown against all candidates at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.bench.readings import SIReading
from identify.compounds.table import CandidateTable
from identify.matching.compared import (
    NONE_OF_THESE,
    Compared,
    Totals,
    by_pattern,
    first_rows,
)
from identify.notebook.statistics import chi_squared_quantile
from identify.notebook.usual import (
    BATH_READ_WITHIN,
    PLAUSIBLE,
    ROOM,
    tolerance_u,
)
from identify.observables.boiling_point import LEAST_BOILING_POINT, compare_boiling_point
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.observables.comparison import Array, Comparison, KnownOnly, at_least
from identify.observables.composition import (
    LEAST_ELEMENT,
    Unmentioned,
    compare_element,
    compare_unmentioned,
)
from identify.observables.expectation import Expectation
from identify.observables.tolerances import Tolerances
from identify.observables.weighing import LEAST_MOLAR_MASS, compare_molar_mass
from identify.physics.constants import STANDARD_PRESSURE
from identify.physics.vapor import Weighing

Prior = Literal["commerce", "uniform"]

# A bottle holds a liquid: what boils below the room is there only under pressure or on ice.
GAS_IN_A_BOTTLE = 0.01
_ROOM_SD = 2.0  # K: a room is cooler at night
# What boils above the bath cannot drive the air out of the flask, but for a bath read a little low.
_BATH_SD = 1.0  # K
# Whoever weighs vapor is given a liquid that boils off in the bath, nearly always. Common practice.
NOT_FOR_THIS_BATH = 0.03
LEAST_CHANCE = 0.05  # below it, a candidate is no plausible one

_TRIALS_AT_ONCE = 64  # beside twelve thousand candidates: 6 MB an array


@dataclass(frozen=True)
class Posterior:
    """What the readings say about each of n candidates.

    Parameters
    ----------
    probability : array, shape (n,)
        Sums to one with ``none_of_these`` and ``elsewhere``.
    none_of_these : float
        Probability that the liquid is not in the table.
    plausible : array of bool, shape (n,)
        Whether every reading is within tolerance, and the candidate a liquid in the room that boils
        off in the bath.
    molar_mass, boiling_point : Comparison or None
        None where not measured.
    elements : dict of int to Comparison
        By row of the table's elements.
    observed_molar_mass : array, shape (n,), or None
        The bench's molar mass with each candidate's corrections [g/mol].
    unmentioned : Unmentioned or None
        What a complete card leaves out.
    base : array, shape (n,), or None
        Probability before the readings: prior, and whether it stays in a bottle as a liquid.
    likelihoods : dict of str to array, shape (n,)
        Density of each observable's readings for each candidate: ``molar_mass``, ``composition``,
        ``boiling_point``, and the names of ``further``.
    evidence : float
        Density of all readings, ``none_of_these`` included: what divides the probabilities.
    further : dict of str to KnownOnly
        What else was read of the liquid, by name.
    elsewhere : float
        Probability of candidates that are in the table this is a part of, and not in this part.
    groups : mapping of str to array, shape (2,)
        There, the sums over all candidates that say whether a slip is worth a search, by name: at
        least, and at most.
    in_full : bool
        Whether all candidates are here that a search for slips could need.
    """

    probability: Array
    none_of_these: float
    plausible: NDArray[np.bool_]
    molar_mass: Comparison | None = None
    boiling_point: Comparison | None = None
    elements: dict[int, Comparison] = field(default_factory=dict)
    observed_molar_mass: Array | None = None
    unmentioned: Unmentioned | None = None
    base: Array | None = None
    likelihoods: dict[str, Array] = field(default_factory=dict)
    evidence: float = 1.0
    further: dict[str, KnownOnly] = field(default_factory=dict)
    elsewhere: float = 0.0
    groups: Mapping[str, Array] = field(default_factory=dict)
    in_full: bool = True

    @classmethod
    def of(cls, compared: Compared, totals: Totals) -> Posterior:
        """Divide what was compared by the sums over all candidates.

        Parameters
        ----------
        compared : Compared
        totals : Totals
            Its own, or those of a larger table that it is a part of.
        """
        densities, kernels = totals.standing_in(compared.further)
        evidence, none = totals.evidence(densities, kernels, compared.anything)
        base = compared.base * totals.scale
        weight = compared.weight * (totals.scale / evidence)
        likelihoods = compared.likelihoods
        filled = by_pattern(densities)
        if compared.pattern is not None:
            weight *= filled[compared.pattern]
            likelihoods = dict(likelihoods)
            for (name, one), density in zip(compared.further.items(), densities, strict=True):
                likelihoods[name] = np.where(one.known, likelihoods[name], density)
        elsewhere = 0.0
        if totals is not compared.totals:
            elsewhere = max((evidence - none) / evidence - float(weight.sum()), 0.0)
        return cls(
            weight,
            none / evidence,
            compared.plausible,
            compared.molar_mass,
            compared.boiling_point,
            compared.elements,
            compared.observed_molar_mass,
            compared.unmentioned,
            base,
            likelihoods,
            evidence,
            compared.further,
            elsewhere,
            {name: totals.scale * (sums @ filled) for name, sums in totals.groups.items()},
            totals.in_full,
        )

    @cached_property
    def comparisons(self) -> tuple[Comparison, ...]:
        """All readings that were compared."""
        single = (self.molar_mass, self.boiling_point)
        compared = (c for c in single if c is not None)
        return (*compared, *self.elements.values(), *self.further.values())

    def chi_squared(self, row: int) -> float:
        """Return the sum of squares of a candidate's deviations, in standard uncertainties."""
        squares = 0.0
        for comparison in self._known(row):
            sigma = np.broadcast_to(comparison.sigma, comparison.deviation.shape)
            squares += float(comparison.deviation[row] / sigma[row]) ** 2
        return squares

    def _known(self, row: int) -> list[Comparison]:
        """List the readings that the table can foretell for a candidate."""
        return [c for c in self.comparisons if np.isfinite(c.deviation[row])]

    def by_chance(self, row: int) -> bool:
        """Say whether chance explains a candidate's deviations taken together, at 99 %.

        Of five sound readings one or the other leaves its tolerance in one run of five.
        """
        claim = self.unmentioned
        known = len(self._known(row))
        if not known or not (claim is None or bool(claim.agrees()[row])):
            return False
        return self.chi_squared(row) <= chi_squared_quantile(known)

    def leading(self, order: NDArray[np.int64], most: int, least: float) -> NDArray[np.int64]:
        """Return the rows worth showing, the most probable first.

        Parameters
        ----------
        order : array of int, shape (n,)
            Decides between equal probabilities: the lower goes first.
        most : int
            Rows returned at most.
        least : float
            Rows below this probability are shown only if they are plausible.
        """
        rows = np.flatnonzero((self.probability >= least) | self.plausible)
        if not len(rows):
            rows = first_rows(self.probability, order, 1)
        return rows[first_rows(self.probability[rows], order[rows], most)]


class Matcher:
    """One candidate table with tolerances and prior, ready for any number of unknowns.

    Parameters
    ----------
    table : CandidateTable
    tolerances : Tolerances, optional
        The defaults where not given.
    prior : {"commerce", "uniform"}
        The table's column ``prior``, or all candidates alike.
    is_part : bool
        Whether the table is part of a larger one, so that its priors do not add up to one.
    order : array of int, shape (n,), optional
        Decides between equal probabilities; by InChIKey and name where not given.

    Raises
    ------
    ValueError
        If there is no such prior.
    """

    def __init__(
        self,
        table: CandidateTable,
        tolerances: Tolerances | None = None,
        prior: Prior = "commerce",
        is_part: bool = False,
        order: NDArray[np.int64] | None = None,
    ) -> None:
        if prior not in get_args(Prior):
            raise ValueError(f'prior: "{prior}" is not one of {", ".join(get_args(Prior))}')
        self.table = table
        self.tolerances = tolerances or Tolerances()
        self.expectation = Expectation.of(table)
        size = len(table)
        weights = table.number("prior") if prior == "commerce" else np.ones(size)
        self.prior = weights if is_part else (1.0 - NONE_OF_THESE) * weights / weights.sum()
        # Equal probabilities are ordered by compound, so that the order of the table has no say.
        self.order = table.by_compound() if order is None else order

    @property
    def size(self) -> int:
        """How many candidates are compared."""
        return len(self.prior)

    def posterior(
        self,
        bench: Bench,
        weighed: tuple[Array, Comparison] | None = None,
        totals: Totals | None = None,
    ) -> Posterior:
        """Compare one unknown's readings with every candidate.

        Parameters
        ----------
        bench : Bench
        weighed : (array of shape (n,), Comparison), optional
            Molar mass with each candidate's corrections, and its comparison, in place of the
            bench's own: of many students together.
        totals : Totals, optional
            Sums over all candidates, where this table holds some of them only; its own where not
            given.

        Returns
        -------
        Posterior
        """
        compared = self.compare(bench, weighed)
        return Posterior.of(compared, totals or compared.totals)

    def compare(self, bench: Bench, weighed: tuple[Array, Comparison] | None = None) -> Compared:
        """Compare one unknown's readings with every candidate, up to the sums that divide.

        Parameters
        ----------
        bench, weighed
            As for `posterior`.

        Returns
        -------
        Compared
        """
        liquid = self.liquid(bench)
        vaporized = self.vaporized_in_bath(bench)
        observed, molar_mass = weighed or self._molar_mass(bench, vaporized)
        boiling_point = self._boiling_point(bench)
        elements, unmentioned = self._composition(bench)
        size = self.size
        plausible = (liquid > LEAST_CHANCE) & (vaporized > LEAST_CHANCE)
        likelihoods: dict[str, Array] = {}
        # The formula alone decides molar mass and composition; isomers differ in the rest.
        formula, similar, anything = np.ones(size), np.ones(size), 1.0
        for name, comparisons in {
            "molar_mass": [] if molar_mass is None else [molar_mass],
            "composition": list(elements.values()),
        }.items():
            if not comparisons:
                continue
            likelihood = np.ones(size)
            for comparison in comparisons:
                likelihood *= comparison.likelihood()
                similar *= comparison.kernel()
                anything *= comparison.any_density
                plausible &= comparison.agrees()
            if name == "composition" and unmentioned is not None:
                likelihood *= unmentioned.likelihood()
                plausible &= unmentioned.agrees()
            likelihoods[name] = likelihood
            formula *= likelihood
        base = self.prior * liquid
        if bench.weighing is not None:
            base *= NOT_FOR_THIS_BATH + (1.0 - NOT_FOR_THIS_BATH) * vaporized
        further = self._further(bench)
        of_the_liquid: dict[str, Comparison] = {**further}
        if boiling_point is not None:
            of_the_liquid = {"boiling_point": boiling_point, **of_the_liquid}
        for name, comparison in of_the_liquid.items():
            likelihoods[name] = comparison.likelihood()
            plausible &= comparison.agrees()
            kernel = comparison.kernel()
            similar *= kernel
            formula *= kernel
            anything *= comparison.any_density
        return Compared(
            base,
            plausible,
            molar_mass,
            boiling_point,
            elements,
            observed,
            unmentioned,
            further,
            likelihoods,
            formula,
            similar,
            anything,
        )

    def liquid(self, bench: Bench) -> Array:
        """Return the chance that each candidate stays in a bottle as a liquid, shape (n,)."""
        excess = self.expectation.boiling_point(laboratory_pressure(bench)) - _room(bench)
        sure = at_least(excess, np.hypot(_ROOM_SD, self.expectation.boiling_point_u))
        return GAS_IN_A_BOTTLE + (1.0 - GAS_IN_A_BOTTLE) * sure

    def vaporized_in_bath(self, bench: Bench) -> Array:
        """Return for each candidate the chance that it boiled off in the bath, shape (n,)."""
        bath = np.nan if bench.weighing is None else float(np.mean(bench.weighing.bath))
        if not PLAUSIBLE["bath"].holds_si(bath):
            return np.ones(self.size)
        return self.vaporized(bench, bath)

    def vaporized(
        self, bench: Bench, bath: Array | float, rows: NDArray[np.int64] | slice = slice(None)
    ) -> Array:
        """Return the chance that candidates boil off in a bath [K], broadcasting against rows."""
        expected = self.expectation.boiling_point(laboratory_pressure(bench))[rows]
        excess = bath + BATH_READ_WITHIN - expected
        return at_least(excess, np.hypot(_BATH_SD, self.expectation.boiling_point_u[rows]))

    def _molar_mass(self, bench: Bench, vaporized: Array) -> tuple[Array | None, Comparison | None]:
        predicted = self.expectation.molar_mass
        tolerated = 0.01 * tolerance_u(self.tolerances.molar_mass) * predicted
        if bench.molar_mass is not None:
            value = bench.molar_mass.value
            sigma = _believed(bench.molar_mass, tolerated, LEAST_MOLAR_MASS * value)
            observed = np.full(len(predicted), value)
            return observed, compare_molar_mass(observed, predicted, sigma, shortcut=value)
        if bench.weighing is None:
            return None, None
        observed, scatter = self._mean_of_trials(bench.weighing)
        # What was stated for the readings can only widen: a balance good to 0.1 mg says nothing
        # about air left in the flask or liquid left in its neck, which the tolerance stands for.
        stated = np.hypot(bench.weighing_u * observed, bench.gain_u)
        sigma = np.maximum(tolerated, stated)
        if scatter is not None:
            sigma = np.maximum(sigma, scatter)
        shortcut = bench.ideal_molar_mass()
        return observed, compare_molar_mass(observed, predicted, sigma, vaporized, shortcut)

    def _mean_of_trials(self, weighing: Weighing) -> tuple[Array, Array | None]:
        """Return the mean over the trials and its standard error, shape (n,); None for one trial.

        Part by part, for a file may give one label to any number of rows.
        """
        parts = weighing.parts(_TRIALS_AT_ONCE)
        each = self.expectation.implied_molar_mass(next(parts))
        if weighing.trials == 1:
            return each[0], None
        # Sums about the first mean lose no digits to the size of the values.
        first_mean = each.mean(axis=0)
        off = each - first_mean
        total, squares = off.sum(axis=0), (off * off).sum(axis=0)
        for part in parts:
            off = self.expectation.implied_molar_mass(part) - first_mean
            total += off.sum(axis=0)
            squares += (off * off).sum(axis=0)
        count = weighing.trials
        variance = np.maximum(squares - total * total / count, 0.0) / (count - 1)
        return first_mean + total / count, np.sqrt(variance / count)

    def _boiling_point(self, bench: Bench) -> Comparison | None:
        if bench.boiling_point is None:
            return None
        expected = self.expectation.boiling_point(bench.boiling_pressure)
        half = tolerance_u(self.tolerances.boiling_point)
        sigma = float(_believed(bench.boiling_point, half, LEAST_BOILING_POINT))
        uncertainty = self.expectation.boiling_point_u
        return compare_boiling_point(bench.boiling_point.value, expected, sigma, uncertainty)

    def _further(self, bench: Bench) -> dict[str, KnownOnly]:
        compared = {}
        for name, stated in bench.further.items():
            constant = LIQUID_CONSTANTS[name]
            half = constant.scale * tolerance_u(getattr(self.tolerances, name))
            sigma = float(_believed(stated, half, constant.least))
            predicted = self.expectation.predicted(name, stated.at)
            compared[name] = constant.compare(stated.value, sigma, predicted)
        return compared

    def _composition(self, bench: Bench) -> tuple[dict[int, Comparison], Unmentioned | None]:
        half = tolerance_u(self.tolerances.percent)
        elements: dict[int, Comparison] = {}
        listed_sum = variance = 0.0
        remaining = np.full(self.size, 100.0)
        for row, stated in bench.percent.items():
            expected = self.expectation.percent[row]
            sigma = float(_believed(stated, half, LEAST_ELEMENT))
            elements[row] = compare_element(stated.value, expected, sigma)
            remaining -= expected
            listed_sum += stated.value
            variance += sigma * sigma
        if not elements:
            return elements, None
        return elements, compare_unmentioned(listed_sum, remaining, float(np.sqrt(variance)))


def laboratory_pressure(bench: Bench) -> float:
    """Return the laboratory's pressure [Pa], the standard one where none is known or credible."""
    read = np.nan if bench.weighing is None else float(np.mean(bench.weighing.pressure))
    return read if PLAUSIBLE["pressure"].holds_si(read) else STANDARD_PRESSURE


def _room(bench: Bench) -> float:
    """Return the room's temperature [K], the usual one where none is known or credible."""
    read = np.nan if bench.weighing is None else float(np.mean(bench.weighing.room))
    return read if PLAUSIBLE["room"].holds_si(read) else ROOM


def _believed(stated: SIReading, default: Array | float, least: float) -> Array | float:
    """Return the standard uncertainty of a reading: as stated, else half the tolerance."""
    return default if stated.uncertainty is None else max(stated.uncertainty, least)


@lru_cache(maxsize=4)
def kept_matcher(table: CandidateTable, tolerances: Tolerances, prior: Prior) -> Matcher:
    """Return the matcher of a table, kept for the next call."""
    return Matcher(table, tolerances, prior)
