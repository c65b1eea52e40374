"""The finding on conditions that nobody wrote down, and what that costs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from identify.bench.assumed import AssumedCondition
from identify.bench.bench import Bench
from identify.notebook.findings import Finding, listed
from identify.notebook.quantity.quantities import Quantity
from identify.notebook.quantity.units import shown_unit

_NAMES = {
    "pressure": "the pressure",
    "room": "the room",
    "bath": "the bath",
    "humidity": "the humidity",
    "volume": "the flask up to its brim",
    "water_temperature": "the water in the flask",
}
_WHAT_TO_READ = {
    "pressure": "the barometer",
    "room": "the temperature of the room",
    "bath": "the temperature of the bath",
    "humidity": "a hygrometer",
    "volume": "the volume of the water that fills the flask to the brim",
    "water_temperature": "the temperature of the water",
}
# Of the variance: below it, nobody need read a condition for the molar mass's sake.
MATTERS = 0.1
_NEGLIGIBLE = 0.01


def condition_assumed(assumed: Sequence[AssumedCondition]) -> Iterator[Finding]:
    """Yield a note that names what was assumed, and what to read next time.

    Hardly anyone writes the humidity down: alone, and where it costs nothing, it is not mentioned.
    """
    if all(one.condition == "humidity" and one.share < _NEGLIGIBLE for one in assumed):
        return
    costliest_first = sorted(assumed, key=lambda one: -one.share)
    named = [
        f"{_NAMES[one.condition]} {_value(one)} ({_share(one.share)})" for one in costliest_first
    ]
    to_read = [_WHAT_TO_READ[one.condition] for one in costliest_first if one.share >= MATTERS]
    advice = "None of that costs much here; write it down next time all the same."
    if to_read:
        advice = f"Next time read {listed(to_read)}."
    yield Finding(
        "condition-assumed",
        "note",
        f"Not written down, and taken as usual: {listed(named)}. In brackets stands its share of "
        "the molar mass's variance.",
        advice,
        {f"{one.condition}_share": one.share for one in assumed},
    )


def conditions_assumed(benches: Sequence[Bench]) -> Iterator[Finding]:
    """Yield a note on what was assumed in the results of many, but for the humidity."""
    every: dict[str, list[Quantity]] = {}
    for one in (one for bench in benches for one in bench.assumed if one.condition != "humidity"):
        every.setdefault(one.condition, []).append(one.quantity)
    if not every:
        return
    weighed = sum(bench.weighing is not None for bench in benches)
    named = [
        f"{_NAMES[condition]}{_common_value(taken)} ({len(taken)} of {weighed} results)"
        for condition, taken in every.items()
    ]
    yield Finding(
        "condition-assumed",
        "note",
        f"Not in the table, and taken as usual: {listed(named)}. It widens each molar mass, and "
        "moves all of them together.",
        f"Next time have {listed([_WHAT_TO_READ[condition] for condition in every])} written down.",
        {f"{condition}_results": float(len(taken)) for condition, taken in every.items()},
    )


def _common_value(taken: Sequence[Quantity]) -> str:
    """Return a value that all results share, empty where they differ."""
    same = all(one == taken[0] for one in taken)
    return f" {_value(AssumedCondition.of('', taken[0], 0.0))}" if same else ""


def _value(one: AssumedCondition) -> str:
    decimals = 0 if one.standard_uncertainty >= 1.0 else 1
    return (
        f"{one.value:.{decimals}f} ± {one.standard_uncertainty:.{decimals}f}{shown_unit(one.unit)}"
    )


def _share(share: float) -> str:
    return f"{100.0 * share:.0f} %" if share >= 0.005 else "below 1 %"
