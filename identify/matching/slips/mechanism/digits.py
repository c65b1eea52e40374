"""How a number may have been miswritten: digits dropped, doubled or exchanged, the point moved."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from identify.notebook.quantity.quantities import Quantity
from identify.notebook.quantity.units import known_unit
from identify.notebook.usual import LAST_DIGITS
from identify.physics.arrays import Array

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


def in_si(value: float, unit: str) -> float:
    """Return a number of a unit in SI units."""
    known = known_unit(unit)
    return (value + known.zero) * known.scale


@dataclass(frozen=True)
class Misread:
    """What one written number may have been: m misreadings side by side.

    Parameters
    ----------
    each : tuple of Misreading
        All m of them.
    values : array, shape (m,)
        The numbers, in SI units.
    chances : array, shape (m,)
        Before anything is compared.
    odds : array, shape (m,)
        How much likelier such a number is than the one written: by how far apart the numbers are
        that can be written, and where known by how often they end at that digit.
    """

    each: tuple[Misreading, ...]
    values: Array
    chances: Array
    odds: Array

    def about(self, reading: str = "") -> list[tuple[str, str]]:
        """Return the kind of slip of each, and the reading that it is about."""
        return [(one.kind, reading) for one in self.each]

    def some(self, which: NDArray[np.bool_]) -> Misread:
        """Return those of them that are marked."""
        if which.all():
            return self
        each = tuple(self.each[place] for place in np.flatnonzero(which))
        return Misread(each, self.values[which], self.chances[which], self.odds[which])


def misread(
    written: Quantity, field: str = "", whole: int | None = None, decimals: int | None = None
) -> Misread:
    """Return what a reading may have been, see `misreadings`.

    Parameters
    ----------
    written : Quantity
    field : str, optional
        A key of `LAST_DIGITS`, where it is known to which digit such readings are written.
    whole, decimals : int, optional

    Examples
    --------
    >>> found = misread(Quantity(77.5, "mmHg", text="77.5"), "pressure")
    >>> moved = [one.text for one in found.each].index("775")
    >>> print(found.values[moved].round(), found.odds[moved].round(3))
    103325.0 13.0
    """
    return _misread(written_text(written), written.unit, field, whole, decimals)


@lru_cache(maxsize=4096)  # a class works at few pressures, and with few flasks and liquids
def _misread(text: str, unit: str, field: str, whole: int | None, decimals: int | None) -> Misread:
    found = misreadings(text, whole, decimals)
    odds = {one.jacobian: one.jacobian for one in found}
    if field:
        step = known_unit(unit).scale * 10.0 ** -len(digits_of(text)[1])
        count = LAST_DIGITS[field].count
        odds = {jacobian: jacobian * count(step * jacobian) / count(step) for jacobian in odds}
    return Misread(
        found,
        np.array([in_si(one.value, unit) for one in found]),
        np.array([one.chance for one in found]),
        np.array([odds[one.jacobian] for one in found]),
    )


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
    before, _, behind = meant.partition(".")
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
