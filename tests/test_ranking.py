"""How an answer shows itself, and the answers for many unknowns at once."""

from __future__ import annotations

import json
import math
import warnings
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from identify import (
    Conditions,
    Flask,
    Measurement,
    Tolerances,
    Trial,
    load_candidates,
    match,
    match_many,
    read_runs,
)
from identify.matching.answer import Ranking

METHANOL = {"C": 37.48, "H": 12.58, "O": 49.93}
COMPLETE = Measurement(
    "C-14",
    boiling_point="64.5 C",
    percent=METHANOL,
    conditions=Conditions(pressure="742.4 mmHg", room="22.4 C"),
    flask=Flask(volume="287.6 mL"),
    trials=[Trial("99.4925 g", "99.7414 g", "98.4 C")],
)
RUNS = [
    COMPLETE,
    replace(COMPLETE, label="C-15", trials=(*COMPLETE.trials, Trial(99.4922, 99.7420, 98.5))),
    Measurement("D-02", boiling_point=78.4, student="Robin"),
    Measurement("C-77", molar_mass="58.6 ± 0.5 g/mol"),
    Measurement("D-07", percent={"C": 83.63, "H": 16.37}),
    Measurement("D-08", molar_mass=900.0, boiling_point=-50.0, percent={"Br": 99.0}),
]


# ---------------------------------------------------------------------------- one answer


def test_plain_data_keeps_its_contract() -> None:
    data = match(COMPLETE).to_dict()
    assert json.loads(json.dumps(data, allow_nan=False)) == data
    keys = {"label", "verdict", "molar_mass", "candidates", "none_of_these", "slips", "findings"}
    assert keys <= set(data)
    assert set(data["molar_mass"]) == {
        "value",
        "standard_uncertainty",
        "ideal_gas",
        "interval_95",
    }
    first = data["candidates"][0]
    keys = {"rank", "name", "cas", "smiles", "inchikey", "formula", "molar_mass"}
    assert keys | {"boiling_point_C", "probability", "plausible", "deviations"} <= set(first)
    assert set(first["deviations"]) == {"molar_mass_percent", "boiling_point_C", "percent"}
    assert set(first["deviations"]["percent"]) == {"C", "H", "O"}
    total = sum(c["probability"] for c in data["candidates"]) + data["none_of_these"]
    assert total == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize("run", RUNS, ids=lambda run: run.label)
def test_plain_data_has_no_nan(run: Measurement) -> None:
    data = match(run).to_dict()
    json.dumps(data, allow_nan=False)
    measured = bool(run.trials) or run.molar_mass is not None
    assert (data["molar_mass"] is not None) is measured
    for finding in data["findings"]:
        assert set(finding) >= {"code", "severity", "message", "advice"}
        assert finding["severity"] in ("error", "warning", "note")


def test_table_has_one_row_a_candidate() -> None:
    ranking = match(COMPLETE)
    frame = ranking.table
    assert list(frame["rank"]) == [candidate.rank for candidate in ranking.candidates]
    assert {"name", "cas", "smiles", "inchikey", "formula", "molar_mass"} <= set(frame.columns)
    off = {"molar_mass_percent_off", "boiling_point_C_off", "percent_C_off", "percent_O_off"}
    assert off | {"probability", "plausible", "boiling_point_C"} <= set(frame.columns)
    assert frame["probability"].iloc[0] == pytest.approx(ranking.candidates[0].probability)
    # What was not measured has no column.
    assert not set(match(Measurement("E", boiling_point=78.4)).table.columns) & {
        "molar_mass_percent_off",
        "percent_C_off",
    }


def test_notebook_says_how_many_rows_it_does_not_show(monkeypatch: pytest.MonkeyPatch) -> None:
    found = match(replace(COMPLETE, molar_mass=None, percent={}))
    rows = len(found.table)
    monkeypatch.setattr("identify.notebook.shown._MAX_ROWS_SHOWN", 2)
    first = found._repr_html_().partition("</details>")[0]
    assert first.count("<tr") == 3  # and the heading
    assert f"<p>and {rows - 2} more in .tables['candidates']</p>" in first
    monkeypatch.setattr("identify.notebook.shown._MAX_ROWS_SHOWN", rows)
    assert " more in " not in found._repr_html_().partition("</details>")[0]


def test_notebook_shows_a_table_and_escapes_what_was_written() -> None:
    shown = match(replace(COMPLETE, label="<b>C-14</b>"))._repr_html_()
    assert "&lt;b&gt;C-14" in shown
    assert "<b>C-14</b>" not in shown
    assert "<table" in shown
    assert "methanol" in shown
    assert "single match" in shown
    findings = match(replace(COMPLETE, percent=METHANOL | {"O": 60.0}))._repr_html_()
    assert "<li>" in findings


# --------------------------------------------------------------------------------- many answers


