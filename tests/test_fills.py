"""Volumes measured out in several fills: every way to write the sum, and to get it wrong."""

from __future__ import annotations

import math
import time

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.checks import check
from identify.notebook.fields import read_fills
from identify.notebook.measurement import Flask, Measurement
from identify.notebook.quantity.quantities import MOST_FILLS, Quantity, QuantityError, read_quantity

U = 0.5 * math.sqrt(2)  # of two fills with 0.5 mL each


def read(written: object, unit: str = "mL") -> Quantity:
    return read_fills(written, "volume", unit)


@pytest.mark.parametrize(
    ("written", "shown", "fills", "digit"),
    [
        ("283.6 mL", "283.6 mL", 1, 0.1),
        (283.6, "283.6 mL", 1, 0.1),
        ("+283.6", "283.6 mL", 1, 0.1),
        (["283.60 mL"], "283.60 mL", 1, 0.01),
        ("100.0 + 100.0 + 83.6 mL", "283.6 mL", 3, 0.1),
        ("100.0+100.0+83.6mL", "283.6 mL", 3, 0.1),
        ("100.0 + 100.0 + 83.6", "283.6 mL", 3, 0.1),
        ("100,0 + 100,0 + 83,6 mL", "283.6 mL", 3, 0.1),
        ("100.0 mL + 100.0 mL + 83.6 mL", "283.6 mL", 3, 0.1),
        ("(100.0 + 100.0 + 83.6) mL", "283.6 mL", 3, 0.1),
        ("100.0 mL\n+ 83.6 mL", "183.6 mL", 2, 0.1),
        ("100.0＋83.6 mL", "183.6 mL", 2, 0.1),
        ("+100.0 + 83.6", "183.6 mL", 2, 0.1),
        # What is taken away stands behind a minus sign between blanks.
        ("183.6 - 100.0 mL", "83.6 mL", 2, 0.1),
        ("183.6 mL − 100.0 mL", "83.6 mL", 2, 0.1),
        ("(183.6 – 100.0) mL", "83.6 mL", 2, 0.1),
        ("100.0 + 90.00 - 6.4 - 0.1 mL", "183.50 mL", 4, 0.01),
        # The finest fill tells how finely the cylinder was read: zeros at the end get lost.
        ("100 + 83.0", "183.0 mL", 2, 0.1),
        ("100.00 + 50", "150.00 mL", 2, 0.01),
        ("0.1 + 0.2", "0.3 mL", 2, 0.1),
        # A plus sign of an exponent adds nothing.
        ("1e+2 + 8.36e+1 mL", "183.6 mL", 2, 0.1),
        # In the unit of the first.
        ("0.1 L + 83.6 mL", "0.1836 L", 2, 1e-4),
        ("83.6 mL + 0.10 L", "183.6 mL", 2, 0.1),
        ("0.1 + 0.1 + 0.0836 L", "0.2836 L", 3, 1e-4),
        ("100 cm³ + 83.6 cm³", "183.6 cm3", 2, 0.1),
        ([100.0, "100.0 mL", 83.6], "283.6 mL", 3, 0.1),
        ((100, 100, "83,6"), "283.6 mL", 3, 0.1),
        (["100.0 + 100.0 mL", "83.6"], "283.6 mL", 3, 0.1),
        ([Quantity(0.1, "L"), "83.6 mL"], "0.1836 L", 2, 1e-4),
        ([Quantity(200.0, "mL", fills=2), 83.6], "283.6 mL", 3, 0.1),
        (np.array([100.0, 83.6]), "183.6 mL", 2, 0.1),
        (pd.Series([100.0, 83.6]), "183.6 mL", 2, 0.1),
        (np.float64(83.6), "83.6 mL", 1, 0.1),
        ("+".join(["25.0"] * 40), "1000.0 mL", 40, 0.1),
    ],
)
def test_adds_up(written, shown, fills, digit):
    volume = read(written)
    assert (str(volume), volume.fills, volume.uncertainty) == (shown, fills, None)
    assert volume.last_digit == pytest.approx(digit)
    assert volume.to("L").fills == fills
    assert volume.to("L").value == pytest.approx(volume.to("m3").value * 1000.0)


