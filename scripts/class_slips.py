"""Slips on pages as classes make them, at the rates that the match takes them to have.

Most pages are sound but for technique; of the others each has one slip, of the size that the match
takes it to have, and some the size that is printed on the flask for its volume besides. A kind of
slip is drawn as often as any other, and each page then counts with how rare its kind is, so that
rare codes are seen often enough. For each code the probability that was stated, on pages where it
was named, stands beside how often it was there.

Usage: python scripts/evaluate --class --only slips [--pages 2000]
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import product

import numpy as np
from class_pages import CARD, MMHG, ClassPage, ClassRoom, Liquids, PageKind
from numpy.typing import NDArray
from slip_evaluation import _WAYS as WAYS
from slip_evaluation import KINDS, Page, readable

from identify import Conditions, Flask, Measurement, Trial
from identify.bench.bench import Bench
from identify.compounds.table import CandidateTable
from identify.matching.slips import Slip
from identify.matching.slips.catalog import boiling_point as of_boiling_points
from identify.matching.slips.catalog import composition as of_cards
from identify.matching.slips.catalog import exercise, pen, pressure, technique, units
from identify.matching.slips.mechanism.digits import _POINT_MOVES, CHANCES
from identify.matching.slips.mechanism.mixture import _KNOWN_SHARE_OF_GROSS_ERRORS
from identify.notebook.usual import BRIM_RATIO, BRIM_RATIO_SD, LAST_DIGITS, WEATHER
from identify.observables.composition import PERCENT
from identify.observables.weighing import MOLAR_MASS
from identify.physics.constants import ELEMENTS, STANDARD_PRESSURE
from identify.physics.vapor import ideal_molar_mass

Random = np.random.Generator
Spoil = Callable[["WrittenPage", Random], "WrittenPage | None"]

# A card that does not say the pressure, as the match takes it.
# Gross errors that have no name are what the known ones leave.
_UNKNOWN = 1.0 - _KNOWN_SHARE_OF_GROSS_ERRORS
_CARD = ((CARD[0][0] + (1.0 - _UNKNOWN) * CARD[2][0], CARD[0][1]), CARD[1])
FULL = PageKind(
    "weighed",
    percent=True,
    at_laboratory=of_boiling_points._AT_LABORATORY_CHANCE[""],
    card=(*_CARD, (_UNKNOWN * CARD[2][0], CARD[2][1])),
)
SPECIAL_PAGES = 120  # of flasks weighed cold, and with a height, each
HEIGHT_GIVEN, HEIGHTS = 0.02, (400.0, 2200.0)  # with a pressure as at the sea: share, and meters
# What a page may have beside a slip in one reading.
NOT_OF_ONE_READING = {
    "boiling-point-at-laboratory",
    "element-left-out",
    "mass-in-excess",
    "mass-missing",
    "pressure-at-sea",
    "superheated",
    "thread-uncorrected",
    "volume-nominal",
}
_MOST_NUMBERS = {"mass": 6, "percent": 4}  # on a page
SPOILED_PAGES, MAX_TRIES = 40, 400  # of each kind, which some liquids' pages cannot have
_COPIED, _PRINTED = 0.002, 0.04  # pages on which nothing was gained; with a printed size as volume
_PRINTED_SIZES = (125, 250)  # mL


@dataclass(frozen=True)
class WrittenPage(Page):
    """A page as text, of which any field may be missing."""

    page: ClassPage | None = field(default=None, repr=False)
    reading: str = ""
    """The one that was miswritten or is off, as a slip's repair has it."""
    is_nominal: bool = False
    """Whether what is printed on the flask was taken for its volume."""

    @classmethod
    def of(cls, page: ClassPage, expected_gain: float) -> WrittenPage:
        """Take a page apart into texts; the gain that its liquid was to give in grams."""
        run = page.run
        written = {
            "pressure": run.conditions.pressure,
            "room": run.conditions.room,
            "volume": run.flask.volume,
            "size": run.flask.size,
            "bath": run.trials[0].bath,
            "boiling_point": run.boiling_point,
        }
        for number, trial in enumerate(run.trials):
            for name in ("empty", "condensed", "gain"):
                written[f"{name} {number}"] = getattr(trial, name)
        fields = {name: one.text for name, one in written.items() if one is not None}
        percent = {element: f"{one.value:.2f}" for element, one in run.percent.items()}
        return cls(page.truth, fields, percent, len(run.trials), expected_gain, page)

    def written_as_usual(self, random: Random) -> WrittenPage:
        """Return the page with as many decimals as such readings are written with."""
        fields = dict(self.fields)
        for name, digits in LAST_DIGITS.items():
            if name in fields:
                number, unit = fields[name].split()
                shares = np.array(digits.counts) / sum(digits.counts)
                decimals = int(random.choice(len(shares), p=shares))
                more = "".join(map(str, random.integers(10, size=decimals)))
                fields[name] = f"{_with_decimals(number, decimals, more)} {unit}"
        return replace(self, fields=fields)

    def measurement(self) -> Measurement:
        """Return the page as the match takes it."""
        f = self.fields
        return Measurement(
            label="S",
            boiling_point=f.get("boiling_point"),
            percent=dict(self.percent),
            conditions=Conditions(
                pressure=f.get("pressure"), room=f.get("room"), height=f.get("height")
            ),
            flask=Flask(volume=f.get("volume"), size=f.get("size")),
            trials=[
                Trial(
                    f.get(f"empty {number}"),
                    f.get(f"condensed {number}"),
                    f.get("bath"),
                    gain=f.get(f"gain {number}"),
                )
                for number in range(self.trials)
            ],
        )

    def heavier(self, grams: float, number: int | None = None) -> WrittenPage:
        """Return the page with the flask heavier at the second weighing, of one trial or of all."""
        fields = dict(self.fields)
        for which in range(self.trials) if number is None else (number,):
            name = f"condensed {which}" if f"condensed {which}" in fields else f"gain {which}"
            text, unit = fields[name].split()
            decimals = len(text.partition(".")[2])
            fields[name] = f"{float(text) + grams:.{decimals}f} {unit}"
        return replace(self, fields=fields)

    @property
    def masses(self) -> list[str]:
        """The fields that are masses."""
        return [one for one in self.fields if one.startswith(("empty", "condensed", "gain"))]

    def worked_out(self) -> WrittenPage:
        """Return the page with gains that are M P V / (R T) of what is written on it."""
        assert self.page is not None
        weighing = Bench.of(self.measurement()).weighing
        assert weighing is not None
        each = 1e3 * ideal_molar_mass(1.0, weighing.bath, weighing.pressure, weighing.volume)
        page = replace(self, page=replace(self.page, rough=0.0))
        for number, per_kilogram in enumerate(each):
            gain = 1e3 * self.page.molar_mass / float(per_kilogram)
            page = page.heavier(gain - 1e3 * float(weighing.gain[number]), number)
        return page


