"""The trials of a run in SI units: one pair of weighings each, with all that belongs to them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from math import hypot, isnan

import numpy as np

from identify.bench.readings import Doubted, SIReading, read_field
from identify.notebook import usual
from identify.notebook.measurement import Conditions, Flask, Measurement, Trial
from identify.notebook.quantities import Quantity
from identify.physics.barometer import mercury_barometer_pressure
from identify.physics.vapor import Weighing

# What a molar mass needs, as it stands in a sentence.
_NEEDED = {
    "room": "temperature of the room",
    "pressure": "pressure",
    "empty": "mass of the empty flask",
    "condensed": "mass of flask and condensed liquid",
    "volume": "volume of the flask",
    "bath": "temperature of the bath",
}


@dataclass(frozen=True)
class BenchTrial:
    """One trial: what was written of it or of the whole run, and its readings in SI units.

    A reading that is missing, or doubted, is NaN: it compares as false with every number.

    Parameters
    ----------
    number : int
        From 1.
    written : Trial
    conditions : Conditions
    flask : Flask
        The run's, with what the trial had of its own.
    empty, condensed : SIReading
        In kg.
    bath, room : SIReading
        In K.
    humidity : SIReading
        Relative humidity of the room, 0 to 1; the usual one where none was written.
    pressure : SIReading
        As the barometer shows it [Pa].
    measured_volume, water_mass : SIReading
        The flask's, read off as a volume [m3] or weighed as water [kg].
    water_temperature : SIReading
        At which the volume holds, the room's where none was written [K].
    """

    number: int
    written: Trial
    conditions: Conditions
    flask: Flask
    empty: SIReading
    condensed: SIReading
    bath: SIReading
    room: SIReading
    humidity: SIReading
    pressure: SIReading
    measured_volume: SIReading
    water_mass: SIReading
    water_temperature: SIReading

    @classmethod
    def of(
        cls, run: Measurement, trial: Trial, number: int = 1, doubted: Doubted = frozenset()
    ) -> BenchTrial:
        """Take a trial's readings, leaving out the fields and quantities that are doubted."""
        conditions, flask = run.trial_conditions(trial), run.trial_flask(trial)

        read = partial(read_field, doubted=doubted)
        room = read(conditions, "room")
        return cls(
            number,
            trial,
            conditions,
            flask,
            empty=read(trial, "empty"),
            condensed=read(trial, "condensed"),
            bath=read(trial, "bath"),
            room=room,
            humidity=(
                SIReading(usual.HUMIDITY, is_assumed=True)
                if conditions.humidity is None
                else read(conditions, "humidity")
            ),
            pressure=read(conditions, "pressure"),
            measured_volume=read(flask, "water_volume" if flask.volume is None else "volume"),
            water_mass=read(flask, "water_mass"),
            water_temperature=(
                replace(room, uncertainty=None, is_assumed=True)
                if flask.water_temperature is None
                else read(flask, "water_temperature")
            ),
        )

    @property
    def gain(self) -> float:
        """What the balance shows more with the condensed liquid [kg]."""
        return self.condensed.value - self.empty.value

    def gain_uncertainty(self, digit: float) -> float:
        """Return the gain's standard uncertainty [kg]: as stated, else a digit a weighing."""
        return hypot(self.condensed.uncertainty or digit, self.empty.uncertainty or digit)

    @cached_property
    def station_pressure(self) -> SIReading:
        """Pressure in the laboratory [Pa]."""
        return station_pressure(self.conditions)

    @cached_property
    def volume(self) -> SIReading:
        """The flask's volume, filled to the brim [m3].

        Raises
        ------
        ValueError
            If it was filled with no mass of water.
        """
        if self.flask.measured_volume is not None or self.flask.water_mass is None:
            return self.measured_volume
        from identify.physics.air import moist_air_density
        from identify.physics.water import water_filled_volume

        water = self.water_mass
        if water.value <= 0.0:
            raise ValueError("the water that fills the flask has no mass; weigh it again")
        air = moist_air_density(self.room.value, self.station_pressure.value, self.humidity.value)
        volume = water_filled_volume(water.value, self.water_temperature.value, float(air))
        stated = water.uncertainty
        return SIReading(volume, None if stated is None else volume * stated / water.value)

    @property
    def rough_volume(self) -> float:
        """The same, near enough for a check [m3]: a liter of water has 1 kg within 0.5 %."""
        if self.flask.measured_volume is not None:
            return self.measured_volume.value
        return self.water_mass.value / 1000.0


def trials_of(run: Measurement, doubted: Doubted = frozenset()) -> tuple[BenchTrial, ...]:
    """Return the trials of a run in the order given.

    Parameters
    ----------
    run : Measurement
    doubted : frozenset of (str, Quantity)
        Fields and readings that are left out.
    """
    return tuple(
        BenchTrial.of(run, trial, number, doubted) for number, trial in enumerate(run.trials, 1)
    )


def weighing_of(trials: Sequence[BenchTrial]) -> Weighing:
    """Return what the physics needs of trials, one entry each.

    Raises
    ------
    ValueError
        If a trial lacks a reading that its molar mass needs.
    """
    for trial in trials:
        for field, words in _NEEDED.items():
            if isnan(getattr(trial, field).value):
                raise ValueError(f"a trial has no {words}; its molar mass needs one")
    rows = [
        (
            trial.gain,
            trial.bath.value,
            trial.room.value,
            trial.station_pressure.value,
            trial.volume.value,
            trial.water_temperature.value,
            trial.humidity.value,
        )
        for trial in trials
    ]
    return Weighing(*(np.array(column) for column in zip(*rows, strict=True)))


def station_pressure(conditions: Conditions) -> SIReading:
    """Return the laboratory's pressure [Pa].

    The height of a mercury column is corrected for its temperature, and for gravity where the
    latitude is known.
    """
    read = SIReading.of(conditions.pressure)
    if not conditions.mercury_barometer:
        return read
    room, latitude, height = (
        None if written is None else written.to(unit).value
        for written, unit in (
            (conditions.room, "K"),
            (conditions.latitude, "deg"),
            (conditions.height, "m"),
        )
    )
    column = usual.CALIBRATED_AT if room is None else room
    pressure = mercury_barometer_pressure(read.value, column, latitude, height or 0.0)
    return SIReading(pressure, read.uncertainty)


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
