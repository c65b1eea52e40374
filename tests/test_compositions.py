"""A composition in each way that people write it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.notebook.composition.percentages import ELEMENT_OF, split_composition
from identify.notebook.measurement import Measurement
from identify.notebook.quantities import QuantityError
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
