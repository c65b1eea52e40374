"""Simulated runs over every candidate that boils between 20 and 98 degrees Celsius.

Each run is drawn as a bench would produce it: weighings that give the compound's molar mass to
2.5 %, a card with its elements to 0.2 points, a boiling point to 1 degree (standard deviations),
around a true boiling point that differs from the table's by the table's own uncertainty. In a
second set, one run in ten has one gross error. The same readings are then ranked twice: by the
match, and by an oracle that knows how they were drawn. No ranking can do better than the oracle on
average, so that what is missing to it is the match's own doing; what is missing from the oracle to
100 % cannot be told apart by these readings.

With --constants, a run also reads every constant of the liquid that the table knows of its compound
(refractive index, density, and so on: those of the catalog of observables), each to half of its
usual tolerance.

Usage: python scripts/evaluate [--runs 5] [--seed 20] [--prior NAME|all] [--constants]
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import get_args

import numpy as np
from numpy.typing import NDArray

from identify.bench.bench import Bench
from identify.bench.readings import SIReading
from identify.compounds.loading import load_candidates
from identify.compounds.table import CandidateTable
from identify.matching.evidence import Matcher, Prior
from identify.matching.posterior import Posterior
from identify.notebook.usual import tolerance_u
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.observables.error.comparison import normal
from identify.observables.error.technique import CAREFUL
from identify.physics.constants import STANDARD_PRESSURE
from identify.physics.vapor import Weighing, gain

Array = NDArray[np.float64]

LOWEST, HIGHEST = 20.0, 98.0  # degrees Celsius: liquid in the room, boils off in the bath
_SOLID = 30.0  # degrees Celsius: what melts above it is hardly handed out as a liquid
MOLAR_MASS_SD, PERCENT_SD, BOILING_POINT_SD = 0.025, 0.2, 1.0  # relative; points; K
GROSS_RUNS = 0.1
GROSS_LOG_MOLAR_MASS, GROSS_BOILING_POINT = 0.5, 25.0  # scales of Laplace distributions
_BINS = np.linspace(0.0, 1.0, 11)
# One flask under one sky: what the draws are about is their errors, not the weather.
_LABORATORY = {"bath": 372.05, "room": 295.65, "pressure": STANDARD_PRESSURE, "volume": 287.4e-6}
_LABORATORY |= {"volume_temperature": 295.65, "humidity": 0.5}


@dataclass(frozen=True)
class Draw:
    """One simulated run: the readings, and the row of the table that they were drawn from."""

    truth: int
    bench: Bench


@dataclass(frozen=True)
class Outcome:
    """What a ranking made of a draw: place of the truth, and the leader's probability."""

    place: int
    leader_probability: float


