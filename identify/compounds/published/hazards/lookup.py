"""Hazards of a compound that the built-in table lacks, by its CAS number."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite

from identify.chemistry.structures import read_structure
from identify.compounds.listed import listing_of
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
    listed = listing_of(cas)
    return ListedHazards(
        _flash_point(listed.flash_points, smiles, boiling_point),
        listed.carcinogen,
        listed.exposure_limit_ppm,
    )


def _flash_point(published: Mapping[str, float], smiles: str, boiling_point: float) -> FlashPoint:
    structure = read_structure(smiles) if smiles else None
    if structure is None or not isfinite(boiling_point):
        return FlashPoint()
    # No published equation is known here; the curve only says which flash points are far off.
    (first, second, third), _ = vapor_curve(
        boiling_point, USUAL_RATIO * boiling_point, USUAL_PRESSURE, ()
    )
    curve = (float(first), float(second), float(third))
    return flash_point(published, boiling_point, curve, structure.atoms)
