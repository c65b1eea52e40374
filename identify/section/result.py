"""What the check of a section gives: its students, its unknowns, what all of them share."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from identify.bench.bench import Bench
from identify.matching.answer import MolarMass, Ranking
from identify.notebook.errors import RunFault
from identify.notebook.findings import Finding, Severity
from identify.notebook.measurement import Measurement
from identify.notebook.serializing import OMITTED, Serializable, plain
from identify.notebook.shown import Shown
from identify.observables.class_spread import ClassPrecision
from identify.section.feedback import Feedback
from identify.section.grading import Graded
from identify.tables.faults import HeadingsRead

_OF_THE_TABLES = frozenset(
    {
        "file-fault",
        "key-not-used",
        "key-row-unusable",
        "label-not-in-key",
        "labels-alike",
        "names-alike",
        "nobody-weighed",
        "students-not-named",
    }
)


@dataclass(frozen=True)
class KeyRow(Serializable):
    """What the instructor's key says of a bottle.

    Parameters
    ----------
    label, name, cas, inchikey : str
    molar_mass : float
        In g/mol.
    row : int or None
        Of the candidate table; None where the table lacks the compound.
    """

    label: str = field(metadata=OMITTED)
    name: str
    cas: str
    inchikey: str = field(metadata=OMITTED)
    molar_mass: float = field(metadata=OMITTED)
    row: int | None = field(metadata=OMITTED)


@dataclass(frozen=True)
class Cause(Serializable):
    """What many students share that makes their results wrong.

    Parameters
    ----------
    code, severity, message, advice : str
        Of the finding that tells it.
    labels : tuple of str
        Bottles of these students.
    students : tuple of str
    size : float or None
        How far it puts them off, in ``unit``; None where that is not one number.
    unit : {"%", "K", ""}
        Percent of the molar mass, or K of the boiling point.
    runs : frozenset of int
        Indices of their runs in the section.
    is_of_bottle : bool
        Whether a bottle or its card is in doubt, so that nobody is judged by its key.
    """

    code: str
    severity: Severity
    message: str
    advice: str
    labels: tuple[str, ...]
    students: tuple[str, ...]
    size: float | None = None
    unit: str = ""
    runs: frozenset[int] = field(default=frozenset(), metadata=OMITTED)
    is_of_bottle: bool = field(default=False, metadata=OMITTED)

    @property
    def finding(self) -> Finding:
        """The same as a finding."""
        return Finding(self.code, self.severity, self.message, self.advice)


def _nothing(student: StudentResult) -> Feedback:
    return Feedback()


@dataclass(frozen=True)
class StudentResult:
    """One student's result on one unknown.

    Parameters
    ----------
    student, label : str
    rows : tuple of int
        Of the file, as a spreadsheet counts.
    run : Measurement
    ranking : Ranking
    key : KeyRow or None
        None where there is no key for this bottle.
    key_rank : int or None
        Rank of the key's compound in the ranking; None without a key, or where it is not listed.
    percent_error : float or None
        Of the molar mass, with the corrections of the key's compound where there is a key, of the
        pooled compound otherwise, relative to that compound's [percent].
    findings : tuple of Finding
        The ranking's, and those that only the section shows.
    causes : tuple of Cause
        What they share with others; the ranking has it set right.
    graded : Graded or None
        What the student handed in, where that is anything.
    give_back : callable
        Writes what the student is given back, see ``feedback``.
    bench : Bench
        What was written, in SI units.
    """

    student: str
    label: str
    rows: tuple[int, ...]
    run: Measurement
    ranking: Ranking
    key: KeyRow | None = None
    key_rank: int | None = None
    percent_error: float | None = None
    findings: tuple[Finding, ...] = ()
    causes: tuple[Cause, ...] = ()
    graded: Graded | None = None
    give_back: Callable[[StudentResult], Feedback] = field(
        default=_nothing, repr=False, compare=False
    )
    bench: Bench = field(default_factory=Bench, repr=False)

    @cached_property
    def feedback(self) -> Feedback:
        """What the student is given back, written when it is asked for."""
        return self.give_back(self)

    @property
    def named_right(self) -> bool | None:
        """Whether the key's compound comes first.

        None without a key that the table holds, without an answer, and where bottle or card is in
        doubt.
        """
        if self.key is None or self.key.row is None or not self.ranking.candidates:
            return None
        if any(one.is_of_bottle for one in self.causes):
            return None
        return self.key_rank == 1

    @property
    def molar_mass(self) -> MolarMass | None:
        """The molar mass with the corrections of the first compound, where a liquid can have it."""
        measured = self.ranking.molar_mass
        return measured if measured is not None and measured.is_possible else None

    @property
    def is_doubtful(self) -> bool:
        """Whether the readings or the answer leave something to be looked at.

        A slip, a finding above a note, no match, or another compound than the key's first.
        """
        return (
            bool(self.ranking.slips)
            or any(finding.severity != "note" for finding in self.findings)
            or self.ranking.verdict == "no match"
            or self.named_right is False
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the result as plain data."""
        answer = self.ranking.to_dict()
        return {
            "student": self.student,
            "label": self.label,
            "rows": list(self.rows),
            "verdict": answer["verdict"],
            "molar_mass": answer["molar_mass"],
            "candidates": answer["candidates"],
            "none_of_these": answer["none_of_these"],
            "key": plain(self.key),
            "key_rank": self.key_rank,
            "percent_error": plain(self.percent_error),
            "causes": [one.code for one in self.causes],
            "graded": plain(self.graded),
            "feedback": plain(self.feedback),
            "findings": plain(self.findings),
            "slips": answer["slips"],
        }


