"""Input that cannot be used: one clear line each, exit status 2, and the good rows answered."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from identify.cli import main

GOOD = {
    "label": "C-14",
    "student": "Ada",
    "empty_g": "98.1132",
    "condensed_g": "98.3721",
    "bath_C": "98.9",
    "room_C": "22.5",
    "pressure_mmHg": "742.0",
    "volume_mL": "287.4",
    "boiling_point_C": "64.6",
    "boiling_point_at_mmHg": "760",
    "percent_C": "37.48",
    "percent_H": "12.58",
    "percent_O": "49.93",
}
MASSES = ("empty_g", "condensed_g")
TEMPERATURES = ("bath_C", "room_C", "boiling_point_C")
PRESSURES = ("pressure_mmHg", "boiling_point_at_mmHg")
PERCENTS = ("percent_C", "percent_H", "percent_O")
NUMBERS = (*MASSES, *TEMPERATURES, *PRESSURES, "volume_mL", *PERCENTS)
WEIGHED = ("empty_g", "condensed_g", "bath_C", "room_C", "pressure_mmHg", "volume_mL")

REFUSED = [
    ("label", ""),
    ("room_C", "200"),
    *[(column, text) for column in NUMBERS for text in ("NaN", "inf", "abc", "9e9", "1e400")],
    *[(column, "12 34") for column in NUMBERS],
    *[(column, "5 furlongs") for column in NUMBERS],
    # The wrong unit: another dimension than the column's.
    *[(column, "5 g") for column in (*TEMPERATURES, *PRESSURES, "volume_mL", *PERCENTS)],
    *[(column, "5 kPa") for column in (*MASSES, *TEMPERATURES, "volume_mL", *PERCENTS)],
    # Below zero and zero are temperatures too, and zero is a tared flask or an absent element.
    *[(column, "-5") for column in (*MASSES, *PRESSURES, "volume_mL", *PERCENTS)],
    *[(column, "-300") for column in TEMPERATURES],
    *[(column, "0") for column in (*PRESSURES, "volume_mL")],
]


class Outcome(NamedTuple):
    status: int
    output: str
    lines: list[str]

    def labels(self) -> list[str]:
        return [answer["label"] for answer in json.loads(self.output)]


Run = Callable[..., Outcome]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run the command in this process."""

    def call(*arguments: object) -> Outcome:
        status = main([str(argument) for argument in arguments])
        captured = capsys.readouterr()
        for text in captured:
            assert "Traceback" not in text
            assert "the program itself failed" not in text
        assert all(len(line) <= 600 for line in captured.err.splitlines())
        return Outcome(status, captured.out, captured.err.splitlines())

    return call


def table(path: Path, *rows: dict[str, str]) -> Path:
    columns = list(dict.fromkeys(column for row in rows for column in row))
    lines = [columns, *[[row.get(column, "") for column in columns] for row in rows]]
    path.write_text("".join(",".join(line) + "\n" for line in lines), encoding="utf-8")
    return path


@pytest.mark.parametrize(("column", "text"), REFUSED)
def test_cell_of_a_table(run: Run, tmp_path: Path, column: str, text: str) -> None:
    bad = {**GOOD, "label": "B-1", column: text}
    file = table(tmp_path / "section.csv", GOOD, bad, {**GOOD, "label": "C-15"})
    outcome = run("match", file, "--format", "json")
    assert outcome.status == 2
    assert len(outcome.lines) == 1
    assert f"section.csv, row 3, {column}: " in outcome.lines[0]
    assert not text or f'"{text}"' in outcome.lines[0]
    # The row itself is answered from what can be read of it.
    assert [label for label in outcome.labels() if label != "B-1"] == ["C-14", "C-15"]
    assert json.loads(outcome.output)[0]["candidates"][0]["name"] == "methanol"


@pytest.mark.parametrize("column", WEIGHED)
def test_a_cell_that_is_missing_is_no_fault(run: Run, tmp_path: Path, column: str) -> None:
    outcome = run("match", table(tmp_path / "t.csv", {**GOOD, column: ""}), "--format", "json")
    assert (outcome.status, outcome.lines, outcome.labels()) == (0, [], ["C-14"])


