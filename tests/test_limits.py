"""Inputs that would fill memory or never end: one line each, in seconds, in half a gigabyte."""

from __future__ import annotations

import gzip
import os
import re
import subprocess
import sys
import threading
import time
import zipfile
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook

from identify.compounds.parquet import arrow_table
from identify.tables import limits, read_runs
from identify.tables.faults import UnreadableError
from identify.tables.lines import file_bytes
from tests.command import Run, invoke

__all__ = ["invoke"]

CHECKOUT = Path(__file__).parents[1]
GUIDE = CHECKOUT / "identify" / "guide" / "limits.md"
HEADER = "label,boiling_point_C\n"
SHEET = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
END = b"</sheetData></worksheet>"
SEEN = b'<row r="1"><c t="inlineStr"><is><t>label</t></is></c></row>'
MASS, RECORD = "boiling_point = ", 'label = "C-1"\n[card]\n'


def workbook(path: Path, sheet: bytes) -> None:
    """Write a workbook whose only sheet is this XML."""
    plain = path.with_suffix(".plain")
    Workbook().save(plain)
    with zipfile.ZipFile(plain) as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.namelist():
            is_sheet = part == "xl/worksheets/sheet1.xml"
            new.writestr(part, sheet if is_sheet else old.read(part))
    plain.unlink()


def book(rows: bytes) -> Callable[[Path], None]:
    return lambda path: workbook(path, SHEET + rows + END)


def text(content: str) -> Callable[[Path], object]:
    return lambda path: path.write_text(content, encoding="utf-8")


CELL = b"<c><v>1</v></c>"
HOSTILE: dict[str, tuple[Callable[[Path], Any], str]] = {
    "far.xlsx": (book(SEEN + b'<row r="2000000000">' + CELL + b"</row>"), "1,048,576 rows"),
    "blank.xlsx": (book(b" " * 65_000_000), "64 MB once unpacked"),
    "cells.xlsx": (book((b"<row>" + CELL * 20 + b"</row>") * 26_000), "more than 500,000 cells"),
    "wide.xlsx": (book(b"<row>" + CELL * 200_000 + b"</row>"), "100,000 in a row"),
    "deep.xlsx": (book(b"<row>" * 500_000), "100,000 in a row"),
    "columns.xlsx": (book(b"<row>" + CELL * 1_001 + b"</row>"), "more than 1,000 cells"),
    "large.csv": (text(HEADER + "C-1,56.1\n" * 3_600_000), "is larger than 32 MB"),
    "rows.csv": (text(HEADER + "C-1,56.1\n" * 100_001), "100,000 rows that hold anything"),
    "columns.csv": (text("label," + "x," * 1_000_000), "more than 1,000 cells"),
    "cells.csv": (text(HEADER + ("C-1" + "," * 900 + "\n") * 3_000), "2,000,000 cells"),
    "commas.csv": (text("," * 30_000_000), "is empty"),
    "quotes.csv": (text(HEADER + '"a\n' * 20_000), "marks that do not pair"),
    "lines.csv": (text(HEADER + "\n" * 1_100_000 + "C-1,56.1\n"), "1,048,576 rows"),
    "large.toml": (text("#" * 200_001), "is larger than 200 kB"),
    "keys.toml": (text(RECORD + "".join(f"k{i} = 1\n" for i in range(3_000))), "3,000 keys"),
    "brackets.toml": (text(RECORD + MASS + "[" * 90_000), "is not TOML"),
    "tables.toml": (text('label = "C-1"\ncard = ' + "{a=" * 900 + "1" + "}" * 900), "is not TOML"),
    "dots.toml": (text('label = "C-1"\n' + "a." * 90_000 + "a = 1"), "is not TOML"),
    "label.toml": (text(f'label = "{"x" * 190_000}"\n[card]\nmolar_mass = 46'), "is too long"),
    "header.toml": (text('label = "C-1"\n[' + "'a' . " * 30_000 + "a]"), "is not TOML"),
    "lines.toml": (text(RECORD + "boils at 56\n" * 9_000), "is not TOML"),
    "open.toml": (text(RECORD + "a = [ ] x ]\n" * 1_900), "more lines are not TOML"),
    "number.toml": (text(RECORD + MASS + "9" * 150_000), "is not TOML"),
    "nul.csv": (lambda path: path.write_bytes(bytes(9_000_000)), "is not text"),
}
DEVICES = {"/dev/zero": "is a device", "/dev/full": "is a device", "/dev/null": "is a device"}


