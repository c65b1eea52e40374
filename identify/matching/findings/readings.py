"""Findings on readings: nothing measured, none agrees, a molar mass that is off."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from identify.matching.evidence import CandidateEvidence
from identify.matching.findings.answered import (
    MIN_SURE_PROBABILITY,
    MIN_TOLD_PROBABILITY,
    Answer,
    at_rows,
)
from identify.matching.posterior import Posterior
from identify.matching.slips.mechanism.hypothesis import Slip
from identify.notebook.findings import Finding, listed
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.observables.error.comparison import Comparison
from identify.physics.constants import ELEMENTS

_UNUSUAL = 2.0  # half-widths of its tolerance, from which a reading is more than a little off
_CARD_READINGS = ("boiling_point", "percent", "water", "card")  # that a slip may be about
_MASSES_OFF = ("mass-in-excess", "mass-missing")  # what the note on the molar mass tells, too


def nothing_measured(answer: Answer) -> Iterator[Finding]:
    """Find a page without anything that tells compounds apart."""
    if answer.posterior.evidence.comparisons:
        return
    yield Finding(
        "nothing-measured",
        "error",
        "Nothing was measured that could tell one compound from another; the list shows only how "
        "common the compounds are.",
        "Give weighings or a molar mass, a boiling point, or a composition.",
    )


def nothing_plausible(answer: Answer) -> Iterator[Finding]:
    """Find that no compound agrees with every reading, and what may be wrong."""
    evidence, first = answer.posterior.evidence, int(answer.rows[0])
    if evidence.plausible.any() or not evidence.comparisons:
        return
    disagreeing = _disagreements(evidence, first)
    if not disagreeing:
        name = answer.posterior.table.text("name")[first]
        yield Finding(
            "nothing-plausible",
            "warning",
            f"No compound in the table agrees with every reading. Nearest is {name}: the readings "
            "fit it, but it is hardly a liquid in the room that boils off in the bath.",
            "Check the readings, then the label on the bottle.",
            _numbers(answer.posterior, first),
        )
        return
    if answer.by_chance:
        if _molar_mass_unusual(answer) is not None:  # that is told by itself
            disagreeing.pop("molar mass")
        if all(half_widths <= _UNUSUAL for half_widths in disagreeing.values()):
            if disagreeing:
                yield _slightly_off(answer, list(disagreeing))
            return
    yield _disagreeing(answer, list(disagreeing))
    yield from map(_possible, answer.possible[:1])


def _molar_mass_unusual(answer: Answer) -> float | None:
    """Return how far the molar mass is off where that is unusual, relative; None where not."""
    comparison, first = answer.posterior.evidence.molar_mass, int(answer.rows[0])
    slips = [one for one in answer.possible if one.code not in _MASSES_OFF]
    if comparison is None or any(map(_is_of_the_weighing, slips + answer.slips_of_the_first)):
        return None
    is_likely = answer.posterior.probability[first] >= MIN_TOLD_PROBABILITY
    if not (is_likely and answer.by_chance):
        return None
    if _half_widths(comparison, first) <= _UNUSUAL:
        return None
    off = float(comparison.deviation[first])
    return off / float(answer.posterior.table.number("molar_mass")[first])


def _is_of_the_weighing(slip: Slip) -> bool:
    return not any(reading.startswith(_CARD_READINGS) for reading in slip.repaired)


def _half_widths(comparison: Comparison, row: int) -> float:
    """Return how far a reading is off, in half-widths of its tolerance."""
    return float(abs(comparison.deviation[row]) / at_rows(comparison, np.array([row]))[0])


def molar_mass_off(answer: Answer) -> Iterator[Finding]:
    """Find a molar mass that is far from the first candidate."""
    relative = _molar_mass_unusual(answer)
    if relative is None:
        return
    is_high = relative > 0.0
    name = answer.names(answer.rows[:1])
    cause = (
        "mostly liquid that was left in the flask, or water on the foil"
        if is_high
        else "mostly vapor that did not fill the flask, or that was lost before it cooled"
    )
    few = "Few classes are off by as much" if relative > 1.0 else ""
    often = few or "Classes are off by as much now and then"
    yield Finding(
        "molar-mass-high" if is_high else "molar-mass-low",
        "note",
        f"The molar mass is {100.0 * abs(relative):.0f} % {'above' if is_high else 'below'} that "
        f"of {name}. {often}: {cause}.",
        "Repeat the weighing if you can; dry the flask and the foil, and leave the flask in the "
        "bath until no liquid is left.",
        {"relative": relative},
    )


def _numbers(posterior: Posterior, row: int) -> dict[str, float]:
    return {
        "none_of_these": posterior.none_of_these,
        "probability": float(posterior.probability[row]),
        "chi_squared": posterior.chi_squared(row),
    }


def _slightly_off(answer: Answer, readings: Sequence[str]) -> Finding:
    off, several = _listed(readings), len(readings) > 1
    return Finding(
        "slightly-off",
        "note",
        f"{off[0].upper()}{off[1:]} {'are' if several else 'is'} a little further from "
        f"{answer.names(answer.rows[:1])} than the tolerance. Chance explains that: of five sound "
        "readings one is, about once in five pages.",
        f"Read {'them' if several else 'it'} once more if you can.",
        _numbers(answer.posterior, int(answer.rows[0])),
    )


def _disagreeing(answer: Answer, readings: Sequence[str]) -> Finding:
    off, several, name = _listed(readings), len(readings) > 1, answer.names(answer.rows[:1])
    numbers = _numbers(answer.posterior, int(answer.rows[0]))
    if numbers["probability"] >= MIN_SURE_PROBABILITY:
        nearest = f"Against {name} {'stand' if several else 'stands'} {off}."
    else:
        nearest = f"Nearest is {name}, which disagrees with {off}."
    return Finding(
        "nothing-plausible",
        "warning",
        f"No compound in the table agrees with every reading. {nearest}",
        f"Check {'these readings' if several else 'that reading'} first, then the label on the "
        "bottle; the liquid may also be a mixture or a compound that is not in the table.",
        numbers,
    )


def _possible(slip: Slip) -> Finding:
    return Finding(
        "slip-possible",
        "note",
        f"{slip.message} That is possible ({100.0 * slip.probability:.0f} %), and would make it "
        f"{slip.candidates[0][0]}.",
        "Look it up in the notebook.",
        {"probability": slip.probability},
    )


def _listed(readings: Sequence[str]) -> str:
    return listed([f"the {one}" for one in readings])


def _disagreements(evidence: CandidateEvidence, row: int) -> dict[str, float]:
    """Return how far the readings are off that do not agree, in half-widths."""
    readings: dict[str, Comparison | None] = {
        "molar mass": evidence.molar_mass,
        "boiling point": evidence.boiling_point,
        **{f"percentage of {ELEMENTS[place]}": c for place, c in evidence.elements.items()},
        **{LIQUID_CONSTANTS[name].words: c for name, c in evidence.further.items()},
    }
    off = {
        name: _half_widths(c, row)
        for name, c in readings.items()
        if c is not None and not c.agrees()[row]
    }
    if evidence.unmentioned is not None and not evidence.unmentioned.agrees()[row]:
        off["elements that the card leaves out"] = np.inf
    return off
