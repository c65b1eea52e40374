"""What a field of the notebook takes, and what it makes of that: readings, sums, words.

A volume measured out in several fills of a graduated cylinder is their sum.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from decimal import Decimal
from typing import TypeAlias

from identify.notebook import usual
from identify.notebook.composition.formulas import FormulaError, parse_formula
from identify.notebook.quantity.notation import (
    LONGEST_SUM,
    TAKEN_AWAY,
    addends,
    number_beside,
    range_in,
    take_apart,
)
from identify.notebook.quantity.quantities import (
    MOST_FILLS,
    Quantity,
    QuantityError,
    as_quantity,
    checked,
    read_quantity,
)
from identify.notebook.quantity.units import excerpt, unit_name
from identify.physics.constants import ICE_POINT

Written: TypeAlias = Quantity | float | int | str
_EXAMPLE = "100.0 + 83.6 mL"
_FOR_EACH = "100.0(5) + 83.6(5) mL"


class Reading:
    """A field of a dataclass: takes what was written, gives the quantity, or None.

    Parameters
    ----------
    dimension : str
        Dimension of the quantity, such as ``"pressure"``.
    unit : str
        Unit of a plain number.
    """

    def __init__(self, dimension: str, unit: str) -> None:
        self.dimension = dimension
        self.unit = unit
        self.name = ""

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = name

    def __get__(self, instance: object, owner: type | None = None) -> Quantity | None:
        # On the class itself this is the field's default: nothing written.
        return None if instance is None else instance.__dict__[self.name]

    def __set__(self, instance: object, written: Written | None) -> None:
        self._keep(instance, written)

    def read(self, written: object, unit: str = "") -> Quantity:
        """Read what a file holds or someone typed.

        Parameters
        ----------
        written : object
            Text or number.
        unit : str, optional
            Unit of a plain number, where that is not the field's own.

        Raises
        ------
        QuantityError
            If it cannot be read.
        """
        return read_quantity(written, self.dimension, unit or self.unit)

    def _keep(self, instance: object, written: object) -> None:
        if written is None:  # nearly always
            instance.__dict__[self.name] = None
            return
        try:
            if isinstance(written, Quantity):
                quantity = as_quantity(written, self.dimension, self.unit)
            else:
                quantity = self.read(written)
        except QuantityError as error:
            error.field = self.name
            raise
        instance.__dict__[self.name] = quantity


class Fills(Reading):
    """A field that adds up: a sum in one text, or a list of readings; see `read_fills`."""

    def __set__(self, instance: object, written: Written | Sequence[Written] | None) -> None:
        self._keep(instance, written)

    def read(self, written: object, unit: str = "") -> Quantity:
        """Read a sum, a list, or a single reading, as `Reading.read` does."""
        return read_fills(written, self.dimension, unit or self.unit)


class Summed(Reading):
    """A field that may be a sum or a difference in one text, such as ``"201.5 - 23.449 g"``.

    A list would be readings to choose from.
    """

    def read(self, written: object, unit: str = "") -> Quantity:
        """Read a sum, a difference or a single reading, as `Reading.read` does."""
        if isinstance(written, str):
            return read_fills(written, self.dimension, unit or self.unit)
        return super().read(written, unit)


class Worded(Reading):
    """A temperature for which a page may have a word of the bench, such as ``"boiling water"``.

    Such a word becomes the quantity that it usually means, with the word as its text: see
    `is_word`.

    Parameters
    ----------
    words : frozenset of str
        Of one or more of `usual.WORDS`.
    """

    def __init__(self, words: frozenset[str]) -> None:
        super().__init__("temperature", "C")
        self.words = words

    def read(self, written: object, unit: str = "") -> Quantity:
        """Read a word, or what `Reading.read` reads."""
        if isinstance(written, str):
            word = " ".join(written.casefold().split())
            if word in self.words:
                return Quantity(usual.word_means(word) - ICE_POINT, "C", text=word)
            if number := number_beside(word, self.words):
                return replace(super().read(number, unit), text=written.strip())
        return super().read(written, unit)


class OneOf:
    """A field that holds one of a few words, empty where nothing is written.

    Parameters
    ----------
    meanings : mapping of str to str
        What is kept, by what people write, in small letters.
    advice : str
        For a word that is not among them.
    """

    unit = ""

    def __init__(self, meanings: Mapping[str, str], advice: str) -> None:
        self.meanings = {**meanings, "": "", **{kept: kept for kept in meanings.values()}}
        self.advice = advice

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = name

    def __get__(self, instance: object, owner: type | None = None) -> str:
        return "" if instance is None else instance.__dict__[self.name]

    def __set__(self, instance: object, written: str) -> None:
        instance.__dict__[self.name] = self.read(written)

    def read(self, written: object, unit: str = "") -> str:
        """Read what a file holds or someone typed.

        Raises
        ------
        QuantityError
            If it is none of the words.
        """
        word = " ".join(str(written).casefold().split())
        if word not in self.meanings:
            reason = "is not one of the words for this"
            raise QuantityError(str(written), reason, self.advice, self.name)
        return self.meanings[word]


class WrittenFormula(OneOf):
    """A field that holds a chemical formula as it was written, empty where nothing is."""

    def __init__(self) -> None:
        super().__init__({}, "write it like C2H6O")

    def read(self, written: object, unit: str = "") -> str:
        """Read it, as `OneOf.read` does."""
        formula = "".join(written.split()) if isinstance(written, str) else str(written)
        try:
            if formula:
                parse_formula(formula)
        except FormulaError as error:
            reason = str(error).partition('" ')[2].partition(";")[0]
            raise QuantityError(str(written), reason, self.advice, self.name) from None
        return formula


def is_word(quantity: Quantity, words: frozenset[str]) -> bool:
    """Say whether a reading is one of these words of the bench, and not a number.

    Examples
    --------
    >>> is_word(Worded(usual.BATH_WORDS).read("Boiling water"), usual.BATH_WORDS)
    True
    """
    return quantity.text in words


def read_fills(written: object, dimension: str, default_unit: str) -> Quantity:
    """Read the sum of several fills, a difference, or a single reading.

    Parameters
    ----------
    written : str, number, Quantity, or a list of these
        ``"100.0 + 100.0 + 83.6 mL"``, or one entry a fill. Behind the last fill of a text, a unit
        serves those that have none. A minus sign between blanks takes away:
        ``"201.5 - 23.449 g"``.
    dimension : str
        A key of `identify.notebook.quantity.dimensions.DIMENSIONS`, such as ``"volume"``.
    default_unit : str
        Unit of fills where none is written.

    Returns
    -------
    Quantity
        The sum, in the unit of the first fill. Its uncertainty is the root of the sum of squares
        where each fill states one: the fills are read independently. Its ``fills`` says how many.

    Raises
    ------
    QuantityError
        If a fill cannot be read, or only some of them state an uncertainty or a unit.

    Examples
    --------
    >>> volume = read_fills("100.0 + 100.0 + 83.6 mL", "volume", "mL")
    >>> print(volume, "in", volume.fills)
    283.6 mL in 3
    >>> print(read_fills(["100.0(3) mL", "83.6(4) mL"], "volume", "mL"))
    183.6 ± 0.5 mL
    >>> print(read_fills("201.5 - 23.449 g", "mass", "g"))
    178.051 g
    """
    if isinstance(written, str) and (_is_single(written) or _is_range(written, dimension)):
        return read_quantity(written, dimension, default_unit)
    entries = _entries(written)
    parts = [part for entry in entries for part in _parts(entry)]
    if len(parts) == 1:
        return _one(entries[0], dimension, default_unit)
    in_one_text = len(entries) == 1
    read = str(entries[0]).strip() if in_one_text else str(parts[0])
    _refuse_too_many(len(parts), read)
    if "" in parts:
        reason = f"has nothing for fill {parts.index('') + 1}"
        raise QuantityError(read, reason, f"write each fill, as in {_EXAMPLE}")
    unit = _shared_unit(_units(parts, dimension), default_unit, in_one_text, read)
    fills = [_fill(number, part, dimension, unit) for number, part in enumerate(parts, 1)]
    text = read if in_one_text else " + ".join(map(_text, parts, fills))
    return _sum(fills, " ".join(text.split()), dimension)


def _entries(written: object) -> list[object]:
    """Return what was written as a list, one entry a fill or a text with several."""
    if hasattr(written, "tolist"):  # an array, a column of a frame, or a number of such
        written = written.tolist()
    entries = list(written) if isinstance(written, list | tuple) else [written]
    if not entries:
        raise QuantityError("", "holds no fill", "write one at least, or leave it out")
    _refuse_too_many(len(entries), str(entries[0]))
    return entries


def _parts(entry: object) -> Sequence[object]:
    """Split a text at its signs, unless it is a formula of a spreadsheet."""
    if not isinstance(entry, str) or _is_single(entry) or entry.lstrip().startswith("="):
        return [entry]
    return addends(entry)


def _is_single(text: str) -> bool:
    return text.isascii() and "+" not in text and " - " not in text


def _is_range(text: str, dimension: str) -> bool:
    """Say whether two numbers with a dash between them go up, as 740 - 742 mmHg do."""
    with suppress(QuantityError):
        return range_in(text, dimension) is not None
    return False


def _one(entry: object, dimension: str, unit: str) -> Quantity:
    if isinstance(entry, Quantity):
        return as_quantity(entry, dimension, unit) or entry
    return read_quantity(entry, dimension, unit)


def _fill(number: int, part: object, dimension: str, unit: str) -> Quantity:
    try:
        if isinstance(part, str) and part.startswith(TAKEN_AWAY):
            taken_away = _one(part[1:], dimension, unit)
            return replace(taken_away, value=-taken_away.value)
        return _one(part, dimension, unit)
    except QuantityError as error:
        raise _of_fill(number, error) from None


def _units(parts: Sequence[object], dimension: str) -> list[str]:
    """Find the unit that each fill states, empty where it states none."""
    units = []
    for number, part in enumerate(parts, 1):
        unit = ""
        try:
            if isinstance(part, Quantity):
                unit = str(part.unit)
            elif isinstance(part, str):
                unit = take_apart(part, dimension).unit
            units.append(unit and unit_name(unit, dimension, str(part)))
        except QuantityError as error:
            raise _of_fill(number, error) from None
    return units


def _shared_unit(units: Sequence[str], default_unit: str, in_one_text: bool, read: str) -> str:
    """Find the unit of the fills that state none."""
    stated = list(dict.fromkeys(unit for unit in units if unit))
    if "" not in units or stated in ([], [default_unit]):
        return default_unit
    if in_one_text and units[-1] and len(stated) == 1:
        return units[-1]
    raise QuantityError(
        read,
        f"has no unit for fill {units.index('') + 1}, where others are in {' and '.join(stated)}",
        "write the unit of each fill",
    )


def _text(part: object, fill: Quantity) -> str:
    # A quantity's own text may leave out its unit.
    return str(fill) if isinstance(part, Quantity) else fill.text


def _sum(fills: Sequence[Quantity], text: str, dimension: str) -> Quantity:
    if len(text) > LONGEST_SUM:
        raise QuantityError(text, f"is {len(text)} characters long", "write numbers and units only")
    unit = fills[0].unit
    same = [fill.to(unit) for fill in fills]
    # Decimal fractions are added as such: 0.1 + 0.2 is 0.3.
    total = float(sum(Decimal(repr(float(fill.value))) for fill in same))
    count = sum(fill.fills for fill in same)
    _refuse_too_many(count, text)
    return checked(Quantity(total, unit, _uncertainty(same, text), text, count), dimension)


def _uncertainty(same: Sequence[Quantity], text: str) -> float | None:
    stated = [fill.uncertainty for fill in same if fill.uncertainty is not None]
    if 0 < len(stated) < len(same):
        without = next(n for n, fill in enumerate(same, 1) if fill.uncertainty is None)
        raise QuantityError(
            text,
            f"states an uncertainty for other fills, but none for fill {without}",
            f"state it for each fill, as in {_FOR_EACH}, or for none",
        )
    return math.hypot(*stated) if stated else None


def _refuse_too_many(count: int, read: str) -> None:
    if count > MOST_FILLS:
        advice = f"use a larger cylinder ({MOST_FILLS} fills at most), or weigh the water"
        raise QuantityError(excerpt(read), f"has {count} fills", advice)


def _of_fill(number: int, error: QuantityError) -> QuantityError:
    fill = f"(fill {number})" if error.read else f"fill {number}"
    return QuantityError(error.read, f"{fill} {error.reason}", error.advice, error.field)
