"""Probabilities over candidates and slips together.

Within each observable the readings follow a mixture: nearly always they are as written, and now and
then one slip of many has changed them. Observables are independent given the candidate, so that a
slip in one and another in the next are weighed together at no further cost.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import chain
from typing import NamedTuple

import numpy as np

from identify.matching.posterior import Posterior
from identify.matching.slips.mechanism.case import Case
from identify.matching.slips.mechanism.hypothesis import Hypotheses, Slip
from identify.matching.slips.mechanism.rewriting import SlipList, hypotheses
from identify.matching.totals import first_rows
from identify.physics.arrays import Array

# Most of the gross errors that the match allows for are slips that are known by name.
_KNOWN_SHARE_OF_GROSS_ERRORS = 0.85
_RARER = 0.999  # times a chance: smaller ones are rarer, and not the same but for rounding
MIN_NAMED_PROBABILITY = 0.5
"""From which a slip is named."""
# And from which it is worth a look, where nothing else explains the readings.
_MIN_POSSIBLE_PROBABILITY = 0.15
_LEAST_OF_TWO = 0.01  # probability of a slip from which another one beside it is asked for
_MAX_CANDIDATES_TOLD = 3


def is_plain(case: Case) -> bool:
    """Say whether no part of a reading's own likelihood may well stand for a slip.

    Then there is nothing to weigh. It counts as a part what a candidate's vapor could not have
    lost, and so errs on the side of weighing.
    """
    evidence, probability = case.evidence, case.posterior.probability[case.rows]
    compared = {"molar_mass": evidence.molar_mass, "boiling_point": evidence.boiling_point}
    for name, comparison in compared.items():
        if comparison is None:
            continue
        whole = case.posterior.likelihoods[name][case.rows]
        parts = np.sum(list(comparison.parts(case.rows).values()), axis=0)
        sound = np.divide(whole - parts, whole, out=np.zeros(len(whole)), where=whole > 0.0)
        if float(probability @ sound) <= 1.0 - _MIN_POSSIBLE_PROBABILITY:
            return False
    return True


def weigh(case: Case, slips: SlipList, searched: bool = True) -> tuple[Posterior, tuple[Slip, ...]]:
    """Weigh all slips beside the readings as they stand.

    Parameters
    ----------
    case : Case
    slips : SlipList
    searched : bool, default=True
        Whether these are all the slips that are known; else they are parts of the readings' own
        likelihoods, and what is told of them moves no probability.

    Returns
    -------
    Posterior
        Over the candidates, all slips taken into account.
    tuple of Slip
        Those that may well have happened, the likeliest first.
    """
    mixtures = _Mixtures(case, slips, searched)
    return mixtures.posterior, mixtures.likely_slips()


@dataclass(frozen=True)
class _Mixture:
    """One observable's readings: as they stand, or after one slip of many.

    Slips happen independently. What two of them make of one observable is not followed: where two
    happened, the rarer is what the readings show. ``as_written`` (s,) and the hypotheses' densities
    are those of the leading candidates.
    """

    as_written: Array
    hypotheses: tuple[Hypotheses, ...]

    @cached_property
    def _added(self) -> tuple[Hypotheses, ...]:
        """Those that the reading's own likelihood does not hold."""
        return tuple(one for one in self.hypotheses if not one.is_part)

    @cached_property
    def sound(self) -> float:
        """Chance that nothing went wrong."""
        return float(self._without_rarer[-1])

    @cached_property
    def _rarest_first(self) -> Array:
        """Chances of all slips, sorted."""
        return np.sort(np.concatenate([np.zeros(0), *(one.chances for one in self._added)]))

    @cached_property
    def _without_rarer(self) -> Array:
        """Chance that none of the first so many of them happened."""
        return np.cumprod(np.concatenate([np.ones(1), 1.0 - self._rarest_first]))

    @cached_property
    def density(self) -> Array:
        """Density of the readings, all slips included, shape (s,)."""
        total = self.sound * self.as_written
        for one in self._added:
            total += self.weights(one) @ one.densities
        return np.asarray(total)

    @cached_property
    def nothing_wrong(self) -> Array:
        """The part of that in which nothing went wrong, shape (s,)."""
        parts = [one.densities[0] for one in self.hypotheses if one.is_part]
        return np.asarray(self.sound * (self.as_written - sum(parts)))

    def weights(self, hypotheses: Hypotheses) -> Array:
        """Return what the densities of hypotheses are multiplied by, shape (m,)."""
        if hypotheses.is_part:
            return np.array([self.sound])
        rarer = np.searchsorted(self._rarest_first, _RARER * hypotheses.chances)
        return self._without_rarer[rarer] * hypotheses.chances * hypotheses.odds


def _known_gross_errors(case: Case, name: str) -> Array:
    """Return the part of a likelihood that stood for gross errors which are known slips."""
    evidence = case.evidence
    comparison = evidence.molar_mass if name == "molar_mass" else evidence.by_liquid.get(name)
    if comparison is None:
        return np.zeros(len(case.rows))
    least = float(np.min(comparison.gross))
    return _KNOWN_SHARE_OF_GROSS_ERRORS * least * case.of_leading(comparison.gross_density)


