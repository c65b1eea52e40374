"""A data sheet for the bench as PDF: one page to write on, in the order of the record."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape
from io import BytesIO
from typing import Any

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

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
from identify.answers.forms.lines import (
    BENCH_CAUTIONS,
    FORM_ELEMENTS,
    LINE_OF,
    FormLine,
    section_lines,
)
from identify.tables.records.keys import CARD, CONDITIONS, FLASK, PERCENT, TRIAL

_SHEET_TITLE = "Data sheet: an unknown volatile liquid"
_MARGIN = 15.0 * mm
_ROW = 8.0 * mm  # high enough to write in by hand
_UNIT = 15.0 * mm
_FRAME = 12.0  # points: what a page leaves free within its margins
_NOTES = 3  # empty lines

_BODY = ParagraphStyle("body", fontName=PLAIN, fontSize=9.0, leading=10.5, textColor=INK)
_SMALL = ParagraphStyle("small", _BODY, fontSize=8.0, leading=10.0)
_BULLET = ParagraphStyle("bullet", _SMALL, leftIndent=9.0, bulletFontName=PLAIN)
_HEAD = ParagraphStyle("head", _BODY, fontName=BOLD, fontSize=9.5, leading=12.0, spaceBefore=5.0)
_TITLE = ParagraphStyle("title", _HEAD, fontSize=14.0, leading=18.0)

# What nobody reads at a bench.
_NOT_READ = ("formula", "molar_mass", "molar_mass_by", "gain")
_TOP = ("Bottle", "Name or group", "Date", "Balance")
_SECTIONS = {
    CARD: "The card of the bottle",
    CONDITIONS: "The laboratory, while you weigh",
    FLASK: "The flask: one of these is enough, the first is best",
    TRIAL: "The weighings: read every digit that the balance shows",
}
_LAST = "What happened: boiled over, lid torn, drops outside, liquid left at the end ..."


def bench_sheet(label: str = "", trials: int = 1, paper: Paper = Paper.a4) -> bytes:
    """Return the sheet as a document of one page.

    Parameters
    ----------
    label : str
        Of the bottle; a line to write it on where empty.
    trials : int
        How many pairs of weighings it has room for, up to `lines.MOST_TRIALS`.
    paper : Paper
    """
    load_font(PLAIN), load_font(BOLD)
    size = PAPERS[paper]
    file = BytesIO()
    document = SimpleDocTemplate(
        file,
        pagesize=size,
        leftMargin=_MARGIN,
        rightMargin=_MARGIN,
        topMargin=_MARGIN - 4.0 * mm,
        bottomMargin=_MARGIN - 4.0 * mm,
        title=_SHEET_TITLE,
        author="",
        subject="",
        creator=CREATOR,
        **SETTINGS,
    )
    document.build(list(_story(label, trials, size[0] - 2.0 * _MARGIN - _FRAME)))
    return file.getvalue()


def _story(label: str, trials: int, width: float) -> Iterator[Flowable]:
    yield Paragraph(escape(_SHEET_TITLE), _TITLE)
    yield Spacer(0.0, 1.5 * mm)
    yield _top(label, width)
    yield Spacer(0.0, 2.0 * mm)
    for caution in BENCH_CAUTIONS:
        yield Paragraph(escape(caution), _BULLET, bulletText="•")
    for section, title in _SECTIONS.items():
        yield Paragraph(escape(title), _HEAD)
        yield Spacer(0.0, 1.0 * mm)
        if section == TRIAL:
            yield _trials(trials, width)
        else:
            yield _blanks(section, width)
        if section == CARD:
            yield _composition(width)
    yield Paragraph(escape(_LAST), _HEAD)
    yield _lined(width)
    yield Spacer(0.0, 2.0 * mm)
    file = f"{label or 'C-14'}.toml"
    told = f"identify-unknown new page {file} --ask   asks for these readings in this order."
    yield Paragraph(escape(settable(told)), _SMALL)


def _top(label: str, width: float) -> Table:
    cells = [
        [Paragraph(escape(word), _SMALL) for word in _TOP],
        [Paragraph(escape(settable(label)), _HEAD), "", "", ""],
    ]
    shares = (0.2, 0.42, 0.18, 0.2)
    style = [("BOX", (place, 0), (place, 1), 0.6, RULE) for place in range(len(_TOP))]
    return _table(cells, [width * share for share in shares], style, [5.0 * mm, _ROW])


def _blanks(section: str, width: float) -> Table:
    """Return a line for each reading: what it is, its unit, and room to write."""
    lines = [one for one in _read_at_bench(section) if one.key != PERCENT]
    cells = [[_what(line), line.unit_text, ""] for line in lines]
    words = 0.6 * width
    widths = [words, _UNIT, width - words - _UNIT]
    return _table(cells, widths, [("GRID", (0, 0), (-1, -1), 0.4, RULE)])


def _read_at_bench(section: str) -> list[FormLine]:
    return [
        line for line in section_lines(section) if not line.is_rare and line.key not in _NOT_READ
    ]


def _composition(width: float) -> Table:
    """Return a line of boxes, one an element, and two without a symbol."""
    heads: list[Any] = [*FORM_ELEMENTS, "", ""]
    first = 0.34 * width
    widths = [first, *[(width - first) / len(heads)] * len(heads)]
    cells = [[_what(LINE_OF[PERCENT]), *heads], ["", *[""] * len(heads)]]
    style: list[tuple[Any, ...]] = [("SPAN", (0, 0), (0, 1))]
    style += [("GRID", (1, 0), (-1, -1), 0.4, RULE), ("BOX", (0, 0), (0, 1), 0.4, RULE)]
    return _table(cells, widths, style, [4.6 * mm, _ROW])


def _trials(trials: int, width: float) -> Table:
    lines = _read_at_bench(TRIAL)
    first = 0.38 * width if trials > 2 else 0.5 * width
    widths = [first, _UNIT, *[(width - first - _UNIT) / trials] * trials]
    head = ["", "", *(f"trial {number}" for number in range(1, trials + 1))]
    cells = [head, *([_what(line), line.unit_text, *[""] * trials] for line in lines)]
    heights = [4.6 * mm, *[_ROW + 1.0 * mm] * len(lines)]
    return _table(cells, widths, [("GRID", (0, 0), (-1, -1), 0.4, RULE)], heights)


def _what(line: FormLine) -> Paragraph:
    words = line.words.partition(", such as")[0]
    words = words[:1].upper() + words[1:]
    return Paragraph(f'{escape(words)} <font size="6.5" color="{FAINT}">{line.key}</font>', _BODY)


def _lined(width: float) -> Table:
    rules = [("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE)]
    return _table([[""]] * _NOTES, [width], rules)


def _table(
    cells: Sequence[Sequence[Any]],
    widths: Sequence[float],
    style: Sequence[tuple[Any, ...]],
    heights: Sequence[float] = (),
) -> Table:
    every = ((0, 0), (-1, -1))
    usual = [
        ("FONT", *every, PLAIN, 9.0),
        ("TEXTCOLOR", *every, INK),
        ("VALIGN", *every, "MIDDLE"),
        ("LEFTPADDING", *every, 4.0),
        ("TOPPADDING", *every, 0.0),
        ("BOTTOMPADDING", *every, 0.0),
    ]
    return Table(
        [list(row) for row in cells],
        list(widths),
        list(heights) or [_ROW] * len(cells),
        style=TableStyle([*usual, *style]),
    )
