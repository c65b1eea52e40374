"""Slips: each named with the number that was right, and none where nothing went wrong."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import prod
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from slip_evaluation import KINDS, Drawing, readable, rows_to_draw

from identify import (
    Conditions,
    Flask,
    Measurement,
    Tolerances,
    Trial,
    load_candidates,
    match,
    match_many,
)
from identify.bench.bench import Bench
from identify.cli import main
from identify.compounds.table import CandidateTable
from identify.matching.evidence import Matcher
from identify.matching.posterior import Posterior
from identify.matching.slips import search
from identify.matching.slips.mechanism.digits import CHANCES, misreadings
from identify.matching.slips.mechanism.groups import (
    _ELEMENT_SLIP_CHANCE,
    _SLIP_CHANCE,
    ReadingGroup,
)
from identify.matching.slips.mechanism.hypothesis import Slip
from identify.matching.slips.mechanism.wording import of_trials
from identify.physics.constants import ELEMENTS
from identify.physics.vapor import Weighing, gain

ZERO_CELSIUS = 273.15
MMHG = 133.322387415
BATH, ROOM, PRESSURE, VOLUME = 99.1, 22.4, 748.6, 283.7


def grams(matcher: Matcher, name: str, contents: float = ROOM) -> float:
    """Return what the balance would gain for a liquid in the flask of these tests.

    ``contents`` is the temperature of the flask's contents at the second weighing [C].
    """
    one = np.ones(1)
    weighing = Weighing(
        gain=0.0 * one,
        bath=(BATH + ZERO_CELSIUS) * one,
        room=(ROOM + ZERO_CELSIUS) * one,
        pressure=PRESSURE * MMHG * one,
        volume=VOLUME * 1e-6 * one,
        volume_temperature=(ROOM + ZERO_CELSIUS) * one,
        humidity=0.5 * one,
        contents=(contents - ROOM) * one,
    )
    row = matcher.table.find(name)[0]
    molar_mass = 1e-3 * matcher.expectation.molar_mass
    return 1e3 * float(gain(molar_mass, weighing, matcher.expectation.liquid)[0, row])


EMPTY = 91.3472  # g


def page(matcher: Matcher, name: str, **changed: Any) -> Measurement:
    """Return a sound page of a liquid, with some of its fields written differently."""
    row = matcher.table.find(name)[0]
    percent = {
        element: f"{value:.2f}"
        for element, value in zip(ELEMENTS, matcher.table.percent[row], strict=True)
        if value > 0.0
    }
    fields: dict[str, Any] = {
        "empty": f"{EMPTY:.4f} g",
        "condensed": f"{EMPTY + grams(matcher, name):.4f} g",
        "bath": f"{BATH} C",
        "room": f"{ROOM} C",
        "pressure": f"{PRESSURE} mmHg",
        "volume": f"{VOLUME} mL",
        "boiling_point": f"{matcher.table.number('boiling_point_C')[row]:.1f} C",
        "percent": percent,
        "height": None,
    } | changed
    trials = fields.get("trials") or [(fields["empty"], fields["condensed"])]
    return Measurement(
        label="T-01",
        boiling_point=fields["boiling_point"],
        percent=fields["percent"],
        conditions=Conditions(
            pressure=fields["pressure"], room=fields["room"], height=fields["height"]
        ),
        flask=Flask(volume=fields["volume"]),
        trials=[Trial(empty, condensed, fields["bath"]) for empty, condensed in trials],
    )


def slips_of(matcher: Matcher, run: Measurement) -> tuple[Slip, ...]:
    return search(run, Posterior.of(matcher.evidence(Bench.of(run)))).slips


LIQUIDS = ("acetone", "ethanol", "hexane", "methanol", "ethyl acetate", "chloroform")


@pytest.mark.parametrize("name", LIQUIDS)
def test_a_sound_page_has_no_slip(matcher: Matcher, name: str) -> None:
    ranking = match(page(matcher, name))
    assert ranking.slips == ()
    assert ranking.candidates[0].name == name
    assert ranking.to_dict()["slips"] == []


# Acetone: boils at 56.1, gains about 0.45 g here, C 62.04 H 10.41 O 27.55.
@pytest.mark.parametrize(
    ("changed", "code", "repaired"),
    [
        # Units of the conditions.
        ({"pressure": "99.81 mmHg"}, "pressure-unit", {"pressure": "99.81 kPa"}),
        ({"pressure": "998.1 mmHg"}, "pressure-unit", {"pressure": "998.1 hPa"}),
        ({"pressure": "29.47 mmHg"}, "pressure-unit", {"pressure": "29.47 inHg"}),
        ({"pressure": "0.9850 mmHg"}, "pressure-unit", {"pressure": "0.985 atm"}),
        ({"pressure": "14.475 mmHg"}, "pressure-unit", {"pressure": "14.475 psi"}),
        ({"bath": "210.4 C"}, "temperature-unit", {"bath": "210.4 °F"}),
        ({"bath": "372.2 C"}, "temperature-unit", {"bath": "372.2 K"}),
        ({"room": "72.3 C"}, "temperature-unit", {"room": "72.3 °F"}),
        ({"room": "295.6 C"}, "temperature-unit", {"room": "295.6 K"}),
        ({"volume": "0.2837 mL"}, "volume-unit", {"volume": "0.2837 L"}),
        # Digits.
        ({"pressure": "478.6 mmHg"}, "digits-exchanged", {"pressure": "748.6 mmHg"}),
        ({"pressure": "7486 mmHg"}, "point-moved", {"pressure": "748.6 mmHg"}),
        ({"volume": "2837 mL"}, "point-moved", {"volume": "283.7 mL"}),
        ({"volume": "28.37 mL"}, "point-moved", {"volume": "283.7 mL"}),
        ({"volume": "823.7 mL"}, "digits-exchanged", {"volume": "283.7 mL"}),
        ({"empty": "93.1472 g"}, "digits-exchanged", {"empty": "91.3472 g"}),
        ({"empty": "9.13472 g"}, "point-moved", {"empty": "91.3472 g"}),
        ({"empty": "911.3472 g"}, "digit-doubled", {"empty": "91.3472 g"}),
        ({"boiling_point": "5.61 C"}, "point-moved", {"boiling_point": "56.1 °C"}),
        ({"boiling_point": "556.1 C"}, "digit-doubled", {"boiling_point": "56.1 °C"}),
        ({"boiling_point": "133.0 C"}, "boiling-point-unit", {"boiling_point": "133 °F"}),
        ({"boiling_point": "329.2 C"}, "boiling-point-unit", {"boiling_point": "329.2 K"}),
        (
            {"percent": {"C": "26.04", "H": "10.41", "O": "27.55"}},
            "digits-exchanged",
            {"percent C": "62.04 %"},
        ),
        (
            {"percent": {"C": "6.204", "H": "10.41", "O": "27.55"}},
            "point-moved",
            {"percent C": "62.04 %"},
        ),
        (
            {"percent": {"C": "62.04", "H": "27.55", "O": "10.41"}},
            "percentages-exchanged",
            {"percent H": "10.41 %", "percent O": "27.55 %"},
        ),
        (
            {"percent": {"C": "62.04", "O": "27.55"}},
            "element-left-out",
            {"percent H": "10.41 %"},
        ),
        # The flask.
        ({"volume": "250 mL"}, "volume-nominal", {"volume": "284 mL"}),
    ],
)
def test_slips_of_the_pen(
    changed: Mapping[str, Any], code: str, repaired: Mapping[str, str], matcher: Matcher
) -> None:
    ranking = match(page(matcher, "acetone", **changed))
    assert [slip.code for slip in ranking.slips] == [code]
    slip = ranking.slips[0]
    assert slip.probability > 0.5
    assert ranking.candidates[0].name == "acetone"
    assert set(slip.repaired) == set(repaired)
    for key, text in repaired.items():
        number, _, unit = text.partition(" ")
        told, _, told_unit = slip.repaired[key].partition(" ")
        assert told_unit == unit
        assert float(told) == pytest.approx(float(number), rel=0.02)
        assert slip.repaired[key] in slip.message or told in slip.message


def test_of_several_slips_the_likeliest_is_named(matcher: Matcher) -> None:
    """Of 74.86 mmHg the point may be moved or a digit missing; few read hundredths."""
    ranking = match(page(matcher, "acetone", pressure="74.86 mmHg"))
    (slip,) = ranking.slips
    assert (ranking.candidates[0].name, slip.code) == ("acetone", "point-moved")
    assert 0.8 < slip.probability < 0.95
    assert not {"molar-mass-high", "slip-possible"} & {one.code for one in ranking.findings}


def shifted(matcher: Matcher, name: str, milligrams: float) -> Measurement:
    """Return a page of a flask that was as warm as the room, and so much heavier."""
    mass = EMPTY + grams(matcher, name) + 1e-3 * milligrams
    run = page(matcher, name, condensed=f"{mass:.4f} g")
    return replace(run, trials=[replace(run.trials[0], weighed_at=f"{ROOM} C")])


@pytest.mark.parametrize("name", LIQUIDS)
@pytest.mark.parametrize("share", [0.2, 0.3, 0.45, 0.6])
def test_liquid_left_over_is_named_in_milligrams(
    name: str, share: float, matcher: Matcher, table: CandidateTable
) -> None:
    """A molar mass 20 to 60 % too high, with a good boiling point and composition."""
    # What raises the molar mass by that share: that share of the vapor's mass.
    row = table.find(name)[0]
    vapor = float(table.number("molar_mass")[row]) * PRESSURE * MMHG * VOLUME * 1e-6
    milligrams = 1e3 * share * vapor / (8.314462618 * (BATH + ZERO_CELSIUS))
    ranking = match(shifted(matcher, name, milligrams))
    assert ranking.candidates[0].name == name
    assert [slip.code for slip in ranking.slips] == ["mass-in-excess"]
    told = float(ranking.slips[0].repaired["excess_mass"].split()[0])
    assert told == pytest.approx(milligrams, rel=0.10)


@pytest.mark.parametrize(
    ("milligrams", "code", "key"),
    [
        (-130.0, "mass-missing", "missing_mass"),
        (-700.0, "lid-left-off", "missing_mass"),
        # Whatever came on: as classes err, it was mostly liquid.
        (1100.0, "mass-in-excess", "excess_mass"),
    ],
)
def test_slips_at_the_bench(milligrams: float, code: str, key: str, matcher: Matcher) -> None:
    ranking = match(shifted(matcher, "acetone", milligrams))
    assert ranking.candidates[0].name == "acetone"
    assert [slip.code for slip in ranking.slips] == [code]
    number, unit = ranking.slips[0].repaired[key].split()
    told = float(number) * {"mg": 1.0, "g": 1e3}[unit]
    assert told == pytest.approx(abs(milligrams), rel=0.10)


def test_something_that_came_on_where_nothing_is_rough(matcher: Matcher) -> None:
    ranking = match(shifted(matcher, "acetone", 1100.0), technique="none")
    assert ranking.candidates[0].name == "acetone"
    assert [slip.code for slip in ranking.slips] == ["mass-added"]
    assert ranking.slips[0].repaired == {"added_mass": "1.10 g"}


def test_masses_exchanged_copied_and_in_milligrams(matcher: Matcher) -> None:
    condensed = f"{EMPTY + grams(matcher, 'acetone'):.4f} g"
    for changed, code in (
        ({"empty": condensed, "condensed": f"{EMPTY:.4f} g"}, "masses-exchanged"),
        ({"condensed": f"{EMPTY:.4f} g"}, "mass-copied"),
        (
            {
                "empty": f"{1e3 * EMPTY:.1f} g",
                "condensed": f"{1e3 * (EMPTY + grams(matcher, 'acetone')):.1f} g",
            },
            "mass-in-mg",
        ),
    ):
        ranking = match(page(matcher, "acetone", **changed))
        assert [slip.code for slip in ranking.slips] == [code]
        assert ranking.candidates[0].name == "acetone"


@pytest.mark.parametrize("off", [0.12, -0.10])
def test_one_of_three_trials_that_is_off(off: float, matcher: Matcher) -> None:
    mass = EMPTY + grams(matcher, "acetone")
    trials = [(f"{EMPTY:.4f} g", f"{mass + extra:.4f} g") for extra in (0.0, 0.001, off)]
    ranking = match(page(matcher, "acetone", trials=trials))
    assert [slip.code for slip in ranking.slips] == ["one-trial-off"]
    assert "Trial 3" in ranking.slips[0].message
    assert ranking.slips[0].repaired == {"trial 3": "left out"}


@pytest.mark.parametrize(
    ("extra", "also"),
    [((0.0, None, 0.001), ""), ((0.105, None, 0.106), "In the rest, about 110 mg too much")],
)
def test_a_mass_copied_in_one_trial_of_three(
    extra: tuple[float | None, ...], also: str, matcher: Matcher
) -> None:
    """The others tell what was to be weighed, and err as trials do."""
    mass = EMPTY + grams(matcher, "acetone")
    trials = [
        (f"{EMPTY:.4f} g", f"{EMPTY if more is None else mass + more:.4f} g") for more in extra
    ]
    copied = match(page(matcher, "acetone", trials=trials))
    sound = match(page(matcher, "acetone", trials=trials[::2]))
    (slip,) = copied.slips
    assert slip.code == "mass-copied"
    assert "in trial 2:" in slip.message
    assert also in slip.message
    assert slip.message.count("rest") == bool(also)
    chances = [
        {one.name: one.probability for one in ranking.candidates} for ranking in (copied, sound)
    ]
    for name in ("acetone", "allyl alcohol", "propionaldehyde"):
        assert chances[0].get(name, 0.0) == pytest.approx(chances[1].get(name, 0.0), abs=0.05)


def test_a_flask_weighed_cold(matcher: Matcher) -> None:
    """Air at 5 degrees, and 17 degrees Celsius less: what is left as vapor is less, too."""
    cold = grams(matcher, "diethyl ether", contents=5.0)
    run = page(matcher, "diethyl ether", condensed=f"{EMPTY + cold:.4f} g")
    (slip,) = match(run).slips
    assert slip.code == "weighed-cold"
    assert slip.repaired == {"weighed_at": "5 °C"}
    said = replace(run, trials=[replace(run.trials[0], weighed_at="5 C")])
    assert match(said).slips == ()
    # Where something was said, it was not that.
    warm = replace(run, trials=[replace(run.trials[0], weighed_at="22 C")])
    assert "weighed-cold" not in {slip.code for slip in match(warm).slips}


@pytest.mark.parametrize("name", ["acetone", "ethanol", "chloroform", "hexane", "cyclohexane"])
def test_numbers_of_an_exercise(name: str, matcher: Matcher) -> None:
    row = matcher.table.find(name)[0]
    gained = float(matcher.expectation.molar_mass[row]) * 0.250 / (0.08206 * 373.15)
    run = Measurement(
        "T-04",
        boiling_point=f"{matcher.table.number('boiling_point_C')[row]:.1f} C",
        conditions=Conditions(pressure="760 mmHg"),
        flask=Flask(volume="250 mL"),
        trials=[Trial(gain=f"{gained:.3f} g", bath="100 C")],
    )
    ranking = match(run)
    assert ranking.candidates[0].name == name
    (slip,) = ranking.slips
    assert slip.code == "ideal-gas-numbers"
    assert f"as of {name}." in slip.message


def test_pressure_of_the_weather_report(matcher: Matcher) -> None:
    # At 1600 m; what was weighed is less by as much as the air is thinner.
    thinner = float(np.exp(-1600.0 / 8434.0))
    mass = EMPTY + grams(matcher, "acetone") * thinner
    run = page(matcher, "acetone", condensed=f"{mass:.4f} g", height="1600 m")
    (slip,) = match(run).slips
    assert slip.code == "pressure-at-sea"
    assert float(slip.repaired["pressure"].split()[0]) == pytest.approx(748.6 * thinner, abs=1.0)


def test_water_in_the_liquid(matcher: Matcher, table: CandidateTable) -> None:
    row = table.find("acetone")[0]
    dry = dict(zip(ELEMENTS, table.percent[row], strict=True))
    water = {"H": 11.19, "O": 88.81}
    percent = {e: f"{0.93 * dry[e] + 0.07 * water.get(e, 0.0):.2f}" for e in ("C", "H", "O")}
    (slip,) = match(page(matcher, "acetone", percent=percent)).slips
    assert slip.code == "wet-liquid"
    assert float(slip.repaired["water"].split()[0]) == pytest.approx(7.0, abs=0.6)


@pytest.mark.parametrize("name", ["cyclopentane", "hexane", "chloroform"])
def test_no_water_in_a_liquid_that_takes_up_none(
    name: str, matcher: Matcher, table: CandidateTable
) -> None:
    row = table.find(name)[0]
    dry = dict(zip(ELEMENTS, table.percent[row], strict=True))
    water = {"H": 11.19, "O": 88.81}
    percent = {
        element: f"{0.93 * dry[element] + 0.07 * water.get(element, 0.0):.2f}"
        for element in ("C", "H", "O", "Cl")
        if dry[element] or element in water
    }
    ranking = match(page(matcher, name, percent=percent))
    assert "wet-liquid" not in {slip.code for slip in ranking.slips}


def test_carbon_and_hydrogen_alone_are_no_slip(matcher: Matcher) -> None:
    ranking = match(page(matcher, "acetone", percent={"C": "62.04", "H": "10.41"}))
    assert ranking.slips == ()
    assert {one.code for one in ranking.findings} == {"oxygen-not-listed"}


def high_up(matcher: Matcher, name: str, **changed: Any) -> Measurement:
    """Return a page of 1,600 m above the sea: 625 mmHg, and a card with its percentages."""
    row = matcher.table.find(name)[0]
    return Measurement(
        "T-03",
        **{
            "molar_mass": float(matcher.table.number("molar_mass")[row]),
            "percent": page(matcher, name).percent,
            "conditions": Conditions(pressure="625 mmHg"),
        }
        | changed,
    )


AT_LABORATORY = "boiling-point-at-laboratory"


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({}, AT_LABORATORY),
        ({"boiling_point_by": "own"}, AT_LABORATORY),
        ({"conditions": Conditions(height="1600 m")}, AT_LABORATORY),
        # It is written that it was read there, or at 760 mmHg.
        ({"boiling_point_at": "625 mmHg"}, ""),
        ({"boiling_point_at": "760 mmHg"}, "thread-uncorrected"),
        # Nothing is known of the laboratory, or it is at the sea.
        ({"conditions": Conditions()}, "thread-uncorrected"),
        ({"conditions": Conditions(pressure="752 mmHg")}, "thread-uncorrected"),
    ],
)
def test_boiling_point_at_the_pressure_of_the_laboratory(
    changed: Mapping[str, Any], code: str, matcher: Matcher
) -> None:
    # Methanol boils at 64.6 degrees Celsius, and at 59.8 where the air has 625 mmHg.
    ranking = match(high_up(matcher, "methanol", boiling_point="59.8 C", **changed))
    assert {slip.code for slip in ranking.slips} == ({code} if code else set())
    assert ranking.candidates[0].name == "methanol"
    if code == AT_LABORATORY:
        (slip,) = ranking.slips
        pressure = float(slip.repaired["boiling_point_at"].split()[0])
        assert pressure == pytest.approx(625.0, abs=3.0)
        assert "where it would be 64." in slip.message


def test_a_card_at_760_mmHg_high_up_has_no_slip(matcher: Matcher) -> None:
    ranking = match(high_up(matcher, "methanol", boiling_point="64.6 C"))
    assert ranking.slips == ()
    assert ranking.candidates[0].name == "methanol"


@pytest.mark.parametrize(("low", "code"), [(6.0, "thread-uncorrected"), (-9.0, "superheated")])
def test_boiling_points_read_low_or_high(low: float, code: str, matcher: Matcher) -> None:
    # No other compound with this formula boils nearby.
    row = matcher.table.find("methanol")[0]
    boiling = float(matcher.table.number("boiling_point_C")[row]) - low
    ranking = match(page(matcher, "methanol", boiling_point=f"{boiling:.1f} C"))
    assert [slip.code for slip in ranking.slips] == [code]
    assert ranking.candidates[0].name == "methanol"


def test_oxygen_by_difference_that_hides_another_element(matcher: Matcher) -> None:
    # Morpholine, C 55.15 H 10.41 N 16.08 O 18.36: nitrogen was not looked for.
    percent = {"C": "55.15", "H": "10.41", "O": "34.44"}
    run = Measurement("T-02", boiling_point="128.9 C", molar_mass=87.1, percent=percent)
    ranking = match(run)
    assert ranking.candidates[0].name == "morpholine"
    assert [slip.code for slip in ranking.slips] == ["percent-by-difference"]
    assert "N 16.08" in ranking.slips[0].message


def test_digits_of_a_molar_mass_by_the_shortcut() -> None:
    """What was meant gets each liquid's corrections, as what was written does."""
    fields = {"boiling_point": "64.6 C", "percent": {"C": "37.5", "H": "12.6", "O": "49.9"}}
    high = Measurement("C-14", molar_mass="32.4", molar_mass_by="ideal gas", **fields)
    assert match(high).slips == ()
    exchanged = Measurement("C-14", molar_mass="82.1", molar_mass_by="ideal gas", **fields)
    careful = Tolerances(molar_mass=5.0)
    assert [slip.code for slip in match(exchanged, tolerances=careful).slips] == [
        "digits-exchanged"
    ]
    # Rough classes find such a molar mass more often than their pens slip.
    as_found = match(exchanged)
    assert as_found.slips == ()
    assert "molar-mass-high" in {finding.code for finding in as_found.findings}