@pytest.mark.parametrize(
    ("written", "value", "uncertainty"),
    [
        ("100.0(5) + 83.6(5) mL", 183.6, U),
        ("100.0 ± 0.5 + 83.6 ± 0.5 mL", 183.6, U),
        ("100.0 ± 0.5 mL + 83.6 ± 0.5 mL", 183.6, U),
        ("100.0 +/- 0.5 + 83.6 +- 0.5 mL", 183.6, U),
        ("100.0 + / - 0.5+83.6 +/-0.5 mL", 183.6, U),
        ("(100.0 ± 0.5) mL + (83.6 +/- 0.5) mL", 183.6, U),
        ("1.000(5)e+2 mL + 83.6(5) mL", 183.6, U),
        ("100.0 mL ± 1 % + 80.0 mL ± 1 %", 180.0, math.hypot(1.0, 0.8)),
        ("100.0 mL ± 0.5 mL + 0.0836 L ± 0.0005 L", 183.6, U),
        (["100.0(5) mL", "83.6(5) mL"], 183.6, U),
        ([Quantity(100.0, "mL", 0.5), Quantity(0.0836, "L", 0.0005)], 183.6, U),
        ("100.0(3) + 100.0(4) + 83.6(12) mL", 283.6, 1.3),
        ("183.6(5) - 100.0(5) mL", 83.6, U),
    ],
)
def test_stated_uncertainties_add_in_squares(written, value, uncertainty):
    volume = read(written)
    assert volume.value == pytest.approx(value, rel=1e-12)
    assert volume.uncertainty == pytest.approx(uncertainty)


@pytest.mark.parametrize(
    ("written", "text"),
    [
        (" 100.0 + 83.6 mL ", "100.0 + 83.6 mL"),
        ("100.0 mL\n+ 83.6 mL", "100.0 mL + 83.6 mL"),  # on one line
        (["100.0(5) mL", "83.6(5)"], "100.0(5) mL + 83.6(5)"),
        ([100.0, Quantity(83.6, "mL", text="83.6")], "100 + 83.6 mL"),
    ],
)
def test_text_is_as_written(written, text):
    assert read(written).text == text


def test_column_of_another_unit():
    assert str(read("0.1000 + 0.0836", "L")) == "0.1836 L"
    assert str(read("100.0 + 83.6 mL", "L")) == "183.6 mL"


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("", "is empty"),
        (None, "is empty"),
        ([], "holds no fill"),
        ("+", "does not start with a number"),
        ("100.0 +", '"100.0 +" has nothing for fill 2; write each fill, as in 100.0 + 83.6 mL'),
        ("100.0 ++ 83.6 mL", "has nothing for fill 2"),
        (["", "83.6"], "has nothing for fill 1"),
        ([100.0, None], "fill 2 is empty"),
        ("100.0 + hot", '"hot" (fill 2) does not start with a number; write it like 287.4 mL'),
        ("hot + 83.6 mL", '"hot" (fill 1) does not start'),
        ("100.0 + 83.6 g", '"83.6 g" (fill 2) is a mass, not a volume'),
        ("100.0 g + 83.6 mL", '"100.0 g" (fill 1) is a mass'),
        ("100.0 + 83.6 xyzzy", '(fill 2) has "xyzzy" where its unit should be'),
        ("100.0 + -83.6 mL", "(fill 2) is negative, which no volume is"),
        ("100.0 + 0.0 mL", '"0.0 mL" (fill 2) is zero'),
        ("100.0 + nan", "(fill 2) is not a number"),
        ("100.0 + 1e30 mL", "(fill 2) would be 1e+30 mL, above any volume"),
        ("1 2 + 83.6", '"1 2" (fill 1) holds more than one number'),
        ("1,234.5 + 83.6", "(fill 1) can be read two ways"),
        ("83.6 - 100.0", '"83.6 - 100.0" is negative, which no volume is'),
        ("100.0-83.6", "holds more than one number"),  # a range, as likely
        ("=100.0+83.6", '"=100.0+83.6" is a formula that was never worked out'),
        ("100.0 + 83²", 'holds "²", which is not a plain digit'),
        ("900 L + 900 L", '"900 L + 900 L" would be 1800 L, above any volume'),
        ("100.0 + 83.6 ± 0.5 mL", "none for fill 1; state it for each fill, as in 100.0(5) + 8"),
        ("(100.0 + 83.6) ± 0.5 mL", "none for fill 1"),
        ("100.0(5) + 83.6 mL", "none for fill 2; state it for each fill"),
        ([Quantity(100.0, "mL", 0.5), 83.6], "none for fill 2"),
        ("100.0 + 83.6 ± 0 mL", "(fill 2) has an uncertainty that is not above zero"),
        ("100.0 ± 1 ± 1 + 83.6", "(fill 1) gives its uncertainty twice"),
        # Which unit is meant cannot be told.
        ("0.1 L + 83.6", "has no unit for fill 2, where others are in L; write the unit of each"),
        ("0.1 L + 100.0 + 83.6 mL", "has no unit for fill 2, where others are in L and mL"),
        ([0.1, "0.0836 L"], "has no unit for fill 1"),
        ("+".join(["5.0"] * 41), "has 41 fills; use a larger cylinder (40 fills at most)"),
        ([5.0] * 41, "has 41 fills"),
        ([Quantity(5.0, "mL", fills=40), 5.0], "has 41 fills"),
        ([100.0, [83.6]], '"[83.6]" (fill 2) is not a number'),
        ([100.0, True], '"True" (fill 2) is not a number'),
        ([100.0, math.nan], "(fill 2) is not a finite number"),
        ({100.0, 83.6}, "is not a number"),
        ({"first": 100.0}, "is not a number"),
        ("7" * 300 + " + 83.6", "is 300 characters long"),
        ("7 +" * 1_000_000, "is 3000000 characters long"),
        (["1.00000 ± 0.00005 milliliters"] * 40, "characters long"),
    ],
)
def test_refuses_in_plain_words(written, words):
    with pytest.raises(QuantityError) as caught:
        read(written)
    assert words in str(caught.value)
    assert str(caught.value).isprintable()
    assert len(caught.value.read) <= 40