@dataclass(frozen=True)
class SlipKind:
    """A kind of slip: its code, how often it happens on a page, and how a page is spoiled."""

    code: str
    rate: float
    spoil: Spoil
    liquids: Callable[[CandidateTable], NDArray[np.bool_]] | None = None
    """Of which pages can be spoiled, shape (n,); of all liquids where None."""


def _with_decimals(number: str, decimals: int, more: str) -> str:
    """Return a number with fewer decimals, rounded, or with more, of these digits."""
    whole, _, behind = number.partition(".")
    if decimals <= len(behind):
        return f"{Decimal(number):.{decimals}f}"
    return f"{whole}.{behind}{more[len(behind) :]}"


def kinds() -> list[SlipKind]:
    """List all kinds of slips, at the rates of the match."""
    return [*_of_the_pen(), *_of_units_and_cards(), *_at_the_bench(), _of_exercises()]


def _of_the_pen() -> Iterator[SlipKind]:
    for way, chance in CHANCES.items():
        for name in ("mass", "pressure", "volume", "bath", "boiling_point", "percent"):
            most = _MOST_NUMBERS.get(name, 1)
            yield SlipKind(way, chance * most, _miswritten(name, most, way))


def _miswritten(name: str, most: int, way: str) -> Spoil:
    def spoil(page: WrittenPage, random: Random) -> WrittenPage | None:
        numbers = {"mass": page.masses, "percent": list(page.percent)}.get(name, [name])
        place = int(random.integers(most))
        if place >= len(numbers):
            return None
        which = numbers[place]
        page = replace(page, reading=_reading(page, name, which))
        if name == "percent":
            written = _way(page.percent[which], way, random)
            return None if written is None else page.with_percent(which, written)
        number, unit = page.fields[which].split()
        written = _way(number, way, random)
        return None if written is None else page.with_field(which, f"{written} {unit}")

    return spoil


