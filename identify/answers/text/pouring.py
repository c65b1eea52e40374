"""How much of each liquid a class pours, as plain text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from identify.answers.text.numbers import decimals_text
from identify.answers.text.page import DIM, Page
from identify.answers.text.table import TextColumn, TextTable
from identify.notebook.findings import listed
from identify.stock.result import Portion, PouredInAll

_LONGEST_LABEL = 12
_MAX_BOTTLES_IN_SENTENCE = 6
_ROOM_FOR_AMOUNTS = 26  # characters of CAS number and portion beside a name


@dataclass(frozen=True)
class PouredBottle:
    """A bottle of which a class pours, as it is printed."""

    title: str
    name: str
    cas: str
    portion: Portion


_COLUMNS = (
    TextColumn("bottle", lambda one: one.title, left=True, longest=_LONGEST_LABEL,
               if_any=lambda one: one.title),
    TextColumn("compound", lambda one: one.name, left=True, wraps=True),
    TextColumn("CAS", lambda one: one.cas, left=True),
    TextColumn("fills it\nmL", lambda one: decimals_text(one.portion.least_mL, 2), spare=2),
    TextColumn("pour in\nmL", lambda one: decimals_text(one.portion.pour_mL, 1)),
    TextColumn("the class\nmL", lambda one: decimals_text(one.portion.class_mL, 0), spare=1),
)  # fmt: skip


def pouring_lines(
    bottles: Sequence[PouredBottle], poured: PouredInAll | None, page: Page, heading: str
) -> list[str]:
    """Return the amounts of all bottles, and what they make together."""
    if poured is None or not bottles:
        return []
    return [
        page.emphasized(heading),
        *_amounts(bottles, page),
        *page.wrapped(poured_sentence(poured), "  "),
    ]


def _amounts(bottles: Sequence[PouredBottle], page: Page) -> list[str]:
    """Return a table, or a paragraph each where names that are never cut leave no room for one."""
    lines = TextTable(_COLUMNS, bottles).lines(page, "  ", DIM)
    if max(len(one.name) for one in bottles) < page.width - _ROOM_FOR_AMOUNTS:
        return lines
    return [
        line
        for one in bottles
        for line in page.wrapped(
            f"{one.title} {one.name}, {one.cas}: pour in {one.portion.pour_mL:.1f} mL, the class "
            f"{one.portion.class_mL:.0f} mL".strip(),
            "  ",
            "    ",
        )
    ]


def poured_sentence(poured: PouredInAll) -> str:
    """Return what a class needs and what waste it makes, in a few sentences."""
    waste = f"{poured.waste_mL:.0f} mL"
    if poured.halogenated_waste_mL:
        waste += f" of liquids without halogens and {poured.halogenated_waste_mL:.0f} mL with"
    unknown = ""
    if poured.unknown:
        who = listed(poured.unknown, _MAX_BOTTLES_IN_SENTENCE)
        unknown = f" The density of {who} is not known: weigh the amount out."
    return (
        f"fills it: that fills a flask of {poured.flask_mL:.0f} mL with vapor; less can give no "
        f"molar mass. pour in: {poured.fills:g} times that, to drive out the air. the class: "
        f"{poured.students} students, {poured.students_a_bottle} to a bottle, {poured.trials} "
        f"trials each. In all {poured.liquid_mL:.0f} mL: {waste} are left in the flasks, for the "
        f"waste container, and {poured.vapor_mL:.0f} mL go off as vapor, into the hood.{unknown}"
    )
