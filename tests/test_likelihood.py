"""Densities of readings: that they are densities, and that a tolerance means what it says."""

from __future__ import annotations

import numpy as np
import pytest

from identify.observables.boiling_point import (
    BOILING_POINT,
    compare_boiling_point,
)
from identify.observables.comparison import Comparison
from identify.observables.composition import LEFT_OUT, compare_element, compare_unmentioned
from identify.observables.tolerances import Tolerances
from identify.observables.weighing import MOLAR_MASS, compare_molar_mass

NAN, INF = float("nan"), float("inf")

# All that can be read, from end to end of its scale.
MASSES = np.concatenate([np.linspace(1e-3, 200.0, 400_001), np.geomspace(200.0, 1e7, 100_001)])
BOILING = np.linspace(337.8 - 1000.0, 337.8 + 1000.0, 400_001)
ELEMENT = np.linspace(0.0, 100.0, 200_001)


def molar_mass(observed: np.ndarray, expected: float, relative: float) -> Comparison:
    return compare_molar_mass(observed, np.full(len(observed), expected), relative * expected)


def boiling_point(observed: np.ndarray, sigma: float, expected_u: float) -> Comparison:
    # One reading beside many candidates is the same as many readings beside one.
    expected = 2 * 337.8 - observed
    return compare_boiling_point(337.8, expected, sigma, np.full(len(observed), expected_u))


def area(density: np.ndarray, grid: np.ndarray) -> float:
    return float(np.trapezoid(density, grid))


# ------------------------------------------------------------------------------------ densities


@pytest.mark.parametrize(
    ("expected", "relative"), [(32.0, 0.025), (100.0, 0.025), (60.0, 0.003), (16.0, 0.1)]
)
def test_density_of_a_molar_mass_integrates_to_one(expected: float, relative: float) -> None:
    compared = molar_mass(MASSES, expected, relative)
    assert area(compared.likelihood(), MASSES) == pytest.approx(1.0, abs=1e-4)
    assert area(compared.gross * compared.gross_density, MASSES) == pytest.approx(
        MOLAR_MASS.gross, abs=1e-5
    )


@pytest.mark.parametrize(("sigma", "expected_u"), [(1.0, 0.3), (0.2, 0.05), (1.0, 25.0)])
def test_density_of_a_boiling_point_integrates_to_one(sigma: float, expected_u: float) -> None:
    compared = boiling_point(BOILING, sigma, expected_u)
    assert area(compared.likelihood(), BOILING) == pytest.approx(1.0, abs=1e-4)
    assert area(compared.kernel(), BOILING) == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize(("expected", "sigma"), [(40.0, 0.2), (12.5, 0.02), (92.0, 1.0)])
def test_density_of_a_percentage_integrates_to_one(expected: float, sigma: float) -> None:
    compared = compare_element(expected, 2.0 * expected - ELEMENT, sigma)
    assert area(compared.likelihood(), ELEMENT) == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize("factor", [1.0, 1000.0])
def test_densities_are_per_unit(factor: float) -> None:
    observed, expected = np.array([33.0, 80.0, 4.0]), np.array([32.0, 32.0, 32.0])
    in_grams = compare_molar_mass(observed, expected, 0.8).likelihood()
    scaled = compare_molar_mass(observed * factor, expected * factor, 0.8 * factor).likelihood()
    np.testing.assert_allclose(scaled * factor, in_grams, rtol=1e-12)


@pytest.mark.parametrize("observed", [-1e6, -5.0, 0.0, 1e-300, 1e-3, 1e3, 1e9])
def test_any_molar_mass_has_a_likelihood(observed: float) -> None:
    expected = np.array([16.0, 60.0, 500.0])
    likelihood = compare_molar_mass(np.full(3, observed), expected, 0.025 * expected).likelihood()
    assert np.isfinite(likelihood).all()
    assert (likelihood > 0.0).all()


@pytest.mark.parametrize("observed", [1e-3, 200.0, 1273.0])
def test_any_boiling_point_has_a_likelihood(observed: float) -> None:
    compared = compare_boiling_point(observed, np.array([200.0, 340.0, 900.0]), 1.0, np.ones(3))
    assert (compared.likelihood() > 0.0).all()


def test_a_gross_error_leaves_a_candidate_in_the_race() -> None:
    """One digit dropped costs a factor, however far off the reading is."""
    expected = np.array([100.0])
    sigma = 2.5
    at_peak, far = (
        compare_molar_mass(np.array([read]), expected, sigma).likelihood()[0]
        for read in (100.0, 10.0)
    )
    assert 1e-6 < far / at_peak < 1e-2
    peak_of_boiling, far_off = (
        compare_boiling_point(340.0, np.array([t]), 1.0, np.array([0.2])).likelihood()[0]
        for t in (340.0, 400.0)
    )
    expected_ratio = BOILING_POINT.gross * np.exp(-60.0 / 25.0) / 50.0
    assert far_off / peak_of_boiling == pytest.approx(
        expected_ratio * np.sqrt(2 * np.pi) * np.hypot(1.0, 0.2) / (1 - BOILING_POINT.gross),
        rel=0.01,
    )


