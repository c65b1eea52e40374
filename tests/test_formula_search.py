"""Formulas from percentages: all that agree, the best first, and whole multiples of them."""

from __future__ import annotations

from functools import reduce
from itertools import product
from math import gcd, sqrt

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from identify import load_candidates
from identify.chemistry.formula import (
    FormulaError,
    degree_of_unsaturation,
    empirical_formulas,
    hill_formula,
    molar_mass,
    molecular_formulas,
    obeys_valence,
    parse_formula,
    percent_composition,
)
from identify.chemistry.formula.rules import molecule_mask
from identify.chemistry.formula.search import PercentArrays, agreeing_counts
from identify.physics.constants import ELEMENTS

ATOMS = st.dictionaries(st.sampled_from(ELEMENTS), st.integers(1, 60), min_size=1)


def simplest(formula: str) -> str:
    counts = parse_formula(formula)
    divisor = reduce(gcd, counts.values())
    return hill_formula({element: number // divisor for element, number in counts.items()})


# -------------------------------------------------------------------------------- all are found


def brute_force(composition: PercentArrays, lowest: float, highest: float) -> set[tuple[int, ...]]:
    """Try every formula up to a mass, and every mass that what is not named could make it."""
    slack = 1e-9  # both searches count a composition exactly at the tolerance
    widths = composition.tolerance * (1.0 + slack) + slack
    ranges = [range(int(highest / weight) + 1) for weight in composition.weights]
    found = set()
    for counts in product(*ranges):
        masses = np.array(counts) * composition.weights
        named = masses.sum()
        if not 0.0 < named <= highest:
            continue
        if composition.complete:
            off = np.abs(100.0 * masses / named - composition.percent)
            agrees = bool((off <= widths).all()) and named >= lowest
        else:
            low = max((100.0 * masses / (composition.percent + widths)).max(), named, lowest)
            least = composition.percent - widths
            high = min([*(100.0 * masses[least > 0.0] / least[least > 0.0]), highest])
            agrees = low <= high
        if agrees:
            found.add(counts)
    return found


FEW = st.lists(st.sampled_from(ELEMENTS), min_size=1, max_size=3, unique=True)


@st.composite
def compositions(draw):
    """Percentages near those of a formula, or any at all, complete or not."""
    elements = draw(FEW)
    if draw(st.booleans()):
        atoms = {element: draw(st.integers(1, 4)) for element in elements}
        exact = percent_composition(atoms)
        kept = draw(st.lists(st.sampled_from(elements), min_size=1, unique=True))
        percent = {e: max(exact[e] + draw(st.floats(-0.5, 0.5)), 0.01) for e in kept}
    else:
        percent = {element: draw(st.floats(0.1, 95.0)) for element in elements}
    percent = {element: min(value, 100.0) for element, value in percent.items()}
    return PercentArrays.of(percent, draw(st.floats(0.05, 5.0)))


@settings(deadline=None, max_examples=150)
@given(compositions(), st.sampled_from([0.0, 40.0, 75.0]), st.floats(20.0, 90.0))
# The last bit decides whether there need be any hydrogen.
@example(PercentArrays.of({"C": 20.0, "H": 0.1}, 0.1 - 1e-16), 0.0, 60.0)
@example(PercentArrays.of({"C": 20.0, "H": 0.1}, 0.1 - 1e-12), 0.0, 60.0)
@example(PercentArrays.of({"C": 20.0, "H": 0.1}, 0.1), 0.0, 60.0)
def test_a_brute_force_search_finds_the_same(composition, lowest, highest):
    found = agreeing_counts(composition, lowest, highest)
    rows = [tuple(int(number) for number in row) for row in found]
    assert len(set(rows)) == len(rows)
    assert set(rows) == brute_force(composition, lowest, highest)


@settings(deadline=None, max_examples=100)
@given(compositions())
def test_all_that_is_found_agrees(composition):
    percent = dict(zip(composition.elements, composition.percent, strict=True))
    tolerance = min(composition.tolerance)
    for found in empirical_formulas(percent, tolerance, largest=150.0):
        assert set(found.counts) <= set(percent)
        assert hill_formula(found.counts) == found.formula
        if not composition.complete:
            # What is found fits some mass of the whole; the deviations are from the best fit.
            assert found.rest >= 0.0
            assert found.molar_mass == pytest.approx(molar_mass(found.counts) + found.rest)
            continue
        assert reduce(gcd, found.counts.values()) == 1
        assert found.rest == 0.0
        exact = percent_composition(found.counts)
        off = max(abs(exact.get(element, 0.0) - value) for element, value in percent.items())
        assert off <= tolerance * (1.0 + 1e-6)
        assert found.largest_deviation == pytest.approx(off, abs=1e-9)


def test_a_mass_range_bounds_the_formulas():
    composition = PercentArrays.of({"C": 85.63, "H": 14.37}, 0.4)
    counts = agreeing_counts(composition, 50.0, 90.0)
    assert [tuple(row) for row in counts] == [(4.0, 8.0), (5.0, 10.0), (6.0, 12.0)]


def test_the_simplest_form_of_every_real_formula_is_found():
    """First nearly always; where a smaller formula lies within the tolerance too, soon after."""
    real = sorted(set(load_candidates().text("formula")))
    light = [formula for formula in real if molar_mass(formula) <= 200.0]
    assert len(light) > 1000
    places = []
    for formula in light:
        found = [one.formula for one in empirical_formulas(percent_composition(formula))]
        places.append(found.index(simplest(formula)))
    assert places.count(0) >= 0.98 * len(places)
    assert max(places) <= 5


@settings(deadline=None, max_examples=60)
@given(st.dictionaries(st.sampled_from(("C", "H", "N", "O", "Cl")), st.integers(1, 5), min_size=2))
def test_any_formula_that_molecules_have_is_found(atoms):
    formula = simplest(hill_formula(atoms))
    row = np.array([[float(number) for number in parse_formula(formula).values()]])
    found = [one.formula for one in empirical_formulas(percent_composition(atoms), 0.05)]
    possible = bool(molecule_mask(tuple(parse_formula(formula)), row)[0])
    assert (formula in found) is possible


@pytest.mark.parametrize(
    ("percent", "molar_mass_given", "found"),
    [
        ({"C": 59.9, "H": 13.4, "O": 26.7}, None, ["C3H8O"]),
        ({"C": 24.27, "H": 4.07, "Cl": 71.65}, None, ["CH2Cl"]),
        ({"C": 24.27, "H": 4.07, "Cl": 71.65}, 98.96, ["CH2Cl"]),
        ({"C": 24.27, "H": 4.07, "Cl": 71.65}, 70.0, []),
        ({"C": 92.26, "H": 7.74, "O": 0.0}, 78.1, ["CH"]),
        ({"C": 37.5, "H": 12.6, "O": 49.9}, 32.0, ["CH4O"]),
        # The composition of C2H8O: no molecule has it, nor a multiple of it.
        ({"C": 50.0, "H": 16.8, "O": 33.3}, None, []),
        ({"C": 100.0}, None, ["C"]),
        # 20 % hydrogen is that of ethane, CH3; 30 % is not a compound's.
        ({"C": 79.9, "H": 20.1}, 30.07, ["CH3"]),
        ({"C": 70.0, "H": 30.0}, None, []),
    ],
)
def test_empirical_formulas(percent, molar_mass_given, found):
    formulas = empirical_formulas(percent, molar_mass=molar_mass_given)
    assert [formula.formula for formula in formulas] == found


@pytest.mark.parametrize(
    ("percent", "formula", "rest"),
    [
        ({"C": 52.1, "H": 13.1}, "C2H6", 16.0),  # ethanol without its oxygen
        ({"C": 24.27, "H": 4.07}, "CH2", 35.45),  # dichloroethane without its chlorine
        ({"C": 62.0, "H": 10.4}, "C3H6", 16.0),  # acetone; boron, in C4H8B2, would fit too
        ({"C": 64.5, "H": 16.2}, "C3H9", 10.8),  # trimethylborane
        ({"C": 47.3, "H": 11.9}, "C3H9", 31.0),  # trimethylphosphine
        ({"C": 61.0, "H": 15.4}, "C3H9", 14.0),  # trimethylamine with what nitrogen binds
    ],
)
def test_what_is_not_named_is_left_over(percent, formula, rest):
    best = empirical_formulas(percent)[0]
    assert best.formula == formula
    assert best.rest == pytest.approx(rest, abs=0.5)
    assert best.molar_mass == pytest.approx(molar_mass(formula) + rest, abs=0.5)


@pytest.mark.parametrize(
    ("sum_off", "complete"), [(0.0, True), (-0.99, True), (-1.01, False), (3.0, True)]
)
def test_a_sum_near_one_hundred_claims_to_be_complete(sum_off, complete):
    composition = PercentArrays.of({"C": 60.0, "H": 40.0 + sum_off}, 0.4)
    assert composition.complete is complete


def test_wide_tolerances_widen_what_counts_as_complete():
    assert PercentArrays.of({"C": 60.0, "H": 38.0}, 3.0).complete
    assert not PercentArrays.of({"C": 60.0, "H": 40.0 - 3.0 * sqrt(2.0) - 0.01}, 3.0).complete


# ---------------------------------------------------------------------------- molecular formulas


@pytest.mark.parametrize(
    ("empirical", "value", "tolerance", "found"),
    [
        ("CH2Cl", 98.96, 5.0, ["C2H4Cl2"]),
        ("CH", 78.1, 5.0, ["C6H6"]),
        ("CH2", 84.0, 5.0, ["C6H12"]),
        ("CH2", 77.2, 12.0, ["C6H12", "C5H10"]),
        ("CH2", 91.2, 9.0, ["C7H14", "C6H12"]),
        ("C2H6O", 46.07, 5.0, ["C2H6O"]),
        ("C2H6O", 92.1, 5.0, []),  # C4H12O2 has two hydrogens too many
        ("CH3", 15.0, 5.0, []),  # a radical
        ("CH3", 30.0, 5.0, ["C2H6"]),
        ("CH2Cl", 49.5, 5.0, []),
        ("CHCl3", 119.37, 0.01, ["CHCl3"]),
        ("CHCl3", 150.0, 5.0, []),
        ({"C": 1, "H": 2, "Cl": 1}, 98.96, 5.0, ["C2H4Cl2"]),
    ],
)
def test_molecular_formulas(empirical, value, tolerance, found):
    formulas = molecular_formulas(empirical, value, tolerance)
    assert [formula.formula for formula in formulas] == found
    for formula in formulas:
        assert formula.molar_mass == pytest.approx(molar_mass(formula.formula))
        assert abs(value - formula.molar_mass) <= 0.01 * tolerance * formula.molar_mass
        assert formula.degree_of_unsaturation == degree_of_unsaturation(formula.formula)
        assert obeys_valence(formula.formula)


@given(ATOMS, st.floats(10.0, 600.0), st.floats(0.5, 20.0))
def test_all_multiples_within_tolerance_are_found(atoms, value, tolerance):
    found = {one.multiple for one in molecular_formulas(atoms, value, tolerance)}
    unit = molar_mass(atoms)
    for multiple in range(1, int(2.0 * value / unit) + 2):
        off = abs(value - multiple * unit) / (0.01 * tolerance * multiple * unit)
        if abs(off - 1.0) > 1e-6:
            possible = obeys_valence({e: multiple * number for e, number in atoms.items()})
            assert (multiple in found) is (off < 1.0 and possible)


@given(ATOMS)
def test_the_molecule_itself_is_a_multiple_of_its_simplest_form(atoms):
    formula = hill_formula(atoms)
    found = [one.formula for one in molecular_formulas(simplest(formula), molar_mass(atoms), 0.1)]
    assert (formula in found) is obeys_valence(atoms)


# ------------------------------------------------------------------------------------ bad input


@pytest.mark.parametrize(
    ("percent", "tolerance", "says"),
    [
        ({}, 0.4, "no element has a percentage above zero"),
        ({"C": 0.0}, 0.4, "no element has a percentage above zero"),
        ({"Na": 39.3, "Cl": 60.7}, 0.4, "Na is not an element known here"),
        ({"C": -1.0}, 0.4, "C: -1 is not a percentage"),
        ({"C": 101.0}, 0.4, "C: 101 is not a percentage"),
        ({"C": float("nan")}, 0.4, "C: nan is not a percentage"),
        ({"C": float("inf")}, 0.4, "C: inf is not a percentage"),
        ({"C": 85.6, "H": 14.4}, 0.0, "the tolerance must be above 0"),
        ({"C": 85.6, "H": 14.4}, -0.4, "the tolerance must be above 0"),
        ({"C": 85.6, "H": 14.4}, 5.1, "at most 5 points"),
        ({"C": 85.6, "H": 14.4}, float("nan"), "the tolerance must be above 0"),
    ],
)
def test_bad_percentages_are_refused_in_one_line(percent, tolerance, says):
    with pytest.raises(FormulaError) as caught:
        empirical_formulas(percent, tolerance)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("value", "tolerance"),
    [
        *((value, 5.0) for value in (0.0, -46.0, float("nan"), float("inf"))),
        *((46.0, tolerance) for tolerance in (0.0, -1.0, 100.0, float("nan"))),
    ],
)
def test_a_bad_molar_mass_is_refused_in_one_line(value, tolerance):
    with pytest.raises(FormulaError, match=r"g/mol within .* %: both must be above zero"):
        molecular_formulas("C2H6O", value, tolerance)
    with pytest.raises(FormulaError, match="both must be above zero"):
        empirical_formulas({"C": 52.1, "H": 13.1, "O": 34.7}, 0.4, value, tolerance)
