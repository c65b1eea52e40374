"""What to measure next: how much each further measurement would tell of which candidate it is.

A prediction's own uncertainty and the reading's are taken together. A test in a test tube goes
wrong now and then, see `tube_tests`. Candidates below one in ten thousand are left out, so is the
chance that it is none of the table's compounds: no measurement here tells what that would show.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.compounds.table import ESTIMATED, CandidateTable
from identify.matching.advise.further_readings import FurtherReading, further_readings
from identify.matching.advise.information import entropy, gain_of_outcomes
from identify.matching.advise.tube_tests import TUBE_TESTS, soluble, tube_test_chances
from identify.matching.posterior import Posterior
from identify.notebook.findings import listed
from identify.notebook.serializing import Serializable, decimals, serialized
from identify.physics.arrays import Array

DECIDED = 0.1
"""Bits: with no more missing the candidates are as good as told apart."""

_MIN_PROBABILITY = 1e-4
_MAX_CANDIDATES = 50
# A measurement helps that tells at least this part of what is missing, or this many bits.
_WORTHWHILE_SHARE, _WORTHWHILE_GAIN = 0.2, 0.5
_MAX_NAMES_IN_SENTENCE = 3
_MAX_FORETOLD = 10  # candidates whose reading is foretold in the data

_WITH_CARE = "Ask the instructor, and read the safety data sheets of the reagents first."


def _named_values(predicted: Sequence[tuple[str, str]]) -> list[dict[str, str]]:
    return [{"name": name, "value": value} for name, value in predicted]


@dataclass(frozen=True)
class NextMeasurement(Serializable):
    """One further measurement, and what it would be good for.

    Parameters
    ----------
    what : str
        As it stands in a sentence: "the refractive index".
    code : str
        Stays as it is from version to version.
    gain_bits : float
        Expected information gain; one bit halves what is left.
    predicted : tuple of (str, str)
        Name and expected reading of the candidates, the most probable first, at most ten.
    advice : str
        One or two sentences for the bench.
    """

    what: str = field(metadata=serialized(str, "measurement"))
    code: str
    gain_bits: float = field(metadata=decimals(4, "information_gain_bits"))
    predicted: tuple[tuple[str, str], ...] = field(metadata=serialized(_named_values))
    advice: str


@dataclass(frozen=True)
class Remaining:
    """The candidates that a match leaves, and what they would show in further measurements.

    Parameters
    ----------
    rows : array of int, shape (k,)
        Of the candidate table, the most probable first.
    names : tuple of str, length k
    probability : array, shape (k,)
        Sums to one.
    readings : tuple of FurtherReading
        What could be read on a scale and was not yet, or could be again.
    soluble : array, shape (k,)
        Chance of being seen to dissolve in water; NaN where not known.
    groups : tuple of str, length k
        Functional groups, as the table has them.
    """

    rows: NDArray[np.int64]
    names: tuple[str, ...]
    probability: Array
    readings: tuple[FurtherReading, ...]
    soluble: Array
    groups: tuple[str, ...]

    @classmethod
    def of(cls, posterior: Posterior, rows: NDArray[np.int64]) -> Remaining:
        """Take what further measurements need from a match.

        Parameters
        ----------
        posterior : Posterior
        rows : array of int
            Of the table, the most probable first; at least one.
        """
        probability = posterior.probability[rows]
        kept = rows[probability >= _MIN_PROBABILITY * probability.sum()][:_MAX_CANDIDATES]
        kept = kept if len(kept) else rows[:1]
        probability = posterior.probability[kept]
        total = float(probability.sum())
        table = posterior.table
        text = {name: table.text(name) for name in ("name", "groups", "log_p_source")}
        return cls(
            rows=kept,
            names=tuple(text["name"][row] for row in kept),
            probability=probability / total if total > 0.0 else np.full(len(kept), 1 / len(kept)),
            readings=tuple(further_readings(posterior, kept)),
            soluble=_soluble(table, kept, [text["log_p_source"][row] for row in kept]),
            groups=tuple(text["groups"][row] for row in kept),
        )

    @cached_property
    def missing_bits(self) -> float:
        """What is missing to know which of the candidates it is [bits]."""
        return entropy(self.probability)

    @cached_property
    def measurements(self) -> tuple[NextMeasurement, ...]:
        """Every measurement that is offered, the one that tells most first."""
        offered = [*self._on_a_scale(), self._solubility(), *self._tests()]
        return tuple(sorted(offered, key=lambda one: -round(one.gain_bits, 6)))

    @property
    def best(self) -> NextMeasurement | None:
        """The measurement that tells most; None where none is worth the while."""
        first = self.measurements[0]
        return first if self.is_worthwhile(first) else None

    def is_worthwhile(self, measurement: NextMeasurement) -> bool:
        """Say whether a measurement tells enough of what is missing to be made."""
        least = min(_WORTHWHILE_SHARE * self.missing_bits, _WORTHWHILE_GAIN)
        return measurement.gain_bits >= least > 0.0

    def among(self, rows: NDArray[np.int64]) -> Remaining | None:
        """Return these rows of the table alone, None where fewer than two of them remain."""
        places = np.flatnonzero(np.isin(self.rows, rows))
        if len(places) < 2:
            return None
        probability = self.probability[places]
        return Remaining(
            rows=self.rows[places],
            names=tuple(self.names[place] for place in places),
            probability=probability / probability.sum(),
            readings=tuple(reading.of(places) for reading in self.readings),
            soluble=self.soluble[places],
            groups=tuple(self.groups[place] for place in places),
        )

    def _on_a_scale(self) -> Iterator[NextMeasurement]:
        for reading in self.readings:
            told = [reading.told(place) for place in range(len(self.names[:_MAX_FORETOLD]))]
            gain = reading.gain(self.probability)
            yield self._offer(reading.what, reading.code, gain, told)

    def _solubility(self) -> NextMeasurement:
        chances = np.column_stack([self.soluble, 1.0 - self.soluble])
        gain = gain_of_outcomes(self.probability, chances)
        told = [_solubility_told(chance) for chance in self.soluble[:_MAX_FORETOLD]]
        return self._offer("whether it dissolves in water", "solubility", gain, told)

    def _tests(self) -> Iterator[NextMeasurement]:
        for place, test in enumerate(TUBE_TESTS):
            gain = gain_of_outcomes(self.probability, tube_test_chances(place, self.groups))
            told = [test.seen(groups) for groups in self.groups[:_MAX_FORETOLD]]
            yield self._offer(test.what, test.code, gain, told, _WITH_CARE)

    def _offer(
        self, what: str, code: str, gain: float, told: Sequence[str], care: str = ""
    ) -> NextMeasurement:
        verb = "Do" if care else "See" if what.startswith("whether") else "Measure"
        predicted = tuple(zip(self.names, told, strict=False))
        advice = f"{verb} {what}: {_expected(predicted)}."
        return NextMeasurement(what, code, gain, predicted, f"{advice} {care}".strip())


def deciding_sentences(remaining: Remaining, is_surer: bool = False) -> str:
    """Return what to measure next as a short paragraph.

    Parameters
    ----------
    remaining : Remaining
    is_surer : bool
        Whether one candidate leads clearly, and the measurement would only make that surer.
    """
    best = remaining.best
    if best is None:
        return f"No simple measurement tells these apart: {_TOGETHER}."
    second = remaining.measurements[1]
    others = (
        f"next best: {second.what} ({second.gain_bits:.1f})"
        if remaining.is_worthwhile(second)
        else "nothing else here helps"
    )
    purpose = "To be surer" if is_surer else "To decide"
    return (
        f"{purpose}, {best.advice[0].lower()}{best.advice[1:]} That is expected to tell "
        f"{_share(best, remaining)} (one bit halves what is left); {others}."
    )


def separating_sentence(remaining: Remaining | None) -> str:
    """Return what would separate candidates that the readings so far do not."""
    best = None if remaining is None else remaining.best
    if remaining is None or best is None:
        return f"No simple measurement separates them either: {_TOGETHER}."
    return (
        f"Of further measurements, {best.what} separates them best: it is expected to tell "
        f"{_share(best, remaining)}."
    )


_TOGETHER = "give them together as the answer, or ask for a spectrum"


def _share(best: NextMeasurement, remaining: Remaining) -> str:
    gain, missing = f"{best.gain_bits:.1f}", f"{remaining.missing_bits:.1f}"
    told = "nearly all" if gain == missing else gain
    return f"{told} of the {missing} bits that are missing"


def _expected(predicted: Sequence[tuple[str, str]]) -> str:
    """Return the expected readings in words, candidates that read the same together."""
    alike: dict[str, list[str]] = {}
    for name, value in predicted[:_MAX_NAMES_IN_SENTENCE]:
        alike.setdefault(value, []).append(name)
    return "; ".join(f"{value} for {listed(names)}" for value, names in alike.items())


def _solubility_told(chance: float) -> str:
    if not np.isfinite(chance):
        return "not known"
    return "soluble" if chance > 0.8 else "insoluble" if chance < 0.2 else "uncertain"


def _soluble(table: CandidateTable, rows: NDArray[np.int64], sources: Sequence[str]) -> Array:
    is_estimated = np.array([source == ESTIMATED for source in sources], dtype=bool)
    log_p, molar_mass = (table.number(name)[rows] for name in ("log_p", "molar_mass"))
    return soluble(log_p, molar_mass, is_estimated)
