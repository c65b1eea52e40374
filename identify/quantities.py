"""Numbers with their unit and standard uncertainty, as they are written in a notebook."""

from __future__ import annotations

import datetime
import math
import numbers
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from types import MappingProxyType

from identify.units import (
    UNITS,
    QuantityError,
    excerpt,
    known_unit,
    plain_characters,
    unit_name,
    write_it_like,
)

__all__ = [
    "RANGES",
    "UNITS",
    "Quantity",
    "QuantityError",
    "Range",
    "as_quantity",
    "excerpt",
    "read_quantity",
    "read_uncertainty",
    "unit_name",
]

LONGEST_TEXT = 200  # characters; no reading with unit and uncertainty needs more


@dataclass(frozen=True)
class Range:
    """Values of a dimension [SI units] that a teaching bench could write down at all.

    The ends are far outside anything useful: they catch slips of a decimal point or a unit by many
    powers of ten, and numbers that arithmetic could not handle. Common practice, no standard.
    """

    lowest: float
    highest: float
    zero_allowed: bool = False
    negative_allowed: bool = False


RANGES: Mapping[str, Range] = MappingProxyType(
    {
        "pressure": Range(1e-3, 1e7),
        "temperature": Range(1e-3, 1273.15, negative_allowed=True),
        "mass": Range(0.0, 100.0, zero_allowed=True),
        "volume": Range(1e-12, 1.0),
        "molar mass": Range(1e-3, 10.0),
        "percent": Range(0.0, 10.0, zero_allowed=True),
        "fraction": Range(0.0, 10.0, zero_allowed=True),
        "length": Range(-2e4, 2e4, zero_allowed=True, negative_allowed=True),
        # A latitude: the only angle that a notebook page holds.
        "angle": Range(-math.pi / 2, math.pi / 2, zero_allowed=True, negative_allowed=True),
        "density": Range(1e-3, 3e4),
    }
)

_SHOWN = {"C": " °C", "F": " °F", "deg": "°", "1": ""}


@dataclass(frozen=True)
class Quantity:
    """A value with its unit and, where known, its standard uncertainty.

    Parameters
    ----------
    value : float
        In `unit`.
    unit : str
        Canonical name, a key of `UNITS`, or any other unit that pint knows.
    uncertainty : float, optional
        Standard uncertainty, in `unit`.
    text : str, optional
        As it was written; plays no part in comparisons.

    Examples
    --------
    >>> pressure = read_quantity("742.0 ± 0.5 mmHg", "pressure")
    >>> print(pressure, "is", pressure.to("kPa"))
    742.0 ± 0.5 mmHg is 98.925 ± 0.067 kPa
    """

    value: float
    unit: str
    uncertainty: float | None = None
    text: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "text", str(self.text)[: LONGEST_TEXT + 1])

    @property
    def dimension(self) -> str:
        """Dimension of the unit, such as ``"pressure"``."""
        return known_unit(self.unit).dimension

    @property
    def last_digit(self) -> float:
        """One unit of the last digit that was written, in `unit`.

        Examples
        --------
        >>> read_quantity("98.110 g", "mass").last_digit
        0.001
        """
        number = re.match(r"\D*\d+(?:[.,](\d+))?", self.text or f"{self.value:.10g}")
        return 10.0 ** -len((number[1] or "") if number else "")

    def to(self, unit: str) -> Quantity:
        """Convert value and uncertainty to another unit of the same dimension.

        Parameters
        ----------
        unit : str
            Any spelling that `read_quantity` takes.

        Returns
        -------
        Quantity
            In `unit`. Temperatures are converted as points on their scales, their
            uncertainties as differences.

        Raises
        ------
        QuantityError
            If either unit is unknown, or they differ in dimension.

        Examples
        --------
        >>> print(Quantity(212.0, "F", 0.9).to("C"))
        100.0 ± 0.5 °C
        """
        if unit == self.unit:
            return self
        here = known_unit(self.unit)
        name = unit_name(unit, here.dimension)
        there = known_unit(name)
        return Quantity(
            value=(self.value + here.zero) * (here.scale / there.scale) - there.zero,
            unit=name,
            uncertainty=(
                None if self.uncertainty is None else self.uncertainty * here.scale / there.scale
            ),
        )

    def __str__(self) -> str:
        unit = _SHOWN.get(self.unit, f" {self.unit}")
        if self.uncertainty is None or not 0.0 < self.uncertainty < math.inf:
            return f"{_as_written(self.value, self.text)}{unit}"
        # Two significant digits of the uncertainty, a trailing zero behind the point left out.
        shown = f"{self.uncertainty:.1e}"
        decimals = 1 - int(shown.partition("e")[2])
        if decimals > 0 and shown[2] == "0":
            decimals -= 1
        if decimals > 12:
            return f"{self.value:.12g} ± {self.uncertainty:.2g}{unit}"
        places = max(decimals, 0)
        value, uncertainty = round(self.value, decimals), round(self.uncertainty, decimals)
        return f"{value:.{places}f} ± {uncertainty:.{places}f}{unit}"


