"""Runs as a bench does them, with what truly happened and what was written down.

What happens comes from reference equations of state (`weighings.py`): any liquid there, at any
pressure and room where it boils off in a water bath. What is read is off by what the calculation
takes a usual instrument to be off by: one error a run of each thermometer, of the barometer and of
the flask's volume, one a weighing of the balance. Instruments change what is read, never what
happens. The readings are rounded as a person writes them down.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil
from typing import Any

import numpy as np
from chemicals import search_chemical
from chemicals.elements import mass_fractions, simple_formula_parser
from numpy.typing import NDArray
from weighings import (
    ZERO_CELSIUS,
    Flask,
    Fluid,
    Laboratory,
    balance_gain,
    vapor_mass,
    weighings_of,
)

from identify.notebook.measurement import Conditions, Measurement, Trial
from identify.notebook.measurement import Flask as WrittenFlask
from identify.notebook.usual import VAPOR_COOLER, VAPOR_COOLER_SPREAD
from identify.observables.error.technique import (
    ALL_STATED,
    BIAS,
    ROUGH_SCATTER,
    SCATTER,
    SPOILED_ALIKE,
    Technique,
)

MMHG = 133.322387415  # Pa

# Standard deviations of the readings: those of the usual instruments that the calculation assumes
# where nothing is stated. The balance's is one unit of its last digit.
THERMOMETER_K, BAROMETER_MMHG = 0.5, 0.5
CYLINDER_ML, FILL_ML = 100.0, 0.5  # size, and error of each fill
LEAST_HUMIDITY, MOST_HUMIDITY = 0.2, 0.8  # of saturation, nobody writes it down
# Of the card: half of the usual tolerances.
BOILING_POINT_K, PERCENT = 1.0, 0.2

TECHNIQUE = 0.005  # of the vapor's mass, from trial to trial
# Flasks of 125 and 250 mL, filled to the brim [mL]. Common practice: 8 to 20 % more than printed.
BRIM_VOLUMES = ((135.0, 150.0), (270.0, 300.0))
NEAR_K = 0.3  # a bath hardly above the boiling point


@dataclass(frozen=True)
class Setup:
    """How a run is done.

    Parameters
    ----------
    trials : int
    technique : float
        Standard deviation of the vapor's mass from trial to trial, relative to it.
    decimals : int
        Of the balance, in grams.
    brim : tuple of (float, float)
        Flasks to choose from, each with its least and largest volume [mL].
    near : float
        The bath is, and reads, up to so many kelvins above the boiling point; zero for a simmering
        water bath.
    works : Technique
        How the class works: its errors are drawn as the calculation assumes them, with a vapor
        cooler than the bath; by default nothing errs but the instruments.
    """

    trials: int = 1
    technique: float = 0.0
    decimals: int = 3
    brim: tuple[tuple[float, float], ...] = BRIM_VOLUMES
    near: float = 0.0
    works: Technique = ALL_STATED


ORDINARY = tuple(
    Setup(trials, technique, decimals)
    for decimals in (3, 4)
    for technique in (0.0, TECHNIQUE)
    for trials in (1, 2, 3, 4)
    if trials > 1 or not technique  # one trial cannot show how well it would be repeated
)
TINY_GAIN = (Setup(decimals=2, brim=((10.0, 12.0),)),)
NEAR_BOILING = tuple(replace(one, near=NEAR_K) for one in ORDINARY if not one.technique)


@dataclass(frozen=True)
class Run:
    """One run: what truly happened, and what was written down.

    Parameters
    ----------
    setup : Setup
    fluid : Fluid
    laboratory : Laboratory
    flask : Flask
    bath : float
        In K.
    written : Measurement
    """

    setup: Setup
    fluid: Fluid
    laboratory: Laboratory
    flask: Flask
    bath: float
    written: Measurement

    @property
    def above_room(self) -> float:
        """How far above the room's temperature the liquid boils, [K]."""
        return self.fluid.boiling_point(self.laboratory.pressure) - self.laboratory.room


