"""The compound of a table that somebody means: by a bottle's label, or by any of its names."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import cast

from identify.compounds.naming.meaning import Compound, Meaning, common, settled
from identify.compounds.naming.resolver import Kind, built_in_resolver
from identify.compounds.parquet import built_in_table
from identify.compounds.table import CandidateTable
from identify.notebook.errors import UnusableInput
from identify.notebook.quantity.quantities import excerpt


class NameFault(UnusableInput):
    """A name that means no compound of a table, or several.

    Parameters
    ----------
    message : str
        In one line, with what to write instead.
    column : str
        Where it stands in a table.
    """

    def __init__(self, message: str, column: str = "identity") -> None:
        super().__init__(message)
        self.column = column


def rows_meant(table: CandidateTable, text: str) -> list[int]:
    """Return all rows of a formula, else the one row that a text means.

    Raises
    ------
    NameFault
        See `row_meant`.

    Examples
    --------
    >>> table = built_in_table()
    >>> [table.text("name")[row] for row in rows_meant(table, "ethyl alcohol")]
    ['ethanol']
    >>> len(rows_meant(table, "C2H6O"))
    2
    """
    is_formula = bool(table.index.rows_of_formula(text))
    return table.find(text) if is_formula else [row_meant(table, text)]


def row_meant(table: CandidateTable, text: str) -> int:
    """Return the one row that a text means.

    Parameters
    ----------
    table : CandidateTable
    text : str
        A bottle's label where the table has labels; name, CAS number, SMILES or InChIKey as the
        table writes it; else whatever means the same compound.

    Raises
    ------
    NameFault
        If it means none, or several, in one line with what to write instead.

    Examples
    --------
    >>> table = built_in_table()
    >>> table.text("name")[row_meant(table, "67-64-1")]
    'acetone'
    >>> row_meant(table, "bottle seven")
    Traceback (most recent call last):
    ...
    identify.compounds.naming.lookup.NameFault: "bottle seven" is not a compound known here; \
write its full name with all locants, its CAS number or its SMILES
    """
    written = text.strip()
    if not written:
        raise NameFault("the name is empty; give a name, a CAS number or a SMILES")
    if table is not built_in_table():
        for rows in (_labeled(table, written), table.index.written_so(written)):
            if len(rows) == 1:
                return rows[0]
    compound = _clear_compound(built_in_resolver().meaning(written), written)
    row = row_of(table, compound)
    if row is None:
        known = "" if compound.name == written else f" is {compound}, which"
        raise NameFault(f'"{excerpt(written)}"{known} is not in this table')
    return row


def row_of(table: CandidateTable, compound: Compound) -> int | None:
    """Return the row of a compound in a table, None where the table lacks it."""
    if table is built_in_table():
        return compound.place
    keys = filter(None, (compound.inchikey, compound.cas))
    return next((row for key in keys if (row := table.index.row(key)) is not None), None)


def _clear_compound(meaning: Meaning, read: str, column: str = "identity") -> Compound:
    """Return the one compound that a text means.

    Raises
    ------
    NameFault
        If it means none, or several.
    """
    if not meaning.is_clear:
        assert meaning.problem is not None
        raise NameFault(meaning.problem.line(read), column)
    return meaning.compounds[0]


def compound_of(identities: Mapping[str, str]) -> Compound:
    """Return the one compound that the cells of a row mean together.

    Parameters
    ----------
    identities : mapping of str to str
        What says which compound it is, by column (``identity``, ``cas``, ``smiles``, ``name``).
        The first decides, the others may not contradict it; what nobody knows is passed over, and
        so is a grade, a solution or a mixture of what the others say.

    Raises
    ------
    NameFault
        With the column that cannot be used.
    """
    if not identities:
        raise NameFault("is empty; give a name, a CAS number or a SMILES")
    meanings = {column: _meaning(text, column) for column, text in identities.items()}
    known = [meaning for meaning in meanings.values() if meaning.compounds]
    (column, read), *others = (
        pair for pair in identities.items() if not _is_passed_over(meanings[pair[0]], known)
    )
    first = meanings[column]
    if not first.compounds:
        return _clear_compound(first, read, column)
    for other, text in others:
        _refuse_contradiction((column, first), (other, meanings[other]), text)
    compound = settled(known) or _clear_compound(first, read, column)
    return replace(compound, name=read) if compound.name == compound.smiles else compound


def _refuse_contradiction(
    first: tuple[str, Meaning], other: tuple[str, Meaning], text: str
) -> None:
    """Raise `NameFault` where another cell means no compound, or none that the first may mean."""
    (column, meant), (other_column, meaning) = first, other
    if not meaning.compounds and not meaning.wrong_number:
        _clear_compound(meaning, text, other_column)
    if meaning.compounds and not common([meant, meaning]):
        raise NameFault(
            f'"{excerpt(text)}" is {excerpt(meaning.compounds[0].name)}, but {column} says '
            f"{excerpt(meant.compounds[0].name)}; correct one of them",
            other_column,
        )


def _is_passed_over(meaning: Meaning, others: Collection[Meaning]) -> bool:
    """Whether a text says no compound, and what others say does not speak against it."""
    if meaning.compounds or not others or meaning.wrong_number:
        return False
    return meaning.is_unknown or all(
        any(one.is_same(part) for one in other.compounds for part in meaning.part_of)
        for other in others
    )


def _meaning(text: str, column: str) -> Meaning:
    return built_in_resolver().meaning(text, cast(Kind, column))


def _labeled(table: CandidateTable, label: str) -> list[int]:
    """Return the rows of a bottle's label; several bottles of a compound share a row."""
    wanted = label.casefold()
    return [
        row
        for row, labels in enumerate(table.text("label"))
        if labels and wanted in (labels.casefold(), *map(str.strip, labels.casefold().split(",")))
    ]
