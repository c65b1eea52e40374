"""What the boiling-point estimate reads off a structure: descriptors, and counts of its parts."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from rdkit import Chem
from rdkit.Chem import Descriptors, rdFingerprintGenerator, rdMolDescriptors
from rdkit.Chem.EState import EState, EState_VSA

_MAX_PAIR_BONDS = 12  # between the two atoms of a pair; the usual chain of a liquid is shorter
_MAX_PIECE_BONDS = 4  # one takes in all that a branched atom holds

# Sets of descriptors that RDKit computes at once, by the stem of their names.
_SETS: Mapping[str, Callable[[Any], Sequence[float]]] = {
    "PEOE_VSA": rdMolDescriptors.PEOE_VSA_,
    "SMR_VSA": rdMolDescriptors.SMR_VSA_,
    "SlogP_VSA": rdMolDescriptors.SlogP_VSA_,
    "EState_VSA": lambda mol: EState_VSA.EState_VSA_(mol, force=False),
    "VSA_EState": lambda mol: EState_VSA.VSA_EState_(mol, force=False),
}
# Of the electrotopological indices of the atoms, which RDKit computes anew for each of these.
_EXTREMES: Mapping[str, Callable[[NDArray[np.float64]], float]] = {
    "MaxEStateIndex": np.max,
    "MinEStateIndex": np.min,
    "MaxAbsEStateIndex": lambda indices: np.abs(indices).max(),
    "MinAbsEStateIndex": lambda indices: np.abs(indices).min(),
}


class Describer:
    """Finds chosen RDKit descriptors of molecules, those of a set at once.

    Parameters
    ----------
    names : sequence of str
        Names as in ``rdkit.Chem.Descriptors.descList``.

    Raises
    ------
    RuntimeError
        Where the installed RDKit has no such descriptor.

    Examples
    --------
    >>> Describer(["HeavyAtomCount", "RingCount"])(Chem.MolFromSmiles("C1CCCCC1O")).tolist()
    [7.0, 1.0]
    """

    def __init__(self, names: Sequence[str]) -> None:
        known = dict(Descriptors.descList)
        if missing := [name for name in names if name not in known]:
            raise RuntimeError(
                f"this RDKit has no descriptor {missing[0]}, which the boiling-point estimate "
                "reads: install the version that the project's constraints name"
            )
        self._size = len(names)
        self._alone: list[tuple[int, Callable[[Any], float]]] = []
        self._extremes: list[tuple[int, Callable[[NDArray[np.float64]], float]]] = []
        members: dict[str, list[tuple[int, int]]] = {}
        for place, name in enumerate(names):
            stem = name.rstrip("0123456789")
            if stem in _SETS:
                members.setdefault(stem, []).append((place, int(name.removeprefix(stem)) - 1))
            elif name in _EXTREMES:
                self._extremes.append((place, _EXTREMES[name]))
            else:
                self._alone.append((place, known[name]))
        self._sets = [
            (_SETS[stem], [place for place, _ in chosen], [member for _, member in chosen])
            for stem, chosen in members.items()
        ]

    def __call__(self, mol: Any) -> NDArray[np.float64]:
        """Return the descriptors of one molecule, shape (names,), zero where one is undefined."""
        values = np.empty(self._size)
        for place, find in self._alone:
            values[place] = find(mol)
        if self._extremes:
            # Kept with the molecule, where the sets of such indices find them again.
            indices = EState.EStateIndices(mol, force=False)
            for place, extreme in self._extremes:
                values[place] = extreme(indices)
        for find_all, places, members in self._sets:
            values[places] = np.asarray(find_all(mol))[members]
        return np.nan_to_num(values, copy=False, nan=0.0, posinf=0.0, neginf=0.0)


COUNTED = ("surroundings", "pairs", "pieces")
"""What is counted in a molecule, in the order of the kernel's terms."""


