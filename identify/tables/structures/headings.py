"""Which column of a table, or tag of an SDF, holds what."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, fields

from identify.notebook.quantities import QuantityError, excerpt, unit_name
from identify.notebook.units import plain_characters
from identify.tables.structures.source import Headings, InputFault

# Usual headings, in small letters with underscores.
_USUAL = {
    "smiles": ("smiles", "canonical_smiles", "isomeric_smiles"),
    "name": ("name", "compound", "compound_name", "chemical_name", "substance"),
    "cas": ("cas", "cas_number", "cas_no", "casrn", "cas_rn", "cas_registry_number"),
    "inchi": ("inchi", "standard_inchi"),
    "boiling_point": ("boiling_point", "normal_boiling_point", "bp"),
}
_SAID = {"smiles": "SMILES", "cas": "CAS numbers", "inchi": "InChI", "name": "names"}
_SAID["boiling_point"] = "boiling points"
_BOILING = re.compile(r"(?P<field>(?:normal_)?boiling_point|bp)_(?P<unit>.+)", re.IGNORECASE)
_MOST_NAMED = 6


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
        What was guessed, and the unit of boiling points; empty where there is nothing of it.
    """

    places: dict[str, int]
    unit: str
    said: str


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
        If a column that the user named is not there, or two may be meant.

    Examples
    --------
    >>> choose_columns(["ID", "SMILES", "bp (K)"], Headings(boiling_point="bp (K)"), "a.csv")
    Chosen(places={'smiles': 1, 'boiling_point': 2}, unit='K', said='SMILES from "SMILES", \
boiling points in K from "bp (K)"')
    """
    places: dict[str, int] = {}
    guessed = []
    for field in (one.name for one in fields(Headings)):
        named = getattr(wanted, field)
        place = _named(names, field, named, file) if named else _usual(names, field, file)
        if place is None:
            continue
        places[field] = place
        if not named and field != "boiling_point":
            guessed.append(f'{_SAID[field]} from "{excerpt(names[place])}"')
    unit = "C"
    if "boiling_point" in places:
        heading = names[places["boiling_point"]]
        unit = _unit(heading, file)
        guessed.append(f'{_SAID["boiling_point"]} in {unit} from "{excerpt(heading)}"')
    return Chosen(places, unit, ", ".join(guessed))


def count_usual(names: Sequence[str], wanted: Headings) -> int:
    """Return how many of these column names are known ones."""
    asked = {getattr(wanted, one.name).casefold() for one in fields(Headings)} - {""}
    return sum(
        name.strip().casefold() in asked or any(_is(name, field) for field in _USUAL)
        for name in names
    )


def _named(names: Sequence[str], field: str, named: str, file: str) -> int:
    places = [place for place, name in enumerate(names) if name.strip() == named.strip()]
    places = places or [place for place, name in enumerate(names) if _plain(name) == _plain(named)]
    option = f"--{field.replace('_', '-')}-column"
    if not places:
        there = ", ".join(excerpt(name) for name in names[:_MOST_NAMED] if name.strip())
        more = ", …" if len(names) > _MOST_NAMED else ""
        raise InputFault(
            f'{file}: has no column "{excerpt(named)}", which {option} names; it has '
            f"{there or 'none'}{more}"
        )
    if len(places) > 1:
        raise InputFault(
            f'{file}: has {len(places)} columns "{excerpt(named)}", which {option} names; rename '
            "one of them"
        )
    return places[0]


def _usual(names: Sequence[str], field: str, file: str) -> int | None:
    places = [place for place, name in enumerate(names) if _is(name, field)]
    if len(places) > 1:
        both = " and ".join(f'"{excerpt(names[place])}"' for place in places[:2])
        raise InputFault(
            f"{file}: {both} may both hold the {_SAID[field]}; say which by "
            f"--{field.replace('_', '-')}-column"
        )
    return places[0] if places else None


def _is(name: str, field: str) -> bool:
    plain = _plain(name)
    if field == "boiling_point" and (parts := _BOILING.fullmatch(plain)):
        plain = parts["field"].lower()
    return plain in _USUAL[field]


def _plain(name: str) -> str:
    return re.sub(r"[\s_.(\[-]+", "_", name.strip().lower()).strip("_)]")


def _unit(heading: str, file: str) -> str:
    """Return the unit that a heading of boiling points names, degrees Celsius where none."""
    name = re.sub(r"[\s(\[,]+", "_", plain_characters(heading[:60]).strip()).rstrip(")]")
    ending = name.rpartition("_")[2]
    is_own = _BOILING.fullmatch(name) is not None
    try:
        return unit_name(ending, "temperature") if "_" in name and ending else "C"
    except QuantityError as error:
        if is_own:
            raise InputFault(f"{file}: {excerpt(heading)}: {error}") from None
        return "C"
