#!/usr/bin/env python3
"""Compare the command's answers with the golden ones, or write those anew.

Golden are the answers to the cases under ``tests/golden/``: run records, trial tables, stock tables
and commands, which together raise every finding and every slip that the package knows. In
``*.cases.jsonl`` a line is a case, its commands and its files; in ``*.answers.jsonl`` the answers.
Numbers are compared to a relative 1e-9, texts exactly. The cases are drawn by `golden_cases.py`.

Usage: python scripts/golden_answers.py [KIND ...] [--write] [--coverage]

prints what moved and exits with 1 where something did; with ``--write`` it writes the answers anew;
with ``--coverage`` it prints the codes of findings and slips that no golden answer holds.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import difflib
import hashlib
import io
import json
import os
import re
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from html.parser import HTMLParser
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any
from unittest import mock

import identify
from identify.cli import main as run_command

CHECKOUT = Path(__file__).resolve().parents[1]
GOLDEN = CHECKOUT / "tests" / "golden"
CONSTRAINTS = CHECKOUT / "scripts" / "constraints.txt"

RELATIVE, ABSOLUTE = 1e-9, 1e-12
_MEASUREMENTS, _PREDICTED = 2, 3  # of what to measure next, kept whole
_MATCHED = 3
_SHOWN = 90  # letters of a value that moved

# Libraries whose versions may move a number or a text.
LIBRARIES = (
    "Jinja2",
    "click",
    "matplotlib",
    "numpy",
    "openpyxl",
    "pandas",
    "Pint",
    "pyarrow",
    "pypdf",
    "rdkit",
    "reportlab",
    "scikit-learn",
    "scipy",
    "typer",
    "uncertainties",
)


@dataclass(frozen=True)
class Case:
    """Commands that are run one after the other, in a folder with the demo and these files.

    Parameters
    ----------
    name : str
    commands : sequence of sequence of str
        The arguments of each; "python" and a measurement as JSON for a match without command.
    files : mapping of str to str
        Their texts by name.
    written : sequence of str
        Names of files that the commands write, part of the answer: a text line by line, of a page
        its words, of a workbook the cells of each row.
    """

    name: str
    commands: Sequence[Sequence[str]]
    files: Mapping[str, str] = field(default_factory=dict)
    written: Sequence[str] = ()


Answer = dict[str, Any]


def kinds() -> list[str]:
    """Return the kinds of cases that there are."""
    return sorted(path.name.split(".")[0] for path in GOLDEN.glob("*.cases.jsonl"))


def cases(kind: str) -> list[Case]:
    """Return the cases of a kind."""
    return [Case(**one) for one in _lines(GOLDEN / f"{kind}.cases.jsonl")]


def golden(kind: str) -> dict[str, Answer]:
    """Return the golden answers of a kind, by case."""
    return {one["case"]: one for one in _lines(GOLDEN / f"{kind}.answers.jsonl")}


def _lines(path: Path) -> list[Any]:
    if not path.exists():
        return []
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def write_lines(path: Path, entries: Sequence[object]) -> None:
    """Write entries as JSON, one a line."""
    lines = [json.dumps(one, ensure_ascii=False, separators=(",", ":")) for one in entries]
    path.write_text("".join(f"{line}\n" for line in lines), encoding="utf-8", newline="\n")


# ------------------------------------------------------------------------------------- answering


def answers(kind: str) -> dict[str, Answer]:
    """Run the cases of a kind, and return their answers by case."""
    return {case.name: answer(case) for case in cases(kind)}


def answer(case: Case) -> Answer:
    """Run the commands of a case, and return its answer."""
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        shutil.copytree(CHECKOUT / "data" / "demo", Path("data", "demo"))
        return _answered(case)


def _answered(case: Case) -> Answer:
    for name, text in case.files.items():
        Path(name).write_text(text, encoding="utf-8", newline="")
    given = [_run(arguments) for arguments in case.commands]
    answer: Answer = {"case": case.name, "answers": given}
    if case.written:
        answer["written"] = {name: _written(Path(name)) for name in case.written}
    return answer


def _written(file: Path) -> list[str]:
    if file.suffix == ".xlsx":
        return _cells(file)
    if file.suffix == ".pdf":
        from pypdf import PdfReader

        pages = PdfReader(file).pages
        words = [line for page in pages for line in page.extract_text().splitlines()]
        return [*words, _drawn(b"".join(page.get_contents().get_data() for page in pages))]
    text = file.read_text(encoding="utf-8")
    if file.suffix == ".html":
        page = _Words()
        page.feed(text)
        return [*page.words, _drawn(" ".join(page.layout).encode())]
    return text.splitlines()


def _drawn(how: bytes) -> str:
    """Return what tells whether a page looks otherwise, with the same words on it."""
    return f"drawn as {hashlib.sha256(how).hexdigest()[:12]}"


def _cells(file: Path) -> list[str]:
    from openpyxl import load_workbook

    lines = []
    for sheet in load_workbook(file):
        for row in sheet.iter_rows():
            told = [
                f"{one.value:.6g}" if isinstance(one.value, float) else str(one.value)
                for one in row
                if one.value is not None
            ]
            lines.append(f"{sheet.title}: {' | '.join(told)}")
        lines.append(f"{sheet.title}: {_sheet_layout(sheet)}")
    return lines


def _sheet_layout(sheet: Any) -> str:
    """Return how a sheet looks: widths, what stays in sight, kinds of numbers and of letters."""
    widths = [f"{name} {one.width:g}" for name, one in sorted(sheet.column_dimensions.items())]
    cells = [cell for row in sheet.iter_rows() for cell in row]
    numbers = sorted({cell.number_format for cell in cells})
    letters = {
        f"{cell.font.b} {cell.alignment.wrap_text} {cell.alignment.vertical} "
        f"{cell.fill.fgColor.rgb if cell.fill.fill_type else None}"
        for cell in cells
    }
    parts = (widths, [f"{sheet.freeze_panes} {sheet.auto_filter.ref}"], numbers, sorted(letters))
    return "; ".join(", ".join(part) for part in parts)


# Where a picture has its strokes: the last places differ from one processor to the next.
_PLACES = ("d", "points", "transform", "x", "x1", "x2", "y", "y1", "y2", "cx", "cy", "clip-path")


class _Words(HTMLParser):
    """The words of a page, what is said of its pictures, and how many strokes these have."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.is_style = False
        self.strokes: Counter[str] = Counter()
        self.layout: list[str] = []  # tags, and the style

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.is_style = tag in ("style", "metadata")
        self.layout += [tag, *(f"{name}={value}" for name, value in attrs if name not in _PLACES)]
        if tag in ("path", "use", "rect", "line", "circle"):
            colors = re.findall(r"(?:fill|stroke): ?[^;]+", dict(attrs).get("style") or "")
            self.strokes[" ".join([tag, *colors])] += 1
        said = [value for name, value in attrs if name in ("alt", "aria-label", "title", "href")]
        self.words += [value for value in said if value and not value.startswith(("#", "data:"))]

    def handle_endtag(self, tag: str) -> None:
        self.is_style = False
        self.layout.append(f"/{tag}")
        if tag == "svg":
            self.words += [f"{count} {stroke}" for stroke, count in sorted(self.strokes.items())]
            self.strokes.clear()

    def handle_data(self, data: str) -> None:
        if words := " ".join(data.split()):
            (self.layout if self.is_style else self.words).append(words)


