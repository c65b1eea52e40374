"""What a plan may choose from, how well a class reads, and the plan as a whole."""

from __future__ import annotations

from dataclasses import replace
from math import inf, log

import numpy as np
import pytest

from identify import load_candidates
from identify.bench.laboratory import Laboratory
from identify.compounds.table import CandidateTable
from identify.notebook.quantity.quantities import QuantityError
from identify.observables.tolerances import Tolerances
from identify.planning.plan import PlanRequest, make_plan
from identify.planning.pool.conditions import FROM_TABLE, LiquidConditions, Sieve
from identify.planning.pool.fitness import unfit
from identify.planning.pool.liquid_pool import LiquidPool, NamedLiquids, pool_of
from identify.planning.precision import INSTRUMENTS, ClassSetup, precision_of
from identify.planning.requirements import Goal
from identify.planning.result import PlanError, Precision

TABLE = load_candidates()
LABORATORY = Laboratory()


def row(name: str) -> int:
    (found,) = (place for place in TABLE.find(name) if TABLE.text("name")[place] == name)
    return found


def names(pool: LiquidPool) -> set[str]:
    return set(pool.table.text("name"))


# --------------------------------------------------------------------------------- the conditions


@pytest.mark.parametrize(
    ("conditions", "stays", "goes"),
    [
        (
            LiquidConditions(),
            "acetone",
            "dichloromethane",
        ),  # 39.7 C: nearer than 30 K to the room
        (LiquidConditions(), "triethylamine", "2-pentanol"),  # 119 C does not boil off
        (LiquidConditions(), "isopropanol", "tert-butanol"),  # melts at 25.8 C
        (LiquidConditions(boils_above=350.0), "ethanol", "methanol"),
        (LiquidConditions(boils_below=350.0), "methanol", "ethanol"),
        (LiquidConditions(commonly_sold=6), "acetone", "2-bromopropane"),
        (LiquidConditions(no_carcinogens=True), "cyclohexane", "benzene"),
        (LiquidConditions(no_carcinogens=True), "ethanol", "chloroform"),
        (LiquidConditions(flash_point_above=-21.0), "acetone", "diisopropyl ether"),
        (LiquidConditions(flash_point_above=-50.0), "acetone", "chloroform"),  # none is known
        (LiquidConditions(exposure_limit_above=10.0), "acetone", "carbon tetrachloride"),
        (
            LiquidConditions(exposure_limit_above=10.0),
            "ethanol",
            "diethylamine",
        ),  # unknown
        (LiquidConditions(elements=("C", "H", "O")), "ethyl acetate", "acetonitrile"),
        (LiquidConditions(elements=("C", "H")), "cyclohexane", "ethyl acetate"),
        (LiquidConditions(ordinary=True), "ethyl acetate", "acetyl chloride"),
    ],
)
def test_condition_keeps_one_and_takes_out_another(
    conditions: LiquidConditions, stays: str, goes: str
) -> None:
    kept = names(pool_of(TABLE, conditions, LABORATORY, 2))
    row(goes)  # it is in the table
    assert stays in kept
    assert goes not in kept


def test_boiling_limits_follow_the_laboratory() -> None:
    high = Laboratory.of(pressure="600 mmHg", room="18 C")
    here, there = (names(pool_of(TABLE, LiquidConditions(), one, 2)) for one in (LABORATORY, high))
    # At 600 mmHg acrolein boils at 46 C instead of 52.5, less than 30 K above the room there.
    assert "acrolein" in here - there
    assert "1-chlorobutane" in here & there


def test_each_condition_is_accounted_for() -> None:
    pool = pool_of(TABLE, FROM_TABLE, LABORATORY, 12)
    before = len(TABLE)
    for one in pool.sieved:
        assert one.left + one.removed == before, one.text
        assert len(one.examples) == min(one.removed, 4)
        before = one.left
    assert before == len(pool.table)
    assert [one.option for one in pool.sieved if one.option] == [
        "--boils-above, --boils-below",
        "--room",
        "--commonly-sold",
        "--no-carcinogens",
        "--exposure-limit-above",
        "--ordinary",
    ]


