"""One flash point from collections that disagree: the lowest of those that can be right.

A flash point that is too high is a hazard, one that is too low is not. What cannot be right by
physics is set aside with its reason; of what is left the lowest stands, and the range is kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, nan

from identify.physics.boiling import heat_of_vaporization
from identify.physics.constants import ICE_POINT

# In the vapor over a liquid 30 K below its boiling point there is a third of an atmosphere of it,
# many times what burns: a flash point there is a misprint, or that of a liquid that hardly burns.
_LEAST_BELOW_BOILING = 30.0  # K
# Two in three published values lie within 7 K of the correlation, nineteen in twenty within 20 K.
_FAR = 25.0  # K
_FAR_ALONE = 15.0  # K: above it, of a value that no second collection has
# Halogens hinder burning, and the correlation does not know it: each of them for a carbon atom.
_HALOGENS = ("F", "Cl", "Br", "I")
_FOR_HALOGENS = 20.0  # K


@dataclass(frozen=True)
class FlashPoint:
    """A flash point [K], the highest that a collection has beside it, who has it, what is not used.

    Parameters
    ----------
    value, highest : float
        NaN where none is left.
    source : str
    set_aside : str
        Values that are not used, each with its reason.
    """

    value: float = nan
    highest: float = nan
    source: str = ""
    set_aside: str = ""

    def cells(self) -> dict[str, str | float]:
        """Return what is known of it, by column of the table."""
        return {
            "flash_point_C": self.value - ICE_POINT,
            "flash_point_highest_C": self.highest - ICE_POINT,
            "flash_point_source": self.source,
            "flash_point_set_aside": self.set_aside,
        }


def _correlated_flash_point(boiling_point: float, heat: float, carbons: int) -> float:
    """Return the closed-cup flash point of an organic liquid that follows from its boiling.

    Parameters
    ----------
    boiling_point : float
        Normal boiling point [K].
    heat : float
        Of vaporization at 25 degrees Celsius [J/mol].
    carbons : int
        Number of carbon atoms; the correlation is for one or more.

    Returns
    -------
    float [K]

    References
    ----------
    Catoire, L.; Naudet, V. J. Phys. Chem. Ref. Data 2004, 33, 1083.

    Examples
    --------
    Acetone, -20 degrees Celsius by measurement:

    >>> round(_correlated_flash_point(329.2, 31.0e3, 3) - 273.15)
    -23
    """
    return 1.477 * boiling_point**0.79686 * (heat / 1e3) ** 0.16845 * carbons**-0.05948


def flash_point(
    published: Mapping[str, float],
    boiling_point: float,
    curve: tuple[float, float, float],
    atoms: Mapping[str, int],
) -> FlashPoint:
    """Return the flash point of a compound from published ones.

    Parameters
    ----------
    published : mapping of collection to float
        In K.
    boiling_point : float
        Normal boiling point [K].
    curve : tuple of float
        Coefficients of the vapor-pressure curve, see `identify.physics.boiling`.
    atoms : mapping of str to int
        Number of atoms of each element.

    Examples
    --------
    Methanol: one collection has a value 40 K below that of the others.

    >>> values = {"IEC": 282.2, "WIKIDATA": 284.2, "Serat": 241.9}
    >>> curve = (20.5, -9.6, 2.7)
    >>> found = flash_point(values, 337.7, curve, {"C": 1, "H": 4, "O": 1})
    >>> found.value, found.highest, found.source
    (282.2, 284.2, 'IEC, WIKIDATA')
    >>> found.set_aside
    '-31 C (Serat): 42 K below what follows from its boiling'
    """
    expected = _Expected.of(boiling_point, curve, atoms)
    reasons = {name: expected.objection(value) for name, value in published.items()}
    kept = [name for name, reason in reasons.items() if not reason]
    if len(kept) == 1:
        reasons[kept[0]] = expected.objection_alone(published[kept[0]])
    if all(reasons.values()):
        # A low value alone is on the safe side: without another it stands.
        reasons |= {name: "" for name, value in published.items() if value < expected.value}
    kept_values = {name: value for name, value in published.items() if not reasons[name]}
    set_aside = "; ".join(
        f"{published[name] - ICE_POINT:.0f} C ({name}): {reason}"
        for name, reason in reasons.items()
        if reason
    )
    if not kept_values:
        return FlashPoint(set_aside=set_aside)
    lowest_first = sorted(kept_values, key=kept_values.__getitem__)
    values = kept_values.values()
    return FlashPoint(min(values), max(values), ", ".join(lowest_first), set_aside)


@dataclass(frozen=True)
class _Expected:
    """Where a flash point may lie [K]; the correlation is NaN where it does not apply."""

    value: float
    highest: float
    allowance: float

    @classmethod
    def of(
        cls, boiling_point: float, curve: tuple[float, float, float], atoms: Mapping[str, int]
    ) -> _Expected:
        highest = boiling_point - _LEAST_BELOW_BOILING
        carbons = atoms.get("C", 0)
        if not carbons:
            return cls(nan, highest, inf)
        heat = heat_of_vaporization(298.15, boiling_point, curve)
        halogens = sum(atoms.get(element, 0) for element in _HALOGENS)
        return cls(
            _correlated_flash_point(boiling_point, heat, carbons),
            highest,
            _FOR_HALOGENS * halogens / carbons,
        )

    def objection(self, flash: float) -> str:
        """Return why a value cannot be right, or empty text."""
        if flash > self.highest:
            return f"less than {_LEAST_BELOW_BOILING:.0f} K below the boiling point"
        above = flash - self.value
        if above > _FAR + self.allowance:
            return f"{above:.0f} K above what follows from its boiling"
        if above < -_FAR:
            return f"{-above:.0f} K below what follows from its boiling"
        return ""

    def objection_alone(self, flash: float) -> str:
        """Return why a value that no second collection has is not used, or empty text."""
        above = flash - self.value
        if above > _FAR_ALONE + self.allowance:
            return f"in one collection alone, {above:.0f} K above what follows from its boiling"
        return ""
