"""Readings against candidates: what the bench would have read, how likely that is, the ranking."""

from identify.matching.answer import Ranking
from identify.matching.ranking import match, match_many
from identify.observables.tolerances import Tolerances

__all__ = ["Ranking", "Tolerances", "match", "match_many"]
