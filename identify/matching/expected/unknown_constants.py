"""Candidates of which boiling point or composition are not known: neither gain nor loss.

A program's own candidates may be no more than formulas, or molar masses. What of such a candidate
is not known is neither for it nor against it: the average over those of which it is known, weighed
by their chances before the readings, stands in for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from identify.observables.composition import Unmentioned
from identify.observables.error.comparison import Comparison
from identify.physics.arrays import Array, Rows, once


@dataclass(frozen=True)
class ConstantsKnown:
    """Of which of n candidates boiling point and composition are known.

    Parameters
    ----------
    boiling_point, composition : array of bool, shape (n,)
    weight : array, shape (n,)
        Chance of each before the readings.
    """

    boiling_point: NDArray[np.bool_]
    composition: NDArray[np.bool_]
    weight: Array

    def average(self, values: Array, known: NDArray[np.bool_]) -> float:
        """Return the average over those known; one where nothing is known of any."""
        weight = self.weight * known
        total = float(weight.sum())
        return float(weight @ np.where(known, values, 0.0)) / total if total > 0.0 else 1.0

    def filled(self, chances: Array) -> Array:
        """Return chances of boiling, the average where the boiling point is not known, (n,)."""
        known = self.boiling_point
        return np.where(known, chances, self.average(chances, known))

    def base(self, base: Array) -> Array:
        """Return chances before the readings, those of what boils filled likewise, shape (n,)."""
        suits = np.ones_like(self.weight)
        np.divide(base, self.weight, out=suits, where=self.weight > 0.0)
        return np.asarray(self.weight * self.filled(suits))

    def boiling(self, compared: Comparison | None) -> StandIn | None:
        """Return the comparison of a boiling point with what stands in."""
        if compared is None:
            return None
        known = self.boiling_point
        density, kernel = compared.likelihood(), compared.kernel()
        # Slips take the gross part of a likelihood away: of an average, its own.
        gross = np.broadcast_to(compared.gross_density, known.shape)
        compared = replace(
            compared, gross_density=np.where(known, gross, self.average(gross, known))
        )
        return StandIn.of(
            compared, known, self.average(density, known), self.average(kernel, known)
        )

    def elements(
        self, elements: Mapping[int, Comparison], claim: Unmentioned | None
    ) -> Iterator[tuple[int, StandIn]]:
        """Yield the elements' comparisons; the first has the average of the whole composition.

        The percentages of a compound go together: the product of their averages would be far less.
        """
        known, compared = self.composition, list(elements.values())
        densities = [one.likelihood() for one in compared]
        densities += [] if claim is None else [claim.likelihood()]
        density = self.average(np.prod(densities, axis=0), known)
        kernel = self.average(np.prod([one.kernel() for one in compared], axis=0), known)
        for place, one in elements.items():
            yield place, StandIn.of(one, known, density, kernel)
            density = kernel = 1.0

    def claim(self, claim: Unmentioned | None) -> Unmentioned | None:
        """Return what a complete card leaves out, nothing where the composition is not known."""
        if claim is None:
            return None
        return replace(claim, excess=np.where(self.composition, claim.excess, 0.0))


@dataclass(frozen=True)
class StandIn(Comparison):
    """A comparison whose average stands in for the candidates of which nothing is known.

    Parameters
    ----------
    known : array of bool, shape (n,)
        The deviation of the others is NaN.
    compared : Comparison
        Of all, the others with what is usual for their molar mass.
    density, average_kernel : float
        What stands in for likelihood and kernel.
    """

    known: NDArray[np.bool_]
    compared: Comparison
    density: float
    average_kernel: float

    @classmethod
    def of(
        cls, compared: Comparison, known: NDArray[np.bool_], density: float, kernel: float
    ) -> StandIn:
        """Return a comparison in which averages stand in."""
        own = {one.name: getattr(compared, one.name) for one in fields(Comparison)}
        own["deviation"] = np.where(known, compared.deviation, np.nan)
        return cls(**own, known=known, compared=compared, density=density, average_kernel=kernel)

    @once
    def likelihood(self) -> Array:
        """Return the density of the reading, the average where nothing is known, shape (n,)."""
        return np.where(self.known, self.compared.likelihood(), self.density)

    def core(self) -> Array:
        """Return that of a reading that is not gross, shape (n,)."""
        return np.where(self.known, self.compared.core(), self.density)

    @once
    def kernel(self) -> Array:
        """Return the density around each candidate's place, shape (n,)."""
        return np.where(self.known, self.compared.kernel(), self.average_kernel)

    def parts(self, rows: Rows) -> Mapping[str, Array]:
        """Return what of some candidates' likelihood stands for a known slip, by its code."""
        known = self.known[rows]
        return {code: one * known for code, one in self.compared.parts(rows).items()}

    def peak(self) -> Array | float:
        """Return the highest density that a sound reading has of each candidate."""
        return self.compared.peak()

    def in_standard_deviations(self, row: int) -> float:
        """Return a deviation as that of a normal error that is as far out."""
        return self.compared.in_standard_deviations(row)

    @once
    def agrees(self) -> NDArray[np.bool_]:
        """Return whether the reading is within tolerance or not known to be out, shape (n,)."""
        return np.asarray(self.compared.agrees() | ~self.known)
