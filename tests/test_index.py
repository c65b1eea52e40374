"""An indexed table gives the same answer as every candidate compared, and refuses damaged files."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from identify import Measurement, load_candidates, match
from identify.bench.bench import Bench
from identify.compounds.parquet import built_in_path
from identify.compounds.table import NUMBER_COLUMNS, REQUIRED, TEXT_COLUMNS, CandidateTable
from identify.large import index
from identify.large.blocks import BestCase, FormulaMatcher
from identify.large.factors import Factors, LiquidSums, all_but, liquid_weights
from identify.large.index import share_of_index
from identify.large.indexed import IndexedTable, write_index
from identify.large.shares import PartMatching, PartShare
from identify.matching.settings import MatchSettings, Prior
from identify.matching.slips.mechanism.groups import groups_of
from identify.matching.totals import first_rows
from identify.physics.constants import ELEMENTS
from identify.tables.faults import TableError
from tests.test_shares import ETHANOL, RUNS, assert_same

READINGS = st.fixed_dictionaries(
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


@pytest.fixture(params=["by blocks", "all at once"])
def few(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Compare formulas by blocks, as in a large table, and all at once, as in a small one."""
    if request.param == "by blocks":
        monkeypatch.setattr(index, "MAX_FORMULAS_AT_ONCE", 0)


@pytest.fixture(scope="session")
def indexed(tmp_path_factory: pytest.TempPathFactory) -> IndexedTable:
    path = tmp_path_factory.mktemp("index") / "table.arrow"
    write_index([built_in_path()], path)
    return IndexedTable.open(path)


def by_index(
    indexed: IndexedTable, run: Measurement, prior: Prior = "classroom"
) -> dict[str, object]:
    matching = PartMatching(MatchSettings.of(prior=prior))

    def shares(in_full: bool) -> list[PartShare]:
        return [share_of_index(indexed, run, matching, in_full)]

    return matching.ranking(run, shares).to_dict()


@pytest.mark.usefixtures("few")
@pytest.mark.parametrize("prior", ["classroom", "commerce", "uniform"])
@pytest.mark.parametrize("name", RUNS)
def test_same_answer(table: CandidateTable, indexed: IndexedTable, name: str, prior: Prior) -> None:
    wanted = match(RUNS[name], table, prior=prior).to_dict()
    assert_same(by_index(indexed, RUNS[name], prior), wanted)


@pytest.mark.parametrize("prior", ["classroom", "commerce"])
def test_an_index_of_a_table_without_a_classroom(
    table: CandidateTable, prior: Prior, tmp_path: Path
) -> None:
    old, source, target = table.frame, tmp_path / "old.parquet", tmp_path / "old.arrow"
    old.drop(columns="classroom").to_parquet(source)
    write_index([source], target)
    found = by_index(IndexedTable.open(target), RUNS["card"], prior)
    assert_same(found, match(RUNS["card"], load_candidates(source), prior=prior).to_dict())


@settings(max_examples=150, deadline=None)
@given(readings=READINGS, few=st.sampled_from([0, index.MAX_FORMULAS_AT_ONCE]))
def test_same_answer_to_any_readings(
    table: CandidateTable, indexed: IndexedTable, readings: dict[str, Any], few: int
) -> None:
    run = Measurement("K-30", **readings)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(index, "MAX_FORMULAS_AT_ONCE", few)
        assert_same(by_index(indexed, run), match(run, table).to_dict())


KINDS = {
    "all readings": {"molar_mass": 46.0, "boiling_point": 78.4, "percent": ETHANOL},
    "digits exchanged": {"molar_mass": 46.0, "boiling_point": 87.4, "percent": ETHANOL},
    "stated uncertainties": {"molar_mass": "46.0 ± 0.4 g/mol", "boiling_point": "78.4 ± 3 C"},
    "no boiling point": {"molar_mass": 46.0, "percent": ETHANOL},
    "no composition": {"molar_mass": 46.0, "boiling_point": 78.4},
    "no molar mass": {"boiling_point": 78.4, "percent": ETHANOL},
    "molar mass": {"molar_mass": 46.0},
    "boiling point": {"boiling_point": 78.4},
    "composition": {"percent": ETHANOL},
    "far from all": {"molar_mass": 900.0, "boiling_point": -150.0, "percent": {"F": 99.0}},
    "nothing": {},
}


