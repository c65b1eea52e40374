"""A command run on files in a folder of its own, and what must hold whatever they are."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import os
import re
import sys
import tempfile
import time
import traceback
import unicodedata
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from unittest import mock

from identify.cli.app import main
from tests.fuzz.profiles import is_long
from tests.fuzz.usual_files import laid_out
from tests.memory import own_peak

MOST_SECONDS = 10.0  # of this process
MOST_MEMORY = 500.0  # MB, more than before
_LONGEST_LINE = 500
_MOST_LINES = 400  # on standard error: kinds of faults in one input, at most 21 lines each
_STATUSES = {0, 2}
_WITH_FAULTS_FOUND = ("check-stock", "--strict")
_STEERING = {"Cc", "Cs", "Zl", "Zp"}
_TURNING = set("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff")
_QUOTED = re.compile(r'"[^"]*"|\d[\d.,]*')


@dataclass(frozen=True)
class Typed:
    """What is typed, the files that it speaks of, and what is answered when it asks."""

    arguments: tuple[str, ...]
    files: Mapping[str, bytes] = field(default_factory=dict)
    answers: str = ""


@dataclass(frozen=True)
class Said:
    """Exit status, standard output and standard error, and the files that are new."""

    status: int
    output: str
    complaints: str
    written: tuple[str, ...]

    def kind(self) -> str:
        """Return what the first complaint says, without what was read."""
        line = next(iter(self.complaints.splitlines()), "")
        reason = line.rpartition(": ")[2] if line.count(": ") > 1 else line.partition(": ")[2]
        return _QUOTED.sub("...", reason or line)[:70]


class Tally:
    """Counts inputs by class and outcome, and keeps the slowest, the largest and the failures."""

    def __init__(self) -> None:
        self.failures: dict[str, tuple[int, Typed]] = {}
        self.outcomes: Counter[tuple[str, int]] = Counter()
        self.kinds: dict[str, Counter[str]] = {}
        self.slowest: dict[str, float] = {}
        self.largest: dict[str, float] = {}

    def add(self, what: str, said: Said, seconds: float, grown: float) -> None:
        """Count one."""
        self.outcomes[what, said.status] += 1
        self.kinds.setdefault(what, Counter())[said.kind()] += 1
        self.slowest[what] = max(self.slowest.get(what, 0.0), seconds)
        self.largest[what] = max(self.largest.get(what, 0.0), grown)

    def fail(self, why: Exception, typed: Typed) -> None:
        """Keep the smallest input of each kind of failure, and how many there were."""
        place = traceback.extract_tb(why.__traceback__)[-1]
        kind = f"{place.name}, line {place.lineno}: {_QUOTED.sub('...', str(why))[:300]}"
        count, smallest = self.failures.get(kind, (0, typed))
        self.failures[kind] = count + 1, min(smallest, typed, key=lambda one: len(repr(one)))

    def lines(self, kinds: int) -> Iterator[str]:
        """Yield the counts as a table, and the most frequent kinds of message of each class."""
        statuses = sorted({status for _, status in self.outcomes})
        heads = ["class", "inputs", *(f"status {one}" for one in statuses), "kinds", "s", "MB"]
        yield " ".join(f"{head:>9}" for head in heads)
        for what, said in sorted(self.kinds.items()):
            counts = [self.outcomes[what, status] for status in statuses]
            cells = [sum(counts), *counts, len(said)]
            end = f"{self.slowest[what]:9.2f} {self.largest[what]:9.0f}"
            yield f"{what:>9} " + " ".join(f"{cell:9d}" for cell in cells) + " " + end
        yield f"{sum(self.outcomes.values())} inputs"
        for what, said in sorted(self.kinds.items()):
            for kind, count in said.most_common(kinds):
                yield f"  {what} {count:6d}  {kind or '(nothing said)'}"


TALLY = Tally()


def held(what: str, typed: Typed) -> None:
    """Run a command and hold its outcome to what is documented.

    A long run keeps what does not hold and goes on, see `Tally.fail`; a short one ends there.

    Parameters
    ----------
    what : str
        The class of input that it is counted in.
    typed : Typed
    """
    try:
        _hold(what, typed)
    except Exception as failure:
        if not is_long():
            raise
        TALLY.fail(failure, typed)


def _hold(what: str, typed: Typed) -> None:
    with tempfile.TemporaryDirectory(prefix="fuzz") as folder, contextlib.chdir(folder):
        before = laid_out(typed.files)
        _forget_peak()
        held_before, begun = own_peak(), time.process_time()
        said = _run(typed, before)
        seconds, grown = time.process_time() - begun, own_peak() - held_before
        TALLY.add(what, said, seconds, grown)
        assert seconds < MOST_SECONDS, f"it took {seconds:.0f} s"
        assert grown < MOST_MEMORY, f"it took {grown:.0f} MB"
        _assert_files(typed, before)
    _assert_status(typed, said)
    _assert_told(typed, said)
    _assert_output(typed, said)


def _run(typed: Typed, before: Mapping[str, bytes | None]) -> Said:
    output, complaints = io.StringIO(), io.StringIO()
    with (
        contextlib.redirect_stdout(output),
        contextlib.redirect_stderr(complaints),
        mock.patch.object(sys, "stdin", io.StringIO(typed.answers)),
        _nothing_of_libraries(),
    ):
        status = main(list(typed.arguments))
    written = tuple(sorted(set(_files()) - set(before)))
    return Said(status, output.getvalue(), complaints.getvalue(), written)


def _files() -> Iterator[str]:
    for folder, _, names in os.walk("."):
        yield from (os.path.normpath(os.path.join(folder, name)) for name in names)


@contextlib.contextmanager
def _nothing_of_libraries() -> Iterator[None]:
    """Fail where a library writes to standard error past Python."""
    kept = os.dup(2)
    with tempfile.TemporaryFile() as caught:
        os.dup2(caught.fileno(), 2)
        try:
            yield
        finally:
            os.dup2(kept, 2)
            os.close(kept)
        caught.seek(0)
        assert caught.read() == b""


def _forget_peak() -> None:
    with contextlib.suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")


def _assert_status(typed: Typed, said: Said) -> None:
    allowed = set(_STATUSES)
    if any(word in typed.arguments for word in _WITH_FAULTS_FOUND):
        allowed.add(1)
    assert said.status in allowed, (said.status, said.complaints)
    if said.status == 2:
        assert said.complaints
    else:
        assert said.output or said.complaints or said.written


def _assert_told(typed: Typed, said: Said) -> None:
    lines = said.complaints.splitlines()
    assert len(lines) <= _MOST_LINES
    is_named_twice = len(set(typed.arguments)) < len(typed.arguments)
    assert len(set(lines)) == len(lines) or is_named_twice  # a file that is read twice
    for line in lines:
        assert line.strip()
        assert len(line) <= _LONGEST_LINE
    assert "Traceback" not in said.complaints
    assert "itself failed" not in said.complaints
    _assert_shown(said.complaints, "\n")


def _assert_shown(text: str, kept: str) -> None:
    odd = {
        one
        for one in set(text) - set(kept)
        if unicodedata.category(one) in _STEERING or one in _TURNING
    }
    assert odd == set()


def _assert_output(typed: Typed, said: Said) -> None:
    form = _option(typed.arguments, "--format")
    # Texts in cells of CSV keep their line feeds.
    _assert_shown(said.output, "\n\t" if form == "csv" else "\n")
    if not said.output:
        return
    if form == "json" and "--help" not in typed.arguments:
        json.loads(said.output, parse_constant=_refuse)
    elif form == "csv" and "--help" not in typed.arguments:
        _assert_rows(said.output)


def _refuse(constant: str) -> None:
    raise AssertionError(f"{constant} is not JSON")


def _assert_rows(text: str) -> None:
    """Hold rows to one width, and texts to what no spreadsheet runs."""
    rows = list(csv.reader(io.StringIO(text), strict=True))
    assert len({len(row) for row in rows}) == 1
    for cell in (cell for row in rows for cell in row):
        if cell[:1] in ("=", "@", "+", "-"):
            float(cell)


def _option(arguments: tuple[str, ...], name: str) -> str:
    places = [place for place, one in enumerate(arguments[:-1]) if one == name]
    return arguments[places[-1] + 1] if places else ""


def _assert_files(typed: Typed, before: Mapping[str, bytes | None]) -> None:
    """Hold files to be as they were, or whole and named by what was typed."""
    named = " ".join(typed.arguments)
    for name in _files():
        if name not in before:
            # A name with {label} in it stands for many.
            assert "{" in named or _is_named(name, named), f"{name} was not asked for"
            _assert_whole(Path(name))
    for name, content in before.items():
        assert content is None or name in named or Path(name).read_bytes() == content


def _is_named(file: str, typed: str) -> bool:
    """Say whether a file, its folder, or the table that it lists what is left out of, is named."""
    parts = Path(file)
    stem = parts.name.split(".")[0].removesuffix("-set-aside")
    return any(str(part) in typed for part in (parts, *parts.parents[:-1])) or stem in typed


def _assert_whole(file: Path) -> None:
    data = file.read_bytes()
    ending = file.suffix.lower()
    if ending in (".html", ".htm"):
        assert data.rstrip().endswith(b"</html>")
        _assert_shown(data.decode(), "\n")
    elif ending == ".json":
        json.loads(data, parse_constant=_refuse)
    elif ending == ".xlsx":
        import openpyxl

        openpyxl.load_workbook(io.BytesIO(data))
    elif ending == ".pdf":
        assert data.rstrip().endswith(b"%%EOF")
    elif ending == ".parquet":
        import pyarrow.parquet as pq

        pq.read_table(io.BytesIO(data))
    else:
        assert data
