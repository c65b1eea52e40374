"""How well a class works at the bench: the error of a molar mass beyond its instruments.

What is relative here is relative to what was to be gained: the gain that the balance would have
shown, as a molar mass. For a molar mass as given that is the molar mass itself.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import exp, hypot, inf, lgamma, log, log1p, pi, sqrt

import numpy as np

from identify.notebook.errors import UnusableInput
from identify.notebook.statistics import deviation_above, normal_above
from identify.observables.error.comparison import ROOT_TWO_PI, normal
from identify.physics.arrays import Array, Rows

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

# More liquid than three times the vapor's mass is hardly ever left in a flask: from there on, as a
# logarithm, the density falls by this scale. Common practice: a few milliliters are poured in.
_MUCH_LEFT, _BEYOND = 1.4, 0.1

_NEVER_ALL = 0.1  # a normal error of this size, relatively, is never all that was to be gained
_LEAST_DRAWN = 0.1  # of what was to be gained; normal errors are no larger
_LEAST_LEFT = 1e-3  # of what was to be gained: a loss of mass has no logarithm

# Even a careful class has its liquid left and its vapor missing. Common practice.
_SELDOM = 0.02
_LEAST_PERCENTAGE, _LARGEST_PERCENTAGE = 0.01, 50.0
_PERCENTAGE = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*%\s*")

_ONE_SIGMA, _WIDE = 0.6826894921, 0.95  # what one and two standard deviations hold
_STEPS, _NEAR_ENOUGH = 60, 1e-12  # of the search for a quantile


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


@dataclass(frozen=True)
class MolarMassError:
    """The error of a molar mass, relative to what was to be gained.

    Normal parts in the error itself; rough technique in the logarithm of what was gained over
    what was to be gained, a Laplace distribution with one scale on either side, cut short where
    more liquid would have been left than was poured in.

    Parameters
    ----------
    parts : tuple of (array or float, array or float)
        Weight and relative standard deviation of each normal part.
    rough : array or float
        Weight of rough technique.
    scales : (float, float)
        Of rough technique: too much, and too little.
    widening : array or float
        What trials that scatter add to the squares of the scales.
    instruments : array or float
        What of each normal part's standard deviation does not grow with the true value.
    """

    parts: tuple[tuple[Array | float, Array | float], ...]
    rough: Array | float
    scales: tuple[float, float]
    widening: Array | float = 0.0
    instruments: Array | float = 0.0

    def well_done(self, off: Array) -> Array:
        """Return the density of relative errors that were not rough, elementwise."""
        density = np.zeros_like(off)
        for weight, size in self.parts:
            density += weight * normal(off, size)
        return density

    def too_much(self, off: Array) -> Array:
        """Return the density of relative errors by which rough technique gained too much."""
        return self.rough_parts(off)["mass-in-excess"]

    def too_little(self, off: Array) -> Array:
        """Return the density of relative errors by which rough technique gained too little."""
        return self.rough_parts(off)["mass-missing"]

    def rough_parts(self, off: Array) -> dict[str, Array]:
        """Return both of them, by the code of the slip that they are."""
        density = self._roughly(off)
        return {"mass-in-excess": density * (off >= 0.0), "mass-missing": density * (off <= 0.0)}

    def density(self, off: Array) -> Array:
        """Return the density of relative errors, elementwise."""
        return self.well_done(off) + self._roughly(off)

    def drawn(self, count: int, generator: np.random.Generator) -> Array:
        """Draw true minus found, over what was gained, for one molar mass; shape (count,)."""
        weights = np.array([*(weight for weight, _ in self.parts), self.rough])
        which = generator.choice(len(weights), size=count, p=weights / weights.sum())
        rough = np.expm1(-self._drawn_ratios(generator.random(count)))
        normals = generator.standard_normal(count)
        fixed = float(self.instruments) * generator.standard_normal(count)
        sized = []
        for _, size in self.parts:
            technique = sqrt(max(float(size) ** 2 - float(self.instruments) ** 2, 0.0))
            worked = np.maximum(1.0 + technique * normals, _LEAST_DRAWN)
            sized.append((1.0 + fixed) / worked - 1.0)
        return np.asarray(np.choose(which, [*sized, rough]))

    def _drawn_ratios(self, shares: Array) -> Array:
        """Return the logarithms above which rough technique gains in these shares of pages."""
        up, down = map(float, self._scales)
        whole, beyond = float(self._whole), exp(-_MUCH_LEFT / up)
        left = np.maximum(shares * whole, 1e-12)
        cut = _BEYOND * beyond
        usual = -up * np.log(np.maximum((left - cut) / up + beyond, 1e-12))
        upward = np.where(left < cut, _MUCH_LEFT - _BEYOND * np.log(left / cut), usual)
        downward = down * np.log(np.maximum((whole - left) / down, 1e-12))
        return np.where(left < whole - down, upward, downward)

    @cached_property
    def _whole(self) -> Array | float:
        """What the density of rough technique is divided by."""
        up, down = self._scales
        return down + up - (up - _BEYOND) * np.exp(-_MUCH_LEFT / up)

    @cached_property
    def _scales(self) -> tuple[Array | float, Array | float]:
        up, down = (np.sqrt(one * one + self.widening) for one in self.scales)
        return up, down

    def _roughly(self, off: Array) -> Array:
        """Return the density of errors by rough technique."""
        if not np.any(self.rough):
            return np.zeros_like(off)
        up, down = self._scales
        left = np.clip(1.0 + off, _LEAST_LEFT, np.inf)
        ratio = np.log(left)
        density = np.exp(-np.abs(ratio) / np.where(ratio > 0.0, up, down))
        density *= np.exp(np.clip(_MUCH_LEFT - ratio, -np.inf, 0.0) * (1.0 / _BEYOND - 1.0 / up))
        density *= self.rough / (self._whole * left)
        return density

    def below(self, change: float) -> float:
        """Return the chance that the true value is below the one found, by relative change.

        Parameters
        ----------
        change : float
            True minus found, over what was gained.
        """
        share = 0.0
        for weight, technique, fixed in self._normal_parts:
            # Technique errs by a share of what was to be gained, which the true value sets;
            # instruments by what they do, whatever the true value.
            changed = hypot(technique * max(1.0 + change, 0.0), fixed)
            share += weight * (
                normal_above(-change / changed) if changed > 0.0 else float(change > 0.0)
            )
        if change <= -1.0:
            return share
        return share + float(self.rough) * self._rough_above(-log1p(change))

    @cached_property
    def _normal_parts(self) -> list[tuple[float, float, float]]:
        """Weight, and size by technique and by instruments, of each normal part of one error.

        The weight is divided by the chance that not all that was to be gained is lost.
        """
        parts = []
        for weight, size in ((float(weight), float(size)) for weight, size in self.parts):
            fixed = min(float(self.instruments), size)
            technique = sqrt(size * size - fixed * fixed)
            never_all = 1.0 if technique < _NEVER_ALL else normal_above(-1.0 / technique)
            parts.append((weight / never_all, technique, fixed))
        return parts

    @cached_property
    def _rough_part(self) -> tuple[float, float, float, float]:
        """Scales of one rough error, what divides its density, and what of that is much left."""
        up, down = map(float, self._scales)
        return up, down, float(self._whole), exp(-_MUCH_LEFT / up)

    def _rough_above(self, ratio: float) -> float:
        """Return the chance that rough technique gains more, as a logarithm."""
        up, down, whole, beyond = self._rough_part
        if ratio < 0.0:
            return 1.0 - down / whole * exp(ratio / down)
        if ratio < _MUCH_LEFT:
            return (up * (exp(-ratio / up) - beyond) + _BEYOND * beyond) / whole
        return _BEYOND * beyond / whole * exp((_MUCH_LEFT - ratio) / _BEYOND)

    def interval(self, holds: float = _WIDE) -> tuple[float, float]:
        """Return the central interval of the true value, as relative changes of the one found.

        Examples
        --------
        >>> low, high = Technique.named("2.5 %").error().interval(0.68)
        >>> round(low, 3), round(high, 3)
        (-0.025, 0.026)
        """
        total = self._total
        tail = 0.5 * (1.0 - holds)
        return self._quantile(tail * total), self._quantile((1.0 - tail) * total)

    def _quantile(self, share: float) -> float:
        """Return the relative change below which this share lies, by false position (Illinois).

        References
        ----------
        Dowell, M.; Jarratt, P. BIT 1971, 11, 168.
        """
        low, high, below, above = self._around(share)
        stays = 0  # the end that stayed put at the last step counts half
        for _ in range(_STEPS):
            between = (low * above - high * below) / (above - below)
            off = self.below(between) - share
            if abs(off) < _NEAR_ENOUGH:
                break
            if off < 0.0:
                low, below, above = between, off, above * (0.5 if stays > 0 else 1.0)
                stays = 1
            else:
                high, above, below = between, off, below * (0.5 if stays < 0 else 1.0)
                stays = -1
        return between

    def _around(self, share: float) -> tuple[float, float, float, float]:
        """Return two changes with this share between them, and how far off it is at either."""
        low = high = 0.0
        below = above = self.below(0.0) - share
        step = max(*map(float, self._scales), *(float(size) for _, size in self.parts))
        while below > 0.0:
            low, high, above, step = low - step, low, below, 2.0 * step
            below = self.below(low) - share
        while above <= 0.0:
            low, high, below, step = high, high + step, above, 2.0 * step
            above = self.below(high) - share
        return low, high, below, above

    @property
    def peak(self) -> Array | float:
        """The density where nothing is off."""
        sharp = sum(weight / (ROOT_TWO_PI * size) for weight, size in self.parts)
        return sharp + self.rough / self._whole

    def at(self, rows: Rows | int) -> MolarMassError:
        """Return the distribution for one or some of n candidates."""

        def some(values: Array | float) -> Array | float:
            return values if np.ndim(values) == 0 else np.asarray(values)[rows]

        parts = tuple((weight, some(size)) for weight, size in self.parts)
        widening, instruments = some(self.widening), some(self.instruments)
        return MolarMassError(parts, self.rough, self.scales, widening, instruments)

    def in_standard_deviations(self, off: float) -> float:
        """Return a relative error as that of a normal one that is as far out."""
        if not self.rough and len(self.parts) == 1:
            return off / float(self.parts[0][1])
        tails = [
            sum(
                float(weight) * normal_above(side * off / float(size))
                for weight, size in self.parts
            )
            + float(self.rough) * self._rough_beyond(off, side)
            for side in (1.0, -1.0)
        ]
        side = 1.0 if tails[0] < tails[1] else -1.0
        return side * deviation_above(min(tails) / self._total)

    @property
    def _total(self) -> float:
        """What the weights add up to."""
        return float(self.rough) + sum(float(weight) for weight, _ in self.parts)

    def _rough_beyond(self, off: float, side: float) -> float:
        above = self._rough_above(log1p(max(off, _LEAST_LEFT - 1.0)))
        return above if side > 0.0 else 1.0 - above

    @property
    def standard_uncertainty(self) -> float:
        """Half of the interval that holds as much as one standard deviation of a normal error."""
        low, high = self.interval(_ONE_SIGMA)
        return 0.5 * (high - low)


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
