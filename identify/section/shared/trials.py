"""What the trials of a section share: a day, a balance, one reading of the barometer."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.notebook.measurement import Measurement, Trial
from identify.notebook.units import MMHG
from identify.section.runs import Bottle

# Readings of one barometer on one day are nearer to each other than this [mmHg]: half a
# millimeter each way that it is read to, and what the weather does within an afternoon.
_ONE_READING = 1.5


@dataclass(frozen=True)
class Trials:
    """All weighed trials of a section, one entry each, bottle after bottle.

    Parameters
    ----------
    bottle : array of int, shape (trials,)
        Place of the bottle.
    student : array of int, shape (trials,)
        Place of the run in the section.
    pressure : array, shape (trials,)
        As it was read [mmHg].
    circumstances : sequence of mapping
        Of each trial.
    """

    bottle: NDArray[np.int64]
    student: NDArray[np.int64]
    pressure: NDArray[np.float64]
    circumstances: Sequence[Mapping[str, str]]

    @classmethod
    def of(cls, bottles: Sequence[Bottle]) -> Trials:
        """Take the trials of bottles; those that nobody weighed have none."""
        weighed = [(place, one) for place, one in enumerate(bottles) if one.weighing is not None]
        parts = [one.weighing for _, one in weighed if one.weighing is not None]
        return cls(
            bottle=np.repeat(
                np.array([place for place, _ in weighed], dtype=np.int64),
                [part.trials for part in parts],
            ),
            student=np.concatenate(
                [np.zeros(0, dtype=np.int64)]
                + [np.array([a.place for a in one.attempts])[one.student] for _, one in weighed]
            ),
            pressure=np.concatenate([np.zeros(0), *(part.pressure / MMHG for part in parts)]),
            circumstances=[
                circumstances_of(attempt.run, trial)
                for _, one in weighed
                for attempt in one.attempts
                if attempt.bench.weighing is not None
                for trial in attempt.run.trials
            ],
        )

    def words(self, name: str) -> list[str]:
        """Return a circumstance of each trial, empty where it was not written down."""
        return [one.get(name, "") for one in self.circumstances]

    @cached_property
    def factors(self) -> tuple[Factor, ...]:
        """All ways in which trials go together, that which explains a fault best first."""
        found = (kind.factor(self) for kind in KINDS)
        return tuple(factor for factor in found if factor.names)


def circumstances_of(run: Measurement, trial: Trial | None) -> dict[str, str]:
    """Return on which day and with which instruments a trial was done."""
    own = {} if trial is None else dict(trial.circumstances)
    return {**dict(run.circumstances), **own}


@dataclass(frozen=True)
class Factor:
    """One way in which trials go together.

    Parameters
    ----------
    kind : Kind
    codes : array of int, shape (trials,)
        Group of each trial, -1 where it is not known.
    names : sequence of tuple of str
        Of each group: the words that tell it from the others.
    """

    kind: Kind
    codes: NDArray[np.int64]
    names: Sequence[tuple[str, ...]]


@dataclass(frozen=True)
class Kind:
    """A kind of group.

    Parameters
    ----------
    code : str
        Of the finding.
    reading : str
        Of a weighing, which a fault of this kind makes wrong; empty where none is known.
    words : callable
        From the trials to the words that tell the groups apart, () for a trial that has none.
    phrase : str
        How a group stands in a sentence, with a place for each of its words.
    """

    code: str
    reading: str
    words: Callable[[Trials], Sequence[tuple[str, ...]]]
    phrase: str

    def factor(self, trials: Trials) -> Factor:
        """Return the groups of this kind."""
        places: dict[tuple[str, ...], int] = {}
        codes = np.array(
            [
                places.setdefault(words, len(places)) if words else -1
                for words in self.words(trials)
            ],
            dtype=np.int64,
        )
        return Factor(self, codes, tuple(places))


def _named(*names: str) -> Callable[[Trials], Sequence[tuple[str, ...]]]:
    """Return a function that takes circumstances, all of which have to be there."""

    def words(trials: Trials) -> Sequence[tuple[str, ...]]:
        each = zip(*(trials.words(name) for name in names), strict=True)
        return [one if all(one) else () for one in each]

    return words


def _readings(trials: Trials) -> Sequence[tuple[str, ...]]:
    """Return the day and the reading of the barometer; readings hardly apart are one."""
    days = trials.words("day")
    found: list[tuple[str, ...]] = [()] * len(days)
    for day in dict.fromkeys(days):
        places = np.array([place for place, one in enumerate(days) if one == day])
        order = places[np.argsort(trials.pressure[places], kind="stable")]
        steps = np.diff(trials.pressure[order], prepend=-np.inf) > _ONE_READING
        for group in np.split(order, np.flatnonzero(steps)[1:]):
            reading = f"{float(np.median(trials.pressure[group])):.0f} mmHg"
            for place in group:
                found[int(place)] = (day, reading)
    return found


# The room's temperature is none of them: each reads it anew, so that whoever reads it wrong has a
# reading of their own, and those of one reading are off together without sharing anything.
# Where two kinds comprise the same trials, the fault is told of the first: a barometer is read once
# for all, and any error of it is one of every molar mass; most others make a molar mass wrong only
# where they are far off. Common practice.
KINDS: tuple[Kind, ...] = (
    Kind("barometer-day", "pressure", _readings, "on day {0} with {1}"),
    Kind("barometer-day", "pressure", _named("day", "barometer_name"), "on day {0}, barometer {1}"),
    Kind("barometer-day", "pressure", _named("day"), "on day {0}"),
    Kind("shared-barometer", "pressure", _named("barometer_name"), "with barometer {0}"),
    Kind("shared-balance", "gain", _named("balance"), "on balance {0}"),
    Kind("shared-balance", "gain", _named("day", "balance"), "on day {0} on balance {1}"),
    Kind("shared-thermometer", "bath", _named("thermometer"), "with thermometer {0}"),
    Kind("shared-flask", "volume", _named("flask"), "in flask {0}"),
    Kind("shared-bench", "", _named("bench"), "at bench {0}"),
)
