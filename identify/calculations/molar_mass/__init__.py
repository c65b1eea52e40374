"""A molar mass from vapor-density weighings, with its corrections and uncertainty budget.

One path through it: *liquids* (whose constants the corrections need) → `identify.budget` (molar
mass and first-order uncertainty) → *corrections*, *trials* (how they agree) and a *simulation*
beside it → *result*, with its *steps*.
"""

from identify.calculations.molar_mass.calculation import molar_mass
from identify.calculations.molar_mass.liquids import Constants
from identify.calculations.molar_mass.result import MolarMassResult

__all__ = ["Constants", "MolarMassResult", "molar_mass"]
