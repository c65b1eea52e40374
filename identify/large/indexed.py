"""A candidate table sorted for the match, on disk: compounds of one composition side by side.

Molar mass and composition depend on the formula alone, and the liquid's readings on boiling point
and its uncertainty alone. A table of millions has some ten thousand formulas, and some hundred
thousand pairs of boiling point and uncertainty: what is the same for many is worked out once.

The file is an Arrow file (https://arrow.apache.org/docs/format/Columnar.html, IPC file format),
one record batch, not compressed, so that it is mapped into memory and only what is touched is
read. Rows are sorted by formula, then boiling point, its uncertainty, prior, and compound.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from identify.compounds.parquet import arrow_table
from identify.compounds.table import (
    NUMBER_COLUMNS,
    REQUIRED,
    TEXT_COLUMNS,
    CandidateTable,
    OnDemand,
)
from identify.large.wholeness import is_small, refuse_compressed, require_whole, texts_at
from identify.matching.large_tables import LargeTable
from identify.notebook.saving import written_beside
from identify.physics.constants import ELEMENTS, ICE_POINT
from identify.tables.faults import TableError, UnreadableError
from identify.tables.lines import require_file

_BY_FORMULA = ("molar_mass", *(f"percent_{element}" for element in ELEMENTS))
_BY_PAIR = ("boiling_point_C", "boiling_point_u")
_MARK, _MARKED = b"identify-unknown", b"index 1"
_AT_ONCE = 131_072  # rows that are checked at once


class ArrowCandidates(CandidateTable):
    """Candidates whose columns are taken from Arrow when they are first asked for.

    Parameters
    ----------
    columns : pyarrow.RecordBatch or pyarrow.Table
        Columns as a candidate table has them.
    """

    def __init__(self, columns: Any) -> None:
        self._columns = columns
        self._present = set(columns.schema.names)
        self.faults = ()
        self._text = OnDemand(TEXT_COLUMNS, self._texts)
        self._numbers = OnDemand(tuple(NUMBER_COLUMNS), self._floats)

    @classmethod
    def of_file(cls, source: Path) -> ArrowCandidates:
        """Read a Parquet file.

        Raises
        ------
        TableError
            Where it cannot be used, in one line.
        """
        return cls(_read_columns(source))

    def __len__(self) -> int:
        return int(self._columns.num_rows)

    def some(self, rows: NDArray[np.int64]) -> CandidateTable:
        """Return some rows, their priors as they are."""
        return _taken(self._columns, rows)

    def by_compound(self) -> NDArray[np.int64]:
        """Return each row's place when sorted by InChIKey and name, shape (n,)."""
        return _by_compound(self._columns)

    def _texts(self, name: str) -> list[str]:
        if name not in self._present:
            return [""] * len(self)
        return [cell or "" for cell in self._columns.column(name).to_pylist()]

    def _floats(self, name: str) -> NDArray[np.float64]:
        if name not in self._present:
            return np.full(len(self), np.nan)
        return _numpy(self._columns.column(name)).astype(np.float64)


