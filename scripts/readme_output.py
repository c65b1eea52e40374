"""Fill README.md's marked blocks with what the commands in their markers really print.

A marked block is a comment naming a command or a file, followed by a fenced block::

    <!-- output: identify-unknown match data/demo/C-14.toml -->
    ```text
    ...
    ```
    <!-- file: data/demo/C-14.toml -->
    ```toml
    ...
    ```

``python scripts/readme_output.py`` rewrites the blocks; with ``--check`` it writes nothing and
exits with 1 where a block is not what its command prints now.
"""

from __future__ import annotations

import argparse
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[1]
README = CHECKOUT / "README.md"
PROGRAM = "identify-unknown"
BLOCK = re.compile(
    r"(?P<head><!-- (?P<kind>output|file): (?P<source>[^\n]+?) -->\n```[a-z]+\n).*?```\n", re.DOTALL
)


def command_output(command: str) -> str:
    """Return what a command prints to standard output, in 80 columns and without color."""
    program, *arguments = shlex.split(command)
    if program != PROGRAM:
        raise SystemExit(f"README.md: only {PROGRAM} can be run for a block, not {program}")
    search = os.pathsep.join(filter(None, (str(CHECKOUT), os.environ.get("PYTHONPATH", ""))))
    plain = {"NO_COLOR": "1", "COLUMNS": "80", "PYTHONIOENCODING": "utf-8", "PYTHONPATH": search}
    finished = subprocess.run(
        [sys.executable, "-m", "identify", *arguments],
        cwd=CHECKOUT,
        env={**os.environ, **plain},
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    if finished.returncode not in (0, 1):
        raise SystemExit(f"README.md: `{command}` failed: {finished.stderr.strip()}")
    return finished.stdout


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
    before = README.read_text(encoding="utf-8")
    after = filled(before)
    if wanted.check:
        if after != before:
            print("README.md is outdated: run python scripts/readme_output.py", file=sys.stderr)
        return int(after != before)
    if after != before:
        beside = README.with_suffix(".md.new")
        beside.write_text(after, encoding="utf-8", newline="\n")
        beside.replace(README)
    return 0


if __name__ == "__main__":
    sys.exit(main())
