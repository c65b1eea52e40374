"""The check of a section as a whole: every row accounted for, every student, every finding."""

from collections import Counter
from dataclasses import replace

import pytest
from drawn_sections import LIQUIDS, Class, Drawn, Faults, few_candidates, write_key
from simulated_sections import Section as Simulation
from simulated_sections import simulate, write

from identify import Measurement, Trial, match
from identify.compounds.loading import load_candidates
from identify.observables.tolerances import Tolerances
from identify.section import check_section
from identify.tables import Runs, read_runs, runs_from_frame
from identify.tables.faults import TableError

FEW = few_candidates()


@pytest.fixture(scope="module")
def key(tmp_path_factory):
    return write_key(tmp_path_factory.mktemp("key") / "key.csv")


def drawn(seed=1, faults=None, **of):
    return Drawn(seed, FEW).section(Class(**of), faults)


def checked(runs, key=None, **options):
    return check_section(Runs(runs), key, FEW, **options)


def codes(findings):
    return {finding.code for finding in findings}


def of_student(section, number):
    (one,) = (one for one in section.students if one.student == f"student {number}")
    return one


# ------------------------------------------------------------------------- two thousand rows


@pytest.fixture(scope="module")
def simulated(tmp_path_factory):
    folder = tmp_path_factory.mktemp("section")
    found = simulate(Simulation(unreadable=0.01), seed=20)
    write(folder / "section.csv", found.table)
    write(folder / "key.csv", found.key)
    section = check_section(folder / "section.csv", folder / "key.csv")
    return found, section


def test_the_mislabeled_bottle_and_the_barometer_day_are_named_and_nothing_else(simulated):
    found, section = simulated
    (wrong,) = found.truth.mislabeled
    named = {u.label: codes(u.findings) for u in section.unknowns if u.findings}
    assert named == {wrong: {"bottle-not-the-key"}}
    # Some cells are blank, so that a bath or a room was assumed.
    told = {"file-fault", "condition-assumed"}
    (fault,) = (one for one in section.findings if one.code not in told)
    assert fault.code == "barometer-day"
    assert f"on day {found.truth.barometer_day} " in fault.message
    # 22 mmHg too high: the pressure that sets it right is known to a few millimeters.
    assert fault.numbers["read_mmHg"] - fault.numbers["right_mmHg"] == pytest.approx(22.0, abs=2.5)


def test_what_the_mislabeled_bottle_holds_is_among_what_it_fits(simulated):
    found, section = simulated
    ((wrong, cas),) = found.truth.mislabeled.items()
    (unknown,) = (one for one in section.unknowns if one.label == wrong)
    (finding,) = unknown.findings
    table = load_candidates()
    assert table.text("name")[table.find(cas)[0]] in finding.message


def test_every_row_is_accounted_for_once(simulated):
    found, section = simulated
    used = [row for student in section.students for row in student.rows]
    aside = [one.row for one in section.set_aside]
    assert sorted(used + aside) == [one.row for one in found.truth.rows]
    assert section.rows == len(found.table) == 2000
    assert {one.row for one in found.truth.rows if one.unreadable} <= set(aside)
    assert all(one.reason for one in section.set_aside)


def test_sound_bottles_are_the_keys(simulated):
    found, section = simulated
    for unknown in section.unknowns:
        if unknown.label not in found.truth.mislabeled:
            assert unknown.agrees_with_key
            assert unknown.candidates[0].probability > 0.95
            assert abs(unknown.molar_mass / unknown.key.molar_mass - 1.0) < 0.01


def test_students_of_the_bad_day_are_shown_where_to_look(simulated):
    found, section = simulated
    bad = {one.student for one in found.truth.rows if one.day == found.truth.barometer_day}
    told = {
        one.student
        for one in section.students
        if "barometer-day" in {cause.code for cause in one.causes}
    }
    assert told <= bad
    assert len(told) > 0.9 * len({s.student for s in section.students} & bad)


def test_the_students_rankings_are_those_of_a_match(simulated):
    _, section = simulated
    alone = [student for student in section.students if not student.causes]
    for student in alone[:40]:
        assert student.ranking.to_dict() == match(student.run).to_dict()


# ----------------------------------------------------------------------------------- the whole


def test_the_same_input_gives_the_same_answer(key):
    runs = drawn(students=48, faults=Faults(slips=0.1))
    assert checked(runs, key).to_dict() == checked(runs, key).to_dict()