@pytest.mark.parametrize(
    ("column", "text"),
    [("condensed_g", "0"), ("condensed_g", "98.1132"), ("bath_C", "0"), ("bath_C", "-5")],
)
def test_reading_that_is_possible_but_senseless_is_a_finding(
    run: Run, tmp_path: Path, column: str, text: str
) -> None:
    outcome = run("match", table(tmp_path / "t.csv", {**GOOD, column: text}), "--format", "json")
    assert outcome.status == 0
    assert outcome.lines == []
    severities = [finding["severity"] for finding in json.loads(outcome.output)[0]["findings"]]
    assert "error" in severities


RECORD = {
    "card": {"boiling_point": '"64.6 C"', "percent.C": "37.48", "percent.O": "49.93"},
    "conditions": {"pressure": '"742.0 mmHg"', "room": '"22.5 C"'},
    "flask": {"volume": '"287.4 mL"'},
    "[trial]": {"empty": '"98.1132 g"', "condensed": '"98.3721 g"', "bath": '"98.9 C"'},
}
WRONG_VALUES = ("nan", "inf", '"abc"', "9e9", '"5 furlongs"', "true", "[1, 2]", "1979-05-27")


def record(path: Path, section: str = "", key: str = "", value: str | None = None) -> Path:
    lines = ['label = "B-1"']
    for name, keys in RECORD.items():
        written = dict(keys)
        if name == section and value is None:
            del written[key]
        elif name == section:
            written[key] = str(value)
        lines += [f"[{name}]", *(f"{key} = {text}" for key, text in written.items())]
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


@pytest.mark.parametrize("value", WRONG_VALUES)
@pytest.mark.parametrize(
    ("section", "key"), [(section, key) for section, keys in RECORD.items() for key in keys]
)
def test_value_of_a_record(run: Run, tmp_path: Path, section: str, key: str, value: str) -> None:
    bad = record(tmp_path / "B-1.toml", section, key, value)
    good = table(tmp_path / "good.csv", GOOD)
    outcome = run("match", bad, good, "--format", "json")
    assert outcome.status == 2
    assert len(outcome.lines) == 1
    assert "B-1.toml, " in outcome.lines[0]
    assert key in outcome.lines[0]
    assert outcome.labels()[-1] == "C-14"


@pytest.mark.parametrize(
    ("section", "key"),
    [
        *[("[trial]", key) for key in ("empty", "condensed", "bath")],
        *[("conditions", "pressure"), ("conditions", "room"), ("flask", "volume")],
    ],
)
def test_value_missing_from_a_record(run: Run, tmp_path: Path, section: str, key: str) -> None:
    outcome = run("match", record(tmp_path / "B-1.toml", section, key), "--format", "json")
    assert (outcome.status, outcome.lines, outcome.labels()) == (0, [], ["B-1"])


OPTIONS = ("molar-mass", "boiling-point", "boiling-point-at", "empty", "condensed", "bath", "room")
OPTIONS += ("pressure", "humidity", "volume", "water-mass", "water-temperature", "water-volume")


