"""Answers as plain text for a terminal: one file an answer; they share page, numbers and table."""

from identify.answers.text.last_line import ending_lines
from identify.answers.text.numbers import (
    percent_text,
    signed,
    with_chance,
    with_uncertainty,
)
from identify.answers.text.page import CAUTION, Page, elided, finding_lines
from identify.answers.text.ranking import (
    footnote,
    ranking_lines,
    verdict_sentence,
    without_classroom_sentence,
)
from identify.answers.text.table import TextColumn, TextTable

__all__ = [
    "CAUTION",
    "Page",
    "TextColumn",
    "TextTable",
    "elided",
    "ending_lines",
    "finding_lines",
    "footnote",
    "percent_text",
    "ranking_lines",
    "signed",
    "verdict_sentence",
    "with_chance",
    "with_uncertainty",
    "without_classroom_sentence",
]
