"""Hazards of a compound that the built-in table lacks, by its CAS number."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, nan

from identify.chemistry.structures import read_structure
from identify.compounds.published import literature
from identify.compounds.published.hazards.flash_points import FlashPoint, flash_point
from identify.compounds.published.vapor.curves import USUAL_PRESSURE, USUAL_RATIO, vapor_curve


@dataclass(frozen=True)
class ListedHazards:
    """What the collections say of a compound; exposure limit in ppm, NaN where there is none."""

    flash_point: FlashPoint
    carcinogen: str
    exposure_limit_ppm: float


def looked_up(cas: str, smiles: str, boiling_point: float) -> ListedHazards:
    """Return what the collections say of a CAS number.

    Parameters
    ----------
    cas, smiles : str
    boiling_point : float
        In K; without it (NaN) no flash point can be judged, and none is returned.
    """
    limit = literature.exposure_limit(cas)
    return ListedHazards(
        _flash_point(cas, smiles, boiling_point),
        literature.carcinogen_lists(cas),
        nan if limit is None else limit.value,
    )


def _flash_point(cas: str, smiles: str, boiling_point: float) -> FlashPoint:
    structure = read_structure(smiles) if smiles else None
    if structure is None or not isfinite(boiling_point):
        return FlashPoint()
    fits = literature.vapor_pressure_fits(cas)
    (first, second, third), _ = vapor_curve(
        boiling_point, USUAL_RATIO * boiling_point, USUAL_PRESSURE, fits
    )
    curve = (float(first), float(second), float(third))
    return flash_point(literature.flash_points(cas), boiling_point, curve, structure.atoms)
