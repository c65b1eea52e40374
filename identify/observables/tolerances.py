"""How far a reading may be from a prediction and still agree with it."""

from __future__ import annotations

from dataclasses import dataclass, fields
from numbers import Real

from identify.observables.boiling_point import BOILING_POINT
from identify.observables.catalog import OBSERVABLES
from identify.observables.composition import PERCENT
from identify.observables.density import DENSITY
from identify.observables.melting_point import MELTING_POINT
from identify.observables.refractive_index import REFRACTIVE_INDEX
from identify.observables.weighing import MOLAR_MASS

# Far outside of any bench's; past it squares of deviations would overflow.
_LARGEST_TOLERANCE = 1e3


@dataclass(frozen=True)
class Tolerances:
    """Half-widths within which a reading counts as agreeing; half of one is its standard error.

    Parameters
    ----------
    molar_mass : float, default=5.0
        In percent of what the candidate would have given.
    percent : float, default=0.4
        In percentage points an element; 0.4 is the usual acceptance limit of journals for
        combustion analysis.
    boiling_point, melting_point : float, default=2.0
        In kelvin.
    refractive_index : float, default=0.002
        Common practice for a refractometer without a thermostat.
    density : float, default=0.01
        In g/mL; common practice for a small pycnometer or a pipette on a balance.

    Raises
    ------
    ValueError
        If one is not a number from 0.001 to 1000, a refractive index's from 0.0001.

    Examples
    --------
    >>> Tolerances(molar_mass=3.0).molar_mass
    3.0
    """

    molar_mass: float = MOLAR_MASS.tolerance
    percent: float = PERCENT.tolerance
    boiling_point: float = BOILING_POINT.tolerance
    refractive_index: float = REFRACTIVE_INDEX.tolerance
    density: float = DENSITY.tolerance
    melting_point: float = MELTING_POINT.tolerance

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            number = isinstance(value, Real) and not isinstance(value, bool)
            least = OBSERVABLES[field.name].least_tolerance
            if not (number and least <= value <= _LARGEST_TOLERANCE):
                raise ValueError(
                    f"tolerance {field.name}: {value!r} is not a number from "
                    f"{least:g} to {_LARGEST_TOLERANCE:g}"
                )
            object.__setattr__(self, field.name, float(value))
