"""Findings that need the candidates: each raised by what it is for, and silent beside it."""

from __future__ import annotations

import pytest

from identify import (
    Conditions,
    Flask,
    Measurement,
    Tolerances,
    Trial,
    load_candidates,
    match,
)
from identify.compounds.table import CandidateTable

OWN = (
    "nothing-measured",
    "nothing-plausible",
    "slightly-off",
    "candidates-inseparable",
    "boiling-point-uncertain",
    "vapor-of-dimers",
)

# A stockroom of five bottles: two isomers that boil a degree apart, two that boil far apart, and
# one whose boiling point nobody agrees on.
ROWS = {
    # name: cas, boiling point [C], its standard uncertainty [K], published, percent C, H, O
    "ethyl formate": ("109-94-4", 54.3, 0.3, 1.0, 48.64, 8.16, 43.20),
    "methyl acetate": ("79-20-9", 54.9, 0.3, 1.0, 48.64, 8.16, 43.20),
    "acetone": ("67-64-1", 56.1, 0.1, 1.0, 62.04, 10.41, 27.55),
    "propanal": ("123-38-6", 48.0, 0.1, 1.0, 62.04, 10.41, 27.55),
    "ethanol": ("64-17-5", 78.3, 0.1, 1.0, 52.14, 13.13, 34.73),
}
WEIGHTS = (74.08, 74.08, 58.08, 58.08, 46.07)


@pytest.fixture
def stock():
    """Return a table in which constants can be replaced by name of compound."""
    built_in = load_candidates()
    rows = [built_in.find(cas)[0] for cas, *_ in ROWS.values()]
    taken = built_in.take(rows)

    def made(**changed: dict[str, float]) -> CandidateTable:
        numbers = {name: taken.number(name).copy() for name in taken._numbers}
        columns = ("boiling_point_C", "boiling_point_u", "boiling_point_published")
        columns += ("percent_C", "percent_H", "percent_O")
        for place, (name, (_, *values)) in enumerate(ROWS.items()):
            given = dict(zip(columns, values, strict=True)) | changed.get(name.split()[0], {})
            for column, value in given.items():
                numbers[column][place] = value
            numbers["molar_mass"][place] = WEIGHTS[place]
        text = {name: list(column) for name, column in taken._text.items()}
        text["name"] = list(ROWS)
        return CandidateTable(text, numbers)

    return made


def found(run: Measurement, table: CandidateTable):
    return [finding for finding in match(run, table).findings if finding.code in OWN]


ETHANOL = {"C": 52.1, "H": 13.1, "O": 34.7}
ACETATE = {"C": 48.6, "H": 8.2, "O": 43.2}


def test_a_clean_run_has_no_findings(stock):
    run = Measurement("C-14", molar_mass=46.1, boiling_point=78.3, percent=ETHANOL)
    ranking = match(run, stock())
    assert ranking.findings == []
    assert ranking.candidates[0].name == "ethanol"


@pytest.mark.parametrize(
    ("reading", "raised"),
    [
        ({}, True),
        ({"conditions": None}, True),
        ({"boiling_point": 78.3}, False),
        ({"molar_mass": 46.1}, False),
        ({"percent": ETHANOL}, False),
    ],
)
def test_nothing_measured(reading, raised, stock):
    given = {name: value for name, value in reading.items() if value is not None}
    findings = found(Measurement("C-14", **given), stock())
    assert [finding.code for finding in findings] == (["nothing-measured"] if raised else [])
    if raised:
        assert findings[0].severity == "error"
        assert findings[0].numbers == {}
        assert "Nothing was measured" in findings[0].message


