"""The cards of a stock table in one line, and as files: PDF, or HTML by the name of the file."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from identify.answers.card_rows import STANDARD, deck_of
from identify.answers.cards import Deck, Sheet
from identify.bench.laboratory import Laboratory
from identify.notebook.fields import Written
from identify.notebook.quantity.quantities import as_quantity
from identify.notebook.saving import written_beside
from identify.stock import check_stock
from identify.tables.frames import table_source
from identify.tables.stock_rows import read_stock_sheet

if TYPE_CHECKING:
    import pandas as pd

_HTML_ENDINGS = frozenset({".html", ".htm"})


def cards(
    stock: str | os.PathLike[str] | pd.DataFrame | Any,
    pressure: Written = "760 mmHg",
    anyway: bool = False,
    out: str | os.PathLike[str] | None = None,
    key: str | os.PathLike[str] | None = None,
) -> Deck:
    """Make the cards of a stock table's bottles.

    Parameters
    ----------
    stock : path or frame
        One row a bottle, as for `identify.check_stock`.
    pressure : quantity, default="760 mmHg"
        At which the boiling points are wanted; plain numbers in mmHg.
    anyway : bool
        Make cards of rows that are wrong, too.
    out, key : path, optional
        Where the cards, and the instructor's key to them, are written: PDF or HTML.

    Returns
    -------
    Deck

    Raises
    ------
    ValueError
        If the table or the pressure cannot be used.
    OSError
        If a file cannot be written.

    Examples
    --------
    >>> import pandas as pd
    >>> deck = cards(pd.DataFrame({"label": ["K-7"], "identity": ["acetone"]}))
    >>> print(*deck.table.loc[0, ["label", "boiling_point_C", "percent_C"]])
    K-7 56.1 62.04
    """
    read = as_quantity(pressure, "pressure", "mmHg") or STANDARD
    check = check_stock(stock, Laboratory.of(pressure))
    deck = deck_of(check, read_stock_sheet(table_source(stock)).bottles, read, anyway)
    for target, make in ((out, cards_page), (key, key_page)):
        if target is not None:
            with written_beside(Path(target)) as beside:
                beside.write_bytes(make(deck, Path(target)))
    return deck


def cards_page(deck: Deck, path: Path, sheet: Sheet | None = None) -> bytes:
    """Return the cards as a file of that name holds them."""
    if path.suffix.lower() in _HTML_ENDINGS:
        from identify.answers.html.cards import cards_html

        return cards_html(deck.cards, deck.pressure, sheet or Sheet()).encode()
    from identify.answers.files.cards_pdf import cards_pdf

    return cards_pdf(deck.cards, deck.pressure, sheet or Sheet())


def key_page(deck: Deck, path: Path, sheet: Sheet | None = None) -> bytes:
    """Return the instructor's key as a file of that name holds it."""
    if path.suffix.lower() in _HTML_ENDINGS:
        from identify.answers.html.cards import key_html

        return key_html(deck, sheet or Sheet()).encode()
    from identify.answers.files.cards_pdf import key_pdf

    return key_pdf(deck, sheet or Sheet())
