"""What a plan gave up for liquids that are common, easy to handle and on no warning list."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from identify.planning.choice.stockroom import StockroomChoice
from identify.planning.pool.handling import Handling
from identify.planning.pool.liquid_pool import LiquidPool
from identify.planning.result import LeftOut, Traded

_MAX_LEFT_OUT = 8


def traded(
    pool: LiquidPool, choice: StockroomChoice, handling: Handling, distances: np.ndarray
) -> Traded:
    """Say what the farthest set would have been, and why common liquids are not in the plan.

    Parameters
    ----------
    pool : LiquidPool
    choice : StockroomChoice
    handling : Handling
        Of the pool's liquids.
    distances : array, shape (n, n)
        Between them [standard uncertainties].
    """
    names = pool.table.text("name")
    return Traded(
        needed=choice.needed,
        farthest=tuple(names[row] for row in choice.farthest),
        farthest_separation=choice.farthest_smallest,
        listed_in_farthest=sum(bool(handling.warnings[row]) for row in choice.farthest),
        left_out=tuple(_left_out(pool, choice, handling, distances)),
    )


def _left_out(
    pool: LiquidPool, choice: StockroomChoice, handling: Handling, distances: np.ndarray
) -> Iterator[LeftOut]:
    """Yield the liquids that classes are given more often than the rarest of the plan."""
    chosen = list(choice.rows)
    rarest = handling.commonness[chosen].min()
    common = np.flatnonzero(handling.commonness > rarest)
    order = common[np.argsort(-handling.commonness[common], kind="stable")]
    others = [int(row) for row in order if row not in chosen]
    table = pool.table
    for row in others[:_MAX_LEFT_OUT]:
        nearest = chosen[int(np.argmin(distances[row, chosen]))]
        apart = float(distances[row, nearest])
        if handling.warnings[row]:
            reason = f"warned of ({', '.join(handling.warnings[row])})"
        elif apart < choice.needed:
            reason = f"too near {table.text('name')[nearest]}, by {apart:.1f}"
        elif handling.burdens[row]:
            reason = ", ".join(handling.burdens[row])
        else:
            reason = "the others together are easier to get and to tell apart"
        yield LeftOut(table.text("name")[row], table.text("cas")[row], reason)
