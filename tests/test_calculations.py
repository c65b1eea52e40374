"""The bench calculations: values, uncertainties, working, and what cannot be used."""

from __future__ import annotations

import json
from math import hypot

import numpy as np
import pytest

import identify
from identify.calculations.boiling_point import Stem, boiling_point
from identify.calculations.composition import composition
from identify.calculations.formulas import formulas
from identify.chemistry.formula import FormulaError
from identify.cli import main
from identify.compounds.naming.lookup import NameFault
from identify.notebook.quantity.quantities import QuantityError
from identify.notebook.statistics import to_uncertainty, with_expanded
from identify.physics.combustion import PRODUCTS

# ------------------------------------------------------------------------------- composition


@pytest.mark.parametrize("product", PRODUCTS, ids=lambda product: product.formula)
def test_each_product_stands_for_its_element(product):
    found = composition("1.0000 g", {product.formula: "0.5000 g"}, oxygen_by_difference=False)
    (element,) = found.percent
    assert element == product.element
    assert found.percent[element].value == pytest.approx(50.0 * product.share)
    assert product.molar_mass > product.atoms * product.atomic_weight * 0.999


@pytest.mark.parametrize(
    ("sample", "masses", "expected"),
    [
        # Ethanol; benzene; in milligrams; with nitrogen (glycine, C2H5NO2).
        ("0.4310 g", {"CO2": "0.8235 g", "H2O": "0.5057 g"}, {"C": 52.1, "H": 13.1, "O": 34.7}),
        ("0.2000 g", {"CO2": "0.6761 g", "H2O": "0.1380 g"}, {"C": 92.3, "H": 7.7, "O": 0.0}),
        ("431.0 mg", {"CO2": "823.5 mg", "H2O": "505.7 mg"}, {"C": 52.1, "H": 13.1, "O": 34.7}),
        (
            "0.1000 g",
            {"CO2": "0.1173 g", "H2O": "0.0600 g", "N2": "0.0187 g"},
            {"C": 32.0, "H": 6.7, "N": 18.7, "O": 42.6},
        ),
    ],
)
def test_composition(sample, masses, expected):
    found = composition(sample, masses)
    assert {e: round(share.value, 1) for e, share in found.percent.items()} == pytest.approx(
        expected, abs=0.15
    )
    if sum(share.value for share in found.percent.values()) < 101.0:
        assert sum(share.value for share in found.percent.values()) == pytest.approx(100.0, abs=0.2)


def test_uncertainties_are_those_of_many_repeats():
    """Against draws of the masses themselves (JCGM 101)."""
    sample, carbon, water = (0.1000, 0.0004), (0.1911, 0.0006), (0.1173, 0.0003)
    found = composition(
        f"{sample[0]} ± {sample[1]} g",
        {"CO2": f"{carbon[0]} ± {carbon[1]} g", "H2O": f"{water[0]} ± {water[1]} g"},
    )
    random = np.random.default_rng(7)
    drawn = [mean + sd * random.standard_normal(200_000) for mean, sd in (sample, carbon, water)]
    pairs = zip(drawn[1:], PRODUCTS, strict=False)
    shares = [100.0 * mass * product.share / drawn[0] for mass, product in pairs]
    spread = {"C": shares[0], "H": shares[1], "O": 100.0 - shares[0] - shares[1]}
    for element, values in spread.items():
        assert found.percent[element].standard_uncertainty == pytest.approx(values.std(), rel=0.02)


def test_oxygen_by_difference_is_known_worse_than_what_it_is_left_by():
    found = composition("0.4310 g", {"CO2": "0.8235 g", "H2O": "0.5057 g"})
    carbon, hydrogen, oxygen = (found.percent[e].standard_uncertainty for e in "CHO")
    assert oxygen > hypot(carbon, hydrogen)


@pytest.mark.parametrize(
    ("water", "codes"),
    [("0.5057 g", []), ("1.9000 g", [("recovery-above-100", "error")])],
)
def test_recovery(water, codes):
    found = composition("0.4310 g", {"CO2": "0.8235 g", "H2O": water})
    assert [(finding.code, finding.severity) for finding in found.findings] == codes
    assert ("O" in found.percent) is not bool(codes)


