"""Acentric factor, vapor pressure and second virial coefficient by corresponding states.

For many compounds at once, as array arithmetic. Units are SI.
"""

from __future__ import annotations

import numpy as np

from identify.physics.arrays import Array
from identify.physics.constants import GAS_CONSTANT, STANDARD_PRESSURE

VIRIAL = "Tsonopoulos 1974"

# Coefficients of tau, tau^1.5, tau^2.5, tau^5. Ambrose, D.; Walton, J. Pure Appl. Chem. 1989, 61,
# 1395.
_AMBROSE_WALTON = np.array(
    [
        [-5.97616, 1.29874, -0.60394, -1.06841],
        [-5.03365, 1.11505, -5.41217, -7.46628],
        [-0.64771, 2.41539, -4.26979, 3.25259],
    ]
)
# Powers of Tc/T in Tsonopoulos's equation; those that the common form has, and the others.
_POWERS = np.array([0, 1, 3, 8, 2, 6])
_KEPT = 4
_SIMPLE_FLUID = np.array([0.1445, -0.33, -0.0121, -0.000607, -0.1385, 0.0])
_BY_ACENTRIC_FACTOR = np.array([0.0637, 0.0, -0.423, -0.008, 0.331, 0.0])
_BY_POLARITY = np.array([0.0, 0.0, 0.0, 0.0, 0.0, 1.0])


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


def log_vapor_pressure(points: Array, critical: Array, acentric: Array) -> Array:
    """Return the logarithm of vapor pressure over critical pressure.

    Parameters
    ----------
    points : array, shape (n, m)
        Temperatures [K].
    critical, acentric : arrays, shape (n,)
        Critical temperature [K], acentric factor.

    Returns
    -------
    array, shape (n, m)

    References
    ----------
    Ambrose, D.; Walton, J. Pure Appl. Chem. 1989, 61, 1395.
    """
    reduced = np.minimum(points / critical[:, None], 1.0)
    tau = 1.0 - reduced
    root = np.sqrt(tau)
    half = tau * root
    long = tau * half
    # The equation is not made for negative acentric factors.
    omega = np.maximum(acentric, 0.0)[:, None]
    total = np.zeros_like(tau)
    for power, coefficient in zip((tau, half, long, long * long), _AMBROSE_WALTON.T, strict=True):
        total += power * (coefficient[0] + omega * (coefficient[1] + omega * coefficient[2]))
    return total / reduced


def polar_term(dipole: Array, temperature: Array, pressure: Array) -> Array:
    """Return the polar term of ketones, aldehydes, nitriles and esters, for the virial coefficient.

    Without it 1 bar of acetone seems 0.6 %, and of acetonitrile 3 %, nearer to an ideal gas than
    it is.

    Parameters
    ----------
    dipole, temperature, pressure : arrays, shape (n,)
        Dipole moment [debye], critical temperature [K], critical pressure [Pa].

    Returns
    -------
    array, shape (n,)

    References
    ----------
    Tsonopoulos, C. AIChE J. 1975, 21, 827.
    """
    reduced = 1e5 * dipole**2 * (pressure / STANDARD_PRESSURE) / temperature**2
    return np.asarray(-2.14e-4 * reduced - 4.308e-21 * reduced**8)


def virial_coefficients(
    temperature: Array, pressure: Array, acentric: Array, polar: Array | float = 0.0
) -> Array:
    """Return the coefficients v0 to v3 of the second virial coefficient [m3/mol].

    In the common form ``B = v0 + v1 t + v2 t^3 + v3 t^8`` with ``t = 300 K / T``.

    Parameters
    ----------
    temperature, pressure, acentric : arrays, shape (n,)
        Critical temperature [K], critical pressure [Pa], acentric factor.
    polar : array, shape (n,), optional
        See `polar_term`.

    Returns
    -------
    array, shape (n, 4)

    References
    ----------
    Tsonopoulos, C. AIChE J. 1974, 20, 263.
    """
    further = acentric[:, None] * _BY_ACENTRIC_FACTOR
    further = further + np.broadcast_to(polar, acentric.shape)[:, None] * _BY_POLARITY
    terms = (temperature[:, None] / 300.0) ** _POWERS * (_SIMPLE_FLUID + further)
    # The least-squares picture of the other powers in those of the common form stands for them.
    tau = (300.0 / np.linspace(270.0, 410.0, 29))[:, None] ** _POWERS
    picture, *_ = np.linalg.lstsq(tau[:, :_KEPT], tau[:, _KEPT:], rcond=None)
    kept = terms[:, :_KEPT] + terms[:, _KEPT:] @ picture.T
    return np.asarray(kept * (GAS_CONSTANT * temperature / pressure)[:, None])
