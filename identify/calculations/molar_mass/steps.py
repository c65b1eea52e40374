"""The working of a molar mass: one trial in full, the others in the same way, then together."""

from __future__ import annotations

from collections.abc import Iterator
from math import isinf

import numpy as np

from identify.calculations.molar_mass.budget import Budget
from identify.calculations.molar_mass.model import Model
from identify.calculations.molar_mass.result import TrialResult
from identify.calculations.working import Step
from identify.measurement import Conditions, Measurement
from identify.physics.constants import GAS_CONSTANT, STANDARD_PRESSURE, WEIGHT_DENSITY
from identify.physics.vapor import Liquid, Vapor
from identify.physics.water import water_density
from identify.quantities import Quantity
from identify.statistics import justified

# 62.3637 L Torr / (mol K): in the units of the bench. One mmHg is one Torr to 1.4e-7.
_BENCH_GAS_CONSTANT = GAS_CONSTANT * 1e3 * 760.0 / STANDARD_PRESSURE
_DENSITY_UNIT = "g/L"


def working(
    run: Measurement,
    model: Model,
    trials: tuple[TrialResult, ...],
    budget: Budget,
    value: float,
) -> tuple[Step, ...]:
    """Return the lines of the working, with the corrections of the likeliest liquid."""
    several = len(trials) > 1
    return (
        *_FirstTrial(run, model, "trial 1, " if several else "").steps(),
        *_other_trials(model, trials[1:]),
        *(_pooled(trials, value) if several else ()),
        *_uncertainty(budget, value),
    )


class _FirstTrial:
    """The first trial in the units of the bench: g, L, mmHg, K."""

    def __init__(self, run: Measurement, model: Model, before: str) -> None:
        self.run, self.before = run, before
        self.trial = run.trials[0]
        self.conditions = run.trial_conditions(self.trial)
        self.read = next(model.weighing.parts(1))
        place = model.liquids.likeliest
        everything = model.liquids.liquid
        self.liquid = Liquid(
            *(
                getattr(everything, name)[[place]]
                for name in ("boiling_point", "vapor_curve", "virial", "density")
            )
        )
        self.liquid_name = model.liquids.names[place]
        self.vapor = Vapor.of(self.read, self.liquid)
        self.gain = 1e3 * float(self.read.gain[0])
        self.bath = float(self.read.bath[0])
        self.pressure = Quantity(float(self.read.pressure[0]), "Pa").to("mmHg").value
        self.volume = 1e3 * float(self.read.volume[0])
        self.air = float(self.read.air_density[0])

    def steps(self) -> Iterator[Step]:
        yield Step(
            f"{self.before}gain in mass",
            "m = m(condensed) - m(empty)",
            f"{self.trial.condensed} - {self.trial.empty}",
            f"{self.gain:.4f} g",
        )
        yield from self._volume()
        yield from self._barometer()
        ideal = self.gain * _BENCH_GAS_CONSTANT * self.bath / (self.pressure * self.volume)
        yield Step(
            f"{self.before}ideal-gas shortcut",
            "M = m R T / (P V)",
            f"{self.gain:.4f} g x {_BENCH_GAS_CONSTANT:.3f} L mmHg/(mol K) x {self.bath:.2f} K / "
            f"({self.pressure:.2f} mmHg x {self.volume:.4f} L)",
            f"{ideal:.2f} g/mol",
        )
        yield from self._corrected()

    def _volume(self) -> Iterator[Step]:
        flask = self.run.trial_flask(self.trial)
        if flask.volume is not None:
            return
        if flask.water_volume is not None:
            if flask.water_volume.fills > 1:
                text = flask.water_volume.text
                yield Step(
                    "volume of the flask",
                    "V = sum of the fills",
                    text,
                    f"{1e3 * self.volume:.1f} mL",
                )
            return
        kelvin = float(self.read.volume_temperature[0])
        yield Step(
            "volume of the flask, from the water that fills it",
            "V = m(water) (1 - rho(air) / rho(weights)) / (rho(water) - rho(air))",
            f"{flask.water_mass} x (1 - {self.air:.3f} / {WEIGHT_DENSITY:g}) / "
            f"({water_density(kelvin):.2f} - {self.air:.2f}) {_DENSITY_UNIT}",
            f"{1e3 * self.volume:.2f} mL",
        )

    def _barometer(self) -> Iterator[Step]:
        conditions = self.conditions
        if not conditions.mercury_barometer:
            return
        gravity = "" if conditions.latitude is None else " x g / 9.80665 m/s2"
        yield Step(
            "barometer, mercury and brass scale brought to 0 °C"
            + (", local gravity" if gravity else ""),
            f"P = P(read) (1 - (0.0001818 - 0.0000184) t / (1 + 0.0001818 t)){gravity}",
            f"{conditions.pressure}, t = {conditions.room}{_place(conditions)}",
            f"{self.pressure:.2f} mmHg",
        )

    def _corrected(self) -> Iterator[Step]:
        vapor, read = self.vapor, self.read
        shut_out, buoyancy = 1e3 * float(vapor.air_shut_out[0, 0]), self.air / WEIGHT_DENSITY
        residual = Quantity(float(vapor.residual_pressure[0, 0]), "Pa").to("mmHg").value
        cooled = 1e3 * float(read.volume_at(read.room)[0])
        liquid_buoyancy = float(vapor.liquid_buoyancy[0, 0])
        mass = (self.gain * (1.0 - buoyancy) + shut_out) / liquid_buoyancy
        yield Step(
            f"{self.before}density of the air in the room (CIPM-2007)",
            "rho = rho(t, P, humidity)",
            f"rho({read.room[0] - 273.15:.1f} °C, {self.pressure:.1f} mmHg, "
            f"{100.0 * read.humidity[0]:.0f} %)",
            f"{self.air:.4f} {_DENSITY_UNIT}",
        )
        yield Step(
            f"{self.before}air shut out by the vapor that did not condense, as {self.liquid_name}",
            "m(air) = rho V p / P",
            f"{self.air:.4f} {_DENSITY_UNIT} x {cooled:.4f} L x {residual:.1f} mmHg / "
            f"{self.pressure:.1f} mmHg",
            f"{shut_out:.4f} g",
        )
        yield Step(
            f"{self.before}mass of the vapor, with the buoyancy of weights and liquid",
            "m(vapor) = (m (1 - rho / rho(weights)) + m(air)) / (1 - rho / rho(liquid))",
            f"({self.gain:.4f} x {1.0 - buoyancy:.5f} + {shut_out:.4f}) g / {liquid_buoyancy:.5f}",
            f"{mass:.4f} g",
        )
        nonideality = float(vapor.compressibility[0, 0])
        kelvin, pascal = self.bath, float(read.pressure[0])
        virial = (nonideality - 1.0) * GAS_CONSTANT * kelvin / pascal
        yield Step(
            f"{self.before}compression factor of the vapor",
            "Z = 1 + B P / (R T)",
            f"1 + ({1e6 * virial:.0f} cm3/mol) x {self.pressure:.1f} mmHg / "
            f"({1e3 * _BENCH_GAS_CONSTANT:.0f} cm3 mmHg/(mol K) x {kelvin:.2f} K)",
            f"{nonideality:.4f}",
        )
        hot = 1e3 * float(read.volume_at(read.bath)[0])
        molar_mass = mass * float(vapor.molar_mass_per_mass[0, 0])
        yield Step(
            f"{self.before}molar mass, the flask {1e3 * (hot - self.volume):.2f} mL larger in the "
            "bath",
            "M = Z m(vapor) R T / (P V)",
            f"{nonideality:.4f} x {mass:.4f} g x {_BENCH_GAS_CONSTANT:.3f} L mmHg/(mol K) x "
            f"{kelvin:.2f} K / ({self.pressure:.2f} mmHg x {hot:.4f} L)",
            f"{molar_mass:.2f} g/mol",
        )


