"""``identify-unknown candidates index``: a table of millions, sorted for the match."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import MISSING, dataclass
from pathlib import Path

from identify.cli.options.options import argument, option, takes, written_as
from identify.cli.options.targets import same_file
from identify.cli.terminal.output import OutputFormat, write_answer
from identify.cli.terminal.progress import progress_bar
from identify.cli.terminal.streams import INTERRUPTED, UNUSABLE, complain


@dataclass(frozen=True)
class _Indexed:
    """The table, and where its index goes."""

    table: Path = argument("TABLE", "A built table (Parquet), or a folder of its parts.")
    out: Path = option(
        "INDEX",
        "The index (.arrow), replaced if it is there; of a folder, a new folder.",
        default=MISSING,
    )
    format: OutputFormat = written_as()


@takes(_Indexed)
def index_command(indexed: _Indexed) -> int:
    r"""Sort a table for the match, so that one of millions is answered in a moment.

    The answer is the same as from the table itself; give the index with --candidates. A table in
    one file is held in memory while it is sorted; one in parts is sorted part by part.

    \b
    Example: a table of millions.
      identify-unknown candidates index big.parquet --out big.arrow

    Exit status: 0 the index is written; 2 it is not (one line a fault on standard error).
    """
    from identify.tables.faults import TableError

    table, out = indexed.table, indexed.out
    try:
        if table.is_dir():
            _sort_parts(table, out)
        else:
            _sort_file(table, out)
    except TableError as error:
        for reason in error.args:
            complain(str(reason))
        return UNUSABLE
    except FileExistsError:
        complain(f"{out}: is there already; name a new folder for the index of a table in parts")
        return UNUSABLE
    except OSError as error:
        complain(f"{out}: cannot be written ({error.strerror or error})")
        return UNUSABLE
    except KeyboardInterrupt:
        complain("stopped; nothing is written")
        return INTERRUPTED
    row = {"table": str(table), "index": str(out)}
    write_answer(indexed.format, lambda page: [f"{out}: written"], lambda: row, lambda: [row])
    return 0


def _sort_file(table: Path, out: Path) -> None:
    from identify.compounds.loading import INDEX_ENDING
    from identify.large.indexed import write_index
    from identify.tables.faults import TableError

    if out.suffix != INDEX_ENDING:
        raise TableError(f"{out}: an index ends in {INDEX_ENDING}")
    if same_file(table, out):
        raise TableError(f"{out}: is what is read here, and would be lost")
    write_index([table], out)


def _sort_parts(table: Path, out: Path) -> None:
    from identify.large.partitions import PartitionedTable

    parts = PartitionedTable.open(table)
    with progress_bar() as bar:
        if bar is not None:
            bar.begin("Sorting", len(parts.parts))
        with _whole(out):
            for _ in parts.indexed(out):
                if bar is not None:
                    bar.step()


@contextmanager
def _whole(folder: Path) -> Iterator[None]:
    """Make a folder, and take it away again where it does not come to be complete."""
    folder.mkdir()
    try:
        yield
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
