"""The page of a section: what its students share, each unknown, each student."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import TYPE_CHECKING, NamedTuple

from identify.answers.html.page import DASH, render
from identify.answers.pictures.drawings import structure_drawing
from identify.answers.text import percent_text, with_chance, with_uncertainty
from identify.answers.text.precision import precision_sentence
from identify.answers.text.ranking import told_as_slip
from identify.answers.text.section import summary
from identify.notebook.findings import Finding
from identify.section.result import SectionResult, StudentResult, UnknownResult

if TYPE_CHECKING:
    from markupsafe import Markup

    from identify.answers.pictures.figures import Picture
    from identify.matching.answer import RankedCandidate

_SHOWN = 5  # compounds of one unknown
_MOST_NAMED = 40  # students of one cause
_LONGEST_WHOLE = 24  # characters of a name that no line breaks


class _ShownStudent(NamedTuple):
    """One student's result as the page shows it; ``name`` is unique there."""

    name: str
    result: StudentResult
    first: RankedCandidate | None
    rows: str
    molar_mass: str
    reported: str
    key: str
    findings: Sequence[Finding]


class _ShownUnknown(NamedTuple):
    """One bottle as the page shows it; ``name`` is unique there."""

    name: str
    result: UnknownResult
    sentence: str
    molar_mass: str
    drawing: Markup | None
    picture: Picture | None


def section_page(section: SectionResult, shown: int = _SHOWN) -> str:
    """Return the page of a section.

    Parameters
    ----------
    section : SectionResult
    shown : int, default=5
        Compounds shown of each unknown.

    Returns
    -------
    str
        HTML. The same section gives the same text.
    """
    shown_of = {
        id(one): _student(f"s{place}", one) for place, one in enumerate(section.in_order, 1)
    }
    return render(
        "section.html.j2",
        section=section,
        shown=shown,
        most_named=_MOST_NAMED,
        longest_whole=_LONGEST_WHOLE,
        summary=summary(section),
        unknowns=[
            _unknown(f"u{place}", unknown, section)
            for place, unknown in enumerate(section.unknowns, 1)
        ],
        groups=[
            (
                0 if cause is None else section.causes.index(cause) + 1,
                [shown_of[id(one)] for one in students],
            )
            for cause, students in section.to_look_at
        ],
        students=list(shown_of.values()),
        is_graded=any(one.graded for one in section.students),
        is_keyed=any(one.key for one in section.students),
        precision_sentence=precision_sentence,
    )


def _unknown(name: str, unknown: UnknownResult, section: SectionResult) -> _ShownUnknown:
    first = next(iter(unknown.candidates), None)
    return _ShownUnknown(
        name,
        unknown,
        pooled_sentence(unknown),
        _value(unknown.molar_mass, unknown.molar_mass_u),
        None if first is None else structure_drawing(first.smiles, first.name),
        _picture(name, unknown, section.students),
    )


def pooled_sentence(unknown: UnknownResult) -> str:
    """Return what all students together say of a bottle, in one sentence."""
    if not unknown.candidates:
        return "These readings name no compound."
    first = unknown.candidates[0]
    found = with_chance(first.name, first.probability)
    if unknown.none_of_these > first.probability:
        chance = percent_text(unknown.none_of_these)
        return f"Probably none of the table's compounds ({chance}); nearest is {found}."
    sentence = f"All students together: {found}"
    if unknown.key is None or unknown.agrees_with_key is None:
        return f"{sentence}."
    if unknown.agrees_with_key:
        return f"{sentence}, as the key has it."
    return f"{sentence}. The key has {unknown.key.name}."


def _picture(
    name: str, unknown: UnknownResult, students: Sequence[StudentResult]
) -> Picture | None:
    from identify.answers.pictures.strips import Strip, strip_picture

    known = [(one.name, one.molar_mass) for one in unknown.candidates[:1]]
    if unknown.key is not None:
        known = [(unknown.key.name, unknown.key.molar_mass)]
    expected_name, expected = known[0] if known else ("", None)
    own = [student for student in students if student.label == unknown.label]
    values = [value for student in own if (value := _molar_mass(student, expected)) is not None]
    strip = Strip(values, unknown.molar_mass, unknown.molar_mass_u, expected, expected_name)
    return strip_picture(strip, f"{name}-strip")


def _molar_mass(student: StudentResult, expected: float | None) -> float | None:
    """Return a student's molar mass with the corrections that all of them share [g/mol]."""
    if student.percent_error is not None and expected is not None:
        return expected * (1.0 + student.percent_error / 100.0)
    measured = student.molar_mass
    return None if measured is None else measured.value


def _student(name: str, student: StudentResult) -> _ShownStudent:
    ranking, measured = student.ranking, student.molar_mass
    # What many share stands among the causes, once.
    own = [
        one
        for one in student.findings
        if one.code != "see-shared-fault" and not told_as_slip(one, ranking)
    ]
    reported = getattr(student.graded, "reported_molar_mass", None)
    return _ShownStudent(
        name,
        student,
        next(iter(ranking.candidates), None),
        _rows_text(student.rows),
        _value(getattr(measured, "value", None), getattr(measured, "standard_uncertainty", None)),
        DASH if reported is None else f"{reported:g}",
        _key(student),
        own,
    )


def _rows_text(rows: Sequence[int]) -> str:
    """Return rows of a file, those that follow each other as one.

    Examples
    --------
    >>> _rows_text((2, 3, 4, 7)), _rows_text((5,)), _rows_text((8, 9))
    ('2–4, 7', '5', '8–9')
    """
    spans: list[list[int]] = []
    for row in sorted(rows):
        if spans and row == spans[-1][1] + 1:
            spans[-1][1] = row
        else:
            spans.append([row, row])
    return ", ".join(
        f"{first}" if first == last else f"{first}{DASH}{last}" for first, last in spans
    )


def _key(student: StudentResult) -> str:
    right = student.named_right
    if right is None:
        return DASH
    if right:
        return "yes"
    return "no, not listed" if student.key_rank is None else f"no, rank {student.key_rank}"


def _value(value: float | None, uncertainty: float | None) -> str:
    if value is None or not isfinite(value):
        return DASH
    return with_uncertainty(value, uncertainty or float("nan"), "g/mol")
