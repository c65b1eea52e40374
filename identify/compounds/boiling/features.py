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

FARTHEST_PAIR = 12
"""Bonds between the two atoms of a pair at most; the usual chain of a liquid is shorter."""
LARGEST_PIECE = 4
"""Bonds of a piece at most; one takes in all that a branched atom holds."""

# Sets of descriptors that RDKit finds all at once, each by the stem of its descriptors' names.
_SETS: Mapping[str, Callable[[Any], Sequence[float]]] = {
    "PEOE_VSA": rdMolDescriptors.PEOE_VSA_,
    "SMR_VSA": rdMolDescriptors.SMR_VSA_,
    "SlogP_VSA": rdMolDescriptors.SlogP_VSA_,
    "EState_VSA": lambda mol: EState_VSA.EState_VSA_(mol, force=False),
    "VSA_EState": lambda mol: EState_VSA.VSA_EState_(mol, force=False),
}
# Of the electrotopological indices of the atoms, which RDKit finds anew for each of these.
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
        self._alone = [
            (place, known[name])
            for place, name in enumerate(names)
            if _stem(name) not in _SETS and name not in _EXTREMES
        ]
        self._extremes = [
            (place, _EXTREMES[name]) for place, name in enumerate(names) if name in _EXTREMES
        ]
        self._sets = []
        for stem, find in _SETS.items():
            chosen = [place for place, name in enumerate(names) if _stem(name) == stem]
            if chosen:
                members = [int(names[place].removeprefix(stem)) - 1 for place in chosen]
                self._sets.append((find, chosen, members))

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


def _stem(name: str) -> str:
    return name.rstrip("0123456789")


def surroundings(mol: Any) -> dict[int, int]:
    """Return how often each atom with its nearest neighbors occurs, by RDKit's identifier.

    Morgan fingerprint of radius 1: Rogers, D.; Hahn, M. J. Chem. Inf. Model. 2010, 50, 742.

    Examples
    --------
    >>> sorted(surroundings(Chem.MolFromSmiles("CC")).values())
    [1, 2]
    """
    return _counted("surroundings", mol)


def atom_pairs(mol: Any) -> dict[int, int]:
    """Return how often each pair of atoms at each distance occurs, by RDKit's identifier.

    Carhart, R. E.; Smith, D. H.; Venkataraghavan, R. J. Chem. Inf. Comput. Sci. 1985, 25, 64.

    Examples
    --------
    >>> len(atom_pairs(Chem.MolFromSmiles("CCO")))
    3
    """
    return _counted("pairs", mol)


def pieces(mol: Any) -> dict[int, int]:
    """Return how often each piece of one to four bonds occurs, by RDKit's identifier.

    A piece is a chain, branched or not, or a ring, its atoms told apart by element and aromaticity.

    Examples
    --------
    Two of C-C, one each of C-O, C-C-C, C-C-O and C-C-C-O.

    >>> sorted(pieces(Chem.MolFromSmiles("CCCO")).values())
    [1, 1, 1, 1, 2]
    """
    return _counted("pieces", mol)


COUNTED: Mapping[str, Callable[[Any], dict[int, int]]] = {
    "surroundings": surroundings,
    "pairs": atom_pairs,
    "pieces": pieces,
}
"""What is counted in a molecule, in the order of the kernel's terms."""


def _counted(name: str, mol: Any) -> dict[int, int]:
    return dict(_generators()[name].GetSparseCountFingerprint(mol).GetNonzeroElements())


@lru_cache(maxsize=1)
def _generators() -> Mapping[str, Any]:
    return {
        "surroundings": rdFingerprintGenerator.GetMorganGenerator(radius=1),
        "pairs": rdFingerprintGenerator.GetAtomPairGenerator(maxDistance=FARTHEST_PAIR),
        "pieces": rdFingerprintGenerator.GetRDKitFPGenerator(
            maxPath=LARGEST_PIECE, numBitsPerFeature=1
        ),
    }


def drawn_surroundings(mol: Any, unknown: Iterable[int]) -> str:
    """Return the SMILES of the largest of the given surroundings in a molecule.

    Parameters
    ----------
    mol : rdkit.Chem.Mol
    unknown : iterable of int
        Identifiers as of `surroundings`, which the molecule has.

    Examples
    --------
    >>> mol = Chem.MolFromSmiles("CCO")
    >>> drawn_surroundings(mol, surroundings(mol))
    'CCO'
    """
    places = rdFingerprintGenerator.AdditionalOutput()
    places.AllocateBitInfoMap()
    _generators()["surroundings"].GetSparseCountFingerprint(mol, additionalOutput=places)
    held = places.GetBitInfoMap()
    atoms = [
        sorted(
            {center}
            | (
                {neighbor.GetIdx() for neighbor in mol.GetAtomWithIdx(center).GetNeighbors()}
                if radius
                else set()
            )
        )
        for identifier in unknown
        for center, radius in held[identifier][:1]
    ]
    largest = max(atoms, key=lambda chosen: (len(chosen), -chosen[0]))
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
        keys = np.array(sorted({key for one in molecules for key in one}), dtype=np.uint32)
        place = {int(key): index for index, key in enumerate(keys)}
        ordered = [sorted((place[key], number) for key, number in one.items()) for one in molecules]
        flat = [entry for one in ordered for entry in one]
        return cls(
            keys,
            np.cumsum([0, *(len(one) for one in ordered)], dtype=np.int32),
            np.array([index for index, _ in flat], dtype=np.uint16),
            np.array([min(number, 255) for _, number in flat], dtype=np.uint8),
        )

    def dense(self) -> NDArray[np.uint8]:
        """Return the counts as a full array, shape (features, molecules)."""
        full = np.zeros((len(self.keys), len(self.ends) - 1), dtype=np.uint8)
        full[self.places, np.repeat(np.arange(len(self.ends) - 1), np.diff(self.ends))] = (
            self.numbers
        )
        return full
