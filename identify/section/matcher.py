"""The match of many students with the same cards: what a card says is compared once."""

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
_KEPT = 48  # compared cards; beside twelve thousand candidates about a megabyte each


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
            known = _room_for(self._boiling_points)[read] = _Kept.of(found)
        return known

    def _composition(self, bench: Bench) -> tuple[dict[int, Comparison], Unmentioned | None]:
        read = tuple(bench.percent.items())
        known = self._compositions.get(read)
        if known is None:
            elements, claim = super()._composition(bench)
            kept: dict[int, Comparison] = {row: _Kept.of(one) for row, one in elements.items()}
            known = _room_for(self._compositions)[read] = (kept, claim)
        return known


def _room_for(kept: dict[Hashable, _T]) -> dict[Hashable, _T]:
    if len(kept) >= _KEPT:
        kept.clear()
    return kept


class _Kept(Comparison):
    """A comparison that works its densities out once; they cannot be written to."""

    @classmethod
    def of(cls, found: Comparison) -> _Kept:
        return cls(**{one.name: getattr(found, one.name) for one in fields(Comparison)})

    @cached_property
    def _likelihood(self) -> Array:
        return _sealed(super().likelihood())

    @cached_property
    def _kernel(self) -> Array:
        return _sealed(super().kernel())

    @cached_property
    def _agrees(self) -> NDArray[np.bool_]:
        agrees = super().agrees()
        agrees.flags.writeable = False
        return agrees

    def likelihood(self) -> Array:
        """Return what the comparison gives, always the same array."""
        return self._likelihood

    def kernel(self) -> Array:
        """Return what the comparison gives, always the same array."""
        return self._kernel

    def agrees(self) -> NDArray[np.bool_]:
        """Return what the comparison gives, always the same array."""
        return self._agrees


def _sealed(values: Array) -> Array:
    values.flags.writeable = False
    return values
