"""A candidate table from a file: the built-in one, a laboratory's own, or another built one."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from identify.compounds.parquet import built_in_path, read_parquet
from identify.compounds.table import CandidateTable
from identify.tables.faults import TableError, warn_of

INDEX_ENDING = ".arrow"
"""Of the file name of an index, see `identify.large.indexed`."""


def is_large(path: str | os.PathLike[str]) -> bool:
    """Say whether a path names an index, or a folder with a table in parts."""
    return Path(path).suffix == INDEX_ENDING or Path(path).is_dir()


def load_candidates(path: str | os.PathLike[str] | Any | None = None) -> CandidateTable:
    """Load a candidate table.

    Parameters
    ----------
    path : path, frame, or list of str, optional
        A Parquet file in the built-in table's form, or a stock table (CSV, XLSX), one row a
        bottle; or candidates that are in memory, as for `identify.score`. The built-in table where
        not given.

    Returns
    -------
    CandidateTable

    Raises
    ------
    TableError
        Where the file is not there or cannot be used, in one line.

    Warns
    -----
    UserWarning
        Where rows of a stock table or a frame cannot be used; they are in the table's ``faults``.
    """
    if path is not None and not isinstance(path, str | os.PathLike):
        from identify.compounds.given import given_candidates

        return _warned_of(given_candidates(path).table)
    source = built_in_path() if path is None else Path(path)
    if not source.exists():
        raise TableError(f"{source}: there is no such file")
    if is_large(source):
        raise TableError(
            f"{source}: an index or a table in parts is for the match alone; name a table here"
        )
    if path is not None and source.suffix.lower() != ".parquet":
        from identify.compounds.stock_table import read_stock_candidates

        return _warned_of(read_stock_candidates(source))
    return read_parquet(source)


def _warned_of(table: CandidateTable) -> CandidateTable:
    warn_of(table.faults, ".faults", stacklevel=4)
    return table
