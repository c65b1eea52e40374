"""How well one class weighs, from the errors of its results: bias, spread, and spoiled runs.

The errors are a mixture, as in `technique`: sound runs, normal around a bias that the class shares,
and runs that rough technique spoiled. The likeliest such mixture tells them apart.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt
from types import MappingProxyType
from typing import Any

import numpy as np

from identify.notebook.serializing import Serializable, plain
from identify.observables.error.comparison import normal
from identify.observables.error.technique import TECHNIQUES
from identify.observables.weighing import MOLAR_MASS
from identify.physics.arrays import Array

_MAD_TO_SIGMA = 1.4826  # of normal values
_MIN_RESULTS = 4  # fewer tell no spread
_STEPS, _NEAR_ENOUGH = 200, 1e-7
# What is known beforehand weighs as much as one result: as many are spoiled as in a usual class,
# and the spread lies between a careful and a usual one. Common practice.
_EXPECTED_SPOILED, _EXPECTED_SPREAD, _EXPECTED_WEIGHT = 0.10, 0.05, 1.0
_ROUGH = TECHNIQUES["rough"].error()


@dataclass(frozen=True)
class ClassSpread(Serializable):
    """How the molar masses of a class err, relative to what is in the bottles.

    Parameters
    ----------
    results : int
    bias_percent, bias_u_percent : float
        Of the runs that are not spoiled, and its standard uncertainty.
    spread_percent, spread_u_percent : float
        Their standard deviation from result to result.
    spoiled_percent : float
        Share of the runs that err otherwise than the class: liquid left, vapor missing, a slip.

    References
    ----------
    Dempster, A. P.; Laird, N. M.; Rubin, D. B. J. R. Stat. Soc. B 1977, 39, 1.
    """

    results: int
    bias_percent: float
    bias_u_percent: float
    spread_percent: float
    spread_u_percent: float
    spoiled_percent: float

    @classmethod
    def of(cls, errors: Array) -> tuple[ClassSpread, Array] | None:
        """Fit the mixture to errors.

        Parameters
        ----------
        errors : array, shape (n,)
            Found over true, less one; none NaN.

        Returns
        -------
        spread : ClassSpread
        spoiled : array, shape (n,)
            Probability that each run is spoiled. None in place of both for fewer than four.

        Examples
        --------
        >>> errors = np.array([-0.03, -0.01, 0.0, 0.02, 0.03, 0.01, -0.02, 0.55])
        >>> spread, spoiled = ClassSpread.of(errors)
        >>> round(spread.spread_percent, 1), spoiled.round(2).tolist()[-2:]
        (2.8, [0.02, 1.0])
        """
        if len(errors) < _MIN_RESULTS:
            return None
        rough = _ROUGH.density(errors)
        bias = float(np.median(errors))
        size = max(_MAD_TO_SIGMA * float(np.median(np.abs(errors - bias))), MOLAR_MASS.least)
        share = _EXPECTED_SPOILED
        spoiled = np.zeros_like(errors)
        for _ in range(_STEPS):
            before = bias, size, share
            sound = (1.0 - share) * normal(errors - bias, size)
            spoiled = share * rough / (share * rough + sound)
            kept = 1.0 - spoiled
            count = float(kept.sum())
            bias = float((kept * errors).sum()) / count
            squares = float((kept * (errors - bias) ** 2).sum())
            # One degree of freedom is the bias.
            squares += _EXPECTED_WEIGHT * _EXPECTED_SPREAD**2
            size = sqrt(squares / (max(count - 1.0, 0.0) + _EXPECTED_WEIGHT))
            share = float(spoiled.sum()) + _EXPECTED_WEIGHT * _EXPECTED_SPOILED
            share /= len(errors) + _EXPECTED_WEIGHT
            if np.allclose(before, (bias, size, share), atol=_NEAR_ENOUGH):
                break
        found = cls(
            len(errors),
            100.0 * bias,
            100.0 * size / sqrt(count),
            100.0 * size,
            100.0 * size / sqrt(2.0 * max(count - 1.0, 1.0)),
            100.0 * float(spoiled.sum()) / len(errors),
        )
        return found, spoiled


_WITHIN_PERCENT = (5, 10, 20)
# The share of 55 published results with a known liquid that are so near [percent], nearly all by
# m R T / (P V): `data/published_results.csv`, and a test counts them again.
PUBLISHED_WITHIN: Mapping[str, float] = MappingProxyType({"5": 20.0, "10": 36.4, "20": 50.9})


def shares_within(errors: Array) -> dict[str, float]:
    """Return the share of results within 5, 10 and 20 % of what is in the bottle [percent].

    Examples
    --------
    >>> shares_within(np.array([0.01, -0.07, 0.3, 0.04]))
    {'5': 50.0, '10': 75.0, '20': 75.0}
    """
    return {
        str(limit): 100.0 * float((np.abs(errors) <= 0.01 * limit).mean())
        for limit in _WITHIN_PERCENT
    }


@dataclass(frozen=True)
class GroupPrecision(Serializable):
    """How well the results of one liquid, or with one instrument, agree with what is in the bottle.

    Parameters
    ----------
    kind : str
        ``liquid``, or the column that says it: ``balance``, ``thermometer``, ``day`` and so on.
    name : str
    results : int
    bias_percent, spread_percent : float or None
        Of those that are not spoiled; None where there are none, or too few.
    spoiled : int
    """

    kind: str
    name: str
    results: int
    bias_percent: float | None
    spread_percent: float | None
    spoiled: int


@dataclass(frozen=True)
class ClassPrecision:
    """How well a class weighs, what many share set right.

    Parameters
    ----------
    spread : ClassSpread
        Of all results with a known liquid.
    within : mapping of str to float
        Share within 5, 10 and 20 % of what is in the bottle [percent].
    groups : tuple of GroupPrecision
    """

    spread: ClassSpread
    within: Mapping[str, float]
    groups: tuple[GroupPrecision, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain data: what `plan --class` reads."""
        data = {
            "within_percent": self.within,
            "published_within_percent": PUBLISHED_WITHIN,
            "by_liquid": [one for one in self.groups if one.kind == "liquid"],
            "by_instrument": [one for one in self.groups if one.kind != "liquid"],
        }
        return {**self.spread.to_dict(), **plain(data)}
