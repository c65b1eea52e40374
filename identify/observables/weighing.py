"""The molar mass that the weighings give, or that was worked out from them before."""

from __future__ import annotations

import numpy as np

from identify.observables.comparison import Comparison
from identify.observables.observable import Observable
from identify.physics.arrays import Array

# The gross error: common practice puts slips at one to a few in a hundred entries. Its scale is 0.5
# in the logarithm of a molar mass, which is a factor 1.65; with this scale the Laplace density is a
# plain square, see `compare_molar_mass`. Bandwidth and least uncertainty are of the molar mass. A
# compound like none in the table lies around 100 g/mol, with a scale of 1 in the logarithm; common
# practice: liquids for this experiment lie well inside.
MOLAR_MASS = Observable(
    name="molar_mass",
    words="molar mass",
    unit="g/mol",
    bench_unit="g/mol",
    tolerance=5.0,
    tolerance_unit="%",
    decimals=1,
    headings="molar mass relative?, formula mass, mm, mr, mass *",
    gross=0.02,
    gross_scale=0.5,
    bandwidth=0.15,
    least=0.003,
    usual=100.0,
    spread=1.0,
)


def compare_molar_mass(
    observed: Array | float,
    molar_mass: Array,
    sigma: Array | float,
    vaporized: Array | float = 1.0,
    shortcut: float | None = None,
) -> Comparison:
    """Compare the molar mass that the bench gave with each candidate's.

    Parameters
    ----------
    observed : array, shape (n,), or float
        Molar mass [g/mol], worked out with each candidate's corrections.
    molar_mass : array, shape (n,)
        The candidates' [g/mol].
    sigma : array, shape (n,), or float
        Standard uncertainty of ``observed`` [g/mol].
    vaporized : array, shape (n,), or float
        Chance that the liquid boiled off in the bath; where it did not, the weighing says nothing.
    shortcut : float, optional
        Molar mass without any candidate's corrections [g/mol], for a compound like none in the
        table; the median of ``observed`` where not given.
    """
    # A loss of mass gives a negative molar mass: as far off as can be, and no logarithm.
    positive = np.maximum(observed, 1e-3)
    ratio = positive / molar_mass
    # Laplace density of ln(ratio) with scale 1/2: exp(-2 |ln ratio|) = min(ratio, 1/ratio)^2.
    nearness = np.minimum(ratio, 1.0 / ratio)
    return Comparison(
        deviation=observed - molar_mass,
        sigma=sigma,
        half_width=2.0 * sigma,
        gross=1.0 - (1.0 - MOLAR_MASS.gross) * vaporized,
        gross_density=nearness * nearness / positive,
        bandwidth=np.hypot(MOLAR_MASS.bandwidth * molar_mass, sigma),
        any_density=_any_molar_mass(
            float(np.median(positive)) if shortcut is None else max(shortcut, 1e-3)
        ),
    )


def _any_molar_mass(observed: float) -> float:
    ratio = observed / MOLAR_MASS.usual
    return min(ratio, 1.0 / ratio) / (2.0 * observed)
