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
from identify.matching.expected.expectation import Expectation
from identify.notebook.findings import Finding
from identify.notebook.usual import tolerance_u
from identify.observables.catalog import LIQUID_CONSTANTS, OBSERVABLES
from identify.observables.observable import Observable
from identify.observables.tolerances import Tolerances
from identify.physics.constants import ELEMENTS, STANDARD_PRESSURE
from identify.section.robust_mean import RobustMean
from identify.section.runs import BottleRuns, StudentRun

# Readings of one's own agree to the last digit less often than this: a boiling point read to whole
# degrees with a standard deviation of half a degree does in 0.68 of all cases.
_COPIED_SHARE = 0.7
_MIN_COPIES = 3  # that show whether a value was copied

_LOOK_AGAIN = "Look at the card again, and at the label of the bottle."


@dataclass(frozen=True)
class _CardReading:
    """One entry of a card, over the students of a bottle.

    Parameters
    ----------
    value : SIReading
    is_copied : bool
        Whether it was copied from the card.
    students : int
        Who wrote it.
    differing : mapping of int to float
        By place among the bottle's runs, what those wrote who differ from a copied value.
    unit : str
        In which most students wrote it; empty for the usual one.
    """

    value: SIReading
    is_copied: bool
    students: int
    differing: Mapping[int, float] = field(default_factory=dict)
    unit: str = ""


@dataclass(frozen=True)
class BottleCard:
    """A bottle's card, as its students wrote it.

    Parameters
    ----------
    readings : mapping of str to _CardReading
        By name: ``boiling_point``, ``percent C``, ``density`` and so on.
    boiling_pressure : float
        Of the boiling point [Pa].
    boiling_off : float
        How far all boiling points of the section are off together [K]; `bench` subtracts it.
    strays : mapping of str to mapping of int to float
        Percentages of elements that most students do not have, by place among the runs.
    """

    readings: Mapping[str, _CardReading] = field(default_factory=dict)
    boiling_pressure: float = STANDARD_PRESSURE
    boiling_off: float = 0.0
    strays: Mapping[str, Mapping[int, float]] = field(default_factory=dict)

    @classmethod
    def of(cls, bottle: BottleRuns, liquid: Expectation, tolerances: Tolerances) -> BottleCard:
        """Read a card from what its students wrote of it, each entry once.

        Parameters
        ----------
        bottle : BottleRuns
        liquid : Expectation
            Of the one liquid that the bottle probably holds: its vapor pressure brings boiling
            points measured on several days to the standard pressure.
        tolerances : Tolerances
        """
        benches = [run.bench for run in bottle.runs]
        boiling, pressure = _boiling_point(benches, liquid, tolerance_u(tolerances.boiling_point))
        percentages, strays = _percentages(benches, tolerance_u(tolerances.percent))
        further = _further(bottle.runs, tolerances)
        return cls({**boiling, **percentages, **further}, pressure, strays=strays)

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

    def miscopied(
        self, bottle: BottleRuns, tolerances: Tolerances
    ) -> Iterator[tuple[int, Finding]]:
        """Yield a finding for each entry that differs from the others', with the run's place."""
        for name, reading in self.readings.items():
            for place, written in reading.differing.items():
                yield place, _miscopied(name, reading, written, tolerances, bottle)
        for name, written_by in self.strays.items():
            for place, written in written_by.items():
                yield place, _stray(name, written, bottle)


def observable_of(name: str) -> Observable:
    """Return the observable of a card's entry: of ``percent C`` the percentage."""
    return OBSERVABLES[name.partition(" ")[0]]


def entry_words(name: str) -> str:
    """Return an entry of a card as it stands in a sentence.

    Examples
    --------
    >>> entry_words("percent C"), entry_words("boiling_point")
    ('percentage of C', 'boiling point')
    """
    return name.replace("percent ", "percentage of ").replace("_", " ")


# ----------------------------------------------------------------------- what the students wrote


