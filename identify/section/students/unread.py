"""What of a section's file could not be used: rows, and students of whom nothing else is there."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import TypeVar

from identify.matching.answer import Ranking
from identify.notebook.errors import RunFault
from identify.notebook.findings import Finding, worst_first
from identify.notebook.measurement import Measurement
from identify.section.key import Key, folded_label
from identify.section.result import RowSetAside, StudentResult
from identify.section.wording import sentence
from identify.tables import Fault, Runs

_T = TypeVar("_T")
_MAX_FILE_FAULTS = 20  # that are told, of those that belong to no student
_MAX_ROWS_IN_SENTENCE = 3
_NAME_THEM = "Add a column that names the student, or the group, of each row; check again."
_CORRECT = "Correct the file, and run the check again; this part of it was not used."


def as_far_as_possible(
    read: Runs, work: Callable[[Runs], _T]
) -> tuple[Runs, tuple[RunFault, ...], _T]:
    """Work out a section; where the program fails, without the runs at which it fails alone.

    Parameters
    ----------
    read : Runs
    work : callable
        Works out what it is given.

    Returns
    -------
    read : Runs
        What was worked out; the rows of the others are set aside.
    failed : tuple of RunFault
        Of these runs.
    found
        What ``work`` gave.
    """
    try:
        return read, (), work(read)
    except Exception:
        failed = {}
        for index, run in enumerate(read):
            try:
                work(read.only([index]))
            except Exception as error:
                failed[index] = RunFault.of(run.place, error)
        if not failed:  # no run is to blame
            raise
    rest = read.only([index for index in range(len(read)) if index not in failed], failed)
    return rest, tuple(failed.values()), work(rest)


def rows_set_aside(read: Runs) -> Iterator[RowSetAside]:
    """Yield the rows that went into no student's result, with whose they are."""
    about: dict[int | None, tuple[str, str]] = {}
    for fault in read.row_faults:
        label, student = about.get(fault.row, ("", ""))
        about[fault.row] = (label or fault.label, student or fault.student)
    for row, reason in read.set_aside:
        yield RowSetAside(row, reason, *about.get(row, ("", "")))


def file_findings(read: Runs) -> Iterator[Finding]:
    """Yield the faults of the file that are about no row: unreadable columns, missing names."""
    others = [fault for fault in read.faults if fault.row not in read.rows]
    for fault in others[:_MAX_FILE_FAULTS]:
        yield _of_fault(fault)
    if (more := len(others) - _MAX_FILE_FAULTS) > 0:
        advice = "Correct those told first, and run the check again."
        message = f"{more} more things in the file could not be used."
        yield Finding("file-fault", "warning", message, advice)
    for note in read.notes:
        yield Finding("students-not-named", "warning", _of_note(note), _NAME_THEM)


def with_row_faults(students: Iterable[StudentResult], read: Runs) -> Iterator[StudentResult]:
    """Yield results with what could not be read in the rows that went into them."""
    faults: defaultdict[int | None, list[Finding]] = defaultdict(list)
    for fault in read.faults:
        faults[fault.row].append(_of_fault(fault))
    for one in students:
        own = [finding for row in one.rows for finding in faults.get(row, ())]
        yield replace(one, findings=tuple(worst_first([*one.findings, *own]))) if own else one


def with_those_unread(
    students: Sequence[StudentResult], set_aside: Iterable[RowSetAside], key: Key, unlisted: float
) -> list[StudentResult]:
    """Return results with those named students of whom no row could be used, in the file's order.

    Parameters
    ----------
    students : sequence of StudentResult
    set_aside : iterable of RowSetAside
    key : Key
    unlisted : float
        Probability that a liquid of which nothing is known is not in the table.
    """
    known = {(one.student, folded_label(one.label)) for one in students}
    named = {one.student for one in students}
    rows: defaultdict[tuple[str, str], list[RowSetAside]] = defaultdict(list)
    for row in set_aside:
        label = folded_label(row.label)
        is_there = (row.student, label) in known or (not label and row.student in named)
        if not is_there and row.student:
            rows[row.student, label].append(row)
    unread = [(own[0].row, _unread(own, key, unlisted)) for own in rows.values()]
    placed = [(min(one.rows, default=0), one) for one in students]
    return [one for _, one in sorted([*placed, *unread], key=lambda both: both[0])]


def _unread(rows: Sequence[RowSetAside], key: Key, unlisted: float) -> StudentResult:
    """Return the result of a student without a row that could be used."""
    student, label = rows[0].student, rows[0].label
    return StudentResult(
        student=student,
        label=label,
        rows=(),
        run=Measurement(label, student=student),
        ranking=Ranking(label, "no match", (), unlisted, None, [], student),
        key=key.of(label),
        findings=(_no_row_usable(rows),),
    )


def _no_row_usable(rows: Sequence[RowSetAside]) -> Finding:
    told = [f"row {row.row}: {row.reason}" for row in rows[:_MAX_ROWS_IN_SENTENCE]]
    if (more := len(rows) - _MAX_ROWS_IN_SENTENCE) > 0:
        told.append(f"and {more} more rows")
    return Finding(
        "no-row-usable",
        "warning",
        sentence(f"No row of this student could be used; {'; '.join(told)}"),
        "Ask for the notebook, correct the file, and run the check again.",
        {"rows": float(len(rows))},
    )


def _of_fault(fault: Fault) -> Finding:
    return Finding("file-fault", "warning", sentence(str(fault)), _CORRECT)


def _of_note(note: str) -> str:
    """Return a note on the file as a sentence, without its advice."""
    told = note.partition("; ")[0]
    return sentence(f"{told[:1].upper()}{told[1:]}")