def _reading(page: WrittenPage, name: str, which: str) -> str:
    """Return what a repaired reading is called."""
    if name == "percent":
        return f"percent {which}"
    if name != "mass":
        return which
    mass, place = which.split()
    return mass if page.trials == 1 else f"trial {int(place) + 1} {mass}"


def _way(number: str, way: str, random: Random) -> str | None:
    if way != "point-moved":
        written = WAYS[way](number, random)
        # Nobody writes a zero before other digits, or a point with none before it.
        return None if written is None or re.match(r"0\d|\.", written) else written
    moves = list(_POINT_MOVES)
    move = int(random.choice(moves, p=[_POINT_MOVES[one] for one in moves]))
    return f"{Decimal(number).scaleb(move):f}"


def _of_units_and_cards() -> Iterator[SlipKind]:
    """Take kinds whose size nobody draws from where they are spoiled for their own sake."""
    rates = {
        "bath in": units._TEMPERATURE_UNIT_CHANCE,
        "room in": units._TEMPERATURE_UNIT_CHANCE,
        "boiling point in": of_boiling_points._UNIT_CHANCE,
        "pressure in": units.UNIT_CHANCE / 5.0,
        "volume in L": units.UNIT_CHANCE,
        "masses in mg": units._MASS_UNIT_CHANCE,
        "pressure of a gauge": pressure._GAUGE_CHANCE,
        "percentages as fractions": of_cards._FRACTION_CHANCE,
        "two percentages exchanged": of_cards._SWAPPED_CHANCE,
        "oxygen by difference": of_cards._REMAINDER_CHANCE,
        "empty and condensed exchanged": pen._EXCHANGED_CHANCE,
        "one mass copied": _COPIED,
    }
    for kind, (begins, rate) in product(KINDS, rates.items()):
        if kind.name.startswith(begins):
            (code,) = kind.codes
            hides = _hide_an_element if code == "percent-by-difference" else None
            yield SlipKind(code, rate, kind.spoil, hides)


def _hide_an_element(table: CandidateTable) -> NDArray[np.bool_]:
    """Say which liquids hold oxygen, and another element than carbon and hydrogen besides."""
    others = np.array([element not in ("C", "H", "O") for element in ELEMENTS])
    holds = table.percent > 0.0
    return np.asarray(holds[:, ELEMENTS.index("O")] & holds[:, others].any(axis=1))


def _gamma(random: Random, scale: float) -> float:
    return float(random.gamma(2.0, scale))


