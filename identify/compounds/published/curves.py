"""Vapor-pressure curves and second virial coefficients in one common form.

Vapor pressure: ``ln(p / 101325 Pa) = a (1 - Tb/T) + b ln(T/Tb) + c (T/Tb - 1)``, which passes
through the normal boiling point ``Tb`` whatever the coefficients. Second virial coefficient:
``B = v0 + v1 t + v2 t^3 + v3 t^8`` with ``t = 300 K / T``, the powers of Tsonopoulos's equation.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from chemicals.acentric import LK_omega
from chemicals.vapor_pressure import Ambrose_Walton
from chemicals.virial import BVirial_Tsonopoulos_extended
from numpy.typing import NDArray

from identify.compounds.published.literature import VaporPressureFit
from identify.physics.constants import ICE_POINT

Array = NDArray[np.float64]

ATMOSPHERE = 101325.0
_TEMPERATURES = np.arange(ICE_POINT, 404.0, 5.0)  # 0 to about 130 degrees Celsius
_ESTIMATE_WEIGHT = 0.01  # the estimate only fills in where a published equation does not reach
_LEAST_COVER = 0.4  # of the range from room temperature to the boiling point
# d ln p / d ln T at the boiling point: 10.3 to 14.0 in the Wagner equations of liquids that boil
# between 15 and 150 degrees Celsius.
_FLATTEST, _STEEPEST = 9.3, 14.7
_SOUND_OVER = np.arange(250.0, 421.0, 5.0)  # K
_USUAL_RATIO, _USUAL_PRESSURE = 1.5, 4e6  # critical over boiling temperature; Pa; common practice
_LARGEST_BOILING_GAP = 1.5  # K between an equation's own boiling point and the consensus


@dataclass(frozen=True)
class CriticalConstants:
    """Critical temperature [K], critical pressure [Pa], acentric factor."""

    temperature: float
    pressure: float
    acentric: float


def vapor_curve(
    boiling_point: float, critical: CriticalConstants, fits: Iterable[VaporPressureFit]
) -> tuple[Array, str]:
    """Fit the common form to a published equation, or to corresponding states.

    Parameters
    ----------
    boiling_point : float
        Normal boiling point [K].
    critical : CriticalConstants
        Constants of the estimate.
    fits : iterable of VaporPressureFit
        Published equations, the best-founded first.

    Returns
    -------
    coefficients, source : array of shape (3,), str

    References
    ----------
    Ambrose, D.; Walton, J. Pure Appl. Chem. 1989, 61, 1395 (the estimate; its acentric factor is
    the one that makes it pass through the boiling point).
    """
    for fit in _usable(boiling_point, fits):
        coefficients = _fitted(boiling_point, critical, fit)
        if _is_sound(coefficients, boiling_point):
            return coefficients, fit.source
    coefficients = _fitted(boiling_point, critical)
    if _is_sound(coefficients, boiling_point):
        return coefficients, "Ambrose-Walton corresponding states"
    usual = CriticalConstants(_USUAL_RATIO * boiling_point, _USUAL_PRESSURE, critical.acentric)
    return (
        _fitted(boiling_point, usual),
        "Ambrose-Walton corresponding states, usual critical constants",
    )


def _fitted(
    boiling_point: float, critical: CriticalConstants, fit: VaporPressureFit | None = None
) -> Array:
    """Fit the common form to an equation, and to corresponding states where it does not reach."""
    points = [
        (t, p, _ESTIMATE_WEIGHT if fit is not None else 1.0)
        for t, p in _estimated_pressures(boiling_point, critical)
    ]
    if fit is not None:
        inside = [t for t in _TEMPERATURES if fit.low - 15.0 <= t <= fit.high + 15.0]
        points += [(t, fit.pressure(t), 1.0) for t in inside]
    usable = np.array([point for point in points if point[1] > 0.0])
    temperature, pressure, weight = usable.T
    root = np.sqrt(weight)
    basis = _basis(temperature, boiling_point) * root[:, None]
    # A trace of ridge keeps the three nearly parallel terms small where few points are.
    ridge = 1e-4 * np.eye(3)
    target = np.log(pressure / ATMOSPHERE) * root
    coefficients, *_ = np.linalg.lstsq(
        np.vstack([basis, ridge]), np.concatenate([target, ridge @ [10.0, 0.0, 0.0]]), rcond=None
    )
    return np.asarray(coefficients)


def _is_sound(coefficients: Array, boiling_point: float) -> bool:
    """Say whether a curve rises everywhere, and at the boiling point as curves of liquids do."""
    steepness = float(coefficients.sum())  # d ln p / d ln T there
    logarithm = _basis(_SOUND_OVER, boiling_point) @ coefficients
    return _FLATTEST <= steepness <= _STEEPEST and bool((np.diff(logarithm) > 0.0).all())


def second_virial_coefficients(
    critical: CriticalConstants, polar_class: str = "", dipole: float = 0.0
) -> Array:
    """Return the coefficients v0 to v3 of the second virial coefficient [m3/mol].

    Parameters
    ----------
    critical : CriticalConstants
    polar_class : str
        ``"ketone"``, ``"aldehyde"``, ``"alkyl nitrile"`` or ``"ester"`` for the polar term, which
        needs the dipole moment; without it 1 bar of acetone seems 0.6 %, and of acetonitrile 3 %,
        nearer to an ideal gas than it is.
    dipole : float
        In debye.

    References
    ----------
    Tsonopoulos, C. AIChE J. 1974, 20, 263; polar term ibid. 1975, 21, 827.
    """
    temperature = np.linspace(270.0, 410.0, 29)
    tau = 300.0 / temperature
    basis = np.column_stack([tau**power for power in (0, 1, 3, 8)])
    values = np.array(
        [
            BVirial_Tsonopoulos_extended(
                t,
                critical.temperature,
                critical.pressure,
                critical.acentric,
                species_type=polar_class,
                dipole=dipole,
            )
            for t in temperature
        ]
    )
    coefficients, *_ = np.linalg.lstsq(basis, values, rcond=None)
    return np.asarray(coefficients)


def acentric_from_boiling_point(boiling_point: float, temperature: float, pressure: float) -> float:
    """Acentric factor that makes corresponding states boil at ``boiling_point`` (Lee-Kesler)."""
    return float(np.clip(LK_omega(boiling_point, temperature, pressure), -0.2, 1.5))


def _basis(temperature: Array, boiling_point: float) -> Array:
    ratio = temperature / boiling_point
    return np.column_stack([1.0 - 1.0 / ratio, np.log(ratio), ratio - 1.0])


def _estimated_pressures(
    boiling_point: float, critical: CriticalConstants
) -> list[tuple[float, float]]:
    tc = max(critical.temperature, 1.15 * boiling_point)
    omega = acentric_from_boiling_point(boiling_point, tc, critical.pressure)
    at_boiling = Ambrose_Walton(boiling_point, tc, critical.pressure, omega)
    temperatures = _TEMPERATURES[(0.32 * tc < _TEMPERATURES) & (0.97 * tc > _TEMPERATURES)]
    if not len(temperatures):
        temperatures = np.linspace(0.6, 0.95, 8) * tc
    return [
        (t, Ambrose_Walton(t, tc, critical.pressure, omega) * ATMOSPHERE / at_boiling)
        for t in temperatures
    ]


def _usable(boiling_point: float, fits: Iterable[VaporPressureFit]) -> list[VaporPressureFit]:
    """Return the equations that cover enough of room temperature to the boiling point.

    The best-founded first, unless a later one covers clearly more.
    """
    low, high = 288.0, max(boiling_point, 300.0)
    found: list[tuple[float, VaporPressureFit]] = []
    for fit in fits:
        at_boiling = fit.pressure(boiling_point)
        slope = 10.5 / boiling_point  # d ln p / dT near the boiling point, Trouton's rule
        if not at_boiling > 0:
            continue
        if abs(np.log(at_boiling / ATMOSPHERE)) / slope > _LARGEST_BOILING_GAP:
            continue
        cover = (min(fit.high + 10.0, high) - max(fit.low - 10.0, low)) / (high - low)
        if cover > _LEAST_COVER:
            place = next(
                (n for n, (other, _) in enumerate(found) if cover > other + 0.1), len(found)
            )
            found.insert(place, (cover, fit))
    return [fit for _, fit in found]
