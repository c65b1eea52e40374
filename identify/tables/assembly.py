"""Entries of one unknown put together to a measurement."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, TypeVar

from identify.notebook.measurement import Conditions, Flask, Measurement, Trial
from identify.notebook.quantities import excerpt
from identify.tables.entry import (
    CARD_FIELDS,
    CIRCUMSTANCES,
    CONDITION_FIELDS,
    FLASK_FIELDS,
    LABORATORY,
    PERCENT,
    TRIAL_FIELDS,
    Entry,
)
from identify.tables.faults import Fault

_Value = TypeVar("_Value")

_MISSING = {
    "empty": "write the mass of the empty flask with its lid",
    "condensed": "write the mass of flask, lid and condensed liquid",
    "bath": "write the temperature of the bath",
    "pressure": "write the barometer's reading",
    "room": "write the temperature of the room",
    "volume": "write the flask's brim volume, or water_volume, or water_mass and its temperature",
    "water_temperature": "write the temperature of the water that filled the flask",
}


@dataclass(frozen=True)
class Assembled:
    """A measurement, and the rows of the table that went into it (none from a run record)."""

    measurement: Measurement
    rows: tuple[int, ...] = ()


def assemble(entries: Iterable[Entry], faults: list[Fault]) -> list[Measurement]:
    """Put the entries of each label and student together; see `assemble_rows`."""
    return [assembled.measurement for assembled in assemble_rows(entries, faults)]


def assemble_rows(entries: Iterable[Entry], faults: list[Fault]) -> list[Assembled]:
    """Put the rows of each label and student together.

    Parameters
    ----------
    entries : iterable of Entry
        Rows with weighings make the trials, in their order.
    faults : list of Fault
        Takes rows that repeat, contradict each other, or lack something, and those that go down
        with them: each row of a table is in a measurement, or has a fault.

    Returns
    -------
    list of Assembled
        In the order in which label and student first appear.
    """
    unknowns: dict[tuple[str, str], list[Entry]] = {}
    for entry in entries:
        unknowns.setdefault((entry.label, entry.student), []).append(entry)
    assembled = []
    for rows in unknowns.values():
        own_faults: list[Fault] = []
        measurement, used = _measurement(rows, own_faults)
        _name_the_rest(rows, used, own_faults)
        faults += own_faults
        if measurement is not None:
            numbers = (entry.source.row for entry in used)
            assembled.append(
                Assembled(measurement, tuple(sorted(row for row in numbers if row is not None)))
            )
    return assembled


def _measurement(
    entries: Sequence[Entry], faults: list[Fault]
) -> tuple[Measurement | None, Sequence[Entry]]:
    """Make a measurement, and tell which of its rows went into it."""
    trials = [entry for entry in entries if entry.is_trial]
    cards = _without_repeats([entry for entry in entries if not entry.is_trial], faults)
    if cards is None or not _agree([*cards, *trials], faults):
        return None, ()
    idle: list[Entry] = []
    if any("molar_mass" in entry.written for entry in entries):
        # It replaces the weighings: where only the bath was read, none of them is missing.
        idle = [entry for entry in trials if not entry.is_weighed]
        trials = [entry for entry in trials if entry.is_weighed]
    both = [*cards, *idle, *trials]
    whole = cards or idle  # what says something of the whole run
    card: dict[str, Any] = {}
    for entry in both:
        card |= {name: value for name, value in entry.written.items() if _on_card(name)}
    first = entries[0]
    measurement = Measurement(
        label=first.label,
        student=first.student,
        source=first.source,
        percent={
            name.removeprefix(PERCENT): value
            for name, value in card.items()
            if name.startswith(PERCENT)
        },
        conditions=_run_conditions(whole, trials),
        flask=Flask(**_shared(whole, trials, partial(Entry.part, names=FLASK_FIELDS))),
        circumstances=tuple(_run_circumstances(whole, trials).items()),
        **{name: value for name, value in card.items() if name in CARD_FIELDS},
    )
    if any(entry.at_laboratory for entry in both):
        pressure = measurement.conditions.pressure
        if pressure is None:
            advice = "needs one pressure for the run; write the pressure itself"
            asking = next(entry for entry in entries if entry.at_laboratory)
            faults.append(_fault(asking, "boiling_point_at", advice, LABORATORY))
            return None, ()
        measurement = replace(measurement, boiling_point_at=pressure)
    complete = {
        place: trial
        for place, entry in enumerate(trials)
        if (trial := _trial(entry, measurement, faults)) is not None
    }
    measurement = replace(measurement, trials=tuple(complete.values()))
    known = [getattr(measurement, name) for name in CARD_FIELDS if not name.endswith("_at")]
    if complete or measurement.percent or any(quantity is not None for quantity in known):
        used = [*cards, *idle, *(trials[place] for place in complete)]
        lacking = [entry for place, entry in enumerate(trials) if place not in complete]
        return measurement, _with_cards_of(lacking, used)
    if not trials:
        advice = (
            f'nothing is written of "{excerpt(first.label)}" that could tell what it is; '
            "add weighings, a molar mass, a boiling point or a composition"
        )
        faults.append(_fault(first, "", advice))
    return None, ()


def _with_cards_of(lacking: Iterable[Entry], used: list[Entry]) -> list[Entry]:
    """Add the rows whose trial lacks a reading, but which alone say something of the card."""
    stated = {name for entry in used for name in _stated(entry)}
    for entry in lacking:
        own = _stated(entry).keys()
        if not own <= stated:
            used.append(entry)
            stated |= own
    return used


def _name_the_rest(entries: Sequence[Entry], used: Sequence[Entry], faults: list[Fault]) -> None:
    """Give each row that is not used a fault, if only that of the row that it goes down with."""
    there = {fault.row for fault in faults} | {entry.source.row for entry in used}
    culprit = faults[0].row if faults else None
    for entry in entries:
        if entry.source.row not in there:
            advice = f"is set aside with row {culprit} of the same unknown; put that row right"
            faults.append(_fault(entry, "label", advice, entry.label))


def _on_card(name: str) -> bool:
    return name in CARD_FIELDS or name.startswith(PERCENT)


def _without_repeats(cards: list[Entry], faults: list[Fault]) -> list[Entry] | None:
    """Keep one of the rows without weighings; None if they differ."""
    if len(cards) < 2:
        return cards
    first = cards[0]
    same = all(card.holds_same(first) for card in cards)
    for card in cards[1:]:
        if same:
            advice = f"repeats row {first.source.row}; keep one of the two"
        else:
            advice = (
                f"is also the label of row {first.source.row}, with other values; "
                "give each bottle its own label, or name the student (both rows are set aside)"
            )
        faults.append(_fault(card, "label", advice, card.label))
    return cards[:1] if same else None


def _agree(entries: Sequence[Entry], faults: list[Fault]) -> bool:
    """Report what the rows of one unknown say differently of its card.

    Which of them is right cannot be told, so the unknown is set aside whole.
    """
    agree = True
    stated: dict[str, tuple[object, Entry]] = {}
    for entry in entries:
        for name, value in _stated(entry).items():
            earlier, where = stated.setdefault(name, (value, entry))
            if earlier == value:
                continue
            agree = False
            advice = (
                f'differs from "{earlier}" in row {where.source.row}; one unknown has one value '
                f'("{excerpt(entry.label)}" is set aside)'
            )
            faults.append(_fault(entry, name, advice, str(value)))
    return agree


def _stated(entry: Entry) -> dict[str, object]:
    """Return what a row says of the whole unknown."""
    stated: dict[str, object] = {
        name: value for name, value in entry.written.items() if _on_card(name)
    }
    if entry.at_laboratory:
        stated["boiling_point_at"] = LABORATORY
    if entry.barometer is not None:
        stated["barometer"] = "mercury" if entry.barometer else "not mercury"
    return stated


def _shared(
    cards: Sequence[Entry], trials: Sequence[Entry], part: Callable[[Entry], dict[str, _Value]]
) -> dict[str, _Value]:
    """Find what holds for the whole run: written beside no weighing, or the same in every trial.

    A trial that lacks it does not borrow it from another trial.
    """
    for entries in (cards, trials):
        parts = [part(entry) for entry in entries]
        if parts and parts[0] and all(part == parts[0] for part in parts):
            return parts[0]
    return {}


def _run_conditions(cards: Sequence[Entry], trials: Sequence[Entry]) -> Conditions:
    shared: dict[str, Any] = {}
    for name in CONDITION_FIELDS:
        shared |= _shared(cards, trials, partial(Entry.part, names=(name,)))
    mercury = any(entry.barometer for entry in (*cards, *trials))
    return Conditions(mercury_barometer=mercury, **shared)


def _run_circumstances(cards: Sequence[Entry], trials: Sequence[Entry]) -> dict[str, str]:
    shared: dict[str, str] = {}
    for name in CIRCUMSTANCES:
        shared |= _shared(cards, trials, partial(Entry.circumstance, name=name))
    return shared


def _trial(entry: Entry, run: Measurement, faults: list[Fault]) -> Trial | None:
    """Make a trial, with what it has of its own; None if something is missing."""
    conditions = _own(entry, CONDITION_FIELDS, run.conditions)
    flask = _own(entry, FLASK_FIELDS, run.flask)
    trial = Trial(
        conditions=Conditions(**conditions) if conditions else None,
        flask=Flask(**flask) if flask else None,
        source=entry.source,
        circumstances=tuple({**dict(run.circumstances), **entry.circumstances}.items()),
        **entry.part(TRIAL_FIELDS),
    )
    missing = list(_missing(trial, run))
    for name in missing:
        faults.append(_fault(entry, name, f"is missing; {_MISSING[name]}"))
    return None if missing else trial


def _own(entry: Entry, names: tuple[str, ...], run: Conditions | Flask) -> dict[str, Any]:
    """Take what differs from the run's."""
    return {name: value for name, value in entry.part(names).items() if value != getattr(run, name)}


def _missing(trial: Trial, run: Measurement) -> Iterable[str]:
    yield from (name for name in TRIAL_FIELDS if getattr(trial, name) is None)
    conditions, flask = run.trial_conditions(trial), run.trial_flask(trial)
    yield from (name for name in ("pressure", "room") if getattr(conditions, name) is None)
    if flask.volume is None and flask.water_volume is None:
        if flask.water_mass is None:
            yield "volume"
        elif flask.water_temperature is None:
            yield "water_temperature"


def _fault(entry: Entry, name: str, advice: str, read: str = "") -> Fault:
    column = entry.columns.get(name, name.replace(PERCENT, "percent_"))
    source = entry.source
    read = excerpt(read)
    return Fault(source.file, source.row, column, read, advice, entry.label, entry.student)
