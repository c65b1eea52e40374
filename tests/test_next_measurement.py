"""What to measure next: the gain against brute force, the groups, the words, the sets."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from identify import Measurement, match
from identify.answers.text import Page, ranking_lines
from identify.chemistry.structures import read_structure
from identify.compounds.table import NUMBER_COLUMNS, TEXT_COLUMNS, CandidateTable
from identify.matching.advise.information import entropy, gain_of_outcomes, gain_of_reading
from identify.matching.advise.next_measurement import Remaining
from identify.matching.advise.tube_tests import TUBE_TESTS, WRONG, soluble

NAN = float("nan")


# ------------------------------------------------------------------------ against brute force


def sampled_gain(probability, value, uncertainty, seed=7, draws=400_000):
    """Draw a candidate, draw its reading, ask how much surer one is: the mean over the draws."""
    generator = np.random.default_rng(seed)
    truth = generator.choice(len(probability), size=draws, p=probability)
    # What is not known of a candidate reads like one of the others, in their proportions.
    known = np.flatnonzero(np.isfinite(value))
    share = probability[known] / probability[known].sum()
    origin = np.where(np.isin(truth, known), truth, generator.choice(known, size=draws, p=share))
    reading = generator.normal(value[origin], uncertainty[origin])
    density = np.zeros((draws, len(probability)))
    for place in known:
        off = (reading - value[place]) / uncertainty[place]
        density[:, place] = np.exp(-0.5 * off**2) / uncertainty[place]
    average = density[:, known] @ share
    for place in set(range(len(probability))) - set(known.tolist()):
        density[:, place] = average
    after = density * probability
    after /= after.sum(axis=1, keepdims=True)
    left = -np.sum(np.where(after > 0.0, after * np.log2(np.maximum(after, 1e-300)), 0.0), axis=1)
    return entropy(probability) - float(left.mean())


READINGS = {
    "far apart": ([0.5, 0.5], [1.36, 1.43], [0.002, 0.002]),
    "one standard error apart": ([0.5, 0.5], [0.0, 1.0], [1.0, 1.0]),
    "the same": ([0.5, 0.5], [80.0, 80.0], [0.5, 0.5]),
    "the same, one of them uncertain": ([0.5, 0.5], [80.0, 80.0], [0.5, 10.0]),
    "an uncertain one over two certain ones": ([0.2, 0.3, 0.5], [70.0, 90.0, 80.0], [0.5, 0.5, 20]),
    "a row of five": ([0.1, 0.2, 0.4, 0.2, 0.1], [1, 2, 3, 4, 5], [0.7] * 5),
    "a rare one far off": ([0.99, 0.01], [0.0, 50.0], [1.0, 1.0]),
    "very different widths": ([0.4, 0.3, 0.3], [0.0, 0.1, 0.2], [0.01, 0.5, 30.0]),
    "one not known": ([0.4, 0.4, 0.2], [1.36, 1.43, NAN], [0.002, 0.002, NAN]),
    "most not known": ([0.2, 0.2, 0.6], [0.0, 3.0, NAN], [1.0, 1.0, NAN]),
    "fifty": (
        [1 / 50] * 50,
        list(80.0 + 3.0 * np.random.default_rng(2).standard_normal(50)),
        list(np.random.default_rng(3).uniform(0.5, 5.0, 50)),
    ),
}


@pytest.mark.parametrize("case", READINGS.values(), ids=READINGS.keys())
def test_gain_of_a_reading_is_what_sampling_finds(case):
    probability, value, uncertainty = (np.array(column, dtype=float) for column in case)
    brute = sampled_gain(probability, value, uncertainty)
    assert gain_of_reading(probability, value, uncertainty) == pytest.approx(brute, abs=0.01)


OUTCOMES = {
    "decides": ([0.5, 0.5], [[1.0, 0.0], [0.0, 1.0]]),
    "decides but for mistakes": ([0.5, 0.5], [[0.97, 0.03], [0.03, 0.97]]),
    "cannot tell": ([0.5, 0.3, 0.2], [[0.7, 0.3]] * 3),
    "three outcomes": ([0.2, 0.3, 0.5], [[0.9, 0.05, 0.05], [0.1, 0.8, 0.1], [0.0, 0.1, 0.9]]),
    "one not known": ([0.25, 0.25, 0.5], [[0.97, 0.03], [0.03, 0.97], [NAN, NAN]]),
    "only one known": ([0.25, 0.75], [[0.97, 0.03], [NAN, NAN]]),
}


@pytest.mark.parametrize("case", OUTCOMES.values(), ids=OUTCOMES.keys())
def test_gain_of_a_test_is_what_counting_finds(case):
    probability, chances = case
    known = [row for row, chance in enumerate(chances) if not math.isnan(chance[0])]
    share = sum(probability[row] for row in known)
    outcomes = range(len(chances[0]))
    mean = [sum(probability[row] * chances[row][x] for row in known) / share for x in outcomes]
    filled = [chances[row] if row in known else mean for row in range(len(chances))]
    counted = sum(
        p * chance[x] * math.log2(chance[x] / mean[x])
        for p, chance in zip(probability, filled, strict=True)
        for x in outcomes
        if chance[x] > 0.0
    )
    gain = gain_of_outcomes(np.array(probability), np.array(chances))
    assert gain == pytest.approx(counted, abs=1e-9)


def test_gain_in_a_real_match_is_what_sampling_finds():
    remaining = match(Measurement("C-14", boiling_point=80.0, molar_mass=84.0)).remaining
    assert len(remaining.names) > 10
    told = {measurement.code: measurement.gain_bits for measurement in remaining.measurements}
    for reading in remaining.readings:
        uncertainty = np.hypot(reading.prediction_u, reading.reading_u)
        brute = sampled_gain(remaining.probability, reading.value, uncertainty)
        assert told[reading.code] == pytest.approx(brute, abs=0.02), reading.code
        assert told[reading.code] > 0.0


# ------------------------------------------------------------------------ what holds always


@st.composite
def candidates(draw):
    size = draw(st.integers(1, 8))
    weights = draw(st.lists(st.floats(1e-4, 1.0), min_size=size, max_size=size))
    values = st.one_of(st.floats(-100.0, 100.0), st.just(NAN))
    value = draw(st.lists(values, min_size=size, max_size=size))
    width = draw(st.lists(st.floats(0.01, 20.0), min_size=size, max_size=size))
    positive = draw(st.lists(st.floats(0.0, 1.0), min_size=size, max_size=size))
    probability = np.array(weights) / sum(weights)
    chances = np.column_stack([positive, 1.0 - np.array(positive)])
    return probability, np.array(value), np.array(width), chances


@settings(max_examples=200, deadline=None)
@given(candidates(), st.randoms(use_true_random=False))
def test_gain_lies_between_nothing_and_all_whatever_the_order(drawn, random):
    probability, value, width, chances = drawn
    order = list(range(len(probability)))
    random.shuffle(order)
    missing = entropy(probability)
    for gain, again in (
        (
            gain_of_reading(probability, value, width),
            gain_of_reading(probability[order], value[order], width[order]),
        ),
        (
            gain_of_outcomes(probability, chances),
            gain_of_outcomes(probability[order], chances[order]),
        ),
    ):
        assert 0.0 <= gain <= missing + 1e-9
        assert again == pytest.approx(gain, abs=1e-6)


@settings(max_examples=100, deadline=None)
@given(candidates(), st.floats(-100.0, 100.0), st.floats(0.01, 20.0))
def test_what_reads_alike_for_all_tells_nothing(drawn, value, width):
    probability, _, _, chances = drawn
    alike = np.full(len(probability), 1.0)
    assert gain_of_reading(probability, value * alike, width * alike) == pytest.approx(
        0.0, abs=2e-3
    )
    assert gain_of_outcomes(probability, chances[:1].repeat(len(probability), 0)) < 1e-9


@pytest.mark.parametrize("bits", [1, 2, 3])
def test_one_bit_halves_what_is_left(bits):
    count = 2**bits
    probability = np.full(count, 1.0 / count)
    assert entropy(probability) == pytest.approx(bits)
    assert gain_of_reading(probability, np.arange(count) * 100.0, np.ones(count)) == pytest.approx(
        bits, abs=2e-3
    )


# ------------------------------------------------------------------------ structures and tests

# Textbook classes of common compounds.
GROUPS = {
    "CO": "primary alcohol",
    "CCO": "primary alcohol; iodoform group",
    "CC(C)O": "secondary alcohol; iodoform group",
    "CC(C)(C)O": "tertiary alcohol",
    "C=CCO": "allylic or benzylic alcohol; alkene",
    "OCc1ccccc1": "allylic or benzylic alcohol; aromatic ring",
    "Oc1ccccc1": "phenol; aromatic ring",
    "CC=O": "aldehyde; iodoform group",
    "CCC=O": "aldehyde",
    "C=CC=O": "aldehyde; electron-poor alkene",
    "CC(C)=O": "ketone; iodoform group",
    "CCC(=O)CC": "ketone",
    "CC(=O)O": "carboxylic acid",
    "CC(=O)Cl": "acid chloride or anhydride; organic chlorine",
    "COC=O": "formate; ester",
    "CCOC(C)=O": "ester",
    "CC(=O)N(C)C": "none",
    "C1=CCCCC1": "alkene",
    "ClC=C(Cl)Cl": "electron-poor alkene; organic chlorine",
    "C#CCCCC": "alkyne",
    "Cc1ccccc1": "aromatic ring",
    "CCNCC": "aliphatic amine",
    "Nc1ccccc1": "aromatic ring; aromatic amine",
    "c1ccncc1": "aromatic ring; weak base",
    "CCCCCl": "alkyl halide; organic chlorine",
    "CC(C)(C)Cl": "reactive halide; alkyl halide; organic chlorine",
    "ClC(Cl)Cl": "organic chlorine",
    "CI": "reactive halide; organic iodine",
    "CCOCC": "none",
    "CCCCCC": "none",
}


@pytest.mark.parametrize(("smiles", "groups"), GROUPS.items())
def test_functional_groups(smiles, groups):
    structure = read_structure(smiles)
    assert structure is not None
    assert structure.groups == groups


SEEN = [
    ("tollens", "aldehyde", "a silver mirror"),
    ("tollens", "ketone; iodoform group", "no mirror"),
    ("tollens", "formate; ester", "may go either way"),
    ("dinitrophenylhydrazine", "ketone", "a yellow to red precipitate"),
    ("dinitrophenylhydrazine", "ester", "no precipitate"),
    ("iodoform", "primary alcohol; iodoform group", "a yellow precipitate"),
    ("iodoform", "primary alcohol", "no precipitate"),
    ("bromine-water", "alkene", "its color goes"),
    ("bromine-water", "ketone; alkene", "its color goes"),
    ("bromine-water", "none", "its color stays"),
    ("lucas", "tertiary alcohol", "cloudy at once"),
    ("lucas", "secondary alcohol; iodoform group", "cloudy within ten minutes"),
    ("lucas", "primary alcohol", "stays clear"),
    ("lucas", "none", "may go either way"),
    ("bicarbonate", "carboxylic acid", "bubbles"),
    ("litmus", "aliphatic amine", "turns blue"),
    ("litmus", "aromatic ring; aromatic amine", "stays red"),
    ("hydroxamate", "ester; alkene", "red to purple"),
    ("silver-nitrate", "reactive halide; alkyl halide", "a precipitate at once"),
    ("silver-nitrate", "organic chlorine", "no precipitate"),
    ("copper-wire", "organic chlorine", "a green flame"),
    ("copper-wire", "organic fluorine", "no green flame"),
    ("aluminum-chloride", "aromatic ring", "orange to red"),
    ("ceric-nitrate", "tertiary alcohol", "red"),
    ("ceric-nitrate", "", "not known"),
]


@pytest.mark.parametrize(("code", "groups", "seen"), SEEN)
def test_what_a_test_shows(code, groups, seen):
    (test,) = (test for test in TUBE_TESTS if test.code == code)
    assert test.seen(groups) == seen
    chances = test.chances(groups)
    if not groups:
        assert all(math.isnan(chance) for chance in chances)
        return
    assert sum(chances) == pytest.approx(1.0)
    if seen in test.outcomes:
        assert chances[test.outcomes.index(seen)] == pytest.approx(1.0 - WRONG)
    else:
        assert len(set(chances)) == 1


def test_tests_speak_of_groups_that_the_table_has(table):
    held = {group for groups in table.text("groups") for group in groups.split("; ")}
    for test in TUBE_TESTS:
        assert set(test.shows) <= held, test.code


# What dissolves to 40 g/L: handbook solubilities, from memory.
SOLUBLE = {"acetone": True, "ethanol": True, "acetonitrile": True, "tetrahydrofuran": True}
SOLUBLE |= {"1-propanol": True, "hexane": False, "toluene": False, "chloroform": False}
SOLUBLE |= {"1-chlorobutane": False, "cyclohexene": False}


@pytest.mark.parametrize(("name", "dissolves"), SOLUBLE.items())
def test_solubility(name, dissolves, table):
    (row,) = table.find(name)
    log_p, molar_mass = (table.number(column)[[row]] for column in ("log_p", "molar_mass"))
    assert table.text("log_p_source")[row] in ("SYRRES", "CRC")
    chance = float(soluble(log_p, molar_mass, np.array([False]))[0])
    assert chance > 0.7 if dissolves else chance < 0.3
    # Less sure where it is estimated, and never sure where it is not known.
    softer = float(soluble(log_p, molar_mass, np.array([True]))[0])
    assert abs(softer - 0.5) < abs(chance - 0.5)
    assert math.isnan(float(soluble(np.array([NAN]), molar_mass, np.array([False]))[0]))


def test_log_p_has_a_source_and_a_value(table):
    assert np.isfinite(table.number("log_p")).all()
    assert all(table.text("groups"))
    assert sum(source != "estimated from structure" for source in table.text("log_p_source")) > 2000


def test_an_older_table_offers_no_tests_but_serves(table):
    few = table.take([table.find(name)[0] for name in ("acetone", "propionaldehyde")])
    text = {name: column for name, column in few._text.items() if name != "groups"}
    numbers = {name: column for name, column in few._numbers.items() if name != "log_p"}
    table, run = CandidateTable(text, numbers), Measurement("C-14", molar_mass=58.1)
    ranking = match(run, table, prior="commerce")
    told = {one.code: one for one in ranking.next_measurements}
    assert told["tollens"].gain_bits == told["solubility"].gain_bits == 0.0
    assert {value for _, value in told["tollens"].predicted} == {"not known"}
    assert told["boiling-point"].gain_bits > 0.9


# ------------------------------------------------------------------------ what is offered

C3H6O = {"C": 62.0, "H": 10.4, "O": 27.6}


def offered(**readings):
    """Of what is sold: in a classroom the acetone of its isomers is as good as sure."""
    ranking = match(Measurement("C-14", **readings), prior="commerce")
    return ranking, {one.code: one for one in ranking.next_measurements}


def test_the_best_comes_first_with_the_readings_to_expect():
    ranking, told = offered(molar_mass=58.0, percent=C3H6O)
    gains = [round(one.gain_bits, 6) for one in ranking.next_measurements]
    assert gains == sorted(gains, reverse=True)
    assert ranking.next_measurements[0].code == "boiling-point"
    expected = dict(told["boiling-point"].predicted)
    assert expected["acetone"] == "56.1 °C"
    assert dict(told["refractive-index"].predicted)["acetone"] == "1.359"
    assert dict(told["density"].predicted)["acetone"].endswith(" g/mL")
    assert dict(told["tollens"].predicted)["propionaldehyde"] == "a silver mirror"
    assert dict(told["melting-point"].predicted)["acetone"] == "liquid at −20 °C"
    # Isomers, but for those of twice the size that a rough class may have weighed.
    assert told["weighing"].gain_bits < 0.2


def test_tube_tests_send_to_the_instructor():
    _, told = offered(molar_mass=58.0, percent=C3H6O)
    for test in TUBE_TESTS:
        assert "instructor" in told[test.code].advice
        assert "safety data sheets" in told[test.code].advice
    assert "instructor" not in told["density"].advice


def test_ketones_that_boil_together_are_told_by_iodoform(table):
    pair = table.take([table.find(name)[0] for name in ("2-pentanone", "3-pentanone")])
    run = Measurement("C-14", molar_mass=86.1, boiling_point=102.0)
    best = match(run, pair).next_measurements[0]
    assert best.code == "iodoform"
    assert best.gain_bits == pytest.approx(1.0, abs=0.25)
    assert best.advice.startswith("Do the iodoform test: ")
    assert "a yellow precipitate for 2-pentanone" in best.advice
    assert "no precipitate for 3-pentanone" in best.advice


def test_what_was_measured_is_not_offered_again():
    _, told = offered(molar_mass=58.0, percent=C3H6O)
    assert {"refractive-index", "density", "melting-point"} <= set(told)
    _, told = offered(percent=C3H6O, refractive_index=1.36)
    assert "refractive-index" not in told
    assert "density" in told


def test_a_second_boiling_point_tells_less_than_the_first():
    _, before = offered(molar_mass=58.0, percent=C3H6O)
    ranking = match(Measurement("C-14", boiling_point=80.0), prior="commerce")
    again = {one.code: one.gain_bits for one in ranking.next_measurements}["boiling-point"]
    # To half a degree instead of one: at most what that narrows it by, and the gross errors.
    assert 0.1 < again < 1.5 < before["boiling-point"].gain_bits


@pytest.mark.parametrize(("u", "least", "most"), [(2.0, 0.9, 1.0), (100.0, 0.0, 0.4)])
def test_a_density_tells_as_much_as_the_table_knows_it(u, least, most, table):
    # Both have 88.1 g/mol.
    pair = table.take([table.find(name)[0] for name in ("ethyl acetate", "1,4-dioxane")])
    numbers = {column: pair.number(column) for column in NUMBER_COLUMNS}
    densities = {"liquid_density_25C": np.array([894.5, 1028.2])}
    numbers |= densities | {"liquid_density_u": np.full(2, u)}
    pair = CandidateTable({column: pair.text(column) for column in TEXT_COLUMNS}, numbers)
    ranking = match(Measurement("C-14", molar_mass=88.1), pair, prior="uniform")
    told = {one.code: one.gain_bits for one in ranking.remaining.measurements}
    assert least < told["density"] <= most


@pytest.mark.parametrize(("error", "least", "most"), [(2.0, 0.8, 1.0), (30.0, 0.0, 0.1)])
def test_one_more_weighing_helps_as_much_as_its_error_allows(error, least, most, table):
    # Ethanol and 2-propanol, 46 and 60 g/mol, and a reading halfway between.
    pair = table.take([table.find(cas)[0] for cas in ("64-17-5", "67-63-0")])
    ranking = match(Measurement("C-14", molar_mass=f"53 ± {error} g/mol"), pair)
    told = {one.code: one.gain_bits for one in ranking.remaining.measurements}
    assert least < told["weighing"] < most


def test_nothing_is_offered_where_one_is_sure_or_none_matches():
    sure, told = offered(molar_mass=46.1, boiling_point=78.3, percent={"C": 52.1, "H": 13.1})
    assert (sure.verdict, told) == ("single match", {})
    assert sure.to_dict()["next"] == []
    wrong, told = offered(molar_mass=46.1, boiling_point=10.0, percent={"C": 1.0})
    assert (wrong.verdict, told) == ("no match", {})


def test_json_has_what_is_next():
    ranking, _ = offered(molar_mass=58.0, percent=C3H6O)
    plain = json.loads(json.dumps(ranking.to_dict()))["next"]
    keys = {"measurement", "code", "information_gain_bits", "predicted", "advice"}
    assert all(set(one) == keys for one in plain)
    assert plain[0]["measurement"] == "the boiling point to half a degree"
    assert 1.5 < plain[0]["information_gain_bits"] < 2.5
    assert {"name": "acetone", "value": "56.1 °C"} in plain[0]["predicted"]
    assert all(set(entry) == {"name", "value"} for one in plain for entry in one["predicted"])


# ------------------------------------------------------------------------ in words


@pytest.mark.parametrize("page", [Page(80), Page(80, unicode=False), Page(60)])
def test_it_is_printed_within_the_page(page):
    ranking, _ = offered(molar_mass=58.0, percent=C3H6O)
    lines = ranking_lines(ranking, page)
    assert all(len(line) <= page.width for line in lines if "°" not in line)
    text = " ".join(" ".join(lines).split())
    assert "To decide, measure the boiling point to half a degree: 56.1" in text
    assert "bits that are missing (one bit halves what is left); next best: " in text


def test_nothing_is_printed_where_nothing_is_to_decide():
    sure, _ = offered(molar_mass=46.1, boiling_point=78.3, percent={"C": 52.1, "H": 13.1})
    assert "bits" not in " ".join(ranking_lines(sure, Page(80)))


# ------------------------------------------------------------------------ sets stay sets

# Isomers that boil within half a degree, and what separates them best, if anything.
SETS = [
    ("2-pentanone", "3-pentanone", "the iodoform test"),
    ("2,3-dimethylpentane", "2-methylhexane", "the refractive index"),
    ("1,3-bis(trifluoromethyl)benzene", "1,4-bis(trifluoromethyl)benzene", "the freezing point"),
    # Estimated densities tell little; the advice may name one all the same.
    ("2-bromobutane", "1-bromo-2-methylpropane", "the density"),
]


def noisy(table: CandidateTable, row: int, seed: int) -> Measurement:
    """Return a run with a student's errors."""
    error = np.random.default_rng(seed).standard_normal
    listed = [name for name in ("C", "H", "O", "F", "Br") if table.number(f"percent_{name}")[row]]
    return Measurement(
        "C-14",
        molar_mass=float(table.number("molar_mass")[row] * (1.0 + 0.025 * error())),
        boiling_point=float(table.number("boiling_point_C")[row] + error()),
        percent={
            name: float(table.number(f"percent_{name}")[row] + 0.2 * error()) for name in listed
        },
    )


