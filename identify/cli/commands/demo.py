"""``identify-unknown demo``: the demo's records and tables, copied to where one can try them."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from identify.cli.options.options import argument, takes, written_as
from identify.cli.terminal.output import OutputFormat
from identify.cli.terminal.streams import UNUSABLE, Faults
from identify.cli.terminal.written import WrittenFiles

_TABLES = {
    "section.csv": "results of four students; then: identify-unknown section {table} --key {stock}",
    "stock.csv": "a stock table with faults; then: identify-unknown check-stock {table}",
}


@dataclass(frozen=True)
class _DemoWanted:
    """Where the demo goes."""

    folder: Path = argument("FOLDER", "The folder to copy it to; made if need be.")
    format: OutputFormat = written_as()


@takes(_DemoWanted)
def demo_command(wanted: _DemoWanted) -> int:
    r"""Copy the demo's pages and tables to a folder.

    Notebook pages, a section's results and a stock table of an invented laboratory, to try the
    commands on. What is there already is never written over.

    \b
    Example: the files of the guide, and the first of them matched.
      identify-unknown demo data/demo
      identify-unknown match data/demo/C-14.toml

    Exit status: 0 done; 2 it could not be written.
    """
    faults = Faults()
    _check_folder(wanted.folder, faults)
    if faults.count:
        return UNUSABLE
    written = WrittenFiles(faults)
    for source in _demo_files():
        target = wanted.folder / source.name
        written.add(target, _purpose(source, target), source.read_bytes)
    return written.answer(wanted.format)


def _demo_files() -> Iterator[Path]:
    from identify.compounds.parquet import shipped

    yield from sorted(shipped("demo").iterdir())


def _check_folder(folder: Path, faults: Faults) -> None:
    """Make the folder, or report why nothing can be copied to it."""
    there = [folder / one.name for one in _demo_files() if os.path.lexists(folder / one.name)]
    if there:
        faults(f"FOLDER: {there[0]} is there already, and nothing is written over; give another")
    elif folder.exists() and not folder.is_dir():
        faults(f"FOLDER: {folder}: is a file; give the name of a folder")
    else:
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            faults(f"FOLDER: {folder}: {error.strerror or error}; give another")


def _purpose(source: Path, target: Path) -> str:
    """Say what a file is: a record's first line does."""
    if source.name in _TABLES:
        return _TABLES[source.name].format(table=target, stock=target.parent / "stock.csv")
    first = source.read_text(encoding="utf-8").splitlines()[0].strip("#. ")
    return first[0].lower() + first[1:]