@pytest.mark.parametrize(
    # The deviation of each reading in tolerances (5 %, 2 degrees, 0.4 points); the readings that
    # the message names; severity.
    ("off", "named", "severity"),
    [
        ({}, None, None),
        ({"molar_mass": 0.98}, None, None),
        ({"boiling_point": -0.98}, None, None),
        ({"molar_mass": 0.9, "boiling_point": 0.9, "O": 0.9}, None, None),
        ({"molar_mass": 1.1}, "molar mass", "note"),
        ({"boiling_point": 1.1}, "boiling point", "note"),
        ({"C": -1.1}, "percentage of C", "note"),
        ({"molar_mass": 1.1, "boiling_point": 1.1}, "molar mass and the boiling point", "note"),
        ({"molar_mass": 1.5, "boiling_point": 1.5}, "molar mass and the boiling point", "note"),
        # More than a little, though a few in a hundred cards are as far off.
        ({"boiling_point": -4.0}, "boiling point", "warning"),
        ({"boiling_point": -14.0}, "boiling point", "warning"),
        ({"boiling_point": 60.0}, "boiling point", "warning"),
        ({"C": 4.0}, "percentage of C", "warning"),
        ({"boiling_point": 4.0, "molar_mass": 1.5}, "molar mass and the boiling point", "warning"),
    ],
)
def test_nothing_plausible(off, named, severity, stock):
    percent = {"C": 52.14, "H": 13.13, "O": 34.73}
    percent = {element: value + 0.4 * off.get(element, 0.0) for element, value in percent.items()}
    # The molar mass is a reading: its tolerance is 5 % of what the candidate would have given.
    run = Measurement(
        "C-14",
        molar_mass=46.07 * (1.0 + 0.05 * off.get("molar_mass", 0.0)),
        boiling_point=78.3 + 2.02 * off.get("boiling_point", 0.0),
        percent=percent,
    )
    ranking = match(run, stock())
    findings = [finding for finding in ranking.findings if finding.code in OWN]
    if named is None:
        assert findings == []
        return
    (finding,) = findings
    code = "slightly-off" if severity == "note" else "nothing-plausible"
    assert (finding.code, finding.severity) == (code, severity)
    several = " and " in named
    if severity == "note":
        sentence = f"The {named} {'are' if several else 'is'} a little further"
    else:
        sentence = f"Against ethanol {'stand' if several else 'stands'} the {named}."
    nearest = f"Nearest is ethanol, which disagrees with the {named}."
    assert sentence in finding.message or (severity == "warning" and nearest in finding.message)
    # Far is less far where the error has tails; a composition has none.
    squares = {name: (2.0 * value) ** 2 for name, value in off.items()}
    assert 0.0 < finding.numbers["chi_squared"] <= sum(squares.values()) * 1.02
    if off.keys() <= ETHANOL.keys():
        assert finding.numbers["chi_squared"] == pytest.approx(sum(squares.values()), rel=0.02)
    assert finding.numbers["none_of_these"] == ranking.none_of_these
    assert finding.numbers["probability"] == ranking.candidates[0].probability


@pytest.mark.parametrize(
    ("off", "code", "said"),
    [
        (1.9, None, ""),
        (-1.9, None, ""),
        (2.5, "molar-mass-high", "12 % above that of ethanol."),
        (9.0, "molar-mass-high", "45 % above that of ethanol."),
        (-2.5, "molar-mass-low", "12 % below that of ethanol."),
        (-8.0, "molar-mass-low", "40 % below that of ethanol."),
    ],
)
def test_a_molar_mass_that_is_off_as_classes_are(off, code, said, stock):
    run = Measurement(
        "C-14", molar_mass=46.07 * (1.0 + 0.05 * off), boiling_point=78.3, percent=ETHANOL
    )
    ranking = match(run, stock())
    # It says so, and casts no doubt on what the card says.
    assert ranking.verdict == "single match"
    told = [one for one in ranking.findings if one.code.startswith("molar-mass-")]
    told = [one for one in told if one.code != "molar-mass-no-multiple"]
    assert [one.code for one in told] == ([code] if code else [])
    for one in told:
        assert one.severity == "note"
        assert said in one.message
        assert one.numbers["relative"] == pytest.approx(0.05 * off, abs=2e-3)
    assert "nothing-plausible" not in {one.code for one in ranking.findings}


def test_a_molar_mass_is_off_beside_a_boiling_point_that_is(stock):
    """A slip of the boiling point explains nothing of the weighing."""
    run = Measurement("C-14", molar_mass=55.3, boiling_point=86.4, percent=ETHANOL)
    ranking = match(run, stock())
    assert [slip.code for slip in ranking.slips] == ["superheated"]
    codes = {one.code: one for one in ranking.findings}
    assert "molar-mass-high" in codes
    assert codes["nothing-plausible"].message.endswith("Against ethanol stands the boiling point.")


def test_nothing_is_off_from_what_it_hardly_is():
    ranking = match(Measurement("C-14", molar_mass=5000.0))
    assert ranking.candidates[0].probability < 0.5
    assert not {"molar-mass-high", "molar-mass-low"} & {one.code for one in ranking.findings}


