"""Rows made of structures against the identifiers that the library `chemicals` carries.

Its formulas, molar masses and InChIKeys were computed elsewhere, from the same compounds.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from chemicals.identifiers import int_to_CAS, pubchem_db
from rdkit import RDLogger

from identify.chemistry.formula import parse_formula
from identify.chemistry.structures import read_structure
from identify.compounds.collection.rows import RowMaker
from identify.compounds.table import CandidateTable
from identify.tables.structures.source import Chunk, Record

COUNT = 200
HEAVIEST = 250.0  # g/mol
# Atomic weights around 2001 against those of today: largest for sulfur, 32.065 and 32.06.
MOLAR_MASS_SLACK = 2e-4


@pytest.fixture(autouse=True)
def silent() -> Iterator[None]:
    """Keep RDKit's own lines out, as a build does."""
    RDLogger.DisableLog("rdApp.*")
    yield
    RDLogger.EnableLog("rdApp.error")


@pytest.fixture(scope="module")
def listed() -> list[tuple[int, Any]]:
    """Return compounds spread evenly over the whole collection, by CAS number."""
    pubchem_db.finish_loading()
    suitable = [
        (number, one)
        for number, one in sorted(pubchem_db.CAS_index.items())[::20]
        if one.smiles and one.MW < HEAVIEST and read_structure(one.smiles) is not None
    ]
    step = len(suitable) // COUNT
    return suitable[:: max(step, 1)][:COUNT]


@pytest.mark.parametrize("given", ["smiles", "inchi"])
def test_structures_against_chemicals(
    table: CandidateTable, listed: list[tuple[int, Any]], given: str
) -> None:
    cells = [one.smiles if given == "smiles" else f"InChI=1S/{one.InChI}" for _, one in listed]
    records = [
        Record(place, name=int_to_CAS(number), boiling_point="100", **{given: cell})
        for place, ((number, _), cell) in enumerate(zip(listed, cells, strict=True))
    ]
    part = RowMaker(table, ["listed"]).part(Chunk(0, records, []))
    text, numbers = part.columns.text, part.columns.numbers
    assert part.set_aside == []
    assert len(part) == len(listed) == COUNT
    assert part.record_numbers.tolist() == list(range(COUNT))
    wrong = [
        int_to_CAS(number)
        for row, (number, one) in enumerate(listed)
        if not (
            parse_formula(text["formula"][row]) == parse_formula(one.formula)
            and abs(numbers["molar_mass"][row] / one.MW - 1.0) < MOLAR_MASS_SLACK
            and _is_key(text["inchikey"][row], one.InChI_key, text["stereo"][row])
        )
    ]
    assert wrong == []


def _is_key(found: str, listed: str, stereo: str) -> bool:
    """Compare InChIKeys; the built-in table has one row for a compound and its mirror image."""
    if "cannot be told apart" in stereo:
        return found.partition("-")[0] == listed.partition("-")[0]
    return found == listed
