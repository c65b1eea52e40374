"""What a whole section needs of its table: every row accounted for, days and instruments kept."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from identify import match
from identify.notebook.measurement import Measurement, Trial
from identify.tables import Runs, read_runs, runs_from_frame

HEADER = ["label", "student", "empty_g", "condensed_g", "bath_C", "room_C", "pressure_mmHg"]
HEADER += ["volume_mL", "boiling_point_C", "barometer", "molar_mass"]
WEIGHED = ["98.1132", "98.3721", "98.9", "22.5", "742.0", "287.4"]
NOTHING = [""] * 6

Write = Callable[[str], Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def write_file(text: str) -> Path:
        path = tmp_path / "section.csv"
        path.write_text(text, encoding="utf-8")
        return path

    return write_file


def table(*rows: Sequence[str], header: Sequence[str] = HEADER) -> str:
    return "".join(",".join(row) + "\n" for row in (header, *rows))


def weighed(label: str, student: str = "", boiling: str = "", **cells: str) -> list[str]:
    """Write a row of a trial with some cells changed."""
    row = dict(zip(HEADER, [label, student, *WEIGHED, boiling, "", ""], strict=True)) | cells
    return list(row.values())


def card(label: str, student: str = "", **cells: str) -> list[str]:
    """Write a row without weighings."""
    row = dict.fromkeys(HEADER, "") | {"label": label, "student": student} | cells
    return list(row.values())


def check_accounts(runs: Runs, filled: Sequence[int]) -> None:
    """Check that each filled row is in one measurement, or is set aside, and not both."""
    assert list(runs.rows) == list(filled)
    used = [row for rows in runs.rows_of for row in rows]
    aside = [row for row, _ in runs.set_aside]
    assert Counter(used + aside) == Counter(filled)
    assert len(runs.rows_of) == len(runs)
    for run, rows in zip(runs, runs.rows_of, strict=True):
        assert {trial.source.row for trial in run.trials if not trial.unread} <= set(rows)
        assert rows
    for row, reason in runs.set_aside:
        assert reason.isprintable()
        assert reason.strip()
        assert any(fault.row == row for fault in runs.row_faults)


# ---------------------------------------------------------------------------------- the accounts


@pytest.mark.parametrize(
    ("rows", "rows_of", "aside"),
    [
        pytest.param(
            [weighed("K-1", "a"), weighed("K-1", "a"), weighed("K-1", "b")],
            [(2, 3), (4,)],
            {},
            id="trials",
        ),
        pytest.param(
            [card("K-1", boiling_point_C="64.6"), weighed("K-1"), card("K-2", molar_mass="46")],
            [(2, 3), (4,)],
            {},
            id="card beside trials",
        ),
        pytest.param(
            [weighed("K-1"), weighed("K-1", condensed_g="hot"), weighed("K-1", bath_C="")],
            [(2, 4)],
            {3: 'condensed_g: "hot" does not start'},
            id="faulty trials leave the others",
        ),
        pytest.param(
            [weighed("K-1", empty_g="", volume_mL=""), weighed("K-2")],
            [(3,)],
            {2: "empty_g: is missing; write the mass of the empty flask with its lid; volume_mL"},
            id="two faults in a row",
        ),
        pytest.param(
            [weighed("K-1", boiling="64.6", bath_C=""), weighed("K-1", boiling="64.6", bath_C="")],
            [(2, 3)],
            {},
            id="the card is read from a row that lacks a reading",
        ),
        pytest.param(
            [card("K-1", molar_mass="46"), card("K-1", molar_mass="46")],
            [(2,)],
            {3: 'label: "K-1" repeats row 2; keep one'},
            id="repeated card",
        ),
        pytest.param(
            [card("K-1", molar_mass="46"), card("K-1", molar_mass="58"), weighed("K-1")],
            [],
            {
                2: 'label: "K-1" is set aside with row 3',
                3: 'label: "K-1" is also the label of row 2, with other values',
                4: 'label: "K-1" is set aside with row 3',
            },
            id="two cards",
        ),
        pytest.param(
            [weighed("K-1", boiling=text) for text in ("64.6", "64.6", "46.6")],
            [],
            {
                2: 'label: "K-1" is set aside with row 4 of the same unknown',
                3: 'label: "K-1" is set aside with row 4 of the same unknown',
                4: 'boiling_point_C: "46.6 °C" differs from "64.6 °C" in row 2',
            },
            id="contradiction",
        ),
        pytest.param(
            [card("K-1", room_C="22"), weighed("K-1", empty_g="")],
            [],
            {2: 'label: "K-1" is set aside with row 3', 3: "empty_g: is missing"},
            id="conditions of a trial that lacks a reading",
        ),
        pytest.param(
            [card("K-1", room_C="22"), weighed("K-1", empty_g="hot")],
            [],
            {2: 'label: "K-1" is set aside with row 3', 3: 'empty_g: "hot" does not start'},
            id="conditions of a trial that cannot be read",
        ),
        pytest.param(
            [card("K-1"), card("K-1"), card("K-2")],
            [],
            {2: "nothing is written", 3: "repeats row 2", 4: "nothing is written"},
            id="nothing",
        ),
        pytest.param(
            [card(""), weighed(""), [*weighed("K-1"), "7"], weighed("K-2")],
            [(4,)],
            {2: "label: is empty", 3: "has 12 cells where there are 11 column names"},
            id="no label, and a cell too many",
        ),
    ],
)
def test_each_row_is_used_or_set_aside(write: Write, rows, rows_of, aside) -> None:
    runs = read_runs(write(table(*rows)))
    filled = [number for number, row in enumerate(rows, start=2) if any(row)]
    check_accounts(runs, filled)
    # The row of blank cells alone is passed over, so the rows behind it keep their numbers.
    blank = len(rows) - len(filled)
    assert runs.rows_of == tuple(tuple(row + blank for row in rows) for rows in rows_of)
    assert [row for row, _ in runs.set_aside] == [row + blank for row in aside]
    for (_, reason), start in zip(runs.set_aside, aside.values(), strict=True):
        assert start in reason
        assert "section.csv" not in reason


def test_one_pressure_for_a_boiling_point_at_the_laboratory(write: Write) -> None:
    header = [*HEADER, "boiling_point_at"]
    rows = [
        [*weighed("K-1"), ""],
        [*weighed("K-1", boiling="64.6", pressure_mmHg="735"), "laboratory"],
    ]
    runs = read_runs(write(table(*rows, header=header)))
    check_accounts(runs, [2, 3])
    ((run,), (fault,)) = runs, runs.faults
    assert (len(run.trials), run.boiling_point, run.unread) == (2, None, ("boiling_point",))
    assert 'boiling_point_at: "laboratory" needs one pressure' in str(fault)


def test_column_that_is_not_read_sets_no_row_aside(write: Write) -> None:
    runs = read_runs(write(table([*weighed("K-1"), "7", "x"], header=[*HEADER, "hood", ""])))
    assert (len(runs.faults), runs.headings.not_read) == (1, ("hood",))
    assert (runs.rows, runs.rows_of, runs.set_aside) == ((2,), ((2,),), ())


@pytest.mark.parametrize(
    ("text", "rows", "used"),
    [
        ('K-1,46\n"K-2,46\nK-3,46\nK-4,46\n', [2, 3, 4, 5], [2, 4, 5]),
        ('K-1,46\n"K-2","46\n"K-3","46"\n', [2, 3, 4], [2, 4]),
        ('K-1,46\n"K\n2",46\nK-3,46\n', [2, 3, 4], [2, 3, 4]),  # a cell of two lines is one row
        ('K-1,46\n\n"K-2"x,46\n', [2, 4], [2]),
        ('K-1,46\nK-2,46,"' + "\n" * 500, [2, 3], [2]),
    ],
)
def test_open_quotation_mark_takes_its_own_row_only(write: Write, text, rows, used) -> None:
    runs = read_runs(write(f"label,molar_mass\n{text}"))
    check_accounts(runs, rows)
    assert [row for one in runs.rows_of for row in one] == used
    for _, reason in runs.set_aside:
        assert reason.startswith("has quotation marks that do not pair")


def test_many_open_quotation_marks_are_answered_quickly(write: Write) -> None:
    # Read to the end of the file for each of them, this would take minutes.
    runs = read_runs(write("label,molar_mass\n" + 'K","46\n' * 3000))
    assert len(runs.set_aside) == 3000


def test_fault_says_whose_row_it_is_about(write: Write) -> None:
    header = ["bath_C", *(name for name in HEADER if name != "bath_C")]
    cells = dict(zip(HEADER, weighed("K-1", "Robin", bath_C="hot"), strict=True))
    (fault,) = read_runs(write(table([cells[name] for name in header], header=header))).faults
    assert (fault.label, fault.student) == ("K-1", "Robin")


def test_files_that_are_no_table_have_no_rows(tmp_path: Path, write: Write) -> None:
    record = tmp_path / "run.toml"
    record.write_text('label = "K-1"\n[card]\nmolar_mass = 46.1\n', encoding="utf-8")
    for runs in (read_runs(record), read_runs(write("name,mass\nK-1,46\n"))):
        assert (runs.rows, runs.set_aside) == ((), ())
        assert runs.rows_of == ((),) * len(runs)


cells = {
    "label": st.sampled_from(["K-1", "K-2", "K-3", ""]),
    "student": st.sampled_from(["", "a", "b"]),
    "empty_g": st.sampled_from(["98.1", "98.1", "", "hot"]),
    "condensed_g": st.sampled_from(["98.4", "98.5", "", "-5"]),
    "bath_C": st.sampled_from(["98.9", "98.9", ""]),
    "room_C": st.sampled_from(["22.5", "22.5", "", "71 F"]),
    "pressure_mmHg": st.sampled_from(["742.0", "742.0", "735", "", "1e9"]),
    "volume_mL": st.sampled_from(["287.4", "287.4", ""]),
    "boiling_point_C": st.sampled_from(["", "64.6", "64.6", "65.9", "?"]),
    "boiling_point_at": st.sampled_from(["", "", "laboratory", "760"]),
    "barometer": st.sampled_from(["", "", "mercury", "digital", "cherry"]),
    "molar_mass": st.sampled_from(["", "", "46.1", "58"]),
    "percent_C": st.sampled_from(["", "", "52.1"]),
    "day": st.sampled_from(["", "Monday", "2026-03-14"]),
    "hood": st.sampled_from(["", "3"]),
}


@st.composite
def tables(draw: st.DrawFn) -> list[list[str]]:
    """Draw a table whose rows repeat, contradict each other, lack readings or hold nonsense."""
    names = draw(st.lists(st.sampled_from(sorted(cells)), unique=True, min_size=1))
    names = ["label", *(name for name in names if name != "label")]
    row = st.tuples(*(cells[name] for name in names)).map(list)
    rows = draw(st.lists(row | row.map(lambda one: [""] * len(one)), min_size=1, max_size=12))
    repeated = draw(st.lists(st.sampled_from(rows), max_size=3))
    return [names, *rows, *repeated]


@given(tables())
def test_every_row_of_any_table_is_accounted_for_once(drawn: list[list[str]]) -> None:
    header, *rows = drawn
    runs = runs_from_frame(pd.DataFrame(rows, columns=header))
    filled = [number for number, row in enumerate(rows, start=2) if any(row)]
    if filled:
        check_accounts(runs, filled)
    else:
        assert "no rows below" in str(runs.faults[-1])


@given(tables(), st.text('"\n,x', max_size=6), st.integers(0, 400))
@settings(deadline=None)  # a unit that is not known loads pint
def test_no_row_is_lost_to_quotation_marks(tmp_path_factory, drawn, damage, place) -> None:
    """What rows there are after the damage is a matter of taste; that each is answered is not."""
    text = table(*drawn[1:], header=drawn[0])
    header = len(text.splitlines()[0]) + 1
    place = header + place % max(len(text) - header, 1)
    path = tmp_path_factory.getbasetemp() / "quoted.csv"
    path.write_text(text[:place] + damage + text[place:], encoding="utf-8")
    runs = read_runs(path)
    check_accounts(runs, runs.rows)
    assert {fault.row for fault in runs.faults} <= {None, 1, *runs.rows}


# ---------------------------------------------------------------------------- days, instruments


@pytest.mark.parametrize(
    ("header", "cell", "name", "word"),
    [
        ("day", "Monday", "day", "Monday"),
        ("Date", datetime.date(2026, 3, 14), "day", "2026-03-14"),
        ("date", pd.Timestamp("2026-03-14 09:30"), "day", "2026-03-14"),
        ("day", datetime.time(9, 30), "day", "09:30:00"),
        ("balance", 2, "balance", "2"),
        ("Balance", 2.0, "balance", "2"),
        ("thermometer", " T  7 ", "thermometer", "T 7"),
        ("barometer name", "hall", "barometer_name", "hall"),
        ("flask", 14, "flask", "14"),
        ("bench", "window", "bench", "window"),
    ],
)
def test_circumstances(header: str, cell: object, name: str, word: str) -> None:
    frame = pd.DataFrame([weighed("K-1")], columns=HEADER)
    frame[header] = pd.Series([cell], dtype=object)
    runs = runs_from_frame(frame)
    assert runs.faults == ()
    assert runs[0].circumstances == runs[0].trials[0].circumstances == ((name, word),)


def test_date_of_a_workbook(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["label", "molar_mass", "date"])
    book.active.append(["K-1", 46.1, datetime.datetime(2026, 3, 14)])
    book.save(tmp_path / "section.xlsx")
    (run,) = read_runs(tmp_path / "section.xlsx")
    assert run.circumstances == (("day", "2026-03-14"),)


def test_trials_keep_their_own_circumstances(write: Write) -> None:
    header = [*HEADER, "day", "balance"]
    rows = [
        [*card("K-1", boiling_point_C="64.6"), "Monday", ""],
        [*weighed("K-1"), "", "1"],
        [*weighed("K-1"), "Tuesday", "2"],
    ]
    (run,) = read_runs(write(table(*rows, header=header)))
    assert run.circumstances == (("day", "Monday"),)
    assert [trial.circumstances for trial in run.trials] == [
        (("balance", "1"), ("day", "Monday")),
        (("balance", "2"), ("day", "Tuesday")),
    ]


def test_circumstances_of_a_run_record(tmp_path: Path) -> None:
    path = tmp_path / "run.toml"
    path.write_text(
        'label = "K-1"\ndate = "any note"\n'
        "[conditions]\npressure = 742.0\nroom = 22.5\ndate = 2026-03-14\nbalance = 2\n"
        "[flask]\nvolume = 287.4\n"
        "[[trial]]\nempty = 98.1132\ncondensed = 98.3721\nbath = 98.9\n"
        '[[trial]]\nempty = 98.1132\ncondensed = 98.3721\nbath = 98.9\nbalance = "3"\n',
        encoding="utf-8",
    )
    runs = read_runs(path)
    assert runs.faults == ()
    assert runs[0].circumstances == (("balance", "2"), ("day", "2026-03-14"))
    assert [dict(trial.circumstances)["balance"] for trial in runs[0].trials] == ["2", "3"]
    assert {dict(trial.circumstances)["day"] for trial in runs[0].trials} == {"2026-03-14"}


@pytest.mark.parametrize(("cell", "words"), [(True, "is not a name"), ([1, 2], "is not a name")])
def test_what_is_no_circumstance(cell: object, words: str) -> None:
    frame = pd.DataFrame([weighed("K-1")], columns=HEADER)
    frame["balance"] = pd.Series([cell], dtype=object)
    runs = runs_from_frame(frame)
    assert ([fault.row for fault in runs.faults], len(runs[0].trials)) == ([2], 1)
    assert words in str(runs.faults[0])


def test_day_and_date_say_the_same(write: Write) -> None:
    header = [*HEADER, "day", "date"]
    runs = read_runs(write(table([*weighed("K-1"), "Monday", "3/14"], header=header)))
    (fault,) = runs.faults
    assert 'date: says the same as column "day"' in str(fault)
    assert runs[0].circumstances == (("day", "Monday"),)


def test_circumstances_change_no_answer(write: Write) -> None:
    rows = [weighed("K-1", boiling="64.6"), weighed("K-1", condensed_g="98.3702")]
    plain = read_runs(write(table(*rows)))
    header = [*HEADER, "day", "balance", "thermometer", "barometer_name", "flask", "bench"]
    named = [[*row, "Monday", str(n), "T", "hall", "f", "b"] for n, row in enumerate(rows)]
    runs = read_runs(write(table(*named, header=header)))
    assert runs.faults == ()
    assert match(runs[0]).to_dict() == match(plain[0]).to_dict()


@pytest.mark.parametrize("wrong", [(("day", 5),), ((5, "Monday"),)])
def test_circumstances_are_words(wrong) -> None:
    with pytest.raises(TypeError, match="circumstances: 5 is not a text"):
        Trial(circumstances=wrong)
    with pytest.raises(TypeError, match="circumstances: 5 is not a text"):
        Measurement("K-1", circumstances=wrong)
    pairs = (("flask", "2"), ("balance", "1"))
    assert Trial(circumstances=pairs).circumstances == pairs[::-1]
