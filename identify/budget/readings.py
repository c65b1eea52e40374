"""What was read, and what each reading is uncertain by: as stated, else by a usual instrument."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from dataclasses import field as with_default
from functools import cached_property
from math import ceil, hypot, sqrt
from typing import TypeVar

import numpy as np

from identify.bench.bench import Assumption
from identify.bench.readings import SIReading
from identify.bench.trials import BenchTrial, balance_digit
from identify.notebook import usual
from identify.notebook.findings import listed
from identify.notebook.quantity.quantities import QuantityError
from identify.notebook.quantity.units import MMHG, known_unit
from identify.physics.arrays import Array
from identify.physics.water import water_density

_Key = TypeVar("_Key", bound=Hashable)

# Standard uncertainties within which a reading practically always lies. Common practice.
_ZERO_AT = 3.0
# SI units of one unit of the budget.
_SCALES = {"g": 1e-3, "mL": 1e-6, "mmHg": MMHG, "°C": 1.0, "%": 0.01}


@dataclass(frozen=True)
class Input:
    """One reading, or one constant of the liquid, with its standard uncertainty.

    Parameters
    ----------
    name : str
        What it is called in the budget; readings of one kind share a name.
    field : str
        What it changes: a field of `Weighing`, ``"virial"``, ``"dimers"`` or ``"vapor_pressure"``.
    effect : array, shape (k,)
        Change of that field in each trial for one standard uncertainty [SI units; relative for the
        constants of a liquid, in units of their own relative uncertainty].
    further : mapping of str to array, shape (k,)
        The same for other fields that follow from it: an assumed bath boils by the pressure.
    condition : str
        The condition that was not written down, and is assumed; empty for a reading.
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
    further: Mapping[str, Array] = with_default(default_factory=dict)
    condition: str = ""

    @property
    def effects(self) -> dict[str, Array]:
        """All fields that it changes, and how."""
        return {self.field: self.effect, **self.further}

    @cached_property
    def entered(self) -> int:
        """How many trials it enters."""
        changes = self.effect if not self.further else np.any([*self.effects.values()], axis=0)
        return int(np.count_nonzero(changes))


def inputs_of(trials: Sequence[BenchTrial], assumed: Sequence[Assumption]) -> tuple[Input, ...]:
    """Return all readings of a run with their uncertainties, and what was assumed with its spread.

    One reading written for several trials is one reading, and one instrument is off by the same
    at all of its readings: both are shared by the trials. Only a balance, which is set to zero
    each time, errs anew at each weighing.
    """
    return (
        *_weighings(trials),
        *_instrument("bath thermometer", "bath", [one.bath for one in trials]),
        *_rooms(trials),
        *_instrument("barometer", "pressure", [one.pressure for one in trials]),
        *_flasks(trials),
        *_humidity([one.humidity for one in trials]),
        *map(_of_assumption, assumed),
    )


def cooler_vapor(trials: Sequence[BenchTrial]) -> Iterator[Input]:
    """Yield what the vapor may be cooler than the bath in which its flask stands.

    The value is not corrected for it: what is usual counts as an error, with its spread.
    """
    in_bath = [place for place, trial in enumerate(trials) if trial.is_in_flask]
    if in_bath:
        size = hypot(usual.VAPOR_COOLER, usual.VAPOR_COOLER_SPREAD)
        origin = f"{usual.VAPOR_COOLER:g} ± {usual.VAPOR_COOLER_SPREAD:g} °C as usual"
        effect = _effect(trials, in_bath, -size)
        yield _input("vapor cooler than the bath", "bath", effect, size, "°C", origin)


_ASSUMED_NAMES = {
    "pressure": "pressure, assumed",
    "room": "room, assumed",
    "bath": "bath, assumed",
    "humidity": "humidity",
    "volume": "volume of the flask, by its size",
    "water_temperature": "temperature of the water, assumed",
}


