"""What a slip is, while it is only a possibility and once it is named."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.compounds.table import CandidateTable
from identify.matching.evidence import CandidateEvidence, Matcher
from identify.matching.posterior import Posterior
from identify.matching.slips.catalog.digits import digits_of
from identify.notebook.measurement import Measurement
from identify.notebook.quantities import Quantity
from identify.notebook.serializing import Serializable, digits, serialized, significant
from identify.notebook.units import known_unit
from identify.physics.vapor import Liquid

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Told:
    """A slip in words: one sentence with the number that would have been right.

    Parameters
    ----------
    message : str
    repaired : mapping of str to str
        The reading's name, and what it would have been.
    """

    message: str
    repaired: Mapping[str, str]


@dataclass(frozen=True)
class Hypothesis:
    """One thing that may have gone wrong with the readings of one observable.

    Parameters
    ----------
    code : str
        Of the kind of slip.
    chance : float
        Before anything is compared.
    density : array, shape (s,)
        Of the readings as written, for each of the leading candidates, had this gone wrong; in the
        same unit as the observable's likelihood.
    tell : callable
        From a candidate's place among the leading ones to the slip in words.
    reading : str
        Which reading it is about, where such a slip may be in any of several.
    odds : float, default=1.0
        How much likelier the number that was meant is than the one written, as such readings go.
    """

    code: str
    chance: float
    density: Array
    tell: Callable[[int], Told]
    reading: str = ""
    odds: float = 1.0


def saying(tell: Callable[[], Told]) -> Callable[[int], Told]:
    """Return what tells the same of every candidate; put into words only when it is told."""
    return lambda place: tell()


def gamma(size: Array, scale: float) -> Array:
    """Return the density of an amount that is never near zero: gamma of shape two.

    Parameters
    ----------
    size : array
        Zero density below zero.
    scale : float
        Half of the mean.
    """
    positive = np.maximum(size, 0.0)
    return np.asarray(positive / scale**2 * np.exp(-positive / scale))


def in_si(value: float, unit: str) -> float:
    """Return a number of a unit in SI units."""
    known = known_unit(unit)
    return (value + known.zero) * known.scale


def written_text(quantity: Quantity) -> str:
    """Return a number as it was written, or as it would be."""
    # The digits of a sum of fills are its own: those of the fills are looked through by nobody.
    # Nor are those of a number with an exponent, or with spaces between its digits.
    before, behind = digits_of(quantity.text)
    if quantity.fills == 1 and before + behind and float(f"{before}.{behind}") == quantity.value:
        return quantity.text
    return f"{Decimal(f'{quantity.value:.10g}'):f}"


_DIGITS = 6  # of a slip's probabilities


def _named(compounds: Sequence[tuple[str, float]]) -> list[dict[str, Any]]:
    return [{"name": name, "probability": significant(share, _DIGITS)} for name, share in compounds]


@dataclass(frozen=True)
class Slip(Serializable):
    """A slip that the readings speak for.

    Parameters
    ----------
    code : str
    message : str
        One sentence, with the number that would have been right.
    probability : float
        That it happened, given all readings.
    repaired : mapping of str to str
        The reading's name, and what it would have been. The input itself is never changed.
    candidates : tuple of (str, float)
        The likeliest compounds if it happened, each with its probability.
    without : tuple of (str, float)
        The likeliest compounds if nothing went wrong.
    """

    code: str
    message: str
    probability: float = field(metadata=digits(_DIGITS))
    repaired: Mapping[str, str]
    candidates: tuple[tuple[str, float], ...] = field(default=(), metadata=serialized(_named))
    without: tuple[tuple[str, float], ...] = field(
        default=(), metadata=serialized(_named, "without_slip")
    )

    def points_to(self, name: str) -> bool:
        """Say whether a compound is the likeliest if this happened."""
        return bool(self.candidates) and self.candidates[0][0] == name


@dataclass(frozen=True)
class Case:
    """One unknown's readings beside the candidates that a slip could lead to.

    Parameters
    ----------
    run : Measurement
    posterior : Posterior
        Of the readings as they are.
    rows : array of int, shape (s,)
        The leading candidates' rows in the table.
    kept : dict
        What several slips need, once it is worked out.
    """

    run: Measurement
    posterior: Posterior
    rows: NDArray[np.int64]
    kept: dict[str, Array] = field(default_factory=dict, repr=False, compare=False)

    @property
    def evidence(self) -> CandidateEvidence:
        """What the readings say as they are."""
        return self.posterior.evidence

    @property
    def bench(self) -> Bench:
        """The readings in SI units."""
        return self.evidence.bench

    @property
    def matcher(self) -> Matcher:
        """That compared them."""
        return self.evidence.matcher

    @property
    def table(self) -> CandidateTable:
        """The candidates."""
        return self.posterior.table

    @cached_property
    def molar_mass(self) -> Array:
        """The leading candidates' molar masses, shape (s,) [g/mol]."""
        return self.matcher.expectation.molar_mass[self.rows]

    @cached_property
    def liquid(self) -> Liquid:
        """The leading candidates' constants."""
        everything = self.matcher.expectation.liquid
        return Liquid(
            boiling_point=everything.boiling_point[self.rows],
            vapor_curve=everything.vapor_curve[self.rows],
            virial=everything.virial[self.rows],
            density=everything.density[self.rows],
        )

    def of_leading(self, values: Array | float) -> Array:
        """Take the leading candidates' part of values for all, shape (s,)."""
        return np.broadcast_to(values, (len(self.table),))[self.rows]