def read_quantity(text: object, dimension: str, default_unit: str | None = None) -> Quantity:
    """Read a quantity as it stands in a notebook, a table cell or a keyword.

    Parameters
    ----------
    text : str or number
        ``"742.0 mmHg"``, ``"742.0 ± 0.5 mmHg"``, ``"742.0 +/- 0.5 mmHg"``, ``"742.0(5) mmHg"``,
        with decimal point or decimal comma, or a plain number. A single comma is a decimal comma.
    dimension : str
        A key of `RANGES`, such as ``"pressure"``.
    default_unit : str, optional
        Unit of a number that stands alone.

    Returns
    -------
    Quantity
        In the unit as written; the uncertainty is a standard uncertainty.

    Raises
    ------
    QuantityError
        If there is no number, more than one way to read it, no unit or a wrong one, or a value
        that no bench can give.

    Examples
    --------
    >>> read_quantity("98,1132(3) g", "mass")
    Quantity(value=98.1132, unit='g', uncertainty=0.0003, text='98,1132(3) g')
    >>> read_quantity(64.6, "temperature", "C").to("K").value
    337.75
    """
    if dimension not in RANGES:
        raise ValueError(f"no dimension {dimension!r}; there are {', '.join(RANGES)}")
    if isinstance(text, str):
        return _read_text(text, dimension, default_unit)
    if isinstance(text, bool) or not isinstance(text, numbers.Real | Decimal):
        raise _not_a_number(text, dimension)
    unit = unit_name(_or_default("", default_unit, str(text), dimension), dimension)
    try:
        value = float(text)
    except (OverflowError, ValueError):  # an integer above 1e308, a signaling NaN
        value = math.inf
    return _checked(Quantity(value, unit, text=f"{value:.10g}"), dimension)


def as_quantity(
    reading: Quantity | float | int | str | None, dimension: str, default_unit: str
) -> Quantity | None:
    """Take what a caller gave for a field: a quantity, a number, a text, or nothing.

    Parameters
    ----------
    reading : Quantity, float, int, str or None
        None stays None; a quantity is checked and kept as it is.
    dimension, default_unit : str
        As for `read_quantity`.

    Returns
    -------
    Quantity or None

    Raises
    ------
    QuantityError
        As `read_quantity` does.

    Examples
    --------
    >>> print(as_quantity(742, "pressure", "mmHg"))
    742 mmHg
    """
    if reading is None:
        return None
    if not isinstance(reading, Quantity):
        return read_quantity(reading, dimension, default_unit)
    for number in (reading.value, reading.uncertainty or 0.0):
        if isinstance(number, bool) or not isinstance(number, numbers.Real):
            raise _not_a_number(number, dimension)
    unit, uncertainty = unit_name(str(reading.unit), dimension), reading.uncertainty
    if uncertainty is not None and not 0.0 < uncertainty < math.inf:
        raise _bad_uncertainty(repr(uncertainty))
    if unit != reading.unit:
        reading = replace(reading, unit=unit)
    return _checked(reading, dimension)


def read_uncertainty(text: object, unit: str) -> float:
    """Read a standard uncertainty that stands by itself, as in a column of its own.

    Parameters
    ----------
    text : str or number
        A number above zero, in `unit` or with its own unit.
    unit : str
        Canonical unit of the quantity that it belongs to.

    Returns
    -------
    float
        In `unit`; for temperatures, a difference.

    Raises
    ------
    QuantityError
        If it is no number above zero, or in a unit of another dimension.

    Examples
    --------
    >>> read_uncertainty("0.9 F", "C")
    0.5
    """
    own = known_unit(unit)
    if isinstance(text, str):
        number, rest = _split_number(_plain(text), text, own.dimension)
        if number.uncertainty is not None:
            raise QuantityError(text, "is an uncertainty of an uncertainty", "write one number")
        value = number.value
        if rest:
            value *= known_unit(unit_name(rest, own.dimension, text)).scale / own.scale
    elif isinstance(text, numbers.Real) and not isinstance(text, bool):
        value = float(text)
    else:
        raise _not_a_number(text, own.dimension)
    if not 0.0 < value < math.inf:
        raise _bad_uncertainty(str(text))
    _check_uncertainty(value, unit, str(text))
    return value


