"""The uncertainty of a pooled molar mass: line by line to first order, and by simulation.

References
----------
JCGM 100:2008, Guide to the expression of uncertainty in measurement (GUM): sections 5 and 6, annex
G.4 (effective degrees of freedom after Welch and Satterthwaite). JCGM 101:2008, its supplement on
the propagation of distributions by a Monte Carlo method.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import hypot, inf, sqrt

import numpy as np
from numpy.typing import NDArray

from identify.calculations.molar_mass.model import Model
from identify.calculations.molar_mass.readings import Input
from identify.calculations.molar_mass.trials import TrialWeights
from identify.notebook.serializing import Serializable, decimals, digits, plain, serialized
from identify.notebook.statistics import student_t_quantile
from identify.physics.arrays import Array

SCATTER = "scatter beyond the balance"
IDENTITY = "choice of the liquid"

# First order and simulation agree where their standard uncertainties are within two percent, and
# the middle has not moved by more than a twentieth of one.
_AGREE, _MOVED = 0.02, 0.05
# Values so many standard uncertainties apart are not one value: two on either side.
_APART = 4.0
_SEED = 20_08  # the year of the two guides
_MOST_VALUES = 2_000_000  # draws times trials, for memory
_LEAST_DRAWS = 2_000
# What no liquid's molar mass is above [g/mol]: draws beyond it come from errors as large as the
# readings. Where hardly any draw is possible, the readings themselves are at fault.
_HIGHEST = 1e4
_LEAST_POSSIBLE = 0.01


@dataclass(frozen=True)
class BudgetLine(Serializable):
    """One line of the budget.

    Parameters
    ----------
    input : str
    standard_uncertainty : float
        In `unit`.
    unit : str
    sensitivity : float
        What one unit changes the pooled molar mass by [g/mol per `unit`].
    contribution : float
        To the standard uncertainty of the pooled molar mass [g/mol].
    share : float
        Of its variance, 0 to 1.
    degrees : float
        Of freedom; infinite where the uncertainty is taken as known.
    origin : str
        Where the standard uncertainty comes from.
    readings : int
        How many readings of this kind add up in this line.
    remark : str
        What else the reader must know of them; mostly empty.
    """

    input: str
    standard_uncertainty: float = field(metadata=digits(5))
    unit: str
    sensitivity: float = field(metadata=digits(5))
    contribution: float = field(metadata=digits(5))
    share: float = field(metadata=decimals(6))
    degrees: float = field(metadata=serialized(plain, "degrees_of_freedom"))
    origin: str
    readings: int = 1
    remark: str = ""


@dataclass(frozen=True)
class Budget:
    """The first-order uncertainty of the pooled molar mass.

    Parameters
    ----------
    lines : tuple of BudgetLine
        The largest first.
    standard_uncertainty : float
        In g/mol.
    degrees : float
        Effective degrees of freedom.
    beyond : float
        Scatter of the trials beyond what their own readings explain [g/mol].
    """

    lines: tuple[BudgetLine, ...]
    standard_uncertainty: float
    degrees: float
    beyond: float = 0.0

    @cached_property
    def coverage_factor(self) -> float:
        """Student's t for 95 % at the effective degrees of freedom."""
        return student_t_quantile(self.degrees)

    @property
    def expanded_uncertainty(self) -> float:
        """Half-width of the interval that holds the true value in 95 of 100 such runs [g/mol]."""
        return self.coverage_factor * self.standard_uncertainty

    @cached_property
    def for_one_liquid(self) -> float:
        """What the standard uncertainty is for any one of the liquids [g/mol]."""
        return hypot(*(line.contribution for line in self.lines if line.input != IDENTITY))

    def liquid_decides(self, width: float) -> bool:
        """Say whether a range over the liquids, so wide [g/mol], is what is uncertain."""
        chosen = sum(line.share for line in self.lines if line.input == IDENTITY)
        return chosen > 0.5 and width > _APART * self.for_one_liquid


def trial_uncertainty(changes: Array, probability: Array) -> Array:
    """Return each trial's standard uncertainty, shape (k,) [g/mol].

    Parameters
    ----------
    changes : array, shape (p, k, n)
        What one standard uncertainty of each input changes each trial by, liquid by liquid [g/mol].
    probability : array, shape (n,)
        Of the liquids.
    """
    return np.asarray(np.sqrt((changes**2 @ probability).sum(axis=0)))


def trials_entered(inputs: Sequence[Input]) -> NDArray[np.int64]:
    """Return for each input how many trials it enters, shape (p,)."""
    return np.array([len(one.trials) for one in inputs])


def budget(
    inputs: Sequence[Input],
    changes: Array,
    probability: Array,
    pooling: TrialWeights,
    by_identity: float,
) -> Budget:
    """Return the first-order budget of the pooled molar mass.

    Parameters
    ----------
    inputs : sequence of Input
        p of them.
    changes : array, shape (p, k, n)
        What one standard uncertainty of each changes each trial by, liquid by liquid [g/mol].
    probability : array, shape (n,)
        Of the liquids.
    pooling : TrialWeights
        Of k trials.
    by_identity : float
        Standard deviation of the pooled molar mass over the liquids that it may be [g/mol].
    """
    by_liquid = np.einsum("pkn,k->pn", changes, pooling.weight)
    # Over the liquids, variances add up by their probabilities; the sign is that of the mean.
    pooled = np.sqrt(by_liquid**2 @ probability) * np.sign(by_liquid @ probability)
    alone = trials_entered(inputs) == 1
    # What the trials do not share shows in their scatter, with whatever else differs from trial to
    # trial. Where they scatter more than the balance explains, the scatter counts in its place.
    expected = float((pooled[alone] ** 2).sum())
    beyond = pooling.scatter**2 - expected if len(pooling.weight) > 1 else 0.0
    by_name: dict[str, list[tuple[Input, float]]] = {}
    for one, change in zip(inputs, pooled.tolist(), strict=True):
        by_name.setdefault(one.name, []).append((one, change))
    lines = [_line(name, group) for name, group in by_name.items()]
    if by_identity > 0.0:
        lines.append(_of_the_molar_mass(IDENTITY, by_identity, "see below"))
    if beyond > 0.0:
        origin = "standard error of the mean over the trials"
        lines.append(_of_the_molar_mass(SCATTER, sqrt(beyond), origin, pooling.degrees))
    variance = sum(line.contribution**2 for line in lines)
    degrees = inf
    if beyond > 0.0:
        degrees = variance**2 / (pooling.scatter**4 / pooling.degrees)
    shared = tuple(
        replace(line, share=line.contribution**2 / variance if variance else 0.0)
        for line in sorted(lines, key=lambda line: -line.contribution)
    )
    return Budget(shared, sqrt(variance), degrees, sqrt(max(beyond, 0.0)))


