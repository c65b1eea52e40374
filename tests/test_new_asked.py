"""``identify-unknown new page --ask``: pages typed from paper, in a pseudo-terminal."""

from __future__ import annotations

import json
import os
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from identify.answers.forms.lines import LINES, TRIALS
from identify.answers.forms.record import FilledPage, Place
from identify.tables import read_runs
from tests.command import Run
from tests.pseudo_terminal import PseudoTerminal


@pytest.fixture
def run(invoke: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """Run the command in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return invoke


@pytest.fixture
def asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[PseudoTerminal]:
    """Give the dialog for a page, in a pseudo-terminal."""
    monkeypatch.delenv("COLUMNS", raising=False)
    with PseudoTerminal("new", "page", "C-14.toml", "--ask", folder=tmp_path) as terminal:
        yield terminal


def answered(terminal: PseudoTerminal, *pairs: tuple[str, str]) -> str:
    return "".join(terminal.answers(prompt, text) for prompt, text in pairs)


HEAD = (("label [C-14]:", ""), ("student:", "Robin"))
COMPLETE = (
    *HEAD,
    ("boiling_point (°C):", "64.6"),
    ("boiling_point_at (mmHg):", ""),
    ("boiling_point_by:", "card"),
    ("percent:", "C 37.48 H 12.58 O 49.93"),
    ("trials [1]:", ""),
    ("pressure (mmHg):", "742.4"),
    ("room (°C):", "22.4 C"),
    ("volume (mL):", "287.6"),
    ("empty (g):", "99.4925"),
    ("condensed (g):", "99.7414"),
    ("bath (°C):", "98.4"),
)
REVIEW = "  >"


def test_a_complete_page(asked: PseudoTerminal, tmp_path: Path) -> None:
    said = answered(asked, *COMPLETE)
    assert "Not measured: 22 ± 3 °C are taken" in said
    # What is still to come is not missing.
    assert "was not used" not in said
    assert "and taken as usual" not in said
    assert "error" not in said
    assert "14  " not in asked.waits_for(REVIEW)
    asked.types("")
    assert asked.ends() == 0
    assert "C-14.toml is written." in asked.screen
    assert "One match: methanol" in asked.screen
    record = tomllib.loads((tmp_path / "C-14.toml").read_text(encoding="utf-8"))
    assert record == {
        "label": "C-14",
        "student": "Robin",
        "card": {
            "boiling_point": "64.6 C",
            "boiling_point_by": "card",
            "percent": "C 37.48 H 12.58 O 49.93",
        },
        "conditions": {"pressure": "742.4 mmHg", "room": "22.4 C"},
        "flask": {"volume": "287.6 mL"},
        "trial": [{"empty": "99.4925 g", "condensed": "99.7414 g", "bath": "98.4 C"}],
    }
    assert not read_runs(tmp_path / "C-14.toml").faults


def test_a_page_with_slips_that_are_asked_about(asked: PseudoTerminal, tmp_path: Path) -> None:
    """Exchanged weighings, a wrong unit, a wrong digit: each is named at once."""
    answered(asked, *HEAD, ("boiling_point (°C):", "warm"))
    assert "write it like" in asked.answers("boiling_point (°C):", "back")
    answered(asked, ("student [Robin]:", ""), ("boiling_point (°C):", ""))
    answered(asked, ("percent:", "C=37.48 H=12.58 O=59.93"))
    said = asked.answers("percent [C=37.48 H=12.58 O=59.93]:", "C=37.48 H=12.58 O=49.93")
    assert "add up to 109.99" in said
    answered(asked, ("trials [1]:", "many"))
    assert "is not a number of trials" in asked.answers("trials [1]:", "2")
    answered(asked, ("pressure (mmHg):", "29.23"))
    assert "Did you mean 29.23 inHg" in asked.answers("pressure (mmHg) [29.23 mmHg]:", "29.23 inHg")
    answered(asked, ("room (°C):", "72.3"))
    assert "Did you mean 72.3 °F" in asked.answers("room (°C) [72.3 C]:", "72.3 F")
    answered(asked, ("volume (mL):", "287.6"), ("empty (g):", "99.7414"))
    answered(asked, ("condensed (g):", "99.4925"))
    said = asked.answers("condensed (g) [99.4925 g]:", "")  # kept, to be set right at the end
    assert "lighter than the empty one" in said.replace("\n          ", " ")
    answered(
        asked, ("bath (°C):", "98.4"), ("empty (g):", "99.4930"), ("condensed (g):", "99.7402")
    )
    answered(asked, ("bath (°C):", "same"))
    listed = asked.waits_for(REVIEW)
    number = {key: listed.split(key)[0].split()[-1] for key in ("empty 1", "condensed 1")}
    asked.types(number["empty 1"])
    answered(asked, ("empty (g) [99.7414 g]:", "99.4925"))
    assert "copied into both fields" in asked.answers("empty (g) [99.4925 g]:", "")
    answered(asked, (REVIEW, number["condensed 1"]))
    answered(asked, ("condensed (g) [99.4925 g]:", "99.7414"), (REVIEW, "colour = red"))
    assert "Press Enter" in asked.answers(REVIEW, "density = 0.791")
    asked.answers(REVIEW, "")
    assert asked.ends() == 0
    (run,) = read_runs(tmp_path / "C-14.toml")
    assert [str(trial.empty) for trial in run.trials] == ["99.4925 g", "99.4930 g"]
    assert [str(trial.bath) for trial in run.trials] == ["98.4 °C", "98.4 °C"]
    assert (str(run.density), str(run.conditions.pressure)) == ("0.791 g/mL", "29.23 inHg")
    assert "methanol" in asked.screen


def test_a_page_of_which_little_was_measured(asked: PseudoTerminal, tmp_path: Path) -> None:
    answered(asked, *HEAD, ("boiling_point (°C):", "56.1"), ("boiling_point_at (mmHg):", "n/a"))
    answered(asked, ("boiling_point_by:", "myself"))
    answered(asked, ("percent:", "not measured"), ("formula:", ""), ("trials [1]:", "0"))
    answered(asked, ("molar_mass (g/mol):", "58.1"), ("molar_mass_by:", "ideal gas"))
    answered(asked, (REVIEW, ""))
    assert asked.ends() == 0
    assert tomllib.loads((tmp_path / "C-14.toml").read_text(encoding="utf-8")) == {
        "label": "C-14",
        "student": "Robin",
        "card": {
            "boiling_point": "56.1 C",
            "boiling_point_by": "myself",
            "molar_mass": "58.1 g/mol",
            "molar_mass_by": "ideal gas",
        },
    }
    assert "match" in asked.screen.partition("is written.")[2]


def test_a_page_with_a_difference_and_the_size_of_the_flask(asked, tmp_path: Path) -> None:
    """As many pages of this experiment are: no room, no barometer, words for the bath."""
    nothing = ("boiling_point (°C):", "percent:", "formula:")
    answered(asked, *HEAD, *((prompt, "") for prompt in nothing), ("trials [1]:", ""))
    nothing = ("pressure (mmHg):", "height (m):", "room (°C):", "volume (mL):", "water_mass (g):")
    answered(asked, *((prompt, "") for prompt in (*nothing, "water_volume (mL):")))
    answered(asked, ("size (mL):", "125"), ("empty (g):", ""), ("gain (g):", "0.3703"))
    answered(asked, ("bath (°C):", "boiling water"), (REVIEW, ""))
    assert asked.ends() == 0
    assert "[condition-assumed]" in asked.screen
    (run,) = read_runs(tmp_path / "C-14.toml")
    assert (str(run.flask.size), str(run.trials[0].gain)) == ("125 mL", "0.3703 g")


@pytest.mark.parametrize(
    ("keys", "status", "said"),
    [("\x03", 130, "stopped; nothing is written"), ("\x04", 2, "the input ended before")],
    ids=["Ctrl-C", "Ctrl-D"],
)
def test_stopped_in_the_middle(
    asked: PseudoTerminal, tmp_path: Path, keys: str, status: int, said: str
) -> None:
    answered(asked, *HEAD)
    asked.waits_for("boiling_point (°C):")
    # Python's input() writes its prompt a moment before it listens: a signal in between is kept
    # until the next key. Nobody is that quick, but a machine that is busy is slow.
    time.sleep(1.0)
    asked.presses(keys)
    assert asked.ends() == status
    assert said in asked.screen
    assert "Traceback" not in asked.screen
    assert os.listdir(tmp_path) == []


def test_nothing_typed_is_not_a_page(asked: PseudoTerminal, tmp_path: Path) -> None:
    answered(asked, HEAD[0], ("student:", ""), ("boiling_point (°C):", ""), ("percent:", ""))
    answered(
        asked, ("formula:", ""), ("trials [1]:", "0"), ("molar_mass (g/mol):", ""), (REVIEW, "")
    )
    assert asked.ends() == 2
    assert "no reading was typed; nothing is written" in asked.screen
    assert os.listdir(tmp_path) == []


def test_a_file_that_came_meanwhile_stays(asked: PseudoTerminal, tmp_path: Path) -> None:
    answered(asked, *HEAD, ("boiling_point (°C):", "56.1"), ("boiling_point_at (mmHg):", ""))
    answered(asked, ("boiling_point_by:", ""), ("percent:", ""), ("formula:", ""))
    answered(asked, ("trials [1]:", "0"), ("molar_mass (g/mol):", "58.1"), ("molar_mass_by:", ""))
    (tmp_path / "C-14.toml").write_text("mine", encoding="utf-8")
    answered(asked, (REVIEW, ""))
    assert asked.ends() == 2
    assert (tmp_path / "C-14.toml").read_text(encoding="utf-8") == "mine"
    assert 'boiling_point = "56.1 C"' in asked.screen  # so that it is not typed in vain
    assert os.listdir(tmp_path) == ["C-14.toml"]


def test_the_answer_alone_goes_to_standard_output(tmp_path: Path) -> None:
    output = tmp_path / "answer.json"
    arguments = ("new", "page", "C-14.toml", "--ask", "--format", "json")
    with PseudoTerminal(*arguments, folder=tmp_path, output=output) as terminal:
        answered(terminal, *COMPLETE, (REVIEW, ""))
        assert terminal.ends() == 0
    (answer,) = json.loads(output.read_text(encoding="utf-8"))
    assert answer["candidates"][0]["name"] == "methanol"


def test_there_is_no_terminal_to_ask_in(run: Run) -> None:
    outcome = run("new", "page", "C-14.toml", "--ask")
    assert outcome.status == 2
    assert outcome.said[0].startswith("--ask: there is no terminal to ask in")
    assert os.listdir() == []


def test_a_typed_page_is_what_its_record_says(tmp_path: Path) -> None:
    page = FilledPage({Place("label"): "C-14", Place(TRIALS): "2"})
    for line in LINES:
        if line.section and line.example:
            for trial in (1, 2) if line.section == "trial" else (0,):
                page = page.with_text(Place(line.key, trial), line.example)
    path = tmp_path / "C-14.toml"
    path.write_text(page.text(), encoding="utf-8")
    runs = read_runs(path)
    assert not runs.faults
    made = page.measurement()
    assert runs[0].conditions.pressure == made.conditions.pressure
    assert (runs[0].percent, runs[0].flask) == (made.percent, made.flask)
    for one, other in zip(runs[0].trials, made.trials, strict=True):
        assert (one.empty, one.condensed, one.bath) == (other.empty, other.condensed, other.bath)
