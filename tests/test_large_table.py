"""The enumerated table of the benchmarks: real structures, sums that hold, the size asked for."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest
from large_table import CORES, SUBSTITUENTS, compounds, write_table
from rdkit import Chem
from rdkit.Chem.rdMolDescriptors import CalcMolFormula

from identify.chemistry.structures import read_structure
from identify.compounds.loading import load_candidates


def test_every_core_takes_part() -> None:
    parts = list(compounds(60 * len(CORES)))
    assert [len(smiles) for smiles, *_ in parts] == [60] * len(CORES)
    for smiles, atoms, _ in parts:
        assert len(atoms) == 60
        assert all(Chem.MolFromSmiles(written) is not None for written in smiles[::7])


@pytest.mark.parametrize("substituent", SUBSTITUENTS)
def test_every_substituent_closes_its_own_rings(substituent: str) -> None:
    for core in (CORES[0], "C1({})C({})C({})CC1{}"):
        mol = Chem.MolFromSmiles(core.format(*[substituent] * 4))
        assert mol is not None
        alone = Chem.MolFromSmiles(f"[*]{substituent}")
        rings = alone.GetRingInfo().NumRings()
        assert mol.GetRingInfo().NumRings() == 4 * rings + core.startswith("C1")


def test_table_is_a_table(tmp_path: Path) -> None:
    path = tmp_path / "table.parquet"
    assert write_table(path, 5_000) == 5_000
    assert pq.ParquetFile(path).metadata.num_rows == 5_000
    table = load_candidates(path)
    assert len(set(table.text("smiles"))) == 5_000
    draw = np.random.default_rng(3).choice(5_000, 100, replace=False)
    for row in draw.tolist():
        mol = Chem.MolFromSmiles(table.text("smiles")[row])
        assert table.text("formula")[row] == CalcMolFormula(mol)
        structure = read_structure(table.text("smiles")[row])
        if structure is not None:
            assert table.number("molar_mass")[row] == pytest.approx(structure.molar_mass, rel=1e-6)


def test_a_match_against_the_built_in_table_loads_nothing_of_large_tables() -> None:
    code = (
        "import sys, identify; identify.match(identify.Measurement('K-1', boiling_point=56.1));"
        "print([name for name in sys.modules if name.startswith('identify.large')])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
