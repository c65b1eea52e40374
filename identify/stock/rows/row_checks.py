"""Each row of a stock table by itself: its identity, and whether what it states is that one's."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from identify.bench.laboratory import Laboratory
from identify.compounds.naming.meaning import Compound
from identify.compounds.naming.resolver import built_in_resolver
from identify.notebook.findings import Finding, listed, worst_first
from identify.stock.result import Change, StockRow
from identify.stock.rows.boiling_points import BoilingPointChecks
from identify.stock.rows.cell_writer import CellWriter
from identify.stock.rows.composition import CompositionChecks
from identify.stock.rows.duplicates import Duplicates
from identify.stock.rows.identity import MAX_NAMES_IN_SENTENCE, RowIdentity
from identify.stock.rows.not_checked import not_checked
from identify.stock.rows.stated_values import StatedValues, unreadable
from identify.stock.rows.stock_card import StockCard
from identify.tables.faults import HeadingsRead, TableError
from identify.tables.stock_rows import StockBottle, StockSheet, read_stock_sheet

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class CheckedRows:
    """The rows of a stock table, checked one by one.

    Parameters
    ----------
    rows : tuple of StockRow
        Every row of the file that holds anything, in its order.
    findings : tuple of Finding
        On the columns of the table.
    cards : mapping of int to StatedValues
        By row, what it states beside its identity.
    doubted : mapping of int to Compound
        By row, what its identity means where all else in it speaks against that. Such a row is left
        without a compound.
    columns : HeadingsRead
        What the headings were taken for.
    """

    rows: tuple[StockRow, ...]
    findings: tuple[Finding, ...]
    cards: Mapping[int, StatedValues]
    doubted: Mapping[int, Compound]
    columns: HeadingsRead


def checked_rows(source: Path | pd.DataFrame, laboratory: Laboratory) -> CheckedRows:
    """Check every row of a stock table.

    Parameters
    ----------
    source : Path or pandas.DataFrame
        CSV (comma, semicolon or tab) or XLSX. Columns ``label``; ``identity``, ``cas``, ``smiles``
        or ``name``; then any of ``formula``, ``molar_mass``, ``boiling_point_C``,
        ``boiling_point_at_mmHg`` (also the word ``laboratory``), ``percent_C`` and so on.
    laboratory : Laboratory
        Where the class works.

    Raises
    ------
    TableError
        If there is no table, no column that says which compound it is, or no row below it.
    """
    sheet = read_stock_sheet(source)
    lost = [
        StockRow(fault.row or 0, "", "", None, (_row_unreadable(fault.advice),))
        for fault in sheet.faults
        if not fault.column
    ]
    if not sheet.bottles and not lost:
        raise TableError(f"{sheet.file}: has no rows below its column names")
    checker = _RowChecker(sheet, laboratory)
    rows = [*lost, *map(checker.row, sheet.bottles)]
    return CheckedRows(
        tuple(sorted(rows, key=lambda row: row.row)),
        tuple(_column_findings(sheet)),
        checker.cards,
        checker.doubted,
        sheet.headings,
    )


def _column_findings(sheet: StockSheet) -> Iterator[Finding]:
    for fault in sheet.faults:
        if fault.row == sheet.header_row and fault.column:
            message = f"{fault.column}: {fault.advice}."
            yield Finding("column-not-read", "warning", message, "Rename it.")
    if "label" not in sheet.columns:
        yield _label_missing("The table has no column named label.")


class _RowChecker:
    """Checks rows one after the other."""

    def __init__(self, sheet: StockSheet, laboratory: Laboratory) -> None:
        self.cards: dict[int, StatedValues] = {}
        self.doubted: dict[int, Compound] = {}
        self._laboratory = laboratory
        self._resolver = built_in_resolver()
        self._writer = CellWriter.of(sheet.bottles)
        self._boiling_points = BoilingPointChecks(self._resolver, laboratory)
        self._compositions = CompositionChecks(self._resolver, self._writer)
        self._duplicates = Duplicates()

    def row(self, bottle: StockBottle) -> StockRow:
        findings: list[Finding] = []
        label = _label(bottle, findings)
        stated = StatedValues.of(bottle, self._laboratory.pressure)
        self.cards[bottle.row] = stated
        card = StockCard(stated, self._boiling_points)
        identity = RowIdentity.of(bottle, card, self._resolver, self._writer)
        findings += [*stated.findings, *identity.findings]
        compound, changes = identity.compound, list(identity.changes)
        if compound is None:
            findings += self._compositions.sum_findings(stated, None)
        elif others := self._meant_instead(stated, identity, compound):
            findings.append(_states_another(stated, compound, others))
            self.doubted[bottle.row] = compound
            compound, changes = None, []
        else:
            findings += self._compositions.findings(stated, compound)
            findings += self._boiling_points.findings(stated, compound)
            if not self._is_in_doubt(stated, identity, compound):
                changes += self._changes(stated, identity, compound)
        findings += self._duplicates.findings(bottle, label, compound)
        return StockRow(
            bottle.row,
            label,
            identity.written,
            compound,
            tuple(worst_first(findings)),
            tuple(changes),
            not_checked=tuple(not_checked(stated, compound)),
        )

    def _changes(
        self, stated: StatedValues, identity: RowIdentity, compound: Compound
    ) -> Iterator[Change]:
        yield from self._compositions.changes(stated, compound)
        # Where an isomer boils, the number may be right and the only name of the row wrong.
        if not identity.agreeing and self._boiling_points.isomer_there(stated, compound):
            return
        change = self._boiling_points.change(stated, compound, self._writer)
        if change is not None:
            yield change

    def _is_in_doubt(self, stated: StatedValues, identity: RowIdentity, compound: Compound) -> bool:
        """Whether more speaks against the identity than for it: then nothing is corrected by it."""
        verdicts = list(StockCard(stated, self._boiling_points).verdicts(compound).values())
        return verdicts.count(False) > max(1, identity.agreeing + verdicts.count(True))

    def _meant_instead(
        self, stated: StatedValues, identity: RowIdentity, compound: Compound
    ) -> list[Compound]:
        """Return the other compounds that all stated values are right for.

        Two values that are wrong for the identity, and right together for another formula, are not
        two errors: the identity is the one error.
        """
        against = list(stated.verdicts(compound).values()).count(False)
        if against < 2 or not self._is_in_doubt(stated, identity, compound):
            return []
        others = self._compositions.others_fitting(stated, compound)
        boiling_there = [
            other for other in others if self._boiling_points.is_wrong(stated, other) is False
        ]
        return boiling_there or others


def _label(bottle: StockBottle, findings: list[Finding]) -> str:
    try:
        label = bottle.text("label")
    except TableError as fault:
        findings.append(unreadable(bottle, fault))
        return ""
    if not label and "label" in bottle.columns:
        findings.append(_label_missing(f"{bottle.columns['label'].header}: is empty."))
    return label


def _states_another(stated: StatedValues, compound: Compound, others: list[Compound]) -> Finding:
    wrong = [what for what, is_right in stated.verdicts(compound).items() if not is_right]
    names = [f"{other.name} {other.cas}" for other in others[:MAX_NAMES_IN_SENTENCE]]
    left_out = len(others) - len(names)
    more = f" and {left_out} more" if left_out else ""
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
