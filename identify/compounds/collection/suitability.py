"""Whether a structure is one that a bottle of volatile liquid could hold, by its formula alone.

Formulas repeat in a collection where structures do not, so that each is taken apart once.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from rdkit import Chem
from rdkit.Chem import rdMolDescriptors, rdqueries

from identify.chemistry.structures import atomic_weights
from identify.physics.constants import ELEMENTS

_ATOMS = re.compile(r"([A-Z][a-z]?|\*)(\d*)")
_CHARGE = re.compile(r"[+-]\d*$")
_ISOTOPE = re.compile(r"\[\d+([A-Z][a-z]?)\]")
MAX_SMILES_LENGTH = 1000  # characters
_IN_THE_TABLE = frozenset(ELEMENTS)
_HEAVIEST = 1e4  # g/mol, as the table of candidates bounds it; nothing of that mass boils
_AROMATIC = frozenset("bcnops")  # Cl and Br have none of these
_READING = (
    Chem.SanitizeFlags.SANITIZE_CLEANUP
    | Chem.SanitizeFlags.SANITIZE_PROPERTIES
    | Chem.SanitizeFlags.SANITIZE_KEKULIZE
    | Chem.SanitizeFlags.SANITIZE_FINDRADICALS
)
_UNPAIRED = rdqueries.NumRadicalElectronsGreaterQueryAtom(0)


@dataclass(frozen=True)
class FormulaFacts:
    """What follows from a formula.

    Parameters
    ----------
    formula : str
        In Hill order, without marks of isotopes.
    molar_mass : float
        In g/mol.
    percent : tuple of 12 float
        Percent by mass of each of ``ELEMENTS``. No array: there are many of these, and arrays that
        stay would lie among the atoms of molecules, and keep their memory in small pieces.
    unsuitable : str
        Why no bottle of volatile liquid holds it, empty where one may.
    """

    formula: str
    molar_mass: float
    percent: tuple[float, ...]
    unsuitable: str


@lru_cache(maxsize=100_000)
def formula_facts(marked: str) -> FormulaFacts:
    """Take a formula apart.

    Parameters
    ----------
    marked : str
        With isotopes in brackets, and the charge behind.

    Examples
    --------
    >>> formula_facts("C2H6O").molar_mass.__round__(3)
    46.069
    >>> [formula_facts(one).unsuitable for one in ("H2O", "C2H3O2-", "CH3[2H]", "C2H6Se")]
    ['has no carbon', 'is an ion', 'is labeled with isotopes', \
'has Se in it, which is not an element of the table']
    """
    plain = _ISOTOPE.sub(r"\1", marked) if "[" in marked else marked
    counts: dict[str, int] = {}
    for element, count in _ATOMS.findall(_CHARGE.sub("", plain)):
        counts[element] = counts.get(element, 0) + int(count or 1)
    masses = [weight * counts.get(element, 0) for element, weight in atomic_weights().items()]
    molar_mass = sum(masses)
    share = 100.0 / max(molar_mass, 1e-9)
    percent = tuple(share * mass for mass in masses)
    return FormulaFacts(plain, molar_mass, percent, _reason(marked, counts, molar_mass))


def _reason(marked: str, counts: dict[str, int], molar_mass: float) -> str:
    if "C" not in counts:
        return "has no carbon"
    if strange := sorted(counts.keys() - _IN_THE_TABLE):
        what = "a place holder" if strange[0] == "*" else strange[0]
        return f"has {what} in it, which is not an element of the table"
    if "[" in marked:
        return "is labeled with isotopes"
    if _CHARGE.search(marked):
        return "is an ion"
    if molar_mass > _HEAVIEST:
        return f"has a molar mass above {_HEAVIEST:.0f} g/mol; nothing of that mass boils"
    return ""


def read_formula(smiles: str) -> tuple[Any, str] | None:
    """Return a SMILES as a molecule of which little is known, and its formula.

    Reads as much of it as valences, bonds and unpaired electrons need, which is half of the whole:
    no rings, no aromaticity, no stereo marks. None where it cannot be read.
    """
    mol = Chem.MolFromSmiles(smiles, sanitize=False)
    if mol is None:
        return None
    try:
        if "[" not in smiles and _AROMATIC.isdisjoint(smiles):
            mol.UpdatePropertyCache(strict=True)
        else:
            Chem.SanitizeMol(mol, _READING)
    except ValueError:  # what is unusual, such as a nitro group with two double bonds, in full
        mol = Chem.MolFromSmiles(smiles)
        if mol is None:
            return None
    return mol, marked_formula(mol)


def connectivity(mol: Any) -> int:
    """Return a number that the same compound always has, and isomers seldom share.

    In millionths: the first-order valence connectivity index, which needs no rings. Kier, L. B.;
    Hall, L. H. Molecular Connectivity in Structure-Activity Analysis, 1986.
    """
    return round(1e6 * rdMolDescriptors.CalcChi1n(mol))


def marked_formula(mol: Any) -> str:
    """Return the formula of a molecule, isotopes marked."""
    return str(rdMolDescriptors.CalcMolFormula(mol, True, False))


def is_radical(mol: Any) -> bool:
    """Whether an atom of a molecule has an unpaired electron."""
    return len(mol.GetAtomsMatchingQuery(_UNPAIRED)) > 0
