"""The page of a terminal: 80 columns or more, with or without color and UTF-8."""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, TextIO

from identify.notebook.printable import on_one_line

if TYPE_CHECKING:
    from identify.notebook.findings import Finding

CAUTION = (
    "Caution: nearly all of these liquids are flammable and many are toxic. No flame; work in the "
    "hood and wear eye protection; never heat a sealed flask; hot glass looks like cold glass. A "
    "name printed here is not a basis for handling, tasting or disposing of an unknown: the "
    "instructor, the safety data sheet and local rules decide."
)

# Of a terminal, which has few lines.
TERMINAL_CAUTION = (
    "Caution: flammable, often toxic. No flame, no sealed flask; hood, goggles. What is done with "
    "a liquid: instructor, safety data sheet and local rules decide."
)

# Characters that a terminal without UTF-8 lacks, and what stands in for them.
_PLAIN = {"±": "+/-", "…": "...", "–": "-", "—": "-", "−": "-", "°": " ", "·": "*", "×": "x"}
_PLAIN |= {"²": "2", "³": "3", "₂": "2", "µ": "u", "’": "'", "≥": ">=", "≤": "<=", "Δ": "d"}
_PLAIN |= {"½": "1/2", "→": "->", "“": '"', "”": '"', "ρ": "rho", "α": "alpha", "β": "beta"}
_PLAIN_TABLE = str.maketrans(_PLAIN)

WIDE = 100  # columns, from which on there is room for CAS numbers

BOLD, DIM, _RED, YELLOW, _RESET = "\x1b[1m", "\x1b[2m", "\x1b[31m", "\x1b[33m", "\x1b[0m"
_TAG_WIDTH = 8  # of "warning" and a space
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
        shown = on_one_line(text, "?").replace("\N{NO-BREAK SPACE}", " ")
        if self.unicode:
            return shown
        return shown.translate(_PLAIN_TABLE).encode("ascii", "replace").decode("ascii")

    def elided(self, text: str, width: int | None = None) -> str:
        """Return text that fits a width, the page's where not given, its middle left out."""
        return elided(self.text(text), self.width if width is None else width, self.text("…"))

    def emphasized(self, text: str, code: str = BOLD) -> str:
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

    def tagged(self, tag: str, text: str, color: str) -> list[str]:
        """Return text broken into lines beside a word that says of what kind it is."""
        first = f"  {tag:<{_TAG_WIDTH}}"
        head, *rest = self.wrapped(text, first)
        return [self.emphasized(first, color) + head[len(first) :] if color else head, *rest]


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


def finding_lines(finding: Finding, page: Page) -> list[str]:
    """Return one finding, wrapped: severity, what was found, what to do, and its code."""
    text = f"{finding.message} {finding.advice} [{finding.code}]"
    return page.tagged(finding.severity, text, _SEVERITY_COLOR.get(finding.severity, ""))
