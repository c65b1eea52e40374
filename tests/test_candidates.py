"""The built-in table: that it can be built again, and that what it holds is sound."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from audit_names import unlike_forms
from build_candidates import CORRECTIONS, COURSES, VIRIALS, with_classroom_prior
from golden_answers import other_versions
from hypothesis import given
from hypothesis import strategies as st

from identify.chemistry.structures import read_structure
from identify.compounds import parquet
from identify.compounds.columns import TableColumns, commerce_weight
from identify.compounds.loading import load_candidates
from identify.compounds.parquet import built_in_path
from identify.compounds.published.build import build
from identify.compounds.published.classroom import (
    COMMERCE_SHARE,
    classroom_prior,
    read_courses,
    solvent_weight,
)
from identify.compounds.published.consensus import boiling_point_consensus
from identify.compounds.published.corrections import read_corrections
from identify.compounds.published.literature import VaporPressureFit
from identify.compounds.published.names import readable_name
from identify.compounds.published.vapor.curves import vapor_curve
from identify.compounds.published.vapor.virials import read_virials
from identify.compounds.ready import ReadyCandidates, ready_table, save_ready
from identify.compounds.table import (
    NUMBER_COLUMNS,
    REQUIRED,
    SOURCE_COLUMNS,
    TEXT_COLUMNS,
    CandidateTable,
)
from identify.physics.boiling import vapor_pressure
from identify.physics.constants import ELEMENTS
from identify.tables.faults import TableError

# ------------------------------------------------------------------------ built again


def test_rebuild_finds_the_same_table(table: CandidateTable, tmp_path: Path) -> None:
    """Takes about two minutes."""
    if others := other_versions():
        pytest.skip(f"not the versions of scripts/constraints.txt: {', '.join(others)}")
    rebuilt, _ = build(
        read_corrections(CORRECTIONS), courses=read_courses(COURSES), virials=read_virials(VIRIALS)
    )
    # As single precision keeps it: saved and loaded like the built-in table.
    rebuilt.save(tmp_path / "rebuilt.parquet")
    again = load_candidates(tmp_path / "rebuilt.parquet")
    assert len(again) == len(table)
    for column in TEXT_COLUMNS:
        pairs = zip(again.text(column), table.text(column), strict=True)
        # A few at most: a comparison of whole columns would be explained for many minutes.
        assert [pair for pair in pairs if pair[0] != pair[1]][:3] == [], column
    for column in NUMBER_COLUMNS:
        ours, theirs = again.number(column), table.number(column)
        np.testing.assert_allclose(ours, theirs, rtol=1e-6, atol=1e-9, err_msg=column)


# ------------------------------------------------------------------------ as a whole


def test_it_is_small_enough_to_ship() -> None:
    assert built_in_path().stat().st_size < 5_000_000


def test_names_say_the_stereo_form_that_the_structure_has(table: CandidateTable) -> None:
    names = zip(table.text("name"), table.text("smiles"), strict=True)
    unlike = [
        (name, smiles, what) for name, smiles in names if (what := unlike_forms(name, smiles))
    ]
    assert unlike == []


def test_it_has_the_compounds_that_could_be_in_a_bottle(table: CandidateTable) -> None:
    boiling = table.number("boiling_point_C")
    assert 12_000 <= len(table) <= 13_000
    assert 2_900 <= np.count_nonzero((boiling > 20) & (boiling < 150)) <= 3_400
    assert 950 <= np.count_nonzero((boiling > 20) & (boiling < 98)) <= 1_150


def test_every_row_is_a_compound_of_its_own(table: CandidateTable) -> None:
    for column in ("cas", "inchikey", "smiles"):
        assert len(set(table.text(column))) == len(table), column
    assert all(table.text("name"))
    assert all("C" in formula for formula in table.text("formula"))


def test_numbers_are_what_such_numbers_are(table: CandidateTable) -> None:
    for column in REQUIRED:
        assert np.isfinite(table.number(column)).all(), column
    for prior in ("commerce", "classroom"):
        assert table.weights(prior).sum() == pytest.approx(1.0, abs=1e-6)
    np.testing.assert_allclose(table.percent.sum(axis=1), 100.0, atol=1e-3)
    assert (table.number("boiling_point_u") > 0.0).all()
    assert (table.number("boiling_point_u") <= 40.0).all()
    melting, boiling = table.number("melting_point_C"), table.number("boiling_point_C")
    known = np.isfinite(melting)
    assert (melting[known] < boiling[known] + 15.0).all()  # some sublime
    assert np.mean(melting[known] < boiling[known]) > 0.999


def test_vapor_pressures_rise(table: CandidateTable) -> None:
    rows = (table.number("boiling_point_C") > 15.0) & (table.number("boiling_point_C") < 150.0)
    boiling = table.number("boiling_point_C")[rows] + 273.15
    curve = table.vapor_curve[rows]
    temperature = np.arange(250.0, 421.0, 5.0)[:, np.newaxis]
    pressure = vapor_pressure(temperature, boiling, curve)
    assert (np.diff(pressure, axis=0) > 0.0).all()
    # Trouton's rule with its spread, from associated vapors to alcohols: d ln p / d ln T.
    assert (np.abs(curve.sum(axis=1) - 12.0) < 3.0).all()


def sounded(low: float, high: float, factor: float) -> VaporPressureFit:
    """Return an equation of a collection, with an entropy of vaporization off by a factor."""
    return VaporPressureFit(
        "Antoine (made up)",
        "VP_LANDOLT",
        low,
        high,
        lambda t: 101325.0 * np.exp(10.6 * factor * (1.0 - 350.0 / t)),
    )


@pytest.mark.parametrize(
    ("fits", "source"),
    [
        ([], "Ambrose-Walton corresponding states"),
        ([sounded(280.0, 360.0, 1.0)], "Antoine (made up)"),
        ([sounded(345.0, 360.0, 1.0)], "Ambrose-Walton corresponding states"),  # covers too little
        ([sounded(280.0, 360.0, 1.6)], "Ambrose-Walton corresponding states"),  # no liquid's
    ],
)
def test_vapor_curve_takes_a_sound_equation(fits: list[VaporPressureFit], source: str) -> None:
    curve, named = vapor_curve(350.0, 525.0, 4e6, fits)
    assert named == source
    assert vapor_pressure(350.0, 350.0, curve) == pytest.approx(101325.0)


def test_vapor_curve_of_implausible_critical_constants() -> None:
    curve, named = vapor_curve(318.0, 370.0, 6e6, ())
    assert named.endswith("usual critical constants")
    assert 9.0 < curve.sum() < 15.0


def test_every_constant_names_its_source(table: CandidateTable) -> None:
    for column, source in SOURCE_COLUMNS.items():
        known = np.isfinite(table.number(column))
        named = np.array([bool(text) for text in table.text(source)])
        assert (named[known]).all(), column


def test_a_value_that_was_set_aside_is_not_used(table: CandidateTable) -> None:
    with CORRECTIONS.open(encoding="utf-8", newline="") as lines:
        corrections = list(csv.DictReader(lines))
    assert len(corrections) >= 20
    for correction in corrections:
        assert correction["reason"], correction
        assert correction["source"], correction
        for row in table.find(correction["cas"]):
            assert correction["column"] != "leave_out"
            if correction["column"] == "not_bottled":
                assert correction["reason"] in table.text("not_bottled")[row]
            if correction["column"] in ("boiling_point_C", "set_aside"):
                assert correction["reason"] in table.text("set_aside")[row]
                published = table.number("boiling_point_published")[row] > 0.0
                assert published == bool(correction["value"])


# Boiling points at 760 mmHg: Weast, CRC Handbook of Chemistry and Physics, and suppliers'
# catalogues; from memory. Vacuum values of some of them stand in open collections.
VACUUM = [
    ("2928-43-0", 200.0),  # 2-biphenylmethanol, about 290, listed at 96
    ("624-20-4", 180.0),  # 1,2-dibromohexane, listed at 87
    ("7187-01-1", 160.0),  # 2-furanacrylonitrile, listed at 96
    ("4313-03-5", 140.0),  # 2,4-heptadienal, listed at 84.5
]


@pytest.mark.parametrize(("cas", "above"), VACUUM)
def test_values_under_vacuum_are_set_aside(table: CandidateTable, cas: str, above: float) -> None:
    for row in table.find(cas):
        assert table.number("boiling_point_C")[row] > above
        assert table.number("boiling_point_published")[row] == 0.0
        assert table.text("set_aside")[row]


# ------------------------------------------------------------------------ stereoisomers


@pytest.mark.parametrize(
    ("numbers", "note"),
    [
        # 2-butanol: racemate, R and S are one row, and it says so.
        (("78-92-2", "14898-79-4", "4221-99-2"), "cannot be told apart"),
        # 2-chlorobutane likewise.
        (("78-86-4",), "cannot be told apart"),
    ],
)
def test_enantiomers_are_one_candidate(
    table: CandidateTable, numbers: tuple[str, ...], note: str
) -> None:
    rows = {row for number in numbers for row in table.find(number)}
    assert len(rows) == 1
    assert note in table.text("stereo")[rows.pop()]


@pytest.mark.parametrize(
    ("first", "second", "apart"),
    [
        ("156-59-2", "156-60-5", 10.0),  # cis- and trans-1,2-dichloroethene: 60 and 48 C
        ("590-18-1", "624-64-6", 2.0),  # cis- and trans-2-butene: 4 and 1 C
        ("1574-41-0", "2004-70-8", 1.0),  # cis- and trans-1,3-pentadiene: 44 and 42 C
    ],
)
def test_cis_and_trans_stay_apart(
    table: CandidateTable, first: str, second: str, apart: float
) -> None:
    (here,), (there,) = table.find(first), table.find(second)
    boiling = table.number("boiling_point_C")
    assert abs(boiling[here] - boiling[there]) > apart


# ------------------------------------------------------------------------ its parts


@pytest.mark.parametrize(
    ("listed", "written"),
    [
        ("oxetane, 2-methyl-", "2-methyloxetane"),
        ("1-propene, 1,2-dichloro-, (e)-", "(E)-1,2-dichloro-1-propene"),
        ("cyclobutane, 1,2-dimethyl-, trans-", "trans-1,2-dimethylcyclobutane"),
        ("3-Hexene, (3Z)-", "(3Z)-3-hexene"),
        ("ether, isobutyl methyl", "isobutyl methyl ether"),
        ("disulfide, bis(trifluoromethyl)", "bis(trifluoromethyl) disulfide"),
        ("n,n-dimethylbutylamine", "N,N-dimethylbutylamine"),
        ("n,o-dimethylhydroxylamine", "N,O-dimethylhydroxylamine"),
        ("2-propanamine, n,n,2-trimethyl-", "N,N,2-trimethyl-2-propanamine"),
        ("n-methylpyrrolidine", "N-methylpyrrolidine"),
        ("s-ethyl trifluorothioacetate", "S-ethyl trifluorothioacetate"),
        ("2-Methylpentane", "2-methylpentane"),
        ("trans-1,2-Dichloroethylene", "trans-1,2-dichloroethylene"),
        # As they are: a straight chain, two commas that divide nothing, a group of its own.
        ("n-butyl vinyl ether", "n-butyl vinyl ether"),
        ("acetic acid, trifluoro-, propyl ester", "acetic acid, trifluoro-, propyl ester"),
        ("1,1,1-trichloroethane", "1,1,1-trichloroethane"),
        ("tert-butyl alcohol", "tert-butyl alcohol"),
        ("HCFC 225ca", "HCFC 225ca"),
    ],
)
def test_names_are_as_people_write_them(listed: str, written: str) -> None:
    assert readable_name(listed) == written


@pytest.mark.parametrize(
    ("smiles", "formula"),
    [
        ("OCC", "C2H6O"),
        ("C[Si](C)(C)C", "C4H12Si"),
        ("COB(OC)OC", "C3H9BO3"),
        ("[Na+].[Cl-]", None),  # a salt
        ("CC.O", None),  # two compounds
        ("[2H]C([2H])([2H])[2H]", None),  # no natural isotopes
        ("O", None),  # no carbon
        ("C[CH2]", None),  # a radical
        ("[CH3-]", None),  # an ion
        ("C[Hg]C", None),  # an element that no card names
        ("not a structure", None),
        ("", None),
    ],
)
def test_structures_that_a_bottle_can_hold(smiles: str, formula: str | None) -> None:
    structure = read_structure(smiles)
    assert (None if structure is None else structure.formula) == formula


@pytest.mark.parametrize(
    ("values", "estimate", "expected", "within", "published"),
    [
        # Agreement; a lone outlier; the same outlier copied; a vacuum value alone; copied twice.
        ({"CRC_ORG": 351.4, "WEBBOOK": 351.5, "YAWS": 351.4}, (349.0, 8.0), 351.4, 0.3, True),
        ({"CRC_ORG": 351.4, "WEBBOOK": 351.5, "YAWS": 300.0}, (349.0, 8.0), 351.4, 0.5, True),
        (
            {"CRC_ORG": 351.4, "WEBBOOK": 351.5, "YAWS": 300.0, "COMMON_CHEMISTRY": 300.0},
            (349.0, 8.0),
            351.4,
            0.5,
            True,
        ),
        ({"YAWS": 369.2}, (560.0, 15.0), 560.0, 1e-9, False),
        ({"YAWS": 369.2, "COMMON_CHEMISTRY": 369.2}, (560.0, 15.0), 560.0, 1e-9, False),
    ],
)
def test_consensus(
    values: dict[str, float],
    estimate: tuple[float, float],
    expected: float,
    within: float,
    published: bool,
) -> None:
    point = boiling_point_consensus(values, *estimate)
    assert point.value == pytest.approx(expected, abs=within)
    assert point.published is published
    assert point.uncertainty > 0.0


def test_conflict_makes_a_large_uncertainty() -> None:
    agreed = boiling_point_consensus({"CRC_ORG": 350.0, "WEBBOOK": 350.3}, 345.0, 10.0)
    apart = boiling_point_consensus({"CRC_ORG": 350.0, "WEBBOOK": 362.0}, 355.0, 10.0)
    assert agreed.uncertainty < 0.6
    assert apart.uncertainty > 3.0


def test_prior_is_mild() -> None:
    none, all_six = commerce_weight(np.array([0.0, 6.0]))
    assert all_six / none == pytest.approx(4.0)


# ------------------------------------------------------------------------ what classes are handed


def test_column_of_the_classroom_follows_from_the_courses(table: CandidateTable) -> None:
    again = with_classroom_prior(table)
    np.testing.assert_allclose(again.number("classroom"), table.number("classroom"), rtol=1e-5)


def test_every_liquid_that_is_handed_out_says_where() -> None:
    with COURSES.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            assert row["liquid"]
            assert 0.0 < float(row["courses"]) <= float(row["documents"])
            parts = [one for which in row["which"].split("; ") for one in which.split(" + ")]
            assert len(parts) == len(set(parts)) >= float(row["documents"])


@pytest.mark.parametrize(
    ("common", "rare"),
    [
        ("acetone", "acrolein"),
        ("ethanol", "dimethyl ether"),
        ("chloroform", "hydrogen cyanide"),
        ("hexane", "2-methylpentane"),
        ("cyclohexane", "methylcyclopentane"),
        ("toluene", "2-chloro-1-propanol"),
        ("2-butanone", "butyraldehyde"),
        ("tetrahydrofuran", "aziridine"),
        ("isopropanol", "methoxyethane"),
    ],
)
def test_what_classes_are_handed_is_far_ahead(
    table: CandidateTable, common: str, rare: str
) -> None:
    weight = table.weights("classroom")
    assert weight[table.find(common)[0]] > 3.0 * weight[table.find(rare)[0]]


def test_nothing_is_impossible_in_a_classroom(table: CandidateTable) -> None:
    least = 0.99 * COMMERCE_SHARE * table.weights("commerce")
    assert (table.weights("classroom") > least).all()


def test_a_solvent_is_sold_measured_and_breathed(table: CandidateTable) -> None:
    weight = solvent_weight(TableColumns.of(table, range(len(table))))
    first = {table.text("name")[row] for row in np.argsort(-weight)[:40]}
    assert {"acetone", "ethyl acetate", "methanol", "dichloromethane", "acetonitrile"} <= first
    assert not {"hydrogen cyanide", "acrolein", "aziridine", "furan", "glycerol"} & first


@given(
    rows=st.lists(st.integers(0, 12_000), min_size=1, max_size=40, unique=True),
    courses=st.lists(st.floats(0.5, 30.0), min_size=1, max_size=5),
)
def test_prior_of_a_classroom_does_not_depend_on_the_order(
    table: CandidateTable, rows: list[int], courses: list[float]
) -> None:
    handed_out = {table.text("cas")[row]: count for row, count in zip(rows, courses, strict=False)}
    forth, back = (
        classroom_prior(TableColumns.of(table, order), handed_out) for order in (rows, rows[::-1])
    )
    np.testing.assert_allclose(forth, back[::-1], rtol=1e-12)
    assert forth.sum() == pytest.approx(1.0)
    assert (forth > 0.0).all()


def test_a_liquid_that_is_handed_out_and_not_in_the_table(table: CandidateTable) -> None:
    with pytest.raises(ValueError, match="not in the table: 64-17-5"):
        classroom_prior(TableColumns.of(table, [0, 1]), {"64-17-5": 3.0})


def test_a_row_without_the_column_keeps_its_prior(table: CandidateTable, tmp_path: Path) -> None:
    frame = table.take(range(5)).frame
    frame.drop(columns="classroom").to_parquet(tmp_path / "old.parquet")
    old = load_candidates(tmp_path / "old.parquet")
    np.testing.assert_array_equal(old.weights("classroom"), old.weights("commerce"))
    frame.loc[2:, "classroom"] = None
    frame.to_parquet(tmp_path / "some.parquet")
    some = load_candidates(tmp_path / "some.parquet")
    expected = np.where(np.arange(5) < 2, frame["classroom"], frame["prior"])
    np.testing.assert_allclose(some.weights("classroom"), expected)


# ------------------------------------------------------------------------ loading and saving


def test_what_is_saved_is_loaded(table: CandidateTable, tmp_path: Path) -> None:
    few = table.take(range(5))
    few.save(tmp_path / "few.parquet")
    again = load_candidates(tmp_path / "few.parquet")
    assert again.text("name") == table.text("name")[:5]
    assert again.number("prior").sum() == pytest.approx(1.0)
    assert [path.name for path in tmp_path.iterdir()] == ["few.parquet"]


def test_a_frame_of_all_columns(table: CandidateTable) -> None:
    frame = table.frame
    assert len(frame) == len(table)
    named = "name cas smiles inchikey formula molar_mass boiling_point_C boiling_point_u "
    named += "boiling_point_source prior percent_C percent_H"
    assert set(named.split()) <= set(frame.columns)
    assert set(TEXT_COLUMNS) | set(NUMBER_COLUMNS) == set(frame.columns)


def test_a_table_with_empty_cells_is_refused(table: CandidateTable, tmp_path: Path) -> None:
    frame = table.frame.head(3).copy()
    frame.loc[1, "boiling_point_C"] = None
    frame.to_parquet(tmp_path / "holes.parquet")
    with pytest.raises(TableError, match="boiling_point_C, row 2"):
        load_candidates(tmp_path / "holes.parquet")


@pytest.mark.parametrize(
    ("column", "values", "words"),
    [
        ("molar_mass", [0.0, 32.0, 58.0], "row 1 .*: 0 is not between 1 and 10000"),
        ("molar_mass", ["46", "32", "58"], "column molar_mass holds .*, not numbers"),
        ("molar_mass", [True, True, True], "column molar_mass holds bool, not numbers"),
        ("prior", [0.0, 0.0, 0.0], "column prior: all are zero"),
        ("prior", [0.5, -1.0, 0.5], "prior, row 2 .*: -1 is not between"),
        ("prior", [1e308, 1e308, 1e308], "prior, row 1"),
        ("classroom", [0.0, 0.0, 0.0], "column classroom: all are zero"),
        ("classroom", [0.5, 0.5, 1.5], "classroom, row 3 .*: 1.5 is not between"),
        ("boiling_point_C", [-300.0, 64.0, 56.0], "boiling_point_C, row 1"),
        ("boiling_point_u", [0.1, 0.1, -0.1], "boiling_point_u, row 3"),
        ("percent_C", [52.0, 900.0, 62.0], "percent_C, row 2"),
        ("vapor_curve_a", [1e308, 10.0, 10.0], "vapor_curve_a, row 1"),
        ("virial_0", [0.0, 0.0, 1e308], "virial_0, row 3"),
        ("name", [1, 2, 3], "column name holds int64, not text"),
    ],
)
def test_a_table_with_impossible_values_is_refused(
    table: CandidateTable, tmp_path: Path, column: str, values: list[object], words: str
) -> None:
    frame = table.frame.head(3).copy()
    frame[column] = values
    frame.to_parquet(tmp_path / "odd.parquet")
    with pytest.raises(TableError, match=rf"odd\.parquet: .*{words}"):
        load_candidates(tmp_path / "odd.parquet")


@pytest.mark.parametrize("kind", ["float32", "float64", "int8", "int16", "int32", "int64"])
def test_numbers_of_any_kind_are_numbers(table: CandidateTable, tmp_path: Path, kind: str) -> None:
    frame = table.frame.head(3).copy()
    frame["boiling_point_C"] = np.array([78, 65, 56], kind)
    frame.to_parquet(tmp_path / "few.parquet")
    again = load_candidates(tmp_path / "few.parquet")
    assert again.number("boiling_point_C").tolist() == [78.0, 65.0, 56.0]


@pytest.mark.parametrize("kind", [pa.string(), pa.large_string()])
def test_texts_of_any_length_are_texts(
    table: CandidateTable, tmp_path: Path, kind: pa.DataType
) -> None:
    columns = pa.Table.from_pandas(table.frame.head(3), preserve_index=False)
    names = columns.column("name").cast(kind)
    path = tmp_path / "few.parquet"
    pq.write_table(columns.set_column(columns.column_names.index("name"), "name", names), path)
    assert load_candidates(path).text("name") == names.to_pylist()


def test_a_missing_text_is_empty(table: CandidateTable, tmp_path: Path) -> None:
    frame = table.frame.head(3).astype({"label": object, "inchikey": object}).copy()
    frame.loc[1, "label"] = None
    frame["inchikey"] = [None, "A", "B"]
    frame.to_parquet(tmp_path / "few.parquet")
    few = load_candidates(tmp_path / "few.parquet")
    assert few.text("label")[1] == few.text("inchikey")[0] == ""


@pytest.mark.parametrize("content", [b"", b"PAR1", b"\x00" * 100])
def test_no_parquet(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "broken.parquet"
    path.write_bytes(content)
    with pytest.raises(TableError, match=r"broken\.parquet"):
        load_candidates(path)


def test_elements_are_the_cards(table: CandidateTable) -> None:
    assert table.percent.shape == (len(table), len(ELEMENTS))


def test_a_file_that_changed_is_read_anew(tmp_path: Path, table: CandidateTable) -> None:
    path = tmp_path / "mine.parquet"
    for rows in ([0, 1], [0, 1, 2]):
        table.take(rows).save(path)
        assert len(load_candidates(path)) == len(rows)


# ------------------------------------------------------------------------ made ready for a start


def test_what_lies_ready_is_the_table_itself(table: CandidateTable) -> None:
    from_parquet = parquet.from_parquet(str(built_in_path()))
    assert isinstance(table, ReadyCandidates)
    assert len(table) == len(from_parquet)
    for column in TEXT_COLUMNS:
        assert table.text(column) == from_parquet.text(column)
    for column in NUMBER_COLUMNS:
        np.testing.assert_array_equal(table.number(column), from_parquet.number(column))
    np.testing.assert_array_equal(table.by_compound(), from_parquet.by_compound())


def test_beside_another_table_it_is_passed_over(table: CandidateTable, tmp_path: Path) -> None:
    path = tmp_path / "candidates.parquet"
    few = table.take(range(10))
    few.save(path)
    path.with_suffix(".npz").write_bytes(built_in_path().with_suffix(".npz").read_bytes())
    assert len(load_candidates(path)) == 10
    save_ready(load_candidates(path), path)
    assert load_candidates(path).text("name") == few.text("name")
    ready = ready_table(path)
    assert ready is not None
    assert ready.text("name") == few.text("name")
