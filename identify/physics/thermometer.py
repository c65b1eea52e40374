"""The thermometer: the correction for the part of its thread that stands out of the vapor."""

from __future__ import annotations

# Expansion of the thermometer's liquid over that of its glass, per kelvin. ASTM E77 prints
# 0.00016 for mercury and 0.001 for organic liquids; from memory.
THREAD_EXPANSION = {"mercury": 0.00016, "spirit": 0.001}


def emergent_stem_correction(
    reading: float, stem_temperature: float, exposed_degrees: float, expansion: float
) -> float:
    """Return what to add to the reading of a thermometer made for total immersion.

    ``correction = k n (t - s)``: the thread outside is colder than the bulb and therefore shorter.

    Parameters
    ----------
    reading, stem_temperature : float
        Of the thermometer, and the mean of its exposed thread; both in degrees Celsius or both in
        K.
    exposed_degrees : float
        Length of the exposed thread, in degrees of the scale.
    expansion : float
        From ``THREAD_EXPANSION`` [1/K].

    Returns
    -------
    float [K]

    Raises
    ------
    ValueError
        If the exposed thread has a negative length.

    References
    ----------
    ASTM E77, Standard Test Method for Inspection and Verification of Thermometers.

    Examples
    --------
    >>> round(emergent_stem_correction(150.0, 35.0, 100.0, THREAD_EXPANSION["mercury"]), 2)
    1.84
    """
    if exposed_degrees < 0.0:
        raise ValueError(f"an exposed thread of {exposed_degrees:g} degrees: no length is negative")
    return expansion * exposed_degrees * (reading - stem_temperature)
