"""Run records and trial tables: what reads, what is refused and how, and that nothing is lost."""

from __future__ import annotations

import csv
import io
import re
import time
import zipfile
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from identify.notebook.measurement import Measurement
from identify.notebook.quantity.quantities import Quantity
from identify.physics.constants import ELEMENTS
from identify.tables import Fault, Runs, read_runs, runs_from_frame

RECORD = """\
label = "C-14"
student = "Robin"
[card]
boiling_point = "64.6 C"
boiling_point_at = "760 mmHg"
percent = { C = 37.48, H = "12.58 ± 0.3", O = "49.93 %" }
[conditions]
pressure = "742.0 ± 0.5 mmHg"
room = "22.5 C"
humidity = "45 %"
barometer = "mercury"
latitude = 52.1
height = "120 m"
[flask]
volume = "287.4 mL"
[[trial]]
empty = "98.1132 g"
condensed = "98.3721 g"
bath = "98.9 C"
[[trial]]
empty = "98.1140 g"
condensed = "98.3709 g"
bath = "98.7 C"
pressure = "741.2 mmHg"
"""

HEADER = [
    "label",
    "student",
    "empty_g",
    "condensed_g",
    "bath_C",
    "room_C",
    "pressure_mmHg",
    "volume_mL",
    "boiling_point_C",
    "percent_C",
    "molar_mass",
]
ROWS = [
    ["C-14", "Robin", "98.1132", "98.3721", "98.9", "22.5", "742.0", "287.4", "64.6", "37.48", ""],
    ["C-14", "Robin", "98.1140", "98.3709", "98.7", "22.5", "742.0", "287.4", "", "", ""],
    ["C-14", "Kim", "97.2250", "97.4861", "98.8", "22.5", "742.0", "286.1", "64.9", "", ""],
    ["C-15", "", "", "", "", "", "", "", "78.2 ± 0.5", "52.14", "46.1(5)"],
]


@pytest.fixture
def write(tmp_path: Path) -> Callable[..., Path]:
    def write_file(content: str | bytes, name: str = "section.csv") -> Path:
        path = tmp_path / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    return write_file


def table(rows: Sequence[Sequence[str]], delimiter: str = ",", comma: bool = False) -> str:
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter)
    for row in rows:
        numeric = [re.sub(r"(?<=[0-9])\.(?=[0-9])", ",", c) if comma else c for c in row]
        writer.writerow(numeric)
    return text.getvalue()


def one_row(**cells: str) -> str:
    """Write a table of one good row with some cells changed."""
    row = dict(zip(HEADER, ROWS[0], strict=True)) | cells
    return table([list(row), list(row.values())])


def content(runs: Runs) -> dict[tuple[str, str], object]:
    """Describe measurements without rows, files and the order of trials."""
    return {
        (run.label, run.student): (
            run.molar_mass,
            run.percent,
            run.boiling_point,
            run.boiling_point_at,
            Counter(
                (
                    (trial.empty, trial.condensed, trial.bath),
                    run.trial_conditions(trial),
                    run.trial_flask(trial),
                )
                for trial in run.trials
            ),
        )
        for run in runs
    }


def lines(runs: Runs) -> list[str]:
    """Give the faults' lines without the folder."""
    return [re.sub(r"^.*?(?=[^/]+\.(csv|toml|xlsx)\b)", "", str(fault)) for fault in runs.faults]


# ---------------------------------------------------------------------------------- run record


def test_run_record(write):
    runs = read_runs(write(RECORD, "run.toml"))
    assert (len(runs), runs.faults) == (1, ())
    run = runs[0]
    assert (run.label, run.student, run.source.file) == ("C-14", "Robin", str(runs.path))
    assert str(run.boiling_point) == "64.6 °C"
    assert str(run.boiling_point_at) == "760 mmHg"
    assert {element: str(value) for element, value in run.percent.items()} == {
        "C": "37.48 %",
        "H": "12.6 ± 0.3 %",
        "O": "49.93 %",
    }
    assert run.conditions.mercury_barometer is True
    assert (str(run.conditions.latitude), str(run.conditions.height)) == ("52.1°", "120 m")
    first, second = run.trials
    assert (str(first.empty), str(first.condensed), str(first.bath)) == (
        "98.1132 g",
        "98.3721 g",
        "98.9 °C",
    )
    assert str(run.trial_conditions(first).pressure) == "742.0 ± 0.5 mmHg"
    assert str(run.trial_conditions(second).pressure) == "741.2 mmHg"
    assert run.trial_conditions(second).room == Quantity(22.5, "C")
    assert run.trial_flask(second).volume == Quantity(287.4, "mL")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_run_record_in_any_encoding(write, encoding, newline):
    expected = read_runs(write(RECORD, "run.toml"))
    again = read_runs(write(RECORD.replace("\n", newline).encode(encoding), "RUN.TOML"))
    assert content(again) == content(expected)
    assert again.faults == ()


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ('label = "C-14"\n', "", "label: the label is missing"),
        ('label = "C-14"', 'label = " "', "label"),
        ('label = "C-14"', "label = [1]", "label"),
        (
            'label = "C-14"',
            "label = C-14",
            'line 1: "label = C-14" is not TOML; write label = "C-14"',
        ),
        (
            'room = "22.5 C"',
            "room = 22.5 C",
            'line 9: "room = 22.5 C" is not TOML; write room = "22.5 C"',
        ),
        ("[flask]", "[conditions]", 'line 14: "[conditions]" is there twice'),
        ("[card]", "[crad]", "crad: is not a known key; did you mean card?"),
        (
            "boiling_point =",
            "boilng_point =",
            "card.boilng_point: is not a known key; did you mean b",
        ),
        ('student = "Robin"', "colour = 5", "colour: is not a known key; use label, student, card"),
        ("[[trial]]", "[[trials]]", "trials: is not a known key; did you mean trial?"),
        ('"742.0 ± 0.5 mmHg"', '"98.1 g"', 'conditions.pressure: "98.1 g" is a mass, not a press'),
        ('"742.0 ± 0.5 mmHg"', "0", 'conditions.pressure: "0" is zero'),
        ('"742.0 ± 0.5 mmHg"', "-742.0", 'conditions.pressure: "-742" is negative'),
        ('"742.0 ± 0.5 mmHg"', "nan", 'conditions.pressure: "nan" is not a finite number'),
        ('"742.0 ± 0.5 mmHg"', "inf", 'conditions.pressure: "inf" is not a finite number'),
        ('"742.0 ± 0.5 mmHg"', "true", 'conditions.pressure: "True" is not a number'),
        ('"742.0 ± 0.5 mmHg"', "[742.0]", 'conditions.pressure: "[742.0]" is not a reading'),
        ('"742.0 ± 0.5 mmHg"', "2031-05-03", 'conditions.pressure: "2031-05-03" is a date'),
        ('"22.5 C"', '"200 C"', 'conditions.room: "200 C" cannot be the temperature of the room'),
        ('"45 %"', '"145 %"', 'conditions.humidity: "145 %" cannot be the relative humidity'),
        ('"mercury"', '"cherry"', 'conditions.barometer: "cherry" is not a kind of barometer'),
        ("C = 37.48", "Xx = 37.48", 'card.percent.Xx: "Xx" is not an element known here'),
        ("C = 37.48", "H = 37.48", "is not TOML"),
        ("C = 37.48", "h = 37.48", 'card.percent.H: "H" is there twice'),
        ("C = 37.48", "C = -1", 'card.percent.C: "-1" is negative'),
        (
            'percent = { C = 37.48, H = "12.58 ± 0.3", O = "49.93 %" }',
            "percent = 5",
            "card.percent",
        ),
        ('bath = "98.9 C"', 'bath = "98.9 g"', 'trial 1, bath: "98.9 g" is a mass'),
        ('bath = "98.9 C"', "baht = 98.9", "trial.baht: is not a known key; did you mean bath?"),
        ('"760 mmHg"', '"1,013.2 hPa"', "can be read two ways"),
    ],
)
def test_run_record_fault(write, old, new, line):
    assert old in RECORD
    runs = read_runs(write(RECORD.replace(old, new, 1), "run.toml"))
    assert line in lines(runs)[0]
    for fault in runs.faults:
        assert str(fault).isprintable()


