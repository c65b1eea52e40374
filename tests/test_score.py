"""Scoring a program's own candidates: one row out for each row in, whatever they are given as."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import polars
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import identify
from identify import Measurement, UnknownClassifier, load_candidates, match, match_many, score
from identify.compounds.table import CandidateTable

ACETONE = Measurement("C-1", molar_mass=58.3, boiling_point=56.3, percent={"C": 62.0, "H": 10.4})
WEIGHED = Measurement(
    "C-2",
    boiling_point="56.4 C",
    conditions=identify.Conditions(pressure="742.4 mmHg", room="22.4 C"),
    flask=identify.Flask(volume="287.6 mL"),
    trials=[identify.Trial("99.4925 g", "99.8974 g", "98.4 C")],
)
LIQUIDS = {
    "smiles": ["CC(C)=O", "CCC=O", "C=CCO", "CCO", "CCCCCC"],
    "boiling_point_C": [56.1, 48.0, 97.0, 78.3, 68.7],
}
DEVIATIONS = ["molar_mass_percent_off", "boiling_point_C_off", "percent_C_off", "percent_H_off"]


@pytest.mark.parametrize("run", [ACETONE, WEIGHED, Measurement("C-3")], ids=lambda run: run.label)
@pytest.mark.parametrize("prior", ["classroom", "commerce", "uniform"])
def test_all_compounds_have_the_probability_of_the_match(
    table: CandidateTable, run: Measurement, prior: Any
) -> None:
    scores, ranking = score(run, prior=prior), match(run, prior=prior)
    assert len(scores) == len(table)
    assert scores.attrs["none_of_these"] == ranking.none_of_these
    for one in ranking.candidates:
        row = scores.loc[one.index]
        assert row["probability"] == one.probability
        assert row["plausible"] == one.plausible
        if run is ACETONE:
            off = one.deviations
            assert row["boiling_point_C_off"] == off.boiling_point_C
            assert row["molar_mass_percent_off"] == pytest.approx(off.molar_mass_percent)
            assert row["percent_C_off"] == off.percent["C"]


def test_the_frame_of_a_table_scores_as_the_table(table: CandidateTable) -> None:
    from_frame, from_table = score(WEIGHED, table.frame), score(WEIGHED, table)
    np.testing.assert_allclose(from_frame["probability"], from_table["probability"], atol=2e-4)
    assert (from_frame["plausible"] == from_table["plausible"]).all()


FRAMES = {
    "pandas": pd.DataFrame,
    "polars": polars.DataFrame,
    "arrow": pa.table,
    "columns": dict,
    "with an index": lambda data: pd.DataFrame(data, index=list("vwxyz")),
    "reordered": lambda data: pd.DataFrame(data)[["boiling_point_C", "smiles"]],
    "kelvin": lambda data: pd.DataFrame(
        {"Structure (SMILES)": data["smiles"], "B.P. (K)": np.add(data["boiling_point_C"], 273.15)}
    ),
    "text": lambda data: pd.DataFrame(data).assign(
        boiling_point_C=[f"{one} °C" for one in data["boiling_point_C"]]
    ),
}


@pytest.mark.parametrize("kind", FRAMES)
def test_any_frame_scores_alike(kind: str) -> None:
    expected = score(ACETONE, pd.DataFrame(LIQUIDS))
    frame = FRAMES[kind](LIQUIDS)
    found = score(ACETONE, frame)
    assert list(found) == ["log_likelihood", "probability", "plausible", *DEVIATIONS]
    np.testing.assert_allclose(found.to_numpy(float), expected.to_numpy(float), rtol=1e-9)
    assert found["probability"].idxmax() == found.index[0]
    assert found.index.equals(frame.index if isinstance(frame, pd.DataFrame) else found.index)
    # The other functions take the same.
    assert match(ACETONE, frame).candidates[0].name == "acetone"
    many = match_many([ACETONE], frame)
    assert many["probability"][0] == match(ACETONE, frame).candidates[0].probability
    named = UnknownClassifier(frame, identifier="name").fit(pd.DataFrame({"molar_mass": [58.3]}))
    assert "acetone" in named.classes_
    assert load_candidates(frame).text("name")[0] == "acetone"


@pytest.mark.parametrize("kind", ["polars", "arrow", "columns"])
def test_readings_come_in_any_frame(kind: str) -> None:
    data = {"label": ["A", "B"], "molar_mass": [58.3, 46.1], "boiling_point_C": [56.3, 78.2]}
    found, expected = match_many(FRAMES[kind](data)), match_many(pd.DataFrame(data))
    pd.testing.assert_frame_equal(found, expected)
    readings = {name: data[name] for name in ("molar_mass", "boiling_point_C")}
    named = UnknownClassifier(identifier="name").fit(FRAMES[kind](readings))
    assert named.predict(FRAMES[kind](readings)).tolist() == ["acetone", "ethanol"]


def test_names_numbers_and_structures_in_a_list() -> None:
    names = ["ethanol", "67-64-1", "CCC=O", "THF"]
    found = score(ACETONE, names)
    assert found.index.tolist() == names
    assert found["probability"].idxmax() == "67-64-1"
    own = score(ACETONE, pd.DataFrame({"identity": names}))
    np.testing.assert_allclose(own["log_likelihood"], found["log_likelihood"])


# ------------------------------------------------------------------------ what is not known


def without(frame: pd.DataFrame, column: str, row: int) -> pd.DataFrame:
    return frame.assign(**{column: frame[column].where(frame.index != row)})


@pytest.mark.parametrize("run", [ACETONE, WEIGHED], ids=["worked out", "weighed"])
@pytest.mark.parametrize("row", range(5))
def test_a_boiling_point_that_is_not_known_neither_gains_nor_loses(
    run: Measurement, row: int
) -> None:
    """Its place among others is where their average reading of it would be."""
    frame = pd.DataFrame(LIQUIDS)
    full, lacking = score(run, frame), score(run, without(frame, "boiling_point_C", row))
    assert np.isnan(lacking["boiling_point_C_off"][row])
    assert np.isfinite(lacking["log_likelihood"]).all()
    others = full.index != row
    for column in ("log_likelihood", "plausible"):
        assert lacking[column][others].equals(full[column][others])
    boiling = run.boiling_point.to("C").value
    near = abs(LIQUIDS["boiling_point_C"][row] - boiling) < 2.0
    gains = lacking["log_likelihood"][row] - full["log_likelihood"][row]
    assert gains < 0.0 if near else gains > 0.0


def test_what_nobody_knows_of_any_tells_nothing() -> None:
    formulas = pd.DataFrame({"formula": ["C3H6O", "C2H6O", "C6H14"]})
    told, untold = (
        score(one, formulas)
        for one in (ACETONE, Measurement("C-1", molar_mass=58.3, percent={"C": 62.0, "H": 10.4}))
    )
    np.testing.assert_allclose(told["log_likelihood"], untold["log_likelihood"])
    assert told["probability"].idxmax() == 0
    assert told["plausible"].tolist() == [True, False, False]


def test_a_molar_mass_alone_is_a_candidate() -> None:
    frame = pd.DataFrame(
        {
            "name": ["mine", "theirs", "acetone"],
            "molar_mass": [58.1, 46.1, 58.08],
            "formula": [None, "C2H6O", "C3H6O"],
        }
    )
    found = score(ACETONE, frame)
    assert np.isnan(found["percent_C_off"][0])
    assert found["plausible"].tolist() == [True, False, True]
    # Composition of the first is not known: nor does it lose, so that it stays in the running.
    assert 0.01 < found["probability"][0] < found["probability"][2]


def test_structures_that_no_table_has_are_candidates() -> None:
    """By their formulas; a boiling point may be missing, or be one at another pressure."""
    run = Measurement("C-4", molar_mass=140.6, boiling_point=150.0, percent={"C": 51.3})
    frame = pd.DataFrame(
        {
            "smiles": ["CCOC(CF)CCl", "CCOC(CF)CCl", "CCOC(CF)CCl", "CCO"],
            "name": ["one", "two", "three", "ethanol"],
            "boiling_point_C": [150.0, None, 147.0, 78.3],
            "boiling_point_at": [None, None, "700 mmHg", None],
        }
    )
    found = score(run, frame)
    assert "faults" not in found.attrs
    assert found["molar_mass_percent_off"][:3].tolist() == pytest.approx([0.0] * 3, abs=0.1)
    assert found["percent_C_off"][:3].tolist() == pytest.approx([8.58] * 3, abs=0.05)
    # By Trouton's rule 700 mmHg boil 3.2 K lower at 150 degrees Celsius.
    off = found["boiling_point_C_off"].tolist()
    assert off[0] == pytest.approx(0.0)
    assert np.isnan(off[1])
    assert off[2] == pytest.approx(-0.2, abs=0.2)
    assert found["probability"][[0, 2]].min() > found["probability"][1] > found["probability"][3]
    stated = frame.drop(index=1).reset_index(drop=True)
    again = score(run, stated)
    assert again["boiling_point_C_off"][:2].tolist() == pytest.approx([off[0], off[2]])


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["CC(C)=O", "CCO", "CCCC", "ClC(Cl)Cl", "CCOC(C)=O", "CCC=O", "CO"]),
            st.one_of(st.none(), st.floats(-20.0, 200.0)),
        ),
        min_size=1,
        max_size=8,
    )
)
def test_probabilities_add_up_and_follow_the_rows(rows: list[tuple[str, float | None]]) -> None:
    frame = pd.DataFrame(rows, columns=["smiles", "boiling_point_C"]).astype(
        {"boiling_point_C": float}
    )
    found = score(WEIGHED, frame)
    assert len(found) == len(frame)
    total = found["probability"].sum() + found.attrs["none_of_these"]
    assert total == pytest.approx(1.0, abs=1e-9)
    backward = score(WEIGHED, frame.iloc[::-1]).sort_index()
    np.testing.assert_allclose(backward["log_likelihood"], found["log_likelihood"], rtol=1e-9)
    answer = match(WEIGHED, frame).to_dict()
    assert len(answer["candidates"]) <= len(frame)


def test_a_prior_of_ones_own_counts() -> None:
    frame = pd.DataFrame({"name": ["acetone", "propanal"], "prior": [1.0, 3.0]})
    run = Measurement("C-1", molar_mass=58.1)
    odds = [score(run, one)["probability"] for one in (frame, frame[["name"]])]
    ratios = [one[1] / one[0] for one in odds]
    assert ratios[0] / ratios[1] == pytest.approx(3.0)


# ---------------------------------------------------------------------------- what is refused


def test_a_row_that_cannot_be_used_keeps_its_place() -> None:
    frame = pd.DataFrame(
        {
            "smiles": ["C[Se]C", "CC(C)=O", "not one", "CCO", None],
            "boiling_point_C": [58.0, 56.1, 60.0, "warm", 50.0],
        }
    )
    with pytest.warns(UserWarning, match="row 1, smiles"):
        found = score(ACETONE, frame)
    assert found["probability"].isna().tolist() == [True, False, True, True, True]
    assert found["plausible"].tolist() == [False, True, False, False, False]
    faults = found.attrs["faults"]
    assert [line.split(",")[1].strip() for line in faults] == ["row 1", "row 3", "row 4", "row 5"]
    assert '"warm"' in faults[2]


REFUSED: list[tuple[Any, type[Exception], str]] = [
    (pd.DataFrame({"color": ["red"]}), ValueError, "says which compound"),
    (pd.DataFrame({"smiles": []}), ValueError, "no row"),
    (["bottle seven"], ValueError, "not a compound known here"),
    (["dichloroethane"], ValueError, "1,1-dichloroethane"),
    (pd.DataFrame({"formula": ["C3H6O"], "molar_mass": [46.1]}), ValueError, "is not 58.08"),
    (pd.DataFrame({"formula": ["C2H6Se"]}), ValueError, "Se"),
    (pd.DataFrame({"name": ["acetone"], "formula": ["C2H6O"]}), ValueError, "is not C3H6O"),
    (pd.DataFrame({"bp": [50.0], "B.P. (C)": [51.0], "name": ["x"]}), ValueError, "keep one"),
    (7, TypeError, "not a table of candidates"),
    ([], ValueError, "no row"),
]


@pytest.mark.parametrize(("candidates", "error", "says"), REFUSED, ids=lambda one: str(one)[:30])
def test_what_is_not_a_list_of_candidates_is_refused_in_one_line(
    candidates: Any, error: type[Exception], says: str
) -> None:
    with pytest.raises(error, match=says) as refused:
        score(ACETONE, candidates)
    assert "\n" not in str(refused.value)


def test_a_file_scores_as_well(tmp_path: Path) -> None:
    path = tmp_path / "stock.csv"
    path.write_text("label,identity\nA-1,acetone\nA-2,ethanol\n")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert score(ACETONE, path)["probability"].idxmax() == 0