def test_a_million_fills_are_answered_at_once():
    began = time.process_time()
    with pytest.raises(QuantityError, match="has 1000000 fills"):
        read([5.0] * 1_000_000)
    assert time.process_time() - began < 1.0


@pytest.mark.parametrize(
    ("flask", "code", "words"),
    [
        (Flask(water_volume="100.0 + 100.0 + 83.6 mL"), None, ""),
        (Flask(water_volume="100.0 + 99.9 + 50.2 mL"), None, ""),
        (Flask(water_volume="100.0 + 99.9 + 50.1 mL"), "volume-nominal", "250.0 mL, is exactly"),
        (Flask(water_volume="1.0 + 2.6 mL"), "volume-implausible", "is written as 3.6 mL;"),
        (Flask(water_volume="0.1 + 0.1836"), "volume-unit", "is written as 0.2836 mL;"),
        (Flask("143.7 mL", water_volume="100.0 + 43.6 mL"), None, ""),
        (Flask("143.7 mL", water_volume="100.0 + 53.6 mL"), "volumes-disagree", "as 153.6 mL."),
        (Flask("143.7 mL", "143.3 g", water_volume="100.0 + 43.6 mL"), None, ""),
        # The fills agree with the volume, the mass does not.
        (Flask("143.7 mL", "120.0 g", water_volume="100 + 43.6"), "volumes-disagree", "as 120.0 g"),
    ],
)
def test_checks_look_at_the_sum(flask, code, words):
    found = check(Measurement("C-14", flask=flask))
    assert [finding.code for finding in found] == ([] if code is None else [code])
    assert all(words in finding.message for finding in found)


# Tenths of a milliliter, as a cylinder of 100 mL is read.
tenths = st.lists(st.integers(1, 2500), min_size=1, max_size=MOST_FILLS)
plus = st.sampled_from(["+", " + ", " +", "+ ", "\n+ "])


@given(tenths, plus, st.sampled_from(["", " mL", "mL"]), st.booleans())
def test_sum_of_fills_reads_back(numbers, sign, unit, comma):
    text = sign.join(f"{number / 10:.1f}" for number in numbers) + unit
    volume = read(text.replace(".", ",") if comma else text)
    assert volume.value == sum(numbers) / 10  # to the last bit
    assert volume.fills == len(numbers)
    assert volume.last_digit == 0.1
    assert str(volume) == f"{sum(numbers) / 10:.1f} mL"
    again = read_quantity(str(volume), "volume")
    assert (again.value, again.unit) == (volume.value, volume.unit)
    assert read([f"{number / 10:.1f} mL" for number in numbers]) == volume


@given(tenths, st.data())
def test_order_and_unit_of_the_fills_change_nothing(numbers, data):
    units = data.draw(st.lists(st.sampled_from(["mL", "L", "cm3", "uL"]), min_size=len(numbers)))
    fills = [
        Quantity(number / 10, "mL", 0.5).to(unit)
        for number, unit in zip(numbers, units, strict=False)
    ]
    volume = read(data.draw(st.permutations(fills))).to("mL")
    assert volume.value == pytest.approx(sum(numbers) / 10, rel=1e-12)
    assert volume.uncertainty == pytest.approx(0.5 * math.sqrt(len(numbers)))
    assert volume.fills == len(numbers)


@given(st.text(max_size=60) | st.from_regex(r"([0-9.,±+/(]{0,5} ?(mL|L|g)? ?\+ ?){0,3}[0-9]{0,3}"))
def test_any_text_reads_or_is_refused(text: str):
    try:
        volume = read(text)
    except QuantityError as error:
        refusal = error
    else:
        assert volume.fills == 1 or volume.text.isprintable()
        assert 0.0 < volume.to("m3").value <= 1.0
        assert 1 <= volume.fills <= MOST_FILLS
        assert volume.last_digit > 0.0
        return
    assert str(refusal).isprintable()
    assert len(refusal.read) <= 40
