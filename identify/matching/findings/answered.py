"""What the findings of a match are about."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.matching.advise.next_measurement import Remaining
from identify.matching.posterior import Posterior
from identify.matching.slips.mechanism.hypothesis import Slip
from identify.notebook.findings import listed
from identify.observables.error.comparison import Comparison

MIN_SURE_PROBABILITY = 0.9  # from which one wrong reading is likelier than another compound
MIN_TOLD_PROBABILITY = 0.5  # from which the first is what a molar mass is compared with
_MAX_NAMES_IN_SENTENCE = 4


@dataclass(frozen=True)
class Answer:
    """What findings are about: the outcome of a match.

    Parameters
    ----------
    posterior : Posterior
    rows : array of int
        The table's rows that are shown, the most probable first; at least one.
    remaining : Remaining or None
        What they would show in further measurements.
    slips : tuple of Slip
        What probably went wrong.
    possible : tuple of Slip
        What may have gone wrong, where nothing is likely to have.
    """

    posterior: Posterior
    rows: NDArray[np.int64]
    remaining: Remaining | None = None
    slips: tuple[Slip, ...] = ()
    possible: tuple[Slip, ...] = ()

    @cached_property
    def by_chance(self) -> bool:
        """Whether chance explains the deviations of the most probable candidate."""
        return self.posterior.by_chance(int(self.rows[0]))

    @cached_property
    def slips_of_the_first(self) -> list[Slip]:
        """What probably went wrong, if it is the most probable candidate."""
        name = self.posterior.table.text("name")[self.rows[0]]
        return [slip for slip in self.slips if slip.points_to(name)]

    @property
    def first_fits(self) -> bool:
        """Whether the most probable candidate fits, as it is read or once a slip is set right."""
        return self.by_chance or bool(self.slips_of_the_first)

    def names(self, rows: NDArray[np.int64]) -> str:
        """Return a few names as they stand in a sentence."""
        named = [self.posterior.table.text("name")[row] for row in rows[:_MAX_NAMES_IN_SENTENCE]]
        if len(rows) > _MAX_NAMES_IN_SENTENCE:
            return f"{', '.join(named)} and {len(rows) - _MAX_NAMES_IN_SENTENCE} more"
        return listed(named)


def _alike(answer: Answer) -> NDArray[np.int64]:
    """Return the rows whose predictions these readings cannot tell from the first's.

    Two candidates count as alike where their predictions differ by less than half the tolerance,
    that is by less than one standard uncertainty, in everything that was measured. A boiling point
    that is itself uncertain widens this.
    """
    first, others = int(answer.rows[0]), answer.rows[1:]
    comparisons = answer.posterior.evidence.comparisons
    together = np.full(len(others), bool(comparisons))
    for comparison in comparisons:
        apart = np.abs(comparison.deviation[others] - comparison.deviation[first])
        together &= apart < 0.5 * np.maximum(
            at_rows(comparison, others), at_rows(comparison, np.array([first]))
        )
    return others[together]


def inseparable(answer: Answer) -> NDArray[np.int64]:
    """Return the rows that are alike with the first, and plausible as it is."""
    others = _alike(answer)
    plausible = answer.posterior.evidence.plausible
    return others[plausible[others] & plausible[answer.rows[0]]]


def at_rows(comparison: Comparison, rows: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the half-widths of some rows: deviations up to these agree."""
    widths = np.broadcast_to(comparison.half_width, comparison.deviation.shape)
    return np.asarray(widths[rows])
