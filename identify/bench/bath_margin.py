"""Whether a liquid boils off in a bath: the one judgment for students' runs, stock and plans."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from identify.notebook.findings import Severity
from identify.notebook.usual import BATH_MARGIN, BATH_READ_WITHIN

# Standard uncertainties beyond which a boiling point is surely above the bath. Common practice.
_SURELY = 2.0


@dataclass(frozen=True)
class BathMargin:
    """How far a bath is above a boiling point, at the laboratory's pressure.

    Parameters
    ----------
    value : float
        Bath less boiling point [K].
    boiling_point_u : float
        Standard uncertainty of the boiling point [K].

    Examples
    --------
    >>> [BathMargin(margin).severity for margin in (12.0, 3.0, -0.5, -4.0)]
    [None, 'warning', 'warning', 'error']
    """

    value: float
    boiling_point_u: float = 0.0

    @property
    def severity(self) -> Severity | None:
        """An error where the liquid does not boil off, a warning where that is not sure."""
        # Thermometers are read to 0.1 K at best, and 760 mmHg is not 101325 Pa to the last bit.
        margin = round(self.value, 1)
        if not margin < BATH_MARGIN:  # or NaN where nothing is known
            return None
        return "error" if margin < -self._doubt else "warning"

    @property
    def _doubt(self) -> float:
        """What bath and boiling point together may be misread by [K]."""
        return hypot(BATH_READ_WITHIN, _SURELY * self.boiling_point_u)
