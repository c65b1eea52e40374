"""Bottle cards and the key on paper and in a browser: every label fits, and none is markup."""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING, NamedTuple

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from playwright.sync_api import Browser
from reportlab.pdfbase import pdfmetrics

from identify.answers.cards import Deck, KeyEntry, Paper, PrintedCard, Sheet
from identify.answers.files.cards_pdf import cards_pdf, fitted, key_pdf
from identify.answers.files.typesetting import settable
from identify.answers.html.cards import cards_html, key_html
from identify.compounds.naming.meaning import Compound
from identify.physics.constants import ELEMENTS
from identify.stock.result import Hazards

if TYPE_CHECKING:
    from playwright.sync_api import Browser

A4, LETTER = Sheet(Paper.a4), Sheet(Paper.letter)
PERCENT = {"C": 52.144, "H": 13.128, "O": 34.728}
ETHANOL = Compound("ethanol", "64-17-5", "CCO", "", "C2H6O", 46.069, PERCENT, 78.4, 0.1)
# What a label may hold, one of each kind.
LABELS = (
    "K-7",
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>&amp;{{ 7*7 }}'",
    "Σ-12 безымянная",
    "水-3",
    "שלום 7",
    "K\u202e7",
    "shelf two, bottle fourteen, the small one with the green cap",
    "W" * 60,
    "x" * 119,
    "ab " * 39,
    "水" * 40,
)


def card(label: str) -> PrintedCard:
    return PrintedCard(label, 78.4, PERCENT)


def deck(*labels: str) -> Deck:
    hazards = Hazards(12.0, "a list of a longer name than any: carcinogenic (1)")
    entries = [KeyEntry(2, card(label), ETHANOL, hazards) for label in labels]
    return Deck("760 mmHg", tuple(entries))


def pages(document: bytes) -> list[str]:
    reader = pypdf.PdfReader(io.BytesIO(document))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


# ---------------------------------------------------------------------------------- the sheets


@pytest.mark.parametrize(
    ("cards", "copies", "expected"), [(1, 1, 1), (8, 1, 1), (9, 1, 2), (3, 3, 2), (16, 2, 4)]
)
@pytest.mark.parametrize("paper", list(Paper))
def test_eight_cards_on_a_sheet(cards: int, copies: int, expected: int, paper: Paper) -> None:
    sheet = Sheet(paper, copies)
    made = [card(f"K-{number}") for number in range(cards)]
    document = cards_pdf(made, "760 mmHg", sheet)
    every = pages(document)
    assert len(every) == expected
    assert sum(page.count("Boiling point") for page in every) == cards * copies
    html = cards_html(made, "760 mmHg", sheet)
    assert html.count('<ul class="sheet">') == expected
    assert html.count('<li class="card">') == cards * copies


@pytest.mark.parametrize(
    ("paper", "millimeters", "css"),
    [(Paper.a4, (210.0, 297.0), "A4"), (Paper.letter, (215.9, 279.4), "letter")],
)
def test_paper(paper: Paper, millimeters: tuple[float, float], css: str) -> None:
    sheet = Sheet(paper)
    cards = pypdf.PdfReader(io.BytesIO(cards_pdf([card("K-1")], "760 mmHg", sheet)))
    key = pypdf.PdfReader(io.BytesIO(key_pdf(Deck("760 mmHg", ()), sheet)))
    assert size_of(cards) == pytest.approx(millimeters, abs=0.1)
    assert size_of(key) == pytest.approx(millimeters[::-1], abs=0.1)
    assert f"size: {css} portrait" in cards_html([card("K-1")], "760 mmHg", sheet)


def size_of(document: pypdf.PdfReader) -> tuple[float, float]:
    box = document.pages[0].mediabox
    return float(box.width) * 25.4 / 72.0, float(box.height) * 25.4 / 72.0


def test_the_same_cards_are_the_same_bytes() -> None:
    made = deck(*LABELS)
    first = cards_pdf(made.cards, made.pressure, A4), key_pdf(made, A4)
    second = cards_pdf(made.cards, made.pressure, A4), key_pdf(made, A4)
    assert first == second


def test_every_font_is_embedded() -> None:
    made = deck(*LABELS)
    for document in (cards_pdf(made.cards, made.pressure, A4), key_pdf(made, A4)):
        for page in pypdf.PdfReader(io.BytesIO(document)).pages:
            for font in page["/Resources"]["/Font"].values():
                assert "/FontFile2" in font.get_object()["/FontDescriptor"]


# -------------------------------------------------------------------------------- any label fits


class Piece(NamedTuple):
    """A piece of text where it stands on a page [points]."""

    text: str
    left: float
    right: float
    baseline: float
    size: float


def pieces(document: bytes) -> list[Piece]:
    found: list[Piece] = []

    def visit(
        text: str, cm: list[float], tm: list[float], font: dict[str, str], size: float
    ) -> None:
        if text := text.strip("\n"):
            left, name = cm[4] + tm[4], font["/BaseFont"].partition("+")[2]
            right = left + pdfmetrics.stringWidth(text, name, size)
            found.append(Piece(text, left, right, cm[5] + tm[5], size))

    for page in pypdf.PdfReader(io.BytesIO(document)).pages:
        page.extract_text(visitor_text=visit)
    return found


