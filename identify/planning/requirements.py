"""How good each instrument must be for a wanted success, all others as they are."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import floor, inf, isfinite, log10, sqrt
from typing import Literal, get_args

from identify.bench.laboratory import Laboratory
from identify.compounds.table import CandidateTable
from identify.planning.classroom import Deviates, SimulatedClass
from identify.planning.precision import INSTRUMENTS, scaled
from identify.planning.result import Precision, Requirement
from identify.planning.simulation import Tick, simulated

SuccessOf = Literal["mean", "worst"]

# The search ends when the last that does and the first that does not differ by so much: a standard
# uncertainty is seldom known better. Common practice.
_CLOSE = 1.03
# A perfect instrument: a standard uncertainty a thousandth of the planned one is none.
_PERFECT = 1e-3


@dataclass(frozen=True)
class Goal:
    """What a class is to reach.

    Parameters
    ----------
    share : float
        Of the runs that name their liquid, 0 to 1.
    success_of : {"mean", "worst"}
        Of all liquids together, or of the one that fares worst.

    Raises
    ------
    ValueError
        If there is no such share, or no such success.
    """

    share: float = 0.95
    success_of: SuccessOf = "mean"

    def __post_init__(self) -> None:
        if not 0.0 < self.share <= 1.0:
            raise ValueError(f"a success of {100.0 * self.share:g} % is none from 0 to 100")
        if self.success_of not in get_args(SuccessOf):
            raise ValueError(f'"{self.success_of}" is not one of {", ".join(get_args(SuccessOf))}')


@dataclass(frozen=True)
class Planned:
    """The liquids of a plan, where and how well they are measured, and the runs to try.

    Parameters
    ----------
    table : CandidateTable
        Of these liquids alone.
    laboratory : Laboratory
    precision : Precision
    deviates : Deviates
        The same for all that is tried: what differs is then the instrument and not the luck.
    """

    table: CandidateTable
    laboratory: Laboratory
    precision: Precision
    deviates: Deviates


def requirements(planned: Planned, goal: Goal, tick: Tick | None = None) -> tuple[Requirement, ...]:
    """Find for each instrument the largest standard uncertainty that reaches the goal.

    Success falls with an instrument's uncertainty but for the noise of the simulated runs, some
    tenths of a percent; the answer is good to that, see `_CLOSE`.

    Parameters
    ----------
    planned : Planned
    goal : Goal
    tick : callable, optional
        Called after each instrument.

    Returns
    -------
    tuple of Requirement
        One a reading of `Precision`, in that order.
    """
    return tuple(_each(planned, goal, tick))


def _each(planned: Planned, goal: Goal, tick: Tick | None) -> Iterator[Requirement]:
    for name, instrument in INSTRUMENTS.items():
        now = float(getattr(planned.precision, name))
        begin = min(now, instrument.coarsest)
        needed = largest_reaching(_trial(planned, goal, name), begin, instrument.coarsest)
        at_least = needed is not None and needed >= instrument.coarsest
        shown = None if needed is None else _rounded_down(needed)
        if shown is not None and needed is not None and needed >= now:
            shown = max(shown, now)  # rounded down, it must not seem to ask for a better one
        yield Requirement(name, instrument.unit, now, shown, at_least)
        if tick is not None:
            tick()


def _trial(planned: Planned, goal: Goal, name: str) -> Callable[[float], bool]:
    """Return what says whether the goal is reached with one standard uncertainty changed."""

    def reaches(value: float) -> bool:
        precision = scaled(planned.precision, name, value)
        one = SimulatedClass(planned.table, planned.laboratory, precision)
        outcome = simulated(one, planned.deviates)
        return float(getattr(outcome, goal.success_of)) >= goal.share

    return reaches


def largest_reaching(reaches: Callable[[float], bool], now: float, coarsest: float) -> float | None:
    """Return the largest value at which something that large values spoil is still reached.

    Parameters
    ----------
    reaches : callable
        Takes a value, says whether all is well with it.
    now : float
        Where the search begins, above zero.
    coarsest : float
        Where it ends.

    Returns
    -------
    float or None
        Within 3 % below the largest; ``coarsest`` where that does; None where not even zero does.

    Examples
    --------
    >>> round(largest_reaching(lambda value: value < 2.0, now=0.5, coarsest=30.0), 1)
    2.0
    >>> print(largest_reaching(lambda value: False, now=0.5, coarsest=30.0))
    None
    >>> largest_reaching(lambda value: True, now=0.5, coarsest=30.0)
    30.0
    """
    good, bad = _PERFECT * now, inf
    if reaches(now):
        good = now
    else:
        bad = now
        if not reaches(0.0):
            return None
        if not reaches(good):
            return 0.0
    while not isfinite(bad):
        further = min(2.0 * good, coarsest)
        if not reaches(further):
            bad = further
        elif further >= coarsest:
            return coarsest
        else:
            good = further
    while bad > _CLOSE * good:
        middle = sqrt(good * bad)
        good, bad = (middle, bad) if reaches(middle) else (good, middle)
    return good


def _rounded_down(value: float) -> float:
    """Return a value with two significant digits, none of them rounded up."""
    if value <= 0.0:
        return 0.0
    unit = 10.0 ** (floor(log10(value)) - 1)
    return float(f"{floor(value / unit * (1.0 + 1e-9)) * unit:.6g}")
