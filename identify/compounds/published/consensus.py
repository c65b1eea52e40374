"""One boiling point from collections that disagree, with a standard uncertainty of its own.

Each collection is a witness with a core error, a wider one, and a chance of a gross error (a value
under vacuum, another compound's). The estimate from structure testifies too, with a heavy tail.
The posterior over temperature is summed on a grid; where no published value has a share in it,
the value is set aside and the estimate stands.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from identify.physics.arrays import Array
from identify.physics.constants import ICE_POINT


@dataclass(frozen=True)
class _Witness:
    """How a collection errs: core standard error [K], and chance of a gross error.

    Read off the pairwise differences of the collections below 200 degrees Celsius: half the
    differences between two of them are under 0.3 K, one in ten above 2 to 4 K, and between 0.3 %
    and 1.4 % of a collection's values with three or more witnesses lie over 20 K too low; of
    values that stand alone in COMMON_CHEMISTRY or YAWS, about three in ten between 20 and 98
    degrees do. Vapor-pressure equations (VP) reach one atmosphere within 0.1 K of each other in
    the median, 0.2 K nine times in ten, but for the largest collection of them.
    """

    core: float
    gross: float


WITNESSES: Mapping[str, _Witness] = {
    "HEOS": _Witness(0.05, 0.01),
    "CRC_ORG": _Witness(0.3, 0.04),
    "CRC_INORG": _Witness(0.35, 0.02),
    "WEBBOOK": _Witness(0.5, 0.08),
    "WIKIDATA": _Witness(0.5, 0.08),
    "YAWS": _Witness(0.45, 0.30),
    "COMMON_CHEMISTRY": _Witness(0.5, 0.30),
    # Where the vapor-pressure equations of these collections reach one atmosphere.
    "VP_MCGARRY": _Witness(0.08, 0.02),
    "VP_POLING": _Witness(0.08, 0.02),
    "VP_PERRY": _Witness(0.10, 0.02),
    "VP_VDI": _Witness(0.10, 0.02),
    "VP_LANDOLT": _Witness(0.25, 0.10),
}
# Those of a group repeat each other's figures: equal values among them are one witness, and a
# better one than a figure that stands alone. Against CRC_ORG alone, of 28 such figures 5 K or more
# away, 25 were nearer to an estimate from structure that had seen neither.
_GROSS_REPEATED = 0.08
_COPYING = (
    ("YAWS", "COMMON_CHEMISTRY", "WIKIDATA", "WEBBOOK"),
    ("VP_MCGARRY", "VP_POLING", "VP_PERRY", "VP_VDI", "VP_LANDOLT", "YAWS"),
)
_SAME_K = 0.06

_WIDER_SHARE, _WIDER = 0.15, 6.0  # one value in seven errs six times as widely
_GROSS_DENSITY_BELOW = 1.0 / 200.0  # a vacuum value lies anywhere in 200 K below the truth
_GROSS_DENSITY_ABOVE = 1.0 / 1500.0
_COLDEST_VACUUM = ICE_POINT
_OFFSETS = np.unique(
    np.concatenate([sign * np.geomspace(0.01, 40.0, 60) for sign in (-1.0, 1.0)] + [[0.0]])
)


@dataclass(frozen=True)
class BoilingPoint:
    """The consensus: value and standard uncertainty [K], who agrees, and what was set aside."""

    value: float
    uncertainty: float
    published: bool
    source: str
    set_aside: str


def boiling_point_consensus(
    values: Mapping[str, float], estimate: float, spread: float
) -> BoilingPoint:
    """Return the consensus of published boiling points and the estimate from structure.

    Parameters
    ----------
    values : mapping of collection to float
        Published normal boiling points [K]; the collections of ``WITNESSES``.
    estimate, spread : float
        Estimate from structure and the scale of its error [K].

    Examples
    --------
    >>> sound = boiling_point_consensus({"CRC_ORG": 351.4, "YAWS": 351.5}, 349.0, 8.0)
    >>> round(sound.value, 1), sound.published
    (351.4, True)
    >>> vacuum = boiling_point_consensus({"YAWS": 369.2}, 560.0, 15.0)
    >>> vacuum.published, vacuum.set_aside
    (False, '96.1 C (YAWS): 191 K below the estimate from structure, a value under vacuum')
    """
    grid, density, support = _posterior(values, estimate, spread)
    if max(support.values()) < 0.5:
        nearest = min(values.values(), key=lambda published: abs(published - estimate))
        set_aside = _set_aside(values, estimate, nearest)
        return BoilingPoint(estimate, 1.25 * spread, False, "estimated from structure", set_aside)
    value, uncertainty = _center(grid, density)
    agreeing = [
        name
        for name in WITNESSES
        if name in values and abs(values[name] - value) <= max(2.0 * uncertainty, 2.0)
    ]
    others = {name: published for name, published in values.items() if name not in agreeing}
    counted = f"{len(agreeing)} of {len(values)} sources: {', '.join(agreeing) or 'in conflict'}"
    return BoilingPoint(value, uncertainty, True, counted, _set_aside(others, value, value))


def _posterior(
    values: Mapping[str, float], estimate: float, spread: float
) -> tuple[Array, Array, dict[str, float]]:
    """Return temperatures, their posterior, and how probably each collection is sound."""
    witnesses = _independent(values)
    span = np.linspace(estimate - 8 * spread, estimate + 8 * spread, 161)
    grid = np.unique(np.concatenate([span, *(value + _OFFSETS for _, value in witnesses)]))
    step = np.gradient(grid)
    density = step * (1.0 + ((grid - estimate) / (1.5 * spread)) ** 2 / 3.0) ** -2.0
    shares = {}
    for name, value in witnesses:
        witness = WITNESSES[name]
        if _repeats(values, name):
            witness = replace(witness, gross=min(witness.gross, _GROSS_REPEATED))
        likelihood, sound = _likelihood(witness, value, grid)
        density = density * likelihood
        shares[name] = sound / likelihood
    density /= density.sum()
    return grid, density, {name: float((density * one).sum()) for name, one in shares.items()}


def _independent(values: Mapping[str, float]) -> list[tuple[str, float]]:
    kept: dict[str, float] = {}
    for name in (known for known in WITNESSES if known in values):
        if not _repeats(kept | {name: values[name]}, name):
            kept[name] = values[name]
    return list(kept.items())


def _repeats(values: Mapping[str, float], name: str) -> bool:
    """Say whether another collection of a group has the same figure."""
    return any(
        name in group and other in group and abs(values[name] - value) < _SAME_K
        for group in _COPYING
        for other, value in values.items()
        if other != name
    )


def _likelihood(witness: _Witness, value: float, grid: Array) -> tuple[Array, Array]:
    deviation = value - grid
    core = np.exp(-0.5 * (deviation / witness.core) ** 2) / witness.core
    wide_scale = _WIDER * witness.core
    wide = np.exp(-0.5 * (deviation / wide_scale) ** 2) / wide_scale
    sound = (1 - witness.gross) * ((1 - _WIDER_SHARE) * core + _WIDER_SHARE * wide) / 2.5066
    # Nothing is distilled in the cold: a value below the ice point is a gas's, under no vacuum.
    below = _GROSS_DENSITY_BELOW if value > _COLDEST_VACUUM else _GROSS_DENSITY_ABOVE
    gross = witness.gross * np.where(deviation < 0, below, _GROSS_DENSITY_ABOVE)
    return sound + gross, sound


def _center(grid: Array, density: Array) -> tuple[float, float]:
    """Median of the posterior, and the root mean square distance of the posterior from it."""
    value = float(np.interp(0.5, np.cumsum(density) - 0.5 * density, grid))
    return value, float(np.sqrt((density * (grid - value) ** 2).sum()))


def _set_aside(values: Mapping[str, float], reference: float, nearest: float) -> str:
    """Say which values are not used: far from the consensus, or all where an estimate stands."""
    is_estimate = nearest != reference
    against = "the estimate from structure" if is_estimate else "the consensus"
    notes = []
    for name, value in values.items():
        gap = value - reference
        if abs(gap) < 5.0 and not is_estimate:
            continue
        side = "below" if gap < 0 else "above"
        note = f"{value - ICE_POINT:.1f} C ({name}): {abs(gap):.0f} K {side} {against}"
        notes.append(f"{note}, a value under vacuum" if gap < -25.0 and is_estimate else note)
    return "; ".join(notes)
