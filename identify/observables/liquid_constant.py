"""Constants of the liquid that the table has for some of its compounds only."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from math import exp
from typing import Protocol

import numpy as np

from identify.notebook.plausible import Plausible, temperature_range
from identify.observables.error.comparison import KnownOnly
from identify.observables.observable import Observable
from identify.physics.arrays import Array

USUAL_TEMPERATURE = 293.15  # K: handbooks list refractive index and density at 20 degrees Celsius

_KEPT_PREDICTIONS = 32


class Columns(Protocol):
    """Constants of n candidates as arrays; a candidate table is one."""

    def number(self, column: str) -> Array:
        """Return a column of numbers, shape (n,); NaN where a candidate has no value."""
        ...

    @property
    def percent(self) -> Array:
        """Percent by mass, shape (n, 12), a column an element."""
        ...

    @property
    def vapor_curve(self) -> Array:
        """Coefficients of the vapor-pressure curve, shape (n, 3)."""
        ...

    @property
    def virial(self) -> Array:
        """Coefficients of the second virial coefficient, shape (n, 4) [m3/mol]."""
        ...

    @property
    def dimers(self) -> Array:
        """Coefficients of the dimerization constant of the vapor, shape (n, 2)."""
        ...


@dataclass(frozen=True, kw_only=True)
class LiquidConstant(Observable):
    """A constant of the liquid: how readings of it err, and how liquids differ in it.

    A candidate whose constant the table lacks neither gains nor loses by a reading of it.

    Parameters
    ----------
    predict : callable
        From the candidates and the temperature of the reading [K] to what each would have read and
        its standard uncertainty, arrays of shape (n,) in the bench's unit; NaN where not known.
    has_temperature : bool
        Whether it is read at a temperature, which may be written down too.
    column, column_unit : str
        The candidate table's, and its unit.
    column_words : str
        The column in words, where ``words`` alone do not say it.
    column_decimals : int
        With which the column is shown.
    column_heading : str
        Over the deviations in a list of candidates: two lines, each a word or two.
    help : str
        Of its option, without the full stop.
    plural : str
        Of ``words``, where it has a temperature.
    plausible : Plausible, optional
        Beyond it, a reading is a slip; where not given, what can be read at all says it.
    deviation_key : str
        Of its deviation in answers; its name where not given.
    what : str
        What to read, as it stands in a sentence that advises it; "the ..." where not given.
    coarse_decimals : int
        With which a prediction is told; as for a reading where not given.
    coldest : float
        Below this, all that a class would see is a liquid [bench unit].
    """

    predict: Callable[[LiquidConstants, float], tuple[Array, Array]]
    has_temperature: bool
    column: str
    column_unit: str
    column_decimals: int
    column_heading: str
    help: str
    plural: str = ""
    plausible: Plausible | None = None
    column_words: str = ""
    deviation_key: str = ""
    what: str = ""
    coarse_decimals: int | None = None
    coldest: float = -np.inf

    def __post_init__(self) -> None:
        object.__setattr__(self, "deviation_key", self.deviation_key or self.name)
        object.__setattr__(self, "column_words", self.column_words or self.words)
        object.__setattr__(self, "what", self.what or f"the {self.words}")

    @cached_property
    def plausible_at(self) -> Plausible | None:
        """What the temperature of its reading is on a bench, None where it has none."""
        if not self.has_temperature:
            return None
        return temperature_range(
            f"temperature of the {self.words}",
            *(0.0, 60.0, 20.0),
            f"{self.plural} are read between 0 and 60 °C",
        )

    def compare(self, observed: float, sigma: float, predicted: tuple[Array, Array]) -> KnownOnly:
        """Compare a reading with each candidate's constant.

        Parameters
        ----------
        observed, sigma : float
            Reading and its standard uncertainty [bench unit].
        predicted : (array, array), shape (n,)
            The candidates' constants and their standard uncertainties [bench unit]; NaN where not
            known.
        """
        expected, expected_u = predicted
        deviation = observed - expected
        # Square roots take a tenth of the time of hypot.
        own, squares = sigma * sigma, expected_u * expected_u
        allowance = np.minimum(squares, self.allowance * self.allowance)
        scale = np.sqrt(self.gross_scale * self.gross_scale + squares)
        return KnownOnly(
            deviation=deviation,
            sigma=np.sqrt(own + squares),
            half_width=2.0 * np.sqrt(own + allowance),
            gross=self.gross,
            gross_density=np.exp(-np.abs(deviation) / scale) / (2.0 * scale),
            bandwidth=np.sqrt(self.bandwidth * self.bandwidth + own + squares),
            any_density=exp(-abs(observed - self.usual) / self.spread) / (2.0 * self.spread),
        )

    def foretold(self, value: float, about: str = "") -> str:
        """Return a prediction [bench unit] as it stands in a sentence, with its unit.

        Parameters
        ----------
        value : float
        about : str
            Stands before a number that is known only roughly.

        Examples
        --------
        >>> from identify.observables.melting_point import MELTING_POINT
        >>> MELTING_POINT.foretold(279.0), MELTING_POINT.foretold(150.0)
        ('6 °C', 'liquid at −20 °C')
        """
        if value <= self.coldest:
            about, value = "liquid at ", self.coldest
        return (about + self.told(value, self.coarse_decimals)).replace("-", "−")


class LiquidConstants:
    """The liquid constants of a table, worked out when first asked for."""

    def __init__(self, columns: Columns) -> None:
        self.columns = columns
        self._known: dict[tuple[str, float], tuple[Array, Array]] = {}

    def predicted(
        self, constant: LiquidConstant, temperature: float | None = None
    ) -> tuple[Array, Array]:
        """Return what each candidate would have read.

        Parameters
        ----------
        constant : LiquidConstant
        temperature : float, optional
            Of the reading [K]; 20 degrees Celsius where not given.

        Returns
        -------
        value, standard_uncertainty : arrays, shape (n,)
            In the bench's units; NaN where the table knows nothing.
        """
        at = USUAL_TEMPERATURE if temperature is None else float(temperature)
        found = self._known.get((constant.name, at))
        if found is None:
            if len(self._known) >= _KEPT_PREDICTIONS:
                self._known.clear()
            found = self._known[constant.name, at] = constant.predict(self, at)
        return found