@pytest.mark.parametrize("label", LABELS)
def test_no_text_leaves_its_card(label: str) -> None:
    every = {element: 100.0 / len(ELEMENTS) for element in ELEMENTS}
    made = [PrintedCard(label, 1.0, every) for _ in range(8)]
    found = pieces(cards_pdf(made, "1013.25 hPa", A4))
    assert len(found) > 8 * 30
    width, height = 210.0 * 72.0 / 25.4, 297.0 * 72.0 / 25.4
    card_width, card_height = 92.0 * 72.0 / 25.4, 63.0 * 72.0 / 25.4
    for piece in found:
        edge = width / 2.0 if piece.left < width / 2.0 else width / 2.0 + card_width
        assert piece.left >= edge - card_width + 16.0
        assert piece.right <= edge - 16.0, piece
        # Its bottom edge, from that of the card.
        above = (piece.baseline - (height / 2.0 - 2.0 * card_height)) % card_height
        assert 0.25 * piece.size < above < card_height - 0.75 * piece.size


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=150), st.floats(10.0, 90.0))
def test_labels_of_any_text_are_fitted(text: str, height: float) -> None:
    settable_text = settable(" ".join(text.split()))
    lines, size = fitted(settable_text, 200.0, height)
    assert len(lines) * size <= height
    for line in lines:
        assert pdfmetrics.stringWidth(line, "DejaVuSans-Bold", size) <= 200.0


@pytest.mark.parametrize(
    ("label", "expected"),
    [
        ("K-7", (32.0, ["K-7"])),
        ("Bottle 14 b, shelf two", (28.0, ["Bottle 14 b,", "shelf two"])),
        ("the bottle on the second shelf", (24.0, ["the bottle on", "the second shelf"])),
        ("M" * 20, (10.0, ["M" * 20])),
        ("M" * 40, (14.0, ["M" * 16, "M" * 16, "M" * 8])),
        ("M" * 200, (7.0, [*["M" * 32] * 6, "M" * 8])),
        ("M" * 260, (7.0, [*["M" * 32] * 4, "…" + "M" * 31, *["M" * 32] * 3])),
    ],
)
def test_long_labels_shrink_and_wrap(label: str, expected: tuple[float, list[str]]) -> None:
    lines, size = fitted(label, 226.0, 70.0)
    assert (size, lines) == expected


@pytest.mark.parametrize(
    ("label", "shown"),
    [
        ("Σ-7 ж é ß °", "Σ-7 ж é ß °"),
        ("e\u0301", "é"),
        ("水-3", "[U+6C34]-3"),
        ("א", "[U+05D0]"),
        ("a\u202eb\x07", "a[U+202E]b[U+0007]"),
        ("😀", "😀"),
    ],
)
def test_what_the_font_lacks_is_spelled_out(label: str, shown: str) -> None:
    assert settable(label) == shown


@pytest.mark.parametrize("label", LABELS)
def test_any_label_fits_into_the_key(label: str) -> None:
    made = deck(label)
    assert len(pages(key_pdf(made, LETTER))) == 1


# ---------------------------------------------------------------------------------- the browser


@pytest.mark.parametrize("label", LABELS)
def test_labels_cannot_become_markup(label: str) -> None:
    made = deck(label)
    plain = [card("plain")]
    tags = re.findall(r"<[a-z/!][^>]*>", cards_html(plain, "760 mmHg", A4))
    page = cards_html([card(label)], "760 mmHg", A4)
    assert [re.sub(r"label \w+", "", tag) for tag in re.findall(r"<[a-z/!][^>]*>", page)] == [
        re.sub(r"label \w+", "", tag) for tag in tags
    ]
    assert "<script" not in page + key_html(made, A4)
    assert "<img" not in page + key_html(made, A4)


_OVERFULL = """[...document.querySelectorAll('.card, td, th')]
  .filter(one => one.scrollWidth > one.clientWidth + 1 || one.scrollHeight > one.clientHeight + 1)
  .map(one => one.innerText)"""


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("width", [1280, 390])
def test_in_a_browser(browser: Browser, paper: Paper, width: int) -> None:
    made = deck(*LABELS)
    page = browser.new_page(viewport={"width": width, "height": 900})
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("request", lambda request: said.append(request.url))
    page.on("dialog", lambda dialog: said.append(dialog.message))
    for html in (cards_html(made.cards, "760 mmHg", Sheet(paper)), key_html(made, Sheet(paper))):
        page.set_content(html)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.evaluate(_OVERFULL) == []
    page.close()
    assert said == []


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("printed_on", ["A4", "Letter"])
def test_printed_by_a_browser(browser: Browser, paper: Paper, printed_on: str) -> None:
    page = browser.new_page()
    page.set_content(cards_html([card(f"K-{n}") for n in range(20)], "760 mmHg", Sheet(paper)))
    every = pages(page.pdf(format=printed_on))
    page.close()
    assert [text.count("Boiling point") for text in every] == [8, 8, 4]
    # A card that breaks across pages would leave its caution on the next.
    assert [text.count("local rules decide") for text in every] == [8, 8, 4]
