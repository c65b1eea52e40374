"""How much of each liquid is poured into a flask, what a class needs, and what waste it makes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, isfinite

from identify.bench.laboratory import Laboratory
from identify.compounds.table import CandidateTable
from identify.matching.expected.expectation import Expectation
from identify.notebook.usual import BRIM_VOLUME, CLASS_SIZE, TRIALS_EACH, USUAL_FILLS
from identify.physics.constants import ELEMENTS, ICE_POINT
from identify.physics.filling import vapor_mass
from identify.stock.result import Portion, PouredInAll

_ML = 1e6  # per m3
# A pipet or a cylinder of 10 mL is read to half a milliliter.
_STEP_ML = 0.5
# What goes into a waste container of its own: common practice.
_HALOGENS = [element in ("F", "Cl", "Br", "I") for element in ELEMENTS]
_AT_20_C = ICE_POINT + 20.0


@dataclass(frozen=True)
class Pouring:
    """How a class pours.

    Parameters
    ----------
    flask : float
        Brim volume [m3].
    fills : float
        Poured in, of what fills the flask with vapor.
    students, trials : int
        In the class, and weighings of each.
    """

    flask: float = BRIM_VOLUME
    fills: float = USUAL_FILLS
    students: int = CLASS_SIZE
    trials: int = TRIALS_EACH

    def students_a_bottle(self, bottles: int) -> int:
        """Return how many students share a bottle, where all bottles are given out alike."""
        return ceil(self.students / max(bottles, 1))


def portions(
    table: CandidateTable, laboratory: Laboratory, pouring: Pouring, bottles: int
) -> list[Portion]:
    """Return how much of each liquid of a table is poured in.

    Parameters
    ----------
    table : CandidateTable
        Of n liquids.
    laboratory : Laboratory
    pouring : Pouring
    bottles : int
        Among which the class is divided.

    Examples
    --------
    >>> from identify.compounds.loading import load_candidates
    >>> table = load_candidates()
    >>> acetone = table.take(table.find("acetone"))
    >>> (one,) = portions(acetone, Laboratory(), Pouring(), bottles=12)
    >>> round(one.least_mL, 2), one.pour_mL, one.class_mL
    (0.71, 4.0, 24.0)
    """
    expectation = Expectation.of(table)
    mass = vapor_mass(
        1e-3 * expectation.molar_mass,
        laboratory.bath,
        laboratory.pressure,
        pouring.flask,
        expectation.liquid,
    )
    density, _ = expectation.predicted("density", _AT_20_C)  # kg/m3
    least = _ML * mass / density
    uses = pouring.students_a_bottle(bottles) * pouring.trials
    halogens = table.percent[:, _HALOGENS].sum(axis=1)
    return [
        _portion(float(1e3 * mass[row]), float(least[row]), pouring.fills, uses, halogen > 0.0)
        for row, halogen in enumerate(halogens.tolist())
    ]


def _portion(
    least_g: float, least_ml: float, fills: float, uses: int, is_halogenated: bool
) -> Portion:
    if not isfinite(least_ml):
        return Portion(least_g, *3 * (float("nan"),), is_halogenated)
    # To the next half milliliter, but for what nobody could measure out.
    pour = _STEP_ML * ceil(fills * least_ml / _STEP_ML - 0.02)
    return Portion(least_g, least_ml, pour, uses * pour, is_halogenated)


def poured_in_all(
    pouring: Pouring, bottles: int, each: Iterable[tuple[str, Portion | None]]
) -> PouredInAll:
    """Add up what a class pours.

    Parameters
    ----------
    pouring : Pouring
    bottles : int
    each : iterable of (str, Portion or None)
        A bottle's title and its portion.
    """
    titled = list(each)
    known = [one for _, one in titled if one is not None and isfinite(one.class_mL)]
    unknown = [title for title, one in titled if one is None or not isfinite(one.class_mL)]
    uses = pouring.students_a_bottle(bottles) * pouring.trials
    waste, halogenated = (
        _condensed(known, uses, is_halogenated) for is_halogenated in (False, True)
    )
    total = sum(one.class_mL for one in known)
    return PouredInAll(
        flask_mL=_ML * pouring.flask,
        fills=pouring.fills,
        students=pouring.students,
        trials=pouring.trials,
        students_a_bottle=pouring.students_a_bottle(bottles),
        liquid_mL=total,
        waste_mL=waste,
        halogenated_waste_mL=halogenated,
        vapor_mL=total - waste - halogenated,
        unknown=tuple(unknown),
    )


def _condensed(known: Sequence[Portion], uses: int, is_halogenated: bool) -> float:
    """Return what is left in all flasks: one filling of vapor each, condensed [mL]."""
    return uses * sum(one.least_mL for one in known if one.is_halogenated == is_halogenated)
