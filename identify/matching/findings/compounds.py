"""Findings on compounds: not to be told apart, not in the table, hardly known."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from identify.checks.filling import MIN_LIKELY, liquid_too_little
from identify.matching.advise.next_measurement import separating_sentence
from identify.matching.findings.answered import MIN_SURE_PROBABILITY, Answer, inseparable
from identify.notebook.findings import Finding
from identify.observables.boiling_point import BOILING_POINT
from identify.physics.constants import ELEMENTS
from identify.physics.dimers import dimerization, particles_at_pressure

_MIN_UNLISTED_ISOMERS = 0.002  # probability from which isomers that are not in the table are told
_MAX_BOILING_POINT_U = 2.0  # K: known worse than a thermometer reads


def no_carbon(answer: Answer) -> Iterator[Finding]:
    """Find a card that has no room for carbon, which every compound holds."""
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


def not_told_apart(answer: Answer) -> Iterator[Finding]:
    """Find candidates that these readings cannot tell from the first."""
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


def isomer_not_listed(answer: Answer) -> Iterator[Finding]:
    """Find isomers that are not in the table and could read the same."""
    if answer.posterior.probability[answer.rows[0]] < MIN_SURE_PROBABILITY:
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


def uncertain_boiling_point(answer: Answer) -> Iterator[Finding]:
    """Find a first candidate whose boiling point the table hardly knows."""
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


def vapor_of_dimers(answer: Answer) -> Iterator[Finding]:
    """Find a first candidate whose vapor is half dimers."""
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


def too_little_poured(answer: Answer) -> Iterator[Finding]:
    """Find less liquid than fills the flask with vapor."""
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
