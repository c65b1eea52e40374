"""One bottle by all of its students: which of weighings, card and key agree."""

from dataclasses import replace

import numpy as np
import pytest
from drawn_sections import LIQUIDS, Class, Drawn, Faults, few_candidates

from identify.matching.evidence import Matcher
from identify.matching.expected.expectation import Expectation
from identify.notebook.findings import Finding
from identify.observables.tolerances import Tolerances
from identify.section.bottles.card import BottleCard
from identify.section.bottles.findings import few_students_each
from identify.section.bottles.pooling import BottlePooling
from identify.section.bottles.spread import two_groups
from identify.section.key import Key, folded_label
from identify.section.result import KeyRow
from identify.section.robust_mean import RobustMean
from identify.section.runs import BottleRuns, StudentRun
from identify.section.section import Section

FEW = few_candidates()
MATCHER = Matcher(FEW)
NOTES = {"few-students", "key-not-used"}


def key_of(liquids=LIQUIDS):
    entries = {}
    for label, name in liquids.items():
        place = FEW.find(name)[0]
        known = (name, FEW.text("cas")[place], FEW.text("inchikey")[place])
        mass = float(FEW.number("molar_mass")[place])
        entries[folded_label(label)] = KeyRow(label, *known, mass, place)
    return Key(entries)


KEY = key_of()


def whole(runs, key=KEY):
    attempts = [StudentRun.of(place, run) for place, run in enumerate(runs)]
    return Section(attempts, MATCHER, key)


def told(section):
    """Return the codes of each bottle's findings, bottles without any left out."""
    found = {
        section.written[label].label: {
            finding.code for finding in section.bottle_findings.of(label)
        }
        - NOTES
        for label in section.written
    }
    return {label: codes for label, codes in found.items() if codes}


def about(section, label):
    return list(section.bottle_findings.of(folded_label(label)))


def bottle_of(runs):
    return BottleRuns.of([StudentRun.of(place, run) for place, run in enumerate(runs)])


def pool(bottle, matcher):
    pooling = BottlePooling(matcher)
    return pooling.pooled(bottle, pooling.first_look(bottle))


ACETONE = Class(students=20, liquids={"D-02": "acetone"})

# ------------------------------------------------------------------------ which of three agree

EXCHANGED = {"D-01": "ethanol", "D-03": "methanol"}


@pytest.mark.parametrize(
    ("faults", "expected", "words"),
    [
        (Faults(), {}, {}),
        (
            Faults(contents={"D-04": "chloroform"}),
            {"D-04": {"bottle-not-the-key"}},
            {"D-04": ("The card agrees with the key", "bottle D-07 (chloroform")},
        ),
        (
            Faults(contents={"D-04": "chloroform"}, cards={"D-04": "chloroform"}),
            {"D-04": {"bottle-not-the-key"}},
            {"D-04": ("agrees with the weighings", "bottle D-07 (chloroform")},
        ),
        (
            Faults(contents={"D-04": "chloroform"}, cards={"D-04": "methanol"}),
            {"D-04": {"bottle-not-the-key"}},
            {"D-04": ("agrees with neither",)},
        ),
        (
            Faults(cards={"D-06": "ethyl acetate"}),
            {"D-06": {"card-not-the-bottle"}},
            {"D-06": ("agree with the key", "percentage of C is 54.53 %", "card of bottle D-05")},
        ),
        (
            Faults(contents=EXCHANGED),
            {"D-01": {"bottles-exchanged"}, "D-03": {"bottles-exchanged"}},
            {"D-01": ("D-01 and D-03 are exchanged",)},
        ),
        (
            Faults(contents=EXCHANGED, cards=EXCHANGED),
            {"D-01": {"bottles-exchanged"}, "D-03": {"bottles-exchanged"}},
            {"D-03": ("D-03 and D-01 are exchanged",)},
        ),
    ],
)
@pytest.mark.parametrize("measured", [False, True])
def test_the_source_that_is_wrong_is_named(faults, expected, words, measured):
    section = whole(Drawn(5, FEW).section(Class(students=180, measured=measured), faults))
    assert told(section) == expected
    for label, parts in words.items():
        message = about(section, label)[0].message
        assert measured or all(part in message for part in parts)


@pytest.mark.parametrize(
    ("faults", "expected"),
    [
        (Faults(), {}),
        (Faults(contents={"D-04": "chloroform"}), {"D-04": {"card-not-the-bottle"}}),
        (Faults(cards={"D-06": "methanol"}), {"D-06": {"card-not-the-bottle"}}),
    ],
)
def test_without_a_key_card_and_weighings_are_compared(faults, expected):
    section = whole(Drawn(6, FEW).section(Class(students=180), faults), Key())
    assert told(section) == expected


