"""Answers to make pages of: from the demo records, and with names that are not names."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np

from identify import Finding, Measurement, Ranking, load_candidates, match, molar_mass, read_runs
from identify.answers.feedback import FeedbackPage
from identify.answers.html.feedback_page import feedback_html
from identify.answers.html.match_page import match_page
from identify.answers.html.molar_mass_page import molar_mass_page
from identify.answers.html.section_page import section_page
from identify.answers.html.stock_page import stock_page
from identify.compounds.naming.lookup import row_meant
from identify.compounds.naming.meaning import Compound
from identify.matching.advise.separation import Narrowed
from identify.matching.evidence import Matcher
from identify.notebook.measurement import Source
from identify.section.grading import Graded
from identify.section.result import (
    Cause,
    KeyRow,
    PooledCandidate,
    RowSetAside,
    SectionResult,
    StudentResult,
    UnknownResult,
)
from identify.section.returned import feedback_of
from identify.stock.result import BottleGroup, Change, Hazards, Standing, StockCheck, StockRow

DEMO = Path(__file__).resolve().parents[1] / "data" / "demo"
RECORDS = sorted(file.stem for file in DEMO.glob("C-*.toml"))
SCRIPT = "<script>alert(1)</script>"
IMAGE = '"><img src=x onerror=alert(1)>'
TABLE = load_candidates()
MATCHER = Matcher(TABLE)

Answers = list[tuple[Measurement, Ranking]]


@dataclass(frozen=True)
class Names:
    """What a file calls a bottle, who wrote it, and the file itself."""

    label: str = ""
    student: str = ""
    file: str = ""


USUAL = Names()
HOSTILE = Names(f"{SCRIPT}{IMAGE}", f"{IMAGE} 'Ada' & {SCRIPT}", f"a{IMAGE}{SCRIPT}.csv")


@cache
def _answered(record: str) -> tuple[Measurement, Ranking]:
    (run,) = read_runs(DEMO / f"{record}.toml")
    # Whichever way the demo is reached, the page is the same.
    run = replace(run, source=Source(f"{record}.toml"))
    return run, match(run)


def answers(*records: str, names: Names = USUAL) -> Answers:
    """Return records with their rankings, under other names where these are not empty."""
    answered = []
    for record in records:
        run, ranking = _answered(record)
        label, student = names.label or run.label, names.student or run.student
        source = replace(run.source, file=names.file or run.source.file)
        answered.append(
            (
                replace(run, label=label, student=student, source=source),
                replace(ranking, label=label, student=student),
            )
        )
    return answered


def finding(severity: str, text: str = "") -> Finding:
    message = f"The boiling point differs from the published one by 3.2 °C. {text}".strip()
    return Finding(f"a-{severity}", severity, message, "Read it again.")


def compound(name: str) -> Compound:
    row = row_meant(TABLE, name)
    texts = {one: TABLE.text(one)[row] for one in ("name", "cas", "smiles", "inchikey", "formula")}
    numbers = {
        one: float(TABLE.number(one)[row])
        for one in ("molar_mass", "boiling_point_C", "boiling_point_u")
    }
    return Compound(**texts, **numbers, percent={}, place=row)


# Bottle, compound, boiling point in the laboratory, flash point (closed cup, from memory).
_BOTTLES = (
    ("K-1", "methanol", 64.0, 11.0),
    ("K-2", "acetone", 55.5, -20.0),
    ("K-3", "2-propanol", 81.7, 12.0),
    ("K-4", "1-propanol", 96.6, 23.0),
    ("K-5", "3-methylpentane", 62.7, -32.0),
    ("K-6", "2-methylpentane", 59.7, -23.0),
    ("K-7", "toluene", 109.9, 4.0),
)


def stock_check(names: Names = USUAL) -> StockCheck:
    """Return the check of a table with a wrong bottle, one that nobody knows, and two alike."""
    rows = []
    for row, (label, name, boils, flash) in enumerate(_BOTTLES, 2):
        rows.append(
            StockRow(
                row=row,
                label=names.label or label,
                written=name,
                compound=compound(name),
                hazards=Hazards(flash, "group 2B" if row == 8 else "", 200.0),
                standing=Standing(boils, 99.0 - boils, "K-5", 2.4 + row),
            )
        )
    rows[0] = replace(
        rows[0],
        findings=(finding("warning"), finding("error", names.label)),
        changes=(Change(2, "boiling_point_C", "67.8", "64.6", "the consensus"),),
    )
    unknown = names.label or "propyl alcohol"
    rows.append(StockRow(9, names.label, unknown, None, (finding("error", unknown),)))
    labels = tuple(row.label for row in rows[4:6])
    return StockCheck(
        file=names.file or "stock.csv",
        rows=tuple(rows),
        groups=(
            BottleGroup(labels, (6, 7), 1.9, 0.17, Narrowed("boiling_point", 0.93, "°C")),
            BottleGroup(labels, (6, 7), 1.9, 0.17, None, "the refractive index, 1.3765 and 1.3715"),
        ),
        findings=(finding("note", "Two bottles have one label."),),
    )


def section_result(names: Names = USUAL, students: int = 8) -> SectionResult:
    """Return a section of this many students a bottle, each a demo record with scatter."""
    results, unknowns = [], []
    for record, scatter in (("C-14", 0.9), ("C-23", 1.6), ("C-08", 0.4)):
        ((run, ranking),) = answers(record, names=names)
        first = ranking.candidates[0]
        key = KeyRow(run.label, first.name, first.cas, first.inchikey, first.molar_mass, 0)
        drawn = np.random.default_rng(11).normal(0.0, scatter, students)
        drawn[-1] = 60.0  # far outside of the frame
        for place, error in enumerate(drawn, 1):
            student = names.student or f"bench {place}"
            results.append(
                StudentResult(
                    student=student,
                    label=run.label,
                    rows=(2 * place, 2 * place + 1),
                    run=run,
                    ranking=replace(ranking, student=student),
                    key=key,
                    key_rank=1 if place < students else None,
                    percent_error=float(error),
                    findings=(finding("warning", student),) if place % 3 == 0 else (),
                )
            )
        fields = ("name", "cas", "smiles", "formula", "molar_mass", "boiling_point_C")
        pooled = PooledCandidate(**{one: getattr(first, one) for one in fields}, probability=0.98)
        unknowns.append(
            UnknownResult(
                label=run.label,
                students=students,
                used=students - 1,
                molar_mass=first.molar_mass * 1.003,
                molar_mass_u=0.003 * first.molar_mass,
                spread_percent=scatter,
                candidates=(pooled,),
                none_of_these=0.004,
                key=replace(key, name="ethanol", cas="64-17-5") if record == "C-23" else key,
                findings=(finding("error", run.label),) if record == "C-23" else (),
            )
        )
    return SectionResult(
        file=names.file or "section.csv",
        rows=2 * len(results) + 1,
        students=tuple(results),
        unknowns=tuple(unknowns),
        set_aside=(
            RowSetAside(99, f"pressure_mmHg: cannot be read {names.label}", names.label, ""),
        ),
        findings=(finding("warning", "One barometer."),),
    )


def _feedback_page(names: Names) -> FeedbackPage:
    """Return the page of the first student, with all that such a page may hold."""
    one, *_ = section_result(names).students
    student = replace(
        one,
        findings=(replace(finding("warning", names.label), code="own"),),
        ranking=replace(
            one.ranking, findings=(replace(finding("warning", names.label), code="own"),)
        ),
        causes=(Cause("shared-balance", "warning", "Many.", "", (), (), 5.2, "%"),),
        graded=Graded(names.student or "methanol", "right", 31.0, "by the shortcut", True),
    )
    rows = [RowSetAside(99, f"pressure_mmHg: cannot be read {names.label}")]
    feedback = feedback_of(student, rows)
    return FeedbackPage(
        student.student, names.file or "section.csv", [(student.label, feedback)] * 2
    )


def molar_masses(names: Names) -> str:
    """Return the page of one molar mass, of three trials."""
    ((run, _),) = answers("C-23", names=names)
    return molar_mass_page([(run, molar_mass(run, "acetone"))])


_PAGES: Mapping[str, Callable[[Names], str]] = {
    "match": lambda names: match_page(answers("C-31", names=names), MATCHER),
    "several": lambda names: match_page(answers("C-23", "C-52", "C-77", names=names), MATCHER),
    "stock": lambda names: stock_page(stock_check(names)),
    "section": lambda names: section_page(section_result(names)),
    "molar mass": molar_masses,
    "feedback": lambda names: feedback_html(_feedback_page(names)),
}
_HOSTILE = {f"hostile {kind}": kind for kind in _PAGES}
KINDS = sorted((*_PAGES, *_HOSTILE))


def pages() -> dict[str, str]:
    """Return one page of each kind, made anew."""
    return {kind: make(USUAL) for kind, make in _PAGES.items()}


@cache
def page_of(kind: str) -> str:
    """Return a page of a kind, with the usual names or with the hostile ones."""
    return _PAGES[_HOSTILE[kind]](HOSTILE) if kind in _HOSTILE else _PAGES[kind](USUAL)
