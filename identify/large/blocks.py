"""Formulas in blocks of similar ones, so that most formulas need no look.

A block is a box in molar mass and composition. Every density that a formula's readings have falls
with the distance of the formula from the reading, so that the point of the box that is nearest to
the readings has the highest of each: none of the block's formulas comes to more.
"""

from __future__ import annotations

from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.compounds.table import CandidateTable
from identify.matching.evidence import CandidateEvidence, Matcher
from identify.matching.settings import MatchSettings
from identify.matching.slips.mechanism.groups import ReadingGroup
from identify.notebook.usual import tolerance_u
from identify.observables.composition import Unmentioned
from identify.observables.error.comparison import Comparison
from identify.physics.arrays import Array
from identify.physics.constants import ELEMENTS

Places = NDArray[np.int64]

_MAX_BLOCK_SIZE = 8  # formulas, at most
_MAX_BRANCHES = 4


class FormulaMatcher(Matcher):
    """Compares formulas, which have no boiling point."""

    def __init__(self, table: CandidateTable, settings: MatchSettings) -> None:
        super().__init__(
            table,
            settings.tolerances,
            "uniform",
            is_part=True,
            order=np.arange(len(table)),
            technique=settings.technique,
        )

    def liquid(self, bench: Bench) -> Array:
        """Return what a formula says of staying a liquid: nothing, shape (f,)."""
        return np.ones(self.size)

    def melted(self, bench: Bench) -> Array:
        """Return what a formula says of being melted: nothing, shape (f,)."""
        return np.ones(self.size)

    def some(self, places: Places, bench: Bench) -> CandidateEvidence:
        """Compare some of the formulas with one unknown's readings."""
        known = self.expectation
        if len(places) == self.size:
            return self.evidence(bench)
        listed = {row: known.percent[row][places] for row in bench.percent}
        some = self._standing_for(known.molar_mass[places], listed)
        some.isomers_possible = self.isomers_possible[places]
        return some.evidence(bench)

    def _standing_for(self, molar_mass: Array, listed: Mapping[int, Array]) -> FormulaMatcher:
        """Return a matcher of formulas of which the percentages that were read are known."""
        other = copy(self)
        other.prior = other.isomers_possible = np.ones(len(molar_mass))
        percent = np.empty((len(ELEMENTS), len(molar_mass)))
        for row, values in listed.items():
            percent[row] = values
        other.expectation = replace(self.expectation, molar_mass=molar_mass, percent=percent)
        return other


class BestCase(FormulaMatcher):
    """Compares blocks of formulas, each as its best formula could be at best.

    Parameters
    ----------
    table : CandidateTable
        The formulas.
    settings : MatchSettings
    """

    def __init__(self, table: CandidateTable, settings: MatchSettings) -> None:
        super().__init__(table, settings)
        known, tolerances = self.expectation, settings.tolerances
        # By what readings tell apart: in their usual standard uncertainties.
        scaled = np.vstack(
            [
                np.log(known.molar_mass) / (0.01 * tolerance_u(tolerances.molar_mass)),
                known.percent / tolerance_u(tolerances.percent),
            ]
        )
        parts = _parted(scaled, np.arange(len(table)))
        self.formulas: Places = np.concatenate(parts)
        """Places of the formulas, block by block, shape (f,)."""
        self.count = np.array([len(part) for part in parts])
        """Formulas of each block, shape (b,)."""
        self.starts = np.cumsum(self.count) - self.count
        values = np.vstack([known.molar_mass, known.percent])[:, self.formulas]
        self._low = np.minimum.reduceat(values, self.starts, axis=1)
        self._high = np.maximum.reduceat(values, self.starts, axis=1)

    def best_case(self, bench: Bench) -> tuple[CandidateEvidence, Array]:
        """Compare the best that each block's formulas could be.

        Parameters
        ----------
        bench : Bench
            With no boiling point.

        Returns
        -------
        CandidateEvidence
            Likelihoods and kernels are those of the point of each block's box that is nearest to
            the readings.
        array, shape (b,)
            What densities of those still have to be multiplied by to be the highest in the block.

        Notes
        -----
        A percentage's densities have the same width everywhere: the nearest is the highest. So
        it is with a molar mass: with the exponent of its normal densities, (reading - M)² /
        (a M² + b), with the density of rough technique, a Laplace one in ln(reading / M), and that
        of a gross error. The widths below are proportional to M or less: from the nearest to the
        lightest formula, 1 / width grows by the ratio of their molar masses at most. It grows once,
        for an observable's density is a sum of such terms.
        """
        low, high = self._low, self._high
        listed = {
            row: np.clip(stated.value, low[1 + row], high[1 + row])
            for row, stated in bench.percent.items()
        }
        if bench.molar_mass is None:
            return self._standing_for(low[0], listed).evidence(bench), np.ones(len(low[0]))
        nearest = np.clip(bench.molar_mass.value, low[0], high[0])
        return self._standing_for(nearest, listed).evidence(bench), nearest / low[0]

    def _composition(self, bench: Bench) -> tuple[dict[int, Comparison], Unmentioned | None]:
        # What a card leaves out can only lower a likelihood.
        return super()._composition(bench)[0], None

    def of_blocks(self, blocks: Places) -> Places:
        """Return the places of some blocks' formulas, in the order of the table."""
        count = self.count[blocks]
        offset = self.starts[blocks] - (np.cumsum(count) - count)
        return np.sort(self.formulas[np.repeat(offset, count) + np.arange(int(count.sum()))])


@dataclass(frozen=True)
class ComparedFormulas:
    """Formulas that can matter, compared with one unknown's readings.

    Parameters
    ----------
    blocks : array of int
        They are all the formulas of these.
    formulas : array of int, shape (n,)
        Their places.
    evidence : CandidateEvidence
        The same ones in the same order.
    """

    blocks: Places
    formulas: Places
    evidence: CandidateEvidence

    def weight(self, group: ReadingGroup) -> Array:
        """Return each one's factor, with a group of readings explained by a slip, shape (n,)."""
        return group.weight(self.evidence, np.ones(len(self.formulas)))


def _parted(scaled: Array, places: Places) -> list[Places]:
    """Part formulas into small blocks: across what differs most, each part across what is left."""
    size = len(places)
    if size <= _MAX_BLOCK_SIZE:
        return [places]
    values = scaled[:, places]
    widest = int(np.argmax(np.ptp(values, axis=1)))
    parts = min(_MAX_BRANCHES, -(-size // _MAX_BLOCK_SIZE))
    edges = [size * part // parts for part in range(1, parts)]
    places = places[np.argpartition(values[widest], edges)]
    return [block for part in np.split(places, edges) for block in _parted(scaled, part)]
