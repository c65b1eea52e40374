"""One unknown's readings beside the candidates that a slip could lead to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from weakref import proxy

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.bench.trials import BenchTrial
from identify.compounds.table import CandidateTable
from identify.matching.evidence import (
    CandidateEvidence,
    Matcher,
)
from identify.matching.expected.expectation import assumed_u, believed_u, worked_out
from identify.matching.posterior import Posterior
from identify.notebook.measurement import Measurement
from identify.notebook.quantity.quantities import Quantity
from identify.notebook.usual import tolerance_u
from identify.observables.boiling_point import BOILING_POINT, ERRORS, compare_boiling_point
from identify.observables.composition import (
    PERCENT,
    claims_to_be_complete,
    compare_unmentioned,
)
from identify.observables.error.comparison import Comparison, normal
from identify.observables.error.molar_mass import MolarMassError
from identify.observables.weighing import ObservedMolarMass, relative_scatter
from identify.physics.arrays import Array, in_quadrature
from identify.physics.constants import ELEMENTS
from identify.physics.vapor import Liquid, Vapor, Weighing, true_gain

GRAMS = 1e3  # in a kilogram
_MAX_TRIALS = 12  # of one unknown, that slips are weighed beside
_MAX_ODD_TRIALS = 8  # among them, whose own readings are taken for slips


@dataclass(frozen=True)
class Case:
    """One unknown's readings beside the candidates that a slip could lead to.

    Parameters
    ----------
    run : Measurement
    posterior : Posterior
        Of the readings as they are.
    rows : array of int, shape (s,)
        The leading candidates' rows in the table.
    """

    run: Measurement
    posterior: Posterior
    rows: NDArray[np.int64]

    @property
    def evidence(self) -> CandidateEvidence:
        """What the readings say as they are."""
        return self.posterior.evidence

    @property
    def bench(self) -> Bench:
        """The readings in SI units."""
        return self.evidence.bench

    @property
    def matcher(self) -> Matcher:
        """That compared them."""
        return self.evidence.matcher

    @property
    def table(self) -> CandidateTable:
        """The candidates."""
        return self.posterior.table

    @cached_property
    def _considered(self) -> NDArray[np.int64]:
        """Places of the trials among those of the bench; of many, the oddest and some others.

        A file without a column of students makes one unknown of any number of rows. How a slip of
        one of them stands beside the others, some of these tell as well as all.
        """
        weighing = self.bench.weighing
        count = 0 if weighing is None else weighing.trials
        if weighing is None or count <= _MAX_TRIALS:
            return np.arange(count)
        odd = _oddest(weighing)
        others = np.setdiff1d(np.arange(count), odd)
        spread = np.linspace(0, len(others) - 1, _MAX_TRIALS - len(odd)).astype(np.int64)
        return np.sort(np.concatenate([odd, others[spread]]))

    @cached_property
    def trials(self) -> tuple[BenchTrial, ...]:
        """The trials that were weighed, in the order of the weighings' arrays."""
        return tuple(self.bench.trials[place] for place in self._considered.tolist())

    @cached_property
    def weighing(self) -> Weighing | None:
        """The weighings of these trials, None where there are none."""
        weighing = self.bench.weighing
        if weighing is None or weighing.trials == len(self._considered):
            return weighing
        return weighing.some(self._considered)

    @cached_property
    def odd_places(self) -> list[int]:
        """Places of the trials that a slip of their own is looked for in: the oddest of many."""
        assert self.weighing is not None
        return sorted(_oddest(self.weighing).tolist())

    def number(self, place: int) -> int:
        """Return the number on the page of the trial at a place, from 1."""
        return self.trials[place].number

    @cached_property
    def molar_mass(self) -> Array:
        """The leading candidates' molar masses, shape (s,) [g/mol]."""
        return self.matcher.expectation.molar_mass[self.rows]

    def worked_out(self, value: float) -> ObservedMolarMass:
        """Return a molar mass that was worked out before, as it may have been meant [g/mol]."""
        weighing, stated = self.bench.as_weighed, self.bench.molar_mass
        assert stated is not None
        if weighing is not None:
            weighing = replace(weighing, gain=weighing.gain * (value / stated.value))
        meant = replace(stated, value=value)
        return worked_out(meant, weighing, self.liquid, len(self.rows))

    @cached_property
    def liquid(self) -> Liquid:
        """The leading candidates' constants."""
        return self.matcher.expectation.liquid.take(self.rows)

    @cached_property
    def weighings(self) -> _CaseWeighings:
        """The weighings, where there are any."""
        return _CaseWeighings(self)

    @cached_property
    def boiling_point(self) -> _CaseBoilingPoint:
        """The boiling point, where there is one."""
        return _CaseBoilingPoint(self)

    @cached_property
    def percentages(self) -> CasePercentages:
        """The percentages, where there are any."""
        return CasePercentages(self)

    def density(self, observed: ObservedMolarMass) -> Array:
        """Return the density of an observed molar mass under how the class works, shape (..., s).

        Its arrays have the shape (..., s).
        """
        error, off, gained = self.error_of(observed)
        return error.density(off) / gained

    def rough_parts(self, observed: ObservedMolarMass) -> Mapping[str, Array]:
        """Return what rough technique has of that density, by its slip's code."""
        error, off, gained = self.error_of(observed)
        return {code: density / gained for code, density in error.rough_parts(off).items()}

    def error_of(self, observed: ObservedMolarMass) -> tuple[MolarMassError, Array, Array]:
        """Return how an observed molar mass errs, how far it is off, and what was gained of it."""
        gained = observed.gained(self.molar_mass)
        error = observed.error(self.matcher.technique, self.molar_mass, gained)
        return error, (observed.value - self.molar_mass) / gained, gained

    def part(self, comparison: Comparison | None, code: str) -> Array:
        """Return what of a reading's likelihood stands for a slip, shape (s,)."""
        assert comparison is not None
        return comparison.parts(self.rows)[code]

    def of_leading(self, values: Array | float) -> Array:
        """Take the leading candidates' part of values for all, shape (s,)."""
        return np.broadcast_to(values, (len(self.table),))[self.rows]


