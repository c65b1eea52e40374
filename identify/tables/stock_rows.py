"""The rows of a laboratory's stock table: one bottle each, its cells by column."""

from __future__ import annotations

import datetime
import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from identify.notebook.quantities import Quantity, QuantityError, excerpt, read_quantity, unit_name
from identify.notebook.units import plain_characters
from identify.physics.constants import ELEMENTS, STANDARD_PRESSURE
from identify.tables.faults import TableError

if TYPE_CHECKING:
    from identify.tables.faults import Fault

_LONGEST_CELL = 500  # characters; longer than any name or SMILES of a volatile liquid

# Columns that say which compound it is; the first that is filled decides.
IDENTITIES = ("identity", "cas", "smiles", "name")
_TEXTS = ("label", *IDENTITIES, "formula")
_OTHER_SPELLINGS = {"cas_number": "cas", "cas_no": "cas", "cas_no.": "cas", "casrn": "cas"}
# Columns of numbers, with dimension and the unit that a number has where the name says none. The
# pressure of a boiling point goes before it: its name begins with that one's.
_NUMBERS: Mapping[str, tuple[str, str]] = {
    "molar_mass": ("molar mass", "g/mol"),
    "boiling_point_at": ("pressure", "mmHg"),
    "boiling_point": ("temperature", "C"),
    **{f"percent_{element}": ("percent", "%") for element in ELEMENTS},
}
LABORATORY = "laboratory"  # as the pressure of a boiling point: the laboratory's own
_AS_ADVISED = {"boiling_point": "boiling_point_C", "boiling_point_at": "boiling_point_at_mmHg"}


@dataclass(frozen=True)
class Column:
    """A column that is read: its place, its name in the file, and the unit of its numbers."""

    place: int
    header: str
    unit: str = ""


@dataclass(frozen=True)
class Bottle:
    """One row of a stock table.

    Parameters
    ----------
    file : str
    row : int
        As a spreadsheet counts, the header is 1.
    columns : mapping of str to column
        By what they hold: ``label``, ``identity``, ``cas``, ``smiles``, ``name``, ``formula``,
        ``molar_mass``, ``boiling_point``, ``boiling_point_at``, ``percent_C`` and so on.
    cells : sequence
    """

    file: str
    row: int
    columns: Mapping[str, Column]
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
        cell = self._cell(column)
        if isinstance(cell, datetime.date | datetime.time) and column in _TEXTS:
            raise self.fault(
                column,
                f'"{_as_typed(cell)}" is a date to the spreadsheet; format the cell as text, and '
                "enter it again",
            )
        if isinstance(cell, float) and cell.is_integer():
            return str(int(cell))  # a spreadsheet gives bottle 14 as the number 14.0
        text = "" if cell is None else " ".join(str(cell).split())
        if len(text) > _LONGEST_CELL:
            raise self.fault(column, f'"{excerpt(text)}" is too long; check the quotation marks')
        return text

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
            return read_quantity(self._cell(column), _NUMBERS[column][0], self.columns[column].unit)
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
        stated = self.number("boiling_point_at", "Pa")
        return STANDARD_PRESSURE if stated is None else stated

    def fault(self, column: str, reason: str) -> TableError:
        """Return what is wrong with a cell as an error of one line."""
        known = self.columns.get(column)
        name = _AS_ADVISED.get(column, column) if known is None else known.header
        return TableError(f"{self.file}, row {self.row}, {name}: {reason}")

    def _cell(self, column: str) -> object:
        place = self.columns[column].place if column in self.columns else len(self.cells)
        return self.cells[place] if place < len(self.cells) else None


@dataclass(frozen=True)
class StockSheet:
    """The rows of a stock table, and what in it could not be read.

    Parameters
    ----------
    bottles : list of Bottle
    columns : mapping of str to Column
    faults : list of Fault
        Rows that cannot be used, and columns whose name is nearly one that is read; the latter
        have the row of the column names.
    header_row : int
    """

    bottles: list[Bottle]
    columns: Mapping[str, Column]
    faults: list[Fault]
    header_row: int