class Bench:
    """Does runs, and reads them with the errors of usual instruments.

    Parameters
    ----------
    generator : numpy.random.Generator
    fluids : sequence of Fluid
    """

    def __init__(self, generator: np.random.Generator, fluids: Sequence[Fluid]) -> None:
        self.random = generator
        weighings = [list(weighings_of(fluid)) for fluid in fluids]
        self.days = [[one.laboratory for one in each] for each in weighings if each]
        self.fluids = [each[0].fluid for each in weighings if each]

    def run(self, setup: Setup, card: bool = False) -> Run:
        """Do one run with any liquid on any day; with its card, if that is asked for."""
        place = int(self.random.integers(len(self.fluids)))
        fluid, days = self.fluids[place], self.days[place]
        day = days[int(self.random.integers(len(days)))]
        humidity = float(self.random.uniform(LEAST_HUMIDITY, MOST_HUMIDITY))
        laboratory = replace(day, humidity=humidity)
        brim = setup.brim[int(self.random.integers(len(setup.brim)))]
        flask = Flask(1e-6 * float(self.random.uniform(*brim)), laboratory.room)
        bath, bath_read = self._bath(setup, fluid, laboratory)
        pressure = f"{self._read(laboratory.pressure / MMHG, BAROMETER_MMHG):.1f} mmHg"
        room = f"{self._read(laboratory.room - ZERO_CELSIUS, THERMOMETER_K):.1f} C"
        vapor = bath - self._cooler() if setup.works != ALL_STATED else bath
        mass = vapor_mass(fluid, vapor, laboratory, flask)
        masses = mass * (1.0 + setup.technique * self.random.standard_normal(setup.trials))
        empty = float(self.random.uniform(90.0, 100.0))
        gains = [1e3 * balance_gain(fluid, float(one), laboratory, flask) for one in masses]
        gains = [gain * factor for gain, factor in zip(gains, self._worked(setup), strict=True)]
        written = Measurement(
            label=fluid.name,
            conditions=Conditions(pressure=pressure, room=room),
            flask=WrittenFlask(water_volume=self._fills(1e6 * flask.volume)),
            trials=[
                Trial(
                    self._weigh(empty, setup.decimals),
                    self._weigh(empty + gain, setup.decimals),
                    bath_read,
                )
                for gain in gains
            ],
            **(self._card(fluid, laboratory, pressure) if card else {}),
        )
        return Run(setup, fluid, laboratory, flask, bath, written)

    def _cooler(self) -> float:
        return VAPOR_COOLER + VAPOR_COOLER_SPREAD * float(self.random.standard_normal())

    def _worked(self, setup: Setup) -> NDArray[np.float64]:
        """Return what was gained over what was to be gained, trial by trial."""
        works, each = setup.works, self.random.standard_normal(setup.trials)
        sizes = [*(size for _, size in works.parts), 0.0]
        weights = np.array([*(weight for weight, _ in works.parts), works.rough])
        part = int(self.random.choice(len(weights), p=weights / weights.sum()))
        if part < len(works.parts):
            shared = BIAS * float(self.random.standard_normal())
            return 1.0 + sizes[part] * (shared + SCATTER * each)
        rough = replace(works, parts=(), rough=1.0).error().drawn(1, self.random)
        logarithm = -float(np.log1p(rough[0]))
        # How rough technique errs is known of whole pages: what one trial shows is all of it.
        scatter = ROUGH_SCATTER if setup.trials > 1 else 0.0
        if setup.trials > 1 and works.parts and self.random.random() < SPOILED_ALIKE:
            kinds = weights[:-1] / weights[:-1].sum()
            scatter = SCATTER * float(self.random.choice(sizes[:-1], p=kinds))
        return np.exp(logarithm + scatter * each)

    def _read(self, true: float, error: float) -> float:
        return true + error * float(self.random.standard_normal())

    def _weigh(self, grams: float, decimals: int) -> str:
        return f"{self._read(grams, 10.0**-decimals):.{decimals}f} g"

    def _fills(self, milliliters: float) -> list[str]:
        """Measure water out: full cylinders, each with its own error, and what is left."""
        count = ceil(milliliters / CYLINDER_ML)
        full = [CYLINDER_ML] * (count - 1)
        error = FILL_ML * float(self.random.standard_normal(count).sum())
        return [f"{one:.1f} mL" for one in (*full, milliliters - sum(full) + error)]

    def _bath(self, setup: Setup, fluid: Fluid, laboratory: Laboratory) -> tuple[float, str]:
        """Return the bath's temperature [K], and what its thermometer shows."""
        boiling = fluid.boiling_point(laboratory.pressure)
        while True:
            bath = laboratory.water_bath
            if setup.near:
                bath = boiling + float(self.random.uniform(0.05, setup.near))
            read = self._read(bath, THERMOMETER_K)
            if not setup.near or abs(read - boiling) <= setup.near:
                return bath, f"{read - ZERO_CELSIUS:.1f} C"

    def _card(self, fluid: Fluid, laboratory: Laboratory, pressure: str) -> dict[str, Any]:
        boiling = fluid.boiling_point(laboratory.pressure) - ZERO_CELSIUS
        atoms = simple_formula_parser(search_chemical(fluid.cas).formula)
        percent = {
            element: f"{max(self._read(100.0 * share, PERCENT), 0.0):.2f} %"
            for element, share in mass_fractions(atoms).items()
        }
        return {
            "boiling_point": f"{self._read(boiling, BOILING_POINT_K):.1f} C",
            "boiling_point_at": pressure,
            "percent": percent,
        }
