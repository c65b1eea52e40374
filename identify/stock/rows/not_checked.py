"""What a row leaves unsaid, so that nobody could check it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from identify.compounds.naming.meaning import Compound
from identify.notebook.findings import Finding, listed
from identify.stock.result import StockRow
from identify.stock.rows.stated_values import StatedValues

_MAX_BOTTLES_IN_SENTENCE = 6


def not_checked(stated: StatedValues, compound: Compound | None) -> Iterator[str]:
    """Yield what a row does not state.

    Parameters
    ----------
    stated : StatedValues
    compound : Compound or None
        The row's; nothing is compared where it is not known.
    """
    if compound is None:
        yield "all that it states"
        return
    if stated.formula is None:
        yield "formula"
    if stated.molar_mass is None:
        yield "molar mass"
    if not stated.percent:
        yield "percentages"
    else:
        yield from (f"% {one}" for one in compound.percent if one not in stated.percent)
    if stated.boiling_point is None:
        yield "boiling point"


def not_checked_finding(rows: Sequence[StockRow]) -> Iterator[Finding]:
    """Yield what was not checked, for all rows in one sentence."""
    missing: dict[str, list[str]] = defaultdict(list)
    for row in rows:
        for what in row.not_checked:
            missing[what].append(row.title)
    if not missing:
        return
    told = [f"{what} of {_bottles(titles, len(rows))}" for what, titles in missing.items()]
    yield Finding(
        "not-checked",
        "note",
        f"Not stated or not clear, and so not checked: {'; '.join(told)}.",
        "Nothing to do where the cards do not give it; else add the column or the cell, and check "
        "again.",
        {"rows": float(len({title for titles in missing.values() for title in titles}))},
    )


def _bottles(titles: Sequence[str], rows: int) -> str:
    if len(titles) == rows and rows > 1:
        return "any bottle"
    return listed(titles, _MAX_BOTTLES_IN_SENTENCE)
