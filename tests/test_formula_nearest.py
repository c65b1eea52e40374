"""The nearest possible formulas of a composition that none fits."""

from __future__ import annotations

import json
from itertools import product
from time import process_time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from identify.calculations.formulas import formulas
from identify.chemistry.formula import obeys_valence, parse_formula, percent_composition
from identify.chemistry.formula.nearest import MOST_ATOMS, nearest_formulas
from identify.chemistry.formula.search import PercentArrays, TooManyFormulas, agreeing_counts
from identify.cli import main

# One composition a line, of C H N O S and halogens, that no possible formula has.
FIT_NONE = {
    "a card of seven elements": "C=30.1 H=2.4 N=12.3 O=10.1 S=13.6 Cl=15.5 F=16.0",
    "another, far off": "C=30 H=2 N=12 O=10 S=14 Cl=16 Br=16",
    "too much hydrogen": "C=40 H=20 O=40",
    "half hydrogen": "C=50 H=50",
    "hardly any hydrogen": "F=99 H=1",
    "eight elements alike": "C=12.5 H=12.5 N=12.5 O=12.5 S=12.5 Cl=12.5 F=12.5 Br=12.5",
    "nearly all hydrogen": "H=94 C=1 N=1 O=1 S=1 Cl=1 F=1",
    "more than there is": "C=60 H=60",
    "no element for the rest": "C=20 H=30",
}


def percent_of(text: str) -> dict[str, float]:
    pairs = (part.split("=") for part in text.split())
    return {element: float(value) for element, value in pairs}


def possible(formula: str) -> bool:
    counts = parse_formula(formula)
    return any(obeys_valence({e: n * number for e, number in counts.items()}) for n in (1, 2))


@pytest.mark.parametrize("text", FIT_NONE.values(), ids=FIT_NONE)
def test_where_none_fits_the_nearest_are_shown_and_a_finding_says_so(text):
    percent = percent_of(text)
    start = process_time()
    found = formulas(percent)
    assert process_time() - start < 1.0
    assert found.empirical == ()
    assert {finding.severity for finding in found.findings} & {"error", "warning"}
    assert 2 <= len(found.nearest) <= 3
    for one in found.nearest:
        assert one.rest or possible(one.formula)
        assert one.largest_deviation == max(map(abs, one.deviations.values())) > 0.4
        if not one.rest:
            exact = percent_composition(one.formula)
            assert one.deviations == pytest.approx(
                {element: exact.get(element, 0.0) - value for element, value in percent.items()}
            )
    squares = [sum(off**2 for off in one.deviations.values()) for one in found.nearest]
    assert squares == sorted(squares)


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("C=40 H=20 O=40", ["C3H8O2", "CH4O", "C4H10O3"]),
        ("C=50 H=50", ["CH4", "CH3", "C3H8"]),
        ("F=99 H=1", ["F", "FH"]),
        # Chloroform with its hydrogen three times over.
        ("C=10.1 H=3.0 Cl=86.9", ["CHCl3", "C2HCl5", "C3HCl7"]),
    ],
)
def test_the_nearest_by_name(text, names):
    assert [one.formula for one in nearest_formulas(percent_of(text))][: len(names)] == names


def test_a_composition_with_formula_has_no_nearest():
    assert formulas({"C": 59.9, "H": 13.4, "O": 26.7}).nearest == ()


FEW = st.lists(st.sampled_from(("C", "H", "O", "Cl", "N")), min_size=2, max_size=3, unique=True)


@settings(deadline=None, max_examples=40)
@given(FEW, st.lists(st.floats(6.0, 90.0), min_size=3, max_size=3))
def test_no_small_formula_is_nearer(elements, values):
    """In the largest deviation, by which the search widens: within one step of it."""
    total = sum(values[: len(elements)])
    percent = {e: 100.0 * value / total for e, value in zip(elements, values, strict=False)}
    percent = {element: value for element, value in percent.items() if value > 5.0}
    composition = PercentArrays.of(percent, 0.4)
    if not composition.complete:
        return
    ranges = [range(1, 15 if element == "H" else 7) for element in composition.elements]
    heavy = np.array([element not in ("H", "F") for element in composition.elements])
    counts = np.array(list(product(*ranges)), dtype=float)
    counts = counts[counts @ heavy <= MOST_ATOMS]
    off = np.abs(composition.deviations(counts)).max(axis=1)
    names = [dict(zip(composition.elements, row, strict=True)) for row in counts]
    reachable = [
        float(size)
        for size, row in zip(off, names, strict=True)
        if any(obeys_valence({e: int(n * k) for e, k in row.items()}) for n in (1, 2))
    ]
    found = nearest_formulas(percent, count=1)
    assert found
    assert found[0].largest_deviation <= 1.6 * max(min(reachable), 0.4) * (1.0 + 1e-9)


def test_too_many_formulas_are_refused_before_they_fill_the_memory():
    wide = PercentArrays.of(dict.fromkeys(("C", "H", "N", "O", "S", "Cl", "F"), 14.3), 5.0)
    with pytest.raises(TooManyFormulas, match="500 g/mol"):
        agreeing_counts(wide, 0.0, 500.0, 100)
    assert 0 < len(agreeing_counts(wide, 0.0, 200.0, 100)) <= 100


# ------------------------------------------------------------------- the command


@pytest.mark.parametrize("text", FIT_NONE.values(), ids=FIT_NONE)
def test_the_page_names_the_nearest(text, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["formula", *text.split()]) == 0
    page = capsys.readouterr().out
    assert "No formula fits. The nearest:" in page
    assert max(map(len, page.splitlines())) <= 80
    assert main(["formula", *text.split(), "--format", "json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["empirical"] == []
    for one in data["nearest"]:
        assert one["formula"] in page
        assert set(one["deviations"]) == set(percent_of(text))


def test_deviations_are_columns_of_a_table(capsys):
    assert main(["formula", "C=50", "H=50", "--format", "csv"]) == 0
    header, first, *_ = capsys.readouterr().out.splitlines()
    row = dict(zip(header.split(","), first.split(","), strict=True))
    assert (row["kind"], row["formula"]) == ("nearest", "CH4")
    assert float(row["percent_H_off"]) == pytest.approx(-24.87, abs=0.01)
