"""The valence rules: which formulas a molecule can have.

Every function that takes a formula as text raises `FormulaError` as `parse_formula` does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from identify.notebook.composition.formulas import Counts, as_counts
from identify.physics.arrays import Array

# Bonds of an atom in ordinary molecules; textbook valences.
VALENCES: Mapping[str, int] = MappingProxyType(
    {"C": 4, "Si": 4, "N": 3, "P": 3, "B": 3, "O": 2, "S": 2}
    | dict.fromkeys(("H", "F", "Cl", "Br", "I"), 1)
)
# Further bonds of boron, as in diborane and in adducts such as (CH3)2S-BH3, there one of the donor
# too; and those to the most electronegative elements alone, as in CF3SF5, PF5 and ICl3; textbook
# chemistry.
ADDUCT_BONDS: Mapping[str, int] = MappingProxyType({"B": 1})
_DONORS: Mapping[str, int] = MappingProxyType(dict.fromkeys(("N", "P", "O", "S"), 1))
_FURTHER_BONDS: Mapping[str, int] = MappingProxyType({"S": 4, "P": 2, "I": 2})
_FURTHER_BOUND: Mapping[str, int] = MappingProxyType({"F": 1, "Cl": 1})


def degree_of_unsaturation(formula: str | Counts) -> float:
    """Return rings plus multiple bonds: ``1 + sum(n (v - 2)) / 2`` with ordinary valences ``v``.

    Half a bond is left over where the valences cannot all be paired: no stable molecule.  Sulfur
    and phosphorus with more bonds than two and three make it smaller than it is.

    Examples
    --------
    >>> degree_of_unsaturation("C6H6"), degree_of_unsaturation("C2H7O")
    (4.0, -0.5)
    """
    counts = as_counts(formula)
    return 1.0 + 0.5 * sum(number * (VALENCES[e] - 2) for e, number in counts.items())


def obeys_valence(formula: str | Counts) -> bool:
    """Say whether a molecule can have this formula.

    The atoms of odd valence (H, halogens, N, P, B) must be even in number, and no more hydrogen
    and halogen can be bound than the other atoms have bonds for.

    Examples
    --------
    >>> [obeys_valence(formula) for formula in ("C2H6O", "C2H5O", "C2H8O", "CF8S")]
    [True, False, False, True]
    """
    counts = as_counts(formula)
    rows = np.array([list(counts.values())], dtype=np.float64)
    return bool(valence_mask(list(counts), rows)[0])


def valence_mask(elements: Sequence[str], counts: Array) -> NDArray[np.bool_]:
    """Say for each row of atom counts, shape (m, k), whether it obeys the valence rule, shape (m,).

    See `obeys_valence`.
    """
    odd_valence = counts @ (_of_each(elements, VALENCES) % 2.0)
    # Two bonds an atom make a chain; what atoms have beyond that takes hydrogen and branches.
    chain = counts @ (_of_each(elements, VALENCES) + _of_each(elements, ADDUCT_BONDS) - 2.0)
    further = np.minimum(
        counts @ _of_each(elements, _FURTHER_BONDS), counts @ _of_each(elements, _FURTHER_BOUND)
    )
    donated = np.minimum(
        counts @ _of_each(elements, ADDUCT_BONDS), counts @ _of_each(elements, _DONORS)
    )
    return np.asarray((odd_valence % 2 == 0) & (chain + further + donated >= -2.0))


def molecule_mask(elements: Sequence[str], counts: Array) -> NDArray[np.bool_]:
    """Say for each row whether it or a whole multiple of it obeys the valence rule, shape (m,)."""
    # Doubling makes every count even; more atoms of the same kind only leave fewer bonds.
    return valence_mask(elements, counts) | valence_mask(elements, 2.0 * counts)


def _of_each(elements: Sequence[str], numbers: Mapping[str, int]) -> Array:
    return np.array([numbers.get(element, 0) for element in elements], dtype=np.float64)
