"""The report in a browser: on a desk and on a phone, by day and by night, on paper."""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from identify.answers.html.match_page import match_page
from tests.browser import opened
from tests.report_samples import (
    HOSTILE,
    IMAGE,
    KINDS,
    MATCHER,
    RECORDS,
    SCRIPT,
    answers,
    page_of,
)

if TYPE_CHECKING:
    from playwright.sync_api import Browser

WIDTHS = (1280, 390)  # CSS pixels: a desk and a phone
# A page less its margins of 15 mm on either side [CSS pixels]: ISO 216, ANSI Y14.1.
PAPERS = {"A4": (210.0 - 30.0) / 25.4 * 96.0, "Letter": (215.9 - 30.0) / 25.4 * 96.0}

# What is to the right or left of the window, but for what lies in a frame that scrolls.
_BEYOND = """(frames) => [...document.body.querySelectorAll("*")].filter(one => {
    const box = one.getBoundingClientRect();
    const seen = box.width > 0 && box.height > 0 && !one.matches(".skip");
    const framed = frames && one.closest(".scroll") && !one.matches(".scroll");
    return seen && !framed && (box.right > innerWidth + 1 || box.left < -1);
}).map(one => one.outerHTML.slice(0, 160))"""
_HEADINGS = """() => [...document.querySelectorAll("h1,h2,h3,h4,h5,h6")]
    .map(one => Number(one.tagName[1]))"""
_NAMELESS = """() => [...document.querySelectorAll("svg, img, [role=img]")]
    .filter(one => !(one.getAttribute("role") === "img" && one.getAttribute("aria-label")))
    .map(one => one.outerHTML.slice(0, 160))"""
_FOCUSABLE = 'a[href], button, input, select, textarea, summary, [tabindex="0"]'


@pytest.fixture(scope="session")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    found = {}
    for kind in KINDS:
        found[kind] = folder / f"{kind}.html"
        found[kind].write_text(page_of(kind), encoding="utf-8")
    return found


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("kind", KINDS)
def test_shown(
    browser: Browser, files: dict[str, Path], kind: str, width: int, scheme: str
) -> None:
    with opened(browser, files[kind], width, scheme) as shown:
        wide, window = shown.page.evaluate(
            "[document.documentElement.scrollWidth, window.innerWidth]"
        )
        assert wide <= window == width
        assert shown.page.evaluate(_BEYOND, True) == []
        assert shown.page.evaluate(_NAMELESS) == []
        levels = shown.page.evaluate(_HEADINGS)
        assert levels[0] == 1
        assert levels.count(1) == 1
        assert all(below - above <= 1 for above, below in pairwise(levels))
        assert shown.page.title()
        assert shown.complaints == []
        assert shown.requests == [files[kind].as_uri()]


def colors_of(browser: Browser, file: Path, scheme: str) -> list[str]:
    with opened(browser, file, scheme=scheme) as shown:
        ground, text, drawing = shown.page.evaluate(
            """() => {
                const body = getComputedStyle(document.body);
                const path = document.querySelector(".picture svg path");
                return [body.backgroundColor, body.color, getComputedStyle(path).stroke];
            }"""
        )
    assert drawing == text
    return [ground, text]


def brightness(color: str) -> float:
    return sum(float(part) for part in re.findall(r"[\d.]+", color)[:3]) / 3.0


def test_the_dark_mode_is_dark_and_drawings_follow(
    browser: Browser, files: dict[str, Path]
) -> None:
    light_ground, light_ink = map(brightness, colors_of(browser, files["match"], "light"))
    dark_ground, dark_ink = map(brightness, colors_of(browser, files["match"], "dark"))
    assert light_ground > 240 > 60 > light_ink
    assert dark_ground < 60 < 200 < dark_ink


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind.startswith("hostile")])
def test_what_a_file_says_is_text(browser: Browser, files: dict[str, Path], kind: str) -> None:
    with opened(browser, files[kind]) as shown:
        assert shown.page.locator("script, img").count() == 0
        told = " ".join(shown.page.locator("body").inner_text().split())
        assert SCRIPT in told
        assert IMAGE in told
        assert HOSTILE.label in told
        assert shown.complaints == []


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("kind", ["match", "section", "several", "stock"])
def test_everything_is_reached_by_the_keyboard(
    browser: Browser, files: dict[str, Path], kind: str, width: int
) -> None:
    with opened(browser, files[kind], width) as shown:
        page = shown.page
        page.evaluate(
            "(which) => document.querySelectorAll(which).forEach((one, n) => one.dataset.n = n)",
            _FOCUSABLE,
        )
        count = page.locator(_FOCUSABLE).count()
        reached = []
        for _ in range(count):
            page.keyboard.press("Tab")
            reached.append(page.evaluate("Number(document.activeElement.dataset.n)"))
            drawn = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
            assert drawn == "solid"
        assert reached == list(range(count))  # each once, in the order of the page


