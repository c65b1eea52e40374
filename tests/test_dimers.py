"""Vapors of half dimers: the physics, the constants by structure, and what becomes of them."""

from __future__ import annotations

import numpy as np
import pytest

from identify import Conditions, Flask, Measurement, Trial, match
from identify.bench.laboratory import Laboratory
from identify.calculations.molar_mass import molar_mass
from identify.compounds.loading import load_candidates
from identify.compounds.published.vapor.dimers import dimers_of, with_dimers
from identify.compounds.table import NUMBER_COLUMNS, TEXT_COLUMNS
from identify.physics.constants import GAS_CONSTANT
from identify.physics.dimers import (
    dimerization,
    dimerization_constant,
    particles_at_concentration,
    particles_at_pressure,
)
from identify.physics.vapor import Liquid, Vapor, Weighing, gain, implied_molar_mass
from identify.planning.pool.conditions import LiquidConditions, Sieve

ACETIC = dimerization(-60612.0, -144.5)


def weighing(bath: float = 398.15, pressure: float = 101325.0) -> Weighing:
    read = (0.0, bath, 295.15, pressure, 280e-6, 293.15, 0.5)
    return Weighing(*(np.array([value]) for value in read))


def liquids(dimers: np.ndarray | None) -> Liquid:
    constants = (
        np.array([391.2, 391.2]),
        np.tile([12.0, -2.0, 0.0], (2, 1)),
        np.tile([-1e-3, 0.0, 0.0, 0.0], (2, 1)),
        np.array([1045.0, 1045.0]),
    )
    return Liquid(*constants) if dimers is None else Liquid(*constants, dimers)


@pytest.mark.parametrize(
    ("temperature", "pressure", "expected"),
    [
        (391.2, 1e-3, 1.0),  # hardly any vapor, and no dimers
        (250.0, 1e5, 0.5),  # cold and dense: nothing but dimers
        # By hand: K P = 3.54 x 1.01325, x = 2 / (1 + sqrt(1 + 4 K P)) = 0.408
        (391.2, 101325.0, 0.628),
    ],
)
def test_particles(temperature: float, pressure: float, expected: float) -> None:
    found = particles_at_pressure(temperature, pressure, ACETIC)
    assert float(found) == pytest.approx(expected, abs=0.01)


def test_pressure_and_concentration_say_the_same() -> None:
    temperature, pressure = np.linspace(290.0, 450.0, 9), np.logspace(1, 5, 9)
    by_pressure = particles_at_pressure(temperature, pressure, ACETIC)
    concentration = pressure / (by_pressure * GAS_CONSTANT * temperature)
    by_concentration = particles_at_concentration(temperature, concentration, ACETIC)
    assert np.allclose(by_pressure, by_concentration, rtol=1e-12)


def test_equilibrium_holds() -> None:
    constant = float(dimerization_constant(400.0, ACETIC))
    particles = float(particles_at_pressure(400.0, 9e4, ACETIC))
    single = 2.0 - 1.0 / particles  # share of the particles that are single molecules
    assert (1.0 - single) * 9e4 == pytest.approx(constant * (single * 9e4) ** 2, rel=1e-12)


def test_no_dimers_where_nothing_is_known() -> None:
    assert float(particles_at_pressure(300.0, 1e5, dimerization(np.nan, np.nan))) == 1.0
    none, unsaid = liquids(np.full((2, 2), [-np.inf, 0.0])), liquids(None)
    assert unsaid.dimerizing.size == 0
    first, second = (implied_molar_mass(weighing(), one) for one in (none, unsaid))
    assert np.array_equal(first, second)


def test_only_the_acid_among_others_dimerizes() -> None:
    mixed = liquids(np.array([[-np.inf, 0.0], ACETIC]))
    assert mixed.dimerizing.tolist() == [1]
    plain, both = Vapor.of(weighing(), liquids(None)), Vapor.of(weighing(), mixed)
    assert both.compressibility[0, 0] == plain.compressibility[0, 0]
    assert both.compressibility[0, 1] == pytest.approx(0.65 * plain.compressibility[0, 1], abs=0.02)


def test_gain_inverts_the_implied_molar_mass() -> None:
    mixed = liquids(np.array([[-np.inf, 0.0], ACETIC]))
    shown = gain(np.array([0.06005, 0.06005]), weighing(), mixed)
    for place in (0, 1):
        read = (shown[0, place], 398.15, 295.15, 101325.0, 280e-6, 293.15, 0.5)
        again = implied_molar_mass(Weighing(*(np.array([value]) for value in read)), mixed)
        assert again[0, place] == pytest.approx(0.06005, rel=1e-12)
    assert shown[0, 1] > 1.5 * shown[0, 0]


