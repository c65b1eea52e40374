"""Published results of known liquids: that the file says what it is said to, and that fits fit."""

from __future__ import annotations

import numpy as np
import pytest
from published import (
    Mixture,
    fitted,
    fitted_scatter,
    published_boiling_points,
    published_results,
    rank,
    ranks,
    scatter_of_trials,
)

from identify import Measurement
from identify.compounds.table import CandidateTable
from identify.matching.evidence import Matcher


def test_each_result_is_of_a_liquid_in_the_table(table: CandidateTable) -> None:
    for result in published_results():
        (row,) = table.find(result.cas)
        assert table.number("molar_mass")[row] == pytest.approx(result.true, abs=0.02)
        assert result.source
        if result.trials and "scribd.com 396078346" not in result.source:
            assert np.mean(result.trials) == pytest.approx(result.found, rel=0.02)


def test_boiling_points_are_of_liquids_as_they_boil(table: CandidateTable) -> None:
    for reading in published_boiling_points():
        assert 30.0 < reading.read < 120.0
        assert 50.0 < reading.true < 100.0


def drawn(mixture: Mixture, count: int, random: np.random.Generator) -> np.ndarray:
    good, usual, up, down = mixture.scales
    kind = random.choice(3, count, p=mixture.weights)
    upward = random.random(count) < up / (up + down)
    rough = np.where(upward, random.exponential(up, count), -random.exponential(down, count))
    return np.choose(kind, [random.normal(0, good, count), random.normal(0, usual, count), rough])


def test_a_fit_finds_the_mixture_that_was_drawn_from() -> None:
    mixture = Mixture((0.3, 0.3, 0.4), (0.02, 0.1, 0.5, 0.25))
    found = fitted(drawn(mixture, 4000, np.random.default_rng(1)))
    assert found.weights == pytest.approx(mixture.weights, abs=0.06)
    assert found.scales == pytest.approx(mixture.scales, rel=0.25)


def test_without_results_a_fit_stays_at_the_trial_values() -> None:
    found = fitted(np.zeros(0))
    assert found.weights == pytest.approx(Mixture().weights, abs=0.01)
    assert found.scales == pytest.approx(Mixture().scales, rel=0.01)


def test_densities_of_errors_add_up_to_one() -> None:
    error = np.linspace(-6.0, 6.0, 120001)
    assert Mixture().density(error).sum() * (error[1] - error[0]) == pytest.approx(1.0, abs=1e-3)


def test_scatter_of_trials() -> None:
    random = np.random.default_rng(2)
    size = np.exp(random.normal(np.log(0.1), 0.5, 400))
    sd = np.array([random.normal(0.0, one, 3).std(ddof=1) for one in size])
    middle, spread = fitted_scatter(sd, np.full(400, 2))
    assert (middle, spread) == (pytest.approx(0.1, rel=0.15), pytest.approx(0.5, abs=0.15))
    read, freedom = scatter_of_trials(published_results())
    assert len(read) == len(freedom) > 15
    assert 0.05 < np.median(read) < 0.2


def test_ranks_are_those_of_the_liquid(table: CandidateTable) -> None:
    matcher = Matcher(table)
    (row,) = table.find("67-64-1")
    sure = rank(matcher, Measurement("A", molar_mass=58.08, boiling_point=56.1), row)
    wrong = rank(matcher, Measurement("A", molar_mass=158.0, boiling_point=156.1), row)
    assert sure.place < wrong.place
    assert sure.log_probability > wrong.log_probability
    results = published_results()[:2]
    found = ranks(results, published_boiling_points(), table, lambda course: matcher)
    assert [len(every) for every in found.values()][:2] == [2, 2]
    for every in found.values():
        assert sum(one.weight for one in every) == pytest.approx(2.0)