# ------------------------------------------------------------------------------ reading a text


@dataclass(frozen=True)
class _Number:
    value: float
    uncertainty: float | None = None


# The path of nearly every table cell: digits with at most one point, nothing else.
_PLAIN_NUMBER = re.compile(r"\s*[+-]?[0-9]{1,15}(?:\.[0-9]{0,15})?\s*", re.ASCII)
_NUMBER = re.compile(
    r"(?P<number>[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+))"
    r"(?: ?\((?P<digits>[0-9]+(?:[.,][0-9]+)?)\))?"
    r"(?P<exponent>[eE][+-]?[0-9]{1,3}(?![0-9]))?"
)
_PLUS_MINUS = re.compile(r"±|\+ ?/ ?-|\+-")
_BRACKETED = re.compile(r"\(([^()]*(?:±|\+ ?/ ?-|\+-)[^()]*)\)(.*)")
_GROUP_SPACE = re.compile("(?<=[0-9])[\u00a0\u2007\u2009\u202f](?=[0-9]{3}(?![0-9]))")
# A number begun, or gone on with, in raised, lowered or circled digits: 5² is not 52. Raised digits
# behind a unit (cm³, mol⁻¹) are its powers.
_NO_PLAIN_DIGIT = re.compile(r"(?:^|(?<=[0-9.,]))[+-]?([²³¹⁰⁴-⁹₀-₉①-⓿❶-➓])")
_NOT_FINITE = re.compile(r"[+-]?(nan|inf|infinity|∞|#?n/?a|null|none)\b.*", re.IGNORECASE)


def _read_text(text: str, dimension: str, default_unit: str | None) -> Quantity:
    usual = UNITS.get(default_unit) if default_unit else None
    if usual and usual.dimension == dimension and _PLAIN_NUMBER.fullmatch(text):
        return _checked(Quantity(float(text), str(default_unit), None, text.strip()), dimension)
    plain = _plain(text)
    outer = ""
    if bracketed := _BRACKETED.fullmatch(plain):
        plain, outer = bracketed[1].strip(), bracketed[2].strip()
    value_text, *uncertainty_texts = (part.strip() for part in _PLUS_MINUS.split(plain))
    number, unit_text = _split_number(value_text, text, dimension)
    uncertainty, uncertainty_unit = number.uncertainty, ""
    if uncertainty_texts:
        margin, uncertainty_unit = _split_number(uncertainty_texts[0], text, dimension)
        if len(uncertainty_texts) > 1 or uncertainty or margin.uncertainty:
            raise QuantityError(text, "gives its uncertainty twice", "write one uncertainty")
        uncertainty = margin.value
    if outer and (unit_text or uncertainty_unit):
        raise QuantityError(text, "gives its unit twice", "write the unit once, behind the number")
    relative = uncertainty_unit == "%" and dimension not in ("percent", "fraction", "temperature")
    # "742.0 ± 0.5 mmHg": the unit behind the uncertainty serves both.
    shared = outer or unit_text or ("" if relative else uncertainty_unit)
    unit = unit_name(_or_default(shared, default_unit, text, dimension), dimension, text)
    if uncertainty is not None:
        if relative:
            uncertainty *= abs(number.value) / 100.0
        elif uncertainty_unit:
            own = known_unit(unit_name(uncertainty_unit, dimension, text))
            uncertainty *= own.scale / known_unit(unit).scale
        if not 0.0 < uncertainty < math.inf:
            raise _bad_uncertainty(text)
    return _checked(Quantity(number.value, unit, uncertainty, text.strip()), dimension)


