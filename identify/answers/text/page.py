"""The page of a terminal: 80 columns or more, with or without color and UTF-8."""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, TextIO

from identify.notebook.statistics import justified

if TYPE_CHECKING:
    from identify.notebook.findings import Finding

CAUTION = (
    "Caution: nearly all of these liquids are flammable and many are toxic. No flame; work in the "
    "hood and wear eye protection; never heat a sealed flask; hot glass looks like cold glass. A "
    "name printed here is no basis for handling, tasting or disposing of an unknown: the "
    "instructor, the safety data sheet and local rules decide."
)

# Characters that a terminal without UTF-8 lacks, and what stands in for them.
_PLAIN = {"±": "+/-", "…": "...", "–": "-", "—": "-", "−": "-", "°": " ", "·": "*", "×": "x"}
_PLAIN |= {"²": "2", "³": "3", "₂": "2", "µ": "u", "’": "'", "≥": ">=", "≤": "<=", "Δ": "d"}
_PLAIN |= {"½": "1/2", "→": "->", "“": '"', "”": '"', "ρ": "rho", "α": "alpha", "β": "beta"}
_PLAIN_TABLE = str.maketrans(_PLAIN)

_BOLD, DIM, _RED, YELLOW, _RESET = "\x1b[1m", "\x1b[2m", "\x1b[31m", "\x1b[33m", "\x1b[0m"
_SEVERITY_COLOR = {"error": _RED, "warning": YELLOW, "note": DIM}


@dataclass(frozen=True)
class Page:
    """What the text is laid out for.

    Parameters
    ----------
    width : int
        Columns.
    color : bool
        Whether emphasis may be used. Nothing is said by color alone.
    unicode : bool
        Whether characters outside ASCII can be shown.
    """

    width: int = 80
    color: bool = False
    unicode: bool = True

    @classmethod
    def of(cls, stream: TextIO | None = None) -> Page:
        """Return the page that a stream shows; standard output where none is given."""
        stream = sys.stdout if stream is None else stream
        encoding = (getattr(stream, "encoding", None) or "ascii").lower().replace("-", "")
        color = (
            stream.isatty()
            and not os.environ.get("NO_COLOR")
            and os.environ.get("TERM", "") != "dumb"
        )
        columns = shutil.get_terminal_size((80, 24)).columns
        return cls(max(60, min(columns, 120)), color, encoding.startswith("utf"))

    def text(self, text: str) -> str:
        """Return text with only characters that the page can show."""
        # Control characters from a file's label must not reach the terminal.
        shown = "".join(c if c.isprintable() else " " if c.isspace() else "?" for c in text)
        if self.unicode:
            return shown
        return shown.translate(_PLAIN_TABLE).encode("ascii", "replace").decode("ascii")

    def emphasized(self, text: str, code: str = _BOLD) -> str:
        """Return text in bold or a color, where the page has it."""
        return f"{code}{text}{_RESET}" if self.color and text else text

    def wrapped(self, text: str, first: str = "", rest: str | None = None) -> list[str]:
        """Return text broken into lines that fit, after ``first`` and then ``rest``."""
        rest = " " * len(first) if rest is None else rest
        flat = " ".join(self.text(text).split())
        # A number and its unit stay on one line.
        flat = flat.replace(" %", "\u00a0%").replace(" °C", "\u00a0°C")
        lines = textwrap.wrap(
            flat, self.width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
        )
        return [line.replace("\u00a0", " ") for line in lines] or [first.rstrip()]


def elided(text: str, width: int, ellipsis: str = "…") -> str:
    """Return text that fits a width, its middle left out where it is too long.

    Examples
    --------
    >>> elided("2,2,3,4-tetramethylpentane", 15)
    '2,2,3,4…pentane'
    >>> elided("ethanol", 15)
    'ethanol'
    """
    if len(text) <= width:
        return text
    room = max(width - len(ellipsis), 0)
    tail = room // 2
    return (text[: room - tail] + ellipsis + text[len(text) - tail :])[:width]


def percent_text(probability: float) -> str:
    """Return a probability as percent, never rounded to certainty.

    Examples
    --------
    >>> [percent_text(p) for p in (0.974, 0.0312, 0.0004, 0.99996, 1.0, 0.0)]
    ['97 %', '3.1 %', '<0.1 %', '>99.9 %', '>99.9 %', '<0.1 %']
    """
    percent = 100.0 * probability
    if percent > 99.9:
        return ">99.9 %"
    if percent < 0.1:
        return "<0.1 %"
    digits = 1 if percent < 9.95 or percent >= 99.0 else 0
    return f"{percent:.{digits}f} %"


def with_uncertainty(value: float, uncertainty: float, unit: str) -> str:
    """Return a value with the digits that its standard uncertainty justifies.

    Examples
    --------
    >>> with_uncertainty(46.2183, 0.6321, "g/mol")
    '46.2 ± 0.6 g/mol'
    >>> with_uncertainty(46.2183, 0.1321, "g/mol")
    '46.22 ± 0.13 g/mol'
    """
    if not (isfinite(uncertainty) and uncertainty > 0.0):
        return f"{value:.4g} {unit}"
    return f"{justified(value, uncertainty)} {unit}"


def signed(value: float | None, digits: int) -> str:
    """Return a deviation with its sign, a dash where there is none."""
    if value is None or not isfinite(value):
        return "-"
    if abs(value) < 0.5 * 10.0**-digits:
        return f"{0.0:.{digits}f}"
    text = f"{value:+.{digits}f}"
    if len(text) > digits + 6:  # thousands and more: the digits no longer matter
        return f"{value:+.0e}"
    return text


def table_lines(
    rows: Sequence[Sequence[str]], headings: Sequence[str], left: Sequence[int]
) -> list[str]:
    """Return rows as lines under their headings.

    Parameters
    ----------
    rows : sequence of sequence of str
        The cells.
    headings : sequence of str
        One a column; a line break divides a heading over two lines.
    left : sequence of int
        Columns set flush left; the others are flush right.
    """
    tops, bottoms = zip(*((("\n" + heading).split("\n"))[-2:] for heading in headings), strict=True)
    grid = [*([tops] if any(tops) else []), bottoms, *rows]
    widths = [max(len(row[column]) for row in grid) for column in range(len(headings))]
    return [
        " ".join(
            cell.ljust(width) if column in left else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in grid
    ]


def finding_lines(finding: Finding, page: Page) -> list[str]:
    """Return one finding, wrapped: severity, what was found, what to do, and its code."""
    word = f"  {finding.severity:<8}"
    text = f"{finding.message} {finding.advice} [{finding.code}]"
    lines = page.wrapped(text, word, " " * len(word))
    code = _SEVERITY_COLOR.get(finding.severity, "")
    if page.color and code:
        lines[0] = page.emphasized(word, code) + lines[0][len(word) :]
    return lines


def caution_lines(page: Page) -> list[str]:
    """Return the caution that ends every printed answer."""
    return page.wrapped(CAUTION)
