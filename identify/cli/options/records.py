"""The runs that a command was given: in files, or as one unknown's readings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from identify.cli.options.options import Weighings
from identify.cli.terminal.streams import Faults, complain
from identify.notebook.errors import RunFault, UnusableInput

if TYPE_CHECKING:
    from identify.notebook.measurement import Measurement


def runs_given(paths: Sequence[Path], readings: Weighings, faults: Faults) -> list[Measurement]:
    """Read the runs, each fault reported; empty where nothing can be used."""
    typed = readings.given()
    if paths and typed:
        option = "--" + typed[0].replace("_", "-")
        faults(f"{option}: give files or one unknown's readings, not both; nothing was done")
        return []
    if typed:
        from identify.cli.options.typed import typed_run

        run = typed_run(readings, faults)
        return [] if run is None else [run]
    if not paths:
        faults("nothing to work on: give a file, or readings such as --boiling-point; see --help")
    return [run for path in paths for run in _file_runs(path, faults)]


def _file_runs(path: Path, faults: Faults) -> Iterable[Measurement]:
    from identify.tables import read_runs

    try:
        runs = read_runs(path)
    except (OSError, UnusableInput) as error:
        reason = getattr(error, "strerror", None) or str(error)
        faults(reason if str(path) in reason else f"{path}: {reason}")
        return []
    except Exception as error:
        faults(RunFault.of(str(path), error))
        return []
    for line in runs.told:
        complain(line)
    for fault in runs.faults:
        faults(fault)
    return runs
