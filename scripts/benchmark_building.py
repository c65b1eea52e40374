"""Building a table beside bare RDKit reading the same SMILES, for `scripts/benchmark`.

The structures are those of `large_table.py`, in SMILES as RDKit writes them.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

STRUCTURES = 60_000
LIBRARY = 1_000_000
FEW = 5_000  # where boiling points are estimated
REPEATS = 3
REPEATS_OF_LIBRARY = 5

_READ = """
import sys
from rdkit import Chem, RDLogger
RDLogger.DisableLog("rdApp.*")
lines = open(sys.argv[1]).read().splitlines()
import time
start = time.perf_counter()
for line in lines:
    Chem.MolFromSmiles(line)
print(time.perf_counter() - start)
"""

_BUILD = """
import resource, sys, time
from pathlib import Path
from identify.compounds.collection import BuildOptions, build_collection
if __name__ == "__main__":
    source, out, jobs, quick = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]), sys.argv[4]
    start = time.perf_counter()
    build_collection([source], out, BuildOptions(jobs=jobs, quick=quick == "quick"))
    seconds = time.perf_counter() - start
    unit = 1 if sys.platform == "darwin" else 1024
    print(seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e9)
"""


def building() -> None:
    """Print how fast tables are built, beside bare reading of the same, in turn."""
    with prepared(STRUCTURES) as (bare, given):
        show("boiling points given, --quick", STRUCTURES, in_turn(bare, given, "quick"))
        few = bare.with_name("few.smi")
        few.write_text("".join(bare.open().readlines()[:FEW]), encoding="utf-8")
        show("boiling points estimated, --quick", FEW, in_turn(few, few, "quick", 1))
        show("estimated, InChIKey, groups, log P", FEW, in_turn(few, few, "whole", 1))


def library() -> None:
    """Print the same of so many structures that starting the processes hardly counts."""
    with prepared(LIBRARY) as (bare, given):
        rounds = in_turn(bare, given, "quick", REPEATS_OF_LIBRARY)
        show("boiling points given, --quick", LIBRARY, rounds)
        print("  two jobs x one, by round: " + ", ".join(f"{r.one / r.two:.2f}" for r in rounds))


@contextmanager
def prepared(count: int) -> Iterator[tuple[Path, Path]]:
    """Write so many structures, alone and with boiling points, and print the table's head."""
    print(f"{'building from SMILES':<37} structures  bare RDKit  one job            two jobs")
    print(
        f"{'':<37}               a second a second of bare  of bare  x one    memory  two readers x"
        " one"
    )
    with tempfile.TemporaryDirectory() as name:
        bare, given = Path(name, "bare.smi"), Path(name, "given.csv")
        with bare.open("w") as alone, given.open("w") as with_values:
            with_values.write("smiles,bp_C\n")
            for place, smiles in enumerate(structures(count)):
                alone.write(f"{smiles}\n")
                with_values.write(f"{smiles},{60 + 0.1 * (place % 900):.1f}\n")
        yield bare, given


def structures(count: int) -> Iterator[str]:
    """Yield SMILES as RDKit writes them, a fixed draw from all combinations."""
    import random

    from large_table import CORES, SUBSTITUENTS
    from rdkit import Chem, rdBase

    draw = random.Random(11)
    with rdBase.BlockLogs():
        for _ in range(count):
            yield Chem.CanonSmiles(draw.choice(CORES).format(*draw.choices(SUBSTITUENTS, k=4)))


class Round(NamedTuple):
    """Seconds of bare reading and of building with one job and with two, and the largest memory.

    ``both`` is how long two processes take that each read all, at once: what the machine has to
    give to a second job.
    """

    bare: float
    both: float
    one: float
    two: float
    memory: float


def in_turn(bare: Path, source: Path, kind: str, repeats: int = REPEATS) -> list[Round]:
    """Read and build, again and again; who is first changes, so that neither has the best of it."""
    return [
        one_round(bare, source, kind, (1, 2) if turn % 2 else (2, 1)) for turn in range(repeats)
    ]


def one_round(bare: Path, source: Path, kind: str, jobs: tuple[int, int]) -> Round:
    """Read once, and build with one job and with two, in that order."""
    (reading,) = run(_READ, bare)
    with ThreadPoolExecutor(2) as at_once:
        both = max(seconds for (seconds,) in at_once.map(run, [_READ] * 2, [bare] * 2))
    built = {
        count: run(_BUILD, source, bare.with_name(f"{count}.parquet"), count, kind)
        for count in jobs
    }
    (one, memory), (two, _) = built[1], built[2]
    return Round(reading, both, one, two, memory)


def run(code: str, *arguments: object) -> list[float]:
    """Return the numbers that a program prints."""
    command = [sys.executable, "-c", code, *map(str, arguments)]
    if code == _BUILD:  # started anew by its own processes: needs a file
        script = Path(str(arguments[1])).with_name("build.py")
        script.write_text(code, encoding="utf-8")
        command = [sys.executable, str(script), *map(str, arguments)]
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[1])}
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
    return [float(number) for number in done.stdout.split()]


def show(what: str, count: int, rounds: list[Round]) -> None:
    """Print a line: the medians of the rounds, ratios taken within each."""
    bare = statistics.median(count / one.bare for one in rounds)
    built = statistics.median(count / one.one for one in rounds)
    share = statistics.median(one.bare / one.one for one in rounds)
    of_two = statistics.median(one.bare / one.two for one in rounds)
    gain = statistics.median(one.one / one.two for one in rounds)
    memory = max(one.memory for one in rounds)
    readers = statistics.median(2.0 * one.bare / one.both for one in rounds)
    print(
        f"  {what:<35} {count:>11,} {bare:>11,.0f} {built:>8,.0f} {100 * share:>5.0f} % "
        f"{100 * of_two:>6.0f} % {gain:>6.2f} {memory:>5.2f} GB {readers:>11.2f}"
    )