def test_the_order_of_the_file_has_no_say_in_the_bottles(key):
    runs = drawn(students=96, faults=Faults(contents={"D-04": "chloroform"}))
    one, other = checked(runs, key), checked(runs[::-1], key)
    assert {u.label: codes(u.findings) for u in one.unknowns} == {
        u.label: codes(u.findings) for u in other.unknowns
    }
    for unknown in one.unknowns:
        (same,) = (u for u in other.unknowns if u.label == unknown.label)
        assert unknown.molar_mass == pytest.approx(same.molar_mass, rel=1e-9)


def test_labels_are_compared_without_case_and_spaces(tmp_path):
    liquids = {f" {label.lower()} ": liquid for label, liquid in LIQUIDS.items()}
    section = checked(drawn(students=12), write_key(tmp_path / "key.csv", liquids))
    assert all(student.key is not None and student.key_rank == 1 for student in section.students)
    assert "label-not-in-key" not in codes(section.findings)


def test_progress_counts_the_students():
    seen = []
    checked(drawn(students=5), progress=seen.append)
    assert seen == [1, 2, 3, 4, 5]


def test_a_sections_percent_errors_are_the_keys(key):
    section = checked(drawn(students=24, faults=Faults(everything=1.1), between=0.0), key)
    errors = [student.percent_error for student in section.students]
    # A tenth more was weighed; the air that the vapor shut out is not more.
    assert all(6.0 < error < 13.0 for error in errors)


@pytest.mark.parametrize(
    ("runs", "students"),
    [
        ([], 0),
        ([Measurement("A", molar_mass=58.1)], 1),
        ([Measurement("A", boiling_point=56.1, student=str(n)) for n in range(3)], 3),
        ([Measurement("A", percent={"C": 62.0})], 1),
        ([Measurement("A")], 1),
    ],
)
def test_what_is_hardly_a_section_is_answered(runs, students):
    section = checked(runs)
    assert len(section.students) == students
    assert not [u for u in section.unknowns if any(f.severity == "error" for f in u.findings)]
    assert section.to_dict()["rows"] == students


def test_what_nobody_wrote_down_is_said_once_for_the_section(key):
    runs = [
        replace(run, conditions=replace(run.conditions, room=None, pressure=None))
        for run in drawn(students=48)
    ]
    section = checked(runs, key)
    (finding,) = [one for one in section.findings if one.code == "condition-assumed"]
    assert finding.numbers == {"room_results": len(runs), "pressure_results": len(runs)}
    assert f"the room 22 ± 3 °C ({len(runs)} of {len(runs)} results)" in finding.message
    assert codes(checked(drawn(), key).findings).isdisjoint({"condition-assumed"})
    # What all of them share does not average out.
    for known, assumed in zip(checked(drawn(), key).unknowns, section.unknowns, strict=True):
        assert known.candidates[0].name == assumed.candidates[0].name
        assert known.candidates[0].probability >= assumed.candidates[0].probability


def test_nothing_read_is_no_compound():
    assert checked([Measurement("A")]).unknowns[0].candidates == ()


def test_readings_that_cannot_be_right_are_left_out_of_the_pooling(key):
    runs = drawn(students=60)
    spoiled = [
        replace(run, conditions=replace(run.conditions, pressure="29.9 mmHg")) for run in runs[:12]
    ]
    section = checked([*spoiled, *runs[12:]], key)
    assert [unknown.used for unknown in section.unknowns] == [4] * 12
    assert not any(unknown.findings for unknown in section.unknowns)


def test_a_mass_that_was_lost_is_no_molar_mass(key):
    runs = drawn(students=24)
    trials = [Trial(one.condensed, one.empty, one.bath) for one in runs[0].trials]
    section = checked([replace(runs[0], trials=trials), *runs[1:]], key)
    assert "mass-lost" in codes(section.students[0].findings)


def test_what_a_file_holds_beside_its_rows_is_told():
    import pandas as pd

    frame = pd.DataFrame({"label": ["A"], "boiling_point_C": [56.1], "pressur_mmHg": [742.0]})
    section = check_section(runs_from_frame(frame), None, FEW)
    (finding,) = section.findings
    assert finding.code == "file-fault"
    assert "pressur_mmHg" in finding.message


