"""How much a further reading is expected to tell, in bits: one bit halves what is left.

The expected information gain of a reading is the mutual information between the candidate and the
reading, ``I = sum_k p_k sum_x f_k(x) log2(f_k(x) / f(x))`` with ``f = sum_k p_k f_k``: Lindley,
D. V. Ann. Math. Stat. 1956, 27, 986.

A candidate that nothing is known of is expected to read what the others would, in their
proportions. By that its probability stays as it is, whatever is read, and the gain is that of the
others times their share of the probability.
"""

from __future__ import annotations

from math import e, log, pi, sqrt

import numpy as np

from identify.physics.arrays import Array

# Each candidate's density is divided here, in standard deviations from its middle, and between
# two neighbors of all these marks the mixture is integrated from two points. The gain is then
# within 0.002 bits of the exact one (tests/test_next_measurement.py).
_GRID = np.array([-4.5, -3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0, 4.5])
_GAUSS_POINT = 1.0 / sqrt(3.0)  # of half an interval, from its middle: Gauss and Legendre's rule
_MIN_DENSITY = 1e-300  # its logarithm is a number


def entropy(probability: Array) -> float:
    """Return how much is missing to know which it is [bits].

    Parameters
    ----------
    probability : array
        Sums to one along the last axis.

    Examples
    --------
    >>> entropy(np.array([0.25, 0.25, 0.5]))
    1.5
    """
    return float(_entropies(probability))


def gain_of_reading(probability: Array, value: Array, uncertainty: Array) -> float:
    """Return the expected information gain of a reading on a scale [bits].

    Parameters
    ----------
    probability : array, shape (k,)
        Of the candidates; sums to one.
    value, uncertainty : array, shape (k,)
        What each would read, and the standard uncertainty of that: of the prediction and of the
        reading together. NaN where nothing is known.

    Examples
    --------
    >>> half = np.array([0.5, 0.5])
    >>> round(gain_of_reading(half, np.array([1.36, 1.43]), np.array([0.002, 0.002])), 3)
    1.0
    >>> gain_of_reading(half, np.array([1.36, np.nan]), np.array([0.002, np.nan]))
    0.0
    """
    known = np.isfinite(value) & np.isfinite(uncertainty) & (probability > 0.0)
    share = float(probability[known].sum())
    if np.count_nonzero(known) < 2:
        return 0.0
    weight, center, width = probability[known] / share, value[known], uncertainty[known]
    marks = np.sort((center[:, np.newaxis] + width[:, np.newaxis] * _GRID).ravel())
    middle, half = 0.5 * (marks[1:] + marks[:-1]), 0.5 * (marks[1:] - marks[:-1])
    readings = np.concatenate([middle - _GAUSS_POINT * half, middle + _GAUSS_POINT * half])
    scaled = (readings[:, np.newaxis] - center) / width
    np.multiply(scaled, scaled, out=scaled)
    scaled *= -0.5
    np.exp(scaled, out=scaled)
    mixture = scaled @ (weight / width) / sqrt(2.0 * pi)
    surprise = -mixture * np.log(np.maximum(mixture, _MIN_DENSITY))
    of_mixture = float(np.concatenate([half, half]) @ surprise)
    of_candidates = float(weight @ (0.5 * log(2.0 * pi * e) + np.log(width)))
    return share * _within((of_mixture - of_candidates) / log(2.0), weight)


def gain_of_outcomes(probability: Array, chances: Array) -> float:
    """Return the expected information gain of a test with a few outcomes [bits].

    Parameters
    ----------
    probability : array, shape (k,)
        Of the candidates; sums to one.
    chances : array, shape (k, outcomes)
        Chance of each outcome for each candidate; NaN where nothing is known.

    Examples
    --------
    >>> half = np.array([0.5, 0.5])
    >>> round(gain_of_outcomes(half, np.array([[0.97, 0.03], [0.03, 0.97]])), 3)
    0.806
    """
    known = np.isfinite(chances).all(axis=1) & (probability > 0.0)
    share = float(probability[known].sum())
    if np.count_nonzero(known) < 2:
        return 0.0
    weight, rows = probability[known] / share, chances[known]
    gain = float(_entropies(weight @ rows) - weight @ _entropies(rows))
    return share * _within(gain, weight)


def _within(gain: float, probability: Array) -> float:
    """Return a gain without what rounding adds or takes below zero and above the entropy."""
    return min(max(gain, 0.0), entropy(probability))


def _entropies(probability: Array) -> Array:
    safe = np.where(probability > 0.0, probability, 1.0)
    return np.asarray(-(safe * np.log2(safe)).sum(axis=-1))