# ----------------------------------------------------------------------------------- tolerances


@pytest.mark.parametrize("field", ["molar_mass", "percent", "boiling_point"])
@pytest.mark.parametrize("value", [0.0, -1.0, NAN, INF, 1e-300, 1e300, "5", None, True])
def test_tolerance_is_a_number_of_some_size(field: str, value: object) -> None:
    with pytest.raises(ValueError, match=f"tolerance {field}: .* is not a number from 0.001 to"):
        Tolerances(**{field: value})


def test_tolerance_takes_any_kind_of_number() -> None:
    given = Tolerances(np.float32(5.0), 1, np.int64(2))
    assert given == Tolerances(5.0, 1.0, 2.0)
    assert type(given.molar_mass) is float


def test_default_tolerances() -> None:
    assert Tolerances() == Tolerances(molar_mass=5.0, percent=0.4, boiling_point=2.0)


@pytest.mark.parametrize(
    ("off", "agrees"),
    [(0.0, True), (1.99, True), (2.0, True), (-2.0, True), (2.01, False), (-2.01, False)],
)
def test_agreement_is_up_to_twice_the_standard_error(off: float, agrees: bool) -> None:
    exact = np.zeros(1)
    compared = [
        compare_molar_mass(np.array([60.0 + 1.5 * off]), np.array([60.0]), 1.5),
        compare_boiling_point(340.0 + 0.7 * off, np.array([340.0]), 0.7, exact),
        compare_element(40.0 + 0.2 * off, np.array([40.0]), 0.2),
    ]
    assert [bool(one.agrees()[0]) for one in compared] == [agrees] * 3


@pytest.mark.parametrize(
    ("expected_u", "half_width"),
    [
        (0.0, 2.0),
        (1.0, 2.0 * np.hypot(1.0, 1.0)),
        (40.0, 2.0 * np.hypot(1.0, BOILING_POINT.allowance)),
    ],
)
def test_an_uncertain_boiling_point_agrees_wider_but_not_with_everything(
    expected_u: float, half_width: float
) -> None:
    compared = compare_boiling_point(340.0, np.array([340.0]), 1.0, np.array([expected_u]))
    assert compared.half_width == pytest.approx([half_width])
    # Its probability knows the whole uncertainty.
    assert compared.sigma == pytest.approx([np.hypot(1.0, expected_u)])
    assert compared.bandwidth == pytest.approx(np.hypot(1.0, BOILING_POINT.bandwidth))


# ------------------------------------------------------------------- what a card does not mention


@pytest.mark.parametrize(
    ("listed_sum", "sigma", "complete"),
    [
        (100.0, 0.35, True),
        (99.0, 0.35, True),
        (98.9, 0.35, False),
        (97.0, 2.0, True),  # as far as its uncertainty goes
        (103.0, 0.35, True),
        (66.6, 0.35, False),
        (0.0, 0.2, False),
    ],
)
def test_only_a_card_that_adds_up_claims_to_be_complete(
    listed_sum: float, sigma: float, complete: bool
) -> None:
    assert (compare_unmentioned(listed_sum, np.zeros(1), sigma) is not None) is complete


@pytest.mark.parametrize(
    ("listed_sum", "remaining", "agrees", "likelihood"),
    [
        (100.0, 0.0, True, 1.0),
        (99.5, 0.5, True, 1.0),  # there is room enough
        (100.0, 0.7, True, LEFT_OUT + (1.0 - LEFT_OUT) * np.exp(-2.0)),
        (100.0, 0.71, False, LEFT_OUT + (1.0 - LEFT_OUT) * np.exp(-0.5 * (0.71 / 0.35) ** 2)),
        (100.0, 30.0, False, LEFT_OUT),
        (100.0, 99.0, False, LEFT_OUT),  # whatever the amount
        (104.0, 0.5, True, LEFT_OUT + (1.0 - LEFT_OUT) * np.exp(-0.5 * (0.5 / 0.35) ** 2)),
    ],
)
def test_what_a_complete_card_leaves_out(
    listed_sum: float, remaining: float, agrees: bool, likelihood: float
) -> None:
    claim = compare_unmentioned(listed_sum, np.array([remaining]), 0.35)
    assert claim is not None
    assert claim.agrees().tolist() == [agrees]
    assert claim.likelihood() == pytest.approx([likelihood], rel=1e-9)
