"""Units of the bench: their names, spellings and factors, and the error for a reading that fails.

The factors of the everyday units are exact and stand in this file. Any other unit is looked up
with pint, which is imported only then.
"""

from __future__ import annotations

import difflib
import math
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from identify.notebook.errors import UnusableInput
from identify.notebook.printable import on_one_line
from identify.notebook.quantity.dimensions import DIMENSIONS
from identify.physics.constants import ATOMIC_WEIGHTS, DRY_AIR_MOLAR_MASS

_LONGEST_EXCERPT = 40  # characters of a cell repeated in a message


class QuantityError(UnusableInput):
    """A reading that cannot be used.

    Parameters
    ----------
    read : str
        What was read, cut to about 40 characters.
    reason : str
        Why it cannot be used; continues the sentence that `read` begins.
    advice : str
        What to do.
    field : str, optional
        Name of the field it was meant for.

    Examples
    --------
    >>> print(QuantityError("98.1 g", "is a mass, not a pressure", "write it like 742.0 mmHg"))
    "98.1 g" is a mass, not a pressure; write it like 742.0 mmHg
    """

    def __init__(self, read: str, reason: str, advice: str, field: str = "") -> None:
        super().__init__(excerpt(read), reason, advice, field)
        self.read = excerpt(read)
        self.reason = reason
        self.advice = advice
        self.field = field

    def __str__(self) -> str:
        place = f"{self.field}: " if self.field else ""
        subject = f'"{self.read}" ' if self.read else "this "
        return f"{place}{subject}{self.reason}; {self.advice}"


@dataclass(frozen=True)
class Unit:
    """One unit: in SI units, a value `x` of it is ``(x + zero) * scale``."""

    dimension: str
    scale: float
    zero: float = 0.0


# mmHg: 13595.1 kg/m3 x 9.80665 m/s2 x 1 mm, the conventional value; torr: 1/760 atm; psi from the
# international pound 0.45359237 kg and inch 25.4 mm, all exact: NIST SP 811 (2008), appendix B.
MMHG = 133.322387415  # Pa
UNITS: Mapping[str, Unit] = MappingProxyType(
    {
        "Pa": Unit("pressure", 1.0),
        "hPa": Unit("pressure", 100.0),
        "kPa": Unit("pressure", 1000.0),
        "mbar": Unit("pressure", 100.0),
        "bar": Unit("pressure", 100000.0),
        "atm": Unit("pressure", 101325.0),
        "torr": Unit("pressure", 101325.0 / 760.0),
        "mmHg": Unit("pressure", MMHG),
        "cmHg": Unit("pressure", 10.0 * MMHG),
        "inHg": Unit("pressure", 25.4 * MMHG),
        "psi": Unit("pressure", 0.45359237 * 9.80665 / 0.0254**2),
        "K": Unit("temperature", 1.0),
        "C": Unit("temperature", 1.0, 273.15),
        "F": Unit("temperature", 5.0 / 9.0, 459.67),
        "kg": Unit("mass", 1.0),
        "g": Unit("mass", 1e-3),
        "mg": Unit("mass", 1e-6),
        "m3": Unit("volume", 1.0),
        "dm3": Unit("volume", 1e-3),
        "L": Unit("volume", 1e-3),
        "cm3": Unit("volume", 1e-6),
        "mL": Unit("volume", 1e-6),
        "uL": Unit("volume", 1e-9),
        "kg/mol": Unit("molar mass", 1.0),
        "g/mol": Unit("molar mass", 1e-3),
        # A vapor's density relative to another gas at the same temperature and pressure: the ratio
        # of their molar masses.
        "H2": Unit("molar mass", 2e-3 * ATOMIC_WEIGHTS["H"]),
        "air": Unit("molar mass", DRY_AIR_MOLAR_MASS),
        "m3/mol": Unit("molar volume", 1.0),
        "L/mol": Unit("molar volume", 1e-3),
        "cm3/mol": Unit("molar volume", 1e-6),
        "%": Unit("percent", 0.01),
        "1": Unit("fraction", 1.0),
        "m": Unit("length", 1.0),
        "cm": Unit("length", 0.01),
        "mm": Unit("length", 0.001),
        "km": Unit("length", 1000.0),
        "ft": Unit("length", 0.3048),
        "rad": Unit("angle", 1.0),
        "deg": Unit("angle", math.pi / 180.0),
        "kg/m3": Unit("density", 1.0),
        "g/L": Unit("density", 1.0),
        "g/mL": Unit("density", 1000.0),
        "g/cm3": Unit("density", 1000.0),
        "kg/L": Unit("density", 1000.0),
    }
)

