"""Vapor pressure and second virial coefficient by corresponding states, for many compounds at once.

The same equations and the same common form as `curves`, as array arithmetic: a library of millions
has no time for a fit a compound. Units are SI.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from identify.physics.constants import GAS_CONSTANT, ICE_POINT, STANDARD_PRESSURE

Array = NDArray[np.float64]

VAPOR_CURVE = "Ambrose-Walton corresponding states"
USUAL_CONSTANTS = "Ambrose-Walton corresponding states, usual critical constants"
VIRIAL = "Tsonopoulos 1974"

_TEMPERATURES = np.arange(ICE_POINT, 404.0, 5.0)  # 0 to about 130 degrees Celsius
_LOWEST_REDUCED, _HIGHEST_REDUCED = 0.32, 0.97  # where the equation is used
_OTHERWISE_REDUCED = np.linspace(0.6, 0.95, 8)  # where none of these temperatures lies between
_LEAST_RATIO = 1.15  # critical over boiling temperature
_AT_ONCE = 256  # compounds, so that their arrays stay in the cache
_RIDGE = 1e-4  # keeps the three nearly parallel terms small where few points are
_RIDGE_TOWARD = np.array([10.0, 0.0, 0.0])
# d ln p / d ln T at the boiling point of liquids: see `curves`.
_FLATTEST, _STEEPEST = 9.3, 14.7
_SOUND_OVER = np.arange(250.0, 421.0, 5.0)  # K
_USUAL_RATIO, _USUAL_PRESSURE = 1.5, 4e6  # critical over boiling temperature; Pa; common practice
# Coefficients of tau, tau^1.5, tau^2.5, tau^5. Ambrose, D.; Walton, J. Pure Appl. Chem. 1989, 61,
# 1395.
_AMBROSE_WALTON = np.array(
    [
        [-5.97616, 1.29874, -0.60394, -1.06841],
        [-5.03365, 1.11505, -5.41217, -7.46628],
        [-0.64771, 2.41539, -4.26979, 3.25259],
    ]
)


def acentric_factor(boiling_point: Array, temperature: Array, pressure: Array) -> Array:
    """Return the acentric factor that makes corresponding states boil where a liquid does.

    Parameters
    ----------
    boiling_point, temperature, pressure : arrays, shape (n,)
        Normal boiling point [K], critical temperature [K], critical pressure [Pa].

    Returns
    -------
    array, shape (n,)

    References
    ----------
    Lee, B. I.; Kesler, M. G. AIChE J. 1975, 21, 510.

    Examples
    --------
    >>> acentric_factor(np.array([351.4]), np.array([514.7]), np.array([6.27e6])).round(2)
    array([0.64])
    """
    ratio = boiling_point / temperature
    logarithm, sixth = np.log(ratio), ratio**6
    above = -5.92714 + 6.09648 / ratio + 1.28862 * logarithm - 0.169347 * sixth
    above -= np.log(pressure / STANDARD_PRESSURE)
    below = 15.2518 - 15.6875 / ratio - 13.4721 * logarithm + 0.43577 * sixth
    return np.clip(above / below, -0.2, 1.5)


def vapor_curves(
    boiling_point: Array, temperature: Array, pressure: Array
) -> tuple[Array, NDArray[np.bool_]]:
    """Return the coefficients of the vapor-pressure curves, in the form that `curves` states.

    Parameters
    ----------
    boiling_point, temperature, pressure : arrays, shape (n,)
        Normal boiling point [K], critical temperature [K], critical pressure [Pa].

    Returns
    -------
    coefficients : array, shape (n, 3)
    usual : array of bool, shape (n,)
        Where the critical constants make no sound curve, and usual ones stand in for them.
    """
    columns = (boiling_point, temperature, pressure)
    starts = range(0, len(boiling_point), _AT_ONCE)
    pieces = [_sound_curves(*(one[at : at + _AT_ONCE] for one in columns)) for at in starts]
    curves = np.concatenate([np.zeros((0, 3)), *(curve for curve, _ in pieces)])
    return curves, np.concatenate([np.zeros(0, dtype=bool), *(usual for _, usual in pieces)])


def _sound_curves(
    boiling_point: Array, temperature: Array, pressure: Array
) -> tuple[Array, NDArray[np.bool_]]:
    coefficients = _fitted(boiling_point, temperature, pressure)
    usual = ~_is_sound(coefficients, boiling_point)
    if usual.any():
        boiling = boiling_point[usual]
        stand_in = np.full(len(boiling), _USUAL_PRESSURE)
        coefficients[usual] = _fitted(boiling, _USUAL_RATIO * boiling, stand_in)
    return coefficients, usual


def virial_coefficients(temperature: Array, pressure: Array, acentric: Array) -> Array:
    """Return the coefficients v0 to v3 of the second virial coefficient [m3/mol].

    Parameters
    ----------
    temperature, pressure, acentric : arrays, shape (n,)
        Critical temperature [K], critical pressure [Pa], acentric factor.

    Returns
    -------
    array, shape (n, 4)

    References
    ----------
    Tsonopoulos, C. AIChE J. 1974, 20, 263, without the polar term.
    """
    ratio = temperature / 300.0
    powers = np.column_stack([ratio**power for power in (0, 1, 2, 3, 8)])
    simple = np.array([0.1445, -0.33, -0.1385, -0.0121, -0.000607])
    further = np.array([0.0637, 0.0, 0.331, -0.423, -0.008])
    terms = powers * (simple + acentric[:, None] * further)
    # The common form has no second power; its least-squares picture in the others stands for it.
    kept = terms[:, [0, 1, 3, 4]] + terms[:, 2:3] * _square_in_the_others()
    return np.asarray(kept * (GAS_CONSTANT * temperature / pressure)[:, None])


def _square_in_the_others() -> Array:
    tau = 300.0 / np.linspace(270.0, 410.0, 29)
    basis = np.column_stack([tau**power for power in (0, 1, 3, 8)])
    picture, *_ = np.linalg.lstsq(basis, tau**2, rcond=None)
    return np.asarray(picture)


def _fitted(boiling_point: Array, temperature: Array, pressure: Array) -> Array:
    """Fit the common form to the estimate, shape (n, 3)."""
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
    at_boiling = _logarithm(boiling_point[:, None], critical, acentric)
    target = _logarithm(points, critical, acentric) - at_boiling
    ratio = points / boiling_point[:, None]
    terms = (1.0 - 1.0 / ratio, np.log(ratio), ratio - 1.0)
    used_terms = [term * used for term in terms]
    # Normal equations: three unknowns, and double precision to spare.
    left = np.empty((len(boiling_point), 3, 3))
    right = np.empty((len(boiling_point), 3))
    for row, term in enumerate(used_terms):
        right[:, row] = np.einsum("ij,ij->i", term, target) + _RIDGE**2 * _RIDGE_TOWARD[row]
        for column, other in enumerate(terms):
            left[:, row, column] = np.einsum("ij,ij->i", term, other)
        left[:, row, row] += _RIDGE**2
    return np.asarray(np.linalg.solve(left, right[:, :, None])[:, :, 0])


def _logarithm(points: Array, critical: Array, acentric: Array) -> Array:
    """Return the logarithm of vapor pressure over critical pressure, shape as ``points``."""
    reduced = np.minimum(points / critical[:, None], 1.0)
    tau = 1.0 - reduced
    root = np.sqrt(tau)
    half = tau * root
    long = tau * half
    # The equation knows no negative acentric factor.
    omega = np.maximum(acentric, 0.0)[:, None]
    total = np.zeros_like(tau)
    for power, coefficient in zip((tau, half, long, long * long), _AMBROSE_WALTON.T, strict=True):
        total += power * (coefficient[0] + omega * (coefficient[1] + omega * coefficient[2]))
    return total / reduced


def _is_sound(coefficients: Array, boiling_point: Array) -> NDArray[np.bool_]:
    """Say whether a curve rises everywhere, and at the boiling point as curves of liquids do."""
    steepness = coefficients.sum(axis=1)
    a, b, c = (column[:, None] for column in coefficients.T)
    ratio = _SOUND_OVER / boiling_point[:, None]
    logarithm = a * (1.0 - 1.0 / ratio) + b * np.log(ratio) + c * (ratio - 1.0)
    rises = (np.diff(logarithm, axis=1) > 0.0).all(axis=1)
    return np.asarray((steepness >= _FLATTEST) & (steepness <= _STEEPEST) & rises)
