"""The columns of a table, and the cells that stand in them."""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass

from identify.notebook.quantity.quantities import Quantity, QuantityError, read_quantity
from identify.notebook.usual import says_not_measured
from identify.tables.entry import word_of
from identify.tables.limits import MAX_TEXT
from identify.tables.rows import TableRow, is_blank

# Columns that say which compound it is; the first that is filled decides.
IDENTITIES = ("identity", "cas", "smiles", "name")
GAP = re.compile(r"[\s_.(\[-]+")  # between the words of a heading


@dataclass(frozen=True)
class TableColumn:
    """A column that is read.

    Parameters
    ----------
    place : int
        From 0.
    header : str
        As it stands in the file.
    field : str
        What it holds, of a `Heading`.
    dimension, unit : str
        Of its numbers, and of those that state no unit; both empty for words.
    is_uncertainty : bool
        Whether it holds the standard uncertainty of that field.
    rank : int
        How far its heading is from what the guide calls it: 0 where it is the same, 1 in other
        words that are as plain, more in words that are less plain.
    stated : str
        The temperature or pressure that its heading states, where that is not the usual one.
    """

    place: int
    header: str
    field: str
    dimension: str = ""
    unit: str = ""
    is_uncertainty: bool = False
    rank: int = 0
    stated: str = ""

    @property
    def is_usual(self) -> bool:
        """Whether it is headed by what it holds, not by another word for it."""
        return self.rank == 0


@dataclass(frozen=True)
class TableCell:
    """What stands in a column of a row: text, a number, a date, or None."""

    column: TableColumn
    value: object

    @classmethod
    def of(cls, row: TableRow, column: TableColumn) -> TableCell:
        """Take the cell of a row; one that ends before the column has nothing there."""
        return cls(column, row.cells[column.place] if column.place < len(row.cells) else None)

    @property
    def is_blank(self) -> bool:
        """Whether nothing stands there, or that nothing was measured."""
        is_reading = bool(self.column.dimension)
        return is_blank(self.value) or (is_reading and says_not_measured(self.value))

    def text(self) -> str:
        """Return it as text with single blanks, empty where nothing stands there.

        Raises
        ------
        QuantityError
            If it is too long, or a word that a spreadsheet made a date of, or anything else.

        Examples
        --------
        >>> TableCell(TableColumn(0, "label", "label"), 14.0).text()
        '14'
        """
        text = "" if self.value is None else word_of(self.value)
        if text is None:
            if self.column.dimension:
                return str(self.value)  # `quantity` says what is the matter with it
            if isinstance(self.value, datetime.date | datetime.time):  # what becomes of "3-14"
                read = str(self.value).removesuffix(" 00:00:00")
                advice = "format the cell as text, and enter it again"
                raise QuantityError(read, "is a date to the spreadsheet", advice)
            raise QuantityError(str(self.value), "is not a word or a number", "write it as text")
        if len(text) > MAX_TEXT:
            raise QuantityError(text, "is too long", "check the quotation marks")
        return text

    def quantity(self) -> Quantity:
        """Return it as a quantity in its own unit.

        Raises
        ------
        QuantityError
            If it cannot be read.
        """
        return read_quantity(self.value, self.column.dimension, self.column.unit)


def heading_key(text: str) -> str:
    """Return a heading as spellings are compared.

    Examples
    --------
    >>> heading_key("CAS No."), heading_key("Boiling point [K]")
    ('cas_no', 'boiling_point_k')
    """
    return GAP.sub("_", text.lower()).strip("_)]")
