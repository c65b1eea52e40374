"""Bottle cards and their key as pages for a browser: self-contained, for A4 and Letter."""

from __future__ import annotations

from collections.abc import Sequence

from identify.answers.cards import (
    CARD_CAUTION,
    CARDS_TITLE,
    HEADING,
    KEY_FIRST_LINE,
    KEY_HEADINGS,
    KEY_NOTE,
    KEY_TITLE,
    KEY_WIDTHS,
    LONGEST_LABEL,
    Card,
    Deck,
    Sheet,
    spelled,
)
from identify.answers.html.page import render
from identify.answers.text import elided

# Characters up to which a label is set in a size; a longer one in the next.
_SIZES = ((12, "large"), (26, "medium"), (60, "small"))
_SMALLEST = "least"


def cards_html(cards: Sequence[Card], pressure: str, sheet: Sheet) -> str:
    """Return the cards as one page, eight to a sheet of paper.

    Parameters
    ----------
    cards : sequence of Card
    pressure : str
        At which the boiling points are given.
    sheet : Sheet

    Returns
    -------
    str
        It has no comments, no scripts, and nothing from elsewhere.
    """
    shown_cards = [
        {
            "label": label,
            "size": _size(label),
            "boiling_point": card.boiling_point,
            "composition": card.composition,
            "rounding": card.rounding,
        }
        for card in cards
        for label in [elided(spelled(card.label), LONGEST_LABEL)]
    ]
    return render(
        "cards.html.j2",
        title=CARDS_TITLE,
        heading=HEADING,
        card_caution=CARD_CAUTION,
        pressure=pressure,
        paper=sheet.paper.css,
        sheets=list(sheet.parts(shown_cards)),
    )


def key_html(deck: Deck, sheet: Sheet) -> str:
    """Return the instructor's key as one page."""
    return render(
        "key.html.j2",
        title=KEY_TITLE,
        first_line=KEY_FIRST_LINE,
        note=KEY_NOTE,
        columns=[
            (heading, 100.0 * width / sum(KEY_WIDTHS))
            for heading, width in zip(KEY_HEADINGS, KEY_WIDTHS, strict=True)
        ],
        pressure=deck.pressure,
        paper=sheet.paper.css,
        rows=[[spelled(cell) for cell in _shortened(entry.cells)] for entry in deck.entries],
    )


def _shortened(cells: Sequence[str]) -> list[str]:
    label, *rest = cells
    return [elided(label, LONGEST_LABEL), *rest]


def _size(label: str) -> str:
    return next((size for longest, size in _SIZES if len(label) <= longest), _SMALLEST)
