"""The trials of a run in SI units: one pair of weighings each, with all that belongs to them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import hypot, isnan, sqrt

import numpy as np

from identify.bench.assumed import CompletedTrial, station_pressure
from identify.bench.readings import MISSING, Doubted, SIReading
from identify.notebook import usual
from identify.notebook.errors import UnusableInput
from identify.notebook.fields import is_word
from identify.notebook.findings import listed
from identify.notebook.measurement import IN_SYRINGE, Conditions, Flask, Measurement, Trial
from identify.notebook.quantity.quantities import Quantity
from identify.notebook.quantity.units import known_unit
from identify.physics.vapor import Weighing

# Nothing that happens in a syringe depends on these.
_IN_SYRINGE = {
    "room": SIReading(usual.ROOM, is_assumed=True),
    "humidity": SIReading(usual.HUMIDITY, is_assumed=True),
}

# What a molar mass needs, as it stands in a sentence.
_NEEDED = {
    "pressure": "the pressure",
    "room": "the temperature of the room",
    "humidity": "the humidity",
    "bath": "the temperature of the bath",
    "volume": "the volume of the flask",
    "water_temperature": "the temperature of the water in the flask",
    "cooled": "the temperature of the cooled flask",
}
_MASSES = {
    "empty": "the mass of the empty flask",
    "condensed": "the mass of flask and condensed liquid",
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
        The run's, with what the trial had of its own; with what is assumed.
    assumed : mapping of str to Quantity
        What was not written, by field, see `identify.bench.assumed`.
    empty, condensed : SIReading
        In kg.
    difference : SIReading
        Of the two, where that was written [kg].
    bath, room, cooled : SIReading
        In K; the cooled flask is at the room's temperature where nothing else was written.
    humidity : SIReading
        Relative humidity of the room, 0 to 1.
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
    assumed: Mapping[str, Quantity] = field(hash=False)
    empty: SIReading
    condensed: SIReading
    difference: SIReading
    bath: SIReading
    room: SIReading
    cooled: SIReading
    humidity: SIReading
    pressure: SIReading
    measured_volume: SIReading
    water_mass: SIReading
    water_temperature: SIReading

    @classmethod
    def of(
        cls,
        run: Measurement,
        trial: Trial,
        number: int = 1,
        doubted: Doubted = frozenset(),
        shifts: Mapping[str, float] | None = None,
    ) -> BenchTrial:
        """Take a trial's readings, leaving out the fields and quantities that are doubted.

        Parameters
        ----------
        run : Measurement
        trial : Trial
        number : int
        doubted : frozenset of (str, Quantity)
        shifts : mapping of str to float, optional
            How far assumed conditions are taken from what is usual, in their spreads.
        """
        whole = CompletedTrial.of(run, trial, doubted, shifts)
        conditions, flask, assumed = whole.conditions, whole.flask, whole.assumed

        def read(record: object, field: str) -> SIReading:
            if field in whole.unusable:
                return MISSING
            taken = SIReading.of(getattr(record, field))
            return replace(taken, is_assumed=True) if field in assumed else taken

        in_flask = trial.vaporized_in != IN_SYRINGE
        room = read(conditions, "room") if in_flask else _IN_SYRINGE["room"]
        return cls(
            number,
            whole.trial,
            conditions,
            flask,
            assumed,
            empty=read(trial, "empty"),
            condensed=read(trial, "condensed"),
            difference=read(trial, "gain"),
            bath=read(whole.trial, "bath"),
            room=room,
            cooled=_cooled(trial, room, read),
            humidity=read(conditions, "humidity") if in_flask else _IN_SYRINGE["humidity"],
            pressure=read(conditions, "pressure"),
            measured_volume=read(flask, "water_volume" if flask.volume is None else "volume"),
            water_mass=read(flask, "water_mass"),
            water_temperature=(
                replace(room, uncertainty=None, is_assumed=True)
                if flask.water_temperature is None and "water_temperature" not in whole.unusable
                else read(flask, "water_temperature")
            ),
        )

    @property
    def is_in_flask(self) -> bool:
        """Whether the vapor filled a flask, and air came and went; else a syringe."""
        return self.written.vaporized_in != IN_SYRINGE

    @cached_property
    def lacking(self) -> list[str]:
        """What its molar mass needs and does not have, as it stands in a sentence."""
        missing = {field for field in _NEEDED if isnan(getattr(self, field).value)}
        # What follows from another reading is not missing beside it.
        follows = (
            ("cooled", self.written.weighed_at, "room"),
            ("water_temperature", self.flask.water_temperature, "room"),
            ("bath", self.written.bath, "pressure"),
        )
        missing -= {field for field, own, other in follows if own is None and other in missing}
        if self.water_mass.value > 0.0 and len(missing) > 1:
            missing.discard("volume")
        needed = (words for field, words in _NEEDED.items() if field in missing)
        return [*self._lacking_masses(), *needed]

    def _lacking_masses(self) -> list[str]:
        if not isnan(self.gain):
            return []
        if not self.is_in_flask:
            return ["the mass of the liquid"]
        masses = (("empty", self.empty), ("condensed", self.condensed))
        missing = [_MASSES[name] for name, mass in masses if isnan(mass.value)]
        return missing if len(missing) < len(masses) else ["the masses"]

    @property
    def is_weighed(self) -> bool:
        """Whether anything was weighed at all."""
        weighed = (self.written.empty, self.written.condensed, self.written.gain)
        return any(one is not None for one in weighed)

    @property
    def is_by_difference(self) -> bool:
        """Whether only the difference of the two weighings is known."""
        return isnan(self.condensed.value - self.empty.value)

    @property
    def gain(self) -> float:
        """What the balance shows more with the condensed liquid [kg]."""
        if self.is_by_difference:
            return self.difference.value
        return self.condensed.value - self.empty.value

    def gain_uncertainty(self, digit: float) -> float:
        """Return the gain's standard uncertainty [kg]: as stated, else a digit a weighing."""
        if self.is_by_difference:
            return self.mass_uncertainty(self.difference, digit)
        masses = (self.condensed, self.empty)
        return hypot(*(self.mass_uncertainty(mass, digit) for mass in masses))

    def mass_uncertainty(self, mass: SIReading, digit: float) -> float:
        """Return the standard uncertainty of one of its masses [kg]; a difference has two."""
        own = digit * sqrt(2.0) if mass is self.difference else digit
        return mass.uncertainty or own

    @cached_property
    def station_pressure(self) -> SIReading:
        """Pressure in the laboratory [Pa]."""
        return station_pressure(self.conditions)

    @cached_property
    def volume(self) -> SIReading:
        """The flask's volume, filled to the brim [m3]; NaN where it cannot be worked out."""
        if self.flask.measured_volume is not None or self.flask.water_mass is None:
            return self.measured_volume
        from identify.physics.air import moist_air_density
        from identify.physics.water import water_filled_volume

        water = self.water_mass
        needed = (water, self.water_temperature, self.room, self.station_pressure, self.humidity)
        if not all(reading.value > 0.0 for reading in needed):
            return MISSING
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


