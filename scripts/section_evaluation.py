"""How a class's sections are judged: what many share, who is flagged, which slips are named.

Sections are simulated with what truly happened beside them (`simulated_sections.py`), so many of
each fault. A cause is named alone where it is told, of the right bottle or instrument, and nothing
else is told of the section or a bottle above a note. A student is sound who made no slip and copied
nobody; sound ones should not be flagged for something of their own.

Usage: python scripts/evaluate --sections [--seeds 20] [--students 96] [--only FAULT] [--told]
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from section_slips import DECIMALS
from simulated_sections import Section, Simulated, simulate, write

from identify.section import SectionResult, check_section
from identify.section.result import StudentResult

_TRIALS = 2
SOUND = Section(trials=_TRIALS, mislabeled=0, barometer_off=0.0)
_EVERY = 20  # students, of whom one left liquid in the flask
_LEFT = (0.2, 0.3, 0.4, 0.6, 1.0)  # of the vapor's mass


@dataclass(frozen=True)
class Fault:
    """A fault of a section, and what has to be told of it.

    Parameters
    ----------
    changes : mapping
        Of the sound section.
    codes : set of str
        Any of which is right; empty where nothing is to be told.
    where : callable
        From the simulated section to the words of which one has to stand in each finding: the label
        of the bottle, the name of the instrument.
    """

    changes: Mapping[str, object] = field(default_factory=dict)
    codes: frozenset[str] = frozenset()
    where: Callable[[Simulated], set[str]] = lambda one: set()


def _fault(codes: str, where: Callable[[Simulated], set[str]], **changes: object) -> Fault:
    return Fault(changes, frozenset(codes.split()), where)


_MISLABELED = "bottle-not-the-key bottles-exchanged"
FAULTS: Mapping[str, Fault] = {
    "none": Fault(),
    "bottles exchanged": _fault(
        "bottles-exchanged", lambda one: set(one.truth.mislabeled), exchanged=1
    ),
    "bottle mislabeled": _fault(
        "bottle-not-the-key", lambda one: set(one.truth.mislabeled), mislabeled=1
    ),
    "balance, grams": _fault(
        "shared-balance", lambda one: {f"balance {one.truth.balance}"}, balance_grams=0.06
    ),
    "balance, factor": _fault(
        "shared-balance", lambda one: {f"balance {one.truth.balance}"}, balance_off=0.06
    ),
    "thermometer": _fault(
        "shared-thermometer",
        lambda one: {f"thermometer {one.truth.thermometer}"},
        thermometer_off=6.0,
        boiling_point="measured",
    ),
    "barometer, one day": _fault(
        "barometer-day", lambda one: {one.truth.barometer_day}, barometer_off=22.0
    ),
    "wrong card": _fault(
        "card-not-the-bottle", lambda one: set(one.truth.wrong_cards), wrong_cards=1
    ),
    "copied": Fault({"copied": 3}),
}


@dataclass
class Tally:
    """Counts over the sections of one fault."""

    sections: int = 0
    named_alone: int = 0
    sound: int = 0
    flagged: int = 0
    reasons: Counter[str] = field(default_factory=Counter)
    planted: Counter[str] = field(default_factory=Counter)
    named: Counter[str] = field(default_factory=Counter)
    noticed: Counter[str] = field(default_factory=Counter)
    copied: int = 0
    copies_named: int = 0
    others_copied: int = 0
    rows: int = 0
    seconds: float = 0.0

    def add(self, other: Tally) -> None:
        """Add the counts of other sections."""
        for name, value in vars(other).items():
            setattr(self, name, getattr(self, name) + value)


def checked(simulated: Simulated) -> tuple[SectionResult, float]:
    """Check a simulated section with its key, and say how many seconds of a core that took."""
    with tempfile.TemporaryDirectory() as folder:
        table, key = Path(folder, "section.csv"), Path(folder, "key.csv")
        write(table, simulated.table)
        write(key, simulated.key)
        began = time.process_time()
        return check_section(table, key), time.process_time() - began


def told(section: SectionResult) -> Iterator[tuple[str, str]]:
    """Yield what is told of the section and its bottles above a note: code, and the whole text."""
    for finding in section.findings:
        if finding.severity != "note":
            yield finding.code, finding.message
    for unknown in section.unknowns:
        for finding in unknown.findings:
            if finding.severity != "note":
                yield finding.code, f"{unknown.label}: {finding.message}"


def is_named_alone(fault: Fault, simulated: Simulated, section: SectionResult) -> bool:
    """Say whether the fault is told, rightly, and nothing else."""
    every, places = list(told(section)), fault.where(simulated)
    if not fault.codes:
        return not every
    is_right = all(
        code in fault.codes and any(place in text for place in places) for code, text in every
    )
    return is_right and all(any(place in text for _, text in every) for place in places)


def reasons(student: StudentResult) -> list[str]:
    """List why a student is flagged for something of their own; empty where they are not."""
    if not student.is_doubtful:
        return []
    codes = [slip.code for slip in student.ranking.slips]
    codes += [one.code for one in student.findings if one.severity != "note"]
    if student.ranking.verdict == "no match":
        codes.append("no match")
    if student.named_right is False:
        codes.append("another liquid than the key's")
    return list(dict.fromkeys(codes))


def tallied(fault: Fault, simulated: Simulated) -> tuple[Tally, SectionResult]:
    """Check a section, and count."""
    section, seconds = checked(simulated)
    slips = {row.student: row.slip for row in simulated.truth.rows}
    copied = simulated.truth.copied
    found = Tally(sections=1, rows=len(simulated.table), seconds=seconds, copied=len(copied))
    found.named_alone = int(is_named_alone(fault, simulated, section))
    for student in section.students:
        name, why = student.student, reasons(student)
        is_copy = any(one.code == "copied-from" for one in student.findings)
        if name in copied:
            found.copies_named += int(is_copy)
        elif name not in copied.values():
            found.others_copied += int(is_copy)
            _count(found, student, slips[name], why)
    return found, section


def _count(found: Tally, student: StudentResult, slip: str, why: Sequence[str]) -> None:
    """Count a student who copied nobody and was not copied."""
    if slip:
        found.planted[slip] += 1
        found.named[slip] += any(one.code == slip for one in student.ranking.slips)
        found.noticed[slip] += bool(why)
    else:
        found.sound += 1
        found.flagged += bool(why)
        found.reasons.update(why)


def with_liquid_left(simulated: Simulated, share: float) -> Simulated:
    """Let every twentieth student leave liquid in the flask, as a share of the vapor's mass."""
    names = list(dict.fromkeys(row.student for row in simulated.truth.rows))
    who = set(names[:: _EVERY - 1])
    table = tuple(_left(row, share) if row["student"] in who else row for row in simulated.table)
    rows = tuple(
        replace(row, slip="mass-in-excess") if row.student in who else row
        for row in simulated.truth.rows
    )
    return Simulated(table, simulated.key, replace(simulated.truth, rows=rows))


