"""How classes err: that the errors are distributions, and that what is said of them is theirs."""

from __future__ import annotations

from math import erf, exp, hypot, log, sqrt
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from identify.observables.error.technique import (
    ALL_STATED,
    AS_CLASSES_WORK,
    CAREFUL,
    MolarMassError,
    Technique,
)

OFF = np.concatenate([np.linspace(-3.0, 3.0, 600_001), np.geomspace(3.0, 1e6, 100_001)])
NAMES = ["careful", "usual", "rough", "5 %", "0.5 %"]
EVERY = [AS_CLASSES_WORK, *map(Technique.named, NAMES), Technique.of_tolerance(5.0)]

techniques = st.sampled_from(EVERY)
instruments = st.floats(0.003, 0.2)
several = st.integers(1, 6)
scatters = st.floats(0.0, 0.5)
relatives = st.floats(1.0, 2.0)


def area(values: np.ndarray) -> float:
    return float(np.trapezoid(values, OFF))


def whole(error: MolarMassError) -> float:
    return error.rough + sum(weight for weight, _ in error.parts)


# ------------------------------------------------------------------------------------ densities


@pytest.mark.parametrize("technique", EVERY, ids=lambda one: one.name or "not said")
@pytest.mark.parametrize(
    ("own", "trials", "scatter"),
    [(0.003, 1, 0.0), (0.05, 1, 0.0), (0.003, 3, 0.001), (0.01, 2, 0.3), (0.01, 40, 0.05)],
)
def test_density_integrates_to_one(
    technique: Technique, own: float, trials: int, scatter: float
) -> None:
    error = technique.error(own, trials, scatter)
    assert area(error.density(OFF)) == pytest.approx(1.0, abs=2e-4)


@settings(deadline=None)
@given(techniques, instruments, several, scatters, relatives)
def test_what_is_done_well_and_both_sides_of_rough_are_all(
    technique: Technique, own: float, trials: int, scatter: float, relative: float
) -> None:
    error = technique.error(own, trials, scatter, relative)
    off = np.array([-5.0, -1.0, -0.6, -0.05, -1e-9, 0.02, 0.4, 1.4, 30.0])
    parts = error.well_done(off), error.too_much(off), error.too_little(off)
    np.testing.assert_allclose(sum(parts), error.density(off), rtol=1e-12)
    assert all((part >= 0.0).all() for part in parts)
    assert not error.too_much(off[off < 0.0]).any()
    assert not error.too_little(off[off > 0.0]).any()


def test_too_much_is_commoner_than_too_little() -> None:
    """Three results are high for two that are low."""
    error = AS_CLASSES_WORK.error(0.003)
    up, down = area(error.too_much(OFF)), area(error.too_little(OFF))
    assert up + down == pytest.approx(AS_CLASSES_WORK.rough, abs=1e-4)
    # But for more liquid than is poured in, which is cut short.
    scales = AS_CLASSES_WORK.too_much / AS_CLASSES_WORK.too_little
    assert 0.95 * scales < up / down < scales


def test_hardly_more_liquid_is_left_than_was_poured_in() -> None:
    """From three times the vapor's mass on, the density falls with the tenth power."""
    error = Technique.named("rough").error(1e-6)
    below, edge, above = error.density(np.array([2.0, 3.0, 9.0]))
    assert 0.2 < edge / below < 0.6
    assert above / edge < 1e-3


@pytest.mark.parametrize("factor", [1.2, 1.8, 3.0])
def test_rough_technique_errs_by_factors(factor: float) -> None:
    """Rough density falls by the exponential of the logarithm over the scale on either side."""
    error = Technique.named("rough").error(1e-6)
    peak, up, down = (float(error.density(np.array([off]))[0]) for off in _factors(factor))
    up_scale, down_scale = AS_CLASSES_WORK.too_much, AS_CLASSES_WORK.too_little
    assert up * factor / peak == pytest.approx(exp(-log(factor) / up_scale), rel=1e-6)
    assert down / factor / peak == pytest.approx(exp(-log(factor) / down_scale), rel=1e-6)


def _factors(factor: float) -> tuple[float, float, float]:
    return 0.0, factor - 1.0, 1.0 / factor - 1.0


