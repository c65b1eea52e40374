"""How well a class weighs, from its section's results, and the plan of the next term with that."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from drawn_sections import LIQUIDS, Class, Drawn, Faults, few_candidates, write_key
from published import published_results

from identify import load_candidates
from identify.bench.laboratory import Laboratory
from identify.observables.class_spread import PUBLISHED_WITHIN, ClassSpread, shares_within
from identify.observables.error.technique import Technique
from identify.planning.class_results import ClassResults
from identify.planning.classroom import Deviates, SimulatedClass
from identify.planning.plan import PlanRequest, make_plan
from identify.planning.pool.conditions import FROM_TABLE
from identify.planning.precision import ClassSetup, precision_of
from identify.planning.result import PlanError, Precision
from identify.planning.simulation import simulated
from identify.section import SectionResult, check_section
from identify.section.shared.class_precision import WeighedResult, class_precision
from identify.tables import Runs
from tests.command import Run

TABLE = load_candidates()


def test_published_results_are_as_near_as_is_said() -> None:
    """data/published_results.csv, each with its source there."""
    errors = np.array([result.found / result.true - 1.0 for result in published_results()])
    assert len(errors) == 55
    assert shares_within(errors) == pytest.approx(PUBLISHED_WITHIN, abs=0.05)


# ----------------------------------------------------------------------- spread, bias, spoiled


def drawn_errors(count: int, spread: float, bias: float, spoiled: float, seed: int) -> np.ndarray:
    """Draw found over true less one: sound runs, and such as rough technique spoils."""
    random = np.random.default_rng(seed)
    errors = bias + spread * random.standard_normal(count)
    rough = 1.0 / (1.0 + Technique.named("rough").error().drawn(count, random)) - 1.0
    return np.where(random.random(count) < spoiled, rough, errors)


@pytest.mark.parametrize("count", [60, 400])
@pytest.mark.parametrize("spread", [0.02, 0.05, 0.08])
@pytest.mark.parametrize("bias", [-0.04, 0.0])
@pytest.mark.parametrize("spoiled", [0.0, 0.1, 0.25])
def test_what_was_drawn_is_found(count: int, spread: float, bias: float, spoiled: float) -> None:
    found = [ClassSpread.of(drawn_errors(count, spread, bias, spoiled, seed)) for seed in range(12)]
    each = np.array(
        [(one.spread_percent, one.bias_percent, one.spoiled_percent) for one, _ in found]
    )
    mean, noise = each.mean(axis=0), each.std(axis=0, ddof=1) / np.sqrt(12.0)
    assert mean[0] == pytest.approx(100.0 * spread, rel=0.12, abs=4.0 * noise[0])
    assert mean[1] == pytest.approx(100.0 * bias, abs=0.3 + 4.0 * noise[1])
    # Rough runs that came out right by chance are not told from sound ones.
    assert 55.0 * spoiled - 1.0 <= mean[2] <= 100.0 * spoiled + 2.0 + 4.0 * noise[2]
    # The uncertainties are those of the scatter from class to class.
    for value, u in (("spread_percent", "spread_u_percent"), ("bias_percent", "bias_u_percent")):
        scatter = np.std([getattr(one, value) for one, _ in found], ddof=1)
        stated = np.mean([getattr(one, u) for one, _ in found])
        assert 0.4 < scatter / stated < 2.2


@pytest.mark.parametrize("count", [0, 1, 3])
def test_too_few_tell_nothing(count: int) -> None:
    assert ClassSpread.of(np.zeros(count)) is None
    assert class_precision([WeighedResult("A", "acetone", 0.0)] * count) is None


def test_equal_results_do_not_make_a_perfect_class() -> None:
    spread, _ = ClassSpread.of(np.zeros(4))
    assert 1.0 < spread.spread_percent < 5.0


def test_by_liquid_and_by_instrument() -> None:
    random = np.random.default_rng(3)
    results = [
        WeighedResult(
            label,
            liquid,
            (0.06 if balance == "B2" else 0.0) + 0.01 * float(random.standard_normal()),
            {"balance": balance, "day": "1"},
        )
        for label, liquid in (("A", "acetone"), ("B", "hexane"))
        for balance in ("B1", "B2")
        for _ in range(10)
    ]
    results.append(WeighedResult("A", "acetone", 2.5, {"balance": "B1"}))
    found = {(one.kind, one.name): one for one in class_precision(results).groups}
    assert set(found) == {
        ("liquid", "A acetone"),
        ("liquid", "B hexane"),
        ("balance", "B1"),
        ("balance", "B2"),
        ("day", "1"),
    }
    assert found["balance", "B2"].bias_percent == pytest.approx(6.0, abs=1.0)
    assert found["balance", "B1"].bias_percent == pytest.approx(0.0, abs=1.0)
    assert found["balance", "B1"].spread_percent == pytest.approx(1.0, abs=0.5)
    assert (found["balance", "B1"].spoiled, found["balance", "B2"].spoiled) == (1, 0)
    assert found["liquid", "A acetone"].results == 21


# ------------------------------------------------------------------------------------ sections


@pytest.fixture(scope="module")
def checked(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., SectionResult]:
    table = few_candidates()
    key = write_key(tmp_path_factory.mktemp("key") / "key.csv")

    def check(between: float, faults: Faults | None = None, seed: int = 5) -> SectionResult:
        drawn = Drawn(seed, table)
        runs = drawn.section(Class(students=72, between=between, within=0.003), faults)
        return check_section(Runs(runs), key, table)

    return check


@pytest.mark.parametrize("between", [0.015, 0.06])
def test_a_section_says_how_well_its_class_weighs(
    checked: Callable[..., SectionResult], between: float
) -> None:
    precision = checked(between).precision
    assert precision.spread.results == 72
    assert precision.spread.spread_percent == pytest.approx(100.0 * between, rel=0.35)
    assert abs(precision.spread.bias_percent) < 4.0 * precision.spread.bias_u_percent + 0.5
    assert sum(one.results for one in precision.groups if one.kind == "liquid") == 72
    data = precision.to_dict()
    assert {one["kind"] for one in data["by_instrument"]} == {"balance", "day", "thermometer"}
    assert data["published_within_percent"]["5"] < data["within_percent"]["5"]


def test_what_many_share_is_not_the_class_s_own(checked: Callable[..., SectionResult]) -> None:
    sound = checked(0.015).precision
    faulty = checked(0.015, Faults(pressure={"2": 0.93}))
    assert faulty.causes
    assert faulty.precision.spread.spread_percent < 1.5 * sound.spread.spread_percent


# ---------------------------------------------------------------------------- the next term's plan


@pytest.mark.parametrize(
    ("spread", "bias", "technique"),
    [(2.5, 0.0, 2.4), (8.0, 0.0, 7.97), (3.0, -4.0, 4.94), (0.3, 0.0, 0.0), (80.0, 0.0, 30.0)],
)
def test_what_instruments_explain_is_not_technique(
    spread: float, bias: float, technique: float
) -> None:
    table = TABLE.take([TABLE.find(name)[0] for name in LIQUIDS.values()])
    found = ClassResults(50, spread, bias, 6.0).precision(Precision(), table, Laboratory())
    assert found.technique == pytest.approx(technique, abs=0.06)
    assert found.spoiled == 6.0
    if 0.3 < spread < 30.0:
        setup = ClassSetup.of(table, Laboratory(), found)
        whole = 100.0 * float(np.median(setup.molar_mass_uncertainty()))
        assert whole == pytest.approx(np.hypot(spread, bias), rel=1e-3)


@pytest.mark.parametrize(("spread", "spoiled"), [(2.5, 0.0), (6.0, 0.0), (6.0, 15.0), (12.0, 5.0)])
def test_a_drawn_class_tells_the_bottles_apart_in_the_stated_share(
    spread: float, spoiled: float
) -> None:
    """A class that errs as it did is planned for: the next one is right as often as is said."""
    told = drawn_errors(300, 0.01 * spread, 0.0, 0.01 * spoiled, seed=9)
    fitted, _ = ClassSpread.of(told)
    results = ClassResults(300, fitted.spread_percent, fitted.bias_percent, fitted.spoiled_percent)
    planned = precision_of({"percent": "none"})
    request = PlanRequest(8, FROM_TABLE, runs=400, seed=1, of_class=results)
    plan = make_plan(request, precision=planned)
    # The class as it truly is, with other random numbers.
    table = TABLE.take([TABLE.find(liquid.cas)[0] for liquid in plan.liquids])
    truth = ClassResults(300, spread, 0.0, spoiled).precision(planned, table, Laboratory())
    drawn = SimulatedClass(table, Laboratory(), truth)
    outcome = simulated(drawn, Deviates.drawn(8, 400, seed=1234))
    assert outcome.mean == pytest.approx(plan.success, abs=0.035)


def test_spoiled_runs_lower_what_a_class_names() -> None:
    planned = precision_of({"percent": "none", "boiling_point": "6 C"})
    request = {"liquids": 8, "conditions": FROM_TABLE, "runs": 300}
    sound, spoiled = (
        make_plan(
            PlanRequest(**request, of_class=ClassResults(60, 3.0, 0.0, share)), precision=planned
        ).success
        for share in (0.0, 40.0)
    )
    assert spoiled < sound - 0.03


def saved(folder: Path, content: object) -> Path:
    path = folder / "results.json"
    text = content if isinstance(content, str) else json.dumps(content)
    path.write_text(text, encoding="utf-8")
    return path


GOOD = {"results": 40, "spread_percent": 6.0, "bias_percent": -1.0, "spoiled_percent": 5.0}


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("label,student\n", "is not JSON"),
        ({}, "does not hold the results of a section"),
        ([], "does not hold the results of a section"),
        ({"precision": {"results": 3}}, "does not hold the results"),
        ({"precision": {**GOOD, "spread_percent": -1.0}}, "does not hold the results"),
        ({"precision": {**GOOD, "spread_percent": "wide"}}, "does not hold the results"),
        ({"precision": None}, "too few of its students weighed a known liquid"),
    ],
)
def test_results_that_cannot_be_used(tmp_path: Path, content: object, words: str) -> None:
    with pytest.raises(PlanError, match=words) as refused:
        ClassResults.read(saved(tmp_path, content))
    assert "\n" not in str(refused.value)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match=r"nowhere\.json"):
        ClassResults.read(tmp_path / "nowhere.json")


def test_the_circle_on_the_command_line(invoke: Run, tmp_path: Path) -> None:
    path = saved(tmp_path, {"precision": GOOD})
    quick = ("--liquids", 4, "--runs", 20, "--format", "json")
    status, output, _ = invoke("plan", *quick, "--class", path)
    precision = json.loads(output)["precision"]
    assert (status, precision["spoiled"]) == (0, 5.0)
    assert precision["technique"] == pytest.approx(np.hypot(6.0, 1.0), abs=0.1)
    status, output, complaints = invoke("plan", *quick, "--class", path, "--technique", "3 %")
    assert (status, output) == (2, "")
    assert "give one of them" in complaints