@pytest.mark.parametrize(
    ("factors", "slips", "severity"),
    [
        ((1.0,), set(), "note"),  # this flask does hold 250 mL
        ((1.0, 1.01, 0.99), set(), "note"),
        ((1.135, 1.13, 1.14), {"volume-nominal"}, "warning"),
        ((1.0, 1.3, 0.99), {"one-trial-off"}, "note"),
        ((1.0, 1.3), {"one-trial-off"}, "note"),  # which of the two, no volume says
        ((1.0, 1.6, 0.99), {"one-trial-off"}, "note"),
        ((1.35, 1.36, 1.35), {"mass-in-excess"}, "warning"),
    ],
)
def test_a_printed_size_yields_to_what_the_trials_say(
    factors: tuple[float, ...],
    slips: set[str],
    severity: str,
    matcher: Matcher,
) -> None:
    for name in ("acetone", "hexane"):
        gain = grams(matcher, name) * 250.0 / VOLUME
        trials = [(f"{EMPTY:.4f} g", f"{EMPTY + gain * factor:.4f} g") for factor in factors]
        ranking = match(page(matcher, name, trials=trials, volume="250 mL"))
        assert {slip.code for slip in ranking.slips} == slips
        (finding,) = (one for one in ranking.findings if one.code == "volume-nominal")
        assert finding.severity == severity
        assert ("fits" in finding.message) == (severity == "note")


