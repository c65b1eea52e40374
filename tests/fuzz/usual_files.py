"""The files that lie beside every input: sound ones of each kind, made once."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from identify import check_stock, load_candidates
from identify.large.indexed import write_index
from tests.fuzz.valid import DEMO
from tests.parted import write_parts

_ROWS = 300  # of the candidate tables


@cache
def kept_files() -> Path:
    """Make the folder that they lie in, and return it; it stays until the process ends."""
    _KEPT.append(tempfile.TemporaryDirectory(prefix="usual"))
    folder = Path(_KEPT[0].name)
    for name, shown in (("page.toml", "C-14.toml"), ("section.csv", "section.csv")):
        (folder / name).write_bytes((DEMO / shown).read_bytes())
    shutil.copytree(DEMO, folder / "data" / "demo")
    (folder / "stock.csv").write_text(_sound_stock(), encoding="utf-8")
    table = load_candidates()
    some = table.take(sorted(range(len(table)), key=table.number("prior").__getitem__)[-_ROWS:])
    some.save(folder / "built.parquet")
    write_index([folder / "built.parquet"], folder / "index.arrow")
    write_parts(some, folder / "parts", 2)
    return folder


def _sound_stock() -> str:
    """Return the demo's stock table without the rows that are there to be found fault with."""
    lines = (DEMO / "stock.csv").read_text(encoding="utf-8").splitlines()
    check = check_stock(DEMO / "stock.csv")
    spoilt = {row.row for row in check.rows if any(f.severity == "error" for f in row.findings)}
    return "".join(f"{line}\n" for at, line in enumerate(lines, start=1) if at not in spoilt)


_KEPT: list[tempfile.TemporaryDirectory[str]] = []


@cache
def usual_files() -> Mapping[str, bytes]:
    """Return the usual files' contents by name."""
    folder = kept_files()
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): path.read_bytes() for path in files}


def laid_out(files: Mapping[str, bytes]) -> dict[str, bytes | None]:
    """Lay the usual files and these into this folder; return what is there, None if not compared.

    The usual ones are links: nothing is ever written into a file that is there.
    """
    for name in usual_files().keys() - files.keys():
        Path(name).parent.mkdir(exist_ok=True, parents=True)
        os.link(kept_files() / name, name)
    for name, content in files.items():
        Path(name).parent.mkdir(exist_ok=True, parents=True)
        Path(name).write_bytes(content)
    return {**dict.fromkeys(usual_files()), **files}
