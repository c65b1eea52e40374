"""The students of a section by bottle, and what each of them weighed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.checks.readings import unbelievable
from identify.compounds.table import CandidateTable
from identify.notebook.measurement import Measurement
from identify.observables.comparison import Array
from identify.observables.expectation import Expectation
from identify.physics.vapor import Weighing
from identify.section.key import folded


@dataclass(frozen=True)
class Attempt:
    """One student's run on one bottle.

    Parameters
    ----------
    place : int
        Among the runs of the section.
    run : Measurement
    bench : Bench
    rows : tuple of int
        Of the file.
    is_doubted : bool
        Whether a reading of its weighings cannot be right.
    """

    place: int
    run: Measurement
    bench: Bench
    rows: tuple[int, ...] = ()
    is_doubted: bool = False

    @classmethod
    def of(cls, place: int, run: Measurement, rows: Sequence[int] = ()) -> Attempt:
        """Take a run."""
        found, _ = unbelievable(run)
        return cls(place, run, Bench.of(run), tuple(rows), bool(found))

    @property
    def student(self) -> str:
        """The student's name, or where the run stands in the file."""
        return self.run.student or (f"row {self.rows[0]}" if self.rows else f"run {self.place + 1}")


@dataclass(frozen=True)
class Bottle:
    """One unknown: all who worked on it, and their trials in one.

    Parameters
    ----------
    label : str
        As it first stands in the file.
    attempts : tuple of Attempt
    weighing : Weighing or None
        The trials of all of them, one entry a trial; None where nobody weighed.
    student : array of int, shape (trials,)
        Whose trial each is, a place in ``attempts``.
    """

    label: str
    attempts: tuple[Attempt, ...]
    weighing: Weighing | None = None
    student: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))

    @classmethod
    def of(cls, attempts: Sequence[Attempt]) -> Bottle:
        """Put the runs of one label together."""
        weighed = [
            (place, attempt.bench.weighing)
            for place, attempt in enumerate(attempts)
            if attempt.bench.weighing is not None
        ]
        label = attempts[0].run.label
        if not weighed:
            return cls(label, tuple(attempts))
        together = Weighing(
            **{
                one.name: np.concatenate([getattr(weighing, one.name) for _, weighing in weighed])
                for one in fields(Weighing)
            }
        )
        student = np.repeat(
            np.array([place for place, _ in weighed]), [weighing.trials for _, weighing in weighed]
        )
        return cls(label, tuple(attempts), together, student)

    @property
    def students(self) -> int:
        """Number of students."""
        return len(self.attempts)

    @cached_property
    def doubted(self) -> NDArray[np.bool_]:
        """Whose weighings cannot be right as they are written, shape (students,)."""
        return np.array([attempt.is_doubted for attempt in self.attempts])

    @cached_property
    def given(self) -> Array:
        """Molar masses that were given as such [g/mol], shape (students,), NaN where none was."""
        stated = (attempt.bench.molar_mass for attempt in self.attempts)
        return np.array([np.nan if one is None else one.value for one in stated])

    @property
    def is_weighed(self) -> bool:
        """Whether anything says what the molar mass is."""
        return self.weighing is not None or bool(np.isfinite(self.given).any())

    def with_weighing(self, weighing: Weighing) -> Bottle:
        """Return the bottle with its trials read otherwise."""
        return replace(self, weighing=weighing)

    def each_trial(self, liquids: Expectation) -> Array:
        """Return the molar mass of each trial if the bottle holds this liquid or that.

        Parameters
        ----------
        liquids : Expectation
            Of n liquids.

        Returns
        -------
        array, shape (trials, n) [g/mol]
        """
        assert self.weighing is not None
        return liquids.implied_molar_mass(self.weighing)

    def offsets(self, liquids: Expectation) -> Array:
        """Return how far each student's molar mass is from each liquid's, as a logarithm.

        Returns
        -------
        array, shape (students, n)
            Of the mean over a student's trials; NaN where there is none, or it is no mass.
        """
        masses = np.repeat(self.given[:, np.newaxis], len(liquids.molar_mass), axis=1)
        if self.weighing is not None:
            each = self.each_trial(liquids)
            sums = np.zeros((self.students, each.shape[1]))
            np.add.at(sums, self.student, each)
            counts = np.bincount(self.student, minlength=self.students)[:, np.newaxis]
            with np.errstate(invalid="ignore"):
                masses = np.where(counts > 0, sums / counts, masses)
        return logarithm(masses / liquids.molar_mass)


def logarithm(ratio: Array) -> Array:
    """Return the natural logarithm, NaN where there is none.

    Examples
    --------
    >>> logarithm(np.array([1.0, -1.0]))
    array([ 0., nan])
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.log(np.where(ratio > 0.0, ratio, np.nan))


def bottles_of(attempts: Iterable[Attempt]) -> dict[str, Bottle]:
    """Put attempts together by label, in the order in which the labels first appear.

    Returns
    -------
    dict of str to Bottle
        By label as `folded` writes it.
    """
    together: dict[str, list[Attempt]] = {}
    for attempt in attempts:
        together.setdefault(folded(attempt.run.label), []).append(attempt)
    return {label: Bottle.of(found) for label, found in together.items()}


def expectation_of(table: CandidateTable, rows: Sequence[int] | NDArray[np.int64]) -> Expectation:
    """Return what the bench would read of some liquids of a table."""
    return Expectation.of(table.take(rows))
