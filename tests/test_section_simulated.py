"""Whole sections, simulated with what truly happened beside them: each fault named, no other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from simulated_sections import Section, Simulated, simulate, write

import identify
from identify.section import SectionResult

# 144 students, 12 bottles, 6 days, 5 balances and thermometers; nothing wrong but 5 % slips. Many
# more of them are drawn by `scripts/evaluate --sections`.
SOUND = Section(
    rows=288, days=6, balances=5, thermometers=5, mislabeled=0, barometer_off=0.0, slips=0.05
)
BAROMETER = replace(SOUND, barometer_off=22.0)
_CONTRADICTED = {"bottle-not-the-key", "bottles-exchanged"}


@pytest.fixture(scope="module")
def checked(
    tmp_path_factory: pytest.TempPathFactory,
) -> Callable[[Section, int], tuple[Simulated, SectionResult]]:
    @cache
    def check(section: Section, seed: int) -> tuple[Simulated, SectionResult]:
        folder = tmp_path_factory.mktemp("section")
        simulated = simulate(section, seed)
        write(folder / "section.csv", simulated.table)
        write(folder / "key.csv", simulated.key)
        return simulated, identify.check_section(folder / "section.csv", folder / "key.csv")

    return check


Checked = Callable[[Section, int], tuple[Simulated, SectionResult]]


def told(section: SectionResult) -> set[tuple[str, str]]:
    """Return what is said of the whole section and of its bottles: code, and label or nothing."""
    whole = {(finding.code, "") for finding in section.findings}
    return whole | {
        (finding.code, unknown.label)
        for unknown in section.unknowns
        for finding in unknown.findings
        if finding.severity != "note"
    }


def rows_accounted_for(section: SectionResult) -> list[int]:
    used = [row for student in section.students for row in student.rows]
    return sorted(used + [row.row for row in section.set_aside])


@pytest.mark.parametrize(("slips", "seed"), [(0.0, 1), (0.0, 2), (0.05, 3)])
def test_sound_sections_raise_nothing(checked: Checked, slips: float, seed: int) -> None:
    _, section = checked(replace(SOUND, slips=slips), seed)
    assert told(section) == set()
    assert all(unknown.candidates[0].name == unknown.key.name for unknown in section.unknowns)
    if not slips:
        assert not any(
            finding.code in ("far-from-the-others", "card-miscopied", "wrong-bottle")
            for student in section.students
            for finding in student.findings
        )


@pytest.mark.parametrize(
    ("drawn", "code", "what"),
    [
        (BAROMETER, "barometer-day", "barometer_day"),
        (replace(SOUND, barometer_off=-15.0), "barometer-day", "barometer_day"),
        (replace(SOUND, balance_off=0.03), "shared-balance", "balance"),
        (replace(SOUND, balance_grams=0.04), "shared-balance", "balance"),
        (
            replace(SOUND, thermometer_off=6.0, boiling_point="measured"),
            "shared-thermometer",
            "thermometer",
        ),
    ],
)
def test_what_many_share_is_named_alone(
    checked: Checked, drawn: Section, code: str, what: str
) -> None:
    simulated, section = checked(drawn, 4)
    assert told(section) == {(code, "")}
    assert all(getattr(simulated.truth, what) in one.message for one in section.findings)


def test_the_pressure_that_would_be_right_is_said(checked: Checked) -> None:
    simulated, section = checked(BAROMETER, 4)
    (finding,) = section.findings
    day = simulated.truth.barometer_day
    read = {float(row["pressure_mmHg"]) for row in simulated.table if row["day"] == day}
    right = min(finding.numbers.values(), key=lambda number: abs(number - (max(read) - 22.0)))
    assert right == pytest.approx(max(read) - 22.0, abs=4.0)


@pytest.mark.parametrize("seed", [1, 2])
def test_a_mislabeled_bottle_and_a_wrong_card_are_named_alone(checked: Checked, seed: int) -> None:
    simulated, section = checked(replace(SOUND, mislabeled=1, wrong_cards=1), seed)
    (label,), (card,) = simulated.truth.mislabeled, simulated.truth.wrong_cards
    named = told(section)
    assert {where for code, where in named if code in _CONTRADICTED} == {label}
    assert ("card-not-the-bottle", card) in named
    assert len(named) == 2


def test_rows_that_cannot_be_read_are_accounted_for(checked: Checked) -> None:
    simulated, section = checked(replace(SOUND, rows=144, unreadable=0.1), 1)
    broken = {row.row for row in simulated.truth.rows if row.unreadable}
    aside = {row.row for row in section.set_aside}
    assert broken
    # A row whose weighing cannot be read may still say what stands on the card, and is told of
    # where its student is.
    told_of = {row: one.findings for one in section.students for row in one.rows}
    for row in broken - aside:
        assert any(f"row {row}," in one.message for one in told_of[row])
    assert all(row.reason for row in section.set_aside)
    assert rows_accounted_for(section) == sorted(row.row for row in simulated.truth.rows)


def test_a_table_without_key_or_circumstances(tmp_path: Path) -> None:
    simulated = simulate(replace(SOUND, rows=120), 6)
    kept = [
        {name: cell for name, cell in row.items() if name not in ("day", "balance", "thermometer")}
        for row in simulated.table
    ]
    write(tmp_path / "section.csv", kept)
    section = identify.check_section(tmp_path / "section.csv")
    names = {row.label: row.cas for row in simulated.truth.rows}
    assert {u.label: u.candidates[0].cas for u in section.unknowns} == names
    assert told(section) == set()
