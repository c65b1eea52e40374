"""When Python looks for garbage."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

_MANY = 200_000  # objects made, and not yet freed, between two looks


@contextmanager
def seldom_collected() -> Iterator[None]:
    """Let Python look seldom for garbage in the loop over many unknowns that this surrounds.

    Results are kept, and refer to one another in no circle: to look through them again and again,
    as they become more, takes a twelfth of the time and finds nothing.
    """
    usual = gc.get_threshold()
    gc.set_threshold(max(usual[0], _MANY) if usual[0] else 0, *usual[1:])
    try:
        yield
    finally:
        gc.set_threshold(*usual)
