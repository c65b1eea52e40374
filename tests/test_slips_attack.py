"""Odd and broken pages: whatever is on them, a slip is told in sound numbers or not at all."""

from __future__ import annotations

import json
import math
import re
import warnings
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from slip_evaluation import KINDS, Drawing, readable, rows_to_draw

from identify import Conditions, Flask, Measurement, Trial, match
from identify.cli import main
from identify.compounds.table import CandidateTable
from identify.matching.evidence import Matcher
from identify.matching.slips.mechanism.digits import misreadings, written_text
from identify.notebook.quantity.quantities import read_quantity

ODD = re.compile(r"\de[+-]?\d|nan|inf\b|None|-0\.0\b|(?<![\d.])0(\.0+)? m?g\b")


@pytest.fixture(autouse=True)
def no_warnings() -> Iterator[None]:
    with warnings.catch_warnings(), np.errstate(divide="raise", over="raise", invalid="raise"):
        warnings.simplefilter("error")
        yield


def numbers(data: object) -> Iterator[float]:
    """Yield every number that an answer holds."""
    if isinstance(data, Mapping):
        data = list(data.values())
    if isinstance(data, list):
        for one in data:
            yield from numbers(one)
    elif isinstance(data, float):
        yield data


# What a slip may say it sets right; a percentage has its element, a trial its number.
REPAIRED = {
    "boiling_point_at",
    "added_mass", "bath", "boiling_point", "card", "condensed", "empty", "excess_mass", "gain",
    "missing_mass", "molar_mass", "pressure", "room", "volume", "water", "water_mass",
    "water_volume", "percent E", "trial N", "trial N condensed", "trial N empty",
}  # fmt: skip


def sound(answer: Mapping[str, Any]) -> None:
    """Check what any answer must keep to, whatever the page."""
    assert all(math.isfinite(number) for number in numbers(answer))
    assert sum(one["probability"] for one in answer["candidates"]) <= 1.0 + 1e-6
    for slip in answer["slips"]:
        assert 0.5 < slip["probability"] <= 1.0
        assert slip["message"][0].isupper()
        assert slip["message"].endswith(".")
        assert not ODD.search(slip["message"]), slip["message"]
        assert slip["repaired"]
        for key, text in slip["repaired"].items():
            name = re.sub(r"trial \d+", "trial N", re.sub(r"percent \w+", "percent E", key))
            assert name in REPAIRED
            assert not ODD.search(text), text
            assert not text.startswith("-"), text


# -------------------------------------------------------------------------- pages, as files

CARD = 'boiling_point = "56.1 C"\npercent = { C = 62.04, H = 10.41, O = 27.55 }'
CONDITIONS = 'pressure = "748.6 mmHg"\nroom = "22.4 C"'
FLASK = 'volume = "283.7 mL"'
TRIAL = '[[trial]]\nempty = "91.3472 g"\ncondensed = "91.7802 g"\nbath = "99.1 C"'


def written(
    card: str = CARD, conditions: str = CONDITIONS, flask: str = FLASK, trials: str = TRIAL
) -> str:
    return (
        f'label = "A-1"\n[card]\n{card}\n[conditions]\n{conditions}\n[flask]\n{flask}\n{trials}\n'
    )


def trial(empty: str, condensed: str, bath: str = "99.1 C", more: str = "") -> str:
    return f'[[trial]]\nempty = "{empty}"\ncondensed = "{condensed}"\nbath = "{bath}"\n{more}\n'


