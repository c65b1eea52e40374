"""Faults of the weighings that many students share: one barometer reading, one balance, one day.

Each trial's residual is the logarithm of its molar mass over that of the liquid that its bottle
most probably holds, with that liquid's corrections. Groups of trials that share something are
compared with the others of the same bottles, so that it does not matter what is in a bottle. The
strongest is told first, its readings are set right by the physics, and what remains is searched
again, so that one fault is not told as a day, as a barometer reading and as a thermometer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.matching.expected.expectation import Expectation
from identify.notebook.findings import Finding, listed
from identify.physics.arrays import Array
from identify.section.runs import BottleRuns
from identify.section.shared.effects import refined_effect, scatter
from identify.section.shared.repair import Repair
from identify.section.shared.search import (
    MAX_FAULTS,
    TELLING,
    DeviatingGroup,
    SharedFault,
    strongest,
)
from identify.section.shared.trials import Trials
from identify.section.wording import as_percent, high_or_low

# Relative. A smaller effect changes what a single run is good to, 2.5 %, by less than a twentieth.
_MIN_EFFECT = 0.007

# What a barometer may be misread by at all, and a bath's thermometer be off by. Common practice.
_CREDIBLE_PRESSURE = 0.12  # relative
_CREDIBLE_BATH = 10.0  # K

_STEPS = 4  # of the search for the reading that sets a group right; each gains two digits
_MAX_GROUPS_IN_SENTENCE = 4
_ADVICE = {
    "pressure": "Compare the barometer with another, or with a weather station's pressure brought "
    "to this height; correct the readings, and run the check again.",
    "gain": "Check that balance with a weight of known mass before the next section.",
    "bath": "Check that thermometer in ice water and in steam, both at this pressure.",
    "volume": "Fill that flask to the brim again, and weigh the water.",
    "": "Look what these students had in common.",
}


@dataclass(frozen=True)
class SectionWeighings:
    """The weighings of a section beside the liquids that its bottles probably hold.

    Parameters
    ----------
    bottles : sequence of BottleRuns
    liquids : sequence of Expectation
        Of each bottle, the one liquid whose corrections are used.
    """

    bottles: Sequence[BottleRuns]
    liquids: Sequence[Expectation]

    @cached_property
    def trials(self) -> Trials:
        """All weighed trials, with the barometer as it was read."""
        return Trials.of(self.bottles)

    @cached_property
    def sound(self) -> NDArray[np.bool_]:
        """Whose readings can be right as they are written, shape (trials,)."""
        each = [~one.doubted[one.run_of_trial] for one in self.bottles]
        return np.concatenate([np.zeros(0, dtype=bool), *each])

    def residuals(self) -> Array:
        """Return each trial's residual, shape (trials,), NaN for one that cannot be right."""
        each = [
            bottle.trial_offsets(liquid)[:, 0]
            for bottle, liquid in zip(self.bottles, self.liquids, strict=True)
            if bottle.weighing is not None
        ]
        return np.where(self.sound, np.concatenate([np.zeros(0), *each]), np.nan)

    def with_baths_shifted(self, kelvin: float, members: NDArray[np.bool_]) -> SectionWeighings:
        """Return the weighings with the baths of some trials so much warmer [K]."""
        return self._changed(_Way("bath", 1.0), kelvin, members)

    def _reading(self, name: str) -> Array:
        """Return one reading of all trials, shape (trials,)."""
        each = [getattr(one.weighing, name) for one in self.bottles if one.weighing is not None]
        return np.concatenate(each)

    def _changed(self, way: _Way, step: float, members: NDArray[np.bool_]) -> SectionWeighings:
        """Return the weighings with one reading of some trials as it should have been."""
        bottles = list(self.bottles)
        for place in np.unique(self.trials.bottle[members]):
            weighing = bottles[place].weighing
            assert weighing is not None
            written = getattr(weighing, way.reading)
            of_group = members[self.trials.bottle == place]
            changes: Mapping[str, Array] = {
                way.reading: np.where(of_group, way.right(written, step), written)
            }
            bottles[place] = replace(bottles[place], weighing=replace(weighing, **changes))
        return replace(self, bottles=bottles)


