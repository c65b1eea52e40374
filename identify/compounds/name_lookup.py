"""Compounds that the built-in table lacks, by name or CAS number, from the library `chemicals`."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from types import MappingProxyType
from typing import NamedTuple

CAS_NUMBER = re.compile(r"\d{2,7}-\d{2}-\d")

# What solvents are called in the laboratory and the library does not know; common practice.
_ABBREVIATIONS: Mapping[str, str] = MappingProxyType(
    {
        "thf": "109-99-9",
        "2-methf": "96-47-9",
        "dcm": "75-09-2",
        "ipa": "67-63-0",
        "n-proh": "71-23-8",
        "meoac": "79-20-9",
        "dipe": "108-20-3",
    }
)


def spelled_out(name: str) -> str:
    """Return the CAS number of what is a usual abbreviation, and any other name as it is.

    Examples
    --------
    >>> spelled_out("THF"), spelled_out("oxolane")
    ('109-99-9', 'oxolane')
    """
    return _ABBREVIATIONS.get(name.strip().casefold(), name)


class UnknownName(ValueError):
    """A name that the library does not know: why, and what to write instead."""


class Named(NamedTuple):
    """What the library says of a name."""

    cas: str
    name: str
    smiles: str


def looked_up(identity: str) -> Named:
    """Return CAS number, name and SMILES of a compound.

    Parameters
    ----------
    identity : str
        A name, or a CAS number.

    Raises
    ------
    UnknownName
        If it is not known, or a formula.

    Examples
    --------
    >>> looked_up("ethyl alcohol").cas
    '64-17-5'
    """
    from chemicals import search_chemical

    from identify.chemistry.formula import FormulaError, parse_formula

    identity = spelled_out(identity)
    # The library would take a formula for any one of the compounds that share it.
    with suppress(FormulaError):
        parse_formula(identity)
        raise UnknownName(
            "is a formula, which several compounds may share; give a name, a CAS number or a SMILES"
        )
    try:
        found = search_chemical(identity)
    except Exception:  # it raises whatever its parsers of names and formulas do
        raise UnknownName("is no compound known here; give its CAS number or SMILES") from None
    return Named(str(found.CASs), str(found.common_name or identity), str(found.smiles or ""))
