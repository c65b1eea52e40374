"""The working of a molar mass: one trial in full, the others in one line each, then together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isinf
from statistics import fmean

import numpy as np

from identify.bench.trials import BenchTrial
from identify.budget.budget import Budget
from identify.budget.model import Model
from identify.calculations.molar_mass.result import MolarMassResult
from identify.calculations.molar_mass.shortcut import (
    BENCH_GAS_CONSTANT,
    DENSITY_UNIT,
    GAS_CONSTANT_TEXT,
    WorkedReadings,
)
from identify.calculations.working import Step
from identify.notebook.quantity.units import MMHG
from identify.notebook.statistics import with_expanded
from identify.physics.boiling import vapor_pressure
from identify.physics.constants import GAS_CONSTANT, ICE_POINT, WEIGHT_DENSITY
from identify.physics.dimers import dimerization_constant, particles_at_pressure
from identify.physics.vapor import Vapor, Weighing

_MOLAR_MASS = "M = Z m(vapor) R T / (P V(bath))"
_SHOWN_LIQUIDS = 5
_MANY_DEGREES = 1000.0  # of freedom: Student's t no longer differs


def working(trials: Sequence[BenchTrial], model: Model, found: MolarMassResult) -> tuple[Step, ...]:
    """Return the lines of the working, with the corrections of the likeliest liquid.

    Intermediate results have a digit or two more than they deserve, so that a pocket calculator
    comes to the same end from what is printed.
    """
    parts = model.weighing.parts(1)
    each = [_WorkedTrial(trial, model, part) for trial, part in zip(trials, parts, strict=True)]
    several = len(trials) > 1
    lines = [*each[0].steps("trial 1, " if several else ""), *(one.step() for one in each[1:])]
    if several:
        lines.append(_pooled(each))
    if len(model.liquids.names) > 1:
        lines.append(_over_liquids(found))
    return (*lines, *_uncertainty(found))


class _WorkedTrial(WorkedReadings):
    """One trial in the units of the bench: g, L, mmHg, K."""

    def __init__(self, trial: BenchTrial, model: Model, read: Weighing) -> None:
        super().__init__(trial, read)
        likeliest = model.liquids.likeliest
        self.liquid = model.liquids.liquid.take(np.array([likeliest]))
        self.liquid_name = model.liquids.names[likeliest]
        self.vapor = Vapor.of(read, self.liquid)
        self.hot = 1e3 * float(read.volume_at(read.bath)[0])
        self.nonideality = float(self.vapor.compressibility[0, 0])
        self.particles = self._particles()
        self.liquid_buoyancy = float(self.vapor.liquid_buoyancy[0, 0])
        self.shut_out = 1e3 * float(self.vapor.air_shut_out[0, 0])
        weights = 1.0 - self.air / WEIGHT_DENSITY
        self.mass = (self.gain * weights + self.shut_out) / self.liquid_buoyancy
        self.molar_mass = self.mass * float(self.vapor.molar_mass_per_mass[0, 0])

    def _particles(self) -> float:
        """Return how many particles a molecule makes in the bath, 1 where there are no dimers."""
        if self.nonideality == 1.0:
            return 1.0  # a syringe that holds air
        read = self.read
        return float(particles_at_pressure(read.bath, read.pressure, self.liquid.dimers)[0])

    def steps(self, before: str) -> Iterator[Step]:
        """Yield the trial's working in full, each line's title after ``before``."""
        yield from self.shortcut_steps(before)
        if not self._is_filled_with_water:
            yield from self._air(before)
        yield from self._corrected(before)

    def step(self) -> Step:
        """Return the trial's working in one line."""
        return Step(
            f"trial {self.trial.number}, m = {self.gain:.4f} g, in the same way",
            _MOLAR_MASS,
            *self._last(),
        )

    def _last(self) -> tuple[str, str]:
        return (
            f"{self.nonideality:.5f} x {self.mass:.5f} g x {GAS_CONSTANT_TEXT} x "
            f"{self.bath:.2f} K / ({self.pressure:.2f} mmHg x {self.hot:.5f} L)",
            f"{self.molar_mass:.2f} g/mol",
        )

    def _corrected(self, before: str) -> Iterator[Step]:
        residual = float(self.vapor.residual_pressure[0, 0]) / MMHG
        if self.trial.is_in_flask and self.trial.flask.closed:
            yield Step(
                f"{before}air that did not come back",
                "m(air) = rho V",
                f"{self.air:.4f} {DENSITY_UNIT} x {self.volume:.5f} L",
                f"{self.shut_out:.5f} g",
            )
        elif self.trial.is_in_flask:
            yield self._left(before, residual)
            yield self._air_shut_out(before, residual)
            yield from self._displaced(before, residual)
        yield Step(
            f"{before}mass of the vapor, the buoyancy of the weights ({WEIGHT_DENSITY:g} g/L) and "
            "of the liquid taken off",
            "m(vapor) = (m (1 - rho / rho(weights)) + m(air)) / k",
            f"({self.gain:.4f} x (1 - {self.air:.4f} / {WEIGHT_DENSITY:g}) + "
            f"{self.shut_out:.5f}) g / {self.liquid_buoyancy:.5f}",
            f"{self.mass:.5f} g",
        )
        yield from self._compression(before)
        measured = self.read.volume_temperature
        expansion = float(self.read.volume_at(measured + 1.0)[0] / self.read.volume[0]) - 1.0
        yield Step(
            f"{before}volume of the flask in the bath, borosilicate glass (ISO 3585)",
            "V(bath) = V (1 + 3 alpha (t(bath) - t(V)))",
            f"{self.volume:.5f} L x (1 + {expansion:.7f} x ({self.bath - ICE_POINT:.1f} - "
            f"{measured[0] - ICE_POINT:.1f}))",
            f"{self.hot:.5f} L",
        )
        yield Step(f"{before}molar mass", _MOLAR_MASS, *self._last())

    def _compression(self, before: str) -> Iterator[Step]:
        pascal, factor = float(self.read.pressure[0]), self.nonideality / self.particles
        virial = 1e6 * (factor - 1.0) * GAS_CONSTANT * self.bath / pascal
        z, share = "Z = 1 + B P / (R T)", ""
        numbers = (
            f"1 + ({virial:.1f} cm3/mol) x {self.pressure:.2f} mmHg / "
            f"({1e3 * BENCH_GAS_CONSTANT:.1f} cm3 mmHg/(mol K) x {self.bath:.2f} K)"
        )
        if self.particles < 1.0:
            constant = MMHG * float(dimerization_constant(self.bath, self.liquid.dimers)[0])
            yield Step(
                f"{before}particles that a molecule makes in the vapor, K = p(dimer) / p(single)^2 "
                f"of {self.liquid_name}",
                "y = 1 / (2 - 2 / (1 + sqrt(1 + 4 K P)))",
                f"1 / (2 - 2 / (1 + sqrt(1 + 4 x {constant:.6f}/mmHg x {self.pressure:.2f} mmHg)))",
                f"{self.particles:.5f}",
            )
            z, share, numbers = (
                "Z = (1 + B P / (R T)) y",
                f" x {self.particles:.5f}",
                f"({numbers})",
            )
        yield Step(
            f"{before}compression factor of the vapor, B: second virial coefficient of "
            f"{self.liquid_name}",
            z,
            f"{numbers}{share}",
            f"{self.nonideality:.5f}",
        )

    def _air_shut_out(self, before: str, residual: float) -> Step:
        pressures = f"{residual:.2f} mmHg / {self.pressure:.2f} mmHg"
        if self.trial.written.weighed_at is None:
            return Step(
                f"{before}air that this vapor shuts out",
                "m(air) = rho V p / P",
                f"{self.air:.4f} {DENSITY_UNIT} x {self.volume:.5f} L x {pressures}",
                f"{self.shut_out:.5f} g",
            )
        room, cooled = float(self.read.room[0]), float(self.read.cooled[0])
        return Step(
            f"{before}air that is missing: what the vapor shuts out, less what is denser as cold",
            "m(air) = rho V (1 - (1 - p / P) T(room) / T(flask))",
            f"{self.air:.4f} {DENSITY_UNIT} x {self.volume:.5f} L x (1 - (1 - {pressures}) x "
            f"{room:.2f} K / {cooled:.2f} K)",
            f"{self.shut_out:.5f} g",
        )

    def _left(self, before: str, residual: float) -> Step:
        room = self.read.cooled
        saturated = vapor_pressure(room, self.liquid.boiling_point, self.liquid.vapor_curve)
        all_vapor = residual < (1.0 - 1e-9) * float(saturated[0]) / MMHG
        return Step(
            f"{before}pressure of the vapor in the cooled flask, {self.liquid_name}"
            + (": all of it stays vapor" if all_vapor else ""),
            "p = Z' R T / V of all of it" if all_vapor else "p = vapor pressure at t(room)",
            f"p({room[0] - ICE_POINT:.1f} °C)",
            f"{residual:.2f} mmHg",
        )

    def _displaced(self, before: str, residual: float) -> Iterator[Step]:
        density = float(self.liquid.density[0])
        if isinf(density):
            return  # not given: not corrected for
        air = self.air * (1.0 - residual / self.pressure) / density
        condensed = (1.0 - self.liquid_buoyancy) / air if air > 0.0 else 0.0
        yield Step(
            f"{before}buoyancy of the liquid, x: the part of the vapor that condensed",
            "k = 1 - x (1 - p / P) rho / rho(liquid)",
            f"1 - {condensed:.3f} x (1 - {residual:.2f} / {self.pressure:.2f}) x {self.air:.4f} / "
            f"{density:.0f}",
            f"{self.liquid_buoyancy:.5f}",
        )


