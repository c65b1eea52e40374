"""A section's result as flat rows: the columns that the CSV and the workbook share."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from math import isfinite
from typing import TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    from identify.matching.slips import Slip
    from identify.notebook.findings import Finding
    from identify.section.result import Cause, SectionResult, StudentResult, UnknownResult

Cell: TypeAlias = str | int | float | bool | None
Row: TypeAlias = dict[str, Cell]

_PLACES = ("first", "second", "third")  # compounds named in a row, the most probable first


class CellKind(Enum):
    """What a column holds, which decides how a sheet shows it."""

    text = "text"
    sentence = "sentence"
    count = "count"
    number = "number"
    share = "share"
    answer = "answer"


@dataclass(frozen=True)
class SheetColumn:
    """One column of a table.

    Parameters
    ----------
    key : str
        Its name in CSV.
    kind : CellKind
    meaning : str
        What it holds, with the unit.
    heading : str
        Its name in a sheet; that in CSV with spaces where empty.
    of : callable, optional
        From what the row is about to the cell; the attribute of its key where not given.
    """

    key: str
    kind: CellKind
    meaning: str
    heading: str = ""
    of: Callable[[Any], Cell] | None = None

    @property
    def title(self) -> str:
        """Its name in a sheet."""
        return self.heading or self.key.replace("_", " ")

    def cell(self, subject: object) -> Cell:
        """Return the cell of a row; None where there is nothing to say."""
        value: Cell = getattr(subject, self.key) if self.of is None else self.of(subject)
        return None if isinstance(value, float) and not isfinite(value) else value


@dataclass(frozen=True)
class SectionTable:
    """One table of a section's result.

    Parameters
    ----------
    name, lists : str
        What it is called, and what its rows are.
    columns : sequence of SheetColumn
    subjects : callable
        From the section to what its rows are about.
    frozen : str
        First cell of a sheet that scrolls.
    """

    name: str
    lists: str
    columns: Sequence[SheetColumn]
    subjects: Callable[[SectionResult], Iterable[object]]
    frozen: str

    def rows(self, section: SectionResult) -> list[Row]:
        """Return the rows, their cells by their columns' keys."""
        return [
            {column.key: column.cell(one) for column in self.columns}
            for one in self.subjects(section)
        ]


def _codes(told: Iterable[Cause | Finding | Slip]) -> str:
    """Return codes as one text, each once."""
    return " ".join(dict.fromkeys(one.code for one in told))


# ------------------------------------------------------------------- students and unknowns alike


def _ranking(subject: StudentResult | UnknownResult) -> Any:
    """Return what holds the compounds: a student's ranking, an unknown itself."""
    return getattr(subject, "ranking", subject)


def _candidate(place: int, name: str) -> Callable[[Any], Cell]:
    """Return what reads a field of the candidate in this place."""

    def of(subject: StudentResult | UnknownResult) -> Cell:
        candidates = _ranking(subject).candidates
        return getattr(candidates[place], name) if place < len(candidates) else None

    return of


def _compounds() -> Iterator[SheetColumn]:
    for place, word in enumerate(_PLACES):
        which = f"{word} most probable" if place else "most probable"
        cas, share = _candidate(place, "cas"), _candidate(place, "probability")
        named = f"The {which} compound."
        yield SheetColumn(word, _TEXT, named, f"{word} compound", _candidate(place, "name"))
        yield SheetColumn(f"{word}_cas", _TEXT, "Its CAS number.", f"{word} CAS", cas)
        probable = "How probable it is, given the readings."
        yield SheetColumn(f"{word}_probability", CellKind.share, probable, of=share)


def _key(name: str) -> Callable[[Any], Cell]:
    return lambda subject: getattr(subject.key, name, None)


