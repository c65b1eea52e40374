"""The check of a section's file: read it, work it out, say what could not be used."""

from __future__ import annotations

import os
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from identify.matching.answer import Ranking
from identify.matching.evidence import Matcher
from identify.matching.ranking import matcher_of
from identify.matching.settings import DEFAULT_PRIOR, MatchSettings, Prior
from identify.matching.totals import OUTSIDE
from identify.notebook.findings import Finding, worst_first
from identify.notebook.garbage import seldom_collected
from identify.observables.error.technique import Technique
from identify.observables.tolerances import Tolerances
from identify.section.alike import labels_alike, names_alike
from identify.section.key import Key, folded_label, read_key
from identify.section.result import RowSetAside, SectionResult, StudentResult
from identify.section.returned import feedback_of
from identify.section.runs import StudentRun
from identify.section.section import Section
from identify.section.students.unread import (
    as_far_as_possible,
    file_findings,
    rows_set_aside,
    with_row_faults,
    with_those_unread,
)
from identify.tables import Runs, read_runs, runs_from_frame
from identify.tables.frames import table_source

if TYPE_CHECKING:
    import pandas as pd

    from identify.matching.ranking import Candidates


@seldom_collected()
def check_section(
    runs: Runs | str | os.PathLike[str] | pd.DataFrame | Any,
    key: str | os.PathLike[str] | pd.DataFrame | Any | None = None,
    candidates: Candidates | None = None,
    tolerances: Tolerances | None = None,
    prior: Prior = DEFAULT_PRIOR,
    progress: Callable[[int], None] | None = None,
    outside: str | float = OUTSIDE,
    technique: Technique | str | None = None,
) -> SectionResult:
    """Check a section's results.

    Parameters
    ----------
    runs : Runs, path or frame
        A trial table, one row a trial.
    key : path or frame, optional
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
    read = runs if isinstance(runs, Runs) else _read(table_source(runs))
    settings = MatchSettings.of(tolerances, prior, outside, technique)
    matcher = matcher_of(candidates, settings)
    known = Key() if key is None else read_key(table_source(key), matcher.table)
    read, failed, (section, rankings) = as_far_as_possible(
        read, lambda runs: _worked_out(runs, matcher, known, progress)
    )
    set_aside = tuple(rows_set_aside(read))
    results = list(with_row_faults(section.students(rankings), read))
    students = with_those_unread(results, set_aside, known, matcher.outside)
    return SectionResult(
        file="" if read.path is None else str(read.path),
        rows=len(read.rows) or sum(max(len(one.trials), 1) for one in read),
        students=tuple(_with_feedback(students, set_aside)),
        unknowns=tuple(section.unknowns()),
        set_aside=set_aside,
        causes=section.causes.told,
        findings=tuple(
            worst_first([*section.findings(), *file_findings(read), *_alike(students, known)])
        ),
        columns=read.headings,
        told=tuple(filter(None, (*read.told, known.told))),
        precision=section.precision(),
        failed=failed,
    )


def _worked_out(
    read: Runs, matcher: Matcher, key: Key, progress: Callable[[int], None] | None
) -> tuple[Section, dict[int, Ranking]]:
    """Work out a section, and the ranking of each of its runs."""
    student_runs = [
        StudentRun.of(index, measurement, rows)
        for index, (measurement, rows) in enumerate(zip(read, read.rows_of, strict=True))
    ]
    section = Section(student_runs, matcher, key)
    rankings: dict[int, Ranking] = {}
    for index, ranking in section.rankings(matcher):
        rankings[index] = ranking
        if progress is not None:
            progress(len(rankings))
    return section, rankings


def _alike(students: Sequence[StudentResult], key: Key) -> Iterator[Finding]:
    """Yield which names may be one student, and which labels one bottle."""
    labels: defaultdict[str, list[str]] = defaultdict(list)
    counts: Counter[str] = Counter()
    first: dict[str, str] = {}
    for one in students:
        label = first.setdefault(folded_label(one.label), one.label)
        counts[label] += 1
        if one.student:
            labels[one.student].append(one.label)
    yield from names_alike(labels)
    yield from labels_alike(counts, key.rows)


def _with_feedback(
    students: Iterable[StudentResult], set_aside: Iterable[RowSetAside]
) -> Iterator[StudentResult]:
    rows: defaultdict[tuple[str, str], list[RowSetAside]] = defaultdict(list)
    for one in set_aside:
        rows[one.student, folded_label(one.label)].append(one)
    for student in students:
        own = rows[student.student, folded_label(student.label)]
        yield replace(student, give_back=partial(feedback_of, set_aside=own))


def _read(source: Path | pd.DataFrame) -> Runs:
    return read_runs(source) if isinstance(source, Path) else runs_from_frame(source)
