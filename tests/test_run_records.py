"""Run records as people write them: keys wherever they are understood, lines that are no TOML."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from identify.notebook.measurement import Measurement
from identify.tables import Runs, read_runs
from identify.tables.records.keys import advice_on, key_meant

Read = Callable[[str], Runs]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    def read_record(text: str) -> Runs:
        path = tmp_path / "U-7.toml"
        path.write_text(text, encoding="utf-8")
        return read_runs(path)

    return read_record


def lines(runs: Runs) -> list[str]:
    return [str(fault).partition("U-7.toml, ")[2] for fault in runs.faults]


def told(run: Measurement) -> dict[str, str]:
    """Say what a run holds, of all its parts and of its first trial."""
    trial = run.trials[0] if run.trials else None
    parts = [run, run.conditions, run.flask]
    if trial is not None:
        parts = [run, run.trial_conditions(trial), run.trial_flask(trial), trial]
    written = {name: value for part in parts for name, value in vars(part).items() if value}
    passed = (
        "label",
        "source",
        "conditions",
        "flask",
        "trials",
        "percent",
        "vaporized_in",
        "reported",
    )
    return {name: str(value) for name, value in written.items() if name not in passed}


WEIGHED = {
    "empty": "98.1 g",
    "condensed": "98.4 g",
    "bath": "99 °C",
    "room": "22 °C",
    "pressure": "742 mmHg",
    "volume": "287 mL",
}
KEYS = [f'{key} = "{value}"' for key, value in WEIGHED.items()]


@pytest.mark.parametrize(
    "section", ["", "[card]", "[conditions]", "[flask]", "[trial]", "[[trial]]"]
)
def test_a_key_is_read_wherever_it_is_understood(read, section):
    runs = read("\n".join(['label = "U-7"', section, *KEYS]))
    assert runs.faults == ()
    assert told(runs[0]) == WEIGHED
    assert len(runs[0].trials) == 1


@pytest.mark.parametrize(
    ("record", "expected"),
    [
        ('[trial]\ngain = "0.3703 g"', {"gain": "0.3703 g"}),
        ('[trial]\nempty = "78.64 + 0.241 + 0.248 g"\ncondensed = 79.4', {"empty": "79.129 g"}),
        ('[trial]\ngain = 0.3\n[conditions]\nweighed_at = "ice bath"', {"weighed_at": "2 °C"}),
        ('[trial]\ngain = 0.3\n[conditions]\nbath = "boiling water, 99 C"', {"bath": "99 °C"}),
        ('gain = 0.3\nbath = "97-99 C"', {"bath": "98.00 ± 0.58 °C"}),
        ('gain = 0.3\nroom = "room temperature (21 C)"', {"room": "21 °C"}),
        ('gain = 0.3\n[flask]\nsize = "125 mL"\nclosed = "hot"', {"size": "125 mL"}),
        ('gain = 0.3\n[flask]\nvolume = 125\nclosed = "stoppered while hot"', {"closed": "hot"}),
        ("gain = 0.3\n[flask]\nvolume = 125\nclosed = true", {"closed": "hot"}),
        ('gain = 0.3\n[conditions]\nheight = "1600 m"', {"height": "1600 m"}),
        ('gain = 0.3\n[conditions]\npressure = "30.35 in"', {"pressure": "30.35 inHg"}),
        ('[card]\nboiling_point = "77-79 C"', {"boiling_point": "78.00 ± 0.58 °C"}),
        ('[card]\nboiling_point = "about 78 C"', {"boiling_point": "78 ± 2 °C"}),
        ('[card]\nboiling_point = 78\nboiling_point_by = "me"', {"boiling_point_by": "own"}),
        ('[card]\nmolar_mass = 46\nmolar_mass_by = "ideal gas"', {"molar_mass_by": "ideal gas"}),
        ('[card]\nformula = "C2H6O"', {"formula": "C2H6O"}),
        ("[card]\nvapor_density = 37", {"molar_mass": "74.592 g/mol"}),
        ('[card]\nvapor_density = "2.55 (air)"', {"vapor_density": "2.55 relative to air"}),
        ('[Card]\n"Boiling Point" = 78', {"boiling_point": "78 °C"}),
        ('[card]\nlabel = "U-8"\nmolar_mass = 46', {"molar_mass": "46 g/mol"}),
    ],
)
def test_keys(read, record, expected):
    label = "" if "label" in record else 'label = "U-7"\n'
    size = "" if "volume" in record or "size" in record else "volume = 287\n"
    runs = read(f"{label}{size}{record}\n")
    assert runs.faults == ()
    assert expected.items() <= told(runs[0]).items()


@pytest.mark.parametrize(
    "percent",
    [
        'percent = "C 52.1 H 13.1"',
        'percent = "52.1 % C, 13.1 % H"',
        "percent = { C = 52.1, H = 13.1 }",
        "percent.C = 52.1\npercent.H = 13.1",
        "[card.percent]\nC = 52.1\nH = 13.1",
        "[percent]\ncarbon = 52.1\nhydrogen = 13.1",
        'percent = { C = "52.1 %", H = 13.1 }',
    ],
)
def test_compositions(read, percent):
    (run,) = read(f'label = "U-7"\n[card]\n{percent}\n')
    assert {element: one.value for element, one in run.percent.items()} == {"C": 52.1, "H": 13.1}


def test_combustion(read):
    runs = read('label = "U-7"\n[combustion]\nsample = "0.4310 g"\nCO2 = 0.8235\nh2o = 0.5057\n')
    assert runs.faults == ()
    assert {element: str(one) for element, one in runs[0].percent.items()} == {
        "C": "52.146 %",
        "H": "13.13 %",
        "O": "34.723 %",
    }


@pytest.mark.parametrize("header", ["[vapor]", "[[vapor]]"])
def test_a_liquid_vaporized_in_a_syringe(read, header):
    keys = 'mass = "0.152 g"\nvolume = "61 mL"\ntemperature = "97 C"\npressure = "1.01 bar"\n'
    again = keys.replace("0.152", "0.160") if header == "[[vapor]]" else ""
    runs = read(f'label = "U-7"\n{header}\n{keys}{header if again else ""}\n{again}')
    assert runs.faults == ()
    (run,) = runs
    assert len(run.trials) == (2 if again else 1)
    trial = run.trials[0]
    assert (trial.vaporized_in, str(trial.gain), str(trial.bath)) == ("syringe", "0.152 g", "97 °C")
    assert str(run.trial_flask(trial).volume) == "61 mL"
    assert str(run.trial_conditions(trial).pressure) == "1.01 bar"


# ------------------------------------------------------------------------------------- not TOML


@pytest.mark.parametrize(
    ("line", "right"),
    [
        ("label = U-7", 'label = "U-7"'),
        ("label: U-7", 'label = "U-7"'),
        ('label: "U-7"', 'label = "U-7"'),
        ("label U-7", 'label = "U-7"'),
        ('label = "U-7', 'label = "U-7"'),
        ("label = “U-7”", 'label = "U-7"'),
        ("label = ‘U-7’", "label = 'U-7'"),
        ('label = "U-7",', 'label = "U-7"'),
        ("label := U-7  # on the bottle", 'label = "U-7"'),
        ("pressure = 742 mmHg", 'pressure = "742 mmHg"'),
        ("pressure = 742,5", 'pressure = "742,5"'),
        ('pressure = 742 "mmHg"', 'pressure = "742 mmHg"'),
        ('pressure = 29.92"', "pressure = '29.92\"'"),
        ("room: 22.5", "room = 22.5"),
        ("room temperature = 22 C", 'room_temperature = "22 C"'),
        ("volume = 287,4 mL", 'volume = "287,4 mL"'),
        ("percent = { C: 52.1, H: 13.1 }", "percent = { C = 52.1, H = 13.1 }"),
        ("percent = C 52.1 H 13.1", 'percent = "C 52.1 H 13.1"'),
        ("[flask", "[flask]"),
        ("flask]", "[flask]"),
        ("[Flask]:", "[flask]"),
        ("Flask:", "[flask]"),
        ("[[trial]", "[[trial]]"),
        ("trial", "[[trial]]"),
    ],
)
def test_a_line_that_is_not_toml_is_told_as_it_would_be_right(read, line, right):
    first = 'student = "4B"' if line.startswith("label") else 'label = "U-7"'
    runs = read(f"{first}\n{line}\n[card]\nmolar_mass = 46\n")
    (told_right,) = (one for one in lines(runs) if "is not TOML" in one)
    assert f"is not TOML; write {right}" in told_right
    assert told_right.startswith("line 2: ")
    tomllib.loads(right)


RECORD = """\
label = U-7
[card]
boiling_point = "64.6 C"
[conditions]
pressure = 742 mmHg
room = "22.5 C"
[flask]
volume: 287,4 mL
[[trial]]
empty = "98.1132 g"
condensed = “98.3721 g”
bath = "98.9 C"
[[trial]]
empty = "98.1140 g"
condensed = "98.3709 g"
bath = 98.7 C
"""


def test_all_faults_of_a_file_come_at_once(read):
    runs = read(RECORD)
    assert [line.partition(":")[0] for line in lines(runs)] == [
        *["line 1", "line 5", "line 8", "line 11", "line 16"]
    ]
    (run,) = runs  # the rest is answered, under the name of the file
    assert (run.label, str(run.boiling_point), str(run.conditions.room)) == (
        *["U-7", "64.6 °C", "22.5 °C"],
    )
    # Nothing is taken as read, and nothing usual in its place.
    assert (run.conditions.pressure, run.flask.volume) == (None, None)
    assert run.unread == ("pressure", "volume")
    assert [trial.unread for trial in run.trials] == [("condensed",), ("bath",)]


@pytest.mark.parametrize(
    ("text", "faults", "unread"),
    [
        ("[conditions]\nroom = 22\nroom = 23", ['line 5: "room = 23" is there twice'], ("room",)),
        (
            "[conditions]\nroom = 22\n[conditions]\nhumidity = 40",
            ['line 5: "[conditions]" is there twice; write its keys under the first'],
            (),
        ),
        (
            "[trial]\ngain = 0.30\n[trial]\ngain = 0.31",
            ['line 5: "[trial]" is there twice; write [[trial]] for each'],
            (),
        ),
        (
            "[trial]\ngain = 0.30\n[[trial]]\ngain = 0.31",
            ['line 5: "[[trial]]" is there twice; write [[trial]] for each'],
            (),
        ),
        ("room = 22\n[conditions]\nroom = 23", ['conditions.room: "23" is there twice'], ("room",)),
    ],
)
def test_what_is_there_twice(read, text, faults, unread):
    runs = read(f'label = "U-7"\nmolar_mass = 46\n{text}\n')
    assert len(runs.faults) == len(faults)
    for line, start in zip(lines(runs), faults, strict=True):
        assert line.startswith(start)
    assert runs[0].unread == unread
    assert len(runs[0].trials) == (2 if "trial" in text else 0)


def test_a_card_that_a_trial_contradicts(read):
    runs = read('label = "U-7"\n[card]\nboiling_point = 78\n[[trial]]\nboiling_point = 80\n')
    assert len(runs) == 0
    (line,) = lines(runs)
    assert line.startswith('trial 1, boiling_point: "80 °C" differs from "78 °C" in card.boiling_')


@pytest.mark.parametrize("text", ["", "just a text\nof two lines", "<html>", "{}", "= 5", "[x]\ny"])
def test_a_text_that_is_no_record_is_one_fault(read, text):
    runs = read(text)
    assert (len(runs), len(runs.faults)) == (0, 1)


def test_many_lines_that_are_not_toml_are_counted(read):
    runs = read('label = "U-7"\nmolar_mass = 46\n' + "note = x y\n" * 50)
    assert len(runs.faults) == 21
    assert "30 more lines are not TOML" in str(runs.faults[0])


@given(
    st.lists(st.sampled_from(range(len(RECORD.splitlines()))), min_size=1, unique=True),
    st.sampled_from(["=", '"', "x", ": ", "[", "“", "\t#", "= ="]),
)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_a_spoiled_line_spoils_no_other(read, spoiled, mark):
    good = [re.sub(r"“|”", '"', line) for line in RECORD.splitlines()]
    good[0], good[4], good[15] = 'label = "U-7"', 'pressure = "742 mmHg"', 'bath = "98.7 C"'
    good[7] = 'volume = "287,4 mL"'
    text = "\n".join(mark + line if n in spoiled else line for n, line in enumerate(good))
    runs = read(text)
    for run in runs:
        assert run.boiling_point is None or str(run.boiling_point) == "64.6 °C"
        for trial in run.trials:
            assert str(trial.condensed) in ("None", "98.3721 g", "98.3709 g")


# ---------------------------------------------------------------------------------- unknown keys


@pytest.mark.parametrize(
    ("section", "key", "meant"),
    [
        ("conditions", "temperature", "room"),
        ("conditions", "temp", "room"),
        ("trial", "temperature", "bath"),
        ("flask", "temperature", "water_temperature"),
        ("card", "temperature", "boiling_point"),
        ("conditions", "room_temperature", "room"),
        ("conditions", "bath temperature", "bath"),
        ("combustion", "sample_mass", "sample"),
        ("conditions", "atm", "pressure"),
        ("", "barometric_pressure", "pressure"),
        ("trial", "mass_empty", "empty"),
        ("flask", "flask_mass", "empty"),
        ("trial", "mass", "gain"),
        ("card", "bp", "boiling_point"),
        ("card", "mw", "molar_mass"),
        ("card", "boilng_point", "boiling_point"),
        ("card", "carbon", "percent"),
        ("trial", "baht", "bath"),
        ("trial", "bath_C", "bath"),
        ("", "trials", "trial"),
        ("", "crad", "card"),
        ("", "bottle", "label"),
        ("vapor", "tempreature", "temperature"),
        ("combustion", "c02", "co2"),
        ("card", "color", ""),
    ],
)
def test_what_a_key_that_is_not_known_may_mean(section, key, meant):
    assert key_meant(key, section) == meant
    assert (f"did you mean {meant}?" in advice_on(key, section)) == bool(meant)


@pytest.mark.parametrize(
    ("text", "unread"),
    [
        ("[conditions]\ntemperature = 22", ("room",)),
        ("[crad]\nboiling_point = 64.6\nroom = 22", ("boiling_point", "room")),
        ("[card]\ncolor = 5", ()),
        ("[conditions]\nroom = 'warm'", ("room",)),
        ("[flask]\nclosed = 'tightly'", ("closed",)),
        ("[card]\nformula = 'ethanol'", ("formula",)),
        ("[card]\npercent = { C = 'much', H = 13.1 }", ("percent",)),
        ("[combustion]\nsample = 0", ("sample",)),
        ("[conditions]\nhumidity = 300", ("humidity",)),
    ],
)
def test_nothing_is_taken_in_the_place_of_what_cannot_be_read(read, text, unread):
    runs = read(f'label = "U-7"\nmolar_mass = 46\n{text}\n')
    assert (len(runs.faults), runs[0].unread) == (1, unread)


@pytest.mark.parametrize(
    ("key", "unread"),
    [
        ("tempreature = 97", "bath"),
        ("temperature = 'hot'", "bath"),
        ("mas = 0.152", "gain"),
        ("pressur = 742", "pressure"),
        ("room = 'warm'", "room"),
    ],
)
def test_nothing_is_taken_in_the_place_of_what_a_vapor_lacks(read, key, unread):
    pages = {"mass": "0.152 g", "volume": "61 mL", "temperature": "97 C", "pressure": "1 bar"}
    del pages[next((name for name in pages if name.startswith(key[:3])), "pressure")]
    others = "\n".join(f'{name} = "{value}"' for name, value in pages.items())
    runs = read(f'label = "U-7"\nmolar_mass = 46\nbath = 98\n[vapor]\n{key}\n{others}\n')
    assert (len(runs.faults), runs[0].trials[0].unread) == (1, (unread,))


@pytest.mark.parametrize("density", ["3.006 g/L", "3,006 g/dm³", "0.003006 g/mL", "3.006"])
def test_a_vapor_may_be_written_as_its_density(read, density):
    runs = read(f'label = "U-7"\n[vapor]\ndensity = "{density}"\ntemperature = "376 K"\n')
    assert runs.faults == ()
    (trial,) = runs[0].trials
    assert trial.gain.to("g").value == pytest.approx(3.006)
    assert runs[0].trial_flask(trial).volume.to("L").value == 1.0
    assert trial.vaporized_in == "syringe"


def test_a_density_that_cannot_be_read_is_one_fault(read):
    (fault,) = read('label = "U-7"\n[vapor]\ndensity = "hot"\n').faults
    assert (fault.column, fault.read) == ("vapor.density", "hot")
