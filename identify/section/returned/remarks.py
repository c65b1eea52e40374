"""What was noticed in a student's own numbers, in words that tell no liquid and nobody else."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from identify.matching.slips import Slip
from identify.notebook.findings import Finding, worst_first
from identify.section.feedback import Remark
from identify.section.result import StudentResult

_LOOK_UP = "Look it up in your notebook."
_REPEAT = "Repeat the run, if your instructor has you do so."
# Slips of the bench, that no notebook sets right.
_AT_THE_BENCH = (
    "mass-in-excess",
    "mass-missing",
    "weighed-cold",
    "mass-added",
    "lid-left-off",
    "one-trial-off",
    "volume-nominal",
    "superheated",
    "thread-uncorrected",
    "wet-liquid",
)
_CHECK_READINGS = "Check each reading in your notebook, then the label on the bottle."


def remarks(student: StudentResult) -> Iterator[Remark]:
    """Yield what to tell a student: slips first, then findings, the worst first."""
    told = _Told(student)
    slips = [told.of_slip(one) for one in student.ranking.slips]
    yield from slips
    codes = {one.code for one in slips}
    for finding in worst_first(student.findings):
        if finding.code not in codes and (remark := told.of_finding(finding)) is not None:
            yield remark


class _Told:
    """A student's findings and slips, retold."""

    def __init__(self, student: StudentResult) -> None:
        self._student = student
        self._own = {finding.code for finding in student.ranking.findings}
        names = [one.name for one in student.ranking.candidates]
        if student.key is not None:
            names.append(student.key.name)
        self._liquids = [name.casefold() for name in names]

    def of_slip(self, slip: Slip) -> Remark:
        message = _SLIPS.get(slip.code, slip.message)
        if self._tells_liquid(message):
            message = "One number is perhaps not what was read."
        return Remark(slip.code, message, _REPEAT if slip.code in _AT_THE_BENCH else _LOOK_UP)

    def of_finding(self, finding: Finding) -> Remark | None:
        """Return a finding in words for the student, None where there are none."""
        if (retold := _FINDINGS.get(finding.code)) is not None:
            message, advice = retold(finding, self._student)
        elif finding.code in self._own:
            message, advice = finding.message, finding.advice
        else:  # of the section, for its instructor
            return None
        is_told = bool(message) and not self._tells_liquid(f"{message} {advice}")
        return Remark(finding.code, message, advice) if is_told else None

    def _tells_liquid(self, text: str) -> bool:
        folded = text.casefold()
        return any(name in folded for name in self._liquids)


_Retold = Callable[[Finding, StudentResult], tuple[str, str]]


def _not_told(finding: Finding, student: StudentResult) -> tuple[str, str]:
    return "", ""


def _no_liquid(finding: Finding, student: StudentResult) -> tuple[str, str]:
    return "No liquid of the table agrees with all of these readings together.", _CHECK_READINGS


def _molar_mass_off(finding: Finding, student: StudentResult) -> tuple[str, str]:
    relative = finding.numbers["relative"]
    side = "above" if relative > 0.0 else "below"
    cause = (
        "mostly liquid that was left in the flask, or water on the foil"
        if relative > 0.0
        else "mostly vapor that did not fill the flask, or that was lost before it cooled"
    )
    message = (
        f"The molar mass is {100.0 * abs(relative):.0f} % {side} what your other readings speak "
        f"for. Classes are off by as much now and then: {cause}."
    )
    return message, finding.advice


def _far(finding: Finding, student: StudentResult) -> tuple[str, str]:
    side = "above" if finding.numbers["off_percent"] > 0.0 else "below"
    own = finding.numbers["molar_mass_g_per_mol"]
    return (
        f"The weighings give {own:.1f} g/mol, well {side} what others found with the same bottle.",
        finding.advice,
    )


def _miscopied(finding: Finding, student: StudentResult) -> tuple[str, str]:
    written = finding.numbers.get("written")
    what = "An entry" if written is None else f"An entry ({written:g})"
    return f"{what} is not what the card of the bottle says.", "Look at the card again."


def _wrong_bottle(finding: Finding, student: StudentResult) -> tuple[str, str]:
    return (
        f"What is written here is not what bottle {student.label} has.",
        "Look in your notebook which bottle it was, and tell your instructor.",
    )


_SLIPS = {
    "boiling-point-of-another": "The boiling point may be from the card of another bottle.",
    "composition-of-another": "The percentages may be from the card of another bottle.",
    "ideal-gas-numbers": "These are perhaps the numbers of an exercise: they follow the ideal gas.",
}
_FINDINGS: dict[str, _Retold] = {
    "nothing-plausible": _no_liquid,
    "molar-mass-high": _molar_mass_off,
    "molar-mass-low": _molar_mass_off,
    "far-from-the-others": _far,
    "card-miscopied": _miscopied,
    "wrong-bottle": _wrong_bottle,
    # Which liquid it is, or another, is not what a student has to mend.
    "slip-possible": _not_told,
    "slightly-off": _not_told,
    "candidates-inseparable": _not_told,
    "isomer-not-listed": _not_told,
    "boiling-point-uncertain": _not_told,
    "vapor-of-dimers": _not_told,
}