@pytest.mark.parametrize(
    ("masses", "by_difference", "codes"),
    [
        ({"CO2": "0.8235 g", "H2O": "0.5057 g"}, False, ["recovery-below-100"]),  # of ethanol
        ({"H2O": "0.5057 g"}, True, ["left-holds-more"]),
        ({"CO2": "0.8235 g"}, True, ["left-holds-more"]),
    ],
)
def test_what_was_not_collected(masses, by_difference, codes):
    found = composition("0.4310 g", masses, oxygen_by_difference=by_difference)
    assert [finding.code for finding in found.findings] == codes
    left = 100.0 - sum(share.value for name, share in found.percent.items() if name != "O")
    assert found.findings[0].numbers["percent"] == pytest.approx(left)


def test_a_recovery_a_little_above_100_is_chance():
    found = composition("0.1000 g", {"CO2": "0.3381 g", "H2O": "0.0695 g"})
    assert [(f.code, f.severity) for f in found.findings] == [("recovery-above-100", "note")]


@pytest.mark.parametrize(
    ("sample", "masses", "largest"),
    [
        # The least of three masses on one balance is known worst; then the one that says so.
        (
            "0.4310 g",
            {"CO2": "0.8235 g", "H2O": "0.5057 g"},
            {"C": "sample", "H": "sample", "O": "sample"},
        ),
        (
            "0.4310 g",
            {"CO2": "0.8235 ± 0.0010 g", "H2O": "0.5057 g"},
            {"C": "CO2", "H": "sample", "O": "CO2"},
        ),
        (
            "0.4310 g",
            {"CO2": "0.8235 g", "H2O": "0.5057 ± 0.0050 g"},
            {"C": "sample", "H": "H2O", "O": "H2O"},
        ),
    ],
)
def test_what_dominates_each_percentage_is_named(sample, masses, largest):
    found = composition(sample, masses)
    for element, word in largest.items():
        share = found.percent[element]
        assert share.largest.endswith(word)
        assert 0.5 < share.share <= 1.0
    data = found.to_dict()["percent"]
    assert all({"largest_part", "largest_part_share"} <= set(one) for one in data.values())


@pytest.mark.parametrize(
    ("sample", "masses", "codes"),
    [
        ("0.2000 g", {"CO2": "0.6760 g", "H2O": "0.1383 g"}, ["oxygen-within-errors"]),  # benzene
        ("0.4310 g", {"CO2": "0.8235 g", "H2O": "0.5057 g"}, []),  # ethanol
        # As much oxygen, 0.3 %, by a balance to the milligram and one ten times finer.
        ("0.200 g", {"CO2": "0.674 g", "H2O": "0.138 g"}, ["oxygen-within-errors"]),
        ("0.2000 g", {"CO2": "0.6740 g", "H2O": "0.1380 g"}, []),
    ],
)
def test_oxygen_that_the_errors_explain_is_said(sample, masses, codes):
    assert [finding.code for finding in composition(sample, masses).findings] == codes
    found = composition(sample, masses, oxygen_by_difference=False).findings
    is_ethanol = sample == "0.4310 g"
    assert [finding.code for finding in found] == ["recovery-below-100"] * is_ethanol


@pytest.mark.parametrize(
    ("sample", "masses", "named"),
    [
        ("0 g", {"CO2": "1 g"}, "sample"),
        ("98.1 mL", {"CO2": "1 g"}, "sample"),
        ("1 g", {"CO2": "nought"}, "CO2"),
        ("1 g", {"CO3": "1 g"}, "CO3"),
        ("1 g", {}, "collected"),
    ],
)
def test_masses_that_cannot_be_used(sample, masses, named):
    with pytest.raises(QuantityError, match=named):
        composition(sample, masses)


# ------------------------------------------------------------------------------- formula


