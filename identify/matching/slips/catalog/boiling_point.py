"""Slips in a boiling point: its unit, its digits, how it was read."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from math import log

import numpy as np

from identify.bench.bench import Bench
from identify.bench.laboratory import pressure_text
from identify.matching.slips.catalog.units import PRESSURE_UNITS, UNIT_CHANCE
from identify.matching.slips.mechanism.case import Case
from identify.matching.slips.mechanism.digits import (
    Misreading,
    in_si,
    misread,
    misreadings,
    written_text,
)
from identify.matching.slips.mechanism.hypothesis import (
    Hypotheses,
    Hypothesis,
    SlipInWords,
    saying,
)
from identify.matching.slips.mechanism.rewriting import SlipList
from identify.matching.slips.mechanism.wording import (
    each_miswritten,
    miswritten,
    other_unit,
)
from identify.notebook.measurement import Measurement
from identify.notebook.plausible import PLAUSIBLE
from identify.notebook.quantity.notation import PLAIN_NUMBER
from identify.notebook.quantity.quantities import Quantity
from identify.notebook.quantity.units import known_unit
from identify.notebook.usual import BOILING_PRESSURES
from identify.observables.boiling_point import BOILING_POINT
from identify.physics.constants import ICE_POINT, STANDARD_PRESSURE

# Chances on one card, before anything is compared. Common practice.
_UNIT_CHANCE = 0.002
# Of such a chance in a number that is written in °F or K: whoever does so means it, and has mostly
# read it in °C before.
_EXPLICIT = 0.1
_WELL_KNOWN = 1.5  # K
# That a boiling point whose pressure nobody wrote is the laboratory's: of what students read, most;
# of what stands on a card, what a stockroom has read itself; where nobody says who read it, either.
_AT_LABORATORY_CHANCE = {"own": 0.6, "": 0.25, "card": 0.1}
_LEAST_DIFFERENCE = 0.03  # of the logarithm of the pressure: 1 K, as much as a card is off
# No thread and no superheating moves a boiling point farther [K]: what does is something else.
_FARTHEST = 15.0

_NAME_AND_KEY = ("the boiling point", "boiling_point")  # in a sentence, and in the notebook
_PRESSURE_NAME_AND_KEY = ("the pressure of the boiling point", "boiling_point_at")


def _boiling_point_unit(case: Case) -> Iterator[Hypothesis]:
    """Yield the boiling point in another unit than was written."""
    for written, chance in _as_read(case):
        if chance < 1.0 and PLAUSIBLE["boiling_point"].holds(written):
            continue
        units = [unit for unit in ("C", "F", "K") if unit != written.unit]
        values = np.array([in_si(written.value, unit) for unit in units])
        densities = case.boiling_point.densities(values)
        for unit, density in zip(units, densities, strict=True):
            tell = partial(other_unit, *_NAME_AND_KEY, written, Quantity(written.value, unit), "C")
            yield Hypothesis(
                "boiling-point-unit",
                chance * _UNIT_CHANCE,
                density,
                saying(tell),
                odds=known_unit(unit).scale / known_unit(written.unit).scale,
            )


def _as_read(case: Case) -> Iterator[tuple[Quantity, float]]:
    """Yield the boiling point as it was read in degrees Celsius, and as it is written if otherwise.

    Each with its share of the chance of a slip, so that what slips make of a sound page hardly
    depends on the unit in which it is written.
    """
    written = case.boiling_point.written
    if written.unit == BOILING_POINT.unit:
        yield written, 1.0
        return
    celsius = round(written.to(BOILING_POINT.unit).value, BOILING_POINT.decimals)
    yield Quantity(celsius, BOILING_POINT.unit, text=f"{celsius:g}"), 1.0
    yield written, _EXPLICIT


def _boiling_point_digits(case: Case) -> Iterator[Hypotheses]:
    """Yield slips of the pen in a boiling point."""
    name, key = _NAME_AND_KEY
    for written, share in _as_read(case):
        found = misread(written, key)
        densities = case.boiling_point.densities(found.values)
        tell = each_miswritten(name, written, found, key)
        yield Hypotheses.of_digits(found, densities, tell, share=share)


@dataclass(frozen=True)
class _PressureMeant:
    """What the pressure of a boiling point may have been meant as.

    Parameters
    ----------
    code : str
        Of the slip.
    chance : float
    pressure : Quantity
    tell : callable
        Puts it in words.
    jacobian : float
        How much larger a step of the number is than as it was written.
    """

    code: str
    chance: float
    pressure: Quantity
    tell: Callable[[], SlipInWords]
    jacobian: float


def _boiling_pressure(case: Case) -> Iterator[Hypothesis]:
    """Yield the pressure of the boiling point as a laboratory's, by another unit or other digits.

    Only where it is none as it is written.
    """
    written, laboratory = case.run.boiling_point_at, PLAUSIBLE["pressure"]
    if written is None or laboratory.holds(written):
        return
    now = float(BOILING_PRESSURES.density(written.to("Pa").value))
    for one in _pressures_meant(written):
        if laboratory.holds(one.pressure):
            pressure = one.pressure.to("Pa").value
            boils = case.matcher.expectation.boiling_point(pressure)[case.rows]
            yield Hypothesis(
                one.code,
                one.chance,
                case.boiling_point.likelihood(boils),
                saying(one.tell),
                reading="boiling_point_at",
                odds=float(BOILING_PRESSURES.density(pressure)) / now * one.jacobian,
            )


def _pressures_meant(written: Quantity) -> Iterator[_PressureMeant]:
    """Yield what may have been meant, whether a laboratory has it or not."""
    name, key = _PRESSURE_NAME_AND_KEY
    # Whoever writes a unit down mostly means it.
    chance = UNIT_CHANCE * (1.0 if PLAIN_NUMBER.fullmatch(written.text) else _EXPLICIT)
    scale = known_unit(written.unit).scale
    others = [unit for unit in PRESSURE_UNITS if unit != written.unit]
    for unit in others:
        meant = Quantity(written.value, unit)
        tell = partial(other_unit, name, key, written, meant, "mmHg")
        jacobian = known_unit(unit).scale / scale
        yield _PressureMeant("pressure-unit", chance / len(others), meant, tell, jacobian)
    digits = list(misreadings(written_text(written)))
    thousands = PLAUSIBLE["pressure"].meant(written)
    if thousands is not None and thousands.unit == written.unit:
        text = f"{thousands.value:.10g}"
        digits.append(Misreading("point-moved", text, UNIT_CHANCE, thousands.value / written.value))
    for one in digits:
        meant = Quantity(one.value, written.unit, text=one.text)
        tell = partial(miswritten, name, written, one, key)
        yield _PressureMeant(one.kind, one.chance, meant, tell, one.jacobian)


def at_laboratory_chance(run: Measurement, bench: Bench) -> float:
    """Return the chance that a boiling point taken as one at 760 mmHg is the laboratory's.

    Zero where its pressure is written, where the laboratory's is not known, and where the two are
    nearly the same.
    """
    pressure = bench.laboratory_pressure
    if run.boiling_point_at is not None or not PLAUSIBLE["pressure"].holds_si(pressure):
        return 0.0
    if abs(log(pressure / STANDARD_PRESSURE)) < _LEAST_DIFFERENCE:
        return 0.0
    return _AT_LABORATORY_CHANCE[run.boiling_point_by]


def _read_at_laboratory(case: Case) -> Iterator[Hypothesis]:
    """Yield a boiling point that was read at the laboratory's pressure, and not at 760 mmHg."""
    chance = at_laboratory_chance(case.run, case.bench)
    if not chance:
        return
    pressure = case.bench.laboratory_pressure
    expectation = case.matcher.expectation
    here = expectation.boiling_point(pressure)[case.rows]
    density = case.boiling_point.likelihood(here)
    lower = expectation.normal_boiling_point[case.rows] - here

    def tell(place: int) -> SlipInWords:
        standard = case.boiling_point.value + float(lower[place]) - ICE_POINT
        return SlipInWords(
            f"The boiling point, {case.boiling_point.written}, was perhaps read at the "
            f"laboratory's own pressure, {pressure_text(pressure)}; it was taken as one at "
            f"760 mmHg, where it would be {standard:.1f} °C.",
            {"boiling_point_at": pressure_text(pressure)},
        )

    yield Hypothesis("boiling-point-at-laboratory", chance, density, tell)