def _left(row: Mapping[str, str], share: float) -> dict[str, str]:
    """Weigh liquid with the vapor of a trial; what the vapor shuts out is left out of account."""
    empty, condensed = float(row["empty_g"]), float(row["condensed_g"])
    return {**row, "condensed_g": f"{condensed + share * (condensed - empty):.{DECIMALS}f}"}


def _percent(part: float, whole: float) -> str:
    return f"{100.0 * part / whole:5.1f} %" if whole else "      -"


def print_faults(tallies: Mapping[str, Tally]) -> None:
    """Print a line a fault: named alone, and sound students who are flagged."""
    print(f"{'fault':<20}{'sections':>9}{'alone':>9}{'sound':>8}{'flagged':>9}   why flagged")
    for name, one in tallies.items():
        why = ", ".join(f"{code} {count}" for code, count in one.reasons.most_common(4))
        alone, flagged = _percent(one.named_alone, one.sections), _percent(one.flagged, one.sound)
        print(f"{name:<20}{one.sections:>9}{alone:>9}{one.sound:>8}{flagged:>9}   {why}")


def print_slips(whole: Tally) -> None:
    """Print a line a kind of slip: how often planted, named, and noticed at all."""
    print(f"\n{'slip':<20}{'planted':>9}{'named':>7}{'noticed':>9}")
    for code, count in sorted(whole.planted.items()):
        print(f"{code:<20}{count:>9}{whole.named[code]:>7}{whole.noticed[code]:>9}")
    total = sum(whole.planted.values())
    named, noticed = sum(whole.named.values()), sum(whole.noticed.values())
    print(f"{'all':<20}{total:>9}{named:>7}{noticed:>9}")


