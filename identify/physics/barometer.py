"""From the height of a mercury column to the pressure.

References
----------
World Meteorological Organization. Guide to Instruments and Methods of Observation, WMO-No. 8,
volume I, chapter 3, annex on the correction of mercury barometers to standard conditions.
"""

from __future__ import annotations

from math import cos, radians

from identify.physics.constants import ICE_POINT, STANDARD_PRESSURE

_STANDARD_GRAVITY = 9.80665  # m/s2, exact (3rd CGPM, 1901)
_MERCURY_EXPANSION = 1.818e-4  # 1/K, volume
_BRASS_EXPANSION = 1.84e-5  # 1/K, the scale's length


def mercury_barometer_pressure(
    reading: float, temperature: float, latitude: float | None = None, height: float = 0.0
) -> float:
    """Return the pressure that a mercury barometer with a brass scale shows.

    Parameters
    ----------
    reading : float
        Height of the column as pressure, as if at 0 degrees Celsius and standard gravity [Pa].
    temperature : float
        Of the column [K].
    latitude : float, optional
        In degrees. Where not given, gravity is taken as standard.
    height : float
        Above sea level [m]; counts only where the latitude is given.

    Returns
    -------
    float [Pa]

    Examples
    --------
    760 mmHg read at 25 degrees Celsius is 756.9 mmHg:

    >>> round(mercury_barometer_pressure(101325.0, 298.15) / 101325.0 * 760.0, 1)
    756.9
    """
    celsius = temperature - ICE_POINT
    at_zero = reading * (
        1.0
        - (_MERCURY_EXPANSION - _BRASS_EXPANSION) * celsius / (1.0 + _MERCURY_EXPANSION * celsius)
    )
    if latitude is None:
        return at_zero
    return at_zero * local_gravity(latitude, height) / _STANDARD_GRAVITY


def local_gravity(latitude: float, height: float) -> float:
    """Return the acceleration of gravity.

    Parameters
    ----------
    latitude : float
        In degrees.
    height : float
        Above sea level [m].

    Returns
    -------
    float [m/s2]

    Examples
    --------
    >>> round(local_gravity(45.0, 0.0), 4), round(local_gravity(45.0, 1600.0), 4)
    (9.8062, 9.8013)
    """
    double = cos(2.0 * radians(latitude))
    at_sea_level = 9.80620 * (1.0 - 0.0026442 * double + 0.0000058 * double * double)
    return at_sea_level - 3.086e-6 * height


def standard_pressure(height: float) -> float:
    """Return the pressure of the standard atmosphere.

    Parameters
    ----------
    height : float
        Above sea level, up to 11 km [m].

    Returns
    -------
    float [Pa]

    References
    ----------
    ISO 2533:1975, standard atmosphere: 288.15 K and 101325 Pa at the sea, 6.5 K less each
    kilometer (from memory).

    Examples
    --------
    >>> round(standard_pressure(0.0)), round(standard_pressure(1600.0))
    (101325, 83524)
    """
    return STANDARD_PRESSURE * (1.0 - 6.5e-3 * height / 288.15) ** 5.25588
