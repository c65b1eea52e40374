"""A run as the checks see it: readings in SI units, NaN where missing or already doubted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from math import isfinite, nan

from identify.checks.readings import Doubted
from identify.measurement import Flask, Measurement, Trial
from identify.physics.constants import STANDARD_PRESSURE
from identify.physics.vapor import ideal_molar_mass
from identify.quantities import Quantity

# The shortcut is off by 8 % in the median and by up to 40 %, see `identify.physics.vapor`.
_SHORTCUT_UNCERTAINTY = 0.15


@dataclass(frozen=True)
class TrialFacts:
    """One trial: what was written, and its readings in SI units, NaN where missing or doubted.

    NaN compares as false with every number, so that a check without its readings is silent.

    Parameters
    ----------
    number : int
        From 1.
    trial : Trial
    flask : Flask
        The run's, with what the trial had of its own.
    bath, room : float
        In K.
    pressure : float
        In Pa.
    volume : float
        In m3.
    gain : float
        In kg.
    """

    number: int
    trial: Trial
    flask: Flask
    bath: float
    room: float
    pressure: float
    volume: float
    gain: float

    @property
    def ideal_molar_mass(self) -> float:
        """The shortcut's molar mass [g/mol], NaN where a reading is missing or there is no gain."""
        if not self.gain > 0.0:
            return nan
        return 1e3 * float(ideal_molar_mass(self.gain, self.bath, self.pressure, self.volume))


@dataclass(frozen=True)
class Facts:
    """One run for the checks.

    Parameters
    ----------
    run : Measurement
    doubted : frozenset of (str, Quantity)
        Fields and readings that other checks do without.
    given_molar_mass : (float, float) or None
        See `identify.checks.check`.
    percent_tolerance : float
        In percentage points.
    """

    run: Measurement
    doubted: Doubted = frozenset()
    given_molar_mass: tuple[float, float] | None = None
    percent_tolerance: float = 0.4

    @cached_property
    def trials(self) -> tuple[TrialFacts, ...]:
        """The trials in the order given."""
        return tuple(self._trial(number, trial) for number, trial in enumerate(self.run.trials, 1))

    @cached_property
    def boiling_point(self) -> float:
        """The boiling point at its own pressure [K], NaN where missing or doubted."""
        return self._si("boiling_point", self.run.boiling_point, "K")

    @cached_property
    def boiling_pressure(self) -> float:
        """Pressure of the boiling point [Pa]."""
        written = self._si("boiling_point_at", self.run.boiling_point_at, "Pa")
        return written if isfinite(written) else STANDARD_PRESSURE

    @cached_property
    def molar_mass(self) -> tuple[float, float] | None:
        """The measured molar mass and its standard uncertainty [g/mol], None where missing."""
        # What rests on a doubted reading is no base for another check.
        if self.run.molar_mass is not None:
            stated = self._written("molar_mass", self.run.molar_mass)
            if stated is None:
                return None
            value = stated.to("g/mol")
            return self.given_molar_mass or (value.value, value.uncertainty or 0.025 * value.value)
        each = [trial.ideal_molar_mass for trial in self.trials]
        if not each or not all(map(isfinite, each)):
            return None
        mean = sum(each) / len(each)
        return self.given_molar_mass or (mean, _SHORTCUT_UNCERTAINTY * mean)

    def about(self, trials: Iterable[TrialFacts], sentence: str) -> str:
        """Put the trials that a sentence is about before it, where the run has several."""
        numbers = [str(trial.number) for trial in trials]
        if len(self.trials) < 2:
            return sentence[:1].upper() + sentence[1:]
        if len(numbers) == 1:
            return f"Trial {numbers[0]}: {sentence}"
        return f"Trials {', '.join(numbers[:-1])} and {numbers[-1]}: {sentence}"

    def _trial(self, number: int, trial: Trial) -> TrialFacts:
        conditions, flask = self.run.trial_conditions(trial), self.run.trial_flask(trial)
        empty = self._si("empty", trial.empty, "kg")
        condensed = self._si("condensed", trial.condensed, "kg")
        return TrialFacts(
            number=number,
            trial=trial,
            flask=flask,
            bath=self._si("bath", trial.bath, "K"),
            room=self._si("room", conditions.room, "K"),
            pressure=self._si("pressure", conditions.pressure, "Pa"),
            volume=self._volume(flask),
            gain=condensed - empty,
        )

    def _volume(self, flask: Flask) -> float:
        for field in ("volume", "water_volume"):
            if getattr(flask, field) is not None:
                return self._si(field, getattr(flask, field), "m3")
        # Near enough for a check: a liter of water has a mass of 1 kg within 0.5 %.
        return self._si("water_mass", flask.water_mass, "kg") / 1000.0

    def _si(self, field: str, quantity: Quantity | None, unit: str) -> float:
        believed = self._written(field, quantity)
        return nan if believed is None else believed.to(unit).value

    def _written(self, field: str, quantity: Quantity | None) -> Quantity | None:
        return None if quantity is None or (field, quantity) in self.doubted else quantity
