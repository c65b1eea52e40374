"""The page as it was meant: which readings a named slip changes, and that pictures show them."""

from __future__ import annotations

from pathlib import Path

import pytest

from identify import Measurement, load_candidates, match, read_runs
from identify.answers.pictures.candidates import Evidence, deviations_picture, place_picture
from identify.matching.evidence import Matcher
from identify.matching.slips.meant import as_meant
from identify.notebook.measurement import Conditions, Flask, Trial
from tests.command import Run

DEMO = Path(__file__).parents[1] / "data" / "demo"
TRIALS = (Trial("91.0 g", "91.5 g", "98 C"), Trial("92.0 g", "92.4 g", "98 C"))
RUN = Measurement(
    "T",
    percent={"C": 52.1, "H": 13.1},
    boiling_point="78.4 C",
    conditions=Conditions(pressure="29.3 mmHg", room="22 C"),
    flask=Flask(volume="250 mL"),
    trials=TRIALS,
)


@pytest.mark.parametrize(
    ("repaired", "reading", "is_text"),
    [
        ({"pressure": "29.3 inHg"}, lambda run: run.conditions.pressure, "29.3 inHg"),
        ({"volume": "282 mL"}, lambda run: run.flask.volume, "282 mL"),
        ({"boiling_point": "78.4 F"}, lambda run: run.boiling_point, "78.4 °F"),
        ({"percent H": "31.1 %"}, lambda run: run.percent["H"], "31.1 %"),
        ({"trial 2 condensed": "92.6 g"}, lambda run: run.trials[1].condensed, "92.6 g"),
        ({"trial 1": "left out"}, lambda run: run.trials[0].empty, "92.0 g"),
        ({"bath": "98 F"}, lambda run: run.trials[1].bath, "98 °F"),
        ({"molar_mass_by": "ideal gas"}, lambda run: run.molar_mass_by, "ideal gas"),
    ],
)
def test_the_reading_is_set_right(repaired, reading, is_text) -> None:
    meant = as_meant(RUN, repaired)
    assert meant is not None
    assert str(reading(meant)) == is_text


@pytest.mark.parametrize(
    "repaired",
    [{}, {"missing_mass": "150 mg"}, {"trial 3 empty": "91 g"}, {"room": "22 C"}, {"volume": "x"}],
)
def test_what_changes_no_reading_gives_no_other_page(repaired) -> None:
    meant = as_meant(RUN, repaired)
    assert meant is None or (meant == RUN and not repaired)


@pytest.mark.parametrize(("record", "is_marked"), [("C-31", True), ("C-14", False)])
def test_pictures_show_both_where_a_slip_is_named(record: str, is_marked: bool) -> None:
    (run,) = read_runs(DEMO / f"{record}.toml")
    matcher = Matcher(load_candidates())
    evidence = Evidence.of(run, match(run), matcher)
    rows = [one.index for one in evidence.ranking.candidates[:4]]
    deviations = deviations_picture(evidence, rows, "d")
    place = place_picture(evidence, "p")
    assert deviations is not None
    assert place is not None
    assert ("set right 84.2 g/mol" in place.summary) is is_marked
    assert set(evidence.meant) == ({"molar_mass"} if is_marked else set())


def test_molar_mass_writes_a_page_to_hand_in(invoke: Run, tmp_path: Path) -> None:
    page = tmp_path / "C-23.html"
    told = invoke("molar-mass", DEMO / "C-23.toml", "--as", "acetone", "--report", page)
    assert told.status == 0
    text = page.read_text(encoding="utf-8")
    for part in ("Molar mass of C-23", "Budget", "Working", "The record as it was read", "Caution"):
        assert part in text
    assert "--technique" not in text
    pages = tmp_path / "{label}.html"
    assert invoke("molar-mass", *sorted(DEMO.glob("C-[13]*.toml")), "--report", pages).status == 0
    assert {file.name for file in tmp_path.iterdir()} == {"C-14.html", "C-23.html", "C-31.html"}
    refused = invoke("molar-mass", DEMO / "C-23.toml", "--report", tmp_path / "page.docx")
    assert refused.status == 2
    assert refused.output == ""
