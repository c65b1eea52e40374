"""Faults that many students share: one barometer reading, one balance, one thermometer, one day.

Each trial's residual is the logarithm of its molar mass, worked out with the corrections of the
liquid that its bottle most probably holds, less the middle of all students of that bottle: what is
in the bottle does not matter then. Groups of trials that share something are compared with the
others of the same bottles. The strongest is told first, its readings are set right by the physics,
and what remains is looked at again, so that one fault is not told as a day, as a barometer reading
and as a thermometer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.notebook.findings import Finding
from identify.observables.comparison import Array
from identify.observables.expectation import Expectation
from identify.physics.vapor import Weighing
from identify.section.key import some
from identify.section.runs import Bottle, logarithm
from identify.section.shared.effects import Effects, centered, effects, refined
from identify.section.shared.thermometers import CHANCE, MOST_FAULTS, SharedFault, Thermometers
from identify.section.shared.trials import Factor, Trials

# Relative: what all of a group are off by less than this changes what a single run is good to, 2.5
# percent, by less than a twentieth.
_LEAST_EFFECT = 0.007
# Groups with so much of their trials in common cannot be told apart, and are as strong within this.
_SAME, _AS_STRONG = 0.9, 0.9

# What a barometer may be misread by at all, and a bath's thermometer be off by. Common practice.
_CREDIBLE_PRESSURE = 0.12  # relative
_CREDIBLE_BATH = 10.0  # K

_STEPS = 4  # of the search for the reading that sets a group right; each gains two digits
_ADVICE = {
    "pressure": "Compare the barometer with another, or with a weather station's pressure brought "
    "to this height; correct the readings, and run the check again.",
    "gain": "Check that balance with a weight of known mass before the next section.",
    "bath": "Check that thermometer in ice water and in steam, both at this pressure.",
    "volume": "Fill that flask to the brim again, and weigh the water.",
    "": "Look what these students had in common.",
}


@dataclass(frozen=True)
class Group:
    """One group of trials that is off."""

    factor: Factor
    place: int
    size: float
    strength: float

    @cached_property
    def trials(self) -> NDArray[np.bool_]:
        """Which trials belong to it, shape (trials,)."""
        return self.factor.codes == self.place

    @property
    def phrase(self) -> str:
        """How it stands in a sentence."""
        words = self.factor.names[self.place]
        if "day {0}" in self.factor.kind.phrase and not words[0]:
            return self.factor.kind.phrase.partition(" day {0} ")[2].format(*words)
        return self.factor.kind.phrase.format(*words)

    def is_as_strong(self, other: Group) -> bool:
        """Say whether a group is the other, or all but the other, as far as numbers can tell."""
        return self.factor is other.factor and self.strength >= 0.99 * other.strength

    def is_same(self, other: Group) -> bool:
        """Say whether two groups are next to the same trials."""
        common = float((self.trials & other.trials).sum())
        return common >= _SAME * float((self.trials | other.trials).sum())


class SharedFaults:
    """What the students of a section have in common, found fault by fault.

    Parameters
    ----------
    bottles : sequence of Bottle
    liquids : sequence of Expectation
        Of each bottle, the one liquid whose corrections are used.

    Attributes
    ----------
    faults : list of SharedFault
    bottles : list of Bottle
        The same, their readings set right.
    """

    def __init__(self, bottles: Sequence[Bottle], liquids: Sequence[Expectation]) -> None:
        self.bottles = list(bottles)
        self.liquids = liquids
        self.faults: list[SharedFault] = []
        self.trials = Trials.of(bottles)
        doubted = [one.doubted[one.student] for one in bottles if one.weighing is not None]
        self._sound = ~np.concatenate([np.zeros(0, dtype=bool), *doubted])
        for _ in range(MOST_FAULTS):
            if not self._next():
                break
        self.faults += Thermometers(bottles, liquids).faults()

    def _next(self) -> bool:
        """Tell the strongest fault that is left, and set its readings right."""
        trials, residuals = self.trials, self._residuals(self.bottles)
        found = strongest(residuals, trials)
        if found is None:
            return False
        group, same = found
        right = _Right.of(self, group)
        self.faults.append(self._told(group, same, right))
        self.bottles = right.bottles
        return True

    def _residuals(self, bottles: Sequence[Bottle]) -> Array:
        each = [
            logarithm(bottle.each_trial(liquid)[:, 0] / liquid.molar_mass[0])
            for bottle, liquid in zip(bottles, self.liquids, strict=True)
            if bottle.weighing is not None
        ]
        return np.where(self._sound, np.concatenate([np.zeros(0), *each]), np.nan)

    def of_trials(self, bottle: int, mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Return which trials of a bottle are in a mask of all trials."""
        return mask[self.trials.bottle == bottle]

    def _told(self, group: Group, same: Sequence[Group], right: _Right) -> SharedFault:
        places = np.unique(self.trials.student[group.trials])
        count = len(places)
        percent = 100.0 * float(np.expm1(group.size))
        off = f"{abs(percent):.1f} % {'high' if percent > 0 else 'low'}"
        reading, code = group.factor.kind.reading, group.factor.kind.code
        numbers = {"students": float(count), "off_percent": percent, "strength": group.strength}
        written = self.trials.pressure[group.trials & self._sound]
        words = f"{count} students {group.phrase}"
        if reading == "pressure" and right.is_credible:
            needed = written * right.change
            numbers |= {"read_mmHg": _median(written), "right_mmHg": _median(needed)}
            message = (
                f"{' '.join((str(count), 'students', *_without_reading(group.phrase).split()))} "
                f"wrote {_range(written)} mmHg; "
                f"their molar masses are {off} beside those of the others with the same bottles. A "
                f"pressure of {_range(needed)} mmHg would set them right."
            )
        elif reading == "bath" and right.is_credible:
            numbers["right_bath_shift_K"] = right.change
            message = (
                f"The molar masses of {words} are {off} beside those of the others with the same "
                f"bottles. A bath {abs(right.change):.1f} K "
                f"{'warmer' if right.change > 0 else 'cooler'} than written would set them right."
            )
        else:
            if reading in ("gain", "volume"):
                numbers[f"right_{reading}_factor"] = right.change
            elif code == "barometer-day":
                code, reading = "shared-day", ""
            message = (
                f"The molar masses of {words} are {off} beside those of the others with the same "
                f"bottles. {_other_words(reading, right)}"
            ).strip()
        if code == "barometer-day" and not group.factor.names[group.place][0]:
            code = "shared-pressure"
        if same:
            message += (
                f" The same students were {some([one.phrase for one in same], 4)}; which of these "
                "it is cannot be told from the numbers."
            )
        finding = Finding(code, "warning", message, _ADVICE[reading], numbers)
        return SharedFault(finding, frozenset(int(place) for place in places))