def test_a_file_that_is_not_there_is_a_finding(tmp_path):
    section = check_section(tmp_path / "no.csv", None, FEW)
    assert section.students == ()
    assert "no such file" in section.findings[0].message


def test_rows_set_aside_keep_label_and_student(tmp_path):
    path = tmp_path / "section.csv"
    path.write_text("label,student,boiling_point_C\nA,one,56.1\nB,two,hot\n", encoding="utf-8")
    section = check_section(read_runs(path), None, FEW)
    (aside,) = section.set_aside
    assert (aside.row, aside.label, aside.student) == (3, "B", "two")
    assert "hot" in aside.reason


# ------------------------------------------------------------------------------------- the key


@pytest.mark.parametrize(
    ("rows", "code", "words"),
    [
        ("D-01,methanol\nD-02,nonsense", "key-row-unusable", "nonsense"),
        ("D-01,methanol\nD-02,", "key-row-unusable", "identity"),
        ("D-01,methanol\n,acetone", "key-row-unusable", "label"),
        ("D-01,methanol\nd-01,acetone", "key-row-unusable", "twice"),
        ("D-01,methanol", "label-not-in-key", "D-02"),
        ("D-01,methanol\nD-02,acetone\nZ-9,hexane", "key-not-used", "Z-9"),
    ],
)
def test_what_is_wrong_with_a_key_is_told(rows, code, words, tmp_path):
    path = tmp_path / "key.csv"
    path.write_text(f"label,identity\n{rows}\n", encoding="utf-8")
    liquids = {"D-01": "methanol", "D-02": "acetone"}
    section = checked(drawn(students=4, liquids=liquids), path)
    assert any(one.code == code and words in one.message for one in section.findings)
    assert section.students[0].key.name == "methanol"


@pytest.mark.parametrize("identity", ["acetone", "67-64-1", "CC(C)=O", "propan-2-one", "ACETONE"])
def test_a_compound_is_known_by_any_of_its_names(identity, tmp_path):
    path = write_key(tmp_path / "key.csv", {"D-02": identity})
    (student,) = checked(drawn(students=1, liquids={"D-02": "acetone"}), path).students
    assert student.key.cas == "67-64-1"
    assert student.key_rank == 1


def test_a_compound_that_no_table_has_is_compared_with_nothing(tmp_path):
    path = write_key(tmp_path / "key.csv", {"D-02": "CCCCCCCCCCCCCCOCCCCCCCCCCCCCCCCF"})
    section = checked(drawn(students=1, liquids={"D-02": "acetone"}), path)
    assert section.students[0].key.row is None
    assert section.students[0].key_rank is None
    assert "key-not-in-table" in codes(section.unknowns[0].findings)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is empty; check that it was saved"),
        ("label,identity\n", "has no rows below its column names"),
        ("label,identity\nA,nonsense\n", r'row 2, identity: "nonsense" is not a compound known'),
        ("label,identity\n,acetone\n", "row 2, label: is empty; write the bottle's label"),
        ("a,b\n", "has no column named identity; begin with a row of column names, such as label,"),
    ],
)
def test_a_key_without_a_row_to_use_is_refused(text, says, tmp_path):
    path = tmp_path / "key.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(TableError, match=f"key.csv(:|,) {says}"):
        checked(drawn(students=1), path)


def test_a_key_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(TableError, match="no such file"):
        checked(drawn(students=1), tmp_path / "no.csv")


# -------------------------------------------------------------------------------- the students


def changed(runs, number, **parts):
    """Return runs with one student's page written differently."""
    return [*runs[: number - 1], replace(runs[number - 1], **parts), *runs[number:]]


def test_sound_students_are_found_no_fault_with(key):
    section = checked(drawn(students=240), key)
    told = Counter(finding.code for one in section.students for finding in one.findings)
    assert not {"copied-from", "wrong-bottle", "card-miscopied"} & told.keys()
    assert told["far-from-the-others"] <= 1


def test_a_student_off_from_the_others_is_told_by_how_much(key):
    runs = drawn(students=120, within=0.0)
    trials = [
        replace(one, condensed=f"{one.condensed.value + 0.1:.4f} g") for one in runs[7].trials
    ]
    section = checked(changed(runs, 8, trials=trials), key)
    (finding,) = (f for f in of_student(section, 8).findings if f.code == "far-from-the-others")
    assert finding.severity == "warning"
    assert finding.numbers["off_percent"] > 8.0
    assert "above them" in finding.message


