"""Slips in a boiling point: its unit, its digits, how it was read."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np
from numpy.typing import NDArray

from identify.matching.slips.mechanism.case import Case
from identify.matching.slips.mechanism.digits import in_si, misreadings, written_text
from identify.matching.slips.mechanism.hypothesis import Hypothesis, SlipInWords, gamma, saying
from identify.matching.slips.mechanism.rewriting import SlipList
from identify.matching.slips.mechanism.wording import miswritten, other_unit
from identify.notebook.quantities import Quantity
from identify.notebook.units import known_unit
from identify.physics.constants import ICE_POINT

# Chances on one card, before anything is compared. Common practice.
_UNIT_CHANCE = 0.002
_STEM_CHANCE, _STEM = 0.005, 1.5  # K: a thread outside the vapor reads low, twice this in the mean
_SUPERHEATED_CHANCE, _SUPERHEATED = 0.003, 2.0  # K, likewise

_BOILING_POINT = ("the boiling point", "boiling_point")  # in a sentence, and in the notebook


def _boiling_point_unit(case: Case) -> Iterator[Hypothesis]:
    """Yield the boiling point in another unit than was written."""
    written = case.boiling_point.written
    units = [unit for unit in ("C", "F", "K") if unit != written.unit]
    densities = case.boiling_point.densities([in_si(written.value, unit) for unit in units])
    for unit, density in zip(units, densities, strict=True):
        tell = partial(other_unit, *_BOILING_POINT, written, Quantity(written.value, unit), "C")
        odds = known_unit(unit).scale / known_unit(written.unit).scale
        yield Hypothesis("boiling-point-unit", _UNIT_CHANCE, density, saying(tell), odds=odds)


def _boiling_point_digits(case: Case) -> Iterator[Hypothesis]:
    """Yield slips of the pen in a boiling point."""
    name, key = _BOILING_POINT
    written = case.boiling_point.written
    digits = misreadings(written_text(written))
    values = [in_si(one.value, written.unit) for one in digits]
    for one, density in zip(digits, case.boiling_point.densities(values), strict=True):
        tell = partial(miswritten, name, written, one, key)
        yield Hypothesis(one.kind, one.chance, density, saying(tell), odds=one.jacobian)


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

    density = gamma(-off, _STEM) * _is_sure(case)
    yield Hypothesis("thread-uncorrected", _STEM_CHANCE, density, tell)


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

    density = gamma(off, _SUPERHEATED) * _is_sure(case)
    yield Hypothesis("superheated", _SUPERHEATED_CHANCE, density, tell)


def _is_sure(case: Case) -> NDArray[np.bool_]:
    """Say which boiling points are known well enough to tell such a difference, shape (s,)."""
    return np.asarray(case.boiling_point.known_u < _STEM)


SLIPS: SlipList = {
    "boiling_point": (
        _boiling_point_unit,
        _boiling_point_digits,
        _thread_uncorrected,
        _superheated,
    )
}
