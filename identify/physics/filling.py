"""How much vapor fills a flask."""

from __future__ import annotations

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
