"""``identify-unknown plan``: which liquids to put into the bottles of a class."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any

from identify.cli.options.conditions import laboratory_given
from identify.cli.options.options import Text, Texts, Where, argument, option, takes, written_as
from identify.cli.options.pouring import PouringOptions, pouring_given
from identify.cli.terminal.output import OutputFormat, write_answer
from identify.cli.terminal.progress import progress_bar
from identify.cli.terminal.streams import UNUSABLE, Faults
from identify.cli.terminal.tables import candidate_table
from identify.tables.limits import MAX_SIMULATED_RUNS

if TYPE_CHECKING:
    from identify.compounds.table import CandidateTable
    from identify.planning.plan import PlanRequest
    from identify.planning.pool.conditions import LiquidConditions
    from identify.planning.result import Plan, Precision
    from identify.stock.class_use.pouring import Pouring


class _SuccessOf(StrEnum):
    """Whose success is to reach what is wanted."""

    mean = "mean"
    worst = "worst"


class _Against(StrEnum):
    """Among what students are to name their liquid."""

    plan = "plan"
    table = "table"


@dataclass(frozen=True)
class _PlannedSet:
    """How many liquids, of which, and what is worked out for them."""

    stock: Path | None = argument(
        "STOCK",
        "A stock table (CSV, XLSX); the built-in table of compounds where not given.",
        default=None,
    )
    liquids: int = option("N", "How many to choose.", default=12, min=2)
    must_have: Texts = option("NAME", "A liquid that must be among them; repeat it.")
    without: Texts = option("NAME", "A liquid that must not be among them; repeat it.")
    runs: int | None = option(
        "N",
        "Simulated runs a liquid; 500, or 50 with --against table.",
        min=1,
        max=MAX_SIMULATED_RUNS,
    )
    seed: int = option("N", "Of the random numbers.", default=1, min=0)
    success: float = option(
        "PERCENT",
        "How many runs should name their liquid; the instruments that takes are found.",
        default=95.0,
        min=1.0,
        max=100.0,
    )
    success_of: _SuccessOf = option(
        None, "Of all liquids together, or of the worst one.", default=_SuccessOf.mean
    )
    against: _Against = option(
        None,
        "Name it among the plan's liquids, or among the whole table (slower).",
        default=_Against.plan,
    )
    format: OutputFormat = written_as()


@dataclass(frozen=True)
class _Allowed:
    """What a liquid of the plan must be."""

    boils_above: Text = option("QUANTITY", "At the laboratory's pressure; else room + 30 K.")
    boils_below: Text = option("QUANTITY", "Likewise; else bath - 5 K.")
    commonly_sold: int | None = option(
        "N", "At least N of 6 inventories list it; 5 without a stock table, else 0.", min=0, max=6
    )
    no_carcinogens: bool | None = option(
        None,
        "On no published list of carcinogens; the default without a stock table.",
        "--no-carcinogens/--carcinogens",
    )
    ordinary: bool | None = option(
        None,
        "Not reactive, corrosive, foul or ozone-depleting by its structure; the default "
        "without a stock table.",
        "--ordinary/--any-kind",
    )
    flash_point_above: Text = option("QUANTITY", "And known; any where not given.")
    exposure_limit_above: Text = option("PPM", "Or not known; 10 without a stock table; 0 for any.")
    elements: Text = option('"C H O"', "It holds no others.")


@dataclass(frozen=True)
class _Instruments:
    """How well the class reads: standard uncertainties."""

    balance: Text = option("U", "Of one weighing; else 0.001 g.")
    barometer: Text = option("U", "Else 0.5 mmHg.")
    bath_thermometer: Text = option("U", "Else 0.5 C.")
    room_thermometer: Text = option("U", "Else 0.5 C.")
    volume: Text = option("U", "Of the flask; else 0.5 %.")
    technique: Text = option(
        "U",
        "Of the vapor's mass, run to run; else that of a careful class, 2.4 %. Also careful, "
        "usual, rough or none.",
    )
    of_class: Path | None = option(
        "FILE",
        "Results of a section (JSON): technique and spoiled runs as that class has shown.",
        "--class",
    )
    boiling_point: Text = option("U", "Else 1 C.")
    percent: Text = option("U", "Of an element, in points; else 0.2. none: no composition.")


@takes(_PlannedSet, _Allowed, Where, _Instruments, PouringOptions)
def plan_command(
    choice: _PlannedSet,
    allowed: _Allowed,
    where: Where,
    reading: _Instruments,
    poured: PouringOptions,
) -> int:
    r"""Choose the liquids to put into the bottles, and say how well a class will tell them apart.

    Of all sets that the class tells apart as surely as is wanted, the one that is the most common,
    the easiest to handle and the least hazardous; how much of each the class needs. Each one's
    success by simulation, what is taken for what, and how good each instrument must be.

    \b
    Example: twelve liquids of the built-in table, without composition.
      identify-unknown plan --liquids 12 --elements "C H O" --percent none

    \b
    Example: eight of the stock, acetone among them, with a coarse balance.
      identify-unknown plan stock.csv --liquids 8 --must-have acetone \
        --balance 0.01g

    \b
    Example: for the next term, as this term's class weighs.
      identify-unknown section class.xlsx --key stock.csv --out results.json
      identify-unknown plan stock.csv --class results.json

    No list replaces the safety data sheets: the instructor and local rules decide what a class is
    given. Exit status: 0 done; 2 some input could not be used.
    """
    from identify.planning.result import PlanError

    faults = Faults()
    laboratory = laboratory_given(where, faults)
    precision = _precision(reading, faults)
    pouring = pouring_given(poured, faults)
    wanted = _wanted(choice, allowed, pouring, faults)
    if wanted is not None and reading.of_class is not None:
        wanted = _as_the_class(wanted, reading, faults)
    if faults.count or laboratory is None or precision is None or wanted is None:
        return UNUSABLE
    table: CandidateTable | None = None
    if choice.stock is not None:
        table = candidate_table(choice.stock, faults)
        if table is None:
            return UNUSABLE
    from identify.planning.plan import Progress, make_plan

    try:
        with progress_bar() as bar:
            progress = None if bar is None else Progress(bar.begin, bar.step)
            plan = make_plan(wanted, table, laboratory, precision, progress)
    except PlanError as error:
        faults(error)
        return UNUSABLE
    _write(plan, choice.format, str(choice.stock) if choice.stock is not None else "")
    return faults.status


def _precision(reading: _Instruments, faults: Faults) -> Precision | None:
    from identify.notebook.quantity.quantities import QuantityError
    from identify.planning.precision import precision_of

    try:
        names = [field.name for field in fields(reading) if field.name != "of_class"]
        return precision_of({name: getattr(reading, name) for name in names})
    except QuantityError as error:
        faults.of_option(error.field, error)
        return None


def _wanted(
    choice: _PlannedSet, allowed: _Allowed, pouring: Pouring | None, faults: Faults
) -> PlanRequest | None:
    from identify.planning.plan import PlanRequest
    from identify.planning.pool.conditions import FROM_TABLE, LiquidConditions
    from identify.planning.pool.liquid_pool import NamedLiquids
    from identify.planning.requirements import Goal
    from identify.planning.result import PlanError

    usual = FROM_TABLE if choice.stock is None else LiquidConditions()
    conditions = _conditions(allowed, usual, faults)
    if conditions is None or pouring is None:
        return None
    try:
        return PlanRequest(
            choice.liquids,
            conditions,
            NamedLiquids(choice.must_have or (), choice.without or ()),
            choice.runs,
            choice.seed,
            Goal(0.01 * choice.success, choice.success_of.value),
            choice.against.value,
            pouring,
        )
    except PlanError as error:
        faults(error)
        return None


def _as_the_class(wanted: PlanRequest, reading: _Instruments, faults: Faults) -> PlanRequest | None:
    """Return what is wanted, for a class as its results show it; None, the fault reported."""
    from identify.planning.class_results import ClassResults
    from identify.planning.result import PlanError

    assert reading.of_class is not None
    if reading.technique is not None:
        faults("--technique and --class both say how well the class weighs; give one of them")
        return None
    try:
        return replace(wanted, of_class=ClassResults.read(reading.of_class))
    except PlanError as error:
        faults(error)
        return None


def _conditions(
    allowed: _Allowed, usual: LiquidConditions, faults: Faults
) -> LiquidConditions | None:
    """Return the usual conditions but for those typed; None, each fault reported."""
    from identify.planning.result import PlanError

    given: dict[str, Any] = {
        name: getattr(allowed, name)
        for name in ("commonly_sold", "no_carcinogens", "ordinary")
        if getattr(allowed, name) is not None
    }
    before = faults.count
    for name, unit in (("boils_above", "K"), ("boils_below", "K"), ("flash_point_above", "C")):
        if (text := getattr(allowed, name)) is not None:
            given[name] = _temperature(name, text, unit, faults)
    if allowed.exposure_limit_above is not None:
        given["exposure_limit_above"] = _limit(allowed.exposure_limit_above, faults)
    if allowed.elements is not None:
        given["elements"] = tuple(re.findall(r"[^\s,;]+", allowed.elements))
    if faults.count > before:
        return None
    try:
        return replace(usual, **given)
    except PlanError as error:
        faults(f"--{error}")
        return None


def _temperature(name: str, text: str, unit: str, faults: Faults) -> float | None:
    from identify.notebook.quantity.quantities import QuantityError, read_quantity

    try:
        return read_quantity(text, "temperature", "C").to(unit).value
    except QuantityError as error:
        faults.of_option(name, error)
        return None


def _limit(text: str, faults: Faults) -> float | None:
    number = text.strip().removesuffix("ppm").strip().replace(",", ".")
    if re.fullmatch(r"\d+(\.\d*)?|\.\d+", number):
        return float(number) or None
    faults(f'--exposure-limit-above: "{text}" is not a number of ppm; write it like 10')
    return None


def _write(plan: Plan, form: OutputFormat, stock: str) -> None:
    from identify.answers.text.plan import plan_lines

    write_answer(
        form, lambda page: plan_lines(plan, page, stock), plan.to_dict, lambda: _rows(plan)
    )


def _rows(plan: Plan) -> Sequence[dict[str, Any]]:
    """Return one row a liquid: what it is, how it fares, what it is taken for."""
    names = [liquid.name for liquid in plan.liquids]
    rows = []
    for place, liquid in enumerate(plan.liquids):
        row = liquid.to_dict()
        row["findings"] = " ".join(finding.code for finding in liquid.findings)
        taken = {
            name: share
            for other, (name, share) in enumerate(zip(names, plan.confusion[place], strict=True))
            if share > 0.0 and other != place
        }
        row["taken_for"] = "; ".join(f"{name} {share:.3g}" for name, share in taken.items())
        portion = row.pop("portion") or {}
        row |= {name: portion.get(name) for name in ("least_mL", "pour_mL", "class_mL")}
        rows.append({**row, "runs": plan.runs, "seed": plan.seed})
    return rows
