"""Slips of the pen in a weighing, or in a molar mass: digits, and masses exchanged."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from statistics import mode

import numpy as np

from identify.matching.slips.mechanism.case import GRAMS, Case
from identify.matching.slips.mechanism.digits import (
    Misreading,
    decimals_odds,
    digits_of,
    in_si,
    misreadings,
    written_text,
)
from identify.matching.slips.mechanism.hypothesis import Hypothesis, SlipInWords, saying
from identify.matching.slips.mechanism.rewriting import (
    Rewritten,
    SlipList,
    WrittenReading,
    credible,
    likelier,
    written_readings,
)
from identify.matching.slips.mechanism.wording import miswritten, of_trials
from identify.notebook.quantity.quantities import Quantity

_EXCHANGED_CHANCE = 0.001  # on one page, before anything is compared; common practice
_WHOLE_DIGITS_OF_A_VOLUME = 3  # in milliliters


def _digits_of_a_mass(case: Case) -> Iterator[Rewritten]:
    """Yield masses with a digit dropped, doubled or exchanged, or the point moved."""
    written, odd = list(_written_masses(case)), set(case.odd_places)
    for which, mass in enumerate(written):
        if mass.place not in odd:
            continue
        kilograms = mass.quantity.to("kg").value
        # The other masses of the same flask tell how many digits one has.
        others = written[:which] + written[which + 1 :]
        whole, decimals = (_usual_digits(others, part) for part in (0, 1))
        for one in misreadings(written_text(mass.quantity), whole, decimals):
            gain = case.weighings.read.gain.copy()
            right = in_si(one.value, mass.quantity.unit)
            gain[mass.place] += mass.sign * (right - kilograms)
            if gain[mass.place] > 0.0:
                yield Rewritten(
                    one.kind,
                    one.chance,
                    {"gain": gain},
                    partial(miswritten, mass.name, mass.quantity, one, mass.key),
                    _odds(mass.key, right, kilograms, one.jacobian),
                    mass.key,
                )


@dataclass(frozen=True)
class _WrittenMass:
    """A mass of a trial as it was written, and whether it adds to the gain or takes from it."""

    place: int
    quantity: Quantity
    sign: float
    name: str
    key: str


_MASSES = {
    "empty": (-1.0, "the mass of the empty flask"),
    "condensed": (1.0, "the mass with the condensed liquid"),
    "gain": (1.0, "the gain"),
}


def _written_masses(case: Case) -> Iterator[_WrittenMass]:
    alone = len(case.run.trials) == 1
    for place, trial in enumerate(case.trials):
        for field, (sign, words) in _MASSES.items():
            quantity = getattr(trial.written, field)
            name = words if alone else f"in trial {trial.number}, {words}"
            if quantity is not None and trial.is_by_difference == (field == "gain"):
                yield _WrittenMass(place, quantity, sign, name, _key(case, place, field))


def _key(case: Case, place: int, field: str) -> str:
    return field if len(case.run.trials) == 1 else f"trial {case.number(place)} {field}"


def _odds(key: str, right: float, now: float, jacobian: float) -> float:
    """Return how much likelier a mass is than the one written; of a gain nothing is known."""
    return jacobian if key.endswith("gain") else likelier("mass", right, now, jacobian)


def _usual_digits(masses: Sequence[_WrittenMass], part: int) -> int | None:
    """Return how many digits masses have before (0) or behind (1) the point."""
    counts = [len(digits_of(written_text(mass.quantity))[part]) for mass in masses]
    return mode(counts) if counts else None


def _masses_exchanged(case: Case) -> Iterator[Rewritten]:
    """Yield empty and condensed masses exchanged, in all trials or in one."""
    gain, trials = case.weighings.read.gain, [trial.written for trial in case.trials]
    lost = [int(place) for place in np.flatnonzero(gain < 0.0)]
    if not lost:
        return
    numbers = [case.number(place) for place in lost]
    first = f"in trial {numbers[0]} " if len(lost) > 1 else ""
    one = trials[lost[0]]
    repaired = {}
    for place in lost:
        repaired[_key(case, place, "empty")] = str(trials[place].condensed)
        repaired[_key(case, place, "condensed")] = str(trials[place].empty)
    told = SlipInWords(
        "The masses of the empty flask and of that with the liquid are perhaps exchanged"
        f"{'' if len(lost) == len(trials) else of_trials(numbers)}: {first}{one.condensed} empty, "
        f"{one.empty} with the liquid.",
        repaired,
    )
    yield Rewritten("masses-exchanged", _EXCHANGED_CHANCE, {"gain": np.abs(gain)}, lambda: told)


def _digits_of_the_pressure(case: Case) -> Iterator[Rewritten]:
    """Yield pressures with a digit dropped, doubled or exchanged, or the point moved."""
    return _digits(case, "pressure")


def _digits_of_the_bath(case: Case) -> Iterator[Rewritten]:
    """Yield temperatures of the bath, likewise."""
    return _digits(case, "bath")


def _digits(case: Case, field: str) -> Iterator[Rewritten]:
    for written in written_readings(case, field):
        for one in misreadings(written_text(written.quantity)):
            value = in_si(one.value, written.quantity.unit)
            if credible(field, value):
                tell = partial(miswritten, written.name, written.quantity, one, field)
                odds = one.jacobian * decimals_odds(field, written.quantity, one)
                yield written.meant(value, one.kind, one.chance, tell, odds)


def _digits_of_the_volume(case: Case) -> Iterator[Rewritten]:
    """Yield volumes, likewise, and what they were worked out from."""
    for written in written_readings(case, "volume"):
        for one in misreadings(written_text(written.quantity), _WHOLE_DIGITS_OF_A_VOLUME):
            value = written.now * one.value / written.quantity.value
            if credible("volume", value):
                tell = partial(miswritten, written.name, written.quantity, one, written.key)
                odds = one.jacobian * _volume_odds(written, one)
                yield written.meant(value, one.kind, one.chance, tell, odds)


def _volume_odds(written: WrittenReading, one: Misreading) -> float:
    """Return what its last digit says of a volume; of water's mass nothing is known."""
    return 1.0 if written.key == "water_mass" else decimals_odds("volume", written.quantity, one)


def _molar_mass_digits(case: Case) -> Iterator[Hypothesis]:
    """Yield slips of the pen in a molar mass that was worked out before."""
    written = case.run.molar_mass
    assert written is not None
    for one in misreadings(written_text(written)):
        value = GRAMS * in_si(one.value, written.unit)
        tell = partial(miswritten, "the molar mass", written, one, "molar_mass")
        density = case.density(case.worked_out(value))
        yield Hypothesis(one.kind, one.chance, density, saying(tell), odds=one.jacobian)


SLIPS: SlipList = {
    "weighings": (
        _digits_of_a_mass,
        _masses_exchanged,
        _digits_of_the_pressure,
        _digits_of_the_volume,
        _digits_of_the_bath,
    ),
    "molar_mass": (_molar_mass_digits,),
}
