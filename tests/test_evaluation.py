"""The simulated evaluation: that its yardsticks measure, on a small sample."""

from __future__ import annotations

from pathlib import Path

import evaluation
import numpy as np
import pytest
from evaluation import Draw, Laboratory, Outcome, outcome, rows_to_draw, score, simulate

from identify.compounds.table import CandidateTable
from identify.matching.evidence import Matcher, Prior
from identify.matching.posterior import Posterior
from identify.observables.error.technique import CAREFUL

SAMPLE = 250  # draws


def laboratory(table: CandidateTable, prior: Prior = "uniform", seed: int = 20) -> Laboratory:
    return Laboratory(
        table, Matcher(table, prior=prior, technique=CAREFUL), np.random.default_rng(seed)
    )


def sample(table: CandidateTable, count: int = SAMPLE) -> np.ndarray:
    rows = rows_to_draw(table)
    return rows[:: max(1, len(rows) // count)][:count]


# -------------------------------------------------------------------------------- figures over runs


@pytest.mark.parametrize(
    ("outcomes", "weights", "first", "first_three", "error"),
    [
        # Sure and right.
        ([(1, 1.0)] * 4, [1, 1, 1, 1], 1.0, 1.0, 0.0),
        # Sure and wrong.
        ([(2, 1.0)] * 4, [1, 1, 1, 1], 0.0, 1.0, 1.0),
        # At 80 %, eight in ten are right.
        ([(1, 0.8)] * 8 + [(4, 0.8)] * 2, [1] * 10, 0.8, 0.8, 0.0),
        # At 80 %, half are right: 0.3 too sure.
        ([(1, 0.8)] * 5 + [(3, 0.8)] * 5, [1] * 10, 0.5, 1.0, 0.3),
        # Two bins, too sure in one and too unsure in the other: distances do not cancel.
        ([(1, 0.35)] * 5 + [(2, 0.65)] * 5, [1] * 10, 0.5, 1.0, 0.65),
        # Each run counts with its weight.
        ([(1, 0.75), (2, 0.75)], [3, 1], 0.75, 1.0, 0.0),
        # A stated probability of exactly one belongs to the last bin, with 0.95.
        ([(1, 1.0), (2, 0.95)], [1, 1], 0.5, 1.0, 0.475),
    ],
)
def test_score(
    outcomes: list[tuple[int, float]],
    weights: list[float],
    first: float,
    first_three: float,
    error: float,
) -> None:
    found = score([Outcome(*one) for one in outcomes], np.array(weights, float))
    assert (found.first, found.first_three) == pytest.approx((first, first_three))
    assert found.calibration_error == pytest.approx(error)
    assert sum(share for share, _, _ in found.bins) == pytest.approx(1.0)
    assert len(found.bins) == 10


@pytest.mark.parametrize(
    ("probability", "truth", "place"),
    [
        ([0.5, 0.3, 0.2], 0, 1),
        ([0.5, 0.3, 0.2], 2, 3),
        # Equal ones stand in the order of the match, here the last first.
        ([0.4, 0.4, 0.2], 0, 2),
        ([0.4, 0.4, 0.2], 1, 1),
    ],
)
def test_place_of_the_truth(probability: list[float], truth: int, place: int) -> None:
    found = outcome(np.array(probability), truth, np.array([2, 1, 0]))
    assert found == Outcome(place, max(probability))


# ---------------------------------------------------------------------------------------- the draws


def test_rows_boil_off_in_a_water_bath(table: CandidateTable) -> None:
    boiling = table.number("boiling_point_C")[rows_to_draw(table)]
    assert 900 < len(boiling) < 1300
    assert (boiling.min(), boiling.max()) == pytest.approx((20.0, 98.0), abs=0.5)


def drawn(laboratory: Laboratory, row: int, count: int, gross: bool) -> list[Draw]:
    return [laboratory.draw(row, gross) for _ in range(count)]


def test_draws_have_the_stated_errors(table: CandidateTable) -> None:
    bench = laboratory(table)
    (row,) = table.find("64-17-5")
    draws = drawn(bench, row, 2000, gross=False)
    molar_masses, boiling, carbon = [], [], []
    for draw in draws:
        assert draw.bench.weighing is not None
        assert draw.bench.boiling_point is not None
        molar_masses.append(bench.expectation.implied_molar_mass(draw.bench.weighing)[0, row])
        boiling.append(draw.bench.boiling_point.value)
        carbon.append(draw.bench.percent[0].value)
    # Of 2000 draws the mean is known to 2.2 % of a standard deviation, and that to 1.6 %.
    for readings, true, spread in [
        (molar_masses, 46.069, 0.025 * 46.069),
        (boiling, 351.56, 1.0),
        (carbon, 52.14, 0.2),
    ]:
        assert np.mean(readings) == pytest.approx(true, abs=0.12 * spread)
        assert np.std(readings) == pytest.approx(spread, rel=0.08)


def test_one_run_in_ten_has_one_gross_error(table: CandidateTable) -> None:
    (row,) = table.find("64-17-5")
    draws = drawn(laboratory(table), row, 3000, gross=True)
    spoiled = [
        (
            abs(draw.bench.boiling_point.value - 351.56) > 6.0,
            *(abs(s.value - table.percent[row, e]) > 1.2 for e, s in draw.bench.percent.items()),
        )
        for draw in draws
    ]
    # One of five readings is spoiled, of which a boiling point stays within 6 K every fifth time.
    share = np.mean([any(one) for one in spoiled])
    assert share == pytest.approx(0.1 * (0.2 * np.exp(-6.0 / 25.0) + 0.6 * 0.976), abs=0.02)
    assert max(sum(one) for one in spoiled) == 1


@pytest.mark.parametrize("gross", [False, True])
def test_a_seed_draws_the_same_again(table: CandidateTable, gross: bool) -> None:
    rows = sample(table, 12)

    def outcomes(seed: int) -> list[tuple[int, Outcome, Outcome]]:
        return list(simulate(laboratory(table, seed=seed), rows, 2, gross))

    once = outcomes(20)
    assert [row for row, _, _ in once] == [row for row in rows for _ in range(2)]
    assert once == outcomes(20)
    assert once != outcomes(21)


# ------------------------------------------------------------------------------------- the oracle


@pytest.mark.parametrize("gross", [False, True])
@pytest.mark.parametrize("prior", ["classroom", "commerce", "uniform"])
def test_nothing_beats_the_oracle_on_average(
    table: CandidateTable, prior: Prior, gross: bool
) -> None:
    """The logarithm of what was given to the truth, run by run: the oracle's is the highest."""
    bench = laboratory(table, prior)
    rows = sample(table)
    lead, places = [], []
    for row in rows:
        draw = bench.draw(int(row), gross)
        known, matched = (
            bench.oracle(draw, gross),
            Posterior.of(bench.matcher.evidence(draw.bench)).probability,
        )
        assert known.sum() == pytest.approx(1.0)
        assert known[row] > 0.0
        lead.append(np.log(known[row]) - np.log(matched[row]))
        order = bench.matcher.order
        places.append([outcome(found, int(row), order).place == 1 for found in (known, matched)])
    weights = bench.matcher.prior[rows] / bench.matcher.prior[rows].sum()
    mean = float(weights @ np.array(lead))
    noise = float(np.sqrt((weights**2) @ (np.array(lead) - mean) ** 2))
    assert mean > -3.0 * noise
    # The match loses little to it: less than a tenth of the runs' first places.
    oracle_first, match_first = weights @ np.array(places, float)
    assert match_first <= oracle_first + 0.03
    assert match_first > oracle_first - 0.1


def test_the_oracle_knows_that_a_card_lists_what_is_there(table: CandidateTable) -> None:
    bench = laboratory(table)
    (row,) = table.find("64-17-5")
    draw = bench.draw(row, gross=False)
    possible = np.flatnonzero(bench.oracle(draw, gross=False))
    elements = set(draw.bench.percent)
    for place in possible:
        assert set(np.flatnonzero(table.percent[place] > 0.0)) == elements


# ----------------------------------------------------------------------------------- as a command


def test_the_report_reproduces(
    table: CandidateTable, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    small = tmp_path / "small.parquet"
    table.take(sample(table, 60)).save(small)

    def printed(seed: int) -> str:
        options = ["--runs", "1", "--seed", str(seed), "--candidates", str(small)]
        assert evaluation.main([*options, "--prior", "all"]) == 0
        return capsys.readouterr().out

    once = printed(20)
    assert once == printed(20)
    assert once.splitlines()[1:] != printed(21).splitlines()[1:]
    assert once.count("first name right") == 6
    assert "60 compounds boiling between 20 and 98 C, 1 runs each against all 60; seed 20" in once