def _at_the_bench() -> Iterator[SlipKind]:
    def piece(random: Random) -> float:
        size = np.exp(technique._PIECE_SPREAD * random.standard_normal())
        return 1e3 * technique._PIECE * float(size)

    def one_off(page: WrittenPage, random: Random) -> WrittenPage | None:
        off = technique._ONE_TRIAL * random.standard_normal() * page.expected_gain
        if page.trials < 2:
            return None
        place = int(random.integers(page.trials))
        return replace(page.heavier(off, place), reading=f"trial {place + 1}")

    def at_sea(page: WrittenPage, random: Random) -> WrittenPage | None:
        height = _gamma(random, pressure._HEIGHT)
        above = float(np.exp(-height / pressure._SCALE_HEIGHT))
        # Weighed at the station's pressure: the gain is smaller in that measure.
        return (
            page.heavier((above - 1.0) * page.expected_gain) if "pressure" in page.fields else None
        )

    def wet(page: WrittenPage, random: Random) -> WrittenPage | None:
        share = min(_gamma(random, of_cards._WET), of_cards._MAX_WATER)
        water = {"H": 11.19, "O": 88.81}
        if not {"O", "N"} & page.percent.keys() or "H" not in page.percent:
            return None
        return replace(
            page,
            percent={
                element: f"{(1.0 - share) * float(text) + share * water.get(element, 0.0):.2f}"
                for element, text in page.percent.items()
            },
        )

    yield SlipKind("mass-added", technique._ADDED_CHANCE, lambda p, r: p.heavier(piece(r)))
    yield SlipKind("lid-left-off", technique._LID_CHANCE, lambda p, r: p.heavier(-piece(r)))
    yield SlipKind("one-trial-off", technique._ONE_TRIAL_CHANCE, one_off)
    yield SlipKind("pressure-at-sea", pressure._UNKNOWN_HEIGHT_CHANCE, at_sea)
    yield SlipKind("wet-liquid", of_cards._WET_CHANCE, wet)
    yield SlipKind("", _UNKNOWN * MOLAR_MASS.gross, _anything_weighed)
    yield SlipKind("", _UNKNOWN * PERCENT.gross * _MOST_NUMBERS["percent"], _any_percentage)


def _anything_weighed(page: WrittenPage, random: Random) -> WrittenPage:
    """Return the page with a gross error that has no name."""
    factor = float(np.exp(random.laplace(0.0, MOLAR_MASS.gross_scale)))
    return page.heavier((factor - 1.0) * page.expected_gain)


def _any_percentage(page: WrittenPage, random: Random) -> WrittenPage | None:
    place = int(random.integers(_MOST_NUMBERS["percent"]))
    if place >= len(page.percent):
        return None
    return page.with_percent(list(page.percent)[place], f"{random.uniform(0.0, 100.0):.2f}")


def _of_a_flask(page: WrittenPage, written: str, volume: float) -> WrittenPage:
    """Return a page of a flask that holds so much [mL], whatever is written."""
    ratio = volume / page.number("volume")
    for number, gain in enumerate(_gains(page.measurement())):
        page = page.heavier((ratio - 1.0) * gain, number)
    fields = {**page.fields, "volume": written}
    return replace(page, fields=fields, expected_gain=ratio * page.expected_gain)


def _of_exercises() -> SlipKind:
    """Return numbers worked out with the gas law; likelier on pages that look like an exercise."""
    largest = max(exercise._CHANCES.values())

    def spoil(page: WrittenPage, random: Random) -> WrittenPage | None:
        trials = Bench.of(page.measurement()).trials
        if random.random() > exercise.exercise_chance(trials) / largest:
            return None
        return page.worked_out()

    return SlipKind("ideal-gas-numbers", largest, spoil)


@dataclass(frozen=True)
class SlipPage:
    """A page to answer, the codes that are true of it, and what it counts."""

    page: WrittenPage
    codes: frozenset[str]
    weight: float

    def is_true(self, slip: Slip) -> bool:
        """Say whether a slip is there: of that code, and in that very reading where it is told."""
        reading = self.page.reading
        return slip.code in self.codes and (
            slip.code in NOT_OF_ONE_READING or not reading or reading in slip.repaired
        )