def test_unknown_flash_points_are_left_out_and_counted() -> None:
    pool = pool_of(TABLE, LiquidConditions(flash_point_above=-300.0), LABORATORY, 2)
    without = pool_of(TABLE, LiquidConditions(), LABORATORY, 2)
    flash = next(one for one in pool.sieved if one.option == "--flash-point-above")
    assert flash.removed == flash.unknown > 0
    unknown = np.isnan(without.table.number("flash_point_C"))
    assert flash.unknown == int(unknown.sum())


def test_too_few_names_the_condition_that_costs_most() -> None:
    strict = replace(FROM_TABLE, elements=("C", "H", "O"), flash_point_above=0.0)
    with pytest.raises(PlanError) as refused:
        pool_of(TABLE, strict, LABORATORY, 12)
    sieve = Sieve(TABLE, strict, LABORATORY)
    left = len(sieve.sieved()[1])
    counts = {condition.text: sieve.left_without(condition) for condition in sieve.conditions}
    costs_most = max(counts, key=lambda text: counts[text])
    said = str(refused.value)
    assert said.startswith(f"{left} liquids remain under these conditions for a plan of 12; ")
    assert f"without asking that they {costs_most}" in said
    assert said.endswith(f"there would be {counts[costs_most]}")


@pytest.mark.parametrize(
    ("named", "said"),
    [
        (NamedLiquids(["toluene"]), "does not boil off in a bath of 99.0 °C"),
        (NamedLiquids(["acetaldehyde"]), "which is no warmer than the room"),
        (
            NamedLiquids(["bottle seven"]),
            '--must-have: "bottle seven" is not a compound known here',
        ),
        (
            NamedLiquids((), ["bottle seven"]),
            '--without: "bottle seven" is not a compound known here',
        ),
        (
            NamedLiquids(["acetone"], ["67-64-1"]),
            "acetone stands under --must-have and under --without",
        ),
        (
            NamedLiquids(["acetone", "ethanol", "hexane"]),
            "--must-have names 3 liquids for a plan of 2",
        ),
    ],
)
def test_names_that_cannot_be_used(named: NamedLiquids, said: str) -> None:
    with pytest.raises(PlanError) as refused:
        pool_of(TABLE, LiquidConditions(), LABORATORY, 2, named)
    assert said in str(refused.value)


def test_named_liquids_go_before_the_conditions() -> None:
    named = NamedLiquids(["benzene", "67-64-1"], ["methanol"])
    pool = pool_of(TABLE, FROM_TABLE, LABORATORY, 4, named)
    held = pool.table.text("name")
    assert [held[place] for place in pool.must_have] == ["benzene", "acetone"]
    assert "methanol" not in held
    assert list(pool.against) == [held.index("benzene")]
    (objections,) = pool.against.values()
    assert [text.split(" ")[:3] for text in objections] == [
        ["are", "on", "no"],
        ["have", "no", "exposure"],
    ]


