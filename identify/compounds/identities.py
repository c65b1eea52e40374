"""What a cell that says which compound it is means: by name, CAS number, SMILES or InChIKey."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from identify.chemistry import cas_numbers
from identify.chemistry.formula import FormulaError, hill_formula, parse_formula
from identify.compounds.loading import load_candidates
from identify.compounds.name_lookup import spelled_out
from identify.compounds.names import (
    folded_name,
    identifier_of_cas,
    identifier_of_inchikey,
    meaning_of_name,
    near_names,
)
from identify.compounds.stock_table import Places
from identify.compounds.table import CandidateTable
from identify.notebook.findings import Finding, Severity, listed
from identify.notebook.quantities import excerpt
from identify.physics.constants import ELEMENTS, ICE_POINT

if TYPE_CHECKING:
    from identify.chemistry.structures import Structure
    from identify.compounds.published.literature import Identifier

_INCHIKEY = re.compile(r"(?:InChIKey=)?([A-Z]{14}-[A-Z]{10}-[A-Z])", re.IGNORECASE)
_NAMED = 4  # compounds in a sentence
# What a student could be given: near names are sought among these first.
_VOLATILE = 130.0  # degrees Celsius
_ROOM = 298.15  # K

_HOW_TO_NAME = "Write its full name with all locants, its CAS number or its SMILES."


@dataclass(frozen=True)
class Compound:
    """What an identity means.

    Parameters
    ----------
    name, cas, smiles, inchikey, formula : str
        Empty where not known.
    molar_mass : float
        In g/mol.
    percent : mapping of str to float
        Percent by mass of each element that it holds.
    boiling_point_C, boiling_point_u : float
        Consensus at 101325 Pa and its standard uncertainty; NaN where none is known.
    place : int or None
        Row of the built-in table; None for a compound that it lacks.
    """

    name: str
    cas: str
    smiles: str
    inchikey: str
    formula: str
    molar_mass: float
    percent: Mapping[str, float]
    boiling_point_C: float = float("nan")
    boiling_point_u: float = float("nan")
    place: int | None = None


@dataclass(frozen=True)
class Meaning:
    """What one cell means.

    Parameters
    ----------
    kind, column, read : str
        What the column holds, how the file calls it, and the cell.
    compounds : tuple of Compound
        One where it is clear, several where it is not, none where it means nothing usable.
    problem : Finding or None
        What there is to say where nothing else in the row settles it.
    is_usual : bool
        The first of several compounds is meant where nothing else is said.
    wrong_digit : bool
        A CAS number whose check digit is wrong.
    """

    kind: str
    column: str
    read: str
    compounds: tuple[Compound, ...] = ()
    problem: Finding | None = None
    is_usual: bool = False
    wrong_digit: bool = False


@dataclass
class Identities:
    """The compounds of the built-in table, and those that the library `chemicals` lists.

    Parameters
    ----------
    table : CandidateTable
    """

    table: CandidateTable = field(default_factory=load_candidates)
    _compounds: dict[int, Compound] = field(default_factory=dict, init=False, repr=False)

    @cached_property
    def places(self) -> Places:
        """Rows of the table by name and structure."""
        return Places(self.table)

    def meaning(self, kind: str, column: str, read: str) -> Meaning:
        """Return what a cell means.

        Parameters
        ----------
        kind : {"identity", "cas", "smiles", "name"}
            ``identity`` may be any of them, or an InChIKey.
        column : str
            As the file calls it.
        read : str
            The cell, not empty.
        """
        cell = _Cell(kind, column, read)
        text = folded_name(read)
        if kind != "smiles":
            if kind != "name" and cas_numbers.number_behind_date(text):
                return cell.unknown("is a date", _said_instead(text))
            if kind != "name" and cas_numbers.is_written_as_cas_number(text):
                return self._of_cas_number(cell, text)
            if kind == "cas":
                return cell.unknown("is no CAS number; write it like 64-17-5", _said_instead(text))
            if (number := spelled_out(text)) != text:
                return self._of_cas_number(cell, number)
            if len(named := self._names.get(text, [])) > 1:
                return cell.ambiguous(
                    map(self.of_place, named), "leaves out which stereo form it is"
                )
            if (place := self.places.of_name(text)) is not None:
                return cell.clear(self.of_place(place))
        if kind == "identity" and (found := _INCHIKEY.fullmatch(read)):
            return self._of_identifier(cell, identifier_of_inchikey(found[1]))
        if kind in ("identity", "smiles"):
            meaning = self._of_smiles(cell, read)
            if meaning is not None:
                return meaning
            if kind == "smiles":
                return cell.unknown("is no SMILES", "Correct it, or leave the cell empty.")
        return self._of_formula(cell, read) or self._of_name(cell, text)

    def of_place(self, place: int) -> Compound:
        """Return a compound of the table."""
        if place not in self._compounds:
            self._compounds[place] = self._compound(place)
        return self._compounds[place]

    def _compound(self, place: int) -> Compound:
        text, number = self.table.text, self.table.number
        percent = self.table.percent[place]
        return Compound(
            text("name")[place],
            text("cas")[place],
            text("smiles")[place],
            text("inchikey")[place],
            text("formula")[place],
            float(number("molar_mass")[place]),
            {e: float(p) for e, p in zip(ELEMENTS, percent, strict=True) if p > 0.0},
            float(number("boiling_point_C")[place]),
            float(number("boiling_point_u")[place]),
            place,
        )

    def of_formula(self, formula: str) -> list[Compound]:
        """Return the table's compounds of a formula in Hill order, the commonest first."""
        return [self.of_place(place) for place in self._formulas.get(formula, [])]

    def in_table(self, cas: str) -> Compound | None:
        """Return the table's compound of a CAS number, None where it has none."""
        place = self.places.of_name(cas)
        return None if place is None else self.of_place(place)

    @cached_property
    def _names(self) -> dict[str, list[int]]:
        names: dict[str, list[int]] = {}
        for place, name in enumerate(self.table.text("name")):
            names.setdefault(name.casefold(), []).append(place)
        return names

    @cached_property
    def _formulas(self) -> dict[str, list[int]]:
        formulas: dict[str, list[int]] = {}
        texts = self.table.text("formula")
        for place in np.argsort(-self.table.number("prior"), kind="stable"):
            formulas.setdefault(texts[int(place)], []).append(int(place))
        return formulas

    @cached_property
    def _volatile_names(self) -> list[str]:
        boiling = self.table.number("boiling_point_C")
        names = self.table.text("name")
        order = np.argsort(-self.table.number("prior"), kind="stable")
        return [names[place].casefold() for place in order if boiling[place] < _VOLATILE]

    # ------------------------------------------------------------------------ kinds of cells

    def _of_cas_number(self, cell: _Cell, text: str) -> Meaning:
        if not cas_numbers.has_right_check_digit(text):
            return Meaning(cell.kind, cell.column, cell.read, wrong_digit=True)
        if (place := self.places.of_name(text)) is not None:
            return cell.clear(self.of_place(place))
        identifier = identifier_of_cas(text)
        if identifier is None:
            return cell.unknown("is the CAS number of no compound known here", _HOW_TO_NAME)
        return self._of_identifier(cell, identifier)

    def _of_identifier(self, cell: _Cell, identifier: Identifier | None) -> Meaning:
        if identifier is None:
            return cell.unknown("is no compound known here", _HOW_TO_NAME)
        if (place := self.places.of_name(identifier.cas)) is not None:
            return cell.clear(self.of_place(place))
        return self._of_smiles(cell, identifier.smiles, identifier) or cell.unsuitable(
            "has no structure that is known here"
        )

    def _of_smiles(
        self, cell: _Cell, smiles: str, identifier: Identifier | None = None
    ) -> Meaning | None:
        """Return what a structure means, None where it is none."""
        from identify.chemistry.structures import is_no_bottled_liquid, read_structure

        structure = read_structure(smiles)
        if structure is None:
            reason = is_no_bottled_liquid(smiles)
            return cell.unsuitable(reason) if reason else None
        if (place := self.places.of_structure(structure)) is not None:
            return cell.clear(self.of_place(place))
        forms = self.places.forms(structure)
        if len(forms) > 1 and structure.is_flat:
            return cell.ambiguous(map(self.of_place, forms), "leaves out which stereo form it is")
        melting = float("nan") if identifier is None else _melting_point(identifier.cas)
        if melting > _ROOM:
            return cell.unsuitable(
                f"is a solid that melts at {melting - ICE_POINT:.0f} °C, and nobody has boiled it"
            )
        return cell.clear(_outside_the_table(structure, identifier))

    def _of_formula(self, cell: _Cell, text: str) -> Meaning | None:
        """Return what a cell with a formula means: never one compound, for others may share it."""
        try:
            counts = parse_formula(text)
        except FormulaError:
            return None
        if "C" not in counts:
            return cell.unsuitable("has no carbon")
        compounds = self.of_formula(hill_formula(counts))
        if not compounds:
            return cell.unknown("is a formula, and no compound known here has it", _HOW_TO_NAME)
        return cell.ambiguous(compounds, "is a formula, which several compounds may share")

    def _of_name(self, cell: _Cell, text: str) -> Meaning:
        meaning = meaning_of_name(text)
        if meaning.kind == "mixture":
            return cell.unsuitable("is sold as a mixture")
        if meaning.kind == "none":
            near = near_names(text, self._volatile_names)
            near = near or near_names(text, self.table.text("name"))
            advice = f"Did you mean {_either(near)}?" if near else _HOW_TO_NAME
            return cell.unknown("is no compound known here", advice)
        if meaning.kind == "one":
            return self._of_identifier(cell, meaning.identifiers[0])
        compounds = [
            compound
            for one in meaning.identifiers
            for compound in self._of_identifier(cell, one).compounds
        ]
        if meaning.kind == "isomers":
            if len(compounds) == 1:
                compounds = self.of_formula(compounds[0].formula)
            return cell.ambiguous(compounds, "is a plural, the name of a mixture of isomers")
        if meaning.kind == "straight chain":
            return cell.usual(compounds)
        compounds.sort(key=self._rarity)
        return cell.ambiguous(compounds, "leaves out where the parts of the molecule are")

    def _rarity(self, compound: Compound) -> float:
        if compound.place is None:
            return 1.0
        return -float(self.table.number("prior")[compound.place])


