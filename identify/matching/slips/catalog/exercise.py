"""Numbers that nobody weighed: those of an exercise, worked out with the gas law."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from identify.bench.trials import BenchTrial
from identify.matching.slips.mechanism.case import GRAMS, Case
from identify.matching.slips.mechanism.hypothesis import Hypothesis, SlipInWords
from identify.matching.slips.mechanism.rewriting import SlipList
from identify.matching.slips.mechanism.wording import two_digits
from identify.observables.error.comparison import normal
from identify.physics.vapor import ideal_molar_mass

# The chance that a page is an exercise, by whether only the difference of two masses stands on it,
# and whether no temperature of the room does: an exercise needs neither. Common practice.
_CHANCES = {(True, True): 0.3, (False, True): 0.05, (True, False): 0.03, (False, False): 0.005}
_REPEATED = 0.2  # of that where there are several trials: exercises have one
NARROWER = 10.0
"""How much narrower such numbers are than those of a bench, about."""
_ROUNDING = 0.005  # relative, of molar mass, gas constant and temperatures


def exercise_chance(trials: Sequence[BenchTrial]) -> float:
    """Return the chance that weighings are those of an exercise, before anything is compared."""
    if not all(trial.is_in_flask for trial in trials):
        return 0.0
    by_difference = all(trial.is_by_difference for trial in trials)
    chance = _CHANCES[by_difference, all("room" in trial.assumed for trial in trials)]
    return chance if len(trials) == 1 else _REPEATED * chance


def _ideal_gas_numbers(case: Case) -> Iterator[Hypothesis]:
    """Yield a gain that is M P V / (R T), as in an exercise."""
    weighings, read = case.weighings, case.weighings.read
    per_kilogram = GRAMS * ideal_molar_mass(1.0, read.bath, read.pressure, read.volume)
    ideal = float((per_kilogram * read.gain).mean())
    sigma = np.hypot(_ROUNDING * case.molar_mass, case.bench.gain_u)
    # In the unit of the molar mass with each candidate's corrections.
    density = normal(ideal - case.molar_mass, sigma) * per_kilogram.mean() / weighings.slope

    def tell(place: int) -> SlipInWords:
        off = 1e6 * float(weighings.excess[place])  # mg
        word = "less" if off > 0.0 else "more"
        name = case.table.text("name")[case.rows[place]]
        return SlipInWords(
            f"These are perhaps the numbers of an exercise: m R T / (P V) is {ideal:.1f} g/mol, as "
            f"of {name}. On a balance it would have gained {two_digits(abs(off))} mg {word}.",
            {"molar_mass_by": "ideal gas"},
        )

    yield Hypothesis("ideal-gas-numbers", exercise_chance(case.trials), density, tell)


SLIPS: SlipList = {"weighings": (_ideal_gas_numbers,)}
