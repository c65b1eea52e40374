"""The pool of liquids that a plan may choose from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from identify.bench.bath_margin import BathMargin
from identify.bench.laboratory import Laboratory
from identify.compounds.naming.lookup import NameFault, row_meant
from identify.compounds.table import CandidateTable
from identify.physics.arrays import Rows
from identify.physics.constants import ICE_POINT
from identify.planning.pool.conditions import LiquidConditions, Sieve
from identify.planning.result import PlanError, Sieved


@dataclass(frozen=True)
class LiquidPool:
    """Liquids to choose from.

    Parameters
    ----------
    table : CandidateTable
        Of these liquids alone.
    rows : array of int
        Their places in the table that they were taken from.
    must_have : tuple of int
        Places in ``table`` of those that the plan must hold.
    sieved : tuple of Sieved
        What each condition took out, in order.
    against : dict of int to tuple of str
        Liquids of ``must_have`` that some conditions would have left out, by place in ``table``.
    """

    table: CandidateTable
    rows: Rows
    must_have: tuple[int, ...]
    sieved: tuple[Sieved, ...]
    against: dict[int, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class NamedLiquids:
    """The liquids that the plan must hold, and those that it must not, by name."""

    must_have: Sequence[str] = ()
    without: Sequence[str] = ()


def pool_of(
    table: CandidateTable,
    conditions: LiquidConditions,
    laboratory: Laboratory,
    liquids: int,
    named: NamedLiquids | None = None,
) -> LiquidPool:
    """Take the liquids of a table that meet all conditions.

    Parameters
    ----------
    table : CandidateTable
        The built-in table, or a stock table.
    conditions : LiquidConditions
    laboratory : Laboratory
    liquids : int
        How many the plan needs.
    named : NamedLiquids, optional

    Raises
    ------
    PlanError
        If fewer remain than the plan needs, with the condition that costs most; or a name cannot
        be used.
    """
    sieve = Sieve(table, conditions, laboratory)
    fixed, barred = _named_rows(table, named or NamedLiquids(), laboratory, sieve)
    if len(fixed) > liquids:
        raise PlanError(
            f"--must-have names {len(fixed)} liquids for a plan of {liquids}; ask for more "
            "liquids or name fewer"
        )
    sieved, kept = sieve.sieved()
    kept = np.union1d(np.setdiff1d(kept, barred), fixed).astype(np.int64)
    if len(kept) < liquids:
        raise PlanError(_too_few(sieve, liquids, len(kept)))
    places = {int(row): place for place, row in enumerate(kept)}
    against = {places[row]: sieve.objections(row) for row in fixed}
    return LiquidPool(
        table.take(kept),
        kept,
        tuple(places[row] for row in fixed),
        tuple(sieved),
        {place: objections for place, objections in against.items() if objections},
    )


def _named_rows(
    table: CandidateTable, named: NamedLiquids, laboratory: Laboratory, sieve: Sieve
) -> tuple[list[int], list[int]]:
    fixed = list(dict.fromkeys(_row(table, name, "--must-have") for name in named.must_have))
    barred = [_row(table, name, "--without") for name in named.without]
    if both := set(fixed) & set(barred):
        name = table.text("name")[min(both)]
        raise PlanError(f"{name} stands under --must-have and under --without; take out one")
    for row in fixed:
        boils = float(sieve.boiling[row])
        name = table.text("name")[row]
        boils_u = float(table.number("boiling_point_u")[row])
        if BathMargin(laboratory.bath - boils, boils_u).severity == "error":
            raise PlanError(
                f"--must-have: {name} boils at {boils - ICE_POINT:.1f} °C and does not boil off in "
                f"a bath of {laboratory.bath - ICE_POINT:.1f} °C; leave it out, or use a hotter "
                "bath (--bath)"
            )
        if boils <= laboratory.room:
            raise PlanError(
                f"--must-have: {name} boils at {boils - ICE_POINT:.1f} °C, which is no warmer than "
                "the room; leave it out"
            )
    return fixed, barred


def _row(table: CandidateTable, name: str, option: str) -> int:
    try:
        return row_meant(table, name)
    except NameFault as error:
        raise PlanError(f"{option}: {error}") from None


def _too_few(sieve: Sieve, liquids: int, left: int) -> str:
    """Return the fault that too few liquids remain, with the condition that costs most."""
    counts = [(sieve.left_without(condition), condition) for condition in sieve.conditions]
    most, condition = max(counts, key=lambda pair: pair[0])
    advice = "ask for fewer liquids"
    if most > left:
        setting = f" ({condition.option})" if condition.option else ""
        advice += (
            f", or ease the condition that costs most: without asking that they "
            f"{condition.text}{setting} there would be {most}"
        )
    remain = "liquid remains" if left == 1 else "liquids remain"
    return f"{left} {remain} under these conditions for a plan of {liquids}; {advice}"
