"""A molar mass from vapor-density weighings, with its corrections and uncertainty budget.

One path through it: *readings* (the weighings and what each reading is uncertain by) and *liquids*
(whose constants the corrections need) → *model* (molar mass trial by trial, for any deviations of
the inputs) → *trials* (how they agree, and their weights) → *budget* (first order, and a
simulation beside it) → *result*, with its *steps*.
"""

from identify.calculations.molar_mass.calculation import molar_mass
from identify.calculations.molar_mass.liquids import Constants
from identify.calculations.molar_mass.result import MolarMassResult

__all__ = ["Constants", "MolarMassResult", "molar_mass"]