@dataclass(frozen=True)
class PooledCandidate(Serializable):
    """A compound that an unknown could be, by all students' readings together."""

    name: str
    cas: str
    smiles: str
    formula: str
    molar_mass: float
    boiling_point_C: float
    probability: float


@dataclass(frozen=True)
class UnknownResult:
    """One bottle, by all students together.

    Parameters
    ----------
    label : str
    students : int
    used : int
        Students whose weighings agree with each other; the others were left out of the pooling.
    molar_mass, molar_mass_u : float or None
        Robust mean over the students with the corrections of the first candidate, and its standard
        uncertainty [g/mol].
    spread_percent : float or None
        Robust standard deviation from student to student [percent].
    candidates : tuple of PooledCandidate
        The most probable first.
    none_of_these : float
    key : KeyRow or None
    findings : tuple of Finding
    """

    label: str
    students: int
    used: int
    molar_mass: float | None
    molar_mass_u: float | None
    spread_percent: float | None
    candidates: tuple[PooledCandidate, ...]
    none_of_these: float
    key: KeyRow | None = None
    findings: tuple[Finding, ...] = ()

    @property
    def agrees_with_key(self) -> bool | None:
        """Whether the pooled compound is the key's.

        None without a key that the table holds, and where no compound is more probable than not.
        """
        if self.key is None or self.key.row is None or not self.candidates:
            return None
        first, key = self.candidates[0], self.key
        if first.probability < 0.5:
            return None
        return first.cas == key.cas if first.cas and key.cas else first.name == key.name

    def to_dict(self) -> dict[str, Any]:
        """Return the unknown as plain data."""
        first = self.candidates[0] if self.candidates else None
        nothing = {"name": "", "cas": "", "probability": None}
        data = {
            "label": self.label,
            "students": self.students,
            "used": self.used,
            "pooled": {name: getattr(first, name, empty) for name, empty in nothing.items()},
            "molar_mass": {"value": self.molar_mass, "standard_uncertainty": self.molar_mass_u},
            "spread_percent": self.spread_percent,
            "candidates": self.candidates,
            "none_of_these": self.none_of_these,
            "key": self.key,
            "findings": self.findings,
        }
        return {key: plain(value) for key, value in data.items()}


