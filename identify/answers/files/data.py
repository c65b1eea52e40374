"""Answers as data for other programs: JSON and CSV."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Mapping, Sequence
from math import isfinite
from typing import Any

from identify.notebook.printable import printable
from identify.notebook.saving import harmless
from identify.notebook.serializing import plain

# Enough for every number here; more would show the noise of binary fractions.
_SIGNIFICANT_DIGITS = 8


def json_text(answer: Any, unicode: bool = True) -> str:
    """Return an answer as JSON; numbers that are not finite become null.

    A character that is not to be shown is escaped, so that its value stays.

    Examples
    --------
    >>> json_text([{"value": float("nan")}]).split()
    ['[', '{', '"value":', 'null', '}', ']']
    """
    text = json.dumps(plain(answer), indent=2, ensure_ascii=not unicode, allow_nan=False)
    return printable(text, lambda one: json.dumps(one)[1:-1], kept="\n")


def csv_text(rows: Sequence[Mapping[str, Any]], columns: Sequence[str] = ()) -> str:
    r"""Return rows as CSV under these columns and those that any row has; empty where it has none.

    CSV knows no texts from formulas: a text that a spreadsheet would run gets an apostrophe before
    it, which makes it a text there. Numbers stay as they are. A character that is not to be shown
    is replaced by U+FFFD; line feeds stay.

    Examples
    --------
    >>> csv_text([{"label": "C-14", "rank": 1}, {"label": "C-15", "note": "x, y"}])
    'label,rank,note\nC-14,1,\nC-15,,"x, y"\n'
    >>> csv_text([{"label": "=1+1", "off": -0.5}])
    "label,off\n'=1+1,-0.5\n"
    """
    names = list(dict.fromkeys((*columns, *(name for row in rows for name in row))))
    if not names:
        return ""
    page = io.StringIO()
    writer = csv.writer(page, lineterminator="\n")
    writer.writerow(map(_cell, names))
    writer.writerows([_cell(row.get(name)) for name in names] for row in rows)
    return page.getvalue()


def _cell(value: Any) -> Any:
    if value is None or (isinstance(value, float) and not isfinite(value)):
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:.{_SIGNIFICANT_DIGITS}g}"
    if isinstance(value, str):
        # A carriage return would begin a new row for some readers, whatever follows it.
        lines = value.replace("\r\n", "\n").replace("\r", "\n")
        return harmless(printable(lines, kept="\n\t"))
    return value


def answer_rows(answer: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """Yield one row a candidate from one unknown's answer in the JSON's form."""
    molar_mass = answer.get("molar_mass") or {}
    shared_before = {"label": answer["label"], "student": answer.get("student", "")}
    shared_after = {
        "none_of_these": answer["none_of_these"],
        "verdict": answer["verdict"],
        "measured_molar_mass": molar_mass.get("value"),
        "measured_molar_mass_u": molar_mass.get("standard_uncertainty"),
        "ideal_gas_molar_mass": molar_mass.get("ideal_gas"),
        "findings": " ".join(finding["code"] for finding in answer.get("findings", ())),
    }
    for candidate in answer["candidates"] or [{}]:
        row = {key: value for key, value in candidate.items() if not isinstance(value, Mapping)}
        deviations = dict(_flat(candidate.get("deviations") or {}))
        yield {**shared_before, **row, **deviations, **shared_after}


def _flat(deviations: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    """Yield deviations under the names of their columns."""
    for name, value in deviations.items():
        if isinstance(value, Mapping):
            yield from ((f"{name}_{element}_off", off) for element, off in value.items())
        else:
            yield f"{name}_off", value
