"""A section's result as flat rows: the columns that the CSV and the workbook share."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from math import isfinite
from typing import TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    from identify.matching.slips import Slip
    from identify.notebook.findings import Finding
    from identify.section.result import SectionResult, StudentResult, UnknownResult

Cell: TypeAlias = str | int | float | bool | None
Row: TypeAlias = dict[str, Cell]

COMPOUNDS = 3  # named in a row, the most probable first
_PLACES = ("first", "second", "third")[:COMPOUNDS]

# How a spreadsheet tells a formula from a text, also in full width, and behind blanks; a tab or a
# line break at the start may be dropped in reading. Common practice.
_FORMULA = re.compile(r"[\t\r\n]|\s*[=+\-@\uff1d\uff0b\uff0d\uff20]")


def looks_like_a_formula(text: str) -> bool:
    """Say whether a spreadsheet could run a text as a formula.

    Examples
    --------
    >>> [looks_like_a_formula(text) for text in ("=1+1", " @x", "-7", "K-7", "")]
    [True, True, True, False, False]
    """
    return _FORMULA.match(text) is not None


class Kind(Enum):
    """What a column holds, which decides how a sheet shows it."""

    text = "text"
    sentence = "sentence"
    count = "count"
    number = "number"
    share = "share"
    answer = "answer"


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Parameters
    ----------
    key : str
        Its name in CSV.
    heading : str
        Its name in a sheet.
    kind : Kind
    meaning : str
        What it holds, with the unit.
    of : callable
        From what the row is about to the cell.
    """

    key: str
    heading: str
    kind: Kind
    meaning: str
    of: Callable[[Any], Cell]


def row(columns: Sequence[Column], subject: object) -> Row:
    """Return the cells of one row by their columns' keys; None where there is nothing to say."""
    return {column.key: _finite(column.of(subject)) for column in columns}


def student_rows(section: SectionResult) -> list[Row]:
    """Return one row a student's result, in the order of the file."""
    return [row(STUDENT_COLUMNS, student) for student in section.students]


def unknown_rows(section: SectionResult) -> list[Row]:
    """Return one row an unknown, in the order in which they first appear."""
    return [row(UNKNOWN_COLUMNS, unknown) for unknown in section.unknowns]


def finding_rows(section: SectionResult) -> list[Row]:
    """Return one row a finding or slip: what many share, then by unknown, then by student."""
    return [row(FINDING_COLUMNS, told) for told in _told(section)]


def set_aside_rows(section: SectionResult) -> list[Row]:
    """Return one row for each row of the file that could not be used."""
    return [row(SET_ASIDE_COLUMNS, one) for one in section.set_aside]


def _finite(value: Cell) -> Cell:
    return None if isinstance(value, float) and not isfinite(value) else value


def _codes(told: Iterable[Finding | Slip]) -> str:
    """Return codes as one text, each once."""
    return " ".join(dict.fromkeys(one.code for one in told))


# ------------------------------------------------------------------------------------- students


def _measured(name: str) -> Callable[[StudentResult], Cell]:
    def of(student: StudentResult) -> Cell:
        return getattr(student.ranking.molar_mass, name, None)

    return of


def _candidate(place: int, name: str) -> Callable[[Any], Cell]:
    """Return what reads a field of the candidate in this place, of a student or an unknown."""

    def of(subject: StudentResult | UnknownResult) -> Cell:
        ranking: Any = getattr(subject, "ranking", subject)
        candidates = ranking.candidates
        return getattr(candidates[place], name) if place < len(candidates) else None

    return of


def _compounds() -> Iterator[Column]:
    for place, word in enumerate(_PLACES):
        ending = "most probable compound" if place == 0 else f"{word} most probable compound"
        yield Column(
            word, f"{word} compound", Kind.text, f"The {ending}.", _candidate(place, "name")
        )
        yield Column(
            f"{word}_cas", f"{word} CAS", Kind.text, "Its CAS number.", _candidate(place, "cas")
        )
        yield Column(
            f"{word}_probability",
            f"{word} probability",
            Kind.share,
            "How probable it is, given the readings.",
            _candidate(place, "probability"),
        )


def _key(name: str) -> Callable[[Any], Cell]:
    def of(subject: StudentResult | UnknownResult) -> Cell:
        return getattr(subject.key, name, None)

    return of


_LABEL = Column("label", "label", Kind.text, "The bottle's label.", lambda one: one.label)
_STUDENT = Column(
    "student", "student", Kind.text, "Who measured, as the file has it.", lambda one: one.student
)
_KEY = Column("key", "key", Kind.text, "What the key says is in the bottle.", _key("name"))
_KEY_CAS = Column("key_cas", "key CAS", Kind.text, "Its CAS number.", _key("cas"))
_NONE_OF_THESE = Column(
    "none_of_these",
    "none of these",
    Kind.share,
    "How probable it is that the liquid is not in the table of compounds.",
    lambda one: getattr(one, "ranking", one).none_of_these,
)
_FINDINGS = Column(
    "findings",
    "findings",
    Kind.text,
    "What does not hold together or is worth knowing, by code.",
    lambda one: _codes(one.findings),
)

