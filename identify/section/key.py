"""The instructor's key: which compound stands in which bottle."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from identify.compounds.loading import load_candidates
from identify.compounds.search import NameFault, row_meant
from identify.compounds.table import CandidateTable
from identify.notebook.findings import Finding, listed
from identify.notebook.quantities import excerpt
from identify.section.result import KeyEntry
from identify.tables.faults import TableError
from identify.tables.stock_rows import Bottle, read_bottles

_LISTED = 8  # labels or rows that one sentence names


@dataclass(frozen=True)
class Key:
    """The key as it was read.

    Parameters
    ----------
    entries : mapping of str to KeyEntry
        By label as `folded` writes it.
    findings : tuple of Finding
        Rows that cannot be used.
    """

    entries: Mapping[str, KeyEntry] = field(default_factory=lambda: MappingProxyType({}))
    findings: tuple[Finding, ...] = ()

    def of(self, label: str) -> KeyEntry | None:
        """Return what the key says of a bottle, None where it says nothing."""
        return self.entries.get(folded(label))

    def compared(self, labels: Sequence[str]) -> Iterator[Finding]:
        """Yield what the key lacks of a section's labels, and what nobody worked on."""
        if not self.entries:
            return
        known = {folded(label) for label in labels}
        lacking = list(dict.fromkeys(label for label in labels if self.of(label) is None))
        idle = [entry.label for label, entry in self.entries.items() if label not in known]
        if lacking:
            yield Finding(
                "label-not-in-key",
                "note",
                f"The key has no bottle {some([*map(excerpt, lacking)])}; what was measured there "
                "is compared with nothing.",
                "Look whether the label is written as on the bottle, or add it to the key.",
                {"labels": float(len(lacking))},
            )
        if idle:
            yield Finding(
                "key-not-used",
                "note",
                f"Nobody worked on bottle {some([*map(excerpt, idle)])} of the key.",
                "Nothing to do, unless somebody should have.",
                {"labels": float(len(idle))},
            )


def folded(label: str) -> str:
    """Return a label as labels are compared: without case, and without spaces around it.

    Examples
    --------
    >>> folded(" d-02 ") == folded("D-02")
    True
    """
    return " ".join(label.split()).casefold()


def some(words: Sequence[str], most: int = _LISTED) -> str:
    """Join words for a sentence, a long list cut short.

    Examples
    --------
    >>> some(["1", "2", "3", "4"], 2)
    '1, 2 and 2 more'
    """
    if len(words) > most:
        return f"{', '.join(words[:most])} and {len(words) - most} more"
    return listed(words)


def sentence(text: str) -> str:
    """Return a text with a full stop, where it does not end with a mark already."""
    return text if text.endswith((".", "?")) else f"{text}."


def read_key(path: Path, table: CandidateTable) -> Key:
    """Read a key: a stock table with columns ``label`` and ``identity``.

    Parameters
    ----------
    path : Path
        CSV or XLSX.
    table : CandidateTable
        That the section is matched against.

    Returns
    -------
    Key
        Rows that cannot be used are findings.

    Raises
    ------
    TableError
        If there is no such file, or it holds no usable row.
    """
    if not path.exists():
        raise TableError(f"{path}: there is no such file")
    faults: list[str] = []
    bottles = read_bottles(path, faults)
    compounds = _Compounds(table)
    entries: dict[str, KeyEntry] = {}
    for bottle in bottles:
        try:
            entry = compounds.entry(bottle)
            earlier = entries.setdefault(folded(entry.label), entry)
            if earlier.inchikey != entry.inchikey:
                raise bottle.fault(
                    "label",
                    f'"{excerpt(entry.label)}" stands in the key twice, with {earlier.name} and '
                    f"with {entry.name}; the first was used, correct one of them",
                )
        except TableError as fault:
            faults.append(str(fault))
    if not entries:
        raise TableError(*(faults or [f"{path}: has no rows below its column names"]))
    return Key(entries, tuple(_unusable(fault) for fault in faults))


def _unusable(fault: str) -> Finding:
    return Finding(
        "key-row-unusable",
        "warning",
        sentence(fault),
        "Correct that row of the key; its bottle is compared with nothing until then.",
    )


class _Compounds:
    """Identities of a key, each looked up once."""

    def __init__(self, table: CandidateTable) -> None:
        self.table = table
        self.built_in = load_candidates()
        self._places = _places(table)
        self._known = self._places if table is self.built_in else _places(self.built_in)

    def entry(self, bottle: Bottle) -> KeyEntry:
        """Return a bottle's entry.

        Raises
        ------
        TableError
            If it has no label, or its identity means no compound or several.
        """
        label, identity = bottle.text("label"), next(iter(bottle.identities.values()), "")
        if not label:
            raise bottle.fault("label", "is empty; write the bottle's label")
        if not identity:
            raise bottle.fault("identity", "is empty; give a name, a CAS number or a SMILES")
        for table, places in ((self.table, self._places), (self.built_in, self._known)):
            place = places.get(identity.casefold())
            if place is not None:
                return self._of(label, table, place)
        try:
            return self._of(label, self.built_in, row_meant(self.built_in, identity))
        except NameFault as fault:
            unknown = self._from_structure(label, identity)
            if unknown is None:
                raise bottle.fault("identity", str(fault)) from None
            return unknown

    def _of(self, label: str, table: CandidateTable, row: int) -> KeyEntry:
        name, cas, inchikey = (table.text(column)[row] for column in ("name", "cas", "inchikey"))
        place = row if table is self.table else self._places.get(inchikey.casefold())
        return KeyEntry(label, name, cas, inchikey, float(table.number("molar_mass")[row]), place)

    def _from_structure(self, label: str, smiles: str) -> KeyEntry | None:
        """Return the entry of a compound that no table has, where its structure is given."""
        from identify.chemistry.structures import read_structure

        structure = read_structure(smiles)
        if structure is None:
            return None
        place = self._places.get(structure.inchikey.casefold())
        if place is not None:
            return self._of(label, self.table, place)
        return KeyEntry(label, smiles, "", structure.inchikey, structure.molar_mass, None)


def _places(table: CandidateTable) -> dict[str, int]:
    places: dict[str, int] = {}
    for column in ("name", "cas", "inchikey"):
        for place, text in enumerate(table.text(column)):
            if text:
                places.setdefault(text.casefold(), place)
    return places
