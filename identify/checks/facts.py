"""A run as the checks see it: readings in SI units, NaN where missing or already doubted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from math import hypot, isfinite, nan

from identify.checks.readings import Doubted, about_trials
from identify.notebook import usual
from identify.notebook.measurement import Flask, Measurement, Trial
from identify.notebook.quantities import Quantity
from identify.observables.tolerances import Tolerances
from identify.physics.air import moist_air_density
from identify.physics.boiling import vapor_pressure_by_trouton
from identify.physics.constants import STANDARD_PRESSURE
from identify.physics.vapor import ideal_molar_mass

# For all that happens at the bench: that of the usual tolerance.
_BENCH = 0.01 * usual.tolerance_u(Tolerances.molar_mass)
# Vapor in the bath is denser than an ideal gas by a factor 1.038, standard deviation 0.010: all
# candidates of the built-in table that boil 5 degrees above the room and below the bath, at 700 to
# 1013 hPa and 18 to 28 degrees Celsius, with the air shut out by Trouton's rule.
_DENSER, _DENSER_SD = 1.038, 0.010
# Without a boiling point, what the shortcut leaves out is -5 % to +28 g/mol for the same liquids.
_LEFT_OUT, _LEFT_OUT_SD = 8.0, 7.0  # g/mol


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
        return self.molar_mass_of(self.gain)

    def molar_mass_of(self, vapor: float) -> float:
        """Return what molar mass this mass of ideal gas [kg] has [g/mol]."""
        if not self.gain > 0.0:
            return nan
        return 1e3 * float(ideal_molar_mass(vapor, self.bath, self.pressure, self.volume))


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
            return self.given_molar_mass or (value.value, value.uncertainty or _BENCH * value.value)
        each = [self.estimated_molar_mass(trial) for trial in self.trials]
        if not each or not all(isfinite(value) for value, _ in each):
            return None
        # What the estimate leaves out is the same for all trials: nothing averages out.
        value, sigma = (sum(column) / len(each) for column in zip(*each, strict=True))
        return self.given_molar_mass or (value, sigma)

    def estimated_molar_mass(self, trial: TrialFacts) -> tuple[float, float]:
        """Return a trial's molar mass and its standard uncertainty [g/mol], NaN where missing.

        Nothing is known of the liquid but, perhaps, its boiling point: that tells, nearly, how much
        air its vapor shuts out of the cooled flask.
        """
        shut_out = self._air_shut_out(trial)
        if not isfinite(shut_out):
            shortcut = trial.ideal_molar_mass
            return shortcut + _LEFT_OUT, hypot(_BENCH * shortcut, _LEFT_OUT_SD)
        value = trial.molar_mass_of(trial.gain + shut_out) / _DENSER
        return value, hypot(_BENCH, _DENSER_SD) * value

    def _air_shut_out(self, trial: TrialFacts) -> float:
        vapor = vapor_pressure_by_trouton(trial.room, self.boiling_point, self.boiling_pressure)
        air = float(moist_air_density(trial.room, trial.pressure, usual.HUMIDITY)) * trial.volume
        return air * min(vapor / trial.pressure, 1.0)

    def about(self, trials: Iterable[TrialFacts], sentence: str) -> str:
        """Put the trials that a sentence is about before it, where the run has several."""
        numbers = [trial.number for trial in trials]
        return about_trials(numbers if len(self.trials) > 1 else [], sentence)

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
