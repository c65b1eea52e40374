"""Entries of one unknown put together to a measurement."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple, TypeAlias, TypeVar

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
_Part: TypeAlias = Callable[[Entry, tuple[str, ...]], dict[str, _Value]]

MISSING = "is missing;"  # with what to write behind it
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
class _Assembled:
    """A measurement, and the rows of the table that went into it (none from a run record)."""

    measurement: Measurement
    rows: tuple[int, ...] = ()


def assemble(entries: Iterable[Entry], faults: list[Fault]) -> list[_Assembled]:
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
    list of _Assembled
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
            numbers = sorted(entry.source.row for entry in used if entry.source.row is not None)
            assembled.append(_Assembled(measurement, tuple(numbers)))
    return assembled


class _UnknownRows(NamedTuple):
    """The rows of one unknown by what they tell: of the whole run, and of single trials."""

    cards: list[Entry]
    idle: list[Entry]  # a bath beside a molar mass that is worked out already
    trials: list[Entry]

    @classmethod
    def of(cls, entries: Sequence[Entry], faults: list[Fault]) -> _UnknownRows | None:
        """Sort them; None where they contradict each other."""
        weighed, others = _divided(entries, lambda entry: entry.is_trial)
        cards = _without_repeats(others, faults)
        if cards is None or not _agree([*cards, *weighed], faults):
            return None
        # It replaces the weighings: where only the bath was read, none of them is missing.
        is_worked_out = any("molar_mass" in entry.written for entry in entries)
        trials, idle = _divided(weighed, lambda entry: entry.is_weighed or not is_worked_out)
        return cls(cards, idle, trials)

    @property
    def all(self) -> list[Entry]:
        return [*self.cards, *self.idle, *self.trials]

    def card(self) -> dict[str, Any]:
        """Return what they say of the card, which is the same in all that say it."""
        return {name: value for entry in self.all for name, value in entry.on_card().items()}

    def shared(self, part: _Part[_Value], names: tuple[str, ...]) -> dict[str, _Value]:
        """Find what holds for the whole run: beside no weighing, or the same in every trial.

        A trial that lacks it does not borrow it from another trial.
        """
        for entries in (self.cards or self.idle, self.trials):
            parts = [part(entry, names) for entry in entries]
            if parts and parts[0] and all(part == parts[0] for part in parts):
                return parts[0]
        return {}

    def each_shared(self, part: _Part[_Value], names: tuple[str, ...]) -> dict[str, _Value]:
        """Find which of several things hold for the whole run, each by itself."""
        return {name: value for one in names for name, value in self.shared(part, (one,)).items()}


def _divided(
    entries: Iterable[Entry], test: Callable[[Entry], bool]
) -> tuple[list[Entry], list[Entry]]:
    """Return the entries that pass a test, and the others."""
    divided: tuple[list[Entry], list[Entry]] = ([], [])
    for entry in entries:
        divided[0 if test(entry) else 1].append(entry)
    return divided


def _measurement(
    entries: Sequence[Entry], faults: list[Fault]
) -> tuple[Measurement | None, Sequence[Entry]]:
    """Make a measurement, and tell which of its rows went into it."""
    rows = _UnknownRows.of(entries, faults)
    if rows is None:
        return None, ()
    run = _run(rows, entries, faults)
    return (None, ()) if run is None else _with_trials(run, rows, faults)


def _with_trials(
    run: Measurement, rows: _UnknownRows, faults: list[Fault]
) -> tuple[Measurement | None, Sequence[Entry]]:
    trials = [(entry, _trial(entry, run, faults)) for entry in rows.trials]
    run = replace(run, trials=tuple(trial for _, trial in trials if trial is not None))
    if _tells_something(run):
        lacking = [entry for entry, trial in trials if trial is None]
        return run, _with_cards_of(lacking, [entry for entry in rows.all if entry not in lacking])
    if not trials:
        advice = (
            f'nothing is written of "{excerpt(run.label)}" that could tell what it is; '
            "add weighings, a molar mass, a boiling point or a composition"
        )
        faults.append(rows.all[0].fault_of("", advice))
    return None, ()


def _run(rows: _UnknownRows, entries: Sequence[Entry], faults: list[Fault]) -> Measurement | None:
    """Make the measurement without its trials; None if its boiling point has no pressure."""
    first = entries[0]
    card = rows.card()
    run = Measurement(
        label=first.label,
        student=first.student,
        source=first.source,
        percent={
            name.removeprefix(PERCENT): value
            for name, value in card.items()
            if name.startswith(PERCENT)
        },
        conditions=Conditions(
            mercury_barometer=any(entry.barometer for entry in rows.all),
            **rows.each_shared(Entry.part, CONDITION_FIELDS),
        ),
        flask=Flask(**rows.shared(Entry.part, FLASK_FIELDS)),
        circumstances=tuple(rows.each_shared(Entry.circumstance, CIRCUMSTANCES).items()),
        **{name: value for name, value in card.items() if name in CARD_FIELDS},
    )
    asking = next((entry for entry in entries if entry.at_laboratory), None)
    if asking is None:
        return run
    if run.conditions.pressure is None:
        advice = "needs one pressure for the run; write the pressure itself"
        faults.append(asking.fault_of("boiling_point_at", advice, LABORATORY))
        return None
    return replace(run, boiling_point_at=run.conditions.pressure)


def _tells_something(run: Measurement) -> bool:
    known = [getattr(run, name) for name in CARD_FIELDS if not name.endswith("_at")]
    return bool(run.trials or run.percent) or any(quantity is not None for quantity in known)


def _with_cards_of(lacking: Iterable[Entry], used: list[Entry]) -> list[Entry]:
    """Add the rows whose trial lacks a reading, but which alone say something of the card."""
    stated = {name for entry in used for name in entry.stated()}
    for entry in lacking:
        if not entry.stated().keys() <= stated:
            used.append(entry)
            stated |= entry.stated().keys()
    return used


def _name_the_rest(entries: Sequence[Entry], used: Sequence[Entry], faults: list[Fault]) -> None:
    """Report every unused row, if only as set aside with the one that is at fault."""
    there = {fault.row for fault in faults} | {entry.source.row for entry in used}
    culprit = faults[0].row if faults else None
    advice = f"is set aside with row {culprit} of the same unknown; put that row right"
    faults += [
        entry.fault_of("label", advice, entry.label)
        for entry in entries
        if entry.source.row not in there
    ]


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
        faults.append(card.fault_of("label", advice, card.label))
    return cards[:1] if same else None


def _agree(entries: Sequence[Entry], faults: list[Fault]) -> bool:
    """Report what the rows of one unknown say differently of its card.

    Which of them is right cannot be told, so the unknown is set aside whole.
    """
    agree = True
    stated: dict[str, tuple[object, Entry]] = {}
    for entry in entries:
        for name, value in entry.stated().items():
            earlier, where = stated.setdefault(name, (value, entry))
            if earlier != value:
                agree = False
                advice = (
                    f'differs from "{earlier}" in row {where.source.row}; one unknown has one '
                    f'value ("{excerpt(entry.label)}" is set aside)'
                )
                faults.append(entry.fault_of(name, advice, str(value)))
    return agree


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
    faults += [entry.fault_of(name, f"{MISSING} {_MISSING[name]}") for name in missing]
    return None if missing else trial


def _own(entry: Entry, names: tuple[str, ...], run: Conditions | Flask) -> dict[str, Any]:
    """Take what differs from the run's."""
    return {name: value for name, value in entry.part(names).items() if value != getattr(run, name)}


def _missing(trial: Trial, run: Measurement) -> Iterator[str]:
    masses = () if trial.gain is not None else ("empty", "condensed")
    yield from (name for name in masses if getattr(trial, name) is None)
    flask = run.trial_flask(trial)
    if flask.measured_volume is None and flask.water_mass is None and flask.size is None:
        yield "volume"