def assert_block_is(block: pd.DataFrame, ranking: Ranking) -> None:
    """Compare one unknown's rows with the answer to it alone."""
    candidates = ranking.candidates
    for column in ("rank", "name", "cas", "inchikey", "formula", "molar_mass", "plausible"):
        assert list(block[column]) == [getattr(c, column) for c in candidates], column
    expected = [candidate.probability for candidate in candidates]
    np.testing.assert_allclose(block["probability"], expected, rtol=1e-12)
    for column in ("label", "student", "verdict", "none_of_these"):
        assert set(block[column]) == {getattr(ranking, column)}


def blocks(frame: pd.DataFrame) -> list[pd.DataFrame]:
    return [block for _, block in frame.groupby((frame["rank"] == 1).cumsum())]


def test_many_at_once_are_answered_as_one_by_one() -> None:
    answers = match_many(RUNS)
    assert list(answers.columns[:4]) == ["label", "rank", "name", "cas"]
    assert list(answers["label"].unique()) == [run.label for run in RUNS]
    for block, run in zip(blocks(answers), RUNS, strict=True):
        assert_block_is(block, match(run))


@pytest.mark.parametrize(
    "judgment",
    [
        {"prior": "uniform"},
        {"tolerances": Tolerances(molar_mass=2.0, percent=1.0, boiling_point=5.0)},
        {"candidates": load_candidates().take(np.arange(500))},
    ],
    ids=lambda judgment: next(iter(judgment)),
)
def test_many_are_judged_as_one_is(judgment: dict[str, Any]) -> None:
    usual, judged = match_many(RUNS), match_many(RUNS, **judgment)
    assert not usual["probability"].equals(judged["probability"])
    for block, run in zip(blocks(judged), RUNS, strict=True):
        assert_block_is(block, match(run, **judgment))


def test_runs_of_one_label_stay_apart() -> None:
    twice = [RUNS[2], replace(RUNS[2], boiling_point=64.5)]
    first, second = blocks(match_many(twice))
    assert first["name"].iloc[0] != second["name"].iloc[0]


def test_none_at_all() -> None:
    answers = match_many([])
    assert len(answers) == 0
    assert {"label", "rank", "name", "cas", "inchikey", "probability"} <= set(answers.columns)


@pytest.mark.parametrize("wrong", [[{"label": "C-14"}], ["C-14.toml"], [COMPLETE, None]])
def test_what_is_no_measurement_is_refused(wrong: list[Any]) -> None:
    with pytest.raises(TypeError, match="is not a Measurement; read it with read_runs"):
        match_many(wrong)
    with pytest.raises(TypeError, match="is not a Measurement; read it with read_runs"):
        match(wrong[-1])


@pytest.mark.parametrize("wrong", [None, COMPLETE, 5])
def test_what_is_no_list_is_refused(wrong: Any) -> None:
    with pytest.raises(TypeError, match="is not a list of Measurement"):
        match_many(wrong)


@pytest.mark.parametrize("wrong", [5, {"molar_mass": 5}])
def test_tolerances_of_another_class_are_refused(wrong: Any) -> None:
    with pytest.raises(TypeError, match="is not a Tolerances"):
        match(COMPLETE, tolerances=wrong)


def test_progress_goes_to_standard_error(capsys: pytest.CaptureFixture[str]) -> None:
    answers = match_many(RUNS, progress=True)
    assert capsys.readouterr().out == ""
    pd.testing.assert_frame_equal(answers, match_many(RUNS))


# ------------------------------------------------------------------------------------ from a frame

FRAME = pd.DataFrame(
    {
        "label": ["C-14", "C-14", "D-02", "C-77"],
        "student": ["Kim", "Kim", "Robin", None],
        "empty_g": [99.4925, 99.4922, math.nan, math.nan],
        "condensed_g": [99.7414, 99.7420, math.nan, math.nan],
        "bath_C": [98.4, 98.5, math.nan, math.nan],
        "room_C": [22.4, 22.4, math.nan, math.nan],
        "pressure_mmHg": [742.4, 742.4, math.nan, math.nan],
        "volume_mL": [287.6, 287.6, math.nan, math.nan],
        "boiling_point_C": [64.5, 64.5, 78.4, 56.5],
        "percent_C": [37.48, 37.48, 52.2, math.nan],
        "percent_H": [12.58, 12.58, 13.1, math.nan],
        "molar_mass": [math.nan, math.nan, math.nan, 58.6],
        "molar_mass_u": [math.nan, math.nan, math.nan, 0.7],
        "boiling_point_C_u": [0.5, 0.5, 0.3, math.nan],
        "percent_u": [0.1, 0.1, 0.3, math.nan],
    }
)
AS_WRITTEN = [
    Measurement(
        "C-14",
        student="Kim",
        boiling_point="64.5 ± 0.5 C",
        percent={"C": "37.48 ± 0.1 %", "H": "12.58 ± 0.1 %"},
        conditions=Conditions(pressure=742.4, room=22.4),
        flask=Flask(volume=287.6),
        trials=[Trial(99.4925, 99.7414, 98.4), Trial(99.4922, 99.7420, 98.5)],
    ),
    Measurement(
        "D-02",
        student="Robin",
        boiling_point="78.4 ± 0.3 C",
        percent={"C": "52.2 ± 0.3 %", "H": "13.1 ± 0.3 %"},
    ),
    Measurement("C-77", molar_mass="58.6 ± 0.7 g/mol", boiling_point=56.5),
]