@pytest.mark.parametrize("off", [-1e9, -1.0, -0.999, 1e9])
def test_any_error_has_a_density_where_it_may_be_rough(off: float) -> None:
    density = AS_CLASSES_WORK.error(0.003).density(np.array([off]))
    assert np.isfinite(density).all()
    assert (density >= 0.0).all()


# ------------------------------------------------------------------- instruments, trials, scatter


@pytest.mark.parametrize(("size", "own"), [(0.025, 0.003), (0.025, 0.03), (0.08, 0.2)])
def test_instruments_add_to_technique_in_squares(size: float, own: float) -> None:
    ((weight, sigma),) = Technique.named(f"{100.0 * size:g} %").error(own).parts
    assert (weight, sigma) == (0.98, pytest.approx(np.hypot(size, own)))


def test_no_part_is_narrower_than_the_least() -> None:
    for technique in EVERY:
        error = technique.error(0.0, least=0.03)
        assert all(size == max(0.03, size) for _, size in error.parts)
    assert CAREFUL.error(0.001, least=0.01).parts[0][1] == pytest.approx(np.hypot(0.025, 0.001))


def test_nothing_beyond_what_is_stated() -> None:
    error = Technique.named("none").error(0.017)
    assert (error.parts, error.rough) == (((1.0, 0.017),), 0.0)
    assert error.standard_uncertainty == pytest.approx(0.017, rel=1e-4)
    assert error.density(np.array([0.02]))[0] == pytest.approx(NormalDist(0.0, 0.017).pdf(0.02))
    assert ALL_STATED.error(0.01, 3, 0.02).parts[0][1] > 0.01  # but trials that scatter tell


@pytest.mark.parametrize(
    ("trials", "scatter", "expected"),
    [
        # As usual: 2.5 % with 0.6 of it scatter, over the number of trials.
        (2, 0.015, 0.025 * sqrt(0.64 + 0.36 / 2)),
        (4, 0.015, 0.025 * sqrt(0.64 + 0.36 / 4)),
        # However well they agree, what they share stays.
        (4, 0.0, 0.025 * sqrt(0.64 + 0.36 * 2.0 / 5.0 / 4)),
        (10**6, 0.0, 0.025 * 0.8),
        # Many that scatter say how far.
        (100, 0.3, sqrt(0.02**2 + (2.0 * 0.015**2 + 99 * 0.3**2) / 101 / 100)),
    ],
)
def test_trials_measure_scatter_and_share_their_bias(
    trials: int, scatter: float, expected: float
) -> None:
    ((_, sigma),) = CAREFUL.error(0.0, trials, scatter).parts
    assert sigma == pytest.approx(expected, rel=1e-5)


@settings(deadline=None)
@given(techniques, instruments, st.integers(2, 6), st.floats(0.0, 0.3), st.floats(0.01, 0.3))
def test_more_scatter_is_never_less_uncertain(
    technique: Technique, own: float, trials: int, scatter: float, more: float
) -> None:
    less, wider = (
        technique.error(own, trials, one).standard_uncertainty for one in (scatter, scatter + more)
    )
    assert wider >= less - 1e-9


@pytest.mark.parametrize(
    ("scatter", "least", "most"), [(0.002, 0.19, 0.21), (0.05, 0.21, 0.3), (0.3, 0.7, 0.9)]
)
def test_trials_that_lie_far_apart_were_rough(scatter: float, least: float, most: float) -> None:
    """However well they agree, all may be spoiled alike."""
    error = AS_CLASSES_WORK.error(0.003, 3, scatter)
    assert least < error.rough < most
    assert error.rough + sum(weight for weight, _ in error.parts) == pytest.approx(1.0)


def test_a_tolerance_is_relative_to_the_molar_mass() -> None:
    """Half of 5 % of the prediction, though a third of it was not gained; technique is of gains."""
    by_tolerance, by_word = (
        technique.error(0.0, relative_to=1.5).parts[0][1]
        for technique in (Technique.of_tolerance(5.0), CAREFUL)
    )
    assert (by_tolerance, by_word) == (pytest.approx(1.5 * 0.025), pytest.approx(0.025))


# ----------------------------------------------------------- intervals, and deviations in words


