"""The compounds of a table that meet conditions, in an order that suits what was asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from identify.chemistry.formula import FormulaError, parse_formula
from identify.compounds.table import CandidateTable
from identify.notebook.errors import UnusableInput
from identify.notebook.quantity.quantities import excerpt
from identify.physics.constants import ELEMENTS

COMMONLY_SOLD = 5  # of 6 inventories
# What stands in for a bound that was not given.
_ANY = (-np.inf, np.inf)


class ConditionFault(UnusableInput):
    """A condition that cannot be used: which option, why, and what to do."""


@dataclass(frozen=True)
class CompoundFilter:
    """What a compound must be.

    Parameters
    ----------
    formula : str
        Empty for any.
    molar_mass, boiling_point : tuple of float
        Lowest and highest [g/mol, degrees Celsius].
    groups : sequence of str
        Functional groups that it has, all of them; a word of a group's name is enough.
    elements : sequence of str
        It holds no others; empty for any.
    commonly_sold : bool
        Whether at least ``COMMONLY_SOLD`` of the six inventories list it.
    """

    formula: str = ""
    molar_mass: tuple[float, float] = _ANY
    boiling_point: tuple[float, float] = _ANY
    groups: Sequence[str] = ()
    elements: Sequence[str] = ()
    commonly_sold: bool = False

    @property
    def are_none(self) -> bool:
        """Whether every compound meets them."""
        return self == CompoundFilter()

    def rows(self, table: CandidateTable) -> list[int]:
        """Return the rows that meet all conditions.

        In the order of boiling point or molar mass where a range of it was asked for, else the most
        widely sold first.

        Raises
        ------
        ConditionFault
            If a formula, an element or a group is not known, with what to write instead.

        Examples
        --------
        >>> from identify.compounds.loading import load_candidates
        >>> table = load_candidates()
        >>> wanted = CompoundFilter(formula="C4H8O", boiling_point=(70.0, 85.0), commonly_sold=True)
        >>> [table.text("name")[row] for row in wanted.rows(table)]
        ['butyraldehyde', '2-butanone']
        """
        kept = np.ones(len(table), dtype=bool)
        bounds = {"molar_mass": self.molar_mass, "boiling_point_C": self.boiling_point}
        for column, (low, high) in bounds.items():
            values = table.number(column)
            kept &= (values >= low) & (values <= high)
        if self.commonly_sold:
            kept &= table.number("inventories") >= COMMONLY_SOLD
        if self.elements:
            others = [place for place, one in enumerate(ELEMENTS) if one not in _elements(self)]
            kept &= table.percent[:, others].sum(axis=1) < 1e-6
        if self.formula:
            kept &= _has_formula(table, self.formula)
        for group in self.groups:
            kept &= _has_group(table, group)
        rows = np.flatnonzero(kept)
        return rows[np.lexsort([key[rows] for key in _order(table, self)])].tolist()


def _order(table: CandidateTable, wanted: CompoundFilter) -> list[NDArray[np.float64]]:
    """Return what rows are sorted by, the last first."""
    boiling_point, molar_mass = table.number("boiling_point_C"), table.number("molar_mass")
    if wanted.boiling_point != _ANY:
        return [molar_mass, boiling_point]
    if wanted.molar_mass != _ANY:
        return [boiling_point, molar_mass]
    return [boiling_point, -np.nan_to_num(table.number("inventories"))]


def _elements(wanted: CompoundFilter) -> set[str]:
    by_letter = {one.casefold(): one for one in ELEMENTS}
    found = set()
    for text in wanted.elements:
        if text.casefold() not in by_letter:
            raise ConditionFault(
                f'--elements: "{excerpt(text)}" is not an element of the table; it knows '
                f"{' '.join(ELEMENTS)}"
            )
        found.add(by_letter[text.casefold()])
    return found


def _has_formula(table: CandidateTable, formula: str) -> NDArray[np.bool_]:
    from identify.chemistry.formula import hill_formula

    try:
        wanted = hill_formula(parse_formula(formula))
    except FormulaError as error:
        raise ConditionFault(f"--formula: {error}") from None
    return np.array([one == wanted for one in table.text("formula")], dtype=bool)


def _has_group(table: CandidateTable, text: str) -> NDArray[np.bool_]:
    """Return which rows have a group whose name has these words in it."""
    groups = {cell: frozenset(filter(None, cell.split("; "))) for cell in set(table.text("groups"))}
    known = frozenset[str]().union(*groups.values())
    wanted = text.strip().casefold()
    meant = known & {wanted} or {name for name in known if f" {wanted} " in f" {name} "}
    if not wanted or not meant:
        raise ConditionFault(
            f'--contains-group: "{excerpt(text)}" is not a group of the table; it knows '
            f"{', '.join(sorted(known)) or 'none'}"
        )
    return np.array([not meant.isdisjoint(groups[cell]) for cell in table.text("groups")])
