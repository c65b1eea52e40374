"""Published pages of the vapor-density experiment are answered as they stand, from every reading.

Each page in ``published_pages/`` is one set of weighings as a handout, a report or an exercise
prints it, typed as a student would type it from paper: units, words and what is missing as there.
Facts and figures only. A page holds

name, source
    The source is a site and its number for the document, or a textbook and its exercise.
record
    The run record.
liquid
    Where the source names it.
molar_mass, trials
    As the source prints it, of the page and of each trial, with as many digits.
shortcut, trial_shortcuts, why
    Where m R T / (P V) of the page's readings is not what the source prints: that value, worked out
    by hand with R = 8.314463 J/(mol K), and what the source did.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from identify import read_runs
from identify.calculations.molar_mass import molar_mass
from identify.notebook.quantity.notation import last_digit_of

Page = dict[str, Any]

PAGES: list[Page] = [
    page
    for file in sorted((Path(__file__).parent / "published_pages").glob("*.toml"))
    for page in tomllib.loads(file.read_text(encoding="utf-8"))["page"]
]
BY_NAME = pytest.mark.parametrize("page", PAGES, ids=lambda page: page["name"])
WORKED_OUT = [page for page in PAGES if "shortcut" in page or "molar_mass" in page]
TRIAL_BY_TRIAL = [page for page in PAGES if "trial_shortcuts" in page or "trials" in page]


@pytest.fixture
def path(page: Page, tmp_path: Path) -> Path:
    """Write the page's record into a file."""
    file = tmp_path / "page.toml"
    file.write_text(page["record"], encoding="utf-8")
    return file


def agrees(value: float, printed: str) -> bool:
    """Say whether a value is the printed one within its rounding."""
    return abs(value - float(printed)) <= 0.5001 * last_digit_of(printed)


@BY_NAME
def test_a_page_is_answered_from_every_reading(page, path, invoke):
    outcome = invoke("match", path, "--format", "json")
    assert (outcome.status, outcome.complaints) == (0, "")
    (answer,) = outcome.data
    assert answer["verdict"]
    unused = [found for found in answer["findings"] if found["code"].endswith("unused")]
    assert not unused


@pytest.mark.parametrize("page", WORKED_OUT, ids=lambda page: page["name"])
def test_the_shortcut_is_the_printed_molar_mass(page, path, invoke):
    (answer,) = invoke("match", path, "--format", "json").data
    (run,) = read_runs(path)
    found = run.molar_mass.value if run.molar_mass else answer["molar_mass"]["ideal_gas"]
    assert agrees(found, page.get("shortcut", page.get("molar_mass")))


@pytest.mark.parametrize("page", TRIAL_BY_TRIAL, ids=lambda page: page["name"])
def test_each_trial_gives_its_printed_molar_mass(page, path):
    (run,) = read_runs(path)
    trials = molar_mass(run, draws=0).trials
    printed = page.get("trial_shortcuts", page.get("trials"))
    assert len(trials) == len(printed)
    assert [agrees(trial.ideal_gas, text) for trial, text in zip(trials, printed, strict=True)] == [
        True
    ] * len(printed)


def test_where_the_source_prints_otherwise_the_page_says_why():
    for page in PAGES:
        assert ("why" in page) == ("shortcut" in page or "trial_shortcuts" in page), page["name"]


def test_there_are_many_pages_of_many_sources():
    sources = [page["source"] for page in PAGES]
    assert len({page["name"] for page in PAGES}) == len(PAGES) >= 45
    assert max(map(sources.count, sources)) <= 4
    assert len({source.split(",")[0].split(":")[0] for source in sources}) >= 30
