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

from identify.matching.expectation import Expectation
from identify.notebook.findings import Finding, listed
from identify.physics.arrays import Array
from identify.section.runs import BottleRuns
from identify.section.shared.search import MAX_FAULTS, DeviatingGroup, SharedFault, strongest
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

    def _reading(self, name: str) -> Array:
        """Return one reading of all trials, shape (trials,)."""
        each = [getattr(one.weighing, name) for one in self.bottles if one.weighing is not None]
        return np.concatenate(each)

    def _changed(
        self, name: str, log_factor: float, members: NDArray[np.bool_]
    ) -> SectionWeighings:
        """Return the weighings with one reading of some trials changed by a factor."""
        factors = np.where(members, np.exp(log_factor), 1.0)
        bottles = list(self.bottles)
        for place in np.unique(self.trials.bottle[members]):
            weighing = bottles[place].weighing
            assert weighing is not None
            changes: Mapping[str, Array] = {
                name: factors[self.trials.bottle == place] * getattr(weighing, name)
            }
            bottles[place] = replace(bottles[place], weighing=replace(weighing, **changes))
        return replace(self, bottles=bottles)


@dataclass(frozen=True)
class _Correction:
    """The reading that would set a group right.

    Parameters
    ----------
    weighings : SectionWeighings
        With it.
    change : float
        Factor of the reading; in K for a bath.
    is_credible : bool
        Whether such a reading could have been taken for the one written.
    """

    weighings: SectionWeighings
    change: float
    is_credible: bool

    @classmethod
    def of(cls, weighings: SectionWeighings, group: DeviatingGroup) -> _Correction:
        """Find the reading by which the group's molar masses agree with the others'."""
        reading = group.factor.grouping.reading or "gain"
        found = cls._solved(weighings, group, reading)
        if not found.is_credible and reading != "gain":
            # No such reading explains it: the molar masses are set right as they are.
            return replace(cls._solved(weighings, group, "gain"), is_credible=False)
        return found

    @classmethod
    def _solved(
        cls, weighings: SectionWeighings, group: DeviatingGroup, reading: str
    ) -> _Correction:
        """Solve for the change by secants."""
        before = weighings.residuals()[group.trials]
        # Logarithm of the factor; a bath's in units of its own temperature.
        step = group.size if reading in ("pressure", "volume") else -group.size
        low, off = 0.0, group.size
        changed = weighings
        for _ in range(_STEPS):
            changed = weighings._changed(reading, step, group.trials)
            after = changed.residuals()[group.trials]
            left = group.size + float(np.nanmedian(after - before))
            if abs(left) < 1e-6 or abs(left - off) < 1e-12:
                break
            low, off, step = step, left, step - left * (step - low) / (left - off)
        if reading == "bath":
            bath = float(np.median(weighings._reading("bath")[group.trials]))
            kelvin = bath * float(np.expm1(step))
            return cls(changed, kelvin, abs(kelvin) <= _CREDIBLE_BATH)
        is_credible = reading != "pressure" or abs(step) <= _CREDIBLE_PRESSURE
        return cls(changed, float(np.exp(step)), is_credible)


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
        students = np.unique(trials.student[group.trials])
        written = trials.pressure[group.trials & weighings.sound]
        finding = _finding(group, same, correction, len(students), written)
        faults.append(SharedFault(finding, frozenset(map(int, students))))
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
    remedy, numbers = _remedy(reading, correction, pressures)
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
    reading: str, correction: _Correction, pressures: Array
) -> tuple[str, dict[str, float]]:
    """Say which reading would set a group right, if any, with the numbers of it."""
    change = correction.change
    if reading in ("gain", "volume"):
        size = f"{100.0 * abs(change - 1.0):.1f} % {'larger' if change > 1.0 else 'smaller'}"
        needed, numbers = f"{reading} {size} than written", {f"right_{reading}_factor": change}
    elif reading == "bath" and correction.is_credible:
        size = f"{abs(change):.1f} K {'warmer' if change > 0 else 'cooler'}"
        needed, numbers = f"bath {size} than written", {"right_bath_shift_K": change}
    elif reading == "pressure" and correction.is_credible:
        needed = f"pressure of {_range(pressures * change)} mmHg"
        read, right = (round(float(np.median(p)), 1) for p in (pressures, pressures * change))
        numbers = {"read_mmHg": read, "right_mmHg": right}
    else:
        return "No one reading of theirs explains it.", {}
    return f"A {needed} would set them right.", numbers


def _range(values: Array) -> str:
    low, high = (f"{float(end):.0f}" for end in (values.min(), values.max()))
    return low if low == high else f"{low} to {high}"
