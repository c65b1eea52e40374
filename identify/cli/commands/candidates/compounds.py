"""Rows of a table of compounds, written out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from identify.cli.options.options import OutputFormat

if TYPE_CHECKING:
    from identify.answers.text import Page
    from identify.compounds.table import CandidateTable

Lines = Callable[[list[dict[str, Any]], "Page"], list[str]]


def write_compounds(
    table: CandidateTable, rows: Sequence[int], form: OutputFormat, lines: Lines
) -> None:
    """Write rows of a table to standard output, as lines for a person or as every column."""
    from identify.answers.text import Page
    from identify.answers.text.compound import compound_record

    page = Page.of()
    records = [compound_record(table, row) for row in rows]
    if form is OutputFormat.table:
        if records:
            print("\n".join(lines(records, page)))
        return
    from identify.answers.files.data import csv_text, json_text

    if form is OutputFormat.json:
        print(json_text(records, page.unicode))
    else:
        print(csv_text(records), end="")
