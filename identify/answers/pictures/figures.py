"""Figures as elements of a page: their colors, their letters, and what they show in words."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING

from identify.answers.pictures.inline import inline_svg

if TYPE_CHECKING:
    from markupsafe import Markup
    from matplotlib.figure import Figure

# What each color of the figures is on a page.
INK, PAPER, MARK, OUTSIDE = "#000000", "#ffffff", "#1d3557", "#a8400f"
BAND, FAINT = "#d9e2ec", "#9aa5b1"
_COLORS = {
    INK: "currentColor",
    PAPER: "var(--paper)",
    MARK: "var(--mark)",
    OUTSIDE: "var(--outside)",
    BAND: "var(--band)",
    FAINT: "var(--faint)",
}
# Letters stay letters: they can be searched, and take less room than their outlines.
STYLE = {
    "svg.fonttype": "none",
    "text.parse_math": False,
    "text.usetex": False,
    "font.family": "DejaVu Sans",  # comes with matplotlib
    "font.size": 9.5,
    "axes.linewidth": 0.8,
}


@dataclass(frozen=True)
class Picture:
    """A picture as an element of a page, and what it shows in words."""

    svg: Markup
    summary: str


def as_element(figure: Figure, name: str, summary: str) -> Markup:
    """Return a figure as an element of a page.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
    name : str
        Unique on the page.
    summary : str
        What it shows, for those who do not see it.
    """
    from matplotlib import style

    file = io.StringIO()
    with (
        warnings.catch_warnings(),
        style.context(["default", {**STYLE, "svg.hashsalt": name}]),
    ):
        warnings.simplefilter("ignore")  # a letter that the font lacks is the browser's to show
        figure.savefig(file, format="svg", transparent=True, metadata={"Date": None})
    return inline_svg(file.getvalue(), name, summary, _COLORS)