# Other spellings, as `_folded` leaves them. One dalton a molecule is one gram a mole to 2e-9
# (CODATA 2022, molar mass constant).
_OTHER_SPELLINGS = {
    "mmHg": "mmofhg mmofmercury millimetersofmercury millimetresofmercury mm-hg",
    "cmHg": "cmofhg cmofmercury centimetersofmercury centimetresofmercury cm-hg",
    "inHg": 'inofhg inofmercury inchhg incheshg inchesofhg inchesofmercury in-hg "hg',
    "torr": "torrs",
    "kPa": "kilopascal kilopascals",
    "hPa": "hectopascal hectopascals",
    "mbar": "mb millibar millibars",
    "atm": "atmosphere atmospheres",
    "psi": "psia lb/in2 lbf/in2",
    "Pa": "pascal pascals n/m2",
    "C": "°c degc degreec degreesc celsius degcelsius degreescelsius degreecelsius centigrade",
    "K": "°k degk kelvin kelvins",
    "F": "°f degf degreef degreesf fahrenheit degreesfahrenheit",
    "g": "gram grams gm gms gramme grammes",
    "mg": "milligram milligrams",
    "kg": "kilogram kilograms",
    "mL": "milliliter milliliters millilitre millilitres",
    "L": "liter liters litre litres",
    "uL": "μl microliter microliters microlitre microlitres",
    "cm3": "cc ccm",
    "g/mol": "gmol-1 gpermol gpermole g/mole grams/mol grams/mole gramspermole da dalton amu",
    "kg/mol": "kgmol-1 kgpermol kg/mole",
    "H2": "(h2) (h2=1) h2=1 hydrogen (hydrogen) (hydrogen=1) hydrogen=1 relativetohydrogen "
    "relativetoh2 (relativetohydrogen) timeshydrogen xhydrogen vshydrogen",
    "air": "(air) (air=1) air=1 relativetoair (relativetoair) timesair xair vsair",
    "cm3/mol": "cm3mol-1 ml/mol cc/mol",
    "%": "percent per-cent percentage wt% w% mass% %w/w %wt",
    "m": "meter meters metre metres",
    "ft": "foot feet",
    "deg": "° degree degrees",
    "rad": "radian radians",
    "kg/m3": "kgm-3",
    "g/mL": "gml-1 gml gperml",
    "g/cm3": "gcm-3 g/cc",
}
_SPELLINGS = {name.casefold(): name for name in UNITS} | {
    spelling: name for name, spellings in _OTHER_SPELLINGS.items() for spelling in spellings.split()
}

# How a barometer's reading is shortened where it can only be mercury.
_OF_MERCURY = {
    spelling: name
    for name, spellings in {
        "inHg": 'in inch inches "',
        "mmHg": "mm millimeter millimeters millimetre millimetres",
        "cmHg": "cm centimeter centimeters centimetre centimetres",
    }.items()
    for spelling in spellings.split()
}

# What two units are called, and what to write instead.
_AMBIGUOUS = {"gr": "write g for grams, or grain"}

# Behind a number, where that is not a blank and the name.
_SHOWN = {"C": " °C", "F": " °F", "deg": "°", "1": ""}
_SHOWN |= {"H2": " relative to hydrogen", "air": " relative to air"}

