"""Students of whom nothing that was weighed can be used: named from the card alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from identify.bench.trials import trials_of
from identify.notebook.findings import Finding, listed
from identify.section.runs import StudentRun
from identify.section.wording import students

_UNUSED = "weighings-unused"  # a finding on one student's page


class Unweighed:
    """Who weighed nothing to any use.

    Parameters
    ----------
    runs : sequence of StudentRun
        Of the whole section.
    """

    def __init__(self, runs: Sequence[StudentRun]) -> None:
        self._runs = runs
        self._is_everybody = len(runs) > 1 and not any(map(_has_molar_mass, runs))

    def findings(self) -> Iterator[Finding]:
        """Yield that nobody weighed: one line for all of them."""
        if not self._is_everybody:
            return
        lacking = Counter(word for run in self._runs for word in _lacking(run))
        reason = ""
        if lacking:
            verb = "is" if len(lacking) == 1 else "are"
            reason = f", because {listed(list(lacking))} {verb} missing"
        yield Finding(
            "nobody-weighed",
            "warning" if lacking else "note",
            f"No molar mass follows from the weighings of {students(len(self._runs))}"
            f"{reason}: all are named from the cards alone.",
            "Add that to the table, and check again."
            if lacking
            else "Who copied a card well is right; weighings would show who worked well.",
            {"students": float(len(self._runs))},
        )

    def of(self, run: StudentRun, findings: Sequence[Finding]) -> list[Finding]:
        """Return a student's findings with this one; what holds for everybody is only a note."""
        if _has_molar_mass(run):
            return list(findings)
        if self._is_everybody:
            return [
                replace(one, severity="note") if one.code == _UNUSED else one for one in findings
            ]
        if any(one.code == _UNUSED for one in findings):
            return list(findings)
        return [*findings, _from_card()]


def _has_molar_mass(run: StudentRun) -> bool:
    return run.bench.weighing is not None or run.bench.molar_mass is not None


def _lacking(run: StudentRun) -> set[str]:
    """Return what a student's trials lack, in words."""
    return {
        word for trial in trials_of(run.measurement) if trial.is_weighed for word in trial.lacking
    }


def _from_card() -> Finding:
    return Finding(
        "named-from-card",
        "warning",
        "Nothing was weighed, so that this result is named from the card alone.",
        "Ask for the weighings: what stands on the card, everybody with this bottle has.",
    )