def mixed_set(room: ClassRoom, sound: int) -> Iterator[SlipPage]:
    """Yield sound pages, and pages with one slip each."""
    every, cold = kinds(), technique._COLD_CHANCE
    left = 1.0 - HEIGHT_GIVEN - cold - sum(kind.rate for kind in every)
    for _ in range(SPECIAL_PAGES):
        page = written_page(room, replace(FULL, cooled=technique._COLD))
        yield _slip_page(page, room, {"weighed-cold"}, cold / SPECIAL_PAGES)
    yield from _with_a_height(room, every)
    for _ in range(sound):
        yield _slip_page(written_page(room), room, set(), left / sound)
    for kind in every:
        pages, tries = _spoiled(room, kind)
        for page in pages:
            yield _slip_page(page, room, {kind.code}, kind.rate / tries)


def _with_a_height(room: ClassRoom, every: Sequence[SlipKind]) -> Iterator[SlipPage]:
    """Yield pages that give a height, and a pressure as at the sea: of the sea, or of the place.

    Other slips are as frequent there as anywhere.
    """
    low, high = HEIGHTS
    chance = pressure.SEA_LEVEL_CHANCE
    for _ in range(SPECIAL_PAGES):
        height = float(room.random.uniform(low, high))
        above = float(np.exp(-height / pressure._SCALE_HEIGHT))
        is_of_the_sea = bool(room.random.random() < 0.5)
        weather = room.random.normal(STANDARD_PRESSURE, WEATHER)
        at_the_sea = f"{weather / MMHG:.1f} mmHg"
        kind = replace(
            FULL, pressure=weather * (above if is_of_the_sea else 1.0), at_laboratory=0.0
        )
        page = written_page(room, kind).with_field("height", f"{height:.0f} m")
        page, other = _with_another(page.with_field("pressure", at_the_sea), every, room.random)
        codes = {"pressure-at-sea", other} if is_of_the_sea else {other}
        share = chance if is_of_the_sea else 1.0 - chance
        weight = HEIGHT_GIVEN * share / (0.5 * SPECIAL_PAGES)
        yield _slip_page(page, room, codes, weight)


def _with_another(
    page: WrittenPage, every: Sequence[SlipKind], random: Random
) -> tuple[WrittenPage, str]:
    """Return a page with one of all slips, as often as it happens, and the slip's code."""
    rates = [kind.rate for kind in every]
    which = int(random.choice(len(rates) + 1, p=[*rates, 1.0 - sum(rates)]))
    if which < len(rates) and every[which].liquids is None:
        spoiled = _with_slip(page, every[which], random)
        if spoiled is not None:
            return spoiled, every[which].code
    return page, ""


def _with_slip(page: WrittenPage, kind: SlipKind, random: Random) -> WrittenPage | None:
    """Return a page with a slip; None where it cannot happen there, or nobody could read it."""
    try:
        spoiled = kind.spoil(page, random)
    except KeyError:  # what would be miswritten is not on the page
        return None
    return spoiled if spoiled is not None and spoiled != page and readable(spoiled) else None


def _slip_page(page: WrittenPage, room: ClassRoom, codes: set[str], weight: float) -> SlipPage:
    assert page.page is not None
    codes = codes - {""}
    if page.page.rough:
        codes.add("mass-in-excess" if page.page.rough > 0.0 else "mass-missing")
    if page.page.broad:
        codes.add("superheated" if page.page.broad > 0.0 else "thread-uncorrected")
    if page.is_nominal:
        codes.add("volume-nominal")
    if page.page.at_laboratory:
        codes.add("boiling-point-at-laboratory")
    if np.count_nonzero(room.table.percent[page.truth]) > len(page.percent):
        codes.add("element-left-out")
    return SlipPage(page, frozenset(codes), weight)


