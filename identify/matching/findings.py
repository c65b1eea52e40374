"""Findings that need the candidates: nothing measured, nothing agrees, not to be told apart."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from identify.checks.filling import MIN_LIKELY, liquid_too_little
from identify.matching.advise.next_measurement import Remaining, separating_sentence
from identify.matching.evidence import CandidateEvidence
from identify.matching.posterior import Posterior
from identify.matching.slips.mechanism.hypothesis import Slip
from identify.notebook.findings import Finding, listed
from identify.observables.boiling_point import BOILING_POINT
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.observables.error.comparison import Comparison
from identify.physics.constants import ELEMENTS
from identify.physics.dimers import dimerization, particles_at_pressure

_MIN_SURE_PROBABILITY = 0.9  # from which one wrong reading is likelier than another compound
_MIN_UNLISTED_ISOMERS = 0.002  # probability from which isomers that are not in the table are told
_MIN_TOLD_PROBABILITY = 0.5  # from which the first is what a molar mass is compared with
_UNUSUAL = 2.0  # half-widths of its tolerance, from which a reading is more than a little off
_CARD_READINGS = ("boiling_point", "percent", "water", "card")  # that a slip may be about
_NOMINAL = "volume-nominal"  # a finding of the bench, and a slip
_MASSES_OFF = ("mass-in-excess", "mass-missing")  # what the note on the molar mass tells, too
_MAX_NAMES_IN_SENTENCE = 4
_MAX_BOILING_POINT_U = 2.0  # K: known worse than a thermometer reads


@dataclass(frozen=True)
class Answer:
    """What findings are about: the outcome of a match.

    Parameters
    ----------
    posterior : Posterior
    rows : array of int
        The table's rows that are shown, the most probable first; at least one.
    remaining : Remaining or None
        What they would show in further measurements.
    slips : tuple of Slip
        What probably went wrong.
    possible : tuple of Slip
        What may have gone wrong, where nothing is likely to have.
    """

    posterior: Posterior
    rows: NDArray[np.int64]
    remaining: Remaining | None = None
    slips: tuple[Slip, ...] = ()
    possible: tuple[Slip, ...] = ()

    @property
    def slips_of_the_first(self) -> list[Slip]:
        """What probably went wrong, if it is the most probable candidate."""
        name = self.posterior.table.text("name")[self.rows[0]]
        return [slip for slip in self.slips if slip.points_to(name)]

    @property
    def first_fits(self) -> bool:
        """Whether the most probable candidate fits, as it is read or once a slip is set right."""
        return self.posterior.by_chance(int(self.rows[0])) or bool(self.slips_of_the_first)

    def names(self, rows: NDArray[np.int64]) -> str:
        """Return a few names as they stand in a sentence."""
        named = [self.posterior.table.text("name")[row] for row in rows[:_MAX_NAMES_IN_SENTENCE]]
        if len(rows) > _MAX_NAMES_IN_SENTENCE:
            return f"{', '.join(named)} and {len(rows) - _MAX_NAMES_IN_SENTENCE} more"
        return listed(named)


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
    is_likely = answer.posterior.probability[first] >= _MIN_TOLD_PROBABILITY
    return (
        comparison is not None and is_likely and not is_doubted and bool(comparison.agrees()[first])
    )


def alike(answer: Answer) -> NDArray[np.int64]:
    """Return the rows whose predictions these readings cannot tell from the first's.

    Two candidates count as alike where their predictions differ by less than half the tolerance,
    that is by less than one standard uncertainty, in everything that was measured. A boiling point
    that is itself uncertain widens this.
    """
    first, others = int(answer.rows[0]), answer.rows[1:]
    comparisons = answer.posterior.evidence.comparisons
    together = np.full(len(others), bool(comparisons))
    for comparison in comparisons:
        apart = np.abs(comparison.deviation[others] - comparison.deviation[first])
        together &= apart < 0.5 * np.maximum(
            _at(comparison, others), _at(comparison, np.array([first]))
        )
    return others[together]


def inseparable(answer: Answer) -> NDArray[np.int64]:
    """Return the rows that are alike with the first, and plausible as it is."""
    others = alike(answer)
    plausible = answer.posterior.evidence.plausible
    return others[plausible[others] & plausible[answer.rows[0]]]


def _at(comparison: Comparison, rows: NDArray[np.int64]) -> NDArray[np.float64]:
    widths = np.broadcast_to(comparison.half_width, comparison.deviation.shape)
    return np.asarray(widths[rows])


def _nothing_measured(answer: Answer) -> Iterator[Finding]:
    if answer.posterior.evidence.comparisons:
        return
    yield Finding(
        "nothing-measured",
        "error",
        "Nothing was measured that could tell one compound from another; the list shows only how "
        "common the compounds are.",
        "Give weighings or a molar mass, a boiling point, or a composition.",
    )


def _nothing_plausible(answer: Answer) -> Iterator[Finding]:
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
    if answer.posterior.by_chance(first):
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
    is_likely = answer.posterior.probability[first] >= _MIN_TOLD_PROBABILITY
    if not (is_likely and answer.posterior.by_chance(first)):
        return None
    if _half_widths(comparison, first) <= _UNUSUAL:
        return None
    off = float(comparison.deviation[first])
    return off / float(answer.posterior.table.number("molar_mass")[first])


def _is_of_the_weighing(slip: Slip) -> bool:
    return not any(reading.startswith(_CARD_READINGS) for reading in slip.repaired)


def _half_widths(comparison: Comparison, row: int) -> float:
    """Return how far a reading is off, in half-widths of its tolerance."""
    return float(abs(comparison.deviation[row]) / _at(comparison, np.array([row]))[0])


def _molar_mass_off(answer: Answer) -> Iterator[Finding]:
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
    if numbers["probability"] >= _MIN_SURE_PROBABILITY:
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


def _no_carbon(answer: Answer) -> Iterator[Finding]:
    evidence, carbon = answer.posterior.evidence, ELEMENTS.index("C")
    # Without room for others, a card that does not list carbon says that there is none.
    if evidence.unmentioned is None or carbon in evidence.elements:
        return
    if (answer.posterior.table.percent[:, carbon] > 0.0).all():
        yield Finding(
            "carbon-missing",
            "warning",
            "The percentages add up to 100 without any carbon, which every compound of the table "
            "holds.",
            "Check the card; if it is right, the liquid is none of these, as water is none.",
        )


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


def _inseparable(answer: Answer) -> Iterator[Finding]:
    others = inseparable(answer)
    if not len(others):
        return
    first = answer.rows[:1]
    every = np.concatenate([first, others])
    formulas = {answer.posterior.table.text("formula")[row] for row in every}
    # A composition cannot be measured here, but a card may state one.
    if len(formulas) > 1 and not answer.posterior.evidence.elements:
        advice = "A composition would tell some of them apart."
    else:
        advice = separating_sentence(answer.remaining and answer.remaining.among(every))
    yield Finding(
        "candidates-inseparable",
        "note",
        f"These readings cannot tell {answer.names(first)} from {answer.names(others)}: their "
        "predictions differ by less than half a tolerance, and their probabilities differ mostly "
        "by how common they are.",
        advice,
        {"compounds": float(len(every))},
    )


def _isomer_not_listed(answer: Answer) -> Iterator[Finding]:
    if answer.posterior.probability[answer.rows[0]] < _MIN_SURE_PROBABILITY:
        return
    if not answer.first_fits:
        return
    posterior, formula = answer.posterior, answer.posterior.table.text("formula")
    # Isomers that are not shown boil too far away to say anything of one that would boil here.
    isomers = [int(row) for row in answer.rows if formula[row] == formula[answer.rows[0]]]
    probability = posterior.none_of_these * float(posterior.unlisted_isomers[isomers].sum())
    if probability < _MIN_UNLISTED_ISOMERS:
        return
    name = answer.names(answer.rows[:1])
    yield Finding(
        "isomer-not-listed",
        "note",
        f"An isomer of {name} ({formula[isomers[0]]}) that is not in the table may read the same "
        f"(probability {100.0 * probability:.1f} %).",
        f"Where the bottle may hold an uncommon liquid, compare one more property with {name}, "
        "such as the refractive index or the density.",
        {"probability": probability},
    )


def _uncertain_boiling_point(answer: Answer) -> Iterator[Finding]:
    first = int(answer.rows[0])
    uncertainty = float(answer.posterior.table.number("boiling_point_u")[first])
    published = answer.posterior.table.number("boiling_point_published")[first] != 0.0
    if answer.posterior.evidence.boiling_point is None or (
        published and uncertainty <= _MAX_BOILING_POINT_U
    ):
        return
    name = answer.posterior.table.text("name")[first]
    origin = (
        "rests on sources that do not agree" if published else "is an estimate from its structure"
    )
    weak = (
        " It is too uncertain to support an agreement."
        if uncertainty > BOILING_POINT.allowance
        else ""
    )
    yield Finding(
        "boiling-point-uncertain",
        "note",
        f"The boiling point of {name} in the table {origin} (standard uncertainty "
        f"{uncertainty:.1f} °C), so that the reading says little for or against it.{weak}",
        "Look the boiling point up before you rely on this name.",
        {"standard_uncertainty_K": uncertainty},
    )


def _vapor_of_dimers(answer: Answer) -> Iterator[Finding]:
    table, weighing = answer.posterior.table, answer.posterior.evidence.bench.weighing
    first = int(answer.rows[0])
    constants = (table.number(name)[first] for name in ("dimer_enthalpy", "dimer_entropy"))
    coefficients = dimerization(*constants)
    if weighing is None or not np.isfinite(coefficients[0]):
        return
    bath, pressure = float(np.mean(weighing.bath)), float(np.mean(weighing.pressure))
    particles = float(particles_at_pressure(bath, pressure, coefficients))
    name = table.text("name")[first]
    yield Finding(
        "vapor-of-dimers",
        "note",
        f"Two molecules of {name} hold together as vapor: in this bath 100 of them are "
        f"{100.0 * particles:.0f} particles. That is counted here; the ideal gas alone reads "
        f"{100.0 / particles - 100.0:.0f} % high.",
        "Let boiling point, composition or a test decide: the constant is known to "
        f"{100.0 * table.number('dimer_u')[first]:.0f} %.",
        {"particles": particles},
    )


def _liquid_too_little(answer: Answer) -> Iterator[Finding]:
    bench, rows = answer.posterior.evidence.bench, answer.rows
    likely = rows[answer.posterior.probability[rows] >= MIN_LIKELY]
    likely = likely if len(likely) else rows[:1]
    expectation, names = answer.posterior.evidence.matcher.expectation, answer.posterior.table
    yield from liquid_too_little(
        bench.trials,
        bench.weighing,
        [names.text("name")[row] for row in likely],
        1e-3 * expectation.molar_mass[likely],
        expectation.liquid.take(likely),
    )


_FINDINGS: tuple[Callable[[Answer], Iterator[Finding]], ...] = (
    _nothing_measured,
    _nothing_plausible,
    _molar_mass_off,
    _no_carbon,
    _inseparable,
    _isomer_not_listed,
    _uncertain_boiling_point,
    _vapor_of_dimers,
    _liquid_too_little,
)
