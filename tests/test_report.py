"""The report as one page: what it holds, that it needs nothing else, and that it is safe."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from importlib import resources
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from identify import Measurement, match, read_runs
from identify.answers.html.match_page import MOST_PICTURED, match_page
from identify.answers.html.page import save_page, shown
from identify.answers.html.section_page import pooled_sentence, section_page
from identify.answers.html.stock_page import stock_page
from identify.answers.text import CAUTION, percent_text, verdict_sentence
from identify.answers.text.page import Page
from identify.answers.text.ranking import told_as_slip
from identify.answers.text.section import section_lines
from identify.bench.record import record_tables
from identify.compounds.table import NUMBER_COLUMNS, TEXT_COLUMNS, CandidateTable
from identify.matching.evidence import Matcher
from identify.matching.slips import Slip
from identify.notebook.findings import Finding
from identify.notebook.measurement import Combustion, Flask, Trial
from identify.section.result import Cause, SectionResult, StudentResult
from tests.report_samples import (
    HOSTILE,
    IMAGE,
    KINDS,
    MATCHER,
    RECORDS,
    SCRIPT,
    TABLE,
    answers,
    page_of,
    pages,
    section_result,
    stock_check,
)

CHECKOUT = Path(__file__).resolve().parents[1]
_VOID = {"meta", "link", "br", "img", "input", "hr"}


class Outline(HTMLParser):
    """What a page holds: elements with their attributes, headings, and its text."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.headings: list[tuple[int, str]] = []
        self.open: list[str] = []
        self.pieces: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {key: value or "" for key, value in attrs}))
        if re.fullmatch("h[1-6]", tag):
            self.headings.append((int(tag[1]), ""))
        if tag not in _VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {key: value or "" for key, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag
        self.pieces.append(" " if tag in ("th", "td", "li", "p", "dd", "dt") else "")

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] in ("style", "title"):
            return
        self.pieces.append(data)
        if self.open and re.fullmatch("h[1-6]", self.open[-1]):
            level, text = self.headings[-1]
            self.headings[-1] = (level, text + data)

    @property
    def text(self) -> str:
        return " ".join("".join(self.pieces).split())

    def all(self, tag: str) -> list[dict[str, str]]:
        return [attributes for name, attributes in self.elements if name == tag]

    def values(self, key: str) -> list[str]:
        return [attributes[key] for _, attributes in self.elements if key in attributes]


def one_page(record: str, **options: Any) -> Outline:
    return Outline(match_page(answers(record), MATCHER, **options))


# ------------------------------------------------------------------------------- sound pages


@pytest.mark.parametrize("kind", KINDS)
def test_a_page_is_sound(kind: str) -> None:
    page = Outline(page_of(kind))
    assert page.open == []  # every element is closed, in its order
    assert page.all("html") == [{"lang": "en"}]
    assert len(page.all("title")) == len(page.all("h1")) == len(page.all("main")) == 1
    levels = [level for level, _ in page.headings]
    assert levels[0] == 1
    assert all(below - above <= 1 for above, below in pairwise(levels))
    assert all(text.strip() for _, text in page.headings)
    ids = Counter(page.values("id"))
    assert {name for name, count in ids.items() if count > 1} == set()
    links = [link for link in page.values("href") if link.startswith("#")]
    links += re.findall(r"url\(#([^)]*)\)", page_of(kind))
    assert {link.removeprefix("#") for link in links} <= set(ids)
    assert set(page.values("aria-labelledby")) <= set(ids)
    assert re.search(r"\b(None(?! of these|: every)|nan|Undefined)\b", page.text) is None
    assert CAUTION in page.text


@pytest.mark.parametrize("kind", KINDS)
def test_a_page_needs_nothing_else(kind: str) -> None:
    page = Outline(page_of(kind))
    (policy,) = (one["content"] for one in page.all("meta") if "http-equiv" in one)
    assert policy == "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
    assert {link for link in page.values("href") if not link.startswith("#")} == {"data:,"}
    assert page.values("src") == []
    assert "@import" not in page_of(kind)
    assert re.findall(r"url\((?!#)", page_of(kind)) == []
    for tag in ("script", "img", "iframe", "object", "form"):
        assert page.all(tag) == []
    assert [key for _, one in page.elements for key in one if key.startswith("on")] == []