@dataclass(frozen=True)
class RowSetAside(Serializable):
    """A row of the file that could not be used, and why.

    Parameters
    ----------
    row : int
    reason : str
        With the column and what was read.
    label, student : str
        Where they could be read.
    """

    row: int
    reason: str
    label: str = ""
    student: str = ""


@dataclass(frozen=True, repr=False)
class SectionResult(Serializable, Shown):
    """The check of a section's table.

    Parameters
    ----------
    file : str
    rows : int
        Of the file, those that hold anything below the column names. Each is one of a student's
        result or set aside.
    students : tuple of StudentResult
        In the order of the file.
    unknowns : tuple of UnknownResult
        In the order in which they first appear.
    set_aside : tuple of RowSetAside
    findings : tuple of Finding
        What many students share: one balance, one barometer reading, one thermometer, one day.
    causes : tuple of Cause
        The same, with who is concerned, and bottles and cards that are in doubt.
    columns : HeadingsRead
        What the headings of the table were taken for.
    told : tuple of str
        The same of table and key, and what else should be known of how they were read: one line
        each.
    precision : ClassPrecision or None
        How well the class weighs; None where too few weighed a known liquid.
    failed : tuple of RunFault
        Of the runs at which the program itself failed; their rows are among those set aside.
    """

    file: str
    rows: int
    students: tuple[StudentResult, ...]
    unknowns: tuple[UnknownResult, ...]
    set_aside: tuple[RowSetAside, ...] = ()
    findings: tuple[Finding, ...] = ()
    causes: tuple[Cause, ...] = ()
    columns: HeadingsRead = field(default_factory=HeadingsRead)
    told: tuple[str, ...] = field(default=(), metadata=OMITTED)
    precision: ClassPrecision | None = None
    failed: tuple[RunFault, ...] = field(default=(), metadata=OMITTED)

    main_table = "students"

    @property
    def headline(self) -> str:
        """The section in a few words."""
        doubtful = sum(one.is_doubtful for one in self.students)
        return (
            f"{len(self.students)} results of {len(self.unknowns)} unknowns; "
            f"{len(self.causes)} shared causes, {doubtful} to look at"
        )

    def findings_of(self, unknown: UnknownResult) -> list[Finding]:
        """Return what is found of a bottle, less what is among the causes."""
        told = {one.code for one in self.causes if unknown.label in one.labels}
        return [one for one in unknown.findings if one.code not in told]

    @property
    def other_findings(self) -> list[Finding]:
        """What concerns the section as a whole, less the causes, and what table and key lack."""
        told = {one.code for one in self.causes} | _OF_THE_TABLES
        return [one for one in self.findings if one.code not in told]

    @property
    def table_findings(self) -> list[Finding]:
        """What is the matter with table and key: nothing that was done at the bench."""
        return [one for one in self.findings if one.code in _OF_THE_TABLES]

    @property
    def to_look_at(self) -> list[tuple[Cause | None, list[StudentResult]]]:
        """Students who need a look, beside the cause that concerns them; those without one last."""
        doubtful = [one for one in self.in_order if one.is_doubtful]
        groups: list[tuple[Cause | None, list[StudentResult]]] = [
            (cause, [one for one in doubtful if one.causes[:1] == (cause,)])
            for cause in self.causes
        ]
        groups.append((None, [one for one in doubtful if not one.causes]))
        return [(cause, students) for cause, students in groups if students]

    @property
    def in_order(self) -> list[StudentResult]:
        """All results by student, then by label, numbers in them as numbers."""
        return sorted(self.students, key=lambda one: (_naturally(one.student), one.label))

    @property
    def verdicts(self) -> Counter[str]:
        """How many students got each verdict."""
        return Counter(student.ranking.verdict for student in self.students)


def _naturally(text: str) -> list[tuple[int, str]]:
    """Return what texts are sorted by: bench 2 comes before bench 10."""
    parts = re.split(r"(\d+)", text.casefold())
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in parts]
