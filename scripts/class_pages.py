"""Pages as classes make them, drawn at random, with their liquid known.

A liquid is drawn, and technique: good, usual or rough, as `observables.error.technique` has it
of published results. What is relative there is relative to the gain: the balance shows the gain
that the match predicts for this liquid, times one plus an error that all trials share and a scatter
of each. Of a molar mass as given it is the molar mass. A card's boiling point is mostly good to 1
°C and now and then far off; one that the student read is far wider. The page then lacks what
published pages lack, and instruments have read what is there.

An oracle that knows how pages are drawn gives the best that any ranking can do.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from evaluation import HIGHEST, LOWEST, PERCENT_SD
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.compounds.table import CandidateTable
from identify.matching.evidence import Matcher
from identify.matching.expected.expectation import Expectation
from identify.notebook import usual
from identify.notebook.measurement import Conditions, Flask, Measurement, Trial
from identify.observables.error.comparison import normal
from identify.observables.error.technique import (
    AS_CLASSES_WORK,
    BIAS,
    KNOWN_SCATTER,
    ROUGH_SCATTER,
    SCATTER,
    SPOILED_ALIKE,
    Technique,
)
from identify.physics.constants import ELEMENTS, ICE_POINT, STANDARD_PRESSURE
from identify.physics.vapor import Weighing, gain, ideal_molar_mass
from identify.physics.water import boiling_temperature

Array = NDArray[np.float64]

MMHG = 133.322387415  # Pa
CLASSROOM = Path(__file__).resolve().parent.parent / "data" / "classroom.csv"

# What 20 published pages of flasks lack: 14 name no temperature of the room, none the humidity; of
# 14 reports six take the pressure for 1 atm, one has the printed size of the flask alone, four have
# several trials. tests/references/published_pages.
NO_ROOM, NO_PRESSURE, NO_BATH, SIZE_ONLY, GAIN_ONLY = 14 / 20, 6 / 14, 1 / 24, 1 / 14, 7 / 24
SEVERAL_TRIALS = 0.5  # two or three; more often than published, for courses ask for them
ELEMENTS_BY_DIFFERENCE = 0.2  # cards that list carbon and hydrogen alone. Common practice
HIGHEST_PRESSURE = 1.05e5  # Pa, of the air at the sea
SIZES = (125.0, 250.0)  # mL, printed on the flask
FAR_PRESSURE = 0.03  # of the logarithm of a pressure: 1 K of a boiling point
WORST_SCATTER = 1.0  # of trials, as a logarithm where they are rough

# Of a card's boiling point: weights of a normal distribution, Student's t with two degrees of
# freedom, and a Laplace distribution; and their scales [K].
CARD = ((0.80, 1.0), (0.18, 4.0), (0.02, 25.0))
FARTHEST_BELOW = -150.0  # K: nobody writes down what no thermometer shows
# Published readings of students, by scripts/published_results: a Laplace distribution, high and
# low [K].
READ_HIGH, READ_LOW = 6.7, 2.7


@dataclass(frozen=True)
class PageKind:
    """What pages of a set hold.

    Parameters
    ----------
    molar_mass : {"given", "shortcut", "weighed", ""}
        ``given``: the true one times an error; ``shortcut``: m R T / (P V) of a gain with an error.
    boiling_point : {"card", "own", ""}
    percent : bool
        Whether the card has its elements.
    complete : bool
        Whether every condition is written down.
    trials : int
        Zero for one to three.
    technique : Technique
    pressure : float or None
        The laboratory's [Pa], where it is not drawn; it is then written down.
    at_laboratory : float
        How often a boiling point is read at the laboratory's pressure, which the page does not say,
        where that is written down and far from 760 mmHg.
    card : tuple of (float, float)
        Errors of a card's boiling point, see `CARD`.
    cooled : float or None
        Temperature of the flask's contents at the second weighing [K], which the page does not say;
        the room's where None.
    """

    molar_mass: str = "weighed"
    boiling_point: str = "card"
    percent: bool = False
    complete: bool = False
    trials: int = 0
    technique: Technique = AS_CLASSES_WORK
    pressure: float | None = None
    at_laboratory: float = 0.0
    card: tuple[tuple[float, float], ...] = CARD
    cooled: float | None = None


@dataclass(frozen=True)
class ClassPage:
    """A page, the row of the table that it was drawn from, and what went wrong.

    Parameters
    ----------
    molar_mass : float
        The true one [g/mol].
    rough : float
        Logarithm of found over true by rough technique, zero where it was not rough.
    broad : float
        How far a card's boiling point is off by the broad part of its error, zero where it is not
        drawn from that [K].
    at_laboratory : bool
        Whether the boiling point was read at the laboratory's pressure, far from 760 mmHg.
    """

    truth: int
    run: Measurement
    molar_mass: float = float("nan")
    rough: float = 0.0
    broad: float = 0.0
    at_laboratory: bool = False


@dataclass(frozen=True)
class Liquids:
    """How often each row of a table is handed out, shape (n,)."""

    share: Array

    @classmethod
    def handed_out(cls, table: CandidateTable) -> Liquids:
        """Take the liquids of published handouts, reports and exercises, by how many courses."""
        share = np.zeros(len(table))
        with CLASSROOM.open(encoding="utf-8", newline="") as lines:
            for row in csv.DictReader(lines):
                share[table.find(row["cas"])] = float(row["courses"])
        return cls.in_a_bath(table, share)

    @classmethod
    def in_a_bath(cls, table: CandidateTable, share: Array) -> Liquids:
        """Keep of liquids those that boil off in a bath of water."""
        boiling = table.number("boiling_point_C")
        share = np.where((boiling >= LOWEST) & (boiling <= HIGHEST), share, 0.0)
        return cls(share / share.sum())

    def most_usual(self, count: int) -> NDArray[np.int64]:
        """Return the rows that are handed out most."""
        return np.argsort(-self.share, kind="stable")[:count]


class ClassRoom:
    """Draws pages from a table.

    Parameters
    ----------
    table : CandidateTable
    liquids : Liquids
    random : numpy.random.Generator
    """

    def __init__(
        self, table: CandidateTable, liquids: Liquids, random: np.random.Generator
    ) -> None:
        self.table, self.liquids, self.random = table, liquids, random
        self.expectation = Expectation.of(table)

    def page(self, kind: PageKind, truth: int | None = None) -> ClassPage:
        """Draw one page, of a liquid as it is handed out where none is said."""
        if truth is None:
            truth = int(self.random.choice(len(self.table), p=self.liquids.share))
        run, rough = self._massed(kind, truth)
        off, broad = self._misread(kind)
        pressure = STANDARD_PRESSURE
        if self._is_at_laboratory(run, kind):
            assert run.conditions.pressure is not None
            pressure = run.conditions.pressure.to("Pa").value
        run = replace(run, **self._card(kind, truth, pressure, off))
        true = float(self.expectation.molar_mass[truth])
        return ClassPage(truth, run, true, rough, broad, pressure != STANDARD_PRESSURE)

    def _massed(self, kind: PageKind, truth: int) -> tuple[Measurement, float]:
        """Draw the molar mass, or weighings; and rough technique's part of it."""
        run = Measurement("C")
        if not kind.molar_mass:
            return run, 0.0
        trials = 1
        if kind.molar_mass == "weighed":
            several = int(self.random.integers(2, 4))
            trials = kind.trials or (several if self.random.random() < SEVERAL_TRIALS else 1)
        factors, rough = self.technique(kind.technique, trials)
        if kind.molar_mass == "given":
            true = float(self.expectation.molar_mass[truth])
            return replace(run, molar_mass=f"{true * factors[0]:.2f} g/mol"), rough
        weighing = self._conditions(kind, trials)
        weighing = replace(weighing, gain=self.predicted(truth, weighing) * factors)
        if kind.molar_mass == "shortcut":
            value = 1e3 * float(weighing.ideal_molar_mass()[0])
            return replace(run, molar_mass=f"{value:.2f} g/mol"), rough
        return self._written(run, weighing, kind), rough

    def _is_at_laboratory(self, run: Measurement, kind: PageKind) -> bool:
        """Draw whether the boiling point was read at the laboratory's pressure, if that is far."""
        pressure = run.conditions.pressure
        if pressure is None or not kind.at_laboratory:
            return False
        is_far = abs(np.log(pressure.to("Pa").value / STANDARD_PRESSURE)) >= FAR_PRESSURE
        return bool(is_far and self.random.random() < kind.at_laboratory)

    def predicted(self, truth: int, weighing: Weighing) -> Array:
        """Return what the balance shows of a liquid where nothing goes wrong, shape (k,) [kg]."""
        liquid = self.expectation.liquid.take(np.array([truth]))
        return gain(self.expectation.molar_mass[[truth]] * 1e-3, weighing, liquid)[:, 0]

    def technique(self, technique: Technique, trials: int) -> tuple[Array, float]:
        """Draw what gains are multiplied by, trial by trial; and rough technique's part of it."""
        random = self.random
        weights = [weight for weight, _ in technique.parts]
        kind = int(random.choice(len(weights) + 1, p=[*weights, 1.0 - sum(weights)]))
        if kind == len(weights):
            off = replace(technique, parts=(), rough=1.0).error().drawn(1, random)
            rough = -float(np.log1p(off[0]))
            if trials == 1:
                return np.exp([rough]), rough
            return np.exp(rough + self._scatter(self._rough_scatter(technique), trials)), rough
        size = technique.parts[kind][1]
        if trials == 1:
            factors = 1.0 + size * random.standard_normal(1)
        else:
            bias = BIAS * size * random.standard_normal()
            factors = 1.0 + bias + self._scatter(SCATTER * size, trials)
        return np.maximum(factors, 0.01), 0.0

    def _rough_scatter(self, technique: Technique) -> float:
        """Draw how trials usually scatter that were rough, some as if nothing were wrong."""
        if not technique.parts or self.random.random() > SPOILED_ALIKE:
            return ROUGH_SCATTER
        weights, sizes = np.array(technique.parts).T
        return SCATTER * float(self.random.choice(sizes, p=weights / weights.sum()))

    def _scatter(self, usual: float, trials: int) -> Array:
        """Draw by how much trials differ, where they usually do by this."""
        size = usual * np.sqrt(KNOWN_SCATTER / self.random.chisquare(KNOWN_SCATTER))
        return min(float(size), WORST_SCATTER) * self.random.standard_normal(trials)

    def _conditions(self, kind: PageKind, trials: int) -> Weighing:
        """Draw laboratory, bath and flask as they truly are, all trials alike."""
        random, each = self.random, np.ones(trials)
        pressure = kind.pressure or random.normal(STANDARD_PRESSURE, usual.PRESSURE_SPREAD)
        pressure = min(pressure, HIGHEST_PRESSURE)
        room = float(np.clip(random.normal(usual.ROOM, usual.ROOM_SPREAD), 286.0, 306.0))
        water = boiling_temperature(pressure)
        bath = water - usual.BATH_BELOW_BOILING_WATER + random.normal(0.0, usual.BATH_SPREAD)
        ratio = random.normal(usual.BRIM_RATIO, usual.BRIM_RATIO_SD)
        volume = 1e-6 * ratio * float(random.choice(SIZES))
        return Weighing(
            gain=0.0 * each,
            bath=min(bath, water) * each,
            room=room * each,
            pressure=pressure * each,
            volume=volume * each,
            volume_temperature=room * each,
            humidity=random.uniform(0.2, 0.8) * each,
            contents=(0.0 if kind.cooled is None else kind.cooled - room) * each,
        )

    def _card(self, kind: PageKind, truth: int, pressure: float, off: float) -> dict[str, object]:
        card: dict[str, object] = {}
        if kind.boiling_point:
            expectation = self.expectation
            boils = float(expectation.boiling_point(pressure)[truth])
            boils += float(expectation.boiling_point_u[truth]) * self.random.standard_normal()
            card["boiling_point"] = f"{boils + off - ICE_POINT:.1f} C"
        if kind.boiling_point == "own":
            card["boiling_point_by"] = "own"
        if kind.percent:
            card["percent"] = self._percent(truth)
        return card

    def _misread(self, kind: PageKind) -> tuple[float, float]:
        """Draw how far a boiling point is off [K], and how much of it is a card's broad error."""
        random = self.random
        if kind.boiling_point == "own":
            high = random.random() < READ_HIGH / (READ_HIGH + READ_LOW)
            return (random.exponential(READ_HIGH) if high else -random.exponential(READ_LOW)), 0.0
        which = int(random.choice(3, p=[weight for weight, _ in kind.card]))
        error = (random.standard_normal, lambda: random.standard_t(2), random.laplace)[which]()
        off = max(kind.card[which][1] * float(error), FARTHEST_BELOW)
        return off, off if which == 1 else 0.0

    def _percent(self, truth: int) -> dict[str, str]:
        holds = self.table.percent[truth]
        listed = [int(place) for place in np.flatnonzero(holds > 0.0)]
        if self.random.random() < ELEMENTS_BY_DIFFERENCE:
            listed = [place for place in listed if ELEMENTS[place] in ("C", "H")] or listed
        read = holds + PERCENT_SD * self.random.standard_normal(len(holds))
        return {ELEMENTS[place]: f"{max(read[place], 0.01):.2f}" for place in listed}

    # ----------------------------------------------------------------------- what is written down

    def _written(self, run: Measurement, true: Weighing, kind: PageKind) -> Measurement:
        """Write weighings down as instruments read them, without what such pages lack."""
        return replace(
            run,
            conditions=self._written_conditions(true, kind),
            flask=self._written_flask(1e6 * float(true.volume[0]), kind),
            trials=self._written_trials(true, kind),
        )

    def _lacks(self, share: float, kind: PageKind) -> bool:
        return self.random.random() < share and not kind.complete

    def _written_conditions(self, true: Weighing, kind: PageKind) -> Conditions:
        random = self.random
        pressure = float(true.pressure[0]) / MMHG + usual.BAROMETER * random.standard_normal()
        room = float(true.room[0]) - ICE_POINT + usual.THERMOMETER * random.standard_normal()
        no_room, no_pressure = self._lacks(NO_ROOM, kind), self._lacks(NO_PRESSURE, kind)
        return Conditions(
            pressure=None if no_pressure and not kind.pressure else f"{pressure:.1f} mmHg",
            room=None if no_room else f"{room:.1f} C",
        )

    def _written_flask(self, volume: float, kind: PageKind) -> Flask:
        if self._lacks(SIZE_ONLY, kind):
            size = min(SIZES, key=lambda one: abs(usual.BRIM_RATIO * one - volume))
            return Flask(size=f"{size:.0f} mL")
        fills = np.ceil(volume / usual.CYLINDER_SIZE)
        read = volume + usual.CYLINDER * np.sqrt(fills) * self.random.standard_normal()
        return Flask(volume=f"{read:.1f} mL")

    def _written_trials(self, true: Weighing, kind: PageKind) -> list[Trial]:
        random = self.random
        decimals = int(random.choice([3, 4]))
        empty = random.uniform(70.0, 110.0)
        bath = f"{true.bath[0] - ICE_POINT + usual.THERMOMETER * random.standard_normal():.1f} C"
        heated = None if self._lacks(NO_BATH, kind) else bath
        # A loss is written as two masses.
        gain_only = self._lacks(GAIN_ONLY, kind) and bool((true.gain > 1e-6).all())
        return [
            Trial(gain=f"{mass:.{decimals}f} g", bath=heated)
            if gain_only
            else Trial(f"{empty:.{decimals}f} g", f"{empty + mass:.{decimals}f} g", heated)
            for mass in 1e3 * true.gain
        ]


