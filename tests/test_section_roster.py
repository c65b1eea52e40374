"""Everybody is in a section's result; names and labels that may mean one are told as such."""

from __future__ import annotations

from pathlib import Path

import pytest
from drawn_sections import Class, Drawn, few_candidates, write_key

from identify.section import SectionResult, check_section
from identify.section.alike import labels_alike, names_alike
from identify.tables import Runs

FEW = few_candidates()
HEADINGS = (
    "label,student,empty_g,condensed_g,bath_C,room_C,pressure_mmHg,volume_mL,"
    "boiling_point_C,percent_C,percent_H,percent_O"
)
WEIGHED, CARD = "93.6571,94.1110,98.9,22.4,736.8,291.7", "56.1,62.04,10.41,27.55"
NOT_WEIGHED = ",,,,,"


def section_of(tmp_path: Path, *rows: str, headings: str = HEADINGS) -> SectionResult:
    path = tmp_path / "section.csv"
    path.write_text("\n".join([headings, *rows]) + "\n", encoding="utf-8")
    return check_section(path, candidates=FEW)


def codes(findings) -> set[str]:
    return {one.code for one in findings if one.severity != "note"}


# --------------------------------------------------------------------------- everybody is there


@pytest.mark.parametrize(
    ("row", "code", "name"),
    [
        (f"D-02,Bo,{WEIGHED},{CARD}", None, "acetone"),
        (f"D-02,Bo,{WEIGHED},,,,", None, "acetone"),
        (f"D-02,Bo,{NOT_WEIGHED},{CARD}", "named-from-card", "acetone"),
        (f"D-02,Bo,93.6571,94.1110,98.9,22.4,736.8,,{CARD}", "weighings-unused", "acetone"),
        (f"D-02,Bo,93.6571,94.1110,98.9,22.4,736.8,brim,{CARD}", "file-fault", "acetone"),
        ("D-02,Bo,hot,94.1110,98.9,22.4,736.8,291.7,,,,", "no-row-usable", None),
        (f"D-02,Bo,{NOT_WEIGHED},,,,", "no-row-usable", None),
        (f",Bo,{WEIGHED},{CARD}", "no-row-usable", None),
        (f"D-09,Bo,{NOT_WEIGHED},hot,,,", "no-row-usable", None),
    ],
)
def test_a_student_is_there_whatever_their_row(
    tmp_path: Path, row: str, code: str | None, name: str | None
) -> None:
    others = [f"D-02,{student},{WEIGHED},{CARD}" for student in ("Ada", "Cy")]
    section = section_of(tmp_path, others[0], row, others[1])
    assert [one.student for one in section.students] == ["Ada", "Bo", "Cy"]
    _, bo, _ = section.students
    assert code is None or code in codes(bo.findings)
    assert bo.is_doubtful == (code is not None)
    assert next((one.name for one in bo.ranking.candidates), None) == name
    # What is wrong with one row is said of one student, and nothing of it of the section.
    assert codes(section.findings) == set()
    used = [row for one in section.students for row in one.rows]
    assert sorted([*used, *(one.row for one in section.set_aside)]) == [2, 3, 4]
    if code == "no-row-usable":
        assert "row 3" in " ".join(one.message for one in bo.findings)
        assert bo.feedback.set_aside
        assert bo.to_dict()["candidates"] == []
        assert "no match" in repr(bo.ranking)
        assert bo.named_right is None


def test_a_row_of_somebody_who_is_there_makes_nobody_new(tmp_path: Path) -> None:
    spoiled = "D-02,Ada,hot,94.1110,98.9,22.4,736.8,291.7,,,,"
    nameless = f",Ada,{WEIGHED},{CARD}"
    section = section_of(tmp_path, f"D-02,Ada,{WEIGHED},{CARD}", spoiled, nameless)
    assert [one.student for one in section.students] == ["Ada"]
    assert {one.row for one in section.set_aside} == {3, 4}


