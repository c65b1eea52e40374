"""Slips in a boiling point: its unit, its digits, how it was read."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from identify.matching.slips.mechanism.case import Case
from identify.matching.slips.mechanism.digits import in_si, misreadings, written_text
from identify.matching.slips.mechanism.hypothesis import Hypothesis, SlipInWords, saying
from identify.matching.slips.mechanism.rewriting import SlipList
from identify.matching.slips.mechanism.wording import miswritten, other_unit
from identify.notebook.quantities import Quantity
from identify.notebook.units import known_unit
from identify.physics.constants import ICE_POINT

# Chances on one card, before anything is compared. Common practice.
_UNIT_CHANCE = 0.002
_WELL_KNOWN = 1.5  # K

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

    yield _broad_part(case, "thread-uncorrected", tell)


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

    yield _broad_part(case, "superheated", tell)


def _broad_part(case: Case, code: str, tell: Callable[[int], SlipInWords]) -> Hypothesis:
    """Return the part of a boiling point's own likelihood that stands for a slip."""
    density = case.part(case.evidence.boiling_point, code)
    # Of a boiling point that the table hardly knows, no difference can be told.
    known = case.boiling_point.known_u < _WELL_KNOWN
    return Hypothesis(code, 1.0, density * known, tell, is_part=True)


PARTS: SlipList = {"boiling_point": (_thread_uncorrected, _superheated)}
"""Those that a boiling point's own likelihood holds."""
SLIPS: SlipList = {
    "boiling_point": (
        _boiling_point_unit,
        _boiling_point_digits,
        *PARTS["boiling_point"],
    )
}
