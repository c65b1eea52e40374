"""One bottle by all of its students together.

Three sources are kept apart. The weighings are each student's own, but for what a section has in
common: barometer, bath, manner of working. The card is copied, so that it counts once. The key is
the instructor's. The students' probabilities are not multiplied: that would count the card, and
what the weighings share, once for each student.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.matching.evidence import Matcher
from identify.matching.expected.expectation import Expectation, assumed_u
from identify.matching.posterior import Posterior
from identify.observables.error.technique import ALL_STATED, AS_CLASSES_WORK, CAREFUL
from identify.observables.weighing import (
    MolarMassComparison,
    ObservedMolarMass,
    compare_molar_mass,
)
from identify.physics.arrays import Array, in_quadrature
from identify.physics.constants import GAS_CONSTANT
from identify.physics.vapor import Weighing, ideal_molar_mass
from identify.section.bottles.card import BottleCard
from identify.section.robust_mean import RobustMean
from identify.section.runs import BottleRuns

# Chance that all students of a bottle are far off together, and those of other bottles are not:
# what spoils one run in fifty does not spoil eighty alike.
_ALL_WRONG = 0.0005
# Chance that a bottle holds another liquid than the one its card is about. Common practice: of the
# dozens of bottles that are filled for a course, one or another is exchanged.
_OTHER_CARD = 0.02
# Chance that a bottle holds a liquid of the key, where there is one, whether rightly labeled or
# not; else it may hold any of the table's.
_ON_THE_KEY = 0.5

_LEAST_SPREAD = 0.005  # whatever is said of the technique
_SHOW_THEIR_SPREAD = 3  # students of one bottle
_MAX_EXACT = 128  # candidates for which every student's molar mass is worked out


@dataclass(frozen=True)
class PooledBottle:
    """What all readings of a bottle say of each of n candidates.

    Parameters
    ----------
    bottle : BottleRuns
    card : BottleCard
    reference : int
        Row of the candidate that the spread among students was taken with.
    mean : RobustMean
        Of the students' molar masses with that candidate's corrections, as logarithms relative to
        it.
    offsets : array, shape (n,)
        Mean over the students that agree, with each candidate's corrections, as a logarithm
        relative to its molar mass; NaN where nothing was weighed.
    vaporized : array, shape (n,)
        Chance that each boiled off in the bath.
    probability : array, shape (n,)
        Sums to one with ``none_of_these``.
    none_of_these : float
    same_liquid : float
        Probability that bottle and card are about one liquid.
    by_weighings, by_card : Posterior or None
        Of the weighings alone, and of the card alone; None where there are none.
    """

    bottle: BottleRuns
    card: BottleCard
    reference: int
    mean: RobustMean
    offsets: Array
    vaporized: Array
    probability: Array
    none_of_these: float
    same_liquid: float
    by_weighings: Posterior | None
    by_card: Posterior | None

    @property
    def leader(self) -> int:
        """Row of the most probable candidate."""
        return int(np.argmax(self.probability))

    def molar_mass(self, molar_masses: Array) -> float:
        """Return the students' mean with the corrections of the most probable candidate [g/mol].

        Parameters
        ----------
        molar_masses : array, shape (n,)
            Of the candidates [g/mol].

        Returns
        -------
        float
            NaN where nothing was weighed.
        """
        return float(molar_masses[self.leader]) * float(np.exp(self.offsets[self.leader]))

    @property
    def is_known(self) -> bool:
        """Whether anything was read that says what it could be."""
        return self.mean.count > 0 or bool(self.card.readings)


@dataclass(frozen=True)
class FirstLook:
    """The first look at a bottle: enough to see what its students have in common.

    Parameters
    ----------
    reference : int
        Row of a candidate that is near enough for its corrections.
    card : BottleCard
    weighing : Weighing or None
        One typical trial.
    run : int
        Place of the run that it is of.
    """

    reference: int
    card: BottleCard
    weighing: Weighing | None
    run: int = 0


class BottlePooling:
    """Pools the students of one bottle after the other.

    Parameters
    ----------
    matcher : Matcher
    key_rows : sequence of int
        Rows of the key's liquids; may be empty.
    """

    def __init__(self, matcher: Matcher, key_rows: Sequence[int] = ()) -> None:
        self.matcher = matcher
        self.key_rows = np.unique(np.array(key_rows, dtype=np.int64))
        if len(self.key_rows):
            self.matcher = copy(matcher)
            on_the_key = np.zeros(len(matcher.table))
            on_the_key[self.key_rows] = (1.0 - matcher.outside) / len(self.key_rows)
            self.matcher.prior = _ON_THE_KEY * on_the_key + (1.0 - _ON_THE_KEY) * matcher.prior

    def liquid(self, row: int) -> Expectation:
        """Return what the bench would read of one liquid of the table."""
        return Expectation.of(self.matcher.table.take([row]))

    def mean_offset(self, bottle: BottleRuns, liquid: Expectation) -> RobustMean:
        """Return the students' mean distance from one liquid's molar mass, as a logarithm."""
        offsets = bottle.offsets(liquid)[:, 0]
        usual = self._usual_spread(int(np.isfinite(offsets).sum()))
        return RobustMean.of(offsets, usual, bottle.doubted)

    def _usual_spread(self, students: int) -> float:
        """Return how far students' molar masses lie apart, relative: each has a bias of their own.

        Several show it themselves, and those who were rough stand out; then nothing is assumed
        beyond a careful class, unless it is said.
        """
        technique = self.matcher.technique
        if technique == AS_CLASSES_WORK and students >= _SHOW_THEIR_SPREAD:
            technique = CAREFUL
        return max(technique.spread, _LEAST_SPREAD)

    def first_look(self, bottle: BottleRuns) -> FirstLook:
        """Take a first look at a bottle."""
        typical = _typical_trial(bottle)
        place, weighing = (0, None) if typical is None else typical
        reference = self._likeliest(bottle.runs[place].bench)
        card = BottleCard.of(bottle, self.liquid(reference), self.matcher.tolerances)
        if weighing is not None:
            reference = self._likeliest(replace(card.bench(), weighing=weighing))
        return FirstLook(reference, card, weighing, place)

    def card_again(self, bottle: BottleRuns, first: FirstLook) -> FirstLook:
        """Read a bottle's card again, once its students' readings were set right."""
        card = BottleCard.of(bottle, self.liquid(first.reference), self.matcher.tolerances)
        return replace(first, card=card)

    def _posterior(
        self, bench: Bench, weighed: tuple[Array, MolarMassComparison] | None = None
    ) -> Posterior:
        return Posterior.of(self.matcher.evidence(bench, weighed))

    def _likeliest(self, bench: Bench) -> int:
        return int(np.argmax(self._posterior(bench).probability))

    def pooled(
        self, bottle: BottleRuns, first: FirstLook, off: float = 0.0, boiling_off: float = 0.0
    ) -> PooledBottle:
        """Pool the students of a bottle.

        Parameters
        ----------
        bottle : BottleRuns
        first : FirstLook
        off : float
            How far all molar masses of the section are off, as a logarithm.
        boiling_off : float
            How far all its boiling points are off [K].
        """
        first = replace(first, card=replace(first.card, boiling_off=boiling_off))
        card = first.card.bench()
        bench = replace(card, weighing=first.weighing)
        vaporized = self.matcher.vaporized_in_bath(bench)
        alone = self._posterior(card)
        by_card = alone if first.card.readings else None
        mean, offsets = self._offsets(bottle, first, bench)
        offsets = offsets - off
        weighed = by_weighings = None
        if mean.count:
            assumed = assumed_u(self.matcher.by_assumption(bottle.runs[first.run].bench))
            weighed = self._compared(mean, offsets, vaporized, assumed)
            by_weighings = self._posterior(Bench(weighing=first.weighing), weighed)
        if by_weighings is not None and by_card is not None:
            both = self._posterior(bench, weighed)
            probability, none, same_liquid = _mixed(both, by_weighings, by_card)
        else:
            only = alone if by_weighings is None else by_weighings
            probability, none, same_liquid = only.probability, only.none_of_these, 1.0
        return PooledBottle(
            bottle=bottle,
            card=first.card,
            reference=first.reference,
            mean=mean,
            offsets=offsets,
            vaporized=vaporized,
            probability=probability,
            none_of_these=none,
            same_liquid=same_liquid,
            by_weighings=by_weighings,
            by_card=by_card,
        )

    def _compared(
        self, mean: RobustMean, offsets: Array, vaporized: Array, assumed: Array | float
    ) -> tuple[Array, MolarMassComparison]:
        """Compare the students' mean molar mass with each candidate's, both of shape (n,).

        What nobody wrote down is the same for all of them: its uncertainty does not average out.
        """
        masses = self.matcher.expectation.molar_mass
        observed = masses * np.exp(offsets)
        instruments = in_quadrature(masses * mean.uncertainty, assumed)
        tolerance = 2.0 * masses * mean.uncertainty
        comparison = compare_molar_mass(
            ObservedMolarMass(observed, instruments=instruments),
            masses,
            ALL_STATED,
            tolerance,
            vaporized,
        )
        return observed, replace(comparison, gross=1.0 - (1.0 - _ALL_WRONG) * vaporized)

    def _offsets(
        self, bottle: BottleRuns, first: FirstLook, bench: Bench
    ) -> tuple[RobustMean, Array]:
        """Return the mean with the reference, and those with all candidates, shape (n,)."""
        expectation = self.matcher.expectation
        mean = self.mean_offset(bottle, self.liquid(first.reference))
        if first.weighing is None:  # only molar masses were stated, if anything
            mass = expectation.molar_mass[first.reference] * np.exp(mean.value)
            return mean, np.log(mass / expectation.molar_mass)
        typical = expectation.implied_molar_mass(first.weighing)[0]
        rough = np.log(np.maximum(typical, 1e-3) / expectation.molar_mass)
        if not mean.count:
            return mean, np.full_like(rough, np.nan)
        rows = self._leading(first, bench, rough)
        by_student = bottle.offsets(Expectation.of(self.matcher.table.take(rows)))
        exact = by_student[mean.used].mean(axis=0)
        # The others' corrections differ from day to day as much, so that one shift serves them all.
        offsets = rough + float(np.median(exact - rough[rows]))
        offsets[rows] = exact
        return mean, offsets

    def _leading(self, first: FirstLook, bench: Bench, rough: Array) -> NDArray[np.int64]:
        """Return the rows whose molar masses matter most, the reference first."""
        likely = self._posterior(bench).probability
        most = min(_MAX_EXACT // 2, len(likely))
        by_all = np.argpartition(likely, -most)[-most:]
        nearest = np.argpartition(np.abs(rough), most - 1)[:most]
        others = np.concatenate([by_all, nearest, self.key_rows])
        return np.concatenate([[first.reference], np.setdiff1d(others, [first.reference])])


def _mixed(
    both: Posterior, by_weighings: Posterior, by_card: Posterior
) -> tuple[Array, float, float]:
    """Return probabilities, that of none, and that bottle and card are about one liquid."""
    one = (1.0 - _OTHER_CARD) * both.marginal_likelihood
    two = _OTHER_CARD * by_weighings.marginal_likelihood * by_card.marginal_likelihood
    same = one / (one + two)
    probability, none = (
        same * getattr(both, name) + (1.0 - same) * getattr(by_weighings, name)
        for name in ("probability", "none_of_these")
    )
    return probability, none, same


def _typical_trial(bottle: BottleRuns) -> tuple[int, Weighing] | None:
    """Return the place of the median student's run, and one trial in the middle of all.

    All of its readings are medians; its gain gives the median of the shortcut's molar masses.
    """
    read = bottle.weighing
    if read is None:
        return None
    sound = ~bottle.doubted[bottle.run_of_trial] & (read.gain > 0.0)
    trials = np.flatnonzero(sound) if sound.any() else np.arange(read.trials)
    ideal = ideal_molar_mass(read.gain, read.bath, read.pressure, read.volume)[trials]
    values = {
        name: np.array([np.median(getattr(read, name)[trials])])
        for name in ("bath", "room", "pressure", "volume", "volume_temperature", "humidity")
    }
    moles = values["pressure"] * values["volume"] / (GAS_CONSTANT * values["bath"])
    order = np.argsort(ideal, kind="stable")
    run = int(bottle.run_of_trial[trials[order[len(order) // 2]]])
    return run, Weighing(gain=np.median(ideal) * moles, **values)
