"""What a name means: one compound, several that differ by what it leaves out, a mixture, nothing.

The identifiers that the library `chemicals` ships list what people call a compound, and people
leave out locants: they have "dichloroethane" for one of the two. So a name that is not a compound's
main one is compared with all that differ from it by marks of position and form alone.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Literal

from identify.chemistry.formula import FormulaError, parse_formula
from identify.notebook.units import plain_characters

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
# Marks of position and form in front of a part of a name: locants, Greek letters, o-, m-, p-, n-,
# sec-, tert-, iso-, cis-, trans-, stereo marks; and blanks and hyphens, which people set at will.
_MARKS = re.compile(
    r"\((?:[ezrs±]|\+/-|[-+]|\d+[ezrs](?:,\d+[ezrs])*|cis|trans)\)-?"
    r"|(?<![a-z])(?:\d+[a-z]?(?:,\d+[a-z]?)*|[nompstidlezr]|cis|trans|sec|tert|iso|dl|alpha|beta"
    r"|gamma)-"
)
_JOINTS = re.compile(r"[-\s]")
_MIN_BARE_NAME = 4  # letters; nothing shorter is a name with its locants left out
_FIRST_SOUGHT = 400  # names that are thought of first: what teaching stockrooms hold
_MIN_SIMILARITY = 0.7  # share of letters in common: two letters exchanged in a short name
_MAX_NAME_LENGTH = 60  # characters; nobody mistypes a longer one into a compound
# An alkyl group without a mark is the straight chain with its free valence at the end: IUPAC
# Recommendations 2013, P-29.3.2.1; from memory.
_ALKYL = re.compile(r"(?:prop|but|pent|am|hex|hept|oct)yl")
# Sold under these names, and not single compounds; common practice.
_MIXTURES = frozenset(
    name.strip()
    for name in """
    petroleum ether, pet ether, petrol ether, petroleum spirit, petroleum benzine, benzine, ligroin,
    ligroine, naphtha, solvent naphtha, white spirit, mineral spirit, mineral spirits, gasoline,
    petrol, kerosene, kerosine, diesel, mineral oil, paraffin oil, turpentine, turpentine oil, paint
    thinner, lighter fluid, nail polish remover, denatured alcohol, denatured ethanol, methylated
    spirit, methylated spirits, rubbing alcohol, vinegar, formalin, air
    """.replace("\n    ", " ").split(",")
)


class UnknownName(ValueError):
    """A name that the library does not know: why, and what to write instead."""


@dataclass(frozen=True)
class Identifier:
    """A compound as the library's collection of identifiers lists it."""

    cas: str
    name: str
    systematic_name: str
    smiles: str

    @classmethod
    def of(cls, entry: Any) -> Identifier:
        """Take what an entry of the collection says, empty text for what it does not."""
        return cls(entry.CASs, entry.common_name or "", entry.iupac_name or "", entry.smiles or "")

    @classmethod
    def of_name(cls, name: str) -> Identifier:
        """Return what the library knows of a name or CAS number.

        Raises
        ------
        UnknownName
            If it is not known, or a formula.

        Examples
        --------
        >>> Identifier.of_name("ethyl alcohol").cas
        '64-17-5'
        """
        # The library would take a formula for any one of the compounds that share it.
        with suppress(FormulaError):
            parse_formula(spelled_out(name))
            raise UnknownName(
                "is a formula, which several compounds may share; give a name, a CAS number or a "
                "SMILES"
            )
        return cls.of_any(name)

    @classmethod
    def of_any(cls, text: str) -> Identifier:
        """Return what the library knows of a name, CAS number or SMILES, or one of a formula.

        Raises
        ------
        UnknownName
            If it is not known.
        """
        from chemicals import search_chemical

        try:
            return cls.of(search_chemical(spelled_out(text)))
        except Exception:  # it raises whatever its parsers of names and formulas do
            raise UnknownName(
                "is not a compound known here; give its CAS number or SMILES"
            ) from None

    @classmethod
    def of_cas(cls, cas: str) -> Identifier | None:
        """Return the compound with a CAS number, present or former; None if none is known."""
        entry = _database().CAS_index.get(int(cas.replace("-", ""))) or _index().get(cas)
        return None if entry is None else cls.of(entry)

    @classmethod
    def of_inchikey(cls, inchikey: str) -> Identifier | None:
        """Return the compound with an InChIKey, None if none is known."""
        entry = _database().InChI_key_index.get(inchikey.upper())
        return None if entry is None else cls.of(entry)


_Kind = Literal["one", "several", "straight chain", "isomers", "mixture", "none"]


@dataclass(frozen=True)
class _NameMeaning:
    """What a name means.

    Parameters
    ----------
    kind : str
        ``one`` compound; ``several``, one for each set of locants that it leaves out; the
        ``straight chain``, first, where others have a mark that it has not; ``isomers``, a plural;
        a ``mixture``; or ``none``.
    identifiers : tuple of Identifier
    """

    kind: _Kind
    identifiers: tuple[Identifier, ...] = ()


