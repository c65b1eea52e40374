"""Liquids that are unfit for a class by their structure.

A first sieve, not a hazard assessment: for what passes it, the person who answers for the class
still reads the safety data sheet and the laboratory's rules.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from identify.compounds.table import CandidateTable

# Why, and for which structures, as SMARTS patterns. Textbook reactivity; common practice.
_REASONS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "reacts with water": (
            "[CX3](=O)[F,Cl,Br,I]",
            "[CX3](=O)[OX2][CX3]=O",
            "[Si,B,P]",
            "N=C=[O,S]",
            "C=C=O",
        ),
        "alkylates": (
            "[N,O,S;r3]",
            "[CX4;!H0]I",
            "[CX4;!H0]([CX3]=[CX3])[Cl,Br]",
            "[CX4;!H0](c)[Cl,Br]",
            "[CX4]([OX2,SX2,NX3])[Cl,Br,I]",
            "[CX4](C=O)[Cl,Br,I]",
        ),
        "unsaturated carbonyl or nitrile": (
            "[CX3]=[CX3][CX3]=[OX1]",
            "[CX3]=[CX3]C#N",
            "C#CC=O",
            "[CX3H1](=O)[CX3]=O",
        ),
        "unstable nitrogen or peroxide": (
            "[#7X3][#7X3]",
            "[#7]=[#7]",
            "[OX2][OX2]",
            "[OX2][NX2]=O",
            "[OX2][N+](=O)[O-]",
        ),
        "poisonous in small amounts": (
            "[CX2H1]#N",
            "[N+]#[C-]",
            "N#C[F,Cl,Br,I]",
            "S=C",
            "[CX3]=[CX3][CX4][NX3]",
        ),
        "stench": ("[SX2]",),
        "strong or corrosive acid": ("[CX3](=O)[OX2H]", "S(=O)(=O)"),
        "depletes ozone": ("F.Cl", "F.Br"),
    }
)
# Substances of the Montreal Protocol without fluorine: tetrachloromethane, 1,1,1-trichloroethane,
# bromochloromethane, bromomethane (annexes B, C and E; from memory).
_MONTREAL_PROTOCOL = frozenset({"56-23-5", "71-55-6", "74-97-5", "74-83-9"})


def unfit(table: CandidateTable, rows: list[int]) -> dict[int, str]:
    """Return the rows that are unfit for a class by their structure, each with its reason.

    Parameters
    ----------
    table : CandidateTable
    rows : list of int
        Those to look at.

    Examples
    --------
    >>> from identify.compounds.loading import load_candidates
    >>> table = load_candidates()
    >>> rows = [table.find(cas)[0] for cas in ("75-36-5", "67-64-1", "107-02-8")]
    >>> [unfit(table, rows).get(row, "") for row in rows]
    ['reacts with water', '', 'unsaturated carbonyl or nitrile']
    """
    smiles, cas = table.text("smiles"), table.text("cas")
    found = {}
    for row in rows:
        reason = "depletes ozone" if cas[row] in _MONTREAL_PROTOCOL else _reason(smiles[row])
        if reason:
            found[row] = reason
    return found


@lru_cache(maxsize=4096)
def _reason(smiles: str) -> str:
    """Return why a structure is unfit; empty where no pattern says so, or none can be read."""
    from identify.chemistry.structures import Structure

    molecule = Structure(smiles).mol
    if molecule is None:
        return "its structure cannot be read"
    for reason, patterns in _patterns().items():
        if any(molecule.HasSubstructMatch(pattern) for pattern in patterns):
            return reason
    return ""


@lru_cache(maxsize=1)
def _patterns() -> dict[str, list[Any]]:
    from rdkit import Chem

    return {
        reason: [Chem.MolFromSmarts(smarts) for smarts in patterns]
        for reason, patterns in _REASONS.items()
    }