def test_the_pooled_compound_is_what_was_weighed():
    faults = Faults(contents={"D-04": "chloroform"})
    section = whole(Drawn(5, FEW).section(Class(students=180), faults))
    pooled = section.pooled[folded_label("D-04")]
    assert FEW.text("name")[pooled.leader] == "chloroform"
    assert pooled.same_liquid < 0.5
    others = [one for label, one in section.pooled.items() if label != folded_label("D-04")]
    assert all(one.same_liquid > 0.98 for one in others)


def test_probabilities_add_up():
    section = whole(Drawn(5, FEW).section(Class(students=60)))
    for pooled in section.pooled.values():
        assert pooled.probability.sum() + pooled.none_of_these == pytest.approx(1.0, abs=1e-9)


def test_many_students_do_not_make_a_close_call_sure():
    """A card of two isomers' one formula, boiling point not given: the card counts once."""
    runs = Drawn(4, FEW).section(replace(ACETONE, students=200))
    runs = [replace(run, boiling_point=None) for run in runs]
    matcher = Matcher(FEW, prior="uniform")
    few, many = (pool(bottle_of(part), matcher) for part in (runs[:20], runs))
    name = FEW.find("acetone")[0]
    # Ten times the students tell no more of isomers than the first twenty do.
    assert many.probability[name] == pytest.approx(few.probability[name], rel=0.1)


@pytest.mark.parametrize(("percent", "expected"), [(2.0, set()), (2.9, {"weighings-off"})])
def test_a_bottle_off_by_a_little_is_a_warning(percent, expected):
    """One liquid alone a few percent off, as if it were not pure."""
    drawing = Drawn(8, FEW)
    sound = drawing.section(Class(students=240, between=0.004))
    off = drawing.section(Class(students=240, between=0.004), Faults(everything=1 + percent / 100))
    runs = [one if run.label == "D-07" else run for run, one in zip(sound, off, strict=True)]
    assert told(whole(runs)) == ({"D-07": expected} if expected else {})


def test_what_all_bottles_are_off_by_is_told_once():
    section = whole(Drawn(2, FEW).section(Class(students=180), Faults(everything=1.05)))
    assert [finding.code for finding in section.findings()] == ["section-off"]
    assert told(section) == {}


def test_boiling_points_at_another_pressure_are_told_once():
    runs = Drawn(2, FEW).section(Class(students=96))
    low = [replace(one, boiling_point=f"{one.boiling_point.value - 5.0:.1f} C") for one in runs]
    section = whole(low)
    (finding,) = section.findings()
    assert finding.code == "boiling-points-off"
    assert finding.numbers["off_K"] == pytest.approx(-5.0, abs=0.3)
    assert told(section) == {}


# ------------------------------------------------------------------------- among the students


def test_two_liquids_under_one_label():
    drawing = Drawn(3, FEW)
    first = drawing.section(replace(ACETONE, students=30))
    second = drawing.section(Class(students=14, liquids={"D-02": "methyl acetate"}))
    card = {"percent": first[0].percent, "boiling_point": first[0].boiling_point}
    section = whole([*first, *(replace(one, **card) for one in second)])
    (finding,) = about(section, "D-02")
    assert finding.code == "students-disagree"
    assert (finding.numbers["lower"], finding.numbers["upper"]) == (30.0, 14.0)


def test_a_wide_spread_is_told():
    section = whole(Drawn(3, FEW).section(replace(ACETONE, students=40, between=0.12)))
    assert "students-disagree" in told(section)["D-02"]


@pytest.mark.parametrize(("students", "expected"), [(1, True), (2, True), (3, False)])
def test_few_students_are_a_note(students, expected):
    section = whole(Drawn(3, FEW).section(replace(ACETONE, students=students)))
    assert ("few-students" in {one.code for one in about(section, "D-02")}) is expected


@pytest.mark.parametrize(
    ("counts", "said"),
    [([1, 1], "Only 1 student weighed each of A and B"), ([2, 1], "Only 1 or 2 students weighed")],
)
def test_few_students_of_several_bottles_are_said_once(counts, said):
    found = [Finding("few-students", "note", "", "", {"students": float(one)}) for one in counts]
    together = few_students_each(found, "A and B")
    assert said in together.message
    assert together.numbers == {"students": float(max(counts))}


@pytest.mark.parametrize(("students", "severity"), [(1, None), (2, "warning"), (4, "error")])
def test_one_student_alone_condemns_no_bottle(students, severity):
    faults = Faults(contents={"D-02": "chloroform"})
    section = whole(Drawn(3, FEW).section(replace(ACETONE, students=students), faults))
    found = {finding.code: finding.severity for finding in about(section, "D-02")}
    assert found.get("bottle-not-the-key") == severity


def test_a_boiling_point_measured_beside_a_copied_card():
    faults = Faults(contents={"D-04": "chloroform"})
    section = whole(Drawn(5, FEW).section(Class(students=180, measured=True), faults))
    message = about(section, "D-04")[0].message
    assert "The boiling point that they measured speaks against the key too" in message


# --------------------------------------------------------------------------------- the pieces


