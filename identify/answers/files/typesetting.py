"""What every printed page is set in: paper, ink, and a font that is embedded."""

from __future__ import annotations

import importlib.util
import unicodedata
from functools import lru_cache
from pathlib import Path
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from identify.answers.cards import LAYOUT, Paper, spelled

PAPERS = {Paper.a4: A4, Paper.letter: LETTER}
INK, FAINT, RULE = HexColor(LAYOUT.ink), HexColor(LAYOUT.faint), HexColor(LAYOUT.cut)
PLAIN, BOLD = "DejaVuSans", "DejaVuSans-Bold"
# No date, so that the same content is the same bytes; no other font than the one embedded.
SETTINGS: dict[str, Any] = {"invariant": 1, "lang": "en", "initialFontName": PLAIN}
CREATOR = "identify-unknown"
# Written from right to left: this library sets them in the wrong order.
_RIGHT_TO_LEFT = ("R", "AL", "AN")


def settable(text: str) -> str:
    """Return text with what this font cannot set spelled out.

    Examples
    --------
    >>> settable("Σ-7 水")
    'Σ-7 [U+6C34]'
    """
    glyphs = load_font(PLAIN).face.charToGlyph
    return "".join(
        c
        if ord(c) in glyphs and unicodedata.bidirectional(c) not in _RIGHT_TO_LEFT
        else f"[U+{ord(c):04X}]"
        for c in spelled(unicodedata.normalize("NFC", text))
    )


@lru_cache(maxsize=2)
def load_font(name: str) -> TTFont:
    """Return a font that comes with matplotlib, ready for use."""
    # Not through matplotlib itself: only its files are wanted, and it takes a while to load.
    found = importlib.util.find_spec("matplotlib")
    assert found is not None
    assert found.origin is not None
    path = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf" / f"{name}.ttf"
    loaded = TTFont(name, str(path))
    pdfmetrics.registerFont(loaded)
    return loaded
