"""The rows of a table by the names, the formula and the structure of their compounds."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from identify.chemistry.structures import Structure


class NameIndex:
    """Rows of a table by any name of a compound.

    Parameters
    ----------
    text : mapping of str to sequence of str
        Columns of the table: name, cas, smiles, inchikey, formula.
    """

    def __init__(self, text: Mapping[str, Sequence[str]]) -> None:
        self._text = text

    def find(self, text: str) -> list[int]:
        """Return the rows whose name, CAS number, SMILES, InChIKey or formula this is."""
        return sorted({*self.written_so(text), *self.rows_of_formula(text)})

    def rows_of_formula(self, text: str) -> list[int]:
        """Return the rows with a formula, capitals or not."""
        return self._formulas.get(text.strip().casefold(), [])

    def written_so(self, text: str) -> list[int]:
        """Return the rows whose name, CAS number, SMILES or InChIKey is written so."""
        written = text.strip()
        # SMILES is case-sensitive: c1ccccc1 is benzene, C1CCCCC1 cyclohexane.
        rows = set(self.smiles.get(written, ()))
        for names in self._folded.values():
            rows.update(names.get(written.casefold(), ()))
        return sorted(rows)

    def called(self, name: str) -> list[int]:
        """Return all rows with this name; stereoisomers may share one."""
        return self._folded["name"].get(name.casefold(), [])

    def row(self, text: str) -> int | None:
        """Return the row with this name, CAS number or InChIKey, None where there is none."""
        folded = text.casefold()
        return next((names[folded][0] for names in self._folded.values() if folded in names), None)

    def row_of_structure(self, structure: Structure) -> int | None:
        """Return the row of a structure, None where there is none, or several."""
        row = self.row(structure.inchikey)
        if row is not None:
            return row
        # The table holds the two forms of a mirror pair, and their mixture, as one compound.
        forms = self.stereo_forms(structure)
        return forms[0] if len(forms) == 1 and structure.has_one_center else None

    def stereo_forms(self, structure: Structure) -> list[int]:
        """Return the rows of all stereo forms of a structure."""
        return self.rows_of_skeleton(structure.inchikey)

    def rows_of_skeleton(self, inchikey: str) -> list[int]:
        """Return the rows whose InChIKey differs at most by the stereo form."""
        return self._skeletons.get(_skeleton(inchikey), [])

    @cached_property
    def formulas(self) -> dict[str, list[int]]:
        """Rows by formula in Hill order."""
        return _rows_by(self._text["formula"])

    @cached_property
    def smiles(self) -> dict[str, list[int]]:
        """Rows by SMILES as the table writes it."""
        return _rows_by(self._text["smiles"])

    @cached_property
    def _formulas(self) -> dict[str, list[int]]:
        return _rows_by(map(str.casefold, self._text["formula"]))

    @cached_property
    def _folded(self) -> dict[str, dict[str, list[int]]]:
        return {
            column: _rows_by(map(str.casefold, self._text[column]))
            for column in ("name", "cas", "inchikey")
        }

    @cached_property
    def _skeletons(self) -> dict[str, list[int]]:
        return _rows_by(map(_skeleton, self._text["inchikey"]))


def _rows_by(texts: Iterable[str]) -> dict[str, list[int]]:
    rows: dict[str, list[int]] = {}
    for row, text in enumerate(texts):
        rows.setdefault(text, []).append(row)
    return rows


def _skeleton(inchikey: str) -> str:
    """Return the part of an InChIKey that stereo forms share."""
    return inchikey.partition("-")[0]
