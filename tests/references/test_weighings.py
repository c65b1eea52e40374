"""Molar masses come back from weighings that CoolProp's equations of state generate.

``pytest -s`` prints the errors fluid by fluid, those of the ideal-gas shortcut beside them.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from chemicals import search_chemical
from chemicals.elements import mass_fractions, simple_formula_parser
from CoolProp.CoolProp import PropsSI
from weighings import (
    ATMOSPHERE,
    BOILS_ABOVE_ROOM,
    PRESSURES,
    ROOMS,
    ZERO_CELSIUS,
    Flask,
    Fluid,
    Generated,
    Laboratory,
    balance_gain,
    recoveries,
    reference_fluids,
    report,
    vapor_mass,
    weighings_of,
    why_absent,
)

from identify import Conditions, Measurement, Trial, match
from identify import Flask as WrittenFlask
from identify.calculations.molar_mass import molar_mass
from identify.compounds.table import CandidateTable
from identify.matching.expected.expectation import Expectation

PENTANE = Fluid("n-Pentane", "109-66-0")


def all_errors(table: CandidateTable) -> np.ndarray:
    found = recoveries(table)
    print(f"\n{report(found, table)}")
    return np.abs(np.concatenate([one.corrected for one in found]))


def test_the_molar_mass_is_recovered(table):
    errors = all_errors(table)
    assert np.median(errors) < 0.2
    assert errors.max() < 1.0


def test_the_shortcut_is_far_off(table):
    ideal = np.abs(np.concatenate([one.ideal for one in recoveries(table)]))
    assert np.median(ideal) > 5.0
    assert ideal.max() > 30.0


def test_every_fluid_takes_part(table):
    fluids = reference_fluids()
    assert {fluid.name for fluid in fluids if why_absent(fluid, table)} == {"SES36"}  # a mixture
    weighed = {one.fluid.name for one in recoveries(table)}
    assert weighed == {fluid.name for fluid in fluids} - {"SES36"}
    assert len(weighed) >= 25


def card_of(fluid: Fluid) -> dict[str, float]:
    """Percent composition by element, from the formula that the library ``chemicals`` lists."""
    atoms = simple_formula_parser(search_chemical(fluid.cas).formula)
    return {element: 100.0 * share for element, share in mass_fractions(atoms).items()}


def written(weighing: Generated) -> Measurement:
    """Return what a notebook would say, boiling point read at the laboratory's pressure."""
    laboratory, flask = weighing.laboratory, weighing.flask
    empty = 98.0  # g
    return Measurement(
        label=weighing.fluid.name,
        boiling_point=weighing.fluid.boiling_point(laboratory.pressure) - ZERO_CELSIUS,
        boiling_point_at=f"{laboratory.pressure} Pa",
        percent=card_of(weighing.fluid),
        conditions=Conditions(
            pressure=f"{laboratory.pressure} Pa",
            room=laboratory.room - ZERO_CELSIUS,
            humidity=100.0 * laboratory.humidity,
        ),
        flask=WrittenFlask(
            volume=1e6 * flask.volume, water_temperature=flask.temperature - ZERO_CELSIUS
        ),
        trials=[Trial(empty, empty + 1e3 * weighing.gain, weighing.bath - ZERO_CELSIUS)],
    )


@pytest.mark.parametrize(
    "fluid",
    [fluid for fluid in reference_fluids() if fluid.name != "SES36"],
    ids=lambda fluid: fluid.name,
)
def test_the_right_candidate_comes_first(fluid, table):
    weighings = list(weighings_of(fluid))
    assert weighings
    expectation = Expectation.of(table)
    for weighing in weighings:
        ranking = match(written(weighing))
        assert ranking.candidates[0].cas == fluid.cas
        assert ranking.candidates[0].plausible
        # The match makes of the notebook what the arrays make of the exact numbers.
        direct = weighing.recovered(expectation, table.find(fluid.cas)[0])
        assert ranking.molar_mass.value == pytest.approx(direct, rel=1e-6)
        assert ranking.molar_mass.ideal_gas == pytest.approx(weighing.ideal, rel=1e-6)


# ------------------------------------------------------------------------ the generator itself


def test_a_flask_that_condenses_nothing_holds_the_vapor_at_its_own_pressure():
    laboratory, flask = Laboratory(ATMOSPHERE, 303.15), Flask()
    bath = laboratory.water_bath
    mass = vapor_mass(PENTANE, bath, laboratory, flask)
    density = mass / flask.volume_at(laboratory.room)
    pressure = PropsSI("P", "T", laboratory.room, "D", density, PENTANE.name)
    assert pressure < PropsSI("P", "T", laboratory.room, "Q", 1, PENTANE.name)
    air_lost = laboratory.air_density * flask.volume_at(laboratory.room) * pressure / ATMOSPHERE
    shown = balance_gain(PENTANE, mass, laboratory, flask)
    assert shown * (1.0 - laboratory.air_density / 8000.0) == pytest.approx(mass - air_lost)


@pytest.mark.parametrize("room", ROOMS)
def test_the_gain_is_continuous_where_the_last_drop_goes(room):
    laboratory, flask = Laboratory(ATMOSPHERE, room + ZERO_CELSIUS), Flask()
    density = PropsSI("D", "T", laboratory.room, "Q", 1, PENTANE.name)
    dew = density * flask.volume_at(laboratory.room)
    below, above = (
        balance_gain(PENTANE, dew * factor, laboratory, flask) for factor in (1 - 1e-7, 1 + 1e-7)
    )
    assert above == pytest.approx(below, rel=1e-6)


def test_a_liquid_that_does_not_boil_cannot_be_weighed():
    laboratory = Laboratory(ATMOSPHERE, 295.15)
    with pytest.raises(ValueError, match="does not boil"):
        vapor_mass(Fluid("n-Heptane", "142-82-5"), 370.0, laboratory, Flask())
    with pytest.raises(ValueError, match="boils in a room"):
        balance_gain(PENTANE, 1e-3, Laboratory(ATMOSPHERE, 315.15), Flask())


def test_a_room_that_nobody_read_moves_the_molar_mass_by_what_the_budget_says(table):
    """Rooms anywhere from 16 to 28 °C, taken as usual: 95 % of the intervals hold the truth."""
    generator = np.random.default_rng(22)
    inside, fluids = [], set()
    for fluid in (one for one in reference_fluids() if not why_absent(one, table)):
        for pressure, celsius in product(PRESSURES, generator.uniform(16.0, 28.0, size=4)):
            laboratory = Laboratory(pressure, celsius + ZERO_CELSIUS)
            boiling, bath = fluid.boiling_point(pressure), laboratory.water_bath
            if not laboratory.room + BOILS_ABOVE_ROOM <= boiling < bath:
                continue
            gain = balance_gain(
                fluid, vapor_mass(fluid, bath, laboratory, Flask()), laboratory, Flask()
            )
            page = written(Generated(fluid, laboratory, Flask(), bath, gain))
            page = replace(page, conditions=replace(page.conditions, room=None))
            found = molar_mass(page, fluid.cas, candidates=table, draws=0)
            assert "room, assumed" in {line.input for line in found.budget.lines}
            inside.append(abs(found.value - fluid.molar_mass) <= found.expanded_uncertainty)
            fluids.add(fluid.name)
    print(f"\n{len(fluids)} fluids, {np.mean(inside):.1%} of {len(inside)} intervals")
    assert len(fluids) >= 25
    assert np.mean(inside) >= 0.95
