"""Vapors of half dimers: carboxylic acids, two of whose molecules hold together in a ring.

Of ``n`` molecules weighed, only ``n_t`` particles fill the flask. With the constant
``K = p(dimer) / p(monomer)^2`` and the total pressure ``P`` the share ``x`` of single molecules
among the particles is ``2 / (1 + sqrt(1 + 4 K P))``, and ``n_t / n = 1 / (2 - x)``: the factor by
which the vapor takes less room, whatever the molar mass.

References
----------
Prausnitz, J. M.; Lichtenthaler, R. N.; de Azevedo, E. G. Molecular Thermodynamics of Fluid-Phase
Equilibria, 3rd ed.; Prentice Hall, 1999: chemical theory of vapors (from memory).
"""

from __future__ import annotations

import numpy as np

from identify.physics.arrays import Array
from identify.physics.constants import GAS_CONSTANT

SINGLE_MOLECULES = (-np.inf, 0.0)
"""Coefficients of a vapor without dimers."""

_STANDARD_PRESSURE = 1e5  # Pa, the one that published entropies are converted to


def dimerization(enthalpy: Array | float, entropy: Array | float) -> Array:
    """Return the coefficients of the dimerization constant.

    Parameters
    ----------
    enthalpy, entropy : array or float, shape (n,)
        Of ``2 M = D`` for one mole of dimers, at 1 bar [J/mol, J/(mol K)]; NaN where no dimers are
        known.

    Returns
    -------
    array, shape (n, 2)
        ``ln(K Pa) = c0 + c1 / T``, see `dimerization_constant`.
    """
    enthalpy, entropy = np.asarray(enthalpy), np.asarray(entropy)
    both = np.stack(
        [entropy / GAS_CONSTANT - np.log(_STANDARD_PRESSURE), -enthalpy / GAS_CONSTANT], axis=-1
    )
    return np.where(np.isnan(both).any(axis=-1, keepdims=True), SINGLE_MOLECULES, both)


def dimerization_constant(temperature: Array | float, coefficients: Array) -> Array:
    """Return ``K = p(dimer) / p(monomer)^2``.

    Parameters
    ----------
    temperature : array or float, broadcasting against (n,)
        In K.
    coefficients : array, shape (n, 2)
        See `dimerization`.

    Returns
    -------
    array [1/Pa]

    Examples
    --------
    Acetic acid where it boils, at 118 degrees Celsius: 3.5 a bar.

    >>> print(round(1e5 * float(dimerization_constant(391.2, dimerization(-60612.0, -144.5))), 1))
    3.5
    """
    return np.asarray(np.exp(coefficients[..., 0] + np.divide(coefficients[..., 1], temperature)))


def particles_at_pressure(
    temperature: Array | float, pressure: Array | float, coefficients: Array
) -> Array:
    """Return how many particles a molecule makes in a vapor of known pressure.

    Parameters
    ----------
    temperature, pressure : array or float, broadcasting against (n,)
        In K and Pa.
    coefficients : array, shape (n, 2)
        See `dimerization`.

    Returns
    -------
    array [-]
        Between one half, all dimers, and 1, single molecules.

    Examples
    --------
    >>> print(particles_at_pressure(391.2, 101325.0, dimerization(-60612.0, -144.5)).round(3))
    0.628
    """
    product = dimerization_constant(temperature, coefficients) * pressure
    single = 2.0 / (1.0 + np.sqrt(1.0 + 4.0 * product))
    return np.asarray(1.0 / (2.0 - single))


def particles_at_concentration(
    temperature: Array | float, concentration: Array | float, coefficients: Array
) -> Array:
    """Return how many particles a molecule makes in a vapor of known concentration.

    Parameters
    ----------
    temperature : array or float, broadcasting against (n,)
        In K.
    concentration : array or float, broadcasting against (n,)
        Of molecules, those in dimers counted twice [mol/m3].
    coefficients : array, shape (n, 2)
        See `dimerization`.

    Returns
    -------
    array [-]

    Examples
    --------
    The same vapor by its concentration.

    >>> acetic = dimerization(-60612.0, -144.5)
    >>> concentration = 101325.0 / (0.6276 * GAS_CONSTANT * 391.2)
    >>> print(particles_at_concentration(391.2, concentration, acetic).round(3))
    0.628
    """
    ideal = np.asarray(concentration) * GAS_CONSTANT * np.asarray(temperature)
    product = dimerization_constant(temperature, coefficients) * ideal
    return np.asarray(0.5 + 1.0 / (1.0 + np.sqrt(1.0 + 8.0 * product)))