_TEXT, _NUMBER, _ANSWER = CellKind.text, CellKind.number, CellKind.answer
_LABEL = SheetColumn("label", _TEXT, "The bottle's label.")
_STUDENT = SheetColumn("student", _TEXT, "Who measured, as the file has it.")
_KEY = (
    SheetColumn("key", _TEXT, "What the key says is in the bottle.", of=_key("name")),
    SheetColumn("key_cas", _TEXT, "Its CAS number.", "key CAS", _key("cas")),
)
_NONE_OF_THESE = SheetColumn(
    "none_of_these",
    CellKind.share,
    "How probable it is that the liquid is not in the table of compounds.",
    of=lambda one: _ranking(one).none_of_these,
)
_FINDINGS = SheetColumn(
    "findings",
    _TEXT,
    "What does not hold together or is worth knowing, by code.",
    of=lambda one: _codes(one.findings),
)


def _molar_mass_columns(
    value: str, uncertainty: str, of: Callable[[str], Callable[[Any], Cell] | None]
) -> tuple[SheetColumn, SheetColumn]:
    own, its = of("value"), of("standard_uncertainty")
    return (
        SheetColumn("molar_mass", _NUMBER, value, "molar mass, g/mol", own),
        SheetColumn("molar_mass_u", _NUMBER, uncertainty, "its uncertainty, g/mol", its),
    )


# ------------------------------------------------------------------------------------- students


def _measured(name: str) -> Callable[[StudentResult], Cell]:
    return lambda student: getattr(student.molar_mass, name, None)


def _graded(name: str) -> Callable[[StudentResult], Cell]:
    return lambda student: getattr(student.graded, name, None)


_STUDENT_COLUMNS = (
    _LABEL,
    _STUDENT,
    SheetColumn(
        "rows",
        _TEXT,
        "Rows of the file that this result rests on, as a spreadsheet counts them.",
        of=lambda one: " ".join(map(str, one.rows)),
    ),
    SheetColumn(
        "verdict",
        _TEXT,
        "Single match, several matches, or no match.",
        of=lambda one: one.ranking.verdict,
    ),
    *_compounds(),
    _NONE_OF_THESE,
    *_molar_mass_columns(
        "Measured, with the corrections of the first compound, in g/mol.",
        "Standard uncertainty of the measured molar mass, in g/mol.",
        _measured,
    ),
    SheetColumn(
        "ideal_gas",
        _NUMBER,
        "Molar mass by the ideal-gas shortcut, in g/mol; empty where nothing was weighed.",
        "ideal gas alone, g/mol",
        _measured("ideal_gas"),
    ),
    SheetColumn(
        "percent_error",
        _NUMBER,
        "Measured molar mass against the key's compound, or the pooled one without a key, in "
        "percent.",
    ),
    *_KEY,
    SheetColumn(
        "key_rank",
        CellKind.count,
        "Place of the key's compound in this ranking; empty where it is not listed.",
        "rank of the key",
    ),
    SheetColumn(
        "named_right",
        _ANSWER,
        "Whether the key's compound comes first; empty without a key that the table holds, and "
        "where bottle or card is in doubt.",
    ),
    *(
        SheetColumn(name, kind, told, of=_graded(name))
        for name, kind, told in (
            ("answer", _TEXT, "The liquid that the student named."),
            (
                "answer_grade",
                _TEXT,
                "right, right formula, wrong or not clear, against what was in the bottle; empty "
                "where that is in doubt.",
            ),
            ("reported_molar_mass", _NUMBER, "The molar mass that the student worked out, g/mol."),
            (
                "molar_mass_grade",
                _TEXT,
                "How it follows from the student's own weighings, or the slip that explains it.",
            ),
        )
    ),
    SheetColumn(
        "needs_a_look",
        _ANSWER,
        "A slip, a finding above a note, no match, or another compound than the key's first.",
        of=lambda one: one.is_doubtful,
    ),
    SheetColumn(
        "causes",
        _TEXT,
        "What many share and was set right before the result was judged, by code.",
        of=lambda one: _codes(one.causes),
    ),
    SheetColumn(
        "slips",
        _TEXT,
        "What probably went wrong with the readings, by code.",
        of=lambda one: _codes(one.ranking.slips),
    ),
    _FINDINGS,
)

# ------------------------------------------------------------------------------------- unknowns

