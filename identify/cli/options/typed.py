"""One unknown's readings as they were typed, made into a measurement."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields

from identify.cli.options.options import Weighings
from identify.notebook.measurement import IN_SYRINGE, Measurement, Source
from identify.notebook.quantity.quantities import Quantity
from identify.tables.assembly import assemble
from identify.tables.entry import BAROMETER, PERCENT, RECORD_FIELDS, TRIAL_FIELDS, Entry
from identify.tables.faults import Fault
from identify.tables.limits import MAX_TEXT
from identify.tables.records.keys import VAPOR_FIELDS

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

    def entry(kind: str) -> Entry:
        label = readings.label or _UNLABELED
        return Entry(_SOURCE, label, kind=kind, columns=dict(options), faults=faults)

    card = entry("run")
    if len(card.label) > MAX_TEXT:
        card.refuse("label", "is too long", "write what stands on the bottle", card.label)
        card.label = _UNLABELED
    for name in options:
        text = getattr(readings, name)
        if text is None or name in TRIAL_FIELDS:
            continue
        if name in RECORD_FIELDS or name == BAROMETER:
            card.read(name, text, "")
    _read_percent(card, readings.percent or ())
    trials = _trials(readings, options, entry)
    trials += _vaporized(readings, entry)
    # A run half understood is not put together: it would not be the one that was meant.
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


def _vaporized(readings: Weighings, entry: Callable[[str], Entry]) -> list[Entry]:
    """Return the trial in a syringe, where one was typed."""
    typed = {
        field: text
        for option, field in VAPOR_FIELDS.items()
        if (text := getattr(readings, f"vapor_{option}", None)) is not None
    }
    if not typed:
        return []
    trial = entry("trial")
    trial.vaporized_in = IN_SYRINGE
    trial.columns |= {field: f"--vapor-{option}" for option, field in VAPOR_FIELDS.items()}
    for field, text in typed.items():
        trial.read(field, text, "")
    if "volume" not in typed:
        trial.refuse("volume", "is missing", "give the volume of the vapor")
    return [trial]


def _trials(
    readings: Weighings, options: Mapping[str, str], entry: Callable[[str], Entry]
) -> list[Entry]:
    columns: dict[str, Sequence[str]] = {
        name: getattr(readings, name) or () for name in TRIAL_FIELDS
    }
    count = max(len(texts) for texts in columns.values())
    for name, texts in columns.items():
        # The empty flask and the bath may be read once for all trials.
        if len(texts) not in (0, 1, count):
            reason = f"is given {len(texts)} times for {count} trials"
            entry("trial").refuse(name, reason, "give it once, or once a trial", texts[0])
            return []
    trials: list[Entry] = []
    for number in range(count):
        trial = entry("trial")
        for name, texts in columns.items():
            # What stands for all trials is read, and reported, once.
            if texts and (len(texts) == count or number == 0 or not trials[0].faulty):
                trial.read(name, texts[number % len(texts)], "")
        trials.append(trial)
    return trials