def print_left(students: int, seeds: range) -> None:
    """Print a line a share of liquid that was left: how often it is named, and noticed."""
    print(f"\n{'liquid left':<20}{'planted':>9}{'named':>9}{'noticed':>9}")
    for share in _LEFT:
        whole = Tally()
        for seed in seeds:
            sound = simulate(replace(SOUND, rows=_TRIALS * students, slips=0.0), seed)
            whole.add(tallied(Fault(), with_liquid_left(sound, share))[0])
        (count,), (named,) = whole.planted.values(), whole.named.values()
        noticed = whole.noticed["mass-in-excess"]
        line = "".join(f"{_percent(one, count):>9}" for one in (named, noticed))
        print(f"{share:<20.0%}{count:>9}{line}")


def print_speed() -> None:
    """Print rows a second of a section of 2,000 rows."""
    simulated = simulate(Section())
    best = min(checked(simulated)[1] for _ in range(2))
    print(
        f"\n{len(simulated.table)} rows in {best:.2f} s: {len(simulated.table) / best:.0f} a second"
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Draw, check and print."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("--seeds", type=int, default=20, help="sections of each fault")
    parser.add_argument("--first", type=int, default=100, help="the first seed")
    parser.add_argument("--students", type=int, default=96, help="of a section")
    parser.add_argument("--slips", type=float, default=0.05, help="share of them that make one")
    parser.add_argument("--only", help=f"faults, comma between: {', '.join(FAULTS)}")
    parser.add_argument("--told", action="store_true", help="print what is told beside the fault")
    options = parser.parse_args(arguments)
    seeds = range(options.first, options.first + options.seeds)
    usual = replace(SOUND, rows=_TRIALS * options.students, slips=options.slips)
    tallies: dict[str, Tally] = {}
    for name in options.only.split(",") if options.only else FAULTS:
        fault, whole = FAULTS[name], tallies.setdefault(name, Tally())
        for seed in seeds:
            simulated = simulate(replace(usual, **fault.changes), seed)
            one, section = tallied(fault, simulated)
            whole.add(one)
            if options.told:
                _print_told(f"{name}, seed {seed}", one, simulated, section)
    print_faults(tallies)
    whole = Tally()
    for one in tallies.values():
        whole.add(one)
    print_slips(whole)
    copies = (whole.copied, whole.copies_named, whole.others_copied)
    print("\n{} copied runs, {} named; of others {} told to be copied".format(*copies))
    if not options.only:
        print_left(options.students, seeds)
        print_speed()
    return 0


def _print_told(title: str, one: Tally, simulated: Simulated, section: SectionResult) -> None:
    """Print what is wrong in the answer to one section."""
    if not one.named_alone:
        truth = {name: v for name, v in vars(simulated.truth).items() if name != "rows" and v}
        print(f"{title}: {truth}")
        print("\n".join(f"    [{code}] {text}" for code, text in told(section)))
    slips = {row.student: row.slip for row in simulated.truth.rows}
    for student in section.students:
        why, slip = reasons(student), slips[student.student]
        is_named = any(code == slip for code in (*why, ""))
        if (why and not slip) or not is_named:
            print(f"{title}: {student.student} of {student.label}, slip: {slip}; told: {why}")
