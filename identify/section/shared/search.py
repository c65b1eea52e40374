"""The search for the group of trials that is off most surely: what its students share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.notebook.findings import Finding
from identify.physics.arrays import Array
from identify.section.shared.effects import Effects, centered, refined_effect
from identify.section.shared.repair import Repair
from identify.section.shared.trials import Factor, Trials

# Chance that a sound section is told of a shared fault: 1 %, half of it for the weighings, half for
# the boiling points.
_FALSE_ALARM = 0.005
# Half the squares of standard deviations by which one way of being off is better than another: with
# seven to one.
TELLING = 2.0
MAX_FAULTS = 12  # that are told of the weighings, and of the boiling points
# Groups with this part of their trials in common cannot be told apart where they are nearly as
# strong.
_SAME_TRIALS, _AS_STRONG = 0.9, 0.9
# Where two groups hold all trials, each is as strong as the other, but for rounding.
_EQUALLY_STRONG = 0.99


@dataclass(frozen=True)
class SharedFault:
    """A fault that many share, and who they are.

    Parameters
    ----------
    finding : Finding
    repairs : tuple of Repair
        Of their readings; the first says whom it concerns.
    """

    finding: Finding
    repairs: tuple[Repair, ...]

    @property
    def students(self) -> frozenset[int]:
        """Indices of their runs."""
        return frozenset(self.repairs[0].trials or ())


@dataclass(frozen=True)
class DeviatingGroup:
    """A group of trials that is off from the others.

    Parameters
    ----------
    factor : Factor
    place : int
        Among the factor's groups.
    size : float
        Against the others, in the unit of the residuals.
    strength : float
        In standard uncertainties.
    """

    factor: Factor
    place: int
    size: float
    strength: float

    @cached_property
    def trials(self) -> NDArray[np.bool_]:
        """Which trials belong to it, shape (trials,)."""
        return self.factor.codes == self.place

    @property
    def words(self) -> tuple[str, ...]:
        """What tells it from the other groups."""
        return self.factor.names[self.place]

    @property
    def phrase(self) -> str:
        """How it stands in a sentence."""
        phrase = self.factor.grouping.phrase
        if "day {0}" in phrase and not self.words[0]:
            phrase = phrase.partition(" day {0} ")[2]
        return phrase.format(*self.words)

    def is_same(self, other: DeviatingGroup) -> bool:
        """Say whether two groups hold nearly the same trials."""
        common = float((self.trials & other.trials).sum())
        return common >= _SAME_TRIALS * float((self.trials | other.trials).sum())


def strongest(
    residuals: Array, trials: Trials, factors: Sequence[Factor], least: float
) -> tuple[DeviatingGroup, list[DeviatingGroup]] | None:
    """Return the group that is off most surely, and others that are the same trials.

    Parameters
    ----------
    residuals : array, shape (trials,)
        Against what the liquids should have given; NaN is left out.
    trials : Trials
    factors : sequence of Factor
        That which explains a fault best first.
    least : float
        Smaller effects are ignored.
    """
    found = _deviating(residuals, trials, factors, least)
    if not found:
        return None
    first = max(found, key=lambda group: group.strength)
    # Where two groups hold all trials, each is off from the other: the fault is with the one that
    # is further from what the liquids should have given.
    best = max(
        (
            one
            for one in found
            if one.factor is first.factor and one.strength >= _EQUALLY_STRONG * first.strength
        ),
        key=lambda group: abs(float(np.nanmedian(residuals[group.trials]))),
    )
    alike = [
        group
        for group in found
        if group.strength >= _AS_STRONG * best.strength and group.is_same(best)
    ]
    # In the order of the factors: that which explains it best comes first, each code once.
    by_code: dict[str, DeviatingGroup] = {}
    for group in alike:
        by_code.setdefault(group.factor.grouping.code, group)
    told, *others = by_code.values()
    return told, others


def _deviating(
    residuals: Array, trials: Trials, factors: Sequence[Factor], least: float
) -> list[DeviatingGroup]:
    """Return the groups that are further off than by chance, in the order of the factors."""
    beside_others = centered(residuals, trials.bottle)
    tested = [
        (factor, Effects.of(beside_others, trials, factor.codes, len(factor.names)))
        for factor in factors
    ]
    chance = _FALSE_ALARM / max(sum(one.tested for _, one in tested), 1)
    found: list[DeviatingGroup] = []
    for factor, one in tested:
        for place in np.flatnonzero(one.strength > one.limit(chance)):
            size = refined_effect(residuals, trials, factor.codes == place)
            if abs(size) >= least:
                strength = float(one.strength[place])
                found.append(DeviatingGroup(factor, int(place), size, strength))
    return found
