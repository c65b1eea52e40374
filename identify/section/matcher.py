"""A matcher for many students with the same cards: each card is compared only once."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import fields
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.matching.evidence import Matcher
from identify.matching.expectation import room_of
from identify.observables.composition import Unmentioned
from identify.observables.error.comparison import Comparison
from identify.physics.arrays import Array, Rows

_T = TypeVar("_T")
_Composition = tuple[dict[int, Comparison], Unmentioned | None]
_MAX_CARDS = 48  # beside twelve thousand candidates about a megabyte each, a room a tenth


class SectionMatcher(Matcher):
    """A matcher that remembers the comparisons of boiling points and percentages, and the room's.

    Parameters
    ----------
    matcher : Matcher
        Whose answers it gives, to the last bit.
    """

    def __init__(self, matcher: Matcher) -> None:
        self.__dict__.update(vars(matcher))
        self._boiling_points: dict[Hashable, Comparison | None] = {}
        self._compositions: dict[Hashable, _Composition] = {}
        self._melted: dict[Hashable, Array] = {}

    def _boiling_point(self, bench: Bench) -> Comparison | None:
        def compared() -> Comparison | None:
            found = Matcher._boiling_point(self, bench)
            return None if found is None else _Remembered.of(found)

        read = (bench.boiling_point, bench.boiling_pressure, bench.boiling_point_by)
        return _remembered(self._boiling_points, read, compared)

    def melted(self, bench: Bench) -> Array:
        """Return what the matcher gives, the same array for the same room."""

        def found() -> Array:
            chance = Matcher.melted(self, bench)
            chance.flags.writeable = False
            return chance

        read = (room_of(bench), "melting_point" in bench.further)
        return _remembered(self._melted, read, found)

    def _composition(self, bench: Bench) -> _Composition:
        def compared() -> _Composition:
            elements, claim = Matcher._composition(self, bench)
            return {place: _Remembered.of(one) for place, one in elements.items()}, claim

        return _remembered(self._compositions, tuple(bench.percent.items()), compared)


def _remembered(cards: dict[Hashable, _T], read: Hashable, compared: Callable[[], _T]) -> _T:
    """Return what a card gave before, else compare it; a full memory is emptied first."""
    if read not in cards:
        found = compared()
        if len(cards) >= _MAX_CARDS:
            cards.clear()
        cards[read] = found
    return cards[read]


class _Remembered(Comparison):
    """A comparison that works its arrays out once, and lets nobody write to them."""

    _found: Comparison

    @classmethod
    def of(cls, found: Comparison) -> _Remembered:
        one = cls(**{one.name: getattr(found, one.name) for one in fields(Comparison)})
        object.__setattr__(one, "_found", found)
        return one

    @cached_property
    def _arrays(self) -> tuple[Array, Array, NDArray[np.bool_]]:
        found = self._found.likelihood(), self._found.kernel(), self._found.agrees()
        for values in found:
            values.flags.writeable = False
        return found

    def core(self) -> Array:
        """Return what the comparison gives."""
        return self._found.core()

    def parts(self, rows: Rows) -> Mapping[str, Array]:
        """Return what the comparison gives."""
        return self._found.parts(rows)

    def peak(self) -> Array | float:
        """Return what the comparison gives."""
        return self._found.peak()

    def in_standard_deviations(self, row: int) -> float:
        """Return what the comparison gives."""
        return self._found.in_standard_deviations(row)

    def likelihood(self) -> Array:
        """Return what the comparison gives, always the same array."""
        return self._arrays[0]

    def kernel(self) -> Array:
        """Return what the comparison gives, always the same array."""
        return self._arrays[1]

    def agrees(self) -> NDArray[np.bool_]:
        """Return what the comparison gives, always the same array."""
        return self._arrays[2]
