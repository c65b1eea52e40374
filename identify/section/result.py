"""What the check of a section gives: its students, its unknowns, what all of them share."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

from identify.matching.answer import Ranking
from identify.notebook.findings import Finding
from identify.notebook.measurement import Measurement


@dataclass(frozen=True)
class KeyEntry:
    """What the instructor's key says of a bottle.

    Parameters
    ----------
    label, name, cas, inchikey : str
    molar_mass : float
        In g/mol.
    place : int or None
        Row of the candidate table; None where the table lacks it.
    """

    label: str
    name: str
    cas: str
    inchikey: str
    molar_mass: float
    place: int | None


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
    key : KeyEntry or None
        None where there is no key for this bottle.
    key_rank : int or None
        Rank of the key's compound in the ranking; None without a key, or where it is not listed.
    percent_error : float or None
        Of the molar mass, with the corrections of the key's compound where there is a key, of the
        pooled compound otherwise, relative to that compound's [percent].
    findings : tuple of Finding
        The ranking's, and those that only the section shows.
    """

    student: str
    label: str
    rows: tuple[int, ...]
    run: Measurement
    ranking: Ranking
    key: KeyEntry | None = None
    key_rank: int | None = None
    percent_error: float | None = None
    findings: tuple[Finding, ...] = ()

    @property
    def named_right(self) -> bool | None:
        """Whether the key's compound comes first; None without a key that the table holds."""
        if self.key is None or self.key.place is None:
            return None
        return self.key_rank == 1

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
            "key": None if self.key is None else {"name": self.key.name, "cas": self.key.cas},
            "key_rank": self.key_rank,
            "percent_error": self.percent_error,
            "findings": [finding.to_dict() for finding in self.findings],
            "slips": answer["slips"],
        }


@dataclass(frozen=True)
class PooledCandidate:
    """A compound that an unknown could be, by all students' readings together."""

    name: str
    cas: str
    smiles: str
    formula: str
    molar_mass: float
    boiling_point_C: float
    probability: float

    def to_dict(self) -> dict[str, Any]:
        """Return the candidate as plain data."""
        return {
            "name": self.name,
            "cas": self.cas,
            "smiles": self.smiles,
            "formula": self.formula,
            "molar_mass": self.molar_mass,
            "boiling_point_C": self.boiling_point_C,
            "probability": self.probability,
        }


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
    key : KeyEntry or None
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
    key: KeyEntry | None = None
    findings: tuple[Finding, ...] = ()

    @property
    def agrees_with_key(self) -> bool | None:
        """Whether the pooled compound is the key's.

        None without a key that the table holds, and where no compound is more probable than not.
        """
        if self.key is None or self.key.place is None or not self.candidates:
            return None
        first, key = self.candidates[0], self.key
        if first.probability < 0.5:
            return None
        return first.cas == key.cas if first.cas and key.cas else first.name == key.name

    def to_dict(self) -> dict[str, Any]:
        """Return the unknown as plain data."""
        first = self.candidates[0] if self.candidates else None
        return {
            "label": self.label,
            "students": self.students,
            "used": self.used,
            "pooled": {
                "name": "" if first is None else first.name,
                "cas": "" if first is None else first.cas,
                "probability": None if first is None else first.probability,
            },
            "molar_mass": {"value": self.molar_mass, "standard_uncertainty": self.molar_mass_u},
            "spread_percent": self.spread_percent,
            "candidates": [candidate.to_dict() for candidate in self.candidates],
            "none_of_these": self.none_of_these,
            "key": None if self.key is None else {"name": self.key.name, "cas": self.key.cas},
            "findings": [finding.to_dict() for finding in self.findings],
        }


@dataclass(frozen=True)
class SetAside:
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

    def to_dict(self) -> dict[str, Any]:
        """Return the row as plain data."""
        return {
            "row": self.row,
            "reason": self.reason,
            "label": self.label,
            "student": self.student,
        }


@dataclass(frozen=True)
class SectionResult:
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
    set_aside : tuple of SetAside
    findings : tuple of Finding
        What many students share: one balance, one barometer reading, one thermometer, one day.
    """

    file: str
    rows: int
    students: tuple[StudentResult, ...]
    unknowns: tuple[UnknownResult, ...]
    set_aside: tuple[SetAside, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def verdicts(self) -> Counter[str]:
        """How many students got each verdict."""
        return Counter(student.ranking.verdict for student in self.students)

    def to_dict(self) -> dict[str, Any]:
        """Return the section as plain data, ready for JSON."""
        return {
            "file": self.file,
            "rows": self.rows,
            "students": [student.to_dict() for student in self.students],
            "unknowns": [unknown.to_dict() for unknown in self.unknowns],
            "set_aside": [row.to_dict() for row in self.set_aside],
            "findings": [finding.to_dict() for finding in self.findings],
        }