def _of_assumption(assumed: Assumption) -> Input:
    """Return the input of a condition that was assumed, with all that follows from it."""
    effects = assumed.effects
    first = assumed.condition if assumed.condition in effects else next(iter(effects), "volume")
    taken, is_humidity = assumed.quantity, assumed.condition == "humidity"
    return Input(
        name=_ASSUMED_NAMES[assumed.condition],
        field=first,
        effect=effects.get(first, np.zeros(assumed.shifted.trials)),
        standard_uncertainty=taken.uncertainty or 0.0,
        unit={"C": "°C"}.get(taken.unit, taken.unit),
        origin="not written down: 20 to 80 %" if is_humidity else f"not written down: {taken}",
        rectangular=is_humidity,
        further={name: effect for name, effect in effects.items() if name != first},
        condition=assumed.condition,
    )


def refuse_nothing(trials: Iterable[BenchTrial]) -> None:
    """Refuse a reading that may as well be zero: all that is divided by it may be anything.

    Raises
    ------
    QuantityError
        If a pressure, a volume, its water, or a temperature above absolute zero is no larger than
        three of its standard uncertainties.
    """
    for trial in trials:
        for record, names in (
            (trial.written, ("bath",)),
            (trial.conditions, ("room", "pressure")),
            (trial.flask, ("volume", "water_volume", "water_mass", "water_temperature")),
        ):
            for name in names:
                written = getattr(record, name)
                reading = SIReading.of(written)
                if _ZERO_AT * reading.uncertainty_or(0.0) < reading.value or written is None:
                    continue
                above = " above absolute zero" if written.dimension == "temperature" else ""
                reason = "is zero, which no flask holds"
                if reading.value > 0.0:
                    reason = (
                        "has a standard uncertainty of a third of it or more, so that it may as "
                        f"well be zero{above}"
                    )
                advice = "check the number, its uncertainty and their unit"
                raise QuantityError(written.text or str(written), reason, advice, name)


def _weighings(trials: Sequence[BenchTrial]) -> Iterator[Input]:
    digit = balance_digit(trial.written for trial in trials)
    for which, name, sign in (
        ("empty", "empty flask, weighed", -1.0),
        ("condensed", "flask with liquid, weighed", 1.0),
        ("difference", "gain, weighed", 1.0),
    ):
        weighed = [
            place
            for place, trial in enumerate(trials)
            if trial.is_by_difference == (which == "difference")
        ]
        # Only the empty flask may have been weighed once for several trials.
        keys = [
            (getattr(trials[place], which), 0 if which == "empty" else trials[place].number)
            for place in weighed
        ]
        for (reading, _), those in _places(keys).items():
            places = [weighed[one] for one in those]
            uncertainty = trials[places[0]].mass_uncertainty(reading, digit)
            numbers = [str(trials[place].number) for place in places]
            yield _input(
                name,
                "gain",
                _effect(trials, places, sign * uncertainty),
                uncertainty,
                "g",
                _origin(reading, f"last digit of the balance, {1e3 * digit:g} g"),
                remark=f"one weighing for trials {listed(numbers)}" if len(places) > 1 else "",
            )


def _rooms(trials: Sequence[BenchTrial]) -> Iterator[Input]:
    """Yield the room's thermometer, and that of the cooled flask where it had one of its own."""
    own = [one.written.weighed_at is not None and one.is_in_flask for one in trials]
    for room in _instrument("room thermometer", "room", [one.room for one in trials]):
        # What was read in the flask does not follow the room.
        yield replace(room, further={"contents": -room.effect * own} if any(own) else {})
    if any(own):
        read = [
            replace(one.cooled, is_assumed=not is_own)
            for one, is_own in zip(trials, own, strict=True)
        ]
        yield from _instrument("thermometer in the cooled flask", "contents", read)


def _instrument(name: str, field: str, readings: Sequence[SIReading]) -> Iterator[Input]:
    """Yield the input of an instrument that is off by the same at each of its readings."""
    read = [reading for reading in readings if not reading.is_assumed]
    if not read:
        return
    unit, own = ("mmHg", usual.BAROMETER) if name == "barometer" else ("°C", usual.THERMOMETER)
    usual_u = own * _SCALES[unit]
    each = [0.0 if one.is_assumed else one.uncertainty_or(usual_u) for one in readings]
    typical = _typical([one.uncertainty_or(usual_u) for one in read])
    kind = "barometer" if unit == "mmHg" else "thermometer"
    stated = all(one.uncertainty is not None for one in read)
    origin = "stated" if stated else f"a usual {kind}, {own:g} {unit}"
    yield _input(name, field, np.array(each), typical, unit, origin)


