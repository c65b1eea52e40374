"""Finished chunks to one table: each compound once, in the order of the inputs."""

from __future__ import annotations

import csv
from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import cached_property
from itertools import chain
from operator import attrgetter
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from identify.compounds.collection.manifest import TablePart, write_manifest
from identify.compounds.collection.parts import REPEATING, WorkFolder
from identify.compounds.columns import commerce_weight
from identify.compounds.published.classroom import COMMERCE_SHARE
from identify.compounds.table import NUMBER_COLUMNS, TEXT_COLUMNS
from identify.notebook.saving import harmless
from identify.tables.structures.source import RecordSetAside

_DUPLICATE = "same compound"
_SORTED_AT_ONCE = 4_000_000  # keys; a hundred bytes each while they are sorted
_ROW_GROUP = 100_000
# Readers skip rows by the statistics of these columns; those of the others only take time.
_WITH_STATISTICS = ("formula", "boiling_point_C", "molar_mass")
_ASIDE_COLUMNS = ("file", "row", "read", "kind", "reason")


@dataclass
class _Merged:
    """What the parts hold together.

    Parameters
    ----------
    rows : int
        Of the table.
    counts : Counter
        Records set aside, by kind.
    kept : list of array of bool
        By part, whether a row stays.
    """

    rows: int = 0
    counts: Counter[str] = field(default_factory=Counter)
    kept: list[NDArray[np.bool_]] = field(default_factory=list)


