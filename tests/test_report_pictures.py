"""The pictures of the report: their axes, the ellipse, the numbers, and the structures."""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from identify import Measurement, Tolerances, match
from identify.answers.pictures.candidates import Evidence, place_picture
from identify.answers.pictures.drawings import structure_drawing
from identify.answers.pictures.figures import Picture
from identify.answers.pictures.inline import UnknownColor, inline_svg
from identify.answers.pictures.labels import Spot, placed
from identify.answers.pictures.strips import Strip, strip_picture
from identify.matching.evidence import Matcher
from tests.report_samples import TABLE


def place(run: Measurement, tolerances: Tolerances | None = None) -> Picture | None:
    matcher = Matcher(TABLE, tolerances)
    ranking = match(run, TABLE, matcher.tolerances)
    return place_picture(Evidence.of(run, ranking, matcher), "p")


CARD = {"C": 52.1, "H": 13.1}


@pytest.mark.parametrize(
    ("read", "axes"),
    [
        ({"boiling_point": 78.4, "percent": CARD}, "Boiling point across, carbon upward"),
        ({"boiling_point": 78.4, "molar_mass": 46.1}, "Boiling point across, molar mass upward"),
        ({"molar_mass": 46.1, "percent": CARD}, "Carbon across, molar mass upward"),
        ({"boiling_point": 78.4, "percent": {"H": 13.1}}, "Boiling point across, hydrogen upward"),
        ({"percent": CARD}, "Carbon across, hydrogen upward"),
        ({"boiling_point": 78.4}, None),
        ({"molar_mass": 46.1, "density": 0.789}, None),
        ({}, None),
    ],
)
def test_the_axes_are_what_was_measured(read: dict[str, Any], axes: str | None) -> None:
    picture = place(Measurement("C-9", **read))
    assert (None if picture is None else picture.summary.split(";")[0]) == axes


@pytest.mark.parametrize(
    ("boils", "tolerances", "half_width"),
    [
        # sqrt(5.991) standard uncertainties, half the tolerance each: tables of chi-squared.
        ("78.4 C", Tolerances(), "78.4 ± 2.4 °C"),
        ("78.4 C", Tolerances(boiling_point=5.0), "78.4 ± 6.1 °C"),
        ("78.4 ± 0.6 C", Tolerances(), "78.4 ± 1.5 °C"),
    ],
)
def test_the_ellipse_holds_95_percent(boils: str, tolerances: Tolerances, half_width: str) -> None:
    picture = place(Measurement("C-9", boiling_point=boils, percent=CARD), tolerances)
    assert picture is not None
    assert f"boiling point {half_width}" in picture.summary
    assert "carbon 52.10 ± 0.49 %" in picture.summary


@pytest.mark.parametrize(
    ("boils", "carbon", "inside"),
    [
        (78.3, 52.14, True),
        (78.3 + 2.3, 52.14, True),
        (78.3 + 2.6, 52.14, False),
        (78.3 + 2.0, 52.14 + 0.4, False),  # each within its half-width, both together outside
        (78.3 + 1.6, 52.14 + 0.3, True),
    ],
)
def test_inside_and_outside_of_the_ellipse(boils: float, carbon: float, inside: bool) -> None:
    picture = place(Measurement("C-9", boiling_point=boils, percent={"C": carbon}))
    assert picture is not None
    within = picture.summary.partition("inside of it: ")[2].partition(";")[0]
    assert ("ethanol" in within) is inside


def spots(seed: int, count: int, spread: float) -> list[Spot]:
    drawn = np.random.default_rng(seed).normal(0.0, spread, (count, 2))
    return [Spot(float(x), float(y)) for x, y in drawn]


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("spread", [1.0, 10.0, 100.0])
def test_no_number_covers_another(seed: int, spread: float) -> None:
    points = spots(seed, 8, spread)
    numbers = [
        (point.x + offset.x, point.y + offset.y)
        for point, offset in zip(points, placed(points), strict=True)
    ]
    for place_, (x, y) in enumerate(numbers):
        for other_x, other_y in numbers[:place_]:
            assert abs(x - other_x) >= 10.0 or abs(y - other_y) >= 9.0


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ([32.0, 32.2, 31.9], "Molar masses of 3 students, 31.9 to 32.2 g/mol"),
        ([32.0, float("nan")], "Molar masses of 1 students"),
        ([32.0, 33.0, 32.5, 45.0], "1 more marked as far from the others"),
        ([32.0, 33.0, 32.5, 31.0, 5.0, 709.6], "1 below and 1 above the frame (5.0, 709.6)"),
        ([32.0] * 200, "Molar masses of 200 students"),
        ([], None),
    ],
)
def test_strips(values: list[float], told: str | None) -> None:
    picture = strip_picture(Strip(values, 32.0, 0.2, 32.04, "methanol"), "s")
    if told is None:
        assert picture is None
        return
    assert picture is not None
    assert told in picture.summary
    assert "methanol has 32.0" in picture.summary


def test_all_students_of_a_strip_are_in_it() -> None:
    values = [30.0, 31.9, 32.0, 32.0, 32.1, 40.0, 55.0]
    picture = strip_picture(Strip(values, 32.0, 0.2, 32.04, "methanol"), "s")
    assert picture is not None
    assert "frame" not in picture.summary
    marks = re.findall(r'<use [^>]*xlink:href="([^"]*)"|<use [^>]*href="([^"]*)"', picture.svg)
    assert len(marks) >= len(values)


def test_a_color_without_a_counterpart_on_the_page_is_refused() -> None:
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="1" height="1"><path fill="#123456"/></svg>'
    )
    with pytest.raises(UnknownColor, match="#123456"):
        inline_svg(svg, "one", "a dot", {"#000000": "currentColor"})


@pytest.mark.parametrize("smiles", ["CCO", "C", "O", "S=C=S", "C[C@H](O)CC", "C[N+](=O)[O-]", "II"])
def test_structures(smiles: str) -> None:
    drawing = structure_drawing(smiles, 'a "name" <b>')
    assert drawing is not None
    root = ElementTree.fromstring(drawing)
    assert root.attrib["aria-label"] == f'Structure of a "name" <b>, SMILES {smiles}'
    assert len(root) > 0


@pytest.mark.parametrize("smiles", ["", "not a structure", "C1CC"])
def test_no_structure(smiles: str, capfd: pytest.CaptureFixture[str]) -> None:
    assert structure_drawing(smiles, "x") is None
    assert capfd.readouterr() == ("", "")
