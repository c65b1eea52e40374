"""The check of a stock table, as plain text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from identify.answers.text.numbers import NOTHING, counted, decimals_text, percent_text, signed
from identify.answers.text.page import DIM, WIDE, Page, finding_lines
from identify.answers.text.pouring import PouredBottle, pouring_lines
from identify.answers.text.table import TextColumn, TextTable
from identify.notebook.findings import Finding, any_error, listed, worst_first
from identify.stock.remarks import told_once
from identify.stock.result import BottleGroup, Hazards, Standing, StockCheck, StockRow

if TYPE_CHECKING:
    from identify.matching.advise.separation import Narrowed

_OBSERVABLES = {"molar_mass": "molar mass", "boiling_point": "boiling point"}
_ELEMENT = "percent_"
_LONGEST_LABEL = 12
_SHORTEST_COMPOUND = 16


def stock_lines(check: StockCheck, page: Page) -> list[str]:
    """Return what is printed of the check of a stock table."""
    own = [one for row in check.rows if (one := told_once(row, check.remarks)).findings]
    remarks = [remark.finding for remark in check.remarks]
    parts = [
        [page.emphasized(page.elided(check.file)), *page.wrapped(summary(check), "  ")],
        *(_row_lines(row, page) for row in own),
        _finding_lines("Of several bottles", remarks, page),
        TextTable(_COLUMNS, check.rows).lines(page, "  ", DIM) if check.rows else [],
        [] if check.poured is None else _amounts(check, page),
        _group_lines(check.groups, page),
        _finding_lines("The table as a whole", worst_first(check.findings), page),
    ]
    return [line for part in parts if part for line in (*part, "")][:-1]


def _finding_lines(title: str, findings: Sequence[Finding], page: Page) -> list[str]:
    lines = [line for finding in findings for line in finding_lines(finding, page)]
    return [page.emphasized(title), *lines] if findings else []


def _group_lines(groups: Sequence[BottleGroup], page: Page) -> list[str]:
    sentences = map(group_sentence, groups)
    lines = [line for one in sentences for line in page.wrapped(one, "  - ", "    ")]
    title = page.emphasized("Not told apart by what the class measures")
    return [title, *lines] if groups else []


def _amounts(check: StockCheck, page: Page) -> list[str]:
    bottles = [
        PouredBottle(row.title, row.compound.name, row.compound.cas, row.portion)
        for row in check.rows
        if row.compound is not None and row.portion is not None
    ]
    return pouring_lines(bottles, check.poured, page, "How much to pour")


def summary(check: StockCheck) -> str:
    """Return the check in a sentence or two."""
    wrong = sum(row.is_wrong for row in check.rows)
    doubtful = sum(_worst(row) == "warning" for row in check.rows)
    alike = sum(len(group.labels) for group in check.groups)
    in_part = " in the columns that are read" if check.columns.not_read else ""
    parts = {
        f"no row is wrong{in_part}": not wrong,
        f"{counted(wrong, 'row')} {'is' if wrong == 1 else 'are'} wrong": wrong,
        f"{doubtful} {'more ' if wrong else ''}{'has' if doubtful == 1 else 'have'} a warning": (
            doubtful
        ),
        f"{alike} cannot be told from another by what the class measures": alike,
        "the table itself is wrong": any_error(check.findings),
    }
    said = ", ".join(text for text, is_so in parts.items() if is_so)
    columns = f" Columns {check.columns}." if check.columns else ""
    bottles = counted(len(check.rows), "bottle")
    return f"{bottles}: {said}. Checked for {check.laboratory}.{columns}"


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
    from identify.observables.boiling_point import BOILING_POINT
    from identify.observables.composition import PERCENT
    from identify.observables.weighing import MOLAR_MASS

    words = f"the {_observable(one.observable)} to ± {_two_digits(one.tolerance)} {one.unit}"
    least = {"molar_mass": 100.0 * MOLAR_MASS.least, "boiling_point": BOILING_POINT.least}
    # A tolerance is two standard uncertainties.
    if one.tolerance < 2.0 * least.get(one.observable, PERCENT.least):
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
    lines = [page.emphasized(page.elided(heading))]
    for finding in worst_first(row.findings):
        lines += finding_lines(finding, page)
    return lines


def _compound(row: StockRow) -> str:
    mark = {"error": "! ", "warning": "? "}.get(_worst(row), "  ")
    return mark + (row.written if row.compound is None else row.compound.name)


def _flash_points(hazards: Hazards) -> str:
    return " to ".join(decimals_text(end, 0) for end in hazards.flash_points_C) or NOTHING


def _standing(row: StockRow) -> Standing:
    return row.standing or Standing(float("nan"), float("nan"))


_COLUMNS = (
    TextColumn("bottle", lambda row: row.title, left=True, longest=_LONGEST_LABEL),
    TextColumn("compound", _compound, left=True, shortest=_SHORTEST_COMPOUND),
    TextColumn("CAS", lambda row: getattr(row.compound, "cas", ""), left=True, page_width=WIDE),
    TextColumn("formula", lambda row: getattr(row.compound, "formula", ""), left=True, longest=14),
    TextColumn("boils\n°C", lambda row: decimals_text(_standing(row).boils_C, 1)),
    TextColumn("bath\nmargin", lambda row: signed(_standing(row).margin_K, 1)),
    TextColumn("flash\n°C", lambda row: _flash_points(row.hazards or Hazards())),
    TextColumn(
        "nearest", lambda row: _standing(row).nearest or NOTHING, left=True, longest=_LONGEST_LABEL
    ),
    TextColumn("apart\nby", lambda row: decimals_text(_standing(row).separation, 1)),
)


def footnote(check: StockCheck) -> str:
    """Return what the columns and marks of the table mean."""
    from identify.matching.advise.separation import APART

    tolerances = check.tolerances
    return (
        "!: the row is wrong; ?: it has a warning. boils: at the laboratory's pressure; bath "
        "margin: of the bath over that. nearest: the bottle hardest to tell from it, so many "
        f"standard uncertainties of the class apart (half of: molar mass {tolerances.molar_mass:g} "
        f"%, each element {tolerances.percent:g} points, boiling point "
        f"{tolerances.boiling_point:g} °C); {APART:.1f} and more are told apart."
    )
