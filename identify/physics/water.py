"""Water: what fills the flask for its volume, and what the bath is made of."""

from __future__ import annotations

from functools import lru_cache
from math import isnan, nan

from identify.physics.air import water_saturation_pressure
from identify.physics.constants import ICE_POINT, STANDARD_PRESSURE, WEIGHT_DENSITY

_HOTTEST = ICE_POINT + 99.9  # K: at 101325 Pa water boils at 99.97 degrees Celsius


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
    Wagner, W.; Pruss, A. J. Phys. Chem. Ref. Data 2002, 31, 387 (as in the library ``chemicals``).

    Examples
    --------
    >>> round(water_density(293.15), 3)
    998.207
    """
    from chemicals.iapws import iapws95_rho

    liquid = min(max(temperature, ICE_POINT), _HOTTEST)
    return float(iapws95_rho(liquid, STANDARD_PRESSURE))


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
