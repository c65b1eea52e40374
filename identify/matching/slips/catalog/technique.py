"""Slips at the bench that change what was weighed by some amount: too much, too little, a volume.

These amounts are not known; each has a distribution, and the amount named is the one that brings
the weighing to the candidate's molar mass.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from math import log

import numpy as np
from numpy.typing import NDArray

from identify.bench.trials import BenchTrial
from identify.matching.slips.catalog.exercise import NARROWER, exercise_chance
from identify.matching.slips.catalog.pressure import SEA_LEVEL_CHANCE
from identify.matching.slips.mechanism.case import GRAMS, Case
from identify.matching.slips.mechanism.hypothesis import Hypothesis, SlipInWords, gamma
from identify.matching.slips.mechanism.rewriting import Rewritten, SlipList
from identify.matching.slips.mechanism.wording import of_trials, two_digits
from identify.notebook.usual import (
    BRIM_OVER_NOMINAL,
    BRIM_RATIO,
    BRIM_RATIO_SD,
    SPREADS,
    printed_size,
)
from identify.observables.error.comparison import ROOT_TWO_PI, normal
from identify.physics.arrays import Array
from identify.physics.boiling import boiling_temperature
from identify.physics.constants import ICE_POINT
from identify.physics.vapor import Weighing

# Chances on one page, and sizes [kg, or relative]. Common practice: what instructors see.
_ADDED_CHANCE = 0.004  # a boiling stone, a rubber band, or the lid missing at the first weighing
_LID_CHANCE = 0.002  # the lid missing at the second
_PIECE, _PIECE_SPREAD = 0.6e-3, 0.6  # such a piece: median, and standard deviation of its logarithm
# A flask that was cooled in ice and weighed before it was as warm as the room.
_COLD_CHANCE, _COLD = 0.05, ICE_POINT + 5.0  # K
_COPIED_CHANCE, _ANY_GAIN = 0.9, 2e-4  # kg; two equal masses are hardly ever anything else
# That one of several trials is off by any of the above, and how far, relative: half of published
# reports with several trials scatter by more than 10 %, many of them for one odd trial.
_ONE_TRIAL_CHANCE, _ONE_TRIAL = 0.15, 0.35

# A volume that is exactly what is printed on a flask is mostly that, and not the brim's.
_NOMINAL_CHANCE = 0.5
# These are rare as flasks, while flasks of 125, 250 and 500 mL hold that much when full.
_ALSO_A_BRIM, _ALSO_A_BRIM_CHANCE = (150, 300, 600), 0.05

_NEAR_BOILING = 3.0  # K above it, a bath may have been too cool
_TOGETHER = 0.15  # of the vapor: from which trials that agree are off together, as rough work is
_MILLIGRAMS = 1e6  # in a kilogram


def _mass_in_excess(case: Case) -> Iterator[Hypothesis]:
    """Yield what was weighed too much: liquid left in the flask, or water on the foil."""
    density = case.part(case.evidence.molar_mass, "mass-in-excess")
    yield _rough_part("mass-in-excess", density, _tell_excess(case.weighings.excess))


def _mass_missing(case: Case) -> Iterator[Hypothesis]:
    """Yield vapor that is missing: it did not fill the flask, or was weighed while warm."""
    excess, density = case.weighings.excess, case.part(case.evidence.molar_mass, "mass-missing")
    yield _rough_part("mass-missing", density * _can_miss(case, excess), _tell_miss(case, excess))


def _rough_part(code: str, density: Array, tell: Callable[[int], SlipInWords]) -> Hypothesis:
    return Hypothesis(code, 1.0, density, tell, is_part=True)


def _can_miss(case: Case, excess: Array) -> NDArray[np.bool_]:
    """Say of which candidates so much can be missing: no more than the vapor, shape (s,)."""
    return np.asarray(-excess <= case.weighings.vapor)


def _tell_excess(excess: Array) -> Callable[[int], SlipInWords]:
    def tell(place: int) -> SlipInWords:
        mass = _mass(float(excess[place]))
        return SlipInWords(
            f"About {mass} too much were weighed: liquid left in the flask when the vapor filled "
            "it, or water on the foil.",
            {"excess_mass": mass},
        )

    return tell


def _tell_miss(case: Case, excess: Array) -> Callable[[int], SlipInWords]:
    read = case.weighings.read
    boils = boiling_temperature(
        float(read.pressure.mean()), case.liquid.boiling_point, case.liquid.vapor_curve
    )
    cool = float(read.bath.mean()) - boils < _NEAR_BOILING

    def tell(place: int) -> SlipInWords:
        mass = _mass(-float(excess[place]))
        reason = (
            "the bath was hardly above the boiling point, so that vapor did not fill the flask"
            if cool[place]
            else "the vapor did not fill the flask (too short in the bath, too little liquid), or "
            "it was weighed while still warm"
        )
        return SlipInWords(
            f"About {mass} are missing: {reason}.",
            {"missing_mass": mass},
        )

    return tell


def _mass_added(case: Case) -> Iterator[Hypothesis]:
    """Yield something added after the first weighing, or the lid left off at that."""
    excess = case.weighings.excess

    def tell(place: int) -> SlipInWords:
        grams = GRAMS * float(excess[place])
        return SlipInWords(
            f"About {grams:.2f} g came on after the first weighing: something added (a boiling "
            "stone, a rubber band), or the lid was left off at first.",
            {"added_mass": f"{grams:.2f} g"},
        )

    yield _of_gain(case, "mass-added", _ADDED_CHANCE, _piece(excess), tell)


def _lid_left_off(case: Case) -> Iterator[Hypothesis]:
    """Yield the lid left off at the second weighing."""
    excess = case.weighings.excess

    def tell(place: int) -> SlipInWords:
        grams = -GRAMS * float(excess[place])
        return SlipInWords(
            f"About {grams:.2f} g went missing between the weighings: the lid was perhaps left "
            "off at the second.",
            {"missing_mass": f"{grams:.2f} g"},
        )

    yield _of_gain(case, "lid-left-off", _LID_CHANCE, _piece(-excess), tell)


def _mass_copied(case: Case) -> Iterator[Hypothesis]:
    """Yield one mass copied into both fields, where there is no gain at all, in all trials or some.

    The other trials err as trials do, and tell what was to be weighed.
    """
    weighings, gain = case.weighings, case.weighings.read.gain
    copied, others = np.flatnonzero(gain == 0.0), np.flatnonzero(gain)
    if not len(copied):
        return
    if len(others):
        numbers = [case.number(int(place)) for place in copied]
        missing, where = (weighings.mean_of(others) - weighings.mean_of(copied)), of_trials(numbers)
        grams_missing = missing / weighings.slope
        density = weighings.density_of(others) * weighings.agreement_of(others)
    else:
        grams_missing, where = -weighings.excess, ""
        density = gamma(-weighings.excess, _ANY_GAIN) / weighings.slope

    def tell(place: int) -> SlipInWords:
        grams = GRAMS * float(grams_missing[place])
        # Hardly anything where the volume is wrong as well.
        mass = f"{grams:.2f} g" if grams >= 0.005 else f"{1e3 * grams:.2g} mg"
        return SlipInWords(
            f"One mass was perhaps copied into both fields{where}: with the liquid, the flask "
            f"should have been about {mass} heavier.{_together(case, others, place)}",
            {"gain": mass},
        )

    yield Hypothesis("mass-copied", _COPIED_CHANCE, density, tell)


def _one_trial_off(case: Case) -> Iterator[Hypothesis]:
    """Yield one of several trials that is off by any amount: the others tell."""
    weighings, found, count = case.weighings, case.weighings.each, case.weighings.read.trials
    shown = weighings.shortcut
    if count < 2 or not weighings.read.gain.any():
        return
    for place in case.odd_places:
        others = np.delete(np.arange(count), place)
        mean = weighings.mean_of(others)
        among = shown[others].mean()
        off = (shown[place : place + 1] - among) / max(abs(among), 1e-12)
        wild = normal(off, _ONE_TRIAL) * weighings.agreement_of(others)

        def tell(
            leading: int,
            place: int = place,
            mean: Array = mean,
            others: NDArray[np.int64] = others,
        ) -> SlipInWords:
            more = float((found[place, leading] - mean[leading]) / weighings.slope[leading])
            word = "too much" if more > 0.0 else "too little"
            number = case.number(place)
            return SlipInWords(
                f"Trial {number} is off: about {_mass(abs(more))} {word} were weighed; the "
                f"others agree.{_together(case, others, leading)}",
                {f"trial {number}": "left out"},
            )

        yield Hypothesis(
            "one-trial-off",
            _ONE_TRIAL_CHANCE / count,
            weighings.density_of(others) * wild,
            tell,
            reading=f"trial {case.number(place)}",
            besides=partial(_rough_besides, case, others, wild),
        )


def _rough_besides(
    case: Case, others: NDArray[np.int64], wild: Array
) -> tuple[Hypothesis, Hypothesis]:
    """Return that the other trials were rough, each with its part of the density."""
    parts = case.weighings.rough_parts_of(others)
    excess = (case.weighings.mean_of(others) - case.molar_mass) / case.weighings.slope
    missing = parts["mass-missing"] * wild * _can_miss(case, excess)
    return (
        _rough_part("mass-in-excess", parts["mass-in-excess"] * wild, _tell_excess(excess)),
        _rough_part("mass-missing", missing, _tell_miss(case, excess)),
    )


def _together(case: Case, others: NDArray[np.int64], place: int) -> str:
    """Say that the other trials are off together, where they are."""
    if not len(others):
        return ""
    weighings = case.weighings
    excess = float((weighings.mean_of(others) - case.molar_mass)[place] / weighings.slope[place])
    if abs(excess) < _TOGETHER * float(weighings.vapor[place]):
        return ""
    word = "much" if excess > 0.0 else "little"
    return f" In the rest, about {_mass(abs(excess))} too {word} were weighed."


def _weighed_cold(case: Case) -> Iterator[Rewritten]:
    """Yield a flask that was weighed while it was still as cold as the ice that cooled it."""
    flasks, read = case.trials, case.weighings.read
    is_said = any(one.written.weighed_at is not None or one.flask.closed for one in flasks)
    colder = read.room - _COLD
    if is_said or not flasks[0].is_in_flask or bool((colder <= 0.0).any()):
        return
    heavier = 1e6 * float(np.mean(read.air_density * read.volume * colder / _COLD))  # mg
    cold = f"{_COLD - ICE_POINT:.0f} °C"
    told = SlipInWords(
        f"The flask was perhaps weighed cold, as it came from an ice bath: at {cold} the air in it "
        f"has about {two_digits(heavier)} mg more than in the room.",
        {"weighed_at": cold},
    )
    yield Rewritten("weighed-cold", _COLD_CHANCE, {"contents": -colder}, lambda: told)


def _nominal_size(trials: Sequence[BenchTrial], read: Weighing) -> int | None:
    """Return the size that is printed on a flask [mL] where that is all of the volume."""
    is_read = trials[0].flask.measured_volume is not None and "volume" not in trials[0].assumed
    if not is_read or not trials[0].is_in_flask:
        return None
    first, *others = (printed_size(float(volume)) for volume in 1e6 * read.volume)  # mL
    return first if all(other == first for other in others) else None


def _volume_nominal(case: Case) -> Iterator[Hypothesis]:
    """Yield the size that is printed on a flask, taken for the volume up to its brim."""
    weighings, read = case.weighings, case.weighings.read
    nearest = _nominal_size(case.trials, read)
    if nearest is None:
        return
    # Gain over volume, and what does not depend on the volume: the air shut out.
    without = weighings.shut_out.mean(axis=0)
    own = case.molar_mass - without
    ratio = (weighings.mean - without) / own
    # Trials that differ by their own readings say little of a volume that they share.
    error = weighings.error
    if not error.parts:  # rough work says nothing of it
        return
    well_done = sum(
        weight * normal(ratio - BRIM_RATIO, np.hypot(BRIM_RATIO_SD, BRIM_RATIO * size))
        for weight, size in error.parts
    )
    # Rough technique is as far off whatever the volume.
    rough = (*_mass_in_excess(case), *_mass_missing(case))
    density = well_done / own + sum(one.density for one in rough)
    chance = _ALSO_A_BRIM_CHANCE if nearest in _ALSO_A_BRIM else _NOMINAL_CHANCE

    def tell(place: int) -> SlipInWords:
        brim = nearest * float(np.clip(ratio[place], *BRIM_OVER_NOMINAL))
        return SlipInWords(
            f"The volume, {nearest} mL, is what is printed on the flask; filled to the brim it "
            f"holds about {brim:.0f} mL.",
            {"volume": f"{brim:.0f} mL"},
        )

    yield Hypothesis("volume-nominal", chance, density, tell, besides=lambda: rough)


def suspicion(trials: Sequence[BenchTrial], read: Weighing) -> float:
    """Return the chance of the likeliest slip that a page itself gives rise to suspect."""
    if not read.gain.all():
        return _COPIED_CHANCE
    if _nominal_size(trials, read) is not None:
        return _NOMINAL_CHANCE
    if not trials[0].is_in_flask:  # a vapor may be measured at any pressure
        return 0.0
    # A number that no bench reads is wrong, however little the weighing minds.
    for field in SPREADS.keys() - {"mass"}:
        if not SPREADS[field].holds(getattr(read, field)).all():
            return 1.0
    heights = [trial.conditions.height for trial in trials if "pressure" not in trial.assumed]
    return max(
        min(NARROWER * exercise_chance(trials), 1.0),
        SEA_LEVEL_CHANCE if any(heights) else 0.0,
        _ONE_TRIAL_CHANCE if len(trials) > 1 else 0.0,
    )


def _of_gain(
    case: Case, code: str, chance: float, density: Array, tell: Callable[[int], SlipInWords]
) -> Hypothesis:
    """Return a hypothesis whose density is one in kilograms of gain."""
    return Hypothesis(code, chance, density / case.weighings.slope, tell)


def _piece(size: Array) -> Array:
    """Return the density of a small thing's mass [1/kg]: log-normal."""
    positive = np.maximum(size, 1e-9)
    off = (np.log(positive) - log(_PIECE)) / _PIECE_SPREAD
    density = np.exp(-0.5 * off * off) / (positive * _PIECE_SPREAD * ROOT_TWO_PI)
    return np.where(size > 0.0, density, 0.0)


def _mass(kilograms: float) -> str:
    """Return a mass in the unit that suits its size."""
    milligrams = _MILLIGRAMS * kilograms
    if milligrams < 1e3:
        return f"{two_digits(milligrams)} mg"
    return f"{two_digits(milligrams / 1e3)} g"


PARTS: SlipList = {"weighings": (_mass_in_excess, _mass_missing)}
"""Those that a weighing's own likelihood holds."""
SLIPS: SlipList = {
    "weighings": (
        *PARTS["weighings"],
        _mass_added,
        _lid_left_off,
        _weighed_cold,
        _mass_copied,
        _one_trial_off,
        _volume_nominal,
    )
}
