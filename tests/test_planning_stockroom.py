"""A plan as a stockroom makes it: told apart well enough, then common, easy and harmless."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.distance import pdist, squareform

from identify import load_candidates
from identify.bench.laboratory import Laboratory
from identify.compounds.stock_table import read_stock_candidates
from identify.observables.tolerances import Tolerances
from identify.planning.choice.stockroom import stockroom_choice, sufficient_separation
from identify.planning.plan import PlanRequest, make_plan
from identify.planning.pool.conditions import FROM_TABLE, LiquidConditions
from identify.planning.pool.handling import Handling
from identify.planning.pool.liquid_pool import NamedLiquids
from identify.planning.precision import precision_of
from identify.planning.requirements import Goal
from identify.planning.result import Plan, Precision

TABLE = load_candidates()
NO_CARDS = precision_of({"percent": "none"})


def plan_of(liquids: int, precision: Precision = NO_CARDS, **asked: object) -> Plan:
    request = PlanRequest(liquids, replace(FROM_TABLE, **asked), runs=100)
    return make_plan(request, precision=precision)


# ---------------------------------------------------------------------------- against all sets


def cheapest_of_all(
    points: np.ndarray, size: int, cost: np.ndarray, needed: float, must_have: Sequence[int]
) -> float | None:
    distances = squareform(pdist(points))
    costs = [
        float(cost[list(rows)].sum())
        for rows in combinations(range(len(points)), size)
        if set(must_have) <= set(rows)
        and all(
            distances[a, b] >= needed or {a, b} <= set(must_have) for a, b in combinations(rows, 2)
        )
    ]
    return min(costs, default=None)


@pytest.mark.parametrize("must_have", [(), (3,), (3, 7)])
@pytest.mark.parametrize("seed", range(6))
def test_no_other_set_that_is_far_enough_apart_costs_less(
    seed: int, must_have: tuple[int, ...]
) -> None:
    random = np.random.default_rng(seed)
    points, cost = random.normal(size=(14, 3)) * 3.0, random.exponential(size=14)
    needed = 3.0
    best = cheapest_of_all(points, 5, cost, needed, must_have)
    found = stockroom_choice(points, 5, cost, needed, must_have)
    assert set(must_have) <= set(found.rows)
    if best is None:
        assert found.smallest < needed
    else:
        assert found.is_proved
        assert cost[list(found.rows)].sum() == pytest.approx(best)


@pytest.mark.parametrize("seed", range(4))
def test_where_none_is_far_enough_apart_the_farthest_pair_stays(seed: int) -> None:
    random = np.random.default_rng(seed)
    points, cost = random.normal(size=(12, 2)), random.exponential(size=12)
    found = stockroom_choice(points, 8, cost, needed=50.0)
    assert found.smallest == pytest.approx(found.farthest_smallest)
    assert found.smallest < found.needed


def test_what_is_listed_gives_way_even_where_none_is_far_enough_apart() -> None:
    """Two points of one place: the one on a warning list is not taken."""
    points = np.array([[0.0], [1.0], [1.0], [2.0]])
    listed = np.array([False, True, False, False])
    found = stockroom_choice(points, 3, 1000.0 * listed, needed=5.0, is_listed=listed)
    assert found.rows == (0, 2, 3)


@pytest.mark.parametrize(
    ("liquids", "share", "needed"),
    [(2, 0.95, 3.29), (2, 0.5, 3.29), (8, 0.95, 4.90), (8, 0.99, 5.97), (3, 1.0, 7.78)],
)
def test_sufficient_separation(liquids: int, share: float, needed: float) -> None:
    assert sufficient_separation(liquids, share) == pytest.approx(needed, abs=0.01)


# ------------------------------------------------------------------------------- real liquids


@pytest.mark.parametrize("liquids", [4, 8, 12])
@pytest.mark.parametrize("written", [{}, {"percent": "none"}, {"technique": "6 %"}])
def test_the_liquids_that_classes_know_are_taken(liquids: int, written: dict[str, str]) -> None:
    """Ethanol, acetone and 2-propanol: in most published handouts, and on no warning list."""
    plan = plan_of(liquids, precision_of(written))
    names = {liquid.name for liquid in plan.liquids}
    assert {"ethanol", "acetone", "isopropanol", "methanol"} <= names
    assert plan.smallest_separation >= plan.traded.needed
    for liquid in plan.liquids:
        warned = {one.code for one in liquid.findings if one.severity != "note"}
        assert not warned, liquid.name
        assert liquid.cas


@pytest.mark.parametrize(
    ("name", "warnings", "burdens"),
    [
        ("acetone", set(), set()),
        ("ethanol", set(), set()),  # a carcinogen as drunk only
        ("chloroform", {"carcinogen", "exposure-limit-low"}, {"flash point not known"}),
        ("tetrahydrofuran", {"carcinogen"}, {"forms peroxides"}),
        ("acetonitrile", {"exposure-limit-low"}, {"exposure limit below 100 ppm"}),
        ("pentane", {"vapor-pressure-high"}, {"flash point below -20 °C"}),
        ("1-propanol", {"bath-margin"}, set()),
        ("butylamine", set(), {"corrosive and smells"}),
        ("2,2,2-trifluoroethanol", set(), {"costly, and persists in the environment"}),
        ("acetyl chloride", {"reacts with water"}, set()),
    ],
)
def test_what_speaks_against_a_liquid(name: str, warnings: set[str], burdens: set[str]) -> None:
    table = TABLE.take([TABLE.find(name)[0], TABLE.find("acetone")[0]])
    found = Handling.of(table, Laboratory(), Tolerances())
    assert warnings <= set(found.warnings[0])
    assert bool(warnings) == bool(found.is_listed[0])
    assert burdens <= set(found.burdens[0])
    if not burdens and not warnings:
        assert found.burdens[0] == ()


def stock(folder: Path, *names: str) -> Path:
    path = folder / "stock.csv"
    rows = [f"K-{place},{name}" for place, name in enumerate(names, 1)]
    path.write_text("\n".join(["label,identity", *rows, ""]), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("names", "liquids", "chosen"),
    [
        # Chloroform is farthest from all, and is not needed.
        (
            ("chloroform", "acetone", "ethanol", "hexane", "ethyl acetate"),
            4,
            {"acetone", "ethanol", "hexane", "ethyl acetate"},
        ),
        # Needed to make up the number.
        (("chloroform", "acetone", "ethanol"), 3, {"chloroform", "acetone", "ethanol"}),
        # Two isomers that read alike: the commoner stays, and what is listed makes the third.
        (
            ("ethyl acetate", "methyl propionate", "acetone", "chloroform"),
            3,
            {"ethyl acetate", "acetone", "chloroform"},
        ),
    ],
)
def test_from_ones_own_stock_likewise(
    tmp_path: Path, names: tuple[str, ...], liquids: int, chosen: set[str]
) -> None:
    table = read_stock_candidates(stock(tmp_path, *names))
    plan = make_plan(PlanRequest(liquids, LiquidConditions(), runs=50), table)
    assert {liquid.name for liquid in plan.liquids} == chosen
    assert all(liquid.label for liquid in plan.liquids)


def test_what_was_traded_is_said() -> None:
    plan = plan_of(8)
    assert plan.traded.farthest_separation > plan.smallest_separation
    assert len(plan.traded.farthest) == 8
    rarest = min(_commonness(liquid.name) for liquid in plan.liquids)
    for one in plan.traded.left_out:
        assert _commonness(one.name) > rarest
        assert one.reason


def _commonness(name: str) -> float:
    return float(TABLE.weights("classroom")[TABLE.find(name)[0]])


@pytest.mark.parametrize(
    "written", [{"percent": "none"}, {"percent": "none", "technique": "6 %"}, {"technique": "8 %"}]
)
@pytest.mark.parametrize("share", [0.9, 0.95, 0.99])
def test_a_drawn_class_tells_them_apart_in_the_wanted_share(
    written: dict[str, str], share: float
) -> None:
    """Drawn anew, with other random numbers than the plan's own."""
    request = PlanRequest(8, FROM_TABLE, runs=200, seed=77, goal=Goal(share, "worst"))
    plan = make_plan(request, precision=precision_of(written))
    assert plan.smallest_separation >= plan.traded.needed
    assert min(liquid.success_high for liquid in plan.liquids) >= share


def test_a_class_that_reads_worse_than_planned_does_not() -> None:
    """The other way round: the separation is not wider than it has to be for nothing."""
    good, poor = precision_of({"percent": "none"}), precision_of(
        {"percent": "none", "technique": "20 %", "boiling_point": "8 C"}
    )  # fmt: skip
    names = [liquid.name for liquid in plan_of(8, good).liquids]
    request = PlanRequest(8, FROM_TABLE, NamedLiquids(must_have=names), runs=200)
    assert make_plan(request, precision=poor).success < 0.9