def _run(arguments: Sequence[str]) -> Answer:
    if arguments[0] == "python":  # in place of a command: a match through the Python interface
        measured = identify.Measurement(**json.loads(arguments[1]))
        ranking = identify.match(measured).to_dict()
        ranking["candidates"] = ranking["candidates"][:_MATCHED]
        return {"answer": _compact(ranking)}
    output, complaints = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for _ in range(2))
    with (
        mock.patch.dict(os.environ, {"COLUMNS": "80"}),
        contextlib.redirect_stdout(output),
        contextlib.redirect_stderr(complaints),
    ):
        status = run_command(arguments)
    said, complained = (_content(stream) for stream in (output, complaints))
    answer: Any = said.splitlines()
    if "json" in arguments and said:
        answer = _compact(json.loads(said))
    return {"status": status, "answer": answer, "complaints": complained.splitlines()}


def _content(stream: io.TextIOWrapper) -> str:
    stream.flush()
    content = stream.buffer
    assert isinstance(content, io.BytesIO)
    return content.getvalue().decode("utf-8")


def _compact(data: Any) -> Any:
    """Return an answer without the predictions of most measurements that could come next."""
    if isinstance(data, list):
        return [_compact(one) for one in data]
    if not isinstance(data, dict):
        return data
    compact = {key: _compact(value) for key, value in data.items()}
    if isinstance(following := data.get("next"), list):
        compact["next"] = [
            one | {"predicted": one["predicted"][:_PREDICTED]} for one in following[:_MEASUREMENTS]
        ] + [
            {"code": one["code"], "information_gain_bits": one["information_gain_bits"]}
            for one in following[_MEASUREMENTS:]
        ]
    return compact