def test_what_the_readings_fit_is_no_liquid():
    # Butane's.
    butane = {"C": 82.66, "H": 17.34}
    ranking = match(Measurement("C-14", molar_mass=58.1, boiling_point=-0.5, percent=butane))
    (finding,) = [one for one in ranking.findings if one.code == "nothing-plausible"]
    assert f"Nearest is {ranking.candidates[0].name}: the readings fit it" in finding.message


@pytest.mark.parametrize(
    ("reading", "named"),
    [
        ({"refractive_index": 1.41}, "refractive index"),
        ({"density": "1.05 g/mL"}, "density"),
        ({"melting_point": 5.0}, "melting point"),
    ],
)
def test_a_constant_of_the_liquid_that_is_off_is_named(reading, named):
    acetone = {"C": 62.04, "H": 10.41, "O": 27.55}
    run = Measurement("C-14", molar_mass=58.1, boiling_point=56.1, percent=acetone, **reading)
    (finding,) = [one for one in match(run).findings if one.code == "nothing-plausible"]
    assert finding.message.endswith(f"Against acetone stands the {named}.")


def test_findings_are_a_list():
    assert isinstance(match(Measurement("C-14", molar_mass=46.1)).findings, list)


@pytest.mark.parametrize(
    ("readings", "hints"),
    [
        # 78.3 degrees Celsius is 172.9 degrees Fahrenheit, but so is much that boils there.
        ({"molar_mass": 46.5, "boiling_point": 172.9}, 1),
        ({"molar_mass": 46.5, "boiling_point": 78.2}, 0),
        # The composition makes the slip likely: it is named, and no hint is needed.
        (
            {
                "molar_mass": 46.5,
                "boiling_point": 172.9,
                "percent": {"C": 52.1, "H": 13.1, "O": 34.8},
            },
            0,
        ),
    ],
)
def test_a_slip_that_is_possible_is_told_where_nothing_fits(readings, hints):
    # Where a molar mass is as good as nothing, a boiling point may be as it is read.
    careful = Tolerances(molar_mass=5.0)
    ranking = match(Measurement("C-14", **readings), tolerances=careful, prior="commerce")
    assert [one.code for one in ranking.slips] == ["boiling-point-unit"] * ("percent" in readings)
    found = [one for one in ranking.findings if one.code == "slip-possible"]
    assert len(found) == hints
    for one in found:
        assert "172.9 °F is 78.3 °C" in one.message
        assert one.message.endswith("would make it ethanol.")
        assert 0.15 < one.numbers["probability"] < 0.5


@pytest.mark.parametrize(
    ("percent", "is_missing"),
    [
        ({"H": 11.2, "O": 88.8}, True),  # water
        ({"H": 11.2, "O": 50.0}, False),  # there is room for carbon
        ({"C": 37.5, "H": 12.6, "O": 49.9}, False),
    ],
)
def test_a_card_without_carbon(percent, is_missing):
    ranking = match(Measurement("C-14", percent=percent, boiling_point=100.0))
    assert ("carbon-missing" in {one.code for one in ranking.findings}) == is_missing


def test_an_element_that_the_card_leaves_no_room_for_is_no_chance(stock):
    # Carbon and hydrogen as in propane: acetone is near in all but its oxygen.
    run = Measurement("C-14", boiling_point=56.1, molar_mass=58.1, percent={"C": 62.0, "H": 38.0})
    (finding,) = found(run, stock())
    assert (finding.code, finding.severity) == ("nothing-plausible", "warning")
    assert "the elements that the card leaves out" in finding.message


