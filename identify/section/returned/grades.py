"""How what a student handed in was graded, as far as it is given back."""

from __future__ import annotations

from collections.abc import Iterator

from identify.section.grading import Graded

_ANSWERS = {
    "right": "is right",
    "right formula": "has the right formula, and is not the liquid",
    "wrong": "is not the liquid that was in the bottle",
    "not clear": "does not name one compound; give the full name with its numbers, or a CAS number",
    "": "is not graded, for it is not certain what was in the bottle",
}
# Grades of a name with which the molar mass of the liquid is given away to nobody.
_KNOW_THE_MASS = ("right", "right formula")


def grade_sentences(graded: Graded | None, is_graded_by_key: bool) -> Iterator[str]:
    """Yield how a name and a molar mass were graded.

    Parameters
    ----------
    graded : Graded or None
        None where nothing was handed in.
    is_graded_by_key : bool
        Whether a name was held against what is known to be in the bottle. Else a program's opinion
        would be taken for a grade.
    """
    if graded is None:
        return
    grade = graded.answer_grade if is_graded_by_key else ""
    if graded.answer:
        yield f'Your answer, "{graded.answer}", {_ANSWERS[grade]}.'
    if graded.reported_molar_mass is not None:
        yield _molar_mass(graded, graded.reported_molar_mass)
        if graded.percent_error is not None and grade in _KNOW_THE_MASS:
            side = "above" if graded.percent_error > 0 else "below"
            yield f"It is {abs(graded.percent_error):.1f} % {side} that of the liquid."


def _molar_mass(graded: Graded, value: float) -> str:
    subject = f"The molar mass that you worked out, {value:g} g/mol,"
    if graded.is_molar_mass_right is None:
        return f"{subject} cannot be held against weighings: none can be used."
    if graded.is_molar_mass_right:
        return f"{subject} follows from your own weighings."
    if graded.is_explained:
        return (
            f"{subject} does not follow from your own weighings; one slip explains it: "
            f"{graded.molar_mass_grade}."
        )
    return f"{subject} does not follow from your own weighings: go through the working below."