@pytest.mark.parametrize("kind", KINDS)
def test_a_page_can_be_listened_to(kind: str) -> None:
    page = Outline(page_of(kind))
    assert len(page.all("caption")) == len(page.all("table"))
    assert {one.get("scope") for one in page.all("th")} <= {"col", "row"}
    for drawing in page.all("svg"):
        assert drawing["role"] == "img"
        assert drawing["aria-label"].strip()
    scrolling = [one for one in page.all("div") if "scroll" in one.get("class", "").split()]
    assert scrolling
    for region in scrolling:
        assert (region["role"], region["tabindex"]) == ("region", "0")
        assert region["aria-label"].strip()


@pytest.mark.parametrize("kind", KINDS)
def test_drawings_take_the_colors_of_the_page(kind: str) -> None:
    drawings = re.findall("<svg.*?</svg>", page_of(kind), flags=re.DOTALL)
    assert bool(drawings) != kind.endswith(("feedback", "molar mass"))  # which show no structure
    for drawing in drawings:
        ElementTree.fromstring(drawing)
        assert re.findall(r"#[0-9A-Fa-f]{6}\b|\brgba?\(|:\s*(?:black|white)\b", drawing) == []
        assert re.findall(r"-?\d+\.\d{4,}", drawing) == []


def test_the_same_answers_give_the_same_bytes() -> None:
    again = pages()
    assert {kind: page_of(kind) for kind in again} == again
    code = "import json; from tests.report_samples import pages; print(json.dumps(pages()))"
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=CHECKOUT,
        env={**os.environ, "PYTHONHASHSEED": "77", "TZ": "Asia/Tokyo"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert json.loads(done.stdout) == again


# ----------------------------------------------------------------------------- text of a file


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind.startswith("hostile")])
@pytest.mark.parametrize("text", [SCRIPT, IMAGE])
def test_markup_of_a_file_is_text(kind: str, text: str) -> None:
    page = page_of(kind)
    assert text not in page
    assert text in Outline(page).text


def renamed(name: str) -> CandidateTable:
    """Return a table of four compounds, whose names and bottles are this text."""
    few = TABLE.take([TABLE.find(cas)[0] for cas in ("110-82-7", "67-64-1", "64-17-5", "71-43-2")])
    text = {column: few.text(column) for column in TEXT_COLUMNS}
    text |= {"name": [f"{name} {row}" for row in range(4)], "label": [name] * 4}
    return CandidateTable(text, {column: few.number(column) for column in NUMBER_COLUMNS})


@pytest.mark.parametrize("name", [SCRIPT, IMAGE, "--><b>", "$x_1$ & co", "]]>"])
def test_markup_of_a_stock_table_is_text_in_drawings_too(name: str) -> None:
    matcher = Matcher(renamed(name))
    run = Measurement("K-1", boiling_point=79.9, percent={"C": 85.6, "H": 14.4})
    html = match_page([(run, match(run, matcher.table))], matcher)
    page = Outline(html)
    assert name in page.text
    for tag in ("script", "img", "b"):
        assert page.all(tag) == []
    assert f"<text {name}" not in html
    assert len(page.all("svg")) >= 3  # structures, deviations, places


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("K-7", "K-7"),
        ("K\x00-\x1b[31m7", "K\N{REPLACEMENT CHARACTER}-\N{REPLACEMENT CHARACTER}[31m7"),
        ("a\tb\nc", "a b c"),
        ("7-\u202eK", "7-\N{REPLACEMENT CHARACTER}K"),
        ("\ud800", "\N{REPLACEMENT CHARACTER}"),
        ("漢字 é", "漢字 é"),
        ("2\u00a0%", "2\u00a0%"),
    ],
)
def test_letters_that_a_page_cannot_show(written: str, read: str, tmp_path: Path) -> None:
    assert shown(written) == read
    ((run, ranking),) = answers("C-77")
    html = match_page([(replace(run, label=written), replace(ranking, label=written))], MATCHER)
    save_page(html, tmp_path / "page.html")
    assert f"Unknown {read}" in (tmp_path / "page.html").read_text("utf-8")


# ---------------------------------------------------------------------------------- the match


