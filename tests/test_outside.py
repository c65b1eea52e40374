"""The assumed share of liquids that are not in the table, and `none of these` because of it."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from class_pages import ClassRoom, Liquids, PageKind
from hypothesis import given, settings
from hypothesis import strategies as st

import identify
from identify import Measurement, match, match_many
from identify.answers.text import verdict_sentence
from identify.bench.bench import Bench
from identify.compounds.parquet import built_in_path
from identify.compounds.table import CandidateTable
from identify.large.indexed import IndexedTable, write_index
from identify.matching.classifier import NONE_OF_THESE, UnknownClassifier
from identify.matching.evidence import Matcher
from identify.matching.posterior import Posterior
from identify.matching.totals import isomers_possible, outside_share
from identify.section import check_section
from identify.tables import read_runs
from tests.command import Run
from tests.test_shares import RUNS, assert_same

CARD = Measurement("K-7", molar_mass=72.0, boiling_point=79.0)


@pytest.mark.parametrize(
    ("given", "share"),
    [("1%", 0.01), ("1 %", 0.01), ("0,5 %", 0.005), ("20 %", 0.2), (0.05, 0.05), (0, 0.0)],
)
def test_shares_read(given: str | float, share: float) -> None:
    assert outside_share(given) == pytest.approx(share)


@pytest.mark.parametrize("given", ["100 %", "5", 1.0, -0.1, "none", "", float("nan"), True])
def test_shares_refused(given: Any) -> None:
    with pytest.raises(ValueError, match=r"outside: .* is not a share of liquids"):
        match(CARD, outside=given)


def none_of_these(outside: str | float, run: Measurement = CARD) -> float:
    return match(run, outside=outside).none_of_these


def test_every_entry_takes_it(tmp_path: Path) -> None:
    wanted = none_of_these(0.2)
    assert wanted > 3.0 * none_of_these(0.01)
    frame = match_many([CARD], outside="20 %")
    assert frame["none_of_these"].iloc[0] == pytest.approx(wanted)
    readings = pd.DataFrame({"molar_mass": [72.0], "boiling_point_C": [79.0]})
    classifier = UnknownClassifier(outside="20 %").fit(readings)
    place = list(classifier.classes_).index(NONE_OF_THESE)
    assert classifier.predict_proba(readings)[0, place] == pytest.approx(wanted)
    file = tmp_path / "section.csv"
    file.write_text("label,student,molar_mass,boiling_point_C\nK-7,first,72.0,79.0\n")
    checked = check_section(read_runs(file), outside="20 %")
    assert checked.students[0].ranking.none_of_these == pytest.approx(wanted)
    explained = identify.explain(CARD, "acetone", outside="20 %").compound.probability
    assert explained < identify.explain(CARD, "acetone").compound.probability


def test_option(invoke: Run, tmp_path: Path) -> None:
    def stated(*more: str) -> float:
        outcome = invoke("match", "--molar-mass=72", "--boiling-point=79", "--format=json", *more)
        return float(json.loads(outcome.output)[0]["none_of_these"])

    assert stated() == stated("--outside=1%") == stated("--outside", "0.01")
    assert stated("--outside=0") == 0.0 < stated() < stated("--outside", "5 %")
    index = tmp_path / "table.arrow"
    write_index([built_in_path()], index)
    of_index = stated("--candidates", str(index), "--outside", "5 %")
    assert of_index == pytest.approx(stated("--outside", "5 %"), rel=1e-6)


def test_option_refused(invoke: Run, tmp_path: Path) -> None:
    file = tmp_path / "section.csv"
    file.write_text("label,student,molar_mass\nK-7,first,72.0\n")
    for command in (("match", "--boiling-point=79"), ("section", str(file))):
        outcome = invoke(*command, "--outside=120%")
        assert outcome.status == 2
        assert outcome.output == ""
        assert '--outside: "120%" is not a share of liquids' in outcome.complaints


@pytest.mark.parametrize("outside", [0.0, 0.2])
def test_index_gives_the_same(table: CandidateTable, tmp_path: Path, outside: float) -> None:
    path = tmp_path / "table.arrow"
    write_index([built_in_path()], path)
    index = IndexedTable.open(path)
    for read in RUNS.values():
        found = match(read, index, outside=outside).to_dict()
        assert_same(found, match(read, table, outside=outside).to_dict())


@settings(max_examples=40, deadline=None)
@given(
    molar_mass=st.one_of(st.none(), st.floats(20.0, 250.0)),
    boiling_point=st.one_of(st.none(), st.floats(-20.0, 250.0)),
    percent=st.one_of(st.just({}), st.fixed_dictionaries({"C": st.floats(5.0, 90.0)})),
    shares=st.tuples(st.floats(0.0, 0.95), st.floats(0.0, 0.95)).map(sorted),
)
def test_none_of_these_grows_with_the_share(
    table: CandidateTable,
    molar_mass: float | None,
    boiling_point: float | None,
    percent: dict[str, float],
    shares: list[float],
) -> None:
    read = Measurement("K-7", molar_mass=molar_mass, boiling_point=boiling_point, percent=percent)
    few = table.take(range(0, len(table), 40))
    less, more = (
        Posterior.of(Matcher(few, outside=share).evidence(Bench.of(read))) for share in shares
    )
    for one in (less, more):
        assert one.none_of_these + one.probability.sum() == pytest.approx(1.0)
    assert less.none_of_these <= more.none_of_these * (1.0 + 1e-9)


def test_nothing_is_outside_at_no_share(table: CandidateTable) -> None:
    read = replace(CARD, boiling_point=None)
    posterior = Posterior.of(Matcher(table, outside=0.0).evidence(Bench.of(read)))
    assert posterior.none_of_these == 0.0
    assert posterior.probability.sum() == pytest.approx(1.0)


ETHER = Measurement(
    "K-8", molar_mass=88.2, boiling_point=63.7, percent={"C": 68.1, "H": 13.7, "O": 18.2}
)
METHANOL = Measurement(
    "K-9", molar_mass=32.0, boiling_point=64.6, percent={"C": 37.5, "H": 12.6, "O": 49.9}
)


def isomers_told(ranking: identify.Ranking) -> list[float]:
    found = [one for one in ranking.findings if one.code == "isomer-not-listed"]
    return [one.numbers["probability"] for one in found]


def test_one_match_says_that_an_isomer_may_be_missing() -> None:
    ranking = match(ETHER)
    assert (ranking.verdict, ranking.candidates[0].name) == ("single match", "1-ethoxypropane")
    (probability,) = isomers_told(ranking)
    assert 0.002 <= probability <= ranking.none_of_these
    assert "or an isomer that is not in the table" in verdict_sentence(ranking)
    assert isomers_told(match(ETHER, outside="0.3 %"))[0] < 0.5 * probability
    assert isomers_told(match(ETHER, outside=0)) == []


def test_methanol_has_no_isomers() -> None:
    ranking = match(METHANOL, outside="20 %")
    assert (ranking.verdict, isomers_told(ranking)) == ("single match", [])
    assert "isomer" not in verdict_sentence(ranking)


@pytest.mark.parametrize(
    ("formula", "possible"),
    [
        *(("CH4O", 0.0), ("CHCl3", 0.0), ("C2H5Br", 0.0)),
        *(("C2H4Cl2", 0.5), ("C2H6O", 0.5), ("C3H6O", 1.0), ("C3H7Cl", 1.0), ("C6H14", 1.0)),
    ],
)
def test_isomers_possible(table: CandidateTable, formula: str, possible: float) -> None:
    row = table.text("formula").index(formula)
    found = isomers_possible(table.number("molar_mass")[[row]], table.percent[[row]].T)
    assert found.tolist() == [possible]


# ------------------------------------------------------------------------- stated and true

LEFT_OUT, PAGES = 5, 120
KINDS = {
    "full pages": PageKind("weighed", percent=True),
    "weighed and boiling point": PageKind("weighed"),
    "molar mass and boiling point": PageKind("given"),
}


@pytest.fixture(scope="module")
def stated(table: CandidateTable) -> dict[str, list[tuple[float, float]]]:
    """Return the odds of `none of these` at an even share: of missing, and of listed liquids.

    A fifth of the table is left out, five times. What is missing is any liquid for the bath; what
    is listed, one of those that courses hand out.
    """
    fold = np.random.default_rng(5).integers(LEFT_OUT, size=len(table))
    any_liquid = Liquids.in_a_bath(table, table.number("prior"))
    usual = Liquids.handed_out(table)
    found: dict[str, list[tuple[float, float]]] = {kind: [] for kind in KINDS}
    for part in range(LEFT_OUT):
        missing = fold == part
        matcher = Matcher(table.take(np.flatnonzero(~missing)), outside=0.5)
        rooms = [
            ClassRoom(table, Liquids(share / share.sum()), np.random.default_rng(part))
            for share in (any_liquid.share * missing, usual.share * ~missing)
        ]
        for name, kind in KINDS.items():
            for _ in range(PAGES // LEFT_OUT):
                pages = [room.page(kind).run for room in rooms]
                stated = [
                    Posterior.of(matcher.evidence(Bench.of(page))).none_of_these for page in pages
                ]
                found[name].append((stated[0], stated[1]))
    return found


# The smaller the share, the more the mean is that of a few pages of listed liquids.
@pytest.mark.parametrize(("share", "within"), [(0.01, 0.6), (0.05, 0.4), (0.2, 0.4)])
@pytest.mark.parametrize("kind", KINDS)
def test_none_of_these_is_as_frequent_as_stated(
    kind: str, share: float, within: float, stated: dict[str, list[tuple[float, float]]]
) -> None:
    even = np.minimum(np.array(stated[kind]), 1.0 - 1e-12)
    odds = even / (1.0 - even) * share / (1.0 - share)
    missing, listed = (odds / (1.0 + odds)).T
    mean = share * missing.mean() + (1.0 - share) * listed.mean()
    assert mean == pytest.approx(share, rel=within)
    # What is missing is told from what is not, better than by its share alone.
    gain = share * np.log(missing / share).mean()
    gain += (1.0 - share) * np.log((1.0 - listed) / (1.0 - share)).mean()
    assert gain > 0.0
