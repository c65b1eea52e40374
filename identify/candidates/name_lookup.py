"""Compounds that the built-in table lacks, by name or CAS number, from the library `chemicals`."""

from __future__ import annotations

import re
from contextlib import suppress
from typing import NamedTuple

CAS_NUMBER = re.compile(r"\d{2,7}-\d{2}-\d")


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

    from identify.formula import FormulaError, parse_formula

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
