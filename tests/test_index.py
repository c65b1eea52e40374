"""An indexed table gives the same answer as every candidate compared, and refuses damaged files."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from identify import Measurement, match
from identify.candidates.indexed import IndexedTable, write_index
from identify.candidates.table import CandidateTable, TableError, built_in_path
from identify.matching.index import share_of_index
from identify.matching.likelihood import Tolerances
from identify.matching.posterior import Prior
from identify.matching.shares import Share, over_shares
from tests.test_shares import RUNS, assert_same


@pytest.fixture(scope="session")
def indexed(tmp_path_factory: pytest.TempPathFactory) -> IndexedTable:
    path = tmp_path_factory.mktemp("index") / "table.arrow"
    write_index([built_in_path()], path)
    return IndexedTable.open(path)


def by_index(
    indexed: IndexedTable, run: Measurement, prior: Prior = "commerce"
) -> dict[str, object]:
    def shares(exact: bool) -> list[Share]:
        return [share_of_index(indexed, run, Tolerances(), prior, exact)]

    return over_shares(run, shares, Tolerances(), prior).to_dict()


@pytest.mark.parametrize("prior", ["commerce", "uniform"])
@pytest.mark.parametrize("name", RUNS)
def test_same_answer(table: CandidateTable, indexed: IndexedTable, name: str, prior: Prior) -> None:
    wanted = match(RUNS[name], table, prior=prior).to_dict()
    assert_same(by_index(indexed, RUNS[name], prior), wanted)


@settings(max_examples=150, deadline=None)
@given(
    readings=st.fixed_dictionaries(
        {},
        optional={
            "molar_mass": st.floats(20.0, 250.0),
            "boiling_point": st.floats(-20.0, 250.0),
            "percent": st.fixed_dictionaries(
                {"C": st.floats(5.0, 90.0)},
                optional={"H": st.floats(1.0, 15.0), "Cl": st.floats(5.0, 80.0)},
            ),
        },
    )
)
def test_same_answer_to_any_readings(
    table: CandidateTable, indexed: IndexedTable, readings: dict[str, float]
) -> None:
    run = Measurement("K-30", **readings)
    assert_same(by_index(indexed, run), match(run, table).to_dict())


def test_rows_are_those_of_the_table(table: CandidateTable, indexed: IndexedTable) -> None:
    rows = indexed.take(np.arange(len(indexed)))
    place = {key: row for row, key in enumerate(table.text("inchikey"))}
    back = [place[key] for key in rows.text("inchikey")]
    assert sorted(back) == list(range(len(table)))
    for column in ("boiling_point_C", "molar_mass", "virial_2", "flash_point_C"):
        np.testing.assert_array_equal(rows.number(column), table.number(column)[back])
    assert rows.text("smiles") == [table.text("smiles")[row] for row in back]


def truncated(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-2000])


def emptied(path: Path) -> None:
    path.write_bytes(b"")


def replaced(path: Path) -> None:
    path.write_bytes(built_in_path().read_bytes())


def removed(path: Path) -> None:
    path.unlink()


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (truncated, "make it anew"),
        (emptied, "make it anew"),
        (replaced, "make it anew"),
        (removed, "no such file"),
    ],
)
def test_damaged_index(tmp_path: Path, spoil: Callable[[Path], None], said: str) -> None:
    path = tmp_path / "table.arrow"
    write_index([built_in_path()], path)
    spoil(path)
    with pytest.raises(TableError, match=said) as caught:
        IndexedTable.open(path)
    assert "\n" not in str(caught.value)


def test_source_that_is_no_table(tmp_path: Path) -> None:
    source, target = tmp_path / "notes.parquet", tmp_path / "table.arrow"
    source.write_text("no table")
    with pytest.raises(TableError, match="cannot be read as a candidate table"):
        write_index([source], target)
    assert list(tmp_path.iterdir()) == [source]