@pytest.mark.parametrize("record", RECORDS)
def test_a_match_holds_the_answer(record: str) -> None:
    ((run, ranking),) = answers(record)
    page = one_page(record)
    assert page.headings[0] == (1, f"Unknown {record}")
    told = page.text
    assert verdict_sentence(ranking) in told
    for candidate in ranking.candidates[:10]:
        assert candidate.name in told
        assert percent_text(candidate.probability) in told
    for one in (*ranking.slips, *ranking.findings):
        by_a_slip = isinstance(one, Finding) and told_as_slip(one, ranking)
        assert one.message in told or by_a_slip
    for table in record_tables(run):
        for row in table.rows:
            assert " ".join(row) in told
    labels = [drawing["aria-label"] for drawing in page.all("svg")]
    first = ranking.candidates[0]
    assert f"Structure of {first.name}, SMILES {first.smiles}" in labels
    assert any(label.startswith("Readings minus what each") for label in labels)
    assert ("Working of the molar mass" in told) is bool(run.trials)


def test_the_record_stands_as_it_was_written_and_as_it_was_read() -> None:
    run = Measurement(
        "C-14",
        boiling_point="64,6 C",
        percent={"C": 37.5},
        flask=Flask(volume="0.2874 L"),
        trials=[Trial(empty="98.11(2) g", bath=98.4)],
    )
    rows = [row for table in record_tables(run) for row in table.rows]
    assert ("boiling point", "64,6 C", "64.6 °C") in rows
    assert ("percent C", "37.5", "37.5 %") in rows
    assert ("volume to the brim", "0.2874 L", "0.2874 L") in rows
    assert ("flask and lid, empty", "98.11(2) g", "98.11 ± 0.02 g") in rows
    assert [table.title for table in record_tables(run)] == ["Card", "Flask", "Weighing"]


def test_what_stands_in_place_of_a_composition_is_in_the_record() -> None:
    burned = Combustion("0.4310 g", "0.8235 g")
    run = Measurement("C-14", formula="C2H6O", boiling_point_by="own", combustion=burned)
    card, combustion = record_tables(run)
    assert {("formula", "C2H6O", "C2H6O"), ("boiling point by", "own", "own")} < {*card.rows}
    assert combustion.rows[0] == ("what was burned", "0.4310 g", "0.4310 g")
    assert combustion.rows[1] == ("carbon dioxide", "0.8235 g", "0.8235 g")


def test_what_every_trial_had_of_its_own_is_listed() -> None:
    runs = read_runs(CHECKOUT / "data/demo/section.csv").measurements
    tables = record_tables(runs[0])
    assert [table.title for table in tables if "Trial" in table.title] == [
        "Trial 1, row 2",
        "Trial 2, row 3",
    ]


def test_many_unknowns_have_contents_with_verdicts() -> None:
    page = Outline(page_of("several"))
    assert len(page.all("nav")) == 1
    links = [one["href"] for one in page.all("a") if one["href"].startswith("#u")]
    assert links == ["#u1", "#u2", "#u3"]
    for _, ranking in answers("C-23", "C-52", "C-77"):
        assert page.text.count(verdict_sentence(ranking)) == 2


@pytest.mark.parametrize(("count", "pictured"), [(MOST_PICTURED, True), (MOST_PICTURED + 1, False)])
def test_with_very_many_unknowns_the_pictures_are_left_out_and_it_says_so(
    count: int, pictured: bool
) -> None:
    html = match_page(answers("C-77") * count, MATCHER, top=1)
    assert ("pictures are left out" in html) is not pictured
    assert bool(Outline(html).all("svg")) is pictured
    assert html.count("Compounds, the most probable first") == count


@pytest.mark.parametrize("top", [1, 3])
def test_no_more_compounds_than_wanted(top: int) -> None:
    page = one_page("C-31", top=top)
    ranks = [one for one in page.all("th") if one.get("scope") == "row"]
    names = [candidate.name for candidate in answers("C-31")[0][1].candidates]
    assert len(ranks) >= top
    assert names[top + 1] not in page.text.split("What does not hang")[0].split("Compounds,")[1]


def test_another_compound_can_be_explained() -> None:
    row = TABLE.find("benzene")[0]
    assert "Why benzene is not ahead of" in one_page("C-14", explained=row).text
    assert "Why methanol and not" in one_page("C-14").text


def test_nothing_measured_and_nothing_read() -> None:
    run = Measurement("C-9")
    page = Outline(match_page([(run, match(run))], MATCHER))
    assert "Nothing was measured." in page.text
    assert "How far each reading is off" not in page.text
    assert "No unknown" in Outline(match_page([], MATCHER)).text