def test_two_slips_at_once(matcher: Matcher) -> None:
    """One in the weighing, one on the card: each observable has its own."""
    run = page(matcher, "acetone", pressure="99.81 mmHg", boiling_point="329.2 C")
    ranking = match(run)
    assert {slip.code for slip in ranking.slips} == {"pressure-unit", "boiling-point-unit"}
    assert ranking.candidates[0].name == "acetone"
    both = page(
        matcher, "acetone", volume="250 mL", percent={"C": "26.04", "H": "10.41", "O": "27.55"}
    )
    assert {slip.code for slip in match(both).slips} == {"volume-nominal", "digits-exchanged"}


# ------------------------------------------------------------------------------ bottles of a stock


@pytest.fixture(scope="module")
def shelf(table: CandidateTable) -> CandidateTable:
    names = ("acetone", "ethanol", "hexane", "methanol", "ethyl acetate", "benzene")
    rows = [table.find(name)[0] for name in names]
    taken = table.take(rows)
    labels = [f"B-{number}" for number in range(len(names))]
    return CandidateTable(
        {**{c: taken.text(c) for c in taken._text}, "label": labels}, taken._numbers
    )


def test_a_card_with_the_boiling_point_of_another_bottle(
    matcher: Matcher, shelf: CandidateTable
) -> None:
    ranking = match(page(matcher, "acetone", boiling_point="80.1 C"), candidates=shelf)
    assert ranking.candidates[0].name == "acetone"
    assert [slip.code for slip in ranking.slips] == ["boiling-point-of-another"]
    assert ranking.slips[0].repaired == {"card": "B-5"}  # benzene
    # By a few degrees a card is more often off on its own.
    near = match(page(matcher, "hexane", boiling_point="77.1 C"), candidates=shelf)
    assert near.candidates[0].name == "hexane"
    assert [slip.code for slip in near.slips] == ["superheated"]