def changed(table: CandidateTable, **columns: NDArray[np.float64]) -> CandidateTable:
    text = {name: table.text(name) for name in TEXT_COLUMNS}
    return CandidateTable(text, {n: table.number(n) for n in NUMBER_COLUMNS} | columns)


def all_alike(table: CandidateTable) -> CandidateTable:
    return table.take(np.full(300, table.find("ethanol")[0]))


def one_compound(table: CandidateTable) -> CandidateTable:
    return table.take([table.find("ethanol")[0]])


def two_compounds(table: CandidateTable) -> CandidateTable:
    return table.take([table.find("ethanol")[0], table.find("acetone")[0]])


def isomers(table: CandidateTable) -> CandidateTable:
    """All of one formula, so that the boiling point alone tells them apart."""
    first = table.find("ethanol")[0]
    columns = ("molar_mass", *(f"percent_{element}" for element in ELEMENTS))
    same = {name: np.full(len(table), table.number(name)[first]) for name in columns}
    return changed(table, **same)


def boiling_alike(table: CandidateTable) -> CandidateTable:
    """All of one boiling point and uncertainty, at the edge of every bin."""
    same = {"boiling_point_C": np.full(len(table), 78.4), "boiling_point_u": np.ones(len(table))}
    return changed(table, **same)


def boiling_in_steps(table: CandidateTable) -> CandidateTable:
    """A few boiling points, so that one fills several bins' worth of candidates."""
    return changed(table, boiling_point_C=np.round(table.number("boiling_point_C"), -2))


def without_priors(table: CandidateTable) -> CandidateTable:
    """Nearly all of prior zero."""
    few = np.zeros(len(table))
    few[::50] = 1.0
    priors = {column: few * table.number(column) for column in ("prior", "classroom")}
    return changed(table, **{column: prior / prior.sum() for column, prior in priors.items()})


def unknown_constants(table: CandidateTable) -> CandidateTable:
    """Nothing known but what the match cannot do without."""
    others = [name for name in NUMBER_COLUMNS if name not in REQUIRED]
    return changed(table, **{name: np.full(len(table), np.nan) for name in others})


TABLES = (
    all_alike,
    one_compound,
    two_compounds,
    isomers,
    boiling_alike,
    boiling_in_steps,
    without_priors,
    unknown_constants,
)


@pytest.mark.usefixtures("few")
@pytest.mark.parametrize("made", TABLES)
def test_same_answer_from_tables_of_all_kinds(
    table: CandidateTable, made: Callable[[CandidateTable], CandidateTable], tmp_path: Path
) -> None:
    source, target = tmp_path / "table.parquet", tmp_path / "table.arrow"
    made(table).save(source)
    write_index([source], target)
    other, whole = IndexedTable.open(target), load_candidates(source)
    for label, readings in KINDS.items():
        run = Measurement(label, **readings)
        assert_same(by_index(other, run), match(run, whole).to_dict())


