"""A candidate table from a Parquet file: the built-in one, or another in its form."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from identify.compounds.ready import ready_table
from identify.compounds.table import NUMBER_COLUMNS, TEXT_COLUMNS, CandidateTable
from identify.tables.faults import TableError


def shipped(name: str) -> Path:
    """Return where a data file lies: in the package once installed, else in the checkout."""
    packaged = Path(str(resources.files("identify"))) / "data" / name
    return packaged if packaged.exists() else Path(__file__).parents[2] / "data" / name


def built_in_path() -> Path:
    """Return where the built-in table lies."""
    return shipped("candidates.parquet")


def built_in_table() -> CandidateTable:
    """Return the built-in table.

    Raises
    ------
    TableError
        Where its file cannot be read, in one line.
    """
    return read_parquet(built_in_path())


def read_parquet(source: Path) -> CandidateTable:
    """Read a table in the built-in one's form; the same file again is not read anew.

    Raises
    ------
    TableError
        Where it cannot be read, in one line.
    """
    try:
        stat = source.stat()
        return _load(str(source), stat.st_mtime_ns, stat.st_size)
    except TableError as error:
        raise TableError(f"{source}: {error}") from None
    except Exception as error:
        raise TableError(f"{source}: cannot be read as a candidate table ({error})") from error


@lru_cache(maxsize=4)
def _load(path: str, changed: int, size: int) -> CandidateTable:
    """Load a table, kept for the next call as long as the file is the same."""
    ready = ready_table(Path(path))
    return from_parquet(path) if ready is None else ready


def from_parquet(path: str) -> CandidateTable:
    """Read a table from its Parquet file alone."""
    import pyarrow.parquet as pq

    # Not read_table: that imports the datasets, and with them pandas.
    table = pq.ParquetFile(path).read()
    present = set(table.schema.names)
    if "name" not in present:
        raise TableError("not a candidate table, it has no column called name")
    texts = [name for name in TEXT_COLUMNS if name in present]
    numbers = [name for name in NUMBER_COLUMNS if name in present]
    _refuse_types(table.schema, texts, "text", ("string", "large_string"))
    _refuse_types(
        table.schema, numbers, "numbers", ("float", "double", "int8", "int16", "int32", "int64")
    )
    return CandidateTable(
        {name: [cell or "" for cell in table.column(name).to_pylist()] for name in texts},
        {name: _floats(table.column(name)) for name in numbers},
    )


def _refuse_types(schema: Any, columns: Sequence[str], kind: str, types: Sequence[str]) -> None:
    for column in columns:
        held = schema.field(column).type
        if str(held) not in types:
            raise TableError(f"column {column} holds {held}, not {kind}")


def _floats(column: Any) -> NDArray[np.float64]:
    """Return an Arrow column as floats, NaN where it has no value."""
    # Not to_numpy where it can be helped: that imports pandas.
    parts = [
        part.to_numpy(zero_copy_only=False).astype(np.float64)
        if part.null_count
        else np.from_dlpack(part)
        for part in column.chunks
    ]
    return np.concatenate([np.zeros(0), *parts]).astype(np.float64)
