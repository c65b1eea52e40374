"""One unknown's readings as they were typed, made into a measurement."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields

from identify.cli.options.options import Weighings
from identify.notebook.measurement import Measurement, Source
from identify.notebook.quantities import Quantity, excerpt
from identify.tables.assembly import assemble
from identify.tables.entry import BAROMETER, FIELDS, PERCENT, TRIAL_FIELDS, Entry
from identify.tables.faults import Fault

_UNLABELED = "unknown"
_SOURCE = Source("command line")


def typed_run(readings: Weighings, complain: Callable[[object], None]) -> Measurement | None:
    """Make a measurement of the options that were typed.

    Parameters
    ----------
    readings : Weighings
        The options.
    complain : callable
        Called with each fault.

    Returns
    -------
    Measurement or None
        None where any option cannot be used: an answer from the others would not be the one
        that was asked for.

    Examples
    --------
    >>> run = typed_run(Weighings(percent=["C=52.1 H=13.1"], boiling_point="78.4"), print)
    >>> print(run.boiling_point, "and", run.percent["H"])
    78.4 °C and 13.1 %
    >>> typed_run(Weighings(boiling_point="hot"), print)
    command line, --boiling-point: "hot" does not start with a number; write it like 22.5 °C
    """
    faults: list[Fault] = []
    options = {field.name: f"--{field.name.replace('_', '-')}" for field in fields(readings)}
    options["size"] = "--flask-size"
    card = Entry(_SOURCE, readings.label or _UNLABELED, columns=dict(options), faults=faults)
    for name in options:
        text = getattr(readings, name)
        if text is None or name in TRIAL_FIELDS:
            continue
        if name in FIELDS or name == BAROMETER:
            card.read(name, text, FIELDS[name].unit if name in FIELDS else "")
    _read_percent(card, readings.percent or ())
    trials = _trials(readings, options, faults)
    # A run half understood is not put together: what then seems missing may only be misread.
    runs = [] if faults else assemble([card, *trials], faults)
    for fault in dict.fromkeys(faults):  # what all trials lack is said once
        complain(fault)
    return runs[0].measurement if runs and not faults else None


def _read_percent(card: Entry, texts: Sequence[str]) -> None:
    for text in texts:
        card.read_composition(text, "--percent")


def typed_percent(texts: Sequence[str], faults: Callable[[object], None]) -> dict[str, Quantity]:
    """Read a composition that was typed: one element a text, or several in one."""
    card = Entry(_SOURCE, _UNLABELED)
    _read_percent(card, texts)
    for fault in card.faults:
        faults(fault)
    return {
        name.removeprefix(PERCENT): quantity
        for name, quantity in card.written.items()
        if name.startswith(PERCENT)
    }


def _trials(readings: Weighings, options: Mapping[str, str], faults: list[Fault]) -> list[Entry]:
    columns: dict[str, Sequence[str]] = {
        name: getattr(readings, name) or () for name in TRIAL_FIELDS
    }
    count = max(len(texts) for texts in columns.values())
    for name, texts in columns.items():
        # The empty flask and the bath may be read once for all trials.
        if len(texts) not in (0, 1, count):
            advice = (
                f"is given {len(texts)} times for {count} trials; give it once, or once a trial"
            )
            faults.append(Fault(_SOURCE.file, None, options[name], excerpt(texts[0]), advice))
            return []
    trials: list[Entry] = []
    for number in range(count):
        trial = Entry(_SOURCE, readings.label or _UNLABELED, columns=dict(options), faults=faults)
        for name, texts in columns.items():
            # What stands for all trials is read, and reported, once.
            if texts and (len(texts) == count or number == 0 or not trials[0].faulty):
                trial.read(name, texts[number % len(texts)], FIELDS[name].unit)
        trials.append(trial)
    return trials
