"""Measured boiling points by the thermometer that they were read with."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from identify.matching.expectation import Expectation
from identify.notebook.findings import Finding
from identify.physics.arrays import Array
from identify.section.runs import BottleRuns
from identify.section.shared.repair import Repair
from identify.section.shared.search import MAX_FAULTS, DeviatingGroup, SharedFault, strongest
from identify.section.shared.trials import OF_BOILING_POINTS, Trials
from identify.section.wording import high_or_low

_MIN_KELVIN = 0.5  # a quarter of the usual tolerance of a boiling point


def thermometer_faults(
    bottles: Sequence[BottleRuns], liquids: Sequence[Expectation]
) -> Iterator[SharedFault]:
    """Yield the thermometers that read boiling points wrong, the surest first.

    Parameters
    ----------
    bottles : sequence of BottleRuns
    liquids : sequence of Expectation
        Of each bottle, the one liquid that it probably holds.
    """
    read, residuals = _boiling_points(bottles, liquids)
    factors = [OF_BOILING_POINTS.factor(read)]
    for _ in range(MAX_FAULTS):
        found = strongest(residuals, read, factors, _MIN_KELVIN)
        if found is None:
            return
        group, _ = found
        residuals = np.where(group.trials, residuals - group.size, residuals)
        yield _fault(group, np.unique(read.student[group.trials]))


def _boiling_points(
    bottles: Sequence[BottleRuns], liquids: Sequence[Expectation]
) -> tuple[Trials, Array]:
    """Return all boiling points read with a known thermometer, and how far they are off [K]."""
    rows: list[tuple[int, int, str, float]] = []
    for place, (bottle, liquid) in enumerate(zip(bottles, liquids, strict=True)):
        for run in bottle.runs:
            read, trials = run.bench.boiling_point, run.measurement.trials
            name = run.circumstances(trials[0] if trials else None).get("thermometer", "")
            if read is not None and name:
                expected = float(liquid.boiling_point(run.bench.boiling_pressure)[0])
                rows.append((place, run.index, name, read.value - expected))
    read_by = Trials(
        bottle=np.array([place for place, *_ in rows], dtype=np.int64),
        student=np.array([index for _, index, *_ in rows], dtype=np.int64),
        number=np.zeros(len(rows), dtype=np.int64),
        pressure=np.full(len(rows), np.nan),
        circumstances=[{"thermometer": name} for *_, name, _ in rows],
    )
    return read_by, np.array([off for *_, off in rows])


def _fault(group: DeviatingGroup, students: NDArray[np.int64]) -> SharedFault:
    size = group.size
    finding = Finding(
        group.factor.grouping.code,
        "warning",
        f"{len(students)} students measured boiling points {group.phrase} that are "
        f"{abs(size):.1f} K {high_or_low(size)} beside those of the others with the same bottles.",
        "Check that thermometer in ice water and in steam, both at this pressure.",
        {"students": float(len(students)), "off_K": size, "strength": group.strength},
    )
    repair = Repair(
        "boiling_point", shift=-size, trials=dict.fromkeys(map(int, students), frozenset())
    )
    return SharedFault(finding, repair, "boiling points")
