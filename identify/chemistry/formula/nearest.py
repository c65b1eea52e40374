"""The possible formulas nearest to a composition that no formula fits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from identify.chemistry.formula.rules import molecule_mask
from identify.chemistry.formula.search import (
    LARGEST,
    EmpiricalFormula,
    PercentArrays,
    TooManyFormulas,
    agreeing_counts,
)
from identify.physics.arrays import Array

# Atoms other than hydrogen and fluorine. Of the candidates that boil below 150 degrees Celsius,
# one in 200 has more; counted in the built-in table.
MOST_ATOMS = 12
_WIDENING = 1.6  # of the tolerance, from one search to the next
_MAX_TOLERANCE = 100.0  # percentage points
_MAX_FORMULAS = 200_000  # tried together: a tenth of a second
_LIGHTENING = 0.8  # of the largest formula, where there are more
# An element named with more than this is in the formula, however far off it is.
_MIN_PERCENT_NEEDED = 5.0
_CHUNK = 50  # of the nearest formulas, tried for a rest of whole atoms


def nearest_formulas(
    percent: Mapping[str, float], tolerance: float = 0.4, count: int = 3
) -> list[EmpiricalFormula]:
    """Find the possible simplest formulas nearest to a composition.

    Parameters
    ----------
    percent : mapping of str to float
        Percent by mass.
    tolerance : float, default=0.4
        Percentage points an element, from which the search widens.
    count : int, default=3
        How many.

    Returns
    -------
    list of EmpiricalFormula
        By the sum of their squared deviations; fewer where the elements make fewer.

    Raises
    ------
    FormulaError
        If a percentage or the tolerance cannot be used.

    Notes
    -----
    The tolerance is widened until so many formulas are within it that molecules have, with no more
    than twelve atoms other than hydrogen and fluorine: larger ones come near to any composition.
    An element of which there is more than five percent is in all of them, if it can be. Where many
    elements make too many formulas, only the lighter ones are looked at.

    Examples
    --------
    >>> [(one.formula, round(one.largest_deviation, 1)) for one in
    ...  nearest_formulas({"C": 40.0, "H": 20.0, "O": 40.0})]
    [('C3H8O2', 9.4), ('CH4O', 9.9), ('C4H10O3', 10.5)]
    """
    composition = PercentArrays.of(percent, tolerance)
    needed = composition.percent > _MIN_PERCENT_NEEDED
    possible = _nearest(composition, tolerance, count, needed)
    if not len(possible):
        possible = _nearest(composition, tolerance, count, np.zeros_like(needed))
    return composition.formulas(possible)


def _nearest(
    composition: PercentArrays, tolerance: float, count: int, needed: NDArray[np.bool_]
) -> Array:
    width, largest = tolerance, LARGEST
    possible = np.zeros((0, len(needed)))
    while len(possible) < count and width < _MAX_TOLERANCE:
        width *= _WIDENING
        wider = replace(composition, tolerance=np.full(len(needed), width))
        try:
            counts = agreeing_counts(wider, 0.0, largest, _MAX_FORMULAS)
        except TooManyFormulas:
            width /= _WIDENING
            largest *= _LIGHTENING
            continue
        possible = _possible(composition, counts[(counts[:, needed] > 0.0).all(axis=1)], count)
    return possible


def _possible(composition: PercentArrays, counts: Array, count: int) -> Array:
    """Return those of the formulas that molecules have, simplest forms only, the nearest first."""
    heavy = np.array([element not in ("H", "F") for element in composition.elements], dtype=float)
    counts = counts[counts @ heavy <= MOST_ATOMS]
    counts = counts[np.gcd.reduce(counts.astype(np.int64), axis=1) == 1]
    counts = counts[np.argsort((composition.deviations(counts) ** 2).sum(axis=1), kind="stable")]
    if composition.complete:
        return counts[molecule_mask(composition.elements, counts)][:count]
    found = counts[:0]
    for start in range(0, len(counts), _CHUNK):
        some = composition.with_whole_rest(counts[start : start + _CHUNK], LARGEST)
        found = np.concatenate([found, some])
        if len(found) >= count:
            break
    return found[:count]