@dataclass(frozen=True)
class _Cell:
    """A cell on its way to a meaning."""

    kind: str
    column: str
    read: str

    def clear(self, compound: Compound) -> Meaning:
        return Meaning(self.kind, self.column, self.read, (compound,))

    def ambiguous(self, compounds: Iterable[Compound], reason: str) -> Meaning:
        meant = tuple({compound.inchikey: compound for compound in compounds}.values())
        problem = self._finding(
            "identity-ambiguous", "error", f"{reason}: {_named(meant)}.", _HOW_TO_NAME
        )
        return Meaning(self.kind, self.column, self.read, meant, problem)

    def usual(self, compounds: Sequence[Compound]) -> Meaning:
        first, *others = compounds
        problem = self._finding(
            "identity-ambiguous",
            "warning",
            f"has no mark in front of its alkyl group, and is taken for {_name(first)}, the "
            f"straight chain; some would have it mean {_named(others)}.",
            "Write n- in front, or the CAS number.",
        )
        return Meaning(self.kind, self.column, self.read, tuple(compounds), problem, is_usual=True)

    def unknown(self, reason: str, advice: str) -> Meaning:
        problem = self._finding("identity-unknown", "error", f"{reason}.", advice)
        return Meaning(self.kind, self.column, self.read, problem=problem)

    def unsuitable(self, reason: str) -> Meaning:
        problem = self._finding(
            "identity-unsuitable",
            "error",
            f"{reason}: this method needs one volatile compound of carbon.",
            "Take it off the list, or correct the cell.",
        )
        return Meaning(self.kind, self.column, self.read, problem=problem)

    def _finding(self, code: str, severity: Severity, reason: str, advice: str) -> Finding:
        return Finding(code, severity, f'{self.column}: "{excerpt(self.read)}" {reason}', advice)


