"""A notebook's readings in SI units, as the comparison with the candidates needs them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import hypot, sqrt

import numpy as np

from identify.bench.readings import SIReading
from identify.notebook import usual
from identify.notebook.measurement import Conditions, Flask, Measurement, Trial
from identify.notebook.quantities import Quantity
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.observables.liquid_constant import LiquidConstant
from identify.physics.barometer import mercury_barometer_pressure
from identify.physics.constants import ELEMENTS, STANDARD_PRESSURE
from identify.physics.vapor import Weighing, ideal_molar_mass


@dataclass(frozen=True)
class Bench:
    """One unknown's readings.

    Parameters
    ----------
    molar_mass : SIReading or None
        Already worked out [g/mol]; replaces the weighings.
    boiling_point : SIReading or None
        In K.
    boiling_pressure : float
        Pressure of the boiling point [Pa].
    percent : dict of int to SIReading
        By place in the table's elements [percent].
    weighing : Weighing or None
        One entry a trial.
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
    boiling_point: SIReading | None = None
    boiling_pressure: float = STANDARD_PRESSURE
    percent: dict[int, SIReading] = field(default_factory=dict)
    weighing: Weighing | None = None
    weighing_u: float = 0.0
    gain_u: float = 0.0
    further: dict[str, SIReading] = field(default_factory=dict)

    @classmethod
    def of(cls, run: Measurement) -> Bench:
        """Take the readings from what was written.

        Raises
        ------
        ValueError
            If a trial lacks a reading that its molar mass needs.
        """
        trials = () if run.molar_mass is not None else run.trials
        digit = balance_digit(trials)
        read = [_Trial.of(run, trial, digit) for trial in trials]
        return cls(
            molar_mass=_stated(run.molar_mass, "g/mol"),
            boiling_point=_stated(run.boiling_point, "K"),
            boiling_pressure=_boiling_pressure(run),
            percent={
                ELEMENTS.index(element): SIReading(*_number(quantity, "%"))
                for element, quantity in run.percent.items()
            },
            weighing=_weighing(read) if read else None,
            weighing_u=_relative_uncertainty(read) if read else 0.0,
            gain_u=_gain_uncertainty(read) if read else 0.0,
            further=_further(run),
        )

    def ideal_molar_mass(self) -> float | None:
        """Return the shortcut's mean over the trials [g/mol], None where nothing was weighed."""
        if self.weighing is None:
            return None
        taken = self.weighing
        each = ideal_molar_mass(taken.gain, taken.bath, taken.pressure, taken.volume)
        return 1e3 * float(np.mean(each))


@dataclass(frozen=True)
class _Trial:
    """One trial in SI units, each reading with its stated standard uncertainty or zero."""

    gain: tuple[float, float]
    bath: tuple[float, float]
    room: tuple[float, float]
    pressure: tuple[float, float]
    volume: tuple[float, float]
    volume_temperature: float
    humidity: float

    @classmethod
    def of(cls, run: Measurement, trial: Trial, digit: float) -> _Trial:
        conditions, flask = run.trial_conditions(trial), run.trial_flask(trial)
        room = _si(_needed(conditions.room, "temperature of the room"), "K")
        humidity = _humidity(conditions)
        pressure = station_pressure(conditions)
        empty = _si(_needed(trial.empty, "mass of the empty flask"), "kg")
        condensed = _si(_needed(trial.condensed, "mass of flask and condensed liquid"), "kg")
        volume, at = _brim_volume(flask, room[0], pressure[0], humidity)
        return cls(
            gain=(condensed[0] - empty[0], hypot(condensed[1] or digit, empty[1] or digit)),
            bath=_si(_needed(trial.bath, "temperature of the bath"), "K"),
            room=room,
            pressure=pressure,
            volume=volume,
            volume_temperature=at,
            humidity=humidity,
        )


def _weighing(trials: Sequence[_Trial]) -> Weighing:
    def column(name: str) -> np.ndarray:
        return np.array([getattr(trial, name)[0] for trial in trials])

    readings = ("gain", "bath", "room", "pressure", "volume")
    return Weighing(
        **{name: column(name) for name in readings},
        volume_temperature=np.array([trial.volume_temperature for trial in trials]),
        humidity=np.array([trial.humidity for trial in trials]),
    )


def _relative_uncertainty(trials: Sequence[_Trial]) -> float:
    """Combine the uncertainties stated for bath, barometer and flask, of the mean over the trials.

    The bath's thermometer is read anew at each trial; the barometer and the flask are the same for
    all, so that their uncertainty does not average out.
    """

    def relative(name: str) -> list[float]:
        return [u / value for value, u in (getattr(trial, name) for trial in trials)]

    count = len(trials)
    own = sum(r * r for r in relative("bath")) / (count * count)
    shared = sum((sum(relative(name)) / count) ** 2 for name in ("pressure", "volume"))
    return sqrt(own + shared)


