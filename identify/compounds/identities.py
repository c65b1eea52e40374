"""What a cell that says which compound it is means: by name, CAS number, SMILES or InChIKey."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from identify.chemistry import cas_numbers
from identify.chemistry.formula import FormulaError, hill_formula, parse_formula
from identify.compounds.loading import load_candidates
from identify.compounds.names import (
    Identifier,
    folded_name,
    meaning_of_name,
    near_names,
    spelled_out,
)
from identify.compounds.table import CandidateTable
from identify.notebook.findings import Finding, Severity, listed
from identify.notebook.quantities import excerpt
from identify.physics.constants import ELEMENTS, ICE_POINT

if TYPE_CHECKING:
    from identify.chemistry.structures import Structure

_INCHIKEY = re.compile(r"(?:InChIKey=)?([A-Z]{14}-[A-Z]{10}-[A-Z])", re.IGNORECASE)
_MAX_NAMES_IN_SENTENCE = 4
# Near names are sought first among what a student could be given.
_VOLATILE_BELOW = 130.0  # degrees Celsius
_ROOM_TEMPERATURE = 298.15  # K

_HOW_TO_NAME = "Write its full name with all locants, its CAS number or its SMILES."
_NO_STEREO_FORM = "leaves out which stereo form it is"


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

    def is_same(self, other: Compound) -> bool:
        """Whether the two cannot be told apart: one row of the table, or one constitution."""
        if self.place is not None and other.place is not None:
            return self.place == other.place
        return self.inchikey.partition("-")[0] == other.inchikey.partition("-")[0]


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
        meanings = (reading(self, cell) for reading in _READINGS[kind])
        return next(meaning for meaning in meanings if meaning is not None)

    def of_place(self, place: int) -> Compound:
        """Return a compound of the table."""
        if place not in self._compounds:
            self._compounds[place] = self._compound(place)
        return self._compounds[place]

    def _compound(self, place: int) -> Compound:
        text, number = self.table.text, self.table.number
        return Compound(
            text("name")[place],
            text("cas")[place],
            text("smiles")[place],
            text("inchikey")[place],
            text("formula")[place],
            float(number("molar_mass")[place]),
            _held(self.table.percent[place]),
            float(number("boiling_point_C")[place]),
            float(number("boiling_point_u")[place]),
            place,
        )

    def of_formula(self, formula: str) -> list[Compound]:
        """Return the table's compounds of a formula in Hill order, the commonest first."""
        rows = self.table.index.formulas.get(formula, ())
        return sorted(map(self.of_place, rows), key=self._rarity)

    def in_table(self, cas: str) -> Compound | None:
        """Return the table's compound of a CAS number, None where it has none."""
        place = self.table.index.row(cas)
        return None if place is None else self.of_place(place)

    @cached_property
    def _volatile_names(self) -> list[str]:
        boiling = self.table.number("boiling_point_C")
        names = self.table.text("name")
        order = np.argsort(-self.table.number("prior"), kind="stable")
        return [names[place].casefold() for place in order if boiling[place] < _VOLATILE_BELOW]

    # ------------------------------------------------ how a cell may be read, None where it is not

    def _as_date(self, cell: _Cell) -> Meaning | None:
        number = cas_numbers.number_behind_date(cell.folded)
        return cell.unknown("is a date", _said_instead(number)) if number else None

    def _as_cas_number(self, cell: _Cell) -> Meaning | None:
        is_number = cas_numbers.is_cas_number(cell.folded)
        return self._of_cas_number(cell, cell.folded) if is_number else None

    def _as_abbreviation(self, cell: _Cell) -> Meaning | None:
        number = spelled_out(cell.folded)
        return self._of_cas_number(cell, number) if number != cell.folded else None

    def _as_name_in_table(self, cell: _Cell) -> Meaning | None:
        """Read a cell as a name, CAS number or InChIKey of the table."""
        forms = self.table.index.called(cell.folded)
        if len(forms) > 1:
            return cell.ambiguous(map(self.of_place, forms), _NO_STEREO_FORM)
        compound = self.in_table(cell.folded)
        return None if compound is None else cell.clear(compound)

    def _as_inchikey(self, cell: _Cell) -> Meaning | None:
        found = _INCHIKEY.fullmatch(cell.read)
        return self._of_identifier(cell, Identifier.of_inchikey(found[1])) if found else None

    def _as_smiles(self, cell: _Cell) -> Meaning | None:
        return self._of_smiles(cell, cell.read)

    def _as_formula(self, cell: _Cell) -> Meaning | None:
        """Read a cell as a formula: never one compound, for others may share it."""
        try:
            counts = parse_formula(cell.read)
        except FormulaError:
            return None
        if "C" not in counts:
            return cell.unsuitable("has no carbon")
        compounds = self.of_formula(hill_formula(counts))
        if not compounds:
            return cell.unknown("is a formula, and no compound known here has it", _HOW_TO_NAME)
        return cell.ambiguous(compounds, "is a formula, which several compounds may share")

    def _as_other_name(self, cell: _Cell) -> Meaning:
        meaning = meaning_of_name(cell.folded)
        if meaning.kind == "mixture":
            return cell.unsuitable("is sold as a mixture")
        if meaning.kind == "none":
            return cell.unknown("is not a compound known here", self._advice(cell.folded))
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

    def _advice(self, name: str) -> str:
        near = near_names(name, self._volatile_names) or near_names(name, self.table.text("name"))
        return f"Did you mean {listed(near, conjunction='or')}?" if near else _HOW_TO_NAME

    def _as_bad_number(self, cell: _Cell) -> Meaning:
        return cell.unknown("is not a CAS number; write it like 64-17-5", _said_instead(""))

    def _as_bad_smiles(self, cell: _Cell) -> Meaning:
        return cell.unknown("is not a SMILES", _said_instead(""))

    # ------------------------------------------------------------------- what was read in a cell

    def _of_cas_number(self, cell: _Cell, number: str) -> Meaning:
        if not cas_numbers.has_right_check_digit(number):
            return Meaning(cell.kind, cell.column, cell.read, wrong_digit=True)
        if (compound := self.in_table(number)) is not None:
            return cell.clear(compound)
        identifier = Identifier.of_cas(number)
        if identifier is None:
            return cell.unknown("is the CAS number of no compound known here", _HOW_TO_NAME)
        return self._of_identifier(cell, identifier)

    def _of_identifier(self, cell: _Cell, identifier: Identifier | None) -> Meaning:
        if identifier is None:
            return cell.unknown("is not a compound known here", _HOW_TO_NAME)
        if (compound := self.in_table(identifier.cas)) is not None:
            return cell.clear(compound)
        return self._of_smiles(cell, identifier.smiles, identifier) or cell.unsuitable(
            "has no structure that is known here"
        )

    def _of_smiles(
        self, cell: _Cell, smiles: str, identifier: Identifier | None = None
    ) -> Meaning | None:
        """Return what a structure means, None where it is not one."""
        from identify.chemistry.structures import is_no_bottled_liquid, read_structure

        structure = read_structure(smiles)
        if structure is None:
            reason = is_no_bottled_liquid(smiles)
            return cell.unsuitable(reason) if reason else None
        index = self.table.index
        if (place := index.row_of_structure(structure)) is not None:
            return cell.clear(self.of_place(place))
        forms = index.stereo_forms(structure)
        if len(forms) > 1 and structure.is_flat:
            return cell.ambiguous(map(self.of_place, forms), _NO_STEREO_FORM)
        melting = float("nan") if identifier is None else _melting_point(identifier.cas)
        if melting > _ROOM_TEMPERATURE:
            return cell.unsuitable(
                f"is a solid that melts at {melting - ICE_POINT:.0f} °C, and nobody has boiled it"
            )
        return cell.clear(_outside_the_table(structure, identifier))

    def _rarity(self, compound: Compound) -> float:
        if compound.place is None:
            return 1.0
        return -float(self.table.number("prior")[compound.place])


