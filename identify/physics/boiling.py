"""Vapor pressure and boiling temperature from a curve through the normal boiling point.

``ln(p / 101325 Pa) = a (1 - Tb/T) + b ln(T/Tb) + c (T/Tb - 1)``: the leading terms of the
Clausius-Clapeyron equation with a heat of vaporization that varies with temperature, written so
that ``p`` is the standard atmosphere at ``Tb`` whatever the coefficients.
"""

from __future__ import annotations

import math

import numpy as np

from identify.physics.arrays import Array
from identify.physics.constants import GAS_CONSTANT, STANDARD_PRESSURE

TROUTON = 10.6  # entropy of vaporization at the boiling point over R, Trouton's rule

# A bath or a room lies within this of any boiling point that the curve may be asked for; outside
# it, the curve's terms would run away.
_LOWEST_RATIO, _HIGHEST_RATIO = 0.35, 1.6

# Of the search for a boiling temperature, whose errors are about those of the step before squared.
_MAX_STEPS, _SMALL_STEP = 6, 1e-8


def vapor_pressure(temperature: Array | float, boiling_point: Array | float, curve: Array) -> Array:
    """Return the vapor pressure of a liquid.

    Parameters
    ----------
    temperature : array or float
        In K; broadcasts against ``boiling_point``.
    boiling_point : array or float, shape (n,)
        Normal boiling point [K].
    curve : array, shape (n, 3) or (3,)
        Coefficients a, b, c [-].

    Returns
    -------
    array [Pa]

    Examples
    --------
    Ethanol at its normal boiling point, and at 25 degrees Celsius (7.9 kPa):

    >>> curve = np.array([19.74, -7.14, 1.28])
    >>> vapor_pressure(np.array([351.56, 298.15]), 351.56, curve).round(-2)
    array([101300.,   7900.])
    """
    ratio = np.clip(np.divide(temperature, boiling_point), _LOWEST_RATIO, _HIGHEST_RATIO)
    return np.asarray(STANDARD_PRESSURE * np.exp(log_pressure(ratio, curve)))


def boiling_temperature(
    pressure: Array | float, boiling_point: Array | float, curve: Array
) -> Array:
    """Return the temperature at which a liquid boils under a pressure.

    Parameters
    ----------
    pressure : array or float
        In Pa.
    boiling_point : array or float, shape (n,)
        Normal boiling point [K].
    curve : array, shape (n, 3) or (3,)
        Coefficients a, b, c [-].

    Returns
    -------
    array [K]

    Examples
    --------
    Ethanol at 700 mmHg boils 2.1 K lower:

    >>> curve = np.array([19.74, -7.14, 1.28])
    >>> print(boiling_temperature(93325.7, 351.56, curve).round(1))
    349.5
    """
    wanted = np.log(np.divide(pressure, STANDARD_PRESSURE))
    first, second, third = curve[..., 0], curve[..., 1], curve[..., 2]
    ratio = np.ones(np.broadcast_shapes(np.shape(wanted), np.shape(boiling_point), first.shape))
    # Newton on ln p, which is nearly a straight line in -1/T: the steps are taken in 1/T.
    for _ in range(_MAX_STEPS):
        slope = first + second * ratio + third * ratio * ratio  # d ln p / d(-1/ratio)
        inverse = 1.0 / ratio - (wanted - log_pressure(ratio, curve)) / slope
        before, ratio = ratio, 1.0 / np.clip(inverse, 1.0 / _HIGHEST_RATIO, 1.0 / _LOWEST_RATIO)
        if bool((np.abs(ratio - before) < _SMALL_STEP).all()):
            break
    return np.asarray(ratio * boiling_point)


def boiling_temperature_by_trouton(
    pressure: float,
    boiling_point: float,
    boiling_pressure: float = STANDARD_PRESSURE,
    entropy: float = TROUTON,
) -> float:
    """Return where a liquid boils of which nothing is known but one boiling point.

    Parameters
    ----------
    pressure : float
        In Pa.
    boiling_point, boiling_pressure : float
        What is known [K, Pa].
    entropy : float, default=10.6
        Of vaporization, over R [-].

    Returns
    -------
    float [K]
        For a boiling point known at one atmosphere, of liquids for a water bath: within 1 K at 800
        hPa and 2.2 K at 610 hPa for 19 in 20, within 2.1 K and 4.5 K for the common alcohols.

    References
    ----------
    Trouton's rule with the entropy of vaporization 10.6 R that Pictet and Trouton found, 88
    J/(mol K); common practice.

    Examples
    --------
    >>> round(boiling_temperature_by_trouton(93325.7, 351.56), 1)
    348.9
    """
    return boiling_point / (1.0 - math.log(pressure / boiling_pressure) / entropy)