_UNKNOWN_COLUMNS = (
    _LABEL,
    SheetColumn("students", CellKind.count, "Students who measured it."),
    SheetColumn(
        "used",
        CellKind.count,
        "Those whose weighings agree with each other; the others were left out of the pooling.",
    ),
    *_molar_mass_columns(
        "Robust mean over the students, with the corrections of the first compound, in g/mol.",
        "Standard uncertainty of that mean, in g/mol.",
        lambda name: None,
    ),
    SheetColumn(
        "spread_percent",
        _NUMBER,
        "Robust standard deviation from student to student, in percent.",
        "spread, percent",
    ),
    *_compounds(),
    _NONE_OF_THESE,
    *_KEY,
    SheetColumn(
        "key_molar_mass",
        _NUMBER,
        "Of the key's compound, in g/mol.",
        "molar mass of the key, g/mol",
        _key("molar_mass"),
    ),
    SheetColumn(
        "agrees",
        _ANSWER,
        "Whether the first compound is the key's; empty without a key that the table holds, and "
        "where no compound is more probable than not.",
        "agrees with the key",
        lambda one: one.agrees_with_key,
    ),
    _FINDINGS,
)

# ------------------------------------------------------------------------------------- findings

# Beside the severities of the findings: how a slip is marked.
_SLIP = "slip"


@dataclass(frozen=True)
class _FindingRow:
    """A finding or slip, and what it is about."""

    level: str
    about: Finding | Slip
    label: str = ""
    student: str = ""

    @property
    def code(self) -> str:
        return self.about.code

    @property
    def advice(self) -> str:
        return getattr(self.about, "advice", "")

    @property
    def severity(self) -> str:
        return getattr(self.about, "severity", _SLIP)

    @property
    def message(self) -> str:
        probability = getattr(self.about, "probability", None)
        if probability is None:
            return self.about.message
        from identify.answers.text import percent_text

        return f"{self.about.message} Probability {percent_text(probability)}."


def _told(section: SectionResult) -> Iterator[_FindingRow]:
    for finding in section.findings:
        yield _FindingRow("section", finding)
    for unknown in section.unknowns:
        for finding in unknown.findings:
            yield _FindingRow("unknown", finding, unknown.label)
    for one in section.students:
        both: Iterable[Finding | Slip] = (*one.ranking.slips, *one.findings)
        yield from (_FindingRow("student", about, one.label, one.student) for about in both)


_FINDING_COLUMNS = (
    SheetColumn(
        "level", _TEXT, "The whole section (what many share), one unknown, or one student.", "about"
    ),
    _LABEL,
    _STUDENT,
    SheetColumn(
        "severity",
        _TEXT,
        "Error: a number cannot be right. Warning: a number is doubtful. Note: worth knowing. "
        "Slip: what probably went wrong, with the number that would have been right.",
    ),
    SheetColumn("code", _TEXT, "Its name."),
    SheetColumn("message", CellKind.sentence, "In words.", "what was found"),
    SheetColumn("advice", CellKind.sentence, "At the bench, or with the file.", "what to do"),
)

_SET_ASIDE_COLUMNS = (
    SheetColumn("row", CellKind.count, "Of the file, as a spreadsheet counts."),
    _LABEL,
    _STUDENT,
    SheetColumn("reason", CellKind.sentence, "With what was read.", "why it was set aside"),
)

STUDENT_TABLE = SectionTable(
    "Students",
    "One row a student's result on one unknown.",
    _STUDENT_COLUMNS,
    lambda section: section.students,
    "C2",
)
SECTION_TABLES = (
    STUDENT_TABLE,
    SectionTable(
        "Unknowns",
        "One row a bottle, by all students together.",
        _UNKNOWN_COLUMNS,
        lambda section: section.unknowns,
        "B2",
    ),
    SectionTable(
        "Findings",
        "One row a finding or slip: what many share first, then by unknown, then by student.",
        _FINDING_COLUMNS,
        _told,
        "A2",
    ),
    SectionTable(
        "Set aside",
        "One row for each row of the file that could not be used.",
        _SET_ASIDE_COLUMNS,
        lambda section: section.set_aside,
        "A2",
    ),
)
