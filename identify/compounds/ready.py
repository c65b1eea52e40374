"""A table made ready for a quick start: columns beside its Parquet file, read when asked for.

Reading a Parquet file takes a library that starts as slowly as a whole match. What numpy itself
reads (``.npz``, NEP 1: a zip file of arrays, here not compressed) lies beside the built-in table,
made with it. It names the Parquet file that it was made of by its digest, and is passed over beside
any other.
"""

from __future__ import annotations

import hashlib
import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from identify.compounds.table import NUMBER_COLUMNS, TEXT_COLUMNS, CandidateTable, OnDemand
from identify.notebook.saving import written_beside

if TYPE_CHECKING:
    from numpy.lib.npyio import NpzFile

_ENDING = ".npz"
_BETWEEN = "\n"  # cells of a column of text, which hold none


class ReadyCandidates(CandidateTable):
    """A table whose columns are read when first asked for.

    Parameters
    ----------
    arrays : numpy.lib.npyio.NpzFile
        As `save_ready` writes them.
    """

    def __init__(self, arrays: NpzFile) -> None:
        self._arrays = arrays
        self.faults, self.told = (), ""
        self._size = int(arrays["order"].size)
        self._places = {name: place for place, name in enumerate(arrays["columns"].tolist())}
        self._values = arrays["numbers"]
        self._text = OnDemand(TEXT_COLUMNS, self._texts)
        self._numbers = OnDemand(tuple(NUMBER_COLUMNS), self._floats)

    def __len__(self) -> int:
        return self._size

    def __reduce__(self) -> tuple[Any, ...]:
        """Send it to other processes as a table in memory."""
        return CandidateTable, (dict(self._text), dict(self._numbers))

    def by_compound(self) -> NDArray[np.int64]:
        """Return each row's place when sorted by InChIKey and name, shape (n,)."""
        return self._arrays["order"].astype(np.int64)

    def _texts(self, column: str) -> list[str]:
        return str(self._arrays[column].tobytes(), "utf-8").split(_BETWEEN)

    def _floats(self, column: str) -> NDArray[np.float64]:
        if column not in self._places:
            return np.full(self._size, np.nan)
        return self._values[self._places[column]].astype(np.float64)


def save_ready(table: CandidateTable, parquet: Path) -> None:
    """Write what makes a table start quickly beside the Parquet file that it was read from."""
    columns = [name for name in NUMBER_COLUMNS if np.isfinite(table.number(name)).any()]
    arrays: dict[str, Any] = {
        name: np.frombuffer(_BETWEEN.join(table.text(name)).encode(), np.uint8)
        for name in TEXT_COLUMNS
    }
    arrays |= {
        "made_of": np.frombuffer(_digest(parquet), np.uint8),
        "columns": np.array(columns),
        "numbers": np.array([table.number(name) for name in columns], np.float32),
        "order": table.by_compound().astype(np.int32),
    }
    held = io.BytesIO()
    np.savez(held, **arrays)
    with written_beside(parquet.with_suffix(_ENDING)) as beside:
        beside.write_bytes(held.getvalue())


def ready_table(parquet: Path) -> CandidateTable | None:
    """Return a table from what lies ready beside its Parquet file, None where nothing does."""
    path = parquet.with_suffix(_ENDING)
    if not path.exists():
        return None
    arrays = np.load(path, allow_pickle=False)
    if arrays["made_of"].tobytes() != _digest(parquet):
        return None
    return ReadyCandidates(arrays)


def _digest(parquet: Path) -> bytes:
    return hashlib.blake2b(parquet.read_bytes(), digest_size=16).digest()
