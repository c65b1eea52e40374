"""A matcher for many students with the same cards: each card is compared only once."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import fields
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.matching.evidence import Matcher
from identify.observables.comparison import Array, Comparison
from identify.observables.composition import Unmentioned

_T = TypeVar("_T")
_MAX_CARDS = 48  # beside twelve thousand candidates about a megabyte each


class SectionMatcher(Matcher):
    """A matcher that remembers the comparisons of boiling points and percentages.

    Parameters
    ----------
    matcher : Matcher
        Whose answers it gives, to the last bit.
    """

    def __init__(self, matcher: Matcher) -> None:
        self.__dict__.update(vars(matcher))
        self._boiling_points: dict[Hashable, Comparison] = {}
        self._compositions: dict[Hashable, tuple[dict[int, Comparison], Unmentioned | None]] = {}

    def _boiling_point(self, bench: Bench) -> Comparison | None:
        read = (bench.boiling_point, bench.boiling_pressure)
        known = self._boiling_points.get(read)
        if known is None:
            found = super()._boiling_point(bench)
            if found is None:
                return None
            known = _with_room(self._boiling_points)[read] = _Remembered.of(found)
        return known

    def _composition(self, bench: Bench) -> tuple[dict[int, Comparison], Unmentioned | None]:
        read = tuple(bench.percent.items())
        known = self._compositions.get(read)
        if known is None:
            elements, claim = super()._composition(bench)
            kept: dict[int, Comparison] = {
                place: _Remembered.of(one) for place, one in elements.items()
            }
            known = _with_room(self._compositions)[read] = (kept, claim)
        return known


def _with_room(cards: dict[Hashable, _T]) -> dict[Hashable, _T]:
    """Return what is remembered, emptied where it is full."""
    if len(cards) >= _MAX_CARDS:
        cards.clear()
    return cards


class _Remembered(Comparison):
    """A comparison that works its arrays out once, and lets nobody write to them."""

    @classmethod
    def of(cls, found: Comparison) -> _Remembered:
        return cls(**{one.name: getattr(found, one.name) for one in fields(Comparison)})

    @cached_property
    def _arrays(self) -> tuple[Array, Array, NDArray[np.bool_]]:
        found = super().likelihood(), super().kernel(), super().agrees()
        for values in found:
            values.flags.writeable = False
        return found

    def likelihood(self) -> Array:
        """Return what the comparison gives, always the same array."""
        return self._arrays[0]

    def kernel(self) -> Array:
        """Return what the comparison gives, always the same array."""
        return self._arrays[1]

    def agrees(self) -> NDArray[np.bool_]:
        """Return what the comparison gives, always the same array."""
        return self._arrays[2]