PAGES = {
    "only percent": 'label = "A"\n[card]\npercent = { C = 62.04, H = 10.41, O = 27.55 }',
    "only one element": 'label = "A"\n[card]\npercent = { C = 62.04 }',
    "only hydrogen": 'label = "A"\n[card]\npercent = { H = 10.41 }',
    "only an absent element": 'label = "A"\n[card]\npercent = { Si = 40.0 }',
    "a percentage of zero": 'label = "A"\n[card]\npercent = { C = 62.04, H = 10.41, N = 0 }',
    "percent above 100": 'label = "A"\n[card]\npercent = { C = 99.9, H = 99.9, O = 99.9 }',
    "only boiling point": 'label = "A"\n[card]\nboiling_point = "56.1 C"',
    "boiling point below zero": 'label = "A"\n[card]\nboiling_point = "-27.3 C"',
    "boiling point of nothing": 'label = "A"\n[card]\nboiling_point = "0 C"',
    "boiling point in F": 'label = "A"\n[card]\nboiling_point = "133 F"',
    "boiling point very high": 'label = "A"\n[card]\nboiling_point = "999.9 C"',
    "only molar mass": 'label = "A"\n[card]\nmolar_mass = "58.1 g/mol"',
    "molar mass tiny": 'label = "A"\n[card]\nmolar_mass = "0.581 g/mol"',
    "molar mass huge": 'label = "A"\n[card]\nmolar_mass = "5810 g/mol"',
    "molar mass and trials": written('molar_mass = "85.1 g/mol"\n' + CARD),
    "only weighing": written(card=""),
    "nothing": 'label = "A"',
    "gain zero": written(trials=trial("91.3472 g", "91.3472 g")),
    "gain zero in all of three": written(trials=3 * trial("91.3472 g", "91.3472 g")),
    "gain zero in one of three": written(
        trials=2 * (TRIAL + "\n") + trial("91.3472 g", "91.3472 g")
    ),
    "gain negative": written(trials=trial("91.7802 g", "91.3472 g")),
    "gain negative in one": written(trials=TRIAL + "\n" + trial("91.7802 g", "91.3472 g")),
    "gain negative in all of three": written(trials=3 * trial("91.7802 g", "91.3472 g")),
    "gain of a kilogram": written(trials=trial("91.3472 g", "1091.3472 g")),
    "loss of all": written(trials=trial("91.3472 g", "0.0001 g")),
    "gain of a microgram": written(trials=trial("91.347200 g", "91.347201 g")),
    "masses of zero": written(trials=trial("0 g", "0 g")),
    "fifty trials": written(trials=50 * (TRIAL + "\n")),
    "fifty trials, one off": written(trials=49 * (TRIAL + "\n") + trial("91.3472 g", "92.9 g")),
    "masses in mg": written(trials=trial("91347.2 mg", "91780.2 mg")),
    "masses in kg": written(trials=trial("0.0913472 kg", "0.0917802 kg")),
    "masses in mg, as g": written(trials=trial("91347.2 g", "91780.2 g")),
    "masses coarse": written(trials=trial("91 g", "92 g")),
    "masses with decimal comma": written(trials=trial("91,3472 g", "91,7802 g")),
    "masses with uncertainty": written(trials=trial("91.3472(3) g", "91.7802 ± 0.5 g")),
    "masses with exponent": written(trials=trial("9.13472e1 g", "9.17802e1 g")),
    "bath cold": written(trials=trial("91.3472 g", "91.7802 g", "20 C")),
    "bath in F": written(trials=trial("91.3472 g", "91.7802 g", "210.4 F")),
    "bath in K": written(trials=trial("91.3472 g", "91.7802 g", "372.2 K")),
    "bath in F, as C": written(trials=trial("91.3472 g", "91.7802 g", "210.4 C")),
    "bath below zero": written(trials=trial("91.3472 g", "91.7802 g", "-9.9 C")),
    "room below zero": written(conditions='pressure = "748.6 mmHg"\nroom = "-22.4 C"'),
    "room in F": written(conditions='pressure = "748.6 mmHg"\nroom = "72.3 F"'),
    "room in K, as C": written(conditions='pressure = "748.6 mmHg"\nroom = "295.6 C"'),
    "pressure in inHg": written(conditions='pressure = "29.47 inHg"\nroom = "22.4 C"'),
    "pressure in psi": written(conditions='pressure = "14.48 psi"\nroom = "22.4 C"'),
    "pressure in Pa": written(conditions='pressure = "99805 Pa"\nroom = "22.4 C"'),
    "pressure tiny": written(conditions='pressure = "0.0748 mmHg"\nroom = "22.4 C"'),
    "pressure of a gauge": written(conditions='pressure = "0.01 mmHg"\nroom = "22.4 C"'),
    "height": written(conditions=CONDITIONS + '\nheight = "1600 m"'),
    "height below the sea": written(conditions=CONDITIONS + '\nheight = "-400 m"'),
    "height of a mountain": written(conditions=CONDITIONS + '\nheight = "8000 m"'),
    "mercury": written(conditions=CONDITIONS + '\nbarometer = "mercury"'),
    "volume nominal": written(flask='volume = "250 mL"'),
    "volume in L": written(flask='volume = "0.2837 L"'),
    "volume in L, as mL": written(flask='volume = "0.2837 mL"'),
    "volume of a barrel": written(flask='volume = "100000 mL"'),
    "volume of a drop": written(flask='volume = "0.00001 mL"'),
    "water weighed": written(flask='water_mass = "282.9 g"\nwater_temperature = "22 C"'),
    "water weighed, digits": written(flask='water_mass = "828.9 g"'),
    "fills": written(flask='water_volume = "100.0 + 100.0 + 83.6 mL"'),
    "fills, one off": written(flask='water_volume = "100.0 + 10.0 + 83.6 mL"'),
    "several flasks": written(
        trials="".join(
            trial("91.3472 g", f"{mass} g", more=f'volume = "{volume} mL"')
            for mass, volume in (("91.7802", "283.7"), ("91.7350", "250"), ("91.5672", "144"))
        )
    ),
}  # fmt: skip

