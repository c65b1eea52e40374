"""The compound of a table that somebody means: by any of its names, or by a bottle's label."""

from __future__ import annotations

import difflib

from identify.compounds.names import Identifier, UnknownName
from identify.compounds.table import CandidateTable
from identify.notebook.findings import listed
from identify.notebook.quantities import excerpt

# Comparing very long names takes seconds, and nobody mistypes one into a compound.
_MAX_NAME_LENGTH = 60
_MAX_NAMES_SUGGESTED = 3


class NameFault(ValueError):
    """A name that means no compound of a table, or several."""


def rows_meant(table: CandidateTable, text: str) -> list[int]:
    """Return the rows that a text may mean.

    Parameters
    ----------
    table : CandidateTable
    text : str
        A bottle's label where the table has labels; name, CAS number, SMILES, InChIKey or formula;
        else another name of the same compound.

    Examples
    --------
    >>> from identify.compounds.loading import load_candidates
    >>> table = load_candidates()
    >>> [table.text("name")[row] for row in rows_meant(table, "ethyl alcohol")]
    ['ethanol']
    """
    wanted = text.strip().casefold()
    if not wanted:
        return []
    labels = table.text("label")
    rows = [row for row, label in enumerate(labels) if label and wanted in _labels(label)]
    rows = rows or table.find(text)
    if rows:
        return rows
    try:
        return table.find(Identifier.of_any(text).cas)
    except UnknownName:
        return []


def row_meant(table: CandidateTable, text: str) -> int:
    """Return the one row that a text means.

    Raises
    ------
    NameFault
        If it means none, or several, in one line with what to write instead.

    Examples
    --------
    >>> from identify.compounds.loading import load_candidates
    >>> table = load_candidates()
    >>> table.text("name")[row_meant(table, "67-64-1")]
    'acetone'
    >>> row_meant(table, "bottle seven")
    Traceback (most recent call last):
    ...
    identify.compounds.search.NameFault: "bottle seven": no such compound in the table; try its \
CAS number or its formula
    """
    rows = rows_meant(table, text)
    # SMILES is case-sensitive: c1ccccc1 is benzene, C1CCCCC1 cyclohexane.
    exact = [row for row in rows if _is_written(table, row, text.strip())]
    if len(rows) > 1 and len(exact) == 1:
        return exact[0]
    if len(rows) == 1:
        return rows[0]
    if not rows:
        raise NameFault(
            f'"{excerpt(text)}": no such compound in the table{suggestion(table, text)}'
        )
    likeliest = sorted(rows, key=lambda row: -table.number("prior")[row])[:_MAX_NAMES_SUGGESTED]
    names = ", ".join(f"{table.text('name')[row]} {table.text('cas')[row]}" for row in likeliest)
    raise NameFault(
        f'"{excerpt(text)}" may be any of {len(rows)} compounds; give a name or a CAS number'
        f" ({names}{', …' if len(rows) > len(likeliest) else ''})"
    )


def row_or_identifier(table: CandidateTable, text: str) -> int | Identifier:
    """Return the row of a name, CAS number or InChIKey, else what the library knows of it.

    Raises
    ------
    UnknownName
        If neither knows it, or it is a formula.
    """
    row = table.index.row(text)
    if row is not None:
        return row
    identifier = Identifier.of_name(text)
    row = table.index.row(identifier.cas)
    return identifier if row is None else row


def suggestion(table: CandidateTable, text: str) -> str:
    """Return what to try instead of an unknown name, to be put behind a fault."""
    if len(text) > _MAX_NAME_LENGTH:
        return ""
    names = [name for name in table.text("name") if len(name) <= 2 * _MAX_NAME_LENGTH]
    near = difflib.get_close_matches(text.casefold(), names, n=_MAX_NAMES_SUGGESTED, cutoff=0.75)
    if not near:
        return "; try its CAS number or its formula"
    return f"; did you mean {listed(near, conjunction='or')}?"


def _labels(labels: str) -> list[str]:
    """Return a row's labels one by one: several bottles of a compound share a row."""
    return [labels.casefold(), *(label.strip() for label in labels.casefold().split(","))]


def _is_written(table: CandidateTable, row: int, text: str) -> bool:
    return text in {table.text(column)[row] for column in ("name", "cas", "smiles", "inchikey")}