# ------------------------------------------------------------------------------------- comparing


def moved(before: Any, after: Any, path: str = "") -> Iterator[str]:
    """Yield what differs between two answers: where, before and after.

    Examples
    --------
    >>> list(moved({"a": [1.0, "x"]}, {"a": [1.0 + 1e-12, "y"], "b": 2}))
    ["a[1]: 'x' -> 'y'", 'b: (nothing) -> 2']
    """
    if isinstance(before, dict) and isinstance(after, dict):
        for key in dict.fromkeys([*before, *after]):
            place = f"{path}.{key}" if path else str(key)
            if key not in before or key not in after:
                yield f"{place}: {_shown(before, key)} -> {_shown(after, key)}"
            else:
                yield from moved(before[key], after[key], place)
    elif isinstance(before, list) and isinstance(after, list):
        if before != after:
            yield from _lists_moved(before, after, path)
    elif not _is_same(before, after):
        yield f"{path}: {_short(before)} -> {_short(after)}"


def _lists_moved(before: list[Any], after: list[Any], path: str) -> Iterator[str]:
    if all(isinstance(one, str) for one in (*before, *after)) and len(before) != len(after):
        for line in difflib.unified_diff(before, after, n=0, lineterm=""):
            if not line.startswith(("---", "+++", "@@")):
                yield f"{path}: {_short(line)}"
        return
    old, new = _keyed(before), _keyed(after)
    for key in dict.fromkeys([*old, *new]):
        place = f"{path}[{key}]"
        if key not in old or key not in new:
            yield f"{place}: {_shown(old, key)} -> {_shown(new, key)}"
        else:
            yield from moved(old[key], new[key], place)
    if list(old) != list(new) and sorted(map(str, old)) == sorted(map(str, new)):
        yield f"{path}: order {_short(list(old))} -> {_short(list(new))}"


def _keyed(entries: list[Any]) -> dict[Any, Any]:
    """Return entries by what they are about where they say so, else by place."""
    for name in ("code", "name", "row", "label"):
        if entries and all(isinstance(one, dict) and name in one for one in entries):
            seen: Counter[Any] = Counter()
            keyed = {}
            for one in entries:
                seen[one[name]] += 1
                times = f" #{seen[one[name]]}" if seen[one[name]] > 1 else ""
                keyed[f"{one[name]}{times}"] = one
            return keyed
    return dict(enumerate(entries))


def _is_same(before: Any, after: Any) -> bool:
    numbers = (int, float)
    if isinstance(before, bool) or isinstance(after, bool):
        return before is after
    if isinstance(before, numbers) and isinstance(after, numbers):
        largest = max(abs(before), abs(after))
        return abs(before - after) <= max(RELATIVE * largest, ABSOLUTE) or before == after
    return type(before) is type(after) and before == after


def _shown(entries: dict[Any, Any], key: Any) -> str:
    return _short(entries[key]) if key in entries else "(nothing)"