@pytest.mark.parametrize("both", SETS)
def test_noise_never_breaks_a_set(both, table):
    *names, separated_by = both
    pair = table.take([table.find(name)[0] for name in names])
    reported = 0
    for row in (0, 1):
        for seed in range(60):
            run = noisy(pair, row, seed)
            ranking = match(run)
            assert ranking.candidates[0].name not in names or ranking.verdict != "single match"
            # Among the two of them alone there is nothing else that could keep them together.
            alone = match(run, pair)
            assert alone.verdict != "single match"
            found = [one for one in alone.findings if one.code == "candidates-inseparable"]
            for finding in found:
                reported += 1
                assert all(name in finding.message for name in names)
                assert finding.advice.startswith(
                    f"Of further measurements, {separated_by}"
                    if separated_by
                    else "No simple measurement separates them either"
                )
    assert reported >= 60  # in the others a reading is out of its tolerance


def test_rarity_and_noise_together_do_not_break_a_set(table):
    """One of two is in commerce, and the reading leans to it: ten to one, and still told."""
    taken = table.take([table.find(name)[0] for name in ("2-pentanone", "3-pentanone")])
    numbers = dict(taken._numbers)
    numbers["prior"] = np.array([0.8, 0.2])
    numbers["boiling_point_C"] = np.array([101.3, 102.1])
    numbers["boiling_point_u"] = np.array([0.1, 0.1])
    pair = CandidateTable(taken._text, numbers)
    run = Measurement("C-14", molar_mass=86.1, boiling_point=100.2)
    ranking = match(run, pair, prior="commerce")
    assert ranking.candidates[0].plausible
    assert ranking.candidates[1].probability < 0.1
    far = numbers | {"boiling_point_C": np.array([101.3, 104.1])}
    alone = match(run, CandidateTable(taken._text, far), prior="commerce")
    # The verdict follows the probability; what it rests on is told beside it.
    assert (ranking.verdict, alone.verdict) == ("single match", "single match")
    told = [
        "candidates-inseparable" in {finding.code for finding in one.findings}
        for one in (ranking, alone)
    ]
    assert told == [True, False]


def test_nothing_separates_two_that_are_alike_in_everything(table):
    row = table.find("2-bromobutane")[0]
    twice = table.take([row, row])
    text = dict(twice._text) | {"name": ["one form", "its mirror image"], "inchikey": ["A", "B"]}
    run = Measurement("C-14", molar_mass=137.0, boiling_point=91.2)
    ranking = match(run, CandidateTable(text, twice._numbers))
    remaining = ranking.remaining
    assert isinstance(remaining, Remaining)
    assert remaining.missing_bits == pytest.approx(1.0)
    assert remaining.best is None
    printed = " ".join(" ".join(ranking_lines(ranking, Page(80))).split())
    assert "No simple measurement tells these apart: give them together" in printed
    (finding,) = (one for one in ranking.findings if one.code == "candidates-inseparable")
    assert finding.advice.startswith("No simple measurement separates them either")
