"""A candidate table from a Parquet file: the built-in one, or another in its form."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from identify.compounds.ready import ready_table
from identify.compounds.table import NUMBER_COLUMNS, TEXT_COLUMNS, CandidateTable
from identify.tables.faults import TableError, UnreadableError
from identify.tables.limits import MAX_SMALL_PARQUET, MAX_UNPACKED, MAX_UNPACKING
from identify.tables.lines import require_file


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
    table = arrow_table(path)
    present = set(table.schema.names)
    return CandidateTable(
        {
            name: [cell or "" for cell in table.column(name).to_pylist()]
            for name in TEXT_COLUMNS
            if name in present
        },
        {name: _floats(table.column(name)) for name in NUMBER_COLUMNS if name in present},
    )


def arrow_table(path: str | Path) -> Any:
    """Read the columns of a candidate table that a Parquet file has, as Arrow.

    Returns
    -------
    pyarrow.Table

    Raises
    ------
    TableError
        If it is not a file, grows too much, has no names, or a column holds another type.
    """
    import pyarrow.parquet as pq

    try:
        require_file(path)
    except UnreadableError as error:
        raise TableError(error.advice) from None
    size = Path(path).stat().st_size
    # Not read_table: that imports the datasets, and with them pandas.
    file = pq.ParquetFile(path)
    _refuse_large(file.metadata, size)
    if "name" not in file.schema_arrow.names:
        raise TableError("not a candidate table, it has no column called name")
    for columns, kind, types in (
        (TEXT_COLUMNS, "text", ("string", "large_string")),
        (NUMBER_COLUMNS, "numbers", ("float", "double", "int8", "int16", "int32", "int64")),
    ):
        _refuse_types(file.schema_arrow, columns, kind, types)
    present = set(file.schema_arrow.names)
    read = [name for name in (*TEXT_COLUMNS, *NUMBER_COLUMNS) if name in present]
    _refuse_repeated(path, [name for name in TEXT_COLUMNS if name in present], size)
    return file.read(read)


def _refuse_large(metadata: Any, size: int) -> None:
    """Refuse a file that says of itself that far more is in it than compounds could be."""
    groups = (metadata.row_group(place) for place in range(metadata.num_row_groups))
    _refuse_unpacked(sum(group.total_byte_size for group in groups), size)
    if metadata.num_rows > max(MAX_SMALL_PARQUET, size):
        raise TableError(
            f"holds {metadata.num_rows:,} rows in {size:,} bytes, which no compounds do; make it "
            "anew"
        )


def _refuse_repeated(path: str | Path, texts: Sequence[str], size: int) -> None:
    """Refuse a file whose texts come to far too much, row by row.

    One that many rows repeat is in the file once, and stays so here.
    """
    import pyarrow.compute as pc
    import pyarrow.parquet as pq

    file, letters = pq.ParquetFile(path, read_dictionary=texts), 0
    for group in range(file.num_row_groups):
        for name in texts:
            for chunk in file.read_row_group(group, [name]).column(0).chunks:
                lengths = pc.binary_length(chunk.dictionary).fill_null(0).take(chunk.indices)
                letters += pc.sum(lengths).as_py() or 0
            _refuse_unpacked(letters, size)


def _refuse_unpacked(unpacked: int, size: int) -> None:
    if unpacked > max(MAX_UNPACKED, MAX_UNPACKING * size):
        raise TableError(
            f"holds more than {MAX_UNPACKING} times its size once unpacked, which no compounds do; "
            "make it anew"
        )


def _refuse_types(schema: Any, columns: Iterable[str], kind: str, types: Sequence[str]) -> None:
    for column in columns:
        if column not in schema.names:
            continue
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
