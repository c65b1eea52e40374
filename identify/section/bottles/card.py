"""What the students of a bottle wrote of its card: copied by all, or measured by each.

A boiling point or a percentage that is the same for nearly all students of a bottle was copied
from its card, and counts once, however many copied it. One that differs from student to student was
measured.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from identify.bench.bench import Bench
from identify.bench.readings import SIReading
from identify.notebook.findings import Finding
from identify.notebook.usual import tolerance_u
from identify.observables.catalog import LIQUID_CONSTANTS, OBSERVABLES
from identify.observables.expectation import Expectation
from identify.observables.observable import Observable
from identify.observables.tolerances import Tolerances
from identify.physics.constants import ELEMENTS, STANDARD_PRESSURE
from identify.section.robust_mean import Middle, middle
from identify.section.runs import Bottle

# Readings of one's own agree to the last digit less often than this: a boiling point read to whole
# degrees with a standard deviation of half a degree does in 0.68 of all cases.
_COPIED_SHARE = 0.7
_FEWEST = 3  # students that show whether a value was copied
# Measured by a class with one kind of thermometer: what its students have in common, as a part of
# what one of them is good to. See `pooled.SHARED`.
_SHARED = 0.4


@dataclass(frozen=True)
class CardReading:
    """One entry of a card, over the students of a bottle.

    Parameters
    ----------
    value : SIReading
        In the unit of the match.
    is_copied : bool
        Whether it was copied from the card.
    students : int
        Who wrote it.
    differing : mapping of int to float
        By place among the attempts, what those wrote who differ from a copied value.
    unit : str
        In which most students wrote it; empty for the usual one.
    """

    value: SIReading
    is_copied: bool
    students: int
    differing: Mapping[int, float] = field(default_factory=dict)
    unit: str = ""


@dataclass(frozen=True)
class Card:
    """A bottle's card, as its students wrote it.

    Parameters
    ----------
    readings : mapping of str to CardReading
        By name: ``boiling_point``, ``percent C``, ``density`` and so on.
    boiling_pressure : float
        Of the boiling point [Pa].
    boiling_off : float
        How far all boiling points of the section are off together [K]; taken off in `bench`.
    strays : mapping of str to mapping of int to float
        Percentages of elements that most students do not have, by place among the attempts.
    """

    readings: Mapping[str, CardReading] = field(default_factory=dict)
    boiling_pressure: float = STANDARD_PRESSURE
    boiling_off: float = 0.0
    strays: Mapping[str, Mapping[int, float]] = field(default_factory=dict)

    def bench(self) -> Bench:
        """Return the card as one unknown's readings, without weighings."""
        values = {name: reading.value for name, reading in self.readings.items()}
        if (boiling := values.get("boiling_point")) is not None:
            values["boiling_point"] = replace(boiling, value=boiling.value - self.boiling_off)
        return Bench(
            boiling_point=values.get("boiling_point"),
            boiling_pressure=self.boiling_pressure,
            percent={
                place: values[f"percent {element}"]
                for place, element in enumerate(ELEMENTS)
                if f"percent {element}" in values
            },
            further={name: values[name] for name in LIQUID_CONSTANTS if name in values},
        )

    def miscopied(self, bottle: Bottle, tolerances: Tolerances) -> Iterator[tuple[int, Finding]]:
        """Yield for each student who differs from the others' card a finding, with its place."""
        for name, reading in self.readings.items():
            for place, written in reading.differing.items():
                yield place, _miscopied(name, reading, written, tolerances, bottle)
        for name, written_by in self.strays.items():
            for place, written in written_by.items():
                yield place, _stray(name, written, bottle)