class _Possibility(NamedTuple):
    """One of the hypotheses, and its probability over all leading candidates."""

    joint: float
    hypotheses: Hypotheses
    which: int
    weight: float

    @property
    def density(self) -> Array:
        return self.hypotheses.densities[self.which]

    @property
    def chance(self) -> float:
        """Before anything is compared; a part of a likelihood has none of its own."""
        return 0.0 if self.hypotheses.is_part else float(self.hypotheses.chances[self.which])

    def beside_rarer(self, every: Iterable[_Possibility]) -> Iterator[_Possibility]:
        """Yield that this happened beside rarer slips, of which alone the readings tell."""
        chance = self.chance
        if chance < _LEAST_OF_TWO:
            return
        for one in every:
            if 0.0 < one.chance < _RARER * chance:
                yield one._replace(joint=chance * one.joint, weight=chance * one.weight)


class _Mixtures:
    """All observables' mixtures, and the probabilities that they give together."""

    def __init__(self, case: Case, slips: SlipList, searched: bool) -> None:
        self.case = case
        weighed = {"molar_mass": "weighings"} if case.bench.weighing is not None else {}
        self.mixtures: dict[str, _Mixture] = {}
        for name, likelihood in case.posterior.likelihoods.items():
            known = slips.get(weighed.get(name, name))
            if known is not None:
                gross = _known_gross_errors(case, name) if searched else 0.0
                as_written = likelihood[case.rows] - gross
                self.mixtures[name] = _Mixture(as_written, hypotheses(case, known))
        as_read, rows = case.posterior, case.rows
        rest = as_read.base[rows]
        for name, likelihood in as_read.likelihoods.items():
            if name not in self.mixtures:
                rest = rest * likelihood[rows]
        self.rest = rest
        """Chance before the readings times the likelihoods of those without slips, shape (s,)."""
        unchanged = as_read.marginal_likelihood
        unchanged *= float(np.prod([mixture.sound for mixture in self.mixtures.values()]))
        weight = as_read.probability * unchanged
        densities = [mixture.density for mixture in self.mixtures.values()]
        weight[rows] = rest * np.prod(densities, axis=0)
        none, elsewhere = (
            share * unchanged for share in (as_read.none_of_these, as_read.elsewhere)
        )
        marginal = none + elsewhere + float(weight.sum())
        self.posterior = replace(
            as_read,
            probability=weight / marginal,
            none_of_these=none / marginal,
            elsewhere=elsewhere / marginal,
            marginal_likelihood=marginal,
        )

    def likely_slips(self) -> tuple[Slip, ...]:
        """Return the slips that may well have happened, the likeliest first."""
        likely = (slip for name in self.mixtures for slip in self._likely_in(name))
        return tuple(sorted(likely, key=lambda slip: -slip.probability))

    def _likely_in(self, name: str) -> Iterator[Slip]:
        mixture, marginal = self.mixtures[name], self.posterior.marginal_likelihood
        others = self.rest.copy()
        for other, one in self.mixtures.items():
            if other != name:
                others = others * one.density
        as_it_stands = float((others * mixture.nothing_wrong).sum()) / marginal
        if as_it_stands > 1.0 - _MIN_POSSIBLE_PROBABILITY:
            return
        # Slips compete; of one kind in one reading, the best possibility speaks for all.
        kinds: dict[tuple[str, str], list[_Possibility]] = {}
        scale = others / marginal
        for found in mixture.hypotheses:
            weights = mixture.weights(found)
            joints = (weights * (found.densities @ scale)).tolist()
            for which, (kind, joint) in enumerate(zip(found.kinds, joints, strict=True)):
                kinds.setdefault(kind, []).append(_Possibility(joint, found, which, weights[which]))
            if found.besides is not None and joints[0] > _LEAST_OF_TWO:
                for too in map(Hypotheses.of, found.besides()):
                    joint = float(weights[0] * (too.densities[0] @ scale))
                    beside = _Possibility(joint, too, 0, weights[0])
                    kinds.setdefault(too.kinds[0], []).append(beside)
        for possibilities in kinds.values():
            best = max(possibilities, key=lambda one: one.joint)
            told = [best]
            if sum(one.joint for one in possibilities) > MIN_NAMED_PROBABILITY:
                every = chain.from_iterable(kinds.values())
                told = [*possibilities, *best.beside_rarer(every)]
            if sum(one.joint for one in told) > _MIN_POSSIBLE_PROBABILITY:
                joint = np.sum([one.weight * one.density for one in told], axis=0) * scale
                yield self._slip(best, others * best.density, joint)

    def _slip(self, best: _Possibility, weight: Array, joint: Array) -> Slip:
        case = self.case
        order, names = case.matcher.order[case.rows], case.table.text("name")
        told = best.hypotheses.tell(best.which, int(first_rows(weight, order, 1)[0]))
        share = joint / joint.sum()
        leaders = first_rows(share, order, _MAX_CANDIDATES_TOLD)
        as_read = case.posterior
        return Slip(
            code=best.hypotheses.kinds[best.which][0],
            message=told.message,
            probability=min(float(joint.sum()), 1.0),
            repaired=told.repaired,
            candidates=tuple((names[case.rows[one]], float(share[one])) for one in leaders),
            without=tuple(
                (names[row], float(as_read.probability[row]))
                for row in as_read.first(_MAX_CANDIDATES_TOLD)
            ),
        )
