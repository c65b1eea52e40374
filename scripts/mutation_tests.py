"""Which tests execute which lines, and how long each takes: recorded once for a file of tests.

Usage: python scripts/mutation_tests.py FILE RECORD

runs the tests of FILE (or the doctests of a folder) and writes what they execute of the package to
RECORD, an SQLite file of the library `coverage`, and the seconds of those that passed beside it.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from mutation_changes import PACKAGE

if TYPE_CHECKING:
    from coverage import Coverage, CoverageData

LONGEST_RECORDING_S = 1800.0
_STARTING = re.compile(r"\bsubprocess\b|\bpseudo_terminal\b")
_READING = re.compile(r"\bast\.Constant\b")


class Recorder:
    """A plugin for pytest that tells the coverage which test is running, and times each."""

    def __init__(self, coverage: Coverage) -> None:
        self.coverage = coverage
        self.seconds: dict[str, float] = {}
        self.passed: set[str] = set()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Time a test, and tell the coverage that it is running."""
        self.coverage.switch_context(item.nodeid)
        start = time.perf_counter()
        try:
            return (yield)
        finally:
            self.seconds[item.nodeid] = time.perf_counter() - start
            self.coverage.switch_context("")

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note which tests passed."""
        if report.when == "call" and report.passed:
            self.passed.add(report.nodeid)


def record(file: str, out: Path) -> None:
    """Run the tests of a file, and write which lines each executes, and its seconds."""
    from coverage import Coverage

    coverage = Coverage(data_file=str(out), source=[PACKAGE], config_file=False)
    coverage.start()
    recorder = Recorder(coverage)
    pytest.main(["-q", "-p", "no:cacheprovider", file], plugins=[recorder])
    coverage.stop()
    coverage.save()
    seconds = {name: taken for name, taken in recorder.seconds.items() if name in recorder.passed}
    sources = {str(path): digest(path) for path in Path(PACKAGE).rglob("*.py")}
    _keep_sources(sources, out)
    summary = {"seconds": seconds, "sources": sources}
    out.with_suffix(".json").write_text(json.dumps(summary), encoding="utf-8")


def _keep_sources(sources: dict[str, str], out: Path) -> None:
    """Keep what was executed, so that lines are found again when a file has changed."""
    for path, told in sources.items():
        kept = _kept_source(out, told)
        kept.parent.mkdir(exist_ok=True)
        if not kept.exists():
            shutil.copy(path, kept)


def _kept_source(record: Path, told: str) -> Path:
    return record.parent / "sources" / told


# ------------------------------------------------------------------------------------- choosing


def test_files(tree: Path) -> list[str]:
    """Return the files of tests, and the package for its doctests."""
    return [PACKAGE, *sorted(str(p.relative_to(tree)) for p in tree.glob("tests/**/test_*.py"))]


def digest(*files: Path) -> str:
    """Return what tells the contents of files."""
    return hashlib.sha256(b"".join(file.read_bytes() for file in files)).hexdigest()[:16]


def recorded(tree: Path, cache: Path) -> list[Record]:
    """Record the tests that are not recorded as they stand, and return all records."""
    cache.mkdir(parents=True, exist_ok=True)
    records = []
    for file in test_files(tree):
        out = cache / f"{file.removesuffix('.py').replace('/', '.')}{_version(tree, file)}.coverage"
        if not out.with_suffix(".json").exists():
            print(f"recording {file}", file=sys.stderr, flush=True)
            _record_apart(tree, file, out)
        records.append(Record(tree, out))
    return records


def _version(tree: Path, file: str) -> str:
    """Return what tells whether tests are as they were when they were recorded."""
    if file == PACKAGE:  # the doctests would be new with every line of the package
        names = sorted(path.name for path in (tree / PACKAGE).rglob("*.py"))
        return f".{hashlib.sha256(' '.join(names).encode()).hexdigest()[:16]}"
    cases = sorted(tree.glob("tests/golden/*.cases.jsonl")) if "golden" in file else []
    return f".{digest(tree / file, *cases)}"


def _record_apart(tree: Path, file: str, out: Path) -> None:
    """Record in a process of its own; a file that takes too long has no tests to choose from."""
    command = [sys.executable, str(Path(__file__).resolve()), file, str(out)]
    try:
        subprocess.run(
            command,
            cwd=tree,
            env=environment(tree),
            timeout=LONGEST_RECORDING_S,
            stdout=subprocess.DEVNULL,
            check=False,
        )
    except subprocess.TimeoutExpired:
        print(f"{file} takes too long, and is left out", file=sys.stderr)
        out.with_suffix(".json").write_text(json.dumps({"seconds": {}, "sources": {}}), "utf-8")


def environment(tree: Path) -> dict[str, str]:
    """Return the environment in which the tests of a copy of the checkout run."""
    path = os.pathsep.join([str(tree), *os.environ.get("PYTHONPATH", "").split(os.pathsep)])
    return os.environ | {"PYTHONPATH": path, "OMP_NUM_THREADS": "1"}


@cache
def lines_before(old: str, new: str) -> dict[int, Sequence[int]]:
    r"""Return for each line of a changed text those of the old one that it was, or came from.

    Examples
    --------
    >>> lines_before("a\nb\nc", "a\nx\ny\nc")
    {1: [1], 2: range(2, 3), 3: range(2, 3), 4: [3]}
    >>> lines_before("a\nb", "a\nx\nb")  # what is new is executed with what lies around it
    {1: [1], 2: range(1, 3), 3: [2]}
    """
    then: dict[int, Sequence[int]] = {}
    if old == new:
        return {line: [line] for line in range(1, old.count("\n") + 2)}
    matcher = SequenceMatcher(None, old.splitlines(), new.splitlines(), autojunk=False)
    for kind, first, last, start, end in matcher.get_opcodes():
        for place in range(start, end):
            if kind == "equal":
                then[place + 1] = [first + 1 + place - start]
            elif first < last:
                then[place + 1] = range(first + 1, last + 1)
            else:
                then[place + 1] = range(max(first, 1), first + 2)
    return then


@dataclass
class Record:
    """What the tests of one file execute."""

    tree: Path
    path: Path
    seconds: dict[str, float] = field(init=False)
    sources: dict[str, str] = field(init=False)

    def __post_init__(self) -> None:
        summary = json.loads(self.path.with_suffix(".json").read_text("utf-8"))
        self.seconds, self.sources = summary["seconds"], summary["sources"]

    @cached_property
    def _data(self) -> CoverageData:
        from coverage import CoverageData

        data = CoverageData(basename=str(self.path))
        data.read()
        return data

    def starting_processes(self) -> set[str]:
        """Return the tests of files that start processes: what these execute is not recorded."""
        return self._of_files(_STARTING)

    def reading_sources(self) -> set[str]:
        """Return the tests of files that read the package instead of executing it."""
        return self._of_files(_READING)

    def _of_files(self, told_by: re.Pattern[str]) -> set[str]:
        files = {name.split("::")[0] for name in self.seconds}
        found = {file for file in files if told_by.search((self.tree / file).read_text("utf-8"))}
        return {name for name in self.seconds if name.split("::")[0] in found}

    def executing(self, path: str, line: int | None) -> set[str]:
        """Return the tests that execute a line of a file, or any of it where no line is given.

        Where the file has changed since, those that executed the line where it stood, or the lines
        that stood in its place.
        """
        if not self.seconds:
            return set()
        tests: dict[int, list[str]] = self._data.contexts_by_lineno(str(self.tree / path))
        lines: Iterable[int] = tests
        if line is not None and (then := self._where(path)) is not None:
            lines = then.get(line, ())
        return {name for one in lines for name in tests.get(one, ())} & set(self.seconds)

    def _where(self, path: str) -> dict[int, Sequence[int]] | None:
        """Return where each line of a file stood when it was recorded, None if none can tell."""
        told = self.sources.get(path, "")
        kept = _kept_source(self.path, told)
        if told and kept.exists():
            return lines_before(kept.read_text("utf-8"), (self.tree / path).read_text("utf-8"))
        return None


def main(arguments: list[Any]) -> int:
    record(arguments[0], Path(arguments[1]))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
