"""One answer on standard output: as lines for a person, as JSON, or as rows of CSV."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from enum import StrEnum
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from identify.answers.text import Page


class OutputFormat(StrEnum):
    """What the answer is written as."""

    table = "table"
    json = "json"
    csv = "csv"


def write_answer(
    form: OutputFormat,
    lines: Callable[[Page], Iterable[str]],
    data: Callable[[], Any],
    rows: Callable[[], Iterable[Mapping[str, Any]]],
) -> None:
    """Write an answer to standard output.

    Parameters
    ----------
    form : OutputFormat
    lines : callable
        Gives the lines of a table on a page; nothing is written where there are none.
    data : callable
        Gives what JSON holds.
    rows : callable
        Gives the rows of CSV.
    """
    from identify.answers.text import Page

    page = Page.of()
    if form is OutputFormat.table:
        if text := list(lines(page)):
            print("\n".join(text))
        return
    from identify.answers.files.data import csv_text, json_text

    if form is OutputFormat.json:
        print(json_text(data(), page.unicode))
    else:
        print(csv_text(list(rows())), end="")
