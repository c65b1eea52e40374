"""Functional groups that a simple test in a test tube decides, read off the structure."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from rdkit import Chem

_NO_GROUP = "none"  # for a compound that has none of them; empty text means: not known

# A double bond that bromine adds to slowly: with a halogen, carbonyl, nitrile or nitro group.
_SLOWED_BY = (
    "$([CX3][F,Cl,Br,I])",
    "$([CX3]C=[O,N])",
    "$([CX3]C#N)",
    "$([CX3][N+](=O)[O-])",
    "$([CX3][CX4](F)F)",
)
_POOR, _RICH = ",".join(_SLOWED_BY), ";".join(f"!{pattern}" for pattern in _SLOWED_BY)
# Nitrogen with a free electron pair: bound to hydrogen and saturated carbon without fluorine.
_BASIC = "[NX3;!$(N~[!#6;!#1]);!$(N[CX3,CX2,c]);!$(NC(F)F);$(N[CX4])]"
_HALOGEN = "[Cl,Br,I]"
# Beside a double bond or an aromatic ring.
_BESIDE = ("$([CX4][CX3]=[CX3])", "$([CX4]c)")
_ACTIVATED, _PLAIN = ",".join(_BESIDE), ";".join(f"!{pattern}" for pattern in _BESIDE)

# In the order of the table. Textbook definitions; common practice.
_GROUPS: dict[str, tuple[str, ...]] = {
    "primary alcohol": (f"[OX2H][CX4;H2,H3;{_PLAIN}]",),
    "allylic or benzylic alcohol": (f"[OX2H][CX4;H1,H2;{_ACTIVATED}]",),
    "secondary alcohol": (f"[OX2H][CX4;H1;{_PLAIN}]([#6])[#6]",),
    "tertiary alcohol": ("[OX2H][CX4;H0]([#6])([#6])[#6]",),
    "phenol": ("[OX2H]c",),
    "aldehyde": ("[CX3H1](=O)[#6]", "[CX3H2]=O"),
    "ketone": ("[#6][CX3](=O)[#6]",),
    # CH3-CO-C, acetaldehyde, and the alcohols that hypoiodite oxidizes to them.
    "iodoform group": (
        "[CH3][CX3](=O)[#6]",
        "[CH3][CX3H1]=O",
        "[CH3][CX4H1]([OX2H])[#6]",
        "[CH3][CX4H2][OX2H]",
    ),
    "carboxylic acid": ("[CX3](=O)[OX2H]",),
    "acid chloride or anhydride": ("[CX3](=O)[F,Cl,Br,I]", "[CX3](=O)[OX2][CX3]=O"),
    "formate": ("[CX3H1](=O)[OX2]",),
    "ester": ("[$([CX3][#6]),$([CX3H1])](=O)[OX2][#6;!$([CX3]=O)]",),
    "alkene": (f"[CX3;{_RICH}]=[CX3;{_RICH}]",),
    "electron-poor alkene": (f"[CX3;{_POOR}]=[CX3]",),
    "alkyne": ("[CX2]#[CX2]",),
    "aromatic ring": ("a1aaaaa1",),
    "furan or thiophene ring": ("a1aaaa1",),
    "aliphatic amine": (_BASIC,),
    "aromatic amine": ("[NX3;!$(N~[!#6;!#1]);!$(NC=O)]c",),
    "weak base": ("[NX3;!$(NC=O)][NX3;!$(NC=O)]", "[nX2]", "[NX2]=[CX3]"),
    "thiol": ("[SX2H]",),
    "reactive halide": (
        "[CX4]I",
        f"[CX4;H0]([#6])([#6])([#6]){_HALOGEN}",
        f"[CX4;{_ACTIVATED}]{_HALOGEN}",
        f"[CX4;H2](O){_HALOGEN}",
    ),
    "alkyl halide": ("[CX4;!$(C([F,Cl,Br])[F,Cl,Br]);!$(C(F)(F)F)][Cl,Br]",),
    "organic chlorine": ("Cl",),
    "organic bromine": ("Br",),
    "organic iodine": ("I",),
    "organic fluorine": ("F",),
}


def functional_groups(mol: Any) -> str:
    """Return the groups of a molecule that a simple test decides, divided by semicolons.

    Parameters
    ----------
    mol : rdkit.Chem.Mol

    Returns
    -------
    str
        ``none`` where it has none of them.

    Examples
    --------
    >>> functional_groups(Chem.MolFromSmiles("CC(=O)CC=C"))
    'ketone; iodoform group; alkene'
    >>> functional_groups(Chem.MolFromSmiles("CCCCCC"))
    'none'
    """
    held = [
        name
        for name, patterns in _patterns().items()
        if any(mol.HasSubstructMatch(pattern) for pattern in patterns)
    ]
    return "; ".join(held) or _NO_GROUP


@lru_cache(maxsize=1)
def _patterns() -> dict[str, list[Any]]:
    return {
        name: [Chem.MolFromSmarts(smarts) for smarts in patterns]
        for name, patterns in _GROUPS.items()
    }