@pytest.mark.parametrize(
    ("percent", "molar_mass", "empirical", "molecular", "known"),
    [
        ({"C": 24.27, "H": 4.07, "Cl": 71.65}, 98.96, "CH2Cl", "C2H4Cl2", 2),
        ({"C": 59.9, "H": 13.4, "O": 26.7}, "60.1(5) g/mol", "C3H8O", "C3H8O", 3),
        ({"C": 40.0, "H": 6.71, "O": 53.29}, 90.0, "CH2O", "C3H6O3", 7),
    ],
)
def test_formulas(percent, molar_mass, empirical, molecular, known):
    found = formulas(percent, molar_mass)
    assert found.empirical[0].formula == empirical
    assert found.molecular[0].formula.formula == molecular
    assert found.molecular[0].known_compounds == known
    assert found.findings == ()
    assert found.nearest == ()
    assert any(step.what == "divided by the smallest" for step in found.work)


def test_without_a_molar_mass_there_is_no_molecular_formula():
    assert formulas({"C": 40.0, "H": 6.71, "O": 53.29}).molecular == ()


@pytest.mark.parametrize("carbon", [5e-324, 1e-300, 1e-9])
def test_next_to_nothing_of_an_element_is_none(carbon):
    found = formulas({"H": 13.4, "C": carbon}, "46.07 g/mol")
    assert {step.what for step in found.work} >= {"moles of H in 100 g", "divided by the smallest"}
    assert "moles of C in 100 g" not in {step.what for step in found.work}
    assert formulas({"C": carbon}).work == ()


def test_a_composition_without_formula_says_so():
    found = formulas({"C": 50.0, "H": 50.0})
    assert found.empirical == ()
    assert [finding.code for finding in found.findings] == ["composition-valence"]
    assert found.work == ()
    assert [one.formula for one in found.nearest] == ["CH4", "CH3", "C3H8"]


@pytest.mark.parametrize(
    ("percent", "molar_mass", "rest"),
    [
        ({"C": 52.1, "H": 13.1}, 46.0, 16.0),  # ethanol without its oxygen: not ethane
        ({"C": 24.27, "H": 4.07}, 99.0, 70.9),  # dichloroethane without its chlorine
        ({"C": 52.1, "H": 13.1, "O": 34.8}, 46.0, 0.0),
    ],
)
def test_what_is_not_named_leaves_the_molecule_open(percent, molar_mass, rest):
    found = formulas(percent, molar_mass)
    first = found.to_dict()["molecular"][0]
    assert first["rest"] == pytest.approx(rest, abs=0.3)
    assert (first["known_compounds"] is None) is (rest > 0.0)
    assert (first["degree_of_unsaturation"] is None) is (rest > 0.0)


def test_what_is_open_has_no_column_and_no_number(capsys):
    command = ["formula", "C=52.1", "H=13.1", "--molar-mass", "46"]
    assert main([*command, "--no-show-work"]) == 0
    page = capsys.readouterr().out
    assert "not named" in page
    assert "unsaturation" not in page
    assert "compounds" not in page
    assert main([*command, "--format", "csv"]) == 0
    header, *rows = (line.split(",") for line in capsys.readouterr().out.splitlines())
    molecular = dict(zip(header, rows[-1], strict=True))
    assert (molecular["kind"], molecular["formula"]) == ("molecular", "C2H6")
    assert molecular["known_compounds"] == molecular["degree_of_unsaturation"] == ""


@pytest.mark.parametrize(
    ("percent", "molar_mass", "molecule", "codes"),
    [
        ({"H": 100.0}, None, "H2", ["element-alone"]),
        ({"O": 100.0}, 32.0, "O2", ["element-alone"]),
        ({"Br": 99.8}, 159.8, "Br2", ["element-alone"]),
        ({"C": 100.0}, None, "C", ["element-alone"]),
        ({"C": 92.26, "H": 7.74}, 78.1, "C6H6", []),
    ],
)
def test_an_element_alone_is_no_compound(percent, molar_mass, molecule, codes):
    found = formulas(percent, molar_mass)
    assert [finding.code for finding in found.findings] == codes
    assert all(f"({molecule})" in finding.message for finding in found.findings)
    if molar_mass is not None:
        assert found.molecular[0].formula.formula == molecule


