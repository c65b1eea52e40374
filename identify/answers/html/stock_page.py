"""The page of a stock table's check: bottle by bottle, and which cannot be told apart."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

from identify.answers.html.page import DASH, number_text, render
from identify.answers.pictures.drawings import structure_drawing
from identify.answers.text.stock import group_sentence, summary
from identify.notebook.findings import worst_first
from identify.stock.result import BottleGroup, Hazards, StockCheck, StockRow

if TYPE_CHECKING:
    from markupsafe import Markup

    from identify.notebook.findings import Finding


@dataclass(frozen=True)
class Bottle:
    """One row of the stock table as the page shows it.

    Parameters
    ----------
    name : str
        Unique on the page.
    title : str
        Its label, or the row where it has none.
    row : StockRow
    drawing : Markup or None
    boils, margin : str
        Boiling point in this laboratory, and how far below the bath [degrees Celsius].
    is_short : bool
        Whether it boils above the bath.
    nearest : str
        The bottle that is hardest to tell from this one, and how far apart they are.
    hazards : str
    findings : sequence of Finding
        The worst first.
    """

    name: str
    title: str
    row: StockRow
    drawing: Markup | None
    boils: str
    margin: str
    is_short: bool
    nearest: str
    hazards: str
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class Alike:
    """Bottles that cannot be told apart, and what would do it."""

    labels: tuple[str, ...]
    bottles: tuple[Bottle, ...]
    sentence: str


def stock_page(check: StockCheck) -> str:
    """Return the page of a stock table's check.

    Parameters
    ----------
    check : StockCheck

    Returns
    -------
    str
        HTML. The same check gives the same text.
    """
    bottles = [_bottle(place, row) for place, row in enumerate(check.rows, 1)]
    by_row = {bottle.row.row: bottle for bottle in bottles}
    return render(
        "stock.html.j2",
        check=check,
        summary=summary(check),
        findings=worst_first(check.findings),
        bottles=bottles,
        groups=[_alike(group, by_row) for group in check.groups],
    )


def _bottle(place: int, row: StockRow) -> Bottle:
    compound, standing = row.compound, row.standing
    return Bottle(
        name=f"b{place}",
        title=row.title,
        row=row,
        drawing=None if compound is None else structure_drawing(compound.smiles, compound.name),
        boils=number_text(None if standing is None else standing.boils_C, 1),
        margin=number_text(None if standing is None else standing.margin_K, 1),
        is_short=standing is not None and standing.margin_K < 0.0,
        nearest=DASH
        if standing is None or not standing.nearest
        else f"{standing.nearest} ({number_text(standing.separation, 1)})",
        hazards="; ".join(_hazards(row.hazards)) or DASH,
        findings=tuple(worst_first(row.findings)),
    )


def _hazards(hazards: Hazards | None) -> Iterator[str]:
    if hazards is None:
        return
    if isfinite(hazards.flash_point_C):
        yield f"flash point {number_text(hazards.flash_point_C, 0)} °C"
    if isfinite(hazards.exposure_limit_ppm):
        yield f"limit {hazards.exposure_limit_ppm:g} ppm over 8 h"
    if hazards.carcinogen:
        yield f"carcinogen: {hazards.carcinogen}"


def _alike(group: BottleGroup, by_row: dict[int, Bottle]) -> Alike:
    bottles = tuple(by_row[row] for row in group.rows if row in by_row)
    return Alike(group.labels, bottles, group_sentence(group))
