"""A plan for a class, as plain text."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite
from operator import attrgetter
from typing import TYPE_CHECKING

from identify.answers.text.last_line import ending_lines, plan_answer
from identify.answers.text.page import DIM, WIDE, Page, finding_lines
from identify.answers.text.pouring import PouredBottle, pouring_lines
from identify.answers.text.table import TextColumn, TextTable
from identify.notebook.findings import listed
from identify.notebook.usual import tolerance_u

if TYPE_CHECKING:
    from identify.planning.result import Plan, PlannedLiquid, Requirement, Sieved

_SHORTEST_COMPOUND = 14
_SHOWN = 0.0005  # a share below it is printed as zero


def plan_lines(plan: Plan, page: Page, stock: str = "") -> list[str]:
    """Return what is printed of a plan.

    Parameters
    ----------
    plan : Plan
    page : Page
    stock : str
        The stock table that the liquids are from; empty for the built-in one.
    """
    heading = f"{len(plan.liquids)} liquids for a class: {plan.laboratory}"
    lines = [page.emphasized(page.elided(heading))]
    lines += [*page.wrapped(summary(plan), "  "), ""]
    liquids = TextTable(_COLUMNS, plan.liquids, is_even=True, is_numbered=True)
    lines += [*liquids.lines(page, "  ", DIM), ""]
    lines += [*_order_lines(plan, page), ""]
    lines += _traded_lines(plan, page)
    lines += [*_confusion_lines(plan, page), ""]
    lines += [*_requirement_lines(plan, page), ""]
    remarks = _remark_lines(plan, page)
    if remarks:
        lines += [page.emphasized("What to know of them"), *remarks, ""]
    lines += [page.emphasized("Where they come from")]
    lines += [*_condition_lines(plan, page, stock), ""]
    return [*lines, *ending_lines(page, plan_answer(plan), _footnote(plan))]


def summary(plan: Plan) -> str:
    """Return the plan in a few sentences."""
    among = (
        f"named among these {len(plan.liquids)}"
        if plan.against == "plan"
        else "named among all compounds of the built-in table"
    )
    return (
        f"{100.0 * plan.success:.1f} % of all runs name their liquid, by {plan.runs} simulated "
        f"runs of each, {among} (seed {plan.seed}). {_how_chosen(plan)}"
    )


def _how_chosen(plan: Plan) -> str:
    """Say how far apart the liquids are, and why it is these."""
    apart = f"The nearest two are {_apart(plan.smallest_separation)} standard uncertainties apart"
    if plan.pool == len(plan.liquids) or plan.traded is None:
        return f"{apart}; no other liquids are allowed."
    needed = _apart(plan.traded.needed)
    sets = f"sets of {len(plan.liquids)} of the {plan.pool} liquids allowed"
    if plan.smallest_separation < (1.0 - 1e-9) * plan.traded.needed:
        return (
            f"{apart}: less than the {needed} that tell them apart as surely as wanted, but none "
            f"of the {sets} is known to do better."
        )
    proof = ", which is proved" if plan.is_proved else ", of those that were seen"
    return (
        f"{apart}, and {needed} are enough. Of the {sets} that are told apart so well, this one is "
        f"the most common in classes, the easiest to handle and the least hazardous{proof}."
    )


def _order_lines(plan: Plan, page: Page) -> list[str]:
    """Return what to order: names in full, CAS numbers and amounts."""
    bottles = [
        PouredBottle(liquid.label, liquid.name, liquid.cas, liquid.portion)
        for liquid in plan.liquids
        if liquid.portion is not None
    ]
    heading = "What to set out" if any(one.title for one in bottles) else "What to order"
    return pouring_lines(bottles, plan.poured, page, heading)


def _traded_lines(plan: Plan, page: Page) -> list[str]:
    """Return what was given up for liquids that are common and easy to handle."""
    traded = plan.traded
    if traded is None or plan.pool == len(plan.liquids):
        return []
    lines = [page.emphasized("What was traded")]
    if traded.farthest_separation > plan.smallest_separation:
        listed_there = (
            f", {traded.listed_in_farthest} of them on a warning list"
            if traded.listed_in_farthest
            else ""
        )
        lines += page.wrapped(
            f"Farther apart than it takes ({_apart(traded.farthest_separation)}) would be "
            f"{listed(traded.farthest)}{listed_there}.",
            "  - ",
            "    ",
        )
    else:
        lines += page.wrapped("Nothing: no set is farther apart.", "  - ", "    ")
    for one in traded.left_out:
        lines += page.wrapped(f"{one.name} {one.cas} is left out: {one.reason}.", "  - ", "    ")
    return [*lines, ""]


def _apart(separation: float) -> str:
    return f"{separation:.1f}" if separation < 99.95 else f"{separation:.0f}"


def _interval(liquid: PlannedLiquid) -> str:
    low, high = 100.0 * liquid.success_low, 100.0 * liquid.success_high
    return f"{low:.1f}-{high:.1f}"


_COLUMNS = (
    TextColumn("bottle", lambda one: one.label, left=True, longest=10, if_any=attrgetter("label")),
    TextColumn(
        "compound", lambda one: one.name, left=True, shortest=_SHORTEST_COMPOUND, is_roomy=True
    ),
    TextColumn("CAS", lambda one: one.cas, left=True, page_width=WIDE),
    TextColumn("formula", lambda one: one.formula, left=True, longest=12, spare=2),
    TextColumn("boils\n°C", lambda one: f"{one.boiling_point_C:.1f}"),
    TextColumn(
        "nearest", lambda one: one.nearest, left=True, shortest=_SHORTEST_COMPOUND, is_roomy=True
    ),
    TextColumn("apart\nby", lambda one: _apart(one.separation)),
    TextColumn("success\n%", lambda one: f"{100.0 * one.success:.1f}"),
    TextColumn("95 %\ninterval", _interval, spare=1),
)


def _confusion_lines(plan: Plan, page: Page) -> list[str]:
    """Return which liquid is taken for which: as a square where it fits, else those that are."""
    size = len(plan.liquids)
    names = [liquid.name for liquid in plan.liquids]
    off = plan.confusion.copy()
    off[range(size), range(size)] = 0.0
    elsewhere = 1.0 - plan.confusion.sum(axis=1)
    if max(off.max(), elsewhere.max()) < _SHOWN:
        return [page.emphasized("What is taken for what"), "  No liquid is taken for another."]
    width = page.width - 2 - (3 + _SHORTEST_COMPOUND + 2)
    if plan.against == "plan" and 6 * size <= width:
        return _square(plan, page)
    lines = [page.emphasized("What is taken for what, % of the runs")]
    for place, name in enumerate(names):
        taken = [
            f"{names[other]} {100.0 * off[place, other]:.1f}"
            for other in sorted(range(size), key=lambda other: -off[place, other])
            if off[place, other] >= _SHOWN
        ]
        if elsewhere[place] >= _SHOWN:
            taken.append(f"a compound outside of the plan {100.0 * elsewhere[place]:.1f}")
        if taken:
            lines += page.wrapped(f"{name}: {', '.join(taken)}", "  ", "    ")
    return lines


def _square(plan: Plan, page: Page) -> list[str]:
    heading = "What is named (columns) for what is in the bottle (rows), % of the runs"
    shares = [
        [f"{100.0 * share:.1f}" if share >= _SHOWN else "." for share in row]
        for row in plan.confusion.tolist()
    ]
    widths = [max(map(len, column)) for column in zip(*shares, strict=True)]
    room = page.width - 2 - 3 - sum(max(width, 2) + 1 for width in widths)
    names = [page.elided(liquid.name, room) for liquid in plan.liquids]
    rows = [[name, *row] for name, row in zip(names, shares, strict=True)]
    table = TextTable.of(["", *map(str, range(1, len(rows) + 1))], rows, left=[0])
    table = replace(table, is_numbered=True)
    headings = [page.emphasized(line) for line in page.wrapped(heading)]
    return [*headings, *table.lines(page, "  ", DIM)]


def _requirement_lines(plan: Plan, page: Page) -> list[str]:
    if not plan.requirements:
        return []
    of = "of all runs" if plan.wanted_of == "mean" else "of the worst liquid's runs"
    heading = (
        f"How good each instrument must be for {100.0 * plan.wanted:g} % {of}, the others as "
        "planned"
    )
    rows = [
        [_instrument(one), _amount(one.now, one.unit), _needed(one)] for one in plan.requirements
    ]
    table = TextTable.of(["standard uncertainty of", "planned", "at most"], rows, left=[0, 2])
    lines = [page.emphasized(line) for line in page.wrapped(heading)]
    if plan.against != "plan":
        lines += page.wrapped(f"(named among the plan's {len(plan.liquids)} liquids)", "  ")
    return [*lines, *table.lines(page, "  ", DIM)]


def _instrument(one: Requirement) -> str:
    from identify.planning.precision import INSTRUMENTS

    return INSTRUMENTS[one.instrument].name


def _amount(value: float, unit: str) -> str:
    return f"{value:.3g} {unit}" if isfinite(value) else "not measured"


def _needed(one: Requirement) -> str:
    if one.needed is None:
        return "no value will do"
    if one.is_open and not isfinite(one.now):
        return "need not be measured"
    if one.is_open:
        return f"{_amount(one.needed, one.unit)} and coarser"
    better = " (better)" if one.needed < one.now and isfinite(one.now) else ""
    return f"{_amount(one.needed, one.unit)}{better}"


def _remark_lines(plan: Plan, page: Page) -> list[str]:
    lines: list[str] = []
    for liquid in plan.liquids:
        for finding in liquid.findings:
            lines += finding_lines(finding, page)
    for finding in plan.findings:
        lines += finding_lines(finding, page)
    return lines


def _condition_lines(plan: Plan, page: Page, stock: str) -> list[str]:
    if not plan.conditions:
        return []
    first = plan.conditions[0]
    total = first.left + first.removed
    source = stock or "the built-in table"
    lines = page.wrapped(f"{total:,} liquids in {source}.", "  ", "    ")
    for place, one in enumerate(plan.conditions):
        lines += page.wrapped(_condition_sentence(one, place == 0), "  - ", "    ")
    return lines


def _condition_sentence(one: Sieved, is_first: bool) -> str:
    """Return what a condition leaves, and what it takes out."""
    sentence = f"{one.left:,} {'' if is_first else 'of these '}{one.text}"
    if one.unknown:
        kept = "" if one.option == "--flash-point-above" else ", which stay"
        sentence += f" (not known of {one.unknown}{kept})"
    if one.removed and not is_first:
        more = one.removed - len(one.examples)
        out = [*one.examples, *([f"{more:,} more"] if more > 0 else [])]
        sentence += f"; out: {listed(out)}"
    return f"{sentence}."


def _spoiled(plan: Plan) -> str:
    if not plan.precision.spoiled:
        return ""
    return f" {plan.precision.spoiled:.0f} % of the runs are spoiled, as in the class given."


def _footnote(plan: Plan) -> str:
    from identify.matching.advise.separation import APART
    from identify.planning.precision import INSTRUMENTS

    reads = ", ".join(
        f"{instrument.name} {_amount(getattr(plan.precision, name), instrument.unit)}"
        for name, instrument in INSTRUMENTS.items()
    )
    tolerances = plan.tolerances
    return (
        f"Standard uncertainties of the class: {reads}; a molar mass is then known to "
        f"{tolerance_u(tolerances.molar_mass):.1f} %.{_spoiled(plan)} boils: at 760 mmHg. nearest: "
        f"what reads most like it, so many standard uncertainties apart; {APART:.1f} and more are "
        "told apart. Without slips: a careful class does a little worse, one of usual technique "
        "much worse (--technique usual; --class results.json: as its last section shows)."
    )
