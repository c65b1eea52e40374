"""How well a class works at the bench: the error of a molar mass beyond its instruments.

What is relative here is relative to what was to be gained: the gain that the balance would have
shown, as a molar mass. For a molar mass as given that is the molar mass itself.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, lgamma, log, pi, sqrt

import numpy as np

from identify.notebook.errors import UnusableInput
from identify.observables.error.molar_mass import MolarMassError
from identify.physics.arrays import Array

# Of what is relative in a normal part, this is scatter from trial to trial, and the rest a bias
# that all trials of a page share: 0.6^2 + 0.8^2 = 1. Of published reports with several trials, half
# scatter by less than 10 %, and little scatter does not mean little bias.
SCATTER, BIAS = 0.6, 0.8
# What is known of the scatter beforehand is worth so many trials more: its square lies around what
# is usual as that over chi-squared of so many degrees of freedom. Common practice.
KNOWN_SCATTER = 2.0
# Trials do not agree better than this, however careful. Common practice.
_LEAST_SCATTER = 0.005
# Of rough technique, so many scatter as if nothing were wrong, for all trials are spoiled alike,
# and the others by this: as 19 reports of `data/published_results.csv` have it.
SPOILED_ALIKE, ROUGH_SCATTER = 0.5, 0.25

# Even a careful class has its liquid left and its vapor missing. Common practice.
_SELDOM = 0.02
_LEAST_PERCENTAGE, _LARGEST_PERCENTAGE = 0.01, 50.0
_PERCENTAGE = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*%\s*")


@dataclass(frozen=True)
class Technique:
    """How well a class works, as a mixture: normal parts, and rough technique.

    Parameters
    ----------
    name : str
        As it is said; empty for pages of which nothing is said.
    parts : tuple of (float, float)
        Weight and relative standard deviation of each normal part.
    rough : float
        Weight of rough technique.
    of_prediction : bool
        Whether the standard deviations are relative to the molar mass itself, as a tolerance is,
        and not to the gain.
    too_much, too_little : float
        Scales of rough technique, of the logarithm of found over true: liquid that was left, and
        vapor that is missing.

    Examples
    --------
    >>> Technique.named("careful").parts, Technique.named("5 %").parts
    (((0.98, 0.025),), ((0.98, 0.05),))
    >>> Technique.named("sloppy")
    Traceback (most recent call last):
    ...
    identify.notebook.errors.UnusableInput: technique: "sloppy" is not careful, usual, rough, \
