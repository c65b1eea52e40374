"""Density of moist air.

References
----------
Picard, A.; Davis, R. S.; Glaeser, M.; Fujii, K. Revised formula for the density of moist air
(CIPM-2007). Metrologia 2008, 45, 149-155. All coefficients below are from there.
"""

from __future__ import annotations

import numpy as np

from identify.physics.arrays import Array
from identify.physics.constants import DRY_AIR_MOLAR_MASS, GAS_CONSTANT, ICE_POINT

_WATER_MOLAR_MASS = 18.01528e-3  # kg/mol


def water_saturation_pressure(temperature: Array | float) -> Array:
    """Return the vapor pressure of water, over liquid.

    Parameters
    ----------
    temperature : array or float
        In K.

    Returns
    -------
    array [Pa]
        Within 0.1 % of IAPWS-95 from 5 to 105 degrees Celsius.

    Examples
    --------
    >>> print(water_saturation_pressure(293.15).round(0))
    2339.0
    """
    t = np.asarray(temperature, dtype=np.float64)
    return np.asarray(
        np.exp(1.2378847e-5 * t * t - 1.9121316e-2 * t + 33.93711047 - 6.3431645e3 / t)
    )


def moist_air_density(
    temperature: Array | float, pressure: Array | float, humidity: Array | float
) -> Array:
    """Return the density of moist air after CIPM-2007.

    Parameters
    ----------
    temperature : array or float
        In K.
    pressure : array or float
        In Pa.
    humidity : array or float
        Relative humidity, 0 to 1.

    Returns
    -------
    array [kg/m3]
        The formula is stated for 600 to 1100 hPa and 15 to 27 degrees Celsius.

    Examples
    --------
    >>> print(moist_air_density(293.15, 101325.0, 0.5).round(4))
    1.1993
    """
    temperature = np.asarray(temperature, dtype=np.float64)
    pressure = np.asarray(pressure, dtype=np.float64)
    celsius = temperature - ICE_POINT
    enhancement = 1.00062 + 3.14e-8 * pressure + 5.6e-7 * celsius * celsius
    vapor = humidity * enhancement * water_saturation_pressure(temperature) / pressure
    pressure_ratio = pressure / temperature
    compressibility = (
        1.0
        - pressure_ratio
        * (
            1.58123e-6
            - 2.9331e-8 * celsius
            + 1.1043e-10 * celsius * celsius
            + (5.707e-6 - 2.051e-8 * celsius) * vapor
            + (1.9898e-4 - 2.376e-6 * celsius) * vapor * vapor
        )
        + pressure_ratio * pressure_ratio * (1.83e-11 - 0.765e-8 * vapor * vapor)
    )
    dry = pressure * DRY_AIR_MOLAR_MASS / (compressibility * GAS_CONSTANT * temperature)
    return np.asarray(dry * (1.0 - vapor * (1.0 - _WATER_MOLAR_MASS / DRY_AIR_MOLAR_MASS)))
