"""Where in a table a compound stands, by any of its names and by its structure."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from identify.compounds.table import CandidateTable

if TYPE_CHECKING:
    from identify.chemistry.structures import Structure


class Places:
    """Rows of a table by what a compound is called, and by its structure.

    Parameters
    ----------
    table : CandidateTable
    """

    def __init__(self, table: CandidateTable) -> None:
        self.table = table

    @cached_property
    def _named(self) -> dict[str, int]:
        places: dict[str, int] = {}
        for column in ("name", "cas", "inchikey"):
            for place, text in enumerate(self.table.text(column)):
                places.setdefault(text.casefold(), place)
        return places

    @cached_property
    def _skeletons(self) -> dict[str, list[int]]:
        skeletons: dict[str, list[int]] = {}
        for place, inchikey in enumerate(self.table.text("inchikey")):
            skeletons.setdefault(inchikey.partition("-")[0], []).append(place)
        return skeletons

    def of_name(self, text: str) -> int | None:
        """Return the row with this name, CAS number or InChIKey, None where there is none."""
        return self._named.get(text.casefold())

    def of_structure(self, structure: Structure) -> int | None:
        """Return the row of a structure, None where there is none, or several."""
        place = self.of_name(structure.inchikey)
        if place is not None:
            return place
        # The table holds the two forms of a mirror pair, and their mixture, as one compound.
        forms = self.forms(structure)
        return forms[0] if len(forms) == 1 and structure.has_one_center else None

    def forms(self, structure: Structure) -> list[int]:
        """Return the rows of all stereo forms of a structure."""
        return self._skeletons.get(structure.inchikey.partition("-")[0], [])
