"""The liquids of a simulated section, and what their cards say."""

from __future__ import annotations

from functools import lru_cache

from chemicals import search_chemical
from chemicals.elements import mass_fractions, simple_formula_parser
from simulated_runs import MMHG
from weighings import Fluid

# Twelve that boil off in a water bath and are liquids in the room.
FLUIDS = (
    Fluid("Methanol", "67-56-1"),
    Fluid("Ethanol", "64-17-5"),
    Fluid("Acetone", "67-64-1"),
    Fluid("Tetrahydrofuran", "109-99-9"),
    Fluid("DiethylEther", "60-29-7"),
    Fluid("DimethylCarbonate", "616-38-6"),
    Fluid("Cyclopentane", "287-92-3"),
    Fluid("CycloHexane", "110-82-7"),
    Fluid("n-Hexane", "110-54-3"),
    Fluid("Isohexane", "107-83-5"),
    Fluid("Dichloroethane", "107-06-2"),
    Fluid("R1130(E)", "156-60-5"),
)
# How different the liquid in a mislabeled bottle is, and what a wrong card states: enough to show
# in the mean of a class.
OTHER_MOLAR_MASS, OTHER_BOILING_POINT_K, OTHER_PERCENT = 0.15, 8.0, 4.0


@lru_cache
def boiling_point(fluid: Fluid, pressure: float = 760.0 * MMHG) -> float:
    return fluid.boiling_point(pressure)


@lru_cache
def percentages(fluid: Fluid) -> dict[str, float]:
    atoms = simple_formula_parser(search_chemical(fluid.cas).formula)
    return {element: 100.0 * share for element, share in mass_fractions(atoms).items()}


def name_of(fluid: Fluid) -> str:
    return str(search_chemical(fluid.cas).common_name)


def unlike(one: Fluid, other: Fluid, part: str) -> bool:
    """Say whether two liquids differ so much that a class must notice."""
    if part == "liquid":
        return abs(other.molar_mass / one.molar_mass - 1.0) > OTHER_MOLAR_MASS
    if part == "boiling_point":
        return abs(boiling_point(one) - boiling_point(other)) > OTHER_BOILING_POINT_K
    mine, its = percentages(one), percentages(other)
    return any(abs(mine.get(e, 0.0) - its.get(e, 0.0)) > OTHER_PERCENT for e in mine | its)
