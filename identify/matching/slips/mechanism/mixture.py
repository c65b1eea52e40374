"""Probabilities over candidates and slips together.

Within each observable the readings follow a mixture: nearly always they are as written, and now and
then one slip of many has changed them. Observables are independent given the candidate, so that a
slip in one and another in the next are weighed together at no further cost.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from identify.matching.posterior import Posterior
from identify.matching.slips.mechanism.case import Case
from identify.matching.slips.mechanism.hypothesis import Hypothesis, Slip
from identify.matching.slips.mechanism.rewriting import SlipList, hypotheses
from identify.matching.totals import first_rows
from identify.physics.arrays import Array

# Most of the gross errors that the match allows for are slips that are known by name.
_KNOWN_SHARE_OF_GROSS_ERRORS = 0.85
_MIN_SOUND_CHANCE = 0.05
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

    ``as_written`` (s,) and each hypothesis' density are those of the leading candidates.
    """

    as_written: Array
    hypotheses: tuple[Hypothesis, ...]

    @cached_property
    def _added(self) -> tuple[Hypothesis, ...]:
        """Those that the reading's own likelihood does not hold."""
        return tuple(one for one in self.hypotheses if not one.is_part)

    @cached_property
    def sound(self) -> float:
        """Chance that nothing went wrong: what the slips leave; a page may be suspect twice."""
        return max(1.0 - sum(one.chance for one in self._added), _MIN_SOUND_CHANCE)

    @cached_property
    def density(self) -> Array:
        """Density of the readings, all slips included, shape (s,)."""
        total = self.sound * self.as_written
        if self._added:
            weights = np.array([one.chance * one.odds for one in self._added])
            total = total + weights @ np.stack([one.density for one in self._added])
        return np.asarray(total)

    @cached_property
    def nothing_wrong(self) -> Array:
        """The part of that in which nothing went wrong, shape (s,)."""
        parts = [one.density for one in self.hypotheses if one.is_part]
        return np.asarray(self.sound * (self.as_written - sum(parts)))

    def weight(self, hypothesis: Hypothesis) -> float:
        """Return what a hypothesis' density is multiplied by."""
        return self.sound if hypothesis.is_part else hypothesis.chance * hypothesis.odds


def _known_gross_errors(case: Case, name: str) -> Array:
    """Return the part of a likelihood that stood for gross errors which are known slips."""
    evidence = case.evidence
    comparison = evidence.molar_mass if name == "molar_mass" else evidence.by_liquid.get(name)
    if comparison is None:
        return np.zeros(len(case.rows))
    least = float(np.min(comparison.gross))
    return _KNOWN_SHARE_OF_GROSS_ERRORS * least * case.of_leading(comparison.gross_density)


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
        kinds: dict[tuple[str, str], list[tuple[Hypothesis, Array]]] = {}
        for hypothesis in mixture.hypotheses:
            weight = others * (mixture.weight(hypothesis) / marginal)
            joint = hypothesis.density * weight
            kinds.setdefault((hypothesis.code, hypothesis.reading), []).append((hypothesis, joint))
            if hypothesis.besides is not None and joint.sum() > _LEAST_OF_TWO:
                for too in hypothesis.besides():
                    found = kinds.setdefault((too.code, too.reading), [])
                    found.append((too, too.density * weight))
        for possibilities in kinds.values():
            best, joint = max(possibilities, key=lambda one: float(one[1].sum()))
            of_kind = np.sum([joint for _, joint in possibilities], axis=0)
            if of_kind.sum() > MIN_NAMED_PROBABILITY:  # else of this very slip alone
                joint = of_kind
            if joint.sum() > _MIN_POSSIBLE_PROBABILITY:
                yield self._slip(best, others * best.density, joint)

    def _slip(self, best: Hypothesis, weight: Array, joint: Array) -> Slip:
        case = self.case
        order, names = case.matcher.order[case.rows], case.table.text("name")
        told = best.tell(int(first_rows(weight, order, 1)[0]))
        share = joint / joint.sum()
        leaders = first_rows(share, order, _MAX_CANDIDATES_TOLD)
        as_read = case.posterior
        return Slip(
            code=best.code,
            message=told.message,
            probability=min(float(joint.sum()), 1.0),
            repaired=told.repaired,
            candidates=tuple((names[case.rows[one]], float(share[one])) for one in leaders),
            without=tuple(
                (names[row], float(as_read.probability[row]))
                for row in as_read.first(_MAX_CANDIDATES_TOLD)
            ),
        )
