"""What speaks for and against the liquids of a pool, as a stockroom sees them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from identify.bench.laboratory import Laboratory
from identify.compounds.carcinogens import of_the_liquid
from identify.compounds.naming.meaning import Compound
from identify.compounds.table import CandidateTable
from identify.observables.tolerances import Tolerances
from identify.physics.arrays import Array
from identify.planning.pool.fitness import unfit
from identify.stock.class_use.hazards import forming_peroxides, hazard_findings, hazards_of
from identify.stock.class_use.method import suitabilities
from identify.stock.class_use.shelf import Shelf
from identify.stock.result import Hazards, StockRow

# A point of handling weighs as much as being given out three times (e) less often. Common practice.
_POINTS_EACH = 1.0
# More than all points of a liquid can make: what is on a warning list comes last.
_LISTED = 1000.0
# Vapor that catches fire from afar even in a cold room: handled on ice. Common practice.
_VERY_LOW_FLASH_POINT = -20.0  # degrees Celsius
_LOW_EXPOSURE_LIMIT = 100.0  # ppm: needs the hood more than others do
_ALL_INVENTORIES = 6
# By structure, as SMARTS. Common practice.
_BURDENSOME: Mapping[str, str] = MappingProxyType(
    {
        "corrosive and smells": "[NX3;!$(N~[C,S,N]=[O,S,N]);!$(N-C#N)]",
        "costly, and persists in the environment": "[#6;$([#6](F)(F)F),$([#6](F)(F)[#6])]",
    }
)


@dataclass(frozen=True)
class Handling:
    """How readily a stockroom hands out each of n liquids.

    Parameters
    ----------
    commonness : array, shape (n,)
        How often classes are given it, relative to the others.
    warnings : tuple of tuple of str, length n
        The warning lists that it is on, and what else of the method warns of it.
    burdens : tuple of tuple of str, length n
        What makes it less easy to handle.
    """

    commonness: Array
    warnings: tuple[tuple[str, ...], ...]
    burdens: tuple[tuple[str, ...], ...]

    @property
    def is_listed(self) -> NDArray[np.bool_]:
        """Whether each is on a warning list."""
        return np.array([bool(one) for one in self.warnings])

    @property
    def cost(self) -> Array:
        """What it costs to take each, from zero: warnings first, then rarity and handling."""
        rarity = np.log(self.commonness.max() / self.commonness)
        points = np.array([len(one) for one in self.burdens], dtype=float)
        return rarity + _POINTS_EACH * points + _LISTED * self.is_listed

    @classmethod
    def of(cls, table: CandidateTable, laboratory: Laboratory, tolerances: Tolerances) -> Handling:
        """Look at the liquids of a table in a laboratory.

        Parameters
        ----------
        table : CandidateTable
        laboratory : Laboratory
        tolerances : Tolerances
            Of the class: what the method bears.

        Examples
        --------
        >>> from identify.compounds.loading import load_candidates
        >>> table = load_candidates()
        >>> names = ("acetone", "chloroform", "diethyl ether")
        >>> rows = [table.find(name)[0] for name in names]
        >>> found = Handling.of(table.take(rows), Laboratory(), Tolerances())
        >>> for name, warnings, burdens in zip(names, found.warnings, found.burdens):
        ...     print(name, warnings, burdens)
        acetone () ()
        chloroform ('carcinogen', 'exposure-limit-low') ('flash point not known', \
'exposure limit below 100 ppm')
        diethyl ether ('vapor-pressure-high',) ('flash point below -20 °C', 'forms peroxides')
        """
        compounds = [Compound.of_place(table, place) for place in range(len(table))]
        hazards = [hazards_of(compound, table) for compound in compounds]
        rows = tuple(
            StockRow(place, "", compound.name, compound) for place, compound in enumerate(compounds)
        )
        methods = suitabilities(Shelf(table, tuple((row,) for row in rows)), laboratory, tolerances)
        structures = unfit(table, list(range(len(table))))
        formers = forming_peroxides({compound.smiles for compound in compounds})
        commonness = np.maximum(table.weights("classroom"), np.finfo(float).tiny)
        return cls(
            np.asarray(commonness),
            tuple(
                (
                    *_on_lists(compound, held),
                    *(one.code for one in method.findings()),
                    *([structures[place]] if place in structures else []),
                )
                for place, (compound, held, method) in enumerate(
                    zip(compounds, hazards, methods, strict=True)
                )
            ),
            tuple(
                (
                    *_burdens(held, compound.smiles in formers),
                    *_of_structure(compound.smiles),
                    *(["not sold everywhere"] if inventories < _ALL_INVENTORIES else []),
                )
                for compound, held, inventories in zip(
                    compounds, hazards, table.number("inventories"), strict=True
                )
            ),
        )


def _on_lists(compound: Compound, hazards: Hazards) -> Iterator[str]:
    for finding in hazard_findings(compound, hazards):
        # What is a carcinogen only as drunk is not one in the bottle.
        if finding.code != "carcinogen" or of_the_liquid(hazards.carcinogen):
            yield finding.code


def _of_structure(smiles: str) -> Iterator[str]:
    from rdkit import Chem

    from identify.chemistry.structures import read_structure

    structure = read_structure(smiles)
    if structure is None:
        return
    for what, smarts in _BURDENSOME.items():
        if structure.mol.HasSubstructMatch(Chem.MolFromSmarts(smarts)):
            yield what


def _burdens(hazards: Hazards, forms_peroxides: bool) -> Iterator[str]:
    if not np.isfinite(hazards.flash_point_C):
        yield "flash point not known"
    elif hazards.flash_point_C < _VERY_LOW_FLASH_POINT:
        yield f"flash point below {_VERY_LOW_FLASH_POINT:g} °C"
    if hazards.exposure_limit_ppm < _LOW_EXPOSURE_LIMIT:
        yield f"exposure limit below {_LOW_EXPOSURE_LIMIT:g} ppm"
    if forms_peroxides:
        yield "forms peroxides"
