"""A notebook's readings in SI units, as the comparison with the candidates needs them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from math import hypot, isclose, nan, sqrt
from statistics import fmean

import numpy as np

from identify.bench.assumed import station_pressure
from identify.bench.readings import SIReading, read_field
from identify.bench.trials import (
    BenchTrial,
    balance_digit,
    trials_of,
    weighing_of,
)
from identify.notebook import usual
from identify.notebook.measurement import IN_SYRINGE, Measurement, Trial
from identify.notebook.plausible import cannot_be
from identify.notebook.quantity.quantities import Quantity
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.observables.liquid_constant import LiquidConstant
from identify.physics.arrays import Array
from identify.physics.barometer import standard_pressure
from identify.physics.constants import ELEMENTS, STANDARD_PRESSURE
from identify.physics.vapor import Weighing, ideal_molar_mass

_SAME_COLUMN = 1e-4  # relative: a conversion rounded to four digits


@dataclass(frozen=True)
class Bench:
    """One unknown's readings.

    Parameters
    ----------
    molar_mass : SIReading or None
        Already worked out [g/mol]; replaces the weighings.
    as_weighed : Weighing or None
        What would have been weighed in a usual flask to give ``molar_mass`` by the shortcut of the
        ideal gas; None where it is not said that it was worked out so.
    boiling_point : SIReading or None
        In K.
    boiling_pressure : float
        Pressure of the boiling point [Pa].
    boiling_point_by : str
        ``"own"`` where the student read it; empty as on a card.
    laboratory_pressure : float
        As the barometer shows it, or from the height [Pa]; NaN where neither was written, or where
        the vapor had a pressure of its own.
    percent : dict of int to SIReading
        By place in the table's elements [percent].
    weighing : Weighing or None
        One entry a trial.
    trials : tuple of BenchTrial
        Those of ``weighing``; a trial that lacks a reading is not among them.
    assumed : tuple of Assumption
        What was not written of them.
    unused : int
        How many trials were weighed and cannot be used, for they lack something.
    weighing_u : float
        Relative standard uncertainty of the mean molar mass, from what was stated for bath,
        barometer and flask; zero where nothing was.
    gain_u : float
        Standard uncertainty of the mean molar mass from the balance's, as stated or by its last
        digit [g/mol].
    further : dict of str to SIReading
        What else was read of the liquid, by name of the observable [its bench unit].
    """

    molar_mass: SIReading | None = None
    as_weighed: Weighing | None = None
    boiling_point: SIReading | None = None
    boiling_pressure: float = STANDARD_PRESSURE
    boiling_point_by: str = ""
    laboratory_pressure: float = nan
    percent: dict[int, SIReading] = field(default_factory=dict)
    weighing: Weighing | None = None
    trials: tuple[BenchTrial, ...] = ()
    assumed: tuple[Assumption, ...] = ()
    unused: int = 0
    weighing_u: float = 0.0
    gain_u: float = 0.0
    further: dict[str, SIReading] = field(default_factory=dict)

    @classmethod
    def of(cls, run: Measurement) -> Bench:
        """Take the readings from what was written."""
        every = () if run.molar_mass is not None else trials_of(run)
        trials = tuple(trial for trial in every if not trial.lacking)
        return cls(
            molar_mass=_stated(run.molar_mass, "g/mol"),
            as_weighed=_as_weighed(run),
            boiling_point=_stated(run.boiling_point),
            boiling_pressure=_boiling_pressure(run),
            boiling_point_by="own" if run.boiling_point_by == "own" else "",
            laboratory_pressure=_laboratory_pressure(run),
            percent={
                ELEMENTS.index(element): SIReading.of(quantity, "%")
                for element, quantity in run.percent.items()
            },
            weighing=weighing_of(trials) if trials else None,
            trials=trials,
            assumed=assumptions(run, trials),
            unused=sum(trial.is_weighed for trial in every) - len(trials),
            weighing_u=_relative_uncertainty(trials) if trials else 0.0,
            gain_u=_gain_uncertainty(trials) if trials else 0.0,
            further=_further(run),
        )

    def ideal_molar_mass(self) -> float | None:
        """Return the shortcut's mean over the trials [g/mol], None where nothing was weighed."""
        if self.weighing is None:
            return None
        return 1e3 * float(np.mean(self.weighing.ideal_molar_mass()))

    @property
    def bath_u(self) -> float:
        """Standard uncertainty of an assumed bath [K], zero where it was read."""
        spreads = [trial.bath.uncertainty_or(0.0) for trial in self.trials if trial.bath.is_assumed]
        return max(spreads, default=0.0)


@dataclass(frozen=True)
class Assumption:
    """A condition that was not written, and was taken as usual.

    Parameters
    ----------
    condition : str
        Field of the notebook.
    quantity : Quantity
        What was taken, and its spread; of the first trial that has it.
    run : Measurement
    trials : tuple of BenchTrial
        That were weighed.
    """

    condition: str
    quantity: Quantity
    run: Measurement
    trials: tuple[BenchTrial, ...]

    @cached_property
    def weighing(self) -> Weighing:
        """The weighings as they are."""
        return weighing_of(self.trials)

    @cached_property
    def shifted(self) -> Weighing:
        """The weighings with all that follows, were it one spread higher."""
        if self.condition == "humidity":  # of which nothing else follows
            is_assumed = np.array([self.condition in trial.assumed for trial in self.trials])
            moister = self.weighing.humidity + is_assumed * usual.ANY_HUMIDITY
            return replace(self.weighing, humidity=moister)
        shifts = {self.condition: 1.0}
        written = ((trial.number, self.run.trials[trial.number - 1]) for trial in self.trials)
        return weighing_of(
            [BenchTrial.of(self.run, one, number, shifts=shifts) for number, one in written]
        )

    @property
    def effects(self) -> dict[str, Array]:
        """What one spread changes, by field of the weighing, arrays of shape (k,) [SI units]."""
        changes = {
            one.name: getattr(self.shifted, one.name) - getattr(self.weighing, one.name)
            for one in fields(Weighing)
        }
        return {name: change for name, change in changes.items() if change.any()}


