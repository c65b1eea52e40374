"""Which liquids a simulated class names, and how certain the counted shares are."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from identify.compounds.table import CandidateTable
from identify.matching.evidence import Matcher
from identify.matching.posterior import Posterior
from identify.physics.arrays import Array
from identify.planning.classroom import ClassReadings, Deviates, SimulatedClass
from identify.planning.result import PlanError

_CONFIDENCE = 0.95


@dataclass(frozen=True)
class Outcome:
    """What a class named.

    Parameters
    ----------
    confusion : array of int, shape (n, n)
        Row: the liquid in the bottle; column: the one named first; runs. Where the whole table is
        asked, a row lacks the runs that name a liquid outside of the plan.
    runs : int
        Of each liquid.
    """

    confusion: NDArray[np.int64]
    runs: int

    @property
    def success(self) -> Array:
        """Share of each liquid's runs that name it, shape (n,)."""
        return np.asarray(np.diagonal(self.confusion) / self.runs)

    @property
    def mean(self) -> float:
        """Of the success over the liquids."""
        return float(self.success.mean())

    @property
    def worst(self) -> float:
        """The success of the liquid that fares worst."""
        return float(self.success.min())

    @property
    def shares(self) -> Array:
        """The confusion as shares of the runs."""
        return np.asarray(self.confusion / self.runs)


Tick = Callable[[], None]


def simulated(
    one: SimulatedClass,
    deviates: Deviates,
    tick: Tick | None = None,
    first: FirstClass | None = None,
) -> Outcome:
    """Let a class name each of its liquids among its own, once in each run.

    Parameters
    ----------
    one : SimulatedClass
    deviates : Deviates
        Of its liquids.
    tick : callable, optional
        Called after each liquid.
    first : FirstClass, optional
        Of the same liquids and deviates: what it reads alike is not compared again.
    """

    def named(place: int) -> ArrayLike:
        parts = {} if first is None else first.parts_alike(one, place)
        return one.named(one.readings(place, deviates, parts))

    return _outcome(one, named, deviates, tick)


@dataclass(frozen=True)
class FirstClass:
    """A class whose readings were compared, for others that differ in one instrument.

    Parameters
    ----------
    one : SimulatedClass
    readings : tuple of ClassReadings
        Of each of its liquids.
    """

    one: SimulatedClass
    readings: tuple[ClassReadings, ...]

    @classmethod
    def of(cls, one: SimulatedClass, deviates: Deviates) -> FirstClass:
        """Let a class read each liquid, and compare what it read."""
        readings = tuple(one.readings(place, deviates) for place in range(len(one.table)))
        for read in readings:
            one.weights(read)
        return cls(one, readings)

    def parts_alike(self, other: SimulatedClass, place: int) -> dict[str, Any]:
        """Return what another class finds alike of one liquid, see `SimulatedClass`."""
        return other.parts_alike(self.one, self.readings[place])


def simulated_against(
    one: SimulatedClass, whole: CandidateTable, deviates: Deviates, tick: Tick | None = None
) -> Outcome:
    """Let a class name each of its liquids among all of another table, once in each run.

    Parameters
    ----------
    one : SimulatedClass
    whole : CandidateTable
        Holds the liquids too.
    deviates, tick
        As for `simulated`.

    Raises
    ------
    PlanError
        If it lacks one of the liquids.
    """
    known = {inchikey: row for row, inchikey in enumerate(whole.text("inchikey"))}
    rows = [known.get(inchikey, -1) for inchikey in one.table.text("inchikey")]
    if -1 in rows:
        name = one.table.text("name")[rows.index(-1)]
        raise PlanError(
            f"{name} is not in the built-in table, so that nobody could name it there; leave out "
            "--against table, or that liquid"
        )
    place_of = {row: place for place, row in enumerate(rows)}
    matcher = Matcher(whole, one.matcher.tolerances)

    def named(place: int) -> list[int]:
        firsts = (
            int(np.argmax(Posterior.of(matcher.evidence(bench)).probability))
            for bench in one.benches(one.readings(place, deviates))
        )
        return [place_of[row] for row in firsts if row in place_of]

    return _outcome(one, named, deviates, tick)


def _outcome(
    one: SimulatedClass,
    named: Callable[[int], ArrayLike],
    deviates: Deviates,
    tick: Tick | None,
) -> Outcome:
    """Count what each liquid is named; runs that name a liquid outside of the plan are left out."""
    size = len(one.table)
    confusion = np.zeros((size, size), dtype=np.int64)
    for place in range(size):
        places = np.asarray(named(place), dtype=np.int64)
        confusion[place] = np.bincount(places, minlength=size)
        if tick is not None:
            tick()
    return Outcome(confusion, deviates.instruments.shape[1])


def wilson_interval(
    successes: int, runs: int, confidence: float = _CONFIDENCE
) -> tuple[float, float]:
    """Return the confidence interval of a counted share.

    Parameters
    ----------
    successes, runs : int
    confidence : float, default=0.95

    References
    ----------
    Wilson, E. B. J. Am. Stat. Assoc. 1927, 22, 209.

    Examples
    --------
    >>> [round(end, 3) for end in wilson_interval(8, 10)]
    [0.49, 0.943]
    """
    z = NormalDist().inv_cdf(0.5 + 0.5 * confidence)
    share, squared = successes / runs, z * z / runs
    center = (share + 0.5 * squared) / (1.0 + squared)
    half = z * sqrt(share * (1.0 - share) / runs + 0.25 * squared / runs) / (1.0 + squared)
    # Rounding must not exclude 0 or 1 where none or all succeeded.
    low = 0.0 if successes == 0 else center - half
    return low, 1.0 if successes == runs else center + half
