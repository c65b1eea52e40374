"""Where the order rests on what classes are handed, and what would lead otherwise."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from identify import Measurement, match
from identify.answers.text import Page, ranking_lines
from tests.test_match import ETHANOL
from tests.test_shares import RUNS

WITHOUT_CLASSROOM = [
    Measurement("S", molar_mass=58.4),
    Measurement("T", molar_mass=72.3, boiling_point=78.0),
    Measurement("U", molar_mass=46.0, boiling_point=87.4, percent=ETHANOL),
    Measurement("V", boiling_point=61.5),
    Measurement("W", boiling_point=78.0, density=0.79),
    replace(RUNS["weighed"], boiling_point=None),
]


@pytest.mark.parametrize("run", WITHOUT_CLASSROOM, ids=lambda run: run.label)
def test_what_would_lead_among_all_that_are_sold(run: Measurement) -> None:
    """The same as a match with that prior finds, without a second match."""
    handed_out, sold = (match(run, prior=prior) for prior in ("classroom", "commerce"))
    told = handed_out.without_classroom
    assert sold.without_classroom == ()
    assert bool(told) == (sold.candidates[0].name != handed_out.candidates[0].name)
    if told:
        expected = [(one.name, one.probability) for one in sold.candidates[:3]]
        assert [name for name, _ in told] == [name for name, _ in expected]
        # A search for slips takes gross errors from the leading candidates only, and those differ.
        assert dict(told) == pytest.approx(dict(expected), rel=0.1)


def test_a_prior_that_decides_is_told_in_a_line() -> None:
    answer = match(Measurement("X", molar_mass=72.1, boiling_point=76.0), prior="classroom")
    names = [one["name"] for one in answer.to_dict()["without_classroom"]]
    assert len(names) == 3
    assert names[0] != answer.candidates[0].name
    text = "\n".join(ranking_lines(answer, Page(width=400)))
    assert f"among all compounds that are sold: {names[0]} (" in text


@pytest.mark.parametrize(
    ("run", "prior"),
    [
        (Measurement("I"), "classroom"),
        (Measurement("X", molar_mass=72.1, boiling_point=76.0), "commerce"),
        (Measurement("X", molar_mass=72.1, boiling_point=76.0), "uniform"),
        (Measurement("E", boiling_point=56.1, molar_mass=58.1), "classroom"),
    ],
    ids=("nothing was read", "commerce", "all alike", "the same one leads"),
)
def test_nothing_to_tell_of_another_prior(run: Measurement, prior: Any) -> None:
    answer = match(run, prior=prior)
    assert answer.to_dict()["without_classroom"] == []
    assert "sold" not in "\n".join(ranking_lines(answer, Page(width=400)))
