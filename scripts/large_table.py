#!/usr/bin/env python3
"""A candidate table of millions, for benchmarks: substituent combinations, enumerated.

RDKit reads each core and each substituent once; the atoms of a combination are the sum of theirs.
The boiling points are a rough curve through the number of atoms and what makes them polar, with a
spread among isomers: of the right order, good for a benchmark and for nothing else.

Usage: python scripts/large_table.py OUT.parquet [--compounds 5000000]
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from itertools import combinations_with_replacement
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from identify.compounds.published.vapor.corresponding_states import (
    acentric_factor,
    virial_coefficients,
)
from identify.compounds.published.vapor.curves import vapor_curves
from identify.compounds.table import NUMBER_COLUMNS
from identify.notebook.saving import written_beside
from identify.physics.constants import ELEMENTS, ICE_POINT

# Each has four places; a combination fills them.
CORES = (
    "C({})({})({}){}",
    "C({})({})C({}){}",
    "C({})OC({})({}){}",
    "C({})({})OC({}){}",
    "C({})({})CC({}){}",
    "C({})N(C({}){}){}",
    "C1({})C({})C({})C1{}",
    "C1({})C({})C({})CC1{}",
    "c1({})c({})cc({})cc1{}",
    "c1({})cc({})c({})cc1{}",
    "O1C({})C({})C({})C1{}",
    "C({})(=O)C({})({}){}",
    "C({})SC({})({}){}",
    "C({})({})=C({}){}",
    "O=C(C({})({}){})O{}",
    "C({})({})C(=O)OC({}){}",
    "c1({})nc({})c({})cc1{}",
    "N1({})C({})C({})CC1{}",
    "c1({})c({})oc({})c1{}",
    "C({})({})CCC({}){}",
    "C({})OCCOC({})({}){}",
    "O1C({})OC({})C1({}){}",
    "C({})({})C(=O)C({}){}",
    "O=C(N({}){})C({}){}",
    "C({})(C#N)C({})({}){}",
)
# Rings are closed with another digit than those of the cores.
SUBSTITUENTS = (
    "[H]", "C", "CC", "CCC", "C(C)C", "CCCC", "CC(C)C", "C(C)CC", "C(C)(C)C", "CCCCC", "C=C",
    "CC=C", "C#C", "O", "CO", "OC", "OCC", "CCO", "COC", "N", "NC", "N(C)C", "CN", "F", "Cl",
    "Br", "I", "CF", "CCl", "CBr", "C(F)(F)F", "C#N", "CC#N", "C=O", "C(=O)C", "C(=O)OC",
    "OC(=O)C", "S", "SC", "CSC", "[N+](=O)[O-]", "C9CC9", "C9CCC9", "c9ccccc9", "Oc9ccccc9",
    "C(C)=O", "CCOC", "[Si](C)(C)C", "CCCl", "CC=O",
)  # fmt: skip
_HYDROGEN_BONDS = {"O": 45.0, "N": 18.0}  # K an atom with hydrogen on it; rough
_ROWS_AT_ONCE = 250_000


def compounds(count: int) -> Iterator[tuple[list[str], NDArray[np.int64], NDArray[np.float64]]]:
    """Yield SMILES, atoms of each element, and polarity of each compound, so many at a time.

    Core by core through all sets of four substituents, smaller ones first, so that a shorter
    table is the beginning of a longer one in every core.
    """
    kept = {text: _atoms(f"[*]{text}") for text in SUBSTITUENTS}
    cores = [(core, *_atoms(core.format(*["[*]"] * 4))) for core in CORES]
    order = sorted(
        combinations_with_replacement(range(len(SUBSTITUENTS)), 4),
        key=lambda four: (sum(int(kept[SUBSTITUENTS[one]][0].sum()) for one in four), four),
    )
    atoms = np.array([kept[text][0] for text in SUBSTITUENTS])
    polarity = np.array([kept[text][1] for text in SUBSTITUENTS])
    fours = np.array(order)
    fours = fours[: -(-count // len(cores))]
    left = count
    for core, own, own_polarity in cores:
        for start in range(0, len(fours), _ROWS_AT_ONCE):
            some = fours[start : start + min(_ROWS_AT_ONCE, left)]
            smiles = [core.format(*(SUBSTITUENTS[one] for one in four)) for four in some.tolist()]
            yield smiles, own + atoms[some].sum(axis=1), own_polarity + polarity[some].sum(axis=1)
            left -= len(some)
            if not left:
                return


def _atoms(smiles: str) -> tuple[NDArray[np.int64], float]:
    """Return the atoms of each element of a fragment, and what its hydrogen bonds add [K]."""
    from rdkit import Chem, rdBase

    with rdBase.BlockLogs():  # of a hydrogen that stands alone on its place
        molecule = Chem.MolFromSmiles(smiles)
    atoms = np.zeros(len(ELEMENTS), dtype=np.int64)
    polarity = 0.0
    for atom in molecule.GetAtoms():
        symbol, hydrogens = atom.GetSymbol(), atom.GetTotalNumHs()
        if symbol == "*" or symbol == "H":
            atoms[ELEMENTS.index("H")] += symbol == "H"
            continue
        atoms[ELEMENTS.index(symbol)] += 1
        atoms[ELEMENTS.index("H")] += hydrogens
        polarity += _HYDROGEN_BONDS.get(symbol, 0.0) * (hydrogens > 0)
    return atoms, polarity


def columns(
    smiles: list[str], atoms: NDArray[np.int64], polarity: NDArray[np.float64], count: int
) -> dict[str, Any]:
    """Return these compounds as columns of a candidate table of so many."""
    from rdkit.Chem import GetPeriodicTable

    weights = np.array([GetPeriodicTable().GetAtomicWeight(element) for element in ELEMENTS])
    mass = atoms * weights
    molar_mass = mass.sum(axis=1)
    heavy = atoms.sum(axis=1) - atoms[:, ELEMENTS.index("H")]
    # Alkanes: hexane 69, decane 174, hexadecane 287 degrees Celsius; heavier atoms add.
    size = heavy + 0.05 * (molar_mass - 14.0 * heavy)
    spread = np.random.default_rng(len(smiles)).normal(0.0, 8.0, len(smiles))
    boiling = np.clip(-150.0 + 90.0 * np.sqrt(np.maximum(size, 1.0)) + polarity + spread, -80, 500)
    boiling = np.round(boiling, 1)
    uncertainty = 4.0 + 0.3 * np.abs(spread) + 0.02 * np.abs(boiling - 80.0)
    # Two digits, as in a table that is built from structures.
    uncertainty = np.where(uncertainty < 10.0, np.round(uncertainty, 1), np.round(uncertainty))
    kelvin = boiling + ICE_POINT
    critical_t, critical_p = 1.5 * kelvin, 3.5e6 * (6.0 / np.maximum(heavy, 3)) ** 0.5
    curve, _ = vapor_curves(kelvin, critical_t, critical_p)
    virial = virial_coefficients(
        critical_t, critical_p, acentric_factor(kelvin, critical_t, critical_p)
    )
    found: dict[str, Any] = {
        "name": smiles,
        "smiles": smiles,
        "inchikey": [""] * len(smiles),
        "formula": _formulas(atoms),
    }
    numbers = {
        "molar_mass": molar_mass,
        "boiling_point_C": boiling,
        "boiling_point_u": uncertainty,
        "boiling_point_published": np.zeros(len(smiles)),
        "prior": np.full(len(smiles), 1.0 / count),
        **{f"percent_{e}": 100.0 * mass[:, j] / molar_mass for j, e in enumerate(ELEMENTS)},
        **{f"vapor_curve_{letter}": curve[:, j] for j, letter in enumerate("abc")},
        **{f"virial_{order}": virial[:, order] for order in range(4)},
    }
    assert numbers.keys() <= NUMBER_COLUMNS.keys()
    return found | {name: values.astype(np.float32) for name, values in numbers.items()}


def _formulas(atoms: NDArray[np.int64]) -> list[str]:
    different, place = np.unique(atoms, axis=0, return_inverse=True)
    # Carbon, hydrogen, then by the alphabet (Hill, J. Am. Chem. Soc. 1900, 22, 478).
    order = [0, 1, *sorted(range(2, len(ELEMENTS)), key=lambda one: ELEMENTS[one])]
    texts = [
        "".join(f"{ELEMENTS[one]}{row[one] if row[one] > 1 else ''}" for one in order if row[one])
        for row in different.tolist()
    ]
    return [texts[one] for one in place.ravel().tolist()]


def write_table(path: Path, count: int) -> int:
    """Write a table of so many compounds, or of all that the combinations give; return which."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    written = 0
    with written_beside(path) as beside:
        writer = None
        for part in compounds(count):
            batch = pa.table(columns(*part, count))
            writer = writer or pq.ParquetWriter(beside, batch.schema, compression="zstd")
            writer.write_table(batch)
            written += len(batch)
        if writer is not None:
            writer.close()
    return written


def main() -> int:
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--compounds", type=int, default=5_000_000)
    options = parser.parse_args()
    print(f"{write_table(options.out, options.compounds)} compounds written to {options.out}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
