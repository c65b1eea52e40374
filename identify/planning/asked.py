"""A plan in one line, for a notebook."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from identify.bench.laboratory import Laboratory
from identify.compounds.loading import load_candidates
from identify.compounds.table import CandidateTable
from identify.planning.class_results import ClassResults
from identify.planning.plan import PlanRequest, make_plan
from identify.planning.pool.conditions import FROM_TABLE, LiquidConditions
from identify.planning.pool.liquid_pool import NamedLiquids
from identify.planning.result import Plan

if TYPE_CHECKING:
    from identify.section.result import SectionResult


def plan(
    liquids: int = 12,
    stock: CandidateTable | str | os.PathLike[str] | Any | None = None,
    elements: Sequence[str] = (),
    must_have: Sequence[str] = (),
    without: Sequence[str] = (),
    laboratory: Laboratory | None = None,
    section: SectionResult | None = None,
) -> Plan:
    """Choose liquids for a class, and say how well it will name them.

    Parameters
    ----------
    liquids : int, default=12
        How many, two or more.
    stock : table, path, frame or list of names, optional
        What there is to choose from; of the built-in table, what is commonly sold and fit for a
        class where not given.
    elements : sequence of str
        The liquids hold no others; any where empty.
    must_have, without : sequence of str
        Names of liquids that the plan must hold, and must not.
    laboratory : Laboratory, optional
        Where the class works; 760 mmHg, 22 degrees Celsius where not given.
    section : SectionResult, optional
        Of a class that worked before: how well it weighed is what is planned with.

    Returns
    -------
    Plan

    Raises
    ------
    PlanError
        If no plan can be made; says why in one line.

    Examples
    --------
    >>> print(plan(3, ["acetone", "ethanol", "hexane", "methanol"]).headline)
    3 liquids, 100.0 % of runs name theirs
    """
    table = stock if isinstance(stock, CandidateTable | None) else load_candidates(stock)
    usual = FROM_TABLE if stock is None else LiquidConditions()
    wanted = PlanRequest(
        liquids,
        usual.holding(elements),
        NamedLiquids(tuple(must_have), tuple(without)),
        of_class=None if section is None else ClassResults.of(section),
    )
    return make_plan(wanted, table, laboratory)
