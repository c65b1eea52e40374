"""Which compound a record is: its structure, and its row in the built-in table if it has one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from rdkit import Chem

from identify.chemistry.structures import Structure
from identify.compounds.collection.suitability import (
    LONGEST_SMILES,
    FormulaFacts,
    composition,
    connectivity,
    is_radical,
    marked_formula,
    read_formula,
)
from identify.compounds.name_lookup import UnknownName, looked_up
from identify.compounds.places import Places
from identify.compounds.table import CandidateTable
from identify.notebook.quantities import excerpt
from identify.tables.structures.source import UNREADABLE, Record

UNSUITABLE = "no volatile liquid"
SALT = "salt or mixture"


class RefusedError(Exception):
    """A record that is set aside: kind, what was read, why."""

    def __init__(self, kind: str, read: str, reason: str) -> None:
        super().__init__(kind, read, reason)
        self.kind, self.read, self.reason = kind, read, reason


@dataclass(slots=True)
class IdentifiedRecord:
    """What a record was found to be.

    Parameters
    ----------
    record : Record
    composition : FormulaFacts
    smiles : str
        Canonical; as it is written where only the formula was read.
    inchikey : str
        Empty where it was not worked out.
    mol : rdkit.Chem.Mol or None
    place : int
        Row of the built-in table, -1 where it has none.
    celsius : float
        Boiling point that the file gives [degrees Celsius], NaN where none.
    remark : str
        What of the record is not used though the compound is.
    """

    record: Record
    composition: FormulaFacts
    smiles: str
    inchikey: str = ""
    mol: Any = None
    place: int = -1
    celsius: float = float("nan")
    remark: str = ""


class RecordIdentities:
    """Finds out which compound a record is.

    Parameters
    ----------
    table : CandidateTable
        The built-in one.
    quick : bool
        Whether to take SMILES as they are written: read no more than formula and valences, and
        leave InChIKeys out but for compounds that the table may hold.
    """

    def __init__(self, table: CandidateTable, quick: bool) -> None:
        self.quick = quick
        self._table = table
        self._places = Places(table)
        self._by_formula: dict[str, list[int]] = {}
        for place, formula in enumerate(table.text("formula")):
            self._by_formula.setdefault(formula, []).append(place)
        self._connected: dict[str, frozenset[int]] = {}
        self._by_smiles = {smiles: place for place, smiles in enumerate(table.text("smiles"))}
        # Names repeat: synonyms, and the same supplier's list twice.
        self._resolved = lru_cache(maxsize=10_000)(self._resolve)

    def compound(self, record: Record) -> IdentifiedRecord:
        """Return what a record is.

        Raises
        ------
        RefusedError
            If it cannot be read, or is nothing that boils out of a flask.
        """
        smiles = record.smiles
        if record.block:
            mol = Chem.MolFromMolBlock(record.block)
            if mol is None and not (record.cas or record.inchi):
                read = record.name or record.block[:40]
                raise RefusedError(UNREADABLE, read, "is no structure that can be read")
            smiles = Chem.MolToSmiles(mol) if mol is not None else ""
        if len(smiles) > LONGEST_SMILES:
            raise RefusedError(
                UNSUITABLE,
                smiles,
                f"is a SMILES of {len(smiles)} characters, more than {LONGEST_SMILES}: nothing of "
                "that size boils",
            )
        if not smiles:
            return self._resolved_compound(record)
        if self.quick and "." not in smiles:
            return self._as_written(record, smiles)
        return self._in_full(record, smiles)

    def _as_written(self, record: Record, smiles: str) -> IdentifiedRecord:
        read = read_formula(smiles)
        if read is None:
            raise _unreadable(smiles)
        mol, marked = read
        found = _suitable(marked, smiles)
        if "[" in smiles and is_radical(mol):
            raise _radical(smiles)
        if not self._may_be_known(found.formula, mol):
            return IdentifiedRecord(record, found, smiles)
        if "[" in smiles:  # may say the same in other words: mirror images, charges
            return self._in_full(record, smiles)
        place = self._by_smiles.get(str(Chem.MolToSmiles(Chem.MolFromSmiles(smiles))), -1)
        return IdentifiedRecord(record, found, smiles, place=place)

    def _may_be_known(self, formula: str, mol: Any) -> bool:
        """Whether the table has one so connected: others are not worth a canonical SMILES."""
        places = self._by_formula.get(formula)
        if places is None:
            return False
        known = self._connected.get(formula)
        if known is None:
            written = self._table.text("smiles")
            read = (read_formula(written[place]) for place in places)
            known = frozenset(connectivity(one[0]) for one in read if one is not None)
            self._connected[formula] = known
        return connectivity(mol) in known

    def _in_full(self, record: Record, smiles: str) -> IdentifiedRecord:
        if "." in smiles:
            if Chem.MolFromSmiles(smiles) is None:
                raise _unreadable(smiles)
            raise RefusedError(UNSUITABLE, smiles, f"is a {SALT}")
        mol = Chem.MolFromSmiles(smiles)
        if mol is None:
            raise _unreadable(smiles)
        found = _suitable(marked_formula(mol), smiles)
        if "[" in smiles and is_radical(mol):
            raise _radical(smiles)
        canonical = str(Chem.MolToSmiles(mol))
        compound = IdentifiedRecord(record, found, canonical, mol=mol)
        in_question = found.formula in self._by_formula
        if in_question or not self.quick:
            compound.inchikey = str(Chem.MolToInchiKey(mol))
        if in_question:
            compound.place = self._place(compound)
        return compound

    def _place(self, compound: IdentifiedRecord) -> int:
        structure = Structure(compound.smiles)
        structure.__dict__["mol"] = compound.mol  # read already
        structure.__dict__["inchikey"] = compound.inchikey
        place = self._places.of_structure(structure)
        return -1 if place is None else place

    def _resolved_compound(self, record: Record) -> IdentifiedRecord:
        """Find a compound by InChI, CAS number or name, the first that is given."""
        field = next((one for one in ("inchi", "cas", "name") if getattr(record, one)), "")
        if not field:
            raise RefusedError(UNREADABLE, "", "says nothing of which compound it is")
        text = getattr(record, field)
        found = self._resolved(field, text)
        if isinstance(found, str):
            raise RefusedError(UNREADABLE, text, found)
        smiles, cas, place = found
        record = record._replace(cas=record.cas or cas)
        if place < 0:
            return self._in_full(record, smiles)
        table = self._table
        known = composition(table.text("formula")[place])
        return IdentifiedRecord(
            record,
            known,
            table.text("smiles")[place],
            inchikey=table.text("inchikey")[place],
            place=place,
        )

    def _resolve(self, field: str, text: str) -> tuple[str, str, int] | str:
        """Return SMILES, CAS number and row of the built-in table; or why there are none."""
        if field == "inchi":
            mol = Chem.MolFromInchi(text) if text.startswith("InChI=") else None
            if mol is None:
                return "is no InChI that can be read"
            return str(Chem.MolToSmiles(mol)), "", -1
        place = self._places.of_name(text)
        if place is not None:
            return "", "", place
        try:
            found = looked_up(text)
        except UnknownName as unknown:
            return str(unknown)
        place = self._places.of_name(found.cas)
        if place is None and not found.smiles:
            return "is known by name only; give its SMILES"
        return found.smiles, found.cas, -1 if place is None else place


def _unreadable(smiles: str) -> RefusedError:
    return RefusedError(UNREADABLE, smiles, "is no SMILES that can be read")


def _radical(smiles: str) -> RefusedError:
    return RefusedError(UNSUITABLE, smiles, "is a radical")


def _suitable(marked: str, smiles: str) -> FormulaFacts:
    found = composition(marked)
    if found.unsuitable:
        raise RefusedError(UNSUITABLE, smiles, found.unsuitable)
    return found


def checked_cas(compound: IdentifiedRecord, known: str, others: Mapping[str, str]) -> str:
    """Return the CAS number for a compound's row, with a remark where the file's is another.

    Parameters
    ----------
    compound : IdentifiedRecord
    known : str
        The built-in table's, empty where it has none.
    others : mapping of str to str
        Names of the built-in table's compounds, by CAS number.
    """
    given = compound.record.cas
    if not given or given == known:
        return known
    from chemicals.identifiers import check_CAS

    if not check_CAS(given):
        compound.remark = f"CAS number {excerpt(given)} is none: its check digit is wrong; left out"
    elif known:
        compound.remark = f"CAS number {given} is given, {known} is the table's; the latter stands"
    elif given in others:
        compound.remark = f"CAS number {given} is that of {others[given]}; left out"
    else:
        return given
    return known