def test_slips_do_not_move_the_robust_mean():
    random = np.random.default_rng(3)
    values = 0.012 * random.standard_normal(80)
    spoiled = values.copy()
    spoiled[:12] += random.uniform(0.1, 0.4, 12)
    one, other = RobustMean.of(values, 0.025), RobustMean.of(spoiled, 0.025)
    assert other.value == pytest.approx(one.value, abs=0.003)
    assert other.count == pytest.approx(68, abs=1)


@pytest.mark.parametrize("count", [1, 2, 3, 5, 8, 20, 80])
def test_a_robust_mean_is_off_no_more_often_than_it_says(count):
    """Of bottles with students as spread as the tolerance says, one in twenty is out of bounds."""
    random = np.random.default_rng(count)
    # What the students have in common is 0.4 of what one of them is good to.
    shared = 0.4 * 0.025 * random.standard_normal(800)
    own = 0.025 * random.standard_normal((800, count))
    off = [RobustMean.of(values, 0.025) for values in own + shared[:, np.newaxis]]
    share = np.mean([abs(one.value) > one.bound(0.05) for one in off])
    # Three standard deviations of a share of 800; few students start from what is usual.
    assert share < 0.05 + 3.0 * np.sqrt(0.05 * 0.95 / 800) + (0.015 if count < 10 else 0.0)


@pytest.mark.parametrize("count", [8, 12, 20, 33, 80])
def test_one_place_is_seldom_taken_for_two(count):
    random = np.random.default_rng(count)
    found = [two_groups(random.standard_normal(count)) for _ in range(1000)]
    assert sum(one is not None for one in found) <= 4


def _boiling(*celsius):
    drawn = Drawn(3, FEW).section(replace(ACETONE, students=len(celsius)))
    return bottle_of(
        [replace(run, boiling_point=f"{c} C") for run, c in zip(drawn, celsius, strict=True)]
    )


@pytest.mark.parametrize(
    ("celsius", "is_copied", "value", "differing"),
    [
        ((56.1,) * 9 + (65.1,), True, 56.1, {9}),
        ((56.1,) * 3, True, 56.1, set()),
        ((56.1, 56.1), True, 56.1, set()),
        ((55.9, 56.4, 56.0, 56.1, 55.2, 56.8), False, 56.07, set()),
        ((55.9, 56.4, 56.0, 56.1, 55.2, 76.8), False, 55.92, set()),
        ((56.0, 57.0), False, 56.5, set()),
    ],
)
def test_a_card_is_copied_or_measured(celsius, is_copied, value, differing):
    liquid = Expectation.of(FEW.take([FEW.find("acetone")[0]]))
    found = BottleCard.of(_boiling(*celsius), liquid, Tolerances()).readings["boiling_point"]
    assert found.is_copied is is_copied
    assert found.value.value - 273.15 == pytest.approx(value, abs=0.01)
    assert set(found.differing) == differing


def test_boiling_points_of_many_days_are_brought_to_one_pressure():
    runs = Drawn(9, FEW).section(replace(ACETONE, students=80, measured=True))
    liquid = Expectation.of(FEW.take([FEW.find("acetone")[0]]))
    found = BottleCard.of(bottle_of(runs), liquid, Tolerances()).readings["boiling_point"]
    expected = FEW.number("boiling_point_C")[FEW.find("acetone")[0]]
    assert found.value.value - 273.15 == pytest.approx(expected, abs=0.3)
    assert found.value.uncertainty == pytest.approx(0.41, abs=0.03)


# ------------------------------------------------------------------- how often, and how surely


def test_sound_sections_are_found_no_fault_with():
    drawing = Drawn(31, FEW)
    for number in range(12):
        runs = drawing.section(Class(students=120), Faults(slips=0.03))
        section = whole(runs, KEY if number % 2 else Key())
        assert section.findings() == []
        assert told(section) == {}


def _pairs():
    """Return each liquid with one that the bench would read 5 to 15 percent apart from it."""
    drawing = Drawn(0, FEW)
    names = FEW.text("name")
    boiling, found = FEW.number("boiling_point_C"), []
    read = (98.5, 22.0, 750.0, 280.0)
    for label, own in LIQUIDS.items():
        near = []
        for row in np.flatnonzero((boiling > 40.0) & (boiling < 92.0)):
            ratio = drawing.gain(names[row], read) / drawing.gain(own, read)
            if 0.05 <= abs(np.log(ratio)) <= 0.15:
                near.append((abs(np.log(ratio)), names[row]))
        found += [(label, other) for _, other in sorted(near)[:2]]
    return found


@pytest.mark.parametrize(("label", "other"), _pairs())
def test_every_mislabeled_bottle_is_found(label, other):
    runs = Drawn(13, FEW).section(Class(students=240), Faults(contents={label: other}, slips=0.05))
    section = whole(runs)
    found = told(section)
    assert found[label] & {"bottle-not-the-key", "bottles-exchanged"}
    assert set(found) == {label}
