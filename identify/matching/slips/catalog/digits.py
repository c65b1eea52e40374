"""How a number may have been miswritten: digits dropped, doubled or exchanged, the point moved."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property, lru_cache

# The kinds, each with the chance that one number on a page has it. Common practice: a few slips in
# a thousand numbers that are copied by hand.
CHANCES = {
    "digits-exchanged": 0.0010,
    "digit-dropped": 0.0006,
    "digit-doubled": 0.0003,
    "point-moved": 0.0006,
}
_NUMBER = re.compile(r"(\d*)(?:[.,](\d*))?")
_MOST_DIGITS = 12
_POINT_MOVES = (1, -1, 2, -2)


@dataclass(frozen=True)
class Misreading:
    """What a number may have been before it was miswritten.

    Parameters
    ----------
    kind : str
        A key of `CHANCES`.
    text : str
        As it would have been written.
    chance : float
        Before anything is compared: that of the kind, shared by all that it may have been.
    jacobian : float
        How far apart the numbers are that can be written: now, over then.
    """

    kind: str
    text: str
    chance: float
    jacobian: float = 1.0

    @cached_property
    def value(self) -> float:
        """The number."""
        return float(self.text)


def digits_of(text: str) -> tuple[str, str]:
    """Return the digits before and behind the point of a number as it was written.

    Examples
    --------
    >>> digits_of("98.1132(3) g"), digits_of("742")
    (('98', '1132'), ('742', ''))
    """
    found = _NUMBER.search(text.strip().lstrip("+-"))
    return (found[1], found[2] or "") if found else ("", "")


@lru_cache(maxsize=4096)
def misreadings(
    text: str, whole: int | None = None, decimals: int | None = None
) -> tuple[Misreading, ...]:
    """Return what a number may have been.

    Parameters
    ----------
    text : str
        As it was written.
    whole, decimals : int, optional
        Digits that such a number has before and behind the point. A digit is missing, or one too
        many, only where the count is off; where it is not known, a digit may be missing anywhere.

    Examples
    --------
    >>> [one.text for one in misreadings("7.48") if one.kind == "digits-exchanged"]
    ['4.78', '7.84']
    >>> [one.text for one in misreadings("98.11", 2, 2) if one.kind == "digit-dropped"]
    []
    """
    before, behind = digits_of(text)
    digits = before + behind
    # Whoever writes a minus means it; what would fit then is nobody's slip of a digit.
    if not digits or len(digits) > _MOST_DIGITS or text.strip()[0] in "-\u2212":
        return ()
    found: list[Misreading] = []
    for kind, texts in (
        ("digits-exchanged", _exchanged(before, behind)),
        ("digit-dropped", _with_one_more(before, behind, whole, decimals)),
        ("digit-doubled", _with_one_less(before, behind, whole, decimals)),
    ):
        for option, ways in Counter(texts).items():
            after = digits_of(option)
            # Which digit of the true number it is that goes wrong, of equal ones any; what digits
            # that number has is the number's own affair.
            places = max(len(after[0] + after[1]) - (kind == "digits-exchanged"), 1)
            jacobian = 10.0 ** (len(behind) - len(after[1]))
            found.append(Misreading(kind, option, ways * CHANCES[kind] / places, jacobian))
    share = CHANCES["point-moved"] / len(_POINT_MOVES)
    number = Decimal(f"{before or '0'}.{behind or '0'}")
    for move in _POINT_MOVES:
        moved = number.scaleb(move)
        found.append(Misreading("point-moved", f"{moved.normalize():f}", share, 10.0**move))
    return tuple(one for one in found if one.value > 0.0)


def _exchanged(before: str, behind: str) -> Iterator[str]:
    digits = before + behind
    for place in range(len(digits) - 1):
        first, second = digits[place], digits[place + 1]
        if first != second:
            yield _pointed(
                digits[:place] + second + first + digits[place + 2 :], len(before), behind
            )


def _with_one_more(
    before: str, behind: str, whole: int | None, decimals: int | None
) -> Iterator[str]:
    if whole is None or len(before) == whole - 1:
        for place in range(len(before) + 1):
            for digit in "0123456789":
                more = before[:place] + digit + before[place:]
                if not more.startswith("0"):
                    yield _pointed(more + behind, len(more), behind)
    if (decimals is None and behind) or len(behind) == (decimals or 0) - 1:
        for place in range(len(behind) + 1):
            for digit in "0123456789":
                more = behind[:place] + digit + behind[place:]
                yield _pointed(before + more, len(before), more)


def _with_one_less(
    before: str, behind: str, whole: int | None, decimals: int | None
) -> Iterator[str]:
    digits = before + behind
    for place in range(len(digits) - 1):
        if digits[place] != digits[place + 1]:
            continue
        in_whole = place + 1 < len(before)
        # Counts that are known, and right as they are, leave no digit to spare.
        if in_whole and whole is not None and len(before) != whole + 1:
            continue
        if not in_whole and decimals is not None and len(behind) != decimals + 1:
            continue
        shorter = behind if in_whole else behind[1:]
        yield _pointed(digits[:place] + digits[place + 1 :], len(before) - int(in_whole), shorter)


def _pointed(digits: str, whole: int, behind: str) -> str:
    """Set the point behind so many digits; a number without decimals has none."""
    return f"{digits[:whole] or '0'}.{digits[whole:]}" if behind else digits