def read_bottles(path: Path, faults: list[str]) -> list[Bottle]:
    """Read the rows of a stock table, as `read_stock_sheet` does; faults as text, one line each."""
    sheet = read_stock_sheet(path)
    faults += map(str, sheet.faults)
    return sheet.bottles


def read_stock_sheet(path: Path) -> StockSheet:
    """Read a stock table.

    Parameters
    ----------
    path : Path
        CSV (comma, semicolon or tab) or XLSX. Columns that are no business of a match, such as a
        price, are passed over.

    Returns
    -------
    StockSheet

    Raises
    ------
    TableError
        If there is no table, or none with a column that says which compound it is.
    """
    # What makes rows of a file is the same for every kind of table.
    from identify.tables.faults import Fault, UnreadableError
    from identify.tables.files import excel_rows, file_bytes, is_excel, text_of, text_rows

    faults: list[Fault] = []
    try:
        data = file_bytes(path)
        rows = excel_rows(data) if is_excel(data) else text_rows(text_of(data), str(path), faults)
    except UnreadableError as error:
        raise TableError(f"{path}: {error.advice}") from None
    filled = [row for row in rows if any(not _is_blank(cell) for cell in row[1])]
    if not filled:
        broken = [str(fault) for fault in faults]
        raise TableError(broken[0] if broken else f"{path}: is empty; check that it was saved")
    (header_row, header), *body = filled
    columns = _columns(header, str(path), header_row, faults)
    bottles = []
    for number, cells in body:
        if all(_is_blank(cell) for cell in cells[len(header) :]):
            bottles.append(Bottle(str(path), number, columns, cells))
            continue
        advice = (
            f"has {len(cells)} cells where there are {len(header)} column names; if commas mark "
            "the decimals, separate the columns by semicolons"
        )
        faults.append(Fault(str(path), number, "", "", advice))
    return StockSheet(bottles, columns, faults, header_row)


def _as_typed(cell: datetime.date | datetime.time) -> str:
    return str(cell).removesuffix(" 00:00:00")


def _is_blank(cell: object) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def _columns(
    header: Sequence[object], file: str, row: int, faults: list[Fault]
) -> dict[str, Column]:
    from identify.tables.faults import Fault

    columns: dict[str, Column] = {}
    for place, cell in enumerate(header):
        name = "" if cell is None else str(cell).strip()
        try:
            found = _column(name)
        except QuantityError as error:
            advice = f"{error.reason}; {error.advice} (this column is not read)"
            faults.append(Fault(file, row, excerpt(name), "", advice))
            continue
        if found is None:
            continue
        field, unit = found
        earlier = columns.setdefault(field, Column(place, excerpt(name), unit))
        if earlier.place != place:
            raise TableError(
                f'{file}, row {row}, {excerpt(name)}: says the same as column "{earlier.header}"; '
                "keep one of them"
            )
    if not any(column in columns for column in IDENTITIES):
        raise TableError(
            f"{file}: has no column named identity; begin with a row of column names, such as "
            "label,identity,boiling_point_C"
        )
    return columns


def _column(header: str) -> tuple[str, str] | None:
    """Return what a column holds and the unit of its numbers; None where it is not read.

    Raises
    ------
    QuantityError
        If the name is nearly one that is read, or its unit is not known.
    """
    name = re.sub(r"[\s(\[]+", "_", plain_characters(header[:60]).strip()).rstrip(")]")
    folded = _OTHER_SPELLINGS.get(name.lower(), name.lower())
    if folded in _TEXTS:
        return folded, ""
    for field, (dimension, unit) in _NUMBERS.items():
        if folded == field.lower():
            return field, unit
        if folded.startswith(f"{field}_".lower()) and not field.startswith("percent"):
            return field, unit_name(name[len(field) + 1 :].replace("_", " "), dimension)
    known = {_AS_ADVISED.get(field, field): None for field in (*_TEXTS, *_NUMBERS)}
    near = difflib.get_close_matches(folded, [column.lower() for column in known], 1, cutoff=0.8)
    if near:
        meant = next(column for column in known if column.lower() == near[0])
        raise QuantityError(header, "is no known column", f"did you mean {meant}?")
    return None
