"""What was read, and what each reading is uncertain by: as stated, else by a usual instrument."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil, hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from identify.bench.trials import balance_digit
from identify.notebook.findings import listed
from identify.notebook.measurement import Flask, Measurement
from identify.notebook.quantities import Quantity, QuantityError
from identify.notebook.units import shown_unit
from identify.notebook.usual import (
    ANY_HUMIDITY,
    BAROMETER,
    CALIBRATED_AT,
    CYLINDER,
    CYLINDER_SIZE,
    HYGROMETER,
    THERMOMETER,
)
from identify.physics.vapor import Weighing
from identify.physics.water import water_density

Array = NDArray[np.float64]

# Standard uncertainties within which a reading practically always lies. Common practice.
_ZERO_AT = 3.0


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
    remark : str
        What else the reader must know of it.
    """

    name: str
    field: str
    effect: Array
    standard_uncertainty: float
    unit: str
    origin: str = "stated"
    rectangular: bool = False
    remark: str = ""

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


def refuse_nothing(run: Measurement) -> None:
    """Refuse a reading that may as well be zero: all that is divided by it may be anything.

    Parameters
    ----------
    run : Measurement

    Raises
    ------
    QuantityError
        If a pressure, a volume, its water, or a temperature above absolute zero is no larger than
        three of its standard uncertainties.
    """
    for trial in run.trials:
        conditions, flask = run.trial_conditions(trial), run.trial_flask(trial)
        for name, reading, si in (
            ("bath", trial.bath, "K"),
            ("room", conditions.room, "K"),
            ("pressure", conditions.pressure, "Pa"),
            ("volume", flask.volume, "m3"),
            ("water_volume", flask.water_volume, "m3"),
            ("water_mass", flask.water_mass, "kg"),
            ("water_temperature", flask.water_temperature, "K"),
        ):
            if reading is None:
                continue
            absolute = reading.to(si)
            if _ZERO_AT * (absolute.uncertainty or 0.0) >= absolute.value:
                above = " above absolute zero" if si == "K" else ""
                reason = "is zero, which no flask holds"
                if absolute.value > 0.0:
                    reason = (
                        "has a standard uncertainty of a third of it or more, so that it may as "
                        f"well be zero{above}"
                    )
                advice = "check the number, its uncertainty and their unit"
                raise QuantityError(reading.text or str(reading), reason, advice, name)


def _masses(run: Measurement) -> Iterator[Input]:
    digit = Quantity(balance_digit(run.trials), "kg").to("g").value
    for field, name, sign in (
        ("empty", "empty flask, weighed", -1.0),
        ("condensed", "flask with liquid, weighed", 1.0),
    ):
        places: dict[tuple[Quantity, int | None], list[int]] = {}
        for place, trial in enumerate(run.trials):
            reading = getattr(trial, field)
            if reading is not None:
                # Only the empty flask may have been weighed once for several trials.
                own = place if field == "condensed" else None
                places.setdefault((reading, own), []).append(place)
        for (reading, _), trials in places.items():
            stated = reading.to("g").uncertainty
            uncertainty = digit if stated is None else stated
            effect = np.zeros(len(run.trials))
            effect[trials] = sign * Quantity(uncertainty, "g").to("kg").value
            origin = "stated" if stated is not None else f"last digit of the balance, {digit:g} g"
            numbers = [str(place + 1) for place in trials]
            shared = f"one weighing for trials {listed(numbers)}" if len(numbers) > 1 else ""
            yield Input(name, "gain", effect, uncertainty, "g", origin, remark=shared)


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
        by_volume = _of_flask(
            "water in the flask, weighed", own * milliliters / grams.value, origin, trials, run
        )
        yield replace(by_volume, standard_uncertainty=own, unit="g")
        yield _water_thermometer(flask, volume, trials, run)


def _measured_out(read: Quantity, milliliters: float) -> tuple[float, str]:
    stated = read.to("mL").uncertainty
    if stated is not None:
        return stated, "stated"
    fills = read.fills if read.fills > 1 else ceil(milliliters / CYLINDER_SIZE)
    count = "1 fill" if fills == 1 else f"{fills} fills"
    return (
        CYLINDER * sqrt(fills),
        f"{CYLINDER_SIZE:g} mL cylinder, {CYLINDER:g} mL at each of {count}",
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
    kelvin = CALIBRATED_AT if written is None else written.to("K").value
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
            each.append(100.0 * ANY_HUMIDITY)
            origins.add("not written down: 20 to 80 %")
        elif (stated := reading.to("%").uncertainty) is None:
            each.append(100.0 * HYGROMETER)
            origins.add(f"a usual hygrometer, {100.0 * HYGROMETER:g} %")
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
