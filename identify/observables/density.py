"""The density of the liquid."""

from __future__ import annotations

import numpy as np

from identify.observables.liquid_constant import LiquidConstant, LiquidConstants
from identify.observables.refractive_index import REFRACTIVE_INDEX
from identify.physics.arrays import Array
from identify.physics.constants import ATOMIC_WEIGHTS, ELEMENTS
from identify.physics.liquid import Critical, density_at, volume_by_formula, volume_by_refraction

_TABLE_TEMPERATURE, _OTHER_TEMPERATURE = 298.15, 293.15  # K: of the table's two columns
# A density that falls by less than half, or more than twice, what Rackett's equation says is wrong.
_STEEPNESS = (0.5, 2.0)

# Standard uncertainties of densities, of the density: where a table lists a density without its
# uncertainty, and where it lists none. scripts/liquid_volumes.py measures those of the estimates.
_LISTED_U = 0.002
_BY_REFRACTION_U = 0.025
_BY_FORMULA_U = 0.032
# Nitrogen is in amines, nitriles, amides and nitro compounds alike: one increment fits none well.
_WITH_NITROGEN = 1.5
# What the refractive index says is worth more than the formula alone: the best of both.
_SHARE_OF_REFRACTION = 0.7


def _predicted(liquids: LiquidConstants, temperature: float) -> tuple[Array, Array]:
    table = liquids.columns
    critical = Critical(table.number("critical_temperature_K"), table.number("acentric_factor"))
    listed, listed_u = table.number("liquid_density_25C"), table.number("liquid_density_u")
    is_listed = np.isfinite(listed)
    estimate, estimate_u = _estimate(liquids, critical)
    known = np.where(is_listed, listed, estimate)
    steepness = _steepness(table.number("liquid_density_20C") / listed, critical)
    value = density_at(temperature, known, _TABLE_TEMPERATURE, critical, steepness)
    relative_u = np.where(np.isfinite(listed_u), listed_u / listed, _LISTED_U)
    return value, value * np.where(is_listed, relative_u, estimate_u)


def _steepness(ratio: Array, critical: Critical) -> Array:
    """Return how much faster a density falls than Rackett's equation says; 1 where not known.

    Parameters
    ----------
    ratio : array, shape (n,)
        Density at 20 degrees Celsius over that at 25; NaN where not known.
    critical : Critical
    """
    one = np.ones_like(ratio)
    usual = density_at(_OTHER_TEMPERATURE, one, _TABLE_TEMPERATURE, critical)
    steepness = np.log(ratio) / np.log(usual)
    return np.where(np.isfinite(steepness), np.clip(steepness, *_STEEPNESS), 1.0)


def _estimate(liquids: LiquidConstants, critical: Critical) -> tuple[Array, Array]:
    """Return densities at 25 degrees Celsius [kg/m3], and their uncertainties relative."""
    table = liquids.columns
    molar_mass, percent = table.number("molar_mass"), table.percent
    atoms = {
        element: np.rint(percent[:, place] * molar_mass / (100.0 * ATOMIC_WEIGHTS[element]))
        for place, element in enumerate(ELEMENTS)
    }
    by_formula = volume_by_formula(atoms, critical.reduced(_TABLE_TEMPERATURE))
    index, _ = liquids.predicted(REFRACTIVE_INDEX, _TABLE_TEMPERATURE)
    by_refraction = volume_by_refraction(atoms, index)
    both = _SHARE_OF_REFRACTION * by_refraction + (1.0 - _SHARE_OF_REFRACTION) * by_formula
    has_index = np.isfinite(both)
    volume = np.where(has_index, both, by_formula)
    uncertainty = np.where(has_index, _BY_REFRACTION_U, _BY_FORMULA_U)
    uncertainty = uncertainty * np.where(atoms["N"] > 0.0, _WITH_NITROGEN, 1.0)
    return 1e3 * molar_mass / volume, uncertainty


# Bandwidth and spread as the table's liquids below 100 degrees Celsius have them; the chance of a
# gross error as for the other readings. Tolerance: common practice for a small pycnometer or a
# pipette on a balance.
DENSITY = LiquidConstant(
    name="density",
    words="density",
    unit="g/mL",
    bench_unit="kg/m3",
    tolerance=0.01,
    tolerance_unit="g/mL",
    decimals=3,
    headings="density, d *",
    predict=_predicted,
    has_temperature=True,
    column="liquid_density_25C",
    column_unit="kg/m3",
    column_decimals=0,
    column_words="density at 25 °C",
    column_heading="g/mL\noff",
    gross=0.02,
    gross_scale=100.0,
    bandwidth=40.0,
    usual=850.0,
    spread=200.0,
    least=0.5,
    allowance=40.0,
    plural="densities",
    help="Of the liquid, in g/mL unless you say kg/m3",
)
