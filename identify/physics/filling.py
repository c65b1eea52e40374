"""How much liquid fills a flask with its vapor, and how much air more of it leaves."""

from __future__ import annotations

from math import exp

import numpy as np

from identify.physics.arrays import Array
from identify.physics.constants import GAS_CONSTANT
from identify.physics.vapor import Liquid, compressibility


def vapor_mass(
    molar_mass: Array | float,
    bath: Array | float,
    pressure: Array | float,
    volume: Array | float,
    liquid: Liquid,
) -> Array:
    """Return the mass of vapor that fills a flask, ``m = M P V / (Z R T)``.

    Parameters
    ----------
    molar_mass : array, shape (n,), or float
        In kg/mol.
    bath, pressure, volume : array or float
        In K, Pa, m3.
    liquid : Liquid
        Of n liquids.

    Returns
    -------
    array, shape (n,) [kg]
    """
    compression = compressibility(bath, pressure, liquid)
    filled = np.asarray(pressure) * volume / (compression * GAS_CONSTANT * np.asarray(bath))
    return np.asarray(molar_mass * filled)


def air_left(fills: float) -> float:
    """Return the share of the air that is left once so many flasks full of vapor have formed.

    The most there can be: where vapor and air mix at once and completely, as in a stirred vessel.
    Vapor is denser than air, and drives it out better than that.

    Examples
    --------
    >>> [round(100.0 * air_left(fills), 1) for fills in (1.0, 3.0, 5.0)]
    [36.8, 5.0, 0.7]
    """
    return exp(-fills)
