"""Streams that are closed or full, and bare surroundings: the documented statuses."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).parents[1]
pytestmark = pytest.mark.skipif(not Path("/dev/full").exists(), reason="no such device there")

SOUND, HALF = ("match", "sound.csv"), ("match", "half.csv")
FAULT = 'half.csv, row 2, boiling_point_C: "hot" does not start with a number'
UNKNOWN = "identify-unknown match: No such option"  # the rest is typer's, of any version
CLOSED = "standard output: cannot be used (it is closed)"
FULL = "standard output: cannot be used (No space left on device)"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a table that is sound, and one with a fault."""
    made = tmp_path_factory.mktemp("streams")
    header = "label,student,boiling_point_C\n"
    (made / "sound.csv").write_text(f"{header}C-1,Zoë,56.1\n", encoding="utf-8")
    (made / "half.csv").write_text(f"{header}C-1,Ada,hot\nC-2,Ben,56.1\n", encoding="utf-8")
    return made


def run(
    folder: Path, command: tuple[str, ...], streams: str = "", python: str = "", **environment: str
) -> subprocess.CompletedProcess[str]:
    """Run a command in a shell that redirects its streams."""
    line = " ".join((f'"{sys.executable}" {python} -m identify', *command, streams))
    return subprocess.run(
        ["sh", "-c", line],
        cwd=folder,
        env={"PATH": os.environ["PATH"], "PYTHONPATH": str(CHECKOUT), **environment},
        capture_output=True,
        encoding="utf-8",
        timeout=60,
    )


@pytest.mark.parametrize(
    ("command", "streams", "status", "said"),
    [
        (SOUND, ">&-", 2, [CLOSED]),
        ((*SOUND, "--format=json"), ">&-", 2, [CLOSED]),
        (("--version",), ">&-", 2, [CLOSED]),
        (("match", "--help"), ">&-", 2, [CLOSED]),
        (("guide", "limits"), ">&-", 2, [CLOSED]),
        (HALF, ">&-", 2, [FAULT, CLOSED]),  # neither is lost in the other
        (HALF, ">/dev/full", 2, [FAULT, FULL]),
        (("match", "missing.csv"), ">&-", 2, ["missing.csv: there is no such file"]),
        (SOUND, "2>&-", 0, []),
        (SOUND, "2>/dev/full", 0, []),
        (HALF, "2>&-", 2, []),
        (HALF, "2>/dev/full", 2, []),
        (("match", "--nonsense"), "2>&-", 2, []),
        (("match", "--nonsense"), "2>/dev/full", 2, []),
        (("match", "--nonsense"), ">&-", 2, [UNKNOWN]),
        (HALF, ">&- 2>&-", 2, []),
        (HALF, "<&- >&- 2>&-", 2, []),
        (HALF, ">/dev/full 2>/dev/full", 2, []),
        (("new", "page", "page.toml", "--ask"), "<&-", 2, ["--ask: there is no terminal"]),
        (SOUND, "<&-", 0, []),
    ],
)
def test_streams_that_are_closed_or_full(
    folder: Path, command: tuple[str, ...], streams: str, status: int, said: list[str]
) -> None:
    done = run(folder, command, streams)
    assert done.returncode == status
    lines = done.stderr.splitlines()
    assert [line[: len(start)] for line, start in zip(lines, said, strict=True)] == said
    # What can be written is: the answer, and nothing that belongs to standard error.
    has_answer = command in (SOUND, HALF) and not streams.strip("<&- ").startswith(">")
    assert ("acetone" in done.stdout) == has_answer
    assert "--nonsense" not in done.stdout


def test_closed_streams_spoil_no_file(folder: Path) -> None:
    """No file that is written takes the place of a closed stream."""
    done = run(folder, (*HALF, "--report=page.html"), ">&- 2>&- <&-")
    assert done.returncode == 2
    page = folder / "page.html"
    assert not page.exists() or page.read_text("utf-8").startswith("<!DOCTYPE html>")
    done = run(folder, ("new", "stock", "forms.csv"), "2>&- <&-")
    assert (done.returncode, (folder / "forms.csv").read_text("utf-8")[:5]) == (0, "label")


@pytest.mark.parametrize(
    ("command", "status", "answer"),
    [
        (SOUND, 0, "C-1"),
        (HALF, 2, "C-2"),
        (("section", "sound.csv"), 0, "no shared cause"),
        (("guide", "limits"), 0, "# Limits"),
        (("match", "--help"), 0, "Usage:"),
        (("match", "sound.csv", "--plot=plot.svg"), 0, "C-1"),
    ],
)
def test_bare_surroundings(
    folder: Path, command: tuple[str, ...], status: int, answer: str
) -> None:
    """No home, no color, 20 columns, nothing but ASCII, neither docstrings nor assertions."""
    bare = {"LC_ALL": "C", "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0", "TERM": "dumb"}
    done = run(folder, command, python="-OO", COLUMNS="20", **bare)
    assert done.returncode == status
    assert answer in done.stdout
    assert done.stdout.isascii()
    assert "\x1b" not in done.stdout + done.stderr
    assert bool(re.search("row 2, boiling_point_C", done.stderr)) == (command == HALF)
