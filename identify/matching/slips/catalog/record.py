"""Slips of the pen in a weighing: digits, units, masses exchanged."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from math import exp, isclose, prod
from statistics import mode

import numpy as np
from numpy.typing import NDArray

from identify.matching.slips.catalog.digits import Misreading, digits_of, misreadings
from identify.matching.slips.mechanism.hypothesis import Case, Hypothesis, Told, in_si, written_text
from identify.matching.slips.mechanism.rewriting import Rewritten, compared, credible, likelier
from identify.notebook.findings import listed
from identify.notebook.quantities import Quantity
from identify.notebook.units import UNITS, shown_unit
from identify.physics.constants import STANDARD_PRESSURE
from identify.physics.vapor import Weighing

Array = NDArray[np.float64]

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
        for source in (_masses, _mass_units, _exchanged, _pressures, _volumes, _baths, _units)
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
    air = Quantity(STANDARD_PRESSURE, "Pa").to("mmHg").value
    for quantity, places in _alike(case, "pressure"):
        now = float(read.pressure[places[0]])
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
    for key in ("volume", "water_volume", "water_mass"):
        name = "the water's mass" if key == "water_mass" else "the volume"
        for quantity, places in _alike_flask(case, key):
            now = float(read.volume[places[0]])
            for one in misreadings(written_text(quantity), 3):
                value = now * one.value / quantity.value
                if credible("volume", value):
                    tell = partial(miswritten, name, quantity, one, key)
                    slipped = Slipped(one.kind, one.chance, tell, one.jacobian)
                    yield _with(read, "volume", places, value, slipped)


def _baths(case: Case, read: Weighing) -> Iterator[Rewritten]:
    for quantity, places in _alike(case, "bath"):
        yield from _digits(read, "bath", "the temperature of the bath", quantity, places)


# ---------------------------------------------------------------------------------------- units


@dataclass(frozen=True)
class _Kind:
    """A reading that may be written without its unit: its name, its units, and the slip's code."""

    name: str
    units: tuple[str, ...]
    usual: str
    si: str
    code: str
    chance: float


_TEMPERATURE = ("C", "F", "K")
_TEMPERATURE_SLIP = ("temperature-unit", _TEMPERATURE_UNIT_CHANCE)
_KINDS = {
    "pressure": _Kind("the pressure", _PRESSURE_UNITS, "mmHg", "Pa", "pressure-unit", _UNIT_CHANCE),
    "volume": _Kind("the volume", ("mL", "L"), "mL", "m3", "volume-unit", _UNIT_CHANCE),
    "bath": _Kind("the temperature of the bath", _TEMPERATURE, "C", "K", *_TEMPERATURE_SLIP),
    "room": _Kind("the temperature of the room", _TEMPERATURE, "C", "K", *_TEMPERATURE_SLIP),
}


@dataclass(frozen=True)
class _Unit:
    """A reading as it was written, and the same number in another unit [SI units]."""

    field: str
    key: str
    quantity: Quantity
    places: Sequence[int]
    meant: Quantity
    now: float

    @property
    def kind(self) -> _Kind:
        return _KINDS[self.field]

    @property
    def value(self) -> float:
        return self.meant.to(self.kind.si).value

    @property
    def jacobian(self) -> float:
        """How much larger a step of the number is in the other unit."""
        own = UNITS[self.quantity.unit].scale if self.quantity.unit in UNITS else 1.0
        return UNITS[self.meant.unit].scale / own

    @property
    def odds(self) -> float:
        return likelier(self.field, self.value, self.now, self.jacobian)

    @property
    def is_possible(self) -> bool:
        """Whether it is another reading than was written, and one that a bench can show."""
        written = self.quantity.to(self.kind.si).value
        return credible(self.field, self.value) and not isclose(self.value, written, rel_tol=1e-3)


def _units(case: Case, read: Weighing) -> Iterator[Rewritten]:
    """Yield each reading in another unit, and all together that none could be as written."""
    impossible: list[_Unit] = []
    for options in _other_units(case, read):
        kind = options[0].kind
        share = kind.chance / len(options) if options[0].field == "pressure" else kind.chance
        name = kind.name[0].upper() + kind.name[1:]
        for one in options:
            tell = partial(other_unit, name, one.key, one.quantity, one.meant, kind.usual)
            slipped = Slipped(kind.code, share, tell, one.jacobian)
            yield _with(read, one.field, one.places, one.value, slipped)
        if not credible(options[0].field, options[0].now):
            impossible.append(max(options, key=lambda one: one.odds))
    if len(impossible) > 1:
        yield _all_together(read, impossible)


def _all_together(read: Weighing, units: Sequence[_Unit]) -> Rewritten:
    """One habit, such as that of writing what goes into a formula, and not one slip a reading."""
    changes: dict[str, Array] = {}
    for one in units:
        values = changes.setdefault(one.field, getattr(read, one.field).copy())
        values[list(one.places)] = one.value
    kind = units[0].kind
    code, chance = (
        (kind.code, kind.chance) if len(changes) == 1 else ("several-units", _UNIT_CHANCE)
    )
    odds = prod(one.odds for one in units)
    return Rewritten(code, chance, changes, partial(_several_units, units), odds)


def _several_units(units: Sequence[_Unit]) -> Told:
    keys = [one.key for one in units]
    parts, repaired = [], {}
    for one in units:
        usual = one.kind.usual
        same = f" ({one.meant.to(usual).value:.1f}{shown_unit(usual)})"
        part = f"{one.kind.name} {one.meant}{same if one.meant.unit != usual else ''}"
        if keys.count(one.key) == 1:
            parts.append(part)
            repaired[one.key] = str(one.meant)
            continue
        parts.append(f"{part}{_of_trials(one.places)}")
        repaired |= {f"trial {place + 1} {one.key}": str(one.meant) for place in one.places}
    if len(parts) > _MOST_TOLD:
        parts[_MOST_TOLD:] = [f"{len(parts) - _MOST_TOLD} more"]
    return Told(f"Several numbers were perhaps read in other units: {listed(parts)}.", repaired)


def _other_units(case: Case, read: Weighing) -> Iterator[list[_Unit]]:
    """Yield, of each reading that has any, the other units that a bench could have read it in."""
    for field, kind in _KINDS.items():
        for key, quantity, places in _readings(case, field):
            now = float(getattr(read, field)[places[0]])
            others = [
                _Unit(field, key, quantity, places, Quantity(quantity.value, unit), now)
                for unit in kind.units
                if unit != quantity.unit
            ]
            if options := [one for one in others if one.is_possible]:
                yield options


def _readings(case: Case, field: str) -> Iterator[tuple[str, Quantity, list[int]]]:
    if field != "volume":
        for quantity, places in _alike(case, field):
            yield field, quantity, places
        return
    for key in ("volume", "water_volume"):
        for quantity, places in _alike_flask(case, key):
            if quantity.unit in ("mL", "L", "cm3"):
                yield key, quantity, places


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