# ------------------------------------------------------------------------------------ the oracle

QUANTILES = 24  # of what trials may scatter by


class Oracle:
    """Ranks liquids as one who knows how the pages were drawn.

    Conditions that a page lacks are drawn again and again, and averaged over.

    Parameters
    ----------
    room : ClassRoom
    kind : PageKind
    draws : int
    """

    def __init__(self, room: ClassRoom, kind: PageKind, draws: int = 24) -> None:
        self.kind, self.draws = kind, draws
        self.random = np.random.default_rng(77)
        self.rows = np.flatnonzero(room.liquids.share > 0.0)
        self.prior, self.size = room.liquids.share[self.rows], len(room.table)
        self.table, expectation = room.table, room.expectation
        self.molar_mass = expectation.molar_mass[self.rows]
        self.liquid = expectation.liquid.take(self.rows)
        self.boils = expectation.normal_boiling_point[self.rows]
        self.boils_u = expectation.boiling_point_u[self.rows]

    def posterior(self, page: ClassPage) -> Array:
        """Return the probability of each row of the table, shape (n,)."""
        bench = Bench.of(page.run)
        weight = self.prior * self._molar_mass(bench) * self._boiling_point(bench)
        weight *= self._percent(bench)
        posterior = np.zeros(self.size)
        posterior[self.rows] = weight / weight.sum()
        return posterior

    def _molar_mass(self, bench: Bench) -> Array:
        if bench.molar_mass is not None and self.kind.molar_mass == "given":
            ratio = bench.molar_mass.value / self.molar_mass
            return self._technique(ratio[np.newaxis]) / self.molar_mass
        if bench.weighing is None:
            return np.ones(len(self.rows))
        return np.mean([self._weighed(one) for one in self._possible(bench)], axis=0)

    def _possible(self, bench: Bench) -> list[Weighing]:
        """Return the weighings with what was not written down drawn anew."""
        weighing, lacking = bench.weighing, bench.assumed
        assert weighing is not None
        if not [one for one in lacking if one.condition != "humidity"]:
            return [weighing]
        drawn = []
        for _ in range(self.draws):
            other = weighing
            for one in lacking:
                size = self.random.standard_normal()
                shift = {
                    name: getattr(other, name)
                    + size * (getattr(one.shifted, name) - getattr(one.weighing, name))
                    for name in ("bath", "room", "pressure", "volume", "volume_temperature")
                }
                other = replace(other, **shift)
            drawn.append(other)
        return drawn

    def _weighed(self, weighing: Weighing) -> Array:
        predicted = np.maximum(gain(1e-3 * self.molar_mass, weighing, self.liquid), 1e-7)
        ratio = weighing.gain[:, np.newaxis] / predicted
        return self._technique(ratio) / np.prod(1e3 * predicted, axis=0)

    def _technique(self, ratio: Array) -> Array:
        """Return the density of ratios of found and true, trial by trial, shape (k, s) to (s,)."""
        technique, count = self.kind.technique, len(ratio)
        off = ratio - 1.0
        density = np.zeros(ratio.shape[1])
        for weight, size in technique.parts:
            if count == 1:
                density += weight * normal(off[0], size)
                continue
            for scatter in _possible_scatter(SCATTER * size):
                spread = np.sqrt((BIAS * size) ** 2 + scatter**2 / count)
                each = normal(off.mean(axis=0), spread) * _of_residuals(off, scatter)
                density += weight / QUANTILES * each
        if technique.rough:
            density += technique.rough * self._rough(technique, np.maximum(ratio, 1e-6))
        return density

    def _rough(self, technique: Technique, ratio: Array) -> Array:
        """Return the density where technique was rough, likewise."""
        middle = np.exp(np.log(ratio).mean(axis=0))
        error = replace(technique, parts=(), rough=1.0).error()
        density = error.density(middle - 1.0) * middle / np.prod(ratio, axis=0)
        if len(ratio) == 1:
            return density
        weights = [(1.0 - SPOILED_ALIKE, ROUGH_SCATTER)]
        whole = sum(weight for weight, _ in technique.parts)
        weights += [(SPOILED_ALIKE * w / whole, SCATTER * size) for w, size in technique.parts]
        agreeing = sum(
            weight / QUANTILES * _of_residuals(np.log(ratio), scatter)
            for weight, size in weights
            for scatter in _possible_scatter(size)
        )
        return density * np.asarray(agreeing)

    def _boiling_point(self, bench: Bench) -> Array:
        if bench.boiling_point is None:
            return np.ones(len(self.rows))
        off = bench.boiling_point.value - self.boils
        if self.kind.boiling_point == "own":
            off = off / np.where(off > 0.0, 1.0, -1.0)
            scale = np.where(bench.boiling_point.value > self.boils, READ_HIGH, READ_LOW)
            return np.exp(-off / scale) / (READ_HIGH + READ_LOW)
        (good, sd), (usually, scale), (gross, far) = CARD
        wide = np.hypot(scale, self.boils_u)
        density = good * normal(off, np.hypot(sd, self.boils_u))
        # Student's t with two degrees of freedom.
        density += usually * (2.0 + (off / wide) ** 2) ** -1.5 / wide
        return np.asarray(density + gross * np.exp(-np.abs(off) / far) / (2.0 * far))

    def _percent(self, bench: Bench) -> Array:
        likelihood = np.ones(len(self.rows))
        if not bench.percent:
            return likelihood
        holds = self.table.percent[self.rows]
        for place, stated in bench.percent.items():
            likelihood *= normal(stated.value - holds[:, place], PERCENT_SD)
        present = holds > 0.0
        listed = np.zeros(holds.shape[1], dtype=bool)
        listed[list(bench.percent)] = True
        hydrocarbon_part = present & np.isin(ELEMENTS, ("C", "H"))
        whole = (present == listed).all(axis=1)
        part = (hydrocarbon_part == listed).all(axis=1)
        share = (1.0 - ELEMENTS_BY_DIFFERENCE) * whole + ELEMENTS_BY_DIFFERENCE * part
        return likelihood * share


