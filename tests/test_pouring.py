"""How much of a liquid fills a flask with vapor, what a class needs, and what waste it makes."""

from __future__ import annotations

from math import exp, isnan, nan

import pytest

from identify import load_candidates
from identify.bench.laboratory import Laboratory
from identify.stock.class_use.pouring import Pouring, portions, poured_in_all
from identify.stock.result import Portion

TABLE = load_candidates()


def portion(name: str, pouring: Pouring | None = None, bottles: int = 12) -> Portion:
    table = TABLE.take([TABLE.find(name)[0]])
    (one,) = portions(table, Laboratory(), pouring or Pouring(), bottles)
    return one


# Densities at 20 °C [g/mL] and molar masses: CRC Handbook, from memory. The ideal gas at 372.1 K
# and 1 atm holds 32.75 mol/m3; its vapors are a little denser.
@pytest.mark.parametrize(
    ("name", "molar_mass", "density"),
    [
        ("acetone", 58.08, 0.791),
        ("methanol", 32.04, 0.791),
        ("ethanol", 46.07, 0.789),
        ("hexane", 86.18, 0.659),
        ("chloroform", 119.38, 1.489),
        ("cyclohexane", 84.16, 0.779),
    ],
)
@pytest.mark.parametrize("flask", [285e-6, 142e-6])
def test_the_least_that_fills_a_flask(
    name: str, molar_mass: float, density: float, flask: float
) -> None:
    ideal = 32.75 * flask * molar_mass / density
    found = portion(name, Pouring(flask))
    assert ideal < found.least_mL < 1.06 * ideal
    assert found.least_g == pytest.approx(density * found.least_mL, rel=0.01)


@pytest.mark.parametrize("name", ["acetone", "methanol", "hexane"])
@pytest.mark.parametrize("students", [1, 24, 25, 400])
@pytest.mark.parametrize("trials", [1, 3])
def test_what_the_class_needs(name: str, students: int, trials: int) -> None:
    found = portion(name, Pouring(students=students, trials=trials), bottles=12)
    each = -(-students // 12)
    assert found.class_mL == each * trials * found.pour_mL
    assert found.pour_mL % 0.5 == 0.0
    assert 4.9 * found.least_mL <= found.pour_mL < 5.0 * found.least_mL + 0.5


def test_the_waste_is_what_condenses_and_the_rest_goes_off() -> None:
    names = ("acetone", "chloroform", "hexane")
    pouring = Pouring(students=12, trials=2)
    each = [(name, portion(name, pouring, 3)) for name in names]
    found = poured_in_all(pouring, 3, each)
    assert found.students_a_bottle == 4
    acetone, chloroform, hexane = (one for _, one in each)
    assert found.liquid_mL == sum(one.class_mL for _, one in each)
    assert found.waste_mL == pytest.approx(8 * (acetone.least_mL + hexane.least_mL))
    assert found.halogenated_waste_mL == pytest.approx(8 * chloroform.least_mL)
    parts = (found.waste_mL, found.halogenated_waste_mL, found.vapor_mL)
    assert sum(parts) == pytest.approx(found.liquid_mL)
    assert chloroform.is_halogenated
    assert not acetone.is_halogenated


def test_without_a_density_it_is_weighed_out() -> None:
    unknown = Portion(0.5, nan, nan, nan)
    found = poured_in_all(Pouring(), 2, [("A", unknown), ("B", portion("acetone"))])
    assert found.unknown == ("A",)
    assert not isnan(found.liquid_mL)


def test_the_usual_multiple_leaves_less_than_a_percent_of_the_air() -> None:
    # Where vapor and air mix at once and completely, as in a stirred vessel, most is left.
    fills = Pouring().fills
    assert exp(-fills) < 0.01 < exp(1.0 - fills)
