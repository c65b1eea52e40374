"""The check of a stock table, as plain text."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import TYPE_CHECKING

from identify.answers.text.page import (
    DIM,
    Page,
    elided,
    finding_lines,
    percent_text,
    signed,
    table_lines,
)
from identify.notebook.findings import listed, worst_first

if TYPE_CHECKING:
    from identify.matching.advise.separation import Narrowed
    from identify.stock.result import BottleGroup, StockCheck, StockRow

_OBSERVABLES = {"molar_mass": "molar mass", "boiling_point": "boiling point"}
_ELEMENT = "percent_"
_LONGEST_LABEL = 12
_SHORTEST_COMPOUND = 16
_WIDE = 100  # columns, from which on there is room for CAS numbers


def stock_lines(check: StockCheck, page: Page) -> list[str]:
    """Return what is printed of the check of a stock table.

    Parameters
    ----------
    check : StockCheck
    page : Page
    """
    lines = [page.emphasized(elided(page.text(check.file), page.width, page.text("…")))]
    lines += [*page.wrapped(summary(check), "  "), ""]
    for row in check.rows:
        if row.findings:
            lines += [*_row_lines(row, page), ""]
    if check.rows:
        lines += [*_table(check.rows, page), ""]
    if check.groups:
        lines += [page.emphasized("Not told apart by what the class measures")]
        for group in check.groups:
            lines += page.wrapped(group_sentence(group), "  - ", "    ")
        lines.append("")
    if check.findings:
        lines.append(page.emphasized("The table as a whole"))
        for finding in worst_first(check.findings):
            lines += finding_lines(finding, page)
        lines.append("")
    return [*lines, *page.wrapped(_footnote(check))]


def summary(check: StockCheck) -> str:
    """Return the check in a sentence or two."""
    rows = len(check.rows)
    wrong = sum(row.is_wrong for row in check.rows)
    doubtful = sum(_worst(row) == "warning" for row in check.rows)
    alike = sum(len(group.labels) for group in check.groups)
    parts = [f"{_counted(wrong, 'row')} wrong" if wrong else "no row is wrong"]
    if doubtful:
        parts.append(f"{doubtful} {'more ' if wrong else ''}{_has(doubtful)} a warning")
    if alike:
        parts.append(f"{alike} cannot be told from another by what the class measures")
    if any(finding.severity == "error" for finding in check.findings):
        parts.append("the table itself is wrong")
    bottles = f"{rows} bottle{'' if rows == 1 else 's'}"
    return f"{bottles}: {', '.join(parts)}. Checked for {check.laboratory}."


def _counted(count: int, what: str) -> str:
    return f"{count} {what} is" if count == 1 else f"{count} {what}s are"


def _has(count: int) -> str:
    return "has" if count == 1 else "have"


def group_sentence(group: BottleGroup) -> str:
    """Return a group with what would tell its bottles apart."""
    of_a_pair = "" if len(group.labels) == 2 else " of the nearest two"
    sentence = (
        f"{listed(group.labels)}: a reading of one{of_a_pair} is taken for the other in "
        f"{percent_text(group.confusion)}."
    )
    ways = []
    if group.separated_by is not None:
        ways.append(_narrowed(group.separated_by))
    if group.other_reading:
        ways.append(group.other_reading)
    if not ways:
        return f"{sentence} Nothing here tells them apart: give the class one of them."
    return f"{sentence} They would be told apart by {'; or by '.join(ways)}."


def _narrowed(one: Narrowed) -> str:
    """Return a tolerance in words, and whether a bench reads that well."""
    from identify.observables.boiling_point import LEAST_BOILING_POINT
    from identify.observables.composition import LEAST_ELEMENT
    from identify.observables.weighing import LEAST_MOLAR_MASS

    words = f"the {_observable(one.observable)} to ± {_two_digits(one.tolerance)} {one.unit}"
    least = {"molar_mass": 100.0 * LEAST_MOLAR_MASS, "boiling_point": LEAST_BOILING_POINT}
    # A tolerance is two standard uncertainties.
    if one.tolerance < 2.0 * least.get(one.observable, LEAST_ELEMENT):
        return f"{words}, finer than a bench reads"
    return words


def change_lines(check: StockCheck, page: Page) -> list[str]:
    """Return every cell that the corrected copy has otherwise."""
    lines: list[str] = []
    for change in check.changes:
        read = f'"{change.read}"' if change.read else "empty"
        text = f'row {change.row}, {change.column}: {read} → "{change.written}" ({change.reason})'
        lines += page.wrapped(text, "  - ", "    ")
    return lines


def _observable(name: str) -> str:
    if name.startswith(_ELEMENT):
        return f"percentage of {name.removeprefix(_ELEMENT)}"
    return _OBSERVABLES.get(name, name)


def _two_digits(value: float) -> str:
    """Return a tolerance with two digits, cut off so that it still tells apart.

    Examples
    --------
    >>> _two_digits(0.7391), _two_digits(4.968), _two_digits(12.7)
    ('0.73', '4.9', '12')
    """
    from math import floor, log10

    step = 10.0 ** (floor(log10(value)) - 1)
    return f"{floor(value / step + 1e-9) * step:.{max(0, 1 - floor(log10(value)))}f}"


def _worst(row: StockRow) -> str:
    return worst_first(row.findings)[0].severity if row.findings else ""


def _row_lines(row: StockRow, page: Page) -> list[str]:
    name = row.written
    if row.compound is not None and row.compound.name.casefold() != row.written.casefold():
        name = f'{row.compound.name} ("{row.written}")'
    heading = "  ".join(filter(None, (f"row {row.row}", row.label, name)))
    lines = [page.emphasized(elided(page.text(heading), page.width, page.text("…")))]
    for finding in worst_first(row.findings):
        lines += finding_lines(finding, page)
    return lines


def _table(rows: Sequence[StockRow], page: Page) -> list[str]:
    wide = page.width >= _WIDE
    columns = {
        "bottle": [
            elided(page.text(row.label or f"row {row.row}"), _LONGEST_LABEL) for row in rows
        ],
        "compound": [_compound(row) for row in rows],
        **({"CAS": [row.compound.cas if row.compound else "" for row in rows]} if wide else {}),
        "formula": [elided(row.compound.formula if row.compound else "", 14) for row in rows],
        "boils\n°C": [_decimals(row.standing.boils_C if row.standing else None, 1) for row in rows],
        "bath\nmargin": [
            signed(row.standing.margin_K if row.standing else None, 1) for row in rows
        ],
        "flash\n°C": [
            _decimals(row.hazards.flash_point_C if row.hazards else None, 0) for row in rows
        ],
        "nearest": [_nearest(row) for row in rows],
        "apart\nby": [
            _decimals(row.standing.separation if row.standing else None, 1) for row in rows
        ],
    }
    shown = {
        "\n".join(page.text(part) for part in heading.split("\n")): [page.text(c) for c in cells]
        for heading, cells in columns.items()
    }
    room = page.width - 2 - sum(_width(h, c) + 1 for h, c in shown.items() if h != "compound")
    shown["compound"] = [
        elided(cell, max(room, _SHORTEST_COMPOUND), page.text("…")) for cell in shown["compound"]
    ]
    left = [
        n for n, h in enumerate(shown) if h in ("bottle", "compound", "CAS", "formula", "nearest")
    ]
    lines = table_lines(list(zip(*shown.values(), strict=True)), list(shown), left)
    indented = ["  " + line for line in lines]
    return [*(page.emphasized(line, DIM) for line in indented[:2]), *indented[2:]]


def _width(heading: str, cells: Sequence[str]) -> int:
    return max(len(text) for text in (*heading.split("\n"), *cells))


def _compound(row: StockRow) -> str:
    mark = {"error": "! ", "warning": "? "}.get(_worst(row), "  ")
    return mark + (row.written if row.compound is None else row.compound.name)


def _nearest(row: StockRow) -> str:
    if row.standing is None or not row.standing.nearest:
        return "-"
    return elided(row.standing.nearest, _LONGEST_LABEL)


def _decimals(value: float | None, decimals: int) -> str:
    return "-" if value is None or not isfinite(value) else f"{value:.{decimals}f}"


def _footnote(check: StockCheck) -> str:
    from identify.matching.advise.separation import APART

    tolerances = check.tolerances
    return (
        "!: the row is wrong; ?: it has a warning. boils: at the laboratory's pressure; bath "
        "margin: of the bath over that. nearest: the bottle that is hardest to tell from this "
        "one, and how far apart the two are in standard uncertainties of the class's readings "
        f"(half of: molar mass {tolerances.molar_mass:g} %, each element {tolerances.percent:g} "
        f"points, boiling point {tolerances.boiling_point:g} °C); {APART:.1f} and more are told "
        "apart."
    )