def test_a_card_with_the_percentages_of_another_bottle(
    matcher: Matcher, shelf: CandidateTable
) -> None:
    percent = {"C": "62.04", "H": "10.41", "O": "27.55"}  # acetone
    ranking = match(page(matcher, "hexane", percent=percent), candidates=shelf)
    assert ranking.candidates[0].name == "hexane"
    assert [slip.code for slip in ranking.slips] == ["composition-of-another"]


# -------------------------------------------------------------------------------------- mechanism


@pytest.mark.parametrize(
    ("text", "whole", "decimals", "kind", "expected"),
    [
        ("98.11", None, None, "digits-exchanged", {"89.11", "91.81"}),
        ("742", None, None, "digits-exchanged", {"472", "724"}),
        ("4.4", None, None, "digits-exchanged", set()),
        ("988.1", 2, 1, "digit-doubled", {"98.1"}),
        ("98.11", 2, 1, "digit-doubled", {"98.1"}),
        ("98.11", 2, 2, "digit-doubled", set()),
        ("7.41", 1, 2, "digit-dropped", set()),
        ("7.48", None, None, "point-moved", {"74.8", "0.748", "748", "0.0748"}),
    ],
)
def test_what_a_number_may_have_been(
    text: str, whole: int | None, decimals: int | None, kind: str, expected: set[str]
) -> None:
    assert {one.text for one in misreadings(text, whole, decimals) if one.kind == kind} == expected


