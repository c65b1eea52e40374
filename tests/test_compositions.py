"""A composition in each way that people write it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.notebook.composition.percentages import ELEMENT_OF, split_composition
from identify.notebook.measurement import Combustion, Measurement
from identify.notebook.quantity.quantities import QuantityError
from identify.physics.constants import ELEMENTS


@pytest.mark.parametrize(
    ("text", "percent"),
    [
        *[
            (text, {"C": 85.63, "H": 14.37})
            for text in (
                "C=85.63 H=14.37",
                "C 85.63 H 14.37",
                "C: 85.63, H: 14.37",
                "C = 85,63; H = 14,37",
                "C 85.63 %, H 14.37 %",
                "85.63% C 14.37% H",
                "85.63 % C, 14.37 % H",
                "%C 85.63 %H 14.37",
                "% C = 85.63, % H = 14.37",
                "85,63 % C and 14,37 % H",
                "85.63% carbon, 14.37% hydrogen",
                "85.63 % C by mass, 14.37 % H by mass",
                "Carbon: 85.63 percent; Hydrogen: 14.37 percent",
                "carbon is 85.63 % and hydrogen is 14.37 %",
                "{ C: 85.63, H: 14.37 }",
                "C85.63H14.37",
                "c (85.63 %) h (14.37 %)",
            )
        ],
        ("92.3% C", {"C": 92.3}),
        ("64.8 % C, 13.6 % H, the rest is oxygen", {"C": 64.8, "H": 13.6, "O": 21.6}),
        ("C 64.82 H 13.6 balance O", {"C": 64.82, "H": 13.6, "O": 21.58}),
        ("40,0 % C, 6,7 % H and oxygen by difference", {"C": 40.0, "H": 6.7, "O": 53.3}),
        ("carbon 92.3", {"C": 92.3}),
        ("C: 85.63", {"C": 85.63}),
        ("10.1 % C, 89.1 % Cl", {"C": 10.1, "Cl": 89.1}),
        ("sulphur 5e1", {"S": 50.0}),
    ],
)
def test_a_composition_in_one_text(text, percent):
    run = Measurement("C-14", percent=text)
    assert {element: read.value for element, read in run.percent.items()} == percent


@given(
    st.dictionaries(st.sampled_from(ELEMENTS), st.integers(1, 9999), min_size=1),
    st.sampled_from(["{e}{is_}{n}{p}", "{n}{p} {e}"]),
    st.sampled_from([" ", "=", ": ", " = "]),
    st.sampled_from(["", "%", " %"]),
    st.sampled_from([" ", ", ", "; ", " and "]),
)
def test_any_way_to_write_it_reads_the_same(hundredths, form, is_, percent_sign, between):
    pairs = {element: f"{number / 100:.2f}" for element, number in hundredths.items()}
    text = between.join(
        form.format(e=element, is_=is_, n=number, p=percent_sign)
        for element, number in pairs.items()
    )
    read = {element: number.strip(" %") for element, number in split_composition(text)}
    assert read == pairs


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("52.1", "is not an element and its percent"),
        ("ash 3", "is not an element and its percent"),
        ("C6H6", "is a formula"),
        ("C", "empty"),
        ("C=", "empty"),
        ("Xx 3", "not an element known here"),
        ("C 3, c 4", "twice"),
        ("C 52.1 13.1 H", "more than one number"),
        ("C -3", "negative"),
        ("52.1 % C, 13.1", "is not an element and its percent"),
        ("", "is empty"),
    ],
)
def test_what_is_no_composition(text, words):
    with pytest.raises(QuantityError, match=words):
        Measurement("C-14", percent=text)


def test_every_element_has_a_name():
    assert set(ELEMENT_OF.values()) == set(ELEMENTS)


BURNED = Combustion("0.4310 g", "0.8235 g", "0.5057 g")


@pytest.mark.parametrize(
    ("written", "percent"),
    [
        ({"formula": "C2H6O"}, {"C": 52.143, "H": 13.128, "O": 34.728}),
        ({"formula": "CH3 CH2 OH"}, {"C": 52.143, "H": 13.128, "O": 34.728}),
        ({"formula": "C₂H₅OH"}, {"C": 52.143, "H": 13.128, "O": 34.728}),
        ({"combustion": BURNED}, {"C": 52.146, "H": 13.130, "O": 34.723}),
        ({"combustion": BURNED, "formula": "C6H6"}, {"C": 52.146, "H": 13.130, "O": 34.723}),
        ({"percent": {"C": 52.1}, "combustion": BURNED, "formula": "C6H6"}, {"C": 52.1}),
        ({"combustion": Combustion(co2=0.8)}, {}),
        ({"combustion": Combustion(0.4310, "0.8235 g")}, {"C": 52.146}),
        # Of hexane: what is left is no more than a combustion's errors.
        ({"combustion": Combustion(0.1, 0.3062, 0.1460)}, {"C": 83.569, "H": 16.338}),
        ({}, {}),
    ],
)
def test_what_a_composition_follows_from(written, percent):
    run = Measurement("C-14", **written)
    found = {element: round(read.value, 3) for element, read in run.percent.items()}
    assert found == pytest.approx(percent, abs=0.0011)
    assert replace(run, label="C-15").percent == run.percent


def test_percentages_of_a_combustion_are_no_surer_than_combustions_are():
    assert Measurement("C-14", combustion=BURNED).percent["C"].uncertainty is None
    coarse = Measurement("C-14", combustion=Combustion("0.43(1) g", "0.82(1) g", "0.51(1) g"))
    carbon = 100.0 * 0.272921 * 0.82 / 0.43
    assert coarse.percent["C"].uncertainty == pytest.approx(
        carbon * math.hypot(0.01 / 0.82, 0.01 / 0.43), rel=0.01
    )


@pytest.mark.parametrize(
    ("written", "molar_mass"),
    [
        (37, "74.592 g/mol"),
        ("37 (H2 = 1)", "74.592 g/mol"),
        ("about 37", "74.6 ± 1.5 g/mol"),
        ("2.55 (air)", "73.861923 g/mol"),
        ("2.55 relative to air", "73.861923 g/mol"),
        ("2.55 (air = 1)", "73.861923 g/mol"),
    ],
)
def test_a_vapor_density_tells_the_molar_mass(written, molar_mass):
    run = Measurement("C-14", vapor_density=written)
    assert str(run.molar_mass) == molar_mass
    assert run.without_molar_mass().molar_mass is None
    assert str(Measurement("C-14", molar_mass=46, vapor_density=written).molar_mass) == "46 g/mol"


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ({"formula": "C2H6Q"}, "formula: .*which is not an element known here"),
        ({"formula": "ethanol"}, "formula: .*where an element should be"),
        ({"vapor_density": "2.43 g/L"}, "vapor_density: .*is a density, not a vapor density"),
        ({"vapor_density": 0.1}, "below any vapor density"),
        ({"boiling_point_by": "Robin"}, "boiling_point_by: .*write own where the student read it"),
        ({"molar_mass_by": "guess"}, "molar_mass_by: .*write ideal gas"),
    ],
)
def test_what_stands_in_their_place_and_cannot_be_read(written, words):
    with pytest.raises(QuantityError, match=words):
        Measurement("C-14", **written)


def test_a_sample_has_a_mass():
    with pytest.raises(QuantityError, match=r"sample: .*has no mass"):
        Combustion(sample=0, co2=1)
