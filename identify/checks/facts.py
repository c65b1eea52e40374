"""A run as the checks see it: readings in SI units, NaN where missing or already doubted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from math import hypot, isfinite, nan

from identify.bench.readings import Doubted, read_field
from identify.bench.trials import BenchTrial, trials_of
from identify.checks.readings import about_trials
from identify.notebook import usual
from identify.notebook.measurement import Measurement
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
    trials_at_hand : tuple of BenchTrial
        All trials of the run with what is doubted, where they are at hand; else empty.
    """

    run: Measurement
    doubted: Doubted = frozenset()
    given_molar_mass: tuple[float, float] | None = None
    percent_tolerance: float = Tolerances.percent
    trials_at_hand: tuple[BenchTrial, ...] = ()

    @cached_property
    def trials(self) -> tuple[BenchTrial, ...]:
        """The trials in the order given, what is doubted left out."""
        if self.trials_at_hand and not self.doubted:
            return self.trials_at_hand
        return trials_of(self.run, self.doubted)

    @cached_property
    def trials_as_written(self) -> tuple[BenchTrial, ...]:
        """The trials with what is doubted."""
        return trials_of(self.run) if self.doubted else self.trials

    @cached_property
    def boiling_point(self) -> float:
        """The boiling point at its own pressure [K], NaN where missing or doubted."""
        return read_field(self.run, "boiling_point", self.doubted).value

    @property
    def boiling_point_u(self) -> float:
        """Standard uncertainty of the boiling point [K]."""
        read = read_field(self.run, "boiling_point", self.doubted)
        return read.uncertainty_or(usual.CARD_BOILING_POINT)

    @cached_property
    def boiling_pressure(self) -> float:
        """Pressure of the boiling point [Pa]."""
        written = read_field(self.run, "boiling_point_at", self.doubted).value
        return written if isfinite(written) else STANDARD_PRESSURE

    @cached_property
    def molar_mass(self) -> tuple[float, float] | None:
        """The measured molar mass and its standard uncertainty [g/mol], None where missing."""
        if self.run.molar_mass is None:
            measured = self._mean_estimate()
        else:
            given = read_field(self.run, "molar_mass", self.doubted, "g/mol")
            measured = given.value, given.uncertainty_or(_BENCH * given.value)
        # What rests on a doubted reading is not a base for another check.
        return self.given_molar_mass or measured if isfinite(measured[0]) else None

    def _mean_estimate(self) -> tuple[float, float]:
        each = [self.estimated_molar_mass(trial) for trial in self.trials] or [(nan, nan)]
        # What the estimate leaves out is the same for all trials: nothing averages out.
        value, sigma = (sum(column) / len(each) for column in zip(*each, strict=True))
        return value, sigma

    def ideal_molar_mass(self, trial: BenchTrial, shut_out: float = 0.0) -> float:
        """Return the shortcut's molar mass of a trial [g/mol].

        Parameters
        ----------
        trial : BenchTrial
        shut_out : float
            Mass of air to be added to the gain [kg].

        Returns
        -------
        float
            NaN where a reading is missing or there is no gain.
        """
        if not self.shortcut_mass(trial) > 0.0:
            return nan
        vapor = trial.gain + max(shut_out, self._air_lost(trial))
        pressure, volume = trial.pressure.value, trial.rough_volume
        return 1e3 * float(ideal_molar_mass(vapor, trial.bath.value, pressure, volume))

    def shortcut_mass(self, trial: BenchTrial) -> float:
        """Return the gain, and the air that never came back [kg]: what the shortcut goes by."""
        return trial.gain + self._air_lost(trial)

    def estimated_molar_mass(self, trial: BenchTrial) -> tuple[float, float]:
        """Return a trial's molar mass and its standard uncertainty [g/mol], NaN where missing.

        Nothing is known of the liquid but, perhaps, its boiling point: that tells, nearly, how much
        air its vapor shuts out of the cooled flask.
        """
        shut_out = self._air_shut_out(trial)
        if not isfinite(shut_out):
            shortcut = self.ideal_molar_mass(trial)
            return shortcut + _LEFT_OUT, hypot(_BENCH * shortcut, _LEFT_OUT_SD)
        value = self.ideal_molar_mass(trial, shut_out) / _DENSER
        return value, hypot(_BENCH, _DENSER_SD) * value

    def _air_lost(self, trial: BenchTrial) -> float:
        """Return the air that never came back into a flask that was closed while hot [kg]."""
        if not trial.flask.closed:
            return 0.0
        density = moist_air_density(trial.room.value, trial.pressure.value, usual.HUMIDITY)
        return float(density) * trial.rough_volume

    def _air_shut_out(self, trial: BenchTrial) -> float:
        if not trial.is_in_flask or trial.flask.closed:
            return 0.0 if isfinite(self.boiling_point) else nan
        room, pressure = trial.room.value, trial.pressure.value
        vapor = vapor_pressure_by_trouton(
            trial.cooled.value, self.boiling_point, self.boiling_pressure
        )
        air = float(moist_air_density(room, pressure, usual.HUMIDITY)) * trial.rough_volume
        return air * min(vapor / pressure, 1.0)

    def about(self, trials: Iterable[BenchTrial], sentence: str) -> str:
        """Put the trials that a sentence is about before it, where the run has several."""
        numbers = [trial.number for trial in trials]
        return about_trials(numbers if len(self.trials) > 1 else [], sentence)
