"""How a number may have been miswritten: digits dropped, doubled or exchanged, the point moved."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property, lru_cache

from identify.notebook.quantity.quantities import Quantity
from identify.notebook.quantity.units import known_unit
from identify.notebook.usual import LAST_DIGITS

# The kinds, each with the chance that one number on a page has it. Common practice: a few slips in
# a thousand numbers that are copied by hand.
CHANCES = {
    "digits-exchanged": 0.0010,
    "digit-dropped": 0.0006,
    "digit-doubled": 0.0003,
    "point-moved": 0.0006,
}
_NUMBER = re.compile(r"(\d*)(?:[.,](\d*))?")
_MAX_DIGITS = 12
_POINT_MOVES = {1: 0.4, -1: 0.4, 2: 0.1, -2: 0.1}  # by so many places, and how often


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


def written_text(quantity: Quantity) -> str:
    """Return a number as it was written, or as it would be."""
    # The digits of a sum of fills are its own: those of the fills are looked through by nobody.
    # Nor are those of a number with an exponent, or with spaces between its digits.
    before, behind = digits_of(quantity.text)
    if quantity.fills == 1 and before + behind and float(f"{before}.{behind}") == quantity.value:
        return quantity.text
    return f"{Decimal(f'{quantity.value:.10g}'):f}"


def decimals_odds(field: str, written: Quantity, one: Misreading) -> float:
    """Return how much likelier such a reading is written to the meant one's last digit than to its.

    Examples
    --------
    >>> written = Quantity(77.5, "mmHg", text="77.5")
    >>> moved = next(one for one in misreadings("77.5") if one.text == "775")
    >>> decimals_odds("pressure", written, moved)
    1.3
    """
    digits, unit = LAST_DIGITS[field], known_unit(written.unit).scale
    step = unit * 10.0 ** -len(digits_of(written_text(written))[1])
    return digits.count(step * one.jacobian) / digits.count(step)


def in_si(value: float, unit: str) -> float:
    """Return a number of a unit in SI units."""
    known = known_unit(unit)
    return (value + known.zero) * known.scale


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
    written = _Digits(*digits_of(text), whole, decimals)
    # Whoever writes a minus means it; what would fit then is nobody's slip of a digit.
    if not 0 < len(written.all) <= _MAX_DIGITS or text.strip()[0] in "-\u2212":
        return ()
    found = [
        _misreading(kind, written, meant, ways)
        for kind, texts in _KINDS.items()
        for meant, ways in Counter(texts(written)).items()
    ]
    return tuple(one for one in (*found, *_with_the_point_moved(written)) if one.value > 0.0)


@dataclass(frozen=True)
class _Digits:
    """A number's digits before and behind the point, and how many of each it should have."""

    before: str
    behind: str
    whole: int | None
    decimals: int | None

    @property
    def all(self) -> str:
        return self.before + self.behind


def _misreading(kind: str, written: _Digits, meant: str, ways: int) -> Misreading:
    before, behind = digits_of(meant)
    # Which digit of the true number it is that goes wrong, of equal ones any; what digits that
    # number has is the number's own affair.
    places = max(len(before + behind) - (kind == "digits-exchanged"), 1)
    jacobian = 10.0 ** (len(written.behind) - len(behind))
    return Misreading(kind, meant, ways * CHANCES[kind] / places, jacobian)


def _with_the_point_moved(written: _Digits) -> Iterator[Misreading]:
    kind = "point-moved"
    number = Decimal(f"{written.before or '0'}.{written.behind or '0'}")
    for move, share in _POINT_MOVES.items():
        if written.decimals not in (None, max(len(written.behind) - move, 0)):
            continue  # it would have had other decimals than such numbers have
        moved = f"{number.scaleb(move).normalize():f}"
        yield Misreading(kind, moved, CHANCES[kind] * share, 10.0**move)


def _exchanged(written: _Digits) -> Iterator[str]:
    digits = written.all
    for place in range(len(digits) - 1):
        first, second = digits[place], digits[place + 1]
        if first != second:
            exchanged = digits[:place] + second + first + digits[place + 2 :]
            yield _pointed(exchanged, len(written.before), written.behind)


def _with_one_more(written: _Digits) -> Iterator[str]:
    before, behind = written.before, written.behind
    if written.whole is None or len(before) == written.whole - 1:
        for more in _with_any_digit(before):
            if not more.startswith("0"):
                yield _pointed(more + behind, len(more), behind)
    if (written.decimals is None and behind) or len(behind) == (written.decimals or 0) - 1:
        for more in _with_any_digit(behind):
            yield _pointed(before + more, len(before), more)


def _with_any_digit(digits: str) -> Iterator[str]:
    for place in range(len(digits) + 1):
        for digit in "0123456789":
            yield digits[:place] + digit + digits[place:]


def _with_one_less(written: _Digits) -> Iterator[str]:
    digits, before, behind = written.all, written.before, written.behind
    for place in range(len(digits) - 1):
        if digits[place] != digits[place + 1]:
            continue
        in_whole = place + 1 < len(before)
        part, expected = (before, written.whole) if in_whole else (behind, written.decimals)
        # Counts that are known, and right as they are, leave no digit to spare.
        if expected is None or len(part) == expected + 1:
            shorter = digits[:place] + digits[place + 1 :]
            left = behind if in_whole else behind[1:]
            yield _pointed(shorter, len(before) - int(in_whole), left)


def _pointed(digits: str, whole: int, behind: str) -> str:
    """Set the point behind so many digits; a number without decimals has none."""
    return f"{digits[:whole] or '0'}.{digits[whole:]}" if behind else digits


_KINDS = {
    "digits-exchanged": _exchanged,
    "digit-dropped": _with_one_more,
    "digit-doubled": _with_one_less,
}
