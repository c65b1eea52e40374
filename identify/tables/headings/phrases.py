"""Phrases: sets of words, each of which heads a column in any order.

A phrase is written as words with blanks between. ``foil?`` may be there or not, of ``room/lab`` one
must be; ``*`` says that it counts only with a unit beside it, as a lone letter does. ``~`` before
it says that such a column is read only where none says the same in plainer words.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from identify.tables.headings.wording import Wording, words_of


@dataclass(frozen=True)
class Phrase:
    """A set of words that head a column.

    Parameters
    ----------
    text : str
        As described above.

    Examples
    --------
    >>> phrase = Phrase("flask empty mass? foil/lid?")
    >>> [phrase.fits(Wording(words_of(text))) for text in ("Empty flask", "mass of flask", "empty")]
    [True, False, False]
    """

    text: str

    @property
    def rank(self) -> int:
        """How little it says: 0 where it is plain."""
        return self.text.count("~")

    @property
    def needs_unit(self) -> bool:
        """Whether it counts only with a unit."""
        return "*" in self.text.split()

    def fits(self, wording: Wording) -> bool:
        """Tell whether a heading is worded like that."""
        if self.needs_unit and not wording.unit:
            return False
        groups, optional = self._parts
        words = wording.words
        if not words <= optional.union(*groups):
            return False
        there = [words & group for group in groups]
        return all(one and len(one - optional) <= 1 for one in there)

    @cached_property
    def _parts(self) -> tuple[tuple[frozenset[str], ...], frozenset[str]]:
        groups, optional = [], set[str]()
        for part in self.text.replace("~", "").split():
            words = words_of(part.rstrip("?").replace("/", " "))
            if part.endswith("?"):
                optional |= words
            elif part != "*":
                groups.append(words)
        return tuple(groups), frozenset(optional)


def phrases(text: str, further: str = "") -> tuple[Phrase, ...]:
    """Return the phrases of a text, separated by commas.

    Parameters
    ----------
    text : str
    further : str
        What may stand in each of them besides.
    """
    return tuple(Phrase(f"{one} {further}".strip()) for one in text.split(", ") if one)


def vocabulary(known: Iterable[Phrase]) -> frozenset[str]:
    """Return all words of phrases."""
    words = set[str]()
    for phrase in known:
        groups, optional = phrase._parts
        words |= optional.union(*groups)
    return frozenset(words)