@pytest.mark.parametrize(
    ("percent", "error", "words"),
    [
        ({}, FormulaError, "no element has a percentage above zero; give at least one"),
        ({"C": 120.0}, QuantityError, 'percent C: "120 %" is above 100; check it'),
        ({"C": "x"}, QuantityError, 'percent C: "x" does not start with a number'),
    ],
)
def test_percentages_that_cannot_be_used(percent, error, words):
    with pytest.raises(error, match=words):
        formulas(percent)


# ------------------------------------------------------------------------------- boiling point


@pytest.mark.parametrize(
    ("given", "expected", "within"),
    [
        ({"observed": "100 C", "at": "760 mmHg"}, 100.0, 1e-9),
        ({"observed": "77.7 C", "at": "742 mmHg", "identity": "ethanol"}, 78.31, 0.05),
        ({"observed": "350.85 K", "at": "98.92 kPa", "identity": "64-17-5"}, 78.31, 0.05),
        ({"observed": 77.7, "at": 742, "liquid": "associated"}, 78.33, 0.02),
        ({"observed": 77.7, "at": 742}, 78.46, 0.02),
        ({"observed": 78.4, "at": 760, "to": "742 mmHg", "identity": "CCO"}, 77.79, 0.05),
    ],
)
def test_boiling_point(given, expected, within):
    found = boiling_point(**given)
    assert found.value_C == pytest.approx(expected, abs=within)
    assert found.standard_uncertainty >= 0.5
    assert found.work[-1].what == "uncertainty"


def test_there_and_back_is_the_same():
    there = boiling_point("60 C", "700 mmHg", identity="acetone")
    back = boiling_point(there.value_C, "760 mmHg", "700 mmHg", identity="acetone")
    assert back.value_C == pytest.approx(60.0, abs=1e-6)


def test_exposed_thread():
    plain = boiling_point("150.0 C", "760 mmHg")
    stem = boiling_point("150.0 C", "760 mmHg", stem=Stem(100.0, 35.0))
    # ASTM E77's example form: 0.00016 x 100 x 115; from memory.
    assert stem.value_C - plain.value_C == pytest.approx(1.84)
    assert boiling_point("150 C", "760 mmHg", stem=Stem(0.0, 35.0)).value_C == pytest.approx(150.0)


@pytest.mark.parametrize("degrees", [-1.0, 551.0, 1e300, float("nan")])
def test_a_thread_that_no_thermometer_has(degrees):
    with pytest.raises(QuantityError, match="give the exposed degrees"):
        boiling_point("150.0 C", "760 mmHg", stem=Stem(degrees, 35.0))


@pytest.mark.parametrize("name", ["2-propanol", "isopropyl alcohol", "IPA", "67-63-0", "CC(C)O"])
def test_a_compound_by_any_of_its_names(name):
    found = boiling_point("60 C", "740 mmHg", identity=name)
    assert found.method == "vapor-pressure curve of isopropanol"


@pytest.mark.parametrize("name", ["bottle seven", "C4H8O"])
def test_a_name_that_means_none_or_several(name):
    with pytest.raises(NameFault, match=f'as: "{name}"'):
        boiling_point("60 C", "740 mmHg", identity=name)


def test_a_stated_uncertainty_counts():
    found = boiling_point("77.7 ± 0.1 C", "742.0 ± 0.1 mmHg", identity="ethanol")
    assert found.standard_uncertainty == pytest.approx(0.105, abs=0.01)


@pytest.mark.parametrize(
    ("given", "named"),
    [
        ({"observed": "78 g", "at": "742 mmHg"}, "observed"),
        ({"observed": "78 C", "at": "0 mmHg"}, "at"),
        ({"observed": "78 C", "at": "742 mmHg", "to": "x"}, "to"),
        ({"observed": "78 C", "at": "742 mmHg", "liquid": "wet"}, "liquid"),
        ({"observed": "78 C", "at": "742 mmHg", "stem": Stem(-1.0, 20.0)}, "stem"),
        ({"observed": "78 C", "at": "742 mmHg", "stem": Stem(1.0, 20.0, "jelly")}, "stem"),
    ],
)
def test_boiling_points_that_cannot_be_used(given, named):
    with pytest.raises(QuantityError, match=named):
        boiling_point(**given)


