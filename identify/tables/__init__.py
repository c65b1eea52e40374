"""Files into rows, and rows into what they mean: run records, trial, stock and structure tables.

Every table goes the same way. `lines` turns bytes into lines of text whatever their encoding, and
`rows` turns these, or the first sheet of a workbook, into numbered rows: it finds the separator
and, below title rows, the header. Both it tells by the headings that the kind of table has, which
stand in one dictionary, `headings`; `columns` reads the cells below them. Then each kind takes its
rows: `trial_table` makes entries of them (as `records` does of a TOML file), which `assembly`
puts together to measurements; `stock_rows` makes bottles, and `structures` records of collections
of any size.

A row or record that cannot be used becomes a `Fault` and is set aside; the others go on. Nothing
that a file holds is dropped without one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from identify.tables.assembly import MISSING, assemble
from identify.tables.faults import Fault, Runs, UnreadableError
from identify.tables.frames import FRAME, frame_rows
from identify.tables.headings.dictionary import TRIAL_HEADINGS
from identify.tables.limits import MAX_RECORD, size_text
from identify.tables.lines import file_bytes, is_excel, text_of
from identify.tables.records.run_record import record_entries
from identify.tables.rows import naming_other_sheets, table_rows
from identify.tables.trial_table import Entries, table_entries
from identify.tables.workbooks import hidden_sheets

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Fault", "Runs", "read_runs", "runs_from_frame"]


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
        if file.lower().endswith(".toml") and not is_excel(data):
            if len(data) > MAX_RECORD:
                raise UnreadableError(
                    f"is larger than {size_text(MAX_RECORD)}, and a run record is a page; "
                    "many unknowns make a table (CSV, XLSX)"
                )
            entries = Entries(record_entries(text_of(data), file, faults))
        else:
            with naming_other_sheets(data, TRIAL_HEADINGS.score):
                entries = table_entries(*table_rows(data, file, TRIAL_HEADINGS.score), faults)
            if is_excel(data) and entries.headings is not None:
                told = replace(entries.headings, hidden=hidden_sheets(data))
                entries = replace(entries, headings=told)
    except UnreadableError as error:
        return Runs((), (*faults, error.fault(file)), Path(path))
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
    faults: list[Fault] = []
    try:
        entries = table_entries(*frame_rows(frame), faults, refuses_others=True)
    except UnreadableError as error:
        return Runs((), (*faults, error.fault(FRAME)))
    return _runs(entries, faults)


def _runs(entries: Entries, faults: list[Fault], path: Path | None = None) -> Runs:
    assembled = assemble(entries.entries, faults)
    in_order = sorted(_by_column(faults, entries), key=lambda fault: fault.row or 0)
    return Runs(
        [one.measurement for one in assembled],
        in_order,
        path,
        entries.rows,
        [one.rows for one in assembled],
        entries.headings,
        entries.notes,
    )


def _by_column(faults: Sequence[Fault], entries: Entries) -> list[Fault]:
    """Say once of a column that is not there what each row would say of it."""
    lacking: dict[str, list[Fault]] = {}
    for fault in filter(_is_of_missing_cell, faults):
        lacking.setdefault(fault.column, []).append(fault)
    whole = [each for each in lacking.values() if _is_whole(each, entries)]
    said = {id(fault) for each in whole for fault in each}
    others = [fault for fault in faults if id(fault) not in said]
    return [*others, *(_of_column(each, entries) for each in whole)]


def _is_of_missing_cell(fault: Fault) -> bool:
    return fault.row is not None and fault.advice.startswith(MISSING)


def _is_whole(each: Sequence[Fault], entries: Entries) -> bool:
    """Tell whether what rows lack is a column that is not there, or empty in all of them."""
    is_there = each[0].column in entries.columns
    return len(each) > 1 and (not is_there or len(each) == len(entries.rows))


def _of_column(each: Sequence[Fault], entries: Entries) -> Fault:
    first = each[0]
    is_there = first.column in entries.columns
    column = first.column if is_there else TRIAL_HEADINGS.shown(first.column)
    reason = "is empty in all rows" if is_there else f"there is no such column for {len(each)} rows"
    advice = first.advice.replace(MISSING, f"{reason};", 1)
    return Fault(first.file, entries.header_row, column, "", advice, each=tuple(each))