# Degree signs that look alike, and the dashes that word processors put for a minus.
_ALIKE = str.maketrans({"º": "°", "˚": "°", "∘": "°"} | dict.fromkeys("−‒–—﹣-‐‑", "-"))


@lru_cache(maxsize=4096)
def known_unit(name: str) -> Unit:
    """Look up a unit by its canonical name, or by any spelling.

    Raises
    ------
    QuantityError
        If there is no such unit.

    Examples
    --------
    >>> known_unit("hPa")
    Unit(dimension='pressure', scale=100.0, zero=0.0)
    """
    unit = UNITS.get(name) or UNITS.get(_find_name(name) or "") or _unit_from_pint(name)
    if unit is None:
        raise QuantityError(name, "is not a known unit", f"there are {', '.join(UNITS)}")
    return unit


@lru_cache(maxsize=4096)  # the same few, again and again
def unit_name(text: str, dimension: str, read: str = "") -> str:
    """Find the canonical name of a unit of a dimension.

    Parameters
    ----------
    text : str
        The unit as written: ``"mm Hg"``, ``"degC"``, ``"cm³"``.
    dimension : str
        The dimension it must have.
    read : str, optional
        The whole cell, for the message.

    Returns
    -------
    str
        A key of `UNITS`, or the text itself for a unit that only pint knows.

    Raises
    ------
    QuantityError
        If the unit is unknown or of another dimension.

    Examples
    --------
    >>> unit_name("mm Hg", "pressure"), unit_name("°C", "temperature")
    ('mmHg', 'C')
    """
    name = _OF_MERCURY.get(_folded(text)) if dimension == "pressure" else None
    name = name or _find_name(text)
    if name is not None:
        found = known_unit(name).dimension
        wanted = _measured_in(dimension)
        # A ratio may be written either way.
        if found != wanted and {found, wanted} != {"percent", "fraction"}:
            raise _wrong_dimension(read or text, found, dimension)
        return name
    raise _unknown_unit(text, dimension, read)


def _measured_in(dimension: str) -> str:
    """Return the dimension whose units a dimension has."""
    known = DIMENSIONS.get(dimension)
    return (known and known.measured_in) or dimension


def _unknown_unit(text: str, dimension: str, read: str) -> QuantityError:
    written = excerpt(text)
    if instead := _AMBIGUOUS.get(_folded(text)):
        return QuantityError(read or written, f'has "{written}", which may be two units', instead)
    wanted = _measured_in(dimension)
    spellings = [one for one, name in _SPELLINGS.items() if UNITS[name].dimension == wanted]
    # Only spellings that differ by a letter or two: an exact one would have been found.
    near = difflib.get_close_matches(_folded(text[:_LONGEST_EXCERPT]), spellings, n=1)
    advice = f"did you mean {_SPELLINGS[near[0]]}?" if near else write_it_like(dimension)
    if read and read != text:
        return QuantityError(read, f'has "{written}" where its unit should be', advice)
    return QuantityError(written, f"is not a known unit of {dimension}", advice)


def write_it_like(dimension: str) -> str:
    """Advise how a reading of a dimension is written.

    Examples
    --------
    >>> write_it_like("pressure")
    'write it like 742.0 mmHg'
    """
    known = DIMENSIONS.get(dimension)
    return f"write it like {known.example}" if known else "name a unit"


def shown_unit(name: str) -> str:
    """Write a unit as it stands behind a number, with the blank between them.

    Examples
    --------
    >>> f"64.6{shown_unit('C')}", f"287.4{shown_unit('mL')}"
    ('64.6 °C', '287.4 mL')
    """
    return _SHOWN.get(name, f" {name}")