def _oddest(weighing: Weighing) -> NDArray[np.int64]:
    """Return the places of the trials that lie farthest from the middle; all of a few."""
    found = weighing.ideal_molar_mass()
    if len(found) <= _MAX_ODD_TRIALS:
        return np.arange(len(found))
    far = np.abs(found - np.median(found))
    return np.argsort(-far, kind="stable")[:_MAX_ODD_TRIALS]


class _CaseWeighings:
    """Weighings beside the leading candidates, with the corrections of each."""

    def __init__(self, case: Case) -> None:
        assert case.weighing is not None
        # The case has these weighings: in a circle, both would stay in memory for long.
        self.case: Case = proxy(case)
        self.read = case.weighing

    @cached_property
    def _vapor(self) -> Vapor:
        return Vapor.of(self.read, self.case.liquid)

    @cached_property
    def each(self) -> Array:
        """Molar masses trial by trial as they stand, shape (k, s) [g/mol]."""
        return GRAMS * self._vapor.implied_and_gained(self.read)[0]

    @cached_property
    def mean(self) -> Array:
        """Their means, shape (s,) [g/mol]."""
        return np.asarray(self.each.mean(axis=0))

    @cached_property
    def error(self) -> MolarMassError:
        """How their mean errs, as they stand."""
        observed = self._observed_in(np.arange(self.read.trials))
        return self.case.error_of(observed)[0]

    @cached_property
    def slope_of_each(self) -> Array:
        """What a kilogram more changes each trial by, shape (k, s) [g/(mol kg)]."""
        per_kilogram = true_gain(replace(self.read, gain=np.ones(self.read.trials)))
        return GRAMS * per_kilogram[:, np.newaxis] * self._vapor.per_gain

    @cached_property
    def slope(self) -> Array:
        """Their means, shape (s,) [g/(mol kg)]."""
        return np.asarray(self.slope_of_each.mean(axis=0))

    @cached_property
    def excess(self) -> Array:
        """What was weighed too much of each candidate, shape (s,) [kg]."""
        return (self.mean - self.case.molar_mass) / self.slope

    @cached_property
    def vapor(self) -> Array:
        """What was to be weighed of each candidate's vapor, shape (s,) [kg]."""
        return self.case.molar_mass / self.slope

    @cached_property
    def shut_out(self) -> Array:
        """What the balance did not show of each trial's molar mass, shape (k, s) [g/mol]."""
        return self.each - self.slope_of_each * self.read.gain[:, np.newaxis]

    def rewritten(self, meant: Mapping[str, Array]) -> tuple[Array, Array]:
        """Return the molar masses of rewritten weighings, and what the balance did not show.

        Parameters
        ----------
        meant : mapping of str to array, shape (rewritten, k)
            By field of `Weighing`.

        Returns
        -------
        arrays, shape (rewritten, s) [g/mol]
            Means over the trials.
        """
        whole = Weighing(**{name: values.ravel() for name, values in meant.items()})
        # A flask of any size holds as much vapor to the liter: what the other readings make of it
        # is worked out once for each that occur together.
        others = [name for name in meant if name not in ("gain", "volume")]
        read = np.column_stack([getattr(whole, name) for name in others])
        places: dict[bytes, int] = {}
        place = [places.setdefault(row.tobytes(), len(places)) for row in read]
        distinct = np.array([np.frombuffer(row) for row in places]).T
        one = np.ones(len(places))
        vapor = Vapor.of(
            Weighing(gain=one, volume=one, **dict(zip(others, distinct, strict=True))),
            self.case.liquid,
        )
        shape = (len(places), len(self.case.rows))
        trials = self.read.trials
        which = np.repeat(np.arange(len(meant["gain"])), trials), np.array(place)
        gains, shares = np.zeros((2, len(meant["gain"]), len(places)))
        np.add.at(gains, which, true_gain(whole) / whole.volume * (GRAMS / trials))
        np.add.at(shares, which, GRAMS / trials)
        not_shown = shares @ np.broadcast_to(vapor.not_shown, shape)
        return gains @ np.broadcast_to(vapor.per_gain, shape) + not_shown, not_shown

    @cached_property
    def shortcut(self) -> Array:
        """The shortcut's molar masses as they stand, shape (k,) [kg/mol]."""
        return self.read.ideal_molar_mass()

    def density(
        self, mean: Array, shut_out: Array, scatter: Array, digit: Array | float = 1.0
    ) -> Array:
        """Return the density of a mean of all trials under how the class works, shape (..., s).

        Parameters
        ----------
        mean : array, shape (..., s)
            Of the molar masses [g/mol].
        shut_out : array, shape (..., s)
            What the balance did not show of it [g/mol].
        scatter : array, shape (...)
            Of the trials, see `relative_scatter`.
        digit : array, shape (...), default=1.0
            What the balance's last digit is in a molar mass, over what it is as written.
        """
        return self.case.density(self._observed(mean, shut_out, scatter, self.read.trials, digit))

    def _observed(
        self,
        mean: Array,
        shut_out: Array,
        scatter: Array,
        trials: int,
        digit: Array | float = 1.0,
    ) -> ObservedMolarMass:
        bench = self.case.bench
        balance = np.asarray(digit)[..., np.newaxis] * bench.gain_u
        stated = in_quadrature(bench.weighing_u * mean, balance)
        return ObservedMolarMass(
            mean,
            shut_out,
            in_quadrature(stated, self._assumed_u),
            trials=trials,
            scatter=np.asarray(scatter)[..., np.newaxis],
        )

    @cached_property
    def _assumed_u(self) -> Array:
        """Standard uncertainty from assumed conditions, shape (s,) [g/mol]."""
        return self.case.of_leading(assumed_u(self.case.evidence.by_assumption))

    def mean_of(self, places: NDArray[np.int64]) -> Array:
        """Return the mean of some of the trials, shape (s,) [g/mol]."""
        return np.asarray(self.each[places].mean(axis=0))

    def density_of(self, places: NDArray[np.int64]) -> Array:
        """Return the density of the mean of some of the trials, as `density` has it, shape (s,)."""
        return self.case.density(self._observed_in(places))

    def rough_parts_of(self, places: NDArray[np.int64]) -> Mapping[str, Array]:
        """Return what rough technique has of that density, by its slip's code."""
        return self.case.rough_parts(self._observed_in(places))

    def _observed_in(self, places: NDArray[np.int64]) -> ObservedMolarMass:
        scatter = relative_scatter(self.shortcut[places])
        shut_out = self.shut_out[places].mean(axis=0)
        return self._observed(self.mean_of(places), shut_out, scatter, len(places))

    def agreement_of(self, places: NDArray[np.int64]) -> float:
        """Return how well some of the trials agree, over how well all do as they stand."""
        return float(self.agreement(relative_scatter(self.shortcut[places]), len(places)))

    def agreement(self, scatter: Array, trials: int | None = None) -> Array:
        """Return how well trials that scatter so agree, over how well all do as they stand."""
        technique, count = self.case.matcher.technique, self.read.trials
        as_they_stand = technique.log_agreement(relative_scatter(self.shortcut), count)
        return np.exp(technique.log_agreement(scatter, trials or count) - as_they_stand)


