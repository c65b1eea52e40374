"""A laboratory's own stock table as the table of candidates: one row a bottle.

Columns ``label``, ``identity`` (name, CAS number or SMILES; or ``cas``, ``smiles``, ``name``), then
any of ``formula``, ``molar_mass``, ``boiling_point_C`` with ``boiling_point_at_mmHg``,
``percent_C`` and so on. The identity decides: composition and molar mass follow from its structure,
and what the file states must agree. A boiling point in the file is what the bottle's card says, and
is used, carried to 760 mmHg; the other constants come from the built-in table.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import numpy as np

from identify.compounds.columns import TableColumns
from identify.compounds.naming.lookup import NameFault, compound_of, row_of
from identify.compounds.naming.meaning import Compound
from identify.compounds.parquet import built_in_table
from identify.compounds.published.likeness import Likeness
from identify.compounds.published.vapor.dimers import dimer_cells
from identify.compounds.stated import doubt_of_published
from identify.compounds.table import ESTIMATED, NUMBER_COLUMNS, TEXT_COLUMNS, CandidateTable
from identify.notebook.quantity.quantities import excerpt
from identify.notebook.usual import CARD_BOILING_POINT
from identify.physics.boiling import boiling_temperature, boiling_temperature_by_trouton
from identify.physics.constants import ELEMENTS, ICE_POINT, STANDARD_PRESSURE
from identify.tables.faults import TableError
from identify.tables.stock_rows import StockBottle, read_stock_sheet

_MOLAR_MASS_SLACK = 0.005  # of the molar mass: older atomic weights and rounding
_PERCENT_SLACK = 0.4  # percentage points, the usual tolerance
_STATED = "stock table"  # as the source of a boiling point


@dataclass
class _ShelfRow:
    """One row of the table in the making."""

    text: dict[str, str]
    numbers: dict[str, float]
    labels: list[str] = field(default_factory=list)

    @classmethod
    def of(cls, columns: TableColumns) -> _ShelfRow:
        """Take the only row of some columns."""
        return cls(
            {column: cells[0] for column, cells in columns.text.items()},
            {column: float(values[0]) for column, values in columns.numbers.items()},
        )

    @property
    def is_stated(self) -> bool:
        """Whether the boiling point is the file's own."""
        return self.text["boiling_point_source"] == _STATED


def read_stock_candidates(path: Path) -> CandidateTable:
    """Read a stock table.

    Parameters
    ----------
    path : Path
        CSV (comma, semicolon or tab) or XLSX.

    Returns
    -------
    CandidateTable
        One row a compound; bottles of the same compound share one. Rows of the file that cannot be
        used are in ``faults``, one line each.

    Raises
    ------
    TableError
        If no row can be used.
    """
    known = _ShelfCompounds(built_in_table())
    sheet = read_stock_sheet(path)
    faults = [str(fault) for fault in sheet.faults]
    rows: dict[str, _ShelfRow] = {}
    for bottle in sheet.bottles:
        try:
            row = known.row(bottle)
            _state_boiling_point(row, bottle)
            _add(rows, row, bottle)
        except TableError as fault:
            faults.append(str(fault))
    if not rows:
        raise TableError(*(faults or [f"{path}: has no rows below its column names"]))
    return _table(list(rows.values()), faults, sheet.headings.line(str(path)))


class _ShelfCompounds:
    """The compounds of a shelf: from the built-in table, or from structure and boiling point."""

    def __init__(self, table: CandidateTable) -> None:
        self._table = table

    @cached_property
    def _likeness(self) -> Likeness:
        return Likeness(self._table)  # takes a while, and few tables need it

    def row(self, bottle: StockBottle) -> _ShelfRow:
        """Return the constants of a bottle's compound."""
        try:
            compound = compound_of(bottle.identities)
        except NameFault as fault:
            raise bottle.fault(fault.column, str(fault)) from None
        place = row_of(self._table, compound)
        if place is None:
            row = self._estimated(bottle, compound)
        else:
            row = _ShelfRow.of(TableColumns.of(self._table, [place]))
        require_agreement(row.text["name"], row.text["formula"], row.numbers, bottle)
        return row

    def _estimated(self, bottle: StockBottle, compound: Compound) -> _ShelfRow:
        """Return a row for a compound that the built-in table lacks, from its boiling point."""
        from identify.chemistry.structures import Structure

        structure = Structure(compound.smiles)
        stated = bottle.number("boiling_point", "C")
        if stated is None:
            raise bottle.fault(
                "boiling_point",
                f"is empty, and none is known for {excerpt(compound.name)}; look it up and give it",
            )
        boiling = boiling_temperature_by_trouton(
            STANDARD_PRESSURE, stated + ICE_POINT, bottle.boiling_pressure()
        )
        rows = self._likeness.columns(
            np.array([boiling - ICE_POINT]),
            np.array([structure.molar_mass]),
            np.array([structure.percent]),
        )
        rows.fill(
            0,
            {
                "name": compound.name,
                "cas": compound.cas,
                "smiles": structure.smiles,
                "inchikey": structure.inchikey,
                "formula": structure.formula,
                "groups": structure.groups,
                "log_p": structure.log_p,
                "log_p_source": ESTIMATED,
                "boiling_point_u": CARD_BOILING_POINT,
                "boiling_point_published": 1.0,
                "inventories": 0.0,
                **dimer_cells(structure.mol),
            },
        )
        return _ShelfRow.of(rows)


