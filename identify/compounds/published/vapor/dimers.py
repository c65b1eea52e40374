"""By how much the vapors of carboxylic acids are dimers, published or by what their likes have.

Enthalpy and entropy are those of ``2 M = D``, for one mole of dimers, at 1 bar. Constants published
in another form are converted here: ``log10(p(M)^2/p(D)/mmHg) = a - b/T``.
"""

from __future__ import annotations

from functools import lru_cache
from math import log, log10
from typing import Any, NamedTuple

import numpy as np

from identify.compounds.table import CandidateTable
from identify.physics.constants import GAS_CONSTANT

_TENFOLD = GAS_CONSTANT * log(10.0)
_CALORIE = 4.184  # J, exact (thermochemical)
_ATMOSPHERE = GAS_CONSTANT * log(1.01325)  # J/(mol K), from 1 atm to 1 bar
_BAR_IN_MMHG = 750.062


class Dimers(NamedTuple):
    """How strongly a vapor's molecules hold together.

    Parameters
    ----------
    enthalpy, entropy : float
        In J/mol and J/(mol K).
    uncertainty : float
        Relative standard uncertainty of the constant.
    source : str
    """

    enthalpy: float
    entropy: float
    uncertainty: float
    source: str

    def cells(self) -> dict[str, str | float]:
        """Return the cells of the candidate table."""
        return {
            "dimer_enthalpy": self.enthalpy,
            "dimer_entropy": self.entropy,
            "dimer_u": self.uncertainty,
            "dimer_source": self.source,
        }


def _dissociation(a: float, b: float) -> tuple[float, float]:
    """Return enthalpy and entropy from ``log10(K/mmHg) = a - b/T`` of the dissociation."""
    return -b * _TENFOLD, (log10(_BAR_IN_MMHG) - a) * _TENFOLD


_MIYAMOTO = "Miyamoto et al., J. Chem. Eng. Data 1999, 44, 48"
# By canonical SMILES. The uncertainties are what published constants of one acid differ by: those
# of acetic acid of Taylor, of Frurip et al. and of Miyamoto et al. by 0.3 either way at 118 degrees
# Celsius. Beside the equation of state of acetic acid (Piazza, Span; Fluid Phase Equilib. 2011,
# 303, 134) Taylor's, with the virial coefficients of this table, are within 2.3 %.
_PUBLISHED = {
    # -60.3 and -155.0 as the simulator pfdsim lists them; the difference of the entropies is that
    # of J. O. Halford, J. Chem. Phys. 1942, 10, 582 (-154.5), and the constant at 25 degrees
    # Celsius that of A. S. Coolidge, J. Am. Chem. Soc. 1928, 50, 2166 (from memory).
    "O=CO": Dimers(-60300.0, -155.0, 0.15, "Coolidge 1928, Halford 1942"),
    # Coefficients from memory.
    "CC(=O)O": Dimers(
        *_dissociation(10.4205, 3166.0), 0.15, "Taylor, J. Am. Chem. Soc. 1951, 73, 315"
    ),
    # The mean of -63.49, -152.4 (Taylor and Bruton; their 10.834 - 3316/T from memory) and of
    # -58.5, -136 (Miyamoto et al.): either is 3 % of the molar mass from the other.
    "CCC(=O)O": Dimers(
        -61000.0,
        -144.2,
        0.2,
        f"mean of Taylor and Bruton, J. Am. Chem. Soc. 1952, 74, 4151 and {_MIYAMOTO}",
    ),
    # The next three as the simulator pfdsim lists them from there.
    "CCCC(=O)O": Dimers(-63800.0, -149.9, 0.2, _MIYAMOTO),
    "CC(C)C(=O)O": Dimers(-60100.0, -138.4, 0.2, _MIYAMOTO),
    "CCCCC(=O)O": Dimers(-63000.0, -147.1, 0.2, _MIYAMOTO),
    # By its thermal conductivity, which gives acetic acid a constant 0.3 below Taylor's.
    "O=C(O)C(F)(F)F": Dimers(
        -13660.0 * _CALORIE,
        -36.15 * _CALORIE - _ATMOSPHERE,
        0.3,
        "Frurip, Curtiss and Blander, J. Am. Chem. Soc. 1980, 102, 2610",
    ),
}
_LIKES = [_PUBLISHED[one] for one in ("CCC(=O)O", "CCCC(=O)O", "CC(C)C(=O)O", "CCCCC(=O)O")]
_HOMOLOGUE = Dimers(
    sum(one.enthalpy for one in _LIKES) / len(_LIKES),
    sum(one.entropy for one in _LIKES) / len(_LIKES),
    0.4,
    "mean of propionic, butyric, isobutyric and valeric acid",
)
_HALOGENATED = _PUBLISHED["O=C(O)C(F)(F)F"]._replace(
    uncertainty=0.5, source="as trifluoroacetic acid"
)

