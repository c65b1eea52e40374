"""The students' runs: each by itself, and all of one bottle together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.checks.readings import unbelievable
from identify.matching.expected.expectation import Expectation
from identify.notebook.measurement import Measurement, Trial
from identify.physics.arrays import Array
from identify.physics.vapor import Weighing
from identify.section.key import folded_label


@dataclass(frozen=True)
class StudentRun:
    """One student's run on one bottle.

    Parameters
    ----------
    index : int
        Among the runs of the section.
    measurement : Measurement
    bench : Bench
    rows : tuple of int
        Of the file.
    is_doubted : bool
        Whether a reading of its weighings cannot be right.
    """

    index: int
    measurement: Measurement
    bench: Bench
    rows: tuple[int, ...] = ()
    is_doubted: bool = False

    @classmethod
    def of(cls, index: int, measurement: Measurement, rows: Sequence[int] = ()) -> StudentRun:
        """Convert a measurement into SI units, and check its readings."""
        faults, _ = unbelievable(measurement)
        return cls(index, measurement, Bench.of(measurement), tuple(rows), bool(faults))

    @property
    def student(self) -> str:
        """The student's name, or where the run stands in the file."""
        number = f"row {self.rows[0]}" if self.rows else f"run {self.index + 1}"
        return self.measurement.student or number

    def circumstances(self, trial: Trial | None) -> dict[str, str]:
        """Return the day and the instruments of a trial; the run's own where it is None."""
        own = {} if trial is None else dict(trial.circumstances)
        return {**dict(self.measurement.circumstances), **own}


@dataclass(frozen=True)
class BottleRuns:
    """All runs on one bottle, and their trials as one weighing.

    Parameters
    ----------
    label : str
        As it first stands in the file.
    runs : tuple of StudentRun
    weighing : Weighing or None
        Of all ``trials``; None where nobody weighed.
    """

    label: str
    runs: tuple[StudentRun, ...]
    weighing: Weighing | None = None

    @classmethod
    def of(cls, runs: Sequence[StudentRun]) -> BottleRuns:
        """Collect the runs of one label."""
        weighings = [run.bench.weighing for run in runs if run.bench.weighing is not None]
        joined = Weighing.joined(weighings) if weighings else None
        return cls(runs[0].measurement.label, tuple(runs), joined)

    @cached_property
    def trials(self) -> list[tuple[int, Trial]]:
        """The trials of ``weighing``, in its order, each with the place of its run in ``runs``."""
        return [
            (place, run.measurement.trials[trial.number - 1])
            for place, run in enumerate(self.runs)
            for trial in run.bench.trials
        ]

    @cached_property
    def trial_numbers(self) -> NDArray[np.int64]:
        """Number of each trial on its page, from 1, shape (trials,)."""
        numbers = [trial.number for run in self.runs for trial in run.bench.trials]
        return np.array(numbers, dtype=np.int64)

    @cached_property
    def run_of_trial(self) -> NDArray[np.int64]:
        """Place in ``runs`` of each trial, shape (trials,)."""
        return np.array([place for place, _ in self.trials], dtype=np.int64)

    @cached_property
    def doubted(self) -> NDArray[np.bool_]:
        """Whose weighings cannot be right as they are written, shape (runs,)."""
        return np.array([run.is_doubted for run in self.runs])

    @cached_property
    def _stated(self) -> Array:
        """Molar masses that were stated instead of weighings [g/mol], shape (runs,), else NaN."""
        stated = (run.bench.molar_mass for run in self.runs)
        return np.array([np.nan if one is None else one.value for one in stated])

    def trial_offsets(self, liquids: Expectation) -> Array:
        """Return how far each trial is from each liquid, as `offsets` says it, (trials, n)."""
        return _log(self._trial_molar_masses(liquids) / liquids.molar_mass)

    def offsets(self, liquids: Expectation) -> Array:
        """Return how far each student's molar mass is from each liquid's, as a logarithm.

        Parameters
        ----------
        liquids : Expectation
            Of n liquids.

        Returns
        -------
        array, shape (runs, n)
            Of the mean over a student's trials; NaN where there is none, or it is not a mass.
        """
        masses = np.repeat(self._stated[:, np.newaxis], len(liquids.molar_mass), axis=1)
        if self.weighing is not None:
            each = self._trial_molar_masses(liquids)
            sums = np.zeros((len(self.runs), each.shape[1]))
            np.add.at(sums, self.run_of_trial, each)
            counts = np.bincount(self.run_of_trial, minlength=len(self.runs))[:, np.newaxis]
            with np.errstate(invalid="ignore"):
                masses = np.where(counts > 0, sums / counts, masses)
        return _log(masses / liquids.molar_mass)

    def _trial_molar_masses(self, liquids: Expectation) -> Array:
        """Return each trial's molar mass with each liquid's corrections, (trials, n) [g/mol]."""
        assert self.weighing is not None
        return liquids.implied_molar_mass(self.weighing)


def runs_by_bottle(runs: Iterable[StudentRun]) -> dict[str, BottleRuns]:
    """Group runs by their bottle's label, in the order in which the labels first appear.

    Returns
    -------
    dict of str to BottleRuns
        By label as `folded_label` writes it.
    """
    groups: dict[str, list[StudentRun]] = {}
    for run in runs:
        groups.setdefault(folded_label(run.measurement.label), []).append(run)
    return {label: BottleRuns.of(group) for label, group in groups.items()}


def _log(ratio: Array) -> Array:
    """Return the natural logarithm, NaN for what has none."""
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.log(np.where(ratio > 0.0, ratio, np.nan))
