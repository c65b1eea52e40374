"""Inputs that are valid, from which all others are made: the golden cases and the demo."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from pathlib import Path

from golden_answers import Case, cases, kinds

from tests.fuzz.spoiling import Cells

DEMO = Path(__file__).parents[2] / "data" / "demo"
_LARGEST = 12_000  # bytes of a table: whole classes take the most time, and are drawn no other way
_STOCK_COMMANDS = ("check-stock", "cards", "plan")


@cache
def _golden() -> tuple[Case, ...]:
    return tuple(case for kind in kinds() for case in cases(kind))


@cache
def pages() -> tuple[str, ...]:
    """Return run records, in TOML and in lines that are not."""
    files = [text for case in _golden() for name, text in case.files.items() if ".toml" in name]
    lines = "\n".join(
        ("label: C-14", "boiling point: 64.6 C", "pressure = 742 mmHg", "room 22.5 C")
    )
    return (
        *(one.read_text(encoding="utf-8") for one in sorted(DEMO.glob("*.toml"))),
        *files,
        lines,
    )


def _tables(is_stock: bool) -> Iterator[str]:
    yield (DEMO / ("stock.csv" if is_stock else "section.csv")).read_text(encoding="utf-8")
    for case in _golden():
        stocks = {
            name
            for command in case.commands
            for before, name in pairwise(command)
            if before in (*_STOCK_COMMANDS, "--key", "--candidates")
        }
        for name, text in case.files.items():
            if name.endswith(".csv") and (name in stocks) is is_stock and len(text) < _LARGEST:
                yield text


@cache
def trial_tables() -> tuple[Cells, ...]:
    """Return trial tables, header first."""
    return tuple(map(_cells, _tables(is_stock=False)))


@cache
def stock_tables() -> tuple[Cells, ...]:
    """Return stock tables, header first."""
    return tuple(map(_cells, _tables(is_stock=True)))


def _cells(text: str) -> Cells:
    mark = max(",;\t", key=text.partition("\n")[0].count)
    return [list(row) for row in csv.reader(io.StringIO(text), delimiter=mark) if row]


@cache
def typed() -> tuple[tuple[str, ...], ...]:
    """Return commands as they are typed, without those of whole classes."""
    return tuple(
        dict.fromkeys(
            tuple(command)
            for case in _golden()
            for command in case.commands
            if command[0] != "python" and not set(command) & set(case.files)
        )
    )
