"""The page of a molar mass: working and budget of each unknown, to hand in."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from identify.answers.html.page import render
from identify.answers.text.calculations.molar_mass import (
    HeadedRows,
    agreement_sentences,
    budget_sentences,
    budget_table,
    correction_table,
    liquid_table,
    result_sentences,
    simulation_sentence,
    trial_table,
)
from identify.bench.record import RecordTable, record_tables
from identify.notebook.findings import worst_first

if TYPE_CHECKING:
    from identify.calculations.molar_mass import MolarMassResult
    from identify.notebook.findings import Finding
    from identify.notebook.measurement import Measurement

_MINUS_SIGN = re.compile(r"^-(?=\d)")


@dataclass(frozen=True)
class _ResultTable:
    """A table of the page, with its title and what is said below it."""

    title: str
    caption: str
    headings: Sequence[str]
    rows: Sequence[Sequence[str]]
    notes: Sequence[str] = ()

    @classmethod
    def of(
        cls, title: str, caption: str, table: HeadedRows, notes: Iterable[str] = ()
    ) -> _ResultTable:
        """Take headings as one line: a browser breaks them itself."""
        headings, rows = table
        whole = [" ".join(one.replace("-\n", "").split()) for one in headings]
        cells = [[_MINUS_SIGN.sub("\N{MINUS SIGN}", cell.strip()) for cell in row] for row in rows]
        return cls(title, caption, whole, cells, tuple(notes))


@dataclass(frozen=True)
class _WorkedOut:
    """One unknown as the page shows it; ``name`` is unique there."""

    name: str
    run: Measurement
    found: MolarMassResult
    sentences: Sequence[str]
    findings: Sequence[Finding]
    tables: Sequence[_ResultTable]
    record: Sequence[RecordTable]


def molar_mass_page(worked: Sequence[tuple[Measurement, MolarMassResult]]) -> str:
    """Return the page of some molar masses.

    Parameters
    ----------
    worked : sequence of (Measurement, MolarMassResult)
        The unknowns, and what `molar_mass` makes of each.

    Returns
    -------
    str
        HTML. The same results give the same text.
    """
    unknowns = [_worked_out(f"u{place}", *one) for place, one in enumerate(worked, 1)]
    return render("molar_mass.html.j2", unknowns=unknowns)


def _worked_out(name: str, run: Measurement, found: MolarMassResult) -> _WorkedOut:
    trials, budget = agreement_sentences(found), budget_sentences(found, True)
    tables = [
        _ResultTable.of("Corrections", "From the shortcut to the result", correction_table(found)),
        _ResultTable.of("Trials", "What each trial gives", trial_table(found), trials),
        _ResultTable.of("Budget", "What the uncertainty comes from", budget_table(found), budget),
    ]
    if found.assumed_identity is None and len(found.candidates) > 1:
        liquids = liquid_table(found)
        tables.append(_ResultTable.of("Liquids", "What it may be, likeliest first", liquids))
    simulated = [] if found.simulation is None else [simulation_sentence(found)]
    return _WorkedOut(
        name=name,
        run=run,
        found=found,
        sentences=[*result_sentences(found, option=""), *simulated],
        findings=worst_first(found.findings),
        tables=tables,
        record=record_tables(run, found.assumed),
    )
