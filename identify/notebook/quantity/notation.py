"""How a reading is written: number, uncertainty, unit and plus signs, taken apart.

Nothing here knows a unit or what a bench can give: `quantities` looks at that.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from identify.notebook.quantity.units import QuantityError, plain_characters, write_it_like

_LONGEST_TEXT = 200  # characters; no reading with unit and uncertainty needs more
# A comma before three digits: read as a decimal one, and perhaps one of thousands.
THOUSANDS = re.compile(r"(?<![\d.,])[1-9]\d{0,2},\d{3}(?![\d.,])")
LONGEST_SUM = 1000  # characters; 40 fills with unit and uncertainty need 700

# The path of nearly every table cell: digits with at most one point, nothing else.
PLAIN_NUMBER = re.compile(r"\s*[+-]?[0-9]{1,15}(?:\.[0-9]{0,15})?\s*", re.ASCII)
# The path of nearly every reading: such a number, and a unit of letters.
PLAIN_READING = re.compile(
    r"\s*([+-]?[0-9]{1,15}(?:\.[0-9]{0,15})?) ?([A-Za-z]+(?:/[A-Za-z]+)?|%)?\s*", re.ASCII
)
_NUMBER = re.compile(
    r"(?P<number>[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+))"
    r"(?: ?\((?P<digits>[0-9]+(?:[.,][0-9]+)?)\))?"
    r"(?P<exponent>[eE][+-]?[0-9]{1,3}(?![0-9]))?"
)
_PLUS_MINUS = re.compile(r"±|\+ ?/ ?-|\+-")
_BRACKETED = re.compile(r"\(([^()]*(?:±|\+ ?/ ?-|\+-)[^()]*)\)(.*)")
# A plus sign that adds: not the first character, not of an exponent (1e+2), not of "+/-" or "+-".
_ADDING = re.compile(r"(?<!^)(?<![0-9.,)][eE])\+(?! ?/ ?-|-)")
# A minus sign that takes away stands between blanks: "10-15 g" and "1e-3" hold none.
_SUBTRACTING = re.compile(r"(?<=[^\s(+/]) - (?=[0-9.,])")
TAKEN_AWAY = "−"  # marks what is taken away, where any other dash has become a plain one
_BRACKETED_SUM = re.compile(r"\(([^()]*)\)([^()+]*)")
_GROUP_SPACE = re.compile("(?<=[0-9])[\u00a0\u2007\u2009\u202f](?=[0-9]{3}(?![0-9]))")
# A power of ten behind a number: "1.01 x 10^5", "1.01 × 10⁵", "1.01*10**5". Raised digits are told
# from plain ones here, before they become such.
_RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻", "0123456789+-")
_POWER_OF_TEN = re.compile(
    r"(?<=[0-9]) ?[x×·⋅*] ?10(?:(?:\^|\*\*) ?([+−-]?[0-9]{1,3})|([⁺⁻]?[⁰¹²³⁴-⁹]{1,3}))(?![0-9])",
    re.IGNORECASE,
)
# A number begun, or gone on with, in raised, lowered or circled digits: 5² is not 52. Raised digits
# behind a unit (cm³, mol⁻¹) are its powers.
_NO_PLAIN_DIGIT = re.compile(r"(?:^|(?<=[0-9.,]))[+-]?([²³¹⁰⁴-⁹₀-₉①-⓿❶-➓])")
# Two of these with a minus sign between them are a difference; of any other dimension, a range.
_TAKEN_FROM_EACH_OTHER = ("mass", "volume", "pressure")
# An uncertainty in percent is not a share of these: it is in percentage points, or meaningless.
_HAVE_NO_SHARE = ("percent", "fraction", "temperature")
_NO_RANGE = ("mass", "volume")  # two of these with a dash between them are as likely a difference
# Words before or behind a reading that is rough, and words between the ends of a range.
_ROUGH = r"(?:about|approximately|approx\.?|around|roughly|circa|ca\.?(?=[\s0-9])|[~≈∼≃])"
_ABOUT = re.compile(rf"{_ROUGH}\s*", re.IGNORECASE)
_OR_SO = re.compile(rf"[\s,]*(?:\s{_ROUGH}|\({_ROUGH}\)|\sor so|\sca\.?|≈|~)", re.IGNORECASE)
_END = r"[+-]?[0-9]+(?:[.,][0-9]+)?"
_RANGE = re.compile(
    rf"(?:(?:between|from) )?(?P<low>{_END}) ?(?P<low_unit>[^0-9+.,-]*?) ?"
    rf"(?:(?P<dash>-)|(?<![^\W_])(?:to|and|until)(?![^\W_])|\.\.+) ?"
    rf"(?P<high>{_END}) ?(?P<unit>[^0-9.,(+-].*)?",
    re.IGNORECASE,
)
_NOT_FINITE = re.compile(r"[+-]?(nan|inf|infinity|∞|#?n/?a|null|none)\b.*", re.IGNORECASE)


class Number(NamedTuple):
    """A number, with the uncertainty that stands in brackets behind it."""

    value: float
    uncertainty: float | None = None


# One reading in two units: "98 C = 371 K", "738 mmHg (0.971 atm)", "99.1°C / 372.1 K".
_WITH_UNIT = rf"{_END}(?:e[+-]?[0-9]+)? ?[^\s0-9.,=/()+-][^=/()]*?"
_TWICE = re.compile(
    rf"(?P<first>{_WITH_UNIT}) ?"
    rf"(?:[=/] ?(?P<second>{_WITH_UNIT})|\( ?=? ?(?P<inside>{_WITH_UNIT}) ?\))",
    re.IGNORECASE,
)


class Range(NamedTuple):
    """A range, and the unit of both ends as written."""

    low: float
    high: float
    unit: str


class Notation(NamedTuple):
    """A reading taken apart.

    Parameters
    ----------
    number : Number
        With its uncertainty, in percent of the number where ``relative``.
    unit : str
        As written, behind the number or for number and uncertainty together; empty where none is.
    uncertainty_unit : str
        As written, where the uncertainty has one.
    relative : bool
        The uncertainty is a percentage of the number.
    """

    number: Number
    unit: str
    uncertainty_unit: str = ""
    relative: bool = False


def take_apart(text: str, dimension: str) -> Notation:
    """Take a reading apart.

    Parameters
    ----------
    text : str
        ``"742.0 ± 0.5 mmHg"``, ``"742.0(5) mmHg"``, ``"(742.0 +/- 0.5) mmHg"`` and so on.
    dimension : str
        Dimension that the reading is meant to have.

    Returns
    -------
    Notation

    Raises
    ------
    QuantityError
        If there is no number, or more than one way to read it.

    Examples
    --------
    >>> take_apart("742,0 mm Hg ± 1 %", "pressure")[:2]
    (Number(value=742.0, uncertainty=1.0), 'mm Hg')
    """
    plain = plain_text(text)
    _refuse_sum(plain, text, dimension)
    plain, outer = _unwrapped(_BRACKETED, plain)
    value_text, *margins = _PLUS_MINUS.split(plain)
    number, unit = split_number(value_text.strip(), text, dimension)
    uncertainty_unit = ""
    if margins:
        number, uncertainty_unit = _with_margin(number, margins, text, dimension)
    if outer and (unit or uncertainty_unit):
        raise QuantityError(text, "gives its unit twice", "write the unit once, behind the number")
    if uncertainty_unit == "%" and dimension not in _HAVE_NO_SHARE:
        return Notation(number, outer or unit, uncertainty_unit, relative=True)
    # "742.0 ± 0.5 mmHg": the unit behind the uncertainty serves both.
    return Notation(number, outer or unit or uncertainty_unit, uncertainty_unit)


def without_about(text: str) -> tuple[str, bool]:
    """Return a reading without the words that call it rough, and whether there were any.

    Examples
    --------
    >>> without_about("about 78 C"), without_about("~78"), without_about("78 °C approx.")
    (('78 C', True), ('78', True), ('78 °C', True))
    """
    if len(text) > _LONGEST_TEXT:
        return text, False
    bare = text.strip()
    if (about := _ABOUT.match(bare)) and about.end() < len(bare):
        return bare[about.end() :], True
    for behind in _OR_SO.finditer(bare):
        if behind.start() > 0 and behind.end() == len(bare):
            return bare[: behind.start()], True
    return text, False


def number_beside(text: str, words: Iterable[str]) -> str:
    """Return the reading that stands beside one of these words, empty where none does.

    Parameters
    ----------
    text : str
        In small letters, with single blanks.
    words : iterable of str

    Examples
    --------
    >>> number_beside("boiling water, 99 c", ["boiling water"])
    '99 c'
    >>> number_beside("22 c (room temperature)", ["room", "room temperature"])
    '22 c'
    """
    for word in sorted(words, key=len, reverse=True):
        before, found, behind = text.partition(word)
        if not found or before[-1:].isalpha() or behind[:1].isalpha():
            continue
        if not before and any(map(str.isdigit, behind)):
            number = behind.lstrip(" ,;:=").removeprefix("at ").removeprefix("of ")
            return number[1:-1] if number.startswith("(") and number.endswith(")") else number
        if behind.strip(" )") == "" and any(map(str.isdigit, before)):
            return before.rstrip(" ,;:(")
    return ""


def range_in(text: str, dimension: str) -> Range | None:
    """Take a range apart; None for what is not one.

    Raises
    ------
    QuantityError
        If it ends below its beginning.

    Examples
    --------
    >>> range_in("77–79 °C", "temperature"), range_in("78 C", "temperature")
    (Range(low=77.0, high=79.0, unit='°C'), None)
    """
    found = _RANGE.fullmatch(plain_text(text)) if len(text) <= _LONGEST_TEXT else None
    if found is None or (found["dash"] and dimension in _NO_RANGE):
        return None
    low, high = (float(found[end].replace(",", ".")) for end in ("low", "high"))
    unit, low_unit = (found["unit"] or "").strip(), found["low_unit"].strip()
    if low_unit not in ("", "°", unit):  # 20 C - 30 F
        return None
    if not low < high:
        advice = "write the lower end first, or one number"
        raise QuantityError(text, "is a range that does not go up", advice)
    return Range(low, high, unit or low_unit)


def in_two_units(text: str) -> tuple[str, str] | None:
    """Take apart a reading that is written in two units; None for any other.

    Examples
    --------
    >>> in_two_units("98 C = 371 K"), in_two_units("738 mmHg (0.971 atm)"), in_two_units("98 C")
    (('98 C', '371 K'), ('738 mmHg', '0.971 atm'), None)
    """
    found = _TWICE.fullmatch(plain_text(text)) if len(text) <= _LONGEST_TEXT else None
    return found and (found["first"], found["second"] or found["inside"])


def _unwrapped(brackets: re.Pattern[str], plain: str) -> tuple[str, str]:
    """Return what stands in brackets, and behind them; all of it where there are none."""
    found = brackets.fullmatch(plain)
    return (found[1].strip(), found[2].strip()) if found else (plain, "")


def _with_margin(
    number: Number, margins: Sequence[str], text: str, dimension: str
) -> tuple[Number, str]:
    """Return a number with the uncertainty behind its plus-minus sign, and the unit of that."""
    margin, unit = split_number(margins[0].strip(), text, dimension)
    if len(margins) > 1 or number.uncertainty or margin.uncertainty:
        raise QuantityError(text, "gives its uncertainty twice", "write one uncertainty")
    return Number(number.value, margin.value), unit


def plain_text(text: str, longest: int = _LONGEST_TEXT) -> str:
    """Bring spaces, digits, powers of ten, dashes and degree signs to their plain forms.

    Raises
    ------
    QuantityError
        If there is nothing, too much, or a digit that is not a plain one.

    Examples
    --------
    >>> plain_text(" 101\u202f325  Pa ")
    '101325 Pa'
    >>> plain_text("1.013 × 10⁵ Pa"), plain_text("1.013 x 10^5 Pa")
    ('1.013e5 Pa', '1.013e5 Pa')
    """
    stripped = text.strip()
    if not stripped:
        raise QuantityError("", "is empty", "write the number and its unit, or leave it out")
    if len(stripped) > longest:
        raise QuantityError(
            stripped, f"is {len(stripped)} characters long", "write one number and its unit"
        )
    stripped = _with_exponents(stripped)
    if odd := _NO_PLAIN_DIGIT.search(stripped):
        raise QuantityError(
            text,
            f'holds "{odd[1]}", which is not a plain digit',
            "write the number in plain digits",
        )
    return " ".join(plain_characters(_GROUP_SPACE.sub("", stripped)).split())


def _with_exponents(text: str) -> str:
    """Write powers of ten as exponents: 1.01 × 10⁵ is 1.01e5."""
    return _POWER_OF_TEN.sub(
        lambda power: "e" + (power[1] or power[2].translate(_RAISED)).replace("−", "-"), text
    )


def split_number(plain: str, text: str, dimension: str) -> tuple[Number, str]:
    """Split a number with its bracketed uncertainty from the unit behind it.

    Parameters
    ----------
    plain : str
        From `plain_text`, or a part of that.
    text : str
        The whole reading, for messages.
    dimension : str
        For advice.

    Raises
    ------
    QuantityError
        If there is no number, or more than one way to read it.

    Examples
    --------
    >>> split_number("742.0(5) mmHg", "742.0(5) mmHg", "pressure")
    (Number(value=742.0, uncertainty=0.5), 'mmHg')
    """
    match = _NUMBER.match(plain)
    if match is None:
        if _NOT_FINITE.fullmatch(plain):
            raise QuantityError(text, "is not a number", "write the reading, or leave it out")
        if plain.startswith("="):
            raise QuantityError(
                text,
                "is a formula that was never worked out",
                "open the file in a spreadsheet and save it again, or write the number",
            )
        raise QuantityError(text, "does not start with a number", write_it_like(dimension))
    rest = plain[match.end() :].strip()
    _refuse_second_number(match["number"], plain[match.end() :], text)
    written = match["number"].replace(",", ".")
    exponent = int((match["exponent"] or "e0")[1:])
    uncertainty = None
    if digits := match["digits"]:
        if "." in digits or "," in digits:
            uncertainty = float(f"{digits.replace(',', '.')}e{exponent}")
        else:  # digits in brackets count in the last place written
            uncertainty = float(f"{digits}e{exponent - len(written.partition('.')[2])}")
        if not 0.0 < uncertainty < math.inf:
            raise bad_uncertainty(text)
    return Number(float(f"{written}e{exponent}"), uncertainty), rest


def addends(text: str) -> list[str]:
    """Split a sum at the plus signs that add, and at minus signs between blanks.

    A text without any stays whole; what is taken away begins with `TAKEN_AWAY`.

    Raises
    ------
    QuantityError
        As `plain_text` does.

    Examples
    --------
    >>> addends("100.0 +/- 0.5 + 1e+2 + 83.6 ± 0.5 mL")
    ['100.0 +/- 0.5', '1e+2', '83.6 ± 0.5 mL']
    >>> addends("(100.0 + 83.6) mL")
    ['100.0', '83.6 mL']
    >>> addends("201.5 − 23.449 g")
    ['201.5', '−23.449 g']
    """
    return _addends(plain_text(text, LONGEST_SUM))


@lru_cache(maxsize=4096)  # of the same masses for the balance, the checks and the budget
def last_digit_of(text: str) -> float:
    """Return one unit of the last digit of the first number in a text, 1 where there is none.

    Examples
    --------
    >>> last_digit_of("98.110 g"), last_digit_of("1.0e5 Pa"), last_digit_of("1.0 × 10⁵ Pa")
    (0.001, 10000.0, 10000.0)
    """
    number = _NUMBER.search(_with_exponents(text))
    if number is None:
        return 1.0
    exponent = int((number["exponent"] or "e0")[1:])
    decimals = len(number["number"].replace(",", ".").partition(".")[2])
    return float(f"1e{exponent - decimals}")


def decimals_shown(text: str) -> int | None:
    """Count the decimals of the number that begins a text, None where it is not written plainly.

    Examples
    --------
    >>> decimals_shown("98.110 g"), decimals_shown("9.8(1)e5 Pa"), decimals_shown("")
    (3, None, None)
    """
    number = _NUMBER.match(_with_exponents(text.strip()))
    if number is None or number["exponent"] or number["digits"]:
        return None
    return len(number["number"].replace(",", ".").partition(".")[2])


def bad_uncertainty(read: str) -> QuantityError:
    """Make the error for an uncertainty of zero, below zero, or without end."""
    return QuantityError(
        read,
        "has an uncertainty that is not above zero",
        "write a standard uncertainty, or leave it out",
    )


def _addends(plain: str) -> list[str]:
    if "+" not in plain and " - " not in plain:
        return [plain]
    inner, outer = _unwrapped(_BRACKETED_SUM, plain)
    parts = [part.strip() for part in _ADDING.split(_SUBTRACTING.sub(f"+{TAKEN_AWAY}", inner))]
    if len(parts) == 1:
        return [plain]
    return [*parts[:-1], f"{parts[-1]} {outer}".strip()]


def _refuse_sum(plain: str, text: str, dimension: str) -> None:
    parts = _addends(plain)
    is_difference = any(part.startswith(TAKEN_AWAY) for part in parts)
    if is_difference and dimension not in _TAKEN_FROM_EACH_OTHER:
        return  # a range
    if len(parts) > 1 and all(_NUMBER.match(part.lstrip(f"({TAKEN_AWAY}")) for part in parts):
        kind = "difference" if is_difference else "sum"
        raise QuantityError(text, f"is a {kind}", "work it out and write one number")


def _refuse_second_number(number: str, rest: str, text: str) -> None:
    """Refuse "1,234.5", "1.234.567", "101 325", "10-15": more than one way to read them."""
    if re.match(r"[.,][0-9]", rest):
        marks = {mark for mark in number + rest[0] if mark in ".,"}
        if len(marks) == 2:
            reason = 'can be read two ways, for either "," or "." may mark the decimals'
        else:
            reason = f'has "{rest[0]}" more than once, so that its decimals are not clear'
        raise QuantityError(
            text, reason, "write it without thousands separators, such as 1234.5 or 1234,5"
        )
    if re.match(r"[-+'’/ ]*[0-9]", rest):
        raise QuantityError(
            text, "holds more than one number", "write one number, without thousands separators"
        )