def test_a_frame_is_answered_as_its_runs_are() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        answers = match_many(FRAME)
    assert "faults" not in answers.attrs
    for block, run in zip(blocks(answers), AS_WRITTEN, strict=True):
        assert_block_is(block, match(run))


@pytest.mark.parametrize(
    ("column", "label"),
    [("molar_mass_u", "C-77"), ("boiling_point_C_u", "D-02"), ("percent_u", "D-02")],
)
def test_uncertainties_of_a_frame_count(column: str, label: str) -> None:
    with_it, without = (
        match_many(frame, prior="uniform") for frame in (FRAME, FRAME.drop(columns=column))
    )
    ours, theirs = (
        answers[answers["label"] == label].set_index("inchikey")["probability"]
        for answers in (with_it, without)
    )
    both = ours.index.intersection(theirs.index)
    assert not np.allclose(ours[both], theirs[both], rtol=1e-6)


def test_a_frame_is_answered_as_its_file_is(tmp_path: Path) -> None:
    FRAME.to_csv(tmp_path / "section.csv", index=False)
    runs = read_runs(tmp_path / "section.csv")
    assert runs.faults == ()
    pd.testing.assert_frame_equal(match_many(FRAME), match_many(runs))


@pytest.mark.parametrize(
    ("column", "row", "value", "words"),
    [
        ("pressure_mmHg", 1, -5.0, "row 3, pressure_mmHg"),
        ("boiling_point_C", 2, "hot", 'row 4, boiling_point_C: "hot"'),
        ("percent_C", 3, "5 g", "row 5, percent_C"),
        ("molar_mass_u", 3, -1.0, "row 5, molar_mass_u"),
        ("label", 2, None, "row 4, label"),
    ],
)
def test_faults_of_a_frame_are_warned_of_and_the_rest_is_answered(
    column: str, row: int, value: object, words: str
) -> None:
    spoiled = FRAME.astype(object)
    spoiled.loc[row, column] = value
    with pytest.warns(UserWarning, match=f"data frame, {words}"):
        answers = match_many(spoiled)
    assert len(answers.attrs["faults"]) == 1
    expected = ["C-14", "D-02", "C-77"]
    if column == "label":  # else all that can be read of the row is answered
        expected.remove(FRAME["label"][row])
    assert list(answers["label"].unique()) == expected


def test_faults_of_a_file_are_warned_of_too(tmp_path: Path) -> None:
    path = tmp_path / "runs.csv"
    path.write_text("label,boiling_point_C\nA,78.4\nB,hot\n")
    with pytest.warns(UserWarning, match=r"runs\.csv, row 3"):
        answers = match_many(read_runs(path))
    assert len(answers.attrs["faults"]) == 1
    assert list(answers["label"].unique()) == ["A"]


def test_several_faults_are_counted() -> None:
    spoiled = FRAME.assign(boiling_point_C="hot")
    with pytest.warns(UserWarning, match=r"\(and 3 more, see \.attrs\['faults'\]\)"):
        answers = match_many(spoiled)
    assert len(answers.attrs["faults"]) == 4
    assert answers["label"].nunique() == 3


@pytest.mark.parametrize("frame", [pd.DataFrame(), pd.DataFrame({"name": ["C-14"]})])
def test_a_frame_of_something_else(frame: pd.DataFrame) -> None:
    with pytest.warns(UserWarning, match="data frame"):
        answers = match_many(frame)
    assert len(answers) == 0


@pytest.mark.parametrize(
    ("cas", "remark"),
    [
        ("71-43-2", "on a list of carcinogens"),  # benzene
        ("355-68-0", "a solid in the room, melts at 63 °C"),  # dodecafluorocyclohexane
        ("78-92-2", "cannot be told apart"),  # 2-butanol
        ("110-54-3", ""),  # hexane
    ],
)
def test_a_candidate_says_what_its_row_says(cas: str, remark: str) -> None:
    table = load_candidates()
    (row,) = table.find(cas)
    run = Measurement(
        "N-1",
        molar_mass=float(table.number("molar_mass")[row]),
        boiling_point=float(table.number("boiling_point_C")[row]),
    )
    (candidate,) = (one for one in match(run).candidates if one.cas == cas)
    assert remark in candidate.note
    assert bool(candidate.note) == bool(remark)