def folded_name(text: str) -> str:
    """Return a name without capitals, with plain hyphens and single blanks.

    Examples
    --------
    >>> folded_name(" 2‑Butanone ")
    '2-butanone'
    """
    return " ".join(plain_characters(text).casefold().split())


def spelled_out(name: str) -> str:
    """Return the CAS number of a usual abbreviation, and any other name as it is.

    Examples
    --------
    >>> spelled_out("THF"), spelled_out("oxolane")
    ('109-99-9', 'oxolane')
    """
    return _ABBREVIATIONS.get(name.strip().casefold(), name)


@lru_cache(maxsize=4096)
def meaning_of_name(name: str) -> _NameMeaning:
    """Return what a name means.

    Parameters
    ----------
    name : str
        As `folded_name` gives it.

    Examples
    --------
    >>> [one.cas for one in meaning_of_name("dichloroethane").identifiers]
    ['107-06-2', '75-34-3']
    >>> meaning_of_name("ethyl alcohol").kind, meaning_of_name("hexanes").kind
    ('one', 'isomers')
    """
    if name in _MIXTURES:
        return _NameMeaning("mixture")
    entry = _index().get(name)
    if entry is not None and name in (entry.common_name.casefold(), _systematic(entry)):
        return _meaning("one", [entry])
    if name.endswith("s"):
        single = meaning_of_name(name[:-1])
        if single.kind != "none":
            return _NameMeaning("isomers", single.identifiers)
    known = _differing_by_marks(name)
    if len(known) > 1:
        return _meaning_without_marks(name, entry, known)
    if entry is not None:
        known = [entry]
    elif not known:
        # At most its blanks and hyphens are set otherwise.
        known = _alike(_JOINTS.sub("", name), keep_marks=True)
    return _meaning("one", known) if len(known) == 1 else _NameMeaning("none")


def _differing_by_marks(name: str) -> list[Any]:
    """Return the compounds whose names differ from one without marks by marks alone."""
    is_marked = _MARKS.search(name) is not None
    return [] if is_marked or len(name) < _MIN_BARE_NAME else _alike(_JOINTS.sub("", name))


def _meaning_without_marks(name: str, entry: Any, known: list[Any]) -> _NameMeaning:
    """Return what a name means that several compounds have with one mark or another."""
    if entry is None or not _is_straight_chain(name, entry):
        return _meaning("several", known)
    others = [one for one in known if one.InChI_key != entry.InChI_key]
    return _meaning("straight chain", [entry, *others])


def near_names(name: str, known: Sequence[str], count: int = 3) -> list[str]:
    """Return the names most like one that nobody knows.

    Parameters
    ----------
    name : str
        As `folded_name` gives it.
    known : sequence of str
        Names that it may have been meant for, the commonest first.
    count : int, default=3

    Examples
    --------
    >>> near_names("ethonal", ["methanol", "ethanol", "hexane"])
    ['ethanol']
    >>> near_names("acetone, for rinsing", ["acetone"])
    ['acetone']
    """
    if len(name) > _MAX_NAME_LENGTH:
        return []
    lead = re.split(r"[,(;]", name)[0].strip()
    if lead in known:
        return [lead]
    for usual in (known[:_FIRST_SOUGHT], known):
        if near := difflib.get_close_matches(name, usual, n=count, cutoff=_MIN_SIMILARITY):
            return near
    return []


def _meaning(kind: _Kind, entries: Sequence[Any]) -> _NameMeaning:
    return _NameMeaning(kind, tuple(map(Identifier.of, entries)))


def _alike(bare: str, keep_marks: bool = False) -> list[Any]:
    """Return the compounds that have this name but for marks, one of each constitution.

    Lists of synonyms hold some of other compounds: the formula that most entries share counts.
    """
    found: dict[str, Any] = {}
    for name, entry in _index().items():
        if name.endswith(bare[-1:]) and _bare(name, keep_marks) == bare and not entry.charge:
            found.setdefault(entry.InChI_key.partition("-")[0], entry)
    formulas = [entry.formula for entry in found.values()]
    usual = max(formulas, key=formulas.count, default="")
    return [entry for entry in found.values() if entry.formula == usual]


def _bare(name: str, keep_marks: bool) -> str:
    return _JOINTS.sub("", name if keep_marks else _MARKS.sub("", name))


def _is_straight_chain(name: str, entry: Any) -> bool:
    """Whether a name is an alkyl compound's that is also called so with n- before the alkyl."""
    if not _ALKYL.search(name):
        return False
    marked = {_ALKYL.sub(r"n-\g<0>", name, count=1), f"n-{name}"}
    return any(folded_name(other) in marked for other in entry.synonyms)


def _systematic(entry: Any) -> str:
    return (entry.iupac_name or "").casefold()


def _index() -> dict[str, Any]:
    names: dict[str, Any] = _database().name_index
    return names


@lru_cache(maxsize=1)
def _database() -> Any:
    from chemicals.identifiers import pubchem_db

    pubchem_db.finish_loading()
    return pubchem_db