def _outside_the_table(structure: Structure, identifier: Identifier | None) -> Compound:
    percent = {e: p for e, p in zip(ELEMENTS, structure.percent, strict=True) if p > 0.0}
    return Compound(
        structure.smiles if identifier is None else identifier.name,
        "" if identifier is None else identifier.cas,
        structure.smiles,
        structure.inchikey,
        structure.formula,
        structure.molar_mass,
        percent,
    )


def _melting_point(cas: str) -> float:
    """Return a published melting point [K], NaN where there is none."""
    from chemicals import Tm

    found = Tm(cas)
    return float("nan") if found is None else float(found)


def _said_instead(text: str) -> str:
    number = cas_numbers.number_behind_date(text)
    if number:
        advice = "format the cell as text, and enter it again"
        return f"A spreadsheet made a date of {number}; {advice}."
    return "Correct it, or leave the cell empty."


def _name(compound: Compound) -> str:
    return f"{compound.name} {compound.cas}".strip()


def _named(compounds: Sequence[Compound]) -> str:
    """Name compounds in a sentence, the first few of many."""
    names = [_name(compound) for compound in compounds[:_NAMED]]
    if len(compounds) > _NAMED:
        names.append(f"{len(compounds) - _NAMED} more")
    return listed(names)


def _either(words: Sequence[str]) -> str:
    return " or ".join(filter(None, (", ".join(words[:-1]), words[-1])))