@pytest.mark.parametrize(
    ("condensed", "is_told"),  # of the third of five, or of four; sound: 99.48 g
    [("99.8799", True), ("99.5299", True), ("99.4899", False)],
)
@pytest.mark.parametrize("students", [4, 5])
def test_one_of_a_few_students_is_off_from_the_others(tmp_path, condensed, is_told, students):
    gains = ["99.4799", "99.4819", condensed, "99.4779", "99.4809"][:students]
    path = tmp_path / "few.csv"
    path.write_text(
        "label,student,empty_g,condensed_g,bath_C,room_C,pressure_mmHg,volume_mL,boiling_point_C\n"
        + "".join(
            f"A,student {number},99.0663,{gain},98.7,22.9,745.0,286.9,78.4\n"
            for number, gain in enumerate(gains, 1)
        )
    )
    section = check_section(path, None, FEW)
    told = [one.student for one in section.students if "far-from-the-others" in codes(one.findings)]
    assert told == ["student 3"] * is_told
    assert of_student(section, 3).is_doubtful == is_told


def test_weighings_under_two_names_are_told_of_both(key):
    runs = drawn(students=60)
    runs = changed(runs, 17, trials=runs[4].trials, flask=runs[4].flask)
    section = checked(runs, key)
    told = {s.student for s in section.students if "copied-from" in codes(s.findings)}
    assert told == {"student 5", "student 17"}


def test_a_run_under_another_label_is_told_with_the_right_one(key):
    runs = drawn(students=120)
    assert runs[6].label == "D-07"
    section = checked(changed(runs, 7, label="D-01"), key)
    (finding,) = (f for f in of_student(section, 7).findings if f.code == "wrong-bottle")
    assert finding.severity == "warning"
    assert "bottle D-07" in finding.message
    assert not any(unknown.findings for unknown in section.unknowns)


def test_another_bottles_card_is_told_once(key):
    runs = drawn(students=120)
    card = Drawn(1, FEW).card("acetone")
    section = checked(changed(runs, 5, **card), key)
    told = [
        f for f in of_student(section, 5).findings if f.code in ("wrong-bottle", "card-miscopied")
    ]
    assert [f.code for f in told] == ["wrong-bottle"]
    assert "D-02" in told[0].message


@pytest.mark.parametrize(
    ("name", "card", "written", "tolerance", "severity", "told"),
    [
        ("melting_point", -97.6, -95.0, {}, "warning", "-95.0 °C"),
        # The tolerance of melting points decides, not that of boiling points.
        ("melting_point", -97.6, -95.0, {"melting_point": 3.0}, "note", "-97.6 °C"),
        ("melting_point", -97.6, -95.0, {"boiling_point": 3.0}, "warning", "°C"),
        ("density", "0.787 g/mL", "0.795 g/mL", {}, "note", "0.795 g/mL"),
        ("density", "787 kg/m3", "799 kg/m3", {}, "warning", "copied 787 kg/m3"),
        ("refractive_index", 1.3284, 1.3248, {}, "warning", "1.3248;"),
    ],
)
def test_constants_of_the_liquid_are_judged_and_told_as_written(
    name, card, written, tolerance, severity, told, key
):
    runs = drawn(students=60)
    label = runs[12].label
    runs = [replace(run, **{name: card}) if run.label == label else run for run in runs]
    runs = changed(runs, 13, **{name: written})
    section = checked(runs, key, tolerances=Tolerances(**tolerance))
    (finding,) = (f for f in of_student(section, 13).findings if f.code == "card-miscopied")
    assert finding.severity == severity
    assert told in finding.message


@pytest.mark.parametrize(
    ("parts", "severity", "words"),
    [
        ({"boiling_point": "75.4 C"}, "warning", "75.4"),
        ({"boiling_point": "64.6 C"}, "note", "64.6"),
        ({"percent": {"C": 73.49, "H": 12.58, "O": 49.93}}, "warning", "percentage of C"),
        ({"percent": {"C": 37.49, "H": 12.58, "O": 49.93, "Cl": 3.0}}, "warning", "Cl"),
    ],
)
def test_a_card_copied_wrongly_is_told(parts, severity, words, key):
    section = checked(changed(drawn(students=60), 13, **parts), key)
    (finding,) = (f for f in of_student(section, 13).findings if f.code == "card-miscopied")
    assert finding.severity == severity
    assert words in finding.message
