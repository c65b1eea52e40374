"""Structures that no laboratory can bottle, and why: what a collection lists is not always held.

Collections list boiling points of what was once condensed in a cold trap, worked out, or boiled in
a few milligrams. Each rule is a pattern, what it exempts, and a reason; what is sold is never
marked by a rule (`_SOLD`), only by hand in ``data/corrections.csv``. Reasons are textbook
chemistry: Bretherick's Handbook of Reactive Chemical Hazards for what explodes, March's Advanced
Organic Chemistry for what rearranges, dimerizes or loses water; both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from rdkit import Chem

_SOLD = 2  # of the six inventories: what two list is sold, and only a reader may speak against it


@dataclass(frozen=True)
class _Rule:
    """What cannot be bottled: SMARTS of it, of what is exempt, and the reason."""

    reason: str
    patterns: tuple[str, ...]
    exempt: tuple[str, ...] = ()

    @cached_property
    def _queries(self) -> tuple[list[Any], list[Any]]:
        return (
            [Chem.MolFromSmarts(smarts) for smarts in self.patterns],
            [Chem.MolFromSmarts(smarts) for smarts in self.exempt],
        )

    def holds(self, mol: Any) -> bool:
        """Whether a molecule has the pattern, and nothing that exempts it."""
        marked, exempt = self._queries
        return any(map(mol.HasSubstructMatch, marked)) and not any(
            map(mol.HasSubstructMatch, exempt)
        )


_HALOGEN = "[F,Cl,Br,I]"
# A carbon that draws electrons away: what is a hydrate or a half-acetal stays one beside it.
_DRAWING = "$([CX4]([F,Cl,Br])([F,Cl,Br])[F,Cl,Br]),$([CX4](F)F)"
_TERTIARY = "[CX4]([#6])([#6])([#6])"

_RULES: tuple[_Rule, ...] = (
    # What explodes.
    _Rule(
        "explodes: an alkyne between hydrogen or halogen and halogen",
        (f"[CX2H1]#[CX2]{_HALOGEN}", f"{_HALOGEN}[CX2]#[CX2]{_HALOGEN}"),
    ),
    _Rule(
        "polymerizes or explodes: a polyyne with a free end, or of three bonds and more",
        (
            "[CX2H1]#[CX2][CX2]#[CX2]",
            "[CX2]#[CX2][CX2]#[CX2][CX2]#[CX2]",
            "[CX2H1]#[CX2][CX2]#N",
            "N#[CX2][CX2]#[CX2][CX2]#N",
        ),
    ),
    _Rule(
        "explodes: a peroxide, hydroperoxide or ozonide",
        ("[OX2][OX2]",),
        (f"[OX2]({_TERTIARY})[OX2]{_TERTIARY}",),
    ),
    _Rule(
        "explodes: oxygen bound to a halogen",
        ("[OX2][F,Cl,Br,I]", "O[Cl+3]", "O[Cl](=O)(=O)=O"),
        (f"Cl[OX2]{_TERTIARY}",),
    ),
    _Rule(
        "explodes: nitrogen bound to a halogen",
        (f"[NX2,NX3]{_HALOGEN}",),
        ("[NX3]([Cl,Br,I])([CX3]=O)[CX3]=O", "[NX3](F)[SX4](=O)=O"),
    ),
    _Rule(
        "explodes or falls apart: a mixed anhydride with an acid of nitrogen",
        ("[CX3](=O)O[N+](=O)[O-]", "[CX3](=O)O[NX2]=O"),
    ),
    _Rule("explodes when shocked: methyl nitrate", ("[CH3]O[N+](=O)[O-]",)),
    _Rule(
        "explodes: a diazo compound without a carbonyl group beside it, or a diazirine",
        ("[CX3]=[N+]=[N-]", "[CX4]1N=N1"),
        ("[CX3](=[N+]=[N-])[CX3]=O", "[CX3](=[N+]=[N-])[Si]"),
    ),
    _Rule(
        "explodes: a small azide",
        (
            "[N-]=[N+]=N[CX4H3]",
            "[N-]=[N+]=N[CX4H2][CX4H3]",
            "[N-]=[N+]=N[CX3]=[CX3]",
            "[N-]=[N+]=N[CX3]=O",
            "[N-]=[N+]=N[CX2]",
            "[N-]=[N+]=N[CX4]N=[N+]=[N-]",
            f"[N-]=[N+]=N{_HALOGEN}",
        ),
    ),
    _Rule(
        "loses nitrogen: a diazene or triazene with hydrogen on nitrogen",
        ("[NX2H]=[NX2]", "[#6X4][NX2]=[NX2][NX3H]", "[#6X4][NX2]=[NX2][NX3H2]"),
    ),
    # What becomes another compound by itself.
    _Rule(
        "turns into its carbonyl form: an enol, ynol or enethiol that nothing holds",
        (
            "[OX2H,SX2H][CX3;!$([CX3]=[O,N])]=[CX3;!$([CX3][CX3]=[O,N]);!$([CX3]C#N)]",
            "[OX2H][CX2]#[CX2]",
        ),
        ("[OX2H][CX3]=[CX3][OX2H]", "[OX2H][CX3]1=[CX3]C(=O)*C1", "c"),
    ),
    _Rule(
        "turns into its imine and condenses: an enamine with hydrogen on nitrogen",
        ("[NX3H2][CX3;!$(C=[O,N,S])]=[CX3;!$([CX3][CX3]=[O,N]);!$([CX3]C#N);!$(C[N+])]",),
        ("c", "[CX3](F)F"),
    ),
    _Rule(
        "condenses: an imine with hydrogen on nitrogen, or of formaldehyde",
        (
            "[CX3;!$([CX3]~[N,O,S;!$([NX2H])]);!$([CX3](c)c)]=[NX2H]",
            "[CX3H2]=[NX2][CX4;!$([CX4]([#6])([#6])[#6])]",
        ),
        ("[CX3](=[NX2H])[CX4](F)(F)F", "[NX2H]=[CX3][CX4][CX3]=O"),
    ),
    _Rule(
        "loses water or an alcohol: two oxygens, or oxygen and nitrogen or sulfur, on one carbon, "
        "with hydrogen",
        (
            f"[OX2H][CX4;!R;!$(C[{_DRAWING}])][OX2H]",
            f"[OX2H][CX4;!R;!$(C[{_DRAWING}])][OX2][#6X4]",
            f"[OX2H][CX4;!R;!$(C[{_DRAWING}])][SX2]",
            f"[OX2H][CX4;!R;!$(C[{_DRAWING}])][NX3;!$(N[CX3]=[O,S,N]);!$(N[#16])]",
            "[NX3H2][CX4;!R][NX3H2]",
        ),
    ),
    _Rule(
        "loses carbon monoxide: a halide, cyanide or anhydride of formic acid",
        ("[CX3H1](=O)[F,Cl,Br,I]", "[CX3H1](=O)C#N", "[CX3H1](=O)O[CX3H1]=O"),
    ),
    _Rule(
        "dimerizes: a ketene without a large group",
        ("[CX3]=[CX2]=[O,S]", "C=C=C=O", "O=C=C=C=O"),
        ("[Si]C=C=O", "c[CX3](c)=C=O", f"{_TERTIARY}[CX3]({_TERTIARY})=C=O", "[CX3](C(F)(F)F)=C=O"),
    ),
    _Rule(
        "trimerizes or polymerizes: a thioaldehyde, or a thioketone between saturated carbons",
        ("[CX3H1,CX3H2;!$([CX3][N,O,S])]=[SX1]", "[#6X4][CX3](=[SX1])[#6X4]"),
        ("[CX4]([#6])([#6])([#6])[CX3](=S)[CX4]([#6])([#6])[#6]",),
    ),
    _Rule(
        "trimerizes or polymerizes: cyanic, isocyanic, thiocyanic or fulminic acid, or the cyanate "
        "of an alkyl group",
        (
            "[OX2H,SX2H]C#N",
            "[NX2H]=C=[O,S]",
            "[CX4][OX2]C#N",
            "[CX4][CX2]#[N+][O-]",
        ),
    ),
    _Rule(
        "dimerizes: nitroso on a carbon with hydrogen, which also turns into the oxime",
        ("[CX4;H1,H2,H3][NX2]=O",),
    ),
    _Rule(
        "polymerizes unless diluted: nitroethylene",
        ("[CX3H2]=[CX3H1][N+](=O)[O-]",),
    ),
    _Rule(
        "dimerizes or polymerizes: a strained or cross-conjugated ring",
        (
            "[CX3H1]1=[CX3][CX4H2,CX4H1]1",  # cyclopropenes
            "[CX3]1=[CX3][CX3]=[CX3]1",
            "[CX3]1=[CX3][CX3](=[CX3H2])[CX3]1=[CX3H2]",
            "[CX3H2]=[CX3]1[CX3]=[CX3]1",
            "[CX3H2]=[CX3]1[CX3H1]=[CX3H1][CX3H1]=[CX3H1]1",
            "[CX3H2]=[CX3]1[CX3]=[CX3][CX3](=[CX3H2])[CX3]=[CX3]1",
            "O=[CX3]1[CX3H1]=[CX3H1][CX3H1]=[CX3H1]1",
            "[CX2;r3,r4,r5,r6,r7]#[CX2;r3,r4,r5,r6,r7]",
            "[CX4]12[CX4][NX3]1[CX4]2",
            "O=[CX3]1[CX4]O1",
            "O=[CX3]1[CX4][CX4]1",
            "[CX3]1=[CX3]O1",
            "[CX3H2]=[CX3]1[CX4]O1",
        ),
    ),
    _Rule(
        "rearranges to an aldehyde or ketone: a chlorine or bromine on an oxirane",
        ("[CX4;r3]1([Cl,Br,I])O[CX4;r3;!$(C([F,Cl])[F,Cl])]1",),
    ),
    _Rule(
        "boils as its dimer: a borane with hydrogen on boron",
        ("[BX3;H1,H2]", "[B][B]"),
        ("[BX3;H1]([O,N])[O,N]",),
    ),
    _Rule(
        "polymerizes: an alkenylphosphine with hydrogen on phosphorus",
        ("[PX3;H1,H2][CX3]=[CX3]",),
    ),
)


def why_not_isolable(mol: Any, inventories: float) -> str:
    """Return why no laboratory can bottle a compound, empty text where it may.

    Parameters
    ----------
    mol : rdkit.Chem.Mol
    inventories : float
        How many of the six list it: what at least two list is sold, and never marked here.

    Examples
    --------
    >>> why_not_isolable(Chem.MolFromSmiles("ClC#CCl"), 0.0)
    'explodes: an alkyne between hydrogen or halogen and halogen'
    >>> why_not_isolable(Chem.MolFromSmiles("CC(=O)CC(C)=O"), 0.0)
    ''
    """
    if inventories >= _SOLD:
        return ""
    return next((rule.reason for rule in _RULES if rule.holds(mol)), "")
