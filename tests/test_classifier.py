"""The scikit-learn interface: probabilities as the match has them, and what scikit-learn checks."""

from __future__ import annotations

import pickle
import re
import subprocess
import sys
import warnings
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.sparse import csr_array
from sklearn.base import clone
from sklearn.exceptions import NotFittedError, SkipTestWarning
from sklearn.metrics import log_loss, make_scorer
from sklearn.model_selection import GridSearchCV, KFold, cross_val_predict, cross_val_score
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import FunctionTransformer
from sklearn.utils.estimator_checks import check_estimator

from identify import Tolerances, UnknownClassifier, match
from identify.compounds.table import CandidateTable
from identify.matching.classifier import NONE_OF_THESE
from identify.tables import runs_from_frame

MEASURED = pd.DataFrame(
    {
        "molar_mass": [46.0, 59.1, 85.0, 32.2, np.nan, 119.0],
        "boiling_point_C": [78.4, 56.3, 68.9, 64.6, 97.0, 61.3],
        "percent_C": [52.1, 62.1, 83.6, 37.4, 60.0, np.nan],
        "percent_H": [13.1, 10.4, 16.4, 12.6, 13.4, np.nan],
    }
)
NAMES = ["ethanol", "acetone", "hexane", "methanol", "1-propanol", "chloroform"]
WEIGHED = pd.DataFrame(
    {
        "empty_g": [98.1132, 97.2210],
        "condensed_g": [98.3721, 97.9105],
        "bath_C": [98.9, 99.1],
        "room_C": [22.5, 22.5],
        "pressure_mmHg": [742.0, 742.0],
        "volume_mL": [287.4, 287.4],
        "boiling_point_C": [64.6, 80.1],
    }
)


@pytest.fixture(scope="module")
def fitted(table: CandidateTable) -> UnknownClassifier:
    return UnknownClassifier(table, identifier="name").fit(MEASURED)


@pytest.mark.parametrize("frame", [MEASURED, WEIGHED], ids=["worked out", "weighed"])
def test_probabilities_are_those_of_the_match(table: CandidateTable, frame: pd.DataFrame) -> None:
    found = UnknownClassifier(table).fit(frame)
    probability = found.predict_proba(frame)
    np.testing.assert_allclose(probability.sum(axis=1), 1.0, rtol=1e-12)
    runs = runs_from_frame(frame.assign(label=[f"K-{row}" for row in range(len(frame))]))
    place = {name: column for column, name in enumerate(found.classes_)}
    for row, run in enumerate(runs):
        ranking = match(run, table)
        none = probability[row, place[NONE_OF_THESE]]
        assert none == pytest.approx(ranking.none_of_these, rel=1e-12)
        for one in ranking.candidates:
            assert probability[row, place[one.inchikey]] == pytest.approx(
                one.probability, rel=1e-12
            )