def _place(conditions: Conditions) -> str:
    if conditions.latitude is None:
        return ""
    height = "" if conditions.height is None else f", {conditions.height} above the sea"
    return f", latitude {conditions.latitude}{height}"


def _other_trials(model: Model, trials: tuple[TrialResult, ...]) -> Iterator[Step]:
    masses = model.molar_masses()[:, model.liquids.likeliest]
    for trial in trials:
        place = trial.number - 1
        pressure = Quantity(float(model.weighing.pressure[place]), "Pa").to("mmHg").value
        yield Step(
            f"trial {trial.number}, the same way",
            "M = Z m(vapor) R T / (P V)",
            f"m = {trial.gain:.4f} g, T = {model.weighing.bath[place]:.2f} K, P = {pressure:.2f} "
            f"mmHg, V = {1e3 * model.weighing.volume[place]:.4f} L",
            f"{masses[place]:.2f} g/mol",
        )


def _pooled(trials: tuple[TrialResult, ...], value: float) -> Iterator[Step]:
    weights = [trial.weight for trial in trials]
    alike = np.ptp(weights) < 0.005
    terms = (
        " + ".join(f"{trial.value:.2f}" for trial in trials)
        if alike
        else " + ".join(f"{trial.weight:.3f} x {trial.value:.2f}" for trial in trials)
    )
    yield Step(
        "pooled",
        "M = sum of M(i) / n" if alike else "M = sum of w(i) M(i), w(i) ~ 1 / u(i)^2",
        f"({terms}) / {len(trials)}" if alike else terms,
        f"{value:.2f} g/mol",
    )


def _uncertainty(budget: Budget, value: float) -> Iterator[Step]:
    largest = [line for line in budget.lines if line.share >= 5e-4]
    yield Step(
        "standard uncertainty",
        "u = sqrt(sum of (c(i) u(i))^2), line by line in the budget",
        "sqrt(" + " + ".join(f"{line.contribution:.3f}^2" for line in largest) + ") g/mol",
        f"{budget.standard_uncertainty:.3f} g/mol",
    )
    degrees = "many" if isinf(budget.degrees) else f"{budget.degrees:.0f}"
    yield Step(
        "expanded uncertainty, 95 %",
        "U = t u, Student's t for the effective degrees of freedom",
        f"{budget.coverage_factor:.2f} x {budget.standard_uncertainty:.3f} g/mol "
        f"({degrees} degrees of freedom)",
        f"{justified(value, budget.expanded_uncertainty)} g/mol",
    )
