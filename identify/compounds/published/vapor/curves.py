"""Vapor-pressure curves in one common form, fitted to published equations or corresponding states.

``ln(p / 101325 Pa) = a (1 - Tb/T) + b ln(T/Tb) + c (T/Tb - 1)``, see `identify.physics.boiling`,
passes through the normal boiling point ``Tb`` whatever the coefficients. The estimate is the
equation of Ambrose and Walton with the acentric factor that makes it pass through ``Tb`` too.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from identify.compounds.published.vapor.corresponding_states import (
    acentric_factor,
    log_vapor_pressure,
)
from identify.physics.arrays import Array
from identify.physics.boiling import curve_terms, log_pressure
from identify.physics.constants import ICE_POINT, STANDARD_PRESSURE

if TYPE_CHECKING:
    from identify.compounds.published.literature import VaporPressureFit


_VAPOR_CURVE = "Ambrose-Walton corresponding states"
_USUAL_CONSTANTS = "Ambrose-Walton corresponding states, usual critical constants"

_TEMPERATURES = np.arange(ICE_POINT, 404.0, 5.0)  # 0 to about 130 degrees Celsius
_LOWEST_REDUCED, _HIGHEST_REDUCED = 0.32, 0.97  # where the estimate is used
_OTHERWISE_REDUCED = np.linspace(0.6, 0.95, 8)  # where none of these temperatures lies between
_LEAST_RATIO = 1.15  # critical over boiling temperature
_CHUNK = 256  # compounds, so that their arrays stay in the cache
_RIDGE = 1e-4  # keeps the three nearly parallel terms small where few points are
_RIDGE_TOWARD = np.array([10.0, 0.0, 0.0])
_ESTIMATE_WEIGHT = 0.01  # the estimate only fills in where a published equation does not reach
_MIN_COVERED = 0.4  # of the range from room temperature to the boiling point
_MAX_BOILING_GAP = 1.5  # K between an equation's own boiling point and the consensus
# d ln p / d ln T at the boiling point: 10.3 to 14.0 in the Wagner equations of liquids that boil
# between 15 and 150 degrees Celsius.
_FLATTEST, _STEEPEST = 9.3, 14.7
_SOUND_OVER = np.arange(250.0, 421.0, 5.0)  # K
USUAL_RATIO, USUAL_PRESSURE = 1.5, 4e6  # critical over boiling temperature; Pa; common practice


def vapor_curves(
    boiling_point: Array, temperature: Array, pressure: Array
) -> tuple[Array, list[str]]:
    """Return the coefficients of estimated vapor-pressure curves, and what each is made of.

    Parameters
    ----------
    boiling_point, temperature, pressure : arrays, shape (n,)
        Normal boiling point [K], critical temperature [K], critical pressure [Pa].

    Returns
    -------
    coefficients : array, shape (n, 3)
    sources : list of str, length n
        Usual critical constants stand in for those that make no sound curve.
    """
    coefficients = np.zeros((len(boiling_point), 3))
    usual = np.zeros(len(boiling_point), dtype=bool)
    for start in range(0, len(boiling_point), _CHUNK):
        some = slice(start, start + _CHUNK)
        boiling = boiling_point[some]
        fitted = _fitted_to_estimates(boiling, temperature[some], pressure[some])
        usual[some] = unsound = ~_is_sound(fitted, boiling)
        if unsound.any():
            fitted[unsound] = _fitted_to_estimates(*_usual_constants(boiling[unsound]))
        coefficients[some] = fitted
    return coefficients, [_USUAL_CONSTANTS if one else _VAPOR_CURVE for one in usual]


def vapor_curve(
    boiling_point: float, temperature: float, pressure: float, fits: Iterable[VaporPressureFit]
) -> tuple[Array, str]:
    """Fit the common form to a published equation, or to corresponding states.

    Parameters
    ----------
    boiling_point, temperature, pressure : float
        Normal boiling point [K], critical temperature [K], critical pressure [Pa].
    fits : iterable of VaporPressureFit
        Published equations, the best-founded first.

    Returns
    -------
    coefficients, source : array of shape (3,), str
    """
    constants = tuple(np.array([value]) for value in (boiling_point, temperature, pressure))
    for fit in _usable(boiling_point, fits):
        coefficients = _fitted(constants, fit)
        if _is_sound(coefficients[None], constants[0])[0]:
            return coefficients, fit.source
    coefficients = _fitted(constants)
    if _is_sound(coefficients[None], constants[0])[0]:
        return coefficients, _VAPOR_CURVE
    return _fitted(_usual_constants(constants[0])), _USUAL_CONSTANTS


def _usual_constants(boiling_point: Array) -> tuple[Array, ...]:
    """Return boiling points with the critical constants that liquids usually have."""
    usual_pressure = np.full(len(boiling_point), USUAL_PRESSURE)
    return boiling_point, USUAL_RATIO * boiling_point, usual_pressure


def _estimates(
    boiling_point: Array, temperature: Array, pressure: Array
) -> tuple[Array, NDArray[np.bool_], Array]:
    """Return temperatures, which of them count, and ln(p / 101325 Pa) there, shapes (n, m)."""
    critical = np.maximum(temperature, _LEAST_RATIO * boiling_point)
    acentric = acentric_factor(boiling_point, critical, pressure)
    points = np.broadcast_to(_TEMPERATURES, (len(boiling_point), len(_TEMPERATURES)))
    used = (points > _LOWEST_REDUCED * critical[:, None]) & (
        points < _HIGHEST_REDUCED * critical[:, None]
    )
    if not (some := used.any(axis=1)).all():
        points, others = points.copy(), len(_OTHERWISE_REDUCED)
        points[~some, :others] = _OTHERWISE_REDUCED * critical[~some, None]
        used[~some, :others] = True
    at_boiling = log_vapor_pressure(boiling_point[:, None], critical, acentric)
    return points, used, log_vapor_pressure(points, critical, acentric) - at_boiling


def _fitted_to_estimates(boiling_point: Array, temperature: Array, pressure: Array) -> Array:
    """Fit the common form to the estimates of many compounds, shape (n, 3)."""
    points, used, target = _estimates(boiling_point, temperature, pressure)
    terms = curve_terms(points / boiling_point[:, None])
    # Normal equations: three unknowns, and double precision to spare.
    left = np.empty((len(boiling_point), 3, 3))
    right = np.empty((len(boiling_point), 3))
    for row, term in enumerate(term * used for term in terms):
        right[:, row] = np.einsum("ij,ij->i", term, target) + _RIDGE**2 * _RIDGE_TOWARD[row]
        for column, other in enumerate(terms):
            left[:, row, column] = np.einsum("ij,ij->i", term, other)
        left[:, row, row] += _RIDGE**2
    return np.asarray(np.linalg.solve(left, right[:, :, None])[:, :, 0])


def _fitted(constants: tuple[Array, ...], fit: VaporPressureFit | None = None) -> Array:
    """Fit the common form to one compound's equation, and to its estimate beyond that's range."""
    points, used, estimated = (values[0] for values in _estimates(*constants))
    temperature, target = points[used], estimated[used]
    weight = np.full(len(temperature), 1.0 if fit is None else _ESTIMATE_WEIGHT)
    if fit is not None:
        inside = [t for t in _TEMPERATURES if fit.low - 15.0 <= t <= fit.high + 15.0]
        read = [(t, p) for t in inside if (p := fit.pressure(t)) > 0.0]
        temperature = np.concatenate([temperature, [t for t, _ in read]])
        target = np.concatenate([target, [np.log(p / STANDARD_PRESSURE) for _, p in read]])
        weight = np.concatenate([weight, np.ones(len(read))])
    root = np.sqrt(weight)
    basis = np.column_stack(curve_terms(temperature / constants[0])) * root[:, None]
    ridge = _RIDGE * np.eye(3)
    coefficients, *_ = np.linalg.lstsq(
        np.vstack([basis, ridge]),
        np.concatenate([target * root, ridge @ _RIDGE_TOWARD]),
        rcond=None,
    )
    return np.asarray(coefficients)


def _is_sound(coefficients: Array, boiling_point: Array) -> NDArray[np.bool_]:
    """Say whether a curve rises everywhere, and at the boiling point as curves of liquids do."""
    steepness = coefficients.sum(axis=1)  # d ln p / d ln T there
    logarithm = log_pressure(_SOUND_OVER / boiling_point[:, None], coefficients[:, None])
    rises = (np.diff(logarithm, axis=1) > 0.0).all(axis=1)
    return np.asarray((steepness >= _FLATTEST) & (steepness <= _STEEPEST) & rises)


def _usable(boiling_point: float, fits: Iterable[VaporPressureFit]) -> list[VaporPressureFit]:
    """Return the equations that cover enough of room temperature to the boiling point.

    The best-founded first, unless a later one covers clearly more.
    """
    low, high = 288.0, max(boiling_point, 300.0)
    slope = 10.5 / boiling_point  # d ln p / dT near the boiling point, Trouton's rule
    found: list[tuple[float, VaporPressureFit]] = []
    for fit in fits:
        at_boiling = fit.pressure(boiling_point)
        if not at_boiling > 0:
            continue
        if abs(np.log(at_boiling / STANDARD_PRESSURE)) / slope > _MAX_BOILING_GAP:
            continue
        covered = (min(fit.high + 10.0, high) - max(fit.low - 10.0, low)) / (high - low)
        if covered > _MIN_COVERED:
            place = next(
                (n for n, (other, _) in enumerate(found) if covered > other + 0.1), len(found)
            )
            found.insert(place, (covered, fit))
    return [fit for _, fit in found]
