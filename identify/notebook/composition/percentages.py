"""A percent composition: element symbols and percentages, and the texts that hold several."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from identify.notebook.quantity.notation import decimals_shown, plain_text
from identify.notebook.quantity.quantities import (
    Quantity,
    QuantityError,
    as_quantity,
    read_quantity,
)
from identify.physics.constants import ELEMENTS

_NAMES = (
    "carbon C, hydrogen H, nitrogen N, oxygen O, sulfur S, sulphur S, phosphorus P, fluorine F, "
    "chlorine Cl, bromine Br, iodine I, silicon Si, boron B"
)
# By symbol and by name, in small letters.
ELEMENT_OF = {element.casefold(): element for element in ELEMENTS}
ELEMENT_OF |= dict(pair.split() for pair in _NAMES.split(", "))

_WORD = re.compile(r"(?<![^\W\d_])(?![eE][+-]?[0-9])[^\W\d_]+")
_NOT_SYMBOLS = frozenset({"by", "ca", "is", "of", "to", "w", "wt"})
_BETWEEN = r"(?:[\s,;:=&/{}%]|(?:and|by|is|mass|of|percent|weight|w|wt)(?![^\W\d_]))*"
_BEFORE = re.compile(_BETWEEN, re.IGNORECASE)
_BEHIND = re.compile(rf"{_BETWEEN}\Z", re.IGNORECASE)
# "the rest is oxygen", "balance O", "and oxygen the remainder", at the end.
_AND = r"(?:[\s,;:=]|\b(?:and|the|is|being|of)\b)*"
_LEFT_OVER = r"\b(?:rest|remainder|balance|difference)\b"
_REST = re.compile(
    rf"{_AND}(?:{_LEFT_OVER}{_AND}([^\W\d_]+)|\b([^\W\d_]+){_AND}(?:by\s+)?{_LEFT_OVER})[\s.]*\Z",
    re.IGNORECASE,
)
_FORMULA = re.compile(r"(?:[A-Z][a-z]?[0-9]{0,3})+")


class Percentages(Mapping[str, Quantity]):
    """Percent composition by element symbol, in the order of `ELEMENTS`; does not change."""

    __slots__ = ("_percent",)

    def __init__(self, percent: Mapping[str, Quantity] | None = None) -> None:
        given = percent or {}
        self._percent = {element: given[element] for element in ELEMENTS if element in given}

    def __getitem__(self, element: str) -> Quantity:
        return self._percent[element]

    def __iter__(self) -> Iterator[str]:
        return iter(self._percent)

    def __len__(self) -> int:
        return len(self._percent)

    def __hash__(self) -> int:
        return hash(tuple(self._percent.items()))

    def __repr__(self) -> str:
        return f"Percentages({self._percent!r})"


class Composition:
    """The field of a percent composition: element symbol to quantity, plain numbers in percent.

    A text is split as `split_composition` does.
    """

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = name

    def __get__(self, instance: object, owner: type | None = None) -> Percentages:
        return Percentages() if instance is None else instance.__dict__[self.name]

    def __set__(
        self, instance: object, written: Mapping[str, Quantity | float | int | str] | str | None
    ) -> None:
        percent: dict[str, Quantity] = {}
        if isinstance(written, str):
            pairs = split_composition(written)
            written = dict(pairs)
            if len(written) < len(pairs):
                reason = "names an element twice"
                raise QuantityError(str(pairs), reason, "give each element once", self.name)
        # A pandas Series has items too.
        if written is not None and not hasattr(written, "items"):
            raise QuantityError(str(written), "is not a composition", 'give {"C": 37.5}', self.name)
        for key, reading in () if written is None else written.items():
            element = element_symbol(key)
            if element in percent:
                raise QuantityError(key, "is there twice", "give each element once", self.name)
            try:
                quantity = as_quantity(reading, "percent", "%")
            except QuantityError as error:
                error.field = f"{self.name} {element}"
                raise
            if quantity is not None:
                percent[element] = quantity
        instance.__dict__[self.name] = Percentages(percent)


def element_symbol(text: object) -> str:
    """Find the element that a key of a composition names, by its symbol or its name.

    Examples
    --------
    >>> element_symbol("CL")
    'Cl'
    >>> element_symbol("carbon")
    'C'
    """
    element = ELEMENT_OF.get(str(text).strip().casefold())
    if element is None:
        raise QuantityError(
            str(text), "is not an element known here", f"use {', '.join(ELEMENTS)}", "percent"
        )
    return element


def split_composition(text: str) -> list[tuple[str, str]]:
    """Split a composition in one text into its elements and their percentages, both as written.

    Parameters
    ----------
    text : str
        Elements by symbol or name, each before its number or each behind it.

    Raises
    ------
    QuantityError
        If there is no element, or not a number for each.

    Examples
    --------
    >>> split_composition("C 92.3 H 7.7"), split_composition("92.3 % C and 7,7 % H")
    ([('C', '92.3'), ('H', '7.7')], [('C', '92.3'), ('H', '7,7')])
    """
    plain, rest = _without_rest(plain_text(text))
    if _FORMULA.fullmatch(plain) and any(map(str.isdigit, plain)) and len(plain) > 2:
        raise QuantityError(text, "is a formula", "write it as the formula, or give percentages")
    found = [word for word in _WORD.finditer(plain) if _is_symbol(word[0])]
    no_pair = QuantityError(text, "is not an element and its percent", "write it C=52.1")
    if not found:
        raise no_pair
    numbers, left = _beside(plain, found)
    if _BEFORE.fullmatch(left) is None:
        raise no_pair
    read = [(word[0], _bare(number)) for word, number in zip(found, numbers, strict=True)]
    return [*read, (rest, _rest_of(read))] if rest else read


def _beside(plain: str, found: Sequence[re.Match[str]]) -> tuple[list[str], str]:
    """Return the text beside each element, before all or behind all, and what is left over."""
    ends = [0, *(end for word in found for end in word.span()), len(plain)]
    parts = [plain[start:end] for start, end in zip(ends[::2], ends[1::2], strict=True)]
    if any(map(str.isdigit, parts[0])):
        return parts[:-1], parts[-1]
    return parts[1:], parts[0]


def _without_rest(plain: str) -> tuple[str, str]:
    """Return a composition without what it says of the rest, and the element that the rest is.

    Examples
    --------
    >>> _without_rest("64.8 % C, 13.6 % H, the rest is oxygen")
    ('64.8 % C, 13.6 % H', 'oxygen')
    """
    found = _REST.search(plain)
    return (plain[: found.start()], found[1] or found[2]) if found else (plain, "")


def _rest_of(read: Sequence[tuple[str, str]]) -> str:
    """Return what percentages leave to 100, with their decimals."""
    numbers = [read_quantity(number, "percent", "%") for _, number in read]
    decimals = max(decimals_shown(one.text) or 0 for one in numbers)
    return f"{100.0 - sum(one.value for one in numbers):.{decimals}f}"


def _is_symbol(word: str) -> bool:
    """Say whether a word is an element, or can only be meant for one."""
    folded = word.casefold()
    return folded in ELEMENT_OF or (
        len(word) < 3 and word[0].isupper() and folded not in _NOT_SYMBOLS
    )


def _bare(number: str) -> str:
    """Return a percentage without what stands between it and the elements."""
    begun = _BEFORE.match(number)
    bare = number[begun.end() if begun else 0 :]
    if behind := _BEHIND.search(bare):
        bare = bare[: behind.start()]
    return bare[1:-1].strip() if bare.startswith("(") and bare.endswith(")") else bare