# Nothing is answered: what is printed is the memory that it took.
MATCHED = """
import sys
from identify.cli import main
from tests.memory import own_peak
status = main(sys.argv[1:])
print(own_peak())
sys.exit(status)
"""


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Read all inputs by one command that is short of memory, and return what it says of each."""
    resource = pytest.importorskip("resource")
    folder = tmp_path_factory.mktemp("hostile")
    for name, (make, _) in HOSTILE.items():
        make(folder / name)
    files = [*HOSTILE, *filter(os.path.exists, DEVICES)]
    begun = time.monotonic()
    done = subprocess.run(
        [sys.executable, "-c", MATCHED, "match", *files],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(CHECKOUT)},
        capture_output=True,
        text=True,
        timeout=100,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (1_500_000_000,) * 2),
    )
    assert done.returncode == 2
    assert time.monotonic() - begun < 3.0 * len(files)
    assert float(done.stdout) < 500
    lines: dict[str, str] = {}
    for line in done.stderr.splitlines():
        name = re.split("[:,]", line)[0]
        lines[name] = lines.get(name, "") + line + "\n"
    return lines


@pytest.mark.parametrize("name", HOSTILE)
def test_it_is_one_line(told: dict[str, str], name: str) -> None:
    said = told[name].splitlines()
    assert HOSTILE[name][1] in said[0]
    assert len(said) <= (21 if name == "open.toml" else 1)
    assert "damaged" not in said[0]


@pytest.mark.parametrize("name", list(filter(os.path.exists, DEVICES)))
def test_a_device_is_not_read(told: dict[str, str], name: str) -> None:
    assert DEVICES[name] in told[name]


PIPED = [
    ("match", "{}.csv"),
    ("match", "--boiling-point=78 C", "--candidates", "{}.parquet"),
    ("match", "--boiling-point=78 C", "--candidates", "{}.arrow"),
    ("candidates", "build", "{}.smi", "--out", "new.parquet"),
    ("candidates", "index", "{}.parquet", "--out", "new.arrow"),
    ("check-stock", "{}.csv"),
    ("plan", "--class", "{}.json"),
]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names there")
@pytest.mark.parametrize("arguments", PIPED)
def test_a_pipe_without_a_writer(
    invoke: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("identify.tables.lines.PIPE_PATIENCE", 0.05)
    name = next(one for one in arguments if "{}" in one).format("pipe")
    os.mkfifo(name)
    outcome = invoke(*(one.format("pipe") for one in arguments))
    assert outcome.status == 2
    (line,) = outcome.said
    assert f"{name}: is a pipe" in line


@pytest.fixture
def trickle(tmp_path: Path) -> Iterator[Callable[[bytes, float], Path]]:
    """Return a function that makes a pipe into which bytes are written one by one, with pauses."""
    stop, writers = threading.Event(), list[threading.Thread]()

    def make(content: bytes, pause: float) -> Path:
        pipe = tmp_path / "trickle.csv"
        os.mkfifo(pipe)
        writers.append(threading.Thread(target=write, args=(pipe, content, pause)))
        writers[-1].start()
        return pipe

    def write(pipe: Path, content: bytes, pause: float) -> None:
        with suppress(BrokenPipeError), open(pipe, "wb", buffering=0) as stream:
            for byte in content:
                stream.write(bytes([byte]))
                if stop.wait(pause):
                    return

    yield make
    stop.set()
    for writer in writers:
        writer.join()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names there")
@pytest.mark.parametrize(
    ("content", "pause", "most", "read"),
    [
        (f"{HEADER}C-1,56.1\n", 0.002, limits.MAX_FILE, "C-1"),
        (f"{HEADER}C-1,56.1\n" * 1_000, 0.01, limits.MAX_FILE, "is a pipe that does not end"),
        (HEADER, 5.0, limits.MAX_FILE, "is a pipe that does not end"),
        (f"{HEADER}C-1,56.1\n", 0.0, 30, "is larger than"),
        (" \n" * 9, 0.0, limits.MAX_FILE, "is empty"),
    ],
)
def test_a_pipe_that_trickles(
    trickle: Callable[[bytes, float], Path],
    monkeypatch: pytest.MonkeyPatch,
    content: str,
    pause: float,
    most: int,
    read: str,
) -> None:
    monkeypatch.setattr("identify.tables.lines.MAX_PIPE_TIME", 1.0)
    monkeypatch.setattr("identify.tables.lines.PIPE_PATIENCE", 0.5)
    begun = time.monotonic()
    pipe = trickle(content.encode(), pause)
    if read == "C-1":
        assert b"C-1,56.1" in file_bytes(pipe, most)
    else:
        with pytest.raises(UnreadableError, match=read):
            file_bytes(pipe, most)
    assert time.monotonic() - begun < 5.0


@pytest.mark.skipif(not os.path.exists("/dev/fd"), reason="no names for what is open there")
def test_a_pipe_that_ends_is_read() -> None:
    read, write = os.pipe()
    os.write(write, f"{HEADER}C-1,56.1\n".encode())
    os.close(write)
    runs = read_runs(f"/dev/fd/{read}")
    os.close(read)
    assert ([run.label for run in runs], runs.faults) == (["C-1"], ())


def test_what_is_just_within_is_read(tmp_path: Path) -> None:
    names = ",".join(f"x{place}" for place in range(998))
    (tmp_path / "wide.csv").write_text(f"label,boiling_point_C,{names}\nC-1,56.1\n")
    (tmp_path / "trailing.csv").write_text(HEADER + "C-1,56.1" + "," * 20_000 + "\n")
    (tmp_path / "keys.toml").write_text(
        RECORD + 'boiling_point = "56.1 C"\n' + "[[trial]]\ngain = 0.3\n" * 1_000
    )
    workbook(
        tmp_path / "far.xlsx",
        SEEN.replace(b"</row>", b'<c t="inlineStr"><is><t>boiling_point_C</t></is></c></row>').join(
            [SHEET, b'<row r="9000"><c t="inlineStr"><is><t>C-1</t></is></c>']
        )
        + b"<c><v>56.1</v></c></row>"
        + END,
    )
    for name in ("wide.csv", "trailing.csv", "keys.toml", "far.xlsx"):
        runs = read_runs(tmp_path / name)
        assert ([run.label for run in runs], runs.faults) == (["C-1"], ()), name


@pytest.mark.parametrize(
    ("name", "content", "reason"),
    [
        ("all.xlsx.gz", b"PK\x03\x04" + b" " * limits.MAX_FILE, "a workbook of more than 32 MB"),
        ("all.smi.gz", (b"C" * 999_999 + b"\n") * 65, "more than 100 times its size"),
        ("sound.smi.gz", b"CCO\n" * 17_000_000, "more than 100 times its size"),
        ("all.sdf.gz", b"\n" * 1_100_000, "more than 1,000,000 blank lines"),
        ("all.csv.gz", b"smiles\n" + b",\n" * 1_100_000, "more than 1,000,000 blank lines"),
    ],
)
def test_a_collection_that_unpacks_to_more_than_structures_do(
    invoke: Run,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    content: bytes,
    reason: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    with gzip.open(name, "wb") as packed:
        packed.write(content)
    begun = time.monotonic()
    outcome = invoke("candidates", "build", name, "--out", "new.parquet")
    assert time.monotonic() - begun < 15.0  # also where all rows are sound
    assert outcome.status == 2
    assert any(reason in line for line in outcome.said)


def test_a_far_row_of_a_collection(
    invoke: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("identify.tables.rows.MAX_SHEET_ROWS", 1_000)
    smiles = SEEN.replace(b"label", b"smiles") + b'<row r="1001">' + CELL + b"</row>"
    workbook(Path("all.xlsx"), SHEET + smiles + END)
    outcome = invoke("candidates", "build", "all.xlsx", "--out", "new.parquet")
    assert outcome.status == 2
    assert any("has more than 1,000 rows" in line for line in outcome.said)


@pytest.mark.parametrize(
    ("rows", "long", "once", "reason"),
    [
        (700_000, 1, False, "holds 700,000 rows in"),
        (1_000, 100_000, False, "times its size once unpacked"),
        (1_000, 100_000, True, "times its size once unpacked"),  # which the metadata do not show
    ],
)
def test_a_candidate_table_that_grows_too_much(
    invoke: Run, tmp_path: Path, rows: int, long: int, once: bool, reason: str
) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    file = tmp_path / "large.parquet"
    table = pa.table({"name": pa.array(["a" * long] * rows)})
    pq.write_table(table, file, compression="zstd", use_dictionary=once)
    for arguments in (
        ("match", "--boiling-point=78 C", "--candidates", file),
        ("candidates", "index", file, "--out", tmp_path / "new.arrow"),
    ):
        outcome = invoke(*arguments)
        assert outcome.status == 2
        (line,) = outcome.said
        assert line.startswith(f"{file}: ")
        assert reason in line


@pytest.mark.parametrize(("long", "is_too_much"), [(800, False), (1_100, True)])
def test_a_text_that_repeats_itself_in_a_table_of_any_size(
    invoke: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, long: int, is_too_much: bool
) -> None:
    """In all of its groups of rows together, beside 190 kB of what does not repeat itself."""
    import numpy as np
    import pyarrow as pa
    import pyarrow.parquet as pq

    monkeypatch.setattr("identify.compounds.parquet.MAX_UNPACKED", 50_000)
    file, rows = tmp_path / "large.parquet", 20_000
    noise = np.random.default_rng(1).uniform(300.0, 400.0, rows)
    table = pa.table({"name": ["a" * long] * rows, "boiling_point_C": noise})
    pq.write_table(table, file, compression="zstd", row_group_size=5_000)
    if not is_too_much:
        assert arrow_table(file).num_rows == rows
        return
    outcome = invoke("match", "--boiling-point=78 C", "--candidates", file)
    assert (outcome.status, len(outcome.said)) == (2, 1)
    assert "holds more than 100 times its size once unpacked" in outcome.said[0]


def test_more_cards_or_runs_than_anybody_asks_for(invoke: Run, tmp_path: Path) -> None:
    stock = tmp_path / "stock.csv"
    stock.write_text("label,identity\n" + "".join(f"C-{n},ethanol\n" for n in range(101)))
    outcome = invoke("cards", stock, "--pdf", tmp_path / "cards.pdf", "--copies", 100)
    assert outcome.status == 2
    assert f"{stock}: 10,100 cards are too many at once, the most are 10,000" in outcome.said[-1]
    assert list(tmp_path.iterdir()) == [stock]
    (line,) = invoke("plan", "--runs", 10_001).said
    # How it is put differs between the oldest typer and the newest.
    assert "Invalid value for '--runs'" in line
    assert "10000" in line


def test_the_guide_tells_the_limits() -> None:
    page = GUIDE.read_text(encoding="utf-8")
    for number in (
        limits.size_text(limits.MAX_FILE),
        limits.size_text(limits.MAX_RECORD),
        limits.size_text(limits.MAX_RESULTS),
        limits.size_text(limits.MAX_UNPACKED),
        f"{limits.MAX_ROWS:,}",
        f"{limits.MAX_SHEET_ROWS:,}",
        f"{limits.MAX_COLUMNS:,}",
        f"{limits.MAX_CELLS:,}",
        f"{limits.MAX_BROKEN_ROWS:,}",
        f"{limits.MAX_TAGS // 4:,}",
        f"{limits.MAX_KEYS:,} and {limits.MAX_NESTING}",
        f"{limits.MAX_SMALL_PARQUET:,}",
        f"{limits.MAX_BLANK_LINES:,}",
        f"{limits.MAX_TEXT} |",
        f"{limits.MAX_UNPACKING} times",
        f"{limits.MAX_CARDS:,}",
        f"{limits.MAX_SIMULATED_RUNS:,}",
        f"{limits.PIPE_PATIENCE:.0f} and {limits.MAX_PIPE_TIME:.0f}",
    ):
        assert f"| {number}" in page, number


@given(
    st.lists(st.sampled_from(["a", "'b c'", '"d"', ".", " ", "=", "[", "]", "{", "}", "1", "\n"]))
)
def test_whatever_is_nested_is_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, parts: list[str]
) -> None:
    file = tmp_path_factory.getbasetemp() / "nested.toml"
    file.write_text('label = "C-1"\n' + "".join(parts) * 30, encoding="utf-8")
    runs = read_runs(file)
    assert runs or runs.faults


ROW = "C-{},56.1\n"


@pytest.mark.parametrize(
    ("limit", "most", "content", "said"),
    [
        ("rows.MAX_ROWS", 5, HEADER + "".join(map(ROW.format, range(5))), ""),
        ("rows.MAX_ROWS", 5, HEADER + "".join(map(ROW.format, range(6))),
         "has more than 5 rows that hold anything; split it, or leave out the rest"),
        ("rows.MAX_SHEET_ROWS", 9, HEADER + "\n" * 7 + "C-1,56.1\n", ""),
        ("rows.MAX_SHEET_ROWS", 9, HEADER + "\n" * 8 + "C-1,56.1\n",
         "has more than 9 rows; split it, or leave out the rest"),
        ("rows.MAX_CELLS", 12, HEADER + "".join(map(ROW.format, range(5))), ""),
        ("rows.MAX_CELLS", 11, HEADER + "".join(map(ROW.format, range(5))),
         "has more than 11 cells; split it, or leave out the rest"),
        ("rows.MAX_COLUMNS", 4, HEADER + "C-1,56.1,,,,,\n", ""),
        ("rows.MAX_COLUMNS", 4, HEADER + "C-1,56.1,,,5,,\n",
         "has more than 4 cells, and a table no more columns; check its commas"),
        ("rows.MAX_BROKEN_ROWS", 2, HEADER + '"a\n' * 3,
         "has quotation marks that do not pair; write each mark in a cell twice (so in 2 rows "
         "before)"),
    ],
)  # fmt: skip
def test_the_last_row_that_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limit: str, most: int, content: str, said: str
) -> None:
    monkeypatch.setattr(f"identify.tables.{limit}", most)
    file = tmp_path / "a.csv"
    file.write_text(content)
    runs = read_runs(file)
    if said:
        assert [fault.advice for fault in runs.faults] == [said]
    else:
        assert runs.faults == ()
        assert len(runs) == content.count("C-")


@pytest.mark.parametrize(
    ("limit", "most", "said"),
    [
        ("MAX_KEYS", 4, []),
        ("MAX_KEYS", 3, ["has more than 3 keys, and a run record is a page"]),
        ("MAX_NESTING", 2, []),
        ("MAX_NESTING", 1, ['is not TOML; write it like room = "22.5 C"']),
    ],
)
def test_the_last_key_that_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limit: str, most: int, said: list[str]
) -> None:
    monkeypatch.setattr(f"identify.tables.records.toml_text.{limit}", most)
    file = tmp_path / "a.toml"
    file.write_text('label = "C-1"\n[card]\nboiling_point = "56.1 C"\nnote = "red"\n')
    runs = read_runs(file)
    assert [fault.advice for fault in runs.faults] == said
    # What is not TOML is read line by line.
    assert len(runs) == (limit == "MAX_NESTING" or not said)
