"""What students are given back: their own numbers, and nothing of the key or of anybody else."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from pathlib import Path

import pypdf
import pytest
from drawn_sections import LIQUIDS, Class, Drawn, Faults, few_candidates, write_key

from identify import Measurement
from identify.answers.feedback import FeedbackPage, feedback_pages
from identify.answers.files import feedback_folder
from identify.answers.files.feedback_pdf import feedback_pdf
from identify.answers.html.feedback_page import feedback_html
from identify.notebook.findings import Finding
from identify.section import SectionResult, check_section
from identify.section.feedback import Feedback, OwnReading
from identify.section.grading import Graded
from identify.section.returned import remarks
from identify.section.returned.grades import grade_sentences
from identify.section.returned.next_time import HABITS
from identify.tables import Runs
from tests.command import Outcome, Run

GUIDE = Path(__file__).parents[1] / "identify" / "guide" / "answers.md"
DEMO = Path(__file__).parents[1] / "data" / "demo"
FEW = few_candidates()
HEADER = (
    "label,student,empty_g,condensed_g,bath_C,room_C,pressure_mmHg,volume_mL,boiling_point_C,"
    "answer,reported_molar_mass"
)
ACETONE = "99.2034,99.6720,98.7,22.9,745.0,286.9,56.1"
KEY = "label,identity\nD-05,acetone\n"


def table(folder: Path, rows: Sequence[str]) -> Path:
    file = folder / "section.csv"
    file.write_text("\n".join([HEADER, *rows]) + "\n", encoding="utf-8")
    return file


def key_of(folder: Path) -> Path:
    file = folder / "key.csv"
    file.write_text(KEY, encoding="utf-8")
    return file


def checked(folder: Path, rows: Sequence[str], with_key: bool = True) -> SectionResult:
    return check_section(table(folder, rows), key_of(folder) if with_key else None)


def texts(page: FeedbackPage) -> str:
    """Return all that stands on a page but its headings."""
    return " ".join(str(feedback.to_dict()) for _, feedback in page.results)


# ------------------------------------------------------------------------------ what is on a page


@pytest.mark.parametrize(
    "faults",
    [
        Faults(slips=0.15),
        Faults(contents={"D-02": "hexane", "D-04": "acetone"}, slips=0.1),
        Faults(cards={"D-04": "chloroform"}, pressure={"3": 1.03}, slips=0.1),
        Faults(balance={"2": 1.06}, slips=0.1),
    ],
)
def test_nobody_reads_of_the_key_or_of_others(tmp_path: Path, faults: Faults) -> None:
    runs = Drawn(7, FEW).section(Class(students=72), faults)
    section = check_section(Runs(runs), key=write_key(tmp_path / "key.csv"), candidates=FEW)
    students = {one.student for one in section.students}
    liquids = set(LIQUIDS.values()) | {one.name for one in section.unknowns[0].candidates}
    pages = feedback_pages(section)
    assert [page.student for page in pages] == [one.student for one in section.students]
    assert sum(bool(feedback.noticed) for page in pages for _, feedback in page.results) > 3
    assert any(feedback.shared for page in pages for _, feedback in page.results) == any(
        one.causes for one in section.students
    )
    for page in pages:
        said = texts(page)
        others = students - {page.student}
        assert not [one for one in others if re.search(rf"{re.escape(one)}(?!\d)", said)]
        assert not [one for one in liquids if one.casefold() in said.casefold()]


def test_own_numbers_and_their_working(tmp_path: Path) -> None:
    (page,) = feedback_pages(checked(tmp_path, [f"D-05,Ada,{ACETONE},,"]))
    ((label, feedback),) = page.results
    assert label == "D-05"
    readings = {one.name: one.values for one in feedback.readings}
    assert readings["flask and lid, empty"] == ("99.2034 g",)
    assert readings["temperature of the bath"] == ("98.7 °C",)
    last = feedback.working[-1]
    assert last.formula == "M = m R T / (P V)"
    # 0.4686 g x 62.3636 L mmHg/(mol K) x 371.85 K / (745.0 mmHg x 0.2869 L)
    assert last.result == f"{0.4686 * 62.3636 * 371.85 / (745.0 * 0.2869):.2f} g/mol"
    assert feedback.next_time == (
        "Weigh a second time: two trials that agree show that neither was spoiled.",
    )


@pytest.mark.parametrize(
    ("graded", "by_key", "said", "not_said"),
    [
        (Graded("acetone", "right"), True, '"acetone", is right.', "%"),
        (Graded("propanal", "right formula"), True, "right formula", "acetone"),
        (Graded("hexane", "wrong", against="acetone"), True, "is not the liquid", "acetone"),
        (Graded("dichloroethane", "not clear"), True, "does not name one compound", "wrong"),
        (Graded("acetone", ""), True, "not certain what was in the bottle", "right"),
        (Graded("acetone", "right"), False, "not certain what was in the bottle", "right"),
        (
            Graded("", "", 58.0, "by the shortcut", True, -0.1, "acetone"),
            True,
            "58 g/mol, follows from your own weighings",
            "%",
        ),
        (
            Graded("", "", 15.4, "temperature in °C where kelvin are needed", False, -73.5),
            True,
            "one slip explains it: temperature in °C where kelvin are needed.",
            "73.5",
        ),
        (
            Graded("", "", 71.0, "does not follow from the weighings", False, 22.2),
            True,
            "go through the working below",
            "22.2",
        ),
        (Graded("", "", 71.0), True, "cannot be held against weighings", "%"),
        (
            Graded("acetone", "right", 60.0, "by the shortcut", True, 3.3, "acetone"),
            True,
            "3.3 % above that of the liquid",
            "wrong",
        ),
        (
            Graded("hexane", "wrong", 60.0, "by the shortcut", True, 3.3, "acetone"),
            True,
            "follows from your own weighings",
            "3.3",
        ),
    ],
)
def test_grades_are_given_back_as_far_as_they_tell_nothing(
    graded: Graded, by_key: bool, said: str, not_said: str
) -> None:
    sentences = " ".join(grade_sentences(graded, by_key))
    assert said in sentences
    assert not_said not in sentences


def test_every_slip_has_a_habit_and_every_habit_a_code() -> None:
    codes = re.split(r"^### ", GUIDE.read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]
    paragraphs = {part.partition("\n")[0].strip(): part for part in codes}
    slips = {code for code, text in paragraphs.items() if "**Slip.**" in text}
    assert len(slips) > 20
    assert slips - set(HABITS) == set()
    assert set(HABITS) - set(paragraphs) == set()


@pytest.mark.parametrize(
    ("rows", "headings"),
    [
        ([f"D-05,Ada,{ACETONE},,", f"D-06,Ada,{ACETONE},,"], ["Ada"]),
        ([f"D-05,,{ACETONE},,", f"D-06,,{ACETONE},,"], ["Bottle D-05", "Bottle D-06"]),
        ([f"D-05,Ada,{ACETONE},,", "D-05,Bo,99?.1,,98.7,,,,,,"], ["Ada", "Bo"]),
    ],
)
def test_a_page_a_student(tmp_path: Path, rows: list[str], headings: list[str]) -> None:
    assert [page.heading for page in feedback_pages(checked(tmp_path, rows))] == headings


def test_rows_set_aside_are_told_to_whom_they_belong(tmp_path: Path) -> None:
    rows = [f"D-05,Ada,{ACETONE},,", "D-05,Ada,99?.1,99.7,98.7,22.9,745,286.9,56.1,,"]
    (page,) = feedback_pages(checked(tmp_path, rows))
    ((_, feedback),) = page.results
    assert len(feedback.set_aside) == 1
    assert "Row 3" in feedback.set_aside[0]


# ------------------------------------------------------------------------------------- the folder


@pytest.fixture
def written(invoke: Run, tmp_path: Path):
    def write(rows: Sequence[str], folder: str = "pages") -> Outcome:
        return invoke(
            "section",
            table(tmp_path, rows),
            "--key",
            key_of(tmp_path),
            "--feedback",
            tmp_path / folder,
        )

    return write


NAMES = {
    "Ada": "Ada.html",
    "ADA": "ADA-2.html",
    "A/da": "A_da.html",
    "..": "unknown.html",
    "../../etc": "_.._etc.html",
    "Zoë": "Zoë.html",
    "Zoe\u0308": "Zoë-2.html",
    "con": "con_.html",
    "feedback": "feedback.html",
    "x" * 300: f"{'x' * 120}.html",
}


def test_names_of_the_files(written, tmp_path: Path) -> None:
    rows = [f"D-05,{student},{ACETONE},," for student in NAMES]
    assert written(rows).status == 0
    files = sorted(file.name for file in (tmp_path / "pages").iterdir())
    assert files == sorted([*NAMES.values(), "feedback.pdf"])
    for student, name in NAMES.items():
        html = (tmp_path / "pages" / name).read_text(encoding="utf-8")
        assert f"<h1>{student}</h1>" in html


@pytest.mark.parametrize(
    ("folder", "said"),
    [("key.csv", "is a file"), ("missing/pages", "there is no such folder")],
)
def test_folders_that_will_not_do(written, tmp_path: Path, folder: str, said: str) -> None:
    outcome = written([f"D-05,Ada,{ACETONE},,"], folder)
    assert outcome.status == 2
    assert outcome.complaints.startswith("--feedback: ")
    assert said in outcome.complaints
    assert outcome.output == ""
    assert (tmp_path / "key.csv").read_text() == KEY


def test_inputs_are_never_written_over(invoke: Run, tmp_path: Path) -> None:
    pages = tmp_path / "pages"
    pages.mkdir()
    file = table(pages, [f"D-05,section,{ACETONE},,"]).rename(pages / "section.html")
    before = file.read_bytes()
    outcome = invoke("section", file, "--feedback", pages)
    assert outcome.status == 2
    assert "would be lost" in outcome.complaints
    assert [one.name for one in pages.iterdir()] == ["section.html"]
    assert file.read_bytes() == before


@pytest.mark.parametrize("is_there", [True, False])
def test_all_of_it_or_nothing(
    written, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, is_there: bool
) -> None:
    def no_room(pages: Sequence[FeedbackPage]) -> bytes:
        raise OSError(28, "No space left on device")

    if is_there:
        (tmp_path / "pages").mkdir()
    monkeypatch.setattr("identify.answers.files.feedback_pdf.feedback_pdf", no_room)
    outcome = written([f"D-05,Ada,{ACETONE},,"])
    assert outcome.status == 2
    assert "No space left on device" in outcome.complaints
    left = sorted(path.name for path in tmp_path.rglob("*"))
    assert left == sorted(["key.csv", "section.csv", *(["pages"] if is_there else [])])


def test_an_earlier_page_is_replaced_and_others_stay(written, tmp_path: Path) -> None:
    pages = tmp_path / "pages"
    pages.mkdir()
    (pages / "Ada.html").write_text("old")
    (pages / "notes.txt").write_text("mine")
    assert written([f"D-05,Ada,{ACETONE},,"]).status == 0
    assert "99.2034 g" in (pages / "Ada.html").read_text(encoding="utf-8")
    assert (pages / "notes.txt").read_text() == "mine"


def test_same_input_same_bytes(tmp_path: Path) -> None:
    section = checked(tmp_path, [f"D-05,Ada,{ACETONE},acetone,58.1"])
    one, two = (feedback_folder.write_feedback(section, tmp_path / name) for name in ("a", "b"))
    assert [file.read_bytes() for file in one] == [file.read_bytes() for file in two]


# -------------------------------------------------------------------------------------- the pages


def test_text_from_a_table_is_no_markup(tmp_path: Path) -> None:
    (page,) = feedback_pages(checked(tmp_path, [f"D-05,<b>&Ada,{ACETONE},,"]))
    html = feedback_html(page)
    assert "<h1>&lt;b&gt;&amp;Ada</h1>" in html
    assert "<b>" not in html


def test_the_document_has_a_sheet_for_each(tmp_path: Path) -> None:
    rows = [
        f"D-05,{student},{ACETONE},{answer},{mass}"
        for student, answer, mass in (("Ada", "acetone", 58.1), ("Zoë 水", "hexane", 15))
    ]
    pages = feedback_pages(checked(tmp_path, rows))
    document = pypdf.PdfReader(io.BytesIO(feedback_pdf(pages)))
    told = [" ".join(page.extract_text().split()) for page in document.pages]
    assert len(told) == 2
    assert "Ada" in told[0]
    assert "is right" in told[0]
    assert "Zoë [U+6C34]" in told[1]
    assert "is not the liquid that was in the bottle" in told[1]
    *_, width, height = document.pages[0].mediabox
    # It prints on A4 (595 x 842 points) and on Letter (612 x 792 points).
    assert width <= 595.3
    assert height <= 792.0


@pytest.mark.parametrize("trials", [1, 6, 7, 60])
def test_readings_of_any_number_of_trials_are_set(tmp_path: Path, trials: int) -> None:
    rows = [f"D-05,Ada,99.2034,99.67{n:02d},98.7,22.9,745.0,286.9,56.1,," for n in range(trials)]
    pages = feedback_pages(checked(tmp_path, rows))
    document = pypdf.PdfReader(io.BytesIO(feedback_pdf(pages)))
    told = " ".join(page.extract_text() for page in document.pages)
    assert all(f"99.67{n:02d}" in told for n in range(trials))
    assert (f"Trial {trials}" in told) is (trials > 1)


@pytest.mark.parametrize("long", [60, 61, 500, 5_000])
def test_a_reading_of_any_length_is_set(long: int) -> None:
    values = ("W" * long, *["2"] * 5)
    page = FeedbackPage(
        "Ada", "a.csv", [("A", Feedback(readings=(OwnReading("balance", values),)))]
    )
    text = "".join(
        one.extract_text() for one in pypdf.PdfReader(io.BytesIO(feedback_pdf([page]))).pages
    )
    assert text.count("W") == (60 if long == 60 else 59)
    assert ("…" in text) is (long > 60)


def test_nothing_to_tell_is_an_empty_feedback() -> None:
    assert all(not value for value in Feedback().to_dict().values())


@pytest.mark.parametrize(
    ("code", "numbers", "says"),
    [
        (
            "molar-mass-high",
            {"relative": 0.124},
            "is 12 % above what your other readings speak for",
        ),
        (
            "molar-mass-high",
            {"relative": 0.124},
            "mostly liquid that was left in the flask, or water",
        ),
        ("molar-mass-low", {"relative": -0.08}, "is 8 % below what your other readings speak for"),
        (
            "molar-mass-low",
            {"relative": -0.08},
            "mostly vapor that did not fill the flask, or that",
        ),
        (
            "far-from-the-others",
            {"off_percent": 20.0, "molar_mass_g_per_mol": 69.72},
            "The weighings give 69.7 g/mol, well above what others found with the same bottle.",
        ),
        (
            "far-from-the-others",
            {"off_percent": -20.0, "molar_mass_g_per_mol": 46.0},
            "The weighings give 46.0 g/mol, well below what others found with the same bottle.",
        ),
        ("card-miscopied", {"written": 68.5}, "An entry (68.5) is not what the card of the bottle"),
        ("card-miscopied", {}, "An entry is not what the card of the bottle says."),
        ("nothing-plausible", {}, "No liquid of the table agrees with all of these readings"),
    ],
)
def test_what_a_student_is_told_of_a_finding(
    code: str, numbers: dict[str, float], says: str
) -> None:
    (student, *_) = check_section(Runs([Measurement("D-02", boiling_point=56.1)])).students
    told = remarks._Told(student).of_finding(Finding(code, "warning", "", "Weigh again.", numbers))
    assert told is not None
    assert says in told.message
