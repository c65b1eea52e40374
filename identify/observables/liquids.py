"""Refractive index, density and melting point of every candidate, with what each is good for."""

from __future__ import annotations

import numpy as np

from identify.observables.constants import Constants
from identify.observables.likelihood import Array
from identify.physics.constants import ATOMIC_WEIGHTS, ELEMENTS, ICE_POINT
from identify.physics.liquid import (
    Critical,
    density_at,
    volume_by_formula,
    volume_by_refraction,
)

USUAL_TEMPERATURE = 293.15  # K: handbooks list refractive index and density at 20 degrees Celsius
_TABLE_DENSITY = 298.15  # K

# Organic liquids: -3.5e-4 to -5.5e-4 a kelvin; common practice.
_INDEX_SLOPE, _INDEX_SLOPE_U = -4.5e-4, 0.5e-4
_INDEX_U = 0.0008  # at 20 degrees Celsius

# Standard uncertainties of densities, of the density; scripts/liquid_volumes.py measures those of
# the estimates, tests/references the published ones'.
_PUBLISHED_U = 0.002
_BY_REFRACTION_U = 0.022
_BY_FORMULA_U = 0.032
# Nitrogen is in amines, nitriles, amides and nitro compounds alike: one increment fits none well.
_WITH_NITROGEN = 2.0
# What the refractive index says is worth more than the formula alone: the best of both.
_SHARE_OF_REFRACTION = 0.7

# Of 5300 compounds in two of the collections two thirds agree within 1.2 K.
_MELTING_U = 1.0  # K

_KEPT = 32


class LiquidConstants:
    """The table's constants of the liquids, worked out when first asked for.

    Parameters
    ----------
    table : Constants
    """

    def __init__(self, table: Constants) -> None:
        self._table = table
        self._known: dict[tuple[str, float], tuple[Array, Array]] = {}

    def predicted(self, name: str, temperature: float | None = None) -> tuple[Array, Array]:
        """Return what each candidate would have read.

        Parameters
        ----------
        name : {"refractive_index", "density", "melting_point"}
        temperature : float, optional
            Of the reading [K]; 20 degrees Celsius where not given. A melting point has none.

        Returns
        -------
        value, standard_uncertainty : arrays, shape (n,)
            [-], [kg/m3] or [K]; NaN where the table knows nothing.

        Raises
        ------
        KeyError
            If there is no such constant.

        Examples
        --------
        >>> from identify.compounds.loading import load_candidates
        >>> table = load_candidates()
        >>> ethanol = table.find("64-17-5")[0]
        >>> value, uncertainty = LiquidConstants(table).predicted("density")
        >>> print(f"{value[ethanol]:.0f} give or take {uncertainty[ethanol]:.0f} kg/m3")
        792 give or take 2 kg/m3
        """
        work_out = {
            "refractive_index": self._refractive_index,
            "density": self._density,
            "melting_point": self._melting_point,
        }[name]
        at = USUAL_TEMPERATURE if temperature is None else float(temperature)
        found = self._known.get((name, at))
        if found is None:
            if len(self._known) >= _KEPT:
                self._known.clear()
            found = self._known[name, at] = work_out(at)
        return found

    def _refractive_index(self, temperature: float) -> tuple[Array, Array]:
        listed = self._table.number("refractive_index")
        off = temperature - USUAL_TEMPERATURE
        uncertainty = float(np.hypot(_INDEX_U, _INDEX_SLOPE_U * off))
        return listed + _INDEX_SLOPE * off, np.where(np.isnan(listed), np.nan, uncertainty)

    def _density(self, temperature: float) -> tuple[Array, Array]:
        critical = Critical(
            self._table.number("critical_temperature_K"), self._table.number("acentric_factor")
        )
        listed = self._table.number("liquid_density_25C")
        estimate, estimate_u = self._density_estimate(critical)
        published = np.isfinite(listed)
        value = density_at(
            temperature, np.where(published, listed, estimate), _TABLE_DENSITY, critical
        )
        return value, value * np.where(published, _PUBLISHED_U, estimate_u)

    def _density_estimate(self, critical: Critical) -> tuple[Array, Array]:
        """Return densities at 25 degrees Celsius [kg/m3], and their uncertainties relative."""
        molar_mass, percent = self._table.number("molar_mass"), self._table.percent
        atoms = {
            element: np.rint(percent[:, place] * molar_mass / (100.0 * ATOMIC_WEIGHTS[element]))
            for place, element in enumerate(ELEMENTS)
        }
        by_formula = volume_by_formula(atoms, critical.reduced(_TABLE_DENSITY))
        index, _ = self.predicted("refractive_index", _TABLE_DENSITY)
        by_refraction = volume_by_refraction(atoms, index)
        both = _SHARE_OF_REFRACTION * by_refraction + (1.0 - _SHARE_OF_REFRACTION) * by_formula
        has_index = np.isfinite(both)
        volume = np.where(has_index, both, by_formula)
        uncertainty = np.where(has_index, _BY_REFRACTION_U, _BY_FORMULA_U)
        uncertainty = uncertainty * np.where(atoms["N"] > 0.0, _WITH_NITROGEN, 1.0)
        return 1e3 * molar_mass / volume, uncertainty

    def _melting_point(self, temperature: float) -> tuple[Array, Array]:
        value = self._table.number("melting_point_C") + ICE_POINT
        return value, np.where(np.isnan(value), np.nan, _MELTING_U)
