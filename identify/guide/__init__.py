"""The manual: pages of Markdown that are shipped with the package, and what they say of a code.

A page begins with its title and one paragraph that says what it is about. A code of a finding, a
slip or a section's cause has a heading of the third level that is the code and nothing else, and
its text goes on to the next heading.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cached_property
from importlib.resources import files

from identify.notebook.errors import UnusableInput

NAMES = ("student", "instructor", "python", "answers", "accuracy", "large-tables", "limits")
"""The pages, in the order in which they are listed."""

_CODE = re.compile(r"^### ([a-z]+(?:-[a-z0-9]+)*)\n(.*?)(?=^#|\Z)", re.MULTILINE | re.DOTALL)
_FENCE = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)
# What scripts fill blocks by; nothing for a reader.
_COMMENT = re.compile(r"^<!--.*?-->\n", re.MULTILINE | re.DOTALL)


class UnknownTopic(UnusableInput):
    """No page and no code has this name."""


@dataclass(frozen=True)
class GuidePage:
    """One page.

    Parameters
    ----------
    name : str
        One of `NAMES`.
    text : str
        Markdown, without comments.
    """

    name: str
    text: str

    @property
    def about(self) -> str:
        """What the page is about: the paragraph below its title, on one line."""
        return " ".join(self.text.split("\n\n")[1].split())

    @cached_property
    def codes(self) -> dict[str, str]:
        """What the page says of each code, by code, in its order."""
        # A comment in a shell block looks like a heading.
        prose = _FENCE.sub("", self.text)
        return {found[1]: found[2].strip() for found in _CODE.finditer(prose)}


@dataclass(frozen=True)
class Topic:
    """What the guide says of one topic.

    Parameters
    ----------
    topic : str
        A page's name or a code.
    page : str
        The page that it is on.
    text : str
        Markdown: the page, or the code's heading and paragraph.
    """

    topic: str
    page: str
    text: str


def pages() -> Iterator[GuidePage]:
    """Yield every page, in the order of `NAMES`."""
    folder = files(__name__)
    for name in NAMES:
        text = (folder / f"{name}.md").read_text(encoding="utf-8")
        yield GuidePage(name, _COMMENT.sub("", text))


def topic(name: str) -> Topic:
    """Return what the guide says of a page's name or a code.

    Parameters
    ----------
    name : str
        In any case, and in brackets or not, as answers print codes.

    Raises
    ------
    UnknownTopic
        With the nearest topic in its message.

    Examples
    --------
    >>> topic("[volume-nominal]").page
    'answers'
    >>> topic("acuracy")
    Traceback (most recent call last):
    ...
    identify.guide.UnknownTopic: the guide has no topic "acuracy"; did you mean accuracy?
    """
    wanted = name.strip("[]` ").casefold().replace("_", "-").removesuffix(".md")
    known: list[str] = []
    for page in pages():
        if page.name == wanted:
            return Topic(page.name, page.name, page.text)
        if wanted in page.codes:
            return Topic(wanted, page.name, f"### {wanted}\n\n{page.codes[wanted]}\n")
        known += [page.name, *page.codes]
    near = get_close_matches(wanted, known, n=1, cutoff=0.0)
    raise UnknownTopic(f'the guide has no topic "{name}"; did you mean {near[0]}?')
