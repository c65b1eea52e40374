"""The molar mass of one unknown, from all its trials."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import sqrt

import numpy as np

from identify.bench.bench import Assumption
from identify.bench.trials import BenchTrial, weighing_of
from identify.budget.budget import Budget, budget, trials_entered
from identify.budget.liquids import PossibleLiquids, constants_of
from identify.budget.model import Model
from identify.budget.readings import inputs_of
from identify.physics.arrays import Array


@dataclass(frozen=True)
class WeighedMolarMass:
    """The mean over k trials, with the corrections of n liquids that it may be.

    All trials count alike: what differs from one to the next is mostly how the work was done, not
    how well the balance reads.

    Parameters
    ----------
    model : Model
    """

    model: Model

    @classmethod
    def of(
        cls,
        trials: Sequence[BenchTrial],
        assumed: Sequence[Assumption],
        liquids: PossibleLiquids,
    ) -> WeighedMolarMass:
        """Take readings and liquids with what each is uncertain by.

        Parameters
        ----------
        trials : sequence of BenchTrial
            None of which lacks a reading.
        assumed : sequence of Assumption
            What was not written of them.
        liquids : PossibleLiquids
        """
        weighing = weighing_of(trials)
        inputs = (*inputs_of(trials, assumed), *constants_of(liquids, weighing.trials))
        return cls(Model(weighing, liquids, inputs))

    @property
    def trials(self) -> int:
        """Number of trials, k."""
        return self.model.weighing.trials

    @property
    def probability(self) -> Array:
        """That of the liquids, shape (n,)."""
        return self.model.liquids.weight

    @cached_property
    def molar_masses(self) -> Array:
        """Trial by trial and liquid by liquid, shape (k, n) [g/mol]."""
        return self.model.molar_masses()

    @cached_property
    def each(self) -> Array:
        """Trial by trial, over the liquids by their probabilities, shape (k,) [g/mol]."""
        return np.asarray(self.molar_masses @ self.probability)

    @cached_property
    def by_liquid(self) -> Array:
        """Liquid by liquid, the mean over the trials, shape (n,) [g/mol]."""
        return np.asarray(self.molar_masses.mean(axis=0))

    @cached_property
    def value(self) -> float:
        """Of trials and liquids together [g/mol]."""
        return float(self.by_liquid @ self.probability)

    @cached_property
    def scatter(self) -> float:
        """Standard error of the mean by the scatter of the trials [g/mol], zero for one."""
        if self.trials == 1:
            return 0.0
        return float(np.std(self.each, ddof=1)) / sqrt(self.trials)

    @cached_property
    def changes(self) -> Array:
        """What one standard uncertainty of each input changes, shape (p, k, n) [g/mol]."""
        return self.model.first_order()

    @cached_property
    def budget(self) -> Budget:
        """The uncertainty of the mean, input by input."""
        by_liquid = self.changes.mean(axis=1)
        # Over the liquids, variances add up by their probabilities; the sign is that of the mean.
        pooled = np.sqrt(by_liquid**2 @ self.probability) * np.sign(by_liquid @ self.probability)
        apart = float(self.probability @ (self.by_liquid - self.value) ** 2)
        return budget(self.model.inputs, pooled, sqrt(max(apart, 0.0)), self.trials, self.scatter)

    def trial_uncertainty(self, of_its_own: bool = False) -> Array:
        """Return each trial's standard uncertainty, shape (k,) [g/mol].

        Parameters
        ----------
        of_its_own : bool
            Without what all trials share, which moves none of them away from the others.
        """
        changes = self.changes
        if of_its_own:
            changes = changes[trials_entered(self.model.inputs) < self.trials]
        return np.asarray(np.sqrt((changes**2 @ self.probability).sum(axis=0)))