def require_agreement(
    name: str, formula: str, numbers: Mapping[str, float], bottle: StockBottle
) -> None:
    """Refuse a row whose formula, molar mass or percentages are not its compound's.

    Parameters
    ----------
    name, formula : str
        Of the compound.
    numbers : mapping of str to float
        Its ``molar_mass``, ``percent_C`` and so on.
    bottle : StockBottle

    Raises
    ------
    TableError
    """
    from identify.chemistry.formula import FormulaError, parse_formula

    advice = f"correct it, or the identity ({excerpt(name)})"
    if written := bottle.text("formula"):
        try:
            same = parse_formula(written) == parse_formula(formula)
        except FormulaError as error:
            raise bottle.fault("formula", str(error)) from None
        if not same:
            raise bottle.fault("formula", f'"{excerpt(written)}" is not {formula}; {advice}')
    stated = [
        ("molar_mass", "g/mol", _MOLAR_MASS_SLACK * numbers["molar_mass"]),
        *((f"percent_{element}", "%", _PERCENT_SLACK) for element in ELEMENTS),
    ]
    for column, unit, slack in stated:
        value = bottle.number(column, unit)
        if value is not None and abs(value - numbers[column]) > slack:
            read = excerpt(bottle.text(column))
            raise bottle.fault(column, f'"{read}" is not {numbers[column]:.2f} {unit}; {advice}')


def _state_boiling_point(row: _ShelfRow, bottle: StockBottle) -> None:
    """Let the card's boiling point stand for the table's, which the row then mentions."""
    celsius = bottle.number("boiling_point", "C")
    if celsius is None:
        return
    published = row.numbers["boiling_point_C"]
    celsius = _at_one_atmosphere(celsius, bottle.boiling_pressure(), row)
    uncertainty = row.numbers["boiling_point_u"]
    if doubt := doubt_of_published(published, uncertainty, celsius, _STATED):
        row.text["set_aside"] = doubt
    row.text["boiling_point_source"] = _STATED
    row.numbers["boiling_point_C"] = celsius
    row.numbers["boiling_point_u"] = CARD_BOILING_POINT
    row.numbers["boiling_point_published"] = 1.0


def _at_one_atmosphere(celsius: float, pressure: float, row: _ShelfRow) -> float:
    """Carry a boiling point to 760 mmHg along the compound's own vapor-pressure curve."""
    curve = np.array([row.numbers[f"vapor_curve_{letter}"] for letter in "abc"])
    normal = row.numbers["boiling_point_C"] + ICE_POINT
    # In reduced form: the curve is moved to where this bottle's card has the liquid boil.
    ratio = normal / float(boiling_temperature(pressure, normal, curve))
    return (celsius + ICE_POINT) * ratio - ICE_POINT


def _add(rows: dict[str, _ShelfRow], row: _ShelfRow, bottle: StockBottle) -> None:
    """Put a bottle with the others of its compound."""
    label = bottle.text("label")
    same = rows.setdefault(row.text["inchikey"], row)
    if row.is_stated and same.is_stated:
        first, second = (one.numbers["boiling_point_C"] for one in (same, row))
        if abs(first - second) > CARD_BOILING_POINT:
            raise bottle.fault(
                "boiling_point",
                f"{row.text['name']} stands in this file with {first:.1f} °C too (bottle "
                f"{', '.join(same.labels) or 'without a label'}); correct one of them",
            )
    elif row.is_stated:
        same.text, same.numbers = row.text, row.numbers
    if label:
        same.labels.append(label)


def _table(rows: Sequence[_ShelfRow], faults: Sequence[str], told: str) -> CandidateTable:
    for row in rows:
        row.text["label"] = ", ".join(row.labels)
        # What stands on a shelf is as probable as its neighbor, whatever the inventories say.
        row.numbers |= {"prior": 1.0 / len(rows), "classroom": np.nan}
    text = {column: [row.text[column] for row in rows] for column in TEXT_COLUMNS}
    numbers = {column: np.array([row.numbers[column] for row in rows]) for column in NUMBER_COLUMNS}
    return CandidateTable(text, numbers, faults, told)
