"""Bottle cards and their key as PDF: vector text, the font embedded, the same bytes each time."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from html import escape
from io import BytesIO
from typing import TYPE_CHECKING, Any

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import landscape
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas

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
)
from identify.answers.files.typesetting import (
    BOLD,
    CREATOR,
    FAINT,
    INK,
    PAPERS,
    PLAIN,
    RULE,
    SETTINGS,
    load_font,
    settable,
)
from identify.answers.text import elided

if TYPE_CHECKING:
    from reportlab.platypus import Paragraph

_WIDTH, _HEIGHT, _INSET = LAYOUT.width * mm, LAYOUT.height * mm, LAYOUT.inset * mm
_ROOM = _WIDTH - 2.0 * _INSET
_CUT_MARK = 4.0 * mm

_SIZES = (32.0, 28.0, 24.0, 20.0, 17.0, 14.0, 12.0, 10.0, 8.0, 7.0)  # points
# Sizes of a label in the order of preference, and whether a word may be broken: small whole words
# are read more easily than large broken ones, down to a size.
_ATTEMPTS = (
    *((size, False) for size in _SIZES if size >= 10.0),
    *((size, True) for size in _SIZES if size <= 17.0),
)
_LEADING = 1.2  # of the size


def cards_pdf(cards: Sequence[PrintedCard], pressure: str, sheet: Sheet) -> bytes:
    """Return the cards as a document, eight to a page.

    Parameters
    ----------
    cards : sequence of PrintedCard
    pressure : str
        At which the boiling points are given.
    sheet : Sheet
    """
    load_font(PLAIN), load_font(BOLD)
    width, height = PAPERS[sheet.paper]
    left, top = (width - LAYOUT.across * _WIDTH) / 2.0, (height + LAYOUT.down * _HEIGHT) / 2.0
    file = BytesIO()
    canvas = Canvas(file, pagesize=(width, height), pageCompression=1, **SETTINGS)
    canvas.setTitle(CARDS_TITLE)
    canvas.setAuthor("")
    canvas.setSubject("")
    canvas.setCreator(CREATOR)
    for part in sheet.parts(cards):
        _draw_cuts(canvas, left, top)
        for place, card in enumerate(part):
            down, across = divmod(place, LAYOUT.across)
            canvas.saveState()
            canvas.translate(left + across * _WIDTH, top - (down + 1) * _HEIGHT)
            _draw(canvas, CardFace.of(card, pressure, settable))
            canvas.restoreState()
        canvas.showPage()
    canvas.save()
    return file.getvalue()


def key_pdf(deck: Deck, sheet: Sheet) -> bytes:
    """Return the instructor's key as a document."""
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

    load_font(PLAIN), load_font(BOLD)
    size = landscape(PAPERS[sheet.paper])
    plain = ParagraphStyle("plain", fontName=PLAIN, fontSize=7.5, leading=9.5, textColor=INK)
    plain.bulletFontName = PLAIN
    bold = ParagraphStyle("bold", plain, fontName=BOLD)

    def paragraph(text: str, style: ParagraphStyle = plain) -> Paragraph:
        return Paragraph(escape(text), style)

    rows = [[paragraph(column.heading, bold) for column in KEY_COLUMNS]]
    for label, *rest in key_cells(deck, settable):
        rows.append([paragraph(elided(label, _LONGEST_CELL), bold), *map(paragraph, rest)])
    room = size[0] - 2.0 * _KEY_MARGIN
    widths = [room * column.share for column in KEY_COLUMNS]
    lines = [("LINEBELOW", (0, 0), (-1, -1), 0.3, RULE), ("LINEBELOW", (0, 0), (-1, 0), 1.0, INK)]
    every = ((0, 0), (-1, -1))
    style = TableStyle([*lines, ("VALIGN", *every, "TOP"), ("FONTNAME", *every, PLAIN)])
    file = BytesIO()
    document = SimpleDocTemplate(
        file,
        pagesize=size,
        leftMargin=_KEY_MARGIN,
        rightMargin=_KEY_MARGIN,
        topMargin=_KEY_MARGIN + 8.0 * mm,
        bottomMargin=_KEY_MARGIN,
        title=KEY_TITLE,
        author="",
        subject="",
        creator=CREATOR,
        **SETTINGS,
    )

    def head(canvas: Canvas, _: Any) -> None:
        canvas.setFillColor(INK)
        canvas.setFont(BOLD, 12.0)
        canvas.drawString(_KEY_MARGIN, size[1] - _KEY_MARGIN, KEY_FIRST_LINE)
        canvas.setFont(PLAIN, 8.0)
        canvas.drawRightString(
            size[0] - _KEY_MARGIN, size[1] - _KEY_MARGIN, f"page {canvas.getPageNumber()}"
        )

    story = [
        *(paragraph(settable(note)) for note in key_notes(deck)),
        Spacer(0.0, 3.0 * mm),
        Table(rows, widths, repeatRows=1, style=style),
    ]
    document.build(story, onFirstPage=head, onLaterPages=head)
    return file.getvalue()


_KEY_MARGIN = 14.0 * mm

_LONGEST_CELL = 300  # characters; a row of the key must fit on a page


