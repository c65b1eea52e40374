"""Probabilities over candidates and slips together.

Within each observable the readings follow a mixture: nearly always they are as written, and now and
then one slip of many has changed them. Observables are independent given the candidate, so that a
slip in one and another in the next are weighed together at no further cost.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from identify.matching.posterior import Posterior
from identify.matching.slips.catalog.bottles import boiling_point_of_another, composition_of_another
from identify.matching.slips.catalog.card import (
    boiling_point_slips,
    composition_slips,
    left_out,
    molar_mass_slips,
)
from identify.matching.slips.catalog.record import weighing_slips
from identify.matching.slips.catalog.technique import suspicion, technique_slips
from identify.matching.slips.mechanism.groups import (
    LEADING,
    WORTH_WHILE,
    chance_of,
    group_weight,
    groups_of,
    is_below,
    leading_count,
    leading_rows,
)
from identify.matching.slips.mechanism.hypothesis import Case, Hypothesis, Slip
from identify.matching.slips.mechanism.rewriting import as_read, scatter
from identify.matching.totals import first_rows
from identify.notebook.measurement import Measurement

Array = NDArray[np.float64]

# What may have gone wrong with the readings of each observable. A new slip goes into one of these.
SLIPS: Mapping[str, tuple[Callable[[Case], Iterator[Hypothesis]], ...]] = MappingProxyType(
    {
        "molar_mass": (weighing_slips, technique_slips, molar_mass_slips),
        "boiling_point": (boiling_point_slips, boiling_point_of_another),
        "composition": (composition_slips, composition_of_another),
    }
)

# Most of the gross errors that the match allows for are slips that are known here by name.
_KNOWN = 0.85
_LEAST_SOUND = 0.05
_NAMED = 0.5  # probability from which a slip is named
_POSSIBLE = 0.15  # and from which it is worth a look, where nothing else explains the readings
_TOLD_CANDIDATES = 3


@dataclass(frozen=True)
class Search:
    """What slips make of a posterior.

    Parameters
    ----------
    posterior : Posterior
        Over the candidates, all slips taken into account.
    slips : tuple of Slip
        Those that the readings speak for, the likeliest first.
    possible : tuple of Slip
        Where there are none: those that are possible, though likelier not to have happened.
    """

    posterior: Posterior
    slips: tuple[Slip, ...] = ()
    possible: tuple[Slip, ...] = ()


def search(run: Measurement, posterior: Posterior) -> Search:
    """Weigh what may have gone wrong beside what the readings say as they stand.

    Parameters
    ----------
    run : Measurement
    posterior : Posterior
        Of its readings as they stand.

    Returns
    -------
    Search
        With the same posterior, and no slip, where none could explain the readings better.
    """
    if not posterior.likelihoods:
        return Search(posterior)
    read = posterior.evidence.bench.weighing
    suspected = 0.0 if read is None else suspicion(run, read)
    rows = _leading(posterior, _agreement(run, posterior), suspected)
    if rows is None:
        # Nothing went wrong; still the card may leave an element out.
        rows = posterior.first(LEADING)
        missing = left_out(Case(run, posterior, rows), posterior.probability[rows])
        return Search(posterior, () if missing is None else (missing,))
    case = Case(run, posterior, rows)
    mixtures = {name: _Mixture.of(case, name) for name in posterior.likelihoods if name in SLIPS}
    return _weighed(case, mixtures)


def _agreement(run: Measurement, posterior: Posterior) -> float:
    """Return how well the trials agree, one for perfectly, with the leader's corrections."""
    weighing = posterior.evidence.bench.weighing
    if weighing is None or weighing.trials < 2:
        return 1.0
    return float(scatter(as_read(Case(run, posterior, posterior.first(1)), weighing))[0])


def _leading(posterior: Posterior, agreement: float, suspected: float) -> NDArray[np.int64] | None:
    """Return the candidates that some slip could make likely; None where no slip could matter.

    Where one could, slips in all readings compete.

    Parameters
    ----------
    posterior : Posterior
    agreement : float
        Of the trials; where they do not agree, something is wrong with the weighings.
    suspected : float
        Chance of a slip in the weighings that this very page gives rise to suspect.
    """
    evidence, order = posterior.evidence, posterior.evidence.matcher.order
    observables = tuple(posterior.likelihoods)
    weighed = []
    for group in groups_of(observables, len(evidence.elements)):
        weight = group_weight(group, evidence, posterior.base, posterior.likelihoods)
        total = posterior.groups.get(group.key, np.full(2, weight.sum()))
        stands = posterior.marginal_likelihood * (agreement if "molar_mass" in group.names else 1.0)
        weighed.append((group, weight, total, stands / chance_of(group, suspected)))
    if not any(is_below(WORTH_WHILE * decisive, total) for *_, total, decisive in weighed):
        return None
    kept = [
        leading_rows(weight, order, group, observables, total, decisive, posterior.in_full)
        for group, weight, total, decisive in weighed
    ]
    kept.append(posterior.first(leading_count(observables)))
    return np.unique(np.concatenate(kept))


