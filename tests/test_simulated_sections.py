"""Simulated sections: drawn from the seed alone, readable, and true to what is in the bottles."""

from __future__ import annotations

import csv
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from section_slips import SLIPS
from simulated_sections import FLUIDS, Section, Simulated, TrueRow, main, simulate

from identify import match
from identify.bench.bench import Bench
from identify.compounds.stock_table import read_stock_candidates
from identify.matching.evidence import Matcher
from identify.notebook.measurement import Measurement
from identify.tables import Runs, read_runs, runs_from_frame

SMALL = Section(rows=240)
SOUND = replace(SMALL, slips=0.0, mislabeled=0, barometer_off=0.0)


@pytest.fixture(scope="module")
def sound() -> Simulated:
    return simulate(SOUND)


def students(simulated: Simulated) -> dict[str, TrueRow]:
    """Give what is true of each student's first row."""
    return {row.student: row for row in reversed(simulated.truth.rows)}


def molar_mass_error(run: Measurement, cas: str, matcher: Matcher) -> float:
    """Give the error of the molar mass with the true liquid's corrections, in percent."""
    (place,) = matcher.table.find(cas)[:1]
    observed = matcher.evidence(Bench.of(run)).observed_molar_mass
    assert observed is not None
    return 100.0 * (float(observed[place]) / matcher.table.number("molar_mass")[place] - 1.0)


def errors(simulated: Simulated, matcher: Matcher) -> dict[str, float]:
    """Give the error of each student's molar mass, in percent."""
    true = students(simulated)
    runs = runs_from_frame(simulated.frame)
    return {run.student: molar_mass_error(run, true[run.student].cas, matcher) for run in runs}


# ------------------------------------------------------------------------------------ the tables


def test_the_seed_draws_the_section() -> None:
    section = replace(SMALL, unreadable=0.1, wrong_cards=1)
    first, again, other = (simulate(section, seed) for seed in (3, 3, 4))
    assert first == again
    assert first.table != other.table
    assert first.truth.rows != other.truth.rows


def test_the_usual_section() -> None:
    simulated = simulate()
    runs = runs_from_frame(simulated.frame)
    assert (len(simulated.table), len(runs), runs.faults) == (2000, 1000, ())
    assert {len(run.trials) for run in runs} == {2}
    assert len({run.label for run in runs}) == len(simulated.key) == len(FLUIDS) == 12
    assert len({row.day for row in simulated.truth.rows}) == 8
    slips = Counter(row.slip for row in students(simulated).values() if row.slip)
    assert set(slips) <= set(SLIPS)
    # 5 % of 1,000: within four standard deviations of the binomial distribution.
    assert abs(sum(slips.values()) - 50) < 28
    assert len(simulated.truth.mislabeled) == 1
    assert simulated.truth.barometer_day in {row.day for row in simulated.truth.rows}


@pytest.mark.parametrize(
    "section",
    [
        SOUND,
        SMALL,
        replace(SMALL, slips=1.0),
        replace(SMALL, boiling_point="measured", thermometer_off=6.0),
        replace(SMALL, rows=31, trials=3, balance_off=0.03, wrong_cards=3),
        replace(SMALL, trials=1, days=1, balances=1, thermometers=1),
    ],
)
def test_every_section_reads_without_a_fault(section: Section) -> None:
    simulated = simulate(section)
    runs = runs_from_frame(simulated.frame)
    assert runs.faults == ()
    assert sum(map(len, runs.rows_of)) == len(runs.rows) == section.rows
    assert [row.row for row in simulated.truth.rows] == list(runs.rows)
    for run, rows in zip(runs, runs.rows_of, strict=True):
        row = simulated.truth.rows[rows[0] - 2]
        assert (run.label, run.student) == (row.label, row.student)
        assert dict(run.circumstances)["day"] == row.day
        assert {name for name, _ in run.circumstances} == {"balance", "day", "thermometer"}


@pytest.mark.parametrize("share", [0.05, 0.5, 1.0])
def test_rows_that_cannot_be_read_are_all_accounted_for(share: float) -> None:
    simulated = simulate(replace(SMALL, unreadable=share))
    runs = runs_from_frame(simulated.frame)
    used = [row for rows in runs.rows_of for row in rows]
    aside = [row for row, _ in runs.set_aside]
    assert Counter(used + aside) == Counter(range(2, 242))
    spoiled = {row.row: row.unreadable for row in simulated.truth.rows if row.unreadable}
    assert set(aside) <= set(spoiled)
    for row, reason in runs.set_aside:
        assert spoiled[row] in reason
    # Only a row that still gives the card may be both spoiled and used; its trial says that it is
    # not read whole.
    trials = {trial.source.row: trial.unread for run in runs for trial in run.trials}
    assert {row for row, unread in trials.items() if not unread} == set(range(2, 242)) - set(
        spoiled
    )


def test_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out, key, truth = (tmp_path / f"{name}.csv" for name in ("section", "key", "truth"))
    assert main(["--rows", "60", "--out", str(out), "--key", str(key), "--truth", str(truth)]) == 0
    simulated = simulate(Section(rows=60))
    assert read_runs(out).measurements == tuple(
        replace(run, source=replace(run.source, file=str(out)), trials=renamed(run, str(out)))
        for run in runs_from_frame(simulated.frame)
    )
    with truth.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["cas"] for row in rows] == [row.cas for row in simulated.truth.rows]
    assert simulated.truth.barometer_day in capsys.readouterr().err
    assert sorted(tmp_path.iterdir()) == sorted([out, key, truth])


def renamed(run: Measurement, file: str) -> list[object]:
    return [replace(trial, source=replace(trial.source, file=file)) for trial in run.trials]


