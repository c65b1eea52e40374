"""Where a class works: pressure and room of the laboratory, and the bath."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from identify.notebook import usual
from identify.notebook.fields import Written
from identify.notebook.plausible import LABORATORY
from identify.notebook.quantity.quantities import QuantityError, as_quantity
from identify.notebook.quantity.units import MMHG
from identify.physics.constants import ICE_POINT, STANDARD_PRESSURE
from identify.physics.water import boiling_temperature


@dataclass(frozen=True)
class Laboratory:
    """The conditions under which a class works, in SI units.

    Parameters
    ----------
    pressure : float
        Of the air [Pa].
    room : float
        Temperature of the room [K].
    bath : float
        Temperature of the bath [K]; a simmering water bath at this pressure where not given.

    Examples
    --------
    >>> mountain = Laboratory.of(pressure="640 mmHg", room="21 C")
    >>> print(mountain)
    640 mmHg, room 21 °C, bath 94 °C
    """

    pressure: float = STANDARD_PRESSURE
    room: float = usual.ROOM
    bath: float = float("nan")

    def __post_init__(self) -> None:
        if not isfinite(self.bath):
            simmering = boiling_temperature(self.pressure) - usual.BATH_BELOW_BOILING_WATER
            object.__setattr__(self, "bath", simmering)

    @classmethod
    def of(
        cls,
        pressure: Written | None = None,
        room: Written | None = None,
        bath: Written | None = None,
    ) -> Laboratory:
        """Take the conditions as they are written; plain numbers in mmHg and degrees Celsius.

        Raises
        ------
        QuantityError
            If one cannot be read, or is none of a laboratory's; the error names the field.
        """
        given: dict[str, float] = {}
        for name, written, dimension, unit, si in (
            ("pressure", pressure, "pressure", "mmHg", "Pa"),
            ("room", room, "temperature", "C", "K"),
            ("bath", bath, "temperature", "C", "K"),
        ):
            if written is None:
                continue
            try:
                quantity = as_quantity(written, dimension, unit)
                assert quantity is not None
                given[name] = _credible(name, quantity.to(si).value, str(written))
            except QuantityError as error:
                error.field = name
                raise
        return cls(**given)

    def __str__(self) -> str:
        return (
            f"{pressure_text(self.pressure)}, room {self.room - ICE_POINT:.0f} °C, "
            f"bath {self.bath - ICE_POINT:.0f} °C"
        )


def pressure_text(pascal: float) -> str:
    """Return a pressure as a barometer shows it.

    Examples
    --------
    >>> pressure_text(101325.0)
    '760 mmHg'
    """
    return f"{pascal / MMHG:.0f} mmHg"


def _credible(name: str, value: float, read: str) -> float:
    lowest, highest, told = LABORATORY[name]
    if lowest <= value <= highest:
        return value
    raise QuantityError(read, f"is not a {name} of a laboratory", f"give one {told}, with its unit")
