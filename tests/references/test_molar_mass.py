"""The molar-mass calculation beside equations of state, another library's budget, and the GUM.

``pytest -s`` prints the errors and how near the two budgets are.
"""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pytest
from weighings import (
    ZERO_CELSIUS,
    Generated,
    reference_fluids,
    weighings_of,
    why_absent,
)

import identify
from identify import Conditions, Flask, Measurement, Trial
from identify.calculations.molar_mass.trials import Agreement
from identify.notebook.statistics import student_t_quantile

# --------------------------------------------- weighings that CoolProp's equations of state make


def written(weighing: Generated) -> Measurement:
    """Return the notebook of a weighing of which nothing but the liquid is known."""
    laboratory, flask = weighing.laboratory, weighing.flask
    room, humidity = laboratory.room - ZERO_CELSIUS, 100.0 * laboratory.humidity
    day = Conditions(f"{laboratory.pressure} Pa", room, humidity)
    vessel = Flask(1e6 * flask.volume, water_temperature=flask.temperature - ZERO_CELSIUS)
    trial = Trial(98.0, 98.0 + 1e3 * weighing.gain, weighing.bath - ZERO_CELSIUS)
    return Measurement(weighing.fluid.name, conditions=day, flask=vessel, trials=[trial])


def test_molar_masses_come_back_with_the_liquid_named():
    table = identify.load_candidates()
    errors, shortcuts, fluids = [], [], set()
    for fluid in reference_fluids():
        if why_absent(fluid, table):
            continue
        for weighing in weighings_of(fluid):
            found = identify.molar_mass(written(weighing), identity=fluid.cas, draws=0)
            read = weighing.laboratory.pressure * weighing.flask.volume
            shortcut = 1e3 * weighing.gain * 8.314462618 * weighing.bath / read
            assert found.ideal_gas == pytest.approx(shortcut, rel=1e-9)
            added = sum(correction.change for correction in found.corrections)
            assert added == pytest.approx(found.value - found.ideal_gas, abs=1e-9)
            errors.append(100.0 * (found.value / fluid.molar_mass - 1.0))
            shortcuts.append(100.0 * (shortcut / fluid.molar_mass - 1.0))
            fluids.add(fluid.name)
    off, plain = np.abs(errors), np.abs(shortcuts)
    print(
        f"\n{len(off)} weighings of {len(fluids)} liquids, error of the molar mass: "
        f"median {np.median(off):.3f} %, worst {off.max():.3f} % "
        f"(shortcut {np.median(plain):.2f} %, {plain.max():.1f} %)"
    )
    assert len(fluids) >= 25
    assert np.median(off) <= 0.3
    assert off.max() < 1.0


# ------------------------------------------------------------------------------- after the GUM

# NIST Technical Note 1297, table B.1, which is table G.2 of JCGM 100 (GUM): t for degrees of
# freedom and the fraction inside, where 68.27, 95.45 and 99.73 are one, two and three standard
# deviations of a normal distribution.
FRACTIONS = (*(2.0 * NormalDist().cdf(k) - 1.0 for k in (1, 2, 3)), 0.90, 0.95, 0.99)
STUDENT = {
    1: (1.84, 13.97, 235.80, 6.31, 12.71, 63.66),
    2: (1.32, 4.53, 19.21, 2.92, 4.30, 9.92),
    3: (1.20, 3.31, 9.22, 2.35, 3.18, 5.84),
    4: (1.14, 2.87, 6.62, 2.13, 2.78, 4.60),
    5: (1.11, 2.65, 5.51, 2.02, 2.57, 4.03),
    6: (1.09, 2.52, 4.90, 1.94, 2.45, 3.71),
    8: (1.07, 2.37, 4.28, 1.86, 2.31, 3.36),
    10: (1.05, 2.28, 3.96, 1.81, 2.23, 3.17),
    16: (1.03, 2.17, 3.54, 1.75, 2.12, 2.92),
    19: (1.03, 2.14, 3.45, 1.73, 2.09, 2.86),
    25: (1.02, 2.11, 3.33, 1.71, 2.06, 2.79),
    50: (1.01, 2.05, 3.16, 1.68, 2.01, 2.68),
    100: (1.005, 2.025, 3.077, 1.660, 1.984, 2.626),
    float("inf"): (1.000, 2.000, 3.000, 1.645, 1.960, 2.576),
}


@pytest.mark.parametrize(("degrees", "printed"), STUDENT.items())
def test_students_t_is_that_of_the_gum(degrees, printed):
    half = 0.00051 if degrees >= 100 else 0.0051  # of the last digit printed
    for fraction, value in zip(FRACTIONS, printed, strict=True):
        assert student_t_quantile(degrees, 0.5 + 0.5 * fraction) == pytest.approx(value, abs=half)


@pytest.mark.parametrize(
    ("uncertainty", "degrees", "fraction", "printed"),
    [
        # GUM H.1, a gauge block's length: 32 nm with 16 degrees of freedom, 93 nm for 99 %.
        (32.0, 16, 0.99, pytest.approx(93.0, abs=0.5)),
        # GUM G.4.1, example: 1.03 % with 19 degrees of freedom, 2.2 % for 95 %; from memory.
        (1.03, 19, 0.95, pytest.approx(2.2, abs=0.05)),
    ],
)
def test_expanded_uncertainties_of_the_gums_examples(uncertainty, degrees, fraction, printed):
    assert student_t_quantile(degrees, 0.5 + 0.5 * fraction) * uncertainty == printed


@pytest.mark.parametrize(
    ("observed", "mean", "of_mean"),
    [
        # GUM H.2, table H.2: voltage [V], current [mA] and phase [rad], five times each.
        ((5.007, 4.994, 5.005, 4.990, 4.999), 4.9990, 0.0032),
        ((19.663, 19.639, 19.640, 19.685, 19.678), 19.6610, 0.0095),
        ((1.0456, 1.0438, 1.0468, 1.0428, 1.0433), 1.04446, 0.00075),
    ],
)
def test_means_and_their_uncertainties_are_those_of_the_gums_example(observed, mean, of_mean):
    found = Agreement.of(np.array(observed))
    assert found is not None
    assert found.mean == pytest.approx(mean, abs=5e-6)
    assert found.standard_deviation / np.sqrt(5) == pytest.approx(of_mean, rel=0.02)
    # t for 95 % and four degrees of freedom is 2.78 there.
    assert found.confidence == pytest.approx(2.78 * of_mean, rel=0.02)