@dataclass(frozen=True)
class _Mixture:
    """One observable's readings: as they stand, or after one slip of many.

    ``as_written`` (s,) and each hypothesis' density are those of the leading candidates.
    """

    name: str
    as_written: Array
    hypotheses: tuple[Hypothesis, ...]
    sound: float

    @classmethod
    def of(cls, case: Case, name: str) -> _Mixture:
        hypotheses = tuple(one for kind in SLIPS[name] for one in kind(case))
        as_written = case.posterior.likelihoods[name][case.rows] - _explained(case, name)
        # What chance leaves over for nothing having gone wrong; a page may be suspect twice.
        sound = max(1.0 - sum(one.chance for one in hypotheses), _LEAST_SOUND)
        return cls(name, as_written, hypotheses, sound)

    def density(self) -> Array:
        """Return the density of the readings, all slips included, shape (s,)."""
        total = self.sound * self.as_written
        if self.hypotheses:
            weights = np.array([one.chance * one.odds for one in self.hypotheses])
            total = total + weights @ np.stack([one.density for one in self.hypotheses])
        return np.asarray(total)


def _explained(case: Case, name: str) -> Array:
    """Return the part of a likelihood that stood for gross errors which are known slips here."""
    evidence = case.evidence
    comparison = {"molar_mass": evidence.molar_mass, "boiling_point": evidence.boiling_point}.get(
        name
    )
    if comparison is None:
        return np.zeros(len(case.rows))
    least = float(np.min(comparison.gross))
    return _KNOWN * least * case.of_leading(comparison.gross_density)


def _weighed(case: Case, mixtures: Mapping[str, _Mixture]) -> Search:
    posterior, rows = case.posterior, case.rows
    unchanged = float(np.prod([mixture.sound for mixture in mixtures.values()]))
    densities = {name: mixture.density() for name, mixture in mixtures.items()}
    weight = posterior.probability * (posterior.marginal_likelihood * unchanged)
    rest = posterior.base[rows]
    for name, likelihood in posterior.likelihoods.items():
        if name not in mixtures:
            rest = rest * likelihood[rows]
    weight[rows] = rest * np.prod(list(densities.values()), axis=0)
    none, elsewhere = (
        share * posterior.marginal_likelihood * unchanged
        for share in (posterior.none_of_these, posterior.elsewhere)
    )
    marginal = none + elsewhere + float(weight.sum())
    weighed = replace(
        posterior,
        probability=weight / marginal,
        none_of_these=none / marginal,
        elsewhere=elsewhere / marginal,
        marginal_likelihood=marginal,
    )
    likely = _likely(case, mixtures, densities, rest, marginal)
    slips = tuple(slip for slip in likely if slip.probability > _NAMED)
    missing = left_out(case, weighed.probability[rows])
    if missing is not None:
        slips = (*slips, missing)
    return Search(weighed, slips, () if slips else likely)


def _likely(
    case: Case,
    mixtures: Mapping[str, _Mixture],
    densities: Mapping[str, Array],
    rest: Array,
    marginal: float,
) -> tuple[Slip, ...]:
    """Return the slips that may well have happened, the likeliest first."""
    likely: list[Slip] = []
    for name, mixture in mixtures.items():
        others = rest.copy()
        for other, density in densities.items():
            if other != name:
                others = others * density
        as_it_stands = float((others * mixture.as_written).sum() * mixture.sound) / marginal
        if as_it_stands > 1.0 - _POSSIBLE:
            continue
        # Slips compete; of one kind in one reading, the best possibility speaks for all.
        kinds: dict[tuple[str, str], list[tuple[float, Hypothesis, Array]]] = {}
        for one in mixture.hypotheses:
            joint = others * one.density * (one.chance * one.odds / marginal)
            kinds.setdefault((one.code, one.reading), []).append((float(joint.sum()), one, joint))
        for (code, _), possibilities in kinds.items():
            share, best, of_best = max(possibilities, key=lambda one: one[0])
            probability = sum(share for share, *_ in possibilities)
            joint = np.sum([joint for *_, joint in possibilities], axis=0)
            if probability <= _NAMED:  # not of that kind alone: this very slip is possible
                probability, joint = share, of_best
            if probability <= _POSSIBLE:
                continue
            leader = int(first_rows(others * best.density, case.matcher.order[case.rows], 1)[0])
            told = best.tell(leader)
            likely.append(
                Slip(
                    code=code,
                    message=told.message,
                    probability=min(probability, 1.0),
                    repaired=told.repaired,
                    candidates=_leaders(case, joint / joint.sum()),
                    without=_as_read(case),
                )
            )
    return tuple(sorted(likely, key=lambda slip: -slip.probability))


def _leaders(case: Case, share: Array) -> tuple[tuple[str, float], ...]:
    order = first_rows(share, case.matcher.order[case.rows], _TOLD_CANDIDATES)
    names = case.table.text("name")
    return tuple((names[int(case.rows[place])], float(share[place])) for place in order)


def _as_read(case: Case) -> tuple[tuple[str, float], ...]:
    probability, names = case.posterior.probability, case.table.text("name")
    rows = case.posterior.first(_TOLD_CANDIDATES)
    return tuple((names[int(row)], float(probability[row])) for row in rows)
