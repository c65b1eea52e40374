"""One bottle by all of its students together.

Three sources are kept apart. The weighings are each student's own, but for what a section has in
common: barometer, bath, manner of working. The card is copied, so that it counts once, see `cards`.
The key is the instructor's. Their probabilities are no product of the students': that would count
the card, and what the weighings share, once for each student.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.matching.evidence import Matcher
from identify.matching.posterior import Posterior
from identify.matching.totals import NONE_OF_THESE
from identify.notebook.usual import tolerance_u
from identify.observables.comparison import Array, Comparison
from identify.observables.weighing import compare_molar_mass
from identify.physics.constants import GAS_CONSTANT
from identify.physics.vapor import Weighing, ideal_molar_mass
from identify.section.bottles.card import Card, card_of
from identify.section.robust_mean import Middle, middle
from identify.section.runs import Bottle, expectation_of

# What the students of a section have in common in their molar masses, as a part of what one run is
# good to (half its tolerance): barometer, bath, the manner in which all were told to dry the flask.
# At the usual tolerance of 5 % it is 1 %: a barometer off by 5 mmHg, or a bath read 2 K wrong, make
# 0.7 % each. Common practice.
SHARED = 0.4
# Chance that all students of a bottle are far off together, and those of other bottles are not:
# what spoils one run in fifty does not spoil eighty alike.
_GROSS = 0.0005
# Chance that a bottle holds another liquid than the one its card is about. Common practice: of the
# dozens of bottles that are filled for a course, one or another is exchanged.
_APART = 0.02
# Where a key is given, what is in a bottle is one of its liquids in so many cases, right label or
# not; else it is any of the table's.
_OF_THE_KEY = 0.5

_LEADING = 128  # candidates for which every student's molar mass is worked out


@dataclass(frozen=True)
class Pooled:
    """What all readings of a bottle say of each of n candidates.

    Parameters
    ----------
    bottle : Bottle
    card : Card
    reference : int
        Row of the candidate that the spread among students was taken with.
    middle : Middle
        Of the students' molar masses with that candidate's corrections, as logarithms relative to
        it.
    centers : array, shape (n,)
        Mean over the students that agree, with each candidate's corrections, as a logarithm
        relative to its molar mass; NaN where nothing was weighed.
    vaporized : array, shape (n,)
        Chance that each boiled off in the bath.
    probability : array, shape (n,)
        Sums to one with ``none_of_these``.
    none_of_these : float
    together : float
        Probability that bottle and card are about one liquid.
    weighed, carded : Posterior or None
        Of the weighings alone, and of the card alone.
    """

    bottle: Bottle
    card: Card
    reference: int
    middle: Middle
    centers: Array
    vaporized: Array
    probability: Array
    none_of_these: float
    together: float
    weighed: Posterior | None
    carded: Posterior | None

    @property
    def leader(self) -> int:
        """Row of the most probable candidate."""
        return int(np.argmax(self.probability))

    @property
    def is_known(self) -> bool:
        """Whether anything was read that says what it could be."""
        return self.middle.count > 0 or bool(self.card.readings)


@dataclass(frozen=True)
class First:
    """The first look at a bottle: enough to see what its students have in common.

    Parameters
    ----------
    reference : int
        Row of a candidate that is near enough for its corrections.
    card : Card
    weighing : Weighing or None
        One trial in the middle of all.
    """

    reference: int
    card: Card
    weighing: Weighing | None


class Pool:
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
        self._half = 0.01 * tolerance_u(matcher.tolerances.molar_mass)
        if len(self.key_rows):
            self.matcher = copy(matcher)
            ours = np.zeros(len(matcher.table))
            ours[self.key_rows] = (1.0 - NONE_OF_THESE) / len(self.key_rows)
            self.matcher.prior = _OF_THE_KEY * ours + (1.0 - _OF_THE_KEY) * matcher.prior

    @property
    def shared(self) -> float:
        """Standard uncertainty that the students of a bottle have in common, relative."""
        return SHARED * self._half

    def first(self, bottle: Bottle) -> First:
        """Take a first look at a bottle."""
        typical = _typical(bottle)
        student = bottle.attempts[0].bench if typical is None else bottle.attempts[typical[0]].bench
        guess = int(np.argmax(self._posterior(student).probability))
        liquid = expectation_of(self.matcher.table, [guess])
        card = card_of(bottle, liquid, self.matcher.tolerances)
        if typical is None:
            return First(guess, card, None)
        bench = replace(card.bench(), weighing=typical[1])
        return First(int(np.argmax(self._posterior(bench).probability)), card, typical[1])

    def of(self, bottle: Bottle, off: float = 0.0, first: First | None = None) -> Pooled:
        """Pool the students of a bottle.

        Parameters
        ----------
        bottle : Bottle
        off : float
            How far all molar masses of the section are off, as a logarithm.
        first : First, optional
            Where it was taken already.
        """
        first = first or self.first(bottle)
        size = len(self.matcher.table)
        said = first.card.bench()
        bench = replace(said, weighing=first.weighing)
        vaporized = self.matcher.vaporized_in_bath(bench)
        carded = self._posterior(said)
        nobody = np.full(bottle.students, np.nan)
        found, centers = middle(nobody, self._half), np.full(size, np.nan)
        if bottle.is_weighed:
            found, centers = self._centers(bottle, first, bench)
        if not found.count:
            return Pooled(
                bottle,
                first.card,
                first.reference,
                found,
                np.full(size, np.nan),
                vaporized,
                carded.probability,
                carded.none_of_these,
                1.0,
                None,
                carded,
            )
        centers = centers - off
        masses = self.matcher.expectation.molar_mass
        sigma = masses * float(np.hypot(found.uncertainty, self.shared))
        observed = masses * np.exp(centers)
        comparison = replace(
            compare_molar_mass(observed, masses, sigma, vaporized),
            gross=1.0 - (1.0 - _GROSS) * vaporized,
        )
        weighed = Posterior.of(
            self.matcher.evidence(Bench(weighing=first.weighing), (observed, comparison))
        )
        probability, none, together = weighed.probability, weighed.none_of_these, 1.0
        if first.card.readings:
            both = self._posterior(bench, (observed, comparison))
            one, two = (
                (1.0 - _APART) * both.marginal_likelihood,
                _APART * weighed.marginal_likelihood * carded.marginal_likelihood,
            )
            together = one / (one + two)
            probability = together * both.probability + (1.0 - together) * weighed.probability
            none = together * both.none_of_these + (1.0 - together) * weighed.none_of_these
        return Pooled(
            bottle,
            first.card,
            first.reference,
            found,
            centers,
            vaporized,
            probability,
            none,
            together,
            weighed,
            carded if first.card.readings else None,
        )

    def _posterior(
        self, bench: Bench, weighed: tuple[Array, Comparison] | None = None
    ) -> Posterior:
        return Posterior.of(self.matcher.evidence(bench, weighed))

    def _centers(self, bottle: Bottle, first: First, bench: Bench) -> tuple[Middle, Array]:
        """Return the middle with the reference, and the means for all candidates, shape (n,)."""
        expectation = self.matcher.expectation
        if first.weighing is None:  # all gave a molar mass
            offsets = bottle.offsets(expectation_of(self.matcher.table, [first.reference]))[:, 0]
            found = middle(offsets, self._half, bottle.doubted)
            mass = expectation.molar_mass[first.reference] * np.exp(found.value)
            return found, np.log(mass / expectation.molar_mass)
        typical = expectation.implied_molar_mass(first.weighing)[0]
        rough = np.log(np.maximum(typical, 1e-3) / expectation.molar_mass)
        rows = self._leading(first, bench, rough)
        offsets = bottle.offsets(expectation_of(self.matcher.table, rows))
        found = middle(offsets[:, 0], self._half, bottle.doubted)
        if not found.count:
            return found, rough
        exact = offsets[found.used].mean(axis=0)
        # The others' corrections differ from day to day as much, so that one shift serves them all.
        centers = rough + float(np.median(exact - rough[rows]))
        centers[rows] = exact
        return found, centers

    def _leading(self, first: First, bench: Bench, rough: Array) -> NDArray[np.int64]:
        """Return the rows whose molar masses matter most, the reference first."""
        likely = self._posterior(bench).probability
        most = min(_LEADING // 2, len(likely))
        by_all = np.argpartition(likely, -most)[-most:]
        nearest = np.argpartition(np.abs(rough), most - 1)[:most]
        others = np.concatenate([by_all, nearest, self.key_rows])
        return np.concatenate([[first.reference], np.setdiff1d(others, [first.reference])])


def _typical(bottle: Bottle) -> tuple[int, Weighing] | None:
    """Return the student in the middle, and one weighing in the middle of all trials.

    All of its readings are medians; its gain gives the median of the shortcut's molar masses.
    """
    read = bottle.weighing
    if read is None:
        return None
    sound = ~bottle.doubted[bottle.student] & (read.gain > 0.0)
    places = np.flatnonzero(sound) if sound.any() else np.arange(read.trials)
    ideal = ideal_molar_mass(read.gain, read.bath, read.pressure, read.volume)[places]
    values = {
        name: np.array([np.median(getattr(read, name)[places])])
        for name in ("bath", "room", "pressure", "volume", "volume_temperature", "humidity")
    }
    moles = values["pressure"] * values["volume"] / (GAS_CONSTANT * values["bath"])
    order = np.argsort(ideal, kind="stable")
    student = int(bottle.student[places[order[len(order) // 2]]])
    return student, Weighing(gain=np.median(ideal) * moles, **values)
