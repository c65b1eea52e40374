"""``identify-unknown guide``: the manual's pages, and what each code means."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from identify.cli.options.options import Text, argument, takes, written_as
from identify.cli.terminal.output import OutputFormat, write_answer
from identify.cli.terminal.streams import UNUSABLE, complain

if TYPE_CHECKING:
    from identify.answers.text import Page
    from identify.guide import Topic


_HOW_TO_ASK = (
    '"identify-unknown guide student" prints one of them; "identify-unknown guide volume-nominal" '
    "says what a code means that an answer shows in brackets."
)


@dataclass(frozen=True)
class _Asked:
    """What to print of the guide."""

    topic: Text = argument("TOPIC", "A page, or the code of a finding or slip.", default=None)
    format: OutputFormat = written_as()


@takes(_Asked)
def guide_command(asked: _Asked) -> int:
    r"""Print the manual: the list of its pages, one page, or what a code means.

    Answers name each finding and slip by a code in brackets, such as [volume-nominal]. The guide
    has a paragraph on each of them: what it means and what to do. In a terminal a page is laid
    out for it; elsewhere it is plain Markdown.

    \b
    Example: the pages, one of them, and one code.
      identify-unknown guide
      identify-unknown guide student
      identify-unknown guide volume-nominal

    Exit status: 0 done; 2 there is no such topic.
    """
    from identify.guide import UnknownTopic, pages, topic

    if asked.topic is None:
        _write_list([(page.name, page.about) for page in pages()], asked.format)
        return 0
    try:
        found = topic(asked.topic)
    except UnknownTopic as error:
        complain(str(error))
        return UNUSABLE
    _write_topic(found, asked.format)
    return 0


def _write_list(listed: Sequence[tuple[str, str]], form: OutputFormat) -> None:
    width = max(len(name) for name, _ in listed)

    def lines(page: Page) -> Iterator[str]:
        yield from ("Pages of the guide", "")
        for name, about in listed:
            yield f"  {page.emphasized(name)}{' ' * (width - len(name))}  {page.text(about)}"
        yield from ("", *page.wrapped(_HOW_TO_ASK))

    rows = [{"topic": name, "about": about} for name, about in listed]
    write_answer(form, lines, lambda: rows, lambda: rows)


def _write_topic(found: Topic, form: OutputFormat) -> None:
    from identify.answers.text import Page

    if form is not OutputFormat.table:
        rows = [{"topic": found.topic, "page": found.page, "text": found.text}]
        write_answer(form, lambda page: (), lambda: rows, lambda: rows)
        return
    page = Page.of()
    text = "\n".join(map(page.text, found.text.splitlines()))
    if sys.stdout.isatty():
        from identify.cli.terminal.markdown import print_markdown

        print_markdown(text, page)
    else:
        print(text)
