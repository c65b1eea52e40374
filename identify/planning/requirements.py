"""How good each instrument must be for a wanted success, with all others unchanged."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from math import floor, inf, isfinite, log10, sqrt
from typing import Literal, get_args

from identify.notebook.errors import UnusableInput
from identify.planning.classroom import Deviates, SimulatedClass
from identify.planning.precision import INSTRUMENTS
from identify.planning.result import Requirement
from identify.planning.simulation import FirstClass, Outcome, Tick, simulated

_SuccessOf = Literal["mean", "worst"]

# The search ends when the last value that does and the first that does not are this near: a
# standard uncertainty is seldom known better. Common practice.
_MAX_STEP_RATIO = 1.03
# A perfect instrument: a thousandth of the planned standard uncertainty is as good as none.
_PERFECT_SHARE = 1e-3
# Beside more, what their readings are compared with is not kept: 500 runs of these take 0.2 GB.
_MAX_KEPT_LIQUIDS = 60


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
        If the share is not in that range, or the success is neither.
    """

    share: float = 0.95
    success_of: _SuccessOf = "mean"

    def __post_init__(self) -> None:
        if not 0.0 < self.share <= 1.0:
            raise UnusableInput(f"a success of {100.0 * self.share:g} % is none from 0 to 100")
        if self.success_of not in get_args(_SuccessOf):
            raise UnusableInput(
                f'"{self.success_of}" is not one of {", ".join(get_args(_SuccessOf))}'
            )

    def success(self, outcome: Outcome) -> float:
        """Return the success of a class that the goal is about, 0 to 1."""
        return float(getattr(outcome, self.success_of))

    def is_reached(self, outcome: Outcome) -> bool:
        """Say whether a class reaches the goal."""
        return self.success(outcome) >= self.share


def requirements(
    one: SimulatedClass, deviates: Deviates, goal: Goal, tick: Tick | None = None
) -> tuple[Requirement, ...]:
    """Find for each instrument the largest standard uncertainty that reaches the goal.

    Success falls with an instrument's uncertainty, apart from the noise of the simulated runs, some
    tenths of a percent; the answer is as good as that, see `_MAX_STEP_RATIO`.

    Parameters
    ----------
    one : SimulatedClass
        With the liquids of the plan.
    deviates : Deviates
        The same for all that is tried: what differs is then the instrument and not the luck.
    goal : Goal
    tick : callable, optional
        Called after each instrument.

    Returns
    -------
    tuple of Requirement
        One a reading of `Precision`, in that order.
    """
    return tuple(_each(one, deviates, goal, tick))


def _each(
    one: SimulatedClass, deviates: Deviates, goal: Goal, tick: Tick | None
) -> Iterator[Requirement]:
    is_kept = len(one.table) <= _MAX_KEPT_LIQUIDS
    first = FirstClass.of(one, deviates) if is_kept else None
    for name, instrument in INSTRUMENTS.items():
        now = float(getattr(one.precision, name))

        def reaches(value: float, name: str = name) -> bool:
            precision = replace(one.precision, **{name: value})
            tried = simulated(one.with_precision(precision), deviates, first=first)
            return goal.is_reached(tried)

        begin = min(now, instrument.coarsest)
        needed = largest_reaching(reaches, begin, instrument.coarsest)
        is_open = needed is not None and needed >= instrument.coarsest
        shown = None if needed is None else _rounded_down(needed)
        if shown is not None and needed is not None and needed >= now:
            shown = max(shown, now)  # rounded down, it must not seem to ask for a better one
        yield Requirement(name, instrument.unit, now, shown, is_open)
        if tick is not None:
            tick()


def largest_reaching(reaches: Callable[[float], bool], now: float, coarsest: float) -> float | None:
    """Return the largest value at which something still holds that large values spoil.

    Parameters
    ----------
    reaches : callable
        Takes a value, returns whether it holds there.
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
    good, bad = _PERFECT_SHARE * now, inf
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
    while bad > _MAX_STEP_RATIO * good:
        middle = sqrt(good * bad)
        good, bad = (middle, bad) if reaches(middle) else (good, middle)
    return good


def _rounded_down(value: float) -> float:
    """Round a value down to two significant digits."""
    if value <= 0.0:
        return 0.0
    unit = 10.0 ** (floor(log10(value)) - 1)
    return float(f"{floor(value / unit * (1.0 + 1e-9)) * unit:.6g}")