BLANK = """\
label = "C-14"
[card]
boiling_point = ""
percent = { C = "", H = "", O = " " }
[conditions]
room = ""
[flask]
volume = ""
water_volume = ""
[[trial]]
empty = ""
condensed = ""
[[trial]]
bath = ""
"""


def test_a_record_still_blank(write):
    runs = read_runs(write(BLANK, "run.toml"))
    assert not runs.measurements
    assert [fault.advice for fault in runs.faults] == [
        'nothing is written of "C-14" that could tell what it is; add weighings, a molar mass, '
        "a boiling point or a composition"
    ]


def test_what_is_still_blank_is_not_written(write):
    filled = RECORD + '[[trial]]\nempty = ""\ncondensed = ""\nbath = ""\n'
    filled = filled.replace('boiling_point_at = "760 mmHg"', 'boiling_point_at = ""')
    runs = read_runs(write(filled, "run.toml"))
    assert not runs.faults
    assert runs[0].boiling_point_at is None
    assert len(runs[0].trials) == 2


def test_faulty_trial_leaves_the_others(write):
    runs = read_runs(write(RECORD.replace('"98.3721 g"', '"hot"'), "run.toml"))
    assert [str(trial.condensed) for trial in runs[0].trials] == ["None", "98.3709 g"]
    assert [trial.unread for trial in runs[0].trials] == [("condensed",), ()]
    assert len(runs.faults) == 1


def test_a_faulty_card_leaves_the_rest(write):
    runs = read_runs(write(RECORD.replace('"64.6 C"', '"hot"'), "run.toml"))
    (run,) = runs
    assert (run.boiling_point, run.unread, len(run.trials)) == (None, ("boiling_point",), 2)
    assert len(runs.faults) == 1


def test_boiling_point_at_the_laboratory(write):
    at_laboratory = RECORD.replace('"760 mmHg"', '"laboratory"')
    run = read_runs(write(at_laboratory, "run.toml"))[0]
    assert run.boiling_point_at == run.conditions.pressure == Quantity(742.0, "mmHg", 0.5)
    without = '[card]\nboiling_point = 64.6\nboiling_point_at = "laboratory"\n'
    runs = read_runs(write(f'label = "C-14"\n{without}', "run.toml"))
    assert "needs one pressure for the run" in lines(runs)[0]
    assert len(runs) == 0


@pytest.mark.parametrize(
    ("cells", "trials"),  # molar mass, empty, condensed
    [(("46.1", "", ""), 0), (("", "", ""), 0), (("46.1", "98.1", ""), 1)],
)
def test_what_is_missing_is_no_fault(write, cells, trials):
    header = "label,molar_mass,empty_g,condensed_g,bath_C,room_C,pressure_mmHg,volume_mL,percent_C"
    runs = read_runs(write(f"{header}\nA,{','.join(cells)},99,22,750,287,52.1\n", "runs.csv"))
    assert runs.faults == ()
    (run,) = runs
    assert (len(run.trials), run.unread, str(run.conditions.room)) == (trials, (), "22 °C")


def test_record_of_a_molar_mass_alone(write):
    runs = read_runs(write('label = 14\nnote = "x"\n[card]\nmolar_mass = "32.4 g/mol"', "run.toml"))
    assert (runs[0].label, str(runs[0].molar_mass), runs.faults) == ("14", "32.4 g/mol", ())


@pytest.mark.parametrize(
    "written",
    ['"100.0 + 100.0 + 83.6 mL"', '["100.0 mL", 100.0, "83.6 mL"]', "[100.0, 100, 83.6]"],
)
@pytest.mark.parametrize("place", ["flask", "trial"])
def test_record_of_fills(write, written, place):
    key = f"water_volume = {written}"
    old, new = 'volume = "287.4 mL"', key
    if place == "trial":
        old, new = 'bath = "98.9 C"', f'bath = "98.9 C"\n{key}'
    runs = read_runs(write(RECORD.replace(old, new, 1), "run.toml"))
    assert runs.faults == ()
    assert runs[0].trial_flask(runs[0].trials[0]).water_volume == Quantity(283.6, "mL", fills=3)


