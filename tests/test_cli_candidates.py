"""``candidates``: tables of compounds, looked up, searched and built from the command line."""

from __future__ import annotations

import csv
import gzip
import io
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from identify.cli import main
from identify.compounds.filters import COMMONLY_SOLD
from identify.compounds.table import CandidateTable

CHECKOUT = Path(__file__).resolve().parents[1]


class Outcome(NamedTuple):
    status: int
    output: str
    complaints: str

    @property
    def lines(self) -> list[str]:
        return self.complaints.splitlines()


Run = Callable[..., Outcome]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.setenv("COLUMNS", "80")

    def call(*arguments: object) -> Outcome:
        status = main(["candidates", *map(str, arguments)])
        return Outcome(status, *capsys.readouterr())

    return call


@pytest.mark.parametrize(
    "arguments",
    [
        ("show", "acetone"),
        ("acetone",),
        ("--top", "1", "acetone"),
        ("--format", "table", "67-64-1"),
    ],
)
def test_show_may_be_left_out(run: Run, arguments: tuple[str, ...]) -> None:
    outcome = run(*arguments)
    assert (outcome.status, outcome.complaints) == (0, "")
    assert outcome.output == run("show", "acetone").output
    assert outcome.output.startswith("acetone  C3H6O\n")
    assert outcome.output.endswith("Names in brackets are sources: data/SOURCES.md.\n")


def test_without_a_name(run: Run) -> None:
    outcome = run()
    assert (outcome.status, outcome.output) == (2, "")
    assert outcome.lines == [
        "identify-unknown candidates: Missing command; see identify-unknown candidates --help"
    ]


@pytest.mark.parametrize("command", ["show", "find", "build"])
def test_help_has_a_worked_example(run: Run, command: str) -> None:
    outcome = run(command, "--help")
    assert outcome.status == 0
    assert f"\n    identify-unknown candidates {command} " in outcome.output
    assert command in run("--help").output


@pytest.mark.parametrize("form", ["json", "csv"])
def test_what_was_built_for_other_programs(run: Run, tmp_path: Path, form: str) -> None:
    source, table, index = (tmp_path / name for name in ("few.csv", "few.parquet", "few.arrow"))
    source.write_text("smiles,bp_C\nCCO,78\n[Na+].[Cl-],100\nCCCO,97\n", encoding="utf-8")
    built = run("build", source, "--out", table, "--format", form)
    sorted_ = run("index", table, "--out", index, "--format", form)
    assert (built.status, sorted_.status) == (0, 0)
    rows = [
        json.loads(one.output) if form == "json" else next(csv.DictReader(io.StringIO(one.output)))
        for one in (built, sorted_)
    ]
    counts = ("compounds", "no_volatile_liquid", "cannot_be_read")
    assert [int(rows[0][name]) for name in counts] == [2, 1, 0]
    assert (rows[0]["table"], Path(rows[0]["set_aside"]).exists()) == (str(table), True)
    assert rows[1] == {"table": str(table), "index": str(index)}


def compounds(outcome: Outcome) -> list[dict[str, Any]]:
    assert outcome.status == 0
    return list(json.loads(outcome.output))


