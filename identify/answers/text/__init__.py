"""Answers as plain text for a terminal: one file an answer, `page` what they share."""

from identify.answers.text.page import (
    CAUTION,
    Page,
    caution_lines,
    elided,
    finding_lines,
    percent_text,
    signed,
    table_lines,
    with_uncertainty,
)
from identify.answers.text.ranking import (
    footnote_lines,
    ranking_lines,
    slip_lines,
    verdict_sentence,
)

__all__ = [
    "CAUTION",
    "Page",
    "caution_lines",
    "elided",
    "finding_lines",
    "footnote_lines",
    "percent_text",
    "ranking_lines",
    "signed",
    "slip_lines",
    "table_lines",
    "verdict_sentence",
    "with_uncertainty",
]
