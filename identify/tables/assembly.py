"""Entries of one unknown put together to a measurement."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple, TypeAlias, TypeVar

from identify.notebook.measurement import (
    IN_SYRINGE,
    Combustion,
    Conditions,
    Flask,
    Measurement,
    Reported,
    Trial,
)
from identify.notebook.quantity.quantities import excerpt
from identify.tables.entry import (
    CARD_FIELDS,
    CIRCUMSTANCES,
    COMBUSTION_FIELDS,
    CONDITION_FIELDS,
    FLASK_FIELDS,
    LABORATORY,
    ONCE_FOR_ALL,
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
    "gain": "write the mass of the liquid",
    "bath": "write the temperature of the vapor",
    "volume": "write the flask's brim volume, or water_volume, water_mass, or its printed size",
}
_SIZES = ("volume", "water_volume", "water_mass", "size")
# What cannot be read of these leaves a weighing without its molar mass.
_OF_WEIGHING = frozenset((*TRIAL_FIELDS, *CONDITION_FIELDS, *FLASK_FIELDS))


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
    idle: list[Entry]  # a bath, and nothing was weighed
    trials: list[Entry]

    @classmethod
    def of(cls, entries: Sequence[Entry], faults: list[Fault]) -> _UnknownRows | None:
        """Sort them; None where they contradict each other."""
        weighed, others = _divided(entries, lambda entry: entry.is_trial)
        cards = _without_repeats(others, faults)
        if cards is None or not _agree([*cards, *weighed], faults):
            return None
        trials, idle = _divided(weighed, lambda entry: entry.is_weighed)
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

    def once_for_all(self) -> dict[str, Any]:
        """Return what a record has outside of its trials of what each may have of its own."""
        return {
            name: value
            for entry in self.cards
            if entry.kind == "run"
            for name, value in entry.part(ONCE_FOR_ALL).items()
        }

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
    if not rows.trials and not any(entry.stated() for entry in rows.all):
        _reported(rows.all, faults)
        faults += _nothing_written(rows)
        return None, ()
    run = _run(rows, entries, faults)
    trials = tuple(_trial(entry, run) for entry in rows.trials)
    run = replace(run, trials=trials, reported=_reported(rows.all, faults))
    if _tells_something(run):
        whole, misread = _divided(rows.all, lambda one: not any(_unread(one, of_trial=True)))
        return run, _with_cards_of(misread, whole)
    faults += _why_nothing(run, rows)
    return None, ()


def _run(rows: _UnknownRows, entries: Sequence[Entry], faults: list[Fault]) -> Measurement:
    """Make the measurement without its trials."""
    first = entries[0]
    card = rows.card()
    burned = _chosen(card, COMBUSTION_FIELDS)
    unread = [name for entry in rows.all for name in _unread(entry, of_trial=False)]
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
            **rows.once_for_all(),
        ),
        flask=Flask(**rows.shared(Entry.part, FLASK_FIELDS)),
        circumstances=tuple(rows.each_shared(Entry.circumstance, CIRCUMSTANCES).items()),
        combustion=Combustion(**burned) if burned else None,
        unread=tuple(dict.fromkeys(name for name in unread if name not in card)),
        **_chosen(card, CARD_FIELDS),
    )
    return _at_laboratory(run, entries, faults)


def _chosen(card: Mapping[str, Any], names: Collection[str]) -> dict[str, Any]:
    return {name: value for name, value in card.items() if name in names}


def _at_laboratory(run: Measurement, entries: Sequence[Entry], faults: list[Fault]) -> Measurement:
    """Give the boiling point the laboratory's pressure, where it is said to be read there."""
    asking = next((entry for entry in entries if entry.at_laboratory), None)
    if asking is None:
        return run
    if run.conditions.pressure is None:
        # Nothing is taken in its place: without its pressure the boiling point says little.
        advice = "needs one pressure for the run; write the pressure itself"
        faults.append(asking.fault_of("boiling_point_at", advice, LABORATORY))
        unread = [*run.unread, "boiling_point"]
        return replace(run, boiling_point=None, unread=tuple(dict.fromkeys(unread)))
    return replace(run, boiling_point_at=run.conditions.pressure)


def _reported(entries: Sequence[Entry], faults: list[Fault]) -> Reported:
    """Return what the student made of it: one answer, and the mean of the molar masses."""
    answered = [entry for entry in entries if entry.answer]
    for other in answered[1:]:
        first = answered[0]
        if other.answer.casefold() != first.answer.casefold():
            advice = (
                f'differs from "{excerpt(first.answer)}" in row {first.source.row}, which counts'
            )
            faults.append(other.fault_of("answer", advice, other.answer))
    masses = [entry.reported for entry in entries if entry.reported is not None]
    mean = sum(masses) / len(masses) if masses else None
    return Reported(answered[0].answer if answered else "", mean)


