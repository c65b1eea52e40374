"""Markdown laid out for a terminal."""

from __future__ import annotations

import re
import sys
from typing import ClassVar

from rich.console import Console, ConsoleOptions, RenderResult
from rich.markdown import CodeBlock, Heading, Markdown
from rich.text import Text
from rich.theme import Theme

from identify.answers.text.page import Page

# Links to other pages of the guide: their words are the topics to ask for.
_LINK = re.compile(r"\[([^]\n]+)\]\((?!https?:)[^)]+\)")
_STYLE = re.compile(r"\x1b\[[0-9;]*m")
# What the layout itself adds, for a page without such characters.
_PLAIN = str.maketrans({"•": "*", "─": "-"})
_THEME = Theme(
    {
        "markdown.h1": "bold",
        "markdown.h2": "bold underline",
        "markdown.h3": "bold",
        "markdown.code": "cyan",
        "markdown.code_block": "cyan",
    }
)


class _FlushHeading(Heading):
    """A heading flush left, where the title would else stand in a box."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        self.text.justify = "left"
        yield self.text


class _Code(CodeBlock):
    """Code and output as they are, indented, in the terminal's own colors."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        code = Text(str(self.text).rstrip(), style="markdown.code_block", overflow="fold")
        lines = code.split(allow_blank=True)
        fits = max(len(line) for line in lines) + 2 <= options.max_width
        for line in lines:
            yield Text("  " if fits else "") + line


class _Guide(Markdown):
    """Markdown with these elements."""

    elements: ClassVar = {**Markdown.elements, "heading_open": _FlushHeading, "fence": _Code}


def print_markdown(text: str, page: Page) -> None:
    """Print Markdown to standard output, laid out for a page.

    Parameters
    ----------
    text : str
        Of characters that the page can show. A link that is not a web address is printed as its
        words alone.
    page : Page
        Its width, and whether it has color and characters outside ASCII.
    """
    console = Console(
        file=sys.stdout,
        width=page.width,
        theme=_THEME,
        no_color=not page.color,
        force_terminal=page.color,
        highlight=False,
        legacy_windows=False,
    )
    with console.capture() as captured:
        console.print(_Guide(_LINK.sub(r"\1", text), hyperlinks=False))
    # Tables bring empty lines of their own, with nothing in them but a style.
    lines = (
        line.rstrip() if _STYLE.sub("", line).strip() else ""
        for line in captured.get().splitlines()
    )
    laid_out = re.sub(r"\n{3,}", "\n\n", "\n".join(lines))
    print(laid_out if page.unicode else laid_out.translate(_PLAIN))