def test_key_is_a_stock_table_of_the_liquids(tmp_path: Path) -> None:
    key = tmp_path / "key.csv"
    main(["--rows", "12", "--mislabeled", "0", "--out", str(tmp_path / "s.csv"), "--key", str(key)])
    stock = read_stock_candidates(key)
    assert sorted(stock.text("cas")) == sorted(fluid.cas for fluid in FLUIDS)


# ------------------------------------------------------------------------------------- the truth


def test_sound_runs_give_the_true_molar_mass(sound: Simulated, matcher: Matcher) -> None:
    found = errors(sound, matcher)
    off = np.array(list(found.values()))
    # Barometer, thermometers, balance, volume and technique together: about 1 %.
    assert np.abs(off).max() < 5.0
    assert abs(np.median(off)) < 0.3
    true = students(sound)
    for cas in {row.cas for row in true.values()}:
        own = [error for student, error in found.items() if true[student].cas == cas]
        assert abs(np.median(own)) < 1.5, cas


def test_sound_runs_name_the_true_liquid(sound: Simulated) -> None:
    true = students(sound)
    runs = runs_from_frame(sound.frame)[:48]
    named = [match(run).candidates[0].cas == true[run.student].cas for run in runs]
    assert np.mean(named) > 0.9


def test_mislabeled_bottle_holds_what_the_truth_says(matcher: Matcher) -> None:
    simulated = simulate(replace(SOUND, mislabeled=2), seed=1)
    assert len(simulated.truth.mislabeled) == 2
    true = students(simulated)
    for student, error in errors(simulated, matcher).items():
        assert abs(error) < 5.0, student
    cards = {row["label"]: row["boiling_point_C"] for row in simulated.table}
    for label, cas in simulated.truth.mislabeled.items():
        assert {row.cas for row in true.values() if row.label == label} == {cas}
        (place,) = matcher.table.find(cas)[:1]
        identity = next(row["identity"] for row in simulated.key if row["label"] == label)
        assert identity.casefold() != matcher.table.text("name")[place].casefold()
        sold = next(fluid for fluid in FLUIDS if fluid.cas == cas).molar_mass
        said = next(f for f in FLUIDS if f"{f.boiling_point() - 273.15:.1f}" == cards[label])
        assert abs(said.molar_mass / sold - 1.0) > 0.1


def test_wrong_card_states_another_liquid() -> None:
    plain, wrong = (simulate(replace(SOUND, wrong_cards=count)) for count in (0, 3))
    assert len(wrong.truth.wrong_cards) == 3
    own = {row["identity"]: card_of(plain, row["label"]) for row in plain.key}
    for row in wrong.key:
        part = wrong.truth.wrong_cards.get(row["label"], "")
        differing = {
            column.split("_")[0]
            for column, cell in card_of(wrong, row["label"]).items()
            if cell != own[row["identity"]][column]
        }
        assert differing == ({part.split("_")[0]} if part else set())


def card_of(simulated: Simulated, label: str) -> dict[str, str]:
    first = next(row for row in simulated.table if row["label"] == label)
    return {name: cell for name, cell in first.items() if name.startswith(("boiling", "percent"))}


@pytest.mark.parametrize(
    ("section", "circumstance", "expected"),
    [
        # The molar mass goes with the inverse of the pressure: 22 of about 750 mmHg.
        (replace(SOUND, barometer_off=22.0), "day", -2.9),
        (replace(SOUND, balance_off=0.03), "balance", 3.0),
    ],
)
def test_what_is_off_shows_there_and_nowhere_else(
    section: Section, circumstance: str, expected: float, matcher: Matcher
) -> None:
    simulated = simulate(section)
    culprit = simulated.truth.barometer_day or simulated.truth.balance
    found = errors(simulated, matcher)
    groups: dict[str, list[float]] = {}
    for run in runs_from_frame(simulated.frame):
        groups.setdefault(dict(run.circumstances)[circumstance], []).append(found[run.student])
    for name, off in groups.items():
        # Corrections for the vapor that stays make it a little more than proportional.
        assert np.median(off) == pytest.approx(expected if name == culprit else 0.0, abs=0.8)


def test_thermometer_that_reads_high_shows_in_measured_boiling_points() -> None:
    section = replace(SOUND, boiling_point="measured", thermometer_off=6.0)
    simulated = simulate(section)
    fluids = {fluid.cas: fluid for fluid in FLUIDS}
    true = students(simulated)
    off: dict[str, list[float]] = {}
    for run in runs_from_frame(simulated.frame):
        assert run.boiling_point is not None
        assert run.boiling_point_at is not None
        pressure = run.boiling_point_at.to("Pa").value
        kelvin = fluids[true[run.student].cas].boiling_point(pressure)
        error = run.boiling_point.to("K").value - kelvin
        off.setdefault(dict(run.circumstances)["thermometer"], []).append(error)
    for name, values in off.items():
        expected = 6.0 if name == simulated.truth.thermometer else 0.0
        assert np.median(values) == pytest.approx(expected, abs=0.5)


@pytest.mark.parametrize("kind", sorted(SLIPS))
def test_each_slip_is_one_that_a_match_names(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("simulated_sections.SLIPS", {kind: SLIPS[kind]})
    simulated = simulate(replace(SOUND, rows=24, slips=1.0), seed=2)
    # Where exchanging digits would hardly change a mass, no slip happens.
    assert kind in {row.slip for row in simulated.truth.rows} <= {kind, ""}
    runs: Runs = runs_from_frame(simulated.frame)
    named = [slip.code for run in runs for slip in match(run).slips]
    assert kind in named
