"""The weights of the boiling-point estimate's kernel, learned on random subsets of the training.

Stochastic gradient ascent on the density of what each compound of a subset is missed by where that
one is left out (closed form: Rasmussen, C. E.; Williams, C. K. I. Gaussian Processes for Machine
Learning; MIT Press, 2006, equations 5.10 to 5.12). The density is a Student one: a misprint among
the published values then pulls no harder than a small error.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.linalg
from numpy.typing import ArrayLike, NDArray

from identify.compounds.boiling.kernel import Shape, matern

Array = NDArray[np.float64]
Single = NDArray[np.float32]

# Found by trial on one split of five, and left there.
STEPS = 150
SUBSET = 1500  # compounds at a time
_RATE = 0.1  # of the logarithms of the parameters, a step
_LEVELS = 24  # values that a feature is rounded to while its weight is learned
_PRUNED_AT = (50, 100)  # steps at which features of no weight are dropped
_NO_WEIGHT = 3e-4  # a step of one standard deviation then changes the likeness by 0.03 %
# Where the learning begins: noise; amplitudes and rates of what is counted, as in `COUNTED`.
_NOISE, _AMPLITUDE, _RATES = 0.005, 0.5, (0.02, 0.005, 0.01)
FREEDOM = 3.0  # of the Student density
_MISS = 0.06  # its scale, in standard deviations of the boiling points: about 5 K
_HEAVIEST, _LIGHTEST = 2.0, -14.0  # logarithms of weights
SEED = 7


@dataclass(frozen=True)
class Learned:
    """Weights of the features, shape of the kernel, and noise in the kernel's unit."""

    weight: Array
    shape: Shape
    noise: float


@dataclass(frozen=True)
class Examples:
    """What the weights are learned from.

    Parameters
    ----------
    features : array, shape (n, f)
        In standard deviations, the descriptors first.
    descriptors : int
        How many of the features are descriptors; the others are counts of surroundings.
    apart : sequence of arrays, shape (n, n)
        City-block distances between the counts of each thing counted.
    kelvin : array, shape (n,)
        Boiling points.
    """

    features: Single
    descriptors: int
    apart: Sequence[NDArray[np.uint16]]
    kelvin: Array


class _Levels:
    """Features as flags "at least this level": distances and gradients become matrix products."""

    def __init__(self, features: Single) -> None:
        flags, steps, owners = [], [], []
        for feature, values in enumerate(features.T):
            level = np.unique(values)
            if len(level) > _LEVELS:
                level = np.unique(np.quantile(values, np.linspace(0.0, 1.0, _LEVELS)))
            rank = np.searchsorted((level[1:] + level[:-1]) / 2.0, values)
            for above in range(1, len(level)):
                flags.append(rank >= above)
                steps.append(level[above] - level[above - 1])
                owners.append(feature)
        self.flags = np.ascontiguousarray(np.array(flags).T)
        self.steps = np.array(steps, dtype=np.float32)
        self.owners = np.array(owners)

    def keep(self, alive: NDArray[np.bool_]) -> None:
        kept = alive[self.owners]
        self.flags = np.ascontiguousarray(self.flags[:, kept])
        self.steps, self.owners = self.steps[kept], self.owners[kept]


class _Descent:
    """Adam, with rates that fall to nothing: Kingma, D. P.; Ba, J. arXiv 1412.6980."""

    def __init__(self, size: int) -> None:
        self._mean, self._square, self._count = np.zeros(size), np.zeros(size), 0

    def step(self, gradient: Array) -> Array:
        self._count += 1
        self._mean = 0.9 * self._mean + 0.1 * gradient
        self._square = 0.97 * self._square + 0.03 * gradient**2
        mean = self._mean / (1.0 - 0.9**self._count)
        square = self._square / (1.0 - 0.97**self._count)
        falling = min(1.0, 2.0 * (1.0 - self._count / STEPS) + 0.05)
        return np.asarray(_RATE * falling * mean / (np.sqrt(square) + 1e-7))


def learn_weights(examples: Examples, seed: int = SEED) -> Learned:
    """Learn the kernel from examples; the same from the same, one thread given.

    The start is fixed: equal weights for the descriptors, a tenth of their sum for the counts.
    """
    draw = np.random.default_rng(seed)
    size, features = examples.features.shape
    kelvin = (examples.kelvin - examples.kelvin.mean()) / examples.kelvin.std()
    levels = _Levels(examples.features)
    weights = np.full(features, -np.log(examples.descriptors))
    counts = features - examples.descriptors
    weights[examples.descriptors :] = np.log(0.1 / max(counts, 1))
    # Logarithms: noise; amplitudes; rates.
    others = np.log([_NOISE, 1.0, *(_AMPLITUDE for _ in examples.apart), *_RATES])
    alive = np.isin(np.arange(features), levels.owners)
    descent = _Descent(features + len(others))
    mean, averaged = np.zeros(features + len(others)), 0
    for step in range(STEPS):
        if step in _PRUNED_AT:
            alive &= np.exp(weights) > _NO_WEIGHT
            levels.keep(alive)
        chosen = draw.choice(size, min(SUBSET, size), replace=False)
        gradient = _ascent(examples, chosen, kelvin[chosen], levels, (weights, others))
        change = descent.step(gradient)
        weights = np.clip(weights + change[:features], _LIGHTEST, _HEAVIEST)
        others = others + change[features:]
        if step >= 0.75 * STEPS:
            mean += np.concatenate([weights, others])
            averaged += 1
    mean /= averaged
    noise, shape = _read(mean[features:])
    return Learned(np.where(alive, np.exp(mean[:features]), 0.0), shape, noise)


