"""Readings against candidates: how probable each compound is, and what that rests on.

One measurement walks one path: `Bench.of` turns it into SI units; `Matcher.evidence` compares it
with all candidates at once, an array an observable (`evidence`); `Posterior.of` divides by the sum
over all candidates (`totals`, `posterior`); `slips.search` weighs what may have gone wrong beside
the readings as they stand; `ranked` makes the answer of that, with the `findings` that only a
comparison can have. `explain` takes a posterior apart, `advise` says what to measure next.
"""

from identify.matching.answer import Ranking
from identify.matching.ranking import match, match_many
from identify.observables.tolerances import Tolerances

__all__ = ["Ranking", "Tolerances", "match", "match_many"]
