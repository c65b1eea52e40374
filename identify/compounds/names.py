"""What a name means: one compound, several that differ by what it leaves out, a mixture, nothing.

The identifiers that the library `chemicals` ships list what people call a compound, and people
leave out locants: they have "dichloroethane" for one of the two. So a name that is no compound's
main one is compared with all that differ from it by marks of position and form alone.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

from identify.compounds.published.literature import Identifier
from identify.notebook.units import plain_characters

# Marks of position and form in front of a part of a name: locants, Greek letters, o-, m-, p-, n-,
# sec-, tert-, iso-, cis-, trans-, stereo marks; and blanks and hyphens, which people set at will.
_MARKS = re.compile(
    r"\((?:[ezrs±]|\+/-|[-+]|\d+[ezrs](?:,\d+[ezrs])*|cis|trans)\)-?"
    r"|(?<![a-z])(?:\d+[a-z]?(?:,\d+[a-z]?)*|[nompstidlezr]|cis|trans|sec|tert|iso|dl|alpha|beta"
    r"|gamma)-"
)
_JOINTS = re.compile(r"[-\s]")
_SHORTEST = 4  # letters; nothing shorter is a name with its locants left out
_USUAL = 400  # names that are thought of first: what teaching stockrooms hold
_ALIKE = 0.7  # share of letters in common: two letters exchanged in a short name
_LONGEST = 60  # characters; nobody mistypes a longer one into a compound
# An alkyl group without a mark is the straight chain with its free valence at the end: IUPAC
# Recommendations 2013, P-29.3.2.1; from memory.
_ALKYL = re.compile(r"(?:prop|but|pent|am|hex|hept|oct)yl")
# Sold under these names, and no single compound; common practice.
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

Kind = Literal["one", "several", "straight chain", "isomers", "mixture", "none"]


@dataclass(frozen=True)
class NameMeaning:
    """What a name means.

    Parameters
    ----------
    kind : str
        ``one`` compound; ``several``, one for each set of locants that it leaves out; the
        ``straight chain``, first, where others have a mark that it has not; ``isomers``, a plural;
        a ``mixture``; or ``none``.
    identifiers : tuple of Identifier
    """

    kind: Kind
    identifiers: tuple[Identifier, ...] = ()


def folded_name(text: str) -> str:
    """Return a name without capitals, with plain hyphens and single blanks.

    Examples
    --------
    >>> folded_name(" 2‑Butanone ")
    '2-butanone'
    """
    return " ".join(plain_characters(text).casefold().split())


@lru_cache(maxsize=4096)
def meaning_of_name(name: str) -> NameMeaning:
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
        return NameMeaning("mixture")
    entry = _index().get(name)
    if entry is not None and name in (entry.common_name.casefold(), _systematic(entry)):
        return NameMeaning("one", (_identifier(entry),))
    if name.endswith("s"):
        single = meaning_of_name(name[:-1])
        if single.kind != "none":
            return NameMeaning("isomers", single.identifiers)
    bare = _JOINTS.sub("", name)
    # A name with marks says where its parts are; at most its blanks and hyphens are set otherwise.
    is_marked = _MARKS.search(name) is not None or len(name) < _SHORTEST
    known = [] if is_marked else _alike(bare)
    if len(known) < 2:
        known = [entry] if entry is not None else known or _alike(bare, keep_marks=True)
        return _meaning(known if len(known) == 1 else [])
    if entry is not None and _is_straight_chain(name, entry):
        rest = [one for one in known if one.InChI_key != entry.InChI_key]
        return NameMeaning("straight chain", tuple(map(_identifier, [entry, *rest])))
    return NameMeaning("several", tuple(map(_identifier, known)))


def identifier_of_cas(cas: str) -> Identifier | None:
    """Return the compound with a CAS number, also one that it had before; None if none is known."""
    from chemicals.identifiers import CAS_to_int

    entry = _database().CAS_index.get(CAS_to_int(cas)) or _index().get(cas)
    return None if entry is None else _identifier(entry)


def identifier_of_inchikey(inchikey: str) -> Identifier | None:
    """Return the compound with an InChIKey, None if none is known."""
    entry = _database().InChI_key_index.get(inchikey.upper())
    return None if entry is None else _identifier(entry)


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
    if len(name) > _LONGEST:
        return []
    lead = re.split(r"[,(;]", name)[0].strip()
    if lead in known:
        return [lead]
    for usual in (known[:_USUAL], known):
        if near := difflib.get_close_matches(name, usual, n=count, cutoff=_ALIKE):
            return near
    return []


def _meaning(entries: list[Any]) -> NameMeaning:
    if not entries:
        return NameMeaning("none")
    return NameMeaning("one", (_identifier(entries[0]),))


def _alike(bare: str, keep_marks: bool = False) -> list[Any]:
    """Return the compounds that have this name but for marks, one of each constitution.

    Lists of other names hold some that are another compound's: the formula that most share counts.
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
    """Whether a name is an alkyl compound's, which it has with an n- in front of the alkyl too."""
    if not _ALKYL.search(name):
        return False
    marked = {_ALKYL.sub(r"n-\g<0>", name, count=1), f"n-{name}"}
    return any(folded_name(other) in marked for other in entry.synonyms)


def _systematic(entry: Any) -> str:
    return (entry.iupac_name or "").casefold()


def _identifier(entry: Any) -> Identifier:
    return Identifier(entry.CASs, entry.common_name, entry.iupac_name or "", entry.smiles or "")


def _index() -> dict[str, Any]:
    names: dict[str, Any] = _database().name_index
    return names


@lru_cache(maxsize=1)
def _database() -> Any:
    from chemicals.identifiers import pubchem_db

    pubchem_db.finish_loading()
    return pubchem_db
