"""Formulas: reading them, molar mass and percent composition, and the way back from percentages."""

from identify.chemistry.formula.rules import degree_of_unsaturation, obeys_valence
from identify.chemistry.formula.search import (
    EmpiricalFormula,
    MolecularFormula,
    empirical_formulas,
    molecular_formulas,
)
from identify.notebook.composition.formulas import (
    FormulaError,
    hill_formula,
    molar_mass,
    parse_formula,
    percent_composition,
)
from identify.physics.constants import ATOMIC_WEIGHTS

__all__ = [
    "ATOMIC_WEIGHTS",
    "EmpiricalFormula",
    "FormulaError",
    "MolecularFormula",
    "degree_of_unsaturation",
    "empirical_formulas",
    "hill_formula",
    "molar_mass",
    "molecular_formulas",
    "obeys_valence",
    "parse_formula",
    "percent_composition",
]
