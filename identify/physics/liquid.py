"""Densities of liquids: how they change with temperature, and what a formula lets one expect."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from identify.physics.arrays import Array

# Nearer to the critical point than this the equations below do not hold.
_HIGHEST_REDUCED = 0.9

_ELEMENTS = ("C", "H", "N", "O", "S", "F", "Cl", "Br", "I", "Si")


@dataclass(frozen=True)
class _Increments:
    """What each atom adds to a property of a molecule [cm3/mol], and one number more.

    Fitted to the published densities of the table: scripts/liquid_volumes.py prints them.
    """

    atoms: tuple[float, ...]
    further: float

    def sum(self, counts: Mapping[str, Array]) -> Array:
        """Return the sums over the atoms, NaN where an increment is not known, shape (n,)."""
        known = dict(zip(_ELEMENTS, self.atoms, strict=True))
        total = np.zeros_like(next(iter(counts.values())))
        for element, number in counts.items():
            if element in known:
                total = total + known[element] * number
            else:
                total = np.where(number > 0.0, np.nan, total)
        return total


# At 25 degrees Celsius and half the critical temperature; and how the volume grows with T/Tc.
VOLUME = _Increments((10.95, 3.88, 9.28, 8.63, 22.31, 7.68, 20.53, 26.62, 36.76, 27.40), 1.02)
# Molar refraction at the sodium D line; and what each molecule has besides its atoms.
REFRACTION = _Increments((3.79, 0.44, 2.84, 1.41, 7.72, 0.56, 5.38, 8.24, 13.44, 7.67), 1.10)


@dataclass(frozen=True)
class Critical:
    """Critical temperatures and acentric factors of n liquids.

    Parameters
    ----------
    temperature : array, shape (n,)
        In K.
    acentric : array, shape (n,)
    """

    temperature: Array
    acentric: Array

    def reduced(self, temperature: float) -> Array:
        """Return T/Tc, NaN where that leaves the range of the equations, shape (n,)."""
        reduced = temperature / self.temperature
        return np.where(reduced <= _HIGHEST_REDUCED, reduced, np.nan)


def volume_by_formula(counts: Mapping[str, Array], reduced: Array) -> Array:
    """Return molar volumes at 25 degrees Celsius as sums over the atoms.

    ``V = sum(n v) (1 + g (T/Tc - 1/2))``. Within 3 % for two liquids in three; carbon and hydrogen
    alone tell a ring or a double bond from the missing hydrogen.

    Parameters
    ----------
    counts : mapping of str to array, shape (n,)
        Atoms in the molecule, by element.
    reduced : array, shape (n,)
        298.15 K over the critical temperature.

    Returns
    -------
    array, shape (n,) [cm3/mol]
        NaN where there is an element whose increment is not known.

    Examples
    --------
    Ethanol has 58.7 cm3/mol.

    >>> atoms = {"C": np.array([2.0]), "H": np.array([6.0]), "O": np.array([1.0])}
    >>> volume_by_formula(atoms, np.array([298.15 / 514.0])).round(1)
    array([58.2])
    """
    return VOLUME.sum(counts) * (1.0 + VOLUME.further * (reduced - 0.5))


def volume_by_refraction(counts: Mapping[str, Array], index: Array) -> Array:
    """Return molar volumes from refractive indices, by the equation of Lorentz and Lorenz.

    ``V = R (n2 + 2) / (n2 - 1)`` with the molar refraction as a sum over the atoms. Within 2 % for
    two liquids in three.

    Parameters
    ----------
    counts : mapping of str to array, shape (n,)
        Atoms in the molecule, by element.
    index : array, shape (n,)
        Refractive index at the sodium D line; NaN where not known.

    Returns
    -------
    array, shape (n,) [cm3/mol], at the temperature of the refractive index.

    References
    ----------
    H. A. Lorentz, Ann. Phys. 245 (1880) 641; L. Lorenz, Ann. Phys. 247 (1880) 70.

    Examples
    --------
    >>> atoms = {"C": np.array([2.0]), "H": np.array([6.0]), "O": np.array([1.0])}
    >>> volume_by_refraction(atoms, np.array([1.3611])).round(1)
    array([57.5])
    """
    square = index * index
    refraction = REFRACTION.sum(counts) + REFRACTION.further
    return np.asarray(refraction * (square + 2.0) / (square - 1.0))


def density_at(
    temperature: float,
    known: Array,
    known_at: float,
    critical: Critical,
    steepness: Array | float = 1.0,
) -> Array:
    """Carry a density to another temperature, by the shape of Rackett's equation.

    The density is proportional to ``Z^-(1 - T/Tc)^(2/7)`` with ``Z = 0.29056 - 0.08775 omega``.

    Parameters
    ----------
    temperature, known_at : float
        In K.
    known : array, shape (n,)
        Density at ``known_at`` [kg/m3].
    critical : Critical
    steepness : array, shape (n,), or float
        How much faster the density falls than the equation says.

    Returns
    -------
    array, shape (n,) [kg/m3]
        NaN above nine tenths of the critical temperature.

    References
    ----------
    H. G. Rackett, J. Chem. Eng. Data 15 (1970) 514; T. Yamada, R. D. Gunn, J. Chem. Eng. Data 18
    (1973) 234.

    Examples
    --------
    Benzene has 884.2 kg/m3 at 15 degrees Celsius; from memory of the CRC Handbook.

    >>> benzene = Critical(np.array([562.02]), np.array([0.211]))
    >>> density_at(288.15, np.array([873.6]), 298.15, benzene).round(1)
    array([883.4])
    """
    # Below 0.2 for an acentric factor above 1: no liquid that the equation was made for.
    factor = np.maximum(0.29056 - 0.08775 * critical.acentric, 0.2)
    steps = _depth(known_at, critical) - _depth(temperature, critical)
    return np.asarray(known * factor ** (steepness * steps))


def _depth(temperature: float, critical: Critical) -> Array:
    return np.asarray((1.0 - critical.reduced(temperature)) ** (2.0 / 7.0))