def test_liquids_keep_their_constants_when_some_are_taken() -> None:
    mixed = liquids(np.array([[-np.inf, 0.0], ACETIC]))
    assert mixed.take(np.array([1])).dimerizing.tolist() == [0]
    assert mixed.take(np.array([[0], [1], [1]])).dimers.shape == (3, 1, 2)


@pytest.mark.parametrize(
    ("smiles", "uncertainty"),
    [
        ("OC=O", 0.15),
        ("OC(C)=O", 0.15),
        ("OC(=O)C(F)(F)F", 0.3),
        ("CC(C)(C)C(=O)O", 0.4),  # as its homologues
        ("OC(=O)c1ccccc1", 0.4),
        ("FC(F)(F)C(F)(F)C(=O)O", 0.5),  # as trifluoroacetic acid
        ("OC(=O)C(Cl)Cl", 0.5),
        ("CC(=O)C(=O)O", None),  # holds its hydrogen itself
        ("OC(=O)CC(=O)O", None),
        ("NCC(=O)O", None),
        ("CC(=O)OC", None),
        ("COC(=O)O", None),  # a half ester of carbonic acid
        ("NC(=O)O", None),
        ("CCO", None),
    ],
)
def test_constants_by_structure(smiles: str, uncertainty: float | None) -> None:
    from rdkit import Chem

    found = dimers_of(Chem.MolFromSmiles(smiles))
    assert (None if found is None else found.uncertainty) == uncertainty


def test_a_plan_leaves_them_out_and_says_why() -> None:
    table = load_candidates()
    names = ("trifluoroacetic acid", "ethyl acetate", "ethanol")
    shelf = table.take([table.find(name)[0] for name in names])
    sieve = Sieve(shelf, LiquidConditions(), Laboratory.of())
    report, left = sieve.sieved()
    assert left.tolist() == [1, 2]
    (said,) = [one for one in report if "dimers" in one.text]
    assert said.examples == ("trifluoroacetic acid",)
    assert any("dimers" in one for one in sieve.objections(0))


def test_a_molar_mass_says_what_the_dimers_make() -> None:
    run = Measurement(
        "T-1",
        conditions=Conditions(pressure="742.0 mmHg", room="22.0 C"),
        flask=Flask(volume="280.0 mL"),
        trials=[Trial(gain="1.4613 g", bath="98.9 C")],
    )
    found = molar_mass(run, identity="trifluoroacetic acid", draws=20_000, technique="none")
    assert found.value == pytest.approx(113.97, abs=0.05)
    assert found.ideal_gas == pytest.approx(163.2, abs=0.1)
    changes = {one.name: one.change for one in found.corrections}
    assert changes["dimers in the vapor"] < -40.0
    assert found.ideal_gas + sum(changes.values()) == pytest.approx(found.value)
    (line,) = [one for one in found.budget.lines if "dimerization" in one.input]
    assert line.standard_uncertainty == pytest.approx(30.0)
    # A tenth of that of the constant, where half are dimers: d ln M / d ln K by hand.
    assert line.contribution == pytest.approx(0.3 * 0.12 * 114.0, rel=0.05)
    assert found.simulation is not None
    assert found.simulation.standard_uncertainty == pytest.approx(line.contribution, rel=0.05)
    other = molar_mass(run, identity="acetone", draws=0)
    assert not any("dimer" in one.name for one in other.corrections)
    assert not any("dimer" in one.input for one in other.budget.lines)


def test_a_right_page_of_an_acid_is_no_slip() -> None:
    run = Measurement(
        "T-1",
        boiling_point=72.1,
        conditions=Conditions(pressure="742.0 mmHg", room="22.0 C"),
        flask=Flask(volume="280.0 mL"),
        trials=[Trial(gain="1.4613 g", bath="98.9 C")],
    )
    ranking = match(run, prior="commerce")
    assert ranking.candidates[0].name == "trifluoroacetic acid"
    assert not ranking.slips


def test_the_built_in_table_has_them() -> None:
    table = load_candidates()
    made = with_dimers(table)
    for column in TEXT_COLUMNS:
        assert made.text(column) == table.text(column)
    for column in NUMBER_COLUMNS:
        assert np.allclose(made.number(column), table.number(column), rtol=1e-6, equal_nan=True)
    known = np.isfinite(table.number("dimer_u"))
    groups = np.array(["carboxylic acid" in one for one in table.text("groups")])
    assert known.sum() > 250
    assert not (known & ~groups).any()
    assert all(source for source, one in zip(table.text("dimer_source"), known, strict=True) if one)
