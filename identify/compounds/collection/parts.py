"""The work folder beside a table in the making: finished chunks, and what they were made from."""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from identify.compounds.collection.rows import Part
from identify.compounds.table import NUMBER_COLUMNS, TEXT_COLUMNS
from identify.notebook.saving import written_beside
from identify.tables.structures.source import InputFault, RecordSetAside

_MANIFEST = "manifest.json"
_TABLE = "table"
_OURS = re.compile(
    rf"manifest\.json|chunk-\d{{7}}\.(arrow|json)|{_TABLE}(\.parquet)?|tmp\w+(\.\w+)?"
)
_ASIDE = b"set aside"  # in the metadata of a chunk's file
_NUMBERS = tuple(column for column in NUMBER_COLUMNS if column != "prior")
REPEATING = tuple(name for name in TEXT_COLUMNS if name not in ("name", "smiles", "inchikey"))
"""Text that many rows share: kept once, with a number a row that says which."""


class _Keys(NamedTuple):
    """What tells the rows of a part from each other."""

    first: NDArray[np.uint64]
    second: NDArray[np.uint64]
    stated: NDArray[np.bool_]


class WorkFolder:
    """Finished chunks on disk."""

    def __init__(self, path: Path) -> None:
        self.path = path

    @property
    def table(self) -> Path:
        """Where the table is written, until it is complete; ends in .parquet if it is a file."""
        return self.path / _TABLE

    @contextmanager
    def held(self) -> Iterator[None]:
        """Keep other builds of the same table out meanwhile, on systems that can.

        Raises
        ------
        InputFault
            If one is running.
        """
        self.path.mkdir(exist_ok=True)
        try:
            import fcntl
        except ImportError:
            yield
            return
        handle = os.open(self.path, os.O_RDONLY)
        try:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                raise InputFault(
                    f"{self.path}: another build of this table is running; wait for it, or name "
                    "another --out"
                ) from None
            except OSError:
                pass  # some shared file systems keep no locks
            yield
        finally:
            os.close(handle)

    def begin(self, manifest: Mapping[str, Any]) -> str:
        """Make the folder ready for a build; what another build left there is removed.

        Parameters
        ----------
        manifest : mapping
            What the chunks follow from: inputs, options, versions.

        Returns
        -------
        str
            ``new``, ``goes on`` or ``anew``.

        Raises
        ------
        InputFault
            If the folder holds a file that this program did not write.
        """
        names = self._names()
        state = "new" if not names else "goes on" if self._was_made_from(manifest) else "anew"
        for name in names:
            # What begins with tmp was being written when the build was interrupted.
            if state == "anew" or name.startswith(("tmp", _TABLE)):
                _remove(self.path / name)
        if state != "goes on":
            with written_beside(self.path / _MANIFEST) as beside:
                beside.write_text(json.dumps(manifest, indent=1), encoding="utf-8")
        return state

    def _names(self) -> list[str]:
        names = [one.name for one in self.path.iterdir()]
        if strange := [name for name in names if not _OURS.fullmatch(name)]:
            raise InputFault(
                f"{self.path}: is needed for the work, and holds {strange[0]}; move the folder away"
            )
        return names

    def _was_made_from(self, manifest: Mapping[str, Any]) -> bool:
        try:
            written = json.loads((self.path / _MANIFEST).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return False
        return bool(written == json.loads(json.dumps(manifest)))

    def has(self, index: int) -> bool:
        """Whether a chunk is finished."""
        return self._rows(index).exists()

    def finished(self) -> int:
        """Return how many chunks are."""
        return sum(1 for _ in self.path.glob("chunk-*.arrow"))

    def write(self, index: int, part: Part) -> None:
        """Keep a finished chunk: whole, or not at all."""
        import pyarrow as pa

        columns: dict[str, Any] = {
            "key_first": pa.array(part.keys[:, 0]),
            "key_second": pa.array(part.keys[:, 1]),
            "stated": pa.array(part.stated),
            "source": pa.array(np.full(len(part), part.source, dtype=np.int32)),
            "number": pa.array(part.record_numbers),
        }
        columns |= {name: _texts(name, part.columns.text[name]) for name in TEXT_COLUMNS}
        columns |= {
            name: pa.array(part.columns.numbers[name].astype(np.float32)) for name in _NUMBERS
        }
        aside = json.dumps([list(one) for one in part.set_aside])
        table = pa.table(columns, metadata={_ASIDE: aside.encode()})
        with (
            written_beside(self._rows(index)) as beside,
            pa.OSFile(str(beside), "wb") as sink,
            pa.ipc.new_file(sink, table.schema) as writer,
        ):
            writer.write_table(table)

    def rows(self, index: int) -> Any:
        """Return the rows of a chunk as an Arrow table, which stays on disk until used."""
        import pyarrow as pa

        with pa.memory_map(str(self._rows(index))) as file:
            return pa.ipc.open_file(file).read_all()

    def keys(self, index: int) -> _Keys:
        """Return the keys of a chunk's rows."""
        rows = self.rows(index)
        return _Keys(
            *(rows.column(name).to_numpy() for name in ("key_first", "key_second", "stated"))
        )

    def set_aside(self, index: int) -> Iterator[RecordSetAside]:
        """Yield what of a chunk is set aside."""
        for cells in json.loads(self.rows(index).schema.metadata[_ASIDE]):
            yield RecordSetAside(*cells)

    def remove(self) -> None:
        """Remove the folder."""
        shutil.rmtree(self.path)

    def _rows(self, index: int) -> Path:
        return self.path / f"chunk-{index:07d}.arrow"


def _texts(name: str, texts: list[str]) -> Any:
    """Return texts as an Arrow column; most columns of a part say the same in every row."""
    import pyarrow as pa

    if name not in REPEATING:
        return pa.array(texts, pa.string())
    if texts and texts.count(texts[0]) == len(texts):
        which = np.zeros(len(texts), dtype=np.int32)
        return pa.DictionaryArray.from_arrays(which, pa.array(texts[:1], pa.string()))
    return pa.array(texts, pa.string()).dictionary_encode()


def _remove(path: Path) -> None:
    if path.is_dir():
        shutil.rmtree(path)
    else:
        path.unlink()