def _flasks(trials: Sequence[BenchTrial]) -> Iterator[Input]:
    for places in _places([trial.flask for trial in trials]).values():
        trial = trials[places[0]]
        if "volume" in trial.assumed:
            continue
        volume = trial.volume.value
        if trial.flask.measured_volume is not None:
            uncertainty, origin = _measured_out(trial)
            effect = _effect(trials, places, uncertainty)
            yield _input("volume of the flask", "volume", effect, uncertainty, "mL", origin)
            continue
        mass, written = trial.water_mass, trial.flask.water_mass
        assert written is not None
        digit = written.last_digit * known_unit(written.unit).scale
        own = mass.uncertainty_or(digit)
        effect = _effect(trials, places, own * volume / mass.value)
        origin = _origin(mass, f"last digit, {1e3 * digit:g} g")
        yield _input("water in the flask, weighed", "volume", effect, own, "g", origin)
        # The warmer the water, the lighter it is, and the larger the flask that it fills.
        at = trial.water_temperature
        if "water_temperature" in trial.assumed:
            continue
        own = at.uncertainty_or(usual.THERMOMETER)
        lighter = 1.0 - water_density(at.value + own) / water_density(at.value)
        effect = _effect(trials, places, volume * lighter)
        origin = _origin(at, f"a usual thermometer, {usual.THERMOMETER:g} °C")
        yield _input("water thermometer", "volume", effect, own, "°C", origin)


def _measured_out(trial: BenchTrial) -> tuple[float, str]:
    """Return the uncertainty of a volume that was read off [m3], and where that comes from."""
    read, written = trial.measured_volume, trial.flask.measured_volume
    if read.uncertainty is not None or written is None:
        return read.uncertainty_or(0.0), "stated"
    size, each = usual.CYLINDER_SIZE, usual.CYLINDER
    fills = written.fills if written.fills > 1 else ceil(written.to("mL").value / size)
    count = "1 fill" if fills == 1 else f"{fills} fills"
    origin = f"{size:g} mL cylinder, {each:g} mL at each of {count}"
    return each * _SCALES["mL"] * sqrt(fills), origin


def _humidity(readings: Sequence[SIReading]) -> Iterator[Input]:
    read = [one for one in readings if not one.is_assumed]
    if not read:
        return
    each = [0.0 if one.is_assumed else one.uncertainty_or(usual.HYGROMETER) for one in readings]
    instrument = f"a usual hygrometer, {100.0 * usual.HYGROMETER:g} %"
    origin = " or ".join(sorted({_origin(one, instrument) for one in read}))
    typical = _typical([one.uncertainty_or(usual.HYGROMETER) for one in read])
    yield _input("humidity", "humidity", np.array(each), typical, "%", origin)


def _input(
    name: str,
    field: str,
    effect: Array,
    uncertainty: float,
    unit: str,
    origin: str,
    rectangular: bool = False,
    remark: str = "",
) -> Input:
    """Return an input whose uncertainty is in SI units, as it stands in the budget."""
    shown = uncertainty / _SCALES[unit]
    return Input(name, field, effect, shown, unit, origin, rectangular, remark)


def _places(keys: Iterable[_Key]) -> dict[_Key, list[int]]:
    """Return the places at which each key stands, in their order."""
    places: dict[_Key, list[int]] = {}
    for place, key in enumerate(keys):
        places.setdefault(key, []).append(place)
    return places


def _origin(reading: SIReading, usual_one: str) -> str:
    return usual_one if reading.uncertainty is None else "stated"


def _effect(trials: Sequence[BenchTrial], places: Sequence[int], change: float) -> Array:
    effect = np.zeros(len(trials))
    effect[list(places)] = change
    return effect


def _typical(each: Sequence[float]) -> float:
    """Return the root mean square of uncertainties, the same where they are."""
    return hypot(*each) / sqrt(len(each))
