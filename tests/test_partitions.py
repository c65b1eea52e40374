"""Tables in parts, and indexes: the same answers as a table in memory, and what spoils them."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pandas as pd
import pytest

from identify import match, match_many
from identify.compounds.collection.manifest import MANIFEST, TablePart
from identify.compounds.loading import is_large, load_candidates
from identify.compounds.parquet import built_in_path
from identify.compounds.table import CandidateTable
from identify.large.large_table import open_large
from identify.large.partitions import PartitionedTable, read_part
from identify.tables.faults import TableError
from tests.command import Run
from tests.parted import write_parts
from tests.test_shares import RUNS, assert_same


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, table: CandidateTable) -> Path:
    return write_parts(table, tmp_path_factory.mktemp("parted") / "table", 5)


@pytest.fixture(scope="module")
def indexed(folder: Path) -> Path:
    target = folder.with_name("indexed")
    target.mkdir()
    assert len(list(PartitionedTable.open(folder).indexed(target))) == 5
    return target


@pytest.mark.parametrize("name", ["card", "weighed and card", "digits exchanged", "further"])
@pytest.mark.parametrize("kind", ["folder", "indexed"])
def test_same_answer_as_in_memory(
    request: pytest.FixtureRequest, table: CandidateTable, kind: str, name: str
) -> None:
    found = match(RUNS[name], request.getfixturevalue(kind)).to_dict()
    assert_same(found, match(RUNS[name], table).to_dict())


@pytest.mark.parametrize("kind", ["folder", "indexed"])
def test_same_answer_as_in_commerce(
    request: pytest.FixtureRequest, table: CandidateTable, kind: str
) -> None:
    found = match(RUNS["card"], request.getfixturevalue(kind), prior="commerce").to_dict()
    assert_same(found, match(RUNS["card"], table, prior="commerce").to_dict())


def test_many_against_a_large_table(folder: Path, table: CandidateTable) -> None:
    runs = [RUNS["card"], RUNS["molar mass"]]
    found, wanted = match_many(runs, folder), match_many(runs, table)
    pd.testing.assert_frame_equal(found, wanted, rtol=1e-9, check_dtype=False)


def test_says_what_it_is(folder: Path, table: CandidateTable) -> None:
    opened = PartitionedTable.open(folder)
    assert len(opened) == len(table)
    assert repr(opened) == f"<{len(table)} compounds in 5 parts>"
    assert sum(len(read_part(part)) for part in opened.parts) == len(table)


@pytest.mark.parametrize(
    ("name", "large"), [("big.arrow", True), ("big.parquet", False), ("stock.csv", False)]
)
def test_large_by_its_ending(tmp_path: Path, name: str, large: bool) -> None:
    assert is_large(tmp_path / name) is large
    assert is_large(tmp_path)


def drop(path: Path) -> None:
    (path / "part-00003.parquet").unlink()


def cut(path: Path) -> None:
    part = path / "part-00002.parquet"
    part.write_bytes(part.read_bytes()[:-500])


def exchange(path: Path) -> None:
    # Of the right size, and not what was written.
    part = path / "part-00001.parquet"
    part.write_bytes(b"\0" * part.stat().st_size)


def forget(path: Path) -> None:
    (path / MANIFEST).unlink()


def garble(path: Path) -> None:
    (path / MANIFEST).write_text("{")


def point_elsewhere(path: Path) -> None:
    entry = {"name": "../part-00000.parquet", "rows": 1, "bytes": 1}
    (path / MANIFEST).write_text(json.dumps({"form": "identify-unknown parts 1", "parts": [entry]}))


def add_another(path: Path) -> None:
    shutil.copy(path / "part-00000.parquet", path / "part-00099.parquet")


def name_twice(path: Path) -> None:
    manifest = json.loads((path / MANIFEST).read_text())
    manifest["parts"].append(manifest["parts"][0])
    (path / MANIFEST).write_text(json.dumps(manifest))


def empty(path: Path) -> None:
    for file in path.iterdir():
        file.unlink()


def of_another_form(path: Path) -> None:
    (path / MANIFEST).write_text(json.dumps({"form": "parts 99", "parts": []}))


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (drop, r"part-00003\.parquet: this part of the table is missing"),
        (cut, r"part-00002\.parquet: .* was cut off or changed"),
        (exchange, r"part-00001\.parquet: cannot be read as a candidate table"),
        (add_another, r"part-00099\.parquet: parts\.json does not name this file as a part"),
        (name_twice, r"parts\.json: names a part twice"),
        (empty, r"it has no parts\.json"),
        (forget, r"it has no parts\.json"),
        (garble, r"parts\.json: cannot be read"),
        (point_elsewhere, "is not a file name"),
        (of_another_form, "names no parts that this version can read"),
        (shutil.rmtree, "no such f"),
    ],
)
def test_spoiled(
    tmp_path: Path, folder: Path, invoke: Run, spoil: Callable[[Path], None], said: str
) -> None:
    spoiled = tmp_path / "table"
    shutil.copytree(folder, spoiled)
    spoil(spoiled)
    with pytest.raises(TableError, match=said):
        match(RUNS["card"], spoiled if spoiled.exists() else open_large(spoiled))
    outcome = invoke("match", "--molar-mass", "46.1", "--candidates", spoiled)
    assert outcome.status == 2
    assert outcome.output == ""
    assert len(outcome.said) == 1


def test_command_index_and_match(tmp_path: Path, invoke: Run) -> None:
    index = tmp_path / "table.arrow"
    outcome = invoke("candidates", "index", built_in_path(), "--out", index)
    assert (outcome.status, outcome.said) == (0, [])
    assert outcome.output == f"{index}: written\n"
    asked = ["match", "--molar-mass", "46.1", "--boiling-point", "78.3 C", "--format", "json"]
    found, wanted = invoke(*asked, "--candidates", index), invoke(*asked)
    assert (found.status, found.said) == (0, [])
    assert_same(found.data, wanted.data)


def test_command_index_of_parts(tmp_path: Path, folder: Path, invoke: Run) -> None:
    target = tmp_path / "indexed"
    assert invoke("candidates", "index", folder, "--out", target).status == 0
    asked = ["match", "--boiling-point", "56.1 C", "--percent", "C=62.0 H=10.4"]
    assert invoke(*asked, "--candidates", target).output == invoke(*asked).output
    again = invoke("candidates", "index", folder, "--out", target)
    assert again.status == 2
    assert again.said == [
        f"{target}: is there already; name a new folder for the index of a table in parts"
    ]


@pytest.mark.parametrize(
    ("reason", "status", "said"),
    [(KeyboardInterrupt, 130, "stopped"), (OSError(28, "No space left on device"), 2, "No space")],
)
def test_an_index_that_is_not_complete_is_taken_away(
    tmp_path: Path,
    folder: Path,
    invoke: Run,
    monkeypatch: pytest.MonkeyPatch,
    reason: BaseException,
    status: int,
    said: str,
) -> None:
    indexed = PartitionedTable.indexed

    def one_part(self: PartitionedTable, target: Path) -> Iterator[TablePart]:
        yield next(iter(indexed(self, target)))
        raise reason

    target = tmp_path / "indexed"
    asked = ["candidates", "index", folder, "--out", target]
    with monkeypatch.context() as patched:
        patched.setattr(PartitionedTable, "indexed", one_part)
        outcome = invoke(*asked)
    assert outcome.status == status
    assert said in outcome.complaints
    assert not target.exists()
    assert invoke(*asked).status == 0


def test_stopped_while_indexing(tmp_path: Path, folder: Path) -> None:
    written = PartitionedTable.open(folder).indexed(tmp_path)
    next(written)
    del written
    with pytest.raises(TableError, match=r"it has no parts\.json"):
        PartitionedTable.open(tmp_path)


ASKED = ["match", "--molar-mass", "46"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["candidates", "index", "missing.parquet", "--out", "a.arrow"], "no such file"),
        (["candidates", "index", "{table}", "--out", "a.index"], "an index ends in .arrow"),
        (
            ["candidates", "index", "{table}", "--out", "no/such/folder/a.arrow"],
            "cannot be written",
        ),
        (
            ["match", "--molar-mass", "46", "--candidates", "{folder}", "--explain", "ethanol"],
            "--explain",
        ),
        (["match", "--molar-mass", "46", "--cluster", "tcp://127.0.0.1:1"], "in parts"),
        (["candidates", "show", "ethanol", "--candidates", "{folder}"], "for the match alone"),
    ],
)
def test_command_refuses(
    invoke: Run,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    folder: Path,
    arguments: list[str],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    outcome = invoke(*(one.format(table=built_in_path(), folder=folder) for one in arguments))
    assert outcome.status == 2
    assert said in outcome.complaints
    assert "Traceback" not in outcome.complaints
    assert list(tmp_path.iterdir()) == []


def test_a_table_in_parts_is_no_table_in_memory(folder: Path) -> None:
    with pytest.raises(TableError, match="for the match alone"):
        load_candidates(folder)
