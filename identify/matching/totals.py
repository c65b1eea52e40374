"""The sums over all candidates that turn their weights into probabilities.

The sums of a table are those of its parts added up, so that a table may be compared part by part:
here, on several machines, or by an index that knows most of a sum without looking at each row.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from identify.notebook.errors import UnusableInput
from identify.notebook.quantity.quantities import read_quantity
from identify.notebook.quantity.units import QuantityError
from identify.observables.error.comparison import KnownOnly
from identify.physics.arrays import Array
from identify.physics.constants import ATOMIC_WEIGHTS, ELEMENTS

# Share of liquids that are not in the table, before anything is measured, where nothing else is
# said. The table holds what the open collections list as boiling, so that a laboratory's purchase
# is nearly always there.
OUTSIDE = 0.01
# Of the liquids that boil between 20 and 98 degrees Celsius in the built-in table, each left out of
# it in turn, 0.77 have an isomer among the others (same formula, another boiling point): the more
# isomers a formula has there, the more there are that are not. Nearly all others have a similar
# formula there. The rest is like nothing there: among the few bottles of a shelf, what is missing
# mostly is, and without it readings far from all would be taken for a row of gross errors.
ISOMERS, UNLIKE_ANY = 0.75, 0.03
SIMILAR = 1.0 - ISOMERS - UNLIKE_ANY

_HALOGENS = [ELEMENTS.index(element) for element in ("F", "Cl", "Br", "I")]

_Sums = TypeVar("_Sums", bound="Totals")


@dataclass(frozen=True)
class Totals:
    """Sums over candidates; those of the parts of a table add up to those of the whole.

    Of k further readings, whose constants the table knows of some compounds only, a candidate is
    in one of 2**k patterns: bit j is set where the j-th is not known. What stands in for what is
    not known is an average over the whole table, so that sums are kept pattern by pattern.

    Parameters
    ----------
    base : float
        Of the chance before the readings, not normalized.
    unlisted : float
        Of the chance that a compound beside each candidate, which is not in the table, is in the
        bottle: all candidates alike, but for what the experiment asks of a liquid.
    isomers : float
        Of the same, where that is an isomer of the candidate's: see `isomers_possible`.
    weight : array, shape (2**k,)
        Of that times the likelihoods of all readings.
    formula : array, shape (2**k,)
        Of the last chance times the likelihoods of molar mass and composition, times the kernels
        of the other readings.
    similar : array, shape (2**k,)
        Of the last but one times the kernels of all readings.
    known : array, shape (k, 4)
        Of those that have the constant: chance before the readings, the same times the density,
        count, and kernels.
    groups : dict of str to array, shape (2, 2**k)
        Of the weight with some readings explained by a slip, see `identify.matching.slips`: at
        least, and at most. Minus infinity at least, whatever other parts add, where what such a
        slip could lead to is not among a part's leading candidates.
    in_full : bool
        Whether the candidates beside these sums are all that a search for slips could need.
    """

    base: float
    unlisted: float
    isomers: float
    weight: Array
    formula: Array
    similar: Array
    known: Array
    groups: dict[str, Array] = field(default_factory=dict)
    in_full: bool = True

    def __add__(self: _Sums, other: Totals) -> _Sums:
        sums = {
            one.name: getattr(self, one.name) + getattr(other, one.name)
            for one in fields(Totals)
            if one.name not in ("groups", "in_full")
        }
        groups = {name: self.groups[name] + other.groups[name] for name in self.groups}
        in_full = self.in_full and other.in_full
        return type(self)(**sums, groups=groups, in_full=in_full)

    def scale(self, outside: float) -> float:
        """Return what the chances before the readings are multiplied by.

        Parameters
        ----------
        outside : float
            Share of liquids that are not in the table.
        """
        return (1.0 - outside) / self.base

    @property
    def share_of_isomers(self) -> float:
        """What isomers that are not in the table have of all such liquids, for each in `isomers`.

        None, where no candidate has any.
        """
        return ISOMERS / self.isomers if self.isomers > 0.0 else 0.0

    def standing_in(self, further: Mapping[str, KnownOnly]) -> tuple[Array, Array]:
        """Return density and kernel of what is not known, shapes (k,): averages of what is."""
        any_density = np.array([one.any_density for one in further.values()])
        weight, share, count, kernel = self.known.T
        with np.errstate(divide="ignore", invalid="ignore"):
            return (
                np.where(weight > 0.0, share / weight, any_density),
                np.where(count > 0.0, kernel / count, any_density),
            )

    def marginal_likelihood(
        self, densities: Array, kernels: Array, anything: float, outside: float
    ) -> tuple[float, float]:
        """Return the density of all readings, and the part of it for none of the candidates.

        Parameters
        ----------
        densities, kernels : array, shape (k,)
            What stands in for constants that are not known.
        anything : float
            Density of the readings for a compound like none in the table.
        outside : float
            Share of liquids that are not in the table.
        """
        filled = by_pattern(kernels)
        none = outside * float(
            self.share_of_isomers * (self.formula @ filled)
            + SIMILAR * (self.similar @ filled) / self.unlisted
            + UNLIKE_ANY * anything
        )
        return none + self.scale(outside) * float(self.weight @ by_pattern(densities)), none


def outside_share(given: str | float) -> float:
    """Return the assumed share of liquids that are not in the table.

    Parameters
    ----------
    given : str or float
        A percentage, or a share from 0 up to below 1.

    Raises
    ------
    ValueError
        If it is neither.

    Examples
    --------
    >>> outside_share("1 %"), outside_share(0.05)
    (0.01, 0.05)
    """
    try:
        share = read_quantity(given, "fraction").to("1").value
    except QuantityError:
        share = float("nan")
    if not 0.0 <= share < 1.0:
        raise UnusableInput(
            f'outside: "{given}" is not a share of liquids from 0 up to below 100 %; write it like '
            "5 %, or 0.05"
        )
    return share


def isomers_possible(molar_mass: Array, percent: Array) -> Array:
    """Return how far formulas have isomers that a table may lack, shape (n,): 0, 1/2 or 1.

    Of the liquids of the built-in table, each left out in turn, none of one atom beside hydrogen
    and halogens had an isomer among the others, nor of two with fewer than two halogens; those of
    two with more, and of three without, had one about half as often as all others.

    Parameters
    ----------
    molar_mass : array, shape (n,)
        In g/mol.
    percent : array, shape (12, n)
        By mass, in the order of `ELEMENTS`.

    Examples
    --------
    Methanol, ethanol, and butane:

    >>> percent = np.zeros((12, 3))
    >>> percent[:2] = [[37.48, 52.14, 82.66], [12.58, 13.13, 17.34]]
    >>> percent[3] = [49.93, 34.73, 0.0]
    >>> isomers_possible(np.array([32.04, 46.07, 58.12]), percent)
    array([0. , 0.5, 1. ])
    """
    weights = np.array([ATOMIC_WEIGHTS[element] for element in ELEMENTS])
    atoms = np.round(molar_mass * percent / (100.0 * weights[:, np.newaxis]))
    halogens = atoms[_HALOGENS].sum(axis=0)
    others = atoms.sum(axis=0) - halogens - atoms[ELEMENTS.index("H")]
    none = (others == 1.0) | ((others == 2.0) & (halogens < 2.0))
    few = (others == 2.0) | ((others == 3.0) & (halogens == 0.0))
    return np.where(none, 0.0, np.where(few, 0.5, 1.0))


def by_pattern(values: Array) -> Array:
    """Return the product of those values whose bit is set, for each pattern, shape (2**k,).

    Examples
    --------
    >>> by_pattern(np.array([2.0, 5.0]))
    array([ 1.,  2.,  5., 10.])
    """
    product = np.ones(1)
    for value in values:
        product = np.concatenate([product, product * value])
    return product


def first_rows(weight: Array, order: NDArray[np.int64], count: int) -> NDArray[np.int64]:
    """Return the rows of the largest weights, the largest first.

    Parameters
    ----------
    weight : array, shape (n,)
    order : array of int, shape (n,)
        Decides between equal weights: the lower goes first.
    count : int
        Rows returned at most.

    Examples
    --------
    >>> first_rows(np.array([0.1, 0.4, 0.1, 0.4]), np.array([0, 3, 1, 2]), 3)
    array([3, 1, 0])
    """
    few = min(count, len(weight))
    if few <= 0:
        return np.zeros(0, dtype=np.int64)
    least = weight[np.argpartition(weight, -few)[-few:]].min()
    rows = np.flatnonzero(weight >= least * (1.0 - 1e-8))
    # The last bits depend on the order of the table; those of isomers that nothing tells apart
    # differ in no others.
    with np.errstate(divide="ignore"):
        places = -np.round(np.log(weight[rows]), 9)
    if len(rows) > 2 * few:  # sorting all of a million isomers would take a second
        last = np.partition(places, few - 1)[few - 1]
        above, equal = np.flatnonzero(places < last), np.flatnonzero(places == last)
        left = few - len(above)
        equal = equal[np.argpartition(order[rows[equal]], left - 1)[:left]]
        chosen = np.concatenate([above, equal])
        rows, places = rows[chosen], places[chosen]
    return rows[np.lexsort((order[rows], places))[:few]]