class IndexedTable(LargeTable):
    """A candidate table sorted for the match, see the module.

    Parameters
    ----------
    batch : pyarrow.RecordBatch
        All rows.
    starts : array of int, shape (f + 1,)
        Where each formula's rows begin; the last is the number of rows.
    pairs : array, shape (p, 2)
        The different pairs of boiling point [degC] and its standard uncertainty [K].

    Examples
    --------
    >>> import tempfile
    >>> from identify.compounds.parquet import built_in_path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_index([built_in_path()], Path(folder, "table.arrow"))
    ...     table = IndexedTable.open(Path(folder, "table.arrow"))
    >>> len(table) > len(table.formulas) > 1000
    True
    """

    def __init__(self, batch: Any, starts: NDArray[np.int64], pairs: NDArray[np.float64]) -> None:
        self._batch = batch
        self.starts = starts
        self.pair = _numpy(batch.column("pair"))
        """Place of each row's pair of boiling point and uncertainty, shape (n,)."""
        self.order = _numpy(batch.column("order"))
        """Decides between equal probabilities, shape (n,)."""
        first = starts[:-1]
        self.formulas = _stand_ins(
            len(first), {name: _numpy(batch.column(name))[first] for name in _BY_FORMULA}
        )
        """One stand-in a formula: its molar mass and composition."""
        self.liquids = _stand_ins(
            len(pairs), {name: pairs[:, place] for place, name in enumerate(_BY_PAIR)}
        )
        """One stand-in a pair of boiling point and uncertainty."""

    def __len__(self) -> int:
        return int(self._batch.num_rows)

    def __repr__(self) -> str:
        return f"<{len(self)} compounds of {len(self.formulas)} formulas>"

    @classmethod
    def open(cls, path: str | os.PathLike[str]) -> IndexedTable:
        """Map an index into memory.

        Parameters
        ----------
        path : path
            As `write_index` wrote it.

        Raises
        ------
        TableError
            Where there is no such file, or it is not an index, or damaged.
        """
        import pyarrow as pa

        try:
            require_file(os.fspath(path))
        except UnreadableError as error:
            raise TableError(str(error.fault(str(path)))) from None
        try:
            # The mapping stays as long as anything refers to the batch.
            with pa.memory_map(os.fspath(path)) as mapped, pa.ipc.open_file(mapped) as file:
                known = file.schema.metadata or {}
                if known.get(_MARK) != _MARKED:
                    raise TableError("not an index that this version can read; make it anew")
                refuse_compressed(mapped)
                batch = file.get_batch(0)
            starts = np.frombuffer(known[b"starts"], dtype=np.int64)
            pairs = np.frombuffer(known[b"pairs"], dtype=np.float64).reshape(-1, 2)
            require_whole(batch, starts, pairs)
            if is_small(batch):
                ArrowCandidates(batch).validate_numbers(0)
        except (pa.ArrowException, OSError, EOFError, KeyError, ValueError) as error:
            if isinstance(error, TableError):
                raise TableError(f"{path}: {error}") from None
            raise TableError(
                f"{path}: cannot be read as an index, it may be damaged; make it anew ({error})"
            ) from error
        return cls(batch, starts, pairs)

    def weights(self, prior: str) -> NDArray[Any]:
        """Return the priors as in the table, shape (n,), see `CandidateTable.weights`."""
        if prior == "uniform":
            return np.ones(len(self), dtype=np.float32)
        in_commerce = _numpy(self._batch.column("prior"))
        if prior == "commerce" or "classroom" not in self._batch.schema.names:
            return in_commerce  # as it lies on disk
        in_classroom = _numpy(self._batch.column("classroom"))
        known = np.isfinite(in_classroom)
        return in_classroom if known.all() else np.where(known, in_classroom, in_commerce)

    def solids(self, room: float) -> NDArray[np.int64]:
        """Return the rows of compounds that melt above a temperature [K]."""
        if "melting_point_C" not in self._batch.schema.names:
            return np.zeros(0, dtype=np.int64)
        melting = _numpy(self._batch.column("melting_point_C"))
        return np.flatnonzero(melting > room - ICE_POINT)

    def take(self, rows: NDArray[np.int64]) -> CandidateTable:
        """Return some rows as a candidate table, their priors as they are."""
        return _taken(self._batch, rows)

    def blocks(self, size: int) -> Iterator[tuple[CandidateTable, NDArray[np.int64]]]:
        """Yield all rows, so many at a time, and what decides between equal probabilities."""
        for start in range(0, len(self), size):
            yield (
                ArrowCandidates(self._batch.slice(start, size)),
                self.order[start : start + size].astype(np.int64),
            )


def write_index(
    sources: Sequence[str | os.PathLike[str]],
    target: str | os.PathLike[str],
    is_part: bool = False,
) -> None:
    """Sort a candidate table for the match and write it, beside the target first.

    Parameters
    ----------
    sources : sequence of path
        Parquet files with a candidate table each, together one table; all are held in memory.
    target : path
        The index.
    is_part : bool
        Whether other files hold the rest of the table, and perhaps all that has a chance.

    Raises
    ------
    TableError
        Where a source cannot be used.
    OSError
        Where the target cannot be written.
    """
    import pyarrow as pa

    table = _sorted(pa.concat_tables([_read_columns(Path(source)) for source in sources]))
    if not is_part:
        try:
            ArrowCandidates(table).validate_priors()
        except TableError as error:
            raise TableError(f"{sources[0]}: {error}") from None
    keys = np.column_stack([_bits(_numpy(table.column(name))) for name in _BY_FORMULA])
    other = np.any(keys[1:] != keys[:-1], axis=1)
    starts = np.concatenate([[0], np.flatnonzero(other) + 1, [len(keys)]]).astype(np.int64)
    both = np.stack([_bits(_numpy(table.column(name))) for name in _BY_PAIR]).astype(np.uint64)
    _, first, pair = np.unique(
        both[0] << np.uint64(32) | both[1], return_index=True, return_inverse=True
    )
    pairs = np.column_stack([_numpy(table.column(name))[first] for name in _BY_PAIR])
    table = table.append_column("pair", pa.array(pair.astype(np.int32)))
    table = table.replace_schema_metadata(
        {
            _MARK: _MARKED,
            b"starts": starts.tobytes(),
            b"pairs": pairs.astype(np.float64).tobytes(),
        }
    )
    with (
        written_beside(Path(target)) as beside,
        pa.OSFile(str(beside), "wb") as sink,
        pa.ipc.new_file(sink, table.schema) as file,
    ):
        file.write_batch(table.combine_chunks().to_batches()[0])


