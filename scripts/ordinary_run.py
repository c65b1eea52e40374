"""An ordinary run of one unknown, with changes, for the tests of the molar mass."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from identify import Conditions, Flask, Measurement, Trial
from identify.budget.budget import BudgetLine
from identify.calculations.molar_mass import MolarMassResult, molar_mass

EMPTY, CONDENSED = "98.1132 g", "98.3721 g"
CONDITIONS = Conditions(pressure="742.0 mmHg", room="22.5 C")
PAGE = Measurement("C-14", conditions=CONDITIONS, flask=Flask(volume="287.4 mL"))


def run_of(
    *condensed: str, empty: str | Sequence[str] = EMPTY, bath: str = "98.9 C", **parts: Any
) -> Measurement:
    """Return a run of one unknown, a trial for each weighing of the condensed liquid."""
    masses = condensed or (CONDENSED,)
    empties = [empty] * len(masses) if isinstance(empty, str) else empty
    trials = [Trial(*pair, bath) for pair in zip(empties, masses, strict=True)]
    return replace(PAGE, trials=trials, **parts)


def worked(
    run: Measurement, identity: str | None = "methanol", draws: int = 0, technique: str = "none"
) -> MolarMassResult:
    """Return its molar mass, of this liquid."""
    return molar_mass(run, identity, draws=draws, technique=technique)


def line(found: MolarMassResult, words: str) -> BudgetLine:
    """Return the one line of the budget whose input has these words in it."""
    (one,) = (line for line in found.budget.lines if words in line.input)
    return one


def codes(found: MolarMassResult) -> set[str]:
    """Return the codes of all findings."""
    return {finding.code for finding in found.findings}