@pytest.mark.parametrize(
    ("left_out", "card", "severity", "words"),
    [
        ("volume_mL", CARD, "warning", "because the volume of the flask is missing"),
        ("empty_g", CARD, "warning", "is missing"),
        (None, CARD, "note", "named from the cards alone"),
    ],
)
def test_what_is_missing_everywhere_is_said_once(
    tmp_path: Path, left_out: str | None, card: str, severity: str, words: str
) -> None:
    names = HEADINGS.split(",")
    kept = [name for name in names if name != left_out]
    weighed = NOT_WEIGHED if left_out is None else WEIGHED
    rows = []
    for student in ("Ada", "Bo", "Cy"):
        cells = dict(zip(names, f"D-02,{student},{weighed},{card}".split(","), strict=True))
        rows.append(",".join(cells[name] for name in kept))
    section = section_of(tmp_path, *rows, headings=",".join(kept))
    (finding,) = (one for one in section.findings if one.code == "nobody-weighed")
    assert finding.severity == severity
    assert words in finding.message
    assert len(section.students) == 3
    assert not any(one.is_doubtful for one in section.students)


# ------------------------------------------------------------------------------- names, labels


@pytest.mark.parametrize(
    ("names", "told"),
    [
        (["Ng, Ada", "Ada Ng"], ['"Ng, Ada" (D-02) and "Ada Ng" (D-02)']),
        (["Ada Ng", "ada ng", "ADA  NG"], ['"Ada Ng" (D-02) and "ada ng" (D-02) and']),
        (["Zoé Roi", "Zoe Roi"], ['"Zoé Roi"']),
        (["Pat O'Ro", "Pat ORo"], ['"Pat ORo"']),
        (["Ada Ng", "Ada Ny"], []),
        (["Ada Ng", "Ada B. Ng"], []),
        (["student 1", "student 11"], []),
        (["Ada Ng", "Ng, Ada", "Bo Li", "Li, Bo"], ['"Ada Ng"', '; "Bo Li"']),
    ],
)
def test_names_that_may_be_one_student(names: list[str], told: list[str]) -> None:
    found = list(names_alike({name: ["D-02"] for name in names}))
    assert len(found) == bool(told)
    assert all(words in one.message for one in found for words in told)


@pytest.mark.parametrize(
    ("counts", "in_key", "told"),
    [
        ({"C-14": 8, "C14": 1}, [], '"C14" (1 student) is probably "C-14" (8 students)'),
        ({"C-014": 1, "C-14": 8}, [], '"C-014" (1 student) is probably "C-14"'),
        ({"C-l4": 1, "C-14": 1}, ["c-14"], '"C-l4" (1 student) is probably "C-14"'),
        ({"C-1O": 1, "C-10": 2, "C_10": 1}, [], '"C-1O" (1 student) and "C_10" (1 student) are'),
        ({"C-14": 1, "C14": 1}, [], "may be one bottle"),
        ({"C14": 9, "C-14": 1}, ["c-14"], '"C14" (9 students) is probably "C-14"'),
        ({"AB-1": 1, "A-B1": 2}, [], '"AB-1" (1 student) is probably'),
        ({"C-14": 1, "C14": 1}, ["c-14", "c14"], ""),  # the key tells them apart
        ({"C-14": 1, "C-41": 1, "D-14": 1, "C-1": 1, "C-140": 1}, [], ""),
        ({"1-04": 1, "10-4": 1, "104": 1}, [], ""),
        ({"L-1": 1, "I-1": 1, "1-1": 1}, [], ""),
    ],
)
def test_labels_that_may_be_one_bottle(
    counts: dict[str, int], in_key: list[str], told: str
) -> None:
    found = list(labels_alike(counts, in_key))
    assert len(found) == bool(told)
    assert all(told in one.message for one in found)


def test_who_may_be_one_is_told_and_stays_apart(tmp_path: Path) -> None:
    runs = Drawn(3, FEW).section(Class(students=24))
    section = check_section(Runs(runs), key=write_key(tmp_path / "key.csv"), candidates=FEW)
    assert not {"names-alike", "labels-alike"} & codes(section.findings)
    rows = [f"{label},{name},{WEIGHED},{CARD}" for label, name in (
        ("D-02", '"Ng, Ada"'), ("D-02", "Ada Ng"), ("D-02", "Bo"), ("D02", "Cy"), ("d-02", "Di"),
    )]  # fmt: skip
    section = section_of(tmp_path, *rows)
    assert len(section.students) == 5
    assert {one.label for one in section.unknowns} == {"D-02", "D02"}
    told = {one.code: one.message for one in section.findings}
    assert '"Ng, Ada" (D-02) and "Ada Ng" (D-02)' in told["names-alike"]
    assert '"D02" (1 student) is probably "D-02" (4 students)' in told["labels-alike"]