@pytest.mark.parametrize(
    ("written", "line"),
    [
        ('"100.0 + hot"', 'flask.water_volume: "hot" (fill 2) does not start with a number'),
        ('["100.0 mL", "5 g"]', 'flask.water_volume: "5 g" (fill 2) is a mass, not a volume'),
        ('"100.0(5) + 83.6 mL"', "states an uncertainty for other fills, but none for fill 2"),
        ("[100.0, [83.6]]", 'flask.water_volume: "[83.6]" (fill 2) is not a number'),
        ("[100.0, {}]", 'flask.water_volume: "{}" (fill 2) is not a number'),
        ("[100.0, 2031-05-03]", 'flask.water_volume: "2031-05-03" (fill 2) is a date or time'),
        ("[]", "flask.water_volume: holds no fill"),
        ("{ first = 100.0 }", "is not a reading"),
        (f"[{'5, ' * 100}]", 'flask.water_volume: "5" has 100 fills'),
    ],
)
def test_record_of_faulty_fills(write, written, line):
    record = RECORD.replace('volume = "287.4 mL"', f"water_volume = {written}")
    runs = read_runs(write(record, "run.toml"))
    assert (runs[0].flask.water_volume, runs[0].unread) == (None, ("water_volume",))
    assert line in lines(runs)[0]


@pytest.mark.parametrize("text", ["label = 'C-14'", "label = 'C-14'\n[conditions]\nroom = 22.5"])
def test_record_of_nothing(write, text):
    runs = read_runs(write(text, "run.toml"))
    assert len(runs) == 0
    assert "nothing is written" in lines(runs)[0]


# --------------------------------------------------------------------------------- trial table


def test_trial_table(write):
    runs = read_runs(write(table([HEADER, *ROWS])))
    assert runs.faults == ()
    assert [(run.label, run.student, len(run.trials)) for run in runs] == [
        ("C-14", "Robin", 2),
        ("C-14", "Kim", 1),
        ("C-15", "", 0),
    ]
    robin, kim, card = runs
    assert [trial.source.row for trial in robin.trials] == [2, 3]
    assert str(robin.trials[1].condensed) == "98.3709 g"
    assert str(robin.conditions.pressure) == "742.0 mmHg"
    assert str(kim.trial_flask(kim.trials[0]).volume) == "286.1 mL"
    assert str(card.molar_mass) == "46.1 ± 0.5 g/mol"
    assert str(card.boiling_point) == "78.2 ± 0.5 °C"
    assert card.source.row == 5


ENCODINGS = ["utf-8", "utf-8-sig", "utf-16", "cp1252"]


@pytest.mark.parametrize("encoding", ENCODINGS)
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("comma", [False, True])
def test_any_delimiter_decimal_mark_and_encoding(write, encoding, delimiter, comma):
    rows = [HEADER, *([f"é{row[0]}", *row[1:]] for row in ROWS)]
    expected = read_runs(write(table(rows)))
    again = read_runs(write(table(rows, delimiter, comma).encode(encoding)))
    assert content(again) == content(expected)
    assert (len(again), again.faults) == (3, ())


@given(st.permutations(ROWS), st.sampled_from(",;\t"), st.booleans(), st.sampled_from(ENCODINGS))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=30)
def test_row_order_and_form_change_nothing(write, rows, delimiter, comma, encoding):
    expected = read_runs(write(table([HEADER, *ROWS])))
    again = read_runs(write(table([HEADER, *rows], delimiter, comma).encode(encoding)))
    assert content(again) == content(expected)
    assert again.faults == ()


OTHER_UNITS = {
    "empty": ("g", ["mg", "kg"]),
    "condensed": ("g", ["mg", "kg"]),
    "bath": ("C", ["K", "F"]),
    "room": ("C", ["K", "degF"]),
    "pressure": ("mmHg", ["kPa", "hPa", "mbar", "bar", "atm", "psi", "inHg", "Pa", "torr", "MPa"]),
    "volume": ("mL", ["L", "cm3", "m3", "cm³"]),
    "boiling_point": ("C", ["K", "F"]),
    "molar_mass": ("g/mol", ["kg/mol"]),
}


@pytest.mark.parametrize(
    ("field", "unit"),
    [(field, unit) for field, (_, units) in OTHER_UNITS.items() for unit in units],
)
@pytest.mark.parametrize("in_cell", [False, True])
def test_change_of_unit_changes_nothing(write, field, unit, in_cell):
    usual = OTHER_UNITS[field][0]
    column = next(name for name in HEADER if name in (field, f"{field}_{usual}"))
    row = dict(zip(HEADER, ROWS[0], strict=True)) | {"molar_mass": "32.4"}
    value = Quantity(float(row[column]), usual).to(unit).value
    there = {name: cell for name, cell in row.items() if name != column}
    there[column if in_cell else f"{field}_{unit}"] = (
        f"{value!r} {unit}" if in_cell else f"{value!r}"
    )
    here, other = (
        read_runs(write(table([list(row), list(row.values())])))[0],
        read_runs(write(table([list(there), list(there.values())])))[0],
    )

    def quantity(run: Measurement) -> Quantity:
        places = (run, run.conditions, run.flask, run.trials[0])
        return next(read for place in places if (read := getattr(place, field, None)))

    si = {"g": "kg", "C": "K", "mmHg": "Pa", "mL": "m3", "g/mol": "kg/mol"}[usual]
    assert quantity(other).to(si).value == pytest.approx(quantity(here).to(si).value, rel=1e-9)


@pytest.mark.parametrize(
    "header",
    [
        "pressure_kPa",
        "PRESSURE_KPA",
        " Pressure_kPa ",
        "pressure (kPa)",
        "pressure [kPa]",
        "Pressure kPa",
    ],
)
def test_column_names_are_taken_kindly(write, header):
    row = dict(zip(HEADER, ROWS[0], strict=True))
    del row["pressure_mmHg"]
    row[header] = "98.9"
    runs = read_runs(write(table([list(row), list(row.values())])))
    assert (str(runs[0].conditions.pressure), runs.faults) == ("98.9 kPa", ())


def test_elements_in_any_case(write):
    header = ["label", *(f"percent_{element.lower()}" for element in ELEMENTS)]
    runs = read_runs(write(table([header, ["C-14", *(str(n) for n in range(1, 13))]])))
    assert runs.faults == ()
    assert [quantity.value for quantity in runs[0].percent.values()] == list(range(1, 13))


