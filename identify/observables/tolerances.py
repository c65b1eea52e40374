"""How far a reading may be from a prediction and still agree with it."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from numbers import Real

from identify.notebook.errors import UnusableInput
from identify.observables.boiling_point import BOILING_POINT
from identify.observables.catalog import OBSERVABLES
from identify.observables.composition import PERCENT
from identify.observables.density import DENSITY
from identify.observables.melting_point import MELTING_POINT
from identify.observables.refractive_index import REFRACTIVE_INDEX
from identify.observables.weighing import MOLAR_MASS

# Far outside of any bench's; past it squares of deviations would overflow.
_LARGEST_TOLERANCE = 1e3


class _Usual(float):
    """A tolerance that nobody gave."""


@dataclass(frozen=True)
class Tolerances:
    """Half-widths within which a reading counts as agreeing; half of one is its standard error.

    Parameters
    ----------
    molar_mass : float, default=5.0
        In percent of what the candidate would have given. Given, it says how well this class
        reads, and half of it is the standard error; not given, it is a mark only.
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

    molar_mass: float = _Usual(MOLAR_MASS.tolerance)
    percent: float = PERCENT.tolerance
    boiling_point: float = BOILING_POINT.tolerance
    refractive_index: float = REFRACTIVE_INDEX.tolerance
    density: float = DENSITY.tolerance
    melting_point: float = MELTING_POINT.tolerance
    molar_mass_given: bool = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "molar_mass_given", not isinstance(self.molar_mass, _Usual))
        for one in fields(self):
            if one.init:
                object.__setattr__(self, one.name, _checked(one.name, getattr(self, one.name)))


def _checked(name: str, value: float) -> float:
    least = OBSERVABLES[name].least_tolerance
    number = isinstance(value, Real) and not isinstance(value, bool)
    if not (number and least <= float(value) <= _LARGEST_TOLERANCE):
        raise UnusableInput(
            f"tolerance {name}: {value!r} is not a number from {least:g} to {_LARGEST_TOLERANCE:g}"
        )
    return float(value)