@dataclass(frozen=True)
class _Way:
    """One way in which a reading of a group may be wrong.

    Parameters
    ----------
    reading : str
    unit : float, default=0.0
        Of a step that is added to the reading; zero where a step is the logarithm of a factor.
    """

    reading: str
    unit: float = 0.0

    def right(self, written: Array, step: float) -> Array:
        """Return what should have been written."""
        return written + step * self.unit if self.unit else written * np.exp(step)


@dataclass(frozen=True)
class _Correction:
    """The reading that would set a group right.

    Parameters
    ----------
    weighings : SectionWeighings
        With it.
    way : _Way
    step : float
    left : float
        How far the students of the group are then apart: half the sum of the squares, in standard
        deviations.
    is_credible : bool
        Whether such a reading could have been taken for the one written.
    other : _Correction or None
        That is about as good.
    """

    weighings: SectionWeighings
    way: _Way
    step: float
    left: float = 0.0
    is_credible: bool = True
    other: _Correction | None = None

    @property
    def change(self) -> float:
        """Factor of the reading."""
        return float(np.exp(self.step))

    @property
    def shift(self) -> float:
        """What is added to the reading [SI units]."""
        return self.step * self.way.unit

    def repair(self, group: DeviatingGroup) -> Repair:
        """Return how each student's own reading is set right."""
        trials = self.weighings.trials
        of = trials.numbers_of(group.trials)
        if self.way.unit:
            return Repair(self.way.reading, shift=self.shift, trials=of)
        return Repair(self.way.reading, self.change, trials=of)

    @classmethod
    def of(cls, weighings: SectionWeighings, group: DeviatingGroup) -> _Correction:
        """Find the reading by which the group's molar masses agree with the others'."""
        reading = group.factor.grouping.reading
        if reading == "gain":
            return cls._of_gain(weighings, group)
        if reading:
            found = cls._solved(weighings, group, _Way(reading))
            if found.is_credible:
                return found
        # No such reading explains it: the molar masses are set right as they are.
        whole = cls._solved(weighings, group, _Way("gain"))
        return replace(whole, is_credible=not reading)

    @classmethod
    def _of_gain(cls, weighings: SectionWeighings, group: DeviatingGroup) -> _Correction:
        """Weigh a balance that is off by a percentage against one that is off by so many grams.

        The gains of light vapors are small: the same grams are more of them.
        """
        typical = float(np.nanmedian(weighings._reading("gain")[group.trials]))
        ways = [_Way("gain"), *([_Way("gain", typical)] if typical > 0.0 else [])]
        found = [cls._solved(weighings, group, way) for way in ways]
        best, *others = sorted(found, key=lambda one: one.left)
        near = [one for one in others if one.left - best.left < TELLING]
        return replace(best, other=near[0]) if near else best

    @classmethod
    def _solved(cls, weighings: SectionWeighings, group: DeviatingGroup, way: _Way) -> _Correction:
        """Solve for the step by secants."""
        step = group.size if way.reading in ("pressure", "volume") else -group.size
        low, off = 0.0, group.size
        changed = weighings
        for _ in range(_STEPS):
            changed = weighings._changed(way, step, group.trials)
            left = refined_effect(changed.residuals(), changed.trials, group.trials)
            if abs(left) < 1e-6 or abs(left - off) < 1e-12:
                break
            low, off, step = step, left, step - left * (step - low) / (left - off)
        found = cls(changed, way, step, scatter(changed.residuals(), changed.trials, group.trials))
        return replace(found, is_credible=found._could_be_read(group))

    def _could_be_read(self, group: DeviatingGroup) -> bool:
        if self.way.reading == "bath":
            return abs(self.kelvin(group)) <= _CREDIBLE_BATH
        return self.way.reading != "pressure" or abs(self.step) <= _CREDIBLE_PRESSURE

    def kelvin(self, group: DeviatingGroup) -> float:
        """Return how much warmer a bath would have been, in the middle [K]."""
        bath = float(np.median(self.weighings._reading("bath")[group.trials]))
        return bath * -float(np.expm1(-self.step))


