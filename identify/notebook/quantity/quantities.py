"""Numbers with their unit and standard uncertainty, as they are written in a notebook."""

from __future__ import annotations

import datetime
import math
import numbers
from dataclasses import dataclass, field, replace
from decimal import Decimal

from identify.notebook.quantity.dimensions import DIMENSIONS
from identify.notebook.quantity.notation import (
    LONGEST_SUM,
    PLAIN_READING,
    THOUSANDS,
    addends,
    bad_uncertainty,
    decimals_shown,
    in_two_units,
    last_digit_of,
    plain_text,
    range_in,
    split_number,
    take_apart,
    without_about,
)
from identify.notebook.quantity.units import (
    UNITS,
    QuantityError,
    excerpt,
    known_unit,
    shown_unit,
    unit_name,
    write_it_like,
)

__all__ = [
    "DIMENSIONS",
    "UNITS",
    "Quantity",
    "QuantityError",
    "as_quantity",
    "excerpt",
    "read_quantity",
    "read_uncertainty",
    "unit_name",
]

# No instrument divides a dimension's range more finely; past it, squares overflow.
_FINEST = 1e-15
_ROUNDED = 1e-6  # relative: more than is lost where degrees Celsius stand beside a few millikelvins
MOST_FILLS = 40  # of one flask: 1 L with a 25 mL cylinder


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
    fills : int, default=1
        How many readings it is the sum of: a volume measured out with a graduated cylinder in
        several fills has the error of one reading in each of them.

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
    fills: int = 1

    def __post_init__(self) -> None:
        if not isinstance(self.text, str) or len(self.text) > LONGEST_SUM:
            object.__setattr__(self, "text", str(self.text)[: LONGEST_SUM + 1])

    @property
    def dimension(self) -> str:
        """Dimension of the unit, such as ``"pressure"``."""
        return known_unit(self.unit).dimension

    @property
    def last_digit(self) -> float:
        """One unit of the last digit that was written, in `unit`; of a sum, of its finest fill.

        Examples
        --------
        >>> read_quantity("98.110 g", "mass").last_digit
        0.001
        >>> Quantity(183.6, "mL", text="100 + 83.6 mL", fills=2).last_digit
        0.1
        """
        if self.fills > 1 and self.text:
            try:
                return min(self._digit_of_fill(fill) for fill in addends(self.text))
            except QuantityError:  # a text that was made by hand
                pass
        return last_digit_of(self.text or f"{self.value:.10g}")

    def _digit_of_fill(self, fill: str) -> float:
        # A fill without a unit has that of the first, which is the sum's.
        unit = take_apart(fill, self.dimension).unit or self.unit
        return Quantity(last_digit_of(fill), unit).to(self.unit).value

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
            fills=self.fills,
        )

    def __str__(self) -> str:
        unit = shown_unit(self.unit)
        if self.uncertainty is None or not 0.0 < self.uncertainty < math.inf:
            return f"{self._value_as_written()}{unit}"
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

    def _value_as_written(self) -> str:
        """Show the value with the decimals it was written with."""
        decimals = decimals_shown(self.text)
        if self.fills > 1:  # 1e-9: a digit in another unit is a power of ten but for rounding
            decimals = max(0, math.ceil(-math.log10(self.last_digit) - 1e-9))
        if decimals is not None:
            shown = f"{self.value:.{decimals}f}"
            if float(shown) == self.value:
                return shown
        return f"{self.value:.10g}"


