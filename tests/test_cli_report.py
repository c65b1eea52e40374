"""``--report``: the page that match, check-stock and section write beside their answer."""

from __future__ import annotations

from pathlib import Path

import pytest

from identify.cli.app import main
from tests.command import Outcome, Run

DEMO = Path(__file__).parents[1] / "data" / "demo"
GIVEN = {
    "match": (DEMO / "C-31.toml",),
    "check-stock": (DEMO / "stock.csv",),
    "section": (DEMO / "section.csv", "--key", DEMO / "stock.csv"),
}


@pytest.fixture
def run(invoke: Run) -> Run:
    def call(name: str, report: object, *more: object) -> Outcome:
        return invoke(name, *GIVEN[name], *more, "--report", report)

    return call


@pytest.mark.parametrize(
    ("command", "status", "says"),
    [
        ("match", 0, "cyclohexane"),
        ("check-stock", 1, "cards-exchanged"),
        ("section", 2, "D-05"),  # rows of the demo's key are wrong on purpose
    ],
)
def test_page_is_written(run: Run, tmp_path: Path, command: str, status: int, says: str) -> None:
    page = tmp_path / "page.html"
    outcome = run(command, page)
    assert outcome.status == status
    html = page.read_text(encoding="utf-8")
    assert html.lower().startswith("<!doctype html>")
    assert says in html
    assert outcome.output  # the answer is printed all the same
    assert [path.name for path in tmp_path.iterdir()] == ["page.html"]


@pytest.mark.parametrize("command", GIVEN)
def test_same_input_same_bytes(run: Run, tmp_path: Path, command: str) -> None:
    run(command, tmp_path / "one.html")
    run(command, tmp_path / "two.html")
    assert (tmp_path / "one.html").read_bytes() == (tmp_path / "two.html").read_bytes()


@pytest.mark.parametrize("command", GIVEN)
@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("page.pdf", "ends in none of .html, .htm"),
        ("nowhere/page.html", "there is no such folder"),
    ],
)
def test_what_cannot_be_written(
    run: Run, tmp_path: Path, command: str, name: str, said: str
) -> None:
    outcome = run(command, tmp_path / name)
    assert outcome.status == 2
    assert outcome.output == ""
    assert outcome.complaints.startswith("--report: ")
    assert said in outcome.complaints
    assert len(outcome.complaints.splitlines()) == 1
    assert not list(tmp_path.iterdir())


def test_never_over_the_input(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = tmp_path / "stock.html"
    page.write_bytes((DEMO / "stock.csv").read_bytes())
    assert main(["check-stock", str(page), "--report", str(page)]) == 2
    assert "would be lost" in capsys.readouterr().err
    assert page.read_bytes() == (DEMO / "stock.csv").read_bytes()


def test_a_page_that_fails_leaves_the_old_one(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = tmp_path / "page.html"
    page.write_text("old", encoding="utf-8")

    def fail(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("identify.notebook.saving.os.replace", fail)
    outcome = run("match", page)
    assert outcome.status == 2
    assert "No space left on device" in outcome.complaints
    assert page.read_text(encoding="utf-8") == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["page.html"]
