"""A candidate table in parts: a folder of files, for tables larger than memory.

Each part is a candidate table of its own (Parquet) or an index of one (Arrow); a manifest beside
them says which parts belong to the table, so that a missing or damaged one is told and never
silently left out. Priors are on one scale in all parts.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from identify.compounds.collection.manifest import FORM, MANIFEST, TablePart, write_manifest
from identify.compounds.loading import INDEX_ENDING
from identify.compounds.table import CandidateTable
from identify.large.indexed import ArrowCandidates, IndexedTable
from identify.matching.large_tables import LargeTable
from identify.tables.faults import TableError, UnreadableError
from identify.tables.lines import file_bytes


def read_part(part: TablePart) -> CandidateTable | IndexedTable:
    """Read a part: a table, or an index.

    Raises
    ------
    TableError
        Where it is not there, is not the file that the manifest tells of, or cannot be used.
    """
    part.check()
    if part.path.suffix == INDEX_ENDING:
        table: CandidateTable | IndexedTable = IndexedTable.open(part.path)
    else:
        table = ArrowCandidates.of_file(part.path)
    if len(table) != part.rows:
        raise TableError(
            f"{part.path}: {len(table)} compounds, {MANIFEST} says {part.rows}; make the table anew"
        )
    return table


class PartitionedTable(LargeTable):
    """A candidate table in parts."""

    def __init__(self, folder: Path, parts: Sequence[TablePart]) -> None:
        self.folder = folder
        self.parts = tuple(parts)

    def __len__(self) -> int:
        return sum(part.rows for part in self.parts)

    def __repr__(self) -> str:
        return f"<{len(self)} compounds in {len(self.parts)} parts>"

    @classmethod
    def open(cls, folder: str | os.PathLike[str]) -> PartitionedTable:
        """Read the manifest, and see that every part is there.

        Raises
        ------
        TableError
            Where there is no such folder, no manifest, a part is missing or changed, or a file
            lies there that looks like a part and belongs to no table.
        """
        place = Path(folder)
        if not place.is_dir():
            raise TableError(f"{place}: there is no such folder")
        if not (place / MANIFEST).exists():
            raise TableError(f"{place}: not a candidate table in parts, it has no {MANIFEST}")
        try:
            manifest = json.loads(file_bytes(place / MANIFEST))
            entries = manifest["parts"] if manifest["form"] == FORM else []
            parts = [
                TablePart(place / _name(one), int(one["rows"]), int(one["bytes"]))
                for one in entries
            ]
        except UnreadableError as error:
            raise TableError(str(error.fault(str(place / MANIFEST)))) from None
        except (OSError, ValueError, KeyError, TypeError, RecursionError) as error:
            raise TableError(f"{place / MANIFEST}: cannot be read ({error})") from error
        if not parts:
            raise TableError(f"{place / MANIFEST}: names no parts that this version can read")
        for part in parts:
            part.check()
        _refuse_strangers(place, parts)
        return cls(place, parts)

    def indexed(self, target: Path) -> Iterator[TablePart]:
        """Write an index of each part to a folder, one after the other, and its manifest at last.

        Parameters
        ----------
        target : Path
            A folder that is there.
        """
        from identify.large.indexed import write_index

        written = []
        for part in self.parts:
            path = target / part.path.with_suffix(INDEX_ENDING).name
            write_index([part.path], path, is_part=len(self.parts) > 1)
            written.append(TablePart(path, part.rows, path.stat().st_size))
            yield written[-1]
        write_manifest(target, written)


def _refuse_strangers(folder: Path, parts: Sequence[TablePart]) -> None:
    known = {part.path.name for part in parts}
    if len(known) < len(parts):
        raise TableError(f"{folder / MANIFEST}: names a part twice; make the table anew")
    for path in sorted(folder.iterdir()):
        if path.suffix in (".parquet", INDEX_ENDING) and path.name not in known:
            raise TableError(
                f"{path}: {MANIFEST} does not name this file as a part; move it elsewhere, or make "
                "the table anew"
            )


def _name(entry: dict[str, Any]) -> str:
    name = str(entry["name"])
    if Path(name).name != name:
        raise ValueError(f'"{name}" is not a file name')
    return name
