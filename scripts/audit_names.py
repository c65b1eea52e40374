#!/usr/bin/env python3
"""Print the names of the built-in table that a parser reads as another structure, or not at all.

Usage: python scripts/audit_names.py JAR [--unread]

JAR is the command-line program of OPSIN (Lowe, D. M. et al. J. Chem. Inf. Model. 2011, 51, 739),
which the package py2opsin carries; it needs Java. Neither is needed to build or use the table: what
is found is judged by hand, and goes into data/corrections.csv as `name`. Beside each name stand
other names of the identifier collection that are read as the very structure.
"""

from __future__ import annotations

import argparse
import subprocess
import tempfile
from collections.abc import Iterable
from pathlib import Path

from chemicals.identifiers import CAS_to_int, pubchem_db

from identify.chemistry.structures import read_structure
from identify.compounds.loading import load_candidates
from identify.compounds.published.names import readable_name

_PROPOSED = 3


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
    """Read all names, then the synonyms of those that are not read as their structure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("jar", type=Path)
    parser.add_argument("--unread", action="store_true", help="those that are not read, too")
    options = parser.parse_args()
    table = load_candidates()
    pubchem_db.finish_loading()
    names, keys = table.text("name"), [key[:14] for key in table.text("inchikey")]
    read = read_names(options.jar, names)
    odd = [
        row
        for row, (name, key) in enumerate(zip(names, keys, strict=True))
        if read[name] != key and (read[name] or options.unread)
    ]
    others = {row: synonyms(table.text("cas")[row]) for row in odd}
    read |= read_names(options.jar, (name for row in odd for name in others[row]))
    for row in odd:
        right = [name for name in others[row] if read[name] == keys[row]]
        proposed = "; ".join(sorted(right, key=len)[:_PROPOSED])
        what = "another structure" if read[names[row]] else "not read"
        print(f"{table.text('cas')[row]} | {names[row]} | {what} | {proposed}")


if __name__ == "__main__":
    main()