def _thread_uncorrected(case: Case) -> Iterator[Hypothesis]:
    """Yield a boiling point read low: the thermometer's thread stood out of the vapor."""
    off = case.boiling_point.off

    def tell(place: int) -> SlipInWords:
        degrees = -float(off[place])
        return SlipInWords(
            f"The boiling point reads {degrees:.1f} °C low, as with a thermometer whose thread "
            "stands out of the vapor and was not corrected for.",
            {"boiling_point": f"{case.boiling_point.value + degrees - ICE_POINT:.1f} °C"},
        )

    yield _broad_part("thread-uncorrected", case, tell)


def _superheated(case: Case) -> Iterator[Hypothesis]:
    """Yield a boiling point read high, of a liquid that was superheated."""
    off = case.boiling_point.off

    def tell(place: int) -> SlipInWords:
        degrees = float(off[place])
        return SlipInWords(
            f"The boiling point reads {degrees:.1f} °C high, as in a liquid that is superheated "
            "(no boiling stone) or a vapor that is.",
            {"boiling_point": f"{case.boiling_point.value - degrees - ICE_POINT:.1f} °C"},
        )

    yield _broad_part("superheated", case, tell)


def _broad_part(code: str, case: Case, tell: Callable[[int], SlipInWords]) -> Hypothesis:
    """Return the part of a boiling point's own likelihood that stands for a slip."""
    density = case.part(case.evidence.boiling_point, code)
    # Of a boiling point that the table hardly knows, no difference can be told.
    is_told = case.boiling_point.known_u < _WELL_KNOWN
    is_told &= abs(case.boiling_point.off) < _FARTHEST
    return Hypothesis(code, 1.0, density * is_told, tell, is_part=True)


PARTS: SlipList = {"boiling_point": (_thread_uncorrected, _superheated)}
"""Those that a boiling point's own likelihood holds."""
SLIPS: SlipList = {
    "boiling_point": (
        _boiling_point_unit,
        _boiling_point_digits,
        _boiling_pressure,
        _read_at_laboratory,
        *PARTS["boiling_point"],
    )
}