def _possible_scatter(usual: float) -> Array:
    """Return the middles of equal shares of what trials may scatter by, where they usually do."""
    shares = (np.arange(QUANTILES) + 0.5) / QUANTILES
    # Chi-squared of two degrees of freedom is exponential.
    assert KNOWN_SCATTER == 2.0
    return np.asarray(usual / np.sqrt(-np.log(shares)))


def _of_residuals(each: Array, scatter: float) -> Array:
    """Return the density of the deviations of k trials from their mean, shape (k, s) to (s,)."""
    squares = ((each - each.mean(axis=0)) ** 2).sum(axis=0)
    root = scatter * np.sqrt(2.0 * np.pi)
    return np.asarray(np.exp(-0.5 * squares / scatter**2) / root ** (len(each) - 1))


# --------------------------------------------------------------------- pages that are not drawn


def shortcut_page(matcher: Matcher, row: int) -> ClassPage:
    """Return the page of a boiling point and a molar mass that is the liquid's own m R T / (P V).

    The gain is what the balance shows in a usual laboratory; nothing is said of how it was got.
    """
    weighing = _usual_weighing(matcher, row)
    value = 1e3 * float(weighing.ideal_molar_mass()[0])
    return ClassPage(
        row, replace(_with_boiling_point(matcher, row), molar_mass=round(value, 1)), 0.0
    )