STUDENT_COLUMNS = (
    _LABEL,
    _STUDENT,
    Column(
        "rows",
        "rows",
        Kind.text,
        "Rows of the file that this result rests on, as a spreadsheet counts them.",
        lambda one: " ".join(map(str, one.rows)),
    ),
    Column(
        "verdict",
        "verdict",
        Kind.text,
        "Single match, several matches, or no match.",
        lambda one: one.ranking.verdict,
    ),
    *_compounds(),
    _NONE_OF_THESE,
    Column(
        "molar_mass",
        "molar mass, g/mol",
        Kind.number,
        "Measured, with the corrections of the first compound, in g/mol.",
        _measured("value"),
    ),
    Column(
        "molar_mass_u",
        "its uncertainty, g/mol",
        Kind.number,
        "Standard uncertainty of the measured molar mass, in g/mol.",
        _measured("standard_uncertainty"),
    ),
    Column(
        "ideal_gas",
        "ideal gas alone, g/mol",
        Kind.number,
        "Molar mass by the ideal-gas shortcut, in g/mol; empty where nothing was weighed.",
        _measured("ideal_gas"),
    ),
    Column(
        "percent_error",
        "percent error",
        Kind.number,
        "Measured molar mass against the key's compound, or the pooled one without a key, in "
        "percent.",
        lambda one: one.percent_error,
    ),
    _KEY,
    _KEY_CAS,
    Column(
        "key_rank",
        "rank of the key",
        Kind.count,
        "Place of the key's compound in this ranking; empty where it is not listed.",
        lambda one: one.key_rank,
    ),
    Column(
        "named_right",
        "named right",
        Kind.answer,
        "Whether the key's compound comes first; empty without a key that the table holds.",
        lambda one: one.named_right,
    ),
    Column(
        "needs_a_look",
        "needs a look",
        Kind.answer,
        "A slip, a finding above a note, no match, or another compound than the key's first.",
        lambda one: one.is_doubtful,
    ),
    Column(
        "slips",
        "slips",
        Kind.text,
        "What probably went wrong with the readings, by code.",
        lambda one: _codes(one.ranking.slips),
    ),
    _FINDINGS,
)

# ------------------------------------------------------------------------------------- unknowns

UNKNOWN_COLUMNS = (
    _LABEL,
    Column(
        "students", "students", Kind.count, "Students who measured it.", lambda one: one.students
    ),
    Column(
        "used",
        "used",
        Kind.count,
        "Those whose weighings agree with each other; the others were left out of the pooling.",
        lambda one: one.used,
    ),
    Column(
        "molar_mass",
        "molar mass, g/mol",
        Kind.number,
        "Robust mean over the students, with the corrections of the first compound, in g/mol.",
        lambda one: one.molar_mass,
    ),
    Column(
        "molar_mass_u",
        "its uncertainty, g/mol",
        Kind.number,
        "Standard uncertainty of that mean, in g/mol.",
        lambda one: one.molar_mass_u,
    ),
    Column(
        "spread_percent",
        "spread, percent",
        Kind.number,
        "Robust standard deviation from student to student, in percent.",
        lambda one: one.spread_percent,
    ),
    *_compounds(),
    _NONE_OF_THESE,
    _KEY,
    _KEY_CAS,
    Column(
        "key_molar_mass",
        "molar mass of the key, g/mol",
        Kind.number,
        "Of the key's compound, in g/mol.",
        _key("molar_mass"),
    ),
    Column(
        "agrees",
        "agrees with the key",
        Kind.answer,
        "Whether the first compound is the key's; empty without a key that the table holds, and "
        "where no compound is more probable than not.",
        lambda one: one.agrees_with_key,
    ),
    _FINDINGS,
)

# ------------------------------------------------------------------------------------- findings

# Beside the severities of the findings: how a slip is marked.
SLIP = "slip"


@dataclass(frozen=True)
class _Told:
    """A finding or slip, and what it is about."""

    level: str
    about: Finding | Slip
    label: str = ""
    student: str = ""

    @property
    def severity(self) -> str:
        return getattr(self.about, "severity", SLIP)

    @property
    def message(self) -> str:
        probability = getattr(self.about, "probability", None)
        if probability is None:
            return self.about.message
        from identify.answers.text import percent_text

        return f"{self.about.message} Probability {percent_text(probability)}."


def _told(section: SectionResult) -> Iterator[_Told]:
    for finding in section.findings:
        yield _Told("section", finding)
    for unknown in section.unknowns:
        for finding in unknown.findings:
            yield _Told("unknown", finding, unknown.label)
    for one in section.students:
        both: Iterable[Finding | Slip] = (*one.ranking.slips, *one.findings)
        yield from (_Told("student", about, one.label, one.student) for about in both)


FINDING_COLUMNS = (
    Column(
        "level",
        "about",
        Kind.text,
        "The whole section (what many share), one unknown, or one student.",
        lambda one: one.level,
    ),
    _LABEL,
    _STUDENT,
    Column(
        "severity",
        "severity",
        Kind.text,
        "Error: a number cannot be right. Warning: a number is doubtful. Note: worth knowing. "
        "Slip: what probably went wrong, with the number that would have been right.",
        lambda one: one.severity,
    ),
    Column("code", "code", Kind.text, "Its name.", lambda one: one.about.code),
    Column("message", "what was found", Kind.sentence, "In words.", lambda one: one.message),
    Column(
        "advice",
        "what to do",
        Kind.sentence,
        "At the bench, or with the file.",
        lambda one: getattr(one.about, "advice", ""),
    ),
)

SET_ASIDE_COLUMNS = (
    Column("row", "row", Kind.count, "Of the file, as a spreadsheet counts.", lambda one: one.row),
    _LABEL,
    _STUDENT,
    Column(
        "reason",
        "why it was set aside",
        Kind.sentence,
        "With what was read.",
        lambda one: one.reason,
    ),
)
