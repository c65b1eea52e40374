"""What is taken where a page says nothing: usual conditions, each with its spread.

Nothing that was written is replaced: what was written and cannot be read, or cannot be, stays
missing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import hypot

import numpy as np

from identify.bench.readings import Doubted, SIReading
from identify.notebook import usual
from identify.notebook.fields import is_word
from identify.notebook.measurement import IN_SYRINGE, Conditions, Flask, Measurement, Trial
from identify.notebook.plausible import PLAUSIBLE, cannot_be
from identify.notebook.quantity.quantities import Quantity, clipped
from identify.notebook.quantity.units import MMHG
from identify.notebook.serializing import Serializable, decimals, digits
from identify.physics.barometer import mercury_barometer_pressure, standard_pressure
from identify.physics.constants import ICE_POINT, STANDARD_PRESSURE
from identify.physics.water import boiling_temperature


@dataclass(frozen=True)
class AssumedCondition(Serializable):
    """A condition that was not written down, as an answer tells it.

    Parameters
    ----------
    condition : str
        Field of the notebook: ``pressure``, ``room``, ``bath``, ``humidity``, ``volume`` or
        ``water_temperature``.
    value, standard_uncertainty : float
        What was taken, in `unit`.
    unit : str
    share : float
        Of the variance of the molar mass, 0 to 1.
    """

    condition: str
    value: float = field(metadata=digits(6))
    unit: str
    standard_uncertainty: float = field(metadata=digits(4))
    share: float = field(metadata=decimals(4))

    @classmethod
    def of(cls, condition: str, taken: Quantity, share: float) -> AssumedCondition:
        """Tell what was taken, and what that costs."""
        return cls(condition, taken.value, taken.unit, taken.uncertainty or 0.0, min(share, 1.0))


@dataclass
class CompletedTrial:
    """A trial with all that belongs to it, and what of that is assumed.

    Parameters
    ----------
    trial : Trial
    conditions : Conditions
    flask : Flask
        The run's, with what the trial had of its own, and what is assumed.
    unusable : frozenset of str
        Fields in which something was written that cannot be used.
    shifts : mapping of str to float
        How far assumed conditions are taken from what is usual, in their spreads.
    beside : mapping of str to tuple of Quantity
        Conditions that some trials of the page have.
    assumed : dict of str to Quantity
        What was not written, by field.
    """

    trial: Trial
    conditions: Conditions
    flask: Flask
    unusable: frozenset[str]
    shifts: Mapping[str, float]
    beside: Mapping[str, tuple[Quantity, ...]] = field(default_factory=dict)
    assumed: dict[str, Quantity] = field(default_factory=dict)

    @classmethod
    def of(
        cls,
        run: Measurement,
        trial: Trial,
        doubted: Doubted = frozenset(),
        shifts: Mapping[str, float] | None = None,
    ) -> CompletedTrial:
        """Complete a trial, leaving out the fields and quantities that are doubted."""
        conditions, flask = run.trial_conditions(trial), run.trial_flask(trial)
        unusable = set(run.unread) | set(trial.unread)
        for record in (trial, conditions, flask):
            for name, written in vars(record).items():
                if (name, written) in doubted or cannot_be(name, written):
                    unusable.add(name)
        beside = {
            name: sound
            for name, readings in run.in_some_trial.items()
            if (sound := tuple(_sound(name, readings, doubted)))
        }
        found = cls(trial, conditions, flask, frozenset(unusable), shifts or {}, beside)
        found._complete()
        return found

    def _complete(self) -> None:
        """Assume what is missing; what follows from something else after that."""
        in_flask = self.trial.vaporized_in != IN_SYRINGE
        self._pressure()
        if in_flask:
            self._room()
        if in_flask or self.trial.bath is not None:
            self._bath()
        if in_flask:
            self._humidity()
            self._volume()
            self._water_temperature()

    def _pressure(self) -> None:
        if not self._is_missing(self.conditions, "pressure") or "height" in self.unusable:
            return
        if "pressure" in self.beside:
            assumed = self._assume_beside("pressure", "mmHg", 1.0 / MMHG)
            self.conditions = replace(self.conditions, pressure=assumed)
            return
        height = self.conditions.height
        if height is None:
            value, spread = STANDARD_PRESSURE, usual.PRESSURE_SPREAD
        else:
            value, spread = standard_pressure(height.to("m").value), usual.WEATHER
        assumed = self._assume("pressure", value / MMHG, "mmHg", spread / MMHG)
        self.conditions = replace(self.conditions, pressure=assumed, mercury_barometer=False)

    def _room(self) -> None:
        if self._is_missing(self.conditions, "room", usual.ROOM_WORDS):
            if "room" in self.beside:
                assumed = self._assume_beside("room", "C")
            else:
                assumed = self._assume("room", usual.ROOM - ICE_POINT, "C", usual.ROOM_SPREAD)
            self.conditions = replace(self.conditions, room=assumed)

    def _bath(self) -> None:
        if not self._is_missing(self.trial, "bath", usual.BATH_WORDS) or self._has_no("pressure"):
            return
        said = self.trial.bath is not None
        if "bath" in self.beside and not said:
            self.trial = replace(self.trial, bath=self._assume_beside("bath", "C"))
            return
        pressure = station_pressure(self.conditions).value
        if not PLAUSIBLE["pressure"].holds_si(pressure):
            pressure = STANDARD_PRESSURE  # a pressure that no laboratory has: water says nothing
        boils = boiling_temperature(pressure) - ICE_POINT
        value = boils - usual.BATH_BELOW_BOILING_WATER
        spread = usual.BOILING_WATER_SPREAD if said else usual.BATH_SPREAD
        self.trial = replace(self.trial, bath=self._assume("bath", value, "C", spread))

    def _humidity(self) -> None:
        if self._is_missing(self.conditions, "humidity"):
            value, spread = 100.0 * usual.HUMIDITY, 100.0 * usual.ANY_HUMIDITY
            assumed = self._assume("humidity", value, "%", spread)
            self.conditions = replace(self.conditions, humidity=assumed)

    def _volume(self) -> None:
        flask = self.flask
        known = (flask.volume, flask.water_volume, flask.water_mass)
        is_told = any(one is not None for one in known) or not self.unusable.isdisjoint(
            ("volume", "water_volume", "water_mass", "size")
        )
        if flask.size is None or is_told:
            return
        printed = flask.size.to("mL").value
        value, spread = usual.BRIM_RATIO * printed, usual.BRIM_RATIO_SD * printed
        self.flask = replace(flask, volume=self._assume("volume", value, "mL", spread))

    def _water_temperature(self) -> None:
        flask = self.flask
        is_needed = flask.measured_volume is None and flask.water_mass is not None
        missing = self._is_missing(flask, "water_temperature", usual.ROOM_WORDS)
        if is_needed and missing and self.conditions.room is not None:
            room = self.conditions.room.to("C").value
            assumed = self._assume("water_temperature", room, "C", usual.WATER_SPREAD)
            self.flask = replace(flask, water_temperature=assumed)

    def _is_missing(self, record: object, name: str, words: frozenset[str] = frozenset()) -> bool:
        """Say whether nothing was written in a field, or only a word for what is usual."""
        written = getattr(record, name)
        return name not in self.unusable and (written is None or is_word(written, words))

    def _has_no(self, name: str) -> bool:
        return name in self.unusable or getattr(self.conditions, name) is None

    def _assume_beside(self, name: str, unit: str, scale: float = 1.0) -> Quantity:
        """Take the middle of what other trials have, give or take what such readings differ by."""
        values = sorted(one.to(unit).value for one in self.beside[name])
        apart = float(np.std(values, ddof=1)) if len(values) > 1 else 0.0
        spread = hypot(usual.BESIDE_OTHER_TRIALS[name] * scale, apart)
        return self._assume(name, float(np.median(values)), unit, spread)

    def _assume(self, name: str, value: float, unit: str, spread: float) -> Quantity:
        # What follows from a reading at the end of what can be read at all stays within it.
        taken = clipped(value + self.shifts.get(name, 0.0) * spread, unit)
        self.assumed[name] = Quantity(taken, unit, spread, text=f"{taken:.4g} {unit}")
        return self.assumed[name]


def _sound(name: str, readings: Sequence[Quantity], doubted: Doubted) -> Iterator[Quantity]:
    """Yield the readings that may stand for another one."""
    for one in readings:
        if (name, one) not in doubted and PLAUSIBLE[name].holds(one):
            yield one


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