@pytest.mark.parametrize(
    ("cas", "reason"),
    [
        ("64-17-5", ""),
        ("67-64-1", ""),
        ("141-78-6", ""),
        ("109-99-9", ""),
        ("110-02-1", ""),  # thiophene
        ("75-36-5", "reacts with water"),  # acetyl chloride
        ("75-77-4", "reacts with water"),  # chlorotrimethylsilane
        ("151-56-4", "alkylates"),  # aziridine
        ("106-88-7", "alkylates"),  # 1,2-epoxybutane
        ("74-88-4", "alkylates"),  # methyl iodide
        ("107-05-1", "alkylates"),  # allyl chloride
        ("107-30-2", "alkylates"),  # chloromethyl methyl ether
        ("107-02-8", "unsaturated carbonyl or nitrile"),  # acrolein
        ("107-13-1", "unsaturated carbonyl or nitrile"),  # acrylonitrile
        ("60-34-4", "unstable nitrogen or peroxide"),  # methylhydrazine
        ("75-15-0", "poisonous in small amounts"),  # carbon disulfide
        ("107-11-9", "poisonous in small amounts"),  # allylamine
        ("107-03-9", "stench"),  # 1-propanethiol
        ("76-05-1", "strong or corrosive acid"),  # trifluoroacetic acid
        ("76-13-1", "depletes ozone"),  # 1,1,2-trichlorotrifluoroethane
        ("71-55-6", "depletes ozone"),  # 1,1,1-trichloroethane
    ],
)
def test_unfit_by_structure(cas: str, reason: str) -> None:
    (place,) = TABLE.find(cas)
    assert unfit(TABLE, [place]).get(place, "") == reason


# ---------------------------------------------------------------------------------- the precision


@pytest.mark.parametrize(
    ("field", "written", "value"),
    [
        ("balance", "0.001g", 0.001),
        ("balance", "0.1 mg", 1e-4),
        ("balance", "0,01", 0.01),
        ("barometer", "0.5 mmHg", 0.5),
        ("barometer", "1 hPa", 0.750062),
        ("bath_thermometer", "0.9 F", 0.5),
        ("room_thermometer", "0.2 K", 0.2),
        ("volume", "0.5%", 0.5),
        ("technique", "2 %", 2.0),
        ("boiling_point", "1 C", 1.0),
        ("percent", "0.3", 0.3),
        ("percent", "0.3 points", 0.3),
        ("percent", "none", inf),
    ],
)
def test_precision_is_read(field: str, written: str, value: float) -> None:
    read = precision_of({field: written, **{name: None for name in INSTRUMENTS if name != field}})
    assert getattr(read, field) == pytest.approx(value, rel=1e-6)
    assert read == Precision(**{field: getattr(read, field)})


@pytest.mark.parametrize(
    ("field", "written"),
    [
        ("balance", "1 C"),
        ("balance", "fine"),
        ("balance", "-0.001 g"),
        ("balance", "0"),
        ("balance", "2 g"),
        ("technique", "200 %"),
        ("boiling_point", "none"),
        ("percent", ""),
    ],
)
def test_precision_that_is_none(field: str, written: str) -> None:
    with pytest.raises(QuantityError) as refused:
        precision_of({field: written})
    assert refused.value.field == field


COMMON = ("67-56-1", "64-17-5", "67-64-1", "79-20-9", "141-78-6", "110-54-3", "110-82-7", "67-63-0")


def common() -> CandidateTable:
    return TABLE.take([TABLE.find(cas)[0] for cas in COMMON])


def test_usual_precision_is_half_the_usual_tolerance() -> None:
    relative = ClassSetup.of(common(), LABORATORY, Precision()).molar_mass_uncertainty()
    assert (relative > 0.0245).all()
    assert (relative < 0.0255).all()
    tolerances = ClassSetup.of(common(), LABORATORY, Precision()).tolerances()
    usual = Tolerances()
    assert tolerances.molar_mass == pytest.approx(usual.molar_mass, rel=0.02)
    assert (tolerances.boiling_point, tolerances.percent) == (usual.boiling_point, usual.percent)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        # By hand: 0.773 g are gained, 0.038 g of air are shut out, which grows with the flask as
        # the vapor does; together the vapor's 0.811 g.
        ({"technique": 2.0}, 2.0),
        ({"volume": 1.0}, 0.773 / 0.811),
        ({"technique": 3.0, "volume": 4.0}, (9.0 + (4.0 * 0.773 / 0.811) ** 2) ** 0.5),
        ({"balance": 0.01}, 100.0 * 0.01 * 2**0.5 / 0.811),
    ],
)
def test_molar_mass_uncertainty_by_hand(change: dict[str, float], expected: float) -> None:
    nothing = Precision(**dict.fromkeys(INSTRUMENTS, 1e-9))
    cyclohexane = TABLE.take([row("cyclohexane")])
    setup = ClassSetup.of(cyclohexane, LABORATORY, replace(nothing, **change))
    assert 100.0 * setup.molar_mass_uncertainty()[0] == pytest.approx(expected, rel=0.005)


