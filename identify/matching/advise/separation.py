"""How well liquids can be told apart by what a class measures.

Each liquid is a point whose coordinates are what the bench would read of it, in units of the
standard uncertainty of that reading (half its tolerance): the logarithm of the molar mass, the
boiling point, each percentage. The distance between two points is then the separation of the two
liquids in standard uncertainties, all readings taken together. Whoever decides for the nearer of
two takes one for the other with the probability of a normal deviate beyond half that distance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from identify.compounds.table import CandidateTable
from identify.notebook.serializing import Serializable
from identify.notebook.statistics import normal_above
from identify.notebook.usual import tolerance_u
from identify.observables.tolerances import Tolerances
from identify.physics.arrays import Array
from identify.physics.constants import ELEMENTS

# Two liquids are told apart where at most one reading in twenty takes one for the other: 1.645
# standard deviations to either side, the quantile of the normal distribution at 95 %.
APART = 2.0 * 1.6448536

OBSERVABLES = ("molar_mass", "boiling_point", *(f"percent_{element}" for element in ELEMENTS))
_UNITS = {"molar_mass": "%", "boiling_point": "°C"}


@dataclass(frozen=True)
class Narrowed(Serializable):
    """The tolerance that would tell liquids apart, all other readings as they are.

    Parameters
    ----------
    observable : str
        One of `OBSERVABLES`.
    tolerance : float
        In ``unit``, at which they are `APART`.
    unit : str
        ``%`` of the molar mass, ``°C``, or percentage ``points``.
    """

    observable: str
    tolerance: float
    unit: str


class Separations:
    """The liquids of a table as points, and how far apart they are.

    Parameters
    ----------
    table : CandidateTable
        Of n liquids.
    tolerances : Tolerances
    observables : sequence of str, optional
        Those that the class measures; all where not given.

    Examples
    --------
    >>> from identify.compounds.loading import load_candidates
    >>> table = load_candidates()
    >>> rows = [table.find(name)[0] for name in ("67-64-1", "123-38-6", "67-56-1")]
    >>> found = Separations(table.take(rows), Tolerances())
    >>> found.distances.round(1).tolist()
    [[0.0, 7.8, 168.4], [7.8, 0.0, 169.0], [168.4, 169.0, 0.0]]
    """

    def __init__(
        self,
        table: CandidateTable,
        tolerances: Tolerances,
        observables: Sequence[str] = OBSERVABLES,
    ) -> None:
        self.observables = tuple(observables)
        half = np.array([_sigma(tolerances, name) for name in self.observables])
        self._half = half
        columns = [_coordinate(table, name) for name in self.observables]
        self.points: Array = np.column_stack(columns) / half

    @cached_property
    def distances(self) -> Array:
        """Separation of each pair in standard uncertainties, shape (n, n)."""
        # Not scipy's: a stock table is checked in less time than it takes to load.
        squares = (np.subtract.outer(column, column) ** 2 for column in self.points.T)
        return np.sqrt(sum(squares, np.zeros((len(self.points), len(self.points)))))

    @cached_property
    def nearest(self) -> tuple[NDArray[np.int64], Array]:
        """The nearest other liquid of each, and its separation, arrays of shape (n,); n > 1."""
        others = self.distances + np.diag(np.full(len(self.points), np.inf))
        return others.argmin(axis=1), others.min(axis=1)

    def confusion(self, first: int, second: int) -> float:
        """Return the probability that a reading of one is nearer to the other."""
        return normal_above(0.5 * self.distance(first, second))

    def distance(self, first: int, second: int) -> float:
        """Return the separation of two liquids in standard uncertainties."""
        return float(np.linalg.norm(self.points[first] - self.points[second]))

    def narrowed(self, pairs: Sequence[tuple[int, int]]) -> Narrowed | None:
        """Return the tolerance that would tell all these pairs apart.

        Of the observables that can, the one whose tolerance has to be narrowed least; None where
        no reading alone can.
        """
        if not pairs:
            return None
        first, second = np.array(pairs).T
        squares = (self.points[first] - self.points[second]) ** 2
        rest = np.maximum(APART**2 - (squares.sum(axis=1, keepdims=True) - squares), 0.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            # By which factor each half-width may be multiplied at most.
            factors = np.where(rest > 0.0, np.sqrt(squares / rest), np.inf).min(axis=0)
        place = int(np.argmax(factors))
        if not factors[place] > 1e-6:
            return None
        name = self.observables[place]
        scale = 100.0 if name == "molar_mass" else 1.0
        tolerance = 2.0 * scale * float(self._half[place] * min(factors[place], 1.0))
        return Narrowed(name, tolerance, _UNITS.get(name, "points"))


def connected(distances: Array, least: float = APART) -> list[NDArray[np.int64]]:
    """Return the groups of two and more that are connected by pairs nearer than ``least``.

    Parameters
    ----------
    distances : array, shape (n, n)

    Returns
    -------
    list of array of int
        Each group's places in ascending order.

    Examples
    --------
    >>> steps = np.abs(np.subtract.outer([0.0, 2.0, 4.0, 9.0], [0.0, 2.0, 4.0, 9.0]))
    >>> [group.tolist() for group in connected(steps, 2.5)]
    [[0, 1, 2]]
    """
    near = (distances < least) | np.eye(len(distances), dtype=bool)
    left, groups = np.ones(len(near), dtype=bool), []
    while left.any():
        group = near[np.argmax(left)]
        while (wider := near[group].any(axis=0)).sum() > group.sum():
            group = wider
        left &= ~group
        groups.append(np.flatnonzero(group))
    return [group for group in groups if len(group) > 1]


def _sigma(tolerances: Tolerances, name: str) -> float:
    if name == "molar_mass":
        return 0.01 * tolerance_u(tolerances.molar_mass)
    is_percent = name.startswith("percent")
    return tolerance_u(tolerances.percent if is_percent else tolerances.boiling_point)


def _coordinate(table: CandidateTable, name: str) -> Array:
    if name == "molar_mass":
        return np.log(table.number("molar_mass"))
    return table.number("boiling_point_C" if name == "boiling_point" else name)
