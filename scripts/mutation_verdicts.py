"""What the tests said of small changes: kept, found again, counted and told."""

from __future__ import annotations

import csv
import json
import sys
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple, TextIO, TypeAlias

from mutation_changes import Change, draw, room_of

TOLD_BY = ("path", "function", "kind", "before", "after")
_SHOWN = 160  # letters of a change
Rooms: TypeAlias = dict[str, list[Change]]


class Verdict(NamedTuple):
    """What the tests said of a change."""

    change: Change
    noticed_by: str  # empty where none did
    tests: int
    seconds: float


def found_again(rooms: Rooms, changes: Iterable[Change]) -> Iterator[Change]:
    """Yield changes that were drawn before, wherever they lie now."""
    there: dict[tuple[str, ...], list[Change]] = defaultdict(list)
    for change in (change for of in rooms.values() for change in of):
        there[told(change)].append(change)
    for old in changes:
        if alike := there[told(old)]:
            yield min(alike, key=lambda one: abs(one.line - old.line))
        else:
            print(f"{old.place} is not there any more", file=sys.stderr)


def not_judged(changes: Iterable[Change], verdicts: Iterable[Verdict]) -> Iterator[Change]:
    """Yield the changes of which no verdict is kept."""
    judged = Counter(told(one.change) for one in verdicts)
    for change in changes:
        if judged[told(change)]:
            judged[told(change)] -= 1
        else:
            yield change


def told(change: Change) -> tuple[str, ...]:
    """Return what tells a change from others, wherever it lies in its file."""
    return tuple(str(getattr(change, name)) for name in TOLD_BY)


def read_equivalent(file: Path) -> dict[tuple[str, ...], str]:
    """Return the changes that no test could notice, and why."""
    with file.open(encoding="utf-8", newline="") as text:
        return {tuple(row[name] for name in TOLD_BY): row["reason"] for row in csv.DictReader(text)}


def drawn_changes(kept: Path, rooms: Rooms, number: int, seed: int) -> list[Change]:
    """Return the changes that a seed draws; those that it drew first, where it was used before."""
    if not kept.exists():
        lines = (json.dumps(_entry(one)) for one in draw(rooms, number, seed))
        kept.write_text("".join(f"{line}\n" for line in lines), "utf-8")
    entries = map(json.loads, kept.read_text("utf-8").splitlines())
    return [Change(**entry, lines=range(0)) for entry in entries]


def _entry(change: Change) -> dict[str, object]:
    return {name: value for name, value in change._asdict().items() if name != "lines"}


def read_verdicts(file: Path) -> list[Verdict]:
    """Return the verdicts of earlier runs."""
    lines = file.read_text("utf-8").splitlines() if file.exists() else []
    entries = [json.loads(line) for line in lines]
    return [Verdict(**one | {"change": Change(**one["change"], lines=range(0))}) for one in entries]


def write_verdict(file: TextIO, verdict: Verdict) -> None:
    """Add a verdict, so that a run that is stopped can go on."""
    entry = verdict._asdict() | {"change": _entry(verdict.change)}
    file.write(f"{json.dumps(entry)}\n")
    file.flush()


# -------------------------------------------------------------------------------------- telling


def shown(change: Change) -> str:
    """Return a change in a line or two: where, before and after."""
    before, after = (" ".join(text.split()) for text in (change.before, change.after))
    place = next((n for n, (a, b) in enumerate(zip(before, after, strict=False)) if a != b), 0)
    start = max(0, place - _SHOWN // 2)
    before, after = (text[start : start + _SHOWN] for text in (before, after))
    where = change.function or "at import"
    return f"{change.place} ({where}), {change.kind}\n- {before}\n+ {after}"


def tell(verdicts: Sequence[Verdict], equivalent: Mapping[tuple[str, ...], str]) -> None:
    """Print each change that no test noticed, and the share noticed by room."""
    drawn: Counter[str] = Counter()
    noticed: Counter[str] = Counter()
    aside: Counter[str] = Counter()
    for verdict in verdicts:
        reason = "" if verdict.noticed_by else equivalent.get(told(verdict.change), "")
        if not verdict.noticed_by:
            said = f"equivalent: {reason}" if reason else f"none of {verdict.tests} tests noticed"
            print(f"\n{shown(verdict.change)}\n  {said}")
        for room in (room_of(verdict.change.path), "all"):
            drawn[room] += 1
            noticed[room] += bool(verdict.noticed_by)
            aside[room] += bool(reason)
    print()
    for room in [*sorted(set(drawn) - {"all"}), *(["all"] if drawn else [])]:
        share = noticed[room] / max(drawn[room] - aside[room], 1)
        rest = f", {aside[room]} equivalent: {share:.0%} of the others" if aside[room] else ""
        part = noticed[room] / drawn[room]
        print(f"{room:<14} {noticed[room]:>4} of {drawn[room]:>4} noticed {part:>6.0%}{rest}")