def strongest(residuals: Array, trials: Trials) -> tuple[Group, list[Group]] | None:
    """Return the group that is off most surely, and others that are the same trials.

    Parameters
    ----------
    residuals : array, shape (trials,)
        Against the liquids' molar masses.
    trials : Trials
    """
    beside_others = centered(residuals, trials.bottle)
    tested: list[tuple[Factor, Effects]] = [
        (
            factor,
            effects(beside_others, trials.bottle, trials.student, factor.codes, len(factor.names)),
        )
        for factor in trials.factors
    ]
    chance = CHANCE / max(sum(one.tested for _, one in tested), 1)
    found: list[Group] = []
    for factor, one in tested:
        for place in np.flatnonzero(one.strength > one.limit(chance)):
            size = refined(residuals, trials.bottle, trials.student, factor.codes == place)
            if abs(size) >= _LEAST_EFFECT:
                found.append(Group(factor, int(place), size, float(one.strength[place])))
    if not found:
        return None
    best = max(found, key=lambda group: group.strength)
    # Of two groups that are all, either is off from the other: it is the one that is further from
    # the molar masses of the liquids.
    best = max(
        (one for one in found if one.is_as_strong(best)),
        key=lambda group: abs(float(np.nanmedian(residuals[group.trials]))),
    )
    alike = [
        group
        for group in found
        if group.strength >= _AS_STRONG * best.strength and group.is_same(best)
    ]
    # In the order of the kinds: that which explains it best comes first.
    first = alike[0]
    codes = {first.factor.kind.code}
    others: list[Group] = []
    for group in alike[1:]:
        if group.factor.kind.code not in codes:
            codes.add(group.factor.kind.code)
            others.append(group)
    return first, others


