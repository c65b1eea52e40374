"""Formulas: reading and writing, molar mass, percent composition, and the valence rule."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify import load_candidates
from identify.chemistry.formula import (
    ATOMIC_WEIGHTS,
    FormulaError,
    degree_of_unsaturation,
    hill_formula,
    molar_mass,
    obeys_valence,
    parse_formula,
    percent_composition,
)
from identify.chemistry.formula.rules import molecule_mask
from identify.physics.constants import ELEMENTS

ATOMS = st.dictionaries(st.sampled_from(ELEMENTS), st.integers(1, 60), min_size=1)


@pytest.fixture(scope="module")
def real_formulas() -> list[str]:
    """Distinct formulas of the built-in table."""
    return sorted(set(load_candidates().text("formula")))


# ------------------------------------------------------------------------- reading and writing


@pytest.mark.parametrize(
    ("written", "hill"),
    [
        ("C2H6O", "C2H6O"),
        ("CH3CH2OH", "C2H6O"),
        ("CH3(CH2)2OH", "C3H8O"),
        ("C(CH3)3OH", "C4H10O"),
        ("[Si(CH3)3]2O", "C6H18OSi2"),
        ("((CH3)2N)2CH2", "C5H14N2"),
        ("C₂H₄Cl₂", "C2H4Cl2"),
        ("  CH2Cl2 ", "CH2Cl2"),
        ("ClCH2CH2Cl", "C2H4Cl2"),
        ("OH2", "H2O"),
        ("NH3", "H3N"),
        ("BrF3C", "CBrF3"),
        ("SiH4", "H4Si"),
        ("C1H4", "CH4"),
        ("HCl", "ClH"),
        ("CCl4", "CCl4"),
        ("BI3", "BI3"),
    ],
)
def test_a_formula_is_read(written, hill):
    assert hill_formula(parse_formula(written)) == hill


def test_the_order_is_that_of_the_elements():
    assert list(parse_formula("BSiIBrClFPSONHC")) == list(ELEMENTS)


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("", "is not a formula"),
        ("   ", "is not a formula"),
        ("C" * 201, "is not a formula"),
        ("c2h6o", '"c" where an element should be'),
        ("C2H6O.H2O", '"." where an element should be'),
        ("2C", '"2" where an element should be'),
        ("C2H6+", '"+" where an element should be'),
        ("C-H", '"-" where an element should be'),
        ("C 2", "has a space where an element should be"),
        ("NaCl", "has Na, which is not an element known here; there are C, H, N"),
        ("CD4", "has D, which"),
        ("C2Hx", "has Hx, which"),
        ("CH3(CH2", "opens a bracket that is not closed"),
        ("CH3)2", "closes a bracket that was not opened"),
        ("()", "has no element in it"),
        ("()2", "has no element in it"),
        ("C0H4", "has 0 atoms"),
        ("C99999", "has 99999 atoms"),
        ("C12345678", "has 123456 atoms"),
        ("(C9999)2", "more than 9999 atoms"),
        ("C9999C1", "more than 9999 atoms"),
        ("C2\nH6", '"C2 H6" has a space where'),
    ],
)
def test_a_bad_formula_is_refused_in_one_line(written, says):
    for function in (parse_formula, molar_mass, percent_composition, degree_of_unsaturation):
        with pytest.raises(FormulaError) as caught:
            function(written)
        text = str(caught.value)
        assert says in text
        assert len(text) < 300
        assert "\n" not in text


@given(ATOMS)
def test_a_formula_survives_writing_and_reading(atoms):
    written = hill_formula(atoms)
    assert parse_formula(written) == {e: atoms[e] for e in ELEMENTS if e in atoms}
    assert hill_formula(parse_formula(written)) == written


@given(st.text(alphabet="CHNOSPFIBrlSi()[]0123456789 ₂.-+x\n\r\u2028", max_size=30))
def test_any_text_is_read_or_refused(text):
    try:
        counts = parse_formula(text)
    except FormulaError:
        with pytest.raises(FormulaError) as caught:
            parse_formula(text)
        assert len(str(caught.value).splitlines()) == 1
        return
    assert counts
    assert all(number >= 1 for number in counts.values())
    assert parse_formula(hill_formula(counts)) == counts


# ------------------------------------------------------------- molar mass, composition, valence


@pytest.mark.parametrize(
    # Sums of the weights of `ATOMIC_WEIGHTS`, by hand.
    ("formula", "expected"),
    [
        ("CH4O", 32.042),
        ("C2H6O", 46.069),
        ("C6H14", 86.178),
        ("C2H4Cl2", 98.954),
        ("CHCl3", 119.369),
        ("C2H3N", 41.053),
        ("C4H8S", 88.168),
        ("CH3I", 141.93947),
        ("C4H12Si", 88.225),
    ],
)
def test_molar_mass(formula, expected):
    assert molar_mass(formula) == pytest.approx(expected, abs=1e-9)
    assert molar_mass(parse_formula(formula)) == molar_mass(formula)


@pytest.mark.parametrize(
    ("formula", "percent"),
    [
        ("CH4O", {"C": 37.48, "H": 12.58, "O": 49.93}),
        ("C3H6O", {"C": 62.04, "H": 10.41, "O": 27.55}),
        ("CHCl3", {"C": 10.06, "H": 0.84, "Cl": 89.09}),
        ("C6H6", {"C": 92.26, "H": 7.74}),
        ("BF3", {"F": 84.06, "B": 15.94}),
    ],
)
def test_percent_composition(formula, percent):
    found = percent_composition(formula)
    assert list(found) == list(percent)
    assert found == pytest.approx(percent, abs=0.006)


@given(ATOMS)
def test_percentages_add_up_to_one_hundred(atoms):
    percent = percent_composition(atoms)
    assert sum(percent.values()) == pytest.approx(100.0, abs=1e-9)
    total = molar_mass(atoms)
    for element, number in atoms.items():
        assert percent[element] * total == pytest.approx(100.0 * number * ATOMIC_WEIGHTS[element])


@pytest.mark.parametrize(
    ("formula", "rings_and_bonds", "possible"),
    [
        ("CH4", 0, True),
        ("C2H4", 1, True),
        ("C2H2", 2, True),
        ("C6H6", 4, True),
        ("C2H6O", 0, True),
        ("C2H4Cl2", 0, True),
        ("C2H3N", 2, True),
        ("CHN", 2, True),
        ("C3H9N", 0, True),
        ("C3H9P", 0, True),
        ("C3H9BO3", 0, True),
        ("C4H12Si", 0, True),
        ("C2H6S", 0, True),
        ("CCl4", 0, True),
        # More bonds than usual: to sulfur, phosphorus, iodine; boron's adducts.
        ("CF8S", -2, True),
        ("F5P", -1, True),
        ("F6S", -2, True),
        ("Cl3I", -1, True),
        ("B2H6", -1, True),
        ("C2H9BS", -1, True),
        ("C2H10BN", -1, True),
        ("C2H12BN", -2, False),
        ("C3H9B", 0, True),
        ("C3H11B", -1, False),
        ("H6P2", -1, False),
        ("H5P", -1, False),
        # One hydrogen too many or too few; too many by two.
        ("C2H5O", 0.5, False),
        ("C2H7O", -0.5, False),
        ("C2H8O", -1, False),
        ("CH2Cl", 0.5, False),
        ("C4H9", 0.5, False),
        ("C2H4NO", 1.5, False),
        ("CH5", -0.5, False),
        ("CH6", -1, False),
        ("C2H6Cl2", -1, False),
        ("H8S", -3, False),
    ],
)
def test_valence(formula, rings_and_bonds, possible):
    assert degree_of_unsaturation(formula) == rings_and_bonds
    assert obeys_valence(formula) is possible


def test_no_real_molecule_is_refused(real_formulas):
    assert len(real_formulas) > 3000
    assert [formula for formula in real_formulas if not obeys_valence(formula)] == []


def test_a_hydrogen_more_or_less_is_always_refused(real_formulas):
    for formula in real_formulas:
        counts = parse_formula(formula)
        for change in (-1, 1):
            other = {**counts, "H": counts.get("H", 0) + change}
            if other["H"] >= 0:
                assert not obeys_valence(other), formula


def test_two_hydrogens_too_many_are_refused_where_carbon_and_oxygen_are_full():
    for carbon in range(1, 12):
        for oxygen in range(4):
            full = 2 * carbon + 2
            assert obeys_valence({"C": carbon, "H": full, "O": oxygen})
            assert not obeys_valence({"C": carbon, "H": full + 2, "O": oxygen})


def test_a_radical_may_be_an_empirical_formula():
    # C2H5O is half of 1,4-butanediol; C2H8O is half of nothing.
    rows = np.array([[2.0, 5.0, 1.0], [2.0, 8.0, 1.0], [2.0, 6.0, 1.0]])
    assert molecule_mask(("C", "H", "O"), rows).tolist() == [True, False, True]


def test_formulas_of_the_table_are_in_hill_order(real_formulas):
    assert [hill_formula(parse_formula(formula)) for formula in real_formulas] == real_formulas