# What a cell may be read as by the kind of its column; the first that it can be is meant.
_READINGS: Mapping[str, tuple[Callable[[Identities, _Cell], Meaning | None], ...]] = {
    "identity": (
        Identities._as_date,
        Identities._as_cas_number,
        Identities._as_abbreviation,
        Identities._as_name_in_table,
        Identities._as_inchikey,
        Identities._as_smiles,
        Identities._as_formula,
        Identities._as_other_name,
    ),
    "cas": (Identities._as_date, Identities._as_cas_number, Identities._as_bad_number),
    "smiles": (Identities._as_smiles, Identities._as_bad_smiles),
    "name": (
        Identities._as_abbreviation,
        Identities._as_name_in_table,
        Identities._as_formula,
        Identities._as_other_name,
    ),
}


@dataclass(frozen=True)
class _Cell:
    """A cell on its way to a meaning."""

    kind: str
    column: str
    read: str

    @property
    def folded(self) -> str:
        """The cell as names are compared."""
        return folded_name(self.read)

    def clear(self, compound: Compound) -> Meaning:
        return Meaning(self.kind, self.column, self.read, (compound,))

    def ambiguous(self, compounds: Iterable[Compound], reason: str) -> Meaning:
        meant = tuple({compound.inchikey: compound for compound in compounds}.values())
        return self._told("identity-ambiguous", f"{reason}: {_named(meant)}.", _HOW_TO_NAME, meant)

    def usual(self, compounds: Sequence[Compound]) -> Meaning:
        first, *others = compounds
        reason = (
            f"has no mark in front of its alkyl group, and is taken for {_name(first)}, the "
            f"straight chain; some would have it mean {_named(others)}."
        )
        advice = "Write n- in front, or the CAS number."
        meaning = self._told("identity-ambiguous", reason, advice, tuple(compounds), "warning")
        return replace(meaning, is_usual=True)

    def unknown(self, reason: str, advice: str) -> Meaning:
        return self._told("identity-unknown", f"{reason}.", advice)

    def unsuitable(self, reason: str) -> Meaning:
        reason = f"{reason}: this method needs one volatile compound of carbon."
        return self._told(
            "identity-unsuitable", reason, "Take it off the list, or correct the cell."
        )

    def _told(
        self,
        code: str,
        reason: str,
        advice: str,
        compounds: tuple[Compound, ...] = (),
        severity: Severity = "error",
    ) -> Meaning:
        message = f'{self.column}: "{excerpt(self.read)}" {reason}'
        problem = Finding(code, severity, message, advice)
        return Meaning(self.kind, self.column, self.read, compounds, problem)


