"""The rows of a laboratory's stock table: one bottle each, its cells by column."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from identify.candidates.table import ELEMENTS, TableError
from identify.quantities import QuantityError, excerpt, read_quantity, unit_name
from identify.units import plain_characters

_LONGEST_CELL = 500  # characters; longer than any name or SMILES of a volatile liquid

_TEXTS = ("label", "identity", "formula")
# Columns of numbers, with dimension and the unit that a number has where the name says none.
_NUMBERS: Mapping[str, tuple[str, str]] = {
    "molar_mass": ("molar mass", "g/mol"),
    "boiling_point": ("temperature", "C"),
    **{f"percent_{element}": ("percent", "%") for element in ELEMENTS},
}
_AS_ADVISED = {"boiling_point": "boiling_point_C"}


@dataclass(frozen=True)
class _Column:
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
        By what they hold: ``label``, ``identity``, ``formula``, ``molar_mass``,
        ``boiling_point``, ``percent_C`` and so on.
    cells : sequence
    """

    file: str
    row: int
    columns: Mapping[str, _Column]
    cells: Sequence[object]

    def text(self, column: str) -> str:
        """Return a cell as text, empty where there is none."""
        cell = self._cell(column)
        if isinstance(cell, float) and cell.is_integer():
            return str(int(cell))  # a spreadsheet gives bottle 14 as the number 14.0
        text = "" if cell is None else " ".join(str(cell).split())
        if len(text) > _LONGEST_CELL:
            raise self.fault(column, f'"{excerpt(text)}" is too long; check the quotation marks')
        return text

    def number(self, column: str, unit: str) -> float | None:
        """Return a cell as a number in a unit, None where it is empty."""
        if not self.text(column):
            return None
        try:
            quantity = read_quantity(
                self._cell(column), _NUMBERS[column][0], self.columns[column].unit
            )
        except QuantityError as error:
            raise self.fault(column, str(error)) from None
        return quantity.to(unit).value

    def fault(self, column: str, reason: str) -> TableError:
        """Return what is wrong with a cell as an error of one line."""
        known = self.columns.get(column)
        name = _AS_ADVISED.get(column, column) if known is None else known.header
        return TableError(f"{self.file}, row {self.row}, {name}: {reason}")

    def _cell(self, column: str) -> object:
        place = self.columns[column].place if column in self.columns else len(self.cells)
        return self.cells[place] if place < len(self.cells) else None


def read_bottles(path: Path, faults: list[str]) -> list[Bottle]:
    """Read the rows of a stock table.

    Parameters
    ----------
    path : Path
        CSV (comma, semicolon or tab) or XLSX. Columns that are no business of a match, such as a
        price, are passed over.
    faults : list of str
        Takes rows that cannot be used, and columns whose name is nearly one that is read.

    Returns
    -------
    list of Bottle

    Raises
    ------
    TableError
        If there is no table, or none with a column ``identity``.
    """
    # What makes rows of a file is the same for every kind of table.
    from identify.records.faults import Fault, UnreadableError
    from identify.records.files import excel_rows, file_bytes, is_excel, text_of, text_rows

    broken: list[Fault] = []
    try:
        data = file_bytes(path)
        rows = excel_rows(data) if is_excel(data) else text_rows(text_of(data), str(path), broken)
    except UnreadableError as error:
        raise TableError(f"{path}: {error.advice}") from None
    faults += map(str, broken)
    filled = [row for row in rows if any(not _is_blank(cell) for cell in row[1])]
    if not filled:
        raise TableError(faults[0] if faults else f"{path}: is empty; check that it was saved")
    (header_row, header), *body = filled
    columns = _columns(header, f"{path}, row {header_row}", faults)
    bottles = []
    for number, cells in body:
        if all(_is_blank(cell) for cell in cells[len(header) :]):
            bottles.append(Bottle(str(path), number, columns, cells))
            continue
        faults.append(
            f"{path}, row {number}: has {len(cells)} cells where there are {len(header)} column "
            "names; if commas mark the decimals, separate the columns by semicolons"
        )
    return bottles


def _is_blank(cell: object) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def _columns(header: Sequence[object], origin: str, faults: list[str]) -> dict[str, _Column]:
    columns: dict[str, _Column] = {}
    for place, cell in enumerate(header):
        name = "" if cell is None else str(cell).strip()
        try:
            found = _column(name)
        except QuantityError as error:
            faults.append(
                f"{origin}, {excerpt(name)}: {error.reason}; {error.advice} "
                "(this column is not read)"
            )
            continue
        if found is None:
            continue
        field, unit = found
        earlier = columns.setdefault(field, _Column(place, excerpt(name), unit))
        if earlier.place != place:
            raise TableError(
                f'{origin}, {excerpt(name)}: says the same as column "{earlier.header}"; '
                "keep one of them"
            )
    if "identity" not in columns:
        raise TableError(
            f"{origin.rpartition(', row ')[0]}: has no column named identity; begin with a row of "
            "column names, such as label,identity,boiling_point_C"
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
    folded = name.lower()
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