def true_page(matcher: Matcher, row: int) -> ClassPage:
    """Return the page of the liquid's true molar mass and boiling point."""
    value = round(float(matcher.expectation.molar_mass[row]), 1)
    return ClassPage(row, replace(_with_boiling_point(matcher, row), molar_mass=value))


def exercise_page(matcher: Matcher, row: int) -> ClassPage:
    """Return an exercise: the gain is M P V / (R T) exactly, and the room is not mentioned."""
    weighing = _usual_weighing(matcher, row)
    shortcut = ideal_molar_mass(
        np.ones(1), weighing.bath, weighing.pressure, weighing.volume
    )  # kg/mol a kilogram
    mass = 1e-3 * matcher.expectation.molar_mass[row] / float(shortcut[0])
    run = replace(
        _with_boiling_point(matcher, row),
        conditions=Conditions(pressure="745.0 mmHg"),
        flask=Flask(volume="287.0 mL"),
        trials=[Trial(gain=f"{1e3 * mass:.3f} g", bath="99.0 C")],
    )
    return ClassPage(row, run)


def _usual_weighing(matcher: Matcher, row: int) -> Weighing:
    one = np.ones(1)
    weighing = Weighing(
        gain=0.0 * one,
        bath=(ICE_POINT + 99.0) * one,
        room=usual.ROOM * one,
        pressure=745.0 * MMHG * one,
        volume=287.0e-6 * one,
        volume_temperature=usual.ROOM * one,
        humidity=usual.HUMIDITY * one,
    )
    expectation = matcher.expectation
    predicted = gain(
        1e-3 * expectation.molar_mass[[row]], weighing, expectation.liquid.take(np.array([row]))
    )
    return replace(weighing, gain=predicted[:, 0])


def _with_boiling_point(matcher: Matcher, row: int) -> Measurement:
    boils = float(matcher.expectation.normal_boiling_point[row]) - ICE_POINT
    return Measurement("C", boiling_point=round(boils, 1))