def test_the_first_tab_skips_to_the_content(browser: Browser, files: dict[str, Path]) -> None:
    with opened(browser, files["match"], 390) as shown:
        shown.page.keyboard.press("Tab")
        left = shown.page.evaluate("document.activeElement.getBoundingClientRect().left")
        assert 0 <= left < 390
        shown.page.keyboard.press("Enter")
        assert shown.page.evaluate("document.activeElement.id") == "content"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_cut_on_paper(
    browser: Browser, files: dict[str, Path], kind: str, paper: str, scheme: str
) -> None:
    with opened(browser, files[kind], int(PAPERS[paper]), scheme, "print") as shown:
        page = shown.page
        wide, window = page.evaluate("[document.documentElement.scrollWidth, innerWidth]")
        assert wide <= window
        assert page.evaluate(_BEYOND, False) == []
        hidden = """() => [...document.querySelectorAll(".scroll")]
            .filter(one => getComputedStyle(one).overflowX !== "visible").length"""
        assert page.evaluate(hidden) == 0
        ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
        assert brightness(ground) == 255.0


# Words of headings that stand on more than one line. A hyphen or dash may end one.
_BROKEN_WORDS = r"""() => [...document.querySelectorAll("thead th")].flatMap(head => {
    const broken = [], texts = document.createTreeWalker(head, NodeFilter.SHOW_TEXT);
    while (texts.nextNode()) {
        for (const word of texts.currentNode.data.matchAll(/[^\s-]+/g)) {
            const range = document.createRange();
            range.setStart(texts.currentNode, word.index);
            range.setEnd(texts.currentNode, word.index + word[0].length);
            const lines = new Set([...range.getClientRects()].map(one => Math.round(one.top)));
            if (lines.size > 1) broken.push(word[0]);
        }
    }
    return broken;
})"""


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("kind", ["match", "several", "stock", "section"])
def test_no_heading_breaks_inside_a_word_on_paper(
    browser: Browser, files: dict[str, Path], kind: str, paper: str
) -> None:
    with opened(browser, files[kind], int(PAPERS[paper]), "light", "print") as shown:
        assert shown.page.locator("thead th").count() > 3
        assert shown.page.evaluate(_BROKEN_WORDS) == []


@pytest.mark.parametrize("kind", ["match", "several", "stock", "section"])
def test_on_a_phone_every_cell_is_in_view(
    browser: Browser, files: dict[str, Path], kind: str
) -> None:
    with opened(browser, files[kind], 390) as shown:
        cells = shown.page.locator(".stack td, .stack tbody th")
        assert cells.count() > 3
        beyond = """cells => cells.filter(one => {
            const box = one.getBoundingClientRect();
            return box.left < 0 || box.right > innerWidth;
        }).map(one => one.textContent)"""
        assert cells.evaluate_all(beyond) == []
        nameless = "cells => cells.filter(one => one.tagName === 'TD' && one.textContent.trim() "
        nameless += "&& !one.dataset.label).map(one => one.textContent)"
        assert cells.evaluate_all(nameless) == []


def printed(browser: Browser, file: Path, paper: str) -> tuple[str, list[Any]]:
    """Return what the page says on paper, and the sheets of its PDF."""
    from pypdf import PdfReader

    with opened(browser, file, media="print") as shown:
        told = shown.page.locator("body").inner_text()
        file_ = io.BytesIO(shown.page.pdf(format=paper))
    return told, list(PdfReader(file_).pages)


def words(text: str) -> Iterator[str]:
    yield from re.findall(r"[A-Za-z]{4,}|\d+\.\d+", text)


# Sheets of paper that each of them may take.
_SHEETS = {
    "match": (2, 2),
    "molar mass": (2, 3),
    "several": (6, 7),
    "stock": (2, 4),
    "section": (3, 7),
    "feedback": (2, 4),
}


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("kind", sorted(_SHEETS))
def test_printed(browser: Browser, files: dict[str, Path], kind: str, paper: str) -> None:
    told, sheets = printed(browser, files[kind], paper)
    least, most = _SHEETS[kind]
    assert least <= len(sheets) <= most
    width = float(sheets[0].mediabox.width)
    assert width == pytest.approx({"A4": 595.3, "Letter": 612.0}[paper], abs=1.5)  # points
    texts = [sheet.extract_text() for sheet in sheets]
    assert all(text.strip() for text in texts)
    # Letters that a font joins, such as fl, are one character there.
    everything = "".join(unicodedata.normalize("NFKC", "".join(texts)).split())
    assert sorted({word for word in words(told) if word not in everything}) == []


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("record", RECORDS)
def test_one_unknown_takes_two_sheets(
    browser: Browser, tmp_path: Path, record: str, paper: str
) -> None:
    file = tmp_path / f"{record}.html"
    file.write_text(match_page(answers(record), MATCHER), encoding="utf-8")
    _, sheets = printed(browser, file, paper)
    assert len(sheets) == 2


def test_each_of_several_unknowns_begins_a_sheet(browser: Browser, files: dict[str, Path]) -> None:
    _, sheets = printed(browser, files["several"], "A4")
    starts = [sheet.extract_text().strip().split("\n")[0] for sheet in sheets]
    for label in ("C-23", "C-52", "C-77"):
        assert starts.count(f"Unknown {label}") == 1