# Sound, in units that are not the usual ones: nothing is to be named.
SOUND = (
    "bath in F", "bath in K", "room in F", "pressure in inHg", "pressure in psi",
    "pressure in Pa", "volume in L", "masses in mg", "masses in kg", "masses with decimal comma",
    "masses with exponent", "water weighed", "fills", "fifty trials",
)  # fmt: skip


def answered(page: str, folder: Path, capsys: pytest.CaptureFixture[str], *more: str) -> list[Any]:
    path = folder / "page.toml"
    path.write_text(page, encoding="utf-8")
    status = main(["match", str(path), "--format", "json", *more])
    printed = capsys.readouterr()
    assert status in (0, 2)
    assert "Traceback" not in printed.err
    assert "itself" not in printed.err
    if status == 2:
        assert "page.toml" in printed.err
        return []
    answers: list[Any] = json.loads(printed.out)
    for answer in answers:
        sound(answer)
    return answers


@pytest.mark.parametrize("name", PAGES)
def test_any_page_is_answered(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = answered(PAGES[name], tmp_path, capsys)
    if name in SOUND:
        assert [answer["slips"] for answer in answers] == [[]]
        assert answers[0]["candidates"][0]["name"] == "acetone"


STOCK = {
    "one bottle": "label,identity\nB-1,acetone\n",
    "two bottles": "label,identity\nB-1,acetone\nB-2,hexane\n",
    "two without the right one": "label,identity\nB-1,toluene\nB-2,hexane\n",
    "twins": "label,identity\nB-1,acetone\nB-2,acetone\n",
    "gases": "label,identity\nB-1,propane\nB-2,butane\nB-3,dimethyl ether\n",
}


@pytest.mark.parametrize("stock", STOCK)
def test_any_page_is_answered_from_a_few_bottles(
    stock: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shelf = tmp_path / "stock.csv"
    shelf.write_text(STOCK[stock], encoding="utf-8")
    for name in list(PAGES)[::3]:
        answered(PAGES[name], tmp_path, capsys, "--candidates", str(shelf))


def test_pages_with_two_slips_and_parts_missing(table: CandidateTable) -> None:
    """Each kind of slip on pages that were already spoiled, or lack the card."""
    random = np.random.default_rng(21)
    drawing, rows = Drawing(table, Matcher(table), random), rows_to_draw(table)
    told: set[str] = set()
    for number, kind in enumerate(KINDS * 3):
        page = drawing.page(int(random.choice(rows)))
        for spoil in (kind.spoil, KINDS[int(random.integers(len(KINDS)))].spoil):
            spoiled = spoil(page, random)
            page = spoiled if spoiled is not None and readable(spoiled) else page
        run = page.measurement()
        run = Measurement(
            run.label,
            boiling_point=None if number % 5 == 1 else run.boiling_point,
            percent=None if number % 5 == 2 else run.percent,
            conditions=run.conditions,
            flask=run.flask,
            trials=() if number % 5 == 3 else run.trials,
        )
        answer = match(run).to_dict()
        sound(answer)
        told |= {slip["code"] for slip in answer["slips"]}
    assert len(told) > 12


# ------------------------------------------------------------------------------- plain numbers


@pytest.mark.parametrize(
    ("text", "seen"),
    [
        ("98.1132(3) g", "98.1132(3) g"),
        ("98,1132 g", "98,1132 g"),
        ("1e-5 kg", "0.00001"),
        ("1.2e2 g", "120"),
        (0.00001, "0.00001"),
        (91.3472, "91.3472"),
        (250, "250"),
    ],
)
def test_digits_are_those_of_the_number(text: str | float, seen: str) -> None:
    assert written_text(read_quantity(text, "mass", "g")) == seen


@pytest.mark.parametrize("text", ["-27.3", "-27.3 C", "\u221227.3 C"])
def test_a_minus_is_meant(text: str) -> None:
    assert misreadings(text) == ()


def test_numbers_of_a_program_are_as_good_as_text() -> None:
    def page(pressure: float, condensed: float) -> Measurement:
        return Measurement(
            "A",
            boiling_point=56.1,
            percent={"C": 62.04, "H": 10.41, "O": 27.55},
            conditions=Conditions(pressure=pressure, room=22.4),
            flask=Flask(volume=283.7),
            trials=[Trial(91.3472, condensed, 99.1)],
        )

    assert match(page(748.6, 91.7802)).slips == ()
    (slip,) = match(page(99.81, 91.7802)).slips
    assert slip.repaired == {"pressure": "99.81 kPa"}
    (slip,) = match(page(748.6, 97.1802)).slips
    assert slip.repaired == {"condensed": "91.7802 g"}


# --------------------------------------------------------------------------- what is not said


def test_an_element_is_left_out_only_where_the_rest_fits() -> None:
    """Of acetone's card, carbon with its point moved and hydrogen not listed."""
    for carbon, expected in (("62.04", {"percent H": "10.41 %"}), ("6.204", None)):
        run = Measurement(
            "A",
            molar_mass=58.1,
            boiling_point="56.1 C",
            percent={"C": carbon, "O": "27.55"},
        )
        found = [s.repaired for s in match(run).slips if s.code == "element-left-out"]
        assert found == ([] if expected is None else [expected])


def test_no_more_is_missing_than_the_vapor() -> None:
    run = Measurement(
        "A",
        boiling_point="56.1 C",
        percent={"C": 62.04, "H": 10.41, "O": 27.55},
        conditions=Conditions(pressure="748.6 mmHg", room="22.4 C"),
        flask=Flask(volume="283.7 mL"),
        trials=[Trial("91.3472 g", "41.3472 g", "99.1 C")],
    )
    assert "mass-missing" not in {slip.code for slip in match(run).slips}


@pytest.mark.parametrize(
    ("height", "pressure", "named"),
    [
        ("200 m", "742.0 mmHg", False),
        ("200 m", "735.5 mmHg", False),
        ("1600 m", "748.6 mmHg", True),
        ("1600 m", "760.0 mmHg", True),
    ],
)
def test_weather_at_some_height_is_not_that_of_the_sea(
    height: str, pressure: str, named: bool
) -> None:
    """Weighed 4 % less than acetone gives at 200 m, and a sixth less at 1600 m."""
    share = 0.83 if named else 0.96
    run = Measurement(
        "A",
        boiling_point="56.1 C",
        percent={"C": 62.04, "H": 10.41, "O": 27.55},
        conditions=Conditions(pressure=pressure, room="22.4 C", height=height),
        flask=Flask(volume="283.7 mL"),
        trials=[Trial("91.3472 g", f"{91.3472 + share * 0.433:.4f} g", "99.1 C")],
    )
    assert ("pressure-at-sea" in {slip.code for slip in match(run).slips}) == named


@pytest.mark.parametrize(
    ("lost", "which", "keys"),
    [
        ((0,), "in trial 1:", {"trial 1 empty", "trial 1 condensed"}),
        (
            (0, 2),
            "in trials 1 and 3: in trial 1 ",
            {"trial 1 empty", "trial 1 condensed", "trial 3 empty", "trial 3 condensed"},
        ),
    ],
)
def test_exchanged_masses_are_told_trial_by_trial(
    lost: tuple[int, ...], which: str, keys: set[str]
) -> None:
    masses = [("91.3472 g", "91.7802 g")] * 3
    run = Measurement(
        "A",
        boiling_point="56.1 C",
        percent={"C": 62.04, "H": 10.41, "O": 27.55},
        conditions=Conditions(pressure="748.6 mmHg", room="22.4 C"),
        flask=Flask(volume="283.7 mL"),
        trials=[
            Trial(*(pair[::-1] if place in lost else pair), "99.1 C")
            for place, pair in enumerate(masses)
        ],
    )
    (slip,) = match(run).slips
    assert slip.code == "masses-exchanged"
    assert which in slip.message
    assert set(slip.repaired) == keys
