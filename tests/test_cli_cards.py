"""``identify-unknown cards``: files, exit status, and what it says of rows without a card."""

from __future__ import annotations

import csv
import io
import json
import os
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pypdf
import pytest

from identify.answers.files import cards_pdf as drawing
from tests.command import Outcome, Run

STOCK = """label,identity,boiling_point_C
K-10,methanol,64.6
K-2,67-64-1,56.1
D-01,CCOC(C)=O,77.1
K-1,hexane,
"""
NAMES = ("methanol", "acetone", "ethyl acetate", "hexane", "67-64-1", "CCOC(C)=O", "C6H14")


@pytest.fixture
def run(invoke: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """Run the command in an empty folder, upon a stock table of this content."""
    monkeypatch.chdir(tmp_path)

    def call(*arguments: object, stock: str = STOCK, name: str = "stock.csv") -> Outcome:
        if not Path(name).exists():
            Path(name).write_text(stock, encoding="utf-8")
        return invoke("cards", name, *arguments)

    return call


def files() -> set[str]:
    return {path.name for path in Path().iterdir()} - {"stock.csv"}


def text_of(path: str) -> str:
    if path.endswith(".html"):
        return Path(path).read_text(encoding="utf-8")
    return " ".join(page.extract_text() for page in pypdf.PdfReader(path).pages)


# ------------------------------------------------------------------------------ what is written


@pytest.mark.parametrize(
    "targets",
    [
        {"--pdf": "cards.pdf"},
        {"--html": "cards.html"},
        {"--pdf": "cards.pdf", "--html": "cards.html"},
        {"--pdf": "cards.pdf", "--key": "key.pdf"},
        {"--html": "cards.html", "--key": "key.html"},
    ],
)
def test_writes_what_is_wanted(run: Run, targets: dict[str, str]) -> None:
    outcome = run(*(part for pair in targets.items() for part in pair))
    assert (outcome.status, outcome.said) == (0, [])
    assert files() == set(targets.values())
    for option, path in targets.items():
        text = text_of(path)
        assert ("For the instructor only" in text) is (option == "--key")
        assert ("ethyl acetate" in text) is (option == "--key")
        assert "K-10" in text
        assert "64.6" in text
        assert path in outcome.output
    assert not any(name in outcome.output for name in NAMES)


def test_cards_are_listed(run: Run) -> None:
    outcome = run("--pdf", "cards.pdf", "--pressure", "742 mmHg")
    lines = outcome.output.splitlines()
    assert [line.split()[0] for line in lines[2:6]] == ["D-01", "K-1", "K-2", "K-10"]
    assert lines[5].split() == ["K-10", "64.0", "C", "37.49,", "H", "12.58,", "O", "49.93"]
    assert lines[-1] == "4 cards in cards.pdf."


def test_json_and_csv(run: Run) -> None:
    outcome = run("--pdf", "cards.pdf", "--key", "key.pdf", "--format", "json")
    answer = json.loads(outcome.output)
    assert answer["cards"][3] == {
        "label": "K-10",
        "boiling_point_C": 64.6,
        "pressure": "760 mmHg",
        "percent": {"C": 37.49, "H": 12.58, "O": 49.93},
    }
    assert answer["files"] == ["cards.pdf", "key.pdf"]
    rows = list(csv.DictReader(io.StringIO(run("--pdf", "cards.pdf", "--format", "csv").output)))
    assert rows[3]["label"] == "K-10"
    assert rows[3]["percent_C"] == "37.49"


def test_paper_and_copies(run: Run) -> None:
    outcome = run("--pdf", "cards.pdf", "--paper", "letter", "--copies", "5")
    assert outcome.status == 0
    document = pypdf.PdfReader("cards.pdf")
    assert len(document.pages) == 3  # twenty cards
    assert float(document.pages[0].mediabox.width) == 612.0


def test_workbook(run: Run) -> None:
    book = openpyxl.Workbook()
    assert book.active is not None
    for row in (["label", "identity"], [14, "ethanol"], [7, "acetone"]):
        book.active.append(row)
    book.save("stock.xlsx")
    outcome = run("--html", "cards.html", name="stock.xlsx")
    assert outcome.status == 0
    text = text_of("cards.html")
    assert text.index("<bdi>7</bdi>") < text.index("<bdi>14</bdi>")


# ------------------------------------------------------------------------- what is not written


@pytest.mark.parametrize(
    ("arguments", "complaint"),
    [
        ((), "give --pdf FILE or --html FILE, or both: where the cards are written"),
        (("--key", "key.pdf"), "give --pdf FILE or --html FILE, or both"),
        (("--pdf", "cards.html"), '--pdf: "cards.html" does not end in .pdf'),
        (("--html", "cards.pdf"), '--html: "cards.pdf" does not end in .html or .htm'),
        (("--pdf", "a.pdf", "--key", "key.txt"), '--key: "key.txt" does not end in .pdf or .html'),
        (("--pdf", "a.pdf", "--key", "./a.pdf"), "--key: a.pdf is that of --pdf; give another"),
        (("--html", "a.html", "--key", "a.html"), "--key: a.html is that of --html"),
        (("--pdf", "none/a.pdf"), "--pdf: none: there is no such folder; make it first"),
        (("--pdf", "a.pdf", "--pressure", "29.9"), '--pressure: "29.9" is not a pressure of a lab'),
        (("--pdf", "a.pdf", "--pressure", "high"), '--pressure: "high" does not start with a'),
        (("--pdf", "a.pdf", "--copies", "0"), "copies"),
        (("--pdf", "a.pdf", "--paper", "a3"), "paper"),
    ],
)
def test_what_cannot_be_done(run: Run, arguments: tuple[str, ...], complaint: str) -> None:
    outcome = run(*arguments)
    assert (outcome.status, outcome.output) == (2, "")
    assert complaint in outcome.said[0]
    assert files() == set()


@pytest.mark.parametrize("link", [None, os.link, os.symlink])
def test_the_stock_table_is_never_written_over(
    run: Run, tmp_path: Path, link: Callable[[Path, Path], None] | None
) -> None:
    stock = tmp_path / "stock.html"
    stock.write_text(STOCK)
    target = stock
    if link is not None:
        target = tmp_path / "other.html"
        link(stock, target)
    outcome = run("--html", target, name="stock.html")
    assert outcome.status == 2
    assert "is the stock table; give another name" in outcome.said[0]
    assert stock.read_text() == STOCK


@pytest.mark.parametrize(
    ("stock", "complaint"),
    [
        ("label,identity\n,ethanol\n", "row 2, label: is empty"),
        ("label,identity\nK-1,ethonal\n", "row 2"),
        ("label,identity\nEthanol,ethanol\n", "gives away a liquid (Ethanol)"),
        ("label,what_it_is\nK-1,ethanol\n", "no column named identity"),
        ("", "is empty"),
    ],
)
def test_no_row_can_have_a_card(run: Run, stock: str, complaint: str) -> None:
    outcome = run("--pdf", "cards.pdf", "--key", "key.html", stock=stock)
    assert (outcome.status, outcome.output) == (2, "")
    assert complaint in outcome.said[0]
    assert files() == set()


def test_there_is_no_stock_table(run: Run) -> None:
    Path("stock.csv").mkdir()
    outcome = run("--pdf", "cards.pdf")
    assert outcome.status == 2
    assert len(outcome.said) == 1
    assert outcome.said[0].startswith("stock.csv")


@pytest.mark.parametrize(
    ("row", "complaint", "even_anyway"),
    [
        (",ethanol,", "stock.csv, row 6, label: is empty; a card needs", True),
        ("K-3,ethonal,", "stock.csv, row 6", True),
        ("K-2,ethanol,", "K-2", False),
        ("Ethanol,ethanol,", 'stock.csv, row 6, label: "Ethanol" gives away a liquid', False),
        ("K-3,ethanol,98.4", "stock.csv, row 6", False),
    ],
)
def test_the_other_rows_go_on(run: Run, row: str, complaint: str, even_anyway: bool) -> None:
    outcome = run("--html", "cards.html", stock=f"{STOCK}{row}\n")
    assert outcome.status == 2
    assert any(complaint in line for line in outcome.said)
    assert "K-10" in text_of("cards.html")
    wrong = run("--html", "cards.html", "--anyway")
    assert wrong.status == (2 if even_anyway else 0)
    assert text_of("cards.html").count('class="card"') == (4 if even_anyway else 5)


def test_a_boiling_point_that_does_not_agree_is_told(run: Run) -> None:
    outcome = run("--html", "cards.html", "--anyway", stock=f"{STOCK}K-3,ethanol,98.4\n")
    assert any("98.4 °C does not agree with the published 78.4 °C" in x for x in outcome.said)
    assert "78.4" in text_of("cards.html")
    assert "98.4" not in text_of("cards.html")


def test_a_column_that_is_not_read_is_told(run: Run) -> None:
    outcome = run("--html", "cards.html", stock="label,identity,boilng_point_C\nK-1,ethanol,78\n")
    assert outcome.status == 0
    (line,) = outcome.said
    assert line.startswith("warning: stock.csv: boilng_point_C: ")


@pytest.mark.parametrize(
    ("label", "targets", "said"),
    [
        ("水-3", ("--pdf", "a.pdf"), "what the PDF cannot set is spelled out there: [U+6C34]-3"),
        ("水-3", ("--html", "a.html", "--key", "k.pdf"), "what the PDF cannot set is spelled out"),
        ("水-3", ("--html", "a.html"), None),
        ("Σ-3", ("--pdf", "a.pdf"), None),
        ("K\u202e3", ("--html", "a.html"), "label cannot hold is spelled out there: K[U+202E]3"),
        ("x" * 130, ("--html", "a.html"), "row 2, label: is too long for a card"),
    ],
)
def test_labels_that_are_not_printed_as_they_are(
    run: Run, label: str, targets: tuple[str, ...], said: str | None
) -> None:
    outcome = run(*targets, stock=f"label,identity\n{label},ethanol\n")
    assert outcome.status == 0
    if said is None:
        assert outcome.said == []
    else:
        (line,) = outcome.said
        assert line.startswith("warning: stock.csv, row 2, label: ")
        assert said in line


# ------------------------------------------------------------------------- interrupted, harmed


def test_old_files_stay_where_writing_fails(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    Path("cards.pdf").write_text("old")

    def fail(*_: object) -> bytes:
        raise RuntimeError("no luck")

    monkeypatch.setattr(drawing, "key_pdf", fail)
    outcome = run("--pdf", "cards.pdf", "--key", "key.pdf")
    assert outcome.status == 3
    assert Path("cards.pdf").read_text() == "old"
    assert files() == {"cards.pdf"}


def test_a_full_disk_is_told(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    Path("cards.pdf").write_text("old")

    def fail(*_: object) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", fail)
    outcome = run("--pdf", "cards.pdf")
    assert (outcome.status, outcome.said) == (
        2,
        ["cards.pdf: No space left on device"],
    )
    assert Path("cards.pdf").read_text() == "old"
    assert files() == {"cards.pdf"}


def test_a_label_is_no_formula_in_csv(run: Run) -> None:
    stock = "label,identity\n=1+1,ethanol\n"
    outcome = run("--html", "cards.html", "--format", "csv", stock=stock)
    (row,) = csv.DictReader(io.StringIO(outcome.output))
    assert row["label"] == "'=1+1"
    assert "<bdi>=1+1</bdi>" in text_of("cards.html")
