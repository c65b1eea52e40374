"""What can be measured of a liquid: its name, its unit, and how it is written everywhere."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from identify.notebook.units import known_unit, shown_unit
from identify.observables.comparison import Array


@dataclass(frozen=True)
class Observable:
    """One thing that can be measured of a liquid.

    Parameters
    ----------
    name : str
        Key of the card, column of tables, field of `Measurement` and `Tolerances`; with hyphens
        the option.
    words : str
        As it stands in a sentence.
    unit : str
        Of a plain number, and in which readings are shown; ``"1"`` for none.
    tolerance : float
        The usual one [``tolerance_unit``].
    tolerance_unit : str
        As a person writes it; empty for a plain number.
    decimals : int
        With which a reading is shown: what the instruments give. Common practice.
    headings : str
        What people write over its column, separated by commas.
    least_tolerance : float
        Finer ones are refused [``tolerance_unit``].
    """

    name: str
    words: str
    unit: str
    tolerance: float
    tolerance_unit: str
    decimals: int
    headings: str = ""
    least_tolerance: float = 1e-3

    @property
    def option(self) -> str:
        """The name with hyphens, as an option and a finding write it."""
        return self.name.replace("_", "-")

    @property
    def unit_text(self) -> str:
        """The unit as it stands behind a number, with the blank between them."""
        return shown_unit(self.unit)

    @property
    def scale(self) -> float:
        """The unit in SI units: what a tolerance or deviation is multiplied by."""
        return known_unit(self.unit).scale

    def told(self, value: float, decimals: int | None = None) -> str:
        """Return a value in SI units as it stands in a sentence, with its unit."""
        digits = self.decimals if decimals is None else decimals
        shown = float(self.shown(np.asarray(value)))
        return f"{shown:.{digits}f}{self.unit_text}".replace("-", "−")

    def shown(self, value: Array) -> Array:
        """Return values in SI units in the unit in which they are shown."""
        unit = known_unit(self.unit)
        return value / unit.scale - unit.zero
