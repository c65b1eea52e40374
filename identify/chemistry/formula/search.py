"""From percentages to formulas: empirical ones, and their whole multiples."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from identify.chemistry.formula.rules import (
    ADDUCT_BONDS,
    VALENCES,
    degree_of_unsaturation,
    molecule_mask,
    obeys_valence,
)
from identify.notebook.composition.formulas import Counts, FormulaError, as_counts, hill_formula
from identify.notebook.errors import UnusableInput
from identify.physics.arrays import Array
from identify.physics.constants import ATOMIC_WEIGHTS, ELEMENTS

LARGEST = 500.0  # g/mol; liquids that boil in a water bath are lighter, perfluorinated ones too
_MAX_TOLERANCE = 5.0  # percentage points; beyond it nearly every formula agrees
# A sum this near to 100 claims to be complete however few elements it has.  Common practice.
_COMPLETE = 1.0  # percentage points
_SELDOM_LEFT_OUT = ("P", "Si", "B")
_SLACK = 1e-9  # a composition exactly at the tolerance agrees, whatever its last bit says


@dataclass(frozen=True)
class EmpiricalFormula:
    """A simplest formula whose composition agrees with given percentages.

    Parameters
    ----------
    formula : str
        In Hill order, of the elements that were given.
    counts : mapping of str to int
        Atoms of each element; no common divisor.
    molar_mass : float
        Of the formula and its `rest` [g/mol].
    largest_deviation : float
        The largest of the deviations of its percentages from the given ones [percentage points].
    rest : float
        Mass that the given percentages leave to elements they do not name [g/mol]; 0 where they
        add up to 100.
    deviations : mapping of str to float
        Its percentages minus the given ones [percentage points].
    """

    formula: str
    counts: Counts
    molar_mass: float
    largest_deviation: float
    rest: float = 0.0
    deviations: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class MolecularFormula:
    """A whole multiple of an empirical formula.

    Parameters
    ----------
    formula : str
        In Hill order.
    counts : mapping of str to int
    multiple : int
    molar_mass : float
        In g/mol.
    degree_of_unsaturation : float or None
        See `degree_of_unsaturation`; None where `rest` is not 0, for its atoms count too.
    rest : float
        Mass of elements that were not named [g/mol].
    """

    formula: str
    counts: Counts
    multiple: int
    molar_mass: float
    degree_of_unsaturation: float | None
    rest: float = 0.0


@dataclass(frozen=True)
class PercentArrays:
    """Percentages as arrays, for the search.

    Parameters
    ----------
    elements : tuple of str
        Those with a percentage above zero.
    percent, tolerance : array, shape (k,)
        In percent and percentage points.
    complete : bool
        The percentages name all elements; otherwise any amount of others may be there.
    """

    elements: tuple[str, ...]
    percent: Array
    tolerance: Array
    complete: bool
    weights: Array = field(init=False)

    def __post_init__(self) -> None:
        weights = np.array([ATOMIC_WEIGHTS[element] for element in self.elements])
        object.__setattr__(self, "weights", weights)

    @classmethod
    def of(
        cls, percent: Mapping[str, float], tolerance: float | Mapping[str, float]
    ) -> PercentArrays:
        """Take percentages, leaving out zeros; complete where they reach 100 within tolerance.

        Raises
        ------
        FormulaError
            If there is none above zero, or one is not a number from 0 to 100, or is of an
            element that is not in `ELEMENTS`.
        """
        _refuse_percentages(percent)
        elements = tuple(element for element in ELEMENTS if percent.get(element, 0.0) > 0.0)
        if not elements:
            raise FormulaError("no element has a percentage above zero; give at least one")
        given = tolerance if isinstance(tolerance, Mapping) else dict.fromkeys(elements, tolerance)
        widths = np.array([given[element] for element in elements])
        if not (np.all(widths > 0.0) and np.all(widths <= _MAX_TOLERANCE)):
            raise FormulaError(
                f"the tolerance must be above 0 and at most {_MAX_TOLERANCE:g} points"
            )
        values = np.array([percent[element] for element in elements], dtype=np.float64)
        room = max(_COMPLETE, float(np.sqrt(np.sum(widths**2))))
        return cls(elements, values, widths, bool(values.sum() >= 100.0 - room))

    def deviations(self, counts: Array) -> Array:
        """Return percentages of formulas minus the given ones, shape (m, k).

        Where the composition is not complete, the mass of the formula is the one that fits best.
        """
        masses = counts * self.weights
        if self.complete:
            return np.asarray(100.0 * masses / masses.sum(axis=1, keepdims=True) - self.percent)
        return np.asarray(100.0 * masses / self.total_mass(counts)[:, None] - self.percent)

    def total_mass(self, counts: Array) -> Array:
        """Return the mass of formulas with what the percentages leave to others, shape (m,)."""
        masses = counts * self.weights
        if self.complete:
            return np.asarray(masses.sum(axis=1))
        # Least squares in 1/M of 100 m / M = p.
        return np.asarray(100.0 * (masses**2).sum(axis=1) / (masses @ self.percent))

    def formulas(self, counts: Array) -> list[EmpiricalFormula]:
        """Return atom counts, shape (m, k), as formulas with their deviations."""
        rows = zip(counts, self.deviations(counts), self.total_mass(counts), strict=True)
        found = []
        for numbers, off, total in rows:
            pairs = zip(self.elements, numbers, strict=True)
            atoms = {element: int(number) for element, number in pairs if number}
            named = float(numbers @ self.weights)
            rest = 0.0 if self.complete else max(float(total) - named, 0.0)
            deviations = dict(zip(self.elements, map(float, off), strict=True))
            largest = max(map(abs, deviations.values()))
            found.append(
                EmpiricalFormula(
                    hill_formula(atoms), atoms, named + rest, largest, rest, deviations
                )
            )
        return found

    def with_whole_rest(self, counts: Array, largest: float) -> Array:
        """Multiply each formula until whole atoms of other elements can make up what it leaves."""
        others = tuple(element for element in ELEMENTS if element not in self.elements)
        # What a card leaves out is oxygen or a halogen before it is boron, which is light and fits
        # nearly everything.
        usual = tuple(element for element in others if element not in _SELDOM_LEFT_OUT)
        total = self.total_mass(counts)
        rest = total - counts @ self.weights
        # What the percentages leave is known as well as their sum is.
        unsure = 0.01 * float(np.sqrt((self.tolerance**2).sum())) * total
        spare = counts @ np.array([VALENCES[element] - 2.0 for element in self.elements])
        # All of the rest in the element that binds most may leave too few bonds for the hydrogen.
        bonds = spare + max(_most_bonds_by_mass(others), 0.0) * (rest + unsure)
        multiples = largest / total
        np.minimum(multiples, -2.0 / bonds, out=multiples, where=bonds < 0.0)
        kept = []
        for row in np.flatnonzero(multiples >= 1.0):
            most = int(multiples[row])
            # Oxygen, sulfur and halogens bind no hydrogen beyond what the named elements do.
            bound = int(min(most, -2.0 / spare[row])) if spare[row] < 0.0 else most
            multiple = _first_multiple(_small_masses(usual), rest[row], unsure[row], bound)
            multiple = multiple or _first_multiple(
                _small_masses(others), rest[row], unsure[row], most
            )
            if multiple:
                kept.append(multiple * counts[row])
        return np.array(kept).reshape(-1, len(self.elements))


def _refuse_percentages(percent: Mapping[str, float]) -> None:
    for element, value in percent.items():
        if element not in ATOMIC_WEIGHTS:
            raise FormulaError(
                f"{element} is not an element known here; there are {', '.join(ELEMENTS)}"
            )
        if not 0.0 <= value <= 100.0:
            raise FormulaError(f"{element}: {value:g} is not a percentage; write 0 to 100")


class TooManyFormulas(UnusableInput):
    """More formulas agree with a composition than there is room for."""


def agreeing_counts(
    composition: PercentArrays, lowest: float, highest: float, room: float = math.inf
) -> Array:
    """Find all formulas of a mass range whose composition agrees.

    Parameters
    ----------
    composition : PercentArrays
    lowest, highest : float
        Range of the mass of the whole formula, with what the percentages do not name [g/mol].
    room : float, optional
        How many may be looked at together.

    Returns
    -------
    array, shape (m, k)
        Atom counts, a row a formula, in the order of ``composition.elements``.

    Raises
    ------
    TooManyFormulas
        If more than `room` would have to be looked at together.

    Notes
    -----
    Element by element, the most certain first: the counts of an element bound the mass of the
    formula, and the mass bounds the counts of the next element.  No formula is missed, and few are
    tried.

    Examples
    --------
    >>> methanol = PercentArrays.of({"C": 37.5, "H": 12.6, "O": 49.9}, 0.4)
    >>> agreeing_counts(methanol, 0.0, 70.0)
    array([[1., 4., 1.],
           [2., 8., 2.]])
    """
    percent, tolerance = composition.percent, composition.tolerance
    # The most certain percentage bounds the mass best; then heavy atoms, of which few fit.
    pivot = int(np.argmax(percent / tolerance))
    heavy = np.argsort(-composition.weights / tolerance, kind="stable")
    order = [pivot, *(int(place) for place in heavy if place != pivot)]
    counts = np.zeros((1, len(percent)))
    low, high = np.array([lowest]), np.array([highest])
    for place in order:
        # Percent of the formula's mass that one atom would be, times that mass.
        atom = 100.0 * composition.weights[place]
        most = percent[place] + tolerance[place]
        least = percent[place] - tolerance[place]
        if least <= _SLACK * (1.0 + tolerance[place]):
            least = 0.0  # there need be none of it
        fewest = np.ceil(least * low / atom * (1.0 - _SLACK) - _SLACK)
        ways = np.maximum(
            np.floor(most * high / atom * (1.0 + _SLACK) + _SLACK) - fewest + 1.0, 0.0
        )
        if ways.sum() > room:
            raise TooManyFormulas(f"more than {room:g} formulas up to {highest:g} g/mol")
        ways = ways.astype(np.int64)
        rows = np.repeat(np.arange(len(ways)), ways)
        nth = np.arange(len(rows)) - np.repeat(np.cumsum(ways) - ways, ways)
        number = fewest[rows] + nth
        low = np.maximum(low[rows], atom * number / most)
        with np.errstate(divide="ignore", invalid="ignore"):
            ceiling = np.where(number > 0, atom * number / least, np.inf if least == 0.0 else 0.0)
        high = np.minimum(high[rows], ceiling)
        counts = counts[rows]
        counts[:, place] = number
        kept = low <= high * (1.0 + _SLACK)
        counts, low, high = counts[kept], low[kept], high[kept]
    masses = (counts * composition.weights).sum(axis=1)
    kept = masses > 0.0
    if composition.complete:
        kept &= (masses >= lowest * (1.0 - _SLACK)) & (masses <= highest * (1.0 + _SLACK))
        counts = counts[kept]
        off = np.abs(composition.deviations(counts))
        return np.asarray(counts[(off <= tolerance * (1.0 + _SLACK) + _SLACK).all(axis=1)])
    return np.asarray(counts[kept & (masses <= high * (1.0 + _SLACK))])


def empirical_formulas(
    percent: Mapping[str, float],
    tolerance: float = 0.4,
    molar_mass: float | None = None,
    molar_mass_tolerance: float = 5.0,
    largest: float = LARGEST,
) -> list[EmpiricalFormula]:
    """Find the simplest formulas whose composition agrees with all given percentages.

    Parameters
    ----------
    percent : mapping of str to float
        Percent by mass.  Where they add up to 100, elements not named are absent.  Where they do
        not, nothing is assumed about the rest, oxygen least of all: each formula shows the mass
        it leaves.  To have oxygen by difference, give it.
    tolerance : float, default=0.4
        Percentage points an element.
    molar_mass : float, optional
        In g/mol; then only formulas of which a whole multiple agrees with it.
    molar_mass_tolerance : float, default=5.0
        In percent of the multiple's molar mass.
    largest : float, default=500
        Largest molar mass of a formula [g/mol].

    Returns
    -------
    list of EmpiricalFormula
        The best first: by the sum of squared deviations over half the tolerance, plus twice the
        logarithm of the number of formulas that are no larger, because one of so many fits by
        chance.  Formulas that no molecule has (see `obeys_valence`) are left out.

    Raises
    ------
    FormulaError
        If a percentage or a tolerance cannot be used.

    Examples
    --------
    >>> [found.formula for found in empirical_formulas({"C": 59.9, "H": 13.4, "O": 26.7})]
    ['C3H8O']
    >>> best = empirical_formulas({"C": 52.1, "H": 13.1})[0]
    >>> best.formula, round(best.rest, 1)
    ('C2H6', 16.0)
    """
    composition = PercentArrays.of(percent, tolerance)
    counts = agreeing_counts(composition, 0.0, largest)
    counts = counts[counts.sum(axis=1) > 0.0].astype(np.int64)
    if len(counts) == 0:
        return []
    divisors = np.gcd.reduce(counts, axis=1)
    # A multiple agrees only where its simplest formula does, so that no formula is lost here.
    simplest = counts[divisors == 1].astype(np.float64)
    if composition.complete:
        simplest = simplest[molecule_mask(composition.elements, simplest)]
    else:
        simplest = composition.with_whole_rest(simplest, largest)
    off = composition.deviations(simplest)
    total = composition.total_mass(simplest)
    fit = ((2.0 * off / tolerance) ** 2).sum(axis=1) + 2.0 * len(off.T) * np.log(total)
    return [
        formula
        for formula in composition.formulas(simplest[np.argsort(fit, kind="stable")])
        if molar_mass is None or molecular_formulas(formula, molar_mass, molar_mass_tolerance)
    ]


def _most_bonds_by_mass(elements: Sequence[str]) -> float:
    """Return the most bonds beyond a chain's that elements have, for their mass [mol/g]."""
    bonds = (VALENCES[e] + ADDUCT_BONDS.get(e, 0) - 2.0 for e in elements)
    weights = (ATOMIC_WEIGHTS[e] for e in elements)
    return max((one / weight for one, weight in zip(bonds, weights, strict=True)), default=0.0)