def _read(logarithms: Array) -> tuple[float, Shape]:
    """Return the noise and the shape that logarithms stand for."""
    noise, *others = np.exp(logarithms).tolist()
    amplitudes = len(others) // 2 + 1
    return noise, Shape(others[:amplitudes], others[amplitudes:])


def _ascent(
    examples: Examples,
    chosen: NDArray[np.int64],
    kelvin: Array,
    levels: _Levels,
    logarithms: tuple[Array, Array],
) -> Array:
    """Gradient of the mean logarithm of the density by the logarithms of the parameters."""
    weights, others = logarithms
    noise, shape = _read(others)
    flags = levels.flags[chosen].astype(np.float32)
    cost = np.exp(weights[levels.owners]).astype(np.float32) * levels.steps
    scaled, total = flags * np.sqrt(cost), flags @ cost
    apart = np.maximum(total[:, None] + total[None] - 2.0 * (scaled @ scaled.T), 0.0)
    block = np.ix_(chosen, chosen)
    distances = [
        apart,
        *(
            np.float32(rate) * part[block].astype(np.float32)
            for rate, part in zip(shape.rates, examples.apart, strict=True)
        ),
    ]
    terms = [
        np.float32(amplitude) * matern(distance)
        for amplitude, distance in zip(shape.amplitudes, distances, strict=True)
    ]
    pull, share = _pull(1.0 + sum(terms).astype(np.float64), kelvin, noise)
    # By the distances of each term.
    pull_single = pull.astype(np.float32)
    pulls = [
        np.float32(-amplitude) * pull_single * slope(distance)
        for amplitude, distance in zip(shape.amplitudes, distances, strict=True)
    ]

    pull_features = pulls[0]
    # Sum over pairs of |flag - flag| times the pull, one matrix product for all flags.
    differing = 2.0 * (
        flags.T @ pull_features.sum(axis=1)
        - np.einsum("ij,ij->j", pull_features @ flags, flags, optimize=True)
    )
    gradient = np.zeros(len(weights) + len(others))
    np.add.at(gradient, levels.owners, cost * differing)
    gradient[len(weights) :] = (
        (np.diag(pull) * noise / share).sum(),
        *(np.vdot(pull_single, term) for term in terms),
        *(np.vdot(by, far) for by, far in zip(pulls[1:], distances[1:], strict=True)),
    )
    return gradient / len(chosen)


def _pull(likeness: Array, kelvin: Array, noise: float) -> tuple[Array, Array]:
    """Gradient of the summed log density by the likeness, and each compound's share of trust."""
    share = np.ones(len(kelvin))
    inverse, dual = _solved(likeness, kelvin, noise)
    missed = dual / np.diag(inverse)
    share = trust(missed, _MISS)
    inverse, dual = _solved(likeness, kelvin, noise / share)
    held = np.diag(inverse)
    missed = dual / held
    steep = 2.0 * missed / (1.0 + missed**2 / (FREEDOM * _MISS**2)) / (FREEDOM * _MISS**2)
    by_dual, by_held = steep / held, -steep * dual / held**2
    along = inverse @ by_dual
    crossed = np.outer(along, dual)
    return 0.5 * (crossed + crossed.T) + (inverse * by_held) @ inverse, share


def slope(distance: ArrayLike) -> Array:
    """Return by how much `matern` falls per unit of distance."""
    return np.asarray(1.5 * np.exp(-np.sqrt(3.0 * np.asarray(distance))))


def trust(missed: Array, scale: float) -> Array:
    """Return the weight of each compound by what it is missed by: the Student density's.

    Lange, K. L.; Little, R. J. A.; Taylor, J. M. G. J. Am. Stat. Assoc. 1989, 84, 881.
    """
    return np.clip(1.0 / (1.0 + (missed / scale) ** 2 / FREEDOM), 1e-3, 1.0)


def _solved(likeness: Array, kelvin: Array, noise: Array | float) -> tuple[Array, Array]:
    inverse = inverted(likeness, noise)
    return inverse, inverse @ kelvin


def inverted(likeness: Array, noise: Array | float) -> Array:
    """Return the inverse of the likeness with noise on its diagonal, shape (n, n)."""
    matrix = likeness.copy()
    matrix[np.diag_indices_from(matrix)] += noise
    factor = scipy.linalg.cholesky(matrix, lower=True, overwrite_a=True, check_finite=False)
    inverse, _ = scipy.linalg.lapack.dpotri(factor, lower=1, overwrite_c=1)
    upper = np.triu_indices_from(inverse, 1)
    inverse[upper] = inverse.T[upper]
    return np.asarray(inverse)