@settings(deadline=None)
@given(techniques, instruments, several, st.floats(0.0, 0.2), st.sampled_from([0.5, 0.68, 0.95]))
def test_an_interval_holds_what_it_says(
    technique: Technique, own: float, trials: int, scatter: float, holds: float
) -> None:
    error = technique.error(own, trials, scatter)
    low, high = error.interval(holds)
    assert low < 0.0 < high
    assert error.below(high) - error.below(low) == pytest.approx(holds * whole(error), abs=1e-6)
    assert error.below(low) == pytest.approx(whole(error) - error.below(high), abs=1e-6)


@pytest.mark.parametrize("technique", EVERY, ids=lambda one: one.name or "not said")
@pytest.mark.parametrize("change", [-0.9, -0.3, -0.02, 0.0, 0.015, 0.2, 1.5])
def test_chance_below_is_the_area_of_the_density(technique: Technique, change: float) -> None:
    """The true value is below a change of the one found: a gain found that is too much.

    What technique errs by is relative to what was to be gained, and so to the true value.
    """
    error = technique.error()
    off = 1.0 / (1.0 + change) - 1.0
    above = off <= OFF
    area = np.trapezoid(error.density(OFF[above]), OFF[above])
    assert error.below(change) == pytest.approx(area, abs=2e-4)


@pytest.mark.parametrize("change", [-0.9, -0.3, -0.02, 0.0, 0.015, 0.2, 1.5])
def test_instruments_err_whatever_the_true_value(change: float) -> None:
    alone = Technique.named("none").error(0.1)
    assert alone.below(change) == pytest.approx(0.5 * (1.0 + erf(change / (0.1 * sqrt(2.0)))))
    # Beside technique, errors of both add up as they do where the true value lies.
    both = Technique("", ((1.0, 0.08),)).error(0.1)
    together = hypot(0.08 * (1.0 + change), 0.1)
    normal_below = 0.5 * (1.0 + erf(change / (together * sqrt(2.0))))
    assert both.below(change) == pytest.approx(normal_below)


@pytest.mark.parametrize(
    ("technique", "least", "most"),
    [("none", 0.0, 0.0035), ("careful", 0.025, 0.027), ("usual", 0.08, 0.1), ("rough", 0.3, 0.5)],
)
def test_standard_uncertainty_is_half_of_what_holds_two_in_three(
    technique: str, least: float, most: float
) -> None:
    error = Technique.named(technique).error(0.003)
    low, high = error.interval(erf(sqrt(0.5)))
    assert error.standard_uncertainty == pytest.approx(0.5 * (high - low), abs=1e-6)
    assert least <= error.standard_uncertainty <= most


def test_what_was_found_is_mostly_too_much() -> None:
    low, high = AS_CLASSES_WORK.error(0.003).interval()
    assert -low > high


@settings(deadline=None)
@given(st.floats(-8.0, 8.0), st.floats(0.003, 0.5))
def test_a_normal_error_is_as_far_out_as_it_is(deviations: float, own: float) -> None:
    error = ALL_STATED.error(own)
    assert error.in_standard_deviations(deviations * own) == pytest.approx(deviations, abs=1e-9)


@settings(deadline=None)
@given(techniques, instruments, several, scatters, st.floats(-0.98, 5.0))
def test_far_out_means_as_rare(
    technique: Technique, own: float, trials: int, scatter: float, off: float
) -> None:
    """The area beyond an error is that of the normal distribution beyond so many deviations."""
    error = technique.error(own, trials, scatter)
    beyond = off <= OFF
    tail = float(np.trapezoid(error.density(OFF[beyond]), OFF[beyond]))
    tail = min(tail, 1.0 - tail)
    found = error.in_standard_deviations(off)
    if tail > 1e-3:
        assert 1.0 - NormalDist().cdf(abs(found)) == pytest.approx(tail, rel=0.02, abs=2e-4)
    assert abs(found) < 8.1


def test_errors_of_classes_are_seldom_surprising() -> None:
    """A molar mass that is 20 % high is not two deviations off; of a careful class it is."""
    as_classes, careful = (
        technique.error(0.003).in_standard_deviations(0.20)
        for technique in (AS_CLASSES_WORK, CAREFUL)
    )
    assert 1.0 < as_classes < 2.0 < careful