@pytest.mark.parametrize("text", ["", "abc", "nan", "9e9", "5 furlongs", "1 2", "9" * 1_000_000])
@pytest.mark.parametrize("option", OPTIONS)
def test_option(run: Run, option: str, text: str) -> None:
    outcome = run("match", "--percent", "C=37.5", f"--{option}", text, "--format", "json")
    assert outcome.status == 2
    assert len(outcome.lines) == 1
    assert f"--{option}: " in outcome.lines[0]
    assert outcome.labels() == []


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--percent", "52.1"], "--percent"),
        (["--percent", "C="], "--percent C"),
        (["--percent", "Xx=3"], "not an element known here"),
        (["--percent", "C=3", "--percent", "c=4"], "there twice"),
        (["--percent", "C=-3"], "negative"),
        (["--tolerance", "percent=0", "--molar-mass", "46"], "--tolerance"),
        (["--tolerance", "percent=nan", "--molar-mass", "46"], "--tolerance"),
        (["--tolerance", "color=2", "--molar-mass", "46"], "--tolerance"),
        (["--tolerance", "percent", "--molar-mass", "46"], "--tolerance"),
        (["--tolerance", "percent=1e-300", "--molar-mass", "46"], "from 0.001 to 1000"),
        (["--tolerance", "percent=1e300", "--molar-mass", "46"], "from 0.001 to 1000"),
        (["--tolerance", "percent=1 percent=2", "--molar-mass", "46"], "a second time"),
        (["--label", "C-14"], "nothing is written"),
        (["--label", "x" * 501, "--molar-mass", "46"], "is too long"),
        (["--water-volume", "100 + hot"], '--water-volume: "hot" (fill 2) does not start with'),
        (["--water-volume", "100", "--water-volume", "5 g"], '"5 g" (fill 2) is a mass'),
        (["--water-volume", "+".join(["5"] * 41)], "has 41 fills"),
        (["--bath", "98 + 0.6"], "is a sum; work it out"),
        (["--pressure", "742"], "nothing is written"),
        (["--top", "0"], "--top"),
        (["--top", "ten"], "--top"),
        (["--format", "xml"], "--format"),
        (["--prior", "mine"], "--prior"),
        (["--no-such-option"], "--no-such-option"),
        (["--molar-mass"], "--molar-mass"),
        (["--candidates", "no such.csv", "--molar-mass", "46"], "no such.csv"),
        ([], "nothing to work on"),
    ],
)
def test_usage(run: Run, arguments: list[str], words: str) -> None:
    outcome = run("match", *arguments)
    assert (outcome.status, outcome.output) == (2, "")
    assert len(outcome.lines) == 1
    assert words in outcome.lines[0]


def test_what_is_typed_twice_is_told_once(run: Run) -> None:
    arguments = ("--molar-mass=46", "--tolerance=0.4", "--tolerance=0.4", "--tolerance=0.5")
    assert [line.split(" is not")[0] for line in run("match", *arguments).lines] == [
        '--tolerance: "0.4"',
        '--tolerance: "0.5"',
    ]


def test_missing_trial_reading(run: Run) -> None:
    arguments = ("--empty", "98.1132", "--condensed", "98.3721", "--bath=99", "--format", "json")
    outcome = run("match", *arguments, "--volume", "287")
    assert (outcome.status, outcome.lines, outcome.labels()) == (0, [], ["unknown"])
    outcome = run("match", *arguments)
    assert (outcome.status, outcome.labels()) == (2, [])
    (line,) = outcome.lines
    assert line.startswith("command line, --volume: is missing; write the flask's brim volume")


def test_files_and_readings_together(run: Run, tmp_path: Path) -> None:
    outcome = run("match", table(tmp_path / "t.csv", GOOD), "--molar-mass", "46")
    assert (outcome.status, outcome.output, len(outcome.lines)) == (2, "", 1)


HEADER = ",".join(GOOD)
ROW = ",".join(GOOD.values())
FILES = [
    ("empty.csv", b""),
    ("empty.toml", b""),
    ("blank.csv", b" \n\n \t \n"),
    ("header.csv", HEADER.encode()),
    ("nolabel.csv", b"empty_g,condensed_g\n1,2\n"),
    ("page.csv", b"<html><table><tr><td>label</td></tr></table></html>"),
    ("student.toml", b'label = "B"\nstudent = [1, 2]\n[card]\nmolar_mass = 46'),
    ("wide.csv", f"{HEADER}\n{ROW}".replace("742.0", "742.0 ± 1e300").encode()),
    ("picture.csv", b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 20),
    ("picture.toml", b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 20),
    ("nulls.csv", f"{HEADER}\n{ROW}".encode().replace(b"9", b"\x00")),
    ("utf16_without_mark.csv", f"{HEADER}\n{ROW}".encode("utf-16-le")),
    ("damaged.xlsx", b"PK\x03\x04" + bytes(500)),
    ("old.xls", bytes.fromhex("D0CF11E0A1B11AE1") + bytes(600)),
    ("syntax.toml", b'label = "B-1\n[card]'),
    ("nolabel.toml", b'[card]\nboiling_point = "64.6 C"'),
    ("unquoted.toml", b'label = "B-1"\n[card]\nboiling_point = 64.6 C'),
    ("brackets.toml", b"label = " + b"[" * 100_000),
    ("digits.toml", b'label = "B-1"\n[card]\nmolar_mass = ' + b"9" * 1_000_000),
    ("long_cell.csv", f"{HEADER}\n{ROW}".replace("98.1132", "9" * 1_000_000).encode()),
    ("long_words.csv", f"{HEADER}\n{ROW}".replace("742.0", "x" * 1_000_000).encode()),
    ("long_column.csv", f"{HEADER},{'x' * 1_000_000}\n{ROW},1".encode()),
]


