"""Grubbs' and Dixon's tests beside printed tables, a worked example, and drawn samples.

``pytest -s`` prints the share of sound samples that each test calls an outlier in.
"""

from __future__ import annotations

import numpy as np
import pytest

from identify.notebook.statistics import (
    OUTLIER_CHANCE,
    dixon_critical,
    dixon_ratio,
    grubbs_critical,
    grubbs_statistic,
)

# ------------------------------------------------------------------------------ printed tables

# G for one suspected value, 0.05 and 0.01: LibreTexts, Analytic References, appendix 07 (Harvey,
# D. Analytical Chemistry), two-sided as its values show. Two of its entries are misprints: 2.202
# for 7 at 0.05, larger than that for 8, is 2.020 (2.02 for 2.5 % at one end in the table that goes
# with DIN 32645); 2.755 for 15 at 0.01 repeats that for 14, and is left out here.
GRUBBS = {
    3: (1.155, 1.155),
    4: (1.481, 1.496),
    5: (1.715, 1.764),
    6: (1.887, 1.973),
    7: (2.020, 2.139),
    8: (2.126, 2.274),
    9: (2.215, 2.387),
    10: (2.290, 2.482),
    11: (2.355, 2.564),
    12: (2.412, 2.636),
    13: (2.462, 2.699),
    14: (2.507, 2.755),
    15: (2.549, None),
}

# Q10 at 0.05: LibreTexts, Analytic References, appendix 06 (Harvey, as above), which takes it from
# Rorabacher, D. B. Anal. Chem. 1991, 63, 139.
DIXON = {3: 0.970, 4: 0.829, 5: 0.710, 6: 0.625, 7: 0.568, 8: 0.526, 9: 0.493, 10: 0.466}


@pytest.mark.parametrize(("count", "printed"), GRUBBS.items())
def test_grubbs_critical_values_are_those_printed(count, printed):
    # Where the last digit would be a 5 behind the third, the table may have it either way.
    assert grubbs_critical(count) == pytest.approx(printed[0], abs=1e-3)
    if printed[1] is not None:
        assert grubbs_critical(count, 0.01) == pytest.approx(printed[1], abs=1e-3)


@pytest.mark.parametrize(("count", "printed"), DIXON.items())
def test_dixon_critical_values_are_those_printed(count, printed):
    assert dixon_critical(count) == printed


@pytest.mark.parametrize("count", [0, 2, 11, 100])
def test_dixon_has_no_critical_value_beyond_the_table(count):
    assert dixon_critical(count) is None


# ---------------------------------------------------------------------------- a worked example

# Ratios of uranium's isotopes by mass spectrometry, Tietjen, G. L.; Moore, R. H. Technometrics
# 1972, 14, 583, as the NIST/SEMATECH e-Handbook of Statistical Methods quotes them in section
# 1.3.5.17.1. G is 2.468765 (the manual of the R library climtrends prints it with the data); the
# handbook's critical value 2.032 is for one end at 5 % (from memory; 2.03 in the table above).
URANIUM = (199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57)


def test_the_example_of_the_handbook():
    found = grubbs_statistic(URANIUM)
    assert found == pytest.approx(2.468765, abs=5e-7)
    # One end at 5 % is both ends at 10 %.
    assert grubbs_critical(len(URANIUM), 2 * 0.05) == pytest.approx(2.032, abs=5e-4)
    assert found > grubbs_critical(len(URANIUM))


# -------------------------------------------------------------------------------- drawn samples

DRAWN = 200_000
SEED = 1972


def normal_samples(count: int) -> np.ndarray:
    return np.random.default_rng([SEED, count]).standard_normal((DRAWN, count))


def farthest(samples: np.ndarray) -> np.ndarray:
    center = samples.mean(axis=1, keepdims=True)
    return np.abs(samples - center).max(axis=1) / samples.std(axis=1, ddof=1)


def gap(samples: np.ndarray) -> np.ndarray:
    ordered = np.sort(samples, axis=1)
    ends = np.stack([ordered[:, 1] - ordered[:, 0], ordered[:, -1] - ordered[:, -2]])
    return ends.max(axis=0) / np.ptp(ordered, axis=1)


@pytest.mark.parametrize("count", DIXON)
@pytest.mark.parametrize(
    ("statistic", "critical", "one"),
    [(farthest, grubbs_critical, grubbs_statistic), (gap, dixon_critical, dixon_ratio)],
    ids=["Grubbs", "Dixon"],
)
def test_one_sound_sample_in_twenty_is_called_an_outlier(statistic, critical, one, count):
    samples = normal_samples(count)
    found = statistic(samples)
    share = float((found > critical(count)).mean())
    print(f"\n{one.__name__}, {count} values: {100 * share:.2f} % above the critical value")
    assert share == pytest.approx(OUTLIER_CHANCE, abs=0.003)  # six standard errors
    # All samples at once are what the package makes of one.
    for sample, value in zip(samples[:50].tolist(), found[:50], strict=True):
        assert one(sample) == pytest.approx(value, rel=1e-12)