def _short(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= _SHOWN else f"{text[: _SHOWN - 3]}..."


def differences(before: Mapping[str, Answer], after: Mapping[str, Answer]) -> list[str]:
    """Return a line for each thing that moved, the case before it."""
    lines = []
    for name in dict.fromkeys([*before, *after]):
        if name not in after:
            lines.append(f"{name}: there is no such case any more")
        elif name not in before:
            lines.append(f"{name}: new")
        else:
            lines += [f"{name}: {line}" for line in moved(before[name], after[name])]
    return lines


# ----------------------------------------------------------------------------------------- codes

# Rooms that raise none: what is written like a code there is an option, a page or an attribute.
_SAY_NOTHING_NEW = {"answers", "cli", "guide"}
_CODE = re.compile(r"[a-z]+(-[a-z0-9]+)+")
# Codes of one word, and codes that are put together from parts: no literal tells them.
_OTHER_CODES = """
    boiling-point-of-another boiling-point-wrong carcinogen composition-of-another confused
    formula-wrong humidity-unit mass-implausible mass-unit
    molar-mass-implausible molar-mass-wrong percent-wrong pressure-implausible pressure-unit
    superheated temperature-implausible temperature-unit volume-implausible volume-unit
"""
# Literals written like a code that are none: options, encodings, attributes, units, names.
_NO_CODES = """
    aria-label boiling-between check-stock clip-path ideal-gas identify-unknown kgm-3 molar-mass
    molar-mass-between mpl-data n-proh room-temperature utf-16 utf-16-le utf-32 utf-8 utf-8-sig
    x-small
"""


def codes_in_source() -> set[str]:
    """Return all codes of findings and slips that the package knows: literals written like one.

    A new literal written like a code that is none belongs in ``_NO_CODES``; a code that no literal
    tells, in ``_OTHER_CODES``.
    """
    literals = {
        node.value
        for path in (CHECKOUT / "identify").rglob("*.py")
        if not _SAY_NOTHING_NEW & set(path.relative_to(CHECKOUT).parts)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    written_so = {one for one in literals if _CODE.fullmatch(one)}
    return (written_so | set(_OTHER_CODES.split())) - set(_NO_CODES.split())


def codes_in(answer: Any) -> Iterator[str]:
    """Yield the codes of findings, slips and causes in an answer."""
    if isinstance(answer, list):
        for one in answer:
            yield from codes_in(one)
    elif isinstance(answer, dict):
        for key, value in answer.items():
            if key == "code":
                yield value
            else:
                yield from codes_in(value)


def uncovered() -> set[str]:
    """Return the codes that no golden answer holds."""
    held = {code for kind in kinds() for one in golden(kind).values() for code in codes_in(one)}
    return codes_in_source() - held


# ----------------------------------------------------------------------------------- environment


def other_versions() -> list[str]:
    """Return the libraries whose versions are not the pinned ones."""
    pinned = dict(
        line.split("==") for line in CONSTRAINTS.read_text("utf-8").splitlines() if "==" in line
    )
    others = []
    for library in LIBRARIES:
        try:
            installed = version(library)
        except PackageNotFoundError:
            installed = "none"
        if installed != pinned[library]:
            others.append(f"{library} {installed} for {pinned[library]}")
    return others


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("kinds", nargs="*", metavar="KIND", help=f"of {', '.join(kinds())}")
    parser.add_argument("--write", action="store_true", help="write the answers anew")
    parser.add_argument("--coverage", action="store_true", help="print the codes not covered")
    options = parser.parse_args(arguments)
    if options.coverage:
        lacking = sorted(uncovered())
        print("\n".join(lacking) or "Every code is covered.")
        return int(bool(lacking))
    if others := other_versions():
        print(f"not the pinned versions: {', '.join(others)}", file=sys.stderr)
    lines = []
    for kind in options.kinds or kinds():
        now = answers(kind)
        lines += differences(golden(kind), now)
        if options.write:
            write_lines(GOLDEN / f"{kind}.answers.jsonl", list(now.values()))
    print("\n".join(lines) or "Nothing moved.")
    return int(bool(lines) and not options.write)


if __name__ == "__main__":
    sys.exit(main())