# scikit-learn's checks of what they call "any" classifier make their own data. Here each column is
# a reading of its own kind, and each class a compound, so that most of those data are refused.
_OTHER_COLUMNS = "makes up more or fewer columns than those that have names"
_NO_COMPOUNDS = "makes up classes that are not compounds"
EXPECTED_FAILURES = {
    "check_classifier_data_not_an_array": _NO_COMPOUNDS,
    "check_classifiers_classes": _NO_COMPOUNDS,
    "check_classifiers_one_label": _OTHER_COLUMNS,
    "check_classifiers_regression_target": _OTHER_COLUMNS,
    "check_classifiers_train": _NO_COMPOUNDS,
    "check_dict_unchanged": _OTHER_COLUMNS,
    "check_dont_overwrite_parameters": _OTHER_COLUMNS,
    "check_dtype_object": _OTHER_COLUMNS,
    "check_estimators_dtypes": _OTHER_COLUMNS,
    "check_estimators_fit_returns_self": _NO_COMPOUNDS,
    "check_estimators_overwrite_params": _NO_COMPOUNDS,
    "check_estimators_pickle": _OTHER_COLUMNS,
    "check_f_contiguous_array_estimator": _OTHER_COLUMNS,
    "check_fit2d_1feature": _OTHER_COLUMNS,
    "check_fit2d_1sample": _OTHER_COLUMNS,
    "check_fit2d_predict1d": _OTHER_COLUMNS,
    "check_fit_check_is_fitted": _NO_COMPOUNDS,
    "check_fit_idempotent": _NO_COMPOUNDS,
    "check_fit_score_takes_y": _OTHER_COLUMNS,
    "check_methods_sample_order_invariance": _OTHER_COLUMNS,
    "check_methods_subset_invariance": _OTHER_COLUMNS,
    "check_n_features_in": _NO_COMPOUNDS,
    "check_n_features_in_after_fitting": _OTHER_COLUMNS,
    "check_pipeline_consistency": _OTHER_COLUMNS,
    "check_positive_only_tag_during_fit": _OTHER_COLUMNS,
    "check_readonly_memmap_input": _NO_COMPOUNDS,
    "check_supervised_y_2d": _OTHER_COLUMNS,
}
_REFUSALS = {
    _OTHER_COLUMNS: r"but UnknownClassifier is expecting 2 features|only one class is present",
    _NO_COMPOUNDS: "is not a candidate by its inchikey",
}


def test_scikit_learn_checks_the_estimator() -> None:
    named = UnknownClassifier(columns=("boiling_point_C", "melting_point_C"))
    with warnings.catch_warnings():
        # Of checks passed over where an environment variable is not set.
        warnings.simplefilter("ignore", SkipTestWarning)
        done = check_estimator(named, expected_failed_checks=EXPECTED_FAILURES)
    refused = [one for one in done if one["status"] == "xfail"]
    assert {one["check_name"] for one in refused} == EXPECTED_FAILURES.keys()
    # Each for its reason, and for no other.
    for one in refused:
        said = [str(one["exception"]), str(one["exception"].__cause__)]
        wanted = _REFUSALS[EXPECTED_FAILURES[one["check_name"]]]
        assert any(re.search(wanted, text) for text in said), one
    assert sum(one["status"] == "passed" for one in done) >= 20


# What the checks above would have looked at, with readings and compounds.


@pytest.mark.parametrize("method", ["predict", "predict_proba"])
def test_rows_stand_for_themselves(fitted: UnknownClassifier, method: str) -> None:
    def ask(frame: pd.DataFrame) -> Any:
        return getattr(fitted, method)(frame)

    together = ask(MEASURED)
    np.testing.assert_array_equal(ask(MEASURED.iloc[::-1])[::-1], together)
    one_by_one = [ask(MEASURED.iloc[[row]])[0] for row in range(len(MEASURED))]
    np.testing.assert_array_equal(one_by_one, together)


def test_nothing_changes_but_by_fit(table: CandidateTable) -> None:
    new = UnknownClassifier(table, identifier="name")
    given = dict(vars(new))
    frame, kept = MEASURED.copy(), MEASURED.copy()
    assert new.fit(frame, NAMES) is new
    assert vars(new).items() >= given.items()
    before = dict(vars(new))
    first = new.predict_proba(frame)
    assert all(vars(new)[name] is value for name, value in before.items())
    pd.testing.assert_frame_equal(frame, kept)
    np.testing.assert_array_equal(new.fit(frame, NAMES).predict_proba(frame), first)


@pytest.mark.parametrize("order", ["C", "F"])
def test_arrays_with_the_names_of_their_columns(fitted: UnknownClassifier, order: Any) -> None:
    values = np.array(MEASURED.to_numpy(), order=order)
    values.flags.writeable = False
    named = clone(fitted).set_params(columns=tuple(MEASURED.columns)).fit(values, NAMES)
    np.testing.assert_array_equal(named.predict_proba(values), fitted.predict_proba(MEASURED))
    assert named.n_features_in_ == 4
    assert named.feature_names_in_.tolist() == MEASURED.columns.tolist()
    # A frame has names of its own, which have to be those.
    assert named.predict(MEASURED).tolist() == NAMES


