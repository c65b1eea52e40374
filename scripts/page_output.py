"""Fill the marked blocks of README.md and the guide with what their commands really print.

A marked block is a comment naming a command or a file, followed by a fenced block::

    <!-- output: identify-unknown match data/demo/C-14.toml -->
    ```text
    ...
    ```
    <!-- file: data/demo/C-14.toml -->
    ```toml
    ...
    ```

``python scripts/page_output.py`` rewrites the blocks; with ``--check`` it writes nothing and
exits with 1 where a block is not what its command prints now.
"""

from __future__ import annotations

import argparse
import contextlib
import functools
import io
import os
import re
import shlex
import sys
from pathlib import Path
from unittest import mock

from identify.cli import main as run_command

CHECKOUT = Path(__file__).resolve().parents[1]
PAGES = (CHECKOUT / "README.md", *sorted((CHECKOUT / "identify" / "guide").glob("*.md")))
PROGRAM = "identify-unknown"
BLOCK = re.compile(
    r"(?P<head><!-- (?P<kind>output|file): (?P<source>[^\n]+?) -->\n```[a-z]+\n).*?```\n", re.DOTALL
)


@functools.cache
def command_output(command: str) -> str:
    """Return what a command prints to standard output, in 80 columns and without color."""
    program, *arguments = shlex.split(command)
    if program != PROGRAM:
        raise SystemExit(f"only {PROGRAM} can be run for a block, not {program}")
    printed = io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="\n", write_through=True)
    with (
        contextlib.chdir(CHECKOUT),
        contextlib.redirect_stdout(printed),
        mock.patch.dict(os.environ, {"NO_COLOR": "1", "COLUMNS": "80"}),
    ):
        status = run_command(arguments)
    if status not in (0, 1):
        raise SystemExit(f"`{command}` failed with status {status}")
    printed.seek(0)
    return printed.read()


def filled(text: str) -> str:
    """Return a page with every marked block filled anew."""

    def block(match: re.Match[str]) -> str:
        source = match["source"]
        shown = (
            command_output(source)
            if match["kind"] == "output"
            else (CHECKOUT / source).read_text(encoding="utf-8")
        )
        return f"{match['head']}{shown.rstrip()}\n```\n"

    return BLOCK.sub(block, text)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--check", action="store_true", help="write nothing, exit 1 if outdated")
    wanted = parser.parse_args()
    outdated = False
    for page in PAGES:
        before = page.read_text(encoding="utf-8")
        after = filled(before)
        if after == before:
            continue
        outdated = True
        name = page.relative_to(CHECKOUT)
        if wanted.check:
            print(f"{name} is outdated: run python scripts/page_output.py", file=sys.stderr)
            continue
        print(f"{name}: filled anew", file=sys.stderr)
        beside = page.with_suffix(".md.new")
        beside.write_text(after, encoding="utf-8", newline="\n")
        beside.replace(page)
    return int(outdated and wanted.check)


if __name__ == "__main__":
    sys.exit(main())
