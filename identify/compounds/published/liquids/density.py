"""Densities at 20 and 25 degrees Celsius: a consensus of what is published, or an estimate."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from chemicals.miscdata import COMMON_CHEMISTRY

from identify.compounds.published.corrections import BY_HAND, HandCorrection
from identify.compounds.published.liquids.atoms import sums_over_atoms
from identify.compounds.published.liquids.densities import (
    AT_20,
    AT_25,
    Density,
    ListedLiquid,
    published_densities,
)
from identify.compounds.published.liquids.left_out import left_out_estimates
from identify.compounds.table import ESTIMATED
from identify.physics.arrays import Array
from identify.physics.liquid import Critical, density_at

_AGREE = 0.01  # relative
# Of an estimate's standard uncertainties: a lone value further off is set aside.
_UNLIKELY = 4.0
_LEAST_FAR = 0.03  # however certain the estimate is said to be
_BY_HAND_U = 0.002
# One value alone may be a misprint or another compound's: of the handbook's densities one in
# twenty is more than 1.2 % off an equation's, of Common Chemistry's one in ten more than 1.9 %.
_ALONE = 2.0
# How much a collection counts for: Common Chemistry often repeats the handbook. From so
# much on, values that agree stand against the estimate.
_WEIGHTS = {COMMON_CHEMISTRY: 0.4}
_SURE = 1.5
_CHI_SQUARED_EACH = 8.0  # what one collection more is worth against the estimate
_LEAST_U = 0.001  # what purity, air and water make of the density of a bottle


@dataclass(frozen=True)
class LiquidDensity:
    """The density of a liquid.

    Parameters
    ----------
    at_20, at_25 : float
        In kg/m3.
    u : float
        Standard uncertainty [kg/m3].
    source : str
    set_aside : str
        Which published values were not used, and why.
    """

    at_20: float
    at_25: float
    u: float
    source: str
    set_aside: str = ""

    def cells(self) -> dict[str, str | float]:
        """Return it by column of the table."""
        return {
            "liquid_density_20C": self.at_20,
            "liquid_density_25C": self.at_25,
            "liquid_density_u": self.u,
            "liquid_density_source": self.source,
            "liquid_density_set_aside": self.set_aside,
        }


@dataclass(frozen=True)
class Compounds:
    """What densities are estimated from, of n compounds.

    Parameters
    ----------
    cas, skeletons : list of str
    molar_mass : array, shape (n,)
        In g/mol.
    melting_point, boiling_point : array, shape (n,)
        In K; NaN where not known.
    atoms : array, shape (n, elements)
    descriptors : array, shape (n, d)
    critical : Critical
    """

    cas: Sequence[str]
    skeletons: list[str]
    molar_mass: Array
    melting_point: Array
    boiling_point: Array
    atoms: Array
    descriptors: Array
    critical: Critical

    @cached_property
    def features(self) -> Array:
        """What tells a volume beyond the atoms: the structure, and how near the critical point is.

        Shape (n, d + 2).
        """
        nearness = AT_25 / self.critical.temperature, self.critical.acentric
        return np.column_stack([self.descriptors, *nearness])

    @cached_property
    def expansion(self) -> Array:
        """Relative change of the density for each kelvin at 25 degrees Celsius, shape (n,)."""
        at_20 = density_at(AT_20, np.ones(len(self.cas)), AT_25, self.critical)
        return np.asarray((at_20 - 1.0) / (AT_20 - AT_25))


def liquid_densities(
    compounds: Compounds,
    corrections: Sequence[HandCorrection],
    left_out: tuple[str, ...] = (),
) -> list[LiquidDensity | None]:
    """Return the density of each compound, None where it boils off at once.

    Parameters
    ----------
    compounds : Compounds
    corrections : sequence of HandCorrection
    left_out : tuple of str
        Collections not to be used.
    """
    by_hand = {one.cas: one for one in corrections if one.column == "liquid_density_25C"}
    expansion = compounds.expansion
    liquids = map(
        ListedLiquid,
        compounds.cas,
        compounds.molar_mass.tolist(),
        compounds.melting_point.tolist(),
        compounds.boiling_point.tolist(),
        expansion.tolist(),
    )
    published = [_published(liquid, by_hand.get(liquid.cas), left_out) for liquid in liquids]
    typical = np.array([_typical(listed) for listed in published])
    volume, u = estimated_volumes(compounds, typical)
    found: list[LiquidDensity | None] = []
    for row, listed in enumerate(published):
        if not math.isfinite(expansion[row]):
            found.append(None)
            continue
        estimate = float(1e3 * compounds.molar_mass[row] / volume[row])
        density = _consensus(listed, estimate, float(u[row]), float(expansion[row]))
        if correction := by_hand.get(compounds.cas[row]):
            density = replace(density, set_aside=correction.why)
        found.append(density)
    return found


def _published(
    liquid: ListedLiquid, by_hand: HandCorrection | None, left_out: tuple[str, ...]
) -> list[Density]:
    if not math.isfinite(liquid.expansion):
        return []
    if by_hand is None:
        return published_densities(liquid, left_out)
    if not by_hand.value:
        return []
    return [Density(BY_HAND, float(by_hand.value), math.nan, _BY_HAND_U)]


def estimated_volumes(compounds: Compounds, density: Array) -> tuple[Array, Array]:
    """Return the molar volume of each compound from the others', and its uncertainty.

    Parameters
    ----------
    compounds : Compounds
    density : array, shape (n,)
        At 25 degrees Celsius [kg/m3]; NaN where none is published.

    Returns
    -------
    volume, relative_u : arrays, shape (n,)
        In cm3/mol at 25 degrees Celsius.
    """
    logarithm = np.log(1e3 * compounds.molar_mass / density)
    by_atoms = np.log(sums_over_atoms(np.exp(logarithm), compounds.atoms))
    estimates = left_out_estimates(compounds.features, logarithm - by_atoms, compounds.skeletons)
    return np.exp(by_atoms + estimates.value), estimates.u


def _typical(listed: Sequence[Density]) -> float:
    """Return the density of the most exact collection, NaN where there is none."""
    return min(listed, key=lambda one: one.u).at_25 if listed else math.nan


def _consensus(
    listed: Sequence[Density], estimate: float, u: float, expansion: float
) -> LiquidDensity:
    """Return the density that the collections and the estimate lead to.

    The values that agree with most others, weighed by their uncertainties, and with the estimate
    where it decides; a lone value far from the estimate is set aside.

    Parameters
    ----------
    listed : sequence of Density
    estimate : float
        At 25 degrees Celsius [kg/m3].
    u : float
        Its relative standard uncertainty.
    expansion : float
        See `ListedLiquid`.
    """
    used = _agreeing(listed, estimate, u)
    rest = [one for one in listed if one not in used]
    slopes = [one.at_20 / one.at_25 for one in used if math.isfinite(one.at_20)]
    slope = float(np.median(slopes)) if slopes else 1.0 + expansion * (AT_20 - AT_25)
    at_25, what, relative_u, sources = estimate, "the estimate from structure", u, [ESTIMATED]
    if used:
        at_25, what = _middle(used), "the value used"
        relative_u, sources = _uncertainty(used, rest, estimate, u), [one.source for one in used]
    apart = "; ".join(_told(one, at_25, what) for one in rest)
    return LiquidDensity(at_25 * slope, at_25, relative_u * at_25, ", ".join(sources), apart)


def _uncertainty(
    used: Sequence[Density], rest: Sequence[Density], estimate: float, u: float
) -> float:
    """Return how uncertain the values used are, relative, beside those that were set aside."""
    at_25 = _middle(used)
    # Collections copy from each other: what they agree on is not surer for their number.
    spread = 0.5 * max(_off(one, at_25) for one in used)
    relative_u = math.hypot(min(one.u for one in used), spread, _LEAST_U)
    if _weight(used) < _SURE and used[0].source != BY_HAND:
        # Another value that may be right as well leaves it open.
        open_by = [_off(one, at_25) for one in rest if _off(one, estimate) < _far(u)]
        relative_u = math.hypot(_ALONE * relative_u, 0.5 * max(open_by, default=0.0))
    return relative_u


def _middle(used: Sequence[Density]) -> float:
    """Return the median of three and more, the weighted mean of two [kg/m3]."""
    values = np.array([one.at_25 for one in used])
    if len(used) > 2:
        return float(np.median(values))
    return float(np.average(values, weights=[one.u**-2.0 for one in used]))


def _agreeing(listed: Sequence[Density], estimate: float, u: float) -> list[Density]:
    """Return the values that agree with each other, or a lone one with the estimate."""
    if any(one.source == BY_HAND for one in listed):
        return list(listed)
    groups = [[one for one in listed if _off(one, middle.at_25) < _AGREE] for middle in listed]
    groups = [one for one in groups if _weight(one) >= _SURE or _off(one[0], estimate) < _far(u)]
    return min(groups, key=lambda group: _cost(group, estimate, u), default=[])


def _far(u: float) -> float:
    return max(_UNLIKELY * u, _LEAST_FAR)


def _off(one: Density, other: float) -> float:
    return abs(one.at_25 / other - 1.0)


def _cost(group: Sequence[Density], estimate: float, u: float) -> float:
    """Return how little speaks for a group: its collections, and the estimate."""
    return ((_middle(group) / estimate - 1.0) / u) ** 2 - _CHI_SQUARED_EACH * _weight(group)


def _weight(group: Sequence[Density]) -> float:
    return sum(_WEIGHTS.get(one.source, 1.0) for one in group)


def _told(one: Density, other: float, what: str) -> str:
    off = 100.0 * (one.at_25 / other - 1.0)
    return (
        f"{one.source} {one.at_25 / 1e3:.4f} g/mL at 25 °C: {abs(off):.1f} % "
        f"{'above' if off > 0.0 else 'below'} {what}"
    )
