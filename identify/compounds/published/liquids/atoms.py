"""Molar volumes and refractions of liquids as sums over the atoms."""

from __future__ import annotations

import numpy as np

from identify.physics.arrays import Array

_ROUNDS = 6
# Of the relative errors: what is further off than three medians, or this, does not count.
_MEDIANS, _LEAST = 3.0, 0.05
_SMALLEST = 3.0  # cm3/mol


def sums_over_atoms(known: Array, atoms: Array) -> Array:
    """Return sums of an increment for each atom and one for the molecule, fitted to what is known.

    Least squares of the relative errors, with what is far off left out step by step: a few of the
    listed values are wrong by orders of magnitude. Fewer than twenty numbers from thousands of
    compounds, so that it does not matter that a compound's own value is among them.

    Parameters
    ----------
    known : array, shape (n,)
        Molar volume or refraction [cm3/mol]; NaN where not known.
    atoms : array, shape (n, elements)

    Returns
    -------
    array, shape (n,) [cm3/mol]

    Examples
    --------
    >>> carbon, hydrogen = np.array([5.0, 6.0, 7.0, 8.0]), np.array([12.0, 14.0, 10.0, 18.0])
    >>> atoms = np.column_stack([carbon, hydrogen])
    >>> sums_over_atoms(5.0 * carbon + 7.0 * hydrogen + 10.0, atoms).round(1).tolist()
    [119.0, 138.0, 115.0, 176.0]
    """
    terms = np.column_stack([atoms, np.ones(len(atoms))])
    counted = np.isfinite(known)
    for _ in range(_ROUNDS):
        scaled = terms[counted] / known[counted, np.newaxis]
        increments, *_ = np.linalg.lstsq(scaled, np.ones(len(scaled)), rcond=1e-8)
        off = np.abs(terms @ increments / known - 1.0)
        counted = np.isfinite(known) & (
            off < max(_LEAST, _MEDIANS * float(np.median(off[counted])))
        )
    return np.maximum(terms @ increments, _SMALLEST)
