"""Which bottles of a stock table get a card, and what it says of each."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from identify.answers.cards import LONGEST_LABEL, Deck, KeyEntry, PrintedCard, natural_order
from identify.compounds.loading import load_candidates
from identify.compounds.table import CandidateTable
from identify.notebook.quantity.quantities import Quantity, excerpt
from identify.observables.tolerances import Tolerances
from identify.physics.boiling import boiling_temperature, boiling_temperature_by_trouton
from identify.physics.constants import ICE_POINT, STANDARD_PRESSURE
from identify.tables.faults import TableError

if TYPE_CHECKING:
    from identify.compounds.naming.meaning import Compound
    from identify.notebook.findings import Finding
    from identify.stock.result import StockCheck, StockRow
    from identify.tables.stock_rows import StockBottle

STANDARD = Quantity(760.0, "mmHg")
# The check tells it of the second row; a card is refused to the first as well.
_TOLD_OF_EACH = "label-twice"
# Formulas and SMILES of fewer characters may be part of a label by accident: CO-3.
_SHORTEST_PART = 4


def deck_of(
    check: StockCheck,
    bottles: Sequence[StockBottle],
    pressure: Quantity = STANDARD,
    anyway: bool = False,
) -> Deck:
    """Return the cards of a checked stock table.

    Parameters
    ----------
    check : StockCheck
    bottles : sequence of StockBottle
        The rows of the same file.
    pressure : Quantity
        At which the boiling points are wanted.
    anyway : bool
        Make cards of rows that are wrong, too. A row without a label, a known compound or any
        boiling point gets none.
    """
    rows = _DeckRows(check, {bottle.row: bottle for bottle in bottles}, pressure)
    rows.remarks += rows.of_the_table()
    entries: list[KeyEntry] = []
    refused: list[str] = []
    for row in check.rows:
        missing = list(rows.missing(row))
        wrong = [] if missing else list(rows.wrong(row))
        if row.compound is None or missing or (wrong and not anyway):
            refused += missing or wrong
            continue
        rows.remarks += wrong
        entries.append(rows.entry(row, row.compound))
    entries.sort(key=lambda entry: (natural_order(entry.card.label), entry.row))
    shown = Quantity(pressure.value, pressure.unit, text=pressure.text)  # not what it may be off by
    return Deck(str(shown), tuple(entries), tuple(refused), tuple(rows.remarks))


@dataclass
class _DeckRows:
    """The rows of a checked table, with their cells and what there is to say of them."""

    check: StockCheck
    bottles: Mapping[int, StockBottle]
    pressure: Quantity
    remarks: list[str] = field(default_factory=list)

    def of_the_table(self) -> Iterator[str]:
        """Yield what was found of the table as a whole."""
        for finding in self.check.findings:
            if finding.severity != "note":
                yield f"{self.check.file}: {finding.message} {finding.advice} [{finding.code}]"

    def missing(self, row: StockRow) -> Iterator[str]:
        """Yield what a card cannot do without."""
        if not row.label:
            yield self._line(row, "label", "is empty; a card needs the label of its bottle")
        if row.compound is None:
            yield from self._errors(row)
            if not row.is_wrong:
                yield self._line(row, "identity", "is not a compound known here")
        elif not isfinite(row.compound.boiling_point_C) and self._stated(row) is None:
            yield self._line(
                row, "boiling_point_C", "is empty, and none is published; look it up and give it"
            )

    def wrong(self, row: StockRow) -> Iterator[str]:
        """Yield what makes a card useless, or worse."""
        yield from self._errors(row)
        if len(self._liquids[row.label.casefold()]) > 1:
            yield self._line(
                row,
                "label",
                f'"{excerpt(row.label)}" stands in other rows too, for another liquid; give each '
                "liquid a label of its own",
            )
        if found := self._identities.search(row.label):
            yield self._line(
                row,
                "label",
                f'"{excerpt(row.label)}" gives away a liquid ({found.group()}), and the card shows '
                "it; choose a label that says nothing",
            )

    def entry(self, row: StockRow, compound: Compound) -> KeyEntry:
        """Return the card of a row that can have one, and what is behind it."""
        if len(row.label) > LONGEST_LABEL:
            self.remarks.append(
                self._line(row, "label", "is too long for a card; its middle is left out there")
            )
        card = PrintedCard(row.label, self._boiling_point(row, compound), dict(compound.percent))
        return KeyEntry(row.row, card, compound, row.hazards)

    def _boiling_point(self, row: StockRow, compound: Compound) -> float:
        """Return the boiling point at the pressure of the cards [degrees Celsius]."""
        wanted = self.pressure.to("Pa").value
        stated, consensus = self._stated(row), compound.boiling_point_C
        published = self._carried(consensus, STANDARD_PRESSURE, wanted, compound)
        if stated is None:
            self._doubt_estimate(row, compound)
            return published
        of_card = self._carried(*stated, wanted, compound)
        if not isfinite(consensus):
            return of_card
        there = self._carried(consensus, STANDARD_PRESSURE, stated[1], compound)
        if abs(stated[0] - there) <= max(Tolerances.boiling_point, 2.0 * compound.boiling_point_u):
            return of_card
        self.remarks.append(
            self._line(
                row,
                "boiling_point_C",
                f"{stated[0]:.1f} °C does not agree with the published {there:.1f} °C; the card "
                "has the published value",
            )
        )
        return published

    def _doubt_estimate(self, row: StockRow, compound: Compound) -> None:
        if compound.place is None or self._known.number("boiling_point_published")[compound.place]:
            return
        self.remarks.append(
            self._line(
                row,
                "boiling_point_C",
                f"none is published; the card has an estimate, {compound.boiling_point_C:.0f} ± "
                f"{compound.boiling_point_u:.0f} °C; measure it and state it",
            )
        )

    def _carried(self, celsius: float, here: float, there: float, compound: Compound) -> float:
        """Return a boiling point at another pressure, along the liquid's vapor-pressure curve.

        Where the built-in table has no curve of it, by Trouton's rule. Either gives temperatures in
        proportion to the boiling point.
        """
        if compound.place is None:
            ratios = [boiling_temperature_by_trouton(pressure, 1.0) for pressure in (here, there)]
        else:
            curve = self._known.vapor_curve[compound.place]
            ratios = list(boiling_temperature(np.array([here, there]), 1.0, curve))
        return float((celsius + ICE_POINT) * ratios[1] / ratios[0] - ICE_POINT)

    def _stated(self, row: StockRow) -> tuple[float, float] | None:
        """Return the row's own boiling point [degrees Celsius] and its pressure [Pa]."""
        bottle = self.bottles.get(row.row)
        try:
            if bottle is None or (celsius := bottle.number("boiling_point", "C")) is None:
                return None
            return celsius, bottle.boiling_pressure(self.check.laboratory.pressure)
        except TableError:  # told as a finding of the row
            return None

    def _errors(self, row: StockRow) -> Iterator[str]:
        for finding in row.findings:
            if finding.severity == "error" and finding.code != _TOLD_OF_EACH:
                yield self._finding_line(row, finding)

    def _finding_line(self, row: StockRow, finding: Finding) -> str:
        label = f" ({excerpt(row.label)})" if row.label else ""
        said = f"{finding.message} {finding.advice}".strip()
        return f"{self.check.file}, row {row.row}{label}: {said} [{finding.code}]"

    def _line(self, row: StockRow, column: str, reason: str) -> str:
        return f"{self.check.file}, row {row.row}, {column}: {reason}"

    @cached_property
    def _known(self) -> CandidateTable:
        return load_candidates()

    @cached_property
    def _liquids(self) -> Mapping[str, set[str]]:
        """The liquids that each label stands for: one where all is well."""
        liquids: dict[str, set[str]] = {}
        for row in self.check.rows:
            known = row.compound
            liquid = f"row {row.row}" if known is None else known.inchikey or known.smiles
            liquids.setdefault(row.label.casefold(), set()).add(liquid)
        return liquids

    @cached_property
    def _identities(self) -> re.Pattern[str]:
        """What must stand in no label: the liquids of this table, by any of their names."""
        names = {name for row in self.check.rows for name in _names(row)}
        parts = [re.escape(name) for name in names if len(name) >= _SHORTEST_PART]
        whole = [re.escape(name) for name in names if len(name) < _SHORTEST_PART]
        patterns = []
        if parts:
            longest_first = sorted(parts, key=len, reverse=True)
            patterns.append(rf"(?<!\w)(?i:{'|'.join(longest_first)})(?!\w)")
        if whole:
            patterns.append(rf"^(?:{'|'.join(sorted(whole))})$")
        return re.compile("|".join(patterns) or r"(?!)")


def _names(row: StockRow) -> Iterator[str]:
    """Yield what a row's liquid is called."""
    if (known := row.compound) is not None:
        texts = (row.written, known.name, known.cas, known.inchikey, known.formula, known.smiles)
        yield from filter(None, texts)