def _pooled(each: Sequence[_WorkedTrial]) -> Step:
    molar_masses = [trial.molar_mass for trial in each]
    terms = " + ".join(f"{one:.2f}" for one in molar_masses)
    return Step(
        "the trials together",
        "M = sum of M(i) / n",
        f"({terms}) / {len(each)}",
        f"{fmean(molar_masses):.2f} g/mol",
    )


def _over_liquids(found: MolarMassResult) -> Step:
    shown = found.candidates[:_SHOWN_LIQUIDS]
    terms = " + ".join(f"{one.probability:.3f} x {one.value:.2f}" for one in shown)
    more = len(found.candidates) - len(shown)
    return Step(
        "over all liquids that it may be, each with its own corrections",
        "M = sum of probability(j) M(j)",
        terms + (f" + {more} more" if more > 0 else ""),
        f"{found.value:.2f} g/mol",
    )


def _uncertainty(found: MolarMassResult) -> Iterator[Step]:
    budget = found.budget
    largest = [line for line in budget.lines if line.share >= 5e-4]
    yield Step(
        "standard uncertainty, from what each line of the budget makes",
        "u = sqrt(sum of u(i)^2)",
        "sqrt(" + " + ".join(f"{line.contribution:.3f}^2" for line in largest) + ") g/mol",
        f"{budget.standard_uncertainty:.3f} g/mol",
    )
    error = budget.total.error
    if error is None:
        yield from _by_instruments(budget, len(found.trials), found.value)
        return
    low, high = error.interval()
    least, most = found.interval_95
    yield Step(
        f"interval for 95 of 100, {found.technique.words} and instruments together; G: what was "
        "gained, M without what the air shut out adds",
        "M + G x (lowest and highest error)",
        f"{found.value:.2f} + {budget.total.gained:.2f} x ({low:+.3f} and {high:+.3f})",
        f"{least:.2f} to {most:.2f} g/mol",
    )


def _by_instruments(budget: Budget, count: int, value: float) -> Iterator[Step]:
    size = budget.standard_uncertainty
    degrees = "many"
    if not budget.degrees > _MANY_DEGREES:
        degrees = f"{budget.degrees:.3g}"
        # What the scatter of the trials makes of the mean, the balance's part in it.
        scatter = size * ((count - 1) / budget.degrees) ** 0.25
        yield Step(
            "effective degrees of freedom (Welch and Satterthwaite)",
            "nu = (n - 1) (u / u(scatter of n trials))^4",
            f"{count - 1} x ({size:.4f} / {scatter:.4f})^4",
            degrees,
        )
    shown = with_expanded(value, budget.expanded_uncertainty)
    yield Step(
        "expanded uncertainty, 95 %",
        "U = t u, Student's t for the effective degrees of freedom",
        f"{budget.coverage_factor:.2f} x {size:.3f} g/mol ({degrees} degrees of freedom)",
        f"{shown.split('± ')[-1]} g/mol: {shown} g/mol",
    )
