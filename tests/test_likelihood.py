"""Densities of readings: that they are densities, and that a tolerance means what it says."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pytest

from identify.observables.boiling_point import (
    BOILING_POINT,
    ERRORS,
    BoilingPointComparison,
    compare_boiling_point,
)
from identify.observables.composition import LEFT_OUT, compare_element, compare_unmentioned
from identify.observables.error.comparison import normal
from identify.observables.error.technique import ALL_STATED, AS_CLASSES_WORK, CAREFUL, Technique
from identify.observables.tolerances import Tolerances
from identify.observables.weighing import (
    MOLAR_MASS,
    MolarMassComparison,
    ObservedMolarMass,
    compare_molar_mass,
)

NAN, INF = float("nan"), float("inf")

# All that can be read, from end to end of its scale.
MASSES = np.concatenate([np.linspace(1e-3, 200.0, 400_001), np.geomspace(200.0, 1e7, 100_001)])
BOILING = np.linspace(337.8 - 1000.0, 337.8 + 1000.0, 400_001)
# The broad part reaches farther than any thermometer.
FAR = 337.8 + np.concatenate(
    [
        -np.geomspace(1e6, 1000.0, 20_001)[:-1],
        BOILING - 337.8,
        np.geomspace(1000.0, 1e6, 20_001)[1:],
    ]
)
ELEMENT = np.linspace(0.0, 100.0, 200_001)


def molar_mass(
    observed: np.ndarray,
    expected: float,
    technique: Technique = AS_CLASSES_WORK,
    **weighed: float,
) -> MolarMassComparison:
    return compare_molar_mass(
        ObservedMolarMass(observed, **weighed),
        np.full(len(observed), expected),
        technique,
        0.05 * expected,
    )


def boiling_point(
    observed: np.ndarray, sigma: float, expected_u: float, by: str = ""
) -> BoilingPointComparison:
    # One reading beside many candidates is the same as many readings beside one.
    expected, uncertainties = 2 * 337.8 - observed, np.full(len(observed), expected_u)
    return compare_boiling_point(337.8, expected, sigma, uncertainties, ERRORS[by])


def area(density: np.ndarray, grid: np.ndarray) -> float:
    return float(np.trapezoid(density, grid))


# ------------------------------------------------------------------------------------ densities


TECHNIQUES = [AS_CLASSES_WORK, *map(Technique.named, ["careful", "usual", "rough", "3 %", "none"])]


@pytest.mark.parametrize("technique", TECHNIQUES, ids=lambda one: one.name or "not said")
@pytest.mark.parametrize(
    "weighed",
    [
        {"instruments": 0.3},
        {"instruments": 3.0, "shut_out": 9.0},
        {"instruments": 1.0, "trials": 3, "scatter": 0.03},
        {"instruments": 0.5, "shut_out": 12.0, "trials": 2, "scatter": 0.2},
    ],
    ids=["one", "one, air shut out", "three", "two that scatter"],
)
@pytest.mark.parametrize("expected", [32.0, 100.0])
def test_density_of_a_molar_mass_integrates_to_one(
    expected: float, technique: Technique, weighed: dict[str, float]
) -> None:
    compared = molar_mass(MASSES, expected, technique, **weighed)
    # What is rough goes by the logarithm, and with air shut out some of it would be below zero.
    below = 1.0 - area(compared.core(), MASSES)
    assert -2e-4 < below < 0.1 * technique.rough + 2e-4
    assert area(compared.likelihood(), MASSES) == pytest.approx(1.0 - 0.98 * below, abs=1e-4)
    assert area(compared.gross * compared.gross_density, MASSES) == pytest.approx(
        MOLAR_MASS.gross, abs=1e-5
    )


def test_rough_parts_of_a_molar_mass_are_parts_of_its_density() -> None:
    compared = molar_mass(MASSES, 60.0, instruments=0.5, shut_out=6.0)
    parts = compared.parts(np.arange(len(MASSES)))
    gross = compared.gross * compared.gross_density
    sound = (1.0 - compared.gross) / compared.gained * compared.error.well_done(compared.off)
    np.testing.assert_allclose(gross + sound + sum(parts.values()), compared.likelihood())
    assert not parts["mass-in-excess"][MASSES < 60.0].any()
    assert not parts["mass-missing"][MASSES > 60.0].any()


@pytest.mark.parametrize("by", ["", "own"])
@pytest.mark.parametrize(("sigma", "expected_u"), [(1.0, 0.3), (0.2, 0.05), (1.0, 25.0)])
def test_density_of_a_boiling_point_integrates_to_one(
    sigma: float, expected_u: float, by: str
) -> None:
    compared = boiling_point(FAR, sigma, expected_u, by)
    assert area(compared.likelihood(), FAR) == pytest.approx(1.0, abs=1e-4)
    assert area(compared.kernel(), FAR) == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize(("by", "share"), [("", 0.18), ("own", 0.75)])
def test_broad_part_of_a_boiling_point_is_part_of_its_density(by: str, share: float) -> None:
    compared = boiling_point(FAR, 1.0, 0.3, by)
    parts = compared.parts(np.arange(len(FAR)))
    high, low = parts["superheated"], parts["thread-uncorrected"]
    assert area(high, FAR) == pytest.approx(area(low, FAR), rel=1e-3)
    assert area(high + low, FAR) == pytest.approx(0.98 * share, abs=1e-4)
    assert not high[FAR < 337.8].any()
    assert not low[FAR > 337.8].any()
    assert (high + low <= compared.likelihood() * (1.0 + 1e-12)).all()


def test_what_students_read_is_far_off() -> None:
    """Of published boiling points that students read, half are; of a supervised class, fewer."""
    beyond = {}
    for by in ("", "own"):
        density = boiling_point(FAR, 1.0, 0.3, by).likelihood()
        beyond[by] = 1.0 - area(np.where(abs(FAR - 337.8) <= 5.6, density, 0.0), FAR)
    assert beyond[""] < 0.12
    assert 0.25 < beyond["own"] < 0.5


def test_a_reading_of_ones_own_agrees_wider() -> None:
    card, own = (boiling_point(np.array([337.8]), 1.0, 0.3, by).half_width for by in ("", "own"))
    assert own > 3.0 * card
    # Unless it is said to be better known.
    known = boiling_point(np.array([337.8]), 9.0, 0.3, "own")
    assert known.half_width == pytest.approx([2.0 * np.hypot(9.0, 0.3)])


@pytest.mark.parametrize(("expected", "sigma"), [(40.0, 0.2), (12.5, 0.02), (92.0, 1.0)])
def test_density_of_a_percentage_integrates_to_one(expected: float, sigma: float) -> None:
    compared = compare_element(expected, 2.0 * expected - ELEMENT, sigma)
    assert area(compared.likelihood(), ELEMENT) == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize("factor", [1.0, 1000.0])
def test_densities_are_per_unit(factor: float) -> None:
    observed, expected = np.array([33.0, 80.0, 4.0]), np.array([32.0, 32.0, 32.0])

    def likelihood(factor: float) -> np.ndarray:
        weighed = ObservedMolarMass(factor * observed, 3.0 * factor, 0.2 * factor)
        return compare_molar_mass(
            weighed, factor * expected, AS_CLASSES_WORK, 1.6 * factor
        ).likelihood()

    np.testing.assert_allclose(likelihood(factor) * factor, likelihood(1.0), rtol=1e-12)


@pytest.mark.parametrize("technique", TECHNIQUES, ids=lambda one: one.name or "not said")
@pytest.mark.parametrize("observed", [-1e6, -5.0, 0.0, 1e-300, 1e-3, 1e3, 1e9])
def test_any_molar_mass_has_a_likelihood(observed: float, technique: Technique) -> None:
    expected = np.array([16.0, 60.0, 500.0])
    weighed = ObservedMolarMass(np.full(3, observed), shut_out=np.array([15.5, 5.0, 0.0]))
    compared = compare_molar_mass(weighed, expected, technique, 0.05 * expected)
    for density in (compared.likelihood(), compared.kernel()):
        assert np.isfinite(density).all()
        assert (density >= 0.0).all()
    assert (compared.likelihood() > 0.0).all()


@pytest.mark.parametrize("observed", [1e-3, 200.0, 1273.0])
def test_any_boiling_point_has_a_likelihood(observed: float) -> None:
    compared = compare_boiling_point(observed, np.array([200.0, 340.0, 900.0]), 1.0, np.ones(3))
    assert (compared.likelihood() > 0.0).all()


def test_a_gross_error_leaves_a_candidate_in_the_race() -> None:
    """One digit dropped costs a factor, however far off the reading is."""
    for technique in TECHNIQUES:
        peak, far = molar_mass(np.array([100.0, 10.0]), 100.0, technique).likelihood()
        assert 1e-6 < far / peak < 1e-2
    sigma, scale = np.hypot(1.0, 0.2), np.hypot(4.0, 0.2)
    at_peak, far_off = boiling_point(np.array([337.8, 397.8]), 1.0, 0.2).likelihood()
    sound = 1.0 - BOILING_POINT.gross
    assert at_peak == pytest.approx(
        sound * (0.82 / (np.sqrt(2.0 * np.pi) * sigma) + 0.18 / (np.sqrt(8.0) * scale))
        + BOILING_POINT.gross / 50.0
    )
    broad = 1.0 / (scale * (2.0 + (60.0 / scale) ** 2) ** 1.5)
    gross = np.exp(-60.0 / 25.0) / 50.0
    assert far_off == pytest.approx(sound * 0.18 * broad + BOILING_POINT.gross * gross)


@pytest.mark.parametrize("tolerance", [2.0, 5.0, 12.0])
def test_a_tolerance_that_is_given_is_twice_a_normal_error(tolerance: float) -> None:
    """But for the two in a hundred that even such a class does roughly."""
    technique = Technique.of_tolerance(tolerance)
    sigma = 0.005 * tolerance * 60.0
    observed = 60.0 + sigma * np.array([-2.0, -1.0, 0.0, 0.5, 1.5])
    # Relative to the molar mass, though a tenth of it was not gained.
    found = molar_mass(observed, 60.0, technique, shut_out=6.0)
    deviation = (observed - 60.0) / sigma
    normal = np.exp(-0.5 * deviation**2) / (sigma * np.sqrt(2.0 * np.pi))
    rough = (found.error.too_much(found.off) + found.error.too_little(found.off)) / found.gained
    assert np.delete(rough, 2).max() < 0.02 / (sigma * 2.0)
    rough[2] /= 2.0  # where neither too much nor too little was gained, it is in both
    np.testing.assert_allclose(found.core(), 0.98 * normal + rough, rtol=1e-9)


def test_technique_is_relative_to_what_was_gained() -> None:
    """Liquid that is left weighs against the gain, not against the air that the vapor shut out."""
    volatile, other = (molar_mass(np.array([66.0]), 60.0, CAREFUL, shut_out=s) for s in (20.0, 0.0))
    assert volatile.off == pytest.approx([6.0 / 40.0])
    assert volatile.in_standard_deviations(0) > other.in_standard_deviations(0)
    # However much is shut out, errors are relative to a fifth of the molar mass.
    assert molar_mass(np.array([66.0]), 60.0, CAREFUL, shut_out=59.0).off == pytest.approx([0.5])


@pytest.mark.parametrize(
    ("off", "by", "least", "most"),
    [
        (0.0, "", 0.0, 1e-9),
        (1.0, "", 0.7, 1.0),
        (-3.0, "", -2.0, -1.5),
        (8.0, "", 2.0, 2.5),
        (-28.0, "", -3.5, -2.5),
        (5.6, "own", 0.7, 1.2),
        (28.0, "own", 2.0, 2.5),
        (1e7, "", 5.0, 8.1),
    ],
)
def test_a_boiling_point_is_as_far_out_as_a_normal_error(
    off: float, by: str, least: float, most: float
) -> None:
    compared = boiling_point(np.array([337.8 + off]), 1.0, 0.0, by)
    assert least <= compared.in_standard_deviations(0) <= most
    if 0.0 < abs(off) < 100.0:
        beyond = abs(FAR - 337.8) >= abs(off)
        core = boiling_point(FAR, 1.0, 0.0, by).core()
        tail = area(np.where(beyond, core, 0.0), FAR)
        normal = NormalDist().cdf(-abs(compared.in_standard_deviations(0)))
        assert 2.0 * normal == pytest.approx(tail, rel=0.02)


def test_highest_density_is_that_of_no_deviation() -> None:
    for compared in (
        molar_mass(np.full(1, 60.0), 60.0, instruments=0.5),
        boiling_point(np.full(1, 337.8), 1.0, 0.5),
        boiling_point(np.full(1, 337.8), 1.0, 0.5, "own"),
        compare_element(40.0, np.full(1, 40.0), 0.2),
    ):
        assert compared.peak() == pytest.approx(compared.core(), rel=1e-9)


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


def test_a_density_far_out_is_as_good_as_none() -> None:
    off = np.array([0.0, 3.0, 37.0, 38.5, 1e3, 1e100])
    found = normal(off, 1.0)
    assert found[:3] == pytest.approx(np.exp(-0.5 * off[:3] ** 2) / np.sqrt(2.0 * np.pi), rel=1e-14)
    assert ((found[3:] > 0.0) & (found[3:] < 1e-300)).all()


@pytest.mark.parametrize(
    ("off", "agrees"),
    [(0.0, True), (1.99, True), (2.0, True), (-2.0, True), (2.01, False), (-2.01, False)],
)
def test_agreement_is_up_to_twice_the_standard_error(off: float, agrees: bool) -> None:
    exact = np.zeros(1)
    weighed = ObservedMolarMass(np.array([60.0 + 1.5 * off]))
    compared = [
        compare_molar_mass(weighed, np.array([60.0]), AS_CLASSES_WORK, 3.0),
        compare_boiling_point(340.0 + 0.7 * off, np.array([340.0]), 0.7, exact),
        compare_element(40.0 + 0.2 * off, np.array([40.0]), 0.2),
    ]
    assert [bool(one.agrees()[0]) for one in compared] == [agrees] * 3


@pytest.mark.parametrize(
    ("instruments", "trials", "scatter", "half_width"),
    [
        (0.0, 1, 0.0, 3.0),
        (2.0, 1, 0.0, 2.0 * np.hypot(1.5, 2.0)),
        (0.0, 4, 8.0 / 60.0, 2.0 * 4.0),  # trials that scatter more than it
        (0.0, 4, 1.0 / 60.0, 3.0),
        (2.0, 4, 8.0 / 60.0, 2.0 * np.hypot(4.0, 2.0)),
    ],
)
def test_a_molar_mass_agrees_as_far_as_it_is_known(
    instruments: float, trials: int, scatter: float, half_width: float
) -> None:
    weighed = ObservedMolarMass(
        np.full(1, 60.0), instruments=instruments, trials=trials, scatter=scatter
    )
    for technique in (AS_CLASSES_WORK, ALL_STATED):
        compared = compare_molar_mass(weighed, np.full(1, 60.0), technique, 3.0)
        assert compared.half_width == pytest.approx(half_width)


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
    broad = ERRORS[""].broad * ERRORS[""].scale
    own = np.hypot(1.0, broad)
    assert compared.bandwidth == pytest.approx(np.hypot(own, BOILING_POINT.bandwidth))


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
