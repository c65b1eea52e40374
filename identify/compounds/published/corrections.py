"""Corrections of the built-in table made by hand."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

BY_HAND = "corrected by hand"
"""The source of what was set so."""


@dataclass(frozen=True)
class HandCorrection:
    """One line of the corrections file.

    Parameters
    ----------
    cas : str
    column : str
        ``boiling_point_C`` (replaces the consensus), ``set_aside`` (the published boiling point is
        not used, ``value`` may name one collection), ``leave_out`` (the row leaves the table),
        ``name``, ``smiles`` (each replaces what is listed), ``not_bottled`` (no laboratory can
        bottle it: the reason is what the table says),
        ``flash_point_C`` (a further published one), or the column of a constant in `liquids`
        (replaces what is published; without a value, nothing that is published is used).
    value, reason, source : str
    """

    cas: str
    column: str
    value: str
    reason: str
    source: str

    @property
    def why(self) -> str:
        """The reason and its source, as they stand in the row."""
        return f"{self.reason} ({self.source})"


def read_corrections(path: Path) -> list[HandCorrection]:
    """Read the corrections made by hand: columns cas, column, value, reason, source."""
    with path.open(encoding="utf-8", newline="") as lines:
        return [HandCorrection(**row) for row in csv.DictReader(lines)]
