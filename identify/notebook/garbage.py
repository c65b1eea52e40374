"""When Python looks for garbage: seldom, where much is made and kept.

What is kept here refers to one another in no circle, so that a search of all of it finds nothing,
and takes the longer the more there is.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial

_MANY = 200_000  # objects made, and not yet freed, between two looks; usually 700


@contextmanager
def seldom_collected() -> Iterator[None]:
    """Let Python look seldom for garbage while many unknowns are matched: 6 % of the time.

    Examples
    --------
    >>> usual = gc.get_threshold()
    >>> with seldom_collected():
    ...     print(gc.get_threshold()[0])
    200000
    >>> gc.get_threshold() == usual
    True
    """
    usual = gc.get_threshold()
    gc.set_threshold(usual[0] and max(usual[0], _MANY), *usual[1:])
    try:
        yield
    finally:
        gc.set_threshold(*usual)


@contextmanager
def collected_by_hand() -> Iterator[Callable[[], object]]:
    """Give a function that looks for garbage, to be called after each piece of work.

    Left to itself, Python searches a build's tables again and again, which takes a tenth of the
    time; what a piece of work leaves behind is among the new objects.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield partial(gc.collect, 1)
    finally:
        if was_on:
            gc.enable()