def counted(name: str, mol: Any) -> dict[int, int]:
    """Return how often each of what is counted occurs in a molecule, by RDKit's identifier.

    Parameters
    ----------
    name : {"surroundings", "pairs", "pieces"}
        Each atom with its nearest neighbors: Morgan fingerprint of radius 1, Rogers, D.; Hahn, M.
        J. Chem. Inf. Model. 2010, 50, 742. Pairs of atoms at each distance: Carhart, R. E.; Smith,
        D. H.; Venkataraghavan, R. J. Chem. Inf. Comput. Sci. 1985, 25, 64. Pieces of one to four
        bonds: chains, branched or not, and rings, atoms told apart by element and aromaticity.
    mol : rdkit.Chem.Mol

    Examples
    --------
    Two of C-C, one each of C-O, C-C-C, C-C-O and C-C-C-O.

    >>> sorted(counted("pieces", Chem.MolFromSmiles("CCCO")).values())
    [1, 1, 1, 1, 2]
    """
    return dict(_generators()[name].GetSparseCountFingerprint(mol).GetNonzeroElements())


@lru_cache(maxsize=1)
def _generators() -> Mapping[str, Any]:
    return {
        "surroundings": rdFingerprintGenerator.GetMorganGenerator(radius=1),
        "pairs": rdFingerprintGenerator.GetAtomPairGenerator(maxDistance=_MAX_PAIR_BONDS),
        "pieces": rdFingerprintGenerator.GetRDKitFPGenerator(
            maxPath=_MAX_PIECE_BONDS, numBitsPerFeature=1
        ),
    }


def drawn_surroundings(mol: Any, unknown: Iterable[int]) -> str:
    """Return the SMILES of the largest of the given surroundings in a molecule.

    Parameters
    ----------
    mol : rdkit.Chem.Mol
    unknown : iterable of int
        Identifiers as of `counted`, which the molecule has.

    Examples
    --------
    >>> mol = Chem.MolFromSmiles("CCO")
    >>> drawn_surroundings(mol, counted("surroundings", mol))
    'CCO'
    """
    places = rdFingerprintGenerator.AdditionalOutput()
    places.AllocateBitInfoMap()
    _generators()["surroundings"].GetSparseCountFingerprint(mol, additionalOutput=places)
    held = places.GetBitInfoMap()
    chosen = []
    for identifier in unknown:
        center, radius = held[identifier][0]
        neighbors = mol.GetAtomWithIdx(center).GetNeighbors() if radius else ()
        chosen.append(sorted({center, *(neighbor.GetIdx() for neighbor in neighbors)}))
    largest = max(chosen, key=lambda atoms: (len(atoms), -atoms[0]))
    return str(Chem.MolFragmentToSmiles(mol, atomsToUse=largest))


@dataclass(frozen=True)
class Counts:
    """How often each of a set of features occurs in each of several molecules, sparsely.

    Parameters
    ----------
    keys : array of int, shape (k,)
        The features' identifiers, rising.
    ends : array of int, shape (n + 1,)
        Where each molecule's share of ``places`` and ``numbers`` begins, and the last one ends.
    places : array of int
        Features that occur, as places in ``keys``.
    numbers : array of int
        How often.
    """

    keys: NDArray[np.uint32]
    ends: NDArray[np.int32]
    places: NDArray[np.uint16]
    numbers: NDArray[np.uint8]

    @classmethod
    def of(cls, molecules: Sequence[Mapping[int, int]]) -> Counts:
        """Gather the counts of molecules; more than 255 of a feature count as 255.

        Examples
        --------
        >>> Counts.of([{7: 2}, {5: 1, 7: 1}]).dense().tolist()
        [[0, 1], [2, 1]]
        """
        keys = sorted(set().union(*molecules))
        place = {key: index for index, key in enumerate(keys)}
        flat = [entry for one in molecules for entry in sorted(one.items())]
        return cls(
            np.array(keys, dtype=np.uint32),
            np.cumsum([0, *map(len, molecules)], dtype=np.int32),
            np.array([place[key] for key, _ in flat], dtype=np.uint16),
            np.array([min(number, 255) for _, number in flat], dtype=np.uint8),
        )

    def dense(self) -> NDArray[np.uint8]:
        """Return the counts as a full array, shape (features, molecules)."""
        full = np.zeros((len(self.keys), len(self.ends) - 1), dtype=np.uint8)
        full[self.places, np.repeat(np.arange(len(self.ends) - 1), np.diff(self.ends))] = (
            self.numbers
        )
        return full
