"""A laboratory's own stock table as the table of candidates: one row a bottle.

Columns ``label``, ``identity`` (name, CAS number or SMILES), then any of ``formula``,
``molar_mass``, ``boiling_point_C``, ``percent_C`` and so on. The identity decides: composition and
molar mass follow from its structure, and what the file states must agree. A boiling point in the
file is what the bottle's card says, and is used; the other constants come from the built-in table.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from identify.candidates.table import (
    ELEMENTS,
    NUMBER_COLUMNS,
    TEXT_COLUMNS,
    CandidateTable,
    TableError,
    load_candidates,
)
from identify.physics.constants import ICE_POINT
from identify.quantities import QuantityError, excerpt, read_quantity

if TYPE_CHECKING:
    from identify.candidates.structures import Structure

_CAS_NUMBER = re.compile(r"\d{2,7}-\d{2}-\d")
_CARD_UNCERTAINTY = 0.5  # K: cards give boiling points to a few tenths; common practice
_CARD_DOUBT = 5.0  # K between card and table that the row mentions
_MOLAR_MASS_SLACK = 0.005  # of the molar mass: older atomic weights and rounding
_PERCENT_SLACK = 0.4  # percentage points, the usual tolerance
_NEIGHBORS = 5


@dataclass(frozen=True)
class _Bottle:
    """One row of the file: its place, and its cells by column."""

    file: str
    row: int
    cells: Mapping[str, object]

    def text(self, column: str) -> str:
        value = self.cells.get(column)
        return "" if value is None else " ".join(str(value).split())

    def number(self, column: str, dimension: str, unit: str) -> float | None:
        """Return a cell as a number in a unit, None where it is empty."""
        if not self.text(column):
            return None
        try:
            return read_quantity(self.cells[column], dimension, unit).to(unit).value
        except QuantityError as error:
            raise self.fault(column, str(error)) from None

    def fault(self, column: str, reason: str) -> TableError:
        return TableError(f"{self.file}, row {self.row}, {column}: {reason}")


@dataclass
class _Row:
    """One row of the table in the making."""

    text: dict[str, str]
    numbers: dict[str, float]
    labels: list[str] = field(default_factory=list)


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
    known = _Known(load_candidates())
    faults: list[str] = []
    rows: dict[str, _Row] = {}
    for bottle in _bottles(path):
        try:
            row = known.row(bottle)
            _state_boiling_point(row, bottle)
            _add(rows, row, bottle)
        except TableError as fault:
            faults.append(str(fault))
    if not rows:
        reason = faults[0] if faults else f"{path}: has no rows below its column names"
        raise TableError(reason)
    return _table(list(rows.values()), faults)


def _bottles(path: Path) -> list[_Bottle]:
    # What makes rows of a file is the same for every kind of table.
    from identify.records.faults import Fault, UnreadableError
    from identify.records.files import excel_rows, file_bytes, is_excel, text_of, text_rows

    broken: list[Fault] = []
    try:
        data = file_bytes(path)
        rows = excel_rows(data) if is_excel(data) else text_rows(text_of(data), str(path), broken)
    except UnreadableError as error:
        raise TableError(f"{path}: {error.advice}") from None
    if broken:
        raise TableError(str(broken[0]))
    filled = [row for row in rows if any(str(cell or "").strip() for cell in row[1])]
    if not filled:
        raise TableError(f"{path}: is empty; check that it was saved")
    (_, header), *body = filled
    columns = [str(cell or "").strip() for cell in header]
    lower = [column.lower() for column in columns]
    if "identity" not in lower:
        raise TableError(
            f"{path}: has no column named identity; begin with a row of column names, such as "
            "label,identity,boiling_point_C"
        )
    names = [
        name if name in ("label", "identity", "formula") else columns[place]
        for place, name in enumerate(lower)
    ]
    return [
        _Bottle(str(path), number, dict(zip(names, cells, strict=False))) for number, cells in body
    ]


class _Known:
    """The built-in table, and what else the libraries know, by any name of a compound."""

    def __init__(self, table: CandidateTable) -> None:
        self.table = table

    @cached_property
    def _places(self) -> dict[str, int]:
        places: dict[str, int] = {}
        for column in ("name", "cas", "inchikey"):
            for place, text in enumerate(self.table.text(column)):
                places.setdefault(text.casefold(), place)
        return places

    def row(self, bottle: _Bottle) -> _Row:
        """Return the constants of a bottle's compound."""
        identity = bottle.text("identity")
        if not identity:
            raise bottle.fault("identity", "is empty; give a name, a CAS number or a SMILES")
        place = self._places.get(identity.casefold())
        row = self._built_in(place) if place is not None else self._from_libraries(bottle, identity)
        _must_agree(row, bottle)
        return row

    def _built_in(self, place: int) -> _Row:
        return _Row(
            {column: self.table.text(column)[place] for column in TEXT_COLUMNS},
            {column: float(self.table.number(column)[place]) for column in NUMBER_COLUMNS},
        )

    def _from_libraries(self, bottle: _Bottle, identity: str) -> _Row:
        from identify.candidates.structures import read_structure

        cas, name, smiles = "", identity, identity
        structure = None if _CAS_NUMBER.fullmatch(identity) else read_structure(identity)
        if structure is None:
            cas, name, smiles = _looked_up(bottle, identity)
            if (place := self._places.get(cas)) is not None:
                return self._built_in(place)
            structure = read_structure(smiles)
        if structure is None:
            raise bottle.fault(
                "identity", f'"{excerpt(identity)}" is no single neutral compound with carbon'
            )
        if (place := self._places.get(structure.inchikey.casefold())) is not None:
            return self._built_in(place)
        return self._estimated(bottle, structure, name, cas)

    def _estimated(self, bottle: _Bottle, structure: Structure, name: str, cas: str) -> _Row:
        """Return a row for a compound that the built-in table lacks, from its boiling point."""
        from identify.candidates import curves

        celsius = _stated_boiling_point(bottle)
        if celsius is None:
            raise bottle.fault(
                "boiling_point_C",
                f"is empty, and none is known for {excerpt(name)}; look it up and give it",
            )
        boiling = celsius + ICE_POINT
        percent = np.array(structure.percent)
        nearest = self._nearest(celsius, structure.molar_mass, percent)
        table_boiling = self.table.number("boiling_point_C")[nearest] + ICE_POINT
        temperature = boiling * float(
            np.median(self.table.number("critical_temperature_K")[nearest] / table_boiling)
        )
        pressure = float(np.median(self.table.number("critical_pressure_Pa")[nearest]))
        critical = curves.Critical(
            temperature,
            pressure,
            curves.acentric_from_boiling_point(boiling, temperature, pressure),
        )
        curve, curve_source = curves.vapor_curve(boiling, critical, ())
        virial = curves.second_virial_coefficients(critical)
        numbers = dict.fromkeys(NUMBER_COLUMNS, float("nan"))
        numbers |= {
            "molar_mass": structure.molar_mass,
            "boiling_point_C": celsius,
            "boiling_point_u": _CARD_UNCERTAINTY,
            "boiling_point_published": 1.0,
            "critical_temperature_K": temperature,
            "critical_pressure_Pa": pressure,
            "acentric_factor": critical.acentric,
            "inventories": 0.0,
        }
        numbers |= {f"percent_{e}": float(p) for e, p in zip(ELEMENTS, percent, strict=True)}
        numbers |= {f"vapor_curve_{x}": float(v) for x, v in zip("abc", curve, strict=True)}
        numbers |= {f"virial_{order}": float(value) for order, value in enumerate(virial)}
        text = dict.fromkeys(TEXT_COLUMNS, "") | {
            "name": name,
            "cas": cas,
            "smiles": structure.smiles,
            "inchikey": structure.inchikey,
            "formula": structure.formula,
            "vapor_curve_source": curve_source,
            "critical_source": f"median of the {_NEIGHBORS} compounds most like it",
            "virial_source": "Tsonopoulos 1974",
        }
        return _Row(text, numbers)

    def _nearest(self, boiling_point: float, molar_mass: float, percent: np.ndarray) -> np.ndarray:
        """Return the compounds most alike in boiling point, molar mass and composition."""
        distance = ((self.table.number("boiling_point_C") - boiling_point) / 20.0) ** 2
        distance += ((self.table.number("molar_mass") - molar_mass) / 15.0) ** 2
        distance += (((self.table.percent - percent) / 10.0) ** 2).sum(axis=1)
        return np.argsort(distance, kind="stable")[:_NEIGHBORS]


