"""Weighings with one reading as it may have been meant, beside the candidates."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from identify.matching.slips.mechanism.hypothesis import Case, Hypothesis, Told, saying
from identify.notebook.usual import REPEATABILITY, SPREADS, tolerance_u
from identify.observables.comparison import normal
from identify.physics.vapor import Weighing, ideal_molar_mass, implied_molar_mass

Array = NDArray[np.float64]

# Repeated trials agree within `REPEATABILITY`; now and then one does not.
_WILD, _WILD_WIDTH = 0.01, 10.0
_LEAST_AGREEMENT = 1e-12  # however far apart they are

_GRAMS = 1e3  # in a kilogram


def credible(field: str, value: float) -> bool:
    """Say whether a bench can read such a value at all [SI units]."""
    return SPREADS[field].lowest < value < SPREADS[field].highest


def likelier(field: str, value: float, now: float, jacobian: float = 1.0) -> float:
    """Return how much likelier a reading is than the one written, as such readings go."""
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
    tell: Callable[[], Told]
    odds: float = 1.0
    reading: str = ""
    digit: float = 1.0


def compared(case: Case, read: Weighing, rewritten: Sequence[Rewritten]) -> Iterator[Hypothesis]:
    """Yield those of the rewritten weighings that come near any leading candidate."""
    meant = {
        one.name: np.tile(getattr(read, one.name), (len(rewritten), 1)) for one in fields(Weighing)
    }
    for place, one in enumerate(rewritten):
        for field, values in one.changes.items():
            meant[field][place] = values
    per_gain = (meant["bath"] / (meant["pressure"] * meant["volume"])).mean(axis=1)
    readings = (meant[name] for name in ("gain", "bath", "pressure", "volume"))
    shortcut = _GRAMS * ideal_molar_mass(*readings).mean(axis=1)
    # The shortcut is up to 40 % low, never much too high.
    low, high = 0.45 * case.molar_mass.min(), 1.2 * case.molar_mass.max()
    near = np.flatnonzero((shortcut > low) & (shortcut < high))
    if not len(near):
        return
    each = _molar_masses(case, read, {name: values[near] for name, values in meant.items()})
    agreement = scatter(each) / scatter(as_read(case, read))
    baths = meant["bath"][near].mean(axis=1)
    vaporized = case.matcher.vaporized(case.bench, baths[:, np.newaxis], case.rows)
    # The gain is what chance decides: a molar mass a unit larger is that much more gain.
    stretch = per_gain[near] / np.mean(read.bath / (read.pressure * read.volume))
    digits = stretch * [rewritten[int(which)].digit for which in near]
    fitting = normal(each.mean(axis=1) - case.molar_mass, sigma_of(case, each, digits))
    densities = fitting * agreement * vaporized * stretch[:, np.newaxis]
    for which, density in zip(near, densities, strict=True):
        one = rewritten[int(which)]
        yield Hypothesis(one.code, one.chance, density, saying(one.tell), one.reading, one.odds)


def _molar_masses(case: Case, read: Weighing, meant: Mapping[str, Array]) -> Array:
    """Return the molar masses of rewritten weighings, shape (rewritten, k, s) [g/mol]."""
    same = np.all(
        [
            (values == getattr(read, name)).all(axis=1)
            for name, values in meant.items()
            if name != "gain"
        ],
        axis=0,
    )
    # Where only a mass is another, the molar mass moves along a straight line.
    gained = meant["gain"] - read.gain
    each = as_read(case, read) + slope(case, read) * gained[:, :, np.newaxis]
    if not same.all():
        other = {name: values[~same].ravel() for name, values in meant.items()}
        flat = _GRAMS * implied_molar_mass(Weighing(**other), case.liquid)
        each[~same] = flat.reshape(-1, read.trials, len(case.rows))
    return np.asarray(each)


def slope(case: Case, read: Weighing) -> Array:
    """Return what a kilogram more changes each trial by, shape (k, s) [g/(mol kg)]."""
    kept = case.kept.get("slope")
    if kept is None:
        # Any step serves on a straight line: here a gram.
        more = replace(read, gain=read.gain + 1e-3)
        further = _GRAMS * implied_molar_mass(more, case.liquid)
        kept = case.kept["slope"] = (further - as_read(case, read)) / 1e-3
    return kept


def as_read(case: Case, read: Weighing) -> Array:
    """Return the molar masses trial by trial as they stand, shape (k, s) [g/mol]."""
    kept = case.kept.get("as read")
    if kept is None:
        kept = case.kept["as read"] = _GRAMS * implied_molar_mass(read, case.liquid)
    return kept


def scatter(each: Array) -> Array:
    """Return how well trials agree, shape (..., s), from molar masses of shape (..., k, s).

    The density of their relative deviations from the mean, in units in which perfect agreement
    is one; with a small chance that they do not agree at all.
    """
    count = each.shape[-2]
    if count == 1:
        return np.ones((*each.shape[:-2], each.shape[-1]))
    mean = each.mean(axis=-2, keepdims=True)
    size = np.maximum(np.abs(mean), 1e-9)
    squares = (((each - mean) / (size * REPEATABILITY)) ** 2).sum(axis=-2)
    wild = np.exp(-0.5 * squares / _WILD_WIDTH**2) / _WILD_WIDTH ** (count - 1)
    return np.asarray((1.0 - _WILD) * np.exp(-0.5 * squares) + _WILD * wild + _LEAST_AGREEMENT)


def sigma_of(case: Case, each: Array, digit: Array | float = 1.0) -> Array:
    """Return the standard uncertainty of a mean of trials, shape (..., s) [g/mol].

    As the match has it: the tolerance, what was stated for the readings, or the trials' scatter,
    whichever is largest.

    Parameters
    ----------
    case : Case
    each : array, shape (..., k, s)
        The molar masses, trial by trial [g/mol].
    digit : array, shape (...), default=1.0
        What the balance's last digit is in a molar mass, over what it is as written.
    """
    tolerated = 0.01 * tolerance_u(case.matcher.tolerances.molar_mass) * case.molar_mass
    mean = each.mean(axis=-2)
    balance = np.asarray(digit)[..., np.newaxis] * case.bench.gain_u
    stated = np.hypot(case.bench.weighing_u * mean, balance)
    sigma = np.maximum(tolerated, stated)
    count = each.shape[-2]
    if count > 1:
        sigma = np.maximum(sigma, each.std(axis=-2, ddof=1) / np.sqrt(count))
    return np.asarray(sigma)
