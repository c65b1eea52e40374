"""The check of a section, as plain text."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import isfinite
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from identify.answers.text.last_line import ending_lines, section_answer
from identify.answers.text.numbers import (
    NOTHING,
    counted,
    decimals_text,
    listed_up_to,
    percent_text,
    signed,
    with_uncertainty,
    yes_or_no,
)
from identify.answers.text.page import DIM, Page, finding_lines
from identify.answers.text.precision import precision_lines
from identify.answers.text.ranking import told_as_slip
from identify.answers.text.table import TextColumn, TextTable
from identify.notebook.findings import any_error, worst_first
from identify.section.bottles.findings import FEW_STUDENTS, few_students_each
from identify.section.result import (
    Cause,
    PooledCandidate,
    RowSetAside,
    SectionResult,
    StudentResult,
    UnknownResult,
)

if TYPE_CHECKING:
    from identify.matching.answer import RankedCandidate
    from identify.notebook.findings import Finding

_MAX_SET_ASIDE = 10  # reasons that are printed
_MAX_ROWS_IN_SENTENCE = 8
_MAX_BOTTLES_IN_SUMMARY = 6
_MAX_BOTTLES_IN_HEADING = 2


def section_lines(section: SectionResult, page: Page, everyone: bool = False) -> list[str]:
    """Return what is printed of the check of a section.

    Parameters
    ----------
    section : SectionResult
    page : Page
        What it is laid out for.
    everyone : bool, default=False
        Show the students whose result needs no look, too.
    """
    lines = page.wrapped(summary(section))
    if section.unknowns:
        lines += ["", page.emphasized("Shared by many"), *_shared_lines(section, page)]
        lines += ["", page.emphasized("Unknowns"), *_unknown_lines(section, page)]
    if section.students:
        lines += ["", *_student_lines(section, page, everyone)]
    if section.table_findings:
        told = _findings(section.table_findings, page)
        lines += ["", page.emphasized("Table and key"), *told]
    if section.precision is not None:
        lines += ["", page.emphasized("How well the class weighs")]
        lines += precision_lines(section.precision, page)
    if section.set_aside:
        lines += ["", page.emphasized("Rows set aside"), *_set_aside_lines(section, page)]
    legend = _MEANING if section.students else ""
    return [*lines, "", *ending_lines(page, section_answer(section), legend)]


def summary(section: SectionResult) -> str:
    """Return in a few sentences how many rows, students and unknowns, and how they fared."""
    names = {student.student for student in section.students if student.student}
    by = f" by {counted(len(names), 'student')}" if names else ""
    faulty = [one.label for one in section.unknowns if any_error(one.findings)]
    sentences = [
        f"{section.file}: {counted(section.rows, 'row')}, "
        f"{counted(len(section.students), 'result')}{by} on "
        f"{counted(len(section.unknowns), 'unknown')}.",
        _by_the_key(section.students, faulty),
        _verdicts(section),
    ]
    if faulty:
        bottles = listed_up_to(_MAX_BOTTLES_IN_SUMMARY, faulty)
        sentences.append(f"Look at bottle {bottles} first.")
    if section.set_aside:
        verb = "was" if len(section.set_aside) == 1 else "were"
        sentences.append(f"{counted(len(section.set_aside), 'row')} {verb} set aside.")
    return " ".join(filter(None, sentences))


def _by_the_key(students: Sequence[StudentResult], faulty: Sequence[str]) -> str:
    """Say how many are named right, of those whose bottle is not in doubt."""
    judged = [one for one in students if one.named_right is not None]
    if not judged:
        return ""
    sure = [one for one in judged if one.label not in faulty]
    right = sum(bool(one.named_right) for one in sure)
    left = len(judged) - len(sure)
    rest = f"; {left} more had a bottle that is in doubt" if left else ""
    return f"By the key, {right} of {len(sure)} are named right{rest}."


def _verdicts(section: SectionResult) -> str:
    counts = section.verdicts
    told = [f"{verdict} {counts[verdict]}" for verdict in _VERDICTS if counts[verdict]]
    return f"{', '.join(told).capitalize()}." if told else ""


_VERDICTS = ("single match", "several matches", "no match")

_MEANING = (
    "used: students whose weighings agree, who alone are pooled. molar mass: with the corrections "
    "of the compound beside it. spread: from student to student. error: against the key's "
    "compound, else the pooled one. right, agrees: the key's compound comes first; -: cannot be "
    "said. Findings in full: --out FILE.xlsx, or --format json."
)


def _findings(findings: Sequence[Finding], page: Page, indent: str = "") -> list[str]:
    narrower = replace(page, width=page.width - len(indent))
    return [indent + line for one in worst_first(findings) for line in finding_lines(one, narrower)]


def _shared_lines(section: SectionResult, page: Page) -> list[str]:
    """Return the causes with those concerned, and what else is said of the whole section."""
    lines: list[str] = []
    for cause in section.causes:
        bottles = listed_up_to(_MAX_BOTTLES_IN_SUMMARY, cause.labels)
        whose = f"{counted(len(cause.students), 'student')} of {bottles}"
        lines += finding_lines(cause.finding, page)
        lines += page.wrapped(f"Concerns {whose}.", " " * 10)
    lines += _findings(section.other_findings, page)
    return lines or page.wrapped("Nothing: no bottle, day, balance or reading stands out.", "  ")


# ------------------------------------------------------------------------------------- unknowns

# Characters of a label or a person's name, and of a compound's, that say which it is.
_SHORTEST, _SHORTEST_COMPOUND = 8, 12


def _unknown_lines(section: SectionResult, page: Page) -> list[str]:
    heading, *rows = TextTable(_UNKNOWN_COLUMNS, section.unknowns).blocks(page, "  ", DIM)
    lines = heading
    few = {
        unknown.label: one
        for unknown in section.unknowns
        for one in unknown.findings
        if one.code == FEW_STUDENTS
    }
    for unknown, row in zip(section.unknowns, rows, strict=True):
        own = section.findings_of(unknown)
        if len(few) > 1:  # what holds for several bottles is said once
            own = [one for one in own if one.code != FEW_STUDENTS]
        lines += [*row, *_findings(own, page, "  ")]
    if len(few) > 1:
        bottles = listed_up_to(_MAX_BOTTLES_IN_SUMMARY, list(few))
        lines += _findings([few_students_each(list(few.values()), bottles)], page, "  ")
    return lines


def _first_columns(
    which: str, first: Callable[[Any], RankedCandidate | PooledCandidate | None], spare: int = 0
) -> tuple[TextColumn, TextColumn]:
    """Return the columns of the first compound of a list, and of its probability."""

    def chance(one: Any) -> str:
        found = first(one)
        return NOTHING if found is None else percent_text(found.probability)

    def name(one: Any) -> str:
        return getattr(first(one), "name", NOTHING)

    return (
        TextColumn(f"{which}\ncompound", name, left=True, shortest=_SHORTEST_COMPOUND),
        TextColumn("prob-\nability", chance, spare=spare),
    )


def _pooled_molar_mass(unknown: UnknownResult) -> str:
    value, uncertainty = unknown.molar_mass, unknown.molar_mass_u
    if value is None or not isfinite(value):
        return NOTHING
    return with_uncertainty(value, float("nan") if uncertainty is None else uncertainty, "").strip()


_LABEL = TextColumn("label", lambda one: one.label, left=True, shortest=_SHORTEST)
_UNKNOWN_COLUMNS = (
    _LABEL,
    TextColumn("students\nused", lambda one: f"{one.used} of {one.students}"),
    TextColumn("molar mass\ng/mol", _pooled_molar_mass, spare=1),
    TextColumn("spread\n%", lambda one: decimals_text(one.spread_percent, 1), spare=2),
    *_first_columns("pooled", lambda one: next(iter(one.candidates), None)),
    TextColumn(
        "key",
        lambda one: getattr(one.key, "name", NOTHING),
        left=True,
        shortest=_SHORTEST,
        if_any=attrgetter("key"),
    ),
    TextColumn("agrees", lambda one: yes_or_no(one.agrees_with_key), if_any=attrgetter("key")),
)


# ------------------------------------------------------------------------------------- students


def _student_lines(section: SectionResult, page: Page, everyone: bool) -> list[str]:
    """Return who needs a look, beside the cause that concerns them, and the others if wanted."""
    groups = [(_beside(section, cause), shown) for cause, shown in section.to_look_at]
    title = page.wrapped(_students_title(section, sum(len(shown) for _, shown in groups), everyone))
    if everyone and (rest := [one for one in section.in_order if not one.is_doubtful]):
        groups.append(("no look needed", rest))
    return [*map(page.emphasized, title), *_group_lines(section, groups, page)] if groups else title


def _group_lines(
    section: SectionResult, groups: Sequence[tuple[str, Sequence[StudentResult]]], page: Page
) -> list[str]:
    everybody = [one for _, shown in groups for one in shown]
    heading, *rows = TextTable(_STUDENT_COLUMNS, everybody).blocks(page, "  ", DIM)
    lines = list(heading)
    for name, shown in groups:
        if len(groups) > 1:
            lines += page.wrapped(f"{name}:", "  ")
        for _ in shown:
            lines += rows.pop(0)
    if sharing := sum(bool(one.causes) for one in section.students):
        told = f"{counted(sharing, 'result')} had what many share set right before it was judged."
        lines += page.wrapped(told, "  ")
    return lines


def _students_title(section: SectionResult, doubtful: int, everyone: bool) -> str:
    rest = len(section.students) - doubtful
    hidden = f" ({rest} not shown; --all shows them)" if rest and not everyone else ""
    if not doubtful and (hidden or not rest):
        return f"No student's result needs a look{hidden}."
    verb = "needs" if doubtful == 1 else "need"
    return (
        f"Students: {doubtful} of {counted(len(section.students), 'result')} {verb} a look{hidden}"
    )


def _beside(section: SectionResult, cause: Cause | None) -> str:
    """Return what a group of students who need a look is called."""
    if cause is None:
        return "of their own"
    return f"beside {cause.code}, {listed_up_to(_MAX_BOTTLES_IN_HEADING, cause.labels)}"


def _molar_mass(student: StudentResult) -> str:
    measured = student.ranking.molar_mass
    return f"{measured.value:.1f}" if measured and measured.is_possible else NOTHING


def _codes(student: StudentResult) -> str:
    """Return what is wrong, by code: slips first, no notes, nothing that a slip explains."""
    slips = (slip.code for slip in student.ranking.slips)
    findings = (
        one.code
        for one in worst_first(student.findings)
        if one.severity != "note" and not told_as_slip(one, student.ranking)
    )
    return ", ".join(dict.fromkeys((*slips, *findings)))


_STUDENT_COLUMNS = (
    _LABEL,
    TextColumn(
        "student",
        lambda one: one.student,
        left=True,
        shortest=_SHORTEST,
        if_any=attrgetter("student"),
    ),
    *_first_columns("first", lambda one: next(iter(one.ranking.candidates), None), spare=2),
    TextColumn("molar\nmass", _molar_mass, spare=3),
    TextColumn("error\n%", lambda one: signed(one.percent_error, 1), spare=1),
    TextColumn("right", lambda one: yes_or_no(one.named_right), if_any=attrgetter("key")),
    TextColumn(
        "answer",
        lambda one: getattr(one.graded, "answer_grade", "") or NOTHING,
        left=True,
        if_any=attrgetter("graded"),
    ),
    TextColumn("slips, findings", _codes, left=True, wraps=True),
)


# ------------------------------------------------------------------------------ rows set aside


def _set_aside_lines(section: SectionResult, page: Page) -> list[str]:
    """Return the reasons, each once, with the rows that it holds for."""
    rows: dict[str, list[RowSetAside]] = {}
    for one in section.set_aside:
        rows.setdefault(one.reason, []).append(one)
    shown = list(rows.items())[:_MAX_SET_ASIDE]
    lines: list[str] = []
    for reason, alike in shown:
        places = listed_up_to(_MAX_ROWS_IN_SENTENCE, [str(one.row) for one in alike])
        whose = ", ".join(filter(None, (alike[0].label, alike[0].student)))
        told = f"{reason} ({whose})" if whose and len(alike) == 1 else reason
        lines += page.wrapped(told, f"  {'rows' if len(alike) > 1 else 'row'} {places}  ")
    more = len(section.set_aside) - sum(len(alike) for _, alike in shown)
    if more:
        lines += page.wrapped(f"and {more} more; --format json has all, and so has --out", "  ")
    return lines