def written_page(room: ClassRoom, kind: PageKind = FULL) -> WrittenPage:
    """Draw a full page, as texts, some with a printed size for the volume up to the brim."""
    page = room.page(kind)
    written = WrittenPage.of(page, float(np.mean(_gains(page.run)))).written_as_usual(room.random)
    if "volume" not in written.fields or room.random.random() >= _PRINTED:
        return written
    size = int(room.random.choice(_PRINTED_SIZES))
    if room.random.random() >= technique._NOMINAL_CHANCE:
        return _of_a_flask(written, f"{size} mL", size)
    brim = size * room.random.normal(BRIM_RATIO, BRIM_RATIO_SD)
    return replace(_of_a_flask(written, f"{size} mL", brim), is_nominal=True)


def _gains(run: Measurement) -> list[float]:
    return [one.gain.value if one.gain else _difference(one) for one in run.trials]


def _difference(trial: Trial) -> float:
    assert trial.condensed is not None
    assert trial.empty is not None
    return trial.condensed.value - trial.empty.value


def _spoiled(room: ClassRoom, kind: SlipKind) -> tuple[list[WrittenPage], float]:
    """Return pages with one kind of slip, and among how many pages they are all there are."""
    found: list[WrittenPage] = []
    tries, share = 0, 1.0
    if kind.liquids is not None:
        liquids = np.where(kind.liquids(room.table), room.liquids.share, 0.0)
        share = float(liquids.sum())
        room = copy(room)
        room.liquids = Liquids(liquids / share)
    while len(found) < SPOILED_PAGES and tries < MAX_TRIES:
        tries += 1
        spoiled = _with_slip(written_page(room), kind, room.random)
        if spoiled is not None:
            found.append(spoiled)
    return found, tries / share


@dataclass
class CodeTally:
    """What became of one code: what was stated where it was named, and what was true."""

    stated: list[float] = field(default_factory=list)
    true: list[bool] = field(default_factory=list)
    weights: list[float] = field(default_factory=list)
    happened: float = 0.0
    found: float = 0.0
    pages: int = 0

    def line(self, code: str) -> str:
        """Return the figures as a line of a table."""
        weights = np.array(self.weights)
        recall = self.found / self.happened if self.happened else float("nan")
        if not len(weights):
            return f"  {code:<24}{self.pages:>6}{0:>7}{'':>27}{recall:>9.0%}"
        stated, true = np.array(self.stated), np.array(self.true)
        total = weights.sum()
        mean, frequency = weights @ stated / total, weights @ true / total
        noise = np.sqrt(weights**2 @ (true - stated) ** 2) / total
        return (
            f"  {code:<24}{self.pages:>6}{len(weights):>7}{mean:>9.2f}{frequency:>11.2f} "
            f"± {noise:.2f}{recall:>11.0%}"
        )


def tallied(answers: Iterator[tuple[SlipPage, Sequence[Slip]]]) -> dict[str, CodeTally]:
    """Return what became of each code, from pages and the slips that were named."""
    tallies: dict[str, CodeTally] = {}
    for one, named in answers:
        found = {slip.code for slip in named if one.is_true(slip)}
        for code in one.codes:
            tally = tallies.setdefault(code, CodeTally())
            tally.happened += one.weight
            tally.pages += 1
            tally.found += one.weight * (code in found)
        for slip in named:
            tally = tallies.setdefault(slip.code, CodeTally())
            tally.stated.append(slip.probability)
            tally.true.append(one.is_true(slip))
            tally.weights.append(one.weight)
    return tallies


def print_tallies(tallies: Mapping[str, CodeTally]) -> None:
    """Print the table, a code a line."""
    print("\nslips, at the rates of the match")
    print("  code                     pages  named   stated   frequency        found")
    for code in sorted(tallies):
        print(tallies[code].line(code))
    stated = np.concatenate([np.array(one.stated) for one in tallies.values()])
    true = np.concatenate([np.array(one.true, float) for one in tallies.values()])
    weights = np.concatenate([np.array(one.weights) for one in tallies.values()])
    mean, frequency = (weights @ values / weights.sum() for values in (stated, true))
    print(f"  {'all named':<24}{'':>6}{len(stated):>7}{mean:>9.2f}{frequency:>11.2f}")