def test_uncertainty_columns(write):
    header = "label,molar_mass,molar_mass_u,boiling_point_F,boiling_point_C_u,percent_C,percent_H"
    text = f"{header},percent_u\nC-14,32.4,0.5,148.3,0.5,37.48,12.58 ± 0.1,0.3\n"
    runs = read_runs(write(text))
    run = runs[0]
    assert runs.faults == ()
    assert str(run.molar_mass) == "32.4 ± 0.5 g/mol"
    assert run.boiling_point is not None
    assert run.boiling_point.uncertainty == pytest.approx(0.9)
    assert [run.percent[element].uncertainty for element in "CH"] == [0.3, 0.1]
    for wrong in ("0", "-1", "x", "nan"):
        runs = read_runs(write(text.replace(",0.3\n", f",{wrong}\n")))
        assert "row 2, percent_u" in lines(runs)[0]


@pytest.mark.parametrize("word", ["-", " — ", "n/a", "N.A.", "NA", "not measured", "none"])
def test_a_word_for_no_reading_is_none(write, word):
    table = (
        f"label,gain_g,room_C,bath_C,volume_mL,boiling_point_C\nC-14,0.26,{word},99,287,{word}\n"
    )
    record = (
        f'label = "C-14"\n[card]\nboiling_point = "{word}"\n[conditions]\nroom = "{word}"\n'
        "[flask]\nvolume = 287\n[[trial]]\ngain = 0.26\nbath = 99\n"
    )
    for runs in (read_runs(write(table)), read_runs(write(record, "C-14.toml"))):
        (run,) = runs
        assert runs.faults == ()
        assert (run.boiling_point, run.conditions.room, run.unread) == (None, None, ())
        assert str(run.trials[0].bath) == "99 °C"


def test_a_gain_of_nothing_is_a_reading(write):
    """It is for the check to say that it cannot be; the other trials stay."""
    table = "label,trial,gain_g,bath_C,volume_mL\n" + "".join(
        f"C-14,{trial},{gain},98.9,287.4\n"
        for trial, gain in ((1, "0.2589"), (2, "0"), (3, "0.2591"))
    )
    record = 'label = "C-14"\n[flask]\nvolume = 287.4\n' + "".join(
        f"[[trial]]\nbath = 98.9\n{weighing}\n"
        for weighing in ("gain = 0.2589", "empty = 98.1\ncondensed = 98.1", 'gain = "0 g"')
    )
    for file, text, gains in (
        ("trials.csv", table, ["0.2589 g", "0 g", "0.2591 g"]),
        ("C-14.toml", record, ["0.2589 g", "None", "0 g"]),
    ):
        runs = read_runs(write(text, file))
        assert runs.faults == ()
        assert [[str(trial.gain) for trial in run.trials] for run in runs] == [gains]


WATER = [name.replace("volume_mL", "water_volume_mL") for name in HEADER]


def with_fills(*cells: object) -> list[list[object]]:
    """Write a table whose rows have these cells for the water's volume."""
    place = WATER.index("water_volume_mL")
    return [list(WATER), *([*ROWS[0][:place], cell, *ROWS[0][place + 1 :]] for cell in cells)]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("comma", [False, True])
@pytest.mark.parametrize("cell", ["100.0 + 100.0 + 83.6", "100.0+100.0+83.6 mL", "0.2 L + 83.6 mL"])
def test_column_of_fills(write, delimiter, comma, cell):
    (run,) = read_runs(write(table(with_fills(cell), delimiter, comma)))
    assert run.flask.water_volume is not None
    assert run.flask.water_volume.to("mL").value == pytest.approx(283.6)
    assert run.flask.water_volume.fills == cell.count("+") + 1


def test_fills_in_workbook_and_frame(write):
    rows = with_fills("100.0 + 100.0 + 83.6")
    for runs in (
        read_runs(write(workbook(rows), "section.xlsx")),
        runs_from_frame(pd.DataFrame(rows[1:], columns=rows[0])),
        runs_from_frame(pd.DataFrame(with_fills([100.0, 100.0, 83.6])[1:], columns=rows[0])),
    ):
        assert runs.faults == ()
        assert runs[0].flask.water_volume == Quantity(283.6, "mL", fills=3)


def test_uncertainty_column_of_fills_is_that_of_the_sum(write):
    header, row = with_fills("100.0 + 83.6")
    runs = read_runs(write(table([[*header, "water_volume_mL_u"], [*row, "0.7"]])))
    assert runs[0].flask.water_volume == Quantity(183.6, "mL", 0.7, fills=2)


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("100.0 + hot", '"hot" (fill 2) does not start with a number'),
        ("100.0 + ", "has nothing for fill 2"),
        ("=100.0+83.6", "is a formula that was never worked out"),
        # The table writes its decimals with points.
        ("100.0 + 1,013", "can be read two ways"),
    ],
)
def test_faulty_fills_are_named_by_row_and_column(write, cell, words):
    runs = read_runs(write(table(with_fills("283.6", cell))))
    (line,) = lines(runs)
    assert line.startswith("section.csv, row 3, water_volume_mL: ")
    assert words in line


def test_a_column_that_nothing_adds_up_in_takes_no_sum(write):
    (line,) = lines(read_runs(write(one_row(bath_C="98.1 + 0.2"))))
    assert line == (
        'section.csv, row 2, bath_C: "98.1 + 0.2" is a sum; work it out and write one number'
    )


@pytest.mark.parametrize(
    ("column", "cell", "field", "shown"),
    [
        ("volume_mL", "303.6 - 20.0", "volume", "283.6 mL"),
        ("volume_mL", "200.0 + 83.6", "volume", "283.6 mL"),
        ("water_mass_g", "382.75 - 98.11 g", "water_mass", "284.64 g"),
        ("pressure_mmHg", "756 - 14 mm Hg", "pressure", "742 mmHg"),
    ],
)
def test_a_difference_is_worked_out(write, column, cell, field, shown):
    runs = read_runs(write(one_row(**{column: cell})))
    assert runs.faults == ()
    run, trial = runs[0], runs[0].trials[0]
    parts = (run.trial_flask(trial), run.trial_conditions(trial))
    assert [str(getattr(part, field)) for part in parts if getattr(part, field, None)] == [shown]