@pytest.mark.parametrize(
    ("conditions", "fits", "there", "not_there"),
    [
        (
            ("--formula", "C4H8O"),
            lambda one: one["formula"] == "C4H8O",
            "2-butanone",
            "ethanol",
        ),
        (
            ("--formula", "CH3(CH2)2OH"),
            lambda one: one["formula"] == "C3H8O",
            "1-propanol",
            "acetone",
        ),
        (
            ("--molar-mass", "72.1", "--within", "1%"),
            lambda one: abs(one["molar_mass"] - 72.1) <= 0.721,
            "2-butanone",
            "ethanol",
        ),
        (
            ("--molar-mass", "72.1 g/mol", "--within", "0.02 g/mol"),
            lambda one: abs(one["molar_mass"] - 72.1) <= 0.02,
            "2-butanone",
            "pentane",
        ),
        (
            ("--molar-mass", "72,1"),
            lambda one: abs(one["molar_mass"] / 72.1 - 1.0) <= 0.05,
            "pentane",
            "hexane",
        ),
        (
            ("--molar-mass-between", "58", "58.2"),
            lambda one: 58.0 <= one["molar_mass"] <= 58.2,
            "acetone",
            "ethanol",
        ),
        (
            ("--boiling-between", "-10 C", "273.15 K"),
            lambda one: -10.0 <= one["boiling_point_C"] <= 0.0,
            "butane",
            "acetone",
        ),
        (
            ("--boiling-between", "50", "60", "--contains-group", "ketone"),
            lambda one: "ketone" in one["groups"] and 50 <= one["boiling_point_C"] <= 60,
            "acetone",
            "methyl acetate",
        ),
        (
            ("--boiling-between", "70", "85", "--contains-group", "Alcohol", "--commonly-sold"),
            lambda one: "alcohol" in one["groups"] and one["inventories"] >= COMMONLY_SOLD,
            "ethanol",
            "benzene",
        ),
        (
            ("--boiling-between", "60", "90", "--elements", "c h"),
            lambda one: set(one["formula"]) <= set("CH0123456789"),
            "benzene",
            "ethanol",
        ),
        (
            ("--contains-group", "ester", "--contains-group", "organic chlorine"),
            lambda one: {"ester", "organic chlorine"} <= set(one["groups"].split("; ")),
            "methyl chloroacetate",
            "ethyl acetate",
        ),
    ],
)
def test_find(
    run: Run,
    table: CandidateTable,
    conditions: tuple[str, ...],
    fits: Callable[[dict[str, Any]], bool],
    there: str,
    not_there: str,
) -> None:
    found = compounds(run("find", *conditions, "--top", "9999", "--format", "json"))
    assert all(fits(one) for one in found)
    names = [one["name"] for one in found]
    assert there in names
    assert not_there in table.text("name")
    assert not_there not in names


@pytest.mark.parametrize(
    ("conditions", "key"),
    [
        (("--boiling-between", "60", "80"), lambda one: one["boiling_point_C"]),
        (("--molar-mass", "72.1"), lambda one: (one["molar_mass"], one["boiling_point_C"])),
        (("--formula", "C4H8O"), lambda one: (-one["inventories"], one["boiling_point_C"])),
    ],
)
def test_order(run: Run, conditions: tuple[str, ...], key: Callable[[Any], Any]) -> None:
    found = compounds(run("find", *conditions, "--top", "9999", "--format", "json"))
    assert len(found) > 3
    assert found == sorted(found, key=key)


@pytest.mark.parametrize("columns", ["60", "80", "120"])
def test_find_printed(run: Run, monkeypatch: pytest.MonkeyPatch, columns: str) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    outcome = run("find", "--boiling-between", "144", "145", "--top", "200")
    assert outcome.status == 0
    heading, *rows = outcome.output.splitlines()
    assert heading.split() == ["name", "formula", "g/mol", "boils", "at", "°C", "sold", "CAS"]
    assert max(map(len, (heading, *rows))) <= int(columns)
    assert any(" ~144." in row for row in rows)
    cut = run("find", "--boiling-between", "144", "145", "--top", "2")
    assert len(cut.output.splitlines()) < 9 < len(rows)
    assert "2 shown; see --top" in cut.complaints