class Merging:
    """Puts the chunks of a work folder together.

    Parameters
    ----------
    folder : WorkFolder
    count : int
        Chunks there.
    files : sequence of str
        What the inputs are called.
    threads : int
        That make rows ready while others are written.
    """

    def __init__(
        self, folder: WorkFolder, count: int, files: Sequence[str], threads: int = 1
    ) -> None:
        self._folder = folder
        self._count = count
        self._files = files
        self._threads = threads
        self._sizes = [len(folder.keys(index).first) for index in range(count)]
        self._starts = np.concatenate([[0], np.cumsum(self._sizes)]).astype(np.int64)
        self.merged = _Merged()

    def find_duplicates(self) -> None:
        """Decide which rows stay: of each compound the first with a stated value, else the first.

        Keys are sorted in buckets, so that memory is bounded by the bucket.
        """
        total = int(self._starts[-1])
        kept = np.ones(total, dtype=bool)
        self._first = np.zeros(0, dtype=np.int64)
        self._again = np.zeros(0, dtype=np.int64)
        buckets = np.uint64(-(-total // _SORTED_AT_ONCE))  # none where there are no rows
        for bucket in range(int(buckets)):
            places, keys, stated = self._repeated(*self._bucket(np.uint64(bucket), buckets))
            order = np.lexsort((places, ~stated, keys[:, 1], keys[:, 0]))
            keys, places = keys[order], places[order]
            new = np.ones(len(order), dtype=bool)
            new[1:] = (keys[1:] != keys[:-1]).any(axis=1)
            leader = places[np.maximum.accumulate(np.where(new, np.arange(len(order)), 0))]
            self._again = np.concatenate([self._again, places[~new]])
            self._first = np.concatenate([self._first, leader[~new]])
        kept[self._again] = False
        order = np.argsort(self._again)
        self._again, self._first = self._again[order], self._first[order]
        self.merged.rows = int(kept.sum())
        self.merged.kept = [
            kept[start : start + size]
            for start, size in zip(self._starts, self._sizes, strict=False)
        ]

    def _bucket(
        self, bucket: np.uint64, buckets: np.uint64
    ) -> tuple[NDArray[np.int64], NDArray[np.uint64], NDArray[np.bool_]]:
        places, keys, stated = [], [], []
        for index in range(self._count):
            part = self._folder.keys(index)
            chosen = np.flatnonzero(part.first % buckets == bucket)
            places.append(chosen + self._starts[index])
            keys.append(np.column_stack([part.first[chosen], part.second[chosen]]))
            stated.append(part.stated[chosen])
        return np.concatenate(places), np.concatenate(keys), np.concatenate(stated)

    @staticmethod
    def _repeated(
        places: NDArray[np.int64], keys: NDArray[np.uint64], stated: NDArray[np.bool_]
    ) -> tuple[NDArray[np.int64], NDArray[np.uint64], NDArray[np.bool_]]:
        """Leave out rows whose first half of the key is unique, which are nearly all."""
        order = np.argsort(keys[:, 0])
        same = np.diff(keys[order, 0]) == 0
        chosen = order[np.append(same, False) | np.append(False, same)]
        return places[chosen], keys[chosen], stated[chosen]

    def write_set_aside(self, target: Path) -> None:
        """Write every record that is in no row, with its place and the reason, as CSV."""
        leaders, files = self._leaders(), list(map(harmless, self._files))
        with target.open("w", encoding="utf-8", newline="") as page:
            writer = csv.writer(page, lineterminator="\n")
            writer.writerow(_ASIDE_COLUMNS)
            for index in range(self._count):
                lines = [*self._folder.set_aside(index), *self._duplicates(index, leaders)]
                lines.sort(key=attrgetter("number"))
                self.merged.counts.update(one.kind for one in lines)
                writer.writerows(
                    (files[source], number, harmless(read), kind, harmless(reason))
                    for source, number, read, kind, reason in lines
                )

    def _leaders(self) -> dict[int, str]:
        """Return where the rows stand that others repeat."""
        wanted = np.unique(self._first)
        leaders: dict[int, str] = {}
        for index in range(self._count):
            start, size = self._starts[index], self._sizes[index]
            inside = wanted[(wanted >= start) & (wanted < start + size)]
            if not len(inside):
                continue
            rows = self._folder.rows(index).select(["source", "number"]).take(inside - start)
            for place, source, number in zip(
                inside.tolist(), *rows.to_pydict().values(), strict=True
            ):
                leaders[place] = f"row {number} of {self._files[source]}"
        return leaders

    def _duplicates(self, index: int, leaders: dict[int, str]) -> Iterator[RecordSetAside]:
        start = self._starts[index]
        low, high = np.searchsorted(self._again, [start, start + self._sizes[index]])
        if low == high:
            return
        places = self._again[low:high] - start
        rows = self._folder.rows(index).select(["source", "number", "name"]).take(places)
        cells = rows.to_pydict().values()
        for source, number, name, first in zip(*cells, self._first[low:high].tolist(), strict=True):
            yield RecordSetAside(
                source, number, name, _DUPLICATE, f"is the same compound as {leaders[first]}"
            )

    def write_table(self, target: Path) -> Path:
        """Write the table as one Parquet file."""
        self._write(target, self._groups(0, self.merged.rows))
        return target

    def write_partitions(self, target: Path, rows: int) -> Path:
        """Write the table as a folder of Parquet files of so many rows each."""
        target.mkdir()
        parts = []
        for number, start in enumerate(range(0, self.merged.rows, rows)):
            path = target / f"part-{number:05d}.parquet"
            stop = min(start + rows, self.merged.rows)
            self._write(path, self._groups(start, stop))
            parts.append(TablePart(path, stop - start, path.stat().st_size))
        write_manifest(target, parts)
        return target

    def _write(self, path: Path, groups: Sequence[range]) -> None:
        import pyarrow.parquet as pq

        tables = _made_ahead(self._rows_of_table, groups, self._threads)
        first = next(tables)
        with pq.ParquetWriter(
            path,
            first.schema,
            compression="zstd",
            compression_level=1,
            write_statistics=list(_WITH_STATISTICS),
            use_dictionary=list(REPEATING),
            store_schema=False,  # read again as plain text, whatever repeats
        ) as writer:
            for table in chain([first], tables):
                writer.write_table(table, row_group_size=_ROW_GROUP)

    @staticmethod
    def _groups(start: int, stop: int) -> list[range]:
        """Return which rows of the table are written at once."""
        return [
            range(first, min(first + _ROW_GROUP, stop)) for first in range(start, stop, _ROW_GROUP)
        ]

    def _rows_of_table(self, wanted: range) -> Any:
        """Return rows in the form of a candidate table, from all parts that hold some."""
        import pyarrow as pa

        ends = self._ends
        parts = range(
            int(np.searchsorted(ends, wanted.start, side="right")),
            int(np.searchsorted(ends, wanted.stop, side="left")) + 1,
        )
        tables = []
        for index in parts:
            start = int(ends[index - 1]) if index else 0
            low, high = max(wanted.start - start, 0), min(wanted.stop, int(ends[index])) - start
            tables.append(self._kept_rows(index).slice(low, high - low))
        return pa.concat_tables(tables).unify_dictionaries()

    @cached_property
    def _ends(self) -> NDArray[np.int64]:
        """Where each part's rows end in the table."""
        return np.cumsum([np.count_nonzero(kept) for kept in self.merged.kept])

    def _kept_rows(self, index: int) -> Any:
        """Return the rows of a part that stay, priors of the whole table summing to one.

        The more of what classes are handed is in the table, the less is left for the others.
        """
        import pyarrow as pa

        columns = (*TEXT_COLUMNS, *NUMBER_COLUMNS)
        rows, kept = self._folder.rows(index), self.merged.kept[index]
        rows = rows if kept.all() else rows.filter(pa.array(kept))
        all_in_commerce, all_handed_out = self._totals
        in_commerce, handed_out = _weights(rows)
        prior = in_commerce / all_in_commerce
        classroom = (COMMERCE_SHARE * prior + handed_out) / (COMMERCE_SHARE + all_handed_out)
        priors = {"prior": prior, "classroom": classroom}
        rows = rows.select([name for name in columns if name not in priors])
        for name, values in priors.items():
            rows = rows.append_column(name, pa.array(values.astype(np.float32)))
        return rows.select(columns)

    @cached_property
    def _totals(self) -> NDArray[np.float64]:
        """The sums of the weights of all rows that stay, shape (2,)."""
        each = (
            _weights(self._folder.rows(index))[:, self.merged.kept[index]].sum(axis=1)
            for index in range(self._count)
        )
        return np.asarray(sum(each))


def _weights(rows: Any) -> NDArray[np.float64]:
    """Return the weights in commerce, and of what classes are handed, shape (2, rows)."""
    inventories, handed_out = (
        rows.column(name).to_numpy().astype(np.float64) for name in ("inventories", "classroom")
    )
    return np.stack([commerce_weight(inventories), handed_out])


def _made_ahead(
    make: Callable[[range], Any], groups: Iterable[range], threads: int
) -> Iterator[Any]:
    """Yield what is made of each group, while the next ones are being made."""
    if threads == 1:
        yield from map(make, groups)
        return
    with ThreadPoolExecutor(threads) as makers:
        waiting: deque[Future[Any]] = deque()
        for group in groups:
            waiting.append(makers.submit(make, group))
            if len(waiting) > threads:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
