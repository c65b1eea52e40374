"""The rows of a laboratory's stock table: one bottle each, its cells by column."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from identify.notebook.quantity.quantities import Quantity, QuantityError, excerpt, read_quantity
from identify.notebook.usual import says_not_measured
from identify.physics.constants import STANDARD_PRESSURE
from identify.tables.columns import IDENTITIES, TableCell, TableColumn
from identify.tables.entry import LABORATORY
from identify.tables.faults import Fault, HeadingsRead, TableError, UnreadableError
from identify.tables.frames import FRAME, frame_rows
from identify.tables.headings.dictionary import STOCK_HEADINGS
from identify.tables.headings.header import Header, with_row_of_units
from identify.tables.lines import file_bytes, is_excel
from identify.tables.rows import TableRow, naming_other_sheets, sound_rows, table_rows
from identify.tables.workbooks import hidden_sheets

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["IDENTITIES", "StockBottle", "StockSheet", "read_stock_sheet"]


@dataclass(frozen=True)
class StockBottle:
    """One row of a stock table.

    Parameters
    ----------
    file : str
    row : int
        As a spreadsheet counts, the header is 1.
    columns : mapping of str to TableColumn
        By what they hold: ``label``, ``identity``, ``cas``, ``smiles``, ``name``, ``formula``,
        ``molar_mass``, ``boiling_point``, ``boiling_point_at``, ``percent_C`` and so on.
    cells : sequence
    """

    file: str
    row: int
    columns: Mapping[str, TableColumn]
    cells: Sequence[object]

    @property
    def identities(self) -> dict[str, str]:
        """What says which compound it is, by column; the first decides."""
        filled = {column: self.text(column) for column in IDENTITIES}
        return {column: text for column, text in filled.items() if text}

    def text(self, column: str) -> str:
        """Return a cell as text, empty where there is none.

        Raises
        ------
        TableError
            If it is too long, or what a spreadsheet made a date of.
        """
        try:
            written = "" if column not in self.columns else self._cell(column).text()
        except QuantityError as error:
            raise self.fault(column, str(error)) from None
        return "" if column != "label" and says_not_measured(written) else written

    def number(self, column: str, unit: str) -> float | None:
        """Return a cell as a number in a unit, None where it is empty."""
        quantity = self.quantity(column)
        return None if quantity is None else quantity.to(unit).value

    def quantity(self, column: str) -> Quantity | None:
        """Return a cell as a quantity in its own unit, None where it is empty.

        Raises
        ------
        TableError
            If it cannot be read.
        """
        if not self.text(column):
            return None
        try:
            return self._cell(column).quantity()
        except QuantityError as error:
            raise self.fault(column, str(error)) from None

    def boiling_pressure(self, laboratory: float | None = None) -> float:
        """Return the pressure of the boiling point [Pa]: 760 mmHg where none is stated.

        Parameters
        ----------
        laboratory : float, optional
            What the word ``laboratory`` in that cell means [Pa].

        Raises
        ------
        TableError
            If the cell cannot be read, or says ``laboratory`` and that is not known.
        """
        if self.text("boiling_point_at").casefold() == LABORATORY:
            if laboratory is None:
                reason = f'"{LABORATORY}" gives no pressure here; write it, such as 742'
                raise self.fault("boiling_point_at", reason)
            return laboratory
        stated = self.number("boiling_point_at", "Pa") or self._stated_pressure
        return STANDARD_PRESSURE if stated is None else stated

    @property
    def _stated_pressure(self) -> float | None:
        """What the heading of the boiling points states as their pressure [Pa]."""
        column = self.columns.get("boiling_point")
        if column is None or not column.stated:
            return None
        return read_quantity(column.stated, "pressure").to("Pa").value

    def fault(self, column: str, reason: str) -> TableError:
        """Return what is wrong with a cell as an error of one line."""
        known = self.columns.get(column)
        name = STOCK_HEADINGS.shown(column) if known is None else known.header
        return TableError(f"{self.file}, row {self.row}, {excerpt(name)}: {reason}")

    def _cell(self, column: str) -> TableCell:
        row = TableRow(self.file, self.row, self.cells)
        return TableCell.of(row, self.columns[column])


@dataclass(frozen=True)
class StockSheet:
    """The rows of a stock table, and what in it could not be read.

    Parameters
    ----------
    file : str
    bottles : list of StockBottle
    columns : mapping of str to TableColumn
    faults : list of Fault
        Rows that cannot be used, and columns whose name could mean two, or is nearly one that is
        read; the latter have the row of the column names.
    header_row : int
    headings : HeadingsRead
        What the headings were taken for.
    """

    file: str
    bottles: list[StockBottle]
    columns: Mapping[str, TableColumn]
    faults: list[Fault]
    header_row: int
    headings: HeadingsRead


def read_stock_sheet(source: Path | pd.DataFrame) -> StockSheet:
    """Read a stock table.

    Parameters
    ----------
    source : Path or pandas.DataFrame
        CSV (comma, semicolon or tab) or XLSX. Columns that do not concern a match, such as a
        price, are passed over, and named in ``headings``.

    Raises
    ------
    TableError
        If there is no table, or none with a column that says which compound it is.
    """
    file = str(source) if isinstance(source, Path) else FRAME
    try:
        if not isinstance(source, Path):
            return _sheet(*frame_rows(source))
        data = file_bytes(source)
        with naming_other_sheets(data, STOCK_HEADINGS.score):
            header_row, rows = table_rows(data, file, STOCK_HEADINGS.score)
            header_row, rows = with_row_of_units(header_row, rows)
            sheet = _sheet(header_row, rows)
        if not is_excel(data):
            return sheet
        return replace(sheet, headings=replace(sheet.headings, hidden=hidden_sheets(data)))
    except UnreadableError as error:
        raise TableError(str(error.fault(file))) from None


def _sheet(header_row: TableRow, rows: Iterable[TableRow]) -> StockSheet:
    columns, header = _columns(header_row)
    faults = header.faults(header_row)
    body = sound_rows(rows, len(header_row.cells), faults)
    bottles = [StockBottle(header_row.file, row.number, columns, row.cells) for row in body]
    told = header.told
    return StockSheet(header_row.file, bottles, columns, faults, header_row.number, told)


def _columns(header_row: TableRow) -> tuple[dict[str, TableColumn], Header]:
    """Return the columns by what they hold, and the whole header.

    Raises
    ------
    TableError
        If two columns say the same.
    UnreadableError
        If none says which compound it is.
    """
    header = STOCK_HEADINGS.header(header_row.cells)
    for column, error in header.again:
        if column.is_usual:
            raise TableError(
                str(header_row.fault(column.header, "", f"{error.reason}; {error.advice}"))
            )
    columns = {column.field: column for column in header.columns}
    if STOCK_HEADINGS.keys.isdisjoint(columns):
        raise UnreadableError(
            "has no column named identity; begin with a row of column names, such as "
            "label,identity,boiling_point_C"
        )
    return columns, header