# --------------------------------------------------------------------------------------- the plan


def test_plan_holds_together() -> None:
    plan = make_plan(PlanRequest(6, named=NamedLiquids(["acetone"], ["methanol"]), runs=40))
    held = [liquid.name for liquid in plan.liquids]
    assert len(set(held)) == 6
    assert "acetone" in held
    assert "methanol" not in held
    assert plan.is_proved
    assert plan.confusion.sum(axis=1) == pytest.approx(np.ones(6))
    nearest = min(liquid.separation for liquid in plan.liquids)
    assert nearest == pytest.approx(plan.smallest_separation, rel=1e-12)
    for liquid, share in zip(plan.liquids, np.diagonal(plan.confusion), strict=True):
        assert liquid.success_low <= liquid.success == share <= liquid.success_high
        assert liquid.nearest in set(held) - {liquid.name}
    assert [one.instrument for one in plan.requirements] == list(INSTRUMENTS)
    assert {"flash-points"} <= {finding.code for finding in plan.findings}


def test_same_seed_same_plan() -> None:
    wanted = PlanRequest(5, runs=30, seed=7)
    first, second = (make_plan(wanted, precision=precision_of({"percent": "none"})) for _ in "ab")
    assert first.to_dict() == second.to_dict()


def test_separation_is_that_of_its_readings() -> None:
    plan = make_plan(PlanRequest(2, named=NamedLiquids(["ethanol", "acetone"]), runs=5))
    ethanol, acetone = (TABLE.take([row(name)]) for name in ("ethanol", "acetone"))
    squares = ((TABLE.percent[row("ethanol")] - TABLE.percent[row("acetone")]) / 0.2) ** 2
    boiling = float((ethanol.number("boiling_point_C") - acetone.number("boiling_point_C"))[0])
    masses = [float(one.number("molar_mass")[0]) for one in (ethanol, acetone)]
    molar_mass = log(masses[0] / masses[1]) / (0.005 * plan.tolerances.molar_mass)
    by_hand = (squares.sum() + boiling**2 + molar_mass**2) ** 0.5
    # The middle molar mass of the pool is known a thousandth better or worse than that of the two.
    assert plan.smallest_separation == pytest.approx(by_hand, rel=1e-3)


@pytest.mark.parametrize(
    ("name", "codes"),
    [
        ("benzene", {"carcinogen", "exposure-limit-low", "against-conditions"}),
        ("ethanol", {"carcinogen"}),
        ("ethyl acetate", set()),
    ],
)
def test_findings_of_a_liquid(name: str, codes: set[str]) -> None:
    plan = make_plan(PlanRequest(3, named=NamedLiquids([name]), runs=5))
    (liquid,) = (one for one in plan.liquids if one.name == name)
    assert {finding.code for finding in liquid.findings} == codes


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda: PlanRequest(1), "a plan of 1 has nothing to tell apart"),
        (lambda: PlanRequest(3, runs=0), "0 runs say nothing"),
        (lambda: LiquidConditions(elements=("Xx",)), '"Xx" is not one of C H N'),
        (lambda: Goal(1.5), "150 % is none"),
        (lambda: Goal(0.9, "best"), '"best" is not one of mean, worst'),
    ],
)
def test_plans_that_are_none(wrong: object, said: str) -> None:
    assert callable(wrong)
    with pytest.raises(ValueError, match=said):
        wrong()
