"""Frames of any library as pandas frames: whatever speaks Arrow's C interface, or has columns."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, cast

from identify.tables.rows import TableRow

if TYPE_CHECKING:
    import pandas as pd

FRAME = "data frame"
"""What faults call it, in place of a file."""


def is_frame(given: object) -> bool:
    """Say whether something is a frame, of whatever library, or a mapping of columns."""
    is_pandas = hasattr(given, "columns") and hasattr(given, "notna")
    is_columns = isinstance(given, Mapping) and not hasattr(given, "tocsr")  # a sparse array
    return is_pandas or hasattr(given, "__arrow_c_stream__") or is_columns


def is_given(candidates: object) -> bool:
    """Say whether candidates are a frame, or a list of names or SMILES."""
    is_list = isinstance(candidates, Sequence) and not isinstance(candidates, str | bytes)
    return is_list or is_frame(candidates)


def table_source(given: object) -> Path | pd.DataFrame:
    """Return where a table is read from: a file, or a frame as a pandas frame.

    Raises
    ------
    TypeError
        If it is neither.
    """
    if isinstance(given, str | os.PathLike):
        return Path(given)
    if is_frame(given):
        return as_pandas(given)
    raise TypeError(f"a {type(given).__name__} is neither a path nor a frame with named columns")


def frame_rows(frame: pd.DataFrame) -> tuple[TableRow, list[TableRow]]:
    """Return a frame as header and rows of a table; the header is row 1, as in a file."""
    cells = frame.astype(object).where(frame.notna(), None).to_numpy().tolist()
    header = TableRow(FRAME, 1, [str(name) for name in frame.columns])
    return header, [TableRow(FRAME, number, row) for number, row in enumerate(cells, start=2)]


def as_pandas(given: object) -> pd.DataFrame:
    """Return a frame as a pandas frame.

    Parameters
    ----------
    given : pandas.DataFrame, or polars, Arrow or another frame, or mapping of columns
        Others than pandas hand their columns over by Arrow's C stream interface
        (``__arrow_c_stream__``), which needs none of their libraries.

    Raises
    ------
    TypeError
        If it is not a frame.

    Examples
    --------
    >>> import pyarrow as pa
    >>> as_pandas(pa.table({"formula": ["C2H6O"]}))["formula"].tolist()
    ['C2H6O']
    """
    import pandas as pd

    if not is_frame(given):
        raise TypeError(f"a {type(given).__name__} is not a frame with named columns")
    if isinstance(given, pd.DataFrame):
        return given
    if isinstance(given, Mapping):
        return pd.DataFrame(dict(given))
    import pyarrow as pa

    return cast("pd.DataFrame", pa.table(given).to_pandas())
