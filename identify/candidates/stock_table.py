"""A laboratory's own stock table as the table of candidates: one row a bottle.

Columns ``label``, ``identity`` (name, CAS number or SMILES), then any of ``formula``,
``molar_mass``, ``boiling_point_C``, ``percent_C`` and so on. The identity decides: composition and
molar mass follow from its structure, and what the file states must agree. A boiling point in the
file is what the bottle's card says, and is used; the other constants come from the built-in table.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from identify.candidates.stock_rows import Bottle, read_bottles
from identify.candidates.table import (
    ELEMENTS,
    ESTIMATED,
    NUMBER_COLUMNS,
    TEXT_COLUMNS,
    CandidateTable,
    TableError,
    load_candidates,
)
from identify.physics.constants import ICE_POINT
from identify.quantities import excerpt

if TYPE_CHECKING:
    from identify.candidates.structures import Structure

_CAS_NUMBER = re.compile(r"\d{2,7}-\d{2}-\d")
_CARD_UNCERTAINTY = 0.5  # K: cards give boiling points to a few tenths; common practice
_CARD_DOUBT = 5.0  # K between card and table that the row mentions
_MOLAR_MASS_SLACK = 0.005  # of the molar mass: older atomic weights and rounding
_PERCENT_SLACK = 0.4  # percentage points, the usual tolerance
_NEIGHBORS = 5
_STATED = "stock table"  # as the source of a boiling point


@dataclass
class _Row:
    """One row of the table in the making."""

    text: dict[str, str]
    numbers: dict[str, float]
    labels: list[str] = field(default_factory=list)

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
    known = _Known(load_candidates())
    faults: list[str] = []
    rows: dict[str, _Row] = {}
    for bottle in read_bottles(path, faults):
        try:
            row = known.row(bottle)
            _state_boiling_point(row, bottle)
            _add(rows, row, bottle)
        except TableError as fault:
            faults.append(str(fault))
    if not rows:
        raise TableError(*(faults or [f"{path}: has no rows below its column names"]))
    return _table(list(rows.values()), faults)


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

    def row(self, bottle: Bottle) -> _Row:
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

    def _from_libraries(self, bottle: Bottle, identity: str) -> _Row:
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
                "identity",
                f'"{excerpt(identity)}" is no single neutral compound with carbon; leave it out',
            )
        if (place := self._place_of(structure)) is not None:
            return self._built_in(place)
        return self._estimated(bottle, structure, name, cas)

    def _place_of(self, structure: Structure) -> int | None:
        place = self._places.get(structure.inchikey.casefold())
        if place is not None or not structure.has_one_center:
            return place
        # The table holds the two forms of a mirror pair, and their mixture, as one compound.
        skeleton = structure.inchikey.partition("-")[0]
        forms = [
            place
            for place, inchikey in enumerate(self.table.text("inchikey"))
            if inchikey.startswith(skeleton)
        ]
        return forms[0] if len(forms) == 1 else None

    def _estimated(self, bottle: Bottle, structure: Structure, name: str, cas: str) -> _Row:
        """Return a row for a compound that the built-in table lacks, from its boiling point."""
        from identify.candidates import curves

        celsius = bottle.number("boiling_point", "C")
        if celsius is None:
            raise bottle.fault(
                "boiling_point",
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
            "log_p": structure.log_p,
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
            "groups": structure.groups,
            "log_p_source": ESTIMATED,
        }
        return _Row(text, numbers)

    def _nearest(self, boiling_point: float, molar_mass: float, percent: np.ndarray) -> np.ndarray:
        """Return the compounds most alike in boiling point, molar mass and composition."""
        distance = ((self.table.number("boiling_point_C") - boiling_point) / 20.0) ** 2
        distance += ((self.table.number("molar_mass") - molar_mass) / 15.0) ** 2
        distance += (((self.table.percent - percent) / 10.0) ** 2).sum(axis=1)
        return np.argsort(distance, kind="stable")[:_NEIGHBORS]


def _looked_up(bottle: Bottle, identity: str) -> tuple[str, str, str]:
    """Return CAS number, name and SMILES from the name look-up of the library `chemicals`."""
    from chemicals import search_chemical

    from identify.formula import FormulaError, parse_formula

    # The library would take a formula for any one of the compounds that share it.
    with suppress(FormulaError):
        parse_formula(identity)
        raise bottle.fault(
            "identity",
            f'"{excerpt(identity)}" is a formula, which several compounds may share; give a name, '
            "a CAS number or a SMILES",
        )
    try:
        found = search_chemical(identity)
    except Exception:  # it raises whatever its parsers of names and formulas do
        raise bottle.fault(
            "identity",
            f'"{excerpt(identity)}" is no compound known here; give its CAS number or SMILES',
        ) from None
    return str(found.CASs), str(found.common_name or identity), str(found.smiles or "")


def _must_agree(row: _Row, bottle: Bottle) -> None:
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
        ("molar_mass", "g/mol", _MOLAR_MASS_SLACK * row.numbers["molar_mass"]),
        *((f"percent_{element}", "%", _PERCENT_SLACK) for element in ELEMENTS),
    ]
    for column, unit, slack in stated:
        value = bottle.number(column, unit)
        if value is not None and abs(value - row.numbers[column]) > slack:
            read = excerpt(bottle.text(column))
            raise bottle.fault(
                column, f'"{read}" is not {row.numbers[column]:.2f} {unit}; {advice}'
            )


def _state_boiling_point(row: _Row, bottle: Bottle) -> None:
    """Let the card's boiling point stand for the table's, which the row then mentions."""
    celsius = bottle.number("boiling_point", "C")
    if celsius is None:
        return
    published = row.numbers["boiling_point_C"]
    off = celsius - published
    if abs(off) > max(_CARD_DOUBT, 2.0 * row.numbers["boiling_point_u"]):
        row.text["set_aside"] = (
            f"{published:.1f} C (built-in table): {abs(off):.0f} K "
            f"{'below' if off > 0 else 'above'} the stock table's"
        )
    row.text["boiling_point_source"] = _STATED
    row.numbers["boiling_point_C"] = celsius
    row.numbers["boiling_point_u"] = _CARD_UNCERTAINTY
    row.numbers["boiling_point_published"] = 1.0


def _add(rows: dict[str, _Row], row: _Row, bottle: Bottle) -> None:
    """Put a bottle with the others of its compound."""
    label = bottle.text("label")
    same = rows.setdefault(row.text["inchikey"], row)
    if row.is_stated and same.is_stated:
        first, second = (one.numbers["boiling_point_C"] for one in (same, row))
        if abs(first - second) > _CARD_UNCERTAINTY:
            raise bottle.fault(
                "boiling_point",
                f"{row.text['name']} stands in this file with {first:.1f} °C too (bottle "
                f"{', '.join(same.labels) or 'without a label'}); correct one of them",
            )
    elif row.is_stated:
        same.text, same.numbers = row.text, row.numbers
    if label:
        same.labels.append(label)


def _table(rows: Sequence[_Row], faults: Sequence[str]) -> CandidateTable:
    for row in rows:
        row.text["label"] = ", ".join(row.labels)
        # What stands on a shelf is as probable as its neighbor, whatever the inventories say.
        row.numbers["prior"] = 1.0 / len(rows)
    text = {column: [row.text[column] for row in rows] for column in TEXT_COLUMNS}
    numbers = {column: np.array([row.numbers[column] for row in rows]) for column in NUMBER_COLUMNS}
    return CandidateTable(text, numbers, faults)
