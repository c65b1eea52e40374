"""Slips of the pen in a weighing, or in a molar mass: digits, and masses exchanged."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from statistics import mode

import numpy as np

from identify.matching.slips.mechanism.case import GRAMS, Case
from identify.matching.slips.mechanism.digits import (
    Misread,
    digits_of,
    misread,
    written_text,
)
from identify.matching.slips.mechanism.hypothesis import Hypotheses, SlipInWords
from identify.matching.slips.mechanism.rewriting import (
    Rewritings,
    Rewritten,
    SlipList,
    likelier,
    written_readings,
)
from identify.matching.slips.mechanism.wording import each_miswritten, of_trials
from identify.notebook.quantity.quantities import Quantity
from identify.physics.arrays import Array

_EXCHANGED_CHANCE = 0.001  # on one page, before anything is compared; common practice
_WHOLE_DIGITS_OF_A_VOLUME = 3  # in milliliters


def _digits_of_a_mass(case: Case) -> Iterator[Rewritings]:
    """Yield masses with a digit dropped, doubled or exchanged, or the point moved."""
    written, odd = list(_written_masses(case)), set(case.odd_places)
    for which, mass in enumerate(written):
        if mass.place not in odd:
            continue
        kilograms = mass.quantity.to("kg").value
        # The other masses of the same flask tell how many digits one has.
        others = written[:which] + written[which + 1 :]
        whole, decimals = (_usual_digits(others, part) for part in (0, 1))
        found = misread(mass.quantity, whole=whole, decimals=decimals)
        gains = np.tile(case.weighings.read.gain, (len(found.each), 1))
        gains[:, mass.place] += mass.sign * (found.values - kilograms)
        positive = gains[:, mass.place] > 0.0
        yield mass.misread(found.some(positive), gains[positive])


@dataclass(frozen=True)
class _WrittenMass:
    """A mass of a trial as it was written, and whether it adds to the gain or takes from it."""

    place: int
    quantity: Quantity
    sign: float
    name: str
    key: str

    def misread(self, found: Misread, gains: Array) -> Rewritings:
        """Return the weighings with this mass as its digits may have been meant."""
        odds = found.odds
        if not self.key.endswith("gain"):  # of a gain nothing is known
            odds = likelier("mass", found.values, self.quantity.to("kg").value, odds)
        return Rewritings(
            kinds=found.about(self.key),
            chances=found.chances,
            odds=odds,
            changes={"gain": gains},
            tell=each_miswritten(self.name, self.quantity, found, self.key),
        )


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


def _digits_of_the_pressure(case: Case) -> Iterator[Rewritings]:
    """Yield pressures with a digit dropped, doubled or exchanged, or the point moved."""
    return _digits(case, "pressure")


def _digits_of_the_bath(case: Case) -> Iterator[Rewritings]:
    """Yield temperatures of the bath, likewise."""
    return _digits(case, "bath")


def _digits(case: Case, field: str) -> Iterator[Rewritings]:
    for written in written_readings(case, field):
        yield written.misread(misread(written.quantity, field))


def _digits_of_the_volume(case: Case) -> Iterator[Rewritings]:
    """Yield volumes, likewise, and what they were worked out from."""
    for written in written_readings(case, "volume"):
        # Of water's mass nothing is known.
        field = "" if written.key == "water_mass" else "volume"
        found = misread(written.quantity, field, _WHOLE_DIGITS_OF_A_VOLUME)
        numbers = np.array([one.value for one in found.each])
        volumes = written.now * numbers / written.quantity.value
        yield written.misread(replace(found, values=volumes))


def _molar_mass_digits(case: Case) -> Iterator[Hypotheses]:
    """Yield slips of the pen in a molar mass that was worked out before."""
    written = case.run.molar_mass
    assert written is not None
    found = misread(written)
    meant = [case.worked_out(GRAMS * value) for value in found.values.tolist()]
    densities = np.array([case.density(one) for one in meant])
    tell = each_miswritten("the molar mass", written, found, "molar_mass")
    yield Hypotheses.of_digits(found, densities, tell)


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
