"""The students' pages as one document to print: each begins on a sheet of its own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from html import escape
from io import BytesIO
from typing import TYPE_CHECKING, Any

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import (
    KeepTogether,
    PageBreak,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    Table,
    TableStyle,
)

from identify.answers import feedback as words
from identify.answers.cards import Paper
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
from identify.answers.text import CAUTION, elided

if TYPE_CHECKING:
    from identify.answers.feedback import FeedbackPage
    from identify.section.feedback import Feedback

# Between A4 and Letter: the width of the one, the height of the other, so that it prints on both.
_WIDTH, _HEIGHT = PAPERS[Paper.a4][0], PAPERS[Paper.letter][1]
_MARGIN = 15.0 * mm
_ROOM = _WIDTH - 2.0 * _MARGIN
_NAMES_WIDTH = 62.0 * mm
_TRIALS_ABREAST = 6  # numbers of more would break
_LONGEST_READING = 60  # characters: a row has to fit on one page, and its columns are narrow

_TEXT = ParagraphStyle("text", fontName=PLAIN, fontSize=8.5, leading=11.0, textColor=INK)
_SMALL = ParagraphStyle("small", _TEXT, fontSize=7.5, leading=9.5)
_FAINT = ParagraphStyle("faint", _SMALL, textColor=FAINT)
_NUMBER = ParagraphStyle("number", _SMALL, alignment=2)
_ITEM = ParagraphStyle("item", _TEXT, leftIndent=10.0, bulletFontSize=8.5, spaceAfter=1.5)
_TITLE = ParagraphStyle("title", _TEXT, fontName=BOLD, fontSize=14.0, leading=17.0)
_BOTTLE = ParagraphStyle("bottle", _TEXT, fontName=BOLD, fontSize=11.0, leading=14.0, spaceBefore=6)
_HEADING = ParagraphStyle(
    "heading", _TEXT, fontName=BOLD, spaceBefore=5.0, spaceAfter=1.5, keepWithNext=1
)
_LINES = TableStyle(
    [
        ("LINEBELOW", (0, 0), (-1, -1), 0.3, RULE),
        ("TOPPADDING", (0, 0), (-1, -1), 1.0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
        ("LEFTPADDING", (0, 0), (0, -1), 0.0),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("FONTSIZE", (0, 0), (-1, -1), 1.0),  # of cells without text, which have no height of it
    ]
)


def feedback_pdf(pages: Sequence[FeedbackPage]) -> bytes:
    """Return the pages as one document, the same bytes each time."""
    load_font(PLAIN), load_font(BOLD)
    for style in (_TEXT, _SMALL, _FAINT, _NUMBER, _ITEM, _TITLE, _BOTTLE, _HEADING):
        style.bulletFontName = PLAIN
    file = BytesIO()
    document = SimpleDocTemplate(
        file,
        pagesize=(_WIDTH, _HEIGHT),
        leftMargin=_MARGIN,
        rightMargin=_MARGIN,
        topMargin=_MARGIN,
        bottomMargin=_MARGIN,
        title=words.TITLE,
        author="",
        subject="",
        creator=CREATOR,
        **SETTINGS,
    )
    story: list[Any] = []
    for page in pages:
        story += [*([PageBreak()] if story else []), *_page(page)]
    document.build(story)
    return file.getvalue()


def _said(text: str, style: ParagraphStyle = _TEXT, bullet: str | None = None) -> Paragraph:
    return Paragraph(escape(settable(text)), style, bulletText=bullet)


def _page(page: FeedbackPage) -> Iterator[Any]:
    yield _said(page.heading, _TITLE)
    yield _said(page.origin, _FAINT)
    for label, one in page.results:
        yield _said(f"Bottle {label or '–'}", _BOTTLE)
        yield from _result(one)
    yield Spacer(0.0, 3.0 * mm)
    yield _said(CAUTION, _FAINT)


def _result(one: Feedback) -> Iterator[Any]:
    yield from _listed(words.SHARED, one.shared)
    yield from _listed(words.GRADED, one.graded)
    noticed = [f"{remark.message} {remark.advice}" for remark in one.noticed]
    yield from _listed(words.NOTICED, noticed)
    yield from _listed(words.SET_ASIDE, one.set_aside)
    yield from _listed(words.NEXT_TIME, one.next_time)
    if one.readings:
        yield _said(words.READINGS, _HEADING)
        trials = max(len(reading.values) for reading in one.readings)
        for first in range(0, trials, _TRIALS_ABREAST):
            yield _readings(one, first, min(first + _TRIALS_ABREAST, trials))
    if one.working or one.molar_mass:
        yield _said(words.WORKING, _HEADING)
    yield from map(_said, one.molar_mass)
    for step in one.working:
        yield KeepTogether(
            [
                Spacer(0.0, 2.0),
                _said(step.what, _SMALL),
                _said(f"{step.formula} = {step.numbers} = {step.result}", _FAINT),
            ]
        )


def _listed(heading: str, sentences: Sequence[str]) -> Iterator[Paragraph]:
    if sentences:
        yield _said(heading, _HEADING)
        yield from map(partial(_said, style=_ITEM, bullet="•"), sentences)


def _readings(one: Feedback, first: int, last: int) -> Table:
    """Return the readings of the trials from one place to another; in the first, of all too."""
    trials = last - first
    rows: list[list[Any]] = []
    spans = []
    if last > 1:
        heads = (_said(f"Trial {number}", _NUMBER) for number in range(first + 1, last + 1))
        rows.append(["", *heads])
    for reading in one.readings:
        shown = (elided(value or "–", _LONGEST_READING) for value in reading.values[first:last])
        values = [_said(value, _NUMBER) for value in shown]
        if not values:  # one that holds for all of them, and was told before
            continue
        if len(values) < trials:
            spans.append(("SPAN", (1, len(rows)), (trials, len(rows))))
        rows.append([_said(reading.name, _SMALL), *values, *[""] * (trials - len(values))])
    width = min(28.0 * mm, (_ROOM - _NAMES_WIDTH) / trials)
    style = TableStyle([*_LINES.getCommands(), *spans])
    return Table(rows, [_NAMES_WIDTH, *[width] * trials], style=style, hAlign="LEFT")
