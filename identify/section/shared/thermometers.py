"""Measured boiling points by the thermometer that they were read with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from identify.matching.expected.expectation import Expectation
from identify.notebook.findings import Finding
from identify.physics.arrays import Array
from identify.section.runs import BottleRuns, StudentRun
from identify.section.shared.effects import scatter
from identify.section.shared.repair import Repair
from identify.section.shared.search import (
    MAX_FAULTS,
    TELLING,
    DeviatingGroup,
    SharedFault,
    strongest,
)
from identify.section.shared.trials import OF_BOILING_POINTS, Trials
from identify.section.shared.weighings import SectionWeighings
from identify.section.wording import high_or_low

_MIN_KELVIN = 0.5  # a quarter of the usual tolerance of a boiling point


def thermometer_faults(
    weighings: SectionWeighings,
) -> tuple[list[SharedFault], SectionWeighings]:
    """Find the thermometers that read boiling points wrong.

    A bath that was read with such a thermometer is off by as much, unless the weighings say
    otherwise.

    Returns
    -------
    faults : list of SharedFault
        The surest first.
    weighings : SectionWeighings
        With baths and boiling points set right.
    """
    read, residuals = _boiling_points(weighings.bottles, weighings.liquids)
    factors = [OF_BOILING_POINTS.factor(read)]
    faults: list[SharedFault] = []
    while len(faults) < MAX_FAULTS:
        found = strongest(residuals, read, factors, _MIN_KELVIN)
        if found is None:
            break
        group, _ = found
        residuals = np.where(group.trials, residuals - group.size, residuals)
        students = np.unique(read.student[group.trials])
        held = dict.fromkeys(map(int, students), frozenset[int]())
        repairs = [Repair("boiling_point", shift=-group.size, trials=held)]
        baths, in_bath = _with_baths(weighings, group)
        if baths is not None:
            weighings = baths
            of_bath = weighings.trials.numbers_of(in_bath)
            repairs.append(Repair("bath", shift=-group.size, trials=of_bath))
        weighings = _with_boiling_points(weighings, set(held), -group.size)
        finding = _finding(group, len(students), has_baths=baths is not None)
        faults.append(SharedFault(finding, tuple(repairs)))
    return faults, weighings


def _with_baths(
    weighings: SectionWeighings, group: DeviatingGroup
) -> tuple[SectionWeighings | None, NDArray[np.bool_]]:
    """Return the weighings with baths read as boiling points were, None where they disagree."""
    (name,) = group.words
    members = np.array([one == name for one in weighings.trials.words("thermometer")], dtype=bool)
    if not members.any():
        return None, members
    shifted = weighings.with_baths_shifted(-group.size, members)
    off, off_shifted = (
        scatter(one.residuals(), one.trials, members) for one in (weighings, shifted)
    )
    return (shifted if off_shifted - off < TELLING else None), members


def _with_boiling_points(
    weighings: SectionWeighings, students: set[int], shift: float
) -> SectionWeighings:
    """Return the weighings with the boiling points of some students so much higher [K]."""

    def shifted(run: StudentRun) -> StudentRun:
        boiling = run.bench.boiling_point
        if boiling is None or run.index not in students:
            return run
        right = replace(boiling, value=boiling.value + shift)
        return replace(run, bench=replace(run.bench, boiling_point=right))

    bottles = [replace(one, runs=tuple(map(shifted, one.runs))) for one in weighings.bottles]
    return replace(weighings, bottles=bottles)


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


def _finding(group: DeviatingGroup, students: int, has_baths: bool) -> Finding:
    size = group.size
    baths = " The baths that they read with it are taken to be off by as much." if has_baths else ""
    return Finding(
        group.factor.grouping.code,
        "warning",
        f"{students} students measured boiling points {group.phrase} that are "
        f"{abs(size):.1f} K {high_or_low(size)} beside those of the others with the same bottles."
        f"{baths}",
        "Check that thermometer in ice water and in steam, both at this pressure.",
        {"students": float(students), "off_K": size, "strength": group.strength},
    )
