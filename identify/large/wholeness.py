"""What an index must be before anything of it is taken: arrow's reader trusts what it is given.

An offset that leads out of the file would end the program without a word. A small index is looked
through when it is opened; of one of millions, which is mapped and hardly touched, what is taken.
"""

from __future__ import annotations

import struct
from typing import Any

import numpy as np
from numpy.typing import NDArray

from identify.compounds.table import NUMBER_COLUMNS, TEXT_COLUMNS
from identify.tables.faults import TableError
from identify.tables.limits import MAX_UNPACKED

_MAGIC = 8  # bytes at the file's beginning
_HEADER, _COMPRESSION = 2, 3  # places of fields in the messages, see `refuse_compressed`


def refuse_compressed(mapped: Any) -> None:
    """Refuse an index whose columns are compressed: none is written so, and it may be any size.

    Parameters
    ----------
    mapped : pyarrow.MemoryMappedFile

    Raises
    ------
    ValueError
        If it is compressed, or not such a file.

    References
    ----------
    Apache Arrow, "Arrow Columnar Format", Encapsulated message format, and Message.fbs: a message's
    third field is its header, and a record batch's fourth how it is compressed. The tables are laid
    out as in "FlatBuffers Internals".
    """
    import pyarrow as pa

    mapped.seek(_MAGIC)
    pa.ipc.read_message(mapped)  # the schema
    metadata = pa.ipc.read_message(mapped).metadata.to_pybytes()
    (message,) = struct.unpack_from("<I", metadata)
    try:
        header = _field(metadata, message, _HEADER)
        (to_batch,) = struct.unpack_from("<I", metadata, header)
        is_compressed = _field(metadata, header + to_batch, _COMPRESSION) > 0
    except struct.error:
        raise ValueError("its columns are not described") from None
    if is_compressed:
        raise ValueError("its columns are compressed")


def _field(metadata: bytes, table: int, place: int) -> int:
    """Return where a table's field lies, 0 where it has none."""
    (back,) = struct.unpack_from("<i", metadata, table)
    (size,) = struct.unpack_from("<H", metadata, table - back)
    at = 4 + 2 * place
    if at >= size:
        return 0
    (offset,) = struct.unpack_from("<H", metadata, table - back + at)
    return table + offset if offset else 0


def require_whole(batch: Any, starts: NDArray[np.int64], pairs: NDArray[np.float64]) -> None:
    """Refuse an index whose parts do not fit each other.

    Raises
    ------
    ValueError
        If rows, formulas or pairs contradict each other, or a column is of another type.
    pyarrow.ArrowInvalid
        If a column leads out of the file.
    """
    batch.validate(full=is_small(batch))
    types = {
        **dict.fromkeys(TEXT_COLUMNS, "large_string"),
        **dict.fromkeys(NUMBER_COLUMNS, "float"),
        **dict.fromkeys(("pair", "order"), "int32"),
    }
    for field in batch.schema:
        if types.get(field.name) != str(field.type):
            raise ValueError(f"column {field.name} holds {field.type}")
    if not len(starts) or starts[0] or starts[-1] != batch.num_rows or np.any(np.diff(starts) < 1):
        raise ValueError("its formulas do not fit its rows")
    pair = np.from_dlpack(batch.column("pair"))
    if not len(pair) or pair.min() < 0 or pair.max() >= len(pairs) or np.isnan(pairs).any():
        raise ValueError("its boiling points do not fit its rows")


def is_small(batch: Any) -> bool:
    """Say whether all of an index is looked through when it is opened."""
    return bool(batch.nbytes <= MAX_UNPACKED)


def texts_at(column: Any, rows: NDArray[np.int64]) -> list[str]:
    """Return the texts in some rows of a column, empty where there is none.

    Parameters
    ----------
    column : pyarrow.Array or pyarrow.ChunkedArray
        Of an index, or of a Parquet file, which Arrow has looked through itself.
    rows : array of int, shape (k,)

    Raises
    ------
    TableError
        If what they hold is damaged.
    """
    import pyarrow as pa

    if not hasattr(column, "chunks"):
        _, offsets, data = column.buffers()
        ends = np.frombuffer(offsets, dtype=np.int64)[column.offset :]
        begin, end = ends[rows], ends[rows + 1]
        if np.any((begin < 0) | (end < begin) | (end > (data.size if data else 0))):
            raise _damaged()
    try:
        return [cell or "" for cell in column.take(pa.array(rows)).to_pylist()]
    except UnicodeDecodeError:
        raise _damaged() from None


def _damaged() -> TableError:
    return TableError("a column of the index is damaged; make it anew")