@settings(max_examples=60, deadline=None)
@given(
    readings=READINGS,
    stated=st.sampled_from([None, 0.9, 20.0, 100.0]),
    technique=st.sampled_from([None, "careful", "rough", "none"]),
)
def test_no_formula_is_above_the_best_case_of_its_block(
    indexed: IndexedTable, readings: dict[str, Any], stated: float | None, technique: str | None
) -> None:
    if stated and "molar_mass" in readings:
        readings = {**readings, "molar_mass": f"{readings['molar_mass']:.4f} ± {stated} g/mol"}
    bench = replace(Bench.of(Measurement("K-31", **readings)), boiling_point=None)
    how = MatchSettings.of(technique=technique)
    blocks = BestCase(indexed.formulas, how)
    each = FormulaMatcher(indexed.formulas, how).evidence(bench)
    best, wider = blocks.best_case(bench)
    one = np.ones(len(indexed.formulas))
    bounds = [(each.formula, best.formula * wider), (each.similar, best.similar * wider)]
    for group in groups_of(tuple(each.likelihoods), len(each.elements)):
        bounds.append((group.weight(each, one), group.weight(best, wider)))
    for values, bound in bounds:
        highest = np.maximum.reduceat(values[blocks.formulas], blocks.starts)
        assert (highest <= bound * (1.0 + 1e-12)).all()
    agreeing = np.maximum.reduceat(each.plausible[blocks.formulas], blocks.starts)
    assert (best.plausible >= agreeing).all()


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 1000),
    weighed=st.booleans(),
    prior=st.sampled_from(["classroom", "commerce", "uniform"]),
    least=st.sampled_from([0.0, 1e-9, 1e-3, 0.5]),
)
def test_sums_over_candidates_are_between_their_bounds(
    indexed: IndexedTable, seed: int, weighed: bool, prior: Prior, least: float
) -> None:
    random = np.random.default_rng(seed)
    factors = Factors(indexed, MatchSettings.of(prior=prior))
    liquid = np.exp(random.normal(0.0, 8.0, len(indexed.liquids)))
    formulas = np.sort(random.choice(len(indexed.formulas), 500, replace=False))
    each = liquid[indexed.pair]
    if weighed:
        each = each * liquid_weights(indexed, MatchSettings.of(prior=prior))
    exact = np.add.reduceat(each, indexed.starts[:-1])[formulas]
    highest = np.maximum.reduceat(each, indexed.starts[:-1])[formulas]
    sums = LiquidSums(factors, liquid, weighed)
    np.testing.assert_allclose(sums.of(formulas), exact, rtol=1e-12)
    assert (sums.at_least(formulas) <= exact).all()
    assert (exact <= sums.at_most(formulas)).all()
    by_blocks = factors.of_blocks(np.add.reduceat(each, indexed.starts[:-1]))
    assert (by_blocks <= sums.at_most_of_blocks).all()
    if weighed:
        assert (highest <= factors.commonest[formulas] * sums.single(formulas) * (1 + 1e-12)).all()
    of_formula = np.exp(random.normal(0.0, 8.0, len(formulas)))
    total = float(of_formula @ exact)
    found = sums.times(of_formula, formulas, least * total)
    assert total * (1.0 - least - 1e-9) <= found <= total * (1.0 + 1e-12)


@given(
    places=st.lists(st.integers(0, 4), min_size=1, max_size=60),
    count=st.integers(0, 20),
    random=st.randoms(use_true_random=False),
)
def test_first_rows_of_many_alike(places: list[int], count: int, random: Random) -> None:
    order = random.sample(range(len(places)), len(places))
    # Zero, and weights that differ by rounding alone.
    weight = np.array([place * (1.0 + random.choice([0.0, 1e-15])) for place in places])
    by_hand = sorted(range(len(places)), key=lambda row: (-places[row], order[row]))
    assert first_rows(weight, np.array(order), count).tolist() == by_hand[:count]


@pytest.mark.parametrize(
    ("values", "least", "kept"),
    [
        ([], 1.0, []),
        ([0.0, 0.0], 0.0, []),
        ([1.0, 0.0], 0.0, [0]),
        ([1.0, 1.0, 1.0], 2.5, [0, 1, 2]),  # alike: all or none
        ([1.0, 1.0, 1.0], 3.5, []),
        ([1e-300, 1.0, 1e300], 0.5, [1, 2]),
    ],
)
def test_all_but_what_comes_to_little(values: list[float], least: float, kept: list[int]) -> None:
    assert all_but(np.array(values), least).tolist() == kept


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


def rewritten(path: Path, change: Callable[[pa.RecordBatch], pa.RecordBatch], **how: Any) -> None:
    """Write the index again with something changed."""
    with pa.ipc.open_file(path.read_bytes()) as file:
        batch = change(file.get_batch(0))
    with (
        pa.OSFile(str(path), "wb") as sink,
        pa.ipc.new_file(sink, batch.schema, options=pa.ipc.IpcWriteOptions(**how)) as file,
    ):
        file.write_batch(batch)


def compressed(path: Path) -> None:
    rewritten(path, lambda batch: batch, compression="zstd")


def of_another_type(path: Path) -> None:
    def change(batch: pa.RecordBatch) -> pa.RecordBatch:
        columns = [*batch.columns]
        place = batch.schema.names.index("pair")
        columns[place] = columns[place].cast(pa.int64())
        fields = [batch.schema.field(at).with_type(one.type) for at, one in enumerate(columns)]
        return pa.record_batch(columns, schema=pa.schema(fields, batch.schema.metadata))

    rewritten(path, change)


