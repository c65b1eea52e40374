"""Which readings slips may have changed together, and which candidates they could lead to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import prod
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from identify.matching.evidence import CandidateEvidence
from identify.matching.posterior import Posterior
from identify.matching.totals import first_rows
from identify.physics.arrays import Array

# The chance of any slip at all in one observable, about: decides whether a search is worth while.
# Of a whole card less: what exchanges or mixes its numbers seldom makes another compound's of them.
_SLIP_CHANCE = {"molar_mass": 0.03, "boiling_point": 0.02, "composition": 0.003}
_ELEMENT_SLIP_CHANCE = 0.003
# Where even slips that explain everything could not be this likely beside the readings as they
# stand, none is looked for.
MIN_SLIP_ODDS = 0.6
LEADING_COUNT = 256  # candidates for each observable that may be wrong
_LEADING_COUNT_OF_PAIR = 32  # for each two observables that may be wrong together
# Where those left out could be as likely as the readings as they stand: the built-in table whole.
_MAX_LEADING_COUNT = 16_384


class BoundsTooWide(Exception):
    """Bounds of a sum over all candidates that do not say whether a slip is worth a search."""


def _is_below(value: float, bounds: Array) -> bool:
    """Say whether a value is below what lies between two bounds.

    Raises
    ------
    BoundsTooWide
        Where it is between them.

    Examples
    --------
    >>> _is_below(1.0, np.array([2.0, 3.0])), _is_below(3.0, np.array([2.0, 3.0]))
    (True, False)
    """
    if float(bounds[0]) <= value < float(bounds[1]):
        raise BoundsTooWide
    return value < float(bounds[0])


@dataclass(frozen=True)
class ReadingGroup:
    """Readings that slips may have changed, together.

    Parameters
    ----------
    parts : tuple of (str, int)
        Observable, and which of its readings: zero for all of them, then single elements.
    """

    parts: tuple[tuple[str, int], ...]

    @property
    def key(self) -> str:
        """A name for it."""
        return "+".join(f"{name}/{place}" for name, place in self.parts)

    @property
    def names(self) -> set[str]:
        """The observables."""
        return {name for name, _ in self.parts}

    def chance(self, suspected: Mapping[str, float] = MappingProxyType({})) -> float:
        """Return the chance of any slip in each of the observables, about.

        Parameters
        ----------
        suspected : mapping of str to float
            By observable, the chance of a slip that the page itself gives rise to suspect.
        """
        chance = 1.0
        for name, place in self.parts:
            own = _SLIP_CHANCE[name] if place == 0 else _ELEMENT_SLIP_CHANCE
            chance *= max(own, suspected.get(name, 0.0))
        return chance

    def weight(self, evidence: CandidateEvidence, base: Array) -> Array:
        """Return how likely each candidate is if slips explain these readings, at best.

        Parameters
        ----------
        evidence : CandidateEvidence
        base : array, shape (n,)
            Chance before the readings.

        Returns
        -------
        array, shape (n,)
        """
        return self.at_best(self.known(base, evidence.likelihoods), evidence)

    def known(self, base: Array, likelihoods: Mapping[str, Array]) -> Array:
        """Return the weight by all other readings alone, shape (n,).

        Groups that explain the same observables share it.
        """
        for name, likelihood in likelihoods.items():
            if name not in self.names:
                base = base * likelihood
        return base

    def at_best(self, known: Array, evidence: CandidateEvidence) -> Array:
        """Return a weight by all other readings with these explained at best, shape (n,)."""
        for name, place in self.parts:
            if name in evidence.likelihoods:
                known = known * _at_best(evidence, name, place)
        return known

    def count(self, observables: Sequence[str], in_full: bool) -> int:
        """Return how many candidates are looked at; in full, how many at most."""
        if in_full and not _is_narrow(observables):
            return _MAX_LEADING_COUNT
        return _LEADING_COUNT_OF_PAIR if len(self.parts) > 1 else LEADING_COUNT


def groups_of(observables: Sequence[str], elements: int) -> list[ReadingGroup]:
    """Return the groups of readings that slips are looked for in.

    Parameters
    ----------
    observables : sequence of str
        What was read.
    elements : int
        How many percentages.
    """
    single = [
        ReadingGroup(((name, place),))
        for name in _SLIP_CHANCE
        if name in observables
        for place in range(1 + (elements if name == "composition" and elements > 1 else 0))
    ]
    whole = [one for one in single if one.parts[0][1] == 0]
    if len(whole) < 3:
        return single
    return single + [ReadingGroup(one.parts + two.parts) for one, two in combinations(whole, 2)]


def rows_to_search(
    posterior: Posterior, agreement: float, suspected: Mapping[str, float]
) -> NDArray[np.int64] | None:
    """Return the candidates that some slip could make likely; None where no slip could matter.

    Where one could, slips in all readings compete.

    Parameters
    ----------
    posterior : Posterior
    agreement : float
        Of the trials; where they do not agree, something is wrong with the weighings.
    suspected : mapping of str to float
        By observable, the chance of a slip that this very page gives rise to suspect.

    Raises
    ------
    BoundsTooWide
        Where more candidates would have to be at hand, or what the others add is not known.
    """
    observables, evidence = tuple(posterior.likelihoods), posterior.evidence
    weighed = []
    known: dict[frozenset[str], Array] = {}
    for group in groups_of(observables, len(evidence.elements)):
        names = frozenset(group.names)
        if names not in known:
            known[names] = group.known(posterior.base, posterior.likelihoods)
        weight = group.at_best(known[names], evidence)
        total = posterior.groups.get(group.key, np.full(2, weight.sum()))
        stands = posterior.marginal_likelihood * (agreement if "molar_mass" in group.names else 1.0)
        weighed.append((group, weight, total, stands / group.chance(suspected)))
    if not any(_is_below(MIN_SLIP_ODDS * decisive, total) for *_, total, decisive in weighed):
        return None
    kept = [
        _leading_rows(group, weight, total, decisive, posterior)
        for group, weight, total, decisive in weighed
    ]
    kept.append(posterior.first(LEADING_COUNT))
    return np.unique(np.concatenate(kept))


def _leading_rows(
    group: ReadingGroup, weight: Array, total: Array, decisive: float, posterior: Posterior
) -> NDArray[np.int64]:
    """Return the candidates that hold most of a group's weight.

    Few where other readings narrow it down; many where those left out could matter.

    Parameters
    ----------
    group : ReadingGroup
    weight : array, shape (n,)
        See `ReadingGroup.weight`.
    total : array, shape (2,)
        Of the weights of all candidates, should these be a part of them; at least, and at most.
    decisive : float
        A sum of weights that makes a slip as likely as the readings as they stand.
    posterior : Posterior
    """
    observables, order = tuple(posterior.likelihoods), posterior.evidence.matcher.order
    rows = first_rows(weight, order, group.count(observables, in_full=False))
    if _is_narrow(observables):
        return rows
    left_out = np.maximum(total - float(weight[rows].sum()), 0.0)
    if not _is_below(decisive, left_out):
        return rows
    if not posterior.in_full:
        raise BoundsTooWide
    return first_rows(weight, order, _MAX_LEADING_COUNT)


def _is_narrow(observables: Sequence[str]) -> bool:
    """Say whether two observables narrow the candidates down where a third is explained."""
    return len(_SLIP_CHANCE.keys() & set(observables)) > 2


def _at_best(evidence: CandidateEvidence, name: str, place: int) -> Array | float:
    """Return the density of an observable's readings if a slip explains all, or one of them."""
    if name in evidence.by_liquid:
        return evidence.by_liquid[name].peak()
    comparisons = evidence.by_formula[name]
    if place == 0:
        return prod(comparison.peak() for comparison in comparisons)
    one = comparisons[place - 1]
    return evidence.likelihoods[name] / one.likelihood() * one.peak()