def card_of(bottle: Bottle, liquid: Expectation, tolerances: Tolerances) -> Card:
    """Return what the students of a bottle wrote of its card, each entry once.

    Parameters
    ----------
    bottle : Bottle
    liquid : Expectation
        Of the one liquid that the bottle probably holds: boiling points measured at the pressures
        of several days are brought to the standard one along its vapor pressure.
    tolerances : Tolerances
    """
    readings: dict[str, CardReading] = {}
    pressure = STANDARD_PRESSURE
    benches = [attempt.bench for attempt in bottle.attempts]
    boiling = _values([bench.boiling_point for bench in benches])
    if boiling:
        readings["boiling_point"] = entry = _entry(boiling, tolerance_u(tolerances.boiling_point))
        if entry.is_copied:
            same = boiling.keys() - entry.differing.keys()
            pressure = Counter(benches[place].boiling_pressure for place in same).most_common(1)[0][
                0
            ]
        else:
            carried = {
                place: value - _raised(liquid, benches[place].boiling_pressure)
                for place, value in boiling.items()
            }
            readings["boiling_point"] = _measured(carried, tolerance_u(tolerances.boiling_point))
    composed = sum(bool(bench.percent) for bench in benches)
    strays: dict[str, dict[int, float]] = {}
    for place, element in enumerate(ELEMENTS):
        values = _values([bench.percent.get(place) for bench in benches])
        if values and 2 * len(values) < composed:
            strays[f"percent {element}"] = values
        elif values:
            readings[f"percent {element}"] = _entry(values, tolerance_u(tolerances.percent))
    for name, constant in LIQUID_CONSTANTS.items():
        stated = [bench.further.get(name) for bench in benches]
        values = _values(stated)
        if values:
            entry = _entry(values, constant.scale * tolerance_u(getattr(tolerances, name)))
            at = next(one.at for one in stated if one is not None)
            written = (getattr(attempt.run, name) for attempt in bottle.attempts)
            (unit, _), *_ = Counter(one.unit for one in written if one is not None).most_common(1)
            readings[name] = replace(entry, value=replace(entry.value, at=at), unit=unit)
    return Card(readings, pressure, strays=strays)


def _raised(liquid: Expectation, pressure: float) -> float:
    """Return how far a liquid boils above its normal boiling point at a pressure [K]."""
    return float((liquid.boiling_point(pressure) - liquid.normal_boiling_point)[0])


def _values(stated: Sequence[SIReading | None]) -> dict[int, float]:
    """Return what was stated, by place; numbers of different units agree to nine digits."""
    return {place: round(one.value, 6) for place, one in enumerate(stated) if one is not None}


def _entry(values: Mapping[int, float], half: float) -> CardReading:
    found = _copied(values)
    if found is None:
        return _measured(values, half)
    value, differing = found
    others = {place: values[place] for place in differing}
    return CardReading(SIReading(value), True, len(values), others)


def _copied(values: Mapping[int, float]) -> tuple[float, list[int]] | None:
    """Return the value that nearly all have, and who differs; None where they measured."""
    counted = Counter(values.values())
    value, count = counted.most_common(1)[0]
    if count < _COPIED_SHARE * len(values):
        return None
    if count < _FEWEST and len(counted) > 1:
        return None
    return value, [place for place, other in values.items() if other != value]


def _measured(values: Mapping[int, float], half: float) -> CardReading:
    """Return the middle of measured values, as good as many readings of one class can be."""
    found: Middle = middle(np.array(list(values.values())), half)
    uncertainty = float(np.hypot(found.uncertainty, _SHARED * half))
    return CardReading(SIReading(found.value, uncertainty), False, len(values))


def _miscopied(
    name: str, reading: CardReading, written: float, tolerances: Tolerances, bottle: Bottle
) -> Finding:
    observable = observable_of(name)
    words = name.replace("percent ", "percentage of ").replace("_", " ")
    card = reading.value.value
    card_shown, own_shown = observable.shown(np.array([card, written]), reading.unit)
    same = reading.students - len(reading.differing)
    severe = abs(written - card) > observable.scale * getattr(tolerances, observable.name)
    return Finding(
        "card-miscopied",
        "warning" if severe else "note",
        f"The {words} is written as {observable.told(written, unit=reading.unit)}; {same} of "
        f"{reading.students} students of bottle {bottle.label} copied "
        f"{observable.told(card, unit=reading.unit)} from its card.",
        "Look at the card again, and at the label of the bottle.",
        {"written": float(own_shown), "card": float(card_shown), "students": float(same)},
    )


def observable_of(name: str) -> Observable:
    """Return the observable of a card's entry: of ``percent C`` the percentage."""
    return OBSERVABLES[name.partition(" ")[0]]


def _stray(name: str, written: float, bottle: Bottle) -> Finding:
    return Finding(
        "card-miscopied",
        "warning",
        f"{written:.2f} % {name.split()[1]} are written; most students of bottle {bottle.label} "
        "have none of it from the card.",
        "Look at the card again, and at the label of the bottle.",
        {"written": written},
    )