def test_a_dropped_digit_may_stand_anywhere() -> None:
    texts = {one.text for one in misreadings("7.48") if one.kind == "digit-dropped"}
    assert {"37.48", "73.48", "7.348", "7.438", "7.483"} <= texts
    assert "07.48" not in texts


@given(st.decimals("0.01", "9999", places=2))
def test_misreadings_are_numbers_with_a_small_chance(value: Any) -> None:
    found = misreadings(str(value))
    assert all(one.value > 0.0 and 0.0 < one.chance <= CHANCES[one.kind] for one in found)
    assert str(value) not in {one.text for one in found if one.kind != "point-moved"}
    assert sum(one.chance for one in found if one.kind == "digits-exchanged") <= 1.001e-3


@settings(max_examples=25, deadline=None)
@given(
    milligrams=st.floats(-400.0, 900.0),
    boiling=st.floats(-40.0, 40.0),
    carbon=st.floats(-15.0, 15.0),
)
def test_probabilities_add_up_to_one(milligrams: float, boiling: float, carbon: float) -> None:
    matcher = Matcher(load_candidates())
    run = shifted(matcher, "acetone", milligrams)
    run = replace(
        run,
        boiling_point=f"{56.1 + boiling:.1f} C",
        percent={"C": f"{62.04 + carbon:.2f}", "H": "10.41", "O": "27.55"},
    )
    found = search(run, Posterior.of(matcher.evidence(Bench.of(run))))
    total = found.posterior.probability.sum() + found.posterior.none_of_these
    assert total == pytest.approx(1.0, abs=1e-9)
    assert (found.posterior.probability >= 0.0).all()
    for slip in found.slips:
        assert 0.5 < slip.probability <= 1.0
        assert np.isfinite(slip.probability)
        assert sum(share for _, share in slip.candidates) <= 1.0 + 1e-9


