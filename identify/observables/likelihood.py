"""How likely a reading is, given what a candidate would have shown.

Each reading follows a mixture: nearly always the stated error, a normal distribution, and now and
then a gross one (a slip of the pen, a wrong bottle), a broad distribution around the same value.
All densities are per unit of the reading (g/mol, K, percentage points), so that readings with
wide and with narrow errors weigh as they should.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from math import exp, pi, sqrt
from numbers import Real

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Chance of a gross error in one reading: common practice puts slips at one to a few in a hundred
# entries. A card lists several elements, so that each gets half of what the others get.
GROSS_MOLAR_MASS = 0.02
GROSS_BOILING_POINT = 0.02
GROSS_ELEMENT = 0.01
# Chance that a card whose percentages add up to 100 leaves an element out all the same.
LEFT_OUT = 0.02

# Scale of a gross error: 25 K in a boiling point. In a molar mass 0.5 in its logarithm, which is
# a factor 1.65; with this scale the Laplace density is a plain square, see `molar_mass_error`.
GROSS_BOILING_SCALE = 25.0
# A grossly wrong percentage can be anything from 0 to 100.
GROSS_ELEMENT_DENSITY = 0.01

# Bandwidths of "a compound like those in the table, but not in it".
KERNEL_MOLAR_MASS = 0.15  # of the molar mass
KERNEL_BOILING_POINT = 15.0  # K
KERNEL_ELEMENT = 4.0  # percentage points

# "A compound like none in the table": what a reading can be at all. Molar mass: its logarithm
# around 100 g/mol, scale 1. Boiling point: around 100 degrees Celsius, scale 100 K. A percentage:
# anything from 0 to 100. Common practice: liquids for this experiment lie well inside.
ANY_MOLAR_MASS, ANY_BOILING_POINT, ANY_BOILING_SCALE = 100.0, 373.15, 100.0

# A stated uncertainty below these is not believed: what limits a reading then is no longer the
# reading itself (air left in the vapor, purity of the liquid, rounding on the card).
LEAST_MOLAR_MASS = 0.003  # of the reading
LEAST_BOILING_POINT = 0.2  # K
LEAST_ELEMENT = 0.02  # percentage points


# A candidate whose boiling point is known worse than this [K] does not agree with everything.
LARGEST_ALLOWANCE = 10.0

# Far outside of any bench's; past them squares of deviations would overflow.
_LEAST_TOLERANCE, _LARGEST_TOLERANCE = 1e-3, 1e3
_LEAST_INDEX = 1e-4

_ROOT_TWO_PI = sqrt(2.0 * pi)


@dataclass(frozen=True)
class Tolerances:
    """Half-widths within which a reading counts as agreeing; half of one is its standard error.

    Parameters
    ----------
    molar_mass : float, default=5.0
        In percent of what the candidate would have given.
    percent : float, default=0.4
        In percentage points an element; 0.4 is the usual acceptance limit of journals for
        combustion analysis.
    boiling_point, melting_point : float, default=2.0
        In kelvin.
    refractive_index : float, default=0.002
        Common practice for a refractometer without a thermostat.
    density : float, default=0.01
        In g/mL; common practice for a small pycnometer or a pipette on a balance.

    Raises
    ------
    ValueError
        If one is not a number from 0.001 to 1000, a refractive index's from 0.0001.

    Examples
    --------
    >>> Tolerances(molar_mass=3.0).molar_mass
    3.0
    """

    molar_mass: float = 5.0
    percent: float = 0.4
    boiling_point: float = 2.0
    refractive_index: float = 0.002
    density: float = 0.01
    melting_point: float = 2.0

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            number = isinstance(value, Real) and not isinstance(value, bool)
            least = _LEAST_INDEX if field.name == "refractive_index" else _LEAST_TOLERANCE
            if not (number and least <= value <= _LARGEST_TOLERANCE):
                raise ValueError(
                    f"tolerance {field.name}: {value!r} is not a number from "
                    f"{least:g} to {_LARGEST_TOLERANCE:g}"
                )
            object.__setattr__(self, field.name, float(value))


@dataclass(frozen=True)
class Comparison:
    """One reading beside what each of n candidates would have shown.

    Parameters
    ----------
    deviation : array, shape (n,)
        Reading minus prediction, in the reading's unit.
    sigma : array, shape (n,), or float
        Standard uncertainty of the deviation.
    half_width : array, shape (n,), or float
        Deviations up to this count as agreement.
    gross : float, or array, shape (n,)
        Chance that the reading says nothing about the candidate: a gross error.
    gross_density : array, shape (n,), or float
        Density of the reading after a gross error [1 / unit].
    bandwidth : array, shape (n,), or float
        Of the kernel that stands for compounds outside the table.
    any_density : float
        Density of the reading for a compound like none in the table [1 / unit].
    """

    deviation: Array
    sigma: Array | float
    half_width: Array | float
    gross: float | Array
    gross_density: Array | float
    bandwidth: Array | float
    any_density: float

    def likelihood(self) -> Array:
        """Return the density of the reading for each candidate, shape (n,) [1 / unit]."""
        density = normal(self.deviation, self.sigma)
        density *= 1.0 - self.gross
        density += self.gross * self.gross_density
        return density

    def kernel(self) -> Array:
        """Return the density around each candidate's place, shape (n,) [1 / unit]."""
        return normal(self.deviation, self.bandwidth)

    def agrees(self) -> NDArray[np.bool_]:
        """Return for each candidate whether the reading is within tolerance, shape (n,)."""
        # A reading exactly at the limit agrees, whatever the last bit of a change of unit says.
        return np.abs(self.deviation) <= self.half_width * (1.0 + 1e-9)


