"""What RDKit tells of a structure: formula, molar mass, composition, stereo form, descriptors."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from rdkit import Chem, rdBase
from rdkit.Chem import Descriptors, rdMolDescriptors
from rdkit.Chem.EnumerateStereoisomers import GetStereoisomerCount

from identify.chemistry.groups import functional_groups
from identify.physics.constants import ELEMENTS

# Descriptors left out: slow, or so large for some structures that they drown the others.
_UNUSED_DESCRIPTORS = ("BCUT", "Ipc", "AvgIpc", "SPS", "FpDensity", "qed", "BalabanJ")


@dataclass(frozen=True)
class Structure:
    """One neutral covalent compound.

    Parameters
    ----------
    smiles : str
        Canonical isomeric SMILES.
    """

    smiles: str

    @cached_property
    def mol(self) -> Any:
        """The RDKit molecule."""
        return Chem.MolFromSmiles(self.smiles)

    @cached_property
    def atoms(self) -> Counter[str]:
        """Number of atoms of each element, hydrogen included."""
        counts: Counter[str] = Counter(atom.GetSymbol() for atom in self.mol.GetAtoms())
        counts["H"] += sum(atom.GetTotalNumHs() for atom in self.mol.GetAtoms())
        return counts

    @property
    def molar_mass(self) -> float:
        """Molar mass from RDKit's atomic weights [g/mol]."""
        weights = atomic_weights()
        return sum(weights[element] * count for element, count in self.atoms.items())

    @property
    def percent(self) -> tuple[float, ...]:
        """Percent by mass of each of ``ELEMENTS``."""
        total = self.molar_mass
        return tuple(
            100.0 * weight * self.atoms[element] / total
            for element, weight in atomic_weights().items()
        )

    @property
    def formula(self) -> str:
        """Molecular formula in Hill order."""
        return str(rdMolDescriptors.CalcMolFormula(self.mol))

    @cached_property
    def inchikey(self) -> str:
        """InChIKey; its first block is the skeleton without stereo marks."""
        return str(Chem.MolToInchiKey(self.mol))

    @cached_property
    def mirror_pair(self) -> str:
        """The alphabetically first of the SMILES and its mirror image's: same for enantiomers."""
        mirror = Chem.Mol(self.mol)
        for atom in mirror.GetAtoms():
            atom.InvertChirality()
        return min(self.smiles, str(Chem.MolToSmiles(mirror)))

    @property
    def is_polar(self) -> bool:
        """Whether it is a nitrile, ester, aldehyde or ketone, for Tsonopoulos's polar term."""
        return any(self.mol.HasSubstructMatch(pattern) for pattern in _polar_patterns())

    @property
    def groups(self) -> str:
        """The functional groups that a simple test decides, see `functional_groups`."""
        return functional_groups(self.mol)

    @property
    def log_p(self) -> float:
        """Logarithm of the octanol-water partition coefficient, from atomic contributions.

        Wildman, S. A.; Crippen, G. M. J. Chem. Inf. Comput. Sci. 1999, 39, 868.
        """
        log_p, _ = rdMolDescriptors.CalcCrippenDescriptors(self.mol)
        return float(log_p)

    @cached_property
    def is_flat(self) -> bool:
        """Whether some stereo center or double bond is left unspecified."""
        return GetStereoisomerCount(self.mol) > 1

    @cached_property
    def unspecified(self) -> int:
        """How many stereo centers and double bonds are left unspecified."""
        elements = Chem.FindPotentialStereo(self.mol)
        return sum(one.specified == Chem.StereoSpecified.Unspecified for one in elements)

    @cached_property
    def has_one_center(self) -> bool:
        """Whether the only stereo element is one center: then all forms are enantiomers."""
        elements = list(Chem.FindPotentialStereo(self.mol))
        return len(elements) == 1 and elements[0].type == Chem.StereoType.Atom_Tetrahedral


@lru_cache(maxsize=1)
def _polar_patterns() -> list[Any]:
    smarts = ("[#6]C#N", "[#6,#1]C(=O)O[#6]", "[#6][CX3H1]=O", "[#6]C(=O)[#6]")
    return [Chem.MolFromSmarts(pattern) for pattern in smarts]


@lru_cache(maxsize=1)
def atomic_weights() -> dict[str, float]:
    """Return RDKit's atomic weights of ``ELEMENTS``, in that order [g/mol]."""
    weight = Chem.GetPeriodicTable().GetAtomicWeight
    return {element: float(weight(element)) for element in ELEMENTS}


def read_structure(smiles: str) -> Structure | None:
    """Read a SMILES; None unless it is a compound that a bottle of volatile liquid could hold.

    That is one neutral covalent fragment of natural isotopes, with at least one carbon, of the
    elements in ``ELEMENTS`` alone, without radicals.

    Examples
    --------
    >>> read_structure("OCC").formula
    'C2H6O'
    >>> read_structure("[Na+].[Cl-]") is None
    True
    """
    mol = _read(smiles)
    if mol is None or _objection(smiles, mol):
        return None
    return Structure(str(Chem.MolToSmiles(mol)))


def is_no_bottled_liquid(smiles: str) -> str:
    """Return why `read_structure` refuses a SMILES that is well written, else empty text.

    Examples
    --------
    >>> is_no_bottled_liquid("O"), is_no_bottled_liquid("[Na+].[Cl-]"), is_no_bottled_liquid("CCO")
    ('has no carbon', 'is a salt or a mixture', '')
    """
    mol = _read(smiles)
    return "" if mol is None else _objection(smiles, mol)


def _read(smiles: str) -> Any:
    with rdBase.BlockLogs():  # else a line for each structure that cannot be read
        return Chem.MolFromSmiles(smiles) if smiles else None


def _objection(smiles: str, mol: Any) -> str:
    """Return why no bottle of volatile liquid holds a molecule, empty text where one may."""
    symbols = {atom.GetSymbol() for atom in mol.GetAtoms()}
    if "." in smiles:
        return "is a salt or a mixture"
    if "C" not in symbols:
        return "has no carbon"
    if strange := sorted(symbols - set(ELEMENTS)):
        return f"has {strange[0]} in it, which is not an element of the table"
    is_labeled = any(atom.GetIsotope() for atom in mol.GetAtoms())
    if is_labeled or Chem.GetFormalCharge(mol) or Descriptors.NumRadicalElectrons(mol):
        return "is an ion, a radical or labeled with isotopes"
    return ""


def descriptor_names() -> list[str]:
    """Return the names of the descriptors, in the order of the columns of ``describe``."""
    return [name for name, _ in _descriptors()]


def describe(structures: list[Structure]) -> NDArray[np.float64]:
    """Return RDKit's two-dimensional descriptors, shape (structures, descriptors)."""
    functions = [function for _, function in _descriptors()]
    values = np.array(
        [[function(structure.mol) for function in functions] for structure in structures],
        dtype=np.float64,
    )
    return np.nan_to_num(values, nan=0.0, posinf=0.0, neginf=0.0)


@lru_cache(maxsize=1)
def _descriptors() -> list[tuple[str, Any]]:
    return [
        (name, function)
        for name, function in Descriptors.descList
        if not name.startswith(_UNUSED_DESCRIPTORS)
    ]
