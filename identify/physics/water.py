"""Water: what fills the flask for its volume, and what the bath is made of."""

from __future__ import annotations

from functools import lru_cache
from math import isnan, nan

from identify.physics.air import water_saturation_pressure
from identify.physics.constants import ICE_POINT, WEIGHT_DENSITY

_HOTTEST = ICE_POINT + 99.9  # K: at 101325 Pa water boils at 99.97 degrees Celsius
# kg/m3: a polynomial in hundreds of degrees Celsius over 1 + t / 54, the form of Kell, G. S. J.
# Chem. Eng. Data 1975, 20, 97, fitted to IAPWS-95 at 101325 Pa: within 6e-10 from 0 to 99.9.
_DENSITY = (
    *(999.8430857, 1858.336069, -78.46713611, -61.97049048, 26.7655939),
    *(-17.87886935, 9.201013116, -3.285568972, 0.5256967826),
)
_DENSITY_POLE = 0.54


def water_density(temperature: float) -> float:
    """Return the density of air-free water at 101325 Pa, after IAPWS-95.

    Parameters
    ----------
    temperature : float
        In K. Outside of 0 to 99.9 degrees Celsius, where water is liquid, the nearer end counts,
        so that a slip of a thermometer's unit still has an answer.

    Returns
    -------
    float [kg/m3]

    References
    ----------
    Wagner, W.; Pruss, A. J. Phys. Chem. Ref. Data 2002, 31, 387.

    Examples
    --------
    >>> round(water_density(293.15), 3)
    998.207
    """
    hundreds = (min(max(temperature, ICE_POINT), _HOTTEST) - ICE_POINT) / 100.0
    polynomial = 0.0
    for coefficient in reversed(_DENSITY):
        polynomial = polynomial * hundreds + coefficient
    return polynomial / (1.0 + hundreds / _DENSITY_POLE)


@lru_cache(maxsize=256)  # a class works at a few pressures
def boiling_temperature(pressure: float) -> float:
    """Return the temperature at which water boils, within 0.05 K from 50 to 110 kPa.

    Parameters
    ----------
    pressure : float
        In Pa.

    Returns
    -------
    float [K]
        NaN for a pressure that is.

    Examples
    --------
    >>> round(boiling_temperature(101325.0), 1), round(boiling_temperature(90000.0), 1)
    (373.1, 369.8)
    """
    if isnan(pressure):
        return nan
    low, high = 250.0, 450.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (
            (middle, high) if water_saturation_pressure(middle) < pressure else (low, middle)
        )
    return 0.5 * (low + high)


def water_filled_volume(mass: float, temperature: float, air_density: float) -> float:
    """Return the volume of a vessel that water fills, from that water's weighed mass.

    Parameters
    ----------
    mass : float
        Balance reading of the water alone, in air, against weights of 8000 kg/m3 [kg].
    temperature : float
        Of the water [K].
    air_density : float
        In kg/m3.

    Returns
    -------
    float [m3]
        At the water's temperature.

    References
    ----------
    ISO 4787:2021, the gravimetric calibration of volumetric glassware.

    Examples
    --------
    >>> round(1e6 * water_filled_volume(0.2870, 294.15, 1.2), 2)
    287.88
    """
    return mass * (1.0 - air_density / WEIGHT_DENSITY) / (water_density(temperature) - air_density)
