"""Makes the index of names from the collection of identifiers and what laboratories call things."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path
from typing import Any, cast

from identify.chemistry.formula import hill_formula
from identify.compounds.naming.halocarbons import formula_of_number
from identify.compounds.naming.known_names import KnownNames, NamedCompound, Use
from identify.compounds.naming.spelling import (
    bare,
    folded_name,
    joined,
    may_lack_marks,
    plain_name,
    without_remarks,
)
from identify.compounds.published.literature import inventories_listing
from identify.compounds.published.names import readable_name
from identify.compounds.table import CandidateTable
from identify.physics.constants import ICE_POINT

# Of a compound that the table lacks, so many names of at most so many characters: enough to say why
# it is not one for this method.
_MAX_OTHER_NAMES, _MAX_OTHER_LENGTH = 8, 32
_MAX_LENGTH = 60  # characters; nobody writes a longer name
_MAX_MOLAR_MASS = 300.0  # g/mol; heavier compounds are neither handed out nor taken for volatile
# Numbers of registries and catalogs, remarks in brackets, and prefixes alone, which the collection
# has as names; and codes: which abbreviations are understood is in the list of what laboratories
# say.
_NO_NAME = re.compile(
    r"^[^,]*-$|^(?=.*\d)(?:(?:cl|br|si|[chnosfipb])\d*)+$|\d{5}|\d{4}$|^[\d\W]+$|\[.*\]$|\$|^(?:unii|nsc|ai3|hsdb|ccris|chebi|dtxsid|einecs|ec|un|caswell"
    r"|epa|rcra|fema|bdbm|schembl|zinc|akos|mfcd|tox21|ncgc|wln|mls|smr|cas)[ -:]"
)
_CODE = re.compile(r"\w{1,4}|[a-z]{1,2}\d+")
_CAS_NUMBER = re.compile(r"\d{2,7}-\d{2}-\d")


def collected_names(table: CandidateTable, laboratory: Path) -> KnownNames:
    """Make the index for a table.

    Parameters
    ----------
    table : CandidateTable
        The built-in one: all names of its compounds are taken, a few of others.
    laboratory : Path
        CSV of what laboratories call things: ``names`` parted by ``|``, ``kind`` (``one``,
        ``several`` or ``mixture``), CAS numbers that they mean, ``source``.

    Raises
    ------
    ValueError
        If a CAS number of ``laboratory`` is not in the collection.
    """
    import pyarrow as pa

    entries = [entry for entry in _entries() if _is_wanted(entry, table)]
    rows_in_table = [_row(entry, table) for entry in entries]
    compounds = [
        _compound(entry, row, table) for entry, row in zip(entries, rows_in_table, strict=True)
    ]
    rows = {
        name
        for place, (entry, row) in enumerate(zip(entries, rows_in_table, strict=True))
        for name in _names(entry, place, row is not None)
    }
    places = {compound.cas: place for place, compound in reversed(list(enumerate(compounds)))}
    rows |= set(_names_in_table(table, places))
    rows |= set(_laboratory_names(laboratory, places))
    ordered = sorted(rows, key=lambda row: (bare(row[0]), *row))
    names = pa.table(
        {
            "name": [name for name, _, _ in ordered],
            "compound": pa.array([place for _, place, _ in ordered], pa.int32()),
            "use": [use for _, _, use in ordered],
        }
    )
    return KnownNames(names, pa.Table.from_pylist([vars(compound) for compound in compounds]))


_Row = tuple[str, int, Use]


def _entries() -> list[Any]:
    from chemicals.identifiers import pubchem_db

    pubchem_db.finish_loading()
    unique = {entry.CASs: entry for entry in pubchem_db.CAS_index.values()}
    return [unique[cas] for cas in sorted(unique)]


def _is_wanted(entry: Any, table: CandidateTable) -> bool:
    """Whether an entry is a compound of the table, or one that people may write."""
    if table.index.rows_of_skeleton(entry.InChI_key):
        return True
    return entry.MW < _MAX_MOLAR_MASS and inventories_listing(entry.CASs) > 0


def _row(entry: Any, table: CandidateTable) -> int | None:
    """Return the row of the table that holds an entry's compound, None where none does."""
    from identify.chemistry.structures import read_structure

    index = table.index
    if (row := index.row(entry.InChI_key)) is not None:
        return row
    if not index.rows_of_skeleton(entry.InChI_key):
        return None
    structure = read_structure(entry.smiles)
    return None if structure is None else index.row_of_structure(structure)


