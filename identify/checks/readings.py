"""Readings that no teaching bench shows: mostly a number in another unit than was written."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from identify.bench.readings import Doubted
from identify.notebook.findings import Finding, listed
from identify.notebook.measurement import Measurement
from identify.notebook.quantities import Quantity
from identify.notebook.usual import PLAUSIBLE, Plausible
from identify.observables.catalog import plausible_readings

_PLAUSIBLE: Mapping[str, Plausible] = MappingProxyType({**PLAUSIBLE, **plausible_readings()})


@dataclass(frozen=True)
class _Read:
    """One reading, and the trial whose own it is, None where it is the run's."""

    field: str
    plausible: Plausible
    quantity: Quantity
    trial: int | None


def unbelievable(run: Measurement) -> tuple[list[Finding], Doubted]:
    """Find the readings that no bench shows.

    Parameters
    ----------
    run : Measurement

    Returns
    -------
    findings : list of Finding
        One for each mistake, however many readings and trials share it.
    doubted : frozenset of (str, Quantity)
        Field and reading; the other checks leave these out.
    """
    mistakes: defaultdict[tuple[str, str, str], list[_Read]] = defaultdict(list)
    doubted = set()
    for read in _readings(run):
        if not read.plausible.holds(read.quantity):
            meant = read.plausible.meant(read.quantity)
            unit = "" if meant is None else meant.unit
            mistakes[read.plausible.reading, read.quantity.unit, unit].append(read)
            doubted.add((read.field, read.quantity))
    several = len(run.trials) > 1
    return [_finding(same, several) for same in mistakes.values()], frozenset(doubted)


def _readings(run: Measurement) -> Iterator[_Read]:
    places: list[tuple[object, int | None]] = [
        (run, None),
        (run.conditions, None),
        (run.flask, None),
    ]
    for number, one in enumerate(run.trials, 1):
        places += [(one, number), (one.conditions, number), (one.flask, number)]
    for record, trial in places:
        for field, plausible in _PLAUSIBLE.items():
            quantity = getattr(record, field, None)
            if quantity is not None:
                yield _Read(field, plausible, quantity, trial)


def _finding(reads: Sequence[_Read], several_trials: bool) -> Finding:
    plausible = reads[0].plausible
    quantities = list(dict.fromkeys(read.quantity for read in reads))
    trials = {read.trial: None for read in reads if read.trial is not None}
    unit = plausible.units[0]
    shown = [quantity.to(unit).value for quantity in quantities]
    written = listed([str(quantity) for quantity in quantities])
    if quantities[0].unit != unit:
        written += f", that is {listed([f'{value:.4g}' for value in shown])} {_name(unit)}"
    sentence = f"the {plausible.reading} is written as {written}; {plausible.why}."
    message = about_trials(list(trials) if several_trials else [], sentence)
    numbers = _numbered("read", unit, shown)
    meant = [plausible.meant(quantity) for quantity in quantities]
    corrected = [one.to(unit).value for one in meant if one is not None]
    if meant[0] is None:
        return Finding(
            f"{plausible.kind}-implausible",
            "error",
            message,
            "Look at the number in the notebook again: its digits, its decimal point, its unit.",
            numbers,
        )
    same = "" if meant[0].unit == unit else f" ({corrected[0]:.4g} {_name(unit)})"
    return Finding(
        f"{plausible.kind}-unit",
        "error",
        message,
        f"Did you mean {meant[0].value:.10g} {_name(meant[0].unit)}{same}? Write it with that "
        "unit.",
        numbers | _numbered("meant", unit, corrected),
    )


def about_trials(numbers: Sequence[int], sentence: str) -> str:
    """Put the trials that a sentence is about before it.

    Examples
    --------
    >>> about_trials([1, 3], "the bath was cold.")
    'Trials 1 and 3: the bath was cold.'
    >>> about_trials([], "the bath was cold.")
    'The bath was cold.'
    """
    if not numbers:
        return sentence[:1].upper() + sentence[1:]
    word = "Trial" if len(numbers) == 1 else "Trials"
    return f"{word} {listed([str(number) for number in numbers])}: {sentence}"


def _numbered(what: str, unit: str, values: Sequence[float]) -> dict[str, float]:
    """Name the numbers: ``read_C``, and ``read_2_C`` where there is a second."""
    return {
        f"{what}_{_key(unit)}" if place == 1 else f"{what}_{place}_{_key(unit)}": value
        for place, value in enumerate(values, 1)
    }


def _name(unit: str) -> str:
    return {"C": "°C", "F": "°F", "1": "as a fraction"}.get(unit, unit)


def _key(unit: str) -> str:
    return {"%": "percent", "g/mol": "g_per_mol"}.get(unit, unit)
