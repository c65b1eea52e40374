"""The trials of a section by what they share: a day, a balance, one reading of the barometer."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.notebook.quantity.units import MMHG
from identify.section.runs import BottleRuns

# Readings of one barometer on one day are nearer to each other than this [mmHg]: half a
# millimeter each way that it is read to, and what the weather does within an afternoon.
_ONE_READING = 1.5


@dataclass(frozen=True)
class Trials:
    """Observations of a section, one entry each, bottle after bottle.

    Parameters
    ----------
    bottle : array of int, shape (trials,)
        Place of the bottle.
    student : array of int, shape (trials,)
        Index of the run in the section.
    number : array of int, shape (trials,)
        Of the trial on its page, from 1; of a boiling point 0.
    pressure : array, shape (trials,)
        As it was read [mmHg].
    circumstances : sequence of mapping
        Of each trial.
    """

    bottle: NDArray[np.int64]
    student: NDArray[np.int64]
    number: NDArray[np.int64]
    pressure: NDArray[np.float64]
    circumstances: Sequence[Mapping[str, str]]

    @classmethod
    def of(cls, bottles: Sequence[BottleRuns]) -> Trials:
        """Take the weighed trials of bottles."""
        weighed = [
            (place, bottle.runs[run], trial)
            for place, bottle in enumerate(bottles)
            for run, trial in bottle.trials
        ]
        pressures = [one.weighing.pressure for one in bottles if one.weighing is not None]
        return cls(
            bottle=np.array([place for place, _, _ in weighed], dtype=np.int64),
            student=np.array([run.index for _, run, _ in weighed], dtype=np.int64),
            number=np.concatenate([np.zeros(0, np.int64), *(one.trial_numbers for one in bottles)]),
            pressure=np.concatenate([np.zeros(0), *pressures]) / MMHG,
            circumstances=[run.circumstances(trial) for _, run, trial in weighed],
        )

    def numbers_of(self, members: NDArray[np.bool_]) -> dict[int, frozenset[int]]:
        """Return the numbers of some trials on their pages, by the index of the run."""
        held: dict[int, set[int]] = {}
        for index, number in zip(self.student[members], self.number[members], strict=True):
            held.setdefault(int(index), set()).add(int(number))
        return {index: frozenset(numbers) for index, numbers in held.items()}

    def words(self, name: str) -> list[str]:
        """Return a circumstance of each trial, empty where it was not written down."""
        return [one.get(name, "") for one in self.circumstances]

    @cached_property
    def factors(self) -> tuple[Factor, ...]:
        """All groupings of weighed trials, that which explains a fault best first."""
        found = (grouping.factor(self) for grouping in _OF_WEIGHINGS)
        return tuple(factor for factor in found if factor.names)


@dataclass(frozen=True)
class Factor:
    """The groups of a section's trials by one grouping.

    Parameters
    ----------
    grouping : _Grouping
    codes : array of int, shape (trials,)
        Group of each trial, -1 where it is not known.
    names : sequence of tuple of str
        Of each group: the words that tell it from the others.
    """

    grouping: _Grouping
    codes: NDArray[np.int64]
    names: Sequence[tuple[str, ...]]


_Words = Callable[[Trials], Sequence[tuple[str, ...]]]


@dataclass(frozen=True)
class _Grouping:
    """One way to group trials.

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
    words: _Words
    phrase: str

    def factor(self, trials: Trials) -> Factor:
        """Group trials."""
        places: dict[tuple[str, ...], int] = {}
        codes = [
            places.setdefault(words, len(places)) if words else -1 for words in self.words(trials)
        ]
        return Factor(self, np.array(codes, dtype=np.int64), tuple(places))


def _named(*names: str) -> _Words:
    """Return a function that takes circumstances, all of which have to be there."""

    def words(trials: Trials) -> Sequence[tuple[str, ...]]:
        each = zip(*(trials.words(name) for name in names), strict=True)
        return [one if all(one) else () for one in each]

    return words


def _barometer_readings(trials: Trials) -> Sequence[tuple[str, ...]]:
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


# Not by the room's temperature: each student reads it anew, so that those of one wrong reading are
# off together without sharing anything. Where two groupings hold the same trials, the fault is
# told of the first: a barometer is read once for all, and any error of it shows in every molar
# mass; most other readings must be far off to show. Common practice.
_OF_WEIGHINGS: tuple[_Grouping, ...] = (
    _Grouping("barometer-day", "pressure", _barometer_readings, "on day {0} with {1}"),
    _Grouping(
        "barometer-day", "pressure", _named("day", "barometer_name"), "on day {0}, barometer {1}"
    ),
    _Grouping("barometer-day", "pressure", _named("day"), "on day {0}"),
    _Grouping("shared-barometer", "pressure", _named("barometer_name"), "with barometer {0}"),
    _Grouping("shared-balance", "gain", _named("balance"), "on balance {0}"),
    _Grouping("shared-balance", "gain", _named("day", "balance"), "on day {0} on balance {1}"),
    _Grouping("shared-thermometer", "bath", _named("thermometer"), "with thermometer {0}"),
    _Grouping("shared-flask", "volume", _named("flask"), "in flask {0}"),
    _Grouping("shared-bench", "", _named("bench"), "at bench {0}"),
)
OF_BOILING_POINTS = _Grouping(
    "shared-thermometer", "", _named("thermometer"), "with thermometer {0}"
)
