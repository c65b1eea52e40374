"""The table of candidates that a command was told to use."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import TYPE_CHECKING

from identify.cli.terminal.streams import Faults, complain

if TYPE_CHECKING:
    from identify.compounds.table import CandidateTable


def candidate_table(path: Path | None, faults: Faults) -> CandidateTable | None:
    """Load the built-in table or a file, its faults reported; None where it cannot be used."""
    from identify.compounds.loading import load_candidates

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # each fault is written in full below
            table = load_candidates(path)
    except (OSError, ValueError) as error:
        faults.of_table(error)
        return None
    if table.told:
        complain(table.told)
    for fault in table.faults:
        faults(fault)
    return table
