"""How readings are taken apart: sums, last digits, and what is left of the text."""

from __future__ import annotations

import pytest

from identify.notebook.quantity.notation import addends, take_apart
from identify.notebook.quantity.quantities import Quantity, read_quantity


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("100.0", ["100.0"]),
        ("+100.0", ["+100.0"]),
        ("100.0+83.6 mL", ["100.0", "83.6 mL"]),
        ("100.0 + 83.6 + ", ["100.0", "83.6", ""]),
        ("100.0 ± 0.5 + 83.6 +/- 0.5", ["100.0 ± 0.5", "83.6 +/- 0.5"]),
        ("100.0 + / - 0.5 + 83.6 +-0.5", ["100.0 + / - 0.5", "83.6 +-0.5"]),
        ("1e+2+1.E+2+1.0(2)e+2", ["1e+2", "1.E+2", "1.0(2)e+2"]),
        ("100 millilitre+83.6", ["100 millilitre", "83.6"]),
        ("(100.0+83.6) mL", ["100.0", "83.6 mL"]),
        ("(100.0 +/- 0.5) mL", ["(100.0 +/- 0.5) mL"]),
        ("(100.0 ± 0.5) mL + (83.6 ± 0.5) mL", ["(100.0 ± 0.5) mL", "(83.6 ± 0.5) mL"]),
    ],
)
def test_only_a_sign_between_fills_adds(text, parts):
    assert addends(text) == parts


@pytest.mark.parametrize(
    ("text", "number", "unit", "of_uncertainty", "relative"),
    [
        ("742", (742.0, None), "", "", False),
        ("742.0(5) mm Hg", (742.0, 0.5), "mm Hg", "", False),
        ("742 ± 1 kPa", (742.0, 1.0), "kPa", "kPa", False),
        ("742 kPa ± 1 hPa", (742.0, 1.0), "kPa", "hPa", False),
        ("(742 ± 1) kPa", (742.0, 1.0), "kPa", "", False),
        ("742 kPa ± 1 %", (742.0, 1.0), "kPa", "%", True),
        ("742 ± 1 %", (742.0, 1.0), "", "%", True),
    ],
)
def test_taken_apart(text, number, unit, of_uncertainty, relative):
    assert take_apart(text, "pressure") == (number, unit, of_uncertainty, relative)


@pytest.mark.parametrize(
    ("quantity", "digit"),
    [
        (read_quantity("98.1132 g", "mass"), 1e-4),
        (read_quantity("98,110(3) g", "mass"), 1e-3),
        (read_quantity("98 g", "mass"), 1.0),
        (read_quantity("-5.0 C", "temperature"), 0.1),
        (read_quantity(".5 g", "mass"), 0.1),
        (read_quantity("1.00e5 Pa", "pressure"), 1e3),
        (read_quantity("1.00 × 10⁵ Pa", "pressure"), 1e3),
        (read_quantity("1e-3 kg", "mass"), 1e-3),
        (read_quantity(98.11, "mass", "g"), 0.01),
        (read_quantity(1e-5, "mass", "g"), 1e-5),
        (Quantity(98.113, "g"), 1e-3),
        (Quantity(98.0, "g", text="heavy"), 1.0),
        (Quantity(98.25, "g", text="heavy + light", fills=2), 1.0),  # no sum that can be read
        (Quantity(98.25, "g", fills=2), 0.01),
    ],
)
def test_last_digit(quantity, digit):
    assert quantity.last_digit == digit