def _compound(entry: Any, row: int | None, table: CandidateTable) -> NamedCompound:
    inchikey = entry.InChI_key if row is None else table.text("inchikey")[row]
    melting = _melting_point(entry.CASs) if row is None else None
    name = entry.common_name or entry.iupac_name or entry.CASs
    return NamedCompound(entry.CASs, inchikey, name, entry.smiles, entry.formula, melting)


def _melting_point(cas: str) -> float | None:
    from chemicals import Tm

    found = Tm(cas)
    return None if found is None else round(float(found) - ICE_POINT, 2)


def _names(entry: Any, place: int, is_in_table: bool) -> Iterator[_Row]:
    """Yield the names of an entry: the main ones, and others that are names and not numbers."""
    main = [name for name in (entry.common_name, entry.iupac_name) if name]
    if is_in_table and entry.common_name:
        main.append(readable_name(entry.common_name))  # of one that the table calls otherwise, too
    others = _others(entry, _MAX_LENGTH if is_in_table else _MAX_OTHER_LENGTH)
    others = others if is_in_table else islice(others, _MAX_OTHER_NAMES)
    former = [name for name in entry.synonyms if _CAS_NUMBER.fullmatch(name) and name != entry.CASs]
    yield from ((number, place, "other") for number in former)
    yield from _as_rows(
        [*((name, "main") for name in main), *((one, "other") for one in others)], place
    )


def _others(entry: Any, longest: int) -> Iterator[str]:
    """Yield the synonyms that are names, and not longer than this."""
    for name in map(str.lower, entry.synonyms):
        if len(name) <= longest and _is_name(name, entry.formula):
            yield name


def _is_name(text: str, formula: str) -> bool:
    """Whether a text is a name that a compound may have, without a grade, no number, no code."""
    plain = plain_name(text)
    if _NO_NAME.search(text) or _CODE.fullmatch(joined(plain)):
        return False
    folded = folded_name(text)
    counts = formula_of_number(folded)
    if counts is not None and hill_formula(counts) != formula:
        return False
    # "Dutch liquid" is a name.
    may_have_grade = not may_lack_marks(folded) or re.search("[,(%]", plain)
    return not may_have_grade or without_remarks(text) == plain.strip(" ,;:-")


def _as_rows(names: Iterable[tuple[str, Use]], place: int) -> Iterator[_Row]:
    """Yield each name once, however its blanks and hyphens are set."""
    rows: dict[str, _Row] = {}
    for name, use in names:
        folded = folded_name(name)
        key = joined(folded)
        if use == "main" or not _CODE.fullmatch(key):
            rows.setdefault(key, (folded, place, use))
    yield from rows.values()


def _names_in_table(table: CandidateTable, places: dict[str, int]) -> Iterator[_Row]:
    for name, cas in zip(table.text("name"), table.text("cas"), strict=True):
        if cas in places:
            yield folded_name(name), places[cas], "main"


def _laboratory_names(path: Path, places: dict[str, int]) -> Iterator[_Row]:
    with path.open(encoding="utf-8", newline="") as file:
        for line in csv.DictReader(file):
            meant = [_place(cas, places, path) for cas in line["means"].split()] or [-1]
            use = cast(Use, line["kind"])
            for name in line["names"].split("|"):
                yield from ((folded_name(name), place, use) for place in meant)


def _place(cas: str, places: dict[str, int], path: Path) -> int:
    if cas not in places:
        raise ValueError(f"{path}: {cas} is not in the collection of identifiers")
    return places[cas]
