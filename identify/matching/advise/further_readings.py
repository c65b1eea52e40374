"""Readings on a scale that could still be made, and what each candidate would show in them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from identify.matching.advise.information import gain_of_reading
from identify.matching.posterior import Posterior
from identify.notebook.usual import tolerance_u
from identify.observables.boiling_point import BOILING_POINT
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.observables.error.comparison import normal
from identify.observables.weighing import MOLAR_MASS
from identify.physics.arrays import Array

# Read with care, on a thermometer divided in degrees, with its stem correction. Common practice.
_CAREFUL_BOILING_POINT = 0.5  # K
# A prediction this many times less certain than the reading is given as "about".
_ABOUT_RATIO = 3.0


@dataclass(frozen=True)
class FurtherReading:
    """A measurement on a scale: what each of k candidates would read.

    Parameters
    ----------
    what, code : str
    value : array, shape (k,)
        NaN where nothing is known.
    prediction_u : array, shape (k,)
        Standard uncertainty of the prediction.
    reading_u : array, shape (k,), or float
        Standard uncertainty of the reading.
    shown : array, shape (k,)
        What of each candidate is told.
    tell : callable
        How one of ``shown`` is written with its unit, behind "about" or nothing.
    """

    what: str
    code: str
    value: Array
    prediction_u: Array
    reading_u: Array | float
    shown: Array
    tell: Callable[[float, str], str]

    def gain(self, probability: Array) -> float:
        """Return the expected information gain [bits]."""
        uncertainty = np.hypot(self.prediction_u, self.reading_u)
        return gain_of_reading(probability, self.value, uncertainty)

    def of(self, places: NDArray[np.int64]) -> FurtherReading:
        """Return what some of the candidates would read."""
        reading_u = np.broadcast_to(self.reading_u, self.value.shape)
        return FurtherReading(
            self.what,
            self.code,
            self.value[places],
            self.prediction_u[places],
            reading_u[places],
            self.shown[places],
            self.tell,
        )

    def told(self, place: int) -> str:
        """Return what a candidate would read, in words."""
        if not np.isfinite(self.value[place]):
            return "not known"
        reading_u = float(np.broadcast_to(self.reading_u, self.value.shape)[place])
        about = "about " if self.prediction_u[place] > _ABOUT_RATIO * reading_u else ""
        return self.tell(float(self.shown[place]), about)


def further_readings(posterior: Posterior, rows: NDArray[np.int64]) -> Iterator[FurtherReading]:
    """Yield what could be read on a scale and was not yet, or could be again.

    Parameters
    ----------
    posterior : Posterior
    rows : array of int, shape (k,)
        The candidates' rows of the table.
    """
    matcher = posterior.evidence.matcher
    for name, constant in LIQUID_CONSTANTS.items():
        if name in posterior.likelihoods:
            continue
        value, prediction_u = (column[rows] for column in matcher.expectation.predicted(name))
        # All that stays liquid in the coldest bath looks alike.
        value = np.maximum(value, constant.coldest)
        reading_u = constant.scale * tolerance_u(getattr(matcher.tolerances, name))
        yield FurtherReading(
            constant.what,
            constant.option,
            value,
            prediction_u,
            reading_u,
            value,
            constant.foretold,
        )
    yield _boiling_point(posterior, rows)
    # Who has weighed already is told what is missing, not to weigh.
    if posterior.evidence.bench.weighing is not None or not posterior.evidence.bench.unused:
        yield _weighing(posterior, rows)


def _boiling_point(posterior: Posterior, rows: NDArray[np.int64]) -> FurtherReading:
    evidence, expectation = posterior.evidence, posterior.evidence.matcher.expectation
    value = expectation.boiling_point(evidence.bench.boiling_pressure)[rows]
    variance = expectation.boiling_point_u[rows] ** 2
    first, what = evidence.boiling_point, "the boiling point to half a degree"
    if first is not None:
        what = "the boiling point again, to half a degree"
        # If it is this candidate, the first reading says where within the table's uncertainty it
        # boils, unless that was a gross error.
        sigma = np.broadcast_to(first.sigma, first.deviation.shape)[rows]
        deviation = first.deviation[rows]
        sound = (1.0 - first.gross) * normal(deviation, sigma)
        sound = np.clip(sound / posterior.likelihoods["boiling_point"][rows], 0.0, 1.0)
        step = variance / sigma**2 * deviation
        value = value + sound * step
        variance = variance * (1.0 - sound * variance / sigma**2)
        variance += sound * (1.0 - sound) * step**2
    return FurtherReading(
        what,
        "boiling-point",
        value,
        np.sqrt(variance),
        _CAREFUL_BOILING_POINT,
        value,
        lambda kelvins, about: about + BOILING_POINT.told(kelvins).replace("-", "−"),
    )


def _weighing(posterior: Posterior, rows: NDArray[np.int64]) -> FurtherReading:
    """Return a weighing again, with the standard error that the first one had."""
    matcher, first = posterior.evidence.matcher, posterior.evidence.molar_mass
    molar_mass = matcher.expectation.molar_mass[rows]
    if first is None:
        what, value = "the molar mass by a weighing of the vapor", molar_mass
        sigma = matcher.technique.spread * molar_mass
    else:
        # From the first reading, which each candidate corrects in its own way.
        what, value = "the molar mass by one more weighing", -first.deviation[rows]
        # Whoever weighs again works as before.
        stated = np.broadcast_to(first.sigma, first.deviation.shape)[rows]
        sigma = np.maximum(stated, matcher.technique.spread * molar_mass)
    exact = np.zeros(len(rows))
    return FurtherReading(what, "weighing", value, exact, sigma, molar_mass, _in_grams)


def _in_grams(molar_mass: float, about: str) -> str:
    return f"{about}{molar_mass:.{MOLAR_MASS.decimals}f} g/mol"