@dataclass(frozen=True)
class _Right:
    """The reading that would set a group right.

    Parameters
    ----------
    bottles : list of Bottle
        With it.
    change : float
        Factor of the reading; in K for a bath.
    is_credible : bool
        Whether such a reading could have been taken for the one written.
    """

    bottles: list[Bottle]
    change: float
    is_credible: bool

    @classmethod
    def of(cls, shared: SharedFaults, group: Group) -> _Right:
        """Find the reading by which the group's molar masses agree with the others'."""
        reading = group.factor.kind.reading or "gain"
        found = cls._solved(shared, group, reading)
        if not found.is_credible and reading != "gain":
            # No such reading explains it: the molar masses are set right as they are.
            return replace(cls._solved(shared, group, "gain"), is_credible=False)
        return found

    @classmethod
    def _solved(cls, shared: SharedFaults, group: Group, reading: str) -> _Right:
        before = shared._residuals(shared.bottles)[group.trials]
        # Logarithm of the factor; a bath's in units of its own temperature.
        step = {"pressure": group.size, "volume": group.size}.get(reading, -group.size)
        bottles = shared.bottles
        low, off = 0.0, group.size
        for _ in range(_STEPS):
            bottles = [
                _changed(bottle, shared.of_trials(place, group.trials), reading, step)
                for place, bottle in enumerate(shared.bottles)
            ]
            after = shared._residuals(bottles)[group.trials]
            left = group.size + float(np.nanmedian(after - before))
            if abs(left) < 1e-6 or abs(left - off) < 1e-12:
                break
            low, off, step = step, left, step - left * (step - low) / (left - off)
        if reading == "bath":
            kelvin = float(np.median(_bath(shared, group))) * float(np.expm1(step))
            return cls(bottles, kelvin, abs(kelvin) <= _CREDIBLE_BATH)
        return cls(
            bottles,
            float(np.exp(step)),
            reading != "pressure" or abs(step) <= _CREDIBLE_PRESSURE,
        )


def _bath(shared: SharedFaults, group: Group) -> Array:
    baths = [bottle.weighing.bath for bottle in shared.bottles if bottle.weighing is not None]
    return np.concatenate(baths)[group.trials]


def _changed(bottle: Bottle, mask: NDArray[np.bool_], reading: str, step: float) -> Bottle:
    """Return a bottle with a reading of some trials changed by a factor, as its logarithm."""
    if bottle.weighing is None or not mask.any():
        return bottle
    values = np.where(mask, np.exp(step), 1.0) * getattr(bottle.weighing, reading)
    changes: Mapping[str, Array] = {reading: values}
    changed: Weighing = replace(bottle.weighing, **changes)
    return bottle.with_weighing(changed)


def _other_words(reading: str, right: _Right) -> str:
    if reading == "gain":
        return f"A gain {_more_or_less(right.change)} than written would set them right."
    if reading == "volume":
        return f"A volume {_more_or_less(right.change)} than written would set them right."
    return "No one reading of theirs explains it."


def _more_or_less(factor: float) -> str:
    return f"{100.0 * abs(factor - 1.0):.1f} % {'larger' if factor > 1.0 else 'smaller'}"


def _without_reading(phrase: str) -> str:
    """Return the phrase without the reading, which the sentence says itself."""
    return phrase.rpartition("with ")[0].strip() if phrase.endswith(" mmHg") else phrase


def _median(values: Array) -> float:
    return round(float(np.median(values)), 1)


def _range(values: Array) -> str:
    low, high = (f"{float(end):.0f}" for end in (values.min(), values.max()))
    return low if low == high else f"{low} to {high}"
