"""What a plan may choose from, how well a class reads, and the choice itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from math import inf, log

import numpy as np
import pytest
from scipy.spatial.distance import pdist, squareform

from identify import load_candidates
from identify.candidates.table import CandidateTable
from identify.laboratory import Laboratory
from identify.matching.likelihood import Tolerances
from identify.matching.separation import Separations
from identify.planning import choice as choosing
from identify.planning import packing
from identify.planning.choice import choose
from identify.planning.conditions import FROM_TABLE, Conditions, Sieve
from identify.planning.fitness import unfit
from identify.planning.plan import Wanted, make_plan
from identify.planning.pool import Named, Pool, pool_of
from identify.planning.precision import INSTRUMENTS, USUAL, class_setup, precision_of
from identify.planning.requirements import Goal
from identify.planning.result import PlanError
from identify.quantities import QuantityError

TABLE = load_candidates()
LABORATORY = Laboratory()
Array = np.ndarray


def row(name: str) -> int:
    (found,) = (place for place in TABLE.find(name) if TABLE.text("name")[place] == name)
    return found


def names(pool: Pool) -> set[str]:
    return set(pool.table.text("name"))


# --------------------------------------------------------------------------------- the conditions


@pytest.mark.parametrize(
    ("conditions", "stays", "goes"),
    [
        (Conditions(), "acetone", "dichloromethane"),  # 39.7 C is nearer to the room than 30 K
        (Conditions(), "triethylamine", "2-pentanol"),  # 119 C does not boil off
        (Conditions(), "isopropanol", "tert-butanol"),  # melts at 25.8 C
        (Conditions(boils_above=350.0), "ethanol", "methanol"),
        (Conditions(boils_below=350.0), "methanol", "ethanol"),
        (Conditions(commonly_sold=6), "acetone", "2-bromopropane"),
        (Conditions(no_carcinogens=True), "cyclohexane", "benzene"),
        (Conditions(no_carcinogens=True), "ethanol", "chloroform"),
        (Conditions(flash_point_above=-21.0), "acetone", "diisopropyl ether"),
        (Conditions(flash_point_above=-50.0), "acetone", "chloroform"),  # none is known
        (Conditions(exposure_limit_above=10.0), "acetone", "carbon tetrachloride"),
        (Conditions(exposure_limit_above=10.0), "ethanol", "diethylamine"),  # ethanol: unknown
        (Conditions(elements=("C", "H", "O")), "ethyl acetate", "acetonitrile"),
        (Conditions(elements=("C", "H")), "cyclohexane", "ethyl acetate"),
        (Conditions(ordinary=True), "ethyl acetate", "acetyl chloride"),
    ],
)
def test_condition_keeps_one_and_takes_out_another(
    conditions: Conditions, stays: str, goes: str
) -> None:
    kept = names(pool_of(TABLE, conditions, LABORATORY, 2))
    row(goes)  # it is in the table
    assert stays in kept
    assert goes not in kept


def test_boiling_limits_follow_the_laboratory() -> None:
    high = Laboratory.of(pressure="600 mmHg", room="18 C")
    here, there = (names(pool_of(TABLE, Conditions(), one, 2)) for one in (LABORATORY, high))
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
    pool = pool_of(TABLE, Conditions(flash_point_above=-300.0), LABORATORY, 2)
    without = pool_of(TABLE, Conditions(), LABORATORY, 2)
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
        (Named(["toluene"]), "does not boil off in a bath of 99.0 °C"),
        (Named(["acetaldehyde"]), "which is no warmer than the room"),
        (Named(["bottle seven"]), '--must-have: "bottle seven": no such compound'),
        (Named((), ["bottle seven"]), '--without: "bottle seven": no such compound'),
        (Named(["acetone"], ["67-64-1"]), "acetone stands under --must-have and under --without"),
        (Named(["acetone", "ethanol", "hexane"]), "--must-have names 3 liquids for a plan of 2"),
    ],
)
def test_names_that_cannot_be_used(named: Named, said: str) -> None:
    with pytest.raises(PlanError) as refused:
        pool_of(TABLE, Conditions(), LABORATORY, 2, named)
    assert said in str(refused.value)


def test_named_liquids_go_before_the_conditions() -> None:
    named = Named(["benzene", "67-64-1"], ["methanol"])
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
    assert read == replace(USUAL, **{field: getattr(read, field)})


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
    relative = class_setup(common(), LABORATORY, USUAL).molar_mass_uncertainty()
    assert (relative > 0.0245).all()
    assert (relative < 0.0255).all()
    tolerances = class_setup(common(), LABORATORY, USUAL).tolerances()
    usual = Tolerances()
    assert tolerances.molar_mass == pytest.approx(usual.molar_mass, rel=0.02)
    assert (tolerances.boiling_point, tolerances.percent) == (usual.boiling_point, usual.percent)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        # By hand for one that barely stays vapor: M = m R T / (P V), each relative error alone.
        ({"technique": 2.0}, 2.0),
        ({"volume": 1.0}, 1.0),
        ({"technique": 3.0, "volume": 4.0}, 5.0),
        ({"balance": 0.01}, 100.0 * 0.01 * 2**0.5 / 0.789),  # of the vapor's 0.789 g
    ],
)
def test_molar_mass_uncertainty_by_hand(change: dict[str, float], expected: float) -> None:
    nothing = replace(USUAL, **dict.fromkeys(INSTRUMENTS, 1e-9))
    cyclohexane = TABLE.take([row("cyclohexane")])
    setup = class_setup(cyclohexane, LABORATORY, replace(nothing, **change))
    assert 100.0 * setup.molar_mass_uncertainty()[0] == pytest.approx(expected, rel=0.03)


# ------------------------------------------------------------------------------------- the choice


def separations(table: CandidateTable) -> Array:
    tolerances = class_setup(table, LABORATORY, USUAL).tolerances()
    return Separations(table, tolerances).points


def by_trying_all(points: Array, size: int, must_have: Sequence[int] = ()) -> tuple[int, ...]:
    """Return the best of all sets: the largest smallest distance, then the next smallest."""
    distances = squareform(pdist(points))
    best: tuple[tuple[float, ...], tuple[int, ...]] = ((), ())
    pairs = np.triu_indices(size, 1)
    for rows in combinations(range(len(points)), size):
        if set(must_have) <= set(rows):
            sorted_distances = tuple(np.sort(distances[np.ix_(rows, rows)][pairs]))
            best = max(best, (sorted_distances, rows))
    return best[1]


def drawn_pool(seed: int, size: int) -> Array:
    everything = pool_of(TABLE, Conditions(commonly_sold=3), LABORATORY, 2)
    rows = np.random.default_rng(seed).choice(len(everything.table), size, replace=False)
    return separations(everything.table.take(np.sort(rows)))


@pytest.mark.parametrize("seed", range(4))
def test_ten_of_sixteen_against_all_sets(seed: int) -> None:
    points = drawn_pool(seed, 16)
    found = choose(points, 10)
    assert found.is_proved
    assert found.rows == by_trying_all(points, 10)
    assert found.smallest == found.at_most == pdist(points[list(found.rows)]).min()


@pytest.mark.parametrize("observables", [2, 14])
@pytest.mark.parametrize("seed", range(10, 16))
def test_five_of_twelve_against_all_sets(seed: int, observables: int) -> None:
    points = drawn_pool(seed, 12)[:, :observables]
    assert choose(points, 5).rows == by_trying_all(points, 5)


@pytest.mark.parametrize("must_have", [(3,), (0, 7), (2, 5, 6), (1, 2, 3, 4, 5)])
def test_what_must_be_had_against_all_sets(must_have: tuple[int, ...]) -> None:
    points = drawn_pool(20, 12)[:, :2]
    assert choose(points, 5, must_have).rows == by_trying_all(points, 5, must_have)


@pytest.mark.parametrize("seed", range(3))
def test_choice_without_proof_lies_between_its_bounds(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    points = drawn_pool(seed, 60)[:, :2]
    proved = choose(points, 10)
    monkeypatch.setattr(choosing, "MOST_PROVED", 30)
    monkeypatch.setattr(choosing, "_THINNED", 20)
    seen = choose(points, 10, seed=seed)
    assert not seen.is_proved
    assert 0.8 * proved.smallest <= seen.smallest <= proved.smallest <= seen.at_most
    assert seen == choose(points, 10, seed=seed)
    held = choose(points, 10, must_have=[4, 9], seed=seed)
    assert {4, 9} <= set(held.rows)


def test_question_that_stays_open_is_no_proof(monkeypatch: pytest.MonkeyPatch) -> None:
    points = np.random.default_rng(5).uniform(size=(60, 3))
    proved = choose(points, 12)

    def give_up(*_: object) -> None:
        raise packing.Undecided

    monkeypatch.setattr(packing, "_by_integers", give_up)
    found = choose(points, 12)
    assert not found.is_proved
    assert found.smallest <= proved.smallest <= found.at_most


def test_choice_does_not_depend_on_the_order() -> None:
    points = drawn_pool(30, 40)
    order = np.random.default_rng(1).permutation(len(points))
    first, second = choose(points, 8), choose(points[order], 8)
    assert set(first.rows) == {int(order[place]) for place in second.rows}


def test_same_points_are_never_a_proof_of_distance() -> None:
    points = np.array([[0.0], [0.0], [1.0]])
    assert choose(points, 2).smallest == 1.0
    assert choose(points, 3).smallest == 0.0


@pytest.mark.parametrize(("size", "must_have"), [(0, ()), (4, ()), (1, (0, 1))])
def test_choice_that_is_none(size: int, must_have: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="points"):
        choose(np.arange(3.0)[:, np.newaxis], size, must_have)


def ring(size: int) -> Array:
    """Return points of which each is near its two neighbors alone: distances 1 and 2."""
    steps = np.abs(np.subtract.outer(np.arange(size), np.arange(size)))
    apart = np.minimum(steps, size - steps)
    return np.where(apart == 0, 0.0, np.where(apart == 1, 1.0, 2.0))


@pytest.mark.parametrize(
    ("size", "wanted", "exists"), [(5, 2, True), (5, 3, False), (9, 4, True), (9, 5, False)]
)
def test_rings_need_the_exact_answer(size: int, wanted: int, exists: bool) -> None:
    # An odd ring of n holds (n - 1)/2 points without neighbors; groups of two would allow one more.
    found = packing.Packing(ring(size), wanted).at_least(1.5)
    assert (found is not None) == exists
    assert len(packing.cliques(ring(size) == 1.0)) == (size + 1) // 2


@pytest.mark.parametrize("seed", range(8))
def test_packing_against_all_sets(seed: int) -> None:
    random = np.random.default_rng(seed)
    distances = squareform(random.uniform(size=66))
    for wanted in (3, 4, 5):
        found = packing.Packing(distances, wanted, frozenset({2})).at_least(0.5)
        possible = any(
            2 in rows and (distances[np.ix_(rows, rows)][np.triu_indices(wanted, 1)] >= 0.5).all()
            for rows in combinations(range(12), wanted)
        )
        assert (found is not None) == possible
        if found is not None:
            part = distances[np.ix_(found, found)][np.triu_indices(wanted, 1)]
            assert 2 in found
            assert (part >= 0.5).all()


# --------------------------------------------------------------------------------------- the plan


def test_plan_holds_together() -> None:
    plan = make_plan(Wanted(6, named=Named(["acetone"], ["methanol"]), runs=40))
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
    wanted = Wanted(5, runs=30, seed=7)
    first, second = (make_plan(wanted, precision=precision_of({"percent": "none"})) for _ in "ab")
    assert first.to_dict() == second.to_dict()


def test_separation_is_that_of_its_readings() -> None:
    plan = make_plan(Wanted(2, named=Named(["ethanol", "acetone"]), runs=5))
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
    plan = make_plan(Wanted(3, named=Named([name]), runs=5))
    (liquid,) = (one for one in plan.liquids if one.name == name)
    assert {finding.code for finding in liquid.findings} == codes


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda: Wanted(1), "a plan of 1 has nothing to tell apart"),
        (lambda: Wanted(3, runs=0), "0 runs say nothing"),
        (lambda: Conditions(elements=("Xx",)), '"Xx" is not one of C H N'),
        (lambda: Goal(1.5), "150 % is none"),
        (lambda: Goal(0.9, "best"), '"best" is not one of mean, worst'),
    ],
)
def test_plans_that_are_none(wrong: object, said: str) -> None:
    assert callable(wrong)
    with pytest.raises(ValueError, match=said):
        wrong()