def _looked_up(bottle: _Bottle, identity: str) -> tuple[str, str, str]:
    """Return CAS number, name and SMILES from the name look-up of the library `chemicals`."""
    from chemicals import search_chemical

    try:
        found = search_chemical(identity)
    except Exception:  # it raises whatever its parsers of names and formulas do
        raise bottle.fault(
            "identity",
            f'"{excerpt(identity)}" is no compound known here; give its CAS number or SMILES',
        ) from None
    return str(found.CASs), str(found.common_name or identity), str(found.smiles or "")


def _must_agree(row: _Row, bottle: _Bottle) -> None:
    """Refuse a row whose formula, molar mass or percentages are not its identity's."""
    from identify.formula import FormulaError, parse_formula

    name = row.text["name"]
    advice = f"correct it, or the identity ({excerpt(name)})"
    if written := bottle.text("formula"):
        try:
            same = parse_formula(written) == parse_formula(row.text["formula"])
        except FormulaError as error:
            raise bottle.fault("formula", str(error)) from None
        if not same:
            raise bottle.fault(
                "formula", f'"{excerpt(written)}" is not {row.text["formula"]}; {advice}'
            )
    stated = [
        ("molar_mass", "molar mass", "g/mol", _MOLAR_MASS_SLACK * row.numbers["molar_mass"]),
        *((f"percent_{element}", "percent", "%", _PERCENT_SLACK) for element in ELEMENTS),
    ]
    for column, dimension, unit, slack in stated:
        value = bottle.number(column, dimension, unit)
        if value is not None and abs(value - row.numbers[column]) > slack:
            read = excerpt(bottle.text(column))
            raise bottle.fault(
                column, f'"{read}" is not {row.numbers[column]:.2f} {unit}; {advice}'
            )