@pytest.mark.parametrize(("name", "content"), FILES, ids=[name for name, _ in FILES])
def test_file(run: Run, tmp_path: Path, name: str, content: bytes) -> None:
    bad = tmp_path / name
    bad.write_bytes(content)
    good = table(tmp_path / "good.csv", GOOD)
    outcome = run("match", bad, good, "--format", "json")
    assert outcome.status == 2
    assert len(outcome.lines) == 1
    assert name in outcome.lines[0]
    assert outcome.labels()[-1] == "C-14"
    assert run("match", good).status == 0


@pytest.mark.parametrize("further", [(), ("--report", "page.html")])
@pytest.mark.parametrize("name", ["not there.csv", "folder", "nul\0.toml", "a\nb.toml"])
def test_file_that_cannot_be_opened(
    run: Run, tmp_path: Path, name: str, further: tuple[str, ...]
) -> None:
    (tmp_path / "folder").mkdir()
    outcome = run("match", tmp_path / name, *further)
    assert (outcome.status, outcome.output, len(outcome.lines)) == (2, "", 1)


def test_duplicate_labels(run: Run, tmp_path: Path) -> None:
    card = {"label": "B-1", "student": "", "boiling_point_C": "64.6"}
    rows = [card, {**card, "boiling_point_C": "78.3"}, {**card, "label": "C-14"}]
    outcome = run("match", table(tmp_path / "t.csv", *rows), "--format", "json")
    assert outcome.status == 2
    first, second = outcome.lines  # a line for each row that is set aside
    assert 't.csv, row 2, label: "B-1" is set aside with row 3' in first
    assert 't.csv, row 3, label: "B-1" is also the label of row 2' in second
    assert outcome.labels() == ["C-14"]


def test_million_character_label(run: Run, tmp_path: Path) -> None:
    outcome = run("match", table(tmp_path / "t.csv", {**GOOD, "label": "x" * 1_000_000}))
    assert outcome.status in (0, 2)
    assert max(map(len, outcome.output.splitlines()), default=0) <= 120


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("empty.csv", b""),
        ("binary.parquet", bytes(range(256))),
        ("other.csv", b"a,b\n1,2\n"),
        ("binary.csv", bytes(range(256))),
        ("damaged.xlsx", b"PK\x03\x04" + bytes(500)),
    ],
)
@pytest.mark.parametrize("command", [["match", "--molar-mass", "46"], ["candidates", "ethanol"]])
def test_stock_table(
    run: Run, tmp_path: Path, command: list[str], name: str, content: bytes
) -> None:
    stock = tmp_path / name
    stock.write_bytes(content)
    outcome = run(*command, "--candidates", stock)
    assert (outcome.status, outcome.output, len(outcome.lines)) == (2, "", 1)
    assert name in outcome.lines[0]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("", "the name is empty"),
        ("no such compound", "is not a compound known here"),
        ("x" * 1_000_000, "is not a compound known here"),
        ("64-17-6", "is not a CAS number"),
        ("\x1b[31m", "is not a compound known here"),
        ("petroleum ether", "is sold as a mixture"),
        ("xylene", "o-xylene 95-47-6"),
    ],
)
def test_compound_that_is_not_there(run: Run, name: str, words: str) -> None:
    outcome = run("candidates", name, "ethanol", "--format", "json")
    assert outcome.status == 2
    assert len(outcome.lines) == 1
    assert words in outcome.lines[0]
    assert [compound["cas"] for compound in json.loads(outcome.output)] == ["64-17-5"]
