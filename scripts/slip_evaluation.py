"""Runs with one known slip each, over many liquids: how often both are found.

A run is drawn as `evaluation.py` draws it (molar mass to 2.5 %, elements to 0.2 points, boiling
point to 1 degree), written down with the digits of a bench, and then spoiled by one slip, chosen
so large that it matters. The same run is matched as it was before the slip, with the slip but
without looking for slips, and with looking for them.

Usage: python scripts/evaluate --slips [--liquids 600] [--seed 20]
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np
from evaluation import (
    BOILING_POINT_SD,
    MOLAR_MASS_SD,
    PERCENT_SD,
    Outcome,
    outcome,
    rows_to_draw,
    score,
)
from numpy.typing import NDArray

from identify import Conditions, Flask, Measurement, Trial
from identify.bench.bench import Bench
from identify.compounds.loading import load_candidates
from identify.compounds.table import CandidateTable
from identify.matching.evidence import Matcher
from identify.matching.expected.expectation import Expectation
from identify.matching.posterior import Posterior
from identify.matching.slips import Slip, search
from identify.notebook.quantity.quantities import QuantityError
from identify.notebook.quantity.units import MMHG
from identify.observables.error.technique import CAREFUL
from identify.physics.air import moist_air_density
from identify.physics.boiling import boiling_temperature_by_trouton
from identify.physics.constants import ELEMENTS, ICE_POINT
from identify.physics.vapor import Weighing, gain

Array = NDArray[np.float64]
Random = np.random.Generator

SOUND_PAGES = 8  # of each liquid: false alarms and the calibration are small numbers
NAMED = 0.5  # probability from which a slip is named


@dataclass(frozen=True)
class Page:
    """A notebook page as text, field by field; and what was true."""

    truth: int
    fields: Mapping[str, str]
    percent: Mapping[str, str]
    trials: int
    expected_gain: float  # g, of this liquid in this flask

    def measurement(self) -> Measurement:
        """Return the page as the match takes it."""
        f = self.fields
        return Measurement(
            label="S",
            boiling_point=f["boiling_point"],
            percent=dict(self.percent),
            conditions=Conditions(
                pressure=f["pressure"],
                room=f["room"],
                height=f.get("height"),
            ),
            flask=Flask(volume=f["volume"]),
            trials=[
                Trial(f[f"empty {number}"], f[f"condensed {number}"], f["bath"])
                for number in range(self.trials)
            ],
        )

    def with_field(self, name: str, text: str) -> Page:
        """Return the page with one field written differently."""
        return replace(self, fields={**self.fields, name: text})

    def with_percent(self, element: str, text: str) -> Page:
        """Return the page with one percentage written differently."""
        return replace(self, percent={**self.percent, element: text})

    def number(self, name: str) -> float:
        """Return the number of a field."""
        return float(self.fields[name].split()[0])


class Drawing:
    """Draws pages from a table."""

    def __init__(self, table: CandidateTable, matcher: Matcher, random: Random) -> None:
        self.table, self.matcher, self.random = table, matcher, random

    @property
    def expectation(self) -> Expectation:
        """What the bench would read, candidate by candidate."""
        return self.matcher.expectation

    def page(self, truth: int, trials: int | None = None) -> Page:
        """Draw one page of a compound, of one or two trials where it is not said."""
        random = self.random
        bath, room = random.uniform(97.5, 99.8), random.uniform(19.0, 25.0)
        pressure = random.uniform(725.0, 775.0)
        volume = random.uniform(265.0, 300.0)
        trials = trials or int(random.integers(1, 3))
        one = np.ones(1)
        weighing = Weighing(
            gain=0.0 * one,
            bath=(bath + 273.15) * one,
            room=(room + 273.15) * one,
            pressure=pressure * 133.322387415 * one,
            volume=volume * 1e-6 * one,
            volume_temperature=(room + 273.15) * one,
            humidity=0.5 * one,
        )
        molar_mass = 1e-3 * self.expectation.molar_mass
        error = 1.0 + MOLAR_MASS_SD * random.standard_normal()
        liquid = self.expectation.liquid
        expected = 1e3 * float(gain(molar_mass * error, weighing, liquid)[0, truth])
        own = self.expectation.boiling_point_u[truth]
        boiling = self.expectation.normal_boiling_point[truth] - 273.15
        boiling += np.hypot(BOILING_POINT_SD, own) * random.standard_normal()
        fields = {
            "bath": f"{bath:.1f} C",
            "room": f"{room:.1f} C",
            "pressure": f"{pressure:.1f} mmHg",
            "volume": f"{volume:.1f} mL",
            "boiling_point": f"{boiling:.1f} C",
        }
        for number in range(trials):
            empty = random.uniform(82.0, 97.0)
            scatter = 1.0 + 0.004 * random.standard_normal()
            fields[f"empty {number}"] = f"{empty:.4f} g"
            fields[f"condensed {number}"] = f"{empty + expected * scatter:.4f} g"
        listed = np.flatnonzero(self.table.percent[truth] > 0.0)
        percent = {
            ELEMENTS[place]: f"{max(drawn, 0.01):.2f}"
            for place in listed
            if (drawn := self.table.percent[truth, place] + PERCENT_SD * random.standard_normal())
        }
        return Page(truth, fields, percent, trials, expected)


Spoil = Callable[[Page, Random], "Page | None"]


@dataclass(frozen=True)
class Kind:
    """One kind of slip: how a page is spoiled, and the codes by which it counts as named."""

    name: str
    group: str
    codes: frozenset[str]
    spoil: Spoil


KINDS: list[Kind] = []


def kind(name: str, group: str, *codes: str) -> Callable[[Spoil], Spoil]:
    """Put a way to spoil a page into the list."""

    def put(spoil: Spoil) -> Spoil:
        KINDS.append(Kind(name, group, frozenset(codes), spoil))
        return spoil

    return put


# --------------------------------------------------------------------------------- slips of the pen

_LARGE = 0.12  # relative, of the molar mass: smaller ones hardly matter


def _exchange(number: str, random: Random) -> str | None:
    places = [
        place
        for place in range(len(number) - 1)
        if number[place].isdigit()
        and number[place + 1].isdigit()
        and number[place] != number[place + 1]
    ]
    if not places:
        return None
    place = int(random.choice(places))
    return number[:place] + number[place + 1] + number[place] + number[place + 2 :]


def _drop(number: str, random: Random) -> str | None:
    places = [place for place, letter in enumerate(number) if letter.isdigit()]
    place = int(random.choice(places))
    return (number[:place] + number[place + 1 :]).rstrip(".") or None


def _double(number: str, random: Random) -> str | None:
    places = [place for place, letter in enumerate(number) if letter.isdigit()]
    place = int(random.choice(places))
    return number[:place] + number[place] + number[place:]


def _shift(number: str, random: Random) -> str | None:
    value = float(number) * 10.0 ** int(random.choice([-1, 1]))
    decimals = len(number.partition(".")[2])
    return f"{value:.{decimals + 1}f}".rstrip("0").rstrip(".")


_WAYS = {
    "digits-exchanged": _exchange,
    "digit-dropped": _drop,
    "digit-doubled": _double,
    "point-moved": _shift,
}


def _spoiled_mass(way: str) -> Spoil:
    def spoil(page: Page, random: Random) -> Page | None:
        for _ in range(40):
            name = f"{random.choice(['empty', 'condensed'])} {int(random.integers(page.trials))}"
            number, unit = page.fields[name].split()
            written = _WAYS[way](number, random)
            if written is None or not 0.0 < float(written) < 9e4:
                continue
            if abs(float(written) - float(number)) > 2.0 * _LARGE * page.expected_gain:
                return page.with_field(name, f"{written} {unit}")
        return None

    return spoil


def _spoiled_field(name: str, way: str) -> Spoil:
    def spoil(page: Page, random: Random) -> Page | None:
        for _ in range(40):
            number, unit = page.fields[name].split()
            written = _WAYS[way](number, random)
            if written is None or not 0.0 < float(written) < 2000.0:
                continue
            relative = abs(float(written) / float(number) - 1.0)
            if relative > _LARGE:
                return page.with_field(name, f"{written} {unit}")
        return None

    return spoil


def _spoiled_percent(way: str) -> Spoil:
    def spoil(page: Page, random: Random) -> Page | None:
        for _ in range(40):
            element = str(random.choice(list(page.percent)))
            written = _WAYS[way](page.percent[element], random)
            if written is None or not 0.0 < float(written) <= 100.0:
                continue
            if abs(float(written) - float(page.percent[element])) > 2.0:
                return page.with_percent(element, written)
        return None

    return spoil


for _way in _WAYS:
    kind(f"mass, {_way}", "record", _way)(_spoiled_mass(_way))
    kind(f"percentage, {_way}", "record", _way)(_spoiled_percent(_way))
    kind(f"pressure, {_way}", "record", _way)(_spoiled_field("pressure", _way))
    kind(f"volume, {_way}", "record", _way)(_spoiled_field("volume", _way))
    kind(f"boiling point, {_way}", "record", _way)(_spoiled_field("boiling_point", _way))


@kind("two percentages exchanged", "record", "percentages-exchanged")
def _swapped(page: Page, random: Random) -> Page | None:
    if len(page.percent) < 2:
        return None
    one, other = (str(e) for e in random.choice(list(page.percent), 2, replace=False))
    if abs(float(page.percent[one]) - float(page.percent[other])) < 2.0:
        return None
    return page.with_percent(one, page.percent[other]).with_percent(other, page.percent[one])


@kind("an element left out", "record", "element-left-out")
def _left_out(page: Page, random: Random) -> Page | None:
    if len(page.percent) < 3:
        return None
    dropped = max((e for e in page.percent if e != "C"), key=lambda e: float(page.percent[e]))
    if float(page.percent[dropped]) < 5.0:
        return None
    kept = {e: text for e, text in page.percent.items() if e != dropped}
    return None if kept.keys() == {"C", "H"} else replace(page, percent=kept)  # no slip


@kind("oxygen by difference hides an element", "record", "percent-by-difference")
def _by_difference(page: Page, random: Random) -> Page | None:
    others = [e for e in page.percent if e not in ("C", "H", "O")]
    if "O" not in page.percent or not others:
        return None
    kept = {e: text for e, text in page.percent.items() if e in ("C", "H")}
    return replace(page, percent={**kept, "O": f"{100.0 - sum(map(float, kept.values())):.2f}"})


@kind("empty and condensed exchanged", "record", "masses-exchanged")
def _masses_exchanged(page: Page, random: Random) -> Page | None:
    fields = dict(page.fields)
    for number in range(page.trials):
        one, other = f"empty {number}", f"condensed {number}"
        fields[one], fields[other] = fields[other], fields[one]
    return replace(page, fields=fields)


@kind("one mass copied into both fields", "record", "mass-copied")
def _copied(page: Page, random: Random) -> Page | None:
    fields = dict(page.fields)
    for number in range(page.trials):
        fields[f"condensed {number}"] = fields[f"empty {number}"]
    return replace(page, fields=fields)


# ------------------------------------------------------------------------------------------ units

_PER_MMHG = {"kPa": 0.133322387415, "hPa": 1.33322387415, "inHg": 1.0 / 25.4}
_PER_MMHG |= {"atm": 1.0 / 760.0, "psi": 0.0193367747}


def _pressure_in(unit: str) -> Spoil:
    def spoil(page: Page, random: Random) -> Page | None:
        digits = {"atm": 4, "psi": 3, "inHg": 2, "kPa": 2, "hPa": 1}[unit]
        value = page.number("pressure") * _PER_MMHG[unit]
        return page.with_field("pressure", f"{value:.{digits}f} mmHg")

    return spoil


for _unit in _PER_MMHG:
    kind(f"pressure in {_unit}", "unit", "pressure-unit")(_pressure_in(_unit))


@kind("pressure of a gauge", "unit", "pressure-gauge")
def _gauge(page: Page, random: Random) -> Page | None:
    above = page.number("pressure") - 760.0
    return page.with_field("pressure", f"{above:.1f} mmHg") if above > 0.5 else None


@kind("pressure reduced to the sea, height given", "unit", "pressure-at-sea")
def _at_sea(page: Page, random: Random) -> Page | None:
    height = float(random.uniform(900.0, 2200.0))
    station = page.number("pressure") * float(np.exp(-height / 8434.0))
    # The weighing was at the station's pressure: the gain is smaller in that measure.
    smaller = station / page.number("pressure")
    fields = {**page.fields, "height": f"{height:.0f} m"}
    for number in range(page.trials):
        empty = page.number(f"empty {number}")
        grown = page.number(f"condensed {number}") - empty
        fields[f"condensed {number}"] = f"{empty + smaller * grown:.4f} g"
    return replace(page, fields=fields)


def _temperature_in(name: str, unit: str) -> Spoil:
    def spoil(page: Page, random: Random) -> Page | None:
        celsius = page.number(name)
        value = 1.8 * celsius + 32.0 if unit == "F" else celsius + 273.15
        return page.with_field(name, f"{value:.1f} C")

    return spoil


for _field, _code in (
    ("bath", "temperature-unit"),
    ("room", "temperature-unit"),
    ("boiling_point", "boiling-point-unit"),
):
    for _unit in ("F", "K"):
        kind(f"{_field.replace('_', ' ')} in {_unit}", "unit", _code)(
            _temperature_in(_field, _unit)
        )


@kind("volume in L", "unit", "volume-unit")
def _liters(page: Page, random: Random) -> Page | None:
    return page.with_field("volume", f"{page.number('volume') / 1000.0:.4f} mL")


@kind("masses in mg", "unit", "mass-in-mg")
def _milligrams(page: Page, random: Random) -> Page | None:
    fields = dict(page.fields)
    for name in page.fields:
        if name.startswith(("empty", "condensed")):
            fields[name] = f"{1e3 * page.number(name):.1f} g"
    return replace(page, fields=fields)


@kind("percentages as fractions of one", "unit", "percent-as-fraction")
def _fractions(page: Page, random: Random) -> Page | None:
    if len(page.percent) < 2:
        return None
    return replace(page, percent={e: f"{float(p) / 100.0:.4f}" for e, p in page.percent.items()})


# -------------------------------------------------------------------------------------- technique


@kind("nominal volume", "technique", "volume-nominal")
def _nominal(page: Page, random: Random) -> Page | None:
    return page.with_field("volume", "250 mL")


def _offset(page: Page, grams: float) -> Page:
    fields = dict(page.fields)
    for number in range(page.trials):
        name = f"condensed {number}"
        fields[name] = f"{page.number(name) + grams:.4f} g"
    return replace(page, fields=fields)


@kind("liquid left, 20 to 60 % too high", "technique", "mass-in-excess")
def _excess(page: Page, random: Random) -> Page | None:
    return _offset(page, float(random.uniform(0.2, 0.6)) * page.expected_gain)


@kind("vapor space not filled, flask warm", "technique", "mass-missing")
def _missing(page: Page, random: Random) -> Page | None:
    return _offset(page, -float(random.uniform(0.12, 0.35)) * page.expected_gain)


@kind("lid left off at the second weighing", "technique", "lid-left-off")
def _lid(page: Page, random: Random) -> Page | None:
    return _offset(page, -float(random.uniform(0.35, 1.2)))


@kind("something added after the first weighing", "technique", "mass-added")
def _added(page: Page, random: Random) -> Page | None:
    return _offset(page, float(random.uniform(0.35, 1.2)))


@kind("flask weighed at 5 °C", "technique", "weighed-cold")
def _cold(page: Page, random: Random) -> Page | None:
    """Left out: what of the vapor condenses besides, which adds to the denser air."""
    room, cold = page.number("room") + ICE_POINT, 5.0 + ICE_POINT
    pascal = page.number("pressure") / MMHG
    air = moist_air_density(room, pascal, 0.5) * page.number("volume") * 1e-3  # g
    return _offset(page, float(air) * (room / cold - 1.0))


@kind("one mass of several copied", "record", "mass-copied")
def _one_copied(page: Page, random: Random) -> Page | None:
    return page.with_field("condensed 0", page.fields["empty 0"]) if page.trials > 1 else None


@kind("one of the trials off", "technique", "one-trial-off")
def _one_off(page: Page, random: Random) -> Page | None:
    if page.trials < 2:
        return None
    grams = float(random.choice([-1.0, 1.0]) * random.uniform(0.15, 0.5)) * page.expected_gain
    return page.with_field("condensed 0", f"{page.number('condensed 0') + grams:.4f} g")


@kind("thread of the thermometer", "technique", "thread-uncorrected")
def _thread(page: Page, random: Random) -> Page | None:
    low = float(random.uniform(4.0, 7.0))
    return page.with_field("boiling_point", f"{page.number('boiling_point') - low:.1f} C")


@kind("boiling point at 625 mmHg", "technique", "boiling-point-at-laboratory")
def _at_laboratory(page: Page, random: Random) -> Page | None:
    """At 1,600 m, where water boils at 94.7 degrees: the flask holds less, and the liquid boils."""
    low = 625.0
    boils = boiling_temperature_by_trouton(low / MMHG, page.number("boiling_point") + ICE_POINT)
    bath = page.number("bath") - 5.0
    less = low / page.number("pressure") * (page.number("bath") + ICE_POINT) / (bath + ICE_POINT)
    fields = {**page.fields, "pressure": f"{low:.1f} mmHg", "bath": f"{bath:.1f} C"}
    fields["boiling_point"] = f"{boils - ICE_POINT:.1f} C"
    for number in range(page.trials):
        empty = page.number(f"empty {number}")
        gained = page.number(f"condensed {number}") - empty
        fields[f"condensed {number}"] = f"{empty + less * gained:.4f} g"
    return replace(page, fields=fields)


@kind("superheated liquid", "technique", "superheated")
def _hot(page: Page, random: Random) -> Page | None:
    high = float(random.uniform(4.0, 10.0))
    return page.with_field("boiling_point", f"{page.number('boiling_point') + high:.1f} C")


@kind("4 to 12 % of water in the liquid", "bottle", "wet-liquid")
def _wet(page: Page, random: Random) -> Page | None:
    if not {"O", "N"} & page.percent.keys():  # takes up none
        return None
    share = float(random.uniform(0.04, 0.12))
    water = {"H": 11.19, "O": 88.81}
    percent = {
        e: f"{(1.0 - share) * float(page.percent.get(e, '0')) + share * water.get(e, 0.0):.2f}"
        for e in (*page.percent, *(() if "O" in page.percent else ("O",)))
    }
    return replace(page, percent=percent)


# ------------------------------------------------------------------------------------------ tally


@dataclass
class Tally:
    """What became of the runs of one kind."""

    weights: list[float] = field(default_factory=list)
    clean: list[Outcome] = field(default_factory=list)
    blind: list[Outcome] = field(default_factory=list)
    seeing: list[Outcome] = field(default_factory=list)
    named: list[bool] = field(default_factory=list)
    any_named: list[bool] = field(default_factory=list)
    codes: Counter[str] = field(default_factory=Counter)

    def share(self, right: Sequence[bool]) -> float:
        """Return a share of the runs, each counted with its weight."""
        weights = np.array(self.weights)
        return float(weights @ np.array(right, dtype=float) / weights.sum())


def readable(page: Page) -> bool:
    """Return whether the reader takes the page at all: it names the field of what it refuses."""
    try:
        page.measurement()
    except QuantityError:
        return False
    return True


def places(matcher: Matcher, page: Page) -> tuple[Outcome, Outcome, tuple[str, ...]]:
    """Return the outcome without and with a search for slips, and the codes that were named."""
    run = page.measurement()
    posterior = Posterior.of(matcher.evidence(Bench.of(run)))
    found = search(run, posterior)
    return (
        outcome(posterior.probability, page.truth, matcher.order),
        outcome(found.posterior.probability, page.truth, matcher.order),
        tuple(slip for slip in found.slips if slip.probability > NAMED),
    )


# What the readings can tell of a number, or of a gain: twice the molar mass's error.
_NEAR = 2.0 * MOLAR_MASS_SD


def _same_number(slip: Slip, page: Page, spoiled: Page) -> bool:
    """Return whether a slip names the field that was spoiled and the number that was right.

    Of 742 with its last digit dropped and 742 with the point moved, no reading can tell which.
    """
    for key, told in slip.repaired.items():
        name = key.removeprefix("percent ")
        right = page.percent.get(name) or _field(page, key)
        wrong = spoiled.percent.get(name) or _field(spoiled, key)
        if right is None or right == wrong:
            continue
        number, meant = float(right.split()[0]), float(told.split()[0])
        mass = key.endswith(("empty", "condensed"))
        size = page.expected_gain if mass else number
        if abs(meant - number) <= _NEAR * size:
            return True
    return False


def _field(page: Page, key: str) -> str | None:
    """Return what a page has in the field that a slip names."""
    words = key.split()
    if words[0] == "trial":
        return page.fields.get(f"{words[2]} {int(words[1]) - 1}") if len(words) > 2 else None
    return page.fields.get(key) or page.fields.get(f"{key} 0")


def tallies(
    table: CandidateTable, rows: Sequence[int], seed: int, kinds: Sequence[Kind]
) -> tuple[Tally, dict[str, Tally]]:
    """Return what became of the clean runs, and of those with each kind of slip."""
    matcher = Matcher(table, technique=CAREFUL)
    random = np.random.default_rng(seed)
    bench = Drawing(table, matcher, random)
    clean, found = Tally(), {one.name: Tally() for one in kinds}
    for row, number in product(rows, range(SOUND_PAGES)):
        page = bench.page(int(row))
        blind, seeing, alarms = places(matcher, page)
        weight = float(matcher.prior[row])
        clean.weights.append(weight)
        clean.blind.append(blind)
        clean.seeing.append(seeing)
        clean.any_named.append(bool(alarms))
        clean.codes.update(slip.code for slip in alarms)
        if number:  # one page of a liquid is spoiled, in every way
            continue
        for one in kinds:
            spoiled = one.spoil(page, random)
            if spoiled is None or not readable(spoiled):
                continue
            tally = found[one.name]
            without, with_search, slips = places(matcher, spoiled)
            right = any(
                slip.code in one.codes or _same_number(slip, page, spoiled) for slip in slips
            )
            tally.weights.append(weight)
            tally.clean.append(seeing)
            tally.blind.append(without)
            tally.seeing.append(with_search)
            tally.named.append(right)
            tally.any_named.append(bool(slips))
            tally.codes.update(slip.code for slip in slips if not right)
    return clean, found


def report(clean: Tally, found: Mapping[str, Tally], kinds: Sequence[Kind]) -> None:
    """Print the figures kind by kind."""
    print(f"\n{'':41}  identity first, %           slip named, %")
    print(
        f"{'slip':41}{'runs':>5} {'clean':>6} {'blind':>6} {'seeing':>6} {'of clean':>8} "
        f"{'right':>6} {'other':>6}"
    )
    for one in kinds:
        tally = found[one.name]
        if not tally.weights:
            continue
        before, blind, seeing = (
            tally.share([run.place == 1 for run in runs])
            for runs in (tally.clean, tally.blind, tally.seeing)
        )
        right, anything = tally.share(tally.named), tally.share(tally.any_named)
        print(
            f"{one.name:41}{len(tally.weights):>5} {before:>6.1%} {blind:>6.1%} {seeing:>6.1%} "
            f"{seeing / before:>8.1%} {right:>6.1%} {anything - right:>6.1%}"
            f"  {', '.join(f'{code} {count}' for code, count in tally.codes.most_common(2))}"
        )
    for group in dict.fromkeys(one.group for one in kinds):
        inside = [
            found[one.name] for one in kinds if one.group == group and found[one.name].weights
        ]
        before = np.mean([t.share([run.place == 1 for run in t.clean]) for t in inside])
        seeing = np.mean([t.share([run.place == 1 for run in t.seeing]) for t in inside])
        print(
            f"all kinds of {group}: identity first in {seeing / before:.1%} of what the clean "
            "runs allow"
        )
    alarms = float(np.mean(clean.any_named))
    weights = np.array(clean.weights)
    print(
        f"\nclean runs ({len(weights)}): false alarms {alarms:.2%} of the runs, "
        f"{clean.share(clean.any_named):.2%} as common as in commerce"
    )
    every = [run for tally in found.values() for run in tally.seeing]
    each = np.array([w for tally in found.values() for w in tally.weights])
    print(
        f"calibration error: clean {score(clean.seeing, weights).calibration_error:.3f} "
        f"(without looking for slips {score(clean.blind, weights).calibration_error:.3f}), "
        f"all runs with a slip {score(every, each).calibration_error:.3f}"
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the simulation and print what it shows."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("--liquids", type=int, default=600)
    parser.add_argument("--seed", type=int, default=20)
    parser.add_argument("--only", help="kinds whose name holds this text")
    options = parser.parse_args(arguments)
    table = load_candidates()
    rows = rows_to_draw(table)
    random = np.random.default_rng(options.seed)
    rows = np.sort(random.choice(rows, min(options.liquids, len(rows)), replace=False))
    kinds = [one for one in KINDS if (options.only or "") in one.name]
    print(f"{len(rows)} liquids, {len(kinds)} kinds of slips, seed {options.seed}")
    report(*tallies(table, [int(row) for row in rows], options.seed, kinds), kinds)
    return 0


if __name__ == "__main__":
    main()
