"""Why a compound is as probable as it is, as text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from identify.answers.text import Page, TextTable, signed, with_chance
from identify.matching.explain.explanation import Explanation, Line, times_text
from identify.matching.explain.terms import reading_text

# Columns from which on the table has room for all that there is.
_WIDE = 74
_NOTHING = 0.005  # log-odds that are printed as 0.00


def explanation_lines(explanation: Explanation, page: Page) -> list[str]:
    """Return what is printed on why a compound is as probable as it is."""
    compound, other = (
        with_chance(side.name, side.probability)
        for side in (explanation.compound, explanation.other)
    )
    joint = "and not" if explanation.leads else "is not ahead of"
    lines = page.wrapped(f"Why {compound} {joint} {other}, as it is written:", "  ")
    lines += page.wrapped(explanation.sentence, "  ")
    wide = page.width >= _WIDE
    headings = ["", "would\nread", "\nread", "\n", "\noff", "other\noff", "times as\nlikely"]
    headings.append("log-\nodds")
    rows = [_cells(line) for line in explanation.lines if _is_shown(line)]
    total = ["all together", *[""] * 5, times_text(explanation.times_as_likely)]
    rows.append([*total, signed(explanation.total, 2)])
    kept = range(len(headings)) if wide else (0, 1, 2, 3, 4, 6)
    cells = [[page.text(row[column]) for column in kept] for row in rows]
    table = TextTable.of([headings[column] for column in kept], cells, left=(0, 3))
    return [*lines, "", *table.lines(indent="  ")]


def explanation_notes(given: Sequence[Explanation | None], page: Page) -> list[str]:
    """Return what the columns of the explanations mean; nothing where there are none."""
    lines = [line for one in given if one is not None for line in one.lines if _is_shown(line)]
    if not lines:
        return []
    adding = " Log-odds, their natural logarithms, add." if page.width >= _WIDE else ""
    baths = "" if all(line.observable != "not_boiled_off" for line in lines) else _ON_BATHS
    return page.wrapped(
        "An explanation takes the readings as they are written, whatever slip may be in them: off "
        "is the reading minus what the compound would have given, in "
        "tolerances: up to 1 it agrees. Other off is the same for the compound that it is compared "
        "with, times as likely how many times as likely the reading makes it beside that one. "
        f"These factors multiply.{adding} Any reading may be a gross error: none weighs more than "
        f"the chance of one allows.{baths}"
    )


_ON_BATHS = (
    " What may not have boiled off: its boiling point, beside the bath; its weighings then say the "
    "less, for it and against it."
)


def _is_shown(line: Line) -> bool:
    # Most liquids stay in the bottle and boil off in the bath: worth a line only where not.
    return (
        line.deviation is not None
        or line.observable == "commonness"
        or abs(line.log_odds) >= _NOTHING
    )


def _cells(line: Line) -> list[str]:
    readings = [
        ""
        if value is None and line.deviation is None
        else reading_text(value, line.observable, line.unit)
        for value in (line.predicted, line.measured)
    ]
    return [
        line.name,
        *readings,
        line.unit,
        *(
            "" if off is None else signed(off, 1)
            for off in (line.deviation, line.deviation_of_other)
        ),
        times_text(line.times_as_likely),
        signed(line.log_odds, 2),
    ]
