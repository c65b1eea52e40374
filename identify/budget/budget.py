"""The uncertainty of a pooled molar mass, line by line to first order.

References
----------
JCGM 100:2008, Guide to the expression of uncertainty in measurement (GUM): sections 5 and 6, annex
G.4 (effective degrees of freedom after Welch and Satterthwaite). JCGM 101:2008, its supplement on
the propagation of distributions by a Monte Carlo method.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import hypot, inf, sqrt

import numpy as np
from numpy.typing import NDArray

from identify.budget.readings import Input
from identify.budget.total import TotalUncertainty
from identify.notebook.serializing import Serializable, decimals, digits, plain, serialized
from identify.physics.arrays import Array

SCATTER = "scatter beyond the balance"
IDENTITY = "choice of the liquid"
TECHNIQUE = "technique"
BEYOND_INSTRUMENTS = (TECHNIQUE, SCATTER)

# Values so many standard uncertainties apart are not one value: two on either side.
_APART = 4.0


@dataclass(frozen=True)
class BudgetLine(Serializable):
    """One line of the budget.

    Parameters
    ----------
    input : str
    standard_uncertainty : float
        In `unit`.
    unit : str
    sensitivity : float
        What one unit changes the pooled molar mass by [g/mol per `unit`].
    contribution : float
        To the standard uncertainty of the pooled molar mass [g/mol].
    share : float
        Of its variance, 0 to 1.
    degrees : float
        Of freedom; infinite where the uncertainty is taken as known.
    origin : str
        Where the standard uncertainty comes from.
    readings : int
        How many readings of this kind add up in this line.
    remark : str
        What else the reader must know of them; mostly empty.
    """

    input: str
    standard_uncertainty: float = field(metadata=digits(5))
    unit: str
    sensitivity: float = field(metadata=digits(5))
    contribution: float = field(metadata=digits(5))
    share: float = field(metadata=decimals(6))
    degrees: float = field(metadata=serialized(plain, "degrees_of_freedom"))
    origin: str
    readings: int = 1
    remark: str = ""


@dataclass(frozen=True)
class Budget:
    """The first-order uncertainty of the mean over the trials.

    Parameters
    ----------
    lines : tuple of BudgetLine
        The largest first; the squares of what they make add up to that of the standard uncertainty.
    total : TotalUncertainty
    """

    lines: tuple[BudgetLine, ...]
    total: TotalUncertainty

    @property
    def standard_uncertainty(self) -> float:
        """In g/mol."""
        return self.total.standard_uncertainty

    @property
    def expanded_uncertainty(self) -> float:
        """Half-width of the interval that holds the true value in 95 of 100 such runs [g/mol]."""
        return self.total.expanded_uncertainty

    @property
    def coverage_factor(self) -> float:
        """Expanded over standard uncertainty; for instruments alone Student's t."""
        return self.total.coverage_factor

    @property
    def degrees(self) -> float:
        """Effective degrees of freedom; infinite with technique, whose errors are not normal."""
        return self.total.degrees

    @cached_property
    def for_one_liquid(self) -> float:
        """What the standard uncertainty is for any one of the liquids [g/mol]."""
        return hypot(*(line.contribution for line in self.lines if line.input != IDENTITY))

    def liquid_decides(self, width: float) -> bool:
        """Say whether a range over the liquids, so wide [g/mol], is what is uncertain."""
        chosen = sum(line.share for line in self.lines if line.input == IDENTITY)
        return chosen > 0.5 and width > _APART * self.for_one_liquid


def trials_entered(inputs: Sequence[Input]) -> NDArray[np.int64]:
    """Return for each input how many trials it enters, shape (p,)."""
    return np.array([one.entered for one in inputs])


def budget(
    inputs: Sequence[Input],
    pooled: Array,
    further: Iterable[BudgetLine],
    total: TotalUncertainty,
) -> Budget:
    """Return the first-order budget of the mean over the trials.

    Parameters
    ----------
    inputs : sequence of Input
        p of them.
    pooled : array, shape (p,)
        What one standard uncertainty of each changes the mean by [g/mol].
    further : iterable of BudgetLine
        What else makes it uncertain, see `of_the_molar_mass`; what makes nothing is left out.
    total : TotalUncertainty
    """
    by_name: dict[str, list[tuple[Input, float]]] = {}
    for one, change in zip(inputs, pooled.tolist(), strict=True):
        by_name.setdefault(one.name, []).append((one, change))
    lines = [_line(name, group) for name, group in by_name.items()]
    lines += [line for line in further if line.contribution > 0.0]
    variance = sum(line.contribution**2 for line in lines)
    shared = tuple(
        replace(line, share=line.contribution**2 / variance if variance else 0.0)
        for line in sorted(lines, key=lambda line: -line.contribution)
    )
    return Budget(shared, total)


def of_the_molar_mass(name: str, squared: float, origin: str, degrees: float = inf) -> BudgetLine:
    """Return a line that is not a reading, by the square of what it makes [(g/mol)^2]."""
    size = sqrt(max(squared, 0.0))
    return BudgetLine(name, size, "g/mol", 1.0, size, 0.0, degrees, origin)


def _line(name: str, changes: Sequence[tuple[Input, float]]) -> BudgetLine:
    size = hypot(*(one.standard_uncertainty for one, _ in changes)) / sqrt(len(changes))
    # Of all readings of this kind moved together; for a single reading simply its own.
    together = sum(change / (one.standard_uncertainty or 1.0) for one, change in changes)
    origin = "; ".join(dict.fromkeys(one.origin for one, _ in changes))
    return BudgetLine(
        input=name,
        standard_uncertainty=size,
        unit=changes[0][0].unit,
        sensitivity=together,
        contribution=hypot(*(change for _, change in changes)),
        share=0.0,
        degrees=inf,
        origin=origin,
        readings=len(changes),
        remark="; ".join(dict.fromkeys(one.remark for one, _ in changes if one.remark)),
    )
