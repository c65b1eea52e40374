"""The instructor's key: which compound stands in which bottle."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from identify.compounds.loading import load_candidates
from identify.compounds.naming.lookup import NameFault, compound_of, row_of
from identify.compounds.table import CandidateTable
from identify.notebook.findings import Finding, listed
from identify.notebook.quantity.quantities import excerpt
from identify.section.result import KeyRow
from identify.section.wording import sentence
from identify.tables.faults import TableError
from identify.tables.stock_rows import StockBottle, read_stock_sheet

if TYPE_CHECKING:
    import pandas as pd

_MAX_LABELS_IN_SENTENCE = 8


@dataclass(frozen=True)
class Key:
    """The key as it was read.

    Parameters
    ----------
    rows : mapping of str to KeyRow
        By label as `folded_label` writes it.
    findings : tuple of Finding
        Rows that cannot be used.
    told : str
        What its headings were taken for, in one line; empty where there is nothing to say.
    """

    rows: Mapping[str, KeyRow] = field(default_factory=lambda: MappingProxyType({}))
    findings: tuple[Finding, ...] = ()
    told: str = ""

    def of(self, label: str) -> KeyRow | None:
        """Return what the key says of a bottle, None where it says nothing."""
        return self.rows.get(folded_label(label))

    def compared(self, labels: Sequence[str]) -> Iterator[Finding]:
        """Yield which of a section's labels the key lacks, and which of its own nobody used."""
        if not self.rows:
            return
        used = {folded_label(label) for label in labels}
        lacking = list(dict.fromkeys(label for label in labels if self.of(label) is None))
        idle = [row.label for label, row in self.rows.items() if label not in used]
        if lacking:
            yield Finding(
                "label-not-in-key",
                "note",
                f"The key has no bottle {_labels(lacking)}; what was measured there is compared "
                "with nothing.",
                "Look whether the label is written as on the bottle, or add it to the key.",
                {"labels": float(len(lacking))},
            )
        if idle:
            yield Finding(
                "key-not-used",
                "note",
                f"Nobody worked on bottle {_labels(idle)} of the key.",
                "Nothing to do, unless somebody should have.",
                {"labels": float(len(idle))},
            )


def folded_label(label: str) -> str:
    """Return a label as labels are compared: without case, and without spaces around it.

    Examples
    --------
    >>> folded_label(" d-02 ") == folded_label("D-02")
    True
    """
    return " ".join(label.split()).casefold()


def _labels(labels: Sequence[str]) -> str:
    return listed([excerpt(label) for label in labels], _MAX_LABELS_IN_SENTENCE)


def read_key(source: Path | pd.DataFrame, table: CandidateTable) -> Key:
    """Read a key: a stock table (CSV, XLSX) with columns ``label`` and ``identity``.

    Parameters
    ----------
    source : Path or pandas.DataFrame
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
    if isinstance(source, Path) and not source.exists():
        raise TableError(f"{source}: there is no such file")
    sheet = read_stock_sheet(source)
    faults = [str(fault) for fault in sheet.faults]
    rows: dict[str, KeyRow] = {}
    for bottle in sheet.bottles:
        try:
            row = _key_row(bottle, table)
            earlier = rows.setdefault(folded_label(row.label), row)
            if earlier.inchikey != row.inchikey:
                raise bottle.fault(
                    "label",
                    f'"{excerpt(row.label)}" stands in the key twice, with {earlier.name} and '
                    f"with {row.name}; the first was used, correct one of them",
                )
        except TableError as fault:
            faults.append(str(fault))
    if not rows:
        raise TableError(*(faults or [f"{sheet.file}: has no rows below its column names"]))
    told = sheet.headings.line(sheet.file)
    return Key(rows, tuple(_unusable(fault) for fault in faults), told)


def _unusable(fault: str) -> Finding:
    return Finding(
        "key-row-unusable",
        "warning",
        sentence(fault),
        "Correct that row of the key; its bottle is compared with nothing until then.",
    )


def _key_row(bottle: StockBottle, table: CandidateTable) -> KeyRow:
    """Return what a row of the key says.

    Raises
    ------
    TableError
        If it has no label, or its identity means no compound or several.
    """
    label, identities = bottle.text("label"), bottle.identities
    if not label:
        raise bottle.fault("label", "is empty; write the bottle's label")
    own = table.index.written_so(next(iter(identities.values()), ""))
    if len(own) == 1 and table is not load_candidates():
        return _of_row(label, table, own[0])
    try:
        compound = compound_of(identities)
    except NameFault as fault:
        raise bottle.fault(fault.column, str(fault)) from None
    row = row_of(table, compound)
    if row is not None:
        return _of_row(label, table, row)
    return KeyRow(label, compound.name, compound.cas, compound.inchikey, compound.molar_mass, None)


def _of_row(label: str, table: CandidateTable, row: int) -> KeyRow:
    """Return what the key says with a row of the table."""
    name, cas, inchikey = (table.text(column)[row] for column in ("name", "cas", "inchikey"))
    return KeyRow(label, name, cas, inchikey, float(table.number("molar_mass")[row]), row)
