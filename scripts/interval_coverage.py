#!/usr/bin/env python3
"""How often the stated interval of a molar mass holds the true one, over simulated runs.

The runs are those of `simulated_runs.py`: the true molar mass is known, and each molar mass is
worked out from what was written down, and from nothing else.

Usage: python scripts/interval_coverage.py [--runs 2000] [--seed 95]
                                  [--unknown | --technique | --simulation | --constants]
                                  [--without-reference-equations]

prints how often the 95 % interval holds the true molar mass, by kind of run; with ``--unknown``
the same where the liquid is not named but its card is read (300 runs); with ``--technique`` the
same for classes that work as the calculation assumes, and otherwise, and how often the right liquid
is contradicted (300 runs a kind); with ``--simulation`` how
far Monte Carlo and first-order standard uncertainties are apart, and whether the calculation says
so (200 runs a kind); with ``--constants`` how far the table's vapor pressures and second virial
coefficients are from the reference equations of state.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import cycle, islice

import numpy as np
from CoolProp.CoolProp import PropsSI
from simulated_runs import (
    MMHG,
    NEAR_BOILING,
    NEAR_K,
    ORDINARY,
    TECHNIQUE,
    TINY_GAIN,
    Bench,
    Run,
    Setup,
)
from weighings import PRESSURES, ROOMS, Fluid, reference_fluids, weighings_of, why_absent

import identify
from identify.calculations.molar_mass.calculation import DRAWS
from identify.calculations.molar_mass.liquids import named
from identify.calculations.molar_mass.result import MolarMassResult
from identify.compounds.loading import load_candidates
from identify.compounds.table import CandidateTable
from identify.observables.error.technique import ALL_STATED, AS_CLASSES_WORK, Technique
from identify.physics.boiling import vapor_pressure
from identify.physics.vapor import second_virial

SEED = 95
# Of a liquid that boils less than this above the room, the cooled flask may hold no drop.
CONDENSES_K = 10.0
SMALL_G = 0.02  # a gain of two last digits of a balance to 0.01 g


@dataclass(frozen=True)
class Outcome:
    """What the calculation made of a run."""

    run: Run
    result: MolarMassResult

    @property
    def error(self) -> float:
        """Distance of the molar mass from the true one, [g/mol]."""
        return self.result.value - self.run.fluid.molar_mass

    @property
    def held(self) -> bool:
        """Whether the 95 % interval holds the true molar mass."""
        low, high = self.result.interval_95
        return low <= self.run.fluid.molar_mass <= high

    @property
    def contradicted(self) -> bool:
        """Whether the right liquid is said to be another."""
        return any(finding.code == "liquid-contradicted" for finding in self.result.findings)

    @property
    def ratio(self) -> float:
        """Monte Carlo standard uncertainty over the first-order one; NaN where none was drawn."""
        drawn = self.result.simulation
        return drawn.standard_uncertainty / self.result.standard_uncertainty if drawn else np.nan

    @property
    def not_linear(self) -> bool:
        """Whether the calculation says that its first-order budget will not do."""
        return any(finding.code == "budget-not-linear" for finding in self.result.findings)

    @property
    def small(self) -> bool:
        """Whether the balance showed a gain, but one of two last digits at most."""
        return 0.0 < self.result.trials[0].gain <= SMALL_G + 1e-9


def taking_part(table: CandidateTable) -> list[Fluid]:
    """Return the reference fluids that the table holds."""
    return [fluid for fluid in reference_fluids() if not why_absent(fluid, table)]


@dataclass(frozen=True)
class Study:
    """Runs of given setups, in turn, and what is made of them.

    Parameters
    ----------
    table : CandidateTable
    count : int
        Of runs.
    seed : int
    unknown : bool
        Whether the calculation is left to find the liquid from the card, instead of being told.
    draws : int
        Of each Monte Carlo simulation.
    assumes : Technique
        What the calculation takes the class's technique to be.
    """

    table: CandidateTable
    count: int
    seed: int = SEED
    unknown: bool = False
    draws: int = 0
    assumes: Technique = ALL_STATED

    def outcomes(self, setups: Sequence[Setup]) -> Iterator[Outcome]:
        """Yield the outcome of each run."""
        fluids, table = taking_part(self.table), self.table
        bench = Bench(np.random.default_rng(self.seed), fluids)
        if not self.unknown:
            # To look a number up among all compounds takes longer than the calculation.
            table = table.take(np.array([table.find(fluid.cas)[0] for fluid in fluids]))
        for setup in islice(cycle(setups), self.count):
            run = bench.run(setup, card=self.unknown)
            identity = None if self.unknown else run.fluid.cas
            result = identify.molar_mass(
                run.written,
                identity,
                candidates=table,
                draws=self.draws,
                technique=self.assumes,
            )
            yield Outcome(run, result)


def coverage(outcomes: Iterable[Outcome]) -> float:
    """Return the share of the intervals that hold the true molar mass."""
    return float(np.mean([one.held for one in outcomes]))


KINDS: tuple[tuple[str, dict[str, float]], ...] = (
    ("all", {}),
    ("balance to 0.001 g", {"decimals": 3}),
    ("balance to 0.0001 g", {"decimals": 4}),
    ("instruments alone", {"technique": 0.0}),
    ("  1 trial", {"technique": 0.0, "trials": 1}),
    *((f"  {n} trials", {"technique": 0.0, "trials": n}) for n in (2, 3, 4)),
    ("technique scatters too", {"technique": TECHNIQUE}),
    *((f"  {n} trials", {"technique": TECHNIQUE, "trials": n}) for n in (2, 3, 4)),
)


def by_kind(outcomes: Sequence[Outcome]) -> Iterator[tuple[str, list[Outcome]]]:
    """Yield the rows of the report."""
    for name, wanted in KINDS:
        kept = [one for one in outcomes if wanted.items() <= vars(one.run.setup).items()]
        if kept:
            yield name, kept


def coverage_report(outcomes: Sequence[Outcome]) -> str:
    """Return the coverage as a table, one line a kind of run.

    ``error/u`` is the root mean square of error over standard uncertainty: one where the
    uncertainties are right, below it where they are too large.
    """
    lines = [
        "                                   interval holds           median of",
        "runs                        count  the true value  error/u  error, %  U, %",
    ]
    for name, kept in by_kind(outcomes):
        share = coverage(kept)
        noise = float(np.sqrt(share * (1.0 - share) / len(kept)))
        errors = np.array([one.error for one in kept])
        true = np.array([one.run.fluid.molar_mass for one in kept])
        standard = np.array([one.result.standard_uncertainty for one in kept])
        wide = np.array([one.result.expanded_uncertainty for one in kept])
        lines.append(
            f"{name:<26}{len(kept):>7}  {share:>6.1%} ± {noise:<5.1%}"
            f"{np.sqrt(np.mean((errors / standard) ** 2)):>9.2f}"
            f"{100 * np.median(np.abs(errors) / true):>10.2f}{100 * np.median(wide / true):>6.2f}"
        )
    return "\n".join(lines)


CAREFUL, AS_THEY_WORK = Technique.named("careful"), AS_CLASSES_WORK
WORKS: tuple[tuple[str, Technique, Technique, float], ...] = (
    ("careful, as assumed", CAREFUL, CAREFUL, 0.0),
    ("usual, as assumed", *[Technique.named("usual")] * 2, 0.0),
    ("all classes, as assumed", AS_THEY_WORK, AS_THEY_WORK, 0.0),
    ("careful, nothing said", CAREFUL, AS_THEY_WORK, 0.0),
    ("careful, none said", CAREFUL, ALL_STATED, 0.0),
    ("all classes, none said", AS_THEY_WORK, ALL_STATED, 0.0),
    ("scatter 0.5 %, nothing said", ALL_STATED, AS_THEY_WORK, 0.005),
    ("scatter 1.5 %, nothing said", ALL_STATED, AS_THEY_WORK, 0.015),
    ("scatter 0.5 %, careful said", ALL_STATED, CAREFUL, 0.005),
    ("scatter 1.5 %, careful said", ALL_STATED, CAREFUL, 0.015),
    ("scatter 0.5 %, none said", ALL_STATED, ALL_STATED, 0.005),
    ("scatter 1.5 %, none said", ALL_STATED, ALL_STATED, 0.015),
)
"""How a class works, what the calculation takes for granted, and scatter beside it."""
_TRIALS = (1, 2, 3)


def by_technique(
    study: Study, classes: Sequence[tuple[str, Technique, Technique, float]] = WORKS
) -> Iterator[tuple[str, list[Outcome]]]:
    """Yield runs of classes that work so, by what is assumed and by number of trials."""
    for name, works, assumed, scatter in classes:
        for trials in _TRIALS:
            setups = [Setup(trials, scatter, decimals, works=works) for decimals in (3, 4)]
            yield f"{name}, {trials}", list(replace(study, assumes=assumed).outcomes(setups))


def technique_report(rows: Iterable[tuple[str, list[Outcome]]]) -> str:
    """Return how often intervals hold the truth, and how often the right liquid is doubted."""
    lines = [
        "                                     interval holds   the right liquid   median of",
        "technique, trials               runs  the true value  is contradicted   u, %   half, %",
    ]
    for name, kept in rows:
        share = coverage(kept)
        noise = float(np.sqrt(share * (1.0 - share) / len(kept)))
        doubted = np.mean([one.contradicted for one in kept])
        relative = [100.0 / one.run.fluid.molar_mass for one in kept]
        standard = np.array([one.result.standard_uncertainty for one in kept]) * relative
        half = np.array([one.result.expanded_uncertainty for one in kept]) * relative
        lines.append(
            f"{name:<31}{len(kept):>5}  {share:>6.1%} ± {noise:<5.1%}{doubted:>12.1%}"
            f"{np.median(standard):>13.1f}{np.median(half):>8.1f}"
        )
    return "\n".join(lines)


SIMULATED: tuple[tuple[str, tuple[Setup, ...], Callable[[Outcome], bool]], ...] = (
    (
        f"ordinary: boils {CONDENSES_K:.0f} K above the room",
        ORDINARY,
        lambda one: one.run.above_room >= CONDENSES_K,
    ),
    ("boils less above the room", ORDINARY, lambda one: one.run.above_room < CONDENSES_K),
    ("flask of 10 mL, balance to 0.01 g", TINY_GAIN, lambda one: True),
    (f"  gain up to {SMALL_G:g} g", TINY_GAIN, lambda one: one.small),
    (f"bath within {NEAR_K} K of the boiling point", NEAR_BOILING, lambda one: True),
)


def simulated(study: Study) -> Iterator[tuple[str, list[Outcome]]]:
    """Yield the rows of the comparison of first order and Monte Carlo; each setup is run once."""
    done: dict[tuple[Setup, ...], list[Outcome]] = {}
    for name, setups, belongs in SIMULATED:
        if setups not in done:
            done[setups] = list(study.outcomes(setups))
        yield name, [one for one in done[setups] if belongs(one)]


def simulation_report(rows: Iterable[tuple[str, list[Outcome]]]) -> str:
    """Return how Monte Carlo and first-order standard uncertainties compare, kind by kind."""
    lines = [
        "Monte Carlo over first order                    within             says that it",
        "runs                                      count    2 %      worst  is not linear",
    ]
    for name, kept in rows:
        ratios = np.array([one.ratio for one in kept if one.result.simulation])
        if len(ratios):
            off = np.abs(ratios - 1.0)
            lines.append(
                f"{name:<41}{len(kept):>6}{np.mean(off <= 0.02):>9.1%}{ratios[off.argmax()]:>9.3f}"
                f"{np.mean([one.not_linear for one in kept]):>13.1%}"
            )
    return "\n".join(lines)


@dataclass(frozen=True)
class Constant:
    """Errors of one constant of the liquids, and what they are stated to be, relative."""

    name: str
    errors: list[float]
    stated: list[float]

    def line(self) -> str:
        """Return them as one line of a table."""
        size, stated = np.abs(self.errors), np.array(self.stated)
        return (
            f"{self.name:<44}{len(size):>5}{100 * np.sqrt(np.mean(size**2)):>8.2f}"
            f"{100 * np.median(size):>9.2f}{100 * size.max():>8.2f}"
            f"{100 * np.median(stated):>9.2f}{np.sqrt(np.mean((size / stated) ** 2)):>10.2f}"
        )


def constants_report(table: CandidateTable) -> str:
    """Return how far the table's constants are from the equations of state.

    Second virial coefficients at the temperature of the bath, vapor pressures in the room, wherever
    the liquid can be weighed; each liquid counts once a temperature.
    """
    found: dict[str, Constant] = {}

    def add(name: str, off: float, stated: float) -> None:
        kept = found.setdefault(name, Constant(name, [], []))
        kept.errors.append(off)
        kept.stated.append(stated)

    for fluid in taking_part(table):
        liquids = named(fluid.cas, table)
        (row,) = table.find(fluid.cas)
        liquid = liquids.liquid
        baths = {one.bath for one in weighings_of(fluid)}
        rooms = {one.laboratory.room for one in weighings_of(fluid)}
        for bath in sorted(baths):
            true = PropsSI("Bvirial", "T", bath, "Dmolar", 1e-6, fluid.name)
            off = float(second_virial(bath, liquid.virial)[0]) / true - 1.0
            add("second virial coefficient", off, float(liquids.virial_u[0]))
        curve = table.text("vapor_curve_source")[row]
        kind = "corresponding states" if "corresponding states" in curve else "published curve"
        for room in sorted(rooms):
            true = PropsSI("P", "T", room, "Q", 1, fluid.name)
            own = float(vapor_pressure(room, liquid.boiling_point, liquid.vapor_curve)[0])
            add(f"vapor pressure, {kind}", own / true - 1.0, float(liquids.vapor_pressure_u[0]))
    lines = [
        "relative to the equations of state, percent      root mean              stated     error",
        "constant                                  values  square   median   worst  u   over u",
    ]
    return "\n".join(lines + [found[name].line() for name in sorted(found)])


def main(arguments: Sequence[str] | None = None) -> None:
    """Print what was asked for."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("--runs", type=int, help="how many (2000; 300 unknowns; 200 a simulation)")
    parser.add_argument("--seed", type=int, default=SEED)
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--unknown", action="store_true", help="the liquid is not named")
    what.add_argument("--technique", action="store_true", help="beyond the instruments")
    what.add_argument("--simulation", action="store_true", help="Monte Carlo beside first order")
    what.add_argument("--constants", action="store_true", help="the table's constants alone")
    parser.add_argument(
        "--without-reference-equations",
        action="store_true",
        help="leave out every constant that was fitted to such an equation (takes a minute)",
    )
    options = parser.parse_args(arguments)
    table = load_candidates()
    if options.without_reference_equations:
        from build_candidates import rows_without_reference_equations

        table = rows_without_reference_equations([fluid.cas for fluid in reference_fluids()])
    if options.constants:
        print(constants_report(table))
        return
    print(
        f"{len(taking_part(table))} liquids, {PRESSURES[0] / MMHG:.0f} to "
        f"{PRESSURES[-1] / MMHG:.0f} mmHg, rooms of {ROOMS[0]:.0f} to {ROOMS[-1]:.0f} C; "
        f"seed {options.seed}"
    )
    if options.simulation:
        study = Study(table, options.runs or 200, options.seed, draws=DRAWS)
        print(simulation_report(simulated(study)))
        return
    if options.technique:
        print(technique_report(by_technique(Study(table, options.runs or 300, options.seed))))
        return
    count = options.runs or (300 if options.unknown else 2000)
    study = Study(table, count, options.seed, options.unknown)
    print(coverage_report(list(study.outcomes(ORDINARY))))


if __name__ == "__main__":
    main()