def test_the_input_stays_as_it_is(matcher: Matcher) -> None:
    run = page(matcher, "acetone", pressure="99.81 mmHg")
    before = repr(run)
    ranking = match(run)
    assert repr(run) == before
    # Deviations are those of what was written.
    assert abs(ranking.candidates[0].deviations.molar_mass_percent or 0.0) > 100.0
    assert not ranking.candidates[0].plausible
    assert ranking.verdict == "single match"


def test_many_at_once_say_the_same(matcher: Matcher) -> None:
    runs = [
        replace(page(matcher, "acetone"), label="sound"),
        replace(page(matcher, "acetone", volume="250 mL"), label="slip"),
    ]
    frame = match_many(runs)
    for run in runs:
        first = match(run).candidates[0]
        row = frame[frame["label"] == run.label].iloc[0]
        assert row["name"] == first.name == "acetone"
        assert row["probability"] == pytest.approx(first.probability, rel=1e-9)


def test_the_answer_names_both_rankings(matcher: Matcher) -> None:
    data = match(page(matcher, "acetone", volume="250 mL")).to_dict()
    (slip,) = data["slips"]
    assert set(slip) == {
        "code",
        "message",
        "probability",
        "repaired",
        "candidates",
        "without_slip",
    }
    assert slip["candidates"][0]["name"] == "acetone"
    assert slip["without_slip"]
    assert 0.5 < slip["probability"] <= 1.0


