"""Everything that can be measured of a liquid: one more observable is one more entry here."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from identify.notebook.plausible import Plausible
from identify.observables.boiling_point import BOILING_POINT
from identify.observables.composition import PERCENT
from identify.observables.density import DENSITY
from identify.observables.liquid_constant import LiquidConstant
from identify.observables.melting_point import MELTING_POINT
from identify.observables.observable import Observable
from identify.observables.refractive_index import REFRACTIVE_INDEX
from identify.observables.weighing import MOLAR_MASS

LIQUID_CONSTANTS: Mapping[str, LiquidConstant] = MappingProxyType(
    {constant.name: constant for constant in (REFRACTIVE_INDEX, DENSITY, MELTING_POINT)}
)
"""By name, in the order in which answers list them."""

OBSERVABLES: Mapping[str, Observable] = MappingProxyType(
    {one.name: one for one in (MOLAR_MASS, PERCENT, BOILING_POINT, *LIQUID_CONSTANTS.values())}
)
"""By name: what is weighed and on the card first, then the constants of the liquid."""


def plausible_readings() -> dict[str, Plausible]:
    """Return what is plausible for each field of a measurement that holds such a constant."""
    found: dict[str, Plausible] = {}
    for name, constant in LIQUID_CONSTANTS.items():
        if constant.plausible is not None:
            found[name] = constant.plausible
        if constant.plausible_at is not None:
            found[f"{name}_at"] = constant.plausible_at
    return found
