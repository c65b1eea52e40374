"""How long commands take from a cold start, and where the time goes: by import, and by stage."""

from __future__ import annotations

import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[1]
DEMO = "data/demo"
WEIGHED = {"--empty": "98.1132 g", "--condensed": "98.3721 g", "--bath": "98.9 C"}
WEIGHED |= {"--room": "22.5 C", "--pressure": "742.0 mmHg", "--volume": "287.4 mL"}
CARD = {"--boiling-point": "64.6 C", "--percent": "C=37.48 H=12.58 O=49.93"}
CARDS = str(Path(tempfile.gettempdir(), f"cards-{os.getpid()}.html"))
COMMANDS = {
    "match": ["match", *(text for pair in {**WEIGHED, **CARD}.items() for text in pair)],
    "check-stock": ["check-stock", f"{DEMO}/stock.csv"],
    "cards": ["cards", f"{DEMO}/stock.csv", "--html", CARDS],
    "section": ["section", f"{DEMO}/section.csv", "--key", f"{DEMO}/stock.csv"],
    "plan": ["plan", "--liquids", "13"],
}
PANDAS = [sys.executable, "-c", "import pandas"]
_IMPORTED = re.compile(r"import time:\s+(\d+) \|\s+\d+ \|\s*(\S+)")
_LIBRARIES = 12


def environment() -> dict[str, str]:
    """Return an environment in which compiled modules are kept, as they are once installed."""
    kept = {**os.environ, "PYTHONPATH": str(CHECKOUT)}
    kept.pop("PYTHONDONTWRITEBYTECODE", None)
    return kept


def command(name: str, *python: str) -> list[str]:
    return [sys.executable, *python, "-m", "identify", *COMMANDS[name]]


def seconds(words: list[str]) -> float:
    start = time.perf_counter()
    # The demo's stock table and section have faults, and are answered all the same.
    done = subprocess.run(words, cwd=CHECKOUT, env=environment(), capture_output=True, check=False)
    assert done.returncode != 2 or done.stdout, done.stderr.decode()
    return time.perf_counter() - start


def cold_start(repeats: int) -> None:
    """Print each command's time beside that of the import of pandas, each in a new process."""
    words = {"import pandas": PANDAS, **{name: command(name) for name in COMMANDS}}
    for each in words.values():  # compiles what is not compiled yet
        seconds(each)
    taken: dict[str, list[float]] = {name: [] for name in words}
    for _ in range(repeats):
        for name, each in words.items():  # in turn, so that all meet the same machine
            taken[name].append(seconds(each))
    Path(CARDS).unlink()
    print(f"cold start, each in a new process, {repeats} times in turn:")
    print("                  median    least   of the import of pandas")
    pandas = taken.pop("import pandas")
    print(f"  import pandas {statistics.median(pandas):8.3f} s {min(pandas):6.3f} s")
    for name, times in taken.items():
        ratios = [own / other for own, other in zip(times, pandas, strict=True)]
        print(
            f"  {name:<14}{statistics.median(times):8.3f} s {min(times):6.3f} s "
            f"{statistics.median(ratios):6.2f}"
        )


def imports() -> None:
    """Print what the imports of a match take, library by library."""
    done = subprocess.run(
        command("match", "-X", "importtime"),
        cwd=CHECKOUT,
        env=environment(),
        capture_output=True,
        text=True,
        check=True,
    )
    spent: Counter[str] = Counter()
    modules: Counter[str] = Counter()
    for microseconds, module in _IMPORTED.findall(done.stderr):
        library, *rooms = module.split(".")
        name = f"identify.{rooms[0]}" if library == "identify" and rooms else library
        spent[name] += int(microseconds)
        modules[name] += 1
    total = sum(spent.values())
    print(f"imports of a match: {total / 1e3:.0f} ms, the tracing included")
    for name, microseconds in spent.most_common(_LIBRARIES):
        print(f"  {name:<24}{microseconds / 1e3:7.1f} ms {modules[name]:5} modules")


_STAGES = """
import time
def lap(name, start=[time.perf_counter()]):
    now = time.perf_counter()
    print(f"  {name:<24}{1e3 * (now - start[0]):7.1f} ms")
    start[0] = now
import identify.cli; lap("command line")
import identify.tables, identify.matching.ranking as ranking; lap("rooms of the match")
import identify; [run] = identify.read_runs("data/demo/C-14.toml"); lap("record read")
table = identify.load_candidates(); lap("table loaded")
from identify.matching.settings import MatchSettings
matcher = ranking.matcher_of(table, MatchSettings.of()); lap("constants prepared")
found = ranking.ranked(run, matcher); lap("first match")
ranking.ranked(run, matcher); lap("the same again")
found.to_dict(); lap("plain data")
"""


def stages() -> None:
    """Print what the stages of a match take, one after the other in a new process."""
    print("stages of a match:", flush=True)
    subprocess.run([sys.executable, "-c", _STAGES], cwd=CHECKOUT, env=environment(), check=True)


def profile() -> None:
    """Print where the time of a cold start goes."""
    imports()
    stages()