def assumptions(run: Measurement, trials: tuple[BenchTrial, ...]) -> tuple[Assumption, ...]:
    """Return what was assumed for some trials of a run, which are not without a reading."""
    assumed: dict[str, Quantity] = {}
    for trial in trials:
        for name, quantity in trial.assumed.items():
            assumed.setdefault(name, quantity)
    return tuple(Assumption(name, quantity, run, trials) for name, quantity in assumed.items())


def _relative_uncertainty(trials: Sequence[BenchTrial]) -> float:
    """Combine the uncertainties stated for bath, barometer and flask, of the mean over the trials.

    The bath's thermometer is read anew at each trial; the barometer and the flask are the same for
    all, so that their uncertainty does not average out.
    """
    count = len(trials)
    bath, pressure, volume = (
        [
            0.0 if reading.is_assumed else (reading.uncertainty or 0.0) / reading.value
            for reading in readings
        ]
        for readings in zip(
            *((trial.bath, trial.station_pressure, trial.volume) for trial in trials), strict=True
        )
    )
    own = sum(relative * relative for relative in bath) / (count * count)
    return sqrt(own + sum((sum(shared) / count) ** 2 for shared in (pressure, volume)))


def _gain_uncertainty(trials: Sequence[BenchTrial]) -> float:
    """Return what the balance's uncertainty makes of the mean molar mass [g/mol].

    As stated, else one unit of the last digit that the balance shows.

    Not relative to the gain: the air that the vapor shuts out is added to that, so that next to no
    gain is still a molar mass, and known as well as any other.
    """
    digit = balance_digit(trial.written for trial in trials)
    each = [
        float(
            ideal_molar_mass(
                trial.gain_uncertainty(digit),
                trial.bath.value,
                trial.station_pressure.value,
                trial.volume.value,
            )
        )
        for trial in trials
    ]
    return 1e3 * hypot(*each) / len(trials)


def _boiling_pressure(run: Measurement) -> float:
    if run.boiling_point_at is None:
        return STANDARD_PRESSURE
    read, barometer = SIReading.of(run.boiling_point_at), SIReading.of(run.conditions.pressure)
    # The laboratory's own pressure, read off the same column, in whichever unit it is written.
    if isclose(read.value, barometer.value, rel_tol=_SAME_COLUMN):
        return station_pressure(run.conditions).value
    return read.value


def _laboratory_pressure(run: Measurement) -> float:
    if any(trial.vaporized_in == IN_SYRINGE for trial in run.trials):
        return nan
    conditions = run.conditions
    of_trials = (one.conditions.pressure for one in run.trials if one.conditions is not None)
    # Whatever order the trials of several days are in.
    written = [conditions.pressure] if conditions.pressure is not None else of_trials
    read = {
        station_pressure(replace(conditions, pressure=one)).value
        for one in written
        if one is not None
    }
    if read:
        return fmean(sorted(read))
    if conditions.height is None or cannot_be("height", conditions.height):
        return nan
    return standard_pressure(conditions.height.to("m").value)


def _as_weighed(run: Measurement) -> Weighing | None:
    """Return the weighing behind a molar mass that was worked out by the shortcut."""
    if run.molar_mass is None or not run.molar_mass_by:
        return None
    flask = run.flask
    if all(one is None for one in (flask.measured_volume, flask.water_mass, flask.size)):
        flask = replace(flask, volume=Quantity(usual.BRIM_VOLUME, "m3"))
    bath = run.trials[0].bath if run.trials else None
    whole = replace(run, flask=flask, trials=[Trial(gain=Quantity(1.0, "g"), bath=bath)])
    read = BenchTrial.of(whole, whole.trials[0])
    if read.lacking:
        return None
    weighing = weighing_of([read])
    of_one_gram = 1e3 * weighing.ideal_molar_mass()  # g/mol
    return replace(weighing, gain=1e-3 * run.molar_mass.to("g/mol").value / of_one_gram)


def _stated(written: Quantity | None, unit: str = "") -> SIReading | None:
    return None if written is None else SIReading.of(written, unit)


def _further(run: Measurement) -> dict[str, SIReading]:
    """Return the constants of the liquid; a temperature that is a slip of its unit is left out."""
    found = {}
    for name, constant in LIQUID_CONSTANTS.items():
        written = getattr(run, name)
        if written is not None:
            reading = SIReading.of(written, constant.bench_unit)
            found[name] = replace(reading, at=_temperature(run, constant))
    return found


def _temperature(run: Measurement, constant: LiquidConstant) -> float | None:
    plausible = constant.plausible_at
    if plausible is None:
        return None
    at = read_field(run, f"{constant.name}_at").value
    return at if plausible.holds_si(at) else None
