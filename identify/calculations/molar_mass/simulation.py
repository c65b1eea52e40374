"""The uncertainty of a pooled molar mass by drawing all errors many times.

References
----------
JCGM 101:2008, supplement to the Guide to the expression of uncertainty in measurement, on the
propagation of distributions by a Monte Carlo method.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import sqrt

import numpy as np

from identify.budget.budget import trials_entered
from identify.budget.weighed import WeighedMolarMass
from identify.notebook.serializing import OMITTED, Serializable, decimals
from identify.observables.error.technique import ALL_STATED
from identify.physics.arrays import Array

# First order and simulation agree where their standard uncertainties are within two percent, and
# the middle has not moved by more than a twentieth of one.
_AGREE, _MOVED = 0.02, 0.05
_MIDDLE = (0.15865525, 0.5, 0.84134475)  # one standard deviation below, the median, one above
_SEED = 20_08  # the year of the two guides
_MOST_VALUES = 600_000  # draws times trials: some fifty arrays of that size are held at once
_LEAST_DRAWS = 2_000
# What no liquid's molar mass is above [g/mol]: draws beyond it come from errors as large as the
# readings. Where hardly any draw is possible, the readings themselves are at fault.
_HIGHEST = 1e4
_LEAST_POSSIBLE = 0.01


@dataclass(frozen=True)
class Simulation(Serializable):
    """The same uncertainty by drawing all errors many times.

    Parameters
    ----------
    value, standard_uncertainty : float
        Median of the drawn molar masses, and half of the interval that holds their middle 68.27 %;
        of instruments alone, their mean and standard deviation [g/mol].
    interval : (float, float)
        The middle 95 %; of instruments alone, the trials' scatter is drawn from Student's t as
        JCGM 101 6.4.9 has it [g/mol].
    impossible : float
        Share of the draws that gave no molar mass that a liquid can have, and were left out.
    unfilled : float
        Share of the draws in which the bath was below the boiling point.
    dry : float
        Share of the draws in which no drop was left in the cooled flask.
    draws : int
    of_instruments : (float, float)
        Mean and standard deviation by the instruments alone, to which first order is compared
        [g/mol].
    seed : int
    """

    value: float = field(metadata=decimals(4))
    standard_uncertainty: float = field(metadata=decimals(4))
    interval: tuple[float, float] = field(metadata=decimals(4))
    impossible: float = field(metadata=decimals(6, "impossible_share"))
    unfilled: float = field(metadata=decimals(6, "unfilled_share"))
    dry: float = field(metadata=decimals(6, "dry_share"))
    draws: int
    of_instruments: tuple[float, float] = field(metadata=OMITTED)
    seed: int = _SEED

    def agrees(self, value: float, instruments: float) -> bool:
        """Say whether first order is good enough: a value and its uncertainty by instruments."""
        if not instruments > 0.0:
            return True
        mean, deviation = self.of_instruments
        moved = abs(mean - value) / instruments
        return abs(deviation / instruments - 1.0) <= _AGREE and moved <= _MOVED


def simulate(weighed: WeighedMolarMass, draws: int) -> Simulation | None:
    """Draw all errors together, and see how the mean over the trials varies.

    Parameters
    ----------
    weighed : WeighedMolarMass
    draws : int
        How many; fewer where there are very many trials.

    Returns
    -------
    Simulation or None
        None where hardly any draw gives a molar mass that a liquid can have.
    """
    model, generator = weighed.model, np.random.default_rng(_SEED)
    count = max(min(draws, _MOST_VALUES // weighed.trials), _LEAST_DRAWS)
    deviations = generator.standard_normal((count, len(model.inputs)))
    for column, one in enumerate(model.inputs):
        if one.rectangular:
            deviations[:, column] = generator.uniform(-sqrt(3.0), sqrt(3.0), count)
    places = model.drawn_liquids(count, generator)
    # A draw may leave what physics has formulas for, such as a pressure below zero.
    with np.errstate(all="ignore"):
        drawn = model.drawn(deviations, places)
        pooled = wide = drawn.molar_masses.mean(axis=1)
        if weighed.technique != ALL_STATED:
            wide = pooled + weighed.drawn_technique(count, generator)
        elif weighed.beyond > 0.0:
            pooled = pooled + weighed.beyond * generator.standard_normal(count)
            deviations[:, trials_entered(model.inputs) == 1] = 0.0
            wide = model.drawn(deviations, places).molar_masses.mean(axis=1)
            wide = wide + weighed.scatter * generator.standard_t(weighed.trials - 1, count)
    possible, wide = _possible(pooled), _possible(wide)
    if min(len(possible), len(wide)) < _LEAST_POSSIBLE * count:
        return None
    mean, deviation = value, uncertainty = float(possible.mean()), float(possible.std(ddof=1))
    if weighed.technique != ALL_STATED:
        least, value, most = map(float, np.quantile(wide, _MIDDLE))
        uncertainty = 0.5 * (most - least)
    low, high = np.quantile(wide, [0.025, 0.975])
    return Simulation(
        value=value,
        standard_uncertainty=uncertainty,
        interval=(float(low), float(high)),
        impossible=1.0 - len(possible) / count,
        unfilled=float(drawn.unfilled.mean()),
        dry=float(drawn.dry.mean()),
        draws=count,
        of_instruments=(mean, deviation),
    )


def _possible(molar_masses: Array) -> Array:
    return molar_masses[(molar_masses > 0.0) & (molar_masses < _HIGHEST)]
