"""Slips at the bench that change what was weighed by some amount: too much, too little, a volume.

These amounts are not known; each has a distribution, and the amount named is the one that brings
the weighing to the candidate's molar mass.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import log, sqrt

import numpy as np
from numpy.typing import NDArray

from identify.matching.slips.catalog.record import AT_SEA, SCALE_HEIGHT, SEA_LEVEL_CHANCE
from identify.matching.slips.mechanism.hypothesis import Case, Hypothesis, Told, gamma
from identify.matching.slips.mechanism.rewriting import (
    as_read,
    credible,
    scatter,
    sigma_of,
    slope,
)
from identify.notebook.measurement import Measurement
from identify.notebook.quantities import Quantity
from identify.notebook.usual import BRIM_RATIO, BRIM_RATIO_SD, NOMINAL_SIZES, REPEATABILITY, SPREADS
from identify.observables.comparison import normal
from identify.physics.boiling import boiling_temperature
from identify.physics.vapor import Weighing

Array = NDArray[np.float64]

# Chances on one page, and sizes [kg, or relative]. Common practice: what instructors see.
# Liquid left, or water on the foil, of the vapor's mass: twice this in the mean; and missing vapor.
_EXCESS_CHANCE, _EXCESS = 0.012, 0.2
_MISSING_CHANCE, _MISSING = 0.006, 0.08
_ADDED_CHANCE = 0.004  # a boiling stone, a rubber band, or the lid missing at the first weighing
_LID_CHANCE = 0.002  # the lid missing at the second
_PIECE, _PIECE_SPREAD = 0.6e-3, 0.6  # such a piece: median, and standard deviation of its logarithm
_COPIED_CHANCE, _ANY_GAIN = 0.9, 2e-4  # kg; two equal masses are hardly ever anything else
_ONE_TRIAL_CHANCE = 0.020  # that one of several trials is off by any of the above
_ONE_TRIAL = 0.25  # relative, of such a trial

# A volume that is exactly what is printed on a flask is mostly that, and not the brim's.
_NOMINAL_CHANCE = 0.5
# These are rare as flasks, while flasks of 125, 250 and 500 mL hold that much when full.
_ALSO_A_BRIM, _ALSO_A_BRIM_CHANCE = (150, 300, 600), 0.05
_UNKNOWN_HEIGHT_CHANCE, _HEIGHT = 0.002, 500.0  # m, twice this in the mean

_NEAR_BOILING = 3.0  # K above it, a bath may have been too cool
_GRAMS, _MILLIGRAMS = 1e3, 1e6
_ROOT_TWO_PI = sqrt(2.0 * np.pi)


def technique_slips(case: Case) -> Iterator[Hypothesis]:
    """Yield what may have gone wrong at the bench while the flask was heated and weighed."""
    read = case.bench.weighing
    if read is None:
        return
    found = as_read(case, read)
    per_gain = slope(case, read)
    empty_handed = found - per_gain * read.gain[:, np.newaxis]
    bench = _Weighed(case, read, found, found.mean(axis=0), empty_handed, per_gain.mean(axis=0))
    yield from _excess(bench)
    yield from _missing(bench)
    yield from _pieces(bench)
    yield from _copied(bench)
    yield from _one_trial(bench)
    yield from _nominal_volume(bench)
    yield from _reduced_to_the_sea(bench)


def suspicion(run: Measurement, read: Weighing) -> float:
    """Return the chance of the likeliest slip that a page itself gives rise to suspect."""
    if bool((read.gain == 0.0).all()):
        return _COPIED_CHANCE
    if _nominal_size(run, read) is not None:
        return _NOMINAL_CHANCE
    # A number that no bench reads is wrong, however little the weighing minds.
    for field in SPREADS.keys() - {"mass"}:
        readings = getattr(read, field)
        if not (credible(field, readings.min()) and credible(field, readings.max())):
            return 1.0
    heights = [run.trial_conditions(trial).height for trial in run.trials]
    return SEA_LEVEL_CHANCE if any(heights) else 0.0


class _Weighed:
    """The weighings beside the leading candidates.

    ``found`` (k, s) and ``mean`` (s,) are the molar masses as they stand, ``without`` (k, s) those
    of no gain at all, ``slope`` (s,) is g/mol a kilogram of gain.
    """

    def __init__(
        self, case: Case, read: Weighing, found: Array, mean: Array, without: Array, slope: Array
    ) -> None:
        self.case, self.read, self.found, self.mean = case, read, found, mean
        self.without, self.slope = without, slope
        # What was weighed too much [kg], for each candidate.
        self.excess = (mean - case.molar_mass) / slope
        self.vapor = case.molar_mass / slope
        sigma = sigma_of(case, found)
        self.noise = sigma / slope

    def offset(
        self, code: str, chance: float, density: Array, tell: Callable[[int], Told]
    ) -> Hypothesis:
        """Return a hypothesis with a density in kilograms of gain."""
        return Hypothesis(code, chance, density / self.slope, tell)


def _excess(bench: _Weighed) -> Iterator[Hypothesis]:
    def tell(place: int) -> Told:
        mass = _mass(float(bench.excess[place]))
        return Told(
            f"About {mass} too much were weighed: liquid left in the flask when the vapor filled "
            "it, or water on the foil.",
            {"excess_mass": mass},
        )

    density = gamma(bench.excess / bench.vapor, _EXCESS) / bench.vapor
    yield bench.offset("mass-in-excess", _EXCESS_CHANCE, density, tell)


def _missing(bench: _Weighed) -> Iterator[Hypothesis]:
    case, read = bench.case, bench.read
    boils = boiling_temperature(
        float(read.pressure.mean()), case.liquid.boiling_point, case.liquid.vapor_curve
    )
    cool = float(read.bath.mean()) - boils < _NEAR_BOILING

    def tell(place: int) -> Told:
        mass = _mass(-float(bench.excess[place]))
        reason = (
            "the bath was hardly above the boiling point, so that vapor did not fill the flask"
            if cool[place]
            else "the vapor did not fill the flask (too short in the bath, too little liquid), or "
            "it was weighed while still warm"
        )
        return Told(
            f"About {mass} are missing: {reason}.",
            {"missing_mass": mass},
        )

    share = -bench.excess / bench.vapor
    # No more can be missing than the vapor.
    density = gamma(share, _MISSING) / bench.vapor * (share <= 1.0)
    yield bench.offset("mass-missing", _MISSING_CHANCE, density, tell)


def _pieces(bench: _Weighed) -> Iterator[Hypothesis]:
    def added(place: int) -> Told:
        grams = _GRAMS * float(bench.excess[place])
        return Told(
            f"About {grams:.2f} g came on after the first weighing: something added (a boiling "
            "stone, a rubber band), or the lid was left off at first.",
            {"added_mass": f"{grams:.2f} g"},
        )

    def lid(place: int) -> Told:
        grams = -_GRAMS * float(bench.excess[place])
        return Told(
            f"About {grams:.2f} g went missing between the weighings: the lid was perhaps left "
            "off at the second.",
            {"missing_mass": f"{grams:.2f} g"},
        )

    yield bench.offset("mass-added", _ADDED_CHANCE, _piece(bench.excess), added)
    yield bench.offset("lid-left-off", _LID_CHANCE, _piece(-bench.excess), lid)


def _copied(bench: _Weighed) -> Iterator[Hypothesis]:
    if not bool((bench.read.gain == 0.0).all()):
        return

    def tell(place: int) -> Told:
        grams = -_GRAMS * float(bench.excess[place])
        # Hardly anything where the volume is wrong as well.
        mass = f"{grams:.2f} g" if grams >= 0.005 else f"{1e3 * grams:.2g} mg"
        return Told(
            "One mass was perhaps copied into both fields: with the liquid, the flask should have "
            f"been about {mass} heavier.",
            {"gain": mass},
        )

    expected = -bench.excess
    yield bench.offset("mass-copied", _COPIED_CHANCE, gamma(expected, _ANY_GAIN), tell)


def _one_trial(bench: _Weighed) -> Iterator[Hypothesis]:
    """Yield one of several trials that is off by any amount: the others tell."""
    count = bench.read.trials
    if count < 2 or bool((bench.read.gain == 0.0).all()):
        return
    case = bench.case
    agreement = scatter(bench.found)
    for place in range(count):
        others = np.delete(bench.found, place, axis=0)
        mean = others.mean(axis=0)
        off = (bench.found[place] - mean) / np.maximum(np.abs(mean), 1e-9)
        wild = normal(np.asarray(off), _ONE_TRIAL) * REPEATABILITY * _ROOT_TWO_PI
        wild *= sqrt(count / (count - 1))  # what perfect agreement of one trial more would weigh
        density = normal(mean - case.molar_mass, sigma_of(case, others)) * scatter(others)

        def tell(leading: int, place: int = place, mean: Array = mean) -> Told:
            more = float((bench.found[place, leading] - mean[leading]) / bench.slope[leading])
            word = "too much" if more > 0.0 else "too little"
            return Told(
                f"Trial {place + 1} is off: about {_mass(abs(more))} {word} were weighed; the "
                "others agree.",
                {f"trial {place + 1}": "left out"},
            )

        yield Hypothesis(
            "one-trial-off", _ONE_TRIAL_CHANCE / count, density * wild / agreement, tell
        )


def _nominal_size(run: Measurement, read: Weighing) -> int | None:
    """Return the size that is printed on a flask [mL] where that is all of the volume."""
    volumes = _MILLIGRAMS * read.volume  # mL
    nearest = min(NOMINAL_SIZES, key=lambda size: abs(size - volumes[0]))
    weighed_water = run.trial_flask(run.trials[0]).water_mass
    if weighed_water is not None or bool((abs(volumes - nearest) > 1e-6 * nearest).any()):
        return None
    return nearest


def _nominal_volume(bench: _Weighed) -> Iterator[Hypothesis]:
    nearest = _nominal_size(bench.case.run, bench.read)
    if nearest is None:
        return
    # Gain over volume, and what does not depend on the volume: the air shut out.
    own = bench.case.molar_mass - bench.without.mean(axis=0)
    ratio = (bench.mean - bench.without.mean(axis=0)) / own
    density = normal(ratio - BRIM_RATIO, BRIM_RATIO_SD) / own

    def tell(place: int) -> Told:
        brim = float(ratio[place] * nearest)
        return Told(
            f"The volume, {nearest} mL, is what is printed on the flask; filled to the brim it "
            f"holds about {brim:.0f} mL.",
            {"volume": f"{brim:.0f} mL"},
        )

    chance = _ALSO_A_BRIM_CHANCE if nearest in _ALSO_A_BRIM else _NOMINAL_CHANCE
    yield Hypothesis("volume-nominal", chance, density, tell)


def _reduced_to_the_sea(bench: _Weighed) -> Iterator[Hypothesis]:
    pressure = bench.read.pressure
    low, high = AT_SEA
    heights = [bench.case.run.trial_conditions(trial).height for trial in bench.case.run.trials]
    if any(heights) or not bool(((pressure > low) & (pressure < high)).all()):
        return
    ratio = np.clip(bench.mean / bench.case.molar_mass, 1e-3, None)  # station over written
    height = -SCALE_HEIGHT * np.log(ratio)
    density = gamma(height, _HEIGHT) * SCALE_HEIGHT / np.maximum(bench.mean, 1e-3)

    def tell(place: int) -> Told:
        shown = Quantity(float(pressure.mean() * ratio[place]), "Pa").to("mmHg").value
        meters = float(height[place])
        return Told(
            "The pressure is perhaps that of a weather report, reduced to the sea: at about "
            f"{_rounded(meters)} m above it the barometer shows {shown:.0f} mmHg.",
            {"pressure": f"{shown:.0f} mmHg"},
        )

    yield Hypothesis("pressure-at-sea", _UNKNOWN_HEIGHT_CHANCE, density, tell)


def _piece(size: Array) -> Array:
    """Return the density of a small thing's mass [1/kg]: log-normal."""
    positive = np.maximum(size, 1e-9)
    off = (np.log(positive) - log(_PIECE)) / _PIECE_SPREAD
    density = np.exp(-0.5 * off * off) / (positive * _PIECE_SPREAD * _ROOT_TWO_PI)
    return np.where(size > 0.0, density, 0.0)


def _mass(kilograms: float) -> str:
    """Return a mass in the unit that suits its size."""
    milligrams = _MILLIGRAMS * kilograms
    return f"{_rounded(milligrams)} mg" if milligrams < 1e3 else f"{_rounded(milligrams / 1e3)} g"


def _rounded(value: float) -> str:
    """Return a size with two significant digits, as it is known."""
    return f"{float(f'{value:.2g}'):g}"
