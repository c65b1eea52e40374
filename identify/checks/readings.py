"""Readings that no teaching bench shows: mostly a number in another unit than was written."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from identify.bench.readings import Doubted
from identify.notebook.findings import Finding, listed
from identify.notebook.measurement import IN_SYRINGE, Measurement
from identify.notebook.plausible import IN_A_SYRINGE, PLAUSIBLE, Plausible
from identify.notebook.quantity.quantities import Quantity
from identify.observables.catalog import plausible_readings

_PLAUSIBLE: Mapping[str, Plausible] = MappingProxyType({**PLAUSIBLE, **plausible_readings()})

_LOOK_AGAIN = "Look at the number in the notebook again: its digits, its decimal point, its unit."


@dataclass(frozen=True)
class _FieldReading:
    """One reading, and the trial whose own it is, None where it is the run's."""

    field: str
    plausible: Plausible
    quantity: Quantity
    trial: int | None


def unbelievable(run: Measurement) -> tuple[list[Finding], Doubted]:
    """Find the readings that no bench shows.

    Returns
    -------
    findings : list of Finding
        One for each mistake, however many readings and trials share it.
    doubted : frozenset of (str, Quantity)
        Field and reading; the other checks leave these out.
    """
    mistakes: defaultdict[tuple[str, str, str], list[_FieldReading]] = defaultdict(list)
    doubted = set()
    for read in _readings(run):
        if not read.plausible.holds(read.quantity):
            meant = read.plausible.meant(read.quantity)
            unit = "" if meant is None else meant.unit
            mistakes[read.plausible.reading, read.quantity.unit, unit].append(read)
            doubted.add((read.field, read.quantity))
    several = len(run.trials) > 1
    return [_finding(same, several) for same in mistakes.values()], frozenset(doubted)


def _readings(run: Measurement) -> Iterator[_FieldReading]:
    places: list[tuple[object, int | None]] = [
        (run, None),
        (run.conditions, None),
        (run.flask, None),
    ]
    for number, one in enumerate(run.trials, 1):
        places += [(one, number), (one.conditions, number), (one.flask, number)]
    in_syringe = [trial.vaporized_in == IN_SYRINGE for trial in run.trials]
    for record, trial in places:
        # What stands above the trials is of a syringe where all of them are.
        syringe = all(in_syringe) if trial is None else in_syringe[trial - 1]
        usual = {**_PLAUSIBLE, **IN_A_SYRINGE} if syringe and in_syringe else _PLAUSIBLE
        for field, plausible in usual.items():
            quantity = getattr(record, field, None)
            if quantity is not None:
                yield _FieldReading(field, plausible, quantity, trial)


def _finding(reads: Sequence[_FieldReading], several_trials: bool) -> Finding:
    plausible = reads[0].plausible
    unit = plausible.units[0]
    quantities = list(dict.fromkeys(read.quantity for read in reads))
    trials = dict.fromkeys(read.trial for read in reads if read.trial is not None)
    kind, advice, numbers = "implausible", _LOOK_AGAIN, _numbered("read", unit, quantities)
    meant = [one for one in map(plausible.meant, quantities) if one is not None]
    if meant:
        kind, advice = "unit", f"Did you mean {_in_both(meant[0], unit)}? Write it with that unit."
        numbers |= _numbered("meant", unit, meant)
    sentence = (
        f"the {plausible.reading} is written as {_written(quantities, unit)}; {plausible.why}."
    )
    message = about_trials(list(trials) if several_trials else [], sentence)
    return Finding(f"{plausible.kind}-{kind}", "error", message, advice, numbers)


def _written(quantities: Sequence[Quantity], unit: str) -> str:
    """List quantities as they were written, and in the usual unit where that is another."""
    written = listed([str(quantity) for quantity in quantities])
    if quantities[0].unit == unit:
        return written
    shown = listed([f"{quantity.to(unit).value:.4g}" for quantity in quantities])
    return f"{written}, that is {shown} {_name(unit)}"


def _in_both(meant: Quantity, unit: str) -> str:
    """Return a quantity in its own unit, and in the usual one where that is another."""
    same = "" if meant.unit == unit else f" ({meant.to(unit).value:.4g} {_name(unit)})"
    return f"{meant.value:.10g} {_name(meant.unit)}{same}"


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


def _numbered(what: str, unit: str, quantities: Sequence[Quantity]) -> dict[str, float]:
    """Name the numbers: ``read_C``, and ``read_2_C`` where there is a second."""
    return {
        f"{what}_{_key(unit)}" if place == 1 else f"{what}_{place}_{_key(unit)}": one.to(unit).value
        for place, one in enumerate(quantities, 1)
    }


def _name(unit: str) -> str:
    return {"C": "°C", "F": "°F", "1": "as a fraction"}.get(unit, unit)


def _key(unit: str) -> str:
    return {"%": "percent", "g/mol": "g_per_mol"}.get(unit, unit)