def test_a_molar_mass_that_cannot_be_worked_out_says_why() -> None:
    ((run, _),) = answers("C-14")
    trial = replace(run.trials[0], condensed=run.trials[0].empty)
    lost = replace(run, trials=[trial])
    page = Outline(match_page([(lost, match(lost))], MATCHER))
    assert "Working of the molar mass" in page.text


# -------------------------------------------------------------------------- stock and section


def test_a_stock_table() -> None:
    check = stock_check()
    page = Outline(stock_page(check))
    for row in check.rows:
        assert row.label in page.text
        assert (row.compound.name if row.compound else row.written) in page.text
    labels = [drawing["aria-label"] for drawing in page.all("svg")]
    assert labels.count("Structure of toluene, SMILES Cc1ccccc1") == 1
    assert labels.count("Structure of 3-methylpentane, SMILES CCC(C)CC") == 3  # and in two groups
    for text in (
        "−10.9",
        "flash point −20 °C",
        "carcinogen: group 2B",
        "67.8",
        "1 error, 1 warning",
    ):
        assert text in page.text
    assert "the boiling point to ± 0.93 °C" in page.text


def test_a_stock_table_without_faults_says_so() -> None:
    check = replace(stock_check(), rows=stock_check().rows[1:4], groups=(), findings=())
    page = Outline(stock_page(check))
    assert "There are none" in page.text
    assert "What was found" not in page.text
    assert "corrected copy" not in page.text


def test_a_section() -> None:
    section = section_result()
    page = Outline(section_page(section))
    for student in section.students:
        assert f"{student.student} {student.label}" in page.text
    assert page.text.count("no, not listed") == 3
    assert "All students together: methanol (98 %), as the key has it." in page.text
    assert "All students together: acetone (98 %). The key has ethanol." in page.text
    strips = [one for one in page.all("svg") if one["aria-label"].startswith("Molar masses of 8")]
    assert len(strips) == 3
    assert all("1 more marked as far from the others" in one["aria-label"] for one in strips)
    assert "pressure_mmHg: cannot be read" in page.text


def _cause(code: str, *students: str) -> Cause:
    return Cause(code, "warning", f"{code}: many.", "Look.", ("D-01",), students)


def _section_with_a_cause() -> tuple[SectionResult, list[StudentResult]]:
    """Return a section with a cause that two share, of whom one has a slip, and so has a third."""
    section = section_result()
    first, second, third, *others = (one for one in section.students if not one.is_doubtful)
    shared = _cause("shared-balance", first.student, second.student)
    slip = Slip("volume-nominal", "The volume is what is printed.", 0.9, {})
    doubtful = replace(first.ranking, slips=(slip,))
    students = [
        replace(first, causes=(shared,), ranking=doubtful),
        replace(second, causes=(shared,)),
        replace(third, ranking=doubtful),
        *others,
    ]
    return replace(section, causes=(shared,), students=tuple(students)), students


def test_a_section_opens_with_causes_and_who_needs_a_look() -> None:
    section, (first, second, third, *_) = _section_with_a_cause()
    (shared,) = section.causes
    assert [cause for cause, _ in section.to_look_at] == [shared, None]
    text = Outline(section_page(section)).text
    places = [
        text.index(heading)
        for heading in (
            "What many share",
            "Concerns 2 students of D-01",
            "Students who need a look",
            "Beside cause 1: 1 result",
            f"{first.student}, {first.label}",
            "Of their own: 1 result",
            f"{third.student}, {third.label}",
            "All students",
            "Unknowns",
            "Rows set aside",
        )
    ]
    assert places == sorted(places)
    assert f"{second.student}, {second.label}" not in text  # the cause explains that one


def test_students_stand_beside_their_cause_on_a_terminal() -> None:
    section, (first, _, third, *_) = _section_with_a_cause()
    rows = [" ".join(line.split()) for line in section_lines(section, Page(80))]
    assert "Students: 2 of 15 results need a look (13 not shown; --all shows them)" in rows
    beside, own = rows.index("beside shared-balance, D-01:"), rows.index("of their own:")
    assert rows[beside + 1].startswith(f"{first.label} {first.student} ")
    assert own == beside + 2
    assert rows[own + 1].startswith(f"{third.label} {third.student} ")


