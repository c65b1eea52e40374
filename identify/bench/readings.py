"""One reading in SI units."""

from __future__ import annotations

from dataclasses import dataclass
from math import nan

from identify.notebook.quantity.quantities import Quantity
from identify.notebook.quantity.units import known_unit


@dataclass(frozen=True)
class SIReading:
    """A value with its standard uncertainty.

    Parameters
    ----------
    value : float
        NaN where nothing was written.
    uncertainty : float or None
        As stated; None where none was.
    at : float or None
        Temperature of the reading [K], where it has one.
    is_assumed : bool
        Whether this is what a bench usually reads, since nothing was written.
    """

    value: float
    uncertainty: float | None = None
    at: float | None = None
    is_assumed: bool = False

    @classmethod
    def of(cls, written: Quantity | None, unit: str = "") -> SIReading:
        """Convert what was written, to SI units or to another unit.

        Examples
        --------
        >>> SIReading.of(Quantity(100.0, "C", 0.5))
        SIReading(value=373.15, uncertainty=0.5, at=None, is_assumed=False)
        >>> SIReading.of(None).value
        nan
        """
        if written is None:
            return MISSING
        if unit:
            written = written.to(unit)
            return cls(written.value, written.uncertainty)
        own, stated = known_unit(written.unit), written.uncertainty
        value = (written.value + own.zero) * own.scale
        return cls(value, None if stated is None else stated * own.scale)

    def uncertainty_or(self, usual: float) -> float:
        """Return the standard uncertainty as stated, else a usual one."""
        return usual if self.uncertainty is None else self.uncertainty


MISSING = SIReading(nan)

Doubted = frozenset[tuple[str, Quantity]]


def read_field(
    record: object, field: str, doubted: Doubted = frozenset(), unit: str = ""
) -> SIReading:
    """Read a field of a measurement or of a part of it, NaN where it is missing or doubted.

    Parameters
    ----------
    record : Measurement, Conditions, Flask or Trial
    field : str
    doubted : frozenset of (str, Quantity)
        Fields and what was written in them.
    unit : str
        As for `SIReading.of`.
    """
    written = getattr(record, field)
    return MISSING if (field, written) in doubted else SIReading.of(written, unit)
