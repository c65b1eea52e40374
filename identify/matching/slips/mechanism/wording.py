"""What several slips of the pen have to say, in words."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from identify.matching.slips.mechanism.digits import Misread, Misreading
from identify.matching.slips.mechanism.hypothesis import SlipInWords
from identify.notebook.quantity.quantities import Quantity
from identify.notebook.quantity.units import shown_unit

MAX_TOLD_IN_SENTENCE = 5  # readings or trials

_MISWRITTEN = {
    "digits-exchanged": "has perhaps two digits exchanged",
    "digit-dropped": "perhaps lacks a digit",
    "digit-doubled": "has perhaps a digit twice",
    "point-moved": "has perhaps its decimal point in the wrong place",
}


def miswritten(name: str, quantity: Quantity, one: Misreading, key: str) -> SlipInWords:
    """Say that the digits of a number are wrong, and what would be right."""
    meant = Quantity(one.value, quantity.unit, text=one.text)
    sentence = f"{name}, {quantity}, {_MISWRITTEN[one.kind]}: {meant} would fit."
    return SlipInWords(_capitalized(sentence), {key: str(meant)})


def each_miswritten(
    name: str, quantity: Quantity, found: Misread, key: str
) -> Callable[..., SlipInWords]:
    """Return what says so of any of a number's misreadings, whatever the candidate."""

    def tell(which: int, place: int = 0) -> SlipInWords:
        return miswritten(name, quantity, found.each[which], key)

    return tell


def other_unit(name: str, key: str, quantity: Quantity, meant: Quantity, usual: str) -> SlipInWords:
    """Say that a number was read in another unit, and what it then is in the usual one."""
    unit = shown_unit(meant.unit).strip()
    # What was meant in the usual unit needs no conversion.
    ending = f": {meant}." if meant.unit == usual else f": {meant} is {in_unit(meant, usual)}."
    sentence = f"{name}, {quantity}, was perhaps read in {unit}{ending}"
    return SlipInWords(_capitalized(sentence), {key: str(meant)})


def in_unit(quantity: Quantity, unit: str) -> str:
    """Return a quantity in another unit, with one decimal."""
    return f"{quantity.to(unit).value:.1f}{shown_unit(unit)}"


def _capitalized(sentence: str) -> str:
    """Return a sentence with its first letter as a capital, the others as they are."""
    return sentence[0].upper() + sentence[1:]


def of_trials(numbers: Sequence[int]) -> str:
    """Return which trials a slip is in, behind what it is."""
    if len(numbers) > MAX_TOLD_IN_SENTENCE:
        return f" in {len(numbers)} trials"
    *others, last = map(str, numbers)
    return f" in trials {', '.join(others)} and {last}" if others else f" in trial {last}"


def two_digits(value: float) -> str:
    """Return a size with two significant digits, as it is known."""
    return f"{float(f'{value:.2g}'):g}"
