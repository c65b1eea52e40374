"""What a programmer meets: results that show themselves, errors of one family, types."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

import identify
from identify.notebook.shown import Shown

CHECKOUT = Path(__file__).parents[1]
DEMO = CHECKOUT / "data" / "demo"
BOTTLES = {
    "label": ["A", "B", "C"],
    "identity": ["acetone", "methanol", "hexane"],
    "boiling_point_C": [56.1, 64.6, 68.7],
}


def page(name: str) -> identify.Measurement:
    return identify.read_runs(DEMO / name)[0]


RESULTS: dict[str, tuple[Callable[[], Any], str, set[str]]] = {
    # by what makes it: what its short form says, and the tables that it has
    "match": (lambda: identify.match(page("C-14.toml")), "methanol", {"candidates"}),
    "explain": (lambda: identify.explain(page("C-14.toml"), "ethanol"), "ethanol", {"lines"}),
    "molar mass": (lambda: identify.molar_mass(page("C-14.toml")), "g/mol", {"budget", "trials"}),
    "composition": (
        lambda: identify.composition("0.4310 g", {"CO2": "0.8235 g", "H2O": "0.5057 g"}),
        "C 52.1",
        {"work"},
    ),
    "formulas": (
        lambda: identify.formulas({"C": 59.9, "H": 13.4, "O": 26.7}, molar_mass=60.1),
        "C3H8O",
        {"empirical", "molecular"},
    ),
    "boiling point": (lambda: identify.boiling_point("77.7 C", "742 mmHg"), "°C at", {"work"}),
    "stock": (lambda: identify.check_stock(DEMO / "stock.csv"), "13 bottles", {"rows"}),
    "section": (lambda: identify.check_section(DEMO / "section.csv"), "results", {"students"}),
    "plan": (lambda: identify.plan(3, BOTTLES["identity"]), "3 liquids", {"liquids"}),
    "cards": (lambda: identify.cards(BOTTLES), "3 cards", {"cards"}),
}


@pytest.mark.parametrize("kind", RESULTS)
def test_a_result_shows_itself(kind: str) -> None:
    make, says, tables = RESULTS[kind]
    result = make()
    assert isinstance(result, Shown)
    short = repr(result)
    assert says in short
    assert len(short) < 200
    assert "\n" not in short
    assert tables <= result.tables.keys()
    data = result.to_dict()
    for name, frame in result.tables.items():
        assert len(frame) == len(data[name])
        assert all(frame.map(pd.api.types.is_scalar).all())
    assert isinstance(result.table, pd.DataFrame)
    assert len(result.table)
    html = result._repr_html_()
    assert html.startswith("<p><b>")
    assert "<table" in html


def test_what_a_label_says_is_not_markup() -> None:
    shown = identify.match(identify.Measurement("<b>&", boiling_point=56.1))._repr_html_()
    assert "<b>&lt;b&gt;&amp;" in shown


def test_frames_go_in_where_files_do(tmp_path: Path) -> None:
    trials = pd.read_csv(DEMO / "section.csv", dtype=str)
    bottles = pd.DataFrame({"label": ["C-14", "C-23"], "identity": ["methanol", "acetone"]})
    path = tmp_path / "key.csv"
    bottles.to_csv(path, index=False)
    from_frame = identify.check_section(trials, key=bottles)
    from_file = identify.check_section(DEMO / "section.csv", key=path)
    pd.testing.assert_frame_equal(from_frame.table, from_file.table)
    stock = pd.DataFrame(BOTTLES)
    stock.to_csv(path, index=False)
    checks = [identify.check_stock(one) for one in (stock, BOTTLES, path)]
    assert len({check.headline for check in checks}) == 1
    assert [check.file for check in checks] == ["data frame", "data frame", str(path)]


def test_cards_are_written(tmp_path: Path) -> None:
    out, key = tmp_path / "cards.html", tmp_path / "key.pdf"
    identify.cards(BOTTLES, out=out, key=key)
    assert "Bottle cards" in out.read_text()
    assert key.read_bytes().startswith(b"%PDF")


ERRORS: dict[str, Callable[[], Any]] = {
    "a quantity": lambda: page_with("742 furlongs"),
    "a prior": lambda: identify.match(page("C-14.toml"), prior="guess"),  # type: ignore[arg-type]
    "a table": lambda: identify.load_candidates("no such file.csv"),
    "candidates": lambda: identify.score(page("C-14.toml"), ["bottle seven"]),
    "a key": lambda: identify.check_section(DEMO / "section.csv", key="no such file.csv"),
    "a stock table": lambda: identify.check_stock({"color": ["red"]}),
    "a plan": lambda: identify.plan(1),
    "a composition": lambda: identify.formulas({"C": "much"}),
    "a name": lambda: identify.explain(page("C-14.toml"), "dichloroethane"),
    "a technique": lambda: identify.match(page("C-14.toml"), technique="sloppy"),
    "a share": lambda: identify.match(page("C-14.toml"), outside="200 %"),
    "no trial": lambda: identify.molar_mass(identify.Measurement("C-1")),
}


def page_with(pressure: str) -> identify.Measurement:
    return identify.Measurement("C-1", conditions=identify.Conditions(pressure=pressure))


@pytest.mark.parametrize("what", ERRORS)
def test_what_cannot_be_used_is_of_one_family(what: str) -> None:
    with pytest.raises(identify.UnusableInput) as refused:
        ERRORS[what]()
    assert str(refused.value)
    assert "\n" not in str(refused.value)


SCRIPT = """
from __future__ import annotations

import identify

run = identify.Measurement(label="C-14", molar_mass=32.4, boiling_point=64.6)
ranking = identify.match(run)
best: str = ranking.candidates[0].name
chance: float = ranking.candidates[0].probability
rows: int = len(identify.score(run, ["acetone", "methanol"]))
many = identify.match_many([run])
labels: list[str] = [one.label for one in identify.check_stock("stock.csv").rows]
students: list[str] = [one.student for one in identify.check_section("section.csv").students]
mass: float = identify.molar_mass(run).value
success: float = identify.plan(4, laboratory=identify.Laboratory.of("640 mmHg")).success
try:
    table = identify.load_candidates("stock.csv")
    size: int = len(table)
except identify.UnusableInput as error:
    told: str = str(error)
reveal_type(ranking.verdict)
"""


@pytest.mark.parametrize("stubs", ["with", "without"])
def test_a_users_script_is_checked_strictly(stubs: str, tmp_path: Path) -> None:
    script = tmp_path / "script.py"
    script.write_text(SCRIPT)
    configuration = tmp_path / "mypy.ini"
    pandas = "[mypy-pandas.*]\nfollow_imports = skip\n" if stubs == "without" else ""
    configuration.write_text(f"[mypy]\nstrict = true\n{pandas}")
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--config-file", configuration, script],
        # As where it is installed: a library's own errors are not the user's.
        env={**os.environ, "PYTHONPATH": str(CHECKOUT)},
        capture_output=True,
        text=True,
        cwd=tmp_path,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Literal['single match']" in done.stdout
