"""A match against tables that are indexed, or in parts, or both."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache, partial
from pathlib import Path

from identify.bench.bench import Bench
from identify.compounds.collection.manifest import MANIFEST, TablePart
from identify.compounds.loading import INDEX_ENDING
from identify.large.index import share_of_index
from identify.large.indexed import IndexedTable
from identify.large.partitions import PartitionedTable, read_part
from identify.large.shares import PartMatching, PartShare, share_of
from identify.matching.answer import Ranking
from identify.matching.settings import MatchSettings
from identify.notebook.measurement import Measurement

ShareOfPart = Callable[[TablePart], PartShare]
ShareOut = Callable[[ShareOfPart, Sequence[TablePart]], Iterable[PartShare]]
"""Has the shares of parts worked out somewhere, and gives them in the order of the parts."""


def open_large(path: str | os.PathLike[str]) -> IndexedTable | PartitionedTable:
    """Open an index, or a table in parts.

    Raises
    ------
    TableError
        Where it cannot be used, in one line.
    """
    place = Path(path)
    marked = place / MANIFEST if place.is_dir() else place
    if not marked.exists():
        return PartitionedTable.open(path) if place.is_dir() else IndexedTable.open(path)
    stat = marked.stat()
    return _opened(str(path), stat.st_mtime_ns, stat.st_size)


@lru_cache(maxsize=64)
def _opened(path: str, changed: int, size: int) -> IndexedTable | PartitionedTable:
    """Open a table, kept for the next call as long as the file is the same."""
    return (
        IndexedTable.open(path)
        if Path(path).suffix == INDEX_ENDING
        else PartitionedTable.open(path)
    )


def match_large(
    run: Measurement,
    table: IndexedTable | PartitionedTable,
    settings: MatchSettings,
    share_out: ShareOut = map,
) -> Ranking:
    """Say what an unknown could be.

    Parameters
    ----------
    run : Measurement
    table : IndexedTable or PartitionedTable
    settings : MatchSettings
    share_out : callable
        Where the parts of a table are compared: here one after the other, if not given.

    Returns
    -------
    Ranking
        As `identify.match` gives it against the same compounds in one table in memory; ``index``
        counts in those that were compared in full.

    Raises
    ------
    TableError
        Where a part cannot be used.
    ValueError
        If a trial lacks a reading that its molar mass needs.
    """
    matching = PartMatching(settings)

    def shares(in_full: bool) -> Iterable[PartShare]:
        if isinstance(table, IndexedTable):
            return [share_of_index(table, run, matching, in_full)]
        compared = partial(_share_of_part, run=run, matching=matching, in_full=in_full)
        return share_out(compared, table.parts)

    return matching.ranking(run, shares)


def _share_of_part(
    part: TablePart, run: Measurement, matching: PartMatching, in_full: bool
) -> PartShare:
    """Read one part of a table, wherever this runs, and compare an unknown with it."""
    if part.path.suffix == INDEX_ENDING:
        part.check()
        index = open_large(part.path)
        assert isinstance(index, IndexedTable)
        return share_of_index(index, run, matching, in_full)
    table = read_part(part)
    assert not isinstance(table, IndexedTable)
    return share_of(matching.matcher(table), Bench.of(run), in_full)