def test_each_candidate_has_its_own_error() -> None:
    own = np.array([0.01, 0.1, 0.3])
    error = AS_CLASSES_WORK.error(own, 2, 0.1, np.array([1.0, 1.2, 1.5]))
    off = np.array([0.3, 0.3, 0.3])
    for row in range(3):
        alone = error.at(row).density(off[:1])
        assert alone == pytest.approx(error.density(off)[row : row + 1], rel=1e-12)


@settings(deadline=None)
@given(techniques, instruments, several, scatters)
def test_peak_is_the_density_of_no_error(
    technique: Technique, own: float, trials: int, scatter: float
) -> None:
    error = technique.error(own, trials, scatter)
    assert error.peak == pytest.approx(float(error.density(np.zeros(1))[0]), rel=1e-12)


# ---------------------------------------------------------------------------- agreement of trials


@pytest.mark.parametrize("technique", EVERY, ids=lambda one: one.name or "not said")
def test_agreement_falls_as_trials_scatter(technique: Technique) -> None:
    scatter = np.append(np.linspace(0.0, 1.0, 101), 1e6)
    for trials in (2, 3, 1000):
        agreement = technique.log_agreement(scatter, trials)
        assert (np.diff(agreement) <= 0.0).all()
        assert np.isfinite(agreement).all()


def test_agreement_of_two_trials_is_the_density_of_their_difference() -> None:
    difference = np.linspace(-50.0, 50.0, 1_000_001)
    # Each is off the mean by half of the difference.
    density = np.exp(AS_CLASSES_WORK.log_agreement(np.abs(difference) / sqrt(2.0), 2))
    assert np.trapezoid(density, difference) == pytest.approx(1.0, abs=1e-3)


@given(scatters)
def test_one_trial_agrees_with_itself(scatter: float) -> None:
    assert AS_CLASSES_WORK.log_agreement(scatter, 1) == pytest.approx(0.0, abs=1e-12)


# ----------------------------------------------------------------------------------------- words


@pytest.mark.parametrize(
    ("said", "parts", "rough"),
    [
        ("careful", ((0.98, 0.025),), 0.02),
        (" Usual ", ((0.90, 0.08),), 0.10),
        ("ROUGH", (), 1.0),
        ("none", ((1.0, 0.0),), 0.0),
        ("5 %", ((0.98, 0.05),), 0.02),
        ("2,5%", ((0.98, 0.025),), 0.02),
        (" 0.01 % ", ((0.98, 0.0001),), 0.02),
        ("50 %", ((0.98, 0.5),), 0.02),
    ],
)
def test_technique_is_a_word_or_a_percentage(
    said: str, parts: tuple[tuple[float, float], ...], rough: float
) -> None:
    technique = Technique.named(said)
    assert technique.rough == rough
    assert [weight for weight, _ in technique.parts] == [weight for weight, _ in parts]
    assert [size for _, size in technique.parts] == pytest.approx([size for _, size in parts])


@pytest.mark.parametrize(
    ("said", "fault"),
    [
        ("sloppy", 'technique: "sloppy" is not careful, usual, rough, none, or a percentage'),
        ("", 'technique: "" is not careful'),
        ("5", 'technique: "5" is not careful'),
        ("-5 %", 'technique: "-5 %" is not careful'),
        ("5 % or so", 'technique: "5 % or so" is not careful'),
        ("0 %", 'technique: "0 %" is not from 0.01 to 50 %'),
        ("51 %", 'technique: "51 %" is not from 0.01 to 50 %'),
    ],
)
def test_what_is_not_a_technique(said: str, fault: str) -> None:
    with pytest.raises(ValueError, match=fault):
        Technique.named(said)


@pytest.mark.parametrize("technique", EVERY, ids=lambda one: one.name or "not said")
def test_weights_are_shares(technique: Technique) -> None:
    assert whole(technique.error(0.003)) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(
    ("name", "spread"),
    [("careful", 0.025), ("usual", 0.08), ("rough", 0.22), ("none", 0.0), ("5 %", 0.05)],
)
def test_how_far_students_are_from_each_other(name, spread):
    """As the option says: rough work is one part alone, what is left or spilled."""
    assert Technique.of(name).spread == pytest.approx(spread, rel=1e-12)
    assert Technique.of_tolerance(200.0 * spread).spread == pytest.approx(spread, rel=1e-12)
