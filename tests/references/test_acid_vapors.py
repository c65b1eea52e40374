"""Molar masses from published vapor densities of carboxylic acids, dimers and all: within 3 %.

Acetic acid: the reference equation of state of Piazza and Span, written out here. Formic acid:
densities that Bineau measured, and one of Coolidge. Formic, acetic, propionic, butyric and valeric
acid: compression factors of saturated vapor by the correlation that Miyamoto et al. made of their
own measurements. Of trifluoroacetic acid no density was at hand: the equilibrium that Frurip et al.
found by its thermal conductivity is compared, from which the table takes its constants.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.optimize import brentq

from identify.compounds.loading import load_candidates
from identify.matching.expected.expectation import Expectation
from identify.physics.boiling import vapor_pressure
from identify.physics.dimers import dimerization_constant
from identify.physics.vapor import Weighing, compressibility, implied_molar_mass

TABLE = load_candidates()
EXPECTATION = Expectation.of(TABLE)
WITHIN = 3.0  # percent
AIR = 28.9645  # g/mol, of the densities relative to air
MMHG = 133.322  # Pa
GAS_CONSTANT = 8.314462618


@dataclass(frozen=True)
class Density:
    """A published density of a vapor, as the molar mass that an ideal gas of it would have."""

    acid: str
    temperature: float  # K
    pressure: float  # Pa
    apparent: float  # g/mol

    @property
    def percent_off(self) -> float:
        """How far the molar mass that follows is from that of the formula."""
        row = np.array(TABLE.find(self.acid)[:1])
        factor = compressibility(self.temperature, self.pressure, EXPECTATION.liquid.take(row))
        return 100.0 * float(self.apparent * factor[0] / EXPECTATION.molar_mass[row][0] - 1.0)


# ------------------------------------------------------------------------------- acetic acid


class PiazzaSpan:
    """The equation of state of acetic acid.

    Piazza, L.; Span, R. An equation of state for acetic acid including the association term of
    SAFT. Fluid Phase Equilib. 2011, 303, 134; coefficients as CoolProp 4 had them.
    """

    molar_mass = 60.05196e-3  # kg/mol
    critical_temperature, critical_density = 590.70, 351.0  # K, kg/m3
    _R = 8.314472
    _n = (
        -0.15624834164583e1, -0.874703669570960, 0.46968858010355e1, 0.97367136204905e-2,
        -0.49055972708048e-2, 0.24499997808125e2, -0.31443235067567e2, -0.13768156877983e1,
        0.14849435860881e1, 0.11374909453775e1, -0.26039791873344e1, -0.30484923493199e-1,
        0.53316386834696e1, -0.56733952193640e1, -0.126785566440530,
    )  # fmt: skip
    _d = (1, 1, 2, 2, 6, 3, 3, 3, 4, 4, 5, 5, 5, 5, 2)
    _t = (-1.0, 1.375, 1.0, 1.375, 0.75, -0.25, 0.0, 2.25, 0.125, 2.125, 1.25, 2.25, 2.125, 2.375,
          14.0)  # fmt: skip
    _l = (0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 2, 2, 3)

    def _residual(self, delta: float, tau: float) -> float:
        n, d, t, last = (np.array(one, dtype=float) for one in (self._n, self._d, self._t, self._l))
        damped = np.where(last > 0, np.exp(-(delta**last)), 1.0)
        by_power = float(np.sum(n * delta**d * tau**t * damped))
        eta = 0.444215309e-1 * delta
        contact = 0.5 * (2.0 - eta) / (1.0 - eta) ** 3
        strength = contact * 0.109117041e-4 * (np.exp(12.2735737 * tau) - 1.0)
        free = 2.0 / (np.sqrt(1.0 + 4.0 * strength * delta) + 1.0)
        return by_power + 1.01871348 * float(np.log(free) - 0.5 * free + 0.5)

    def pressure(self, temperature: float, density: float) -> float:
        """Return the pressure [Pa] at a temperature [K] and a density [kg/m3]."""
        delta, tau = density / self.critical_density, self.critical_temperature / temperature
        step = 1e-6 * delta
        slope = self._residual(delta + step, tau) - self._residual(delta - step, tau)
        ideal = density * self._R / self.molar_mass * temperature
        return ideal * (1.0 + delta * slope / (2.0 * step))

    def vapor_density(self, temperature: float, pressure: float) -> float:
        """Return the density of the vapor [kg/m3]."""
        ideal = pressure * self.molar_mass / (self._R * temperature)
        return float(
            brentq(
                lambda one: self.pressure(temperature, one) - pressure, 0.99 * ideal, 2.3 * ideal
            )
        )


ACETIC = PiazzaSpan()


@pytest.mark.parametrize(
    ("temperature", "density", "megapascal"),
    [
        (290.0, 0.010, 0.23586e-3),
        (290.0, 0.025, 0.55619e-3),
        (450.0, 1.0, 0.55569e-1),
        (450.0, 6.0, 0.26514),
    ],
)
def test_the_equation_is_written_out_right(
    temperature: float, density: float, megapascal: float
) -> None:
    """Beside the values that its authors give to check a program with."""
    assert ACETIC.pressure(temperature, density) == pytest.approx(1e6 * megapascal, rel=1e-4)


def saturated(acid: str, temperature: float) -> float:
    """Return the table's vapor pressure [Pa]."""
    row = TABLE.find(acid)[0]
    boiling = TABLE.number("boiling_point_C")[row] + 273.15
    return float(vapor_pressure(temperature, boiling, TABLE.vapor_curve[row]))


