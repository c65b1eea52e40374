"""Bottle cards and their key as pages for a browser: self-contained, for A4 and Letter."""

from __future__ import annotations

from collections.abc import Sequence

from identify.answers.cards import (
    CARDS_TITLE,
    KEY_COLUMNS,
    KEY_FIRST_LINE,
    KEY_TITLE,
    LAYOUT,
    CardFace,
    Deck,
    PrintedCard,
    Sheet,
    key_cells,
    key_notes,
    spelled,
)
from identify.answers.html.page import render

# Characters up to which a label is set in a size; a longer one in the next.
_SIZES = ((12, "large"), (26, "medium"), (60, "small"))
_SMALLEST = "least"


def cards_html(cards: Sequence[PrintedCard], pressure: str, sheet: Sheet) -> str:
    """Return the cards as one page, eight to a sheet of paper.

    Parameters
    ----------
    cards : sequence of PrintedCard
    pressure : str
        At which the boiling points are given.
    sheet : Sheet

    Returns
    -------
    str
        It has no comments, no scripts, and nothing from elsewhere.
    """
    faces = [CardFace.of(card, pressure, spelled) for card in cards]
    return render(
        "cards.html.j2",
        title=CARDS_TITLE,
        layout=LAYOUT,
        paper=sheet.paper.css,
        sheets=list(sheet.parts([(face, _size(face.label)) for face in faces])),
    )


def key_html(deck: Deck, sheet: Sheet) -> str:
    """Return the instructor's key as one page."""
    return render(
        "key.html.j2",
        title=KEY_TITLE,
        first_line=KEY_FIRST_LINE,
        notes=key_notes(deck),
        columns=KEY_COLUMNS,
        paper=sheet.paper.css,
        rows=key_cells(deck, spelled),
    )


def _size(label: str) -> str:
    return next((size for longest, size in _SIZES if len(label) <= longest), _SMALLEST)
