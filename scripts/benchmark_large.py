"""Matches against 10,000 to 5,000,000 compounds, by an index and by looking at each.

`scripts/benchmark --large` prints it; about four minutes, some 9 GB, most of it for looking at
each. The compounds are those of `large_table.py`. "Each" is the same match with every candidate
compared by numpy, all columns in memory and already as floats.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

SIZES = (10_000, 100_000, 1_000_000, 5_000_000)
REPEATS = 7
SAME = 1e-9
READINGS = {
    "all readings": {
        "molar_mass": 102.0,
        "boiling_point": 117.0,
        "percent": {"C": 58.9, "H": 9.9, "O": 31.2},
    },
    "digits exchanged": {
        "molar_mass": 102.0,
        "boiling_point": 171.0,
        "percent": {"C": 58.9, "H": 9.9, "O": 31.2},
    },
    "molar mass, boiling point": {"molar_mass": 102.0, "boiling_point": 117.0},
    "these two, one of them wrong": {"molar_mass": 102.0, "boiling_point": 17.1},
}


def large() -> None:
    """Print the table, one process a size, so that each has a peak memory of its own."""
    print("one record against an index, and against each candidate (median of several, in turn):")
    print(f"  {'':<28} {'compounds':>9} {'index':>9} {'each':>9} {'ratio':>6}  largest difference")
    with tempfile.TemporaryDirectory() as folder:
        for size in SIZES:
            for step in ("build", "match", "compare"):
                subprocess.run([sys.executable, __file__, step, folder, str(size)], check=True)


def build(folder: Path, size: int) -> None:
    """Make a table and its index."""
    from large_table import write_table

    from identify.large.indexed import write_index

    table, index = paths(folder, size)
    write_table(table, size)
    start = time.perf_counter()
    write_index([table], index)
    if size == SIZES[-1]:
        print(
            f"  index of {size:,} built in {time.perf_counter() - start:.0f} s, peak memory "
            f"{peak():.1f} GB; on disk {index.stat().st_size / 1e9:.2f} GB"
        )


def match(folder: Path, size: int) -> None:
    """Say what a process needs that only matches by the index."""
    from identify import Measurement
    from identify.large.large_table import match_large, open_large
    from identify.matching.settings import MatchSettings

    start = time.perf_counter()
    table = open_large(paths(folder, size)[1])
    for readings in READINGS.values():
        match_large(Measurement("K-1", **readings), table, MatchSettings.of())
    if size == SIZES[-1]:
        print(
            f"  {len(READINGS)} matches against it from a cold start: "
            f"{time.perf_counter() - start:.2f} s, peak memory {peak():.2f} GB"
        )


def compare(folder: Path, size: int) -> None:
    """Time both, and see that they say the same."""
    from identify import Measurement
    from identify.bench.bench import Bench
    from identify.large.indexed import IndexedTable
    from identify.large.large_table import match_large
    from identify.large.shares import PartMatching, PartShare, share_of
    from identify.matching.settings import MatchSettings

    table, settings = IndexedTable.open(paths(folder, size)[1]), MatchSettings.of()
    matching = PartMatching(settings)
    matcher = matching.matcher(*next(table.blocks(size)))
    for name, readings in READINGS.items():
        run = Measurement("K-1", **readings)
        bench = Bench.of(run)

        def by_index(run: Measurement = run) -> object:
            return match_large(run, table, settings)

        def by_each(run: Measurement = run, bench: Bench = bench) -> object:
            def shares(in_full: bool) -> list[PartShare]:
                return [share_of(matcher, bench, in_full)]

            return matching.ranking(run, shares)

        found, wanted = by_index().to_dict(), by_each().to_dict()
        off = difference(found, wanted)
        quick, slow = in_turn(by_index, by_each, REPEATS if size < SIZES[-1] else 3)
        print(
            f"  {name:<28} {size:>9,} {1e3 * quick:>6.1f} ms {1e3 * slow:>6.0f} ms "
            f"{slow / quick:>6.1f}  {off:.0e}"
        )
        assert off <= SAME, (name, size, off)


def difference(found: dict, wanted: dict) -> float:
    """Return the largest difference of two answers' probabilities; the order must be the same."""
    names = [one["smiles"] for one in wanted["candidates"]]
    assert [one["smiles"] for one in found["candidates"]] == names
    assert [one["code"] for one in found["slips"]] == [one["code"] for one in wanted["slips"]]
    pairs = [
        (one["probability"], other["probability"])
        for one, other in zip(found["candidates"], wanted["candidates"], strict=True)
    ]
    pairs.append((found["none_of_these"], wanted["none_of_these"]))
    return max(abs(one - other) for one, other in pairs)


def in_turn(
    first: Callable[[], object], second: Callable[[], object], repeats: int
) -> tuple[float, float]:
    """Return the median seconds of two, timed in turn, so that both meet the same machine."""
    taken: tuple[list[float], list[float]] = ([], [])
    for _ in range(repeats):
        for call, seconds in zip((first, second), taken, strict=True):
            start = time.perf_counter()
            call()
            seconds.append(time.perf_counter() - start)
    return statistics.median(taken[0]), statistics.median(taken[1])


def paths(folder: Path, size: int) -> tuple[Path, Path]:
    return folder / f"{size}.parquet", folder / f"{size}.arrow"


def peak() -> float:
    """Return the process' largest memory so far [GB]."""
    # ru_maxrss counts kibibytes on Linux and bytes on macOS.
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e9


if __name__ == "__main__":
    checkout = Path(__file__).resolve().parents[1]
    sys.path[:0] = [str(checkout), str(checkout / "scripts")]
    step, folder, size = sys.argv[1:]
    {"build": build, "match": match, "compare": compare}[step](Path(folder), int(size))
