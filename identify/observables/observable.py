"""What can be measured of a liquid: its name, its unit, and how it is written everywhere."""

from __future__ import annotations

from dataclasses import dataclass
from math import log10, nan

import numpy as np

from identify.notebook.quantity.units import known_unit, shown_unit
from identify.physics.arrays import Array


@dataclass(frozen=True, kw_only=True)
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
    bench_unit : str
        In which the bench and the match keep it.
    tolerance : float
        The usual one [``tolerance_unit``].
    tolerance_unit : str
        As a person writes it; empty for a plain number.
    decimals : int
        With which a reading is shown: what the instruments give. Common practice.
    gross : float
        Chance of a gross error: a slip of the pen, a wrong bottle, a wrong constant in the table.
    bandwidth : float
        Of the kernel that stands for compounds like those in the table, but not in it [bench unit].
    least : float
        A stated uncertainty below this is not believed [bench unit]: what limits a reading then is
        no longer the reading itself, but the purity of the liquid or the rounding on a card.
    headings : str
        What people write over its column, as phrases (`identify.tables.headings.phrases`).
    least_tolerance : float
        Finer ones are refused [``tolerance_unit``].
    gross_scale : float
        Of the Laplace distribution of a gross error [bench unit].
    usual, spread : float
        Of a compound like none in the table: median and scale of a Laplace distribution
        [bench unit].
    allowance : float
        A candidate whose constant is known worse than this does not agree with everything
        [bench unit].
    """

    name: str
    words: str
    unit: str
    bench_unit: str
    tolerance: float
    tolerance_unit: str
    decimals: int
    gross: float
    bandwidth: float
    least: float
    headings: str = ""
    least_tolerance: float = 1e-3
    gross_scale: float = nan
    usual: float = nan
    spread: float = nan
    allowance: float = nan

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
        """The unit in the bench's: what a tolerance or deviation is multiplied by."""
        return known_unit(self.unit).scale / known_unit(self.bench_unit).scale

    def shown(self, value: Array, unit: str = "") -> Array:
        """Return values of the bench in the unit in which they are shown, or in another."""
        kept, wanted = known_unit(self.bench_unit), known_unit(unit or self.unit)
        return (value + kept.zero) * (kept.scale / wanted.scale) - wanted.zero

    def told(self, value: float, decimals: int | None = None, unit: str = "") -> str:
        """Return a value of the bench as it stands in a sentence, with its unit.

        Parameters
        ----------
        value : float
        decimals : int, optional
            In the usual unit; those of a reading where not given.
        unit : str, optional
            The usual one where not given.
        """
        unit = unit or self.unit
        coarser = log10(known_unit(unit).scale / known_unit(self.unit).scale)
        digits = max((self.decimals if decimals is None else decimals) + round(coarser), 0)
        shown = float(self.shown(np.asarray(value), unit))
        return f"{shown:.{digits}f}{shown_unit(unit)}"