class _CaseBoilingPoint:
    """A boiling point beside those of the leading candidates."""

    def __init__(self, case: Case) -> None:
        assert case.run.boiling_point is not None
        assert case.bench.boiling_point is not None
        self.written: Quantity = case.run.boiling_point
        self.value = case.bench.boiling_point.value
        """As it was read [K]."""
        expectation = case.matcher.expectation
        expected = expectation.boiling_point(case.bench.boiling_pressure)[case.rows]
        self.known_u = case.of_leading(expectation.boiling_point_u)
        """How well the table knows the candidates' boiling points, shape (s,) [K]."""
        self.off = self.value - expected
        """Reading minus what each candidate would have read, shape (s,) [K]."""
        tolerated = tolerance_u(case.matcher.tolerances.boiling_point)
        read = believed_u(case.bench.boiling_point, tolerated, BOILING_POINT.least)
        self._expected, self._read_u = expected, read
        self._error = ERRORS[case.bench.boiling_point_by]
        self._sigma = in_quadrature(read, self.known_u)

    def likelihood(self, expected: Array) -> Array:
        """Return the density of the reading had other ones been expected [K], shape (s,)."""
        found = compare_boiling_point(self.value, expected, self._read_u, self.known_u, self._error)
        return found.likelihood()

    def densities(self, values: Array) -> Array:
        """Return the densities of m numbers that may have been meant [K], shape (m, s)."""
        return normal(values[:, np.newaxis] - self._expected, self._sigma)


