"""The check of a stock table: each row by itself, all of them together, and for the method."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from identify.bench.laboratory import Laboratory
from identify.compounds.loading import load_candidates
from identify.compounds.naming.resolver import built_in_resolver
from identify.compounds.table import CandidateTable
from identify.matching.advise.separation import Separations
from identify.observables.error.technique import Technique
from identify.observables.tolerances import Tolerances
from identify.observables.weighing import MOLAR_MASS
from identify.physics.boiling import boiling_temperature_by_trouton
from identify.physics.constants import ICE_POINT, STANDARD_PRESSURE
from identify.stock.class_use.groups import groups_of
from identify.stock.class_use.hazards import hazard_findings, hazards_of, table_hazards
from identify.stock.class_use.method import boiling_point_unknown, suitabilities
from identify.stock.class_use.pouring import Pouring, portions, poured_in_all
from identify.stock.class_use.shelf import Shelf
from identify.stock.remarks import remarks_of
from identify.stock.result import Standing, StockCheck, StockRow
from identify.stock.rows.boiling_points import BoilingPointChecks
from identify.stock.rows.exchanged_cards import with_exchanged_cards
from identify.stock.rows.not_checked import not_checked_finding
from identify.stock.rows.row_checks import checked_rows
from identify.stock.rows.stated_values import StatedValues
from identify.tables.frames import FRAME, table_source

if TYPE_CHECKING:
    import pandas as pd


def check_stock(
    path: str | os.PathLike[str] | pd.DataFrame | Any,
    laboratory: Laboratory | None = None,
    tolerances: Tolerances | None = None,
    technique: str | None = None,
    pouring: Pouring | None = None,
) -> StockCheck:
    r"""Check a stock table: whether it is right, and whether a class can use its bottles.

    Parameters
    ----------
    path : path or frame
        CSV (comma, semicolon or tab) or XLSX, one row a bottle: ``label``, ``identity`` (name, CAS
        number or SMILES), then any of ``formula``, ``molar_mass``, ``boiling_point_C``,
        ``percent_C`` and so on.
    laboratory : Laboratory, optional
        Where the class works; 760 mmHg, 22 degrees Celsius and a simmering water bath where not
        given.
    tolerances : Tolerances, optional
        How well the class reads; the usual ones where not given.
    technique : str, optional
        How well it weighs, a word or a percentage; a careful class where not given.
    pouring : Pouring, optional
        Flask, students and trials; the usual ones where not given.

    Returns
    -------
    StockCheck
        Every row of the file with what is wrong with it, and the bottles that cannot be told
        apart.

    Raises
    ------
    TableError
        If the file is not there, or has no stock table in it.
    ValueError
        If there is no such technique.

    Examples
    --------
    >>> import pandas as pd
    >>> bottles = {"label": ["A", "B"], "identity": ["acetone", "methanol"], "percent_C": [62, 57]}
    >>> check = check_stock(pd.DataFrame(bottles))
    >>> [(row.label, row.compound.formula, row.is_wrong) for row in check.rows]
    [('A', 'C3H6O', False), ('B', 'CH4O', True)]
    """
    laboratory, tolerances = laboratory or Laboratory(), tolerances or Tolerances()
    if technique is not None:
        spread = max(Technique.named(technique).spread, MOLAR_MASS.least)
        tolerances = replace(tolerances, molar_mass=200.0 * spread)
    built_in = load_candidates()
    checked = checked_rows(table_source(path), laboratory)
    boiling_points = BoilingPointChecks(built_in_resolver(), laboratory)
    rows = with_exchanged_cards(checked.rows, checked.cards, boiling_points, checked.doubted)
    shelf = Shelf.of(rows, _normal_boiling_points(checked.cards), built_in)
    rows = _with_standings(rows, shelf, laboratory, tolerances)
    pouring = pouring or Pouring()
    rows = _with_portions(rows, shelf, laboratory, pouring)
    used = [(row.title, row.portion) for row in rows if row.portion is not None]
    rows = [_with_hazards(row, built_in) for row in rows]
    return StockCheck(
        file=str(path) if isinstance(path, str | os.PathLike) else FRAME,
        rows=tuple(rows),
        groups=groups_of(shelf, tolerances),
        findings=(
            *checked.findings,
            *not_checked_finding(rows),
            *table_hazards(rows, laboratory),
        ),
        columns=checked.columns,
        laboratory=laboratory,
        tolerances=tolerances,
        remarks=remarks_of(rows),
        poured=poured_in_all(pouring, len(used), used) if used else None,
    )


def _normal_boiling_points(cards: Mapping[int, StatedValues]) -> dict[int, float]:
    """Return by row where a card has its liquid boil at 101325 Pa [degrees Celsius]."""
    return {
        row: boiling_temperature_by_trouton(
            STANDARD_PRESSURE, card.boiling_point.to("K").value, card.boiling_pressure
        )
        - ICE_POINT
        for row, card in cards.items()
        if card.boiling_point is not None
    }


def _with_standings(
    rows: Sequence[StockRow], shelf: Shelf, laboratory: Laboratory, tolerances: Tolerances
) -> list[StockRow]:
    """Add to each row how its liquid does in this laboratory."""
    found: dict[int, StockRow] = {}
    liquids = suitabilities(shelf, laboratory, tolerances)
    nearest = _nearest(shelf, tolerances)
    for liquid, same, (name, separation) in zip(liquids, shelf.bottles, nearest, strict=True):
        standing = Standing(liquid.boils_C, liquid.margin, name, separation)
        more = liquid.findings()
        for row in same:
            found[row.row] = replace(row, findings=(*row.findings, *more), standing=standing)
    for row in shelf.unknown:
        assert row.compound is not None
        finding = boiling_point_unknown(row.compound.name)
        found[row.row] = replace(row, findings=(*row.findings, finding))
    return [found.get(row.row, row) for row in rows]


def _with_portions(
    rows: Sequence[StockRow], shelf: Shelf, laboratory: Laboratory, pouring: Pouring
) -> list[StockRow]:
    """Add to each row that the method suits how much is poured in."""
    if shelf.table is None:
        return list(rows)
    use = {row.row for row in rows if row.standing is not None and not _UNUSABLE & _codes(row)}
    each = portions(shelf.table, laboratory, pouring, len(use))
    found = {
        row.row: portion
        for portion, same in zip(each, shelf.bottles, strict=True)
        for row in same
        if row.row in use
    }
    return [replace(row, portion=found.get(row.row)) for row in rows]


_UNUSABLE = frozenset({"not-boiled-off", "gas-in-the-room", "solid-in-the-room"})


def _codes(row: StockRow) -> set[str]:
    return {finding.code for finding in row.findings}


def _nearest(shelf: Shelf, tolerances: Tolerances) -> list[tuple[str, float]]:
    """Return for each liquid the bottle that is hardest to tell from it, and how far it is."""
    if shelf.table is None or len(shelf.table) < 2:
        return [("", float("nan"))] * len(shelf.bottles)
    places, distances = Separations(shelf.table, tolerances).nearest
    return [
        (shelf.bottles[place][0].title, distance)
        for place, distance in zip(places.tolist(), distances.tolist(), strict=True)
    ]


def _with_hazards(row: StockRow, built_in: CandidateTable) -> StockRow:
    if row.compound is None:
        return row
    hazards = hazards_of(row.compound, built_in)
    more = hazard_findings(row.compound, hazards)
    return replace(row, findings=(*row.findings, *more), hazards=hazards)