@pytest.mark.parametrize(
    ("written", "repaired", "leader"),
    [
        # What goes into R = 0.08206 L atm / (mol K), the gain that acetone's vapor then has.
        (
            {"bath": "372.2", "room": "295.2", "pressure": "0.980", "volume": "0.285"},
            {"pressure": "0.98 atm", "volume": "0.285 L", "bath": "372.2 K", "room": "295.2 K"},
            "acetone",
        ),
        (
            {"bath": "99.0", "room": "22.0", "pressure": "0.980", "volume": "0.285"},
            {"pressure": "0.98 atm", "volume": "0.285 L"},
            "acetone",
        ),
        (
            {"bath": "372.2", "room": "295.2", "pressure": "745", "volume": "285"},
            {"bath": "372.2 K", "room": "295.2 K"},
            "acetone",
        ),
    ],
)
def test_several_units_are_one_habit(
    matcher: Matcher, written: dict[str, str], repaired: dict[str, str], leader: str
) -> None:
    run = Measurement(
        "C-14",
        trials=(Trial(empty="98.1132", condensed="98.5670", bath=written["bath"]),),
        conditions=Conditions(pressure=written["pressure"], room=written["room"]),
        flask=Flask(volume=written["volume"]),
        boiling_point="56.3",
        percent={"C": 62.0, "H": 10.4, "O": 27.6},
    )
    ranking = match(run, matcher.table)
    (slip,) = ranking.slips
    assert (slip.code, dict(slip.repaired)) == ("several-units", repaired)
    assert ranking.candidates[0].name == leader
    assert slip.probability > 0.99
    assert all(number in slip.message for number in repaired.values())


def test_one_unit_in_all_trials(matcher: Matcher) -> None:
    run = Measurement(
        "C-14",
        trials=tuple(
            Trial(
                empty="98.1132", condensed=f"98.{5670 + 4 * place}", bath=f"{210.2 + 0.4 * place} C"
            )
            for place in range(2)
        ),
        conditions=Conditions(pressure="745", room="22.0"),
        flask=Flask(volume="285"),
        boiling_point="56.3",
        percent={"C": 62.0, "H": 10.4, "O": 27.6},
    )
    ranking = match(run, matcher.table)
    (slip,) = ranking.slips
    repaired = {"trial 1 bath": "210.2 °F", "trial 2 bath": "210.6 °F"}
    assert (slip.code, dict(slip.repaired)) == ("temperature-unit", repaired)
    assert "210.6 °F (99.2 °C) in trial 2" in slip.message
    assert ranking.candidates[0].name == "acetone"


def test_one_impossible_number_is_its_own_slip(matcher: Matcher) -> None:
    run = Measurement(
        "C-14",
        trials=(Trial(empty="98.1132", condensed="98.5670", bath="99.0"),),
        conditions=Conditions(pressure="0.980", room="22.0"),
        flask=Flask(volume="285"),
        boiling_point="56.3",
        percent={"C": 62.0, "H": 10.4, "O": 27.6},
    )
    (slip,) = match(run, matcher.table).slips
    assert (slip.code, dict(slip.repaired)) == ("pressure-unit", {"pressure": "0.98 atm"})