def _outside_the_table(structure: Structure, identifier: Identifier | None) -> Compound:
    return Compound(
        structure.smiles if identifier is None else identifier.name,
        "" if identifier is None else identifier.cas,
        structure.smiles,
        structure.inchikey,
        structure.formula,
        structure.molar_mass,
        _held(structure.percent),
    )


def _held(percent: Iterable[float]) -> dict[str, float]:
    """Return the percentages of the elements that a compound holds."""
    return {e: float(p) for e, p in zip(ELEMENTS, percent, strict=True) if p > 0.0}


def _melting_point(cas: str) -> float:
    """Return a published melting point [K], NaN where there is none."""
    from chemicals import Tm

    found = Tm(cas)
    return float("nan") if found is None else float(found)


def _said_instead(number: str) -> str:
    """Return what to do about a cell that is not the CAS number that it should be."""
    if number:
        advice = "format the cell as text, and enter it again"
        return f"A spreadsheet made a date of {number}; {advice}."
    return "Correct it, or leave the cell empty."


def _name(compound: Compound) -> str:
    return f"{compound.name} {compound.cas}".strip()


def _named(compounds: Sequence[Compound]) -> str:
    """Name compounds in a sentence, the first few of many."""
    return listed([_name(compound) for compound in compounds], _MAX_NAMES_IN_SENTENCE)
