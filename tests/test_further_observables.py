"""Refractive index, density and melting point: how they are read, and what they decide."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from identify import Measurement, match, read_runs
from identify.bench.bench import Bench
from identify.bench.readings import SIReading
from identify.cli.app import app
from identify.compounds.table import CandidateTable
from identify.matching.evidence import CandidateEvidence, Matcher
from identify.matching.posterior import Posterior
from identify.notebook.quantity.quantities import QuantityError
from identify.observables.catalog import LIQUID_CONSTANTS
from identify.observables.liquid_constant import LiquidConstants

FURTHER_NAMES = tuple(LIQUID_CONSTANTS)
HEXANES = {"molar_mass": 86.2, "boiling_point": 61.7}


# ------------------------------------------------------------------------------------------ reading


@pytest.mark.parametrize(
    ("field", "written", "unit", "value"),
    [
        ("refractive_index", 1.3749, "1", 1.3749),
        ("refractive_index", "1,3749", "1", 1.3749),
        ("refractive_index", "1.3749(3)", "1", 1.3749),
        ("refractive_index_at", 25, "K", 298.15),
        ("refractive_index_at", "68 F", "K", 293.15),
        ("density", 0.789, "kg/m3", 789.0),
        ("density", "789 kg/m3", "g/mL", 0.789),
        ("density", "0.789 g mL-1", "kg/m3", 789.0),
        ("density", "0.789 g/cc", "kg/m3", 789.0),
        ("density_at", "25", "K", 298.15),
        ("melting_point", -95.3, "K", 177.85),
        ("melting_point", "5.5 C", "K", 278.65),
    ],
)
def test_a_reading_is_taken_in_its_unit(field: str, written: object, unit: str, value: float):
    quantity = getattr(Measurement("A", **{field: written}), field)
    assert quantity.to(unit).value == pytest.approx(value)


@pytest.mark.parametrize(
    ("field", "written", "said"),
    [
        ("refractive_index", 13.749, "above any refractive index"),
        ("refractive_index", 0.3749, "below any refractive index"),
        ("refractive_index", "1.37 g", "is a mass, not a refractive index"),
        ("density", 789, "above any liquid density"),
        ("density", "0.789 kg/m3", "below any liquid density"),
        ("density", "0.789 mL", "is a volume, not a liquid density"),
        ("melting_point", "-400 C", "absolute zero"),
    ],
)
def test_a_slip_of_unit_or_point_is_refused(field: str, written: object, said: str):
    with pytest.raises(QuantityError, match=said):
        Measurement("A", **{field: written})


RECORD = """
label = "A"
[card]
refractive_index = 1.3715
refractive_index_at = "25 C"
density = "653 kg/m3"
density_at = "20 C"
melting_point = -153
"""


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("run.toml", RECORD),
        (
            "run.csv",
            "label,refractive_index,refractive_index_at_C,density_kg/m3,density_at_C,"
            "melting_point_C\nA,1.3715,25,653,20,-153\n",
        ),
        (
            "run.csv",
            "label,refractive index,refractive_index_at_K,density_g_mL,density_at_F,"
            "melting_point_K\nA,1.3715,298.15,0.653,68,120.15\n",
        ),
        (
            "run.csv",
            "label;refractive_index;refractive_index_at_C;density_g/mL;density_at_C;"
            "melting_point_C\nA;1,3715;25;0,653;20;-153\n",
        ),
        (
            "run.csv",
            "label,refractive_index,refractive_index_at,density,melting_point\nA,1.3715,25,0.653,-153\n",
        ),
    ],
)
def test_files_hold_them(tmp_path: Path, name: str, text: str) -> None:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    read = read_runs(path)
    assert not read.faults
    further = Bench.of(read[0]).further
    assert further["refractive_index"].value == pytest.approx(1.3715)
    assert further["refractive_index"].at == pytest.approx(298.15)
    assert further["density"].value == pytest.approx(653.0)
    assert further["melting_point"].value == pytest.approx(120.15)


@pytest.mark.parametrize(
    ("header", "cells", "field", "uncertainty"),
    [
        ("label,refractive_index,refractive_index_u", "A,1.3715,0.0003", "refractive_index", 3e-4),
        ("label,density_g/mL,density_g/mL_u", "A,0.653,0.002", "density", 2.0),
        ("label,melting_point_C,melting_point_C_u", "A,-153,0.5", "melting_point", 0.5),
    ],
)
def test_their_uncertainties_have_columns(
    tmp_path: Path, header: str, cells: str, field: str, uncertainty: float
) -> None:
    path = tmp_path / "run.csv"
    path.write_text(f"{header}\n{cells}\n", encoding="utf-8")
    stated = Bench.of(read_runs(path)[0]).further[field]
    assert stated.uncertainty == pytest.approx(uncertainty)


def test_a_temperature_in_another_unit_is_noted_and_not_used() -> None:
    run = Measurement("A", refractive_index=1.3715, refractive_index_at=293.15, **HEXANES)
    assert Bench.of(run).further["refractive_index"].at is None
    ranking = match(run)
    assert "temperature-unit" in {finding.code for finding in ranking.findings}
    assert ranking.candidates[0].name == "2-methylpentane"


# --------------------------------------------------------------------------------------- likelihood


@pytest.mark.parametrize(
    ("name", "expected", "expected_u", "sigma", "close", "far"),
    [
        ("refractive_index", 1.38, 0.001, 0.001, 0.001, 0.02),
        ("density", 800.0, 3.0, 5.0, 4.0, 80.0),
        ("melting_point", 200.0, 1.0, 1.0, 1.0, 15.0),
    ],
)
def test_near_gains_far_loses_and_unknown_does_neither(
    name: str,
    expected: float,
    expected_u: float,
    sigma: float,
    close: float,
    far: float,
    matcher: Matcher,
) -> None:
    values = np.array([expected + close, expected - close, expected + far, np.nan])
    comparison = LIQUID_CONSTANTS[name].compare(
        expected, sigma, (values, np.where(np.isnan(values), np.nan, expected_u))
    )
    weight = np.array([0.1, 0.2, 0.3, 0.4])
    everywhere = np.ones(len(values))
    evidence = CandidateEvidence(
        matcher=matcher,
        bench=Bench(),
        base=weight,
        unlisted=everywhere,
        isomers=everywhere,
        stays_liquid=everywhere,
        vaporized=everywhere,
        further={name: comparison},
    )
    posterior = Posterior.of(evidence)
    near, other_side, off, unknown = posterior.likelihoods[name]
    assert near == pytest.approx(other_side)
    assert near > 20.0 * off > 0.0
    assert unknown == pytest.approx((0.1 * near + 0.2 * other_side + 0.3 * off) / 0.6)
    assert comparison.agrees().tolist() == [True, True, False, True]


@pytest.mark.parametrize("name", FURTHER_NAMES)
def test_the_density_of_a_reading_integrates_to_one(name: str) -> None:
    kind = LIQUID_CONSTANTS[name]
    values = (np.array([kind.usual]), np.array([kind.least]))
    sigma = 5.0 * kind.least
    # Finely around the middle, coarsely in the gross error's tails.
    steps = np.concatenate([-np.geomspace(1e3, 1e-3, 4000), np.geomspace(1e-3, 1e3, 4000)])
    readings = kind.usual + kind.gross_scale * 0.1 * steps
    density = [LIQUID_CONSTANTS[name].compare(x, sigma, values).likelihood()[0] for x in readings]
    assert np.trapezoid(density, readings) == pytest.approx(1.0, abs=1e-3)


def test_where_no_candidate_has_the_constant_nothing_changes() -> None:
    unknown = np.full(3, np.nan)
    likelihood = LIQUID_CONSTANTS["density"].compare(800.0, 5.0, (unknown, unknown)).likelihood()
    assert np.ptp(likelihood) == 0.0
    assert likelihood[0] > 0.0


@pytest.mark.parametrize(
    ("name", "value"), [("refractive_index", 1.39), ("density", 810.0), ("melting_point", 190.0)]
)
def test_unknown_constants_leave_a_candidate_as_it_was(
    monkeypatch: pytest.MonkeyPatch, matcher: Matcher, name: str, value: float
) -> None:
    if name == "melting_point":  # with one read, nothing is assumed of solids
        monkeypatch.setattr(matcher, "melted", lambda bench: np.ones(len(matcher.table)))
    before = Posterior.of(matcher.evidence(Bench()))
    after = Posterior.of(matcher.evidence(Bench(further={name: SIReading(value)})))
    unknown = ~np.isfinite(matcher.expectation.predicted(name)[0])
    assert unknown.any()
    ratio = after.probability[unknown] / before.probability[unknown]
    assert ratio.max() / ratio.min() == pytest.approx(1.0)
    # All they share is what goes to or from "none of these".
    assert ratio.mean() == pytest.approx(1.0, abs=0.01)
    assert (after.evidence.plausible[unknown] == before.evidence.plausible[unknown]).all()
    assert after.none_of_these + after.probability.sum() == pytest.approx(1.0)


def test_without_such_readings_nothing_is_worked_out(table: CandidateTable) -> None:
    matcher = Matcher(table)
    Posterior.of(matcher.evidence(Bench(boiling_point=SIReading(350.0))))
    assert not matcher.expectation.constants._known


@pytest.mark.parametrize(
    ("tolerance", "field", "agrees"),
    [
        ("refractive-index=0.02", {"refractive_index": 1.3805}, True),
        ("refractive-index=0.002", {"refractive_index": 1.3805}, False),
        ("density=0.04 g/mL", {"density": 0.684}, True),
        ("density=0.01", {"density": 0.684}, False),
        ("melting-point=9 C", {"melting_point": -146.0}, True),
        ("melting-point=2", {"melting_point": -146.0}, False),
    ],
)
def test_the_tolerance_decides_what_agrees(
    tolerance: str, field: dict[str, float], agrees: bool
) -> None:
    (name, value), *_ = field.items()
    typed = ["--molar-mass", "86.2", f"--{name.replace('_', '-')}={value}"]
    typed += ["--boiling-point", "60.5", "--tolerance", tolerance, "--format", "json"]
    result = CliRunner().invoke(app, ["match", "--top", "50", *typed])
    assert result.exit_code == 0
    candidates = {c["name"]: c for c in json.loads(result.stdout)[0]["candidates"]}
    assert candidates["2-methylpentane"]["plausible"] is agrees


# ---------------------------------------------------------------------------------------- deciding


@pytest.mark.parametrize(
    ("readings", "reading", "name"),
    [
        (HEXANES, {"refractive_index": 1.3715}, "2-methylpentane"),
        (HEXANES, {"refractive_index": 1.3765}, "3-methylpentane"),
        (HEXANES, {"refractive_index": 1.3742, "refractive_index_at": 25}, "3-methylpentane"),
        (HEXANES, {"density": 0.653}, "2-methylpentane"),
        (HEXANES, {"density": 0.664}, "3-methylpentane"),
        (HEXANES, {"melting_point": -154}, "2-methylpentane"),
        (HEXANES, {"refractive_index": 1.3715, "density": 0.653}, "2-methylpentane"),
        (
            {"molar_mass": 100.2, "boiling_point": 91.0},
            {"refractive_index": 1.3848},
            "2-methylhexane",
        ),
        (
            {"molar_mass": 100.2, "boiling_point": 90.0},
            {"refractive_index": 1.3919},
            "2,3-dimethylpentane",
        ),
        (
            {"molar_mass": 106.2, "boiling_point": 138.7},
            {"melting_point": 13.2},
            "p-xylene",
        ),
        (
            {"molar_mass": 106.2, "boiling_point": 138.7},
            {"melting_point": -48.0},
            "m-xylene",
        ),
    ],
)
def test_isomers_that_boil_alike_are_told_apart(
    readings: dict[str, float], reading: dict[str, float], name: str
) -> None:
    # In a classroom one of them may be as good as sure beforehand.
    before = match(Measurement("A", **readings), prior="commerce")
    after = match(Measurement("A", **readings, **reading), prior="commerce")
    assert before.verdict == "several matches"
    assert after.candidates[0].name == name
    formula = after.candidates[0].formula
    first, second = (
        [c.probability for c in ranking.candidates if c.formula == formula][:2]
        for ranking in (before, after)
    )
    assert second[0] / second[1] > 4.0 > first[0] / first[1]


def test_deviations_are_there_for_what_was_read_and_only_then() -> None:
    run = Measurement("A", density="0.660 g/mL", melting_point=-150, **HEXANES)
    ranking = match(run)
    first = next(c for c in ranking.candidates if c.name == "2-methylpentane").to_dict()
    contract = {"molar_mass_percent", "boiling_point_C", "percent"}
    assert set(first["deviations"]) == {*contract, "density", "melting_point_C"}
    assert first["deviations"]["density"] == pytest.approx(0.007, abs=0.001)
    assert first["deviations"]["melting_point_C"] == pytest.approx(4.0, abs=1.0)
    assert {"density_off", "melting_point_C_off"} <= set(ranking.table)
    plain = match(Measurement("A", **HEXANES))
    assert set(plain.candidates[0].to_dict()["deviations"]) == contract


def test_an_unknown_constant_has_no_deviation_and_counts_for_nothing() -> None:
    ranking = match(Measurement("A", refractive_index=1.372, **HEXANES))
    unknown = [c for c in ranking.candidates if c.deviations.further["refractive_index"] is None]
    assert unknown
    assert any(c.plausible for c in unknown)
    assert unknown[0].to_dict()["deviations"]["refractive_index"] is None


@pytest.mark.parametrize(
    ("typed", "headings"),
    [
        ([], ()),
        (["--refractive-index", "1.3715"], ("index",)),
        (["--density", "0.653", "--melting-point", "-153"], ("g/mL", "melts")),
    ],
)
def test_columns_are_printed_for_what_was_read(typed: list[str], headings: tuple[str, ...]) -> None:
    result = CliRunner().invoke(
        app, ["match", "--molar-mass", "86.2", "--boiling-point", "61.7", *typed]
    )
    assert result.exit_code == 0
    table = result.stdout.partition("none of these")[0]
    for heading in ("index", "g/mL", "melts"):
        assert (f" {heading} " in table) is (heading in headings)


@pytest.mark.parametrize("name", FURTHER_NAMES)
@pytest.mark.parametrize("temperature", [None, 288.15, 298.15, 303.15])
def test_values_and_uncertainties_are_known_together(
    table: CandidateTable, name: str, temperature: float | None
) -> None:
    value, uncertainty = LiquidConstants(table).predicted(LIQUID_CONSTANTS[name], temperature)
    assert value.shape == uncertainty.shape == (len(table),)
    assert (np.isfinite(value) == np.isfinite(uncertainty)).all()
    assert (uncertainty[np.isfinite(value)] > 0.0).all()


@pytest.mark.parametrize(("name", "lowest"), [("refractive_index", 1e-4), ("density", 0.2)])
def test_warm_liquids_are_thinner_and_refract_less(
    table: CandidateTable, name: str, lowest: float
) -> None:
    constants = LiquidConstants(table)
    cold, warm = (constants.predicted(LIQUID_CONSTANTS[name], t)[0] for t in (288.15, 298.15))
    liquid = np.isfinite(cold + warm)
    assert ((cold - warm)[liquid] > 10.0 * lowest).all()
