"""The error of one molar mass: normal parts, and rough technique on either side.

Relative to what was to be gained, as `technique` says how a class works.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import exp, hypot, log1p, sqrt

import numpy as np

from identify.notebook.statistics import deviation_above, normal_above
from identify.observables.error.comparison import ROOT_TWO_PI, normal
from identify.physics.arrays import Array, Rows

# More liquid than three times the vapor's mass is hardly ever left in a flask: from there on, as a
# logarithm, the density falls by this scale. Common practice: a few milliliters are poured in.
_MUCH_LEFT, _BEYOND = 1.4, 0.1

_NEVER_ALL = 0.1  # a normal error of this size, relatively, is never all that was to be gained
_LEAST_DRAWN = 0.1  # of what was to be gained; the lowest that normal errors leave
_LEAST_LEFT = 1e-3  # of what was to be gained: a loss of mass has no logarithm
_ONE_SIGMA, _WIDE = 0.6826894921, 0.95  # what one and two standard deviations hold
_STEPS, _NEAR_ENOUGH = 60, 1e-12  # of the search for a quantile


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
        exponent = -np.abs(ratio) / np.where(ratio > 0.0, up, down)
        exponent += np.clip(_MUCH_LEFT - ratio, -np.inf, 0.0) * (1.0 / _BEYOND - 1.0 / up)
        density = np.exp(exponent, out=exponent)
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
        >>> error = MolarMassError(((0.98, 0.025),), 0.02, (0.45, 0.22))
        >>> low, high = error.interval(0.68)
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