def _plain(text: str) -> str:
    """Bring spaces, digits, dashes and degree signs to their plain forms."""
    stripped = text.strip()
    if not stripped:
        raise QuantityError("", "is empty", "write the number and its unit, or leave it out")
    if len(stripped) > LONGEST_TEXT:
        raise QuantityError(
            stripped, f"is {len(stripped)} characters long", "write one number and its unit"
        )
    if odd := _NO_PLAIN_DIGIT.search(stripped):
        raise QuantityError(
            text, f'holds "{odd[1]}", which is no plain digit', "write the number in plain digits"
        )
    return " ".join(plain_characters(_GROUP_SPACE.sub("", stripped)).split())


def _split_number(plain: str, text: str, dimension: str) -> tuple[_Number, str]:
    """Split "742.0(5) mmHg" into number with uncertainty, and unit."""
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
            raise _bad_uncertainty(text)
    return _Number(float(f"{written}e{exponent}"), uncertainty), rest


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


def _or_default(unit: str, default_unit: str | None, text: str, dimension: str) -> str:
    if unit or default_unit:
        return unit or str(default_unit)
    if dimension == "fraction":
        return "1"
    raise QuantityError(text, "has no unit", write_it_like(dimension))


def _checked(quantity: Quantity, dimension: str) -> Quantity:
    """Refuse what no bench can give; return the quantity itself."""
    unit, limits, value = known_unit(quantity.unit), RANGES[dimension], quantity.value
    if quantity.uncertainty is not None:
        _check_uncertainty(quantity.uncertainty, quantity.unit, quantity.text or str(quantity))
    si = (value + unit.zero) * unit.scale
    slack = 1e-12 * abs(si)  # a limit reached in another unit is still reached
    if limits.lowest <= si + slack and si - slack <= limits.highest:
        return quantity
    read = quantity.text or str(quantity)
    if not math.isfinite(value):
        raise QuantityError(read, "is not a finite number", "write the reading, or leave it out")
    kind = "percentage" if dimension == "percent" else dimension
    if dimension == "temperature" and si <= 0.0:
        raise QuantityError(
            read, "is not above absolute zero", "check the sign and the unit (C, K or F)"
        )
    if value == 0.0 and not limits.zero_allowed:
        raise QuantityError(
            read, f"is zero, which no {kind} is", "write the reading, or leave it out"
        )
    if value < 0.0 and not limits.negative_allowed:
        raise QuantityError(read, f"is negative, which no {kind} is", "check the sign")
    side, limit = ("below", limits.lowest) if si < limits.lowest else ("above", limits.highest)
    end = limit / unit.scale - unit.zero
    shown = _SHOWN.get(quantity.unit, f" {quantity.unit}")
    end_shown = f"{float(f'{end:.4g}'):.10g}{shown}"  # 75010 mmHg, not 7.501e+04 mmHg
    raise QuantityError(
        read,
        f"would be {value:.10g}{shown}, {side} any {kind} of use here ({end_shown})",
        "check the decimal point and the unit",
    )


# No instrument divides a dimension's range more finely; past it, squares overflow.
_FINEST = 1e-15


def _check_uncertainty(uncertainty: float, unit: str, read: str) -> None:
    """Refuse an uncertainty wider than the whole range, or finer than any instrument's."""
    known = known_unit(unit)
    part = uncertainty * known.scale / RANGES[known.dimension].highest
    if not _FINEST <= part <= 1.0:
        reason = f"has an uncertainty too {'large' if part > 1.0 else 'small'} for any "
        advice = "check its digits and its unit, or leave it out"
        raise QuantityError(read, reason + known.dimension, advice)


# ------------------------------------------------------------------------------ printing


def _as_written(value: float, text: str) -> str:
    """Show a value without uncertainty with the decimals it was written with."""
    match = _NUMBER.match(text.strip())
    if match and not match["exponent"] and not match["digits"]:
        decimals = len(match["number"].replace(",", ".").partition(".")[2])
        shown = f"{value:.{decimals}f}"
        if float(shown) == value:
            return shown
    return f"{value:.10g}"


def _not_a_number(read: object, dimension: str) -> QuantityError:
    if read is None:
        return QuantityError("", "is empty", "write the number and its unit, or leave it out")
    if isinstance(read, datetime.date | datetime.time):
        return QuantityError(
            str(read), "is a date or time", "format the cell as a number, and enter it again"
        )
    return QuantityError(str(read), "is not a number", write_it_like(dimension))


def _bad_uncertainty(read: str) -> QuantityError:
    return QuantityError(
        read,
        "has an uncertainty that is not above zero",
        "write a standard uncertainty, or leave it out",
    )