class Laboratory:
    """Draws runs from a table, and knows how probable each run was under each candidate."""

    def __init__(
        self,
        table: CandidateTable,
        matcher: Matcher,
        generator: np.random.Generator,
        constants: bool = False,
    ) -> None:
        self.table = table
        self.matcher = matcher
        self.generator = generator
        self.expectation = matcher.expectation
        self.weighing = Weighing(
            gain=np.zeros(1), **{name: np.array([value]) for name, value in _LABORATORY.items()}
        )
        # Gain against molar mass is a straight line for each candidate: two points tell it.
        molar_mass = self.expectation.molar_mass * 1e-3
        self.expected_gain = self._gain(molar_mass)
        self.gain_sd = MOLAR_MASS_SD * (self._gain(2.0 * molar_mass) - self.expected_gain)
        self.boiling_sd = np.hypot(BOILING_POINT_SD, self.expectation.boiling_point_u)
        self.present = table.percent > 0.0
        # By name: what each candidate would read, and the standard deviation of a reading.
        self.constants: dict[str, tuple[Array, Array]] = {}
        for name, constant in LIQUID_CONSTANTS.items() if constants else ():
            value, u = self.expectation.predicted(name)
            self.constants[name] = (
                value,
                np.hypot(u, constant.scale * tolerance_u(constant.tolerance)),
            )

    def _gain(self, molar_mass: Array) -> Array:
        return gain(molar_mass, self.weighing, self.expectation.liquid)[0]

    def draw(self, truth: int, gross: bool) -> Draw:
        """Draw one run of a compound."""
        random = self.generator
        mass_error = MOLAR_MASS_SD * random.standard_normal()
        boiling_error = self.boiling_sd[truth] * random.standard_normal()
        listed = np.flatnonzero(self.present[truth])
        percent = self.table.percent[truth] + PERCENT_SD * random.standard_normal(12)
        if gross and random.random() < GROSS_RUNS:
            spoiled = random.integers(2 + len(listed))
            if spoiled == 0:
                mass_error = np.exp(random.laplace(scale=GROSS_LOG_MOLAR_MASS)) - 1.0
            elif spoiled == 1:
                boiling_error = random.laplace(scale=GROSS_BOILING_POINT)
            else:
                percent[listed[spoiled - 2]] = random.uniform(0.0, 100.0)
        slope = self.gain_sd[truth] / MOLAR_MASS_SD
        weighed = self.expected_gain[truth] + slope * mass_error
        boiling_point = self.expectation.normal_boiling_point[truth] + boiling_error
        bench = Bench(
            boiling_point=SIReading(float(boiling_point)),
            percent={int(place): SIReading(float(percent[place])) for place in listed},
            weighing=replace(self.weighing, gain=np.array([weighed])),
            further={
                name: SIReading(float(value[truth] + sd[truth] * random.standard_normal()))
                for name, (value, sd) in self.constants.items()
                if np.isfinite(value[truth])
            },
        )
        return Draw(truth, bench)

    def oracle(self, draw: Draw, gross: bool) -> Array:
        """Return the posterior of one who knows how the draw was made, shape (n,)."""
        bench = draw.bench
        assert bench.weighing is not None
        assert bench.boiling_point is not None
        listed = np.array(list(bench.percent))
        # The card lists what is in the compound, and nothing else.
        possible = np.flatnonzero(
            self.present[:, listed].all(axis=1) & (self.present.sum(axis=1) == len(listed))
        )
        off_mass = bench.weighing.gain[0] - self.expected_gain[possible]
        off_boiling = bench.boiling_point.value - self.expectation.normal_boiling_point[possible]
        sound = [
            normal(off_mass, self.gain_sd[possible]),
            normal(off_boiling, self.boiling_sd[possible]),
        ]
        slope = self.gain_sd[possible] / MOLAR_MASS_SD
        ratio = np.maximum(1.0 + off_mass / slope, 1e-9)
        spoiled = [
            np.exp(-np.abs(np.log(ratio)) / GROSS_LOG_MOLAR_MASS)
            / (2.0 * GROSS_LOG_MOLAR_MASS * ratio * slope),
            np.exp(-np.abs(off_boiling) / GROSS_BOILING_POINT) / (2.0 * GROSS_BOILING_POINT),
        ]
        for place, stated in bench.percent.items():
            off = stated.value - self.table.percent[possible, place]
            sound.append(normal(off, PERCENT_SD))
            spoiled.append(np.full(len(possible), 0.01))
        # What the table does not know of a compound was not drawn for it either.
        read = {
            name: normal(bench.further[name].value - value[possible], sd[possible])
            if name in bench.further
            else np.isnan(value[possible]).astype(np.float64)
            for name, (value, sd) in self.constants.items()
        }
        constants = np.prod([np.ones(len(possible)), *map(np.nan_to_num, read.values())], axis=0)
        likelihood = np.prod(sound, axis=0)
        if gross:
            one_spoiled = [
                np.prod([*sound[:place], wrong, *sound[place + 1 :]], axis=0)
                for place, wrong in enumerate(spoiled)
            ]
            likelihood = (1.0 - GROSS_RUNS) * likelihood + GROSS_RUNS * np.mean(one_spoiled, axis=0)
        posterior = np.zeros(len(self.table))
        posterior[possible] = self.matcher.prior[possible] * likelihood * constants
        return posterior / posterior.sum()


@dataclass(frozen=True)
class Score:
    """Figures over many outcomes, each counted with a weight.

    Parameters
    ----------
    first, first_three : float
        How often the truth is ranked first, and among the first three.
    calibration_error : float
        Mean distance between stated probability and share of right answers, over ten bins.
    bins : list of (float, float, float)
        Share of the runs, mean stated probability, and share of right answers, bin by bin.
    """

    first: float
    first_three: float
    calibration_error: float
    bins: list[tuple[float, float, float]]


