"""Which column of a table, or tag of an SDF, holds what."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, fields

from identify.notebook.quantities import QuantityError, excerpt, unit_name
from identify.notebook.units import plain_characters
from identify.tables.columns import COLLECTION_HEADINGS, UNKNOWN, Header, heading_key
from identify.tables.rows import Score
from identify.tables.structures.source import Headings, InputFault

_SAID = {"smiles": "SMILES", "cas": "CAS numbers", "inchi": "InChI", "name": "names"}
_SAID["boiling_point"] = "boiling points"
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
        What was guessed, what it seems to ask for, and the unit of boiling points; empty where
        there is nothing of it.
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
    asked = {getattr(wanted, one.name).strip().casefold() for one in fields(Headings)} - {""}

    def score(cells: Sequence[object]) -> tuple[bool, int]:
        has_key, count = COLLECTION_HEADINGS.score(cells)
        named = sum(str(cell).strip().casefold() in asked for cell in cells)
        return has_key or named > 0, count + named

    return score


def choose_columns(names: Sequence[str], wanted: Headings, file: str) -> Chosen:
    """Choose the columns of a table.

    Parameters
    ----------
    names : sequence of str
        The column names, or tags, as they stand there.
    wanted : Headings
        Those that the user named.
    file : str
        For the faults.

    Raises
    ------
    InputFault
        If a column that the user named is not there, two may be meant, or boiling points have a
        unit or pressure that cannot be.

    Examples
    --------
    >>> choose_columns(["ID", "SMILES", "bp (K)"], Headings(boiling_point="bp (K)"), "a.csv")
    Chosen(places={'smiles': 1, 'boiling_point': 2}, unit='K', said='SMILES from "SMILES", \
boiling points in K from "bp (K)"')
    """
    header = COLLECTION_HEADINGS.header(names)
    if not wanted.boiling_point:
        _must_be_at_760(header, file)
    usual = {column.field: column.place for column in header.columns}
    places: dict[str, int] = {}
    said = []
    for field, what in ((one.name, _SAID[one.name]) for one in fields(Headings)):
        if named := getattr(wanted, field):
            places[field] = _named(names, field, named, file)
            continue
        _must_be_one(header, field, file)
        if field in usual:
            places[field] = usual[field]
            if field != "boiling_point":
                said.append(f'{what} from "{excerpt(names[usual[field]])}"')
    unit = "C"
    if "boiling_point" in places:
        heading = names[places["boiling_point"]]
        unit = _unit(heading, file)
        said.append(f'{_SAID["boiling_point"]} in {unit} from "{excerpt(heading)}"')
    said += [
        f'"{excerpt(name)}" is not read, {error.advice}'
        for name, error in header.refused
        if error.reason == UNKNOWN and name not in [names[place] for place in places.values()]
    ]
    return Chosen(places, unit, ", ".join(said))


def _must_be_at_760(header: Header, file: str) -> None:
    for name, error in header.refused:
        if error.reason != UNKNOWN:
            raise InputFault(f"{file}: {excerpt(name)}: {error}")
    for column in header.columns:
        if column.field == "boiling_point_at":
            raise InputFault(
                f'{file}: "{excerpt(column.header)}" gives boiling points another pressure, and '
                "those at 760 mmHg are read; name their column by --boiling-point-column"
            )


def _must_be_one(header: Header, field: str, file: str) -> None:
    for again, _ in header.again:
        if again.field == field:
            first = next(column for column in header.columns if column.field == field)
            both = sorted([first, again], key=lambda column: column.place)
            shown = " and ".join(f'"{excerpt(column.header)}"' for column in both)
            raise InputFault(
                f"{file}: {shown} may both hold the {_SAID[field]}; say which by {_option(field)}"
            )


def _named(names: Sequence[str], field: str, named: str, file: str) -> int:
    """Return the place of the column that the user named, in any spelling if it is the only one."""
    places = [place for place, name in enumerate(names) if name.strip() == named.strip()]
    if not places:
        key = heading_key(named)
        places = [place for place, name in enumerate(names) if heading_key(name) == key]
    if not places:
        there = ", ".join(excerpt(name) for name in names[:_MAX_COLUMNS_NAMED] if name.strip())
        more = ", …" if len(names) > _MAX_COLUMNS_NAMED else ""
        raise InputFault(
            f'{file}: has no column "{excerpt(named)}", which {_option(field)} names; it has '
            f"{there or 'none'}{more}"
        )
    if len(places) > 1:
        raise InputFault(
            f'{file}: has {len(places)} columns "{excerpt(named)}", which {_option(field)} names; '
            "rename one of them"
        )
    return places[0]


def _option(field: str) -> str:
    return f"--{field.replace('_', '-')}-column"


def _unit(heading: str, file: str) -> str:
    """Return the unit that a heading of boiling points names, degrees Celsius where none."""
    try:
        column = COLLECTION_HEADINGS.meaning(heading)
        if column is not None and column.field == "boiling_point":
            return column.unit
    except QuantityError as error:
        if error.reason != UNKNOWN:
            raise InputFault(f"{file}: {excerpt(heading)}: {error}") from None
    # The user named it, whatever it is called: it may end in a unit all the same.
    _, *words = re.split(r"[\s_(\[,]+", plain_characters(heading[:60]).strip(" )]"))
    try:
        return unit_name(words[-1], "temperature") if words else "C"
    except QuantityError:
        return "C"