class CasePercentages:
    """A card's percentages beside those of the leading candidates."""

    def __init__(self, case: Case) -> None:
        self._written = case.run.percent
        tolerated = tolerance_u(case.matcher.tolerances.percent)
        listed = case.bench.percent
        self.values = {place: stated.value for place, stated in listed.items()}
        self.sigmas = {
            place: believed_u(stated, tolerated, PERCENT.least) for place, stated in listed.items()
        }
        self.expected = case.matcher.expectation.percent[:, case.rows]
        self.likelihoods = {
            place: case.of_leading(comparison.likelihood())
            for place, comparison in case.evidence.elements.items()
        }
        self.sound = np.prod(list(self.likelihoods.values()), axis=0)
        self.remaining = 100.0 - sum(self.expected[place] for place in self.values)
        self._sum_u = float(np.sqrt(sum(s * s for s in self.sigmas.values())))

    def density(self, changed: Mapping[int, float]) -> Array:
        """Return the density of the card with some of its numbers as they may have been meant."""
        density = self.sound.copy()
        total = sum(self.values.values())
        for place, value in changed.items():
            density /= self.likelihoods[place]
            density *= normal(value - self.expected[place], self.sigmas[place])
            total += value - self.values[place]
        return density * self.claim(total)

    def densities(self, place: int, values: Array) -> Array:
        """Return the densities with one of its numbers as each of m values, shape (m, s)."""
        off = values[:, np.newaxis] - self.expected[place]
        density = normal(off, self.sigmas[place])
        density *= self.sound / self.likelihoods[place]
        totals = sum(self.values.values()) - self.values[place] + values
        for row in np.flatnonzero(claims_to_be_complete(totals, self._sum_u)):
            density[row] *= self.claim(float(totals[row]))
        return density

    def claim(self, total: float) -> Array | float:
        """Return the chance of a card that adds up to this, one where it claims nothing."""
        claim = compare_unmentioned(total, self.remaining, self._sum_u)
        return 1.0 if claim is None else claim.likelihood()

    def written(self, place: int) -> Quantity:
        """Return an element's percentage as it was written."""
        return self._written[ELEMENTS[place]]
