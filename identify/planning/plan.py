"""A plan for a class: from the pool to the chosen liquids, their success, and the instruments."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import isfinite
from typing import Any, Literal

from identify.bench.laboratory import Laboratory
from identify.compounds.loading import load_candidates
from identify.compounds.table import CandidateTable
from identify.matching.advise.separation import OBSERVABLES, Separations
from identify.planning.choice.stockroom import (
    StockroomChoice,
    stockroom_choice,
    sufficient_separation,
)
from identify.planning.class_results import ClassResults
from identify.planning.classroom import Deviates, SimulatedClass
from identify.planning.pool.conditions import FROM_TABLE, LiquidConditions
from identify.planning.pool.handling import Handling
from identify.planning.pool.liquid_pool import LiquidPool, NamedLiquids, pool_of
from identify.planning.precision import INSTRUMENTS, ClassSetup
from identify.planning.remarks import liquid_remarks, plan_remarks
from identify.planning.requirements import Goal, requirements
from identify.planning.result import Plan, PlanError, PlannedLiquid, Precision
from identify.planning.simulation import Outcome, simulated, simulated_against, wilson_interval
from identify.planning.traded import traded
from identify.stock.class_use.pouring import Pouring, portions, poured_in_all

_Against = Literal["plan", "table"]

_RUNS = 500
# Among the whole table each run is compared with twelve thousand compounds, at 4 ms.
_RUNS_AGAINST_TABLE = 50
_SEED = 1
_TEXTS = ("label", "name", "cas", "smiles", "formula")


@dataclass(frozen=True)
class PlanRequest:
    """What is asked of a plan.

    Parameters
    ----------
    liquids : int
        How many, two or more.
    conditions : LiquidConditions
    named : NamedLiquids
        Liquids that it must hold, and must not.
    runs : int, optional
        Simulated runs a liquid; 500, or 50 where the whole table is asked.
    seed : int
        Of the random numbers.
    goal : Goal
        Success that the requirements are for.
    against : {"plan", "table"}
        What a liquid is told from: the plan's liquids, or the whole table.
    pouring : Pouring
        Flask, students and trials.
    of_class : ClassResults, optional
        What a class has shown, in place of the technique of the precision.
    """

    liquids: int
    conditions: LiquidConditions = FROM_TABLE
    named: NamedLiquids = field(default_factory=NamedLiquids)
    runs: int | None = None
    seed: int = _SEED
    goal: Goal = field(default_factory=Goal)
    against: _Against = "plan"
    pouring: Pouring = field(default_factory=Pouring)
    of_class: ClassResults | None = None

    def __post_init__(self) -> None:
        if self.liquids < 2:
            raise PlanError(
                f"a plan of {self.liquids} has nothing to tell apart; ask for 2 or more"
            )
        if self.runs is not None and self.runs < 1:
            raise PlanError(f"{self.runs} runs say nothing; ask for 1 or more")

    @property
    def runs_each(self) -> int:
        """Simulated runs a liquid."""
        if self.runs is not None:
            return self.runs
        return _RUNS_AGAINST_TABLE if self.against == "table" else _RUNS


@dataclass(frozen=True)
class Progress:
    """What is reported while a plan is made.

    Parameters
    ----------
    begin : callable
        Called with what begins and how many steps it has.
    step : callable
        Called after each step.
    """

    begin: Callable[[str, int], None] = lambda what, steps: None
    step: Callable[[], None] = lambda: None


def make_plan(
    wanted: PlanRequest,
    table: CandidateTable | None = None,
    laboratory: Laboratory | None = None,
    precision: Precision | None = None,
    progress: Progress | None = None,
) -> Plan:
    """Choose liquids for a class, and say how well it will name them.

    Parameters
    ----------
    wanted : PlanRequest
    table : CandidateTable, optional
        A stock table; the built-in table where not given.
    laboratory : Laboratory, optional
    precision : Precision, optional
        Of the class.
    progress : Progress, optional

    Raises
    ------
    PlanError
        If no plan can be made; says why in one line.

    Examples
    --------
    >>> from dataclasses import replace
    >>> usual = replace(FROM_TABLE, elements=("C", "H", "O"))
    >>> [liquid.name for liquid in make_plan(PlanRequest(4, usual)).liquids]
    ['ethanol', 'methanol', 'isopropanol', 'acetone']
    """
    laboratory, told = laboratory or Laboratory(), progress or Progress()
    precision = precision or Precision()
    whole = load_candidates()
    asked = whole if table is None else table
    pool = pool_of(asked, wanted.conditions, laboratory, wanted.liquids, wanted.named)
    if wanted.of_class is not None:
        precision = wanted.of_class.precision(precision, pool.table, laboratory)
    told.begin("Choosing liquids", 1)
    tolerances = ClassSetup.of(pool.table, laboratory, precision).tolerances()
    measured = OBSERVABLES if isfinite(precision.percent) else OBSERVABLES[:2]
    of_pool = Separations(pool.table, tolerances, measured)
    handling = Handling.of(pool.table, laboratory, tolerances)
    choice = _choice(pool, of_pool, handling, wanted)
    told.step()
    one = SimulatedClass(pool.table.take(list(choice.rows)), laboratory, precision)
    outcome = _outcome(one, whole, wanted, told)
    told.begin("Finding what it takes", len(INSTRUMENTS))
    deviates = Deviates.drawn(wanted.liquids, min(wanted.runs_each, _RUNS), wanted.seed)
    needed = requirements(one, deviates, wanted.goal, told.step)
    separations = Separations(one.table, tolerances, measured)
    against = {choice.rows.index(row): why for row, why in pool.against.items()}
    liquids = [
        replace(liquid, portion=portion)
        for liquid, portion in zip(
            _liquids(one, outcome, separations, against),
            portions(one.table, laboratory, wanted.pouring, wanted.liquids),
            strict=True,
        )
    ]
    return Plan(
        liquids=tuple(liquids),
        confusion=outcome.shares,
        smallest_separation=choice.smallest,
        success=outcome.mean,
        is_proved=choice.is_proved,
        pool=len(pool.table),
        runs=outcome.runs,
        seed=wanted.seed,
        precision=precision,
        laboratory=laboratory,
        requirements=needed,
        findings=tuple(plan_remarks(one, outcome, separations, wanted.goal)),
        separation_at_most=choice.at_most,
        conditions=pool.sieved,
        tolerances=one.matcher.tolerances,
        against=wanted.against,
        wanted=wanted.goal.share,
        wanted_of=wanted.goal.success_of,
        traded=traded(pool, choice, handling, of_pool.distances),
        poured=poured_in_all(
            wanted.pouring, wanted.liquids, [(liquid.name, liquid.portion) for liquid in liquids]
        ),
    )


def _choice(
    pool: LiquidPool, separations: Separations, handling: Handling, wanted: PlanRequest
) -> StockroomChoice:
    return stockroom_choice(
        separations.points,
        wanted.liquids,
        handling.cost,
        sufficient_separation(wanted.liquids, wanted.goal.share),
        pool.must_have,
        handling.is_listed,
        wanted.seed,
    )


def _outcome(
    one: SimulatedClass, whole: CandidateTable, wanted: PlanRequest, told: Progress
) -> Outcome:
    told.begin("Simulating runs", wanted.liquids)
    deviates = Deviates.drawn(wanted.liquids, wanted.runs_each, wanted.seed)
    if wanted.against == "table":
        return simulated_against(one, whole, deviates, told.step)
    return simulated(one, deviates, told.step)


def _liquids(
    one: SimulatedClass,
    outcome: Outcome,
    separations: Separations,
    against: Mapping[int, Sequence[str]],
) -> Iterator[PlannedLiquid]:
    table = one.table
    remarks = liquid_remarks(one, against)
    nearest, distances = separations.nearest
    for place, success in enumerate(outcome.success):
        low, high = wilson_interval(int(outcome.confusion[place, place]), outcome.runs)
        texts: dict[str, Any] = {name: table.text(name)[place] for name in _TEXTS}
        yield PlannedLiquid(
            **texts,
            molar_mass=float(table.number("molar_mass")[place]),
            boiling_point_C=float(table.number("boiling_point_C")[place]),
            success=float(success),
            success_low=low,
            success_high=high,
            nearest=table.text("name")[nearest[place]],
            separation=float(distances[place]),
            findings=remarks[place],
        )