def _stated_boiling_point(bottle: _Bottle) -> float | None:
    for unit in ("C", "K", "F"):
        column = f"boiling_point_{unit}"
        if bottle.text(column):
            reading = bottle.number(column, "temperature", unit)
            return None if reading is None else _celsius(reading, unit)
    return None


def _celsius(value: float, unit: str) -> float:
    return read_quantity(value, "temperature", unit).to("C").value


def _state_boiling_point(row: _Row, bottle: _Bottle) -> None:
    """Let the card's boiling point stand for the table's, which the row then mentions."""
    celsius = _stated_boiling_point(bottle)
    if celsius is None:
        return
    published = row.numbers["boiling_point_C"]
    off = celsius - published
    if abs(off) > max(_CARD_DOUBT, 2.0 * row.numbers["boiling_point_u"]):
        row.text["set_aside"] = (
            f"{published:.1f} C (built-in table): {abs(off):.0f} K "
            f"{'below' if off > 0 else 'above'} the stock table's"
        )
    row.text["boiling_point_source"] = "stock table"
    row.numbers["boiling_point_C"] = celsius
    row.numbers["boiling_point_u"] = _CARD_UNCERTAINTY
    row.numbers["boiling_point_published"] = 1.0


def _add(rows: dict[str, _Row], row: _Row, bottle: _Bottle) -> None:
    """Put a bottle with the others of its compound."""
    same = rows.setdefault(row.text["inchikey"], row)
    gap = abs(same.numbers["boiling_point_C"] - row.numbers["boiling_point_C"])
    if gap > _CARD_UNCERTAINTY:
        raise bottle.fault(
            "boiling_point_C",
            f"{row.text['name']} is listed twice, with {same.numbers['boiling_point_C']:.1f} and "
            f"{row.numbers['boiling_point_C']:.1f} °C; correct one of them",
        )
    if label := bottle.text("label"):
        same.labels.append(label)


def _table(rows: Sequence[_Row], faults: Sequence[str]) -> CandidateTable:
    for row in rows:
        row.text["label"] = ", ".join(row.labels)
        # What stands on a shelf is as probable as its neighbor, whatever the inventories say.
        row.numbers["prior"] = 1.0 / len(rows)
    text = {column: [row.text[column] for row in rows] for column in TEXT_COLUMNS}
    numbers = {column: np.array([row.numbers[column] for row in rows]) for column in NUMBER_COLUMNS}
    return CandidateTable(text, numbers, faults)
