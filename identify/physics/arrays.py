"""Arrays by what they hold, and those that are worked out once."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import wraps
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

_T = TypeVar("_T")

Array = NDArray[np.float64]
"""Numbers: of candidates, trials or temperatures, NaN where one is not known."""
Rows = NDArray[np.int64]
"""Numbers of rows in a table of candidates, from zero."""


def in_quadrature(one: Array | float, other: Array | float) -> Array:
    """Return the root of the sum of two squares, as uncertainties add up.

    A square root takes a tenth of the time of `numpy.hypot`, which guards against numbers whose
    squares are too large.

    Examples
    --------
    >>> in_quadrature(np.array([3.0, 5.0]), np.array([4.0, 12.0]))
    array([ 5., 13.])
    """
    return np.asarray(np.sqrt(np.square(one) + np.square(other)))


def once(method: Callable[[Any], _T]) -> Callable[[Any], _T]:
    """Let a method of what never changes work out its array once, which nobody may write to."""
    name = f"_once {method.__qualname__}"

    @wraps(method)
    def known(self: Any) -> _T:
        found: _T | None = self.__dict__.get(name)
        if found is None:
            found = self.__dict__[name] = method(self)
            if isinstance(found, np.ndarray):
                found.flags.writeable = False
        return found

    return known


class Recent:
    """Some results of a work, by what each follows from; all are forgotten when they are many.

    Parameters
    ----------
    most : int
        How many are remembered.

    Examples
    --------
    >>> squares = Recent(2)
    >>> [squares.of(number, lambda: print("worked out") or 49) for number in (7, 7)]
    worked out
    [49, 49]
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._known: dict[Hashable, Any] = {}

    def of(self, key: Hashable, work: Callable[[], _T]) -> _T:
        """Return what is known under a key, else work it out."""
        known: _T | None = self._known.get(key)
        if known is None:
            known = work()
            if len(self._known) >= self._most:
                self._known.clear()
            self._known[key] = known
        return known