def _read_columns(source: Path) -> Any:
    """Read a candidate table as Arrow columns, those that it has, each checked.

    Parameters
    ----------
    source : Path
        A Parquet file.

    Returns
    -------
    pyarrow.Table

    Raises
    ------
    TableError
        Where it cannot be used, in one line.
    """
    import pyarrow as pa

    table = _read_table(source)
    columns = {}
    for name in (*TEXT_COLUMNS, *NUMBER_COLUMNS):
        if name in table.schema.names:
            kind, empty = (
                (pa.large_string(), "") if name in TEXT_COLUMNS else (pa.float32(), np.nan)
            )
            columns[name] = table.column(name).combine_chunks().cast(kind).fill_null(empty)
    read = pa.table(columns)
    for start in range(0, len(read), _AT_ONCE):
        try:
            ArrowCandidates(read.slice(start, _AT_ONCE)).validate_numbers(start)
        except TableError as error:
            raise TableError(f"{source}: {error}") from None
    return read


def _read_table(source: Path) -> Any:
    """Read a Parquet file that has the columns of a candidate table, and rows."""
    if not source.exists():
        raise TableError(f"{source}: there is no such file")
    try:
        table = arrow_table(source)
    except TableError as error:
        raise TableError(f"{source}: {error}") from None
    except Exception as error:
        raise TableError(f"{source}: cannot be read as a candidate table ({error})") from error
    missing = [name for name in ("name", "inchikey", *REQUIRED) if name not in table.schema.names]
    if missing:
        raise TableError(f"{source}: not a candidate table, it has no column {missing[0]}")
    if not len(table):
        raise TableError(f"{source}: the candidate table has no rows")
    return table


def _sorted(table: Any) -> Any:
    """Return the table sorted, with the column ``order``: by InChIKey, then name."""
    import pyarrow as pa

    order = _by_compound(table).astype(np.int32)
    number = {name: _numpy(table.column(name)) for name in (*_BY_FORMULA, *_BY_PAIR, "prior")}
    # Rarely do two elements tell apart what the molar mass and the carbon do not; all are sorted.
    keys = [order, number["prior"], *(number[name] for name in reversed(_BY_PAIR))]
    keys += [number[name] for name in reversed(_BY_FORMULA)]
    rows = np.lexsort(keys)
    return table.append_column("order", pa.array(order)).take(pa.array(rows))


def _taken(columns: Any, rows: NDArray[np.int64]) -> CandidateTable:
    """Return some rows of Arrow columns as a table in memory."""
    present = set(columns.schema.names)
    text = {name: texts_at(columns.column(name), rows) for name in TEXT_COLUMNS if name in present}
    numbers = {
        name: _numpy(columns.column(name))[rows].astype(np.float64)
        for name in NUMBER_COLUMNS
        if name in present
    }
    return CandidateTable(text, numbers)


def _by_compound(table: Any) -> NDArray[np.int64]:
    import pyarrow.compute as pc

    rows = pc.sort_indices(table, sort_keys=[("inchikey", "ascending"), ("name", "ascending")])
    order = np.empty(len(table), dtype=np.int64)
    order[rows.to_numpy()] = np.arange(len(table))
    return order


def _stand_ins(size: int, numbers: Mapping[str, NDArray[Any]]) -> CandidateTable:
    """Return rows that have these numbers, and of the other columns the match needs, none."""
    columns = {name: np.zeros(size) for name in REQUIRED}
    # Liquids in the room, where nothing else is said.
    columns |= {"boiling_point_C": np.full(size, 100.0)}
    columns |= {"molar_mass": np.ones(size), "prior": np.ones(size)}
    columns |= {name: values.astype(np.float64) for name, values in numbers.items()}
    return CandidateTable({"name": [""] * size}, columns)


def _bits(values: NDArray[Any]) -> NDArray[Any]:
    """Return single precision as the integers that have the same bits; equal ones are equal."""
    return np.ascontiguousarray(values, dtype=np.float32).view(np.uint32)


def _numpy(column: Any) -> NDArray[Any]:
    """Return an Arrow column without a copy where it is in one piece."""
    if hasattr(column, "chunks"):
        column = column.combine_chunks()
        if hasattr(column, "chunks"):  # none, or still several
            return np.concatenate([np.from_dlpack(chunk) for chunk in column.chunks])
    return np.from_dlpack(column)
