#!/usr/bin/env python3
"""Print what each dependency weighs: megabytes installed, what leaving it out saves, milliseconds.

Megabytes are those of the files that its distribution installed; leaving it out saves it and what
no other dependency needs. Milliseconds are the least of five imports in a new process, with what
it imports in turn, less those of Python's own start.

Usage: python scripts/dependencies.py
"""

from __future__ import annotations

import re
import subprocess
import sys
import time
import tomllib
from collections.abc import Iterable, Iterator
from functools import cache
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[1]
# Where the name to import is not that of the distribution.
IMPORTED = {"scikit-learn": "sklearn", "pyarrow": "pyarrow.parquet"}
_NAME = re.compile(r"[\w.-]+")


def direct(extra: str = "") -> list[str]:
    """Return what the project asks for itself, or with an extra."""
    project = tomllib.loads((CHECKOUT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = project["optional-dependencies"][extra] if extra else project["dependencies"]
    return [_name(one) for one in asked]


def _name(requirement: str) -> str:
    found = _NAME.match(requirement)
    assert found is not None, requirement
    return found[0].lower()


@cache
def needed(name: str) -> frozenset[str]:
    """Return what a distribution needs by itself, extras not among it."""
    try:
        requirements = distribution(name).requires or []
    except PackageNotFoundError:  # needed on another system only
        return frozenset()
    return frozenset(_name(one) for one in requirements if "extra ==" not in one)


def closure(names: Iterable[str]) -> frozenset[str]:
    """Return distributions, and all that they need in turn."""
    found: set[str] = set()
    waiting = [*names]
    while waiting:
        if (name := waiting.pop()) not in found:
            found.add(name)
            waiting += needed(name)
    return frozenset(found)


@cache
def megabytes(name: str) -> float:
    """Return what a distribution's files take, without what Python compiles of them."""
    try:
        files = distribution(name).files or []
    except PackageNotFoundError:
        return 0.0
    paths = [Path(str(file.locate())) for file in files if file.suffix != ".pyc"]
    return sum(path.stat().st_size for path in paths if path.is_file()) / 1e6


def milliseconds(module: str, repeats: int = 5) -> float:
    """Return how long an import takes in a new process."""
    return _least(f"import {module}", repeats) - _least("pass", repeats)


def _least(code: str, repeats: int) -> float:
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", code], check=True)
        times.append(1e3 * (time.perf_counter() - start))
    return min(times)


def rows() -> Iterator[str]:
    """Yield the lines of the table."""
    default = direct()
    kinds = dict.fromkeys(default, "") | dict.fromkeys(direct("build"), "build")
    yield f"{'':16}{'MB':>6}{'saves':>7}{'import ms':>11}"
    for name, extra in kinds.items():
        others = [one for one in default if one != name]
        saved = closure([*others, name]) - closure(others)
        took = milliseconds(IMPORTED.get(name, name))
        line = f"{name:16}{megabytes(name):6.1f}{sum(map(megabytes, saved)):7.1f}{took:11.0f}"
        yield f"{line}  {extra}".rstrip()
    for title, names in (("default", default), ("with build", [*kinds])):
        yield f"{title:16}{sum(map(megabytes, closure(names))):6.1f} MB in all"


if __name__ == "__main__":
    for line in rows():
        print(line, flush=True)