_ACID = "[$([CX3H1]),$([CX3][#6])](=O)[OX2H1]"
_MANY_HALOGENS = "[CX4]([F,Cl,Br])([F,Cl,Br])C(=O)[OX2H1]"
# Held within one molecule instead: of pyruvic acid next to nothing is dimers. Another acid group,
# and an amine, make other pairs. J. Phys. Chem. A 2019, 123, 983, by computation.
_HELD_OTHERWISE = ("[CX3](=O)[CX3](=O)[OX2H1]", "[NX3;!$(N[C,S]=O);!$(N[#7,#8])]")


def dimers_of(mol: Any) -> Dimers | None:
    """Return how a molecule dimerizes as vapor, None where it does not or nothing is known.

    Parameters
    ----------
    mol : rdkit.Chem.Mol

    Examples
    --------
    >>> from rdkit import Chem
    >>> [dimers_of(Chem.MolFromSmiles(one)) is None for one in ("CC(=O)O", "CCO", "CC(=O)OC")]
    [False, True, True]
    >>> dimers_of(Chem.MolFromSmiles("CCC(C)C(=O)O")).source
    'mean of propionic, butyric, isobutyric and valeric acid'
    """
    from rdkit import Chem

    acid, halogenated, *otherwise = _patterns()
    if len(mol.GetSubstructMatches(acid)) != 1:
        return None
    known = _PUBLISHED.get(str(Chem.MolToSmiles(mol)))
    if known is not None:
        return known
    if any(mol.HasSubstructMatch(pattern) for pattern in otherwise):
        return None
    return _HALOGENATED if mol.HasSubstructMatch(halogenated) else _HOMOLOGUE


def dimer_cells(mol: Any) -> dict[str, str | float]:
    """Return the cells of the candidate table for a molecule, none where it does not dimerize."""
    found = dimers_of(mol)
    return {} if found is None else found.cells()


def with_dimers(table: CandidateTable) -> CandidateTable:
    """Return a table whose columns on dimers are made anew from its structures."""
    from identify.chemistry.structures import Structure
    from identify.compounds.columns import TableColumns

    rows = TableColumns.of(table, range(len(table)))
    for column, cell in Dimers(np.nan, np.nan, np.nan, "").cells().items():
        if isinstance(cell, str):
            rows.text[column] = [cell] * len(table)
        else:
            rows.numbers[column] = np.full(len(table), cell)
    for row, smiles in enumerate(table.text("smiles")):
        mol = Structure(smiles).mol if "O" in smiles else None
        if mol is not None:
            rows.fill(row, dimer_cells(mol))
    return CandidateTable(rows.text, rows.numbers, table.faults, table.told)


@lru_cache(maxsize=1)
def _patterns() -> list[Any]:
    from rdkit import Chem

    return [Chem.MolFromSmarts(one) for one in (_ACID, _MANY_HALOGENS, *_HELD_OTHERWISE)]