def _of_the_molar_mass(name: str, size: float, origin: str, degrees: float = inf) -> BudgetLine:
    return BudgetLine(name, size, "g/mol", 1.0, size, 0.0, degrees, origin)


def _line(name: str, changes: Sequence[tuple[Input, float]]) -> BudgetLine:
    size = hypot(*(one.standard_uncertainty for one, _ in changes)) / sqrt(len(changes))
    # Of all readings of this kind moved together; for a single reading simply its own.
    together = sum(change / (one.standard_uncertainty or 1.0) for one, change in changes)
    origin = "; ".join(dict.fromkeys(one.origin for one, _ in changes))
    return BudgetLine(
        input=name,
        standard_uncertainty=size,
        unit=changes[0][0].unit,
        sensitivity=together,
        contribution=hypot(*(change for _, change in changes)),
        share=0.0,
        degrees=inf,
        origin=origin,
        readings=len(changes),
        remark="; ".join(dict.fromkeys(one.remark for one, _ in changes if one.remark)),
    )


@dataclass(frozen=True)
class Simulation(Serializable):
    """The same uncertainty by drawing all errors many times.

    Parameters
    ----------
    value, standard_uncertainty : float
        Mean and standard deviation of the drawn molar masses [g/mol].
    interval : (float, float)
        The middle 95 %, the trials' scatter drawn from Student's t as JCGM 101 6.4.9 has it
        [g/mol].
    impossible : float
        Share of the draws that gave no molar mass that a liquid can have, and were left out.
    unfilled : float
        Share of the draws in which the bath was below the boiling point.
    dry : float
        Share of the draws in which no drop was left in the cooled flask.
    draws, seed : int
    """

    value: float = field(metadata=decimals(4))
    standard_uncertainty: float = field(metadata=decimals(4))
    interval: tuple[float, float] = field(metadata=decimals(4))
    impossible: float = field(metadata=decimals(6, "impossible_share"))
    unfilled: float = field(metadata=decimals(6, "unfilled_share"))
    dry: float = field(metadata=decimals(6, "dry_share"))
    draws: int
    seed: int = _SEED

    def agrees(self, value: float, standard_uncertainty: float) -> bool:
        """Say whether a first-order result is good enough."""
        if not standard_uncertainty > 0.0:
            return True
        ratio = self.standard_uncertainty / standard_uncertainty
        moved = abs(self.value - value) / standard_uncertainty
        return abs(ratio - 1.0) <= _AGREE and moved <= _MOVED


def simulate(model: Model, pooling: TrialWeights, beyond: float, draws: int) -> Simulation | None:
    """Draw all errors together, and see how the pooled molar mass varies.

    Parameters
    ----------
    model : Model
    pooling : TrialWeights
    beyond : float
        Scatter of the trials beyond what their own readings explain [g/mol].
    draws : int
        How many; fewer where there are very many trials.

    Returns
    -------
    Simulation or None
        None where hardly any draw gives a molar mass that a liquid can have.
    """
    generator = np.random.default_rng(_SEED)
    count = max(min(draws, _MOST_VALUES // model.weighing.trials), _LEAST_DRAWS)
    deviations = generator.standard_normal((count, len(model.inputs)))
    for column, one in enumerate(model.inputs):
        if one.rectangular:
            deviations[:, column] = generator.uniform(-sqrt(3.0), sqrt(3.0), count)
    places = model.drawn_liquids(count, generator)
    # A draw may leave what physics has formulas for, such as a pressure below zero.
    with np.errstate(all="ignore"):
        drawn = model.drawn(deviations, places)
        pooled = drawn.molar_masses @ pooling.weight
        wide = pooled
        if beyond > 0.0:
            pooled = pooled + beyond * generator.standard_normal(count)
            deviations[:, trials_entered(model.inputs) == 1] = 0.0
            wide = model.drawn(deviations, places).molar_masses @ pooling.weight
            wide = wide + pooling.scatter * generator.standard_t(pooling.degrees, count)
    possible, wide = _possible(pooled), _possible(wide)
    if min(len(possible), len(wide)) < _LEAST_POSSIBLE * count:
        return None
    low, high = np.quantile(wide, [0.025, 0.975])
    return Simulation(
        value=float(possible.mean()),
        standard_uncertainty=float(possible.std(ddof=1)),
        interval=(float(low), float(high)),
        impossible=1.0 - len(possible) / count,
        unfilled=float(drawn.unfilled.mean()),
        dry=float(drawn.dry.mean()),
        draws=count,
    )


def _possible(molar_masses: Array) -> Array:
    return molar_masses[(molar_masses > 0.0) & (molar_masses < _HIGHEST)]
