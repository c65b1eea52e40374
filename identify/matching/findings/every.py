"""All findings that need the candidates, in the order in which they are told."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from identify.matching.findings.answered import MIN_TOLD_PROBABILITY, Answer
from identify.matching.findings.compounds import (
    isomer_not_listed,
    no_carbon,
    not_told_apart,
    too_little_poured,
    uncertain_boiling_point,
    vapor_of_dimers,
)
from identify.matching.findings.readings import molar_mass_off, nothing_measured, nothing_plausible
from identify.notebook.findings import Finding

_NOMINAL = "volume-nominal"  # a finding of the bench, and a slip


def match_findings(answer: Answer) -> list[Finding]:
    """Return what the comparison with the candidates itself has to say."""
    return [finding for find in _FINDINGS for finding in find(answer)]


def settled(findings: Sequence[Finding], answer: Answer) -> list[Finding]:
    """Return what the bench's checks found, less what the comparison has answered.

    A volume that happens to be what is printed on a flask is only worth knowing where the molar
    mass fits with it, in all trials or in all but one that is off for itself.
    """
    is_open = not answer.slips and any(one.code == "trials-scatter" for one in findings)
    if is_open or not _fits_as_it_is(answer):
        return list(findings)
    fits = f"The molar mass fits {answer.names(answer.rows[:1])} with it as it is."
    return [
        replace(one, severity="note", message=f"{one.message} {fits}")
        if one.code == _NOMINAL
        else one
        for one in findings
    ]


def _fits_as_it_is(answer: Answer) -> bool:
    """Say whether the molar mass fits a likely compound with the volume as it was written."""
    comparison, first = answer.posterior.evidence.molar_mass, int(answer.rows[0])
    is_doubted = any(slip.code == _NOMINAL for slip in (*answer.slips, *answer.possible))
    is_likely = answer.posterior.probability[first] >= MIN_TOLD_PROBABILITY
    return (
        comparison is not None and is_likely and not is_doubted and bool(comparison.agrees()[first])
    )


_FINDINGS: tuple[Callable[[Answer], Iterator[Finding]], ...] = (
    nothing_measured,
    nothing_plausible,
    molar_mass_off,
    no_carbon,
    not_told_apart,
    isomer_not_listed,
    uncertain_boiling_point,
    vapor_of_dimers,
    too_little_poured,
)
