"""Run records (TOML) and trial tables (CSV, XLSX, frames) read into measurements.

A row or record that cannot be used becomes a `Fault` and is set aside; the others go on. Nothing
that a file holds is dropped without one.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from identify.notebook.quantities import excerpt
from identify.tables.assembly import assemble_rows
from identify.tables.faults import Fault, Runs, UnreadableError
from identify.tables.files import (
    excel_rows,
    file_bytes,
    further_sheets,
    is_excel,
    text_of,
    text_rows,
)
from identify.tables.run_record import record_entries
from identify.tables.trial_table import Entries, Row, table_entries

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Fault", "Runs", "read_runs", "runs_from_frame"]

_MOST_SHEETS = 3  # that a fault names


def read_runs(path: str | Path) -> Runs:
    """Read a run record (``.toml``) or a trial table (CSV, XLSX).

    Parameters
    ----------
    path : str or Path
        A table may be separated by commas, semicolons or tabs, with decimal points or commas, in
        UTF-8, UTF-16 (with byte order mark) or Windows-1252. Of a workbook the first sheet is read.

    Returns
    -------
    Runs
        The measurements, in the order in which their labels first appear, with ``faults``: one
        for each thing that could not be used, and ``set_aside``: the rows of a table that went into
        no measurement. Nothing is raised for what a file holds, nor for a file that is not there.

    Examples
    --------
    >>> print(read_runs("no such file.csv").faults[0])
    no such file.csv: there is no such file; check the name and the folder
    """
    file = str(path)
    faults: list[Fault] = []
    try:
        data = file_bytes(path)
        if is_excel(data):
            entries = _workbook_entries(data, file, faults)
        elif file.lower().endswith(".toml"):
            entries = Entries(record_entries(text_of(data), file, faults))
        else:
            entries = table_entries(text_rows(text_of(data), file, faults), file, faults)
    except UnreadableError as error:
        return Runs((), (*faults, Fault(file, error.row, "", "", error.advice)), Path(path))
    return _runs(entries, faults, Path(path))


def runs_from_frame(frame: pd.DataFrame) -> Runs:
    """Read a frame with a trial table's columns.

    Parameters
    ----------
    frame : pandas.DataFrame
        Columns as in a CSV trial table; missing values (NaN, None, NA) are empty cells.

    Returns
    -------
    Runs
        As from `read_runs`; rows are counted as if the header were row 1, so that the first row of
        the frame is row 2.

    Examples
    --------
    >>> import pandas as pd
    >>> runs = runs_from_frame(pd.DataFrame({"label": ["C-14"], "boiling_point_C": [64.6]}))
    >>> print(runs[0].label, runs[0].boiling_point)
    C-14 64.6 °C
    """
    file = "data frame"
    faults: list[Fault] = []
    cells = frame.astype(object).where(frame.notna(), None)
    rows: list[Row] = [(1, [str(name) for name in frame.columns])]
    rows += [(number, list(row)) for number, row in enumerate(cells.to_numpy().tolist(), start=2)]
    try:
        entries = table_entries(rows, file, faults)
    except UnreadableError as error:
        return Runs((), (*faults, Fault(file, error.row, "", "", error.advice)))
    return _runs(entries, faults)


def _workbook_entries(data: bytes, file: str, faults: list[Fault]) -> Entries:
    """Read the first sheet; where it is no table, say that there are others."""
    try:
        return table_entries(excel_rows(data), file, faults)
    except UnreadableError as error:
        others = further_sheets(data)
        if not others:
            raise
        names = ", ".join(f'"{excerpt(name)}"' for name in others[:_MOST_SHEETS])
        advice = f"{error.advice}; only the first sheet is read, move {names} to the front"
        raise UnreadableError(advice, error.row) from None


def _runs(entries: Entries, faults: list[Fault], path: Path | None = None) -> Runs:
    assembled = assemble_rows(entries.entries, faults)
    in_order = sorted(faults, key=lambda fault: fault.row or 0)
    measurements = [one.measurement for one in assembled]
    return Runs(measurements, in_order, path, entries.rows, [one.rows for one in assembled])
