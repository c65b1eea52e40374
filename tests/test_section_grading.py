"""What students hand in, graded: names by the resolver, molar masses by their own weighings."""

import pytest

from identify.bench.bench import Bench
from identify.compounds.loading import load_candidates
from identify.notebook.measurement import Conditions, Flask, Measurement, Trial
from identify.section import check_section
from identify.section.grading import Bottled, graded_answer, graded_molar_mass
from identify.tables import Runs, read_runs

TABLE = load_candidates()


def bottled(name):
    return Bottled(TABLE, None if name is None else TABLE.find(name)[0])


@pytest.mark.parametrize(
    ("answer", "liquid", "grade"),
    [
        ("acetone", "acetone", "right"),
        ("propanone (reagent grade)", "acetone", "right"),
        ("67-64-1", "acetone", "right"),
        ("propanal", "acetone", "right formula"),
        ("propanol", "isopropanol", "right formula"),
        ("ethanol", "acetone", "wrong"),
        ("dichloroethane", "acetone", "not clear"),
        ("no idea", "acetone", "not clear"),
        ("", "acetone", ""),
        ("acetone", None, ""),
    ],
)
def test_names_are_graded(answer, liquid, grade):
    assert graded_answer(answer, bottled(liquid)) == grade


# Acetone in a flask of 141.3 mL: 0.288 g over a bath at 98.9 degrees Celsius and 742 mmHg.
RUN = Measurement(
    "D-02",
    conditions=Conditions(pressure="742.0 mmHg", room="22.0 C"),
    flask=Flask(volume="141.3 mL"),
    trials=[Trial(empty="78.000 g", condensed="78.230 g", bath="98.9 C")],
)
MASS, VOLUME, KELVIN, ATMOSPHERES = 0.230, 0.1413, 372.05, 742.0 / 760.0
SHORTCUT = MASS * 0.082057 * KELVIN / (ATMOSPHERES * VOLUME)


@pytest.mark.parametrize(
    ("reported", "words"),
    [
        (SHORTCUT, "by the shortcut"),
        (MASS * 0.0821 * 372 / (0.976 * 0.141), "by the shortcut"),
        (MASS * 8.314 * KELVIN / (98.925 * VOLUME), "by the shortcut"),
        (MASS * 0.082057 * 98.9 / (ATMOSPHERES * VOLUME), "°C where kelvin"),
        (MASS * 0.082057 * 295.15 / (ATMOSPHERES * VOLUME), "temperature of the room"),
        (MASS * 0.082057 * KELVIN / (742.0 * VOLUME), "different units"),
        (MASS * 8.314 * KELVIN / (ATMOSPHERES * VOLUME), "different units"),
        (MASS * 62.364 * KELVIN / (ATMOSPHERES * VOLUME), "different units"),
        (MASS * 0.082057 * KELVIN / (ATMOSPHERES * 141.3), "milliliters"),
        (MASS * 0.082057 * KELVIN / VOLUME, "760 mmHg"),
        (MASS * 0.082057 * KELVIN / (ATMOSPHERES * 0.125), "printed on the flask"),
        (78.230 * 0.082057 * KELVIN / (ATMOSPHERES * VOLUME), "not subtracted"),
        (91.0, "does not follow"),
    ],
)
def test_molar_masses_are_graded(reported, words):
    grade, is_right = graded_molar_mass(reported, Bench.of(RUN), bottled("acetone"))
    assert words in grade
    assert is_right is (words == "by the shortcut")


def test_a_molar_mass_with_the_liquids_corrections_is_right():
    bench, acetone = Bench.of(RUN), bottled("acetone")
    corrected = float(acetone.implied_molar_masses(bench.weighing)[0])
    assert corrected == pytest.approx(SHORTCUT, rel=0.3)
    assert graded_molar_mass(corrected, bench, acetone) == ("with corrections", True)


def test_without_weighings_there_is_nothing_to_hold_it_against():
    assert graded_molar_mass(58.0, Bench.of(Measurement("D-02")), bottled("acetone")) == ("", None)


def test_a_table_with_answers_is_graded(tmp_path):
    path = tmp_path / "section.csv"
    path.write_text(
        "label,student,empty_g,condensed_g,bath_C,room_C,pressure_mmHg,volume_mL,boiling_point_C,"
        "answer,reported_molar_mass\n"
        f"D-02,first,78.000,78.230,98.9,22.0,742.0,141.3,56.1,acetone,{SHORTCUT:.1f}\n"
        f"D-02,second,78.000,78.231,98.9,22.0,742.0,141.3,56.1,propanal,{SHORTCUT / 760:.4f}\n"
        "D-02,third,78.000,78.229,98.9,22.0,742.0,141.3,56.1,,\n",
        encoding="utf-8",
    )
    key = tmp_path / "key.csv"
    key.write_text("label,identity\nD-02,acetone\n", encoding="utf-8")
    first, second, third = check_section(read_runs(path), key=key).students
    assert (first.graded.answer_grade, first.graded.is_molar_mass_right) == ("right", True)
    assert (second.graded.answer_grade, second.graded.is_molar_mass_right) == (
        "right formula",
        False,
    )
    assert "different units" in second.graded.molar_mass_grade
    assert third.graded is None
    assert first.to_dict()["graded"]["against"] == "acetone"


def test_two_answers_of_one_student_are_told(tmp_path):
    path = tmp_path / "section.csv"
    row = "D-02,first,78.000,78.230,98.9,22.0,742.0,141.3,56.1"
    path.write_text(
        "label,student,empty_g,condensed_g,bath_C,room_C,pressure_mmHg,volume_mL,boiling_point_C,"
        f"answer\n{row},acetone\n{row},ethanol\n",
        encoding="utf-8",
    )
    runs = read_runs(path)
    assert [one.reported.answer for one in runs] == ["acetone"]
    assert any("which counts" in str(fault) for fault in runs.faults)
    assert isinstance(runs, Runs)
