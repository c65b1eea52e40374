"""The built-in table in parts, as a folder."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from identify.compounds.collection.manifest import TablePart, write_manifest
from identify.compounds.table import CandidateTable


def write_parts(table: CandidateTable, folder: Path, parts: int) -> Path:
    """Write a table as so many parts, priors as they are, and return the folder."""
    folder.mkdir()
    written = []
    for number, rows in enumerate(np.array_split(np.arange(len(table)), parts)):
        path = folder / f"part-{number:05d}.parquet"
        table.some(rows).save(path)
        written.append(TablePart(path, len(rows), path.stat().st_size))
    write_manifest(folder, written)
    return folder
