"""Readings against candidates: what the bench would have read, how likely that is, the ranking."""

from identify.matching.likelihood import Tolerances
from identify.matching.ranking import Ranking, match, match_many

__all__ = ["Ranking", "Tolerances", "match", "match_many"]
