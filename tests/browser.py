"""A browser for tests of pages: the one that is installed, without the network."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

_NAMES = ("chromium", "chromium-browser", "google-chrome")
_OPTIONS = (
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def installed_browser() -> str | None:
    """Return the path of a browser, None where there is none."""
    named = os.environ.get("IDENTIFY_BROWSER")
    return named or next(filter(None, map(shutil.which, _NAMES)), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    path = installed_browser()
    if path is None:
        missing = f"no browser: none of {', '.join(_NAMES)} is there; name one in IDENTIFY_BROWSER"
        if os.environ.get("CI") == "true":
            pytest.fail(missing)
        pytest.skip(missing)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=path, args=list(_OPTIONS))
        yield running
        running.close()


@dataclass
class Opened:
    """A page as it is shown, and what went wrong while it was."""

    page: Page
    complaints: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)


@contextmanager
def opened(
    browser: Browser,
    file: Path,
    width: int = 1280,
    scheme: str = "light",
    media: str = "screen",
) -> Iterator[Opened]:
    """Open a file as a browser would that is so many CSS pixels wide."""
    context = browser.new_context(viewport={"width": width, "height": 900})
    try:
        page = context.new_page()
        page.emulate_media(color_scheme=scheme, media=media)
        shown = Opened(page)
        page.on("console", lambda said: shown.complaints.append(f"{said.type}: {said.text}"))
        page.on("pageerror", lambda error: shown.complaints.append(str(error)))
        page.on("dialog", lambda dialog: shown.complaints.append(dialog.message))
        page.on("request", lambda request: shown.requests.append(request.url))
        page.goto(file.as_uri(), wait_until="load")
        yield shown
    finally:
        context.close()
