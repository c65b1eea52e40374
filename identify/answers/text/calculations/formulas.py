"""Formulas from percentages as text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from identify.answers.text import TextTable, signed

FORMULA_COLUMNS = {
    "empirical": ("formula", "molar_mass", "rest", "largest_deviation"),
    "nearest": ("formula", "molar_mass", "rest", "deviations"),
    "molecular": ("formula", "molar_mass", "rest", "degree_of_unsaturation", "known_compounds"),
}
_FORMULA_HEADINGS = {
    "molar_mass": "molar mass\ng/mol",
    "largest_deviation": "largest devi-\nation, points",
    "deviations": "off by\npercentage points",
    "rest": "not named\ng/mol",
    "degree_of_unsaturation": "degree of\nunsaturation",
    "known_compounds": "known\ncompounds",
}
_DEVIATIONS_A_LINE = 5


def formula_lines(data: dict[str, Any]) -> list[str]:
    """Return what is printed of formulas, from their plain data: a table a kind."""
    lines = []
    if not data["empirical"]:
        lines.append("No formula fits." + (" The nearest:" if data["nearest"] else ""))
    for kind, listed in FORMULA_COLUMNS.items():
        if data[kind]:
            lines += [*([""] if lines else []), *_kind_lines(kind, data[kind], listed)]
    return lines


def _kind_lines(kind: str, formulas: list[dict[str, Any]], listed: Sequence[str]) -> list[str]:
    # What elements that are not named make, and what cannot be said because of them.
    partial = any(one["rest"] for one in formulas)
    hidden = ("degree_of_unsaturation", "known_compounds") if partial else ("rest",)
    columns = [name for name in listed if name not in hidden]
    rows = [row for one in formulas for row in _formula_rows(one, columns)]
    headings = [f"{kind}\nformula", *(_FORMULA_HEADINGS[name] for name in columns[1:])]
    flush_left = [0, *(n for n, name in enumerate(columns) if name == "deviations")]
    return TextTable.of(headings, rows, flush_left).lines()


def _formula_rows(one: dict[str, Any], columns: list[str]) -> list[list[str]]:
    """Return a formula's cells: one row, or more where its deviations need them."""
    if "deviations" not in columns:
        return [[_cell(name, one[name]) for name in columns]]
    offs = [f"{element} {signed(off, 1)}" for element, off in one["deviations"].items()]
    starts = range(0, len(offs), _DEVIATIONS_A_LINE)
    parts = ["  ".join(offs[start : start + _DEVIATIONS_A_LINE]) for start in starts]
    first = [_cell(name, one[name]) for name in columns[:-1]]
    return [[*(first if not n else [""] * len(first)), part] for n, part in enumerate(parts)]


def _cell(name: str, value: str | float) -> str:
    if name == "degree_of_unsaturation":  # whole, or a half
        return f"{value:g}"
    return f"{value:.2f}" if isinstance(value, float) else str(value)
