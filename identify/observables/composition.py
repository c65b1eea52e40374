"""The percent composition: what a card lists, and what it leaves out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from identify.observables.error.comparison import Comparison, bell
from identify.observables.observable import Observable
from identify.physics.arrays import Array, once

# A card lists several elements, so that the chance of a gross error in each is half of that in
# other readings. A grossly wrong percentage can be anything from 0 to 100.
PERCENT = Observable(
    name="percent",
    words="percentage",
    unit="%",
    bench_unit="%",
    tolerance=0.4,
    tolerance_unit="points",
    decimals=2,
    gross=0.01,
    bandwidth=4.0,
    least=0.02,
)
_ANY_PERCENTAGE_DENSITY = 0.01
# Chance that a card whose percentages add up to 100 leaves an element out all the same.
LEFT_OUT = 0.02


def compare_element(observed: Array | float, expected: Array, sigma: float) -> Comparison:
    """Compare the percentage of one element with each candidate's.

    Parameters
    ----------
    observed : float, or array of shape (k, 1)
        Reading, or one of each of k runs [percentage points].
    expected : array, shape (n,)
        The candidates' [percent].
    sigma : float
        Standard uncertainty of the reading [percentage points].
    """
    return Comparison(
        deviation=observed - expected,
        sigma=sigma,
        half_width=2.0 * sigma,
        gross=PERCENT.gross,
        gross_density=_ANY_PERCENTAGE_DENSITY,
        bandwidth=np.hypot(sigma, PERCENT.bandwidth),
        any_density=_ANY_PERCENTAGE_DENSITY,
    )


@dataclass(frozen=True)
class Unmentioned:
    """What a complete card leaves out, beside each candidate's elements that it does not list.

    The listed elements alone cannot say more than their own deviations do: what a candidate has
    left is 100 minus its listed ones, so that comparing the remainder as one more number would
    count the same deviations twice. What is new is that a card which adds up to 100 claims there
    is nothing else. A candidate that holds more of other elements than the card leaves room for
    can be right only if the card is wrong in that claim, which has the chance `LEFT_OUT`, whatever
    the amount. A card that does not reach 100 claims nothing about what it leaves out.

    Parameters
    ----------
    excess : array, shape (n,)
        What the candidate holds of elements not listed, beyond the room that the card leaves
        [percentage points]; zero where there is room enough.
    sigma : float
        Standard uncertainty of the sum of the listed percentages.
    """

    excess: Array
    sigma: float

    @once
    def likelihood(self) -> Array:
        """Return the chance of such a card for each candidate, shape (n,), 1 where all fits."""
        chance = bell(self.excess / self.sigma)
        chance *= 1.0 - LEFT_OUT
        chance += LEFT_OUT
        return chance

    @once
    def agrees(self) -> NDArray[np.bool_]:
        """Return for each candidate whether its other elements fit into the room left."""
        return self.excess <= 2.0 * self.sigma


# A sum this near to 100 claims to be complete however few elements it has: atomic weights and
# the rounding of cards alone put sums 0.1 to 0.3 off.  Common practice.
_COMPLETE = 1.0  # percentage points


def claims_to_be_complete(listed_sum: Array | float, sigma: float) -> NDArray[np.bool_]:
    """Say of sums of percentages, known to sigma, whether they claim that nothing is left."""
    return np.asarray(listed_sum >= 100.0 - max(_COMPLETE, 2.0 * sigma))


def compare_unmentioned(listed_sum: float, remaining: Array, sigma: float) -> Unmentioned | None:
    """Compare what a complete card leaves out; None where it does not claim to be complete.

    Parameters
    ----------
    listed_sum : float
        Sum of the listed percentages.
    remaining : array, shape (n,)
        Sum of each candidate's elements that are not listed [percent].
    sigma : float
        Standard uncertainty of ``listed_sum``.

    Examples
    --------
    A card with C, H and O that adds up to 100, beside a candidate with 31 % nitrogen:

    >>> card = compare_unmentioned(99.9, np.array([0.0, 31.1]), 0.35)
    >>> card.agrees()
    array([ True, False])
    >>> card.likelihood()
    array([1.  , 0.02])
    >>> compare_unmentioned(66.0, np.array([34.0]), 0.28) is None
    True
    """
    if not claims_to_be_complete(listed_sum, sigma):
        return None
    room = max(100.0 - listed_sum, 0.0)
    return Unmentioned(np.maximum(remaining - room, 0.0), sigma)
