"""What to know of the chosen liquids, each alone and all together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from identify.compounds.naming.meaning import Compound
from identify.compounds.table import CandidateTable
from identify.matching.advise.separation import APART, Separations
from identify.notebook.findings import Finding, listed, worst_first
from identify.notebook.usual import tolerance_u
from identify.planning.classroom import SimulatedClass
from identify.planning.requirements import Goal
from identify.planning.simulation import Outcome
from identify.stock.class_use.hazards import hazard_findings, hazards_of, table_hazards
from identify.stock.class_use.method import suitabilities
from identify.stock.class_use.shelf import Shelf
from identify.stock.result import StockRow

# A share of a liquid's runs that is worth a sentence, and how many such sentences. Common practice.
_MIN_CONFUSED_SHARE, _MAX_CONFUSED_PAIRS = 0.02, 3
# From four times the separation that is needed, other reasons may decide what is taken.
_APART_WITH_ROOM_TO_SPARE = 4.0 * APART


def liquid_remarks(
    one: SimulatedClass, against: Mapping[int, Sequence[str]]
) -> tuple[tuple[Finding, ...], ...]:
    """Return the findings of each liquid of a class, the worst first.

    Parameters
    ----------
    one : SimulatedClass
    against : mapping of int to sequence of str
        By place, the conditions that a liquid does not meet that the plan must hold.
    """
    rows = _stock_rows(one.table)
    shelf = Shelf(one.table, tuple((row,) for row in rows))
    methods = suitabilities(shelf, one.laboratory, one.matcher.tolerances)
    remarks = []
    for place, (row, method) in enumerate(zip(rows, methods, strict=True)):
        assert row.compound is not None
        assert row.hazards is not None
        found = [*method.findings(), *hazard_findings(row.compound, row.hazards)]
        if against.get(place):
            found.append(_against_conditions(row.written, against[place]))
        remarks.append(tuple(worst_first(found)))
    return tuple(remarks)


def _against_conditions(name: str, conditions: Sequence[str]) -> Finding:
    return Finding(
        "against-conditions",
        "warning",
        f"{name} is in the plan because it was asked for: it is none of those that "
        f"{listed(conditions)}.",
        "Leave it out, or see that nothing speaks against it.",
    )


def _stock_rows(table: CandidateTable) -> tuple[StockRow, ...]:
    """Return the liquids of a plan as the rows of a stock table."""
    labels = table.text("label")
    rows = []
    for place, name in enumerate(table.text("name")):
        compound = Compound.of_place(table, place)
        hazards = hazards_of(compound, table)
        label = labels[place] or name
        rows.append(StockRow(place + 1, label, name, compound, hazards=hazards))
    return tuple(rows)


def plan_remarks(
    one: SimulatedClass, outcome: Outcome, separations: Separations, goal: Goal
) -> tuple[Finding, ...]:
    """Return the findings of a plan as a whole, the worst first.

    Parameters
    ----------
    one : SimulatedClass
    outcome : Outcome
        Of its simulated runs.
    separations : Separations
        Of its liquids.
    goal : Goal
    """
    return tuple(
        worst_first(
            [
                *_success_below_goal(outcome, goal),
                *_confused_pairs(one.table.text("name"), outcome, separations),
                *_room_to_spare(separations),
                *table_hazards(_stock_rows(one.table), one.laboratory),
            ]
        )
    )


def _success_below_goal(outcome: Outcome, goal: Goal) -> Iterator[Finding]:
    if goal.is_reached(outcome):
        return
    reached = goal.success(outcome)
    of = "of all runs" if goal.success_of == "mean" else "of the runs of the worst liquid"
    yield Finding(
        "success-below-goal",
        "warning",
        f"{100.0 * reached:.1f} % {of} name their liquid, fewer than the {100.0 * goal.share:g} % "
        "wanted.",
        "Improve what the requirements name, measure more of each liquid, or ask for fewer "
        "liquids.",
        {"success_percent": 100.0 * reached, "wanted_percent": 100.0 * goal.share},
    )


def _confused_pairs(
    names: Sequence[str], outcome: Outcome, separations: Separations
) -> Iterator[Finding]:
    shares = outcome.shares
    both = shares + shares.T
    pairs = np.argwhere(np.triu(np.maximum(shares, shares.T) > _MIN_CONFUSED_SHARE, 1)).tolist()
    for first, second in sorted(pairs, key=lambda pair: -both[pair[0], pair[1]])[
        :_MAX_CONFUSED_PAIRS
    ]:
        narrowed = separations.narrowed([(first, second)])
        advice = "No reading of these alone parts them: measure something else too."
        if narrowed is not None and separations.distance(first, second) < APART:
            what = narrowed.observable.replace("_", " ")
            advice = (
                f"A {what} known within {narrowed.tolerance:.2g} {narrowed.unit} would part them "
                f"(standard uncertainty {tolerance_u(narrowed.tolerance):.2g} {narrowed.unit})."
            )
        elif narrowed is not None:
            advice = "In most runs they are told apart; a second run of the student makes it surer."
        a, b = names[first], names[second]
        yield Finding(
            "confused",
            "note",
            f"{a} is taken for {b} in {_percent(shares[first, second])} of its runs, {b} for {a} "
            f"in {_percent(shares[second, first])}.",
            advice,
            {
                "first_for_second_percent": 100.0 * float(shares[first, second]),
                "second_for_first_percent": 100.0 * float(shares[second, first]),
            },
        )


def _room_to_spare(separations: Separations) -> Iterator[Finding]:
    nearest = float(separations.nearest[1].min())
    if nearest < _APART_WITH_ROOM_TO_SPARE:
        return
    yield Finding(
        "room-to-spare",
        "note",
        f"Even the nearest two are {nearest / APART:.0f} times as far apart as it takes to tell "
        "them apart.",
        "Coarser instruments, or cards without percentages (--percent none), would do as well.",
        {"separation": nearest, "needed": APART},
    )


def _percent(share: float) -> str:
    return f"{100.0 * share:.1f} %"
