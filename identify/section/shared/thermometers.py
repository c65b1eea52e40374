"""Boiling points that were measured, by the thermometer that they were read with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from identify.notebook.findings import Finding
from identify.observables.expectation import Expectation
from identify.section.runs import Bottle
from identify.section.shared.effects import centered, effects, refined
from identify.section.shared.trials import circumstances_of

# A sound section has a shared fault told in less than one of a hundred: half of it for the
# weighings, half for the boiling points.
CHANCE = 0.005
MOST_FAULTS = 12
_LEAST_KELVIN = 0.5  # a quarter of the usual tolerance of a boiling point


@dataclass(frozen=True)
class SharedFault:
    """A fault that many share, and who they are.

    Parameters
    ----------
    finding : Finding
    students : frozenset of int
        Places of their runs.
    about : {"weighings", "boiling points"}
    """

    finding: Finding
    students: frozenset[int]
    about: str = "weighings"


class Thermometers:
    """Boiling points that were measured, by the thermometer that they were read with."""

    def __init__(self, bottles: Sequence[Bottle], liquids: Sequence[Expectation]) -> None:
        rows: list[tuple[int, int, float, str]] = []
        for place, (bottle, liquid) in enumerate(zip(bottles, liquids, strict=True)):
            for attempt in bottle.attempts:
                read, run = attempt.bench.boiling_point, attempt.run
                first = run.trials[0] if run.trials else None
                name = circumstances_of(run, first).get("thermometer", "")
                if read is None or not name:
                    continue
                expected = float(liquid.boiling_point(attempt.bench.boiling_pressure)[0])
                rows.append((place, attempt.place, read.value - expected, name))
        self.bottle, self.student = (np.array([row[i] for row in rows], dtype=int) for i in (0, 1))
        self.values = np.array([row[2] for row in rows])
        self.names = list(dict.fromkeys(row[3] for row in rows))
        self.codes = np.array([self.names.index(row[3]) for row in rows], dtype=int)

    def faults(self) -> list[SharedFault]:
        """Return the thermometers that read wrong, the surest first."""
        found: list[SharedFault] = []
        values = self.values.copy()
        while len(found) < min(MOST_FAULTS, len(self.names)):
            off = effects(
                centered(values, self.bottle),
                self.bottle,
                self.student,
                self.codes,
                len(self.names),
            )
            place = int(np.argmax(off.strength))
            if off.strength[place] <= off.limit(CHANCE / max(off.tested, 1)):
                break
            members = self.codes == place
            size = refined(values, self.bottle, self.student, members)
            if abs(size) < _LEAST_KELVIN:
                break
            values[members] -= size
            found.append(self._told(place, size, float(off.strength[place])))
        return found

    def _told(self, place: int, size: float, strength: float) -> SharedFault:
        students = np.unique(self.student[self.codes == place])
        finding = Finding(
            "shared-thermometer",
            "warning",
            f"{len(students)} students measured boiling points with thermometer "
            f"{self.names[place]} that are {abs(size):.1f} K {'high' if size > 0 else 'low'} "
            "beside those of the others with the same bottles.",
            "Check that thermometer in ice water and in steam, both at this pressure.",
            {"students": float(len(students)), "off_K": size, "strength": strength},
        )
        return SharedFault(finding, frozenset(map(int, students)), "boiling points")
