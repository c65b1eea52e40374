"""Findings on the percent composition: its sum, the formulas that have it, and the molar mass."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from math import sqrt
from typing import TYPE_CHECKING

from identify.checks.facts import Facts
from identify.notebook.composition.formulas import percent_composition
from identify.notebook.findings import Finding, listed
from identify.notebook.plausible import lists_no_oxygen, look_like_fractions
from identify.notebook.usual import tolerance_u

if TYPE_CHECKING:
    import numpy as np

    from identify.chemistry.formula.search import PercentArrays
    from identify.physics.arrays import Array

_LARGEST = 500.0  # g/mol; the heaviest liquids that boil there are perfluorinated
# A deviation beyond three standard uncertainties is not chance; one beyond two often is.
_DOUBT = 3.0
# Cards round to 0.1 or 0.01, and use the atomic weights of their own time. Common practice.
_ROUNDING = 0.3  # percentage points
_WIDEST = 5.0  # percentage points: what is known worse says nothing about a formula
_NAMED = 3  # formulas in a sentence


@dataclass(frozen=True)
class _ListedPercentages:
    """The percentages of a run, zeros left out, with the half-widths of their tolerances."""

    percent: dict[str, float]
    tolerance: dict[str, float]

    @classmethod
    def of(cls, facts: Facts) -> _ListedPercentages:
        percent, tolerance = {}, {}
        for element, quantity in facts.run.percent.items():
            read = quantity.to("%")
            if read.value > 0.0:
                percent[element] = read.value
                stated = read.uncertainty
                tolerance[element] = facts.percent_tolerance if stated is None else 2.0 * stated
        return cls(percent, tolerance)

    @property
    def sum(self) -> float:
        return sum(self.percent.values())

    @property
    def allowance(self) -> float:
        """How far the sum may be from 100."""
        return max(sqrt(sum(width * width for width in self.tolerance.values())), _ROUNDING)

    @property
    def complete(self) -> bool:
        return bool(self.percent) and abs(self.sum - 100.0) <= self.allowance

    def __str__(self) -> str:
        return " + ".join(f"{element} {value:.4g}" for element, value in self.percent.items())


def _sum(facts: Facts) -> Iterator[Finding]:
    card = _ListedPercentages.of(facts)
    if not card.percent or card.complete:
        return
    numbers = {"sum_percent": card.sum}
    off = card.sum - 100.0
    # Readings that are as good as they should be leave the tolerance once in twenty cards.
    doubtful = abs(off) > _DOUBT * tolerance_u(card.allowance)
    chance = "" if doubtful else " Chance alone does that in one card of twenty."
    if look_like_fractions(card.sum, len(card.percent)):
        yield Finding(
            "percent-as-fraction",
            "error",
            f"The percentages add up to {card.sum:.3g} ({card}): these look like fractions.",
            "Multiply them by 100.",
            numbers,
        )
    elif off > 0.0:
        yield Finding(
            "percent-sum-high",
            "error" if doubtful else "note",
            f"The percentages add up to {card.sum:.2f} ({card}), {off:.2f} more than 100.{chance}",
            "Look for a wrong or doubled digit, or a value that belongs to another bottle.",
            numbers,
        )
    elif facts.run.is_burned:  # not all that it burned to was weighed
        return
    elif lists_no_oxygen(card.percent):
        yield Finding(
            "oxygen-not-listed",
            "note",
            f"The card lists carbon and hydrogen only ({card}), {-off:.2f} less than 100. Cards "
            "often leave oxygen out: nothing is wrong with that.",
            "What the rest is counts as unknown.",
            numbers,
        )
    else:
        yield Finding(
            "percent-sum-low",
            "warning" if doubtful else "note",
            f"The percentages add up to {card.sum:.2f} ({card}), {-off:.2f} less than 100.{chance}",
            "If the card leaves an element out, often oxygen, this is not a fault: the rest counts "
            "as unknown. If it does not, look for a wrong digit.",
            numbers,
        )


def _formula(facts: Facts) -> Iterator[Finding]:
    card = _ListedPercentages.of(facts)
    widths = {element: _DOUBT * tolerance_u(width) for element, width in card.tolerance.items()}
    # Elsewhere the sum is at fault, or no formula can be told from another.
    if not card.complete or max(widths.values()) > _WIDEST:
        return
    from identify.chemistry.formula.rules import molecule_mask, valence_mask

    # A single element may add up to a little more than all there is.
    percent = {element: min(share, 100.0) for element, share in card.percent.items()}
    hydrogen = _DOUBT * tolerance_u(facts.percent_tolerance)
    listed = tuple((element, share, widths[element]) for element, share in percent.items())
    composition, every, sizes = _agreeing_formulas(listed, hydrogen)
    counts = _plausible_counts(composition, every, sizes, facts)
    if not len(counts):
        yield _no_formula(card, composition, facts)
        return
    molecules = counts[molecule_mask(composition.elements, counts)]
    if not len(molecules):
        yield _no_molecule(card, composition, counts)
        return
    if facts.molar_mass is None:
        return
    value, sigma = facts.molar_mass
    near = counts[abs(counts @ composition.weights - value) <= _DOUBT * sigma]
    if not len(near):
        yield _no_multiple(composition, molecules, (value, sigma))
    elif not valence_mask(composition.elements, near).any():
        yield _no_molecule(card, composition, near)


@lru_cache(maxsize=64)  # students of one bottle share its card
def _agreeing_formulas(
    card: tuple[tuple[str, float, float], ...], hydrogen: float
) -> tuple[PercentArrays, Array, Array]:
    """Return the formulas that agree with a card, and how large they are.

    Parameters
    ----------
    card : tuple of (str, float, float)
        Element, percentage, and how far it may be off.
    hydrogen : float
        How far that of hydrogen may be off which is not listed.
    """
    from identify.chemistry.formula.search import PercentArrays, agreeing_counts

    percent = {element: share for element, share, _ in card}
    widths = {element: width for element, _, width in card}
    composition = _with_hydrogen(PercentArrays.of(percent, widths), hydrogen)
    counts = agreeing_counts(composition, 0.0, _LARGEST)
    return composition, counts, _sizes(composition, counts)


def _with_hydrogen(composition: PercentArrays, width: float) -> PercentArrays:
    """Let a card that names no hydrogen have as little of it as cannot be seen there.

    One hydrogen atom is 0.4 percent of a polyhalogenated compound: less than three standard
    uncertainties.
    """
    if "H" in composition.elements:
        return composition
    import numpy as np

    return replace(
        composition,
        elements=("H", *composition.elements),
        percent=np.array([0.0, *composition.percent]),
        tolerance=np.array([width, *composition.tolerance]),
    )


def _plausible_counts(
    composition: PercentArrays, counts: Array, sizes: Array, facts: Facts
) -> Array:
    """Return the formulas of a size that a volatile liquid or this molar mass has."""
    from identify.chemistry.formula.nearest import MOST_ATOMS

    small = sizes <= MOST_ATOMS
    if facts.molar_mass is not None:
        value, sigma = facts.molar_mass
        small |= counts @ composition.weights <= value + _DOUBT * sigma
    return counts[small]


def _sizes(composition: PercentArrays, counts: Array) -> Array:
    import numpy as np

    heavy = np.array([element not in ("H", "F") for element in composition.elements], dtype=float)
    return np.asarray(counts @ heavy)


def _no_formula(card: _ListedPercentages, composition: PercentArrays, facts: Facts) -> Finding:
    import numpy as np

    from identify.chemistry.formula.nearest import MOST_ATOMS
    from identify.chemistry.formula.rules import molecule_mask
    from identify.chemistry.formula.search import agreeing_counts

    message = f"No formula of plausible size has this composition ({card})."
    numbers: dict[str, float] = {"most_atoms": MOST_ATOMS}
    wider = replace(composition, tolerance=np.full(len(composition.elements), _WIDEST))
    counts = agreeing_counts(wider, 0.0, 0.5 * _LARGEST)
    counts = counts[(_sizes(wider, counts) <= MOST_ATOMS) & molecule_mask(wider.elements, counts)]
    if len(counts):
        off = wider.deviations(counts) / composition.tolerance
        best = int((off * off).sum(axis=1).argmin())
        place = int(abs(off[best]).argmax())
        element, points = wider.elements[place], float(wider.deviations(counts)[best, place])
        message += (
            f" Nearest is {_written(wider, counts[best])}, with {abs(points):.1f} percentage "
            f"points {'more' if points > 0 else 'less'} {element}."
        )
        numbers["nearest_off_percent"] = points
    return Finding(
        "composition-no-formula",
        "warning",
        message,
        "Check the percentages; one of them may be wrong, or an element may be missing.",
        numbers,
    )


def _no_molecule(card: _ListedPercentages, composition: PercentArrays, counts: Array) -> Finding:
    return Finding(
        "composition-valence",
        "warning",
        f"The composition ({card}) fits {_listed(composition, counts)} only, and no molecule has "
        "such a formula: its hydrogen does not fit the valences of the other atoms.",
        "Check the percentage of hydrogen first, then whether an element with odd valence "
        "(nitrogen, a halogen) is missing.",
        {"formulas": float(len(counts))},
    )


def _no_multiple(
    composition: PercentArrays, molecules: Array, molar_mass: tuple[float, float]
) -> Finding:
    value, sigma = molar_mass
    masses = molecules @ composition.weights
    nearest = float(masses[abs(masses - value).argmin()])
    return Finding(
        "molar-mass-no-multiple",
        "warning",
        f"The composition fits {_listed(composition, molecules)}, of which no whole multiple is "
        f"near the molar mass of {value:.1f} g/mol (standard uncertainty {sigma:.1f}). The nearest "
        f"has {nearest:.1f}.",
        "Either the molar mass or the composition is wrong, or an element is missing from it. "
        "Check the weighings and the flask's volume first.",
        {
            "molar_mass_g_per_mol": value,
            "standard_uncertainty_g_per_mol": sigma,
            "nearest_g_per_mol": nearest,
        },
    )


def _listed(composition: PercentArrays, counts: Array) -> str:
    """Name the formulas that fit best, simplest forms only."""
    import numpy as np

    simplest = counts[np.gcd.reduce(counts.astype(np.int64), axis=1) == 1]
    shown = simplest if len(simplest) else counts
    order = np.argsort(_misfit(composition, shown), kind="stable")[:_NAMED]
    return listed([_written(composition, shown[row]) for row in order])


def _misfit(composition: PercentArrays, counts: Array) -> np.ndarray:
    import numpy as np

    off = composition.deviations(counts) / composition.tolerance
    # Large formulas fit by chance: the simple ones first.
    return np.asarray((off * off).sum(axis=1) + 0.1 * counts.sum(axis=1))


def _written(composition: PercentArrays, counts: Array) -> str:
    from identify.notebook.composition.formulas import hill_formula

    return hill_formula(
        {
            element: int(count)
            for element, count in zip(composition.elements, counts, strict=True)
            if count
        }
    )


def _written_formula(facts: Facts) -> Iterator[Finding]:
    """Compare a formula with the composition that is written beside it."""
    if not facts.run.formula:
        return
    card, has = _ListedPercentages.of(facts), percent_composition(facts.run.formula)
    off = {element: read - has.get(element, 0.0) for element, read in card.percent.items()}
    element = max(off, key=lambda one: abs(off[one]) / card.tolerance[one], default="")
    if not element or abs(off[element]) <= _DOUBT * tolerance_u(card.tolerance[element]):
        return
    yield Finding(
        "formula-differs",
        "warning",
        f"The formula {facts.run.formula} has {has.get(element, 0.0):.2f} % {element}; the "
        f"composition beside it ({card}) has {card.percent[element]:.2f}.",
        "Check both: one of them is wrong, or belongs to another bottle. The percentages are "
        "what the compounds are compared with.",
        {"off_percent": off[element]},
    )


def _oxygen_left(facts: Facts) -> Iterator[Finding]:
    """Tell that the oxygen of a combustion is what the other elements leave."""
    oxygen = facts.run.percent.get("O")
    if oxygen is None or not facts.run.is_burned:
        return
    percent = oxygen.to("%").value
    yield Finding(
        "oxygen-by-difference",
        "note",
        f"Nobody weighs the oxygen of a combustion: what the other elements leave to 100 %, "
        f"{percent:.2f} %, was taken for it.",
        "Have nitrogen, sulfur and halogens determined if the liquid may hold any.",
        {"oxygen_percent": percent},
    )


CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (
    _sum,
    _formula,
    _written_formula,
    _oxygen_left,
)