def normal(deviation: Array, sigma: Array | float) -> Array:
    """Return the normal density, elementwise.

    Examples
    --------
    >>> normal(np.array([0.0, 1.0]), 1.0).round(4)
    array([0.3989, 0.242 ])
    """
    scaled = deviation / sigma
    np.multiply(scaled, scaled, out=scaled)
    scaled *= -0.5
    np.exp(scaled, out=scaled)
    scaled /= sigma * _ROOT_TWO_PI
    return scaled


def at_least(excess: Array, uncertainty: Array | float) -> Array:
    """Return the chance that a difference known to this standard uncertainty is above zero.

    The logistic curve that is within 0.01 of the normal distribution's. It is given to 1e-7,
    so that what is as good as certain of many candidates tells none of them apart.

    Examples
    --------
    >>> at_least(np.array([-10.0, 0.0, 1.0]), 1.0).round(2)
    array([0.  , 0.5 , 0.85])
    """
    chance = 1.0 / (1.0 + np.exp(np.clip(-1.702 * excess / uncertainty, -50.0, 50.0)))
    return np.asarray(np.round(chance, 7))


def compare_molar_mass(
    observed: Array | float,
    molar_mass: Array,
    sigma: Array | float,
    vaporized: Array | float = 1.0,
    shortcut: float | None = None,
) -> Comparison:
    """Compare the molar mass that the bench gave with each candidate's.

    Parameters
    ----------
    observed : array, shape (n,), or float
        Molar mass [g/mol], worked out with each candidate's corrections.
    molar_mass : array, shape (n,)
        The candidates' [g/mol].
    sigma : array, shape (n,), or float
        Standard uncertainty of ``observed`` [g/mol].
    vaporized : array, shape (n,), or float
        Chance that the liquid boiled off in the bath; where it did not, the weighing says nothing.
    shortcut : float, optional
        Molar mass without any candidate's corrections [g/mol], for a compound like none in the
        table; the median of ``observed`` where not given.
    """
    # A loss of mass gives a negative molar mass: as far off as can be, and no logarithm.
    positive = np.maximum(observed, 1e-3)
    ratio = positive / molar_mass
    # Laplace density of ln(ratio) with scale 1/2: exp(-2 |ln ratio|) = min(ratio, 1/ratio)^2.
    nearness = np.minimum(ratio, 1.0 / ratio)
    return Comparison(
        deviation=observed - molar_mass,
        sigma=sigma,
        half_width=2.0 * sigma,
        gross=1.0 - (1.0 - GROSS_MOLAR_MASS) * vaporized,
        gross_density=nearness * nearness / positive,
        bandwidth=np.hypot(KERNEL_MOLAR_MASS * molar_mass, sigma),
        any_density=_any_molar_mass(
            float(np.median(positive)) if shortcut is None else max(shortcut, 1e-3)
        ),
    )


def _any_molar_mass(observed: float) -> float:
    ratio = observed / ANY_MOLAR_MASS
    return min(ratio, 1.0 / ratio) / (2.0 * observed)


def compare_boiling_point(
    observed: float, expected: Array, sigma: float, expected_u: Array
) -> Comparison:
    """Compare a boiling point with each candidate's at the same pressure.

    Parameters
    ----------
    observed, sigma : float
        Reading and its standard uncertainty [K].
    expected, expected_u : array, shape (n,)
        The candidates' boiling points and their standard uncertainties [K].
    """
    deviation = observed - expected
    # Square roots take a tenth of the time of hypot.
    own, squares = sigma * sigma, expected_u * expected_u
    allowance = np.minimum(squares, LARGEST_ALLOWANCE * LARGEST_ALLOWANCE)
    gross_density = np.exp(np.abs(deviation) * (-1.0 / GROSS_BOILING_SCALE))
    gross_density /= 2.0 * GROSS_BOILING_SCALE
    return Comparison(
        deviation=deviation,
        sigma=np.sqrt(own + squares),
        half_width=2.0 * np.sqrt(own + allowance),
        gross=GROSS_BOILING_POINT,
        gross_density=gross_density,
        bandwidth=np.hypot(sigma, KERNEL_BOILING_POINT),
        any_density=exp(-abs(observed - ANY_BOILING_POINT) / ANY_BOILING_SCALE)
        / (2.0 * ANY_BOILING_SCALE),
    )


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
        gross=GROSS_ELEMENT,
        gross_density=GROSS_ELEMENT_DENSITY,
        bandwidth=np.hypot(sigma, KERNEL_ELEMENT),
        any_density=GROSS_ELEMENT_DENSITY,
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

    def likelihood(self) -> Array:
        """Return the chance of such a card for each candidate, shape (n,), 1 where all fits."""
        scaled = self.excess / self.sigma
        np.multiply(scaled, scaled, out=scaled)
        scaled *= -0.5
        np.exp(scaled, out=scaled)
        scaled *= 1.0 - LEFT_OUT
        scaled += LEFT_OUT
        return scaled

    def agrees(self) -> NDArray[np.bool_]:
        """Return for each candidate whether its other elements fit into the room left."""
        return self.excess <= 2.0 * self.sigma


# A sum this near to 100 claims to be complete however few elements it has: atomic weights and
# the rounding of cards alone put sums 0.1 to 0.3 off.  Common practice.
_COMPLETE = 1.0  # percentage points


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
    if listed_sum < 100.0 - max(_COMPLETE, 2.0 * sigma):
        return None
    room = max(100.0 - listed_sum, 0.0)
    return Unmentioned(np.maximum(remaining - room, 0.0), sigma)
