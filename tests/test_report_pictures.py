"""The pictures of the report: their axes, the ellipse, the numbers, and the structures."""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from markupsafe import Markup
from matplotlib.figure import Figure

from identify import Measurement, Tolerances, match
from identify.answers.pictures import candidates, strips
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


# --------------------------------------------------------------------- what is drawn where


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[Figure]:
    """Return a list that the figures go to in place of a page."""
    figures: list[Figure] = []

    def keep(figure: Figure, name: str, summary: str) -> Markup:
        figures.append(figure)
        return Markup("")

    for module in (candidates, strips):
        monkeypatch.setattr(module, "as_element", keep)
    return figures


def marks(figure: Figure, marker: str) -> list[tuple[float, float]]:
    """Return where the figure has marks of a kind."""
    lines = [line for line in figure.axes[0].lines if line.get_marker() == marker]
    return [(float(x), float(y)) for line in lines for x, y in zip(*line.get_data(), strict=True)]


def test_a_strip_draws_students_key_and_pooled_value(drawn: list[Figure]) -> None:
    near = [31.9, 31.9, 32.0, 32.0, 32.0, 32.1, 32.1]
    values = [*near, 36.0, 5.0, 709.6, 800.0, 900.0, 1000.0]
    strip_picture(Strip(values, 32.05, 0.2, 33.0, "methanol"), "s")
    (axes,) = drawn[0].axes
    across = sorted(x for x, _ in marks(drawn[0], "o"))
    assert across == near
    assert [x for x, _ in marks(drawn[0], "D")] == [36.0]  # far from the others
    assert len({y for x, y in marks(drawn[0], "o") if x == 32.0}) == 3  # one above the other
    assert len(marks(drawn[0], "<")) == len(marks(drawn[0], ">")) == 1
    assert [text.get_text() for text in axes.texts] == ["5.0", "4 more"]
    (key,) = [line for line in axes.lines if line.get_marker() == "None"]
    assert key.get_xdata() == [33.0, 33.0]
    (band,) = axes.patches
    assert band.get_x() == pytest.approx(32.05 - 1.96 * 0.2)
    assert band.get_width() == pytest.approx(2 * 1.96 * 0.2)
    low, high = axes.get_xlim()
    assert low < 31.9 < 36.0 < high < 709.6


def test_a_strip_without_a_key_has_no_line(drawn: list[Figure]) -> None:
    strip_picture(Strip([32.0, 32.1]), "s")
    (axes,) = drawn[0].axes
    assert [line.get_marker() for line in axes.lines] == ["o", "D"]
    assert len(axes.patches) == 0


@pytest.mark.parametrize(
    ("boils", "meant"),
    [(351.4, (78.25, 52.1)), (78.4, None)],  # in K, by its number
)
def test_the_place_of_a_reading_and_of_what_was_meant(
    drawn: list[Figure], boils: float, meant: tuple[float, float] | None
) -> None:
    """Only the boiling point has a slip: the composition stays where it is."""
    place(Measurement("C-9", boiling_point=boils, percent=CARD))
    assert marks(drawn[0], "+") == [pytest.approx((boils, 52.1))]
    right = marks(drawn[0], "x")
    assert right == ([] if meant is None else [pytest.approx(meant)])
    (low, high), (bottom, top) = drawn[0].axes[0].get_xlim(), drawn[0].axes[0].get_ylim()
    for x, y in [(boils, 52.1), *right]:
        assert low < x < high
        assert bottom < y < top
    numbered = [text for text in drawn[0].axes[0].texts if text.get_text() == "1"]
    assert [text.xy[1] for text in numbered] == pytest.approx([52.14], abs=0.01)