# ------------------------------------------------------------------------------- everywhere


def test_the_public_face_has_them():
    assert identify.composition is composition
    assert identify.formulas is formulas
    assert identify.boiling_point is boiling_point


@pytest.mark.parametrize(
    ("value", "uncertainty", "text"),
    [
        (52.1432, 0.1321, "52.14 ± 0.13"),
        (52.1432, 0.6, "52.1 ± 0.6"),
        (1234.0, 45.0, "1234 ± 45"),
        (5.0, 0.0, "5"),
    ],
)
def test_digits_are_those_that_the_uncertainty_justifies(value, uncertainty, text):
    assert to_uncertainty(value, uncertainty) == text


@pytest.mark.parametrize(
    ("value", "expanded", "text"),
    [
        (33.04, 3.3, "33.0 ± 3.3"),
        (52.143, 0.45, "52.14 ± 0.45"),
        (52.143, 0.0996, "52.14 ± 0.10"),
        (39.67, 21.4, "40 ± 21"),
        (709.7, 123.4, "710 ± 123"),
        (5.0, 0.0, "5"),
    ],
)
def test_an_expanded_uncertainty_has_two_digits(value, expanded, text):
    assert with_expanded(value, expanded) == text


COMMANDS = [
    ["composition", "--sample", "0.4310 g", "--co2", "0.8235 g", "--h2o", "0.5057 g"],
    ["formula", "C=59.9", "H=13.4", "O=26.7", "--molar-mass", "60.1"],
    ["boiling-point", "--observed", "77.7 C", "--at", "742 mmHg", "--as", "ethanol"],
]


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command[0])
def test_commands(command, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    assert main(command) == 0
    page = capsys.readouterr().out
    assert "Working" in page
    assert max(map(len, page.splitlines())) <= 80
    assert main([*command, "--no-show-work"]) == 0
    assert "Working" not in capsys.readouterr().out
    assert main([*command, "--format", "json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["work"]
    assert set(data["work"][0]) == {"what", "formula", "numbers", "result"}
    assert main([*command, "--format", "csv"]) == 0
    header, first, *_ = capsys.readouterr().out.splitlines()
    assert len(header.split(",")) > 1
    assert first


def test_json_keeps_its_contracts(capsys):
    kept = {
        "composition": {"percent", "findings"},
        "formula": {"empirical", "molecular", "findings"},
        "boiling-point": {"value_C", "pressure", "standard_uncertainty", "method"},
    }
    for command in COMMANDS:
        main([*command, "--format", "json"])
        assert kept[command[0]] <= set(json.loads(capsys.readouterr().out))


@pytest.mark.parametrize(
    ("command", "named"),
    [
        (["composition"], "--sample"),
        (["composition", "--sample", "1 g"], "--co2"),
        (["composition", "--sample", "x", "--co2", "1"], "sample"),
        (["composition", "--sample", "-1", "--co2", "1"], "sample"),
        (["formula"], "percentages"),
        (["formula", "C=x"], "C"),
        (["formula", "Xx=5"], "Xx"),
        (["formula", "C=50", "C=50"], "C"),
        (["formula", "C=50", "--tolerance", "-1"], "tolerance"),
        (["formula", "C=50", "--molar-mass", "zero"], "molar_mass"),
        (["formula", "C=50", "--candidates", "no such.csv"], "no such.csv"),
        (["boiling-point"], "--observed"),
        (["boiling-point", "--observed", "78 C"], "--at"),
        (["boiling-point", "--observed", "78 g", "--at", "742"], "observed"),
        (["boiling-point", "--observed", "78", "--at", "742", "--as", "x" * 1000], "as"),
        (["boiling-point", "--observed", "78", "--at", "742", "--exposed", "5"], "--stem"),
        (["boiling-point", "--observed", "78", "--at", "742", "--liquid", "wet"], "liquid"),
    ],
)
def test_what_cannot_be_used_is_named_in_one_line(command, named, capsys):
    assert main(command) == 2
    page = capsys.readouterr()
    assert page.out == ""
    assert len(page.err.splitlines()) == 1
    assert named in page.err