def score(outcomes: Sequence[Outcome], weights: Array) -> Score:
    """Return the figures over outcomes, each counted with its weight.

    Examples
    --------
    >>> sure, wrong = Outcome(1, 1.0), Outcome(4, 0.5)
    >>> result = score([sure, wrong], np.ones(2))
    >>> result.first, result.first_three, result.calibration_error
    (0.5, 0.5, 0.25)
    """
    share = weights / weights.sum()
    place = np.array([outcome.place for outcome in outcomes])
    stated = np.array([outcome.leader_probability for outcome in outcomes])
    right = place == 1
    bin_of = np.clip(np.digitize(stated, _BINS) - 1, 0, len(_BINS) - 2)
    bins = []
    for number in range(len(_BINS) - 1):
        inside = bin_of == number
        weight = float(share[inside].sum())
        if weight > 0.0:
            mean = float(share[inside] @ stated[inside]) / weight
            correct = float(share[inside] @ right[inside]) / weight
        else:
            mean = correct = float("nan")
        bins.append((weight, mean, correct))
    error = sum(weight * abs(mean - correct) for weight, mean, correct in bins if weight > 0.0)
    return Score(float(share @ right), float(share @ (place <= 3)), error, bins)


def outcome(probability: Array, truth: int, order: NDArray[np.int64]) -> Outcome:
    """Return the place of the truth; equal probabilities stand in the order of the match."""
    own = probability[truth]
    before = (probability > own) | ((probability == own) & (order < order[truth]))
    return Outcome(1 + int(before.sum()), float(probability.max()))


def rows_to_draw(table: CandidateTable) -> NDArray[np.int64]:
    """Return the liquids that boil between 20 and 98 degrees Celsius and that a bottle can hold."""
    boiling_point = table.number("boiling_point_C")
    is_bottled = np.array([not reason for reason in table.text("not_bottled")])
    is_liquid = ~(table.number("melting_point_C") > _SOLID)
    inside = (boiling_point >= LOWEST) & (boiling_point <= HIGHEST)
    return np.flatnonzero(inside & is_bottled & is_liquid)


def simulate(
    laboratory: Laboratory, rows: NDArray[np.int64], runs: int, gross: bool
) -> Iterator[tuple[int, Outcome, Outcome]]:
    """Yield row, outcome of the match and outcome of the oracle, for each draw."""
    order = laboratory.matcher.order
    for row in rows:
        for _ in range(runs):
            draw = laboratory.draw(int(row), gross)
            matched = Posterior.of(laboratory.matcher.evidence(draw.bench)).probability
            known = laboratory.oracle(draw, gross)
            yield int(row), outcome(matched, draw.truth, order), outcome(known, draw.truth, order)


def report(title: str, match: Score, oracle: Score) -> None:
    """Print the figures of one set of runs."""
    print(f"\n{title}")
    print("                       match    best possible")
    print(f"  first name right    {match.first:6.1%}    {oracle.first:6.1%}")
    print(f"  in the first three  {match.first_three:6.1%}    {oracle.first_three:6.1%}")
    print(
        f"  calibration error   {match.calibration_error:6.3f}    {oracle.calibration_error:6.3f}"
    )
    print("  stated for the first   share of runs   mean stated   right")
    for number, (share, mean, correct) in enumerate(match.bins):
        if share > 0.0:
            span = f"{_BINS[number]:4.0%} to {_BINS[number + 1]:4.0%}"
            print(f"  {span:<21}  {share:13.1%}   {mean:11.1%}   {correct:5.1%}")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the simulation and print what it shows."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("--runs", type=int, default=5, help="draws a compound")
    parser.add_argument("--seed", type=int, default=20)
    parser.add_argument("--prior", choices=(*get_args(Prior), "all"), default="all")
    parser.add_argument("--constants", action="store_true", help="read constants of the liquid too")
    parser.add_argument("--candidates", help="another table than the built-in one")
    options = parser.parse_args(arguments)
    table = load_candidates(options.candidates)
    rows = rows_to_draw(table)
    print(
        f"{len(rows)} compounds boiling between {LOWEST:.0f} and {HIGHEST:.0f} C, "
        f"{options.runs} runs each against all {len(table)}; seed {options.seed}"
    )
    priors: tuple[Prior, ...] = get_args(Prior)
    for prior in priors if options.prior == "all" else (options.prior,):
        laboratory = Laboratory(
            table,
            Matcher(table, prior=prior, technique=CAREFUL),
            np.random.default_rng(options.seed),
            options.constants,
        )
        drawn = "every compound alike" if prior == "uniform" else f"as common as in {prior}"
        for gross in (False, True):
            results = list(simulate(laboratory, rows, options.runs, gross))
            weights = laboratory.matcher.prior[[row for row, _, _ in results]]
            report(
                f"{drawn}, {'one gross error in ten runs' if gross else 'no gross errors'}",
                score([matched for _, matched, _ in results], weights),
                score([known for _, _, known in results], weights),
            )
    return 0
