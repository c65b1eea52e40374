#!/usr/bin/env python3
"""Print the names of the built-in table that do not fit their structures.

Usage: python scripts/audit_names.py [JAR] [--unread]

First those that say a stereo form which the structure does not, or leave out one that it has. With
JAR, also those that a parser reads as another structure, or not at all: it is the command-line
program of OPSIN (Lowe, D. M. et al. J. Chem. Inf. Model. 2011, 51, 739), which the package py2opsin
carries; it needs Java. Neither is needed to build or use the table: what is found is judged by
hand, and goes into data/corrections.csv as `name`. Beside each name stand other names of the
identifier collection that are read as the very structure.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import tempfile
from collections.abc import Iterable
from pathlib import Path

from chemicals.identifiers import CAS_to_int, pubchem_db
from rdkit.Chem import rdCIPLabeler

from identify.chemistry.structures import read_structure
from identify.compounds.loading import load_candidates
from identify.compounds.published.names import forms_in_name, leaves_out_form, readable_name
from identify.compounds.table import CandidateTable

_PROPOSED = 3
# "(2R)-", "(+)-": a center's form. "S-ethyl" is on sulfur.
_FORM_AT_CENTER = re.compile(r"\(\d*[RS](?:,\d+[RS])*\)|\([+-]\)-")


def unlike_forms(name: str, smiles: str) -> str:
    """Return how a name and a structure differ in their stereo form, empty text where they do not.

    Trivial names, such as that of tiglic acid, say a form without a mark. Of rings, and of names
    with several marks of cis and trans, it is looked only whether the structure has a form.

    Examples
    --------
    >>> unlike_forms("trans-2-butene", "CC=CC")
    'the name says a form, the structure none'
    >>> unlike_forms("2-butene", "C/C=C/C")
    'the structure has a form, the name leaves it out'
    >>> unlike_forms("(Z)-2-butene", "C/C=C/C")
    'the name says Z, the structure E'
    >>> unlike_forms("trans-2-butene", "C/C=C/C"), unlike_forms("tiglic acid", "C/C=C(C)/C(=O)O")
    ('', '')
    """
    said = forms_in_name(name)
    if not any(mark in smiles for mark in "/\\@"):
        is_said = said or _FORM_AT_CENTER.search(name)
        return "the name says a form, the structure none" if is_said else ""
    drawn = _forms_at_double_bonds(smiles) if "/" in smiles or "\\" in smiles else ""
    if drawn and not said:
        lacks = leaves_out_form(name, f"({drawn[0]})-")
        return "the structure has a form, the name leaves it out" if lacks else ""
    if drawn and said and set(said) != set(drawn):
        return f"the name says {said}, the structure {drawn}"
    return ""


def _forms_at_double_bonds(smiles: str) -> str:
    """Return E and Z of each double bond between carbon atoms that is not in a ring."""
    structure = read_structure(smiles)
    assert structure is not None
    rdCIPLabeler.AssignCIPLabels(structure.mol)
    return "".join(
        sorted(
            bond.GetProp("_CIPCode")
            for bond in structure.mol.GetBonds()
            if bond.HasProp("_CIPCode")
            and not bond.IsInRing()
            and {bond.GetBeginAtom().GetSymbol(), bond.GetEndAtom().GetSymbol()} == {"C"}
        )
    )


def read_names(jar: Path, names: Iterable[str]) -> dict[str, str]:
    """Return the first block of the InChIKey that each name is read as, empty where it is not."""
    listed = sorted(set(names))
    with tempfile.TemporaryDirectory() as folder:
        written, read = Path(folder) / "names.txt", Path(folder) / "smiles.txt"
        written.write_text("\n".join(listed) + "\n", encoding="utf-8")
        command = ["java", "-jar", str(jar), "-osmi", str(written), str(read)]
        subprocess.run(command, check=True, stderr=subprocess.DEVNULL)
        smiles = read.read_text(encoding="utf-8").split("\n")
    return {name: _skeleton(text) for name, text in zip(listed, smiles, strict=False)}


def _skeleton(smiles: str) -> str:
    structure = read_structure(smiles)
    return structure.inchikey[:14] if structure else ""


def synonyms(cas: str) -> list[str]:
    """Return the other names that the identifier collection has, on one line each."""
    entry = pubchem_db.CAS_index.get(CAS_to_int(cas))
    listed = [entry.iupac_name, *entry.synonyms] if entry else []
    return [readable_name(name) for name in listed if name and "\n" not in name]


def main() -> None:
    """Compare the stereo forms, then read all names where a parser is given."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("jar", type=Path, nargs="?")
    parser.add_argument("--unread", action="store_true", help="those that are not read, too")
    options = parser.parse_args()
    table = load_candidates()
    columns = (table.text(column) for column in ("cas", "name", "smiles"))
    for cas, name, smiles in zip(*columns, strict=True):
        if what := unlike_forms(name, smiles):
            print(f"{cas} | {name} | {what} | {smiles}")
    if options.jar:
        print_misread(table, options.jar, options.unread)


def print_misread(table: CandidateTable, jar: Path, unread: bool) -> None:
    """Read all names, then the synonyms of those that are not read as their structure."""
    pubchem_db.finish_loading()
    names, keys = table.text("name"), [key[:14] for key in table.text("inchikey")]
    read = read_names(jar, names)
    odd = [
        row
        for row, (name, key) in enumerate(zip(names, keys, strict=True))
        if read[name] != key and (read[name] or unread)
    ]
    others = {row: synonyms(table.text("cas")[row]) for row in odd}
    read |= read_names(jar, (name for row in odd for name in others[row]))
    for row in odd:
        right = [name for name in others[row] if read[name] == keys[row]]
        proposed = "; ".join(sorted(right, key=len)[:_PROPOSED])
        what = "another structure" if read[names[row]] else "not read"
        print(f"{table.text('cas')[row]} | {names[row]} | {what} | {proposed}")


if __name__ == "__main__":
    main()