def read_quantity(text: object, dimension: str, default_unit: str | None = None) -> Quantity:
    """Read a quantity as it stands in a notebook, a table cell or a keyword.

    Parameters
    ----------
    text : str or number
        ``"742.0 mmHg"``, ``"742.0 ± 0.5 mmHg"``, ``"742.0 +/- 0.5 mmHg"``, ``"742.0(5) mmHg"``,
        with decimal point or decimal comma, or a plain number. A single comma is a decimal comma.
        Of a range, ``"77-79 C"``, the middle; a rough reading, ``"about 78 C"``, is uncertain.
    dimension : str
        A key of `DIMENSIONS`, such as ``"pressure"``.
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
    Quantity(value=98.1132, unit='g', uncertainty=0.0003, text='98,1132(3) g', fills=1)
    >>> read_quantity(64.6, "temperature", "C").to("K").value
    337.75
    """
    if dimension not in DIMENSIONS:
        raise ValueError(f"no dimension {dimension!r}; there are {', '.join(DIMENSIONS)}")
    if isinstance(text, str):
        return _read_text(text, dimension, default_unit)
    if isinstance(text, bool) or not isinstance(text, numbers.Real | Decimal):
        raise _not_a_number(text, dimension)
    unit = unit_name(_or_default("", default_unit, str(text), dimension), dimension)
    try:
        value = float(text)
    except (OverflowError, ValueError):  # an integer above 1e308, a signaling NaN
        value = math.inf
    return checked(Quantity(value, unit, text=f"{value:.10g}"), dimension)


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
    _require_numbers(reading, dimension)
    unit, uncertainty = unit_name(str(reading.unit), dimension), reading.uncertainty
    if uncertainty is not None and not 0.0 < uncertainty < math.inf:
        raise bad_uncertainty(repr(uncertainty))
    return checked(reading if unit == reading.unit else replace(reading, unit=unit), dimension)


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
        If it is not a number above zero, or in a unit of another dimension.

    Examples
    --------
    >>> read_uncertainty("0.9 F", "C")
    0.5
    """
    own = known_unit(unit)
    if isinstance(text, str):
        number, rest = split_number(plain_text(text), text, own.dimension)
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
        raise bad_uncertainty(str(text))
    _check_uncertainty(value, unit, str(text))
    return value


def _read_text(text: str, dimension: str, default_unit: str | None) -> Quantity:
    if plain := PLAIN_READING.fullmatch(text):
        unit = plain[2] or default_unit or ""
        if unit in UNITS and UNITS[unit].dimension == dimension:
            return checked(Quantity(float(plain[1]), unit, None, text.strip()), dimension)
    bare, is_rough = without_about(text)
    if twice := in_two_units(bare):
        read = _in_agreement(text, *(_read_text(one, dimension, default_unit) for one in twice))
    elif ends := range_in(bare, dimension):
        unit = unit_name(_or_default(ends.unit, default_unit, text, dimension), dimension, text)
        # Anywhere in the range is alike likely: a rectangular distribution.
        spread = (ends.high - ends.low) / math.sqrt(12.0)
        read = Quantity(0.5 * (ends.low + ends.high), unit, spread, text.strip())
    else:
        read = _single(text, bare, dimension, default_unit)
    if dimension == "length" and read.unit in ("m", "ft") and THOUSANDS.search(text):
        # Nobody reads a laboratory's height to a millimeter, and both are heights.
        raise QuantityError(
            text, "may be thousands or decimals", "write it without a comma, such as 1600 m"
        )
    return checked(_widened(read, dimension) if is_rough else read, dimension)


def _in_agreement(text: str, first: Quantity, second: Quantity) -> Quantity:
    """Return the first of two readings that are one, in two units."""
    scale, other_scale = known_unit(first.unit).scale, known_unit(second.unit).scale
    rounding = first.last_digit * scale + second.last_digit * other_scale
    if first.dimension == "temperature":
        rounding += 0.2  # K: 273 for 273.15
    apart = abs(second.to(first.unit).value - first.value) * scale
    if apart > rounding:
        raise QuantityError(text, "is two readings, which differ", "write the one that was read")
    return replace(first, text=text.strip())


def _widened(read: Quantity, dimension: str) -> Quantity:
    """Give a rough reading the uncertainty that such have, unless it states one."""
    if read.uncertainty is not None:
        return read
    if rough := DIMENSIONS[dimension].rough:
        return replace(read, uncertainty=rough / known_unit(read.unit).scale)
    return replace(read, uncertainty=max(0.02 * abs(read.value), 0.5 * read.last_digit))


def _single(text: str, bare: str, dimension: str, default_unit: str | None) -> Quantity:
    """Read a single number, with its unit and uncertainty where these are written."""
    written = take_apart(bare, dimension)
    value, uncertainty = written.number
    unit = unit_name(_or_default(written.unit, default_unit, text, dimension), dimension, text)
    if uncertainty is not None:
        if written.relative:
            uncertainty *= abs(value) / 100.0
        elif written.uncertainty_unit:
            own = known_unit(unit_name(written.uncertainty_unit, dimension, text))
            uncertainty *= own.scale / known_unit(unit).scale
        if not 0.0 < uncertainty < math.inf:
            raise bad_uncertainty(text)
    return Quantity(value, unit, uncertainty, text.strip())


def _check_uncertainty(uncertainty: float, unit: str, read: str) -> None:
    """Refuse an uncertainty wider than the whole range, or finer than any instrument's."""
    known = known_unit(unit)
    part = uncertainty * known.scale / DIMENSIONS[known.dimension].highest
    if not _FINEST <= part <= 1.0:
        reason = f"has an uncertainty too {'large' if part > 1.0 else 'small'} for any "
        advice = "check its digits and its unit, or leave it out"
        raise QuantityError(read, reason + known.dimension, advice)


