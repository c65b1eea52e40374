"""What may have gone wrong; among it, weighings with one reading as it may have been meant."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from itertools import accumulate

import numpy as np

from identify.bench.trials import BenchTrial
from identify.matching.slips.mechanism.case import GRAMS, Case
from identify.matching.slips.mechanism.digits import Misread
from identify.matching.slips.mechanism.hypothesis import Hypotheses, Hypothesis, SlipInWords
from identify.matching.slips.mechanism.wording import each_miswritten
from identify.notebook.quantity.quantities import Quantity
from identify.notebook.usual import SPREADS
from identify.observables.weighing import relative_scatter
from identify.physics.arrays import Array
from identify.physics.vapor import Weighing

_MAX_NUMBERS_AT_ONCE = 1_000_000  # hypotheses times trials times candidates: 8 MB an array
# The shortcut's molar mass is up to 40 % low, never much too high.
_LOWEST_SHORTCUT, _HIGHEST_SHORTCUT = 0.45, 1.2


def credible(field: str, value: float) -> bool:
    """Say whether a bench can read such a value at all [SI units]."""
    return bool(SPREADS[field].holds(value))


def likelier(field: str, value: Array | float, now: float, jacobian: Array | float = 1.0) -> Array:
    """Return how much likelier readings are than the one written, as such readings go."""
    return SPREADS[field].density(value) / SPREADS[field].density(now) * jacobian


@dataclass(frozen=True)
class Rewritten:
    """The weighings with one reading as it may have been meant.

    Parameters
    ----------
    code : str
    chance : float
        Before anything is compared.
    changes : dict of str to array, shape (k,)
        Fields of `Weighing` with other values.
    tell : callable
        Puts it in words; most are never told.
    odds : float, default=1.0
        How much likelier such a reading is than the one written, as such readings go.
    reading : str
        Which reading it is about.
    digit : float, default=1.0
        The balance's last digit, over that of the masses as they are written.
    """

    code: str
    chance: float
    changes: Mapping[str, Array]
    tell: Callable[[], SlipInWords]
    odds: float = 1.0
    reading: str = ""
    digit: float = 1.0


@dataclass(frozen=True)
class Rewritings:
    """The weighings as they may have been meant in any of m ways; see `Rewritten`.

    Parameters
    ----------
    kinds : sequence of (str, str)
        Code of the slip and the reading that it is about, m of them.
    chances, odds : array, shape (m,)
    changes : dict of str to array, shape (m, k)
        Fields of `Weighing` with other values.
    tell : callable
        Puts one of them in words.
    digit : float, default=1.0
    """

    kinds: Sequence[tuple[str, str]]
    chances: Array
    odds: Array
    changes: Mapping[str, Array]
    tell: Callable[[int], SlipInWords]
    digit: float = 1.0

    @classmethod
    def of(cls, one: Rewritten) -> Rewritings:
        """Return a single one as such."""
        return cls(
            kinds=[(one.code, one.reading)],
            chances=np.array([one.chance]),
            odds=np.array([one.odds]),
            changes={field: values[np.newaxis] for field, values in one.changes.items()},
            tell=lambda which: one.tell(),
            digit=one.digit,
        )


_SlipFunction = Callable[[Case], Iterator[Hypothesis | Hypotheses | Rewritten | Rewritings]]
"""What may have happened to the readings of a case, by one kind of slip."""
SlipList = Mapping[str, tuple[_SlipFunction, ...]]
"""By what was read: ``weighings`` and the names of observables."""

_NAMES = {
    "pressure": "the pressure",
    "bath": "the temperature of the bath",
    "room": "the temperature of the room",
    "volume": "the volume",
    "water_volume": "the volume",
    "water_mass": "the water's mass",
}


@dataclass(frozen=True)
class WrittenReading:
    """A reading of the weighings as it was written, and the trials that it stands for.

    Parameters
    ----------
    field : str
        Of `Weighing`.
    key : str
        Of the notebook: a volume may be one of water, or water's mass.
    quantity : Quantity
    places : tuple of int
        Trials of the weighings, from 0.
    numbers : tuple of int
        The same as the page counts them.
    read : Weighing
        As it stands.
    """

    field: str
    key: str
    quantity: Quantity
    places: tuple[int, ...]
    numbers: tuple[int, ...]
    read: Weighing

    @property
    def name(self) -> str:
        """What it is called in a sentence."""
        return _NAMES[self.key]

    @property
    def now(self) -> float:
        """As it stands [SI units]."""
        return float(getattr(self.read, self.field)[self.places[0]])

    def values(self, value: float) -> Array:
        """Return the field of all trials with another value in these, shape (k,)."""
        values: Array = getattr(self.read, self.field).copy()
        values[list(self.places)] = value
        return values

    def meant(
        self,
        value: float,
        code: str,
        chance: float,
        tell: Callable[[], SlipInWords],
        jacobian: float = 1.0,
    ) -> Rewritten:
        """Return the weighings with this reading as it may have been meant [SI units]."""
        odds = float(likelier(self.field, value, self.now, jacobian))
        return Rewritten(code, chance, {self.field: self.values(value)}, tell, odds, self.field)

    def misread(self, found: Misread) -> Rewritings:
        """Return the weighings with this reading as its digits may have been meant."""
        found = found.some(SPREADS[self.field].holds(found.values))
        values = np.tile(getattr(self.read, self.field), (len(found.each), 1))
        values[:, list(self.places)] = found.values[:, np.newaxis]
        return Rewritings(
            kinds=found.about(self.field),
            chances=found.chances,
            odds=likelier(self.field, found.values, self.now, found.odds),
            changes={self.field: values},
            tell=each_miswritten(self.name, self.quantity, found, self.key),
        )


def written_readings(case: Case, field: str) -> Iterator[WrittenReading]:
    """Yield the readings of one kind, those that are written alike as one."""
    places: dict[tuple[str, Quantity], list[int]] = {}
    for place, trial in enumerate(case.trials):
        for key, quantity in _as_written(trial, field).items():
            places.setdefault((key, quantity), []).append(place)
    for (key, quantity), those in places.items():
        numbers = tuple(map(case.number, those))
        read = case.weighings.read
        yield WrittenReading(field, key, quantity, tuple(those), numbers, read)


def _as_written(trial: BenchTrial, field: str) -> dict[str, Quantity]:
    """Return what a field of the weighings was taken from; empty where nothing was written."""
    if field in trial.assumed:
        return {}
    if field == "volume":
        volumes = ("volume", "water_volume", "water_mass")
        written = {key: getattr(trial.flask, key) for key in volumes}
    else:
        source = trial.written if field == "bath" else trial.conditions
        written = {field: getattr(source, field)}
    given = [(key, quantity) for key, quantity in written.items() if quantity is not None]
    return dict(given[:1])


def hypotheses(case: Case, slips: Sequence[_SlipFunction]) -> tuple[Hypotheses, ...]:
    """Return what may have gone wrong, rewritten weighings all compared at once."""
    rewritten: list[Rewritings] = []
    others: list[Hypotheses] = []
    for found in (one for slip in slips for one in slip(case)):
        match found:
            case Rewritten():
                rewritten.append(Rewritings.of(found))
            case Rewritings():
                rewritten.append(found)
            case Hypothesis():
                others.append(Hypotheses.of(found))
            case Hypotheses():
                others.append(found)
    return (*_compared(case, rewritten), *others) if rewritten else tuple(others)


def _compared(case: Case, rewritten: Sequence[Rewritings]) -> Iterator[Hypotheses]:
    """Yield those of the rewritten weighings that come near any leading candidate."""
    read = case.weighings.read
    sizes = [len(one.kinds) for one in rewritten]
    each = [
        (one, which) for one, size in zip(rewritten, sizes, strict=True) for which in range(size)
    ]
    meant = {one.name: np.tile(getattr(read, one.name), (len(each), 1)) for one in fields(Weighing)}
    for one, end in zip(rewritten, accumulate(sizes), strict=True):
        for field, values in one.changes.items():
            meant[field][end - len(values) : end] = values
    shortcut = GRAMS * Weighing(**meant).ideal_molar_mass().mean(axis=1)
    low, high = _LOWEST_SHORTCUT * case.molar_mass.min(), _HIGHEST_SHORTCUT * case.molar_mass.max()
    near = np.flatnonzero((shortcut > low) & (shortcut < high))
    size = max(_MAX_NUMBERS_AT_ONCE // (read.trials * len(case.rows)), 1)
    for start in range(0, len(near), size):
        some = near[start : start + size]
        yield _of_some(
            case,
            [each[place] for place in some.tolist()],
            {name: values[some] for name, values in meant.items()},
        )


def _of_some(
    case: Case, rewritten: Sequence[tuple[Rewritings, int]], meant: Mapping[str, Array]
) -> Hypotheses:
    """Compare some of them, as many as fit into memory with all candidates and trials."""
    weighings, read = case.weighings, case.weighings.read
    mean, shut_out = weighings.rewritten(meant)
    scatter = relative_scatter(Weighing(**meant).ideal_molar_mass())
    agreeing = weighings.agreement(scatter)[:, np.newaxis]
    baths, which_bath = np.unique(meant["bath"].mean(axis=1), return_inverse=True)
    vaporized = case.matcher.vaporized(case.bench, baths[:, np.newaxis], case.rows)[which_bath]
    # The gain is what chance decides: a molar mass a unit larger is that much more gain.
    per_gain = (meant["bath"] / (meant["pressure"] * meant["volume"])).mean(axis=1)
    stretch = per_gain / np.mean(read.bath / (read.pressure * read.volume))
    digits = stretch * [one.digit for one, _ in rewritten]
    fitting = weighings.density(mean, shut_out, scatter, digits)

    def tell(which: int, place: int) -> SlipInWords:
        one, own = rewritten[which]
        return one.tell(own)

    return Hypotheses(
        kinds=[one.kinds[which] for one, which in rewritten],
        chances=np.array([one.chances[which] for one, which in rewritten]),
        odds=np.array([one.odds[which] for one, which in rewritten]),
        densities=fitting * agreeing * vaporized * stretch[:, np.newaxis],
        tell=tell,
    )