def plain_characters(text: str) -> str:
    """Bring spaces, digits, dashes and degree signs of any alphabet's fonts to their plain forms.

    Examples
    --------
    >>> plain_characters("−5 ℃"), plain_characters("g·mol⁻¹")
    ('-5 °C', 'g·mol-1')
    """
    if text.isascii():
        return text
    return unicodedata.normalize("NFKC", text.translate(_ALIKE)).translate(_ALIKE)


def excerpt(text: object) -> str:
    """Cut a text to about 40 characters on one line, fit to be quoted in a message.

    Examples
    --------
    >>> excerpt("7" * 1_000_000)
    '777777777777777777777777777777777777 ...'
    """
    start = str(text)[: _LONGEST_EXCERPT + 1]
    if len(start) <= _LONGEST_EXCERPT and start.isascii() and start.isprintable():
        return start.strip()
    line = "".join(" " if one.isspace() else one for one in on_one_line(start, " "))
    if len(line) <= _LONGEST_EXCERPT:
        return line.strip()
    return line[: _LONGEST_EXCERPT - 4].strip() + " ..."


def _folded(unit: str) -> str:
    """Bring a unit to the form of the spelling table: no case, spaces, dots or carets."""
    return re.sub(r"[\s.^*·⋅]", "", plain_characters(unit)).casefold()


def is_unit_spelling(text: str) -> bool:
    """Say whether a text is a unit as people write it, one of those that are known here.

    Examples
    --------
    >>> is_unit_spelling("mm Hg"), is_unit_spelling("deg C"), is_unit_spelling("foil")
    (True, True, False)
    """
    return _folded(text) in _SPELLINGS


@lru_cache(maxsize=1024)
def _find_name(text: str) -> str | None:
    if text in UNITS:
        return text
    if len(text) > _LONGEST_EXCERPT:
        return None
    # "MPa" must not become "mPa", nor the reverse: neither is in the table, pint tells them apart.
    known = _SPELLINGS.get(_folded(text))
    if known is not None:
        return known
    if _folded(text) in _AMBIGUOUS:
        return None
    plain = plain_characters(text).strip()
    return plain if _unit_from_pint(plain) is not None else None


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint  # slow to load, and needed for unusual units only

    return pint.UnitRegistry()


# Names with small powers, multiplied or divided; nothing that a calculator would evaluate.
_POWER = r"(?:(?:\^|\*\*)?-?[123])?"
_UNIT_EXPRESSION = re.compile(rf"[^\W\d_]+{_POWER}(?:[*/ ][^\W\d_]+{_POWER})*")


@lru_cache(maxsize=1024)
def _unit_from_pint(name: str) -> Unit | None:
    if len(name) > _LONGEST_EXCERPT or not _UNIT_EXPRESSION.fullmatch(name):
        return None
    if name.casefold().startswith(("delta", "δ")):
        return None  # a temperature difference is not a temperature
    registry = _registry()
    # "cm3" and "g mol-1" are not pint's way to write powers.
    spelled = re.sub(r"(?<=[^\W\d_])(-?[123])", r"**\1", name.replace("^", "").replace("**", ""))
    try:
        unit = registry.Unit(spelled)
        for dimension, si in ((name, one.si) for name, one in DIMENSIONS.items() if one.si):
            if unit.dimensionality == registry.Unit(si).dimensionality:
                at_zero, at_one = (
                    float(registry.Quantity(value, unit).to(si).magnitude) for value in (0.0, 1.0)
                )
                return Unit(dimension, at_one - at_zero, at_zero / (at_one - at_zero))
    except Exception:  # pint passes on whatever its tokenizer, evaluator or logarithms raise
        return None
    return None


def _wrong_dimension(read: str, found: str, wanted: str) -> QuantityError:
    if found == "angle" and wanted == "temperature":
        return QuantityError(read, "does not say which degrees", "write °C, K or °F")
    article = "an" if found[0] in "aeiou" else "a"
    return QuantityError(read, f"is {article} {found}, not a {wanted}", write_it_like(wanted))