def vapor_pressure_by_trouton(
    temperature: float, boiling_point: float, boiling_pressure: float = STANDARD_PRESSURE
) -> float:
    """Return the vapor pressure of a liquid of which nothing is known but one boiling point.

    The inverse of `boiling_temperature_by_trouton`.

    Parameters
    ----------
    temperature, boiling_point, boiling_pressure : float
        In K, K and Pa.

    Returns
    -------
    float [Pa]

    Examples
    --------
    Acetone at 25 degrees Celsius; published are 30.7 kPa:

    >>> round(vapor_pressure_by_trouton(298.15, 329.2), -2)
    33600.0
    """
    return boiling_pressure * math.exp(TROUTON * (1.0 - boiling_point / temperature))


def curve_terms(ratio: Array) -> tuple[Array, Array, Array]:
    """Return what a, b and c of the curve multiply, at temperatures over the boiling point."""
    return 1.0 - 1.0 / ratio, np.log(ratio), ratio - 1.0


def log_pressure(ratio: Array, curve: Array) -> Array:
    """Return ``ln(p / 101325 Pa)`` at temperatures over the boiling point.

    Parameters
    ----------
    ratio : array, broadcasting against ``curve[..., 0]``
    curve : array, shape (..., 3)
        Coefficients a, b, c [-].
    """
    terms = curve_terms(ratio)
    return np.asarray(
        curve[..., 0] * terms[0] + curve[..., 1] * terms[1] + curve[..., 2] * terms[2]
    )


# Kelvin per mmHg and kelvin. Sydney Young's relation; common practice, as distillation manuals
# print it.
YOUNG_COEFFICIENTS = {"unassociated": 0.00012, "associated": 0.00010}


def young_correction(
    temperature: float, pressure: float, to_pressure: float, coefficient: float
) -> float:
    """Return what a boiling point changes by between two pressures.

    Young's relation is ``Delta T = c (P2 - P1) T`` with the pressures in mmHg and ``c`` from
    ``YOUNG_COEFFICIENTS``: water, alcohols and carboxylic acids, whose molecules hold together by
    hydrogen bonds, are associated; other liquids are not. It is a straight line through 760 mmHg,
    and 1 degree off at 600 mmHg; here is the curve that it is the tangent of, Trouton's rule with
    the entropy ``1 / (760 c)``: ``Delta T = T1 k / (1 - k)`` with ``k = 760 c ln(P2 / P1)``.

    Parameters
    ----------
    temperature : float
        Boiling point at ``pressure`` [K].
    pressure, to_pressure : float
        In Pa.
    coefficient : float
        In K/(mmHg K).

    Returns
    -------
    float [K]

    References
    ----------
    Young, S. Distillation Principles and Processes; Macmillan: London, 1922; from memory.

    Examples
    --------
    From 742 to 760 mmHg, for a liquid that boils near 78 degrees Celsius:

    >>> round(young_correction(350.8, 742 * 133.322, 760 * 133.322, 0.00010), 2)
    0.64
    """
    entropy = 1.0 / (760.0 * coefficient)
    return boiling_temperature_by_trouton(to_pressure, temperature, pressure, entropy) - temperature


def heat_of_vaporization(
    temperature: float, boiling_point: float, curve: tuple[float, float, float]
) -> float:
    """Return the heat of vaporization that a vapor-pressure curve implies, the vapor ideal.

    Parameters
    ----------
    temperature, boiling_point : float
        In K.
    curve : tuple of float
        Coefficients a, b, c [-].

    Returns
    -------
    float [J/mol]

    References
    ----------
    Clausius-Clapeyron equation.

    Examples
    --------
    Ethanol at 25 degrees Celsius, 42.3 kJ/mol by calorimetry:

    >>> round(heat_of_vaporization(298.15, 351.56, (19.74, -7.14, 1.28)) / 1e3, 1)
    42.7
    """
    first, second, third = curve
    ratio = temperature / boiling_point
    # R T^2 dlnp/dT
    slope = first + second * ratio + third * ratio * ratio
    return GAS_CONSTANT * boiling_point * slope