def fitted(text: str, width: float, height: float) -> tuple[list[str], float]:
    """Return the lines and the size in which a label fits, the largest there is.

    Parameters
    ----------
    text : str
        Only what the font can set.
    width, height : float
        In points.

    Returns
    -------
    (list of str, float)
        Lines, and size in points. What does not fit even in the smallest lacks its middle.
    """
    load_font(BOLD)
    for size, chop in _ATTEMPTS:
        lines = _lines(text, width, size, chop)
        if max(map(_measured(size), lines)) <= width and len(lines) * size * _LEADING <= height:
            return lines, size
    for length in range(len(text), 0, -1):
        lines = _lines(elided(text, length), width, size, chop=True)
        if len(lines) * size * _LEADING <= height:
            break
    return lines, size


def _lines(text: str, width: float, size: float, chop: bool) -> list[str]:
    """Return text on lines broken at its spaces, and within words that are too long if need be."""
    words = text.split(" ")
    if chop:
        words = [part for word in words for part in _joined(word, "", width, size) or [""]]
    return _joined(words, " ", width, size)


def _joined(parts: Iterable[str], joint: str, width: float, size: float) -> list[str]:
    """Return parts on as few lines as hold them, a part wider than a line on one of its own."""
    measure = _measured(size)
    lines: list[str] = []
    for part in parts:
        longer = f"{lines[-1]}{joint}{part}" if lines else part
        if lines and measure(longer) <= width:
            lines[-1] = longer
        else:
            lines.append(part)
    return lines


def _measured(size: float) -> Callable[[str], float]:
    return lambda line: pdfmetrics.stringWidth(line, BOLD, size)


def _draw_cuts(canvas: Canvas, left: float, top: float) -> None:
    right, bottom = left + LAYOUT.across * _WIDTH, top - LAYOUT.down * _HEIGHT
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.4)
    columns = [left + across * _WIDTH for across in range(LAYOUT.across + 1)]
    rows = [top - down * _HEIGHT for down in range(LAYOUT.down + 1)]
    for x in columns:
        canvas.line(x, bottom - _CUT_MARK, x, bottom)
        canvas.line(x, top, x, top + _CUT_MARK)
    for y in rows:
        canvas.line(left - _CUT_MARK, y, left, y)
        canvas.line(right, y, right + _CUT_MARK, y)
    canvas.setDash(1.0, 2.5)
    for x in columns:
        canvas.line(x, bottom, x, top)
    for y in rows:
        canvas.line(left, y, right, y)
    canvas.setDash()


def _draw(canvas: Canvas, face: CardFace) -> None:
    """Draw a card, its lower left corner at the origin."""
    caution = _broken(face.caution, _ROOM, 6.3)
    bottom = 4.0 * mm + len(caution) * 7.8
    lines = -(-len(face.parts) // LAYOUT.parts_a_line)
    parts_top = bottom + 1.5 * mm + lines * 13.5
    rule = parts_top + 37.0
    top = _HEIGHT - 4.0 * mm
    text = _Writer(canvas)
    text(_INSET, top - 6.5, face.heading, PLAIN, 7.5, FAINT)
    _draw_label(canvas, face.label, top - 9.0, rule + 2.0)
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.5)
    for y in (rule, bottom):
        canvas.line(_INSET, y, _WIDTH - _INSET, y)
    text(_INSET, rule - 9.5, face.boiling_point_heading, PLAIN, 7.0, FAINT)
    at = text(_INSET, rule - 22.0, face.boiling_point, PLAIN, 11.0, INK)
    text(at + 4.0, rule - 22.0, face.at, PLAIN, 7.5, FAINT)
    text(_INSET, rule - 33.5, face.percent_heading, PLAIN, 7.0, FAINT)
    for place, (element, share) in enumerate(face.parts):
        down, across = divmod(place, LAYOUT.parts_a_line)
        x, y = _INSET + across * _ROOM / LAYOUT.parts_a_line, parts_top - 9.5 - down * 13.5
        after = text(x, y, element, BOLD, 10.0, INK)
        text(after + 3.0, y, share, PLAIN, 10.0, INK)
    for place, line in enumerate(caution):
        text(_INSET, bottom - 8.5 - place * 7.8, line, PLAIN, 6.3, INK)


def _draw_label(canvas: Canvas, label: str, top: float, bottom: float) -> None:
    lines, size = fitted(label, _ROOM, top - bottom)
    canvas.setFillColor(INK)
    canvas.setFont(BOLD, size)
    # Capitals are 0.73 of the size high in this font: the block is centered by them.
    block = (len(lines) - 1) * size * _LEADING + 0.73 * size
    first = (top + bottom + block) / 2.0 - 0.73 * size
    for place, line in enumerate(lines):
        canvas.drawString(_INSET, first - place * size * _LEADING, line)


class _Writer:
    """Writes a piece of text and returns where it ends."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas

    def __call__(
        self, x: float, y: float, text: str, font: str, size: float, color: HexColor
    ) -> float:
        """Write, the baseline beginning at x and y."""
        self._canvas.setFillColor(color)
        self._canvas.setFont(font, size)
        self._canvas.drawString(x, y, text)
        return x + pdfmetrics.stringWidth(text, font, size)


@lru_cache(maxsize=8)
def _broken(text: str, width: float, size: float) -> list[str]:
    from reportlab.lib.utils import simpleSplit

    return list(simpleSplit(text, PLAIN, size, width))
