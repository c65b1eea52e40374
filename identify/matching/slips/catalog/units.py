"""Units mistaken in a weighing, in one reading or by one habit in several."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from math import isclose, prod

import numpy as np

from identify.matching.slips.mechanism.case import GRAMS, Case
from identify.matching.slips.mechanism.hypothesis import SlipInWords
from identify.matching.slips.mechanism.rewriting import (
    Rewritten,
    SlipList,
    WrittenReading,
    credible,
    likelier,
    written_readings,
)
from identify.matching.slips.mechanism.wording import (
    MAX_TOLD_IN_SENTENCE,
    in_unit,
    of_trials,
    other_unit,
)
from identify.notebook.findings import listed
from identify.notebook.quantity.quantities import Quantity
from identify.notebook.quantity.units import UNITS
from identify.physics.arrays import Array

# Chances of a slip on one page, before anything is compared. Common practice.
UNIT_CHANCE = 0.003
_TEMPERATURE_UNIT_CHANCE = 0.002
_MASS_UNIT_CHANCE = 0.0005


@dataclass(frozen=True)
class _Unitless:
    """A reading that may be written without its unit.

    Parameters
    ----------
    units : tuple of str
        That a bench could have read it in.
    usual, si : str
        The unit that it is told in, and the SI unit.
    code : str
        Of the slip.
    chance : float
    """

    units: tuple[str, ...]
    usual: str
    si: str
    code: str
    chance: float


_TEMPERATURE = _Unitless(("C", "F", "K"), "C", "K", "temperature-unit", _TEMPERATURE_UNIT_CHANCE)
PRESSURE_UNITS = ("mmHg", "kPa", "hPa", "inHg", "atm", "psi")
_UNITLESS = {
    "pressure": _Unitless(PRESSURE_UNITS, "mmHg", "Pa", "pressure-unit", UNIT_CHANCE),
    "volume": _Unitless(("mL", "L"), "mL", "m3", "volume-unit", UNIT_CHANCE),
    "bath": _TEMPERATURE,
    "room": _TEMPERATURE,
}


def _masses_in_milligrams(case: Case) -> Iterator[Rewritten]:
    """Yield masses read in milligrams and written down in grams."""
    gain = case.weighings.read.gain / GRAMS
    milligrams = f"{1e6 * float(np.mean(gain)):.1f} mg"
    told = SlipInWords(
        "The masses were perhaps read in mg and written down in g: then the gain was "
        f"{milligrams}.",
        {"gain": milligrams},
    )
    empty = case.trials[0].written.empty
    written = 0.1 if empty is None else empty.to("kg").value
    yield Rewritten(
        "mass-in-mg",
        _MASS_UNIT_CHANCE,
        {"gain": gain},
        lambda: told,
        odds=float(likelier("mass", written / GRAMS, written, GRAMS**-2)),
        digit=1.0 / GRAMS,
    )


def _units_mistaken(case: Case) -> Iterator[Rewritten]:
    """Yield each reading in another unit, and all together that none could be as written."""
    impossible: list[_OtherUnit] = []
    for options in _other_units(case):
        written, kind = options[0].written, options[0].kind
        others = len(kind.units) - 1
        chance = kind.chance / others if written.field == "pressure" else kind.chance
        for one in options:
            tell = partial(
                other_unit, written.name, written.key, written.quantity, one.meant, kind.usual
            )
            yield written.meant(one.value, kind.code, chance, tell, one.jacobian)
        if not credible(written.field, written.now):
            impossible.append(max(options, key=lambda one: one.odds))
    if len(impossible) > 1:
        yield _all_together(impossible)


@dataclass(frozen=True)
class _OtherUnit:
    """A reading as it was written, and the same number in another unit."""

    written: WrittenReading
    meant: Quantity

    @property
    def kind(self) -> _Unitless:
        return _UNITLESS[self.written.field]

    @cached_property
    def value(self) -> float:
        """In SI units."""
        return self.meant.to(self.kind.si).value

    @property
    def jacobian(self) -> float:
        """How much larger a step of the number is in the other unit."""
        unit = self.written.quantity.unit
        own = UNITS[unit].scale if unit in UNITS else 1.0
        return UNITS[self.meant.unit].scale / own

    @property
    def odds(self) -> float:
        odds = likelier(self.written.field, self.value, self.written.now, self.jacobian)
        return float(odds)

    @property
    def is_possible(self) -> bool:
        """Whether it is another reading than was written, and one that a bench can show."""
        as_written = self.written.quantity.to(self.kind.si).value
        is_another = not isclose(self.value, as_written, rel_tol=1e-3)
        return is_another and credible(self.written.field, self.value)


def _other_units(case: Case) -> Iterator[list[_OtherUnit]]:
    """Yield, of each reading that has any, the other units that a bench could have read it in."""
    for field, kind in _UNITLESS.items():
        for written in written_readings(case, field):
            if field == "volume" and written.quantity.unit not in ("mL", "L", "cm3"):
                continue
            others = [
                _OtherUnit(written, Quantity(written.quantity.value, unit))
                for unit in kind.units
                if unit != written.quantity.unit
            ]
            if options := [one for one in others if one.is_possible]:
                yield options


def _all_together(units: Sequence[_OtherUnit]) -> Rewritten:
    """One habit, such as that of writing what goes into a formula, and not one slip a reading."""
    changes: dict[str, Array] = {}
    for one in units:
        values = changes.setdefault(one.written.field, one.written.values(one.value))
        values[list(one.written.places)] = one.value
    kind = units[0].kind
    code, chance = (kind.code, kind.chance) if len(changes) == 1 else ("several-units", UNIT_CHANCE)
    odds = prod(one.odds for one in units)
    return Rewritten(code, chance, changes, partial(_several_units, units), odds)


def _several_units(units: Sequence[_OtherUnit]) -> SlipInWords:
    keys = [one.written.key for one in units]
    parts, repaired = [], {}
    for one in units:
        written, usual = one.written, one.kind.usual
        same = f" ({in_unit(one.meant, usual)})" if one.meant.unit != usual else ""
        part = f"{written.name} {one.meant}{same}"
        if keys.count(written.key) == 1:
            parts.append(part)
            repaired[written.key] = str(one.meant)
            continue
        parts.append(f"{part}{of_trials(written.numbers)}")
        repaired |= {f"trial {number} {written.key}": str(one.meant) for number in written.numbers}
    if len(parts) > MAX_TOLD_IN_SENTENCE:
        parts[MAX_TOLD_IN_SENTENCE:] = [f"{len(parts) - MAX_TOLD_IN_SENTENCE} more"]
    return SlipInWords(
        f"Several numbers were perhaps read in other units: {listed(parts)}.", repaired
    )


SLIPS: SlipList = {"weighings": (_masses_in_milligrams, _units_mistaken)}
