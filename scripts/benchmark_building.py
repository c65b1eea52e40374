"""Building a table beside bare RDKit reading the same SMILES, for `scripts/benchmark`.

The structures are those of `large_table.py`, in SMILES as RDKit writes them.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

STRUCTURES = 60_000
FEW = 5_000  # where boiling points are estimated
REPEATS = 3

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
from identify.candidates.collection import BuildOptions, build_collection
if __name__ == "__main__":
    source, out, jobs, quick = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]), sys.argv[4]
    start = time.perf_counter()
    build_collection([source], out, BuildOptions(jobs=jobs, quick=quick == "quick"))
    print(time.perf_counter() - start)
    print(max(resource.getrusage(who).ru_maxrss
              for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)), file=sys.stderr)
"""


def building() -> None:
    """Print how fast tables are built, as shares of what bare reading takes, in turn."""
    print("building from SMILES:                   bare RDKit  one job  of bare  two jobs")
    print("                                        a second   a second          x one")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        written = structures()
        given, bare, few = folder / "given.csv", folder / "bare.smi", folder / "few.smi"
        bare.write_text("\n".join(written) + "\n", encoding="utf-8")
        lines = [
            "smiles,bp_C",
            *(f"{one},{60 + 0.1 * (k % 900):.1f}" for k, one in enumerate(written)),
        ]
        given.write_text("\n".join(lines) + "\n", encoding="utf-8")
        few.write_text("\n".join(written[:FEW]) + "\n", encoding="utf-8")
        show("boiling points given, --quick", in_turn(bare, given, "quick", REPEATS), STRUCTURES)
        show("boiling points estimated, --quick", in_turn(few, few, "quick", 1), FEW)
        show("estimated, InChIKey, groups, log P", in_turn(few, few, "whole", 1), FEW)


def structures() -> list[str]:
    """Return SMILES as RDKit writes them, a fixed draw from all combinations."""
    import random

    from large_table import CORES, SUBSTITUENTS
    from rdkit import Chem, rdBase

    draw = random.Random(11)
    with rdBase.BlockLogs():
        return [
            Chem.CanonSmiles(draw.choice(CORES).format(*draw.choices(SUBSTITUENTS, k=4)))
            for _ in range(STRUCTURES)
        ]


def in_turn(bare: Path, source: Path, kind: str, repeats: int) -> dict[str, float]:
    """Return the median seconds of reading and of building with one job and with two."""
    taken: dict[str, list[float]] = {}
    for _ in range(repeats):
        for what, seconds in {
            "bare": run(_READ, bare),
            "one": run(_BUILD, source, bare.with_name("one.parquet"), 1, kind),
            "two": run(_BUILD, source, bare.with_name("two.parquet"), 2, kind),
        }.items():
            taken.setdefault(what, []).append(seconds)
    return {what: statistics.median(seconds) for what, seconds in taken.items()}


def run(code: str, *arguments: object) -> float:
    """Return the seconds that a program says it took."""
    command = [sys.executable, "-c", code, *map(str, arguments)]
    if code == _BUILD:  # started anew by its own processes: needs a file
        script = Path(str(arguments[1])).with_name("build.py")
        script.write_text(code, encoding="utf-8")
        command = [sys.executable, str(script), *map(str, arguments)]
    environment = {"PYTHONPATH": str(Path(__file__).resolve().parents[1])}
    import os

    done = subprocess.run(
        command, env={**os.environ, **environment}, capture_output=True, text=True, check=True
    )
    return float(done.stdout.split()[0])


def show(what: str, seconds: dict[str, float], count: int) -> None:
    bare, one, two = seconds["bare"], seconds["one"], seconds["two"]
    print(
        f"  {what:<36} {count / bare:>8,.0f} {count / one:>8,.0f} {100 * bare / one:>7.0f} % "
        f"{one / two:>7.2f}"
    )