@pytest.mark.parametrize(
    ("reading", "names", "advice"),
    [
        # Isomers: the composition never tells them apart; these boil within a degree, so that the
        # density is of more help than a boiling point.
        (
            {"percent": ACETATE, "molar_mass": 74.1},
            {"ethyl formate", "methyl acetate"},
            "Of further measurements, the density separates them best",
        ),
        (
            {"percent": ACETATE},
            {"ethyl formate", "methyl acetate"},
            "Of further measurements, the density separates them best",
        ),
        # Isomers that boil eight degrees apart.
        (
            {"molar_mass": 58.1},
            {"acetone", "propanal"},
            "Of further measurements, the boiling point to half a degree separates them best",
        ),
        # 0.6 degrees apart, less than half a tolerance of 2.
        (
            {"percent": ACETATE, "molar_mass": 74.1, "boiling_point": 54.6},
            {"ethyl formate", "methyl acetate"},
            "Of further measurements, the density separates them best",
        ),
        # 8 degrees apart.
        ({"molar_mass": 58.1, "boiling_point": 56.0}, set(), ""),
        ({"molar_mass": 46.1, "boiling_point": 78.3}, set(), ""),
    ],
)
def test_candidates_inseparable(reading, names, advice, stock):
    findings = found(Measurement("C-14", **reading), stock())
    if not names:
        assert findings == []
        return
    (finding,) = findings
    assert (finding.code, finding.severity) == ("candidates-inseparable", "note")
    assert all(name in finding.message for name in names)
    assert not any(name in finding.message for name in set(ROWS) - names)
    assert finding.advice.startswith(advice)
    assert finding.numbers == {"compounds": float(len(names))}


def test_a_composition_separates_two_formulas(stock):
    table = stock(acetone={"boiling_point_C": 54.9})
    (finding,) = found(Measurement("C-14", boiling_point=54.9), table)
    assert finding.code == "candidates-inseparable"
    assert finding.advice == "A composition would tell some of them apart."


@pytest.mark.parametrize(("apart", "inseparable"), [(0.9, True), (1.1, False)])
def test_half_a_tolerance_separates(apart, inseparable, stock):
    table = stock(
        ethyl={"boiling_point_C": 54.9 - apart, "boiling_point_u": 0.01},
        methyl={"boiling_point_C": 54.9, "boiling_point_u": 0.01},
    )
    run = Measurement("C-14", boiling_point=54.9 - 0.5 * apart, percent=ACETATE, molar_mass=74.1)
    codes = [finding.code for finding in found(run, table)]
    assert codes == (["candidates-inseparable"] if inseparable else [])


@pytest.mark.parametrize(
    ("published", "uncertainty", "says"),
    [
        (1.0, 0.1, None),
        (1.0, 1.9, None),
        (1.0, 2.1, "rests on sources that do not agree (standard uncertainty 2.1 °C)"),
        (0.0, 1.9, "is an estimate from its structure (standard uncertainty 1.9 °C)"),
        (0.0, 9.9, "is an estimate from its structure (standard uncertainty 9.9 °C)"),
        (0.0, 10.1, "too uncertain to support an agreement"),
    ],
)
def test_boiling_point_uncertain(published, uncertainty, says, stock):
    changed = {"boiling_point_published": published, "boiling_point_u": uncertainty}
    table = stock(ethanol=changed)
    run = Measurement("C-14", boiling_point=78.3, percent=ETHANOL, molar_mass=46.1)
    raised = [one for one in found(run, table) if one.code == "boiling-point-uncertain"]
    assert len(raised) == (says is not None)
    for finding in raised:
        assert finding.severity == "note"
        assert "The boiling point of ethanol in the table" in finding.message
        assert says in finding.message
        assert finding.numbers["standard_uncertainty_K"] == pytest.approx(uncertainty)
    # Where no boiling point was read, none was leaned on.
    without = Measurement("C-14", percent=ETHANOL, molar_mass=46.1)
    assert found(without, table) == []


@pytest.mark.parametrize(
    ("gain", "boiling_point", "first", "is_told"),
    [
        ("1.4613 g", 72.1, "trifluoroacetic acid", True),
        ("0.7406 g", 80.7, "cyclohexane", False),
    ],
)
def test_vapor_of_dimers(gain, boiling_point, first, is_told):
    run = Measurement(
        "T-1",
        boiling_point=boiling_point,
        conditions=Conditions(pressure="742.0 mmHg", room="22.0 C"),
        flask=Flask(volume="280.0 mL"),
        trials=[Trial(gain=gain, bath="98.9 C")],
    )
    ranking = match(run, prior="commerce")
    assert ranking.candidates[0].name == first
    raised = [one for one in ranking.findings if one.code == "vapor-of-dimers"]
    assert len(raised) == is_told
    for finding in raised:
        assert finding.severity == "note"
        assert "100 of them are 70 particles" in finding.message
        assert "43 % high" in finding.message
    # A molar mass alone says nothing of a vapor.
    card = Measurement("T-1", boiling_point=boiling_point, molar_mass=114.0)
    assert "vapor-of-dimers" not in [one.code for one in match(card).findings]
