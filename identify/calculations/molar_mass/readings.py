"""What was read, and what each reading is uncertain by: as stated, else by a usual instrument."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from identify.checks.weighing import balance_digit
from identify.measurement import Flask, Measurement
from identify.physics.vapor import Weighing
from identify.physics.water import water_density
from identify.quantities import Quantity
from identify.units import shown_unit

Array = NDArray[np.float64]

# Standard uncertainties of usual instruments, where none is stated. Common practice: half of the
# smallest division of a thermometer in degrees and of a barometer in millimeters.
THERMOMETER = 0.5  # K
BAROMETER = 0.5  # mmHg
# A graduated cylinder of 100 mL, class B, is made to 1 mL (ISO 4788; from memory); half of that, at
# each fill. A flask's volume of which nothing is said was measured out in as many as it takes.
CYLINDER = 0.5  # mL
CYLINDER_SIZE = 100.0  # mL
# Nobody wrote the humidity down: anything from 20 to 80 % is alike likely. A hygrometer: 5 points.
# Common practice.
ANY_HUMIDITY = 30.0 / sqrt(3.0)  # percentage points
HYGROMETER = 5.0  # percentage points


@dataclass(frozen=True)
class Input:
    """One reading, or one constant of the liquid, with its standard uncertainty.

    Parameters
    ----------
    name : str
        What it is called in the budget; readings of one kind share a name.
    field : str
        What it changes: a field of `Weighing`, ``"virial"`` or ``"vapor_pressure"``.
    effect : array, shape (k,)
        Change of that field in each trial for one standard uncertainty [SI units; relative for the
        constants of a liquid, in units of their own relative uncertainty].
    standard_uncertainty : float
        In `unit`.
    unit : str
    origin : str
        Where the standard uncertainty comes from.
    rectangular : bool
        Whether all values within the limits are alike likely; otherwise they are normal.
    """

    name: str
    field: str
    effect: Array
    standard_uncertainty: float
    unit: str
    origin: str = "stated"
    rectangular: bool = False

    @property
    def trials(self) -> tuple[int, ...]:
        """The trials that it enters, from 0."""
        return tuple(int(place) for place in np.flatnonzero(self.effect))


def inputs_of(run: Measurement, weighing: Weighing) -> tuple[Input, ...]:
    """Return all readings of a run with their uncertainties.

    One reading written for several trials is one reading, and one instrument is off by the same
    at all of its readings: both are shared by the trials. Only a balance, which is set to zero
    each time, errs anew at each weighing.

    Parameters
    ----------
    run : Measurement
    weighing : Weighing
        The same run's readings in SI units, one entry a trial.
    """
    conditions = [run.trial_conditions(trial) for trial in run.trials]
    baths, rooms = [trial.bath for trial in run.trials], [one.room for one in conditions]
    return (
        *_masses(run),
        _instrument("bath thermometer", "bath", baths, Quantity(0.0, "C", THERMOMETER)),
        _instrument("room thermometer", "room", rooms, Quantity(0.0, "C", THERMOMETER)),
        _instrument(
            "barometer",
            "pressure",
            [one.pressure for one in conditions],
            Quantity(0.0, "mmHg", BAROMETER),
        ),
        *_volumes(run, weighing),
        _humidity(run),
    )


def _masses(run: Measurement) -> Iterator[Input]:
    digit = Quantity(balance_digit(run.trials), "kg").to("g").value
    for field, name, sign in (
        ("empty", "empty flask, weighed", -1.0),
        ("condensed", "flask with liquid, weighed", 1.0),
    ):
        places: dict[Quantity, list[int]] = {}
        for place, trial in enumerate(run.trials):
            reading = getattr(trial, field)
            if reading is not None:
                places.setdefault(reading, []).append(place)
        for reading, trials in places.items():
            stated = reading.to("g").uncertainty
            uncertainty = digit if stated is None else stated
            effect = np.zeros(len(run.trials))
            effect[trials] = sign * Quantity(uncertainty, "g").to("kg").value
            origin = "stated" if stated is not None else f"last digit of the balance, {digit:g} g"
            yield Input(name, "gain", effect, uncertainty, "g", origin)


def _instrument(
    name: str, field: str, readings: Sequence[Quantity | None], usual: Quantity
) -> Input:
    """Return the input of an instrument that is off by the same at each of its readings.

    Parameters
    ----------
    name, field : str
        See `Input`.
    readings : sequence of Quantity or None
        One a trial.
    usual : Quantity
        Carries the unit, and the standard uncertainty of a reading that states none.
    """
    given = [None if one is None else one.to(usual.unit).uncertainty for one in readings]
    each = [usual.uncertainty or 0.0 if one is None else one for one in given]
    si = "K" if usual.dimension == "temperature" else "Pa"
    effect = [Quantity(usual.value, usual.unit, one).to(si).uncertainty or 0.0 for one in each]
    unit = shown_unit(usual.unit).strip()
    kind = name.split()[-1]
    stated = all(one is not None for one in given)
    origin = "stated" if stated else f"a usual {kind}, {usual.uncertainty:g} {unit}"
    return Input(name, field, np.array(effect), _typical(each), unit, origin)


def _volumes(run: Measurement, weighing: Weighing) -> Iterator[Input]:
    flasks: dict[Flask, list[int]] = {}
    for place, trial in enumerate(run.trials):
        flasks.setdefault(run.trial_flask(trial), []).append(place)
    for flask, trials in flasks.items():
        volume = float(weighing.volume[trials[0]])
        milliliters = Quantity(volume, "m3").to("mL").value
        read = flask.volume if flask.volume is not None else flask.water_volume
        if read is not None:
            uncertainty, origin = _measured_out(read, milliliters)
            yield _of_flask("volume of the flask", uncertainty, origin, trials, run)
            continue
        mass = flask.water_mass
        if mass is None:
            continue
        grams = mass.to("g")
        digit = Quantity(mass.last_digit, mass.unit).to("g").value
        own = digit if grams.uncertainty is None else grams.uncertainty
        origin = "stated" if grams.uncertainty is not None else f"last digit, {digit:g} g"
        yield _of_flask(
            "water in the flask, weighed", own * milliliters / grams.value, origin, trials, run
        )
        yield _water_thermometer(flask, volume, trials, run)


def _measured_out(read: Quantity, milliliters: float) -> tuple[float, str]:
    stated = read.to("mL").uncertainty
    if stated is not None:
        return stated, "stated"
    fills = read.fills if read.fills > 1 else ceil(milliliters / CYLINDER_SIZE)
    count = "1 fill" if fills == 1 else f"{fills} fills"
    return (
        CYLINDER * sqrt(fills),
        f"a {CYLINDER_SIZE:g} mL cylinder, {CYLINDER:g} mL at each of {count}",
    )


def _of_flask(
    name: str, milliliters: float, origin: str, trials: Sequence[int], run: Measurement
) -> Input:
    effect = np.zeros(len(run.trials))
    effect[list(trials)] = Quantity(milliliters, "mL").to("m3").value
    return Input(name, "volume", effect, milliliters, "mL", origin)


def _water_thermometer(
    flask: Flask, volume: float, trials: Sequence[int], run: Measurement
) -> Input:
    read = flask.water_temperature
    stated = None if read is None else read.to("K").uncertainty
    uncertainty = THERMOMETER if stated is None else stated
    conditions = run.trial_conditions(run.trials[trials[0]])
    written = read if read is not None else conditions.room
    kelvin = 293.15 if written is None else written.to("K").value
    # The warmer the water, the lighter it is, and the larger the flask that it fills.
    lighter = 1.0 - water_density(kelvin + uncertainty) / water_density(kelvin)
    effect = np.zeros(len(run.trials))
    effect[list(trials)] = volume * lighter
    origin = "stated" if stated is not None else f"a usual thermometer, {THERMOMETER:g} °C"
    return Input("water thermometer", "volume", effect, uncertainty, "°C", origin)


def _humidity(run: Measurement) -> Input:
    readings = [run.trial_conditions(trial).humidity for trial in run.trials]
    each, origins = [], set()
    for reading in readings:
        if reading is None:
            each.append(ANY_HUMIDITY)
            origins.add("not written down: 20 to 80 %")
        elif (stated := reading.to("%").uncertainty) is None:
            each.append(HYGROMETER)
            origins.add(f"a usual hygrometer, {HYGROMETER:g} %")
        else:
            each.append(stated)
            origins.add("stated")
    unknown = all(reading is None for reading in readings)
    origin = " or ".join(sorted(origins))
    effect = np.array(each) / 100.0
    return Input("humidity", "humidity", effect, _typical(each), "%", origin, unknown)


def _typical(each: Sequence[float]) -> float:
    """Return the root mean square of uncertainties, the same where they are."""
    return hypot(*each) / sqrt(len(each))