@pytest.mark.parametrize(
    ("percent", "repaired"),
    [
        (
            {"C": "0.5214", "H": "0.1313", "O": "0.3473"},
            {"percent C": "52.14 %", "percent H": "13.13 %", "percent O": "34.73 %"},
        ),
        ({"C": "0.52 %", "H": "0.13 %"}, {"percent C": "52.00 %", "percent H": "13.00 %"}),
        ({"C": 0.5214, "H": 0.1313}, {"percent C": "52.14 %", "percent H": "13.13 %"}),
    ],
)
@pytest.mark.parametrize("others", [{"molar_mass": 46.1}, {"boiling_point": 78.4}])
def test_percentages_as_fractions(
    matcher: Matcher, percent: dict[str, Any], repaired: dict[str, str], others: dict[str, float]
) -> None:
    ranking = match(Measurement("C-14", percent=percent, **others), matcher.table)
    (slip,) = ranking.slips
    assert (slip.code, dict(slip.repaired)) == ("percent-as-fraction", repaired)
    assert slip.probability > 0.99
    assert ranking.candidates[0].name == "ethanol"
    assert ranking.verdict == "single match"


@pytest.mark.parametrize(
    ("readings", "meant", "name"),
    [
        # Many numbers could lack a digit, and none of them is likely.
        ({"molar_mass": 32.0, "percent": {"C": 52.1}}, None, None),
        ({"molar_mass": 46.0, "percent": {"C": 20.0}}, None, None),
        ({"molar_mass": 46.0, "percent": {"C": 24.0}}, None, None),
    ],
)
def test_a_possible_slip_fits_the_compound_it_would_make(
    matcher: Matcher, readings: dict[str, Any], meant: str | None, name: str | None
) -> None:
    ranking = match(Measurement("C-14", **readings), matcher.table, prior="commerce")
    assert ranking.slips == ()
    told = [one.message for one in ranking.findings if one.code == "slip-possible"]
    assert len(told) == (meant is not None)
    for message in told:
        assert f": {meant} g/mol would fit." in message
        assert message.endswith(f"would make it {name}.")
        own = matcher.table.number("molar_mass")[matcher.table.find(str(name))[0]]
        assert float(str(meant)) == pytest.approx(own, rel=0.05)


def test_a_point_that_moved_by_one_place_is_named(matcher: Matcher) -> None:
    run = Measurement("C-14", molar_mass=4.61, boiling_point=78.4)
    (slip,) = match(run, matcher.table, prior="commerce").slips
    assert (slip.code, slip.repaired["molar_mass"]) == ("point-moved", "46.1 g/mol")


def test_what_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["match", "data/demo/C-31.toml", "--strict"]) == 1
    printed = capsys.readouterr().out
    assert "One match, once a slip is set right: " in " ".join(printed.split())
    assert "[volume-nominal]" in printed
    assert all(len(line) <= 80 for line in printed.splitlines())


def test_no_slip_is_missed_for_not_being_looked_for(
    matcher: Matcher, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pages on which no search seems worth while name no slip when searched all the same."""
    drawing = Drawing(matcher.table, matcher, np.random.default_rng(11))
    rows = drawing.random.choice(rows_to_draw(matcher.table), 25)
    sound = [drawing.page(int(row)) for row in rows]
    spoiled = [kind.spoil(page, drawing.random) for page in sound for kind in KINDS[::7]]
    runs = [page.measurement() for page in (*sound, *spoiled) if page and readable(page)]
    assert len(runs) > 150
    usual = [{slip.code for slip in slips_of(matcher, run)} for run in runs]
    monkeypatch.setattr("identify.matching.slips.mechanism.groups.MIN_SLIP_ODDS", 1e-9)
    searched = [{slip.code for slip in slips_of(matcher, run)} for run in runs]
    # A wider search may find more that speaks against a slip, never one that went unnoticed.
    assert all(codes <= named for codes, named in zip(searched, usual, strict=True))
    assert sum(map(bool, usual)) > 50


@pytest.mark.parametrize(
    ("numbers", "told"),
    [
        ([3], " in trial 3"),
        ([1, 3], " in trials 1 and 3"),
        ([1, 2, 3, 4, 6], " in trials 1, 2, 3, 4 and 6"),
        ([1, 2, 3, 4, 5, 6], " in 6 trials"),
    ],
)
def test_which_trials_a_slip_is_in(numbers: list[int], told: str) -> None:
    assert of_trials(numbers) == told


def test_slips_in_several_readings_are_as_rare_as_all_of_them() -> None:
    names = list(_SLIP_CHANCE)
    for name in names:
        alone = ReadingGroup(((name, 0),))
        assert alone.chance() == _SLIP_CHANCE[name]
        assert alone.chance({name: 0.5}) == 0.5
        assert alone.chance({name: 1e-9}) == _SLIP_CHANCE[name]
    every = ReadingGroup(tuple((name, 0) for name in names))
    assert every.chance() == pytest.approx(prod(_SLIP_CHANCE.values()), rel=1e-12)
    assert ReadingGroup(((names[0], 3),)).chance() == _ELEMENT_SLIP_CHANCE
    assert ReadingGroup(((names[0], 3),)).key == f"{names[0]}/3"