def test_further_columns(write):
    header = (
        "label,empty_g,condensed_g,bath_C,room_C,pressure_mmHg,water_mass_g,water_temperature_C"
    )
    header += ",humidity,latitude,height,barometer,Notes,date,boiling_point,boiling_point_at_mmHg"
    cells = (
        "C-14,98.1132,98.3721,98.9,22.5,742,286.6,23,45,52.1,120,Mercury,hm,3 May,64.6,Laboratory"
    )
    runs = read_runs(write(f"{header}\n{cells}\n"))
    assert runs.faults == ()
    run = runs[0]
    assert str(run.flask.water_mass) == "286.6 g"
    assert str(run.conditions.humidity) == "45 %"
    assert run.conditions.mercury_barometer
    assert str(run.boiling_point_at) == "742 mmHg"


def test_conditions_that_differ_stay_with_their_trials(write):
    rows = [list(row) for row in ROWS[:2]]
    rows[1][HEADER.index("pressure_mmHg")] = "741.2"
    rows[1][HEADER.index("room_C")] = "72.5 F"
    run = read_runs(write(table([HEADER, *rows])))[0]
    merged = [run.trial_conditions(trial) for trial in run.trials]
    assert [str(conditions.pressure) for conditions in merged] == ["742.0 mmHg", "741.2 mmHg"]
    assert [str(conditions.room) for conditions in merged] == ["22.5 °C", "72.5 °F"]
    # A trial does not borrow what another trial had.
    rows[1][HEADER.index("room_C")] = ""
    run = read_runs(write(table([HEADER, *rows])))[0]
    merged = [run.trial_conditions(trial) for trial in run.trials]
    assert [str(conditions.room) for conditions in merged] == ["22.5 °C", "None"]


@pytest.mark.parametrize(
    ("column", "cell", "words"),
    [
        (column, cell, words)
        for column in ("empty_g", "condensed_g", "pressure_mmHg", "volume_mL", "molar_mass")
        for cell, words in [
            ("-5", "is negative"),
            ("NaN", "is not a number"),
            ("inf", "is not a number"),
            ("hot", "does not start with a number"),
            ("1e30", "above any"),
            ("5 K", "is a temperature"),
            ("5 xyzzy", "where its unit should be"),
            ("1,234.5", "can be read two ways"),
            ("x" * 1_000_000, "is 1000000 characters long"),
            ("742 ± 0", "uncertainty"),
        ]
    ]
    + [
        (column, cell, words)
        for column in ("bath_C", "room_C", "boiling_point_C")
        for cell, words in [
            ("-500", "not above absolute zero"),
            ("5000", "above any temperature"),
            ("hot", "does not start with a number"),
            ("64.6 mmHg", "is a pressure, not a temperature"),
        ]
    ]
    + [("percent_C", "-1", "is negative"), ("percent_C", "5 g", "is a mass, not a percent")]
    + [(column, "0", "is zero") for column in ("pressure_mmHg", "volume_mL", "molar_mass")]
    + [("room_C", "200", "cannot be the temperature of the room")]
    + [("label", "", "is empty; name the bottle")],
)
def test_faulty_cell(write, column, cell, words):
    text = one_row(**{column: cell, "boiling_point_C": cell if column == "boiling_point_C" else ""})
    good = one_row(label="C-99").splitlines()[1]
    runs = read_runs(write(f"{text}{good}\n"))
    assert runs[-1].label == "C-99"  # the good row is answered
    for run in runs[:-1]:  # the other from what can be read of it
        assert (*run.unread, *run.trials[0].unread) == (re.sub("_(C|g|mL|mmHg)$", "", column),)
    (line,) = lines(runs)
    assert line.startswith(f"section.csv, row 2, {column}: ")
    assert words in line
    assert len(line) < 250


@pytest.mark.parametrize("cell", ["29.92", "760", "1.013"])
def test_pressure_in_a_doubtful_unit_is_left_to_the_checks(write, cell):
    runs = read_runs(write(one_row(pressure_mmHg=cell)))
    assert (runs.faults, str(runs[0].conditions.pressure)) == ((), f"{cell} mmHg")


@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("boilng_point_C", "is not a known column; did you mean boiling_point_C?"),
        ("percent_Xx", '"Xx" is not an element known here; use C, H, N'),
        ("percent_Na", '"Na" is not an element known here'),
        ("x" * 100_000, "is too long for a heading"),
        ("pressure_g", '"g" is a mass, not a pressure'),
        ("pressure_mmHgg", '"mmHgg" is not a known unit of pressure; did you mean mmHg?'),
        ("Volume_L", 'says the same as column "volume_mL"; keep one'),
        ("PERCENT_C", 'says the same as column "percent_C"; keep one'),
    ],
)
def test_unknown_column_is_named_and_reading_goes_on(write, header, words):
    runs = read_runs(write(one_row(**{header: "5"})))
    (line,) = lines(runs)
    assert line.startswith(f"section.csv, row 1, {header[:30]}")
    assert words in line
    assert "this column is not read" in line
    assert len(runs[0].trials) == 1


@pytest.mark.parametrize("header", ["percent", "price", "x" * 300])
def test_a_column_that_is_no_business_of_a_match_is_told_once(write, header):
    runs = read_runs(write(one_row(**{header: "5"})))
    assert lines(runs) == []
    (told,) = runs.told
    assert told.startswith(f'{runs.path}: not read: "{header[:30]}')
    assert len(runs[0].trials) == 1
    # In a frame it may be a slip of the program.
    (fault,) = runs_from_frame(
        pd.DataFrame({"label": ["A"], "molar_mass": [46], header: [5]})
    ).faults
    assert "is not a known column; leave it out, or name it note" in str(fault)


