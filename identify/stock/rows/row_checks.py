"""Each row of a stock table: which compound it is, and whether what it states is that one's."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from identify.bench.laboratory import Laboratory
from identify.compounds.identities import Compound, Identities
from identify.notebook.findings import Finding, listed, worst_first
from identify.stock.result import Change, StockRow
from identify.stock.rows.boiling_points import BoilingPointChecks
from identify.stock.rows.cell_writer import CellWriter
from identify.stock.rows.composition import CompositionChecks
from identify.stock.rows.duplicates import Duplicates
from identify.stock.rows.identity import RowIdentity, row_identity
from identify.stock.rows.stated_values import StatedValues, unreadable
from identify.tables.faults import TableError
from identify.tables.stock_rows import Bottle, StockSheet, read_stock_sheet

_NAMED = 3  # compounds in a sentence


class CheckedRows(NamedTuple):
    """The rows of a stock table, checked one by one.

    Parameters
    ----------
    rows : tuple of StockRow
        Every row of the file that holds anything, in its order.
    findings : tuple of Finding
        On the columns of the table.
    """

    rows: tuple[StockRow, ...]
    findings: tuple[Finding, ...] = ()


def checked_rows(path: Path, laboratory: Laboratory) -> CheckedRows:
    """Check every row of a stock table.

    Parameters
    ----------
    path : Path
        CSV (comma, semicolon or tab) or XLSX. Columns ``label``; ``identity``, ``cas``, ``smiles``
        or ``name``; then any of ``formula``, ``molar_mass``, ``boiling_point_C``,
        ``boiling_point_at_mmHg`` (also the word ``laboratory``), ``percent_C`` and so on.
    laboratory : Laboratory
        Where the class works.

    Returns
    -------
    CheckedRows

    Raises
    ------
    TableError
        If there is no table, no column that says which compound it is, or no row below it.
    """
    sheet = read_stock_sheet(path)
    findings = [
        Finding("column-not-read", "warning", f"{fault.column}: {fault.advice}.", "Rename it.")
        for fault in sheet.faults
        if fault.row == sheet.header_row and fault.column
    ]
    lost = [fault for fault in sheet.faults if not fault.column]
    if not sheet.bottles and not lost:
        raise TableError(f"{path}: has no rows below its column names")
    if "label" not in sheet.columns:
        findings.append(_label_missing("The table has no column named label."))
    rows = [
        StockRow(fault.row or 0, "", "", None, (_row_unreadable(fault.advice),)) for fault in lost
    ]
    checker = _Checker(sheet, laboratory)
    rows += [checker.row(bottle) for bottle in sheet.bottles]
    return CheckedRows(tuple(sorted(rows, key=lambda row: row.row)), tuple(findings))


class _Checker:
    """Checks rows one after the other."""

    def __init__(self, sheet: StockSheet, laboratory: Laboratory) -> None:
        self.laboratory = laboratory
        self.has_labels = "label" in sheet.columns
        self.identities = Identities()
        self.pen = CellWriter.of(sheet.bottles)
        self.boiling_points = BoilingPointChecks(self.identities, laboratory)
        self.compositions = CompositionChecks(self.identities, self.pen)
        self.duplicates = Duplicates()

    def row(self, bottle: Bottle) -> StockRow:
        findings: list[Finding] = []
        label = self._label(bottle, findings)
        stated = StatedValues.of(bottle, self.laboratory.pressure)
        findings += stated.findings
        identity = row_identity(bottle, stated, self.identities, self.pen)
        findings += identity.findings
        compound, changes = identity.compound, list(identity.changes)
        if compound is None:
            findings += self.compositions.percent_sum(stated, None)
        elif others := self._stands_for(stated, identity, compound):
            findings.append(_states_another(stated, compound, others))
            compound, changes = None, []
        else:
            findings += self._against(stated, compound)
            if not self._is_in_doubt(stated, identity, compound):
                changes += self._changes(stated, identity, compound)
        findings += self.duplicates.findings(bottle, label, compound)
        return StockRow(
            bottle.row,
            label,
            identity.written,
            compound,
            tuple(worst_first(findings)),
            tuple(changes),
        )

    def _label(self, bottle: Bottle, findings: list[Finding]) -> str:
        try:
            label = bottle.text("label")
        except TableError as fault:
            findings.append(unreadable(bottle, fault))
            return ""
        if not label and self.has_labels:
            findings.append(_label_missing(f"{bottle.columns['label'].header}: is empty."))
        return label

    def _against(self, stated: StatedValues, compound: Compound) -> Iterator[Finding]:
        found = list(self.compositions.findings(stated, compound))
        yield from found
        # Percentages that are wrong one by one need not be told again that their sum is.
        if not any(finding.code == "percent-wrong" for finding in found):
            yield from self.compositions.percent_sum(stated, compound)
        yield from self.boiling_points.findings(stated, compound)

    def _changes(
        self, stated: StatedValues, identity: RowIdentity, compound: Compound
    ) -> Iterator[Change]:
        yield from self.compositions.changes(stated, compound)
        # Where an isomer boils, the number may be right and the one name of the row wrong.
        if not identity.agreeing and self.boiling_points.isomer_there(stated, compound):
            return
        change = self.boiling_points.change(stated, compound, self.pen)
        if change is not None:
            yield change

    def _verdicts(self, stated: StatedValues, compound: Compound) -> list[bool]:
        """Return what is right and what is wrong of all that the row states."""
        verdicts = list(stated.verdicts(compound).values())
        boiling_point_is_off = self.boiling_points.is_off(stated, compound)
        if boiling_point_is_off is not None:
            verdicts.append(not boiling_point_is_off)
        return verdicts

    def _is_in_doubt(self, stated: StatedValues, identity: RowIdentity, compound: Compound) -> bool:
        """Whether more speaks against the identity than for it: then nothing is corrected by it."""
        verdicts = self._verdicts(stated, compound)
        against = verdicts.count(False)
        return against > max(1, identity.agreeing + verdicts.count(True))

    def _stands_for(
        self, stated: StatedValues, identity: RowIdentity, compound: Compound
    ) -> list[Compound]:
        """Return the other compounds that all that the row states is right for.

        Two things that are wrong for the identity and right together for another formula are no two
        errors: the identity is the one.
        """
        against = list(stated.verdicts(compound).values()).count(False)
        if against < 2 or not self._is_in_doubt(stated, identity, compound):
            return []
        others = self.compositions.others_fitting(stated, compound)
        boiling_there = [
            other for other in others if self.boiling_points.is_off(stated, other) is False
        ]
        return boiling_there or others


def _states_another(stated: StatedValues, compound: Compound, others: list[Compound]) -> Finding:
    verdicts = stated.verdicts(compound)
    wrong = [what for what, is_right in verdicts.items() if not is_right]
    names = [f"{other.name} {other.cas}" for other in others[:_NAMED]]
    more = f" and {len(others) - _NAMED} more" if len(others) > _NAMED else ""
    return Finding(
        "identity-disagrees",
        "error",
        f"The identity is {compound.name}, {compound.formula}, but {listed(wrong)} are those of "
        f"{others[0].formula}: {' or '.join(names)}{more}.",
        "See what the bottle itself says, and correct the identity or the rest of the row.",
    )


def _label_missing(message: str) -> Finding:
    return Finding(
        "label-missing",
        "warning",
        message,
        "Label every bottle: results are handed in by label.",
    )


def _row_unreadable(advice: str) -> Finding:
    return Finding("row-unreadable", "error", f"The row {advice}.", "Correct the row.")