def _or_default(unit: str, default_unit: str | None, text: str, dimension: str) -> str:
    if unit or default_unit:
        return unit or str(default_unit)
    if dimension == "fraction":
        return "1"
    raise QuantityError(text, "has no unit", write_it_like(dimension))


def _require_numbers(reading: Quantity, dimension: str) -> None:
    for number in (reading.value, reading.uncertainty or 0.0):
        if isinstance(number, float):  # nearly always, and told ten times sooner
            continue
        if isinstance(number, bool) or not isinstance(number, numbers.Real):
            raise _not_a_number(number, dimension)
    if not isinstance(reading.fills, int) or not 1 <= reading.fills <= MOST_FILLS:
        advice = f"give a number from 1 to {MOST_FILLS}"
        raise QuantityError(str(reading.fills), "is not a number of fills", advice)


def _not_a_number(read: object, dimension: str) -> QuantityError:
    if read is None:
        return QuantityError("", "is empty", "write the number and its unit, or leave it out")
    if isinstance(read, datetime.date | datetime.time):
        return QuantityError(
            str(read), "is a date or time", "format the cell as a number, and enter it again"
        )
    return QuantityError(str(read), "is not a number", write_it_like(dimension))


def clipped(value: float, unit: str) -> float:
    """Return a value within what a bench can write down at all in its dimension.

    Examples
    --------
    >>> clipped(1130.0, "L"), clipped(1.13, "L")
    (1000.0, 1.13)
    """
    known = known_unit(unit)
    limits = DIMENSIONS[known.dimension]
    ends = (limits.lowest + _ROUNDED * abs(limits.lowest), limits.highest)
    low, high = (end / known.scale - known.zero for end in ends)
    return min(max(value, low), high)


def checked(quantity: Quantity, dimension: str) -> Quantity:
    """Return a quantity, unless no bench can give it.

    Raises
    ------
    QuantityError
        If value or uncertainty are outside the dimension's bounds, see `DIMENSIONS`.
    """
    unit, limits = known_unit(quantity.unit), DIMENSIONS[dimension]
    if quantity.uncertainty is not None:
        _check_uncertainty(quantity.uncertainty, quantity.unit, quantity.text or str(quantity))
    si = (quantity.value + unit.zero) * unit.scale
    slack = 1e-12 * abs(si)  # a limit reached in another unit is still reached
    if limits.lowest <= si + slack and si - slack <= limits.highest:
        return quantity
    raise QuantityError(quantity.text or str(quantity), *_why_outside(quantity, dimension, si))


def _why_outside(quantity: Quantity, dimension: str, si: float) -> tuple[str, str]:
    """Return why no bench can give a quantity, and what to do."""
    limits, value = DIMENSIONS[dimension], quantity.value
    kind = "percentage" if dimension == "percent" else dimension
    leave_out = "write the reading, or leave it out"
    for applies, reason, advice in (
        (not math.isfinite(value), "is not a finite number", leave_out),
        (
            dimension == "temperature" and si <= 0.0,
            "is not above absolute zero",
            "check the sign and the unit (C, K or F)",
        ),
        (value == 0.0 and not limits.zero_allowed, f"is zero, which no {kind} is", leave_out),
        (
            value < 0.0 and not limits.negative_allowed,
            f"is negative, which no {kind} is",
            "check the sign",
        ),
    ):
        if applies:
            return reason, advice
    side, limit = ("below", limits.lowest) if si < limits.lowest else ("above", limits.highest)
    unit, shown = known_unit(quantity.unit), shown_unit(quantity.unit)
    # 75010 mmHg, not 7.501e+04 mmHg
    end = f"{float(f'{limit / unit.scale - unit.zero:.4g}'):.10g}{shown}"
    reason = f"would be {value:.10g}{shown}, {side} any {kind} of use here ({end})"
    return reason, "check the decimal point and the unit"
