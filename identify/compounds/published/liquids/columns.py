"""The columns of refractive index and density, filled in for a table in the making."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from identify.chemistry.structures import Structure
from identify.compounds.columns import TableColumns
from identify.compounds.published.corrections import HandCorrection
from identify.compounds.published.liquids.density import Compounds, liquid_densities
from identify.compounds.published.liquids.indices import refractive_indices
from identify.physics.arrays import Array
from identify.physics.constants import ELEMENTS
from identify.physics.liquid import Critical


def set_liquid_columns(
    rows: TableColumns,
    identities: Sequence[tuple[str, Structure]],
    melting_point: Array,
    boiling_point: Array,
    descriptors: Array,
    corrections: Sequence[HandCorrection] = (),
    left_out: tuple[str, ...] = (),
) -> None:
    """Set refractive index and density of compounds whose critical constants are set.

    Parameters
    ----------
    rows : TableColumns
    identities : sequence of (str, Structure)
        CAS number and structure of each row.
    melting_point, boiling_point : array, shape (n,)
        In K; NaN where not known.
    descriptors : array, shape (n, d)
    corrections : sequence of HandCorrection
    left_out : tuple of str
        Collections not to be used.
    """
    cas = [number for number, _ in identities]
    structures = [structure for _, structure in identities]
    skeletons = [structure.inchikey[:14] for structure in structures]
    compounds = Compounds(
        cas=cas,
        skeletons=skeletons,
        molar_mass=np.array([structure.molar_mass for structure in structures]),
        melting_point=melting_point,
        boiling_point=boiling_point,
        atoms=np.array([[one.atoms[element] for element in ELEMENTS] for one in structures], float),
        descriptors=descriptors,
        critical=Critical(rows.numbers["critical_temperature_K"], rows.numbers["acentric_factor"]),
    )
    for row, density in enumerate(liquid_densities(compounds, corrections, left_out)):
        if density is not None:
            rows.fill(row, density.cells())
    indices = refractive_indices(
        cas,
        skeletons,
        descriptors,
        compounds.atoms,
        1e3 * compounds.molar_mass / rows.numbers["liquid_density_20C"],
        corrections,
    )
    for row, index in enumerate(indices):
        rows.fill(row, index.cells())
