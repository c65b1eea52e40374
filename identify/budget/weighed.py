"""The molar mass of one unknown, from all its trials."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import hypot, inf, sqrt

import numpy as np

from identify.bench.assumed import AssumedCondition
from identify.bench.bench import Assumption
from identify.bench.trials import BenchTrial, weighing_of
from identify.budget.budget import (
    IDENTITY,
    SCATTER,
    TECHNIQUE,
    Budget,
    BudgetLine,
    budget,
    of_the_molar_mass,
    trials_entered,
)
from identify.budget.liquids import PossibleLiquids, constants_of
from identify.budget.model import Model
from identify.budget.readings import Input, cooler_vapor, inputs_of
from identify.budget.total import TotalUncertainty
from identify.observables.error.technique import ALL_STATED, AS_CLASSES_WORK, Technique
from identify.physics.arrays import Array

_TRIALS_AT_ONCE = 64  # beside their some hundred inputs
_ENDLESS = 10**9  # so many trials that nothing is left of their scatter


@dataclass(frozen=True)
class WeighedMolarMass:
    """The mean over k trials, with the corrections of n liquids that it may be.

    All trials count alike: what differs from one to the next is mostly how the work was done, not
    how well the balance reads.

    Parameters
    ----------
    model : Model
        Of all trials; without inputs where there are very many.
    technique : Technique
    parts : tuple of Model
        The trials a part at a time, with their inputs: what is uncertain about very many is worked
        out from the first part, and of each from its own.
    """

    model: Model
    technique: Technique = AS_CLASSES_WORK
    parts: tuple[Model, ...] = ()

    @classmethod
    def of(
        cls,
        trials: Sequence[BenchTrial],
        assumed: Sequence[Assumption],
        liquids: PossibleLiquids,
        technique: Technique = AS_CLASSES_WORK,
    ) -> WeighedMolarMass:
        """Take readings and liquids with what each is uncertain by.

        Parameters
        ----------
        trials : sequence of BenchTrial
            None of which lacks a reading.
        assumed : sequence of Assumption
            What was not written of them.
        liquids : PossibleLiquids
        technique : Technique
            How well the class works beyond its instruments.
        """
        parts = [
            _model(trials[first : first + _TRIALS_AT_ONCE], assumed, liquids, technique)
            for first in range(0, len(trials), _TRIALS_AT_ONCE)
        ]
        whole = parts[0] if len(parts) == 1 else Model(weighing_of(trials), liquids, ())
        return cls(whole, technique, tuple(parts))

    @property
    def inputs(self) -> tuple[Input, ...]:
        """The readings with their uncertainties, p of them."""
        return self.parts[0].inputs

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
    def gained(self) -> float:
        """What of it the balance showed, without the air that was shut out [g/mol]."""
        return float(self.model.implied_and_gained[1].mean(axis=0) @ self.probability)

    @cached_property
    def scatter(self) -> float:
        """Standard error of the mean by the scatter of the trials [g/mol], zero for one."""
        if self.trials == 1:
            return 0.0
        return float(np.std(self.each, ddof=1)) / sqrt(self.trials)

    @cached_property
    def _by_input(self) -> Array:
        """What one standard uncertainty of each input changes the mean by, shape (p,) [g/mol]."""
        by_liquid = self.parts[0].first_order().mean(axis=1)
        # What is read anew for each trial averages out over all of them, not over those of a part.
        part = self.parts[0].weighing.trials
        by_liquid[trials_entered(self.inputs) == 1] *= sqrt(part / self.trials)
        # Over the liquids, variances add up by their probabilities; the sign is that of the mean.
        sign = np.sign(by_liquid @ self.probability)
        return np.asarray(np.sqrt(by_liquid**2 @ self.probability) * sign)

    @cached_property
    def _by_identity(self) -> float:
        """Variance over the liquids that it may be [(g/mol)^2]."""
        return float(self.probability @ (self.by_liquid - self.value) ** 2)

    @cached_property
    def beyond(self) -> float:
        """Scatter beyond what the trials' own readings explain, of the mean [g/mol].

        What the trials do not share shows in their scatter, with whatever else differs from trial
        to trial. Where they scatter more than the balance explains, the scatter counts in its
        place.
        """
        if self.trials == 1:
            return 0.0
        alone = trials_entered(self.inputs) == 1
        expected = float((self._by_input[alone] ** 2).sum())
        return sqrt(max(self.scatter**2 - expected, 0.0))

    @cached_property
    def total(self) -> TotalUncertainty:
        """The uncertainty of the mean, instruments and technique together."""
        instruments = sqrt(float((self._by_input**2).sum()) + self._by_identity)
        if self.technique == ALL_STATED:
            together, degrees = hypot(instruments, self.beyond), inf
            if self.beyond > 0.0:
                degrees = together**4 / (self.scatter**4 / (self.trials - 1))
            return TotalUncertainty(together, degrees=degrees)
        return self._with_technique(instruments, self.trials, self.beyond * sqrt(self.trials))

    def _with_technique(self, instruments: float, trials: int, scatter: float) -> TotalUncertainty:
        return TotalUncertainty.of(
            self.technique, self.value, self.gained, instruments, trials, scatter
        )

    def assumed_conditions(self, assumed: Iterable[Assumption]) -> tuple[AssumedCondition, ...]:
        """Return what was assumed, with its share of the variance of the mean."""
        variance = self.total.standard_uncertainty**2
        squares = {
            one.condition: float(change) ** 2
            for one, change in zip(self.inputs, self._by_input, strict=True)
        }
        return tuple(
            AssumedCondition.of(one.condition, one.quantity, squares[one.condition] / variance)
            for one in assumed
        )

    def drawn_technique(self, count: int, generator: np.random.Generator) -> Array:
        """Draw what technique alone changes the true value by, shape (count,) [g/mol]."""
        alone = self._with_technique(0.0, self.trials, self.beyond * sqrt(self.trials))
        assert alone.error is not None
        return alone.gained * alone.error.drawn(count, generator)

    @cached_property
    def budget(self) -> Budget:
        """The uncertainty of the mean, input by input."""
        return budget(self.inputs, self._by_input, self._further_lines(), self.total)

    def _further_lines(self) -> Iterator[BudgetLine]:
        yield of_the_molar_mass(IDENTITY, self._by_identity, "see below")
        several, total = self.trials > 1, self.total
        origin = "standard error of the mean over the trials"
        if total.error is None:
            yield of_the_molar_mass(SCATTER, self.beyond**2, origin, self.trials - 1)
            return
        # However many trials there were: the bias that they share.
        shared = self._with_technique(total.instruments, _ENDLESS, 0.0).standard_uncertainty ** 2
        yield of_the_molar_mass(
            TECHNIQUE, shared - total.instruments**2, f"{self.technique.words}, in all trials alike"
        )
        usual = "how the trials scatter, and what is usual" if several else "usual for one trial"
        yield of_the_molar_mass(SCATTER, total.standard_uncertainty**2 - shared, usual)

    def trial_uncertainty(self, of_its_own: bool = False) -> Array:
        """Return each trial's standard uncertainty, shape (k,) [g/mol].

        Parameters
        ----------
        of_its_own : bool
            Without what all trials share, which moves none of them away from the others.
        """
        return np.concatenate([self._trial_uncertainty(part, of_its_own) for part in self.parts])

    def _trial_uncertainty(self, part: Model, of_its_own: bool) -> Array:
        changes = part.first_order()
        if of_its_own:
            changes = changes[trials_entered(part.inputs) < part.weighing.trials]
        return np.asarray(np.sqrt((changes**2 @ self.probability).sum(axis=0)))


def _model(
    trials: Sequence[BenchTrial],
    assumed: Sequence[Assumption],
    liquids: PossibleLiquids,
    technique: Technique,
) -> Model:
    """Return the model of some of the trials."""
    # The same object where they are all: what it shifts is worked out once.
    of_these = [
        one if len(one.trials) == len(trials) else replace(one, trials=tuple(trials))
        for one in assumed
    ]
    cooler = () if technique == ALL_STATED else cooler_vapor(trials)
    inputs = (*inputs_of(trials, of_these), *constants_of(liquids, len(trials)), *cooler)
    return Model(weighing_of(trials), liquids, inputs)
