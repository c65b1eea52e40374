"""The check of a stock table: each row by itself, all of them together, and for the method."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from identify.bench.laboratory import Laboratory
from identify.compounds.identities import Compound, Identities
from identify.compounds.loading import load_candidates
from identify.compounds.table import CandidateTable
from identify.matching.advise.separation import Separations
from identify.observables.tolerances import Tolerances
from identify.physics.boiling import boiling_temperature_by_trouton
from identify.physics.constants import ICE_POINT, STANDARD_PRESSURE
from identify.stock.class_use.groups import groups_of
from identify.stock.class_use.hazards import hazard_findings, hazards_of, table_hazards
from identify.stock.class_use.method import boiling_point_unknown, method_findings, suitabilities
from identify.stock.class_use.shelf import Shelf, bottle_name
from identify.stock.result import Standing, StockCheck, StockRow
from identify.stock.rows.boiling_points import BoilingPointChecks
from identify.stock.rows.cell_writer import CellWriter
from identify.stock.rows.exchanged_cards import with_exchanged_cards
from identify.stock.rows.identity import row_identity
from identify.stock.rows.row_checks import checked_rows
from identify.stock.rows.stated_values import StatedValues
from identify.tables.stock_rows import read_stock_sheet


def check_stock(
    path: str | os.PathLike[str],
    laboratory: Laboratory | None = None,
    tolerances: Tolerances | None = None,
) -> StockCheck:
    r"""Check a stock table: whether it is right, and whether a class can use its bottles.

    Parameters
    ----------
    path : path
        CSV (comma, semicolon or tab) or XLSX, one row a bottle: ``label``, ``identity`` (name, CAS
        number or SMILES), then any of ``formula``, ``molar_mass``, ``boiling_point_C``,
        ``percent_C`` and so on.
    laboratory : Laboratory, optional
        Where the class works; 760 mmHg, 22 degrees Celsius and a simmering water bath where not
        given.
    tolerances : Tolerances, optional
        How well the class reads; the usual ones where not given.

    Returns
    -------
    StockCheck
        Every row of the file with what is wrong with it, and the bottles that cannot be told
        apart.

    Raises
    ------
    TableError
        If the file is not there, or has no stock table in it.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder, "stock.csv")
    ...     _ = path.write_text("label,identity,percent_C\nA,acetone,62.0\nB,methanol,57.5\n")
    ...     check = check_stock(path)
    >>> [(row.label, row.compound.formula, row.is_wrong) for row in check.rows]
    [('A', 'C3H6O', False), ('B', 'CH4O', True)]
    """
    laboratory, tolerances = laboratory or Laboratory(), tolerances or Tolerances()
    built_in = load_candidates()
    checked = checked_rows(Path(path), laboratory)
    cards = {
        bottle.row: StatedValues.of(bottle, laboratory.pressure)
        for bottle in read_stock_sheet(Path(path)).bottles
    }
    identities = Identities(built_in)
    rows = with_exchanged_cards(
        checked.rows,
        cards,
        BoilingPointChecks(identities, laboratory),
        _meant(checked.rows, cards, identities),
    )
    shelf = Shelf.of(rows, _normal_boiling_points(cards), built_in)
    rows = _with_hazards(_for_the_method(rows, shelf, laboratory, tolerances), built_in)
    return StockCheck(
        file=str(path),
        rows=tuple(rows),
        groups=groups_of(shelf, tolerances),
        findings=(*checked.findings, *table_hazards(rows, laboratory)),
        laboratory=laboratory,
        tolerances=tolerances,
    )


def _meant(
    rows: Sequence[StockRow], cards: Mapping[int, StatedValues], identities: Identities
) -> dict[int, Compound]:
    """Return by row what an identity means that the rest of its row speaks against."""
    meant = {}
    for row in rows:
        doubted = any(finding.code == "identity-disagrees" for finding in row.findings)
        if row.compound is None and doubted:
            card = cards[row.row]
            compound = row_identity(card.bottle, card, identities, CellWriter()).compound
            if compound is not None:
                meant[row.row] = compound
    return meant


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


def _for_the_method(
    rows: Sequence[StockRow], shelf: Shelf, laboratory: Laboratory, tolerances: Tolerances
) -> list[StockRow]:
    """Add to each row how its liquid does in this laboratory."""
    found: dict[int, StockRow] = {}
    liquids = suitabilities(shelf, laboratory, tolerances)
    nearest = _nearest(shelf, tolerances)
    for liquid, same, (name, separation) in zip(liquids, shelf.bottles, nearest, strict=True):
        standing = Standing(liquid.boils - ICE_POINT, liquid.margin, name, separation)
        more = method_findings(liquid)
        for row in same:
            found[row.row] = replace(row, findings=(*row.findings, *more), standing=standing)
    for row in shelf.unknown:
        assert row.compound is not None
        finding = boiling_point_unknown(row.compound.name)
        found[row.row] = replace(row, findings=(*row.findings, finding))
    return [found.get(row.row, row) for row in rows]


def _nearest(shelf: Shelf, tolerances: Tolerances) -> list[tuple[str, float]]:
    """Return for each liquid the bottle that is hardest to tell from it, and how far it is."""
    if shelf.table is None or len(shelf.table) < 2:
        return [("", float("nan"))] * len(shelf.bottles)
    distances = Separations(shelf.table, tolerances).distances.copy()
    np.fill_diagonal(distances, np.inf)
    others = distances.argmin(axis=1)
    return [
        (bottle_name(shelf.bottles[other][0]), float(distances[place, other]))
        for place, other in enumerate(others)
    ]


def _with_hazards(rows: Sequence[StockRow], built_in: CandidateTable) -> list[StockRow]:
    found = []
    for row in rows:
        if row.compound is None:
            found.append(row)
            continue
        hazards = hazards_of(row.compound, built_in)
        more = hazard_findings(row.compound, hazards)
        found.append(replace(row, findings=(*row.findings, *more), hazards=hazards))
    return found