def test_unnamed_column(write):
    runs = read_runs(write("label,,molar_mass\nC-14,,32.4\nC-15,7,46.1\n"))
    assert lines(runs) == [
        'section.csv, row 3, column 2: "7" stands in a column without a name '
        "(this column is not read)"
    ]
    assert len(runs) == 2


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "is empty"),
        (" \n\n", "is empty"),
        ("\ufeff", "is empty"),
        (",,,\n,,\n", "is empty"),
        ("label,molar_mass\n", "row 1: has column names but no rows"),
        ("name,molar_mass\nC-14,32.4\n", "has no column named label"),
        ("C-14,98.1132,98.3721\n", "has no column named label"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "is not text in a known encoding"),
        (b"\x00\x01\x02\x03" * 100, "is not text in a known encoding"),
        (bytes(range(256)), "is not text in a known encoding"),
        ("label,molar_mass\nC-14,32.4\n".encode("utf-16")[2:], "is not text in a known encoding"),
        ("label,molar_mass\nC-14é,32.4\n".encode("utf-16")[:-1], "is not text in a known encoding"),
        (b"label,molar_mass\nC\x81\x8d,32.4\n", "is not text in a known encoding"),
        (bytes.fromhex("D0CF11E0A1B11AE1") + bytes(500), "old XLS kind; save it as XLSX or CSV"),
        (b"PK\x03\x04 and nothing more", "is not a workbook that can be read"),
    ],
)
def test_file_that_cannot_be_used(write, text, expected):
    runs = read_runs(write(text))
    assert len(runs) == 0
    faults = [line for line in lines(runs) if "is not a known column" not in line]
    assert len(faults) == 1
    assert expected in faults[0]


def test_no_file_and_no_folder(tmp_path):
    for path, words in [
        (tmp_path / "none.csv", "there is no such file"),
        (tmp_path / "none.toml", "there is no such file"),
        (tmp_path / "none" / "none.xlsx", "there is no such file"),
        (tmp_path, "is a folder"),
        (tmp_path / ("x" * 5000), "cannot be opened"),
        ("a\0b.csv", "cannot be opened"),
    ]:
        runs = read_runs(path)
        assert len(runs) == 0
        assert words in str(runs.faults[0])
        assert str(runs.faults[0]).isprintable()


def test_ragged_row(write):
    good = one_row()
    runs = read_runs(write(f"{good}C-15,1,2,3,4,5,6,7,8,9,10,11\nC-16,,,,,,,,64.6\n"))
    assert lines(runs)[0].startswith("section.csv, row 3: has 12 cells where there are 11 column")
    assert [run.label for run in runs] == ["C-14", "C-16"]  # a short row only lacks its last cells


@pytest.mark.parametrize("blank", [1, 998, 16_381, 16_382, 1_000_000])
@pytest.mark.parametrize("label", ['"C-14, old"', '"C ""14"""'])
def test_blank_cells_behind_a_row_change_nothing(write, label, blank):
    header = "label,molar_mass,boiling_point_C"
    runs = read_runs(write(f"{header}\n{label},46.1,78.4{',' * blank}\nC-15,46.1,78.4\n"))
    assert runs.faults == ()
    assert [run.label for run in runs] == [label[1:-1].replace('""', '"'), "C-15"]


def test_a_header_that_comes_again_is_one_line(write):
    """As where tables of several benches are put one below the other."""
    good = one_row()
    header = good.splitlines()[0]
    runs = read_runs(write(f"{good}{header}\n{good.splitlines()[1].replace('C-14', 'C-15')}\n"))
    assert lines(runs) == [
        "section.csv, row 3: repeats the row of column names; leave it out",
    ]
    assert [run.label for run in runs] == ["C-14", "C-15"]


def test_decimal_commas_between_commas(write):
    runs = read_runs(write("label,molar_mass,boiling_point_C\nC-14,32,4,64,6\n"))
    assert "separate the columns by semicolons" in lines(runs)[0]


def test_thousands_separator_is_not_taken_for_a_decimal_comma(write):
    row = table([HEADER, [*ROWS[0][:6], "1,013", *ROWS[0][7:]]])
    runs = read_runs(write(row))
    assert "can be read two ways" in lines(runs)[0]
    # In a table of decimal commas the same text is a mass to three places.
    comma = table([HEADER, [*ROWS[0][:2], "98.113", "98.372", *ROWS[0][4:]]], ";", comma=True)
    runs = read_runs(write(comma))
    assert (str(runs[0].trials[0].empty), runs.faults) == ("98.113 g", ())


def test_open_quotation_mark(write):
    good = one_row()
    runs = read_runs(write(f'{good}"C-15,1,2\nC-16,1,2\n'))
    assert "row 3: has quotation marks that do not pair" in lines(runs)[0]
    assert lines(runs)[1].startswith("section.csv, row 4, condensed_g: is missing")
    assert [run.label for run in runs] == ["C-14"]


def test_spreadsheet_line_that_names_the_separator(write):
    runs = read_runs(write("sep=;\nlabel;molar_mass\nC-14;32,4\n"))
    assert (str(runs[0].molar_mass), runs[0].source.row, runs.faults) == ("32.4 g/mol", 3, ())


def test_blank_rows_are_counted_and_passed_over(write):
    runs = read_runs(write("\n\nlabel,molar_mass\n\nC-14,32.4\n,,\n \nC-15,-1\n"))
    assert runs[0].source.row == 5
    assert lines(runs)[0].startswith("section.csv, row 8, molar_mass")


def test_label_of_any_kind(write):
    runs = read_runs(write("label,molar_mass\n  014 ,32.4\nünbekannt 7,46\n"))
    assert [run.label for run in runs] == ["014", "ünbekannt 7"]


# -------------------------------------------------------------------- rows of the same unknown


def test_repeated_row_is_kept_once(write):
    runs = read_runs(write("label,molar_mass\nC-14,32.4\nC-15,46.1\nC-14,32.4\n"))
    assert [run.label for run in runs] == ["C-14", "C-15"]
    assert lines(runs) == [
        'section.csv, row 4, label: "C-14" repeats row 2; keep one of the two',
    ]


def test_one_label_for_two_bottles(write):
    runs = read_runs(write("label,molar_mass\nC-14,32.4\nC-15,46.1\nC-14,60.1\n"))
    assert [run.label for run in runs] == ["C-15"]
    first, second = lines(runs)
    assert 'row 2, label: "C-14" is set aside with row 4 of the same unknown' in first
    assert 'row 4, label: "C-14" is also the label of row 2, with other values' in second