none, or a percentage as in "5 %"
    """

    name: str
    parts: tuple[tuple[float, float], ...]
    rough: float = 0.0
    of_prediction: bool = False
    too_much: float = 0.45
    too_little: float = 0.22

    @classmethod
    def named(cls, name: str) -> Technique:
        """Return the technique that a word or a percentage says.

        Raises
        ------
        ValueError
            If it is neither.
        """
        known = TECHNIQUES.get(name.strip().casefold())
        if known is not None:
            return known
        percentage = _PERCENTAGE.fullmatch(name)
        if percentage is None:
            raise UnusableInput(
                f'technique: "{name}" is not {", ".join(TECHNIQUES)}, or a percentage as in "5 %"'
            )
        size = float(percentage[1].replace(",", "."))
        if not _LEAST_PERCENTAGE <= size <= _LARGEST_PERCENTAGE:
            raise UnusableInput(
                f'technique: "{name}" is not from {_LEAST_PERCENTAGE:g} to '
                f"{_LARGEST_PERCENTAGE:g} %"
            )
        return _careful(f"{size:g} %", 0.01 * size)

    @classmethod
    def of(cls, given: Technique | str | None) -> Technique:
        """Return a technique as given: by name, or as classes work where nothing is said.

        Raises
        ------
        ValueError
            If there is no technique of that name.
        TypeError
            If it is something else.
        """
        if isinstance(given, str):
            return cls.named(given)
        if not isinstance(given, Technique | None):
            raise TypeError(f"technique: {given!r} is neither a word nor a Technique")
        return given or AS_CLASSES_WORK

    @property
    def words(self) -> str:
        """What it is called in a sentence."""
        if not self.name:
            return "technique as classes work, from good to rough"
        return (
            f"{self.name} technique"
            if self.name in TECHNIQUES
            else f"technique good to {self.name}"
        )

    @classmethod
    def of_tolerance(cls, percent: float) -> Technique:
        """Return what an explicit tolerance of the molar mass says: half of it [percent]."""
        return _careful(f"{0.5 * percent:g} %", 0.005 * percent, of_prediction=True)

    @property
    def spread(self) -> float:
        """Relative standard deviation from student to student, but for those who were rough."""
        if not self.parts:
            return self.too_little
        weight = sum(weight for weight, _ in self.parts)
        return sqrt(sum(weight * size * size for weight, size in self.parts) / weight)

    def log_agreement(self, scatter: Array | float, trials: int) -> Array:
        """Return the logarithm of the density with which trials scatter so, whatever their mean.

        Parameters
        ----------
        scatter : array or float
            Relative standard deviation of single trials.
        trials : int
        """
        return np.logaddexp.reduce(self._log_agreements(scatter, trials)) - 0.5 * log(trials)

    def _log_agreements(self, scatter: Array | float, trials: int) -> list[Array]:
        """Return the same part by part, each with its weight, rough technique last."""
        parts = [
            log(weight) + _log_scattered(SCATTER * size, scatter, trials)
            for weight, size in self.parts
        ]
        if not self.rough:
            return [*parts, np.full(np.shape(scatter), -inf)]
        alike = apart = _log_scattered(ROUGH_SCATTER, scatter, trials)
        if parts:
            alike = np.logaddexp.reduce(parts) - log(sum(weight for weight, _ in self.parts))
        rough = np.logaddexp(log(SPOILED_ALIKE) + alike, log(1.0 - SPOILED_ALIKE) + apart)
        return [*parts, log(self.rough) + rough]

    def _weights(self, scatter: Array | float, trials: int) -> Sequence[Array | float]:
        """Return the parts' weights for trials that scatter so, rough technique's last."""
        usual = [*(weight for weight, _ in self.parts), self.rough]
        if trials == 1:
            return usual
        logs = self._log_agreements(scatter, trials)
        total = np.logaddexp.reduce(logs) - log(sum(usual))
        return [np.exp(one - total) for one in logs]

    def error(
        self,
        instruments: Array | float = 0.0,
        trials: int = 1,
        scatter: Array | float = 0.0,
        relative_to: Array | float = 1.0,
        least: Array | float = 0.0,
    ) -> MolarMassError:
        """Return the error of a mean of trials, instruments and technique together.

        Several trials measure how they scatter, which takes the place of what is usual, and tells
        good technique from rough; the bias that they share stays, however well they agree.

        Parameters
        ----------
        instruments : array or float
            Relative standard uncertainty of the mean from all that was read or assumed.
        trials : int
        scatter : array or float
            Relative standard deviation of single trials; not looked at where there is one.
        relative_to : array or float, default=1.0
            What the molar mass is of what was to be gained.
        least : array or float, default=0.0
            No normal part is narrower, whatever was stated.
        """
        squares = np.square(instruments)
        share = np.square(relative_to) if self.of_prediction else 1.0
        *weights, rough = self._weights(scatter, trials)
        parts = []
        for weight, (_, size) in zip(weights, self.parts, strict=True):
            variance = size * size * share
            if trials > 1:
                known = KNOWN_SCATTER + trials - 1
                each = SCATTER * SCATTER * KNOWN_SCATTER * variance
                each = (each + (trials - 1) * np.square(scatter)) / known
                variance = BIAS * BIAS * variance + each / trials
            parts.append((weight, np.maximum(np.sqrt(variance + squares), least)))
        # Beside rough technique, instruments are good enough.
        widening = 0.5 * np.square(scatter) / trials if trials > 1 else 0.0
        scales = (self.too_much, self.too_little)
        return MolarMassError(tuple(parts), rough, scales, widening, instruments)


def _log_scattered(size: float, scatter: Array | float, trials: int) -> Array:
    """Return the logarithm of the density of trials' deviations from their mean.

    Student's t of several dimensions: normal deviations whose scatter is itself known to some
    degrees of freedom.
    """
    dimensions, squares = trials - 1, KNOWN_SCATTER * max(size, _LEAST_SCATTER) ** 2
    both = 0.5 * (KNOWN_SCATTER + dimensions)
    constant = lgamma(both) - lgamma(0.5 * KNOWN_SCATTER) - 0.5 * dimensions * log(pi * squares)
    return np.asarray(constant - both * np.log1p(dimensions * np.square(scatter) / squares))


def _careful(name: str, size: float, of_prediction: bool = False) -> Technique:
    return Technique(name, ((1.0 - _SELDOM, size),), _SELDOM, of_prediction)


# Between a supervised class and the published results of `data/published_results.csv`, which a fit
# would make half rough; `scripts/published_results` prints it.
AS_CLASSES_WORK = Technique("", ((0.35, 0.025), (0.32, 0.08)), 0.33)
"""Pages of which nothing is said: good, usual and rough technique."""
CAREFUL = _careful("careful", 0.025)
ALL_STATED = Technique("none", ((1.0, 0.0),))
"""Nothing beyond what is stated: of many students together, or where that is the whole error."""
TECHNIQUES = {
    "careful": CAREFUL,
    "usual": Technique("usual", ((0.90, 0.08),), 0.10),
    "rough": Technique("rough", (), 1.0),
    "none": ALL_STATED,
}
"""By the word that says it."""
