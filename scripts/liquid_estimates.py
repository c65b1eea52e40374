#!/usr/bin/env python3
"""Print how well densities and refractive indices are estimated, each compound left out.

Usage: python scripts/liquid_estimates.py

Takes the densities of the built-in table that are published, estimates each from the others by the
model of the build, and says how many errors are within the stated uncertainty.
"""

from __future__ import annotations

import numpy as np

from identify.chemistry.structures import Structure, describe
from identify.compounds.loading import load_candidates
from identify.compounds.published.liquids.density import Compounds, estimated_volumes
from identify.compounds.published.liquids.left_out import left_out_estimates
from identify.compounds.table import ESTIMATED, CandidateTable
from identify.physics.arrays import Array
from identify.physics.constants import ELEMENTS, ICE_POINT
from identify.physics.liquid import Critical

BATH = (20.0, 150.0)  # degrees Celsius: boiling points of what this table is mostly asked for
CLASSES = {
    "hydrocarbons": {"C", "H"},
    "with oxygen": {"C", "H", "O"},
    "with nitrogen": {"C", "H", "N", "O"},
    "with sulfur": {"C", "H", "N", "O", "S"},
    "with halogens": {"C", "H", "N", "O", "S", "F", "Cl", "Br", "I"},
    "others": set(ELEMENTS),
}


def compounds_of(table: CandidateTable) -> Compounds:
    """Return what densities are estimated from, of all rows of a table."""
    structures = [Structure(smiles) for smiles in table.text("smiles")]
    number = table.number
    return Compounds(
        cas=table.text("cas"),
        skeletons=[key[:14] for key in table.text("inchikey")],
        molar_mass=number("molar_mass"),
        melting_point=number("melting_point_C") + ICE_POINT,
        boiling_point=number("boiling_point_C") + ICE_POINT,
        atoms=np.array([[one.atoms[element] for element in ELEMENTS] for one in structures], float),
        descriptors=describe(structures),
        critical=Critical(number("critical_temperature_K"), number("acentric_factor")),
    )


def coverage_line(name: str, off: Array, u: Array) -> str:
    """Return errors, and the shares within the intervals that should hold 68 and 95 %."""
    size = np.abs(off)
    within = [float((size <= factor * u).mean()) for factor in (1.0, 1.96)]
    quantiles = ", ".join(f"{share:.0%} {np.quantile(size, share):.4f}" for share in (0.5, 0.95))
    return (
        f"  {name:<16} {len(off):5} liquids: off by less than {quantiles}; within the 68 % "
        f"interval {within[0]:.1%}, within the 95 % interval {within[1]:.1%}"
    )


def print_by_class(off: Array, u: Array, atoms: Array, boiling: Array) -> None:
    """Print the errors of all, of those that boil in a bath, and class by class."""
    known = np.isfinite(off)
    print(coverage_line("all", off[known], u[known]))
    bath = known & (boiling >= BATH[0]) & (boiling <= BATH[1])
    print(coverage_line("20 to 150 C", off[bath], u[bath]))
    left = bath
    for name, elements in CLASSES.items():
        others = [place for place, element in enumerate(ELEMENTS) if element not in elements]
        inside = left & ~atoms[:, others].any(axis=1)
        if inside.any():
            print(coverage_line(name, off[inside], u[inside]))
        left = left & ~inside


def main() -> None:
    """Estimate, and print."""
    table = load_candidates()
    compounds = compounds_of(table)
    boiling = table.number("boiling_point_C")
    published = [source not in ("", ESTIMATED) for source in table.text("liquid_density_source")]
    density = np.where(published, table.number("liquid_density_25C"), np.nan)
    volume, u = estimated_volumes(compounds, density)
    print("density, relative")
    off = np.log(1e3 * compounds.molar_mass / volume / density)
    print_by_class(off, u, compounds.atoms, boiling)
    index = table.number("refractive_index")
    estimates = left_out_estimates(compounds.descriptors, index, compounds.skeletons)
    print("refractive index, from the structure alone")
    print_by_class(estimates.value - index, estimates.u, compounds.atoms, boiling)


if __name__ == "__main__":
    main()