def trials_of(
    run: Measurement, doubted: Doubted = frozenset(), shifts: Mapping[str, float] | None = None
) -> tuple[BenchTrial, ...]:
    """Return the trials of a run in the order given.

    Parameters
    ----------
    run : Measurement
    doubted : frozenset of (str, Quantity)
        Fields and readings that are left out.
    shifts : mapping of str to float, optional
        How far assumed conditions are taken from what is usual, in their spreads.
    """
    return tuple(
        BenchTrial.of(run, trial, number, doubted, shifts)
        for number, trial in enumerate(run.trials, 1)
    )


def weighing_of(trials: Sequence[BenchTrial]) -> Weighing:
    """Return what the physics needs of trials, one entry each.

    Raises
    ------
    ValueError
        If a trial lacks a reading that its molar mass needs.
    """
    for trial in trials:
        if trial.lacking:
            raise UnusableInput(f"a trial lacks {listed(trial.lacking)}; its molar mass needs that")
    rows = [
        (
            trial.gain,
            trial.bath.value,
            trial.room.value,
            trial.station_pressure.value,
            trial.volume.value,
            trial.water_temperature.value if trial.is_in_flask else trial.bath.value,
            trial.humidity.value,
            trial.cooled.value - trial.room.value,
            float(trial.is_in_flask),
            float(trial.is_in_flask and not trial.flask.closed),
        )
        for trial in trials
    ]
    return Weighing(*(np.array(column) for column in zip(*rows, strict=True)))


def _cooled(trial: Trial, room: SIReading, read: Callable[[object, str], SIReading]) -> SIReading:
    """Return the temperature of the contents at the second weighing."""
    written = trial.weighed_at
    if written is None and "weighed_at" not in trial.unread:
        return room
    if written is not None and is_word(written, usual.ROOM_WORDS):
        return room
    taken = read(trial, "weighed_at")
    if written is not None and is_word(written, usual.ICE_WORDS):
        return replace(taken, uncertainty=usual.ICE_BATH_SPREAD)
    return taken


def balance_digit(trials: Iterable[Trial]) -> float:
    """Return the last digit that the balance shows [kg], the finest of all weighings.

    A spreadsheet drops trailing zeros, so that one number alone may look coarser than it was read.
    """
    return min(
        (
            quantity.last_digit * known_unit(quantity.unit).scale
            for trial in trials
            for quantity in (trial.empty, trial.condensed, trial.gain)
            if quantity is not None
        ),
        default=0.0,
    )