def _gain_uncertainty(trials: Sequence[_Trial]) -> float:
    """Return what the balance's uncertainty makes of the mean molar mass [g/mol].

    As stated, else one unit of the last digit that the balance shows.

    Not relative to the gain: the air that the vapor shuts out is added to that, so that next to no
    gain is still a molar mass, and known as well as any other.
    """
    each = [
        float(ideal_molar_mass(t.gain[1], t.bath[0], t.pressure[0], t.volume[0])) for t in trials
    ]
    return 1e3 * hypot(*each) / len(trials)


def station_pressure(conditions: Conditions) -> tuple[float, float]:
    """Return the laboratory's pressure and its stated standard uncertainty or zero [Pa].

    The height of a mercury column is corrected for its temperature, and for gravity where the
    latitude is known.
    """
    return _corrected(conditions, _needed(conditions.pressure, "pressure"))


def _corrected(conditions: Conditions, written: Quantity) -> tuple[float, float]:
    value, uncertainty = _si(written, "Pa")
    if not conditions.mercury_barometer:
        return value, uncertainty
    room = usual.CALIBRATED_AT if conditions.room is None else _si(conditions.room, "K")[0]
    latitude = None if conditions.latitude is None else _si(conditions.latitude, "deg")[0]
    height = 0.0 if conditions.height is None else _si(conditions.height, "m")[0]
    return mercury_barometer_pressure(value, room, latitude, height), uncertainty


def _boiling_pressure(run: Measurement) -> float:
    if run.boiling_point_at is None:
        return STANDARD_PRESSURE
    # The laboratory's own pressure, read off the same column.
    if run.boiling_point_at == run.conditions.pressure:
        return _corrected(run.conditions, run.boiling_point_at)[0]
    return _si(run.boiling_point_at, "Pa")[0]


def _brim_volume(
    flask: Flask, room: float, pressure: float, humidity: float
) -> tuple[tuple[float, float], float]:
    """Return the flask's volume with its uncertainty [m3], and the temperature it holds at [K]."""
    at = room if flask.water_temperature is None else _si(flask.water_temperature, "K")[0]
    measured_out = flask.volume if flask.volume is not None else flask.water_volume
    if measured_out is not None:
        return _si(measured_out, "m3"), at
    from identify.physics.air import moist_air_density
    from identify.physics.water import water_filled_volume

    mass, uncertainty = _si(_needed(flask.water_mass, "volume of the flask"), "kg")
    if not mass > 0.0:
        raise ValueError("the water that fills the flask has no mass; weigh it again")
    volume = water_filled_volume(mass, at, float(moist_air_density(room, pressure, humidity)))
    return (volume, volume * uncertainty / mass), at


def _humidity(conditions: Conditions) -> float:
    if conditions.humidity is None:
        return usual.HUMIDITY
    return _si(conditions.humidity, "%")[0] / 100.0


def _stated(quantity: Quantity | None, unit: str) -> SIReading | None:
    return None if quantity is None else SIReading(*_number(quantity, unit))


def _further(run: Measurement) -> dict[str, SIReading]:
    read: dict[str, SIReading] = {}
    for name, constant in LIQUID_CONSTANTS.items():
        quantity: Quantity | None = getattr(run, name)
        if quantity is not None:
            value, uncertainty = _number(quantity, constant.bench_unit)
            read[name] = SIReading(value, uncertainty, _temperature(run, constant))
    return read


def _temperature(run: Measurement, constant: LiquidConstant) -> float | None:
    """Return the temperature of a reading [K], None where none is written or it is a slip."""
    plausible = constant.plausible_at
    written: Quantity | None = getattr(run, f"{constant.name}_at") if plausible else None
    if written is None or plausible is None:
        return None
    value = written.to("K").value
    return value if plausible.holds_si(value) else None


def _needed(quantity: Quantity | None, reading: str) -> Quantity:
    if quantity is None:
        raise ValueError(f"a trial has no {reading}; its molar mass needs one")
    return quantity


def _si(quantity: Quantity, unit: str) -> tuple[float, float]:
    value, uncertainty = _number(quantity, unit)
    return value, uncertainty or 0.0


def _number(quantity: Quantity, unit: str) -> tuple[float, float | None]:
    converted = quantity.to(unit)
    return converted.value, converted.uncertainty


def balance_digit(trials: Iterable[Trial]) -> float:
    """Return the last digit that the balance shows [kg], the finest of all weighings.

    A spreadsheet drops trailing zeros, so that one number alone may look coarser than it was read.
    """
    return min(
        (
            Quantity(quantity.last_digit, quantity.unit).to("kg").value
            for trial in trials
            for quantity in (trial.empty, trial.condensed)
            if quantity is not None
        ),
        default=0.0,
    )
