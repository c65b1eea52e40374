"""Printed textbook problems: from combustion or percentages, and a molar mass, to a formula."""

from __future__ import annotations

import pytest

from identify.calculations.composition import composition
from identify.chemistry.formula import empirical_formulas, molecular_formulas

# Sample, carbon dioxide and water in one unit of mass; molar mass in g/mol; the printed answer.
BURNED = {
    # Equilin; clutchprep.com, practice problem 98603.
    "equilin": (13.42, 39.61, 9.01, 268.34, "C9H10O", "C18H20O2"),
    # Chemistry: The Central Science, 9th edition, sample exercise 3.15 (wps.prenhall.com, blb9);
    # its molar mass, 60.1, from memory.
    "isopropyl alcohol": (0.255, 0.561, 0.306, 60.1, "C3H8O", "C3H8O"),
    # Chemistry: The Central Science, 14th edition, chapter 3, menthol (vaia.com, textbooks).
    "menthol": (0.1005, 0.2829, 0.1159, 156.0, "C10H20O", "C10H20O"),
    # A steroid; mpcfaculty.net, combustion_analysis_example.
    "methandrostenolone": (14.765, 43.257, 12.395, 300.44, "C10H14O", "C20H28O2"),
    # From the bark of the sassafras tree, in mg; tvp.thesociallife.com, respuestas 9420976.
    "sassafras": (43.5, 118.0, 24.2, 162.0, "C5H5O", "C10H10O2"),
    # Chemistry and Chemical Reactivity, 9th edition, chapter 4, question 36 (gradesaver.com).
    "question 36": (0.1523, 0.3718, 0.1522, 72.1, "C4H8O", "C4H8O"),
    # wizedu.com, question 383141.
    "question 383141": (0.44, 0.88, 0.36, 132.0, "C2H4O", "C6H12O3"),
}

# Percent by mass; molar mass in g/mol; the printed answer.
ANALYZED = {
    # NCERT, chemistry for class 11, chapter 1 (studyadda.com, socratic.org).
    "dichloroethane": ({"Cl": 71.65, "C": 24.27, "H": 4.07}, 98.96, "CH2Cl", "C2H4Cl2"),
    # Chemistry: The Central Science, 14th edition, problem 3.53 (pearson.com).
    "caffeine": (
        {"C": 49.5, "H": 5.15, "N": 28.9, "O": 16.5},
        195.0,
        "C4H5N2O",
        "C8H10N4O2",
    ),
    # qammunity.org, question 6352916.
    "dibromoethane": ({"C": 12.8, "H": 2.1, "Br": 85.1}, 188.0, "CH2Br", "C2H4Br2"),
    # questionai.com, t0ArwIxhwT; its molar mass, 162.3, from memory.
    "nicotine": ({"C": 74.02, "H": 8.710, "N": 17.27}, 162.3, "C5H7N", "C10H14N2"),
    # funqa.com, chemistry 1239.
    "adipic acid": ({"C": 49.3, "H": 6.9, "O": 43.8}, 146.0, "C3H5O2", "C6H10O4"),
    # Chemistry and Chemical Reactivity, 9th edition, chapter 2, question 129 (bartleby.com):
    # two compounds, of the second only the carbon is given.
    "fluorocarbonyl hypofluorite": ({"C": 14.6, "O": 39.0, "F": 46.3}, 82.0, "CF2O2", "CF2O2"),
    "azulene": ({"C": 93.71, "H": 100.0 - 93.71}, 128.16, "C5H4", "C10H8"),
    # myweb.astate.edu, EmpiricalFormulaAnswers, 2d.
    "triaminobenzene": ({"C": 79.08, "H": 5.54, "N": 15.38}, 273.36, "C6H5N", "C18H15N3"),
}


def burned(sample, carbon_dioxide, water):
    """Return the percentages of C and H, and of O by difference; masses in any unit."""
    found = composition(sample, {"CO2": carbon_dioxide, "H2O": water})
    return {element: share.value for element, share in found.percent.items()}


PROBLEMS = {
    **{name: (burned(*given[:3]), *given[3:]) for name, given in BURNED.items()},
    **ANALYZED,
}


@pytest.mark.parametrize("problem", PROBLEMS.values(), ids=PROBLEMS)
def test_the_printed_answer_is_found(problem):
    percent, molar_mass, empirical, molecular = problem
    # Percentages alone: the printed empirical formula fits best of all that agree.
    assert empirical_formulas(percent)[0].formula == empirical
    # With the molar mass nothing else is left.
    found = empirical_formulas(percent, molar_mass=molar_mass)
    assert [one.formula for one in found] == [empirical]
    formulas = molecular_formulas(found[0], molar_mass)
    assert [one.formula for one in formulas] == [molecular]