def with_a_pair(number: int) -> Callable[[Path], None]:
    """Say that the first row has this pair of boiling point and uncertainty."""

    def change(batch: pa.RecordBatch) -> pa.RecordBatch:
        place = batch.schema.names.index("pair")
        pairs = batch.column(place).to_numpy().copy()
        pairs[0] = number if number < 0 else pairs.max() + number
        return batch.set_column(place, batch.schema.field(place), pa.array(pairs))

    return lambda path: rewritten(path, change)


def of_fewer_rows(path: Path) -> None:
    rewritten(path, lambda batch: batch.slice(0, 100))


def blank_at_the_beginning(path: Path) -> None:
    content = path.read_bytes()
    path.write_bytes(bytes(52) + content[52:])


def with_texts_that_lead_out_of_it(path: Path) -> None:
    """Change offsets of a column of text, which Arrow would follow to wherever that is."""
    with pa.ipc.open_file(path.read_bytes()) as file:
        _, offsets, _ = file.get_batch(0).column("smiles").buffers()
    held = offsets.to_pybytes()
    damaged = held[:800] + (1 << 50).to_bytes(8, "little") * 50 + held[1200:]
    content = path.read_bytes()
    assert content.count(held) == 1
    path.write_bytes(content.replace(held, damaged))


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (compressed, "its columns are compressed"),
        (of_another_type, "column pair holds int64"),
        (of_fewer_rows, "its formulas do not fit its rows"),
        (with_a_pair(-1), "its boiling points do not fit its rows"),
        (with_a_pair(1), "its boiling points do not fit its rows"),
        (with_texts_that_lead_out_of_it, "make it anew"),
        (blank_at_the_beginning, "make it anew"),
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


def test_texts_of_a_large_index_that_lead_out_of_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One of millions is not looked through when it is opened: what is taken of it is."""
    path = tmp_path / "table.arrow"
    write_index([built_in_path()], path)
    with_texts_that_lead_out_of_it(path)
    monkeypatch.setattr("identify.large.wholeness.MAX_UNPACKED", 0)
    table = IndexedTable.open(path)
    with pytest.raises(TableError, match="a column of the index is damaged"):
        table.take(np.arange(120, dtype=np.int64))
    assert len(table.take(np.arange(90, dtype=np.int64))) == 90


def test_source_that_is_no_table(tmp_path: Path) -> None:
    source, target = tmp_path / "notes.parquet", tmp_path / "table.arrow"
    source.write_text("no table")
    with pytest.raises(TableError, match="cannot be read as a candidate table"):
        write_index([source], target)
    assert list(tmp_path.iterdir()) == [source]


@pytest.mark.parametrize(
    ("column", "values", "reason"),
    [
        ("name", [1, 2], "column name holds int64, not text"),
        ("molar_mass", ["46.07", "58.08"], "column molar_mass holds string, not numbers"),
        ("prior", [0.0, 0.0], "column prior: all are zero; give at least one compound a chance"),
    ],
)
@pytest.mark.parametrize("kind", ["match", "index", "parts", "index of parts"])
def test_all_ways_hold_a_table_to_the_same(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    column: str,
    values: list[object],
    reason: str,
    kind: str,
) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    from identify.cli.app import main
    from identify.compounds.collection.manifest import TablePart, write_manifest
    from identify.compounds.parquet import built_in_path

    table = pq.ParquetFile(built_in_path()).read().slice(0, 2)
    for name in (column, "classroom") if column == "prior" else (column,):
        table = table.set_column(table.schema.get_field_index(name), name, pa.array(values))
    folder = tmp_path / "parts"
    folder.mkdir()
    file = folder / "part-1.parquet"
    pq.write_table(table, file)
    write_manifest(folder, [TablePart(file, 2, file.stat().st_size)])
    source = folder if "parts" in kind else file
    if kind.startswith("index"):
        arguments = ["candidates", "index", str(source), "--out", str(tmp_path / "new.arrow")]
    else:
        arguments = ["match", "--boiling-point=78 C", "--candidates", str(source)]
    assert main(arguments) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line.endswith(reason)
    assert not (tmp_path / "new.arrow").exists()
