"""What the boiling-point estimate knows enough about, and why it refuses other structures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from identify.chemistry.structures import Structure, is_no_bottled_liquid, read_structure
from identify.compounds.boiling.features import drawn_surroundings

FEWEST_ATOMS, MOST_ATOMS = 3, 40
"""Heavy atoms. Below, each compound is a case of its own; above, too few are published."""
MOST_UNKNOWN = 1
"""Surroundings of an atom that no known compound has: of two, the estimate misses by 20 K."""
_MAX_SMILES_LENGTH = 2000  # characters; a SMILES of 40 heavy atoms takes fewer than 500


@dataclass(frozen=True)
class Domain:
    """Bounds of what the estimate was trained on.

    Parameters
    ----------
    surroundings : frozenset of int
        Those that occur in the training.
    farthest : float
        Largest distance to the four nearest known compounds that is still near.
    """

    surroundings: frozenset[int]
    farthest: float

    def unknown(self, found: dict[int, int]) -> list[int]:
        """Return the surroundings that no known compound has."""
        return sorted(found.keys() - self.surroundings)

    def objection(self, mol: Any, unknown: list[int]) -> str:
        """Return why a molecule lies outside by what it is made of, or empty text.

        Parameters
        ----------
        mol : rdkit.Chem.Mol
        unknown : list of int
            Its surroundings that no known compound has.
        """
        atoms = mol.GetNumHeavyAtoms()
        if atoms < FEWEST_ATOMS:
            return f"too small to estimate: {atoms} heavy atoms, at least {FEWEST_ATOMS} are needed"
        if atoms > MOST_ATOMS:
            return f"larger than what the estimate knows: {atoms} heavy atoms, {MOST_ATOMS} at most"
        if len(unknown) > MOST_UNKNOWN:
            return (
                f"{len(unknown)} of its atoms' surroundings are in no compound that the estimate "
                f"knows, such as {drawn_surroundings(mol, unknown)}"
            )
        return ""

    def is_remote(self, four_nearest: float) -> bool:
        """Return whether even the nearest known compounds are too unlike."""
        return four_nearest > self.farthest


REMOTE = "no compound that the estimate knows is enough like it"


def read_for_estimate(smiles: str) -> tuple[Structure | None, str]:
    """Return the structure of a SMILES, or None and why it cannot be used.

    Examples
    --------
    >>> read_for_estimate("[Na+].[Cl-]")
    (None, 'is a salt or a mixture')
    >>> read_for_estimate("C1CC")
    (None, 'cannot be read as a SMILES')
    """
    if len(smiles) > _MAX_SMILES_LENGTH:
        return None, f"a SMILES of {len(smiles)} characters, {_MAX_SMILES_LENGTH} at most are read"
    structure = read_structure(smiles)
    if structure is not None:
        return structure, ""
    return None, is_no_bottled_liquid(smiles) or "cannot be read as a SMILES"
