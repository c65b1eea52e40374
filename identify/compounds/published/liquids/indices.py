"""Refractive indices at the sodium D line and 20 degrees Celsius: published, carried, audited."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from chemicals import refractivity

from identify.compounds.published.corrections import BY_HAND, HandCorrection
from identify.compounds.published.liquids.atoms import sums_over_atoms
from identify.compounds.published.liquids.left_out import left_out_estimates
from identify.physics.arrays import Array

_COLUMN = "refractive_index"
# Refractive indices of organic liquids fall by 3.5e-4 to 5.5e-4 a kelvin; common practice.
_SLOPE = -4.5e-4
_AT = 293.15  # K
_FARTHEST = 15.0  # K: an index read further from that, of a melt or a liquefied gas, is left out
# What no liquid has at the sodium D line: perfluoroalkanes have 1.24, diiodomethane 1.74.
_LEAST, _MOST = 1.20, 1.80
# An index further off than this from both estimates, to the same side, is set aside, unless they
# are too uncertain there to say.
_FAR = 0.03
_UNLIKELY = 3.0  # standard uncertainties of an estimate
_MOST_LORENTZ = 0.6  # of (n2 - 1)/(n2 + 2), for what is not a liquid


@dataclass(frozen=True)
class _Index:
    """A published refractive index, carried to 20 degrees Celsius.

    Parameters
    ----------
    value : float
    source : str
        The collection.
    """

    value: float
    source: str


def _published(cas: str) -> list[_Index]:
    """Return each collection's refractive index of a compound at 20 degrees Celsius.

    A collection may print no temperature: nearly all of those that do print 20 degrees. It may
    print one at which the compound is a melt or a liquefied gas: that index is left out.
    """
    found = []
    for method in refractivity.RI_methods(cas):
        value, temperature = refractivity.RI(cas, method=method)
        if value is None:
            continue
        off = (temperature or _AT) - _AT
        if abs(off) <= _FARTHEST and _LEAST < value < _MOST:
            found.append(_Index(float(value) - _SLOPE * off, method))
    return found


@dataclass(frozen=True)
class RefractiveIndex:
    """The refractive index of a compound.

    Parameters
    ----------
    value : float
        NaN where none is published, or none that can be right.
    source : str
    set_aside : str
        Which published values were not used, and why.
    """

    value: float = math.nan
    source: str = ""
    set_aside: str = ""

    def cells(self) -> dict[str, str | float]:
        """Return it by column of the table."""
        return {
            _COLUMN: self.value,
            f"{_COLUMN}_source": self.source,
            f"{_COLUMN}_set_aside": self.set_aside,
        }


@dataclass(frozen=True)
class _Testimony:
    """An estimate of the refractive indices of n compounds, each left out.

    Parameters
    ----------
    what : str
        What it follows from.
    value, u : arrays, shape (n,)
        At 20 degrees Celsius, and its standard uncertainty; NaN where there is none.
    """

    what: str
    value: Array
    u: Array

    def beyond(self, row: int, index: float) -> float:
        """Return how far an index is off beyond what may be; below zero where it is too low."""
        off = index - float(self.value[row])
        limit = max(_FAR, _UNLIKELY * float(self.u[row]))
        return math.copysign(max(abs(off) - limit, 0.0), off) if math.isfinite(off) else 0.0


def refractive_indices(
    cas: Sequence[str],
    skeletons: list[str],
    features: Array,
    atoms: Array,
    volume: Array,
    corrections: Sequence[HandCorrection],
) -> list[RefractiveIndex]:
    """Return the refractive index of each compound, audited.

    Two estimates testify: from the structure alone, and from the density by the molar refraction,
    ``R = V (n2 - 1)/(n2 + 2)``, which is nearly a sum over the atoms and is itself learned from
    the other compounds. What is far from both, to the same side, is set aside.

    Parameters
    ----------
    cas, skeletons : sequence of str, length n
    features : array, shape (n, d)
        Descriptors of the structures.
    atoms : array, shape (n, elements)
    volume : array, shape (n,)
        Molar volume [cm3/mol] at 20 degrees Celsius; NaN where not known.
    corrections : sequence of HandCorrection
        What was decided by hand stands whatever the estimates say.
    """
    by_hand = {one.cas: _by_hand(one) for one in corrections if one.column == _COLUMN}
    listed = [[] if number in by_hand else _published(number) for number in cas]
    known = np.full(len(cas), np.nan)
    for row, number in enumerate(cas):
        if number in by_hand:
            known[row] = by_hand[number].value
        elif listed[row]:
            known[row] = listed[row][0].value
    witnesses = (
        _from_structure(known, features, skeletons),
        _from_density(known, features, skeletons, atoms, volume),
    )
    return [
        by_hand.get(number) or _audited(one, row, witnesses)
        for row, (number, one) in enumerate(zip(cas, listed, strict=True))
    ]


def _by_hand(correction: HandCorrection) -> RefractiveIndex:
    if not correction.value:
        return RefractiveIndex(set_aside=correction.why)
    return RefractiveIndex(float(correction.value), BY_HAND, correction.why)


def _from_structure(known: Array, features: Array, skeletons: list[str]) -> _Testimony:
    estimates = left_out_estimates(features, known, skeletons)
    return _Testimony("from structure", estimates.value, estimates.u)


def _from_density(
    known: Array, features: Array, skeletons: list[str], atoms: Array, volume: Array
) -> _Testimony:
    refraction = volume * (known**2 - 1.0) / (known**2 + 2.0)
    by_atoms = sums_over_atoms(refraction, atoms)
    estimates = left_out_estimates(features, np.log(refraction / by_atoms), skeletons)
    ratio = by_atoms * np.exp(estimates.value) / volume
    ratio = np.where((ratio > 0.0) & (ratio < _MOST_LORENTZ), ratio, np.nan)
    value = np.sqrt((1.0 + 2.0 * ratio) / (1.0 - ratio))
    # dn/dR, from R = V (n2 - 1)/(n2 + 2).
    slope = (value**2 - 1.0) * (value**2 + 2.0) / (6.0 * value)
    return _Testimony("from the density", value, estimates.u * slope)


def _audited(
    listed: Sequence[_Index], row: int, witnesses: Sequence[_Testimony]
) -> RefractiveIndex:
    """Return the first index that is not far from every estimate, and why the others are not it."""
    apart: list[str] = []
    for one in listed:
        beyond = [witness.beyond(row, one.value) for witness in witnesses]
        if not (min(beyond) > 0.0 or max(beyond) < 0.0):
            return RefractiveIndex(one.value, one.source, "; ".join(apart))
        told = " and ".join(f"{witness.value[row]:.3f} {witness.what}" for witness in witnesses)
        apart.append(f"{one.source} lists {one.value:.4f}; estimated {told}")
    return RefractiveIndex(set_aside="; ".join(apart))
