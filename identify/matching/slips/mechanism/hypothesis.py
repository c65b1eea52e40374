"""What a slip is, while it is only a possibility and once it is named."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from identify.matching.slips.mechanism.digits import Misread
from identify.notebook.serializing import Serializable, digits, serialized, significant
from identify.physics.arrays import Array


@dataclass(frozen=True)
class SlipInWords:
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
    is_part : bool
        Whether the reading's own likelihood holds it: ``density`` is that part, chance included.
    besides : callable, optional
        Returns what else may have gone wrong with the same reading, each with its part of the
        density; asked only where this is likely enough.
    """

    code: str
    chance: float
    density: Array
    tell: Callable[[int], SlipInWords]
    reading: str = ""
    odds: float = 1.0
    is_part: bool = False
    besides: Callable[[], Sequence[Hypothesis]] | None = None


@dataclass(frozen=True)
class Hypotheses:
    """Several things that may have gone wrong, m of them side by side; see `Hypothesis`.

    Parameters
    ----------
    kinds : sequence of (str, str)
        Code of the slip and the reading that it is about, m of them.
    chances, odds : array, shape (m,)
    densities : array, shape (m, s)
    tell : callable
        From which of them, and a candidate's place, to the slip in words.
    is_part : bool
    besides : callable, optional
    """

    kinds: Sequence[tuple[str, str]]
    chances: Array
    odds: Array
    densities: Array
    tell: Callable[[int, int], SlipInWords]
    is_part: bool = False
    besides: Callable[[], Sequence[Hypothesis]] | None = None

    @classmethod
    def of(cls, one: Hypothesis) -> Hypotheses:
        """Return a single one as such."""
        return cls(
            kinds=[(one.code, one.reading)],
            chances=np.array([one.chance]),
            odds=np.array([one.odds]),
            densities=one.density[np.newaxis],
            tell=lambda which, place: one.tell(place),
            is_part=one.is_part,
            besides=one.besides,
        )

    @classmethod
    def of_digits(
        cls,
        found: Misread,
        densities: Array,
        tell: Callable[[int, int], SlipInWords],
        reading: str = "",
        share: float = 1.0,
    ) -> Hypotheses:
        """Return what a number may have been, with a share of the usual chances."""
        kinds = found.about(reading)
        return cls(kinds, share * found.chances, found.odds, densities, tell)


def saying(tell: Callable[[], SlipInWords]) -> Callable[[int], SlipInWords]:
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


_DIGITS = 6  # of a slip's probabilities


def names_and_probabilities(compounds: Sequence[tuple[str, float]]) -> list[dict[str, Any]]:
    """Return compounds as plain data."""
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
    candidates: tuple[tuple[str, float], ...] = field(
        default=(), metadata=serialized(names_and_probabilities)
    )
    without: tuple[tuple[str, float], ...] = field(
        default=(), metadata=serialized(names_and_probabilities, "without_slip")
    )

    def points_to(self, name: str) -> bool:
        """Say whether a compound is the likeliest if this happened."""
        return bool(self.candidates) and self.candidates[0][0] == name
