"""Which compound a record is: its structure, and its row in the built-in table if it has one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from rdkit import Chem

from identify.chemistry.cas_numbers import has_right_check_digit
from identify.chemistry.structures import Structure
from identify.compounds.collection.suitability import (
    MAX_SMILES_LENGTH,
    FormulaFacts,
    connectivity,
    formula_facts,
    is_radical,
    marked_formula,
    read_formula,
)
from identify.compounds.names import UnknownName
from identify.compounds.search import row_or_identifier
from identify.compounds.table import CandidateTable
from identify.notebook.quantities import excerpt
from identify.tables.structures.source import UNREADABLE, Record

_UNSUITABLE = "no volatile liquid"


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
    facts : FormulaFacts
    smiles : str
        Canonical; as it is written where only the formula was read.
    inchikey : str
        Empty where it was not worked out.
    mol : rdkit.Chem.Mol or None
    row : int or None
        Of the built-in table, None where it has none.
    celsius : float
        Boiling point that the file gives [degrees Celsius], NaN where none.
    remark : str
        What of the record is not used though the compound is.
    """

    record: Record
    facts: FormulaFacts
    smiles: str
    inchikey: str = ""
    mol: Any = None
    row: int | None = None
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
        self._connected: dict[str, frozenset[int]] = {}
        # Names repeat: synonyms, and the same supplier's list twice.
        self._resolved = lru_cache(maxsize=10_000)(self._resolve)

    def identified(self, record: Record) -> IdentifiedRecord:
        """Return what a record is.

        Raises
        ------
        RefusedError
            If it cannot be read, or nothing that boils out of a flask.
        """
        smiles = _smiles_of_block(record) if record.block else record.smiles
        if len(smiles) > MAX_SMILES_LENGTH:
            raise RefusedError(
                _UNSUITABLE,
                smiles,
                f"is a SMILES of {len(smiles)} characters, more than {MAX_SMILES_LENGTH}: nothing "
                "of that size boils",
            )
        if not smiles:
            return self._by_name(record)
        if self.quick and "." not in smiles:
            return self._as_written(record, smiles)
        return self._in_full(record, smiles)

    def _as_written(self, record: Record, smiles: str) -> IdentifiedRecord:
        read = read_formula(smiles)
        if read is None:
            raise _unreadable(smiles)
        mol, marked = read
        facts = _suitable(mol, marked, smiles)
        if not self._may_be_known(facts.formula, mol):
            return IdentifiedRecord(record, facts, smiles)
        if "[" in smiles:  # may say the same in other words: mirror images, charges
            return self._in_full(record, smiles)
        rows = self._table.index.smiles.get(str(Chem.MolToSmiles(Chem.MolFromSmiles(smiles))))
        return IdentifiedRecord(record, facts, smiles, row=rows[0] if rows else None)

    def _may_be_known(self, formula: str, mol: Any) -> bool:
        """Whether the table has one so connected: others are not worth a canonical SMILES."""
        rows = self._table.index.formulas.get(formula)
        if rows is None:
            return False
        known = self._connected.get(formula)
        if known is None:
            written = self._table.text("smiles")
            read = (read_formula(written[row]) for row in rows)
            known = frozenset(connectivity(one[0]) for one in read if one is not None)
            self._connected[formula] = known
        return connectivity(mol) in known

    def _in_full(self, record: Record, smiles: str) -> IdentifiedRecord:
        mol = Chem.MolFromSmiles(smiles)
        if mol is None:
            raise _unreadable(smiles)
        if "." in smiles:
            raise RefusedError(_UNSUITABLE, smiles, "is a salt or mixture")
        facts = _suitable(mol, marked_formula(mol), smiles)
        found = IdentifiedRecord(record, facts, str(Chem.MolToSmiles(mol)), mol=mol)
        is_formula_known = facts.formula in self._table.index.formulas
        if is_formula_known or not self.quick:
            found.inchikey = str(Chem.MolToInchiKey(mol))
        if is_formula_known:
            structure = Structure(found.smiles)
            structure.__dict__.update(mol=mol, inchikey=found.inchikey)  # found already
            found.row = self._table.index.row_of_structure(structure)
        return found

    def _by_name(self, record: Record) -> IdentifiedRecord:
        """Find a compound by InChI, CAS number or name, the first that is given."""
        field = next((one for one in ("inchi", "cas", "name") if getattr(record, one)), "")
        if not field:
            raise RefusedError(UNREADABLE, "", "says nothing of which compound it is")
        text = getattr(record, field)
        found = self._resolved(field == "inchi", text)
        if isinstance(found, UnknownName):
            raise RefusedError(UNREADABLE, text, str(found))
        if isinstance(found, int):
            column = self._table.text
            facts = formula_facts(column("formula")[found])
            inchikey = column("inchikey")[found]
            return IdentifiedRecord(record, facts, column("smiles")[found], inchikey, row=found)
        smiles, cas = found
        return self._in_full(record._replace(cas=record.cas or cas), smiles)

    def _resolve(self, is_inchi: bool, text: str) -> int | tuple[str, str] | UnknownName:
        """Return the row of the built-in table, else SMILES and CAS number, or why neither."""
        if is_inchi:
            mol = Chem.MolFromInchi(text) if text.startswith("InChI=") else None
            if mol is None:
                return UnknownName("is not an InChI that can be read")
            return str(Chem.MolToSmiles(mol)), ""
        try:
            found = row_or_identifier(self._table, text)
        except UnknownName as unknown:
            return unknown
        if isinstance(found, int):
            return found
        return (found.smiles, found.cas) if found.smiles else _NO_STRUCTURE


_NO_STRUCTURE = UnknownName("is known by name only; give its SMILES")


def _smiles_of_block(record: Record) -> str:
    """Return the SMILES of a record's molecule, empty where only its names can be read."""
    mol = Chem.MolFromMolBlock(record.block)
    if mol is not None:
        return str(Chem.MolToSmiles(mol))
    if record.cas or record.inchi:
        return ""
    read = record.name or record.block[:40]
    raise RefusedError(UNREADABLE, read, "is not a structure that can be read")


def _unreadable(smiles: str) -> RefusedError:
    return RefusedError(UNREADABLE, smiles, "is not a SMILES that can be read")


def _suitable(mol: Any, marked: str, smiles: str) -> FormulaFacts:
    """Return what follows from a formula, and refuse what no bottle of volatile liquid holds."""
    facts = formula_facts(marked)
    if facts.unsuitable:
        raise RefusedError(_UNSUITABLE, smiles, facts.unsuitable)
    if "[" in smiles and is_radical(mol):
        raise RefusedError(_UNSUITABLE, smiles, "is a radical")
    return facts


def checked_cas(found: IdentifiedRecord, known: str, others: Mapping[str, str]) -> str:
    """Return the CAS number for a compound's row, with a remark where the file's is another.

    Parameters
    ----------
    found : IdentifiedRecord
    known : str
        The built-in table's, empty where it has none.
    others : mapping of str to str
        Names of the built-in table's compounds, by CAS number.
    """
    given = found.record.cas
    if not given or given == known:
        return known
    if not has_right_check_digit(given):
        found.remark = f"CAS number {excerpt(given)} is none: its check digit is wrong; left out"
    elif known:
        found.remark = f"CAS number {given} is given, {known} is the table's; the latter stands"
    elif given in others:
        found.remark = f"CAS number {given} is that of {others[given]}; left out"
    else:
        return given
    return known