def _first_multiple(masses: Array, rest: float, unsure: float, most: int) -> int:
    """Return the smallest multiple of a rest that is one of the masses, 0 where none is."""
    for multiple in range(1, most + 1):
        wanted, room = multiple * rest, multiple * unsure
        place = np.searchsorted(masses, wanted - room)
        # Above the largest sum worked out, some atoms or others always fit.
        if wanted > masses[-1] or masses[place] <= wanted + room:
            return multiple
    return 0


@lru_cache(maxsize=16)
def _small_masses(elements: tuple[str, ...]) -> Array:
    """List the masses up to 100 g/mol that atoms of these elements add up to, ascending."""
    masses = {0}
    for element in elements:
        step, made = round(1000.0 * ATOMIC_WEIGHTS[element]), list(masses)
        for start in made:
            masses.update(range(start, 100_000, step))
    return np.array(sorted(masses - {0})) / 1000.0


def molecular_formulas(
    empirical: EmpiricalFormula | str | Counts, molar_mass: float, tolerance: float = 5.0
) -> list[MolecularFormula]:
    """Find the whole multiples of an empirical formula that agree with a molar mass.

    Parameters
    ----------
    empirical : EmpiricalFormula, str or mapping of str to int
    molar_mass : float
        In g/mol.
    tolerance : float, default=5.0
        In percent of the multiple's molar mass.

    Returns
    -------
    list of MolecularFormula
        The nearest first; multiples that no molecule has are left out.

    Raises
    ------
    FormulaError
        If the molar mass or the tolerance is not above zero, or the formula cannot be read.

    Examples
    --------
    >>> [found.formula for found in molecular_formulas("CH2Cl", 98.96)]
    ['C2H4Cl2']
    """
    if not (0.0 < molar_mass < math.inf and 0.0 < tolerance < 100.0):
        raise FormulaError(
            f"molar mass {molar_mass:g} g/mol within {tolerance:g} %: both must be above zero, "
            "and the tolerance below 100"
        )
    if isinstance(empirical, EmpiricalFormula):
        counts, rest = empirical.counts, empirical.rest
    else:
        counts, rest = as_counts(empirical), 0.0
    unit = sum(ATOMIC_WEIGHTS[element] * number for element, number in counts.items()) + rest
    first = math.ceil(molar_mass / (1.0 + 0.01 * tolerance) / unit - _SLACK)
    last = math.floor(molar_mass / (1.0 - 0.01 * tolerance) / unit + _SLACK)
    found = []
    for multiple in range(max(first, 1), last + 1):
        atoms = {element: multiple * number for element, number in counts.items()}
        if rest or obeys_valence(atoms):
            found.append(
                MolecularFormula(
                    hill_formula(atoms),
                    atoms,
                    multiple,
                    multiple * unit,
                    None if rest else degree_of_unsaturation(atoms),
                    multiple * rest,
                )
            )
    return sorted(found, key=lambda formula: abs(formula.molar_mass - molar_mass))
