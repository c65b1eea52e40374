"""What many share explains its students: they are judged without it, and nothing falls on them."""

from dataclasses import replace
from pathlib import Path

import pytest
from drawn_sections import Class, Drawn, Faults, few_candidates, write_key

from identify.answers.files.data import csv_text
from identify.answers.files.rows import STUDENT_TABLE
from identify.answers.html.section_page import section_page
from identify.answers.text import Page
from identify.answers.text.section import section_lines
from identify.notebook.measurement import Conditions, Flask, Measurement, Trial
from identify.section import SectionResult, check_section
from identify.section.shared.repair import Repair
from identify.tables import Runs

FEW = few_candidates()
CLASS = Class(students=96)
ALL = None  # students of every bottle


def checked(faults: Faults, key: Path | None, seed: int = 5) -> SectionResult:
    runs = Runs(Drawn(seed, FEW).section(CLASS, faults))
    return check_section(runs, key=key, candidates=FEW)


@pytest.fixture(scope="module")
def key(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_key(tmp_path_factory.mktemp("key") / "key.csv")


@pytest.mark.parametrize(
    ("faults", "code", "labels", "size"),
    [
        (
            Faults(contents={"D-02": "hexane", "D-04": "acetone"}),
            "bottles-exchanged",
            ("D-02", "D-04"),
            55.0,
        ),
        (Faults(contents={"D-04": "chloroform"}), "bottle-not-the-key", ("D-04",), 34.5),
        (Faults(cards={"D-04": "chloroform"}), "card-not-the-bottle", ("D-04",), 0.0),
        (Faults(balance={"2": 1.06}), "shared-balance", ALL, 6.0),
        (Faults(grams={"2": 0.06}), "shared-balance", ALL, 9.0),
        (Faults(pressure={"3": 1.03}), "barometer-day", ALL, -3.0),
    ],
)
def test_a_cause_is_told_alone_and_no_student_is_accused(
    key: Path, faults: Faults, code: str, labels: tuple[str, ...] | None, size: float
) -> None:
    section = checked(faults, key)
    (cause,) = section.causes
    assert cause.code == code
    assert labels is ALL or cause.labels == labels
    assert cause.size == pytest.approx(size, abs=1.5)
    assert [one.student for one in section.students if one.is_doubtful] == []
    for student in section.students:
        assert (cause in student.causes) == (student.student in cause.students)
        assert not student.ranking.slips
        in_doubt = cause in student.causes and cause.is_of_bottle
        assert student.named_right is (None if in_doubt else True)


def test_an_exchange_that_few_weighed_is_borne_out_by_the_other_bottle(key: Path) -> None:
    """Two students alone could not put a bottle in doubt."""
    faults = Faults(contents={"D-01": "chloroform", "D-07": "methanol"})
    runs = Drawn(5, FEW).section(replace(CLASS, students=48, between=0.004), faults)
    few = [run for run in runs if run.label == "D-07"][2:]
    section = check_section(Runs([run for run in runs if run not in few]), key=key, candidates=FEW)
    (cause,) = section.causes
    assert (cause.code, cause.labels) == ("bottles-exchanged", ("D-01", "D-07"))
    assert [one.student for one in section.students if one.is_doubtful] == []


def test_a_thermometer_puts_no_card_and_no_bath_in_doubt(key: Path) -> None:
    """Most students of one bottle had it; baths that it read seem hotter than boiling water."""
    faults = Faults(thermometer={"4": 6.0}, bath={"4": 6.0})
    runs = Drawn(30, FEW).section(replace(CLASS, measured=True), faults)
    had_it = [dict(run.trials[0].circumstances)["thermometer"] for run in runs[7::12]]
    assert had_it.count("4") == 5
    section = check_section(Runs(runs), key=key, candidates=FEW)
    (cause,) = section.causes
    assert (cause.code, cause.unit) == ("shared-thermometer", "K")
    assert [one.student for one in section.students if one.ranking.slips] == []
    codes = {one.code for student in section.students for one in student.findings}
    assert "bath-above-boiling-water" not in codes


@pytest.mark.parametrize("part", ["boiling_point", "percent"])
def test_one_entry_of_a_card_that_is_wrong_falls_on_nobody(key: Path, part: str) -> None:
    drawn = Drawn(5, FEW)
    wrong = {part: drawn.card("chloroform")[part]}
    runs = [replace(run, **wrong) if run.label == "D-04" else run for run in drawn.section(CLASS)]
    section = check_section(Runs(runs), key=key, candidates=FEW)
    (cause,) = section.causes
    assert (cause.code, cause.labels) == ("card-not-the-bottle", ("D-04",))
    assert [one.student for one in section.students if one.is_doubtful] == []
    own = [one for one in section.students if one.label == "D-04"]
    assert {one.ranking.candidates[0].name for one in own} == {"hexane"}


@pytest.mark.parametrize("contents", ["chloroform", "acetone"])
def test_a_molar_mass_is_one_number_and_says_whose_corrections(key: Path, contents: str) -> None:
    """With those of the key's liquid it would be another number than in the table."""
    section = checked(Faults(contents={"D-04": contents}), key)
    (cause,) = section.causes
    (unknown,) = (one for one in section.unknowns if one.label == "D-04")
    shown = f"{unknown.molar_mass:.1f} g/mol (with the corrections of {contents};"
    assert shown in cause.message
    assert cause.message.count("g/mol") == 2 + cause.message.count("of the table's")
    assert "hexane has 86.2 g/mol" in cause.message


def test_no_molar_mass_below_zero_is_printed() -> None:
    """Masses that were exchanged give one, which no liquid has."""
    drawn = Drawn(5, FEW).section(replace(CLASS, students=12))
    (trial, *_) = drawn[3].trials
    drawn[3] = replace(drawn[3], trials=[replace(trial, empty="93.0 g", condensed="90.0 g")])
    section = check_section(Runs(drawn), candidates=FEW)
    student = section.students[3]
    assert student.ranking.molar_mass.value < 0.0
    assert student.molar_mass is None
    shown = f"{student.ranking.molar_mass.value:.1f}".lstrip("-")
    printed = "\n".join(section_lines(section, Page(), everyone=True))
    rows = csv_text(STUDENT_TABLE.rows(section), [one.key for one in STUDENT_TABLE.columns])
    for text in (printed, section_page(section), rows):
        assert student.student in text
        assert shown not in text


def test_a_cause_without_a_key_is_the_card(key: Path) -> None:
    section = checked(Faults(contents={"D-04": "chloroform"}), None)
    (cause,) = section.causes
    assert (cause.code, cause.labels) == ("card-not-the-bottle", ("D-04",))
    own = [one for one in section.students if one.label == "D-04"]
    assert {one.ranking.candidates[0].name for one in own} == {"chloroform"}


def test_an_own_slip_is_told_beside_the_cause(key: Path) -> None:
    drawn = Drawn(5, FEW).section(CLASS, Faults(contents={"D-04": "chloroform"}))
    place = next(i for i, run in enumerate(drawn) if run.label == "D-04")
    run = drawn[place]
    swapped = [
        Trial(one.condensed, one.empty, one.bath, circumstances=one.circumstances)
        for one in run.trials
    ]
    drawn[place] = Measurement(
        run.label,
        student=run.student,
        conditions=run.conditions,
        flask=run.flask,
        trials=swapped,
        boiling_point=run.boiling_point,
        percent=run.percent,
    )
    section = check_section(Runs(drawn), key=key, candidates=FEW)
    assert [one.student for one in section.students if one.is_doubtful] == [run.student]
    assert "masses-exchanged" in {one.code for one in section.students[place].ranking.slips}


@pytest.mark.parametrize(("faults", "shown"), [(Faults(grams={"2": 0.06}), "0.06")])
def test_grams_are_told_from_a_percentage(faults: Faults, shown: str) -> None:
    (cause,) = checked(faults, None).causes
    assert f"A gain {shown}" in cause.message
    assert "g smaller than written would set them right" in cause.message


def test_a_sound_section_has_no_cause(key: Path) -> None:
    section = checked(Faults(), key)
    assert section.causes == ()
    assert section.to_dict()["causes"] == []


# ------------------------------------------------------------------------- readings set right

RUN = Measurement(
    "D-02",
    boiling_point="56.1 C",
    boiling_point_at="742.0 mmHg",
    conditions=Conditions(pressure="742.0 mmHg"),
    flask=Flask(volume="140.0 mL"),
    trials=[
        Trial(empty="80.000 g", condensed="80.400 g", bath="99.0 C"),
        Trial(gain="400 mg", bath="boiling water"),
    ],
)


@pytest.mark.parametrize(
    ("repair", "reading", "expected"),
    [
        (Repair("gain", 1.1), lambda run: run.trials[0].condensed, "80.44 g"),
        (Repair("gain", 1.1), lambda run: run.trials[1].gain, "440 mg"),
        (Repair("gain", shift=1e-5), lambda run: run.trials[1].gain, "410 mg"),
        (
            Repair("gain", 1.1, trials={0: frozenset({2})}),
            lambda run: run.trials[0].condensed,
            "80.4 g",
        ),
        (
            Repair("gain", 1.1, trials={1: frozenset({1})}),
            lambda run: run.trials[0].condensed,
            "80.4 g",
        ),
        (Repair("pressure", 0.5), lambda run: run.trials[0].conditions.pressure, "371 mmHg"),
        (Repair("pressure", 0.5), lambda run: run.boiling_point_at, "371 mmHg"),
        (Repair("volume", 2.0), lambda run: run.trials[1].flask.volume, "280 mL"),
        (Repair("bath", 1.01), lambda run: run.trials[0].bath, "102.721 °C"),
        (Repair("boiling_point", shift=-1.5), lambda run: run.boiling_point, "54.6 °C"),
    ],
)
def test_readings_are_set_right(repair: Repair, reading, expected: str) -> None:
    right = reading(repair.of(RUN, 0))
    assert f"{right.value:.6g} {str(right).rpartition(' ')[2]}" == expected


def test_a_molar_mass_worked_out_follows_the_pressure() -> None:
    run = Measurement("D-02", molar_mass="60.0 g/mol")
    assert Repair("pressure", 1.2).of(run, 0).molar_mass.value == pytest.approx(50.0)