def acetic() -> list[Density]:
    """Return the equation's densities from 60 to 160 degrees Celsius, up to one atmosphere."""
    found = []
    for temperature in np.arange(333.15, 434.0, 10.0).tolist():
        for share in (0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0):
            pressure = share * 101325.0
            if pressure < 0.98 * saturated("acetic acid", temperature):
                density = ACETIC.vapor_density(temperature, pressure)
                apparent = 1e3 * density * GAS_CONSTANT * temperature / pressure
                found.append(Density("acetic acid", temperature, pressure, apparent))
    return found


# -------------------------------------------------------------------------------- formic acid

_SAME = 1.0  # degrees Celsius
# Degrees Celsius, mmHg, density relative to air. Bineau (Ann. Chim. Phys. 1846, 18, 226), as Gibbs
# prints them: Am. J. Sci. 1879, 18, 371; Scientific Papers I, table III. Left out are what he
# brackets, the one that he marks as nearly saturated (99.5, 690, 2.52), and the measurements at 10
# to 35 degrees and 2 to 29 mmHg, which scatter by 7 %. Readings within a degree are averaged: they
# scatter by 1 %.
_BINEAU = (
    (216.0, 690, 1.61), (184.0, 750, 1.68), (125.5, 687, 2.05), (125.5, 645, 2.03),
    (124.5, 670, 2.06), (124.5, 640, 2.04), (118.0, 650, 2.13), (117.5, 688, 2.13),
    (115.5, 649, 2.20), (115.5, 640, 2.16), (111.5, 690, 2.22), (111.5, 690, 2.25),
    (105.0, 691, 2.35), (105.0, 650, 2.33), (105.0, 630, 2.32),
    (101.0, 693, 2.44), (101.0, 650, 2.41), (99.5, 684, 2.49), (99.5, 676, 2.46), (99.5, 662, 2.44),
    (99.5, 641, 2.42), (99.5, 619, 2.41), (99.5, 602, 2.40), (99.5, 557, 2.34),
)  # fmt: skip


def formic() -> list[Density]:
    """Return densities that were measured, and that of Coolidge where the acid boils."""
    groups: dict[float, list[tuple[float, float, float]]] = {}
    for reading in _BINEAU:
        near = next((one for one in groups if abs(one - reading[0]) <= _SAME), reading[0])
        groups.setdefault(near, []).append(reading)
    means = [np.mean(group, axis=0).tolist() for group in groups.values()]
    measured = [
        Density("formic acid", celsius + 273.15, pressure * MMHG, density * AIR)
        for celsius, pressure, density in means
    ]
    # 73 g/mol: Coolidge (J. Am. Chem. Soc. 1928, 50, 2166), as H. L. Ritter's dissertation (The
    # Molecular State of Acetic Acid Vapor, Pennsylvania State College) quotes it.
    return [*measured, Density("formic acid", 373.95, 101325.0, 73.0)]


