"""The liquids on the shelf: the compounds of a stock table's rows, each once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite, nan

import numpy as np

from identify.compounds.loading import load_candidates
from identify.compounds.naming.meaning import Compound
from identify.compounds.published.vapor.dimers import dimer_cells
from identify.compounds.table import NUMBER_COLUMNS, TEXT_COLUMNS, CandidateTable
from identify.notebook.usual import CARD_BOILING_POINT
from identify.physics.boiling import TROUTON
from identify.physics.constants import ELEMENTS
from identify.stock.result import StockRow
from identify.stock.rows.identity import rows_by_compound

_Constants = tuple[dict[str, str], dict[str, float]]  # texts and numbers by column


@dataclass(frozen=True)
class Shelf:
    """The liquids of a stock table, with their constants and their bottles.

    Parameters
    ----------
    table : CandidateTable or None
        Of k compounds; None where no row has a compound whose boiling point is known.
    bottles : tuple of tuple of StockRow, length k
        The rows that hold each.
    unknown : tuple of StockRow
        Rows with a compound of which no boiling point is known.
    """

    table: CandidateTable | None
    bottles: tuple[tuple[StockRow, ...], ...]
    unknown: tuple[StockRow, ...] = ()

    @classmethod
    def of(
        cls,
        rows: Sequence[StockRow],
        stated: Mapping[int, float] | None = None,
        built_in: CandidateTable | None = None,
    ) -> Shelf:
        """Collect the liquids of rows.

        Parameters
        ----------
        rows : sequence of StockRow
            Those without a compound are passed over.
        stated : mapping of int to float, optional
            By row, the boiling point of its card at 101325 Pa [degrees Celsius]: for compounds
            that the built-in table lacks.
        built_in : CandidateTable, optional
            That the compounds' places are rows of.
        """
        known = load_candidates() if built_in is None else built_in
        columns: list[_Constants] = []
        bottles: list[tuple[StockRow, ...]] = []
        unknown: list[StockRow] = []
        for compound, same in rows_by_compound(rows):
            constants = _constants(compound, same, stated or {}, known)
            if constants is None:
                unknown += same
            else:
                columns.append(constants)
                bottles.append(tuple(same))
        return cls(_table(columns), tuple(bottles), tuple(unknown))


def _table(liquids: Sequence[_Constants]) -> CandidateTable | None:
    if not liquids:
        return None
    return CandidateTable(
        {name: [text[name] for text, _ in liquids] for name in TEXT_COLUMNS},
        {name: np.array([number[name] for _, number in liquids]) for name in NUMBER_COLUMNS},
    )


def _constants(
    compound: Compound,
    same: Sequence[StockRow],
    stated: Mapping[int, float],
    known: CandidateTable,
) -> _Constants | None:
    """Return a compound's texts and numbers; None where no boiling point of it is known."""
    if compound.place is not None:
        place = compound.place
        return (
            {column: known.text(column)[place] for column in TEXT_COLUMNS},
            {column: float(known.number(column)[place]) for column in NUMBER_COLUMNS},
        )
    told = (compound.boiling_point_C, *(stated.get(row.row, nan) for row in same))
    boils = next((value for value in told if isfinite(value)), None)
    return None if boils is None else _outside_the_table(compound, boils)


def _outside_the_table(compound: Compound, boils_C: float) -> _Constants:
    """Return what is known of a compound that the built-in table lacks."""
    is_own = isfinite(compound.boiling_point_C) and isfinite(compound.boiling_point_u)
    text = dict.fromkeys(TEXT_COLUMNS, "") | {
        "name": compound.name,
        "cas": compound.cas,
        "smiles": compound.smiles,
        "inchikey": compound.inchikey,
        "formula": compound.formula,
    }
    numbers = dict.fromkeys(NUMBER_COLUMNS, nan) | {
        "molar_mass": compound.molar_mass,
        "boiling_point_C": boils_C,
        "boiling_point_u": compound.boiling_point_u if is_own else CARD_BOILING_POINT,
        "prior": 1.0,
        # Trouton's rule and an ideal vapor: nothing else is known of it.
        "vapor_curve_a": TROUTON,
        "vapor_curve_b": 0.0,
        "vapor_curve_c": 0.0,
        **{f"virial_{order}": 0.0 for order in range(4)},
        **{f"percent_{element}": compound.percent.get(element, 0.0) for element in ELEMENTS},
    }
    for column, cell in _by_structure(compound.smiles).items():
        if isinstance(cell, str):
            text[column] = cell
        else:
            numbers[column] = cell
    return text, numbers


def _by_structure(smiles: str) -> dict[str, str | float]:
    """Return functional groups and the dimers of the vapor, by column."""
    from identify.chemistry.structures import read_structure

    structure = read_structure(smiles)
    if structure is None:
        return {}
    return {"groups": structure.groups, **dimer_cells(structure.mol)}