def test_card_that_contradicts_itself(write):
    rows = [list(row) for row in ROWS]
    rows[1][HEADER.index("boiling_point_C")] = "46.6"
    for order in (rows, rows[::-1]):
        runs = read_runs(write(table([HEADER, *order])))
        assert {(run.label, run.student) for run in runs} == {("C-14", "Kim"), ("C-15", "")}
        first, second = lines(runs)
        assert 'label: "C-14" is set aside with row' in first
        assert "boiling_point_C" in second
        assert '"C-14" is set aside' in second


def test_card_row_beside_trial_rows(write):
    rows = [
        ["C-14", "", "", "", "", "22.5", "742.0", "287.4", "64.6", "37.48", ""],
        ["C-14", "", "98.1132", "98.3721", "98.9", "", "", "", "", "", ""],
        ["C-14", "", "98.1140", "98.3709", "98.7", "", "741.2", "", "", "", ""],
    ]
    runs = read_runs(write(table([HEADER, *rows])))
    assert (len(runs), runs.faults) == (1, ())
    run = runs[0]
    pressures = [str(run.trial_conditions(trial).pressure) for trial in run.trials]
    assert pressures == ["742.0 mmHg", "741.2 mmHg"]
    assert str(run.boiling_point) == "64.6 °C"


def test_faulty_trial_row_leaves_the_others(write):
    rows = [list(row) for row in ROWS]
    rows[0][HEADER.index("condensed_g")] = "hot"
    runs = read_runs(write(table([HEADER, *rows])))
    assert [(run.student, len(run.trials)) for run in runs] == [("Robin", 2), ("Kim", 1), ("", 0)]
    assert [trial.unread for trial in runs[0].trials] == [("condensed",), ()]
    assert [fault.row for fault in runs.faults] == [2]


def test_what_a_trial_lacks_is_a_fault_where_nothing_else_is_known(write):
    lacking = {"pressure_mmHg": "", "volume_mL": "", "condensed_g": ""}
    (run,) = read_runs(write(one_row(**lacking)))
    assert (len(run.trials), str(run.boiling_point)) == (1, "64.6 °C")
    runs = read_runs(write(one_row(**lacking, boiling_point_C="", percent_C="")))
    assert [line.split(":")[0] for line in lines(runs)] == [
        "section.csv, row 2, condensed_g",
        "section.csv, row 2, volume_mL",
    ]
    assert len(runs) == 0


def test_row_of_nothing(write):
    runs = read_runs(write("label,room_C,molar_mass\nC-14,22.5,\nC-15,,\n"))
    assert len(runs) == 0
    assert [fault.row for fault in runs.faults] == [2, 3]


# ------------------------------------------------------------------------- workbooks and frames


def workbook(rows: Sequence[Sequence[object]]) -> bytes:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(list(row))
    book.create_sheet("other").append(["not", "read"])
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()


def as_number(cell: str) -> object:
    try:
        return float(cell)
    except ValueError:
        return cell or None


def test_workbook(write):
    expected = read_runs(write(table([HEADER, *ROWS])))
    for rows in (ROWS, [[as_number(cell) for cell in row] for row in ROWS]):
        for name in ("section.xlsx", "section.csv"):
            runs = read_runs(write(workbook([HEADER, *rows]), name))
            assert runs.faults == ()
            assert [run.source.row for run in runs] == [2, 4, 5]
            assert [run.molar_mass for run in runs] == [run.molar_mass for run in expected]
            assert [run.trials[0].empty for run in runs[:2]] == [
                run.trials[0].empty for run in expected[:2]
            ]


def test_faulty_workbook_cells(write):
    rows = [
        ["label", "molar_mass"],
        [14, 32.4],
        [15, pd.Timestamp("2031-05-03")],
        [16, "#DIV/0!"],
        [17, True],
        [None, 5],
        [18, -5],
        [19, "=40+6"],
        [pd.Timestamp("2031-03-14"), 46],
        [True, 46],
    ]
    runs = read_runs(write(workbook(rows), "section.xlsx"))
    assert [run.label for run in runs] == ["14"]
    assert [fault.row for fault in runs.faults] == [3, 4, 5, 6, 7, 8, 9, 10]
    assert "is a date" in str(runs.faults[0])
    assert "was never worked out" in str(runs.faults[5])
    assert 'label: "2031-03-14" is a date to the spreadsheet' in str(runs.faults[6])
    assert len(read_runs(write(workbook([]), "section.xlsx"))) == 0


@pytest.mark.parametrize(
    ("cell", "read"),
    [
        ('<c r="B2"><f>40+6</f><v>46</v></c>', 46.0),
        # IF(..., "") leaves an empty text: a blank cell, as the spreadsheet shows it.
        ('<c r="B2" t="str"><f>IF(1,"",2)</f><v></v></c>', None),
    ],
)
def test_formulas_give_what_they_were_worked_out_to(write, cell: str, read: float | None):
    rows = [["label", "molar_mass", "boiling_point_C"], ["A", "=40+6", 78.4]]
    damaged = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(workbook(rows))) as book,
        zipfile.ZipFile(damaged, "w") as copy,
    ):
        for name in book.namelist():
            text = book.read(name)
            if name == "xl/worksheets/sheet1.xml":
                text, count = re.subn(rb'<c r="B2"><f>.*?</c>', cell.encode(), text)
                assert count == 1
            copy.writestr(name, text)
    runs = read_runs(write(damaged.getvalue(), "section.xlsx"))
    assert runs.faults == ()
    assert runs[0].molar_mass == (None if read is None else Quantity(read, "g/mol"))


def test_frame(write):
    expected = read_runs(write(table([HEADER, *ROWS])))
    frame = pd.DataFrame([[as_number(cell) for cell in row] for row in ROWS], columns=HEADER)
    runs = runs_from_frame(frame)
    assert (runs.faults, runs.path) == ((), None)
    assert [run.label for run in runs] == [run.label for run in expected]
    assert runs[0].trials[1].condensed == expected[0].trials[1].condensed
    before = frame.copy()
    runs_from_frame(frame)
    pd.testing.assert_frame_equal(frame, before)


