"""Which readings slips may have changed together, and how likely each candidate is if they did."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from identify.matching.evidence import CandidateEvidence
from identify.matching.totals import first_rows
from identify.observables.comparison import Array, Comparison

# The chance of any slip at all in one observable, about: decides whether a search is worth while.
# Of a whole card less: what exchanges or mixes its numbers seldom makes another compound's of them.
_ANY_SLIP = {"molar_mass": 0.03, "boiling_point": 0.02, "composition": 0.003}
_ONE_ELEMENT = 0.003
# Where even slips that explain everything could not be this likely beside the readings as they
# stand, none is looked for.
WORTH_WHILE = 0.8
LEADING = 64  # candidates for each observable that may be wrong
_LEADING_OF_TWO = 256  # where at most one other narrows them down
_PAIRS = 32  # for each two observables that may be wrong together
# Where those left out could be as likely as the readings as they stand: the built-in table whole.
_MANY = 16_384


class Undecided(Exception):
    """Bounds of a sum over all candidates that do not say whether a slip is worth a search."""


def is_below(value: float, bounds: Array) -> bool:
    """Say whether a value is below what lies between two bounds.

    Raises
    ------
    Undecided
        Where it is between them.

    Examples
    --------
    >>> is_below(1.0, np.array([2.0, 3.0])), is_below(3.0, np.array([2.0, 3.0]))
    (True, False)
    """
    if float(bounds[0]) <= value < float(bounds[1]):
        raise Undecided
    return value < float(bounds[0])


@dataclass(frozen=True)
class Group:
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


def groups_of(observables: Sequence[str], elements: int) -> list[Group]:
    """Return the groups of readings that slips are looked for in.

    Parameters
    ----------
    observables : sequence of str
        What was read.
    elements : int
        How many percentages.
    """
    single = [
        Group(((name, place),))
        for name in _ANY_SLIP
        if name in observables
        for place in range(1 + (elements if name == "composition" and elements > 1 else 0))
    ]
    whole = [one for one in single if one.parts[0][1] == 0]
    if len(whole) < 3:
        return single
    return single + [Group(one.parts + two.parts) for one, two in combinations(whole, 2)]


def group_weight(
    group: Group,
    evidence: CandidateEvidence,
    base: Array,
    likelihoods: Mapping[str, Array] | None = None,
) -> Array:
    """Return how likely each candidate is if slips explain a group of readings, at best.

    Parameters
    ----------
    group : Group
    evidence : CandidateEvidence
    base : array, shape (n,)
        Chance before the readings.
    likelihoods : mapping of str to array, shape (n,), optional
        In place of those of the evidence.

    Returns
    -------
    array, shape (n,)
    """
    weight = base.copy()
    explained = dict(group.parts)
    for name, likelihood in (likelihoods or evidence.likelihoods).items():
        weight *= likelihood if name not in explained else _at_best(evidence, name, explained[name])
    return weight


def _at_best(evidence: CandidateEvidence, name: str, place: int) -> Array:
    """Return the density of an observable's readings if a slip explains all, or one of them."""
    if name == "composition":
        elements = evidence.by_formula[name]
        if place == 0:
            return _peak(evidence, elements)
        one = elements[place - 1]
        return evidence.likelihoods[name] / one.likelihood() * _peak(evidence, [one])
    comparison = evidence.molar_mass if name == "molar_mass" else evidence.boiling_point
    assert comparison is not None
    return _peak(evidence, [comparison])


def _peak(evidence: CandidateEvidence, comparisons: Sequence[Comparison]) -> Array:
    """Return the highest density that readings could have, shape (n,)."""
    peak = np.ones(len(evidence.base))
    for comparison in comparisons:
        peak /= np.sqrt(2.0 * np.pi) * comparison.sigma
    return peak


def chance_of(group: Group, suspected: float) -> float:
    """Return the chance of any slip in each of a group's observables, about."""
    chance = 1.0
    for name, place in group.parts:
        own = _ANY_SLIP[name] if place == 0 else _ONE_ELEMENT
        chance *= max(own, suspected) if name == "molar_mass" else own
    return chance


def leading_rows(
    weight: Array,
    order: NDArray[np.int64],
    group: Group,
    observables: Sequence[str],
    total: Array,
    decisive: float,
    in_full: bool,
) -> NDArray[np.int64]:
    """Return the candidates that hold most of a group's weight.

    Few where other readings narrow it down; many where those left out could matter.

    Parameters
    ----------
    weight : array, shape (n,)
        See `group_weight`.
    order : array of int, shape (n,)
        Decides between equal weights.
    group : Group
    observables : sequence of str
        What was read.
    total : array, shape (2,)
        Of the weights of all candidates, should these be a part of them; at least, and at most.
    decisive : float
        A sum of weights that makes a slip as likely as the readings as they stand.
    in_full : bool
        Whether the candidates at hand are all, or as many of each group as `rows_kept` has in full.

    Raises
    ------
    Undecided
        Where more would have to be at hand, or the bounds of the total leave open how many.
    """
    rows = first_rows(weight, order, rows_kept(group, observables, in_full=False))
    if _is_narrow(observables):
        return rows
    left_out = np.maximum(total - float(weight[rows].sum()), 0.0)
    if not is_below(decisive, left_out):
        return rows
    if not in_full:
        raise Undecided
    return first_rows(weight, order, _MANY)


def rows_kept(group: Group, observables: Sequence[str], in_full: bool) -> int:
    """Return how many candidates of a group are looked at; in full, how many at most."""
    if in_full and not _is_narrow(observables):
        return _MANY
    return _PAIRS if len(group.parts) > 1 else leading_count(observables)


def leading_count(observables: Sequence[str]) -> int:
    """Return how many leading candidates are looked at for each observable, as a rule."""
    return LEADING if _is_narrow(observables) else _LEADING_OF_TWO


def _is_narrow(observables: Sequence[str]) -> bool:
    """Say whether two observables narrow the candidates down where a third is explained."""
    return len(_ANY_SLIP.keys() & set(observables)) > 2
