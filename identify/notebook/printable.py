r"""What of a text may be shown: nothing that steers a terminal, or turns what stands beside it.

Control characters (with them the escape sequences of terminals), marks of the direction of writing,
line and paragraph separators, halves of surrogate pairs and code points without a character are not
shown. They have no place in a label or a name, and can make a line read otherwise than it is.
Joiners are: letters of many scripts need them, and the signs that are made of several.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable

_JOINERS = "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"
_REPLACEMENT = "\N{REPLACEMENT CHARACTER}"
_BLANK = re.compile("[^\\S\N{NO-BREAK SPACE}]")
_ORDINARY = re.compile("[ -~]*")  # nearly all texts: told at once


def _is_shown(letter: str) -> bool:
    r"""Say whether a character may be shown as it is.

    Examples
    --------
    >>> [_is_shown(letter) for letter in ("é", "\u00a0", "\u200d", "\x1b", "\x9b", "\u202e", "\n")]
    [True, True, True, False, False, False, False]
    """
    return letter.isprintable() or letter in _JOINERS or unicodedata.category(letter) == "Zs"


def printable(text: str, instead: str | Callable[[str], str] = _REPLACEMENT, kept: str = "") -> str:
    r"""Return a text with something else in the place of what is not shown.

    Parameters
    ----------
    text : str
    instead : str or callable
        What takes the place of a character; a callable is given the character.
    kept : str
        Further characters that stay, such as a line feed.

    Examples
    --------
    >>> printable("C\x00-1\u202e4"), printable("a\nb", " "), printable("a\nb", kept="\n")
    ('C\ufffd-1\ufffd4', 'a b', 'a\nb')
    """
    if _ORDINARY.fullmatch(text):
        return text
    put = instead if callable(instead) else lambda _: instead
    return "".join(one if _is_shown(one) or one in kept else put(one) for one in text)


def on_one_line(text: str, instead: str = _REPLACEMENT) -> str:
    r"""Return a text with plain blanks for all others and line ends, and nothing that is not shown.

    A no-break space stays.

    Examples
    --------
    >>> on_one_line("C-14\t\x07\r\n", "?")
    'C-14 ?  '
    """
    return printable(_BLANK.sub(" ", text), instead)
