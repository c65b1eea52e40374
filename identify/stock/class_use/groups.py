"""Bottles that a class cannot tell apart, and the measurement that would."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.compounds.table import CandidateTable
from identify.matching.advise.separation import APART, Separations, connected
from identify.matching.advise.tube_tests import TUBE_TESTS
from identify.notebook.usual import tolerance_u
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.observables.liquid_constant import LiquidConstants
from identify.observables.tolerances import Tolerances
from identify.physics.arrays import Array
from identify.stock.class_use.shelf import Shelf
from identify.stock.result import BottleGroup, StockRow

_MAX_LIQUIDS_IN_SENTENCE = 4

_Pairs = tuple[NDArray[np.int64], NDArray[np.int64]]


def groups_of(shelf: Shelf, tolerances: Tolerances) -> tuple[BottleGroup, ...]:
    """Return the groups of bottles that cannot be told apart.

    Two bottles of the same compound count as one liquid. Liquids are told apart where at most one
    reading in twenty takes one for the other, see `identify.matching.advise.separation`.

    Parameters
    ----------
    shelf : Shelf
    tolerances : Tolerances
        Of the class.

    Returns
    -------
    tuple of BottleGroup
        Those that are hardest to tell apart first.
    """
    table = shelf.table
    if table is None or len(table) < 2:
        return ()
    separations = Separations(table, tolerances)
    further = _FurtherMeasurements(table, tolerances)
    groups = [
        _group(members, shelf, separations, further) for members in connected(separations.distances)
    ]
    return tuple(sorted(groups, key=lambda group: group.nearest))


def _group(
    members: NDArray[np.int64],
    shelf: Shelf,
    separations: Separations,
    further: _FurtherMeasurements,
) -> BottleGroup:
    near = np.triu(separations.distances[np.ix_(members, members)] < APART, 1)
    one, other = (members[places] for places in np.nonzero(near))
    distances = separations.distances[one, other]
    closest = int(np.argmin(distances))
    bottles = sorted(
        (row for place in members for row in shelf.bottles[place]), key=lambda row: row.row
    )
    return BottleGroup(
        labels=tuple(row.title for row in bottles),
        rows=tuple(row.row for row in bottles),
        nearest=float(distances[closest]),
        confusion=separations.confusion(int(one[closest]), int(other[closest])),
        separated_by=separations.narrowed(list(zip(one.tolist(), other.tolist(), strict=True))),
        other_reading=further.sentence((one, other), distances, shelf),
    )


@dataclass(frozen=True)
class _FurtherMeasurement:
    """A further measurement, and how well it tells the near pairs of a group apart.

    Parameters
    ----------
    what : str
    told : tuple of str, length k
        What each liquid of the shelf would show, in words.
    separation : array, shape (pairs,)
        Of each pair [standard uncertainties], all readings taken together.
    """

    what: str
    told: tuple[str, ...]
    separation: Array

    @property
    def separated(self) -> int:
        """How many of the pairs it tells apart."""
        return int((self.separation >= APART).sum())


class _FurtherMeasurements:
    """What else could be measured: constants of the liquids, and tests in a test tube."""

    def __init__(self, table: CandidateTable, tolerances: Tolerances) -> None:
        self._constants = LiquidConstants(table)
        self._tolerances = tolerances
        self._groups = table.text("groups")

    def sentence(self, pairs: _Pairs, distances: Array, shelf: Shelf) -> str:
        """Return the further measurement that tells most pairs apart, with its numbers.

        Empty where none tells any pair apart.
        """
        # A scale before a tube, and of the scales the one that tells the nearest pair best.
        readings = sorted(
            self._readings(pairs, distances), key=lambda offer: -float(offer.separation.min())
        )
        offers = [*readings, *self._tests(pairs)]
        best = max(offers, key=lambda offer: offer.separated)
        if not best.separated:
            return ""
        is_apart = best.separation >= APART
        places = np.unique(np.concatenate([part[is_apart] for part in pairs])).tolist()
        expected = [_expected(best, place, shelf) for place in places[:_MAX_LIQUIDS_IN_SENTENCE]]
        if left_out := len(places) - len(expected):
            expected.append(f"and {left_out} more")
        sentence = f"{best.what}: {'; '.join(expected)}"
        if best.separated == len(distances):
            return sentence
        return f"{sentence} (tells {best.separated} of {len(distances)} pairs apart)"

    def _readings(self, pairs: _Pairs, distances: Array) -> Iterator[_FurtherMeasurement]:
        one, other = pairs
        for name, constant in LIQUID_CONSTANTS.items():
            value, prediction_u = self._constants.predicted(constant)
            value = np.maximum(value, constant.coldest)
            reading_u = constant.scale * tolerance_u(getattr(self._tolerances, name))
            # The less certain of the two predictions stands for both.
            sigma = np.hypot(reading_u, np.fmax(prediction_u[one], prediction_u[other]))
            apart = np.hypot(distances, (value[one] - value[other]) / sigma)
            what = f"{constant.what} at 20 °C" if constant.has_temperature else constant.what
            told = tuple(constant.foretold(number) for number in value)
            yield _FurtherMeasurement(what, told, np.where(np.isfinite(apart), apart, 0.0))

    def _tests(self, pairs: _Pairs) -> Iterator[_FurtherMeasurement]:
        one, other = pairs
        for test, (outcome, told) in zip(TUBE_TESTS, self._outcomes, strict=True):
            # Of three outcomes the middle one is a matter of patience: only the ends are sure.
            steps = np.abs(outcome[one] - outcome[other])
            apart = np.where(steps >= len(test.outcomes) - 1, np.inf, 0.0)
            yield _FurtherMeasurement(test.what, told, apart)

    @cached_property
    def _outcomes(self) -> list[tuple[Array, tuple[str, ...]]]:
        """Each test's outcome for each liquid, as a number (NaN where not known) and in words."""
        outcomes = []
        for test in TUBE_TESTS:
            expected = [test.expected(held) if held else None for held in self._groups]
            seen = tuple(test.seen(held) for held in self._groups)
            # As numbers, None becomes NaN.
            outcomes.append((np.array(expected, dtype=float), seen))
        return outcomes


def _expected(offer: _FurtherMeasurement, place: int, shelf: Shelf) -> str:
    bottles: Sequence[StockRow] = shelf.bottles[place]
    compound = bottles[0].compound
    assert compound is not None
    labels = ", ".join(row.title for row in bottles)
    return f"{offer.told[place]} for {compound.name} ({labels})"
