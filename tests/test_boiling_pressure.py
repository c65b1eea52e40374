"""The pressure of a boiling point: held to what a laboratory's barometer is held to."""

from __future__ import annotations

from typing import Any

import pytest

from identify import Conditions, Flask, Measurement, Trial, boiling_point, match
from identify.checks import check
from identify.notebook.plausible import PLAUSIBLE
from identify.notebook.quantity.quantities import Quantity, QuantityError, read_quantity
from tests.command import Run

# As written, what it may have meant instead, and the code; none where it is as it stands.
PRESSURES = [
    ("742", None, ""),
    ("742 mmHg", None, ""),
    ("98.9 kPa", None, ""),
    ("15 mmHg", None, ""),  # a vacuum, with its unit
    ("0.5 mbar", None, ""),
    ("860 mmHg", None, ""),
    ("98.9", "98.9 kPa", "boiling-point-pressure"),
    ("29.92", "29.92 inHg", "boiling-point-pressure"),
    ("850", "850 hPa", "boiling-point-pressure"),
    ("0.98", "0.98 atm", "boiling-point-pressure"),
    ("1,013 hPa", "1013 hPa", "boiling-point-pressure"),
    ("1013", "1013 hPa", "pressure-unit"),
    ('742 "Hg', "742 mmHg", "pressure-unit"),
    ("7420 mmHg", "7420 Pa", "pressure-unit"),
]


@pytest.mark.parametrize(("written", "meant", "code"), PRESSURES)
def test_of_a_card(written: str, meant: str | None, code: str) -> None:
    found = check(Measurement("X", boiling_point=78.3, boiling_point_at=written))
    assert [one.code for one in found] == [code] * bool(code)
    if meant is not None:
        assert f"Did you mean {meant}" in found[0].advice


@pytest.mark.parametrize(("written", "meant", "code"), PRESSURES)
def test_of_the_calculation(written: str, meant: str | None, code: str) -> None:
    found = boiling_point("77.7 C", written)
    assert [one.code for one in found.findings] == [code] * bool(code)
    backwards = boiling_point("77.7 C", "760 mmHg", to=written)
    assert [one.code for one in backwards.findings] == [code] * bool(code)


@pytest.mark.parametrize(
    ("observed", "at", "far"),
    [
        ("77.7 C", "742 mmHg", False),
        ("75.0 C", "742 mmHg", False),
        ("83.9 C", "742 mmHg", True),
        ("71.0 C", "742 mmHg", True),
        ("77.7 C", "98.9 kPa", False),
        ("77.7 C", "98.9 mmHg", True),
        ("77.7 C", "742 inHg", True),
        ("30 ± 5 C", "78 mmHg", False),  # ethanol boils at 29.8 °C there
    ],
)
def test_far_from_where_the_liquid_boils(observed: str, at: str, far: bool) -> None:
    found = boiling_point(observed, at, identity="ethanol")
    said = [one for one in found.findings if one.code == "boiling-point-far"]
    assert bool(said) is far
    if far:
        assert "the boiling point of ethanol at 760 mmHg, 78." in said[0].message
    assert not any(one.code == "boiling-point-far" for one in boiling_point(observed, at).findings)


CARD: dict[str, Any] = {"molar_mass": 46.0, "percent": {"C": 52.1, "H": 13.1, "O": 34.8}}


@pytest.mark.parametrize(
    ("written", "code", "repaired"),
    [
        ("98.9", "pressure-unit", "98.9 kPa"),
        ("98.9 mmHg", "pressure-unit", "98.9 kPa"),
        ("29.92", "pressure-unit", "29.92 inHg"),
        ('742 "Hg', "pressure-unit", "742 mmHg"),
        ("1,013 hPa", "point-moved", "1013 hPa"),
        ("7.42 mmHg", "point-moved", "742 mmHg"),
        ("74.2 mmHg", "point-moved", "742 mmHg"),
    ],
)
def test_slip_in_it(written: str, code: str, repaired: str) -> None:
    ranking = match(Measurement("X", boiling_point=77.7, boiling_point_at=written, **CARD))
    assert ranking.slip is not None
    assert (ranking.slip.code, dict(ranking.slip.repaired)) == (
        code,
        {"boiling_point_at": repaired},
    )
    assert ranking.candidates[0].name == "ethanol"


@pytest.mark.parametrize(
    ("boils", "written"), [(29.5, "78 mmHg"), (77.7, "742 mmHg"), (78.3, "1013 hPa")]
)
def test_no_slip_where_it_is_as_written(boils: float, written: str) -> None:
    ranking = match(Measurement("X", boiling_point=boils, boiling_point_at=written, **CARD))
    assert ranking.slips == ()
    assert ranking.candidates[0].name == "ethanol"


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("1,013 hPa", "1013 hPa"),
        ("0,101 hPa", None),
        ("12,013 hPa", "12.013 psi"),
        ("1.013 hPa", "1.013 bar"),
    ],
)
def test_comma_of_thousands(text: str, meant: str | None) -> None:
    found = PLAUSIBLE["pressure"].meant(read_quantity(text, "pressure"))
    assert (None if found is None else f"{found.value:.10g} {found.unit}") == meant


@pytest.mark.parametrize("text", ["1,600 m", "5,280 ft", "about 1,600 m"])
def test_height_with_a_comma_of_thousands(text: str) -> None:
    with pytest.raises(QuantityError, match="may be thousands or decimals; write it without"):
        Conditions(height=text)


@pytest.mark.parametrize(
    ("text", "meters"),
    [("1600 m", 1600.0), ("1,6 km", 1600.0), ("120,5 m", 120.5), ("0,120 km", 120.0)],
)
def test_height_with_a_decimal_comma(text: str, meters: float) -> None:
    height = Conditions(height=text).height
    assert height is not None
    assert height.to("m").value == pytest.approx(meters)


def test_barometer_with_a_comma_of_thousands() -> None:
    run = Measurement(
        "X",
        conditions=Conditions(pressure="1,013 hPa", room=22.5),
        flask=Flask(volume=287.4),
        trials=[Trial(98.1132, Quantity(98.3721, "g"), 98.9)],
    )
    (found,) = check(run)
    assert found.code == "pressure-unit"
    assert "Did you mean 1013 hPa?" in found.advice


def test_said_by_the_command(invoke: Run) -> None:
    given = ("--observed", "77.7 C", "--at", "98.9", "--as", "ethanol")
    outcome = invoke("boiling-point", *given)
    assert outcome.status == 0
    assert "[boiling-point-pressure]" in outcome.output
    assert "[boiling-point-far]" in outcome.output
    codes = [
        one["code"] for one in invoke("boiling-point", *given, "--format", "json").data["findings"]
    ]
    assert codes == ["boiling-point-pressure", "boiling-point-far"]
