"""The parts of a table too large for one file, and the manifest that names them."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from identify.notebook.saving import written_beside
from identify.tables.faults import TableError

MANIFEST = "parts.json"
FORM = "identify-unknown parts 1"


@dataclass(frozen=True)
class TablePart:
    """One file of a partitioned table.

    Parameters
    ----------
    path : Path
    rows : int
    size : int
        In bytes.
    """

    path: Path
    rows: int
    size: int

    def check(self) -> None:
        """Refuse a part that is not there, or not of the size that it was written with."""
        if not self.path.exists():
            raise TableError(f"{self.path}: this part of the table is missing; make it anew")
        size = self.path.stat().st_size
        if size != self.size:
            raise TableError(
                f"{self.path}: {size} bytes, {MANIFEST} says {self.size}: this part was cut off or "
                "changed; make the table anew"
            )


def write_manifest(folder: Path, parts: Iterable[TablePart]) -> None:
    """Write which parts belong to a table.

    Parameters
    ----------
    folder : Path
    parts : iterable of TablePart
        In the table's order; in this folder.
    """
    entries = [{"name": one.path.name, "rows": one.rows, "bytes": one.size} for one in parts]
    with written_beside(folder / MANIFEST) as beside:
        text = json.dumps({"form": FORM, "parts": entries}, indent=1)
        beside.write_text(text + "\n", encoding="utf-8")