def weighing_faults(weighings: SectionWeighings) -> tuple[list[SharedFault], SectionWeighings]:
    """Find what the weighings of a section have in common, fault by fault.

    Returns
    -------
    faults : list of SharedFault
        The surest first.
    weighings : SectionWeighings
        With their readings set right.
    """
    faults: list[SharedFault] = []
    trials = weighings.trials
    while len(faults) < MAX_FAULTS:
        found = strongest(weighings.residuals(), trials, trials.factors, _MIN_EFFECT)
        if found is None:
            break
        group, same = found
        correction = _Correction.of(weighings, group)
        repair = correction.repair(group)
        written = trials.pressure[group.trials & weighings.sound]
        finding = _finding(group, same, correction, len(repair.trials or ()), written)
        faults.append(SharedFault(finding, (repair,)))
        weighings = correction.weighings
    return faults, weighings


def _finding(
    group: DeviatingGroup,
    same: Sequence[DeviatingGroup],
    correction: _Correction,
    students: int,
    pressures: Array,
) -> Finding:
    """Say who is off, by how much, and which reading would set them right.

    Parameters
    ----------
    pressures : array
        As the group read them [mmHg].
    """
    code, reading = group.factor.grouping.code, group.factor.grouping.reading
    percent = as_percent(group.size)
    off = (
        f"are {abs(percent):.1f} % {high_or_low(percent)} beside those of the others with the same "
        "bottles"
    )
    remedy, numbers = _remedy(group, correction, pressures)
    if reading == "pressure" and correction.is_credible:
        phrase = group.phrase
        if phrase.endswith(" mmHg"):  # the sentence says the reading itself
            phrase = phrase.rpartition("with ")[0]
        subject = f"{students} students {phrase}".strip()
        message = f"{subject} wrote {_range(pressures)} mmHg; their molar masses {off}. {remedy}"
    else:
        message = f"The molar masses of {students} students {group.phrase} {off}. {remedy}"
    if code == "barometer-day" and not correction.is_credible:
        code, reading = "shared-day", ""
    elif code == "barometer-day" and not group.words[0]:
        code = "shared-pressure"
    if same:
        others = listed([one.phrase for one in same], _MAX_GROUPS_IN_SENTENCE)
        message += (
            f" The same students were {others}; which of these it is cannot be told from the "
            "numbers."
        )
    numbers |= {"students": float(students), "off_percent": percent, "strength": group.strength}
    return Finding(code, "warning", message, _ADVICE[reading], numbers)


def _remedy(
    group: DeviatingGroup, correction: _Correction, pressures: Array
) -> tuple[str, dict[str, float]]:
    """Say which reading would set a group right, if any, with the numbers of it."""
    reading, change = group.factor.grouping.reading, correction.change
    if reading in ("gain", "volume"):
        needed, numbers = _needed(correction, reading)
        if correction.other is not None:
            other, more = _needed(correction.other, reading)
            needed, numbers = f"{needed} (or {other})", {**more, **numbers}
    elif reading == "bath" and correction.is_credible:
        kelvin = correction.kelvin(group)
        size = f"{abs(kelvin):.1f} K {'warmer' if kelvin > 0 else 'cooler'}"
        needed, numbers = f"bath {size} than written", {"right_bath_shift_K": kelvin}
    elif reading == "pressure" and correction.is_credible:
        needed = f"pressure of {_range(pressures * change)} mmHg"
        read, right = (round(float(np.median(p)), 1) for p in (pressures, pressures * change))
        numbers = {"read_mmHg": read, "right_mmHg": right}
    else:
        return "No one reading of theirs explains it.", {}
    return f"A {needed} would set them right.", numbers


def _needed(correction: _Correction, reading: str) -> tuple[str, dict[str, float]]:
    """Say by how much a reading would have to be another."""
    if correction.way.unit:
        grams = 1e3 * correction.shift
        size = f"{abs(grams):.3f} g {'larger' if grams > 0.0 else 'smaller'}"
        return f"{reading} {size} than written", {f"right_{reading}_shift_g": grams}
    change = correction.change
    size = f"{100.0 * abs(change - 1.0):.1f} % {'larger' if change > 1.0 else 'smaller'}"
    return f"{reading} {size} than written", {f"right_{reading}_factor": change}


def _range(values: Array) -> str:
    low, high = (f"{float(end):.0f}" for end in (values.min(), values.max()))
    return low if low == high else f"{low} to {high}"
