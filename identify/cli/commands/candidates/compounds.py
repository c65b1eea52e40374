"""Rows of a table of compounds, written out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from identify.cli.terminal.output import OutputFormat, write_answer

if TYPE_CHECKING:
    from identify.answers.text import Page
    from identify.compounds.table import CandidateTable

_Lines = Callable[[list[dict[str, Any]], "Page"], list[str]]


def write_compounds(
    table: CandidateTable, rows: Sequence[int], form: OutputFormat, lines: _Lines
) -> None:
    """Write rows of a table to standard output, as lines for a person or as every column."""
    from identify.answers.text.compound import compound_record

    records = [compound_record(table, row) for row in rows]
    write_answer(
        form, lambda page: lines(records, page) if records else (), lambda: records, lambda: records
    )