def _unread(entry: Entry, of_trial: bool) -> Iterator[str]:
    """Yield the fields of an entry that could not be read, of its trial or of the whole run."""
    for name in entry.unread:
        on_card = name in (*CARD_FIELDS, *COMBUSTION_FIELDS) or PERCENT.startswith(name)
        if of_trial == (entry.is_trial and not on_card):
            yield name


def _tells_something(run: Measurement) -> bool:
    """Say whether anything is known by which one liquid differs from another."""
    known = [getattr(run, name) for name in CARD_FIELDS if not name.endswith(("_at", "_by"))]
    return bool(run.percent) or any(known) or any(_is_usable(run, one) for one in run.trials)


def _with_cards_of(misread: Iterable[Entry], used: list[Entry]) -> list[Entry]:
    """Add the rows whose weighing cannot be read, but which alone say something of the card."""
    stated = {name for entry in used for name in entry.stated()}
    for entry in misread:
        if not entry.stated().keys() <= stated:
            used.append(entry)
            stated |= entry.stated().keys()
    return used


def _why_nothing(run: Measurement, rows: _UnknownRows) -> Iterator[Fault]:
    """Yield what is missing of each trial, unless it is already said what cannot be read there."""
    if rows.trials:
        for entry, trial in zip(rows.trials, run.trials, strict=True):
            if not entry.faulty:
                for name in _lacks(run, trial):
                    yield entry.fault_of(name, f"{MISSING} {_MISSING[name]}")
    else:
        yield from _nothing_written(rows)


def _nothing_written(rows: _UnknownRows) -> Iterator[Fault]:
    """Yield that no row says anything, unless it is already said what cannot be read there."""
    if not any(entry.faulty for entry in rows.all):
        first = rows.all[0]
        advice = (
            f'nothing is written of "{excerpt(first.label)}" that could tell what it is; '
            "add weighings, a molar mass, a boiling point or a composition"
        )
        yield first.fault_of("", advice)


def _is_usable(run: Measurement, trial: Trial) -> bool:
    """Say whether a molar mass can follow from a trial."""
    unread = {*run.unread, *trial.unread}
    return unread.isdisjoint(_OF_WEIGHING) and not any(_lacks(run, trial))


def _lacks(run: Measurement, trial: Trial) -> Iterator[str]:
    """Yield what a trial has to have and nothing was written of: all else has a usual value."""
    in_syringe = trial.vaporized_in == IN_SYRINGE
    masses = ("gain",) if in_syringe or trial.gain is not None else ("empty", "condensed")
    unread = {*run.unread, *trial.unread}
    for name in (*masses, "bath") if in_syringe else masses:
        if getattr(trial, name) is None and name not in unread:
            yield name
    flask = run.trial_flask(trial)
    if unread.isdisjoint(_SIZES) and all(getattr(flask, name) is None for name in _SIZES):
        yield "volume"


def _name_the_rest(entries: Sequence[Entry], used: Sequence[Entry], faults: list[Fault]) -> None:
    """Report every unused row, if only as set aside with the one that is at fault."""
    misread = [entry.source.row for entry in entries if entry.faulty]
    there = {fault.row for fault in faults} | {entry.source.row for entry in used} | {*misread}
    culprit = faults[0].row if faults else next(iter(misread), None)
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
                row = where.source.row
                place = where.columns.get(name, name) if row is None else f"row {row}"
                advice = (
                    f'differs from "{earlier}" in {place}; one unknown has one '
                    f'value ("{excerpt(entry.label)}" is set aside)'
                )
                faults.append(entry.fault_of(name, advice, str(value)))
    return agree


def _trial(entry: Entry, run: Measurement) -> Trial:
    """Make a trial, with what it has of its own."""
    conditions = _own(entry, CONDITION_FIELDS, run.conditions)
    flask = _own(entry, FLASK_FIELDS, run.flask)
    return Trial(
        conditions=Conditions(**conditions) if conditions else None,
        flask=Flask(**flask) if flask else None,
        source=entry.source,
        circumstances=tuple({**dict(run.circumstances), **entry.circumstances}.items()),
        vaporized_in=entry.vaporized_in,
        unread=tuple(dict.fromkeys(_unread(entry, of_trial=True))),
        **entry.part(TRIAL_FIELDS),
    )


def _own(entry: Entry, names: tuple[str, ...], run: Conditions | Flask) -> dict[str, Any]:
    """Take what differs from the run's."""
    return {name: value for name, value in entry.part(names).items() if value != getattr(run, name)}
