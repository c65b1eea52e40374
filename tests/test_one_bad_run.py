"""One unknown that cannot be answered costs one line: all others are answered."""

from __future__ import annotations

import json
import warnings
from collections.abc import Callable
from pathlib import Path
from pkgutil import resolve_name
from typing import Any

import numpy as np
import pandas as pd
import pytest

from identify import Measurement, UnknownClassifier, check_section, match, match_many, read_runs
from identify.answers.html import match_page
from identify.bench.bench import Bench
from identify.notebook.plausible import temperature_range
from identify.notebook.quantity.quantities import Quantity
from identify.observables.catalog import LIQUID_CONSTANTS
from tests.command import Run

ROWS = """label,student,empty_g,condensed_g,bath_C,room_C,pressure_mmHg,volume_mL,boiling_point_C
D-02,Ada,99.0663,99.4799,98.7,22.9,745.0,286.9,78.4
X-1,Ben,99.0665,99.4701,98.5,22.9,745.0,286.9,78.4
D-05,Cem,98.3980,98.8548,98.6,23.4,745.6,288.8,56.1
"""
FAILED = "the program itself failed (ZeroDivisionError: division by zero); please report it"


@pytest.fixture
def table_file(tmp_path: Path) -> Path:
    file = tmp_path / "section.csv"
    file.write_text(ROWS, encoding="utf-8")
    return file


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Have the program fail at what is not to be answered."""

    def at(*labels: str, error: Exception | None = None) -> None:
        sound = Bench.of

        def of(run: Measurement) -> Bench:
            if run.label in labels:
                raise error or ZeroDivisionError("division by zero")
            return sound(run)

        monkeypatch.setattr(Bench, "of", of)

    return at


@pytest.mark.parametrize(
    ("error", "status", "said"),
    [
        (None, 3, FAILED),
        (ValueError("of a library"), 3, "the program itself failed (ValueError: of a library)"),
        (MemoryError(), 2, "there is not enough memory for this unknown"),
    ],
)
@pytest.mark.parametrize("command", ["match", "molar-mass", "section"])
def test_of_a_command(
    invoke: Run,
    failing: Callable[..., None],
    table_file: Path,
    command: str,
    error: Exception | None,
    status: int,
    said: str,
) -> None:
    failing("X-1", error=error)
    outcome = invoke(command, table_file, "--format", "json")
    assert outcome.status == status
    (line,) = outcome.said
    assert line.startswith(f"{table_file}, row 3, X-1: {said}")
    answers = outcome.data["students"] if command == "section" else outcome.data
    answered = [one["label"] for one in answers if one["candidates"] or command == "molar-mass"]
    assert answered == ["D-02", "D-05"]


def test_of_a_section_says_whose_row_is_set_aside(
    failing: Callable[..., None], table_file: Path
) -> None:
    whole = check_section(table_file)
    failing("X-1")
    section = check_section(table_file)
    (row,) = section.set_aside
    assert (row.row, row.student, row.label, row.reason) == (3, "Ben", "X-1", FAILED)
    assert [one.student for one in section.students] == ["Ada", "Ben", "Cem"]
    for ours, theirs in zip(section.students, whole.students, strict=True):
        if ours.student != "Ben":
            assert ours.ranking == theirs.ranking


def test_where_no_run_is_to_blame(
    invoke: Run, monkeypatch: pytest.MonkeyPatch, table_file: Path
) -> None:
    def fail(*_: object) -> None:
        raise RuntimeError("at any")

    monkeypatch.setattr("identify.section.section.weighing_faults", fail)
    outcome = invoke("section", table_file, "--format", "json")
    assert outcome.status == 3
    assert all("(RuntimeError: at any)" in line for line in outcome.said)


def test_of_match_many(failing: Callable[..., None], table_file: Path) -> None:
    failing("X-1")
    runs = read_runs(table_file)
    with pytest.warns(UserWarning, match=r"row 3, X-1: the program itself failed"):
        found = match_many(runs)
    assert list(dict.fromkeys(found["label"])) == ["D-02", "D-05"]
    assert found.attrs["faults"] == [f"{table_file}, row 3, X-1: {FAILED}"]


def test_of_the_classifier(failing: Callable[..., None]) -> None:
    readings = pd.DataFrame({"molar_mass": [46.0, 58.0, 59.1], "boiling_point_C": [78.4, 60, 56.3]})
    fitted = UnknownClassifier(identifier="name").fit(readings)
    failing("row 2")
    with pytest.warns(UserWarning, match="X, row 2: the program itself failed"):
        probabilities = fitted.predict_proba(readings)
    assert np.isnan(probabilities).any(axis=1).tolist() == [False, True, False]
    with pytest.warns(UserWarning, match="X, row 2: the program itself failed"):
        assert fitted.predict(readings).tolist() == ["ethanol", "", "acetone"]


def test_a_record_that_fails_while_it_is_read(
    invoke: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, table_file: Path
) -> None:
    record = tmp_path / "X-1.toml"
    record.write_text('label = "X-1"\n[card]\nboiling_point = "64.6 C"\n', encoding="utf-8")

    def fail(*_: object) -> None:
        raise IndexError("out of range")

    monkeypatch.setattr("identify.tables.record_entries", fail)
    outcome = invoke("match", record, table_file, "--format", "json")
    assert outcome.status == 3
    assert outcome.said == [
        f"{record}: the program itself failed (IndexError: out of range); please report it"
    ]
    assert [one["label"] for one in outcome.data] == ["D-02", "X-1", "D-05"]


# ------------------------------------------------------------------- temperatures in other units


@pytest.mark.parametrize(
    ("read", "meant"),
    [
        (159.0, "F"),  # 70.6 °C, and 159 K would be -114 °C: both can be
        (112.0, "F"),  # 44.4 °C rather than -161 °C
        (200.0, "K"),  # -73 °C rather than 93 °C
        (500.0, None),
    ],
)
def test_melting_point_in_the_unit_that_is_nearest(read: float, meant: str | None) -> None:
    plausible = LIQUID_CONSTANTS["melting_point"].plausible
    assert plausible is not None
    found = plausible.meant(Quantity(read, "C"))
    assert (found.unit if found else None) == meant


def test_distance_from_what_is_usual_is_in_kelvins() -> None:
    range_of_any = temperature_range("any", -273.0, 300.0, 0.0, "any")
    # 100 °F is 38 °C away from 0 °C, 100 K is 173 °C away; and -200 °F 129 °C against 73 °C.
    found = range_of_any.meant(Quantity(100.0, "C"))
    assert found is not None
    assert found.unit == "F"


@pytest.mark.parametrize("melting_point", [159.0, 0.0, -0.0, -273.0, 432.15, 999.0])
def test_melting_point_is_the_same_for_one_and_for_many(melting_point: float) -> None:
    run = Measurement("A", boiling_point=78.4, melting_point=melting_point)
    alone = match(run)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        many = match_many([run, Measurement("B", boiling_point=56.1)])
    first = many[(many["label"] == "A") & (many["rank"] == 1)].iloc[0]
    assert first["name"] == alone.candidates[0].name
    assert first["probability"] == pytest.approx(alone.candidates[0].probability, rel=1e-12)
    json.dumps(alone.to_dict(), allow_nan=False)


@pytest.mark.parametrize("form", ["table", "json", "csv"])
@pytest.mark.parametrize("command", ["match", "molar-mass"])
def test_of_what_is_printed(
    invoke: Run, monkeypatch: pytest.MonkeyPatch, table_file: Path, command: str, form: str
) -> None:
    """A page that cannot be printed is the fault of its row; the others are."""
    homes = {
        ("match", "table"): "identify.answers.text.ranking_lines",
        ("match", "json"): "identify.cli.commands.match._as_data",
        ("match", "csv"): "identify.cli.commands.match._as_data",
        ("molar-mass", "table"): "identify.answers.text.calculations.molar_mass.molar_mass_lines",
        ("molar-mass", "json"): "identify.calculations.molar_mass.MolarMassResult.to_dict",
        ("molar-mass", "csv"): "identify.cli.commands.molar_mass._row",
    }
    home = homes[command, form]
    sound = resolve_name(home)

    def of(*arguments: Any, **further: Any) -> Any:
        if any("X-1" in (getattr(one, "label", ""), one) for one in arguments):
            raise ZeroDivisionError("division by zero")
        return sound(*arguments, **further)

    monkeypatch.setattr(home, of)
    outcome = invoke(command, table_file, "--format", form)
    assert outcome.status == 3
    assert outcome.said == [f"{table_file}, row 3, X-1: {FAILED}"]
    assert all(label in outcome.output for label in ("D-02", "D-05"))


def test_of_a_page_to_hand_on(
    invoke: Run, monkeypatch: pytest.MonkeyPatch, table_file: Path
) -> None:
    sound = match_page.match_page

    def of(answered: Any, *further: Any) -> str:
        if answered[0][0].label == "X-1":
            raise ZeroDivisionError("division by zero")
        return sound(answered, *further)

    monkeypatch.setattr(match_page, "match_page", of)
    folder = table_file.parent
    outcome = invoke("match", table_file, "--report", folder / "{label}.html")
    assert outcome.status == 3
    assert outcome.said == [f"--report: {folder / 'X-1.html'}: {FAILED}"]
    assert sorted(path.stem for path in folder.glob("*.html")) == ["D-02", "D-05"]


@pytest.mark.parametrize(
    ("home", "place", "lost"),
    [
        ("identify.answers.text.section.section_lines", "{}/section.csv", ""),
        ("identify.answers.files.workbook.write_workbook", "--out: {}/out.xlsx", "out.xlsx"),
        ("identify.answers.html.section_page.section_page", "--report: {}/all.html", "all.html"),
        ("identify.answers.files.feedback_folder.write_feedback", "--feedback: {}/pages", "pages"),
    ],
)
def test_what_cannot_be_written_of_a_section_costs_itself_alone(
    invoke: Run, monkeypatch: pytest.MonkeyPatch, table_file: Path, home: str, place: str, lost: str
) -> None:
    def fail(*_: object) -> None:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(home, fail)
    folder = table_file.parent
    asked = {"--out": "out.xlsx", "--report": "all.html", "--feedback": "pages"}
    options = [f"{name}={folder / written}" for name, written in asked.items()]
    outcome = invoke("section", table_file, *options)
    assert outcome.status == 3
    assert outcome.said[-1] == f"{place.format(folder)}: {FAILED}"
    assert ("D-05" in outcome.output) == bool(lost)
    left = {path.name for path in folder.iterdir()}
    assert left == {table_file.name, *asked.values()} - {lost}


@pytest.mark.parametrize(
    ("home", "place"),
    [
        ("identify.cli.commands.check_stock._write", "{}/stock.csv"),
        ("identify.answers.html.stock_page.stock_page", "--report: {}/all.html"),
    ],
)
def test_what_cannot_be_written_of_a_stock_costs_itself_alone(
    invoke: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, home: str, place: str
) -> None:
    def fail(*_: object) -> None:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(home, fail)
    stock, page = tmp_path / "stock.csv", tmp_path / "all.html"
    stock.write_text("label,identity\nC-1,ethanol\n", encoding="utf-8")
    outcome = invoke("check-stock", stock, "--report", page)
    assert (outcome.status, outcome.said) == (3, [f"{place.format(tmp_path)}: {FAILED}"])
    assert ("ethanol" in outcome.output, page.exists()) == ("page" in home, "page" not in home)