# ------------------------------------------------- saturated vapors, trifluoroacetic acid


def of_equilibrium(acid: str, temperature: float, pressure: float, bar: float) -> Density:
    """Return the density that a dimerization constant [1/bar] stands for."""
    product = bar * 1e-5 * pressure
    single = 2.0 / (1.0 + np.sqrt(1.0 + 4.0 * product))
    row = TABLE.find(acid)[0]
    return Density(acid, temperature, pressure, TABLE.number("molar_mass")[row] * (2.0 - single))


def of_saturated_vapor() -> list[Density]:
    """Return those of Miyamoto et al., J. Chem. Eng. Data 1999, 44, 48, up to one atmosphere."""
    found = []
    for acid in ("formic", "acetic", "propionic", "butyric", "valeric"):
        entropy = -149.0 if acid == "formic" else -136.0
        for temperature in (353.15, 373.15, 393.15, 413.15):
            pressure = saturated(f"{acid} acid", temperature)
            if pressure < 101325.0:
                constant = np.exp((entropy + 58_500.0 / temperature) / GAS_CONSTANT)
                found.append(of_equilibrium(f"{acid} acid", temperature, pressure, constant))
    return found


@pytest.mark.parametrize("temperature", [350.0, 372.0, 390.0, 415.0])
def test_the_equilibrium_of_trifluoroacetic_acid(temperature: float) -> None:
    """Frurip et al., J. Am. Chem. Soc. 1980, 102, 2610: 350 to 415 K, 100 to 2000 Torr."""
    # kcal/mol and cal/(mol K), at 1 atm
    constant = np.exp((13660.0 / temperature - 36.15) / 1.98720) / 101325.0
    row = TABLE.find("trifluoroacetic acid")[0]
    found = dimerization_constant(temperature, TABLE.dimers[row])
    assert float(found) == pytest.approx(constant, rel=1e-3)


SETS = {
    "acetic acid, equation of state": acetic,
    "formic acid, measured": formic,
    "saturated vapors": of_saturated_vapor,
}


@pytest.mark.parametrize("name", SETS)
def test_molar_mass_from_published_densities(name: str) -> None:
    """Print how far each is off (pytest -s), and hold all of them to 3 %."""
    densities = SETS[name]()
    off = np.array([density.percent_off for density in densities])
    worst = densities[int(np.argmax(np.abs(off)))]
    print(
        f"\n{name}: {len(off)} densities, molar mass off by {np.median(np.abs(off)):.2f} % in the "
        f"median, at most {np.abs(off).max():.2f} % ({worst.acid}, {worst.temperature:.0f} K, "
        f"{worst.pressure:.0f} Pa)"
    )
    assert np.abs(off).max() < WITHIN


@pytest.mark.parametrize("bath", [125.0, 140.0])
def test_a_flask_of_acetic_acid(bath: float) -> None:
    """Weigh by hand what the equation of state puts into a flask, and leaves in it as vapor."""
    volume, pressure, room, air = 280e-6, 101325.0, 295.15, 1.189
    mass = ACETIC.vapor_density(bath + 273.15, pressure) * volume
    left = saturated("acetic acid", room)
    gained = (mass - air * volume * left / pressure - air * mass / 1049.0) / (1.0 - air / 8000.0)
    read = (gained, bath + 273.15, room, pressure, volume, bath + 273.15, 0.5)
    weighing = Weighing(*(np.array([value]) for value in read))
    row = np.array(TABLE.find("acetic acid")[:1])
    found = 1e3 * float(implied_molar_mass(weighing, EXPECTATION.liquid.take(row))[0, 0])
    assert found == pytest.approx(60.052, rel=0.01 * WITHIN)
    # Without dimers it would be half as much again, and more.
    assert 1e3 * float(weighing.ideal_molar_mass()[0]) > 85.0
