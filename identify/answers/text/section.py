"""The check of a section, as plain text."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import isfinite
from typing import TYPE_CHECKING

from identify.answers.text.page import (
    DIM,
    Page,
    caution_lines,
    elided,
    finding_lines,
    percent_text,
    signed,
    table_lines,
    with_uncertainty,
)
from identify.notebook.findings import listed, worst_first

if TYPE_CHECKING:
    from identify.notebook.findings import Finding
    from identify.section.result import SectionResult, StudentResult, UnknownResult

_MOST_SET_ASIDE = 10  # rows that are printed
_MOST_NAMED = 6  # bottles that the summary names
_NOTHING = "-"


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
    if section.students:
        lines += ["", page.emphasized("Shared by many")]
        lines += _findings(section.findings, page)
        if not section.findings:
            lines += page.wrapped("Nothing: no day, balance or reading stands out.", "  ")
        lines += ["", page.emphasized("Unknowns"), *_unknown_lines(section.unknowns, page)]
        lines += ["", *_student_lines(section.students, page, everyone)]
    if section.set_aside:
        lines += ["", page.emphasized("Rows set aside"), *_set_aside_lines(section, page)]
    if section.students:
        lines += ["", *page.wrapped(_MEANING)]
    return [*lines, "", *caution_lines(page)]


def summary(section: SectionResult) -> str:
    """Return in a few sentences how many rows, students and unknowns, and how they fared."""
    names = {student.student for student in section.students if student.student}
    by = f" by {_counted(len(names), 'student')}" if names else ""
    sentences = [
        f"{section.file}: {_counted(section.rows, 'row')}, "
        f"{_counted(len(section.students), 'result')}{by} on "
        f"{_counted(len(section.unknowns), 'unknown')}."
    ]
    faulty = [one.label for one in section.unknowns if _has_error(one.findings)]
    judged = [one for one in section.students if one.named_right is not None]
    sure = [one for one in judged if one.label not in faulty]
    if judged:
        right = sum(bool(one.named_right) for one in sure)
        left = len(judged) - len(sure)
        rest = f"; {left} more had a bottle that is in doubt" if left else ""
        sentences.append(f"By the key, {right} of {len(sure)} are named right{rest}.")
    verdicts = section.verdicts
    told = [f"{verdict} {verdicts[verdict]}" for verdict in _VERDICTS if verdicts[verdict]]
    if told:
        sentences.append(f"{', '.join(told).capitalize()}.")
    if faulty:
        more = [f"{len(faulty) - _MOST_NAMED} more"] if len(faulty) > _MOST_NAMED else []
        sentences.append(f"Look at bottle {listed([*faulty[:_MOST_NAMED], *more])} first.")
    if section.set_aside:
        verb = "was" if len(section.set_aside) == 1 else "were"
        sentences.append(f"{_counted(len(section.set_aside), 'row')} {verb} set aside.")
    return " ".join(sentences)


_VERDICTS = ("single match", "several matches", "no match")

_MEANING = (
    "used: students whose weighings agree with each other; they alone are pooled. spread: robust "
    "standard deviation from student to student. error: the molar mass against that of the key's "
    "compound, or of the pooled one without a key. right, agrees: whether the key's compound comes "
    "first; -: no key, the table lacks it, or no pooled compound is probable enough. What each "
    "finding says and what to do about it is in --out FILE.xlsx, sheet Findings, and in --format "
    "json."
)


def _has_error(findings: Sequence[Finding]) -> bool:
    return any(finding.severity == "error" for finding in findings)


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _findings(findings: Sequence[Finding], page: Page, indent: str = "") -> list[str]:
    narrower = replace(page, width=page.width - len(indent))
    return [indent + line for one in worst_first(findings) for line in finding_lines(one, narrower)]


# ------------------------------------------------------------------------------ tables that fit


@dataclass(frozen=True)
class _Column:
    """A column of a table.

    Parameters
    ----------
    heading : str
    cells : sequence of str
    shortest : int
        Width down to which long cells may be cut to make room; 0 where they must stay whole.
    wraps : bool
        Whether long cells go on in the next line, rather than lose their middle.
    spare : int
        A page that is too narrow does without it, and without those of larger numbers first; 0
        where it must not.
    """

    heading: str
    cells: Sequence[str]
    shortest: int = 0
    wraps: bool = False
    spare: int = 0

    @property
    def width(self) -> int:
        return max(map(len, (*self.heading.split("\n"), *self.cells)))

    @property
    def narrowest(self) -> int:
        return max(self.shortest, *map(len, self.heading.split("\n")))


def _fitted(columns: Sequence[_Column], room: int) -> tuple[list[_Column], list[int]]:
    """Return the columns that fit side by side, and their widths: the widest gives way first."""
    kept = list(columns)
    while True:
        widths = [column.width for column in kept]
        excess = sum(widths) + len(widths) - 1 - room
        while excess > 0:
            give = [
                place
                for place, column in enumerate(kept)
                if column.shortest and widths[place] > column.narrowest
            ]
            if not give:
                break
            widths[max(give, key=widths.__getitem__)] -= 1
            excess -= 1
        least = max(kept, key=lambda column: column.spare)
        if excess <= 0 or not least.spare:
            return kept, widths
        kept.remove(least)


def _blocks(columns: Sequence[_Column], page: Page) -> Iterator[list[str]]:
    """Yield a table as blocks of lines: its heading, then one block a row."""
    shown = [
        replace(
            column,
            heading="\n".join(page.text(line) for line in column.heading.split("\n")),
            cells=[page.text(cell) for cell in column.cells],
        )
        for column in columns
    ]
    kept, widths = _fitted(shown, page.width - 2)
    rows: list[list[str]] = []
    heights = []
    for cells in zip(*(column.cells for column in kept), strict=True):
        parts = [
            _broken(cell, column, width, page)
            for cell, column, width in zip(cells, kept, widths, strict=True)
        ]
        heights.append(max(map(len, parts)))
        rows += [
            [part[line] if line < len(part) else "" for part in parts]
            for line in range(heights[-1])
        ]
    left = [place for place, column in enumerate(kept) if column.shortest]
    lines = [f"  {line}" for line in table_lines(rows, [one.heading for one in kept], left)]
    headings = len(lines) - len(rows)
    yield [page.emphasized(line, DIM) for line in lines[:headings]]
    start = headings
    for height in heights:
        yield lines[start : start + height]
        start += height


def _broken(cell: str, column: _Column, width: int, page: Page) -> list[str]:
    if not column.wraps:
        return [elided(cell, width, page.text("…"))]
    return textwrap.wrap(cell, width, break_on_hyphens=False) or [""]


def _yes_or_no(answer: bool | None) -> str:
    return {None: _NOTHING, True: "yes", False: "no"}[answer]


# ------------------------------------------------------------------------------------- unknowns

_SHORTEST = 8  # characters of a label or name that say which it is


def _unknown_lines(unknowns: Sequence[UnknownResult], page: Page) -> list[str]:
    pooled = [one.candidates[0] if one.candidates else None for one in unknowns]
    columns = [
        _Column("label", [one.label for one in unknowns], _SHORTEST),
        _Column("students\nused", [f"{one.used} of {one.students}" for one in unknowns]),
        _Column("molar mass\ng/mol", [_pooled_molar_mass(one) for one in unknowns], spare=1),
        _Column("spread\n%", [_spread(one.spread_percent) for one in unknowns], spare=2),
        _Column("pooled\ncompound", [one.name if one else _NOTHING for one in pooled], 12),
        _Column(
            "prob-\nability",
            [percent_text(one.probability) if one else _NOTHING for one in pooled],
        ),
    ]
    if any(one.key for one in unknowns):
        names = [one.key.name if one.key else _NOTHING for one in unknowns]
        columns.append(_Column("key", names, _SHORTEST))
        agrees = [_yes_or_no(one.agrees_with_key) for one in unknowns]
        columns.append(_Column("agrees", agrees))
    heading, *rows = _blocks(columns, page)
    lines = heading
    for unknown, row in zip(unknowns, rows, strict=True):
        lines += [*row, *_findings(unknown.findings, page, "  ")]
    return lines


def _pooled_molar_mass(unknown: UnknownResult) -> str:
    value, uncertainty = unknown.molar_mass, unknown.molar_mass_u
    if value is None or not isfinite(value):
        return _NOTHING
    return with_uncertainty(value, float("nan") if uncertainty is None else uncertainty, "").strip()


def _spread(percent: float | None) -> str:
    return _NOTHING if percent is None or not isfinite(percent) else f"{percent:.1f}"


# ------------------------------------------------------------------------------------- students


def _student_lines(students: Sequence[StudentResult], page: Page, everyone: bool) -> list[str]:
    shown = [one for one in students if everyone or one.is_doubtful]
    rest = len(students) - len(shown)
    if not shown:
        text = f"No student's result needs a look ({rest} not shown; --all shows them)."
        return page.wrapped(text)
    title = f"Students: {_counted(len(shown), 'result')}"
    if not everyone:
        title = f"Students: {len(shown)} of {_counted(len(students), 'result')} "
        title += "needs a look" if len(shown) == 1 else "need a look"
        title += f" ({rest} not shown; --all shows them)" if rest else ""
    heading, *rows = _blocks(_student_columns(shown), page)
    lines = page.wrapped(title)
    lines = [page.emphasized(line) for line in lines] + heading
    return lines + [line for row in rows for line in row]


def _student_columns(shown: Sequence[StudentResult]) -> list[_Column]:
    firsts = [one.ranking.candidates[0] if one.ranking.candidates else None for one in shown]
    columns = [_Column("label", [one.label for one in shown], _SHORTEST)]
    if any(one.student for one in shown):
        columns.append(_Column("student", [one.student for one in shown], _SHORTEST))
    columns += [
        _Column("first\ncompound", [one.name if one else _NOTHING for one in firsts], 12),
        _Column(
            "prob-\nability",
            [percent_text(one.probability) if one else _NOTHING for one in firsts],
            spare=2,
        ),
        _Column("molar\nmass", [_molar_mass(one) for one in shown], spare=3),
        _Column("error\n%", [signed(one.percent_error, 1) for one in shown], spare=1),
    ]
    if any(one.key for one in shown):
        columns.append(_Column("right", [_yes_or_no(one.named_right) for one in shown]))
    codes = [_codes(one) for one in shown]
    longest = max(len(code) for code in " ".join(codes).split(" "))
    return [*columns, _Column("slips, findings", codes, max(longest, 1), wraps=True)]


def _molar_mass(student: StudentResult) -> str:
    molar_mass = student.ranking.molar_mass
    # The bounds beyond which readings give no molar mass at all.
    if molar_mass is None or not 5.0 < molar_mass.value < 2000.0:
        return _NOTHING
    return f"{molar_mass.value:.1f}"


def _codes(student: StudentResult) -> str:
    """Return what is wrong, by code: slips first, no notes, each once."""
    slips = (slip.code for slip in student.ranking.slips)
    findings = (one.code for one in worst_first(student.findings) if one.severity != "note")
    return ", ".join(dict.fromkeys((*slips, *findings)))


# ------------------------------------------------------------------------------ rows set aside


def _set_aside_lines(section: SectionResult, page: Page) -> list[str]:
    shown = section.set_aside[:_MOST_SET_ASIDE]
    width = len(str(shown[-1].row))
    lines: list[str] = []
    for one in shown:
        whose = ", ".join(filter(None, (one.label, one.student)))
        reason = f"{one.reason} ({whose})" if whose else one.reason
        lines += page.wrapped(reason, f"  row {one.row:>{width}}  ")
    more = len(section.set_aside) - len(shown)
    if more:
        lines += page.wrapped(f"and {more} more; --format json has all, and so has --out", "  ")
    return lines