def test_arrays_in_a_pipeline(fitted: UnknownClassifier) -> None:
    scaled = FunctionTransformer(lambda frame: frame.to_numpy() / [1000.0, 1.0, 1.0, 1.0])
    pipeline = make_pipeline(scaled, clone(fitted).set_params(columns=list(MEASURED.columns)))
    milligrams = MEASURED.assign(molar_mass=MEASURED["molar_mass"] * 1000.0)
    assert pipeline.fit(milligrams, NAMES).predict(milligrams).tolist() == NAMES


def test_scores_of_probabilities(fitted: UnknownClassifier) -> None:
    probability = fitted.predict_proba(MEASURED)
    place = [fitted.classes_.tolist().index(name) for name in NAMES]
    by_hand = -np.log(probability[np.arange(len(NAMES)), place]).mean()
    assert log_loss(NAMES, probability, labels=fitted.classes_) == pytest.approx(by_hand)
    by_loss = make_scorer(log_loss, response_method="predict_proba", labels=fitted.classes_)
    folds = cross_val_score(fitted, MEASURED, NAMES, cv=KFold(3), scoring=by_loss)
    assert folds.mean() == pytest.approx(by_hand)
    held_out = cross_val_predict(fitted, MEASURED, cv=KFold(3), method="predict_proba")
    np.testing.assert_array_equal(held_out, probability)


def test_predicts_and_scores(fitted: UnknownClassifier) -> None:
    assert fitted.predict(MEASURED).tolist() == NAMES
    assert fitted.score(MEASURED, NAMES) == 1.0
    wrong = ["water", *NAMES[1:]]
    assert fitted.score(MEASURED, wrong) == pytest.approx(5 / 6)
    assert fitted.score(MEASURED, wrong, sample_weight=[0, 1, 1, 1, 1, 1]) == 1.0


def test_readings_of_nothing_known_are_none_of_these(table: CandidateTable) -> None:
    strange = pd.DataFrame({"percent_C": [1.0], "percent_H": [60.0], "percent_F": [39.0]})
    assert UnknownClassifier(table).fit(strange).predict(strange).tolist() == [NONE_OF_THESE]


def test_label_and_student_are_not_looked_at(fitted: UnknownClassifier) -> None:
    labelled = MEASURED.assign(**{"Label": "K-1", "student": "s-01"})
    found = clone(fitted).fit(labelled)
    np.testing.assert_array_equal(found.predict_proba(labelled), fitted.predict_proba(MEASURED))


def test_in_a_pipeline(fitted: UnknownClassifier) -> None:
    kelvin = MEASURED.assign(boiling_point_C=MEASURED["boiling_point_C"] + 273.15)
    to_celsius = FunctionTransformer(
        lambda frame: frame.assign(boiling_point_C=frame["boiling_point_C"] - 273.15)
    )
    pipeline = make_pipeline(to_celsius, clone(fitted)).fit(kelvin, NAMES)
    assert pipeline.predict(kelvin).tolist() == NAMES


def test_in_cross_validation(fitted: UnknownClassifier) -> None:
    folds = KFold(3)
    assert cross_val_score(fitted, MEASURED, NAMES, cv=folds).tolist() == [1.0, 1.0, 1.0]
    predicted = cross_val_predict(fitted, MEASURED, NAMES, cv=folds)
    assert predicted.tolist() == NAMES


def test_a_search_over_tolerances(fitted: UnknownClassifier) -> None:
    # The boiling points are 5 K low: a narrow tolerance takes them at their word.
    low = MEASURED.assign(boiling_point_C=MEASURED["boiling_point_C"] - 5.0)
    grid = {"tolerances": [Tolerances(boiling_point=0.5), Tolerances(boiling_point=8.0)]}
    found = GridSearchCV(fitted, grid, cv=KFold(2)).fit(low, NAMES)
    assert found.best_params_["tolerances"] == Tolerances(boiling_point=8.0)
    narrow, wide = found.cv_results_["mean_test_score"]
    assert wide > narrow


