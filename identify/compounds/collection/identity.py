"""Which compound a record is, and whether a bottle of volatile liquid could hold it at all.

Formulas repeat in a collection where structures do not, so that each is taken apart once.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from rdkit import Chem
from rdkit.Chem import rdMolDescriptors, rdqueries

from identify.chemistry.cas_numbers import has_right_check_digit
from identify.chemistry.structures import Structure, atomic_weights
from identify.compounds.naming.lookup import row_of
from identify.compounds.naming.meaning import Compound
from identify.compounds.naming.resolver import Kind, built_in_resolver
from identify.compounds.table import CandidateTable
from identify.notebook.quantity.quantities import excerpt
from identify.physics.constants import ELEMENTS
from identify.tables.structures.source import UNREADABLE, Record

_ATOMS = re.compile(r"([A-Z][a-z]?|\*)(\d*)")
_CHARGE = re.compile(r"[+-]\d*$")
_ISOTOPE = re.compile(r"\[\d+([A-Z][a-z]?)\]")
_MAX_SMILES_LENGTH = 1000  # characters
_IN_THE_TABLE = frozenset(ELEMENTS)
_HEAVIEST = 1e4  # g/mol, as the table of candidates bounds it; nothing of that mass boils
_AROMATIC = frozenset("bcnops")  # Cl and Br have none of these
_READING = (
    Chem.SanitizeFlags.SANITIZE_CLEANUP
    | Chem.SanitizeFlags.SANITIZE_PROPERTIES
    | Chem.SanitizeFlags.SANITIZE_KEKULIZE
    | Chem.SanitizeFlags.SANITIZE_FINDRADICALS
)
_UNPAIRED = rdqueries.NumRadicalElectronsGreaterQueryAtom(0)


@dataclass(frozen=True)
class _FormulaFacts:
    """What follows from a formula.

    Parameters
    ----------
    formula : str
        In Hill order, without marks of isotopes.
    molar_mass : float
        In g/mol.
    percent : tuple of 12 float
        Percent by mass of each of ``ELEMENTS``. No array: there are many of these, and arrays that
        stay would lie among the atoms of molecules, and keep their memory in small pieces.
    unsuitable : str
        Why no bottle of volatile liquid holds it, empty where one may.
    """

    formula: str
    molar_mass: float
    percent: tuple[float, ...]
    unsuitable: str


@lru_cache(maxsize=100_000)
def _formula_facts(marked: str) -> _FormulaFacts:
    """Take a formula apart.

    Parameters
    ----------
    marked : str
        With isotopes in brackets, and the charge behind.

    Examples
    --------
    >>> _formula_facts("C2H6O").molar_mass.__round__(3)
    46.069
    >>> [_formula_facts(one).unsuitable for one in ("H2O", "C2H3O2-", "CH3[2H]", "C2H6Se")]
    ['has no carbon', 'is an ion', 'is labeled with isotopes', \
'has Se in it, which is not an element of the table']
    """
    plain = _ISOTOPE.sub(r"\1", marked) if "[" in marked else marked
    counts: dict[str, int] = {}
    for element, count in _ATOMS.findall(_CHARGE.sub("", plain)):
        counts[element] = counts.get(element, 0) + int(count or 1)
    masses = [weight * counts.get(element, 0) for element, weight in atomic_weights().items()]
    molar_mass = sum(masses)
    share = 100.0 / max(molar_mass, 1e-9)
    percent = tuple(share * mass for mass in masses)
    return _FormulaFacts(plain, molar_mass, percent, _reason(marked, counts, molar_mass))


def _reason(marked: str, counts: dict[str, int], molar_mass: float) -> str:
    if "C" not in counts:
        return "has no carbon"
    if strange := sorted(counts.keys() - _IN_THE_TABLE):
        what = "a place holder" if strange[0] == "*" else strange[0]
        return f"has {what} in it, which is not an element of the table"
    if "[" in marked:
        return "is labeled with isotopes"
    if _CHARGE.search(marked):
        return "is an ion"
    if molar_mass > _HEAVIEST:
        return f"has a molar mass above {_HEAVIEST:.0f} g/mol; nothing of that mass boils"
    return ""


def _read_formula(smiles: str) -> tuple[Any, str] | None:
    """Return a SMILES as a molecule of which little is known, and its formula.

    Reads as much of it as valences, bonds and unpaired electrons need, which is half of the whole:
    no rings, no aromaticity, no stereo marks. None where it cannot be read.
    """
    mol = Chem.MolFromSmiles(smiles, sanitize=False)
    if mol is None:
        return None
    try:
        if "[" not in smiles and _AROMATIC.isdisjoint(smiles):
            mol.UpdatePropertyCache(strict=True)
        else:
            Chem.SanitizeMol(mol, _READING)
    except ValueError:  # what is unusual, such as a nitro group with two double bonds, in full
        mol = Chem.MolFromSmiles(smiles)
        if mol is None:
            return None
    return mol, _marked_formula(mol)


def _connectivity(mol: Any) -> int:
    """Return a number that the same compound always has, and isomers seldom share.

    In millionths: the first-order valence _connectivity index, which needs no rings. Kier, L. B.;
    Hall, L. H. Molecular Connectivity in Structure-Activity Analysis, 1986.
    """
    return round(1e6 * rdMolDescriptors.CalcChi1n(mol))


def _marked_formula(mol: Any) -> str:
    """Return the formula of a molecule, isotopes marked."""
    return str(rdMolDescriptors.CalcMolFormula(mol, True, False))


def _is_radical(mol: Any) -> bool:
    """Whether an atom of a molecule has an unpaired electron."""
    return len(mol.GetAtomsMatchingQuery(_UNPAIRED)) > 0


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
    facts : _FormulaFacts
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
    facts: _FormulaFacts
    smiles: str
    inchikey: str = ""
    mol: Any = None
    row: int | None = None
    celsius: float = float("nan")
    remark: str = ""

    def checked_cas(self, known: str, others: Mapping[str, str]) -> str:
        """Return the CAS number for the row, with a remark where the file's is another.

        Parameters
        ----------
        known : str
            The built-in table's, empty where it has none.
        others : mapping of str to str
            Names of the built-in table's compounds, by CAS number.
        """
        given = self.record.cas
        if not given or given == known:
            return known
        if not has_right_check_digit(given):
            self.remark = f"CAS number {excerpt(given)} is none: its check digit is wrong; left out"
        elif known:
            self.remark = f"CAS number {given} is given, {known} is the table's; the latter stands"
        elif given in others:
            self.remark = f"CAS number {given} is that of {others[given]}; left out"
        else:
            return given
        return known


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
        self._resolved = lru_cache(maxsize=10_000)(_resolve)

    def identified(self, record: Record) -> IdentifiedRecord:
        """Return what a record is.

        Raises
        ------
        RefusedError
            If it cannot be read, or nothing that boils out of a flask.
        """
        smiles = _smiles_of_block(record) if record.block else record.smiles
        if len(smiles) > _MAX_SMILES_LENGTH:
            raise RefusedError(
                _UNSUITABLE,
                smiles,
                f"is a SMILES of {len(smiles)} characters, more than {_MAX_SMILES_LENGTH}: nothing "
                "of that size boils",
            )
        if not smiles:
            return self._by_name(record)
        if self.quick and "." not in smiles:
            return self._as_written(record, smiles)
        return self._in_full(record, smiles)

    def _as_written(self, record: Record, smiles: str) -> IdentifiedRecord:
        read = _read_formula(smiles)
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
            read = (_read_formula(written[row]) for row in rows)
            known = frozenset(_connectivity(one[0]) for one in read if one is not None)
            self._connected[formula] = known
        return _connectivity(mol) in known

    def _in_full(self, record: Record, smiles: str) -> IdentifiedRecord:
        mol = Chem.MolFromSmiles(smiles)
        if mol is None:
            raise _unreadable(smiles)
        if "." in smiles:
            raise RefusedError(_UNSUITABLE, smiles, "is a salt or mixture")
        facts = _suitable(mol, _marked_formula(mol), smiles)
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
        if field == "inchi":
            return self._in_full(record, _smiles_of_inchi(text))
        compound = self._resolved(text, "cas" if field == "cas" else "identity")
        if isinstance(compound, RefusedError):
            raise compound
        if (row := row_of(self._table, compound)) is not None:
            facts = _formula_facts(compound.formula)
            return IdentifiedRecord(record, facts, compound.smiles, compound.inchikey, row=row)
        return self._in_full(record._replace(cas=record.cas or compound.cas), compound.smiles)


def _resolve(text: str, kind: Kind) -> Compound | RefusedError:
    """Return the compound that a name or a CAS number means, or why it cannot be used."""
    meaning = built_in_resolver().meaning(text, kind)
    if meaning.is_clear:
        return meaning.compounds[0]
    assert meaning.problem is not None
    is_unsuitable = meaning.problem.code == "identity-unsuitable"
    return RefusedError(_UNSUITABLE if is_unsuitable else UNREADABLE, text, meaning.problem.reason)


def _smiles_of_inchi(text: str) -> str:
    mol = Chem.MolFromInchi(text) if text.startswith("InChI=") else None
    if mol is None:
        raise RefusedError(UNREADABLE, text, "is not an InChI that can be read")
    return str(Chem.MolToSmiles(mol))


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


def _suitable(mol: Any, marked: str, smiles: str) -> _FormulaFacts:
    """Return what follows from a formula, and refuse what no bottle of volatile liquid holds."""
    facts = _formula_facts(marked)
    if facts.unsuitable:
        raise RefusedError(_UNSUITABLE, smiles, facts.unsuitable)
    if "[" in smiles and _is_radical(mol):
        raise RefusedError(_UNSUITABLE, smiles, "is a radical")
    return facts