def test_find_as_csv(run: Run) -> None:
    outcome = run("find", "--formula", "C2H6O", "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(outcome.output)))
    assert {"ethanol", "dimethyl ether"} <= {row["name"] for row in rows}
    assert {"boiling_point_source", "critical_source", "virial_source"} <= set(rows[0])


def test_find_nothing(run: Run) -> None:
    outcome = run("find", "--formula", "C2H6O", "--boiling-between", "500", "600")
    assert (outcome.status, outcome.output) == (0, "")
    assert outcome.lines == ["no compound of the table meets all of these conditions"]


@pytest.mark.parametrize(
    ("conditions", "fragment"),
    [
        ((), "give at least one condition"),
        (("--formula", "Xx2"), "--formula: "),
        (("--elements", "C Xx"), '--elements: "Xx" is not an element of the table'),
        (("--contains-group", "estr"), '--contains-group: "estr" is not a group of the table'),
        (("--contains-group", ""), '--contains-group: "" is not a group of the table'),
        (("--boiling-between", "80", "60"), '"80" is above "60"; give the lower first'),
        (("--boiling-between", "warm", "60"), '--boiling-between: "warm"'),
        (("--molar-mass-between", "58", "60 C"), "--molar-mass-between: "),
        (("--molar-mass", "heavy"), '--molar-mass: "heavy"'),
        (("--molar-mass", "72", "--within", "many"), '--within: "many"'),
        (("--within", "2%"), "--within: says how far"),
        (("--molar-mass", "72", "--molar-mass-between", "70", "75"), "--molar-mass: leave it out"),
        (("--formula", "C2H6O", "--candidates", "missing.csv"), "missing.csv: there is no such"),
    ],
)
def test_conditions_that_cannot_be_used(
    run: Run, conditions: tuple[str, ...], fragment: str
) -> None:
    outcome = run("find", *conditions)
    assert (outcome.status, outcome.output, len(outcome.lines)) == (2, "", 1)
    assert fragment in outcome.lines[0]


def test_build_and_look_up(run: Run, tmp_path: Path) -> None:
    source, out = tmp_path / "shelf.csv", tmp_path / "shelf.parquet"
    source.write_text(
        "code,structure,boils\nK-7,CC(C)=O,\nD-02,CC(O)C(C)OCCS,181.5\nD-03,[Na+].[Cl-],\n",
        encoding="utf-8",
    )
    columns = ("--smiles-column", "structure", "--name-column", "code")
    outcome = run(
        "build", source, "--out", out, *columns, "--boiling-point-column", "boils", "--jobs", "1"
    )
    assert outcome.status == 0
    assert outcome.output == f"{out}: 2 compounds\n"
    assert [line.replace(str(tmp_path), "") for line in outcome.lines] == [
        '/shelf.csv: boiling points in C from "boils"',
        "1 record set aside, no volatile liquid: salts, mixtures, ions, radicals and such",
        "/shelf.set-aside.csv lists them, with reasons",
    ]
    shown = run("show", "D-02", "--candidates", out)
    text = " ".join(shown.output.split())
    assert "boiling point 181.5 ± 0.5 °C at 101.325 kPa (given in " in text
    assert "critical point" in text
    assert "median of the 5 compounds most like it" in text
    (found,) = compounds(
        run("find", "--contains-group", "thiol", "--candidates", out, "--format", "json")
    )
    assert found["name"] == "D-02"


@pytest.mark.parametrize(
    ("name", "content", "status", "fragment"),
    [
        ("a.smi", b"CCO\nC1CC\n", 2, "1 record set aside, cannot be read"),
        ("a.sdf", b"x\n\n\n broken\n$$$$\n", 2, "no record makes a row"),
        (
            "a.smi.gz",
            gzip.compress(b"CCO\n" * 99, mtime=0)[:-6],
            2,
            "its compression ends too early",
        ),
        ("a.csv", b"a,b\n1,2\n", 2, "no column says which compound it is"),
        ("a.smi", b"CCO\r\nCC(C)=O\rCO\n", 0, ""),
        ("a.smi", b"CCO\n" + b"C" * 10_000, 0, "1 record set aside, no volatile liquid"),
    ],
)
def test_build_of_bad_input(
    run: Run, tmp_path: Path, name: str, content: bytes, status: int, fragment: str
) -> None:
    (tmp_path / name).write_bytes(content)
    outcome = run("build", tmp_path / name, "--out", tmp_path / "out.parquet", "--jobs", "1")
    assert outcome.status == status
    assert fragment in outcome.complaints
    assert "Traceback" not in outcome.complaints
    written = {path.name for path in tmp_path.iterdir()} - {name}
    assert written <= {"out.parquet", "out.set-aside.csv"}
    assert ("out.parquet" in written) == bool(outcome.output)


@pytest.mark.parametrize(
    ("arguments", "fragment"),
    [
        (("missing.smi", "--out", "out.parquet"), "missing.smi: there is no such file"),
        (("missing.smi",), "Missing option '--out'"),
        (("--out", "out.parquet"), "Missing argument 'INPUT'"),
    ],
)
def test_build_without_what_it_needs(run: Run, arguments: tuple[str, ...], fragment: str) -> None:
    outcome = run("build", *arguments)
    assert (outcome.status, outcome.output, len(outcome.lines)) == (2, "", 1)
    assert fragment in outcome.lines[0]


def test_no_structures_are_read_to_look_up() -> None:
    """Looking up and searching must not load RDKit: a person waits for it."""
    code = (
        "import sys; from identify.cli import main;"
        "main(['candidates', 'find', '--formula', 'C2H6O']); main(['candidates', 'ethanol']);"
        "print([name for name in ('rdkit', 'scipy', 'pandas', 'sklearn') if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=CHECKOUT, capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines()[-1] == "[]"