def _boiling_point(
    benches: Sequence[Bench], liquid: Expectation, sigma: float
) -> tuple[dict[str, _CardReading], float]:
    """Return the entry, if there is one, and the pressure that it belongs to [Pa]."""
    values = _values([bench.boiling_point for bench in benches])
    if not values:
        return {}, STANDARD_PRESSURE
    entry = _entry(values, sigma)
    if entry.is_copied:
        pressures = Counter(
            benches[place].boiling_pressure for place in values if place not in entry.differing
        )
        return {"boiling_point": entry}, pressures.most_common(1)[0][0]
    normal = {
        place: value - _raised(liquid, benches[place].boiling_pressure)
        for place, value in values.items()
    }
    return {"boiling_point": _measured(normal, sigma)}, STANDARD_PRESSURE


def _raised(liquid: Expectation, pressure: float) -> float:
    """Return how far a liquid boils above its normal boiling point at a pressure [K]."""
    return float((liquid.boiling_point(pressure) - liquid.normal_boiling_point)[0])


def _percentages(
    benches: Sequence[Bench], sigma: float
) -> tuple[dict[str, _CardReading], dict[str, dict[int, float]]]:
    """Return the entries, and what only a few wrote: by element, and by place among the runs."""
    composed = sum(bool(bench.percent) for bench in benches)
    readings: dict[str, _CardReading] = {}
    strays: dict[str, dict[int, float]] = {}
    for place, element in enumerate(ELEMENTS):
        values = _values([bench.percent.get(place) for bench in benches])
        if values and 2 * len(values) < composed:
            strays[f"percent {element}"] = values
        elif values:
            readings[f"percent {element}"] = _entry(values, sigma)
    return readings, strays


def _further(runs: Sequence[StudentRun], tolerances: Tolerances) -> dict[str, _CardReading]:
    readings: dict[str, _CardReading] = {}
    for name, constant in LIQUID_CONSTANTS.items():
        stated = [run.bench.further.get(name) for run in runs]
        values = _values(stated)
        if values:
            entry = _entry(values, constant.scale * tolerance_u(getattr(tolerances, name)))
            at = next(one.at for one in stated if one is not None)
            written = (getattr(run.measurement, name) for run in runs)
            (unit, _), *_ = Counter(one.unit for one in written if one is not None).most_common(1)
            readings[name] = replace(entry, value=replace(entry.value, at=at), unit=unit)
    return readings


def _values(stated: Sequence[SIReading | None]) -> dict[int, float]:
    """Return what was written, by place; numbers of different units agree to six decimals."""
    return {place: round(one.value, 6) for place, one in enumerate(stated) if one is not None}


def _entry(values: Mapping[int, float], sigma: float) -> _CardReading:
    """Return an entry: the value that nearly all have, else the mean of what they measured."""
    counted = Counter(values.values())
    value, count = counted.most_common(1)[0]
    is_copied = count >= _MIN_COPIES or len(counted) == 1
    if not is_copied or count < _COPIED_SHARE * len(values):
        return _measured(values, sigma)
    differing = {place: other for place, other in values.items() if other != value}
    return _CardReading(SIReading(value), True, len(values), differing)


def _measured(values: Mapping[int, float], sigma: float) -> _CardReading:
    """Return the mean of measured values, as good as many readings of one class can be."""
    mean = RobustMean.of(np.array(list(values.values())), sigma)
    return _CardReading(SIReading(mean.value, mean.uncertainty), False, len(values))


# ----------------------------------------------------------------------------- what is told of it


def _miscopied(
    name: str, reading: _CardReading, written: float, tolerances: Tolerances, bottle: BottleRuns
) -> Finding:
    observable, card = observable_of(name), reading.value.value
    card_shown, own_shown = observable.shown(np.array([card, written]), reading.unit)
    same = reading.students - len(reading.differing)
    severe = abs(written - card) > observable.scale * getattr(tolerances, observable.name)
    return Finding(
        "card-miscopied",
        "warning" if severe else "note",
        f"The {entry_words(name)} is written as {observable.told(written, unit=reading.unit)}; "
        f"{same} of {reading.students} students of bottle {bottle.label} copied "
        f"{observable.told(card, unit=reading.unit)} from its card.",
        _LOOK_AGAIN,
        {"written": float(own_shown), "card": float(card_shown), "students": float(same)},
    )


def _stray(name: str, written: float, bottle: BottleRuns) -> Finding:
    return Finding(
        "card-miscopied",
        "warning",
        f"{written:.2f} % {name.split()[1]} are written; most students of bottle {bottle.label} "
        "have none of it from the card.",
        _LOOK_AGAIN,
        {"written": written},
    )