@pytest.mark.parametrize(
    "frame",
    [
        pd.DataFrame({"label": ["a", "b"], "molar_mass": [32.4, np.nan]}),
        pd.DataFrame({"label": ["a", "b"], "molar_mass": pd.array([32, None], dtype="Int64")}),
        pd.DataFrame({"label": pd.Categorical(["a", "b"]), "molar_mass": ["32.4", None]}),
        pd.DataFrame({"label": ["a", "b"], "molar_mass": [np.float32(32.4), -1]}, index=[5, 9]),
    ],
)
def test_frame_kinds(frame):
    runs = runs_from_frame(frame)
    assert [run.label for run in runs] == ["a"]
    assert [fault.row for fault in runs.faults] == [3]


@pytest.mark.parametrize(
    "frame", [pd.DataFrame(), pd.DataFrame({"label": []}), pd.DataFrame({0: [1], 1: [2]})]
)
def test_frame_of_nothing(frame):
    runs = runs_from_frame(frame)
    assert len(runs) == 0
    assert len(runs.faults) >= 1


def test_runs_is_a_sequence(write):
    runs = read_runs(write(table([HEADER, *ROWS])))
    assert [run.label for run in runs] == [run.label for run in runs[:]]
    assert runs[-1] in runs
    assert "3 measurements" in repr(runs)


def test_fault_is_one_line():
    fault = Fault("a\nb.csv", 3, "x\ty", "1\n2" + "7" * 100, "is wrong")
    assert str(fault).isprintable()
    assert len(str(fault)) < 100


# ------------------------------------------------------------------------- whatever a file holds

any_cell = (
    st.text(max_size=12)
    | st.from_regex(r"-?[0-9]{1,4}([.,][0-9]{1,4})?( ?(g|mmHg|C|%|mL|± 0\.5))?", fullmatch=True)
    | st.sampled_from(["", "nan", "inf", "laboratory", "mercury", "1e400", '"', "=1+1", "0", "-0"])
)
any_header = st.sampled_from(
    [
        *HEADER,
        "percent_u",
        "molar_mass_u",
        "barometer",
        "boiling_point_at_kPa",
        "note",
        "",
        "percent",
    ]
)


def read_bytes(folder: pytest.TempPathFactory, data: bytes, name: str) -> Runs:
    path = folder.getbasetemp() / name
    path.write_bytes(data)
    runs = read_runs(path)
    assert len(runs) or runs.faults
    for fault in runs.faults:
        assert str(fault).isprintable()
        assert len(fault.read) <= 40
    return runs


@given(st.binary(max_size=300), st.sampled_from(["f.csv", "f.toml", "f.xlsx"]))
def test_any_bytes(tmp_path_factory, data, name):
    read_bytes(tmp_path_factory, data, name)


@given(st.integers(0, 5000), st.binary(min_size=1, max_size=20))
@settings(max_examples=50, deadline=None)
def test_damaged_workbook(tmp_path_factory, place, damage):
    data = workbook([HEADER, *ROWS])
    place = min(place, len(data) - len(damage))
    read_bytes(tmp_path_factory, data[:place] + damage + data[place + len(damage) :], "f.xlsx")
    read_bytes(tmp_path_factory, data[: max(place, 4)], "f.xlsx")


@given(st.integers(0, len(RECORD)), st.text(max_size=8))
def test_damaged_record(tmp_path_factory, place, damage):
    data = (RECORD[:place] + damage + RECORD[place + len(damage) :]).encode()
    read_bytes(tmp_path_factory, data, "f.toml")


@given(
    st.lists(any_header, min_size=1, max_size=8),
    st.lists(st.lists(any_cell, min_size=1, max_size=9), min_size=1, max_size=6),
    st.sampled_from(",;\t"),
)
@settings(deadline=None)
def test_any_cells(tmp_path_factory, header, rows, delimiter):
    """Every row with a label is either in a measurement or named by a fault."""
    labeled = [[f"label {number}", *row] for number, row in enumerate(rows)]
    text = table([["label", *header], *labeled], delimiter)
    runs = read_bytes(tmp_path_factory, text.encode("utf-8", "replace"), "f.csv")
    labels = {run.label for run in runs}
    # A column that no row has is said once, for all of them.
    faulty = {one.row for fault in runs.faults for one in (fault, *fault.each)}
    if any(row is None for row in faulty):  # control characters: no text at all
        assert not labels
        return
    if "label" in header:  # twice the same column: the second is named and not read
        assert 1 in faulty
    for number in range(len(rows)):
        assert f"label {number}" in labels or number + 2 in faulty


@given(
    st.dictionaries(
        st.text(max_size=8) | any_header, st.lists(st.none() | any_cell, min_size=2, max_size=2)
    )
)
def test_any_frame(columns):
    runs = runs_from_frame(pd.DataFrame({"label": ["a", "b"], **columns}))
    assert len(runs) or runs.faults


def test_long_table_and_long_cells_are_answered_quickly(write):
    header, row = one_row().splitlines()
    body = [row.replace("C-14", f"C-{number}", 1) for number in range(3000)]
    path = write("\n".join([header, *body]))
    began = time.process_time()
    runs = read_runs(path)
    # 0.35 s on one slow core; the bound only catches work that grows with the square.
    assert time.process_time() - began < 5.0
    assert (len(runs), runs.faults) == (3000, ())


@pytest.mark.parametrize(
    ("counts", "note"),
    [
        ((4, 4), ""),
        ((5, 4), 'the 5 rows of "U-0" are taken for the trials of one person'),
        ((4, 5), 'the 5 rows of "U-1" are taken for the trials of one person'),
        ((7, 5), 'the 7 rows of "U-0" (and of 1 more labels) are taken for the trials of one '
         "person"),
        ((7, 5, 1, 6), 'the 7 rows of "U-0" (and of 2 more labels) are taken for the trials of one '
         "person"),
    ],
)  # fmt: skip
def test_rows_that_are_too_many_for_the_trials_of_one_person(write, counts, note):
    header = "label,gain_g,volume_mL,bath_C"
    rows = [
        f"U-{place},0.3{trial},287,98"
        for place, count in enumerate(counts)
        for trial in range(count)
    ]
    runs = read_runs(write("\n".join([header, *rows, ""])))
    told = f"no column names the students: {note}; add a column student"
    assert runs.notes == ((told,) if note else ())
    named = "\n".join([f"{header},student", *(f"{row},Ada" for row in rows), ""])
    assert read_runs(write(named)).notes == ()