def test_students_are_sorted_as_people_sort() -> None:
    section = section_result()
    names = ("bench 10", "bench 2", "Bench 1")
    students = [
        replace(one, student=name) for one, name in zip(section.students, names, strict=False)
    ]
    section = replace(section, students=tuple(students))
    assert [one.student for one in section.in_order] == ["Bench 1", "bench 2", "bench 10"]


def test_an_empty_section() -> None:
    section = replace(section_result(), rows=0, students=(), unknowns=(), set_aside=(), findings=())
    page = Outline(section_page(section))
    assert "every row was used" in page.text
    assert page.all("svg") == []


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"key": None}, "All students together: methanol (98 %)."),
        ({"none_of_these": 0.995}, "Probably none of the table's compounds (99.5 %)"),
        ({"candidates": ()}, "These readings name no compound."),
    ],
)
def test_what_all_students_say(changes: dict[str, Any], sentence: str) -> None:
    unknown = replace(section_result().unknowns[0], **changes)
    assert pooled_sentence(unknown).startswith(sentence)


# ----------------------------------------------------------------------------- colors, saving

_TEXT = ("ink", "soft", "accent", "mark", "outside", "error", "warning", "note", "slip")
_GROUND = ("paper", "panel")
STYLE = resources.files("identify.answers.html.templates").joinpath("style.css").read_text("utf-8")


def colors(scheme: str) -> dict[str, str]:
    light, dark = (
        dict(re.findall(r"--(\w+): (#[0-9a-f]{6});", block))
        for block in re.findall(r":root \{(.*?)\}", STYLE, flags=re.DOTALL)
    )
    return light if scheme == "light" else light | dark


def luminance(color: str) -> float:
    """Return the relative luminance of WCAG 2.2."""
    parts = (int(color[place : place + 2], 16) / 255.0 for place in (1, 3, 5))
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def pairs() -> Iterator[tuple[str, str, float]]:
    yield from ((text, ground, 4.5) for text in _TEXT for ground in _GROUND)
    yield "ink", "band", 4.5  # numbers on the shaded band
    yield "mark", "band", 4.5
    yield "outside", "band", 3.0  # no letters: the cross on the ellipse
    yield "faint", "paper", 3.0  # no letters: lines and small points
    yield "mark", "paper", 3.0


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("text", "ground", "least"), list(pairs()))
def test_contrast(scheme: str, text: str, ground: str, least: float) -> None:
    known = colors(scheme)
    assert contrast(known[text], known[ground]) >= least


@pytest.mark.parametrize(
    ("one", "other", "ratio"), [("#000000", "#ffffff", 21.0), ("#767676", "#ffffff", 4.54)]
)
def test_the_contrast_itself(one: str, other: str, ratio: float) -> None:
    """Against the two ratios that WCAG 2.2 is usually explained with."""
    assert contrast(one, other) == pytest.approx(ratio, abs=0.01)


def test_every_color_that_is_used_is_defined() -> None:
    used = set(re.findall(r"var\(--(\w+)\)", STYLE + "".join(map(page_of, KINDS))))
    defined = set(re.findall(r"--(\w+):", STYLE))
    assert used <= defined
    assert set(colors("dark")) == set(colors("light"))


def test_what_was_there_stays_where_saving_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "page.html"
    file.write_text("before")

    def fail(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_text", fail)
    with pytest.raises(OSError, match="No space left"):
        save_page("<p>new", file)
    monkeypatch.undo()
    assert [(one.name, one.read_text()) for one in tmp_path.iterdir()] == [("page.html", "before")]
    with pytest.raises(FileNotFoundError, match=r"missing.page\.html"):
        save_page("<p>new", tmp_path / "missing" / "page.html")


def test_nothing_slow_is_loaded_before_a_page_is_made() -> None:
    code = (
        "import sys\n"
        "from identify.answers.html import match_page, section_page, stock_page\n"
        "slow = {'rdkit', 'jinja2', 'matplotlib', 'pandas', 'scipy', 'sklearn', 'pint'}\n"
        "print(sorted(slow & set(sys.modules)))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=CHECKOUT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


def test_the_hostile_names_are_hostile() -> None:
    """Were they written as they are, the outline would see it."""
    page = Outline(f"<p>{HOSTILE.label}</p>")
    assert page.all("script")
    assert page.all("img")
