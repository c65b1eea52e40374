"""How well a class weighs, in a few sentences and a table."""

from __future__ import annotations

from math import sqrt

from identify.answers.text.numbers import NOTHING, counted, decimals_text, signed
from identify.answers.text.page import DIM, Page
from identify.answers.text.table import TextColumn, TextTable
from identify.observables.class_spread import (
    PUBLISHED_WITHIN,
    ClassPrecision,
    ClassSpread,
    GroupPrecision,
)
from identify.observables.error.technique import CAREFUL, TECHNIQUES

_SHORTEST = 12
_MIN_RESULTS = 3  # of a group that is worth a line
_MIN_FOR_PERCENT = 20  # results, below which a share of them is counted
_STANDING_OUT = 3.0  # standard uncertainties


def precision_lines(precision: ClassPrecision | None, page: Page) -> list[str]:
    """Return how well a class weighs: in all, and by each liquid and instrument that stands out."""
    if precision is None:
        return []
    lines = page.wrapped(precision_sentence(precision), "  ")
    shown = [one for one in precision.groups if one.results >= _MIN_RESULTS]
    shown = [one for one in shown if one.kind == "liquid" or _stands_out(one, precision)]
    if shown:
        lines += TextTable(_COLUMNS, shown).lines(page, "  ", DIM)
        told = "Instruments and days are shown where their bias stands out; --format json has all."
        lines += page.wrapped(told, "  ")
    return lines


def _stands_out(one: GroupPrecision, precision: ClassPrecision) -> bool:
    """Whether a group is off from the class by more than its number of results explains."""
    spread = precision.spread
    off = abs((one.bias_percent or 0.0) - spread.bias_percent)
    return off > _STANDING_OUT * spread.spread_percent / sqrt(max(one.results - one.spoiled, 1))


def precision_sentence(precision: ClassPrecision) -> str:
    """Return the spread, the bias and the spoiled runs of a class, beside others'."""
    spread = precision.spread
    within = ", ".join(
        f"{share:.0f} % within {limit} %" for limit, share in precision.within.items()
    )
    published = ", ".join(f"{share:.0f}" for share in PUBLISHED_WITHIN.values())
    return (
        f"The molar masses of {counted(spread.results, 'result')} spread by "
        f"{spread.spread_percent:.1f} % ({_named(spread.spread_percent)}) around "
        f"{signed(spread.bias_percent, 1)} ± {spread.bias_u_percent:.1f} %, what many share set "
        f"right; {_spoiled(spread)} spoiled, by liquid left, vapor missing or a slip. {within}; of "
        f"published results {published}. For the next term: plan --class with this result as JSON."
    )


def _spoiled(spread: ClassSpread) -> str:
    """Return how many runs are, in percent where there are enough of them for that."""
    if spread.results >= _MIN_FOR_PERCENT:
        return f"{spread.spoiled_percent:.0f} % of the runs are"
    count = round(0.01 * spread.spoiled_percent * spread.results)
    return f"{count or 'none'} of the runs {'is' if count == 1 else 'are'} probably"


def _named(spread_percent: float) -> str:
    careful, usual = (100.0 * one.spread for one in (CAREFUL, TECHNIQUES["usual"]))
    if spread_percent <= 0.5 * (careful + usual):
        return f"a careful class: {careful:.1f} %"
    return f"a class of usual technique: {usual:.0f} %"


def _spread(one: GroupPrecision) -> str:
    return NOTHING if one.spread_percent is None else decimals_text(one.spread_percent, 1)


def _bias(one: GroupPrecision) -> str:
    return NOTHING if one.bias_percent is None else signed(one.bias_percent, 1)


_COLUMNS = (
    TextColumn("by", lambda one: one.kind, left=True),
    TextColumn("which", lambda one: one.name, left=True, shortest=_SHORTEST),
    TextColumn("results", lambda one: str(one.results)),
    TextColumn("bias\n%", _bias),
    TextColumn("spread\n%", _spread),
    TextColumn("spoiled", lambda one: str(one.spoiled)),
)
