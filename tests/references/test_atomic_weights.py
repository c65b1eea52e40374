"""Atomic weights against two libraries: `chemicals` and RDKit."""

from __future__ import annotations

import pytest
from chemicals.elements import molecular_weight, periodic_table
from rdkit.Chem import GetPeriodicTable

from identify.chemistry.formula import ATOMIC_WEIGHTS, molar_mass
from identify.physics.combustion import PRODUCTS
from identify.physics.constants import ELEMENTS

# What the two libraries print is older than the conventional values of 2021 that are used here:
# standard atomic weights of around 2001, with the standard uncertainties below (Loss, R. D. Pure
# Appl. Chem. 2003, 75, 1107, from memory).
PUBLISHED_UNCERTAINTY = {
    "C": 0.0008,
    "H": 0.00007,
    "N": 0.0002,
    "O": 0.0003,
    "S": 0.005,
    "P": 0.000002,
    "F": 0.0000005,
    "Cl": 0.002,
    "Br": 0.001,
    "I": 0.00003,
    "Si": 0.0003,
    "B": 0.007,
}
# Half of the last digit of the conventional values, which are rounded further than the standard
# ones so that they hold for nearly all materials.
ROUNDING = {"S": 0.005, "Cl": 0.005, "B": 0.005, "P": 0.0, "F": 0.0, "I": 0.0}
USUAL_ROUNDING = 0.0005
# RDKit keeps three decimals of each.
RDKIT_ROUNDING = 0.0005


def allowed(element: str) -> float:
    # The last term is for the binary representation alone.
    return PUBLISHED_UNCERTAINTY[element] + ROUNDING.get(element, USUAL_ROUNDING) + 1e-12


@pytest.mark.parametrize("element", ELEMENTS)
def test_atomic_weight(element):
    here = ATOMIC_WEIGHTS[element]
    assert abs(here - periodic_table[element].MW) <= allowed(element)
    rdkit = GetPeriodicTable().GetAtomicWeight(element)
    assert abs(here - rdkit) <= allowed(element) + RDKIT_ROUNDING


def test_there_are_no_others():
    assert set(ATOMIC_WEIGHTS) == set(ELEMENTS)


def test_combustion_uses_the_same():
    for product in PRODUCTS:
        if not product.formula.startswith("Ag"):
            assert product.molar_mass == pytest.approx(molar_mass(product.formula), rel=1e-12)
            assert product.atomic_weight == ATOMIC_WEIGHTS[product.element]


@pytest.mark.parametrize(
    "atoms",
    [
        {"C": 2, "H": 6, "O": 1},
        {"C": 2, "H": 4, "Cl": 2},
        {"C": 1, "Br": 1, "F": 3},
        {"C": 4, "H": 12, "Si": 1},
        {"C": 3, "H": 9, "B": 1, "O": 3},
        {"C": 3, "H": 9, "P": 1},
        {"C": 2, "H": 5, "I": 1},
        {"C": 2, "H": 6, "S": 1},
        {"C": 3, "H": 9, "N": 1},
    ],
    ids=str,
)
def test_molar_mass(atoms):
    room = sum(number * allowed(element) for element, number in atoms.items())
    assert abs(molar_mass(atoms) - molecular_weight(atoms)) <= room
