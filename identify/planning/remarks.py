"""What whoever plans a class should know of the chosen liquids, each alone and all together."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from identify.compounds.identities import Compound
from identify.compounds.table import CandidateTable
from identify.matching.advise.separation import APART, Separations
from identify.notebook.findings import Finding, listed, worst_first
from identify.notebook.usual import tolerance_u
from identify.physics.constants import ELEMENTS
from identify.planning.classroom import SimulatedClass
from identify.planning.requirements import Goal
from identify.planning.simulation import Outcome
from identify.stock.class_use.hazards import hazard_findings, hazards_of, table_hazards
from identify.stock.class_use.method import method_findings, suitabilities
from identify.stock.class_use.shelf import Shelf
from identify.stock.result import StockRow

# A share of a liquid's runs that is worth a sentence, and how many such sentences. Common practice.
_CONFUSED, _PAIRS = 0.02, 3
# From so many times the separation that is needed, other reasons may decide what is taken.
_TO_SPARE = 4.0


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
        found = [*method_findings(method), *hazard_findings(row.compound, row.hazards)]
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
    rows = []
    for place, name in enumerate(table.text("name")):
        compound = Compound(
            **{column: table.text(column)[place] for column in _IDENTITY},
            molar_mass=float(table.number("molar_mass")[place]),
            percent={e: float(p) for e, p in zip(ELEMENTS, table.percent[place], strict=True) if p},
            boiling_point_C=float(table.number("boiling_point_C")[place]),
            boiling_point_u=float(table.number("boiling_point_u")[place]),
            place=place,
        )
        label = table.text("label")[place] or f"liquid {place + 1}"
        hazards = hazards_of(compound, table)
        rows.append(StockRow(place + 1, label, name, compound, hazards=hazards))
    return tuple(rows)


_IDENTITY = ("name", "cas", "smiles", "inchikey", "formula")


@dataclass(frozen=True)
class _Planned:
    """A plan as its remarks need it."""

    one: SimulatedClass
    outcome: Outcome
    separations: Separations
    goal: Goal

    @property
    def names(self) -> list[str]:
        """Of the liquids."""
        return self.one.table.text("name")


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
    planned = _Planned(one, outcome, separations, goal)
    found = [finding for check in _REMARKS for finding in check(planned)]
    return tuple(worst_first([*found, *table_hazards(_stock_rows(one.table), one.laboratory)]))


def _success_below_goal(planned: _Planned) -> Iterator[Finding]:
    goal = planned.goal
    reached = float(getattr(planned.outcome, goal.success_of))
    if reached >= goal.share:
        return
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


def _confused_pairs(planned: _Planned) -> Iterator[Finding]:
    shares = planned.outcome.shares
    both = shares + shares.T
    pairs = np.argwhere(np.triu(np.maximum(shares, shares.T) > _CONFUSED, 1)).tolist()
    for first, second in sorted(pairs, key=lambda pair: -both[pair[0], pair[1]])[:_PAIRS]:
        narrowed = planned.separations.narrowed([(first, second)])
        advice = "No reading of these alone parts them: measure something else too."
        if narrowed is not None and planned.separations.distance(first, second) < APART:
            what = narrowed.observable.replace("_", " ")
            advice = (
                f"A {what} known within {narrowed.tolerance:.2g} {narrowed.unit} would part them "
                f"(standard uncertainty {tolerance_u(narrowed.tolerance):.2g} {narrowed.unit})."
            )
        elif narrowed is not None:
            advice = "In most runs they are told apart; a second run of the student makes it surer."
        a, b = planned.names[first], planned.names[second]
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


def _room_to_spare(planned: _Planned) -> Iterator[Finding]:
    apart = planned.separations.distances + np.diag(np.full(len(planned.names), np.inf))
    nearest = float(apart.min())
    if nearest < _TO_SPARE * APART:
        return
    yield Finding(
        "room-to-spare",
        "note",
        f"Even the nearest two are {nearest / APART:.0f} times as far apart as it takes to tell "
        "them apart.",
        "Stricter conditions cost nothing here: take what is mild, cheap and on the shelf.",
        {"separation": nearest, "needed": APART},
    )


_REMARKS: tuple[Callable[[_Planned], Iterator[Finding]], ...] = (
    _success_below_goal,
    _confused_pairs,
    _room_to_spare,
)


def _percent(share: float) -> str:
    return f"{100.0 * share:.1f} %"
