"""The check of a section's file: read it, work it out, say what could not be used."""

from __future__ import annotations

import os
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path

from identify.compounds.table import CandidateTable
from identify.matching.answer import Ranking
from identify.matching.ranking import matcher_of
from identify.matching.settings import DEFAULT_PRIOR, MatchSettings, Prior
from identify.matching.totals import OUTSIDE
from identify.notebook.findings import Finding, worst_first
from identify.observables.technique import Technique
from identify.observables.tolerances import Tolerances
from identify.section.key import Key, folded_label, read_key
from identify.section.matcher import SectionMatcher
from identify.section.result import RowSetAside, SectionResult, StudentResult
from identify.section.returned import feedback_of
from identify.section.runs import StudentRun
from identify.section.section import Section
from identify.section.wording import sentence
from identify.tables import Fault, Runs, read_runs

_NAME_THEM = "Add a column that names the student, or the group, of each row; check again."
_MAX_FILE_FAULTS = 20  # that are told, of those that belong to no row


def check_section(
    runs: Runs | str | os.PathLike[str],
    key: str | os.PathLike[str] | None = None,
    candidates: CandidateTable | str | os.PathLike[str] | None = None,
    tolerances: Tolerances | None = None,
    prior: Prior = DEFAULT_PRIOR,
    progress: Callable[[int], None] | None = None,
    outside: str | float = OUTSIDE,
    technique: Technique | str | None = None,
) -> SectionResult:
    """Check a section's results.

    Parameters
    ----------
    runs : Runs or path
        A trial table, one row a trial.
    key : path, optional
        A stock table with columns ``label`` and ``identity``: what is in which bottle.
    candidates, tolerances, prior, outside, technique
        As for `identify.match`.
    progress : callable, optional
        Called after each student with the number of students done.

    Returns
    -------
    SectionResult
        Rows that cannot be read are in it with the reason. The same for the same input.

    Raises
    ------
    TableError
        If key or candidates cannot be used.
    ValueError
        If there is no such prior, share or technique.

    Examples
    --------
    >>> from identify.notebook.measurement import Measurement
    >>> card = {"boiling_point": 56.1, "percent": {"C": 62.0, "H": 10.4, "O": 27.6}}
    >>> runs = Runs([Measurement("D-02", student=name, molar_mass=mass, **card)
    ...              for name, mass in (("first", 57.5), ("second", 58.9), ("third", 58.2))])
    >>> unknown = check_section(runs).unknowns[0]
    >>> print(unknown.candidates[0].name, f"{unknown.molar_mass:.1f} g/mol")
    acetone 58.2 g/mol
    """
    read = runs if isinstance(runs, Runs) else read_runs(Path(runs))
    settings = MatchSettings.of(tolerances, prior, outside, technique)
    matcher = matcher_of(candidates, settings)
    known = Key() if key is None else read_key(Path(key), matcher.table)
    student_runs = [
        StudentRun.of(index, measurement, rows)
        for index, (measurement, rows) in enumerate(zip(read, read.rows_of, strict=True))
    ]
    section = Section(student_runs, matcher, known)
    rankings: dict[int, Ranking] = {}
    for index, ranking in section.rankings(SectionMatcher(matcher)):
        rankings[index] = ranking
        if progress is not None:
            progress(len(rankings))
    set_aside = tuple(_set_aside(read))
    return SectionResult(
        file="" if read.path is None else str(read.path),
        rows=len(read.rows) or sum(max(len(one.trials), 1) for one in read),
        students=tuple(_with_feedback(section.students(rankings), set_aside)),
        unknowns=tuple(section.unknowns()),
        set_aside=set_aside,
        causes=section.causes.told,
        findings=tuple(worst_first([*section.findings(), *_of_the_file(read)])),
        columns=read.headings,
        told=tuple(filter(None, (*read.told, known.told))),
    )


def _with_feedback(
    students: Iterable[StudentResult], set_aside: Iterable[RowSetAside]
) -> Iterator[StudentResult]:
    rows: defaultdict[tuple[str, str], list[RowSetAside]] = defaultdict(list)
    for one in set_aside:
        rows[one.student, folded_label(one.label)].append(one)
    for student in students:
        own = rows[student.student, folded_label(student.label)]
        yield replace(student, feedback=feedback_of(student, own))


def _set_aside(read: Runs) -> Iterator[RowSetAside]:
    about: dict[int | None, tuple[str, str]] = {}
    for fault in read.row_faults:
        label, student = about.get(fault.row, ("", ""))
        about[fault.row] = (label or fault.label, student or fault.student)
    for row, reason in read.set_aside:
        yield RowSetAside(row, reason, *about.get(row, ("", "")))


def _of_the_file(read: Runs) -> list[Finding]:
    """Return the faults of the file that are not about a row set aside: unreadable columns."""
    aside = {row for row, _ in read.set_aside}
    others: list[Fault] = [fault for fault in read.faults if fault.row not in aside]
    advice = "Correct the file, and run the check again; this part of it was not used."
    told = [(sentence(str(fault)), advice) for fault in others[:_MAX_FILE_FAULTS]]
    if (more := len(others) - _MAX_FILE_FAULTS) > 0:
        advice = "Correct those told first, and run the check again."
        told.append((f"{more} more things in the file could not be used.", advice))
    merged = [_of_note(note) for note in read.notes]
    return [
        *(Finding("file-fault", "warning", message, advice) for message, advice in told),
        *(Finding("students-not-named", "warning", message, _NAME_THEM) for message in merged),
    ]


def _of_note(note: str) -> str:
    """Return a note on the file as a sentence, without its advice."""
    told = note.partition("; ")[0]
    return sentence(f"{told[:1].upper()}{told[1:]}")
