"""The page of a stock table's check: bottle by bottle, and which cannot be told apart."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite
from typing import TYPE_CHECKING, NamedTuple

from identify.answers.html.page import DASH, number_text, render
from identify.answers.pictures.drawings import structure_drawing
from identify.answers.text.pouring import poured_sentence
from identify.answers.text.stock import group_sentence, summary
from identify.stock.remarks import told_once
from identify.stock.result import Hazards, Standing, StockCheck, StockRow

if TYPE_CHECKING:
    from markupsafe import Markup


class _ShownBottle(NamedTuple):
    """A bottle as the page shows it; ``name`` is unique there."""

    name: str
    row: StockRow
    drawing: Markup | None
    standing: Standing
    hazards: str


def stock_page(check: StockCheck) -> str:
    """Return the page of a stock table's check.

    Returns
    -------
    str
        HTML. The same check gives the same text.
    """
    bottles = {row.row: _bottle(f"b{place}", row) for place, row in enumerate(check.rows, 1)}
    own = {row.row: told_once(row, check.remarks).findings for row in check.rows}
    return render(
        "stock.html.j2",
        check=check,
        summary=summary(check),
        bottles=bottles,
        own=own,
        poured_sentence=poured_sentence,
        remarks=[remark.finding for remark in check.remarks],
        group_sentence=group_sentence,
    )


def _bottle(name: str, row: StockRow) -> _ShownBottle:
    compound = row.compound
    drawing = None if compound is None else structure_drawing(compound.smiles, compound.name)
    standing = row.standing or Standing(float("nan"), float("nan"))
    return _ShownBottle(name, row, drawing, standing, "; ".join(_hazards(row.hazards)) or DASH)


def _hazards(hazards: Hazards | None) -> Iterator[str]:
    if hazards is None:
        return
    if ends := hazards.flash_points_C:
        yield f"flash point {' to '.join(number_text(end, 0) for end in ends)} °C"
    if isfinite(hazards.exposure_limit_ppm):
        yield f"limit {hazards.exposure_limit_ppm:g} ppm over 8 h"
    if hazards.carcinogen:
        yield f"carcinogen: {hazards.carcinogen}"
