"""The compounds that the boiling-point estimate learns from, and how they are divided."""

from __future__ import annotations

import hashlib
import zlib
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from build_candidates import CORRECTIONS
from numpy.typing import NDArray
from rdkit import Chem
from rdkit.Chem.Scaffolds import MurckoScaffold

from identify.compounds.published.consensus import _independent
from identify.compounds.published.corrections import read_corrections
from identify.compounds.published.gathering import gather
from identify.compounds.table import CandidateTable
from identify.physics.constants import ICE_POINT

Array = NDArray[np.float64]

RULE = (
    "rows of the built-in table with a published consensus known to better than 2 K, which two "
    "independent collections or more meet within 2 K; collections that copy each other are one "
    "where they give the same figure; every hundredth skeleton, by its checksum, is kept out"
)
_AGREEING_K = 2.0
_WITNESSES = 2
_KEPT_OUT_OF = 100
FOLDS = 5


@dataclass(frozen=True)
class Compounds:
    """Compounds with a boiling point, each a list or array of the same length.

    Parameters
    ----------
    rows : array of int
        Rows of the table.
    smiles, inchikeys : list of str
    kelvin : array
        Consensus boiling point [K].
    """

    rows: NDArray[np.int64]
    smiles: list[str]
    inchikeys: list[str]
    kelvin: Array

    @classmethod
    def of(cls, table: CandidateTable, rows: Sequence[int]) -> Compounds:
        """Return rows of a table."""
        places = np.asarray(rows, dtype=np.int64)
        return cls(
            places,
            [table.text("smiles")[row] for row in rows],
            [table.text("inchikey")[row] for row in rows],
            # To a hundredth of a kelvin, as the digest has it.
            np.round(table.number("boiling_point_C")[places] + ICE_POINT, 2),
        )

    def __len__(self) -> int:
        return len(self.rows)

    @property
    def skeletons(self) -> list[str]:
        """The structures without their stereo marks, as the first block of the InChIKey."""
        return [key[:14] for key in self.inchikeys]

    def digest(self) -> str:
        """Return a checksum of the compounds and their boiling points."""
        lines = sorted(
            f"{key} {value:.2f}" for key, value in zip(self.inchikeys, self.kelvin, strict=True)
        )
        return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def is_kept_out(inchikey: str) -> bool:
    """Return whether a compound never trains: a rule that no boiling point enters into."""
    return zlib.crc32(inchikey[:14].encode()) % _KEPT_OUT_OF == 0


def published_by_smiles() -> dict[str, dict[str, float]]:
    """Return each compound's published boiling points [K] by collection; takes half a minute."""
    return {
        compound.structure.smiles: compound.boiling_points
        for compound in gather(corrections=read_corrections(CORRECTIONS))
    }


def trustworthy_rows(table: CandidateTable, published: dict[str, dict[str, float]]) -> list[int]:
    """Return the rows that follow ``RULE``, those kept out among them."""
    return [
        row
        for row, smiles in enumerate(table.text("smiles"))
        if table.number("boiling_point_published")[row]
        and table.number("boiling_point_u")[row] < _AGREEING_K
        and is_agreed(published[smiles], table.number("boiling_point_C")[row] + ICE_POINT)
    ]


def is_agreed(published: dict[str, float], consensus: float) -> bool:
    """Return whether two independent collections or more meet the consensus [K]."""
    meeting = [
        value for _, value in _independent(published) if abs(value - consensus) <= _AGREEING_K
    ]
    return len(meeting) >= _WITNESSES


@dataclass(frozen=True)
class SinglyPublished:
    """Compounds of which one independent collection alone has a boiling point: none trains.

    They are what estimates are wanted for: less known, and less like those that train, than
    compounds that two collections list. Their published values are not vouched for.

    Parameters
    ----------
    smiles : list of str
    kelvin : array
        Published boiling point [K].
    calibrates : array of bool
        Which take part in the calibration of the interval, by the checksum of the skeleton; the
        others test it.
    """

    smiles: list[str]
    kelvin: Array
    calibrates: NDArray[np.bool_]

    @classmethod
    def of(
        cls, table: CandidateTable, published: dict[str, dict[str, float]], known: set[str]
    ) -> SinglyPublished:
        """Return those of a table whose skeletons, first blocks of InChIKeys, are not ``known``."""
        smiles, kelvin, calibrates = [], [], []
        for written, key in zip(table.text("smiles"), table.text("inchikey"), strict=True):
            values = _independent(published.get(written, {}))
            if key[:14] not in known and len(values) == 1:
                smiles.append(written)
                kelvin.append(values[0][1])
                calibrates.append(zlib.crc32(f"half {key[:14]}".encode()) % 2 == 0)
        return cls(smiles, np.array(kelvin), np.array(calibrates, dtype=bool))


def random_folds(skeletons: Sequence[str]) -> NDArray[np.int64]:
    """Deal compounds into folds at random, stereoisomers into the same one."""
    return _dealt(skeletons, np.random.default_rng(1).permutation(len(set(skeletons))))


def _dealt(groups: Sequence[str], order: NDArray[np.int64]) -> NDArray[np.int64]:
    fold = {group: order[place] % FOLDS for place, group in enumerate(sorted(set(groups)))}
    return np.array([fold[group] for group in groups])


def scaffold_folds(smiles: Sequence[str]) -> NDArray[np.int64]:
    """Deal compounds into folds by scaffold, the largest first, each to the smallest fold."""
    members: dict[str, list[int]] = defaultdict(list)
    for place, written in enumerate(smiles):
        members[scaffold(written)].append(place)
    folds = np.empty(len(smiles), dtype=np.int64)
    filled = np.zeros(FOLDS, dtype=np.int64)
    for name in sorted(members, key=lambda name: (-len(members[name]), name)):
        smallest = int(filled.argmin())
        folds[members[name]] = smallest
        filled[smallest] += len(members[name])
    return folds


def scaffold(smiles: str) -> str:
    """Return a compound's scaffold: its rings and what links them; of a chain, its branching.

    Bemis, G. W.; Murcko, M. A. J. Med. Chem. 1996, 39, 2887. Compounds without rings would all be
    one scaffold; they are told apart by the graph of their heavy atoms, all taken to be carbon.
    """
    mol = Chem.MolFromSmiles(smiles)
    rings = Chem.MolToSmiles(MurckoScaffold.GetScaffoldForMol(mol), isomericSmiles=False)
    if rings:
        return str(rings)
    plain = Chem.RWMol()
    for _ in mol.GetAtoms():
        plain.AddAtom(Chem.Atom("*"))
    for bond in mol.GetBonds():
        plain.AddBond(bond.GetBeginAtomIdx(), bond.GetEndAtomIdx(), Chem.BondType.SINGLE)
    return f"chain {Chem.MolToSmiles(plain)}"
