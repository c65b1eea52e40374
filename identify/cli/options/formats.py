"""One result of a command, in the format that was asked for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from identify.answers.files.data import csv_text, json_text
from identify.cli.options.options import OutputFormat


def print_row(form: OutputFormat, row: Mapping[str, Any], line: str) -> None:
    """Print what a command did: one line of text, one JSON object or one CSV row."""
    if form is OutputFormat.json:
        print(json_text(row))
    elif form is OutputFormat.csv:
        print(csv_text([row]), end="")
    else:
        print(line)
