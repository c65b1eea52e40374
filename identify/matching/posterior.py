"""Probabilities of all candidates, from the evidence for each of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from identify.compounds.table import CandidateTable
from identify.matching.evidence import CandidateEvidence
from identify.matching.totals import Totals, by_pattern, first_rows
from identify.notebook.statistics import chi_squared_quantile
from identify.observables.error.comparison import Comparison
from identify.physics.arrays import Array

_MAX_LEADING_WITHOUT_CLASSROOM = 3


@dataclass(frozen=True)
class Posterior:
    """How probable each of n candidates is, given one unknown's readings.

    Parameters
    ----------
    evidence : CandidateEvidence
        What the readings say about each candidate.
    probability : array, shape (n,)
        Sums to one with ``none_of_these`` and ``elsewhere``.
    none_of_these : float
        Probability that the liquid is not in the table.
    unlisted_isomers : array, shape (n,)
        What of that is an isomer of each candidate's, as a share.
    base : array, shape (n,)
        Probability before the readings: prior, and whether it stays in a bottle as a liquid and
        boils off in the bath.
    likelihoods : dict of str to array, shape (n,)
        Those of the evidence; where the table does not know a constant, an average stands in.
    marginal_likelihood : float
        Density of all readings, ``none_of_these`` included: what divides the probabilities.
    elsewhere : float
        Probability of candidates that are in the table this is a part of, and not in this part.
    groups : mapping of str to array, shape (2,)
        There, the sums over all candidates that say whether a slip is worth a search, by name: at
        least, and at most.
    in_full : bool
        Whether all candidates are here that a search for slips could need.
    """

    evidence: CandidateEvidence
    probability: Array
    none_of_these: float
    unlisted_isomers: Array
    base: Array
    likelihoods: dict[str, Array]
    marginal_likelihood: float
    elsewhere: float = 0.0
    groups: Mapping[str, Array] = field(default_factory=dict)
    in_full: bool = True

    @classmethod
    def of(cls, evidence: CandidateEvidence, totals: Totals | None = None) -> Posterior:
        """Divide the evidence by the sums over all candidates.

        Parameters
        ----------
        evidence : CandidateEvidence
        totals : Totals, optional
            Of a larger table that the candidates are a part of; their own where not given.
        """
        sums = totals or evidence.totals
        densities, kernels = sums.standing_in(evidence.further)
        outside = evidence.matcher.outside
        scale = sums.scale(outside)
        marginal, none = sums.marginal_likelihood(densities, kernels, evidence.anything, outside)
        probability = evidence.weight * (scale / marginal)
        isomers = evidence.formula * (outside * sums.share_of_isomers / none if none else 0.0)
        likelihoods, filled = evidence.likelihoods, by_pattern(densities)
        if evidence.pattern is not None:
            probability *= filled[evidence.pattern]
            isomers *= by_pattern(kernels)[evidence.pattern]
            likelihoods = dict(likelihoods)
            for (name, one), density in zip(evidence.further.items(), densities, strict=True):
                likelihoods[name] = np.where(one.known, likelihoods[name], density)
        elsewhere = 0.0
        if totals is not None:
            elsewhere = max((marginal - none) / marginal - float(probability.sum()), 0.0)
        return cls(
            evidence=evidence,
            probability=probability,
            none_of_these=none / marginal,
            unlisted_isomers=isomers,
            base=evidence.base * scale,
            likelihoods=likelihoods,
            marginal_likelihood=marginal,
            elsewhere=elsewhere,
            groups={name: scale * (group @ filled) for name, group in sums.groups.items()},
            in_full=sums.in_full,
        )

    @property
    def table(self) -> CandidateTable:
        """The candidates."""
        return self.evidence.matcher.table

    def chi_squared(self, row: int) -> float:
        """Return the sum of squares of a candidate's deviations, in standard uncertainties."""
        return sum(one.in_standard_deviations(row) ** 2 for one in self._foretold(row))

    def _foretold(self, row: int) -> list[Comparison]:
        """List the readings that the table can foretell for a candidate."""
        return [one for one in self.evidence.comparisons if np.isfinite(one.deviation[row])]

    def by_chance(self, row: int) -> bool:
        """Say whether chance explains a candidate's deviations taken together, at 99 %.

        Of five sound readings one or the other leaves its tolerance in one run of five.
        """
        claim = self.evidence.unmentioned
        foretold = len(self._foretold(row))
        if not foretold or not (claim is None or bool(claim.agrees()[row])):
            return False
        return self.chi_squared(row) <= chi_squared_quantile(foretold)

    def leading(self, most: int, least: float) -> NDArray[np.int64]:
        """Return the rows worth showing, the most probable first.

        Parameters
        ----------
        most : int
            Rows returned at most.
        least : float
            Rows below this probability are shown only if they are plausible.
        """
        rows = np.flatnonzero((self.probability >= least) | self.evidence.plausible)
        if not len(rows):
            return self.first(1)
        order = self.evidence.matcher.order
        return rows[first_rows(self.probability[rows], order[rows], most)]

    def without_classroom(self, leader: int) -> tuple[tuple[str, float], ...]:
        """Return the first compounds by the prior in commerce, where another one leads by that.

        Probabilities are proportional to the prior: they are weighed anew, and nothing is compared
        a second time.

        Parameters
        ----------
        leader : int
            Row of the compound that leads.

        Returns
        -------
        tuple of (str, float)
            Name and probability, at most three. Empty where the same compound leads, where the
            prior is not that of a classroom, where nothing was read, and for a part of a table,
            whose other candidates are not here.
        """
        evidence, matcher = self.evidence, self.evidence.matcher
        if matcher.settings.prior != "classroom" or matcher.is_part or not evidence.comparisons:
            return ()
        ratio = matcher.commerce_over_classroom
        # Before the readings, what stays a liquid and boils off adds up to the same by both.
        weight = self.probability * ratio
        weight *= evidence.base.sum() / (evidence.base @ ratio)
        weight /= weight.sum() + self.none_of_these
        first = first_rows(weight, matcher.order, _MAX_LEADING_WITHOUT_CLASSROOM)
        if first[0] == leader:
            return ()
        return tuple((self.table.text("name")[row], float(weight[row])) for row in first)

    def first(self, count: int) -> NDArray[np.int64]:
        """Return the rows of the most probable candidates, the most probable first."""
        return first_rows(self.probability, self.evidence.matcher.order, count)
