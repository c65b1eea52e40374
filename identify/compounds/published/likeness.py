"""Constants of compounds that nobody has published them for, from the compounds most like them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from identify.compounds.published import corresponding_states as corresponding
from identify.compounds.table import CandidateTable
from identify.physics.constants import ICE_POINT

Array = NDArray[np.float64]

NEIGHBORS = 5
CRITICAL = f"median of the {NEIGHBORS} compounds most like it"
# What makes two compounds as unlike as each other: kelvins, g/mol, percentage points.
_BOILING_SCALE, _MOLAR_MASS_SCALE, _PERCENT_SCALE = 20.0, 15.0, 10.0


@dataclass(frozen=True)
class EstimatedConstants:
    """What the match needs beyond composition and boiling point, for n compounds.

    Parameters
    ----------
    critical_temperature, critical_pressure, acentric : arrays, shape (n,)
        In K, Pa, and without unit.
    vapor_curve : array, shape (n, 3)
    virial : array, shape (n, 4)
        In m3/mol.
    usual : array of bool, shape (n,)
        Where the vapor-pressure curve comes from usual critical constants, for want of sound ones.
    """

    critical_temperature: Array
    critical_pressure: Array
    acentric: Array
    vapor_curve: Array
    virial: Array
    usual: NDArray[np.bool_]

    def columns(self) -> dict[str, Array]:
        """Return the number columns of a candidate table that these fill."""
        columns = {
            "critical_temperature_K": self.critical_temperature,
            "critical_pressure_Pa": self.critical_pressure,
            "acentric_factor": self.acentric,
        }
        columns |= {f"vapor_curve_{x}": y for x, y in zip("abc", self.vapor_curve.T, strict=True)}
        columns |= {f"virial_{order}": values for order, values in enumerate(self.virial.T)}
        return columns

    def sources(self) -> dict[str, list[str]]:
        """Return the text columns that say where these come from."""
        curves = (corresponding.VAPOR_CURVE, corresponding.USUAL_CONSTANTS)
        return {
            "critical_source": [CRITICAL] * len(self.usual),
            "vapor_curve_source": [curves[usual] for usual in self.usual.tolist()],
            "virial_source": [corresponding.VIRIAL] * len(self.usual),
        }


class Likeness:
    """A table's compounds by boiling point, molar mass and composition.

    Parameters
    ----------
    table : CandidateTable

    Examples
    --------
    >>> from identify.compounds.loading import load_candidates
    >>> percent = np.array([[52.14, 13.13, 0.0, 34.73, *[0.0] * 8]])
    >>> found = Likeness(load_candidates()).constants(np.array([78.4]), np.array([46.07]), percent)
    >>> bool(abs(found.critical_temperature[0] - 514.0) < 10.0)
    True
    """

    def __init__(self, table: CandidateTable) -> None:
        from scipy.spatial import cKDTree

        boiling_point = table.number("boiling_point_C")
        self._ratio = table.number("critical_temperature_K") / (boiling_point + ICE_POINT)
        self._pressure = table.number("critical_pressure_Pa")
        self._neighbors = range(1, min(NEIGHBORS, len(table)) + 1)
        places = _scaled(boiling_point, table.number("molar_mass"), table.percent)
        # Half the time of the usual tree: whole percentages and homologs make lumps and long lines.
        self._tree = cKDTree(places, leafsize=64, balanced_tree=False)

    def constants(
        self, boiling_point: Array, molar_mass: Array, percent: Array
    ) -> EstimatedConstants:
        """Return the constants of compounds by their boiling points.

        The ratio of critical temperature and boiling point, and the critical pressure, are the
        median of the compounds most like each; the rest follows by corresponding states.

        Parameters
        ----------
        boiling_point : array, shape (n,)
            Normal boiling point [degrees Celsius].
        molar_mass : array, shape (n,)
            In g/mol.
        percent : array, shape (n, 12)
            Percent by mass of each of ``ELEMENTS``.
        """
        places = _scaled(boiling_point, molar_mass, percent)
        _, nearest = self._tree.query(places, k=self._neighbors)
        boiling = boiling_point + ICE_POINT
        temperature = boiling * _median(self._ratio[nearest])
        pressure = _median(self._pressure[nearest])
        acentric = corresponding.acentric_factor(boiling, temperature, pressure)
        curve, usual = corresponding.vapor_curves(boiling, temperature, pressure)
        virial = corresponding.virial_coefficients(temperature, pressure, acentric)
        return EstimatedConstants(temperature, pressure, acentric, curve, virial, usual)


def _median(values: Array) -> Array:
    """Return the median of each row; a third of the time that numpy's own takes for so few."""
    ordered = np.sort(values, axis=1)
    count = values.shape[1]
    return np.asarray(0.5 * (ordered[:, (count - 1) // 2] + ordered[:, count // 2]))


def _scaled(boiling_point: Array, molar_mass: Array, percent: Array) -> Array:
    return np.column_stack(
        [
            boiling_point / _BOILING_SCALE,
            molar_mass / _MOLAR_MASS_SCALE,
            percent / _PERCENT_SCALE,
        ]
    )
