"""Rows of a candidate table in the making, as the columns that they are kept in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from identify.compounds.table import NUMBER_COLUMNS, TEXT_COLUMNS, CandidateTable
from identify.physics.constants import ELEMENTS


@dataclass
class TableColumns:
    """Every column of some rows, to be filled in.

    Parameters
    ----------
    text : dict of str to list of str
        The columns of ``TEXT_COLUMNS``; empty where not known.
    numbers : dict of str to array of float
        The columns of ``NUMBER_COLUMNS``; NaN where not known.
    """

    text: dict[str, list[str]]
    numbers: dict[str, NDArray[np.float64]]

    @classmethod
    def blank(cls, size: int) -> TableColumns:
        """Return rows of which nothing is known yet."""
        return cls(
            {column: [""] * size for column in TEXT_COLUMNS},
            {column: np.full(size, np.nan) for column in NUMBER_COLUMNS},
        )

    @classmethod
    def of(cls, table: CandidateTable, rows: Sequence[int]) -> TableColumns:
        """Copy rows of a table."""
        chosen = np.array(rows, dtype=np.int64)
        return cls(
            {column: [table.text(column)[row] for row in rows] for column in TEXT_COLUMNS},
            {column: table.number(column)[chosen] for column in NUMBER_COLUMNS},
        )

    @classmethod
    def joined(cls, pieces: Sequence[TableColumns], order: NDArray[np.int64]) -> TableColumns:
        """Return rows of several pieces, put one behind the other, in a given order."""
        places = order.tolist()
        text = {}
        for column in TEXT_COLUMNS:
            cells = [cell for piece in pieces for cell in piece.text[column]]
            # Most columns say the same in every row.
            is_same = bool(cells) and cells.count(cells[0]) == len(cells)
            text[column] = (
                [cells[0]] * len(places) if is_same else [cells[place] for place in places]
            )
        numbers = {
            column: np.concatenate([piece.numbers[column] for piece in pieces])[order]
            for column in NUMBER_COLUMNS
        }
        return cls(text, numbers)

    def fill(self, row: int, cells: Mapping[str, str | float]) -> None:
        """Set cells of a row, by column."""
        for column, cell in cells.items():
            if isinstance(cell, str):
                self.text[column][row] = cell
            else:
                self.numbers[column][row] = cell

    def set_percent(self, percent: NDArray[np.float64]) -> None:
        """Set the percent composition, shape (rows, 12), in the order of ``ELEMENTS``."""
        self.numbers |= {f"percent_{e}": one for e, one in zip(ELEMENTS, percent.T, strict=True)}


# Next to nothing, and not nothing: who does hold such a compound, and reads a boiling point that no
# other compound of its composition has, is still answered with it.
_NOT_BOTTLED = 1e-3


def bottled_weight(columns: TableColumns) -> NDArray[np.float64]:
    """Return a factor for each row's weight: one, and next to nothing for what is not bottled.

    The column ``not_bottled`` says why: no laboratory can bottle it, or its isomers are rows of
    their own.
    """
    reasons = columns.text["not_bottled"]
    return np.array([_NOT_BOTTLED if reason else 1.0 for reason in reasons])


def commerce_weight(inventories: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return each compound's weight before anything is measured, 1 and 1/2 for each inventory.

    The six inventories name what is made or sold in quantity; a compound on all of them is four
    times as probable beforehand as one on none, or of which it is not known (NaN). Mild by intent:
    it settles a tie, not a match.
    """
    return np.asarray(1.0 + 0.5 * np.nan_to_num(inventories))
