"""Corrections, written in the manner of the cell that they replace."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from identify.notebook.quantity.notation import decimals_shown
from identify.notebook.quantity.quantities import Quantity, QuantityError, read_quantity
from identify.stock.result import Change
from identify.tables.stock_rows import StockBottle

_NUMBER = re.compile(r"[-+−]?\d+(?:[.,]\d+)?(?:[eE][-+]?\d+)?")
_DECIMALS = re.compile(r"\d([.,])\d")
_MAX_DECIMALS = 4


@dataclass(frozen=True)
class CellWriter:
    """Writes numbers with the decimal mark of the table.

    Parameters
    ----------
    mark : {".", ","}
    """

    mark: str = "."

    @classmethod
    def of(cls, bottles: Iterable[StockBottle]) -> CellWriter:
        """Take the decimal mark of most numbers that are written as text."""
        marks: Counter[str] = Counter()
        for bottle in bottles:
            cells = (cell for cell in bottle.cells if isinstance(cell, str))
            marks.update(found[1] for cell in cells if (found := _DECIMALS.search(cell[:40])))
        return cls("," if marks[","] > marks["."] else ".")

    def text(self, bottle: StockBottle, column: str, right: str, reason: str) -> Change:
        """Return a change of a cell of text."""
        header = bottle.columns[column].header
        return Change(bottle.row, header, bottle.text(column), right, reason)

    def number(
        self, bottle: StockBottle, column: str, right: Quantity, decimals: int, reason: str
    ) -> Change:
        """Return a change of a number, which keeps its unit and what else stands in the cell.

        Parameters
        ----------
        bottle, column
            The cell.
        right : Quantity
        decimals : int
            At least; more where the cell has more.
        reason : str
        """
        read = bottle.quantity(column)
        assert read is not None
        value = right.to(read.unit).value
        text = bottle.text(column)
        decimals = min(max(decimals, decimals_shown(text) or 0), _MAX_DECIMALS)
        number = f"{value:.{decimals}f}"
        written = _NUMBER.sub(lambda found: self._as_in(found[0], number), text, count=1)
        if not _reads_as(written, read, float(number)):
            own = right.to(bottle.columns[column].unit).value
            written = self._as_in("", f"{own:.{decimals}f}")
        return self.text(bottle, column, written, reason)

    def _as_in(self, old: str, number: str) -> str:
        """Write a number with the decimal mark of the one that it replaces."""
        mark = next((mark for mark in ",." if mark in old), self.mark)
        return number.replace(".", mark)


def _reads_as(written: str, read: Quantity, value: float) -> bool:
    try:
        again = read_quantity(written, read.dimension, read.unit)
    except QuantityError:
        return False
    return again.unit == read.unit and abs(again.value - value) < 1e-9
