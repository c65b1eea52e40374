"""Slips on pages as classes make them, at the rates that the match takes them to have.

Most pages are sound but for technique; of the others each has one slip, of the size that the match
takes it to have. A kind of slip is drawn as often as any other, and each page then counts with how
rare its kind is, so that rare codes are seen often enough. For each code the probability that was
stated, on pages where it was named, stands beside how often it was there.

Usage: python scripts/evaluate --class --only slips [--pages 2000]
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np
from class_pages import MMHG, ClassPage, ClassRoom, PageKind
from slip_evaluation import _WAYS as WAYS
from slip_evaluation import KINDS, Page, readable

from identify import Conditions, Flask, Measurement, Trial
from identify.bench.bench import Bench
from identify.matching.slips.catalog import boiling_point as of_boiling_points
from identify.matching.slips.catalog import composition as of_cards
from identify.matching.slips.catalog import exercise, pen, pressure, technique, units
from identify.matching.slips.mechanism.digits import CHANCES
from identify.notebook.usual import BRIM_RATIO
from identify.physics.vapor import ideal_molar_mass

Random = np.random.Generator
Spoil = Callable[["WrittenPage", Random], "WrittenPage | None"]

# A card that does not say the pressure, as the match takes it.
FULL = PageKind("weighed", percent=True, at_laboratory=of_boiling_points._AT_LABORATORY_CHANCE[""])
SPECIAL_PAGES = 120  # of laboratories high up, and of flasks weighed cold
HIGH_LABORATORIES, HIGH_MMHG = 0.1, (560.0, 700.0)  # share of pages
SPOILED_PAGES, MAX_TRIES = 40, 400  # of each kind, which some liquids' pages cannot have
_COPIED, _NOMINAL = 0.002, 0.02  # pages on which nothing was gained; with a printed size as volume
_NOMINAL_SIZE = {125: "125 mL", 250: "250 mL"}


@dataclass(frozen=True)
class WrittenPage(Page):
    """A page as text, of which any field may be missing."""

    page: ClassPage | None = field(default=None, repr=False)

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

    def measurement(self) -> Measurement:
        """Return the page as the match takes it."""
        f = self.fields
        return Measurement(
            label="S",
            boiling_point=f.get("boiling_point"),
            percent=dict(self.percent),
            conditions=Conditions(pressure=f.get("pressure"), room=f.get("room")),
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


def kinds() -> list[SlipKind]:
    """List all kinds of slips, at the rates of the match."""
    return [*_of_the_pen(), *_of_units_and_cards(), *_at_the_bench(), _of_exercises()]


def _of_the_pen() -> Iterator[SlipKind]:
    for way, chance in CHANCES.items():
        for name in ("mass", "pressure", "volume", "bath", "boiling_point", "percent"):
            # Numbers on a page: two masses a trial, two or three elements.
            count = {"mass": 3.5, "percent": 2.7}.get(name, 1.0)
            yield SlipKind(way, chance * count, _miswritten(name, way))


def _miswritten(name: str, way: str) -> Spoil:
    def spoil(page: WrittenPage, random: Random) -> WrittenPage | None:
        if name == "percent":
            element = str(random.choice(list(page.percent)))
            written = WAYS[way](page.percent[element], random)
            return None if written is None else page.with_percent(element, written)
        which = name
        if name == "mass":
            masses = [one for one in page.fields if one.startswith(("empty", "condensed", "gain"))]
            which = str(random.choice(masses))
        number, unit = page.fields[which].split()
        written = WAYS[way](number, random)
        return None if written is None else page.with_field(which, f"{written} {unit}")

    return spoil


def _of_units_and_cards() -> Iterator[SlipKind]:
    """Take kinds whose size nobody draws from where they are spoiled for their own sake."""
    rates = {
        "bath in": units._TEMPERATURE_UNIT_CHANCE,
        "room in": units._TEMPERATURE_UNIT_CHANCE,
        "boiling point in": of_boiling_points._UNIT_CHANCE,
        "pressure in": units._UNIT_CHANCE / 5.0,
        "volume in L": units._UNIT_CHANCE,
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
            yield SlipKind(code, rate, kind.spoil)


def _gamma(random: Random, scale: float) -> float:
    return float(random.gamma(2.0, scale))


def _at_the_bench() -> Iterator[SlipKind]:
    def piece(random: Random) -> float:
        size = np.exp(technique._PIECE_SPREAD * random.standard_normal())
        return 1e3 * technique._PIECE * float(size)

    def one_off(page: WrittenPage, random: Random) -> WrittenPage | None:
        off = technique._ONE_TRIAL * random.standard_normal() * page.expected_gain
        return page.heavier(off, int(random.integers(page.trials))) if page.trials > 1 else None

    def at_sea(page: WrittenPage, random: Random) -> WrittenPage:
        height = _gamma(random, pressure._HEIGHT)
        above = float(np.exp(-height / pressure._SCALE_HEIGHT))
        # Weighed at the station's pressure: the gain is smaller in that measure.
        return (
            page.heavier((above - 1.0) * page.expected_gain) if "pressure" in page.fields else None
        )

    def nominal(page: WrittenPage, random: Random) -> WrittenPage | None:
        if "volume" not in page.fields:
            return None
        volume = page.number("volume")
        size = min(_NOMINAL_SIZE, key=lambda one: abs(BRIM_RATIO * one - volume))
        return page.with_field("volume", _NOMINAL_SIZE[size])

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
    yield SlipKind("volume-nominal", _NOMINAL, nominal)
    yield SlipKind("", _NOMINAL, _truly_nominal)
    yield SlipKind("wet-liquid", of_cards._WET_CHANCE, wet)


def _truly_nominal(page: WrittenPage, random: Random) -> WrittenPage | None:
    """Return a page of a flask that holds exactly what another one has printed on it."""
    spoiled = page.with_field("volume", _NOMINAL_SIZE[250])
    ratio = 250.0 / page.number("volume")
    return spoiled.heavier((ratio - 1.0) * page.expected_gain)


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


def mixed_set(room: ClassRoom, sound: int) -> Iterator[SlipPage]:
    """Yield sound pages, and pages with one slip each."""
    every, cold = kinds(), technique._COLD_CHANCE
    left = 1.0 - HIGH_LABORATORIES - cold - sum(kind.rate for kind in every)
    for _ in range(SPECIAL_PAGES):
        high = replace(FULL, pressure=float(room.random.uniform(*HIGH_MMHG)) * MMHG)
        yield _slip_page(written_page(room, high), room, "", HIGH_LABORATORIES / SPECIAL_PAGES)
    for _ in range(SPECIAL_PAGES):
        page = written_page(room, replace(FULL, cooled=technique._COLD))
        yield _slip_page(page, room, "weighed-cold", cold / SPECIAL_PAGES)
    for _ in range(sound):
        yield _slip_page(written_page(room), room, "", left / sound)
    for kind in every:
        pages, tries = _spoiled(room, kind)
        for page in pages:
            yield _slip_page(page, room, kind.code, kind.rate / tries)


def _slip_page(page: WrittenPage, room: ClassRoom, code: str, weight: float) -> SlipPage:
    assert page.page is not None
    codes = {code} - {""}
    if page.page.rough:
        codes.add("mass-in-excess" if page.page.rough > 0.0 else "mass-missing")
    if page.page.broad:
        codes.add("superheated" if page.page.broad > 0.0 else "thread-uncorrected")
    if page.page.at_laboratory:
        codes.add("boiling-point-at-laboratory")
    if np.count_nonzero(room.table.percent[page.truth]) > len(page.percent):
        codes.add("element-left-out")
    return SlipPage(page, frozenset(codes), weight)


def written_page(room: ClassRoom, kind: PageKind = FULL) -> WrittenPage:
    """Draw a full page, as texts."""
    page = room.page(kind)
    gains = [float(one.gain.value if one.gain else _difference(one)) for one in page.run.trials]
    return WrittenPage.of(page, float(np.mean(gains)))


def _difference(trial: Trial) -> float:
    assert trial.condensed is not None
    assert trial.empty is not None
    return trial.condensed.value - trial.empty.value


def _spoiled(room: ClassRoom, kind: SlipKind) -> tuple[list[WrittenPage], int]:
    """Return pages with one kind of slip, and how many pages were drawn for them."""
    found: list[WrittenPage] = []
    tries = 0
    while len(found) < SPOILED_PAGES and tries < MAX_TRIES:
        tries += 1
        page = written_page(room)
        try:
            spoiled = kind.spoil(page, room.random)
        except KeyError:  # what would be miswritten is not on the page
            continue
        if spoiled is not None and spoiled != page and readable(spoiled):
            found.append(spoiled)
    return found, tries


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


def tallied(answers: Iterator[tuple[SlipPage, Mapping[str, float]]]) -> dict[str, CodeTally]:
    """Return what became of each code, from pages and the probabilities of named slips."""
    tallies: dict[str, CodeTally] = {}
    for one, named in answers:
        for code in {*one.codes, *named}:
            tally = tallies.setdefault(code, CodeTally())
            if code in one.codes:
                tally.happened += one.weight
                tally.pages += 1
                tally.found += one.weight * (code in named)
            if code in named:
                tally.stated.append(named[code])
                tally.true.append(code in one.codes)
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