def test_pickled_and_cloned_it_is_the_same(fitted: UnknownClassifier) -> None:
    again = pickle.loads(pickle.dumps(fitted))
    np.testing.assert_array_equal(again.predict_proba(MEASURED), fitted.predict_proba(MEASURED))
    # A table is never changed: a copy of it would only take time.
    assert clone(fitted).candidates is fitted.candidates


def test_compounds_that_share_a_name_are_one_class(table: CandidateTable) -> None:
    rows = [table.find("ethanol")[0], table.find("acetone")[0]]
    text = {"name": ["spirit", "spirit"], "inchikey": ["A", "B"]}
    numbers = {name: table.number(name)[rows] for name in table.frame if _is_number(table, name)}
    same = CandidateTable(text, numbers)
    found = UnknownClassifier(same, identifier="name").fit(MEASURED)
    assert found.classes_.tolist() == [NONE_OF_THESE, "spirit"]
    np.testing.assert_allclose(found.predict_proba(MEASURED).sum(axis=1), 1.0)


def _is_number(table: CandidateTable, name: str) -> bool:
    return table.frame[name].dtype.kind == "f"


@pytest.mark.parametrize(
    ("parameters", "X", "y", "error", "words"),
    [
        ({}, MEASURED.to_numpy(), None, TypeError, "no named columns"),
        ({}, MEASURED.iloc[:0], None, ValueError, "no rows"),
        (
            {},
            MEASURED.assign(molar_mass="heavy"),
            None,
            ValueError,
            'X, row 1, molar_mass: "heavy"',
        ),
        ({}, MEASURED.assign(molar_mass=np.inf), None, ValueError, "X, row 1, molar_mass"),
        ({}, MEASURED.assign(weight=1.0), None, ValueError, "X, weight: could mean empty_g"),
        ({}, MEASURED.reindex(range(7)), None, ValueError, "X, row 7: nothing is written"),
        ({}, MEASURED, [1.5] * 6, ValueError, "Unknown label type"),
        ({"columns": ["density"]}, [[0.79, 1.0]], None, ValueError, "2 features"),
        ({"columns": ["density"]}, [0.79], None, ValueError, "two are required"),
        ({"columns": ["density"]}, [[0.79j]], None, ValueError, "Complex data"),
        ({"columns": ["density"]}, csr_array([[0.79]]), None, TypeError, "sparse"),
        ({}, MEASURED, NAMES[:3], ValueError, "shape"),
        ({"identifier": "name"}, MEASURED, ["elixir", *NAMES[1:]], ValueError, 'row 1: "elixir"'),
        ({"identifier": "nickname"}, MEASURED, None, ValueError, "not one of inchikey"),
        ({"prior": "wishes"}, MEASURED, None, ValueError, "wishes"),
        ({"tolerances": 5.0}, MEASURED, None, TypeError, "not a Tolerances"),
        ({"candidates": "missing.parquet"}, MEASURED, None, ValueError, "no such file"),
    ],
)
def test_refuses(parameters: dict[str, Any], X: Any, y: Any, error: type, words: str) -> None:
    with pytest.raises(error, match=words):
        UnknownClassifier(**parameters).fit(X, y)


def test_other_columns_than_in_fit(fitted: UnknownClassifier) -> None:
    with pytest.raises(ValueError, match="fitted with molar_mass"):
        fitted.predict(MEASURED[["boiling_point_C", "molar_mass", "percent_C", "percent_H"]])


def test_before_fit() -> None:
    with pytest.raises(NotFittedError, match="UnknownClassifier instance is not fitted yet"):
        UnknownClassifier().predict(MEASURED)


def test_the_public_face_loads_no_scikit_learn() -> None:
    code = (
        "import sys, identify; identify.match(identify.Measurement('K-1', boiling_point=56.1));"
        "print('sklearn' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
