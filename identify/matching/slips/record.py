"""Slips of the pen in a weighing: digits, units, masses exchanged."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from math import exp
from statistics import mode

import numpy as np

from identify.matching.slips.digits import Misreading, digits_of, misreadings
from identify.matching.slips.hypothesis import Case, Hypothesis, Told, in_si, written_text
from identify.matching.slips.rewriting import Rewritten, compared, credible, likelier
from identify.physics.constants import STANDARD_PRESSURE
from identify.physics.vapor import Weighing
from identify.quantities import Quantity
from identify.units import UNITS, shown_unit

# Chances of a slip on one page, before anything is compared. Common practice.
_UNIT_CHANCE = 0.003
_GAUGE_CHANCE = 0.0005
_TEMPERATURE_UNIT_CHANCE = 0.002
_MASS_UNIT_CHANCE = 0.0005
_EXCHANGED_CHANCE = 0.001
SEA_LEVEL_CHANCE = 0.3  # of a page that gives a height and yet a pressure as at the sea

_PRESSURE_UNITS = ("mmHg", "kPa", "hPa", "inHg", "atm", "psi")
SCALE_HEIGHT = 8434.0  # m: R T / (M g) of air at 15 C, the standard atmosphere of ISO 2533
_LOWEST_HEIGHT = 150.0  # m, below which a barometer's own error hides the difference
_WEATHER = 1.0e3  # Pa: how pressures at one place are spread from day to day; common practice
AT_SEA = (9.8e4, 1.05e5)  # Pa: what barometers reduced to the sea show; common practice

_GRAMS = 1e3
_MOST_TOLD = 5  # trials that a sentence lists


def weighing_slips(case: Case) -> Iterator[Hypothesis]:
    """Yield what may have gone wrong in writing the weighings down."""
    read = case.bench.weighing
    if read is None:
        return
    rewritten = [
        one
        for source in (_masses, _mass_units, _exchanged, _pressures, _volumes, _temperatures)
        for one in source(case, read)
    ]
    yield from compared(case, read, rewritten)


# --------------------------------------------------------------------------------------- masses


def _masses(case: Case, read: Weighing) -> Iterator[Rewritten]:
    """Yield masses with a digit dropped, doubled or exchanged, or the point moved."""
    written = [
        (place, field, sign, quantity)
        for place, trial in enumerate(case.run.trials)
        for field, sign in (("empty", -1.0), ("condensed", 1.0))
        if (quantity := getattr(trial, field)) is not None
    ]
    counts = [digits_of(written_text(quantity)) for *_, quantity in written]
    for which, (place, field, sign, quantity) in enumerate(written):
        kilograms = quantity.to("kg").value
        # The other masses of the same flask tell how many digits one has.
        others = counts[:which] + counts[which + 1 :]
        whole, decimals = (
            mode(len(count[part]) for count in others) if others else None for part in (0, 1)
        )
        for one in misreadings(written_text(quantity), whole, decimals):
            gain = read.gain.copy()
            right = in_si(one.value, quantity.unit)
            gain[place] += sign * (right - kilograms)
            if gain[place] > 0.0:
                name, key = _mass_of(case, field, place)
                yield Rewritten(
                    one.kind,
                    one.chance,
                    {"gain": gain},
                    partial(miswritten, name, quantity, one, key),
                    likelier("mass", right, kilograms, one.jacobian),
                    key,
                )


_MASS_NAMES = {"empty": "mass of the empty flask", "condensed": "mass with the condensed liquid"}


def _mass_of(case: Case, field: str, place: int) -> tuple[str, str]:
    """Return what a mass is called in a sentence, and its key."""
    name = f"the {_MASS_NAMES[field]}"
    if len(case.run.trials) == 1:
        return name, field
    return f"in trial {place + 1}, {name}", f"trial {place + 1} {field}"


def _mass_units(case: Case, read: Weighing) -> Iterator[Rewritten]:
    gain = read.gain / _GRAMS
    milligrams = f"{1e6 * float(np.mean(gain)):.1f} mg"
    told = Told(
        "The masses were perhaps read in mg and written down in g: then the gain was "
        f"{milligrams}.",
        {"gain": milligrams},
    )
    empty = case.run.trials[0].empty
    written = 0.1 if empty is None else empty.to("kg").value
    yield Rewritten(
        "mass-in-mg",
        _MASS_UNIT_CHANCE,
        {"gain": gain},
        lambda: told,
        odds=likelier("mass", written / _GRAMS, written, _GRAMS**-2),
        digit=1.0 / _GRAMS,
    )


def _exchanged(case: Case, read: Weighing) -> Iterator[Rewritten]:
    """Yield empty and condensed masses exchanged, in all trials or in one."""
    if bool((read.gain < 0.0).any()):
        lost = [int(place) for place in np.flatnonzero(read.gain < 0.0)]
        trial = case.run.trials[lost[0]]
        which = "" if len(lost) == read.trials else _of_trials(lost)
        first = f"in trial {lost[0] + 1} " if len(lost) > 1 else ""
        repaired = {}
        for place in lost:
            prefix = f"trial {place + 1} " if read.trials > 1 else ""
            repaired[f"{prefix}empty"] = str(case.run.trials[place].condensed)
            repaired[f"{prefix}condensed"] = str(case.run.trials[place].empty)
        told = Told(
            "The masses of the empty flask and of that with the liquid are perhaps exchanged"
            f"{which}: {first}{trial.condensed} empty, {trial.empty} with the liquid.",
            repaired,
        )
        gain = np.abs(read.gain)
        yield Rewritten("masses-exchanged", _EXCHANGED_CHANCE, {"gain": gain}, lambda: told)


# ------------------------------------------------------------------- pressure, volume, temperature


def _pressures(case: Case, read: Weighing) -> Iterator[Rewritten]:
    for quantity, places in _alike(case, "pressure"):
        now = float(read.pressure[places[0]])
        options = [
            meant
            for unit in _PRESSURE_UNITS
            if unit != quantity.unit
            and credible("pressure", (meant := Quantity(quantity.value, unit)).to("Pa").value)
        ]
        for meant in options:
            value = meant.to("Pa").value
            tell = partial(other_unit, "The pressure", "pressure", quantity, meant, "mmHg")
            yield _with(
                read,
                "pressure",
                places,
                value,
                Slipped("pressure-unit", _UNIT_CHANCE / len(options), tell, value / now),
            )
        air = Quantity(STANDARD_PRESSURE, "Pa").to("mmHg").value
        above = Quantity(quantity.to("mmHg").value + air, "mmHg")
        if now < 2e4 and credible("pressure", above.to("Pa").value):
            slipped = Slipped("pressure-gauge", _GAUGE_CHANCE, partial(_gauge, quantity, above))
            yield _with(read, "pressure", places, above.to("Pa").value, slipped)
        yield from _sea_level(case, read, quantity, places)
        yield from _digits(read, "pressure", "the pressure", quantity, places)


def _gauge(quantity: Quantity, meant: Quantity) -> Told:
    return Told(
        f"The pressure, {quantity}, is perhaps what a gauge shows above the air's: then it was "
        f"about {meant.value:.1f} mmHg.",
        {"pressure": f"{meant.value:.1f} mmHg"},
    )


def _sea_level(
    case: Case, read: Weighing, quantity: Quantity, places: Sequence[int]
) -> Iterator[Rewritten]:
    height = case.run.trial_conditions(case.run.trials[places[0]]).height
    meters = 0.0 if height is None else height.to("m").value
    now = float(read.pressure[places[0]])
    if meters < _LOWEST_HEIGHT or not AT_SEA[0] < now < AT_SEA[1]:
        return
    station = now * exp(-meters / SCALE_HEIGHT)
    shown = f"{Quantity(station, 'Pa').to('mmHg').value:.0f} mmHg"
    told = Told(
        f"The pressure, {quantity}, is perhaps that of a weather report, reduced to the sea: "
        f"at {height} it was {shown}.",
        {"pressure": shown},
    )
    values = read.pressure.copy()
    values[list(places)] = station
    # Up to some hundred meters, weather alone makes a pressure look like that of the sea.
    usual = STANDARD_PRESSURE * exp(-meters / SCALE_HEIGHT)
    of_the_sea, of_the_place = ((now - mean) / _WEATHER for mean in (STANDARD_PRESSURE, usual))
    odds = exp(min(0.5 * (of_the_place**2 - of_the_sea**2), 50.0))
    chance = SEA_LEVEL_CHANCE * odds / (1.0 + odds)
    yield Rewritten("pressure-at-sea", chance, {"pressure": values}, lambda: told)


def _volumes(case: Case, read: Weighing) -> Iterator[Rewritten]:
    for field in ("volume", "water_volume", "water_mass"):
        name = "the water's mass" if field == "water_mass" else "the volume"
        for quantity, places in _alike_flask(case, field):
            now = float(read.volume[places[0]])
            if field != "water_mass" and quantity.unit in ("mL", "L", "cm3"):
                meant = Quantity(quantity.value, "mL" if quantity.unit == "L" else "L")
                value = meant.to("m3").value
                if credible("volume", value):
                    tell = partial(other_unit, "The volume", field, quantity, meant, "mL")
                    slipped = Slipped("volume-unit", _UNIT_CHANCE, tell, value / now)
                    yield _with(read, "volume", places, value, slipped)
            for one in misreadings(written_text(quantity), 3):
                value = now * one.value / quantity.value
                if credible("volume", value):
                    tell = partial(miswritten, name, quantity, one, field)
                    slipped = Slipped(one.kind, one.chance, tell, one.jacobian)
                    yield _with(read, "volume", places, value, slipped)


def _temperatures(case: Case, read: Weighing) -> Iterator[Rewritten]:
    for field in ("bath", "room"):
        name = f"the temperature of the {field}"
        for quantity, places in _alike(case, field):
            for unit in ("C", "F", "K"):
                meant = Quantity(quantity.value, unit)
                kelvin = meant.to("K").value
                if unit != quantity.unit and credible(field, kelvin):
                    tell = partial(other_unit, f"T{name[1:]}", field, quantity, meant, "C")
                    own = UNITS[quantity.unit].scale if quantity.unit in UNITS else 1.0
                    stretch = UNITS[unit].scale / own
                    slipped = Slipped("temperature-unit", _TEMPERATURE_UNIT_CHANCE, tell, stretch)
                    yield _with(read, field, places, kelvin, slipped)
            if field == "bath":
                yield from _digits(read, "bath", name, quantity, places)


def _digits(
    read: Weighing, field: str, name: str, quantity: Quantity, places: Sequence[int]
) -> Iterator[Rewritten]:
    for one in misreadings(written_text(quantity)):
        value = in_si(one.value, quantity.unit)
        if credible(field, value):
            tell = partial(miswritten, name, quantity, one, field)
            slipped = Slipped(one.kind, one.chance, tell, one.jacobian)
            yield _with(read, field, places, value, slipped)


# ---------------------------------------------------------------------------------------- wording


WAYS = {
    "digits-exchanged": "has perhaps two digits exchanged",
    "digit-dropped": "perhaps lacks a digit",
    "digit-doubled": "has perhaps a digit twice",
    "point-moved": "has perhaps its decimal point in the wrong place",
}


def miswritten(name: str, quantity: Quantity, one: Misreading, key: str) -> Told:
    """Say that the digits of a number are wrong, and what would be right."""
    meant = Quantity(one.value, quantity.unit, text=one.text)
    sentence = f"{name}, {quantity}, {WAYS[one.kind]}: {meant} would fit."
    return Told(sentence[0].upper() + sentence[1:], {key: str(meant)})


def other_unit(name: str, key: str, quantity: Quantity, meant: Quantity, usual: str) -> Told:
    """Say that a number was read in another unit, and what it then is in the usual one."""
    same = f"{meant.to(usual).value:.1f}{shown_unit(usual)}"
    unit = shown_unit(meant.unit).strip()
    # What was meant in the usual unit needs no conversion.
    ending = f": {meant}." if meant.unit == usual else f": {meant} is {same}."
    return Told(f"{name}, {quantity}, was perhaps read in {unit}{ending}", {key: str(meant)})


@dataclass(frozen=True)
class Slipped:
    """What happened to one reading: code, chance, words, and how the number moved."""

    code: str
    chance: float
    tell: Callable[[], Told]
    jacobian: float = 1.0


def _with(
    read: Weighing, field: str, places: Sequence[int], value: float, slipped: Slipped
) -> Rewritten:
    values = getattr(read, field).copy()
    now = float(values[places[0]])
    values[list(places)] = value
    odds = likelier(field, value, now, slipped.jacobian)
    return Rewritten(slipped.code, slipped.chance, {field: values}, slipped.tell, odds, field)


def _of_trials(places: Sequence[int]) -> str:
    if len(places) > _MOST_TOLD:
        return f" in {len(places)} trials"
    *others, last = (str(place + 1) for place in places)
    return f" in trials {', '.join(others)} and {last}" if others else f" in trial {last}"


def _alike(case: Case, field: str) -> Iterator[tuple[Quantity, list[int]]]:
    """Yield each reading of a field with the trials that it stands for."""
    places: dict[Quantity, list[int]] = {}
    for place, trial in enumerate(case.run.trials):
        source = trial if field == "bath" else case.run.trial_conditions(trial)
        quantity = getattr(source, field)
        if quantity is not None:
            places.setdefault(quantity, []).append(place)
    yield from places.items()


def _alike_flask(case: Case, field: str) -> Iterator[tuple[Quantity, list[int]]]:
    places: dict[Quantity, list[int]] = {}
    for place, trial in enumerate(case.run.trials):
        flask = case.run.trial_flask(trial)
        used = next(
            (name for name in ("volume", "water_volume", "water_mass") if getattr(flask, name)),
            None,
        )
        if used == field:
            places.setdefault(getattr(flask, field), []).append(place)
    yield from places.items()
