"""Which column of a table, or tag of an SDF, holds what."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, fields

from identify.notebook.quantity.quantities import QuantityError, excerpt, unit_name
from identify.notebook.quantity.units import plain_characters
from identify.tables.columns import heading_key
from identify.tables.faults import UnreadableError
from identify.tables.headings.dictionary import COLLECTION_HEADINGS, is_question
from identify.tables.headings.header import Header
from identify.tables.rows import Score
from identify.tables.structures.source import Headings

_FIELDS = tuple(one.name for one in fields(Headings))
_SAID = {
    "smiles": "SMILES",
    "name": "names",
    "cas": "CAS numbers",
    "inchi": "InChI",
    "boiling_point": "boiling points",
}
_MAX_COLUMNS_NAMED = 6


@dataclass(frozen=True)
class Chosen:
    """The columns that are read.

    Parameters
    ----------
    places : dict of str to int
        By field of `Headings`.
    unit : str
        Of boiling points that state none.
    said : str
        What was guessed, the unit of boiling points, what a column seems to be that is not read,
        and the other columns; empty where there is nothing of it.
    """

    places: dict[str, int]
    unit: str
    said: str

    @property
    def identifies(self) -> bool:
        """Whether one of them says which compound it is."""
        return not COLLECTION_HEADINGS.keys.isdisjoint(self.places)


def header_score(wanted: Headings) -> Score:
    """Return how header and separator are told, with the columns that the user named."""
    asked = {getattr(wanted, field).strip().casefold() for field in _FIELDS} - {""}

    def score(cells: Sequence[object]) -> tuple[bool, int]:
        has_key, count = COLLECTION_HEADINGS.score(cells)
        named = sum(str(cell).strip().casefold() in asked for cell in cells)
        return has_key or named > 0, count + named

    return score


def choose_columns(names: Sequence[str], wanted: Headings) -> Chosen:
    """Choose the columns of a table.

    Parameters
    ----------
    names : sequence of str
        The column names, or tags, as they stand there.
    wanted : Headings
        Those that the user named.

    Raises
    ------
    UnreadableError
        If a column that the user named is not there, two may be meant, or boiling points have a
        unit or pressure that cannot be.

    Examples
    --------
    >>> choose_columns(["ID", "SMILES", "bp (K)"], Headings(boiling_point="bp (K)"))
    Chosen(places={'smiles': 1, 'boiling_point': 2}, unit='K', said='SMILES from "SMILES", \
boiling points in K from "bp (K)"; not read: ID')
    """
    header = COLLECTION_HEADINGS.header(names)
    if not wanted.boiling_point:
        _must_be_at_760(header)
    places = _places(names, header, wanted)
    unit = _unit(names[places["boiling_point"]]) if "boiling_point" in places else "C"
    said = [
        f"{_SAID[field]}{f' in {unit}' if field == 'boiling_point' else ''} "
        f'from "{excerpt(names[place])}"'
        for field, place in places.items()
        if field == "boiling_point" or not getattr(wanted, field)
    ]
    read = {names[place] for place in places.values()}
    told = filter(None, (", ".join([*said, *_asked_about(header, read)]), _unread(header, read)))
    return Chosen(places, unit, "; ".join(told))


def _places(names: Sequence[str], header: Header, wanted: Headings) -> dict[str, int]:
    usual = {column.field: column.place for column in header.columns}
    places: dict[str, int] = {}
    for field in _FIELDS:
        if named := getattr(wanted, field):
            places[field] = _named(names, field, named)
        elif field in usual:
            _must_be_one(header, field)
            places[field] = usual[field]
    return places


def _asked_about(header: Header, read: set[str]) -> list[str]:
    return [
        f'"{excerpt(name)}" is not read, {error.advice}'
        for name, error in header.refused
        if is_question(error) and name not in read
    ]


def _unread(header: Header, read: set[str]) -> str:
    others = [name for name in header.unread if name not in read]
    return f"not read: {_first_of(others)}" if others else ""


def _must_be_at_760(header: Header) -> None:
    for name, error in header.refused:
        if not is_question(error):
            raise UnreadableError(f"{excerpt(name)}: {error}")
    for column in header.columns:
        if column.field == "boiling_point_at" or column.stated:
            raise UnreadableError(
                f'"{excerpt(column.header)}" gives boiling points another pressure, and those at '
                "760 mmHg are read; name their column by --boiling-point-column"
            )


def _must_be_one(header: Header, field: str) -> None:
    both = [column for column in header.columns if column.field == field]
    both += [column for column, _ in header.again if column.field == field]
    if len(both) > 1:
        in_order = sorted(both[:2], key=lambda column: column.place)
        shown = " and ".join(f'"{excerpt(column.header)}"' for column in in_order)
        raise UnreadableError(
            f"{shown} may both hold the {_SAID[field]}; say which by {_option(field)}"
        )


def _named(names: Sequence[str], field: str, named: str) -> int:
    """Return the place of the column that the user named, in any spelling if none is the same."""
    exact = [place for place, name in enumerate(names) if name.strip() == named.strip()]
    key = heading_key(named)
    places = exact or [place for place, name in enumerate(names) if heading_key(name) == key]
    if len(places) == 1:
        return places[0]
    asked = f'"{excerpt(named)}", which {_option(field)} names;'
    if places:
        raise UnreadableError(f"has {len(places)} columns {asked} rename one of them")
    raise UnreadableError(f"has no column {asked} it has {_first_of(names)}")


def _first_of(names: Sequence[str]) -> str:
    there = ", ".join(excerpt(name) for name in names[:_MAX_COLUMNS_NAMED] if name.strip())
    return (there or "none") + (", …" if len(names) > _MAX_COLUMNS_NAMED else "")


def _option(field: str) -> str:
    return f"--{field.replace('_', '-')}-column"


def _unit(heading: str) -> str:
    """Return the unit that a heading of boiling points names, degrees Celsius where none."""
    try:
        column = COLLECTION_HEADINGS.meaning(heading)
        if column is not None and column.field == "boiling_point":
            return column.unit
    except QuantityError as error:
        if not is_question(error):
            raise UnreadableError(f"{excerpt(heading)}: {error}") from None
    # The user named it, whatever it is called: it may end in a unit all the same.
    _, *words = re.split(r"[\s_(\[,]+", plain_characters(heading[:60]).strip(" )]"))
    try:
        return unit_name(words[-1], "temperature") if words else "C"
    except QuantityError:
        return "C"
