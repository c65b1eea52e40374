"""The slips that are known, by the reading that they spoil: one small function each.

A function takes the `Case` (an unknown's readings, and the candidates that a slip could lead to)
and yields what may have happened: a `Hypothesis`, with the density of the readings for each of
those candidates had it happened; or, for the weighings, what they would have been, a `Rewritten`.
Many of a kind, such as the digits of one number, are quicker as one `Hypotheses` or `Rewritings`.
A new slip is a function in the file of its kind, and an entry in the list at that file's end.
"""

from __future__ import annotations

from identify.matching.slips.catalog import (
    boiling_point,
    bottles,
    composition,
    exercise,
    pen,
    pressure,
    technique,
    units,
)
from identify.matching.slips.mechanism.rewriting import SlipList

_READINGS = ("weighings", "molar_mass", "boiling_point", "composition")
_KINDS = (pen, units, pressure, technique, exercise, boiling_point, composition, bottles)
SLIPS: SlipList = {
    reading: tuple(slip for kind in _KINDS for slip in kind.SLIPS.get(reading, ()))
    for reading in _READINGS
}
"""All of them; each is looked for where that was read."""
PARTS: SlipList = {**technique.PARTS, **boiling_point.PARTS}
"""Those that the readings' own likelihoods hold."""
