"""The probability of each candidate taken apart: a term an observable, and those before them.

The terms add up: the sum of a candidate's logarithms minus another's is the logarithm of how many
times as probable it is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import isfinite

import numpy as np

from identify.matching.evidence import CandidateEvidence
from identify.matching.expected.suitability import laboratory_pressure
from identify.matching.posterior import Posterior
from identify.observables.boiling_point import BOILING_POINT
from identify.observables.catalog import LIQUID_CONSTANTS, OBSERVABLES
from identify.observables.error.comparison import Comparison
from identify.observables.observable import Observable
from identify.observables.weighing import MOLAR_MASS
from identify.physics.arrays import Array
from identify.physics.constants import ELEMENTS, ICE_POINT
from identify.physics.vapor import Weighing

_ELEMENT_NAMES = {
    "C": "carbon",
    "H": "hydrogen",
    "N": "nitrogen",
    "O": "oxygen",
    "S": "sulfur",
    "P": "phosphorus",
    "F": "fluorine",
    "Cl": "chlorine",
    "Br": "bromine",
    "I": "iodine",
    "Si": "silicon",
    "B": "boron",
}


_ROOM_FOR_OTHERS_DECIMALS = 1
_DECIMALS_BY_UNIT = {"g/mol": 1, "%": 2, "°C": 1}


@dataclass(frozen=True)
class Term:
    """What one observable says about n candidates.

    Parameters
    ----------
    observable : str
        Its code: ``commonness``, ``liquid_in_room``, ``boils_off``, ``molar_mass``,
        ``not_boiled_off``, ``percent_C`` and so on, ``other_elements``, ``boiling_point``, or the
        name of a further one.
    name : str
        In words.
    unit : str
        Of ``predicted`` and ``measured``; empty for a plain number.
    log_likelihood : array, shape (n,)
        Natural logarithm, up to a constant that all candidates share.
    predicted, measured : array, shape (n,), or None
        What each candidate would have given, and what was read: for a molar mass with each
        candidate's corrections. NaN where the table knows nothing. For ``liquid_in_room``,
        ``boils_off`` and ``not_boiled_off`` the boiling point, and the temperature that it is
        compared with.
    deviation : array, shape (n,), or None
        Reading minus prediction, in tolerances: 1 is the last that agrees. None where there is
        no tolerance.
    """

    observable: str
    name: str
    unit: str
    log_likelihood: Array
    predicted: Array | None = None
    measured: Array | None = None
    deviation: Array | None = None


def terms(posterior: Posterior) -> tuple[Term, ...]:
    """Take a posterior apart.

    Returns
    -------
    tuple of Term
        In the order of a notebook page: what was known before, weighings, card.
    """
    parts = (_before_the_readings, _molar_mass, _composition, _boiling_point, _further)
    return tuple(term for part in parts for term in part(posterior))


def reading_text(value: float | None, observable: str, unit: str) -> str:
    """Return a predicted or measured value with the decimals of its kind, a dash for none.

    Examples
    --------
    >>> reading_text(84.162, "molar_mass", "g/mol"), reading_text(0.7893, "density", "g/mL")
    ('84.2', '0.789')
    """
    if value is None or not isfinite(value):
        return "-"
    if observable == "other_elements":
        decimals: int | None = _ROOM_FOR_OTHERS_DECIMALS
    elif observable in OBSERVABLES:
        decimals = OBSERVABLES[observable].decimals
    else:
        decimals = _DECIMALS_BY_UNIT.get(unit)
    return f"{value:.4g}" if decimals is None else f"{value:.{decimals}f}"


def _before_the_readings(posterior: Posterior) -> Iterator[Term]:
    evidence, weighing = posterior.evidence, posterior.evidence.bench.weighing
    prior, liquid = _log(evidence.matcher.prior), _log(evidence.stays_liquid)
    yield Term("commonness", "how common it is", "", prior)
    boils, room = _boiling_in_the_laboratory(evidence), None
    if weighing is not None:
        room = np.full_like(boils, float(np.mean(weighing.room)) - ICE_POINT)
    yield Term("liquid_in_room", "a liquid in the room", "°C", liquid, boils, room)
    if weighing is not None:
        # What is left of the probability before the readings: whether it suits the bath.
        suits = np.zeros(len(prior))
        np.subtract(_log(posterior.base) - liquid, prior, out=suits, where=np.isfinite(prior))
        yield Term("boils_off", "boils off in the bath", "°C", suits, boils, _bath(weighing, boils))


def _molar_mass(posterior: Posterior) -> Iterator[Term]:
    evidence, weighing = posterior.evidence, posterior.evidence.bench.weighing
    comparison = evidence.molar_mass
    if comparison is None:
        return
    whole = _log(posterior.likelihoods["molar_mass"])
    # As if each had boiled off. What may not have makes the weighing say less, whichever way.
    boiled_off = _log(replace(comparison, gross=MOLAR_MASS.gross).likelihood())
    predicted = evidence.matcher.expectation.molar_mass
    yield Term(
        "molar_mass",
        "molar mass",
        "g/mol",
        whole if weighing is None else boiled_off,
        predicted,
        predicted + comparison.deviation,
        _in_tolerances(comparison),
    )
    if weighing is not None:
        boils, less = _boiling_in_the_laboratory(evidence), whole - boiled_off
        bath = _bath(weighing, boils)
        yield Term("not_boiled_off", "may not have boiled off", "°C", less, boils, bath)


def _composition(posterior: Posterior) -> Iterator[Term]:
    evidence, percent = posterior.evidence, posterior.evidence.matcher.expectation.percent
    rest = _log(evidence.likelihoods.get("composition", np.ones(len(posterior.base))))
    for row, comparison in evidence.elements.items():
        each = _log(comparison.likelihood())
        rest = rest - each
        predicted = percent[row]
        yield Term(
            f"percent_{ELEMENTS[row]}",
            _ELEMENT_NAMES[ELEMENTS[row]],
            "%",
            each,
            predicted,
            predicted + comparison.deviation,
            _in_tolerances(comparison),
        )
    claim = evidence.unmentioned
    if claim is None:
        return
    others = np.delete(percent, list(evidence.elements), axis=0).sum(axis=0)
    room = max(100.0 - sum(stated.value for stated in evidence.bench.percent.values()), 0.0)
    yield Term(
        "other_elements",
        "other elements",
        "%",
        rest,
        others,
        np.full_like(others, room),
        0.0 - claim.excess / (2.0 * claim.sigma),
    )


def _boiling_point(posterior: Posterior) -> Iterator[Term]:
    comparison, reading = posterior.evidence.boiling_point, posterior.evidence.bench.boiling_point
    if comparison is not None and reading is not None:
        read = np.full_like(comparison.deviation, reading.value)
        likelihood = posterior.likelihoods["boiling_point"]
        yield _compared(BOILING_POINT, read, comparison, likelihood)


def _further(posterior: Posterior) -> Iterator[Term]:
    for name, comparison in posterior.evidence.further.items():
        read = np.full_like(comparison.deviation, posterior.evidence.bench.further[name].value)
        yield _compared(LIQUID_CONSTANTS[name], read, comparison, posterior.likelihoods[name])


def _compared(
    observable: Observable, read: Array, comparison: Comparison, likelihood: Array
) -> Term:
    return Term(
        observable.name,
        observable.words,
        observable.unit_text.strip(),
        _log(likelihood),
        observable.shown(read - comparison.deviation),
        observable.shown(read),
        _in_tolerances(comparison),
    )


def _boiling_in_the_laboratory(evidence: CandidateEvidence) -> Array:
    pressure = laboratory_pressure(evidence.bench)
    return evidence.matcher.expectation.boiling_point(pressure) - ICE_POINT


def _bath(weighing: Weighing, like: Array) -> Array:
    return np.full_like(like, float(np.mean(weighing.bath)) - ICE_POINT)


def _in_tolerances(comparison: Comparison) -> Array:
    return np.asarray(comparison.deviation / comparison.half_width)


def _log(values: Array) -> Array:
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(values))
