"""Where a class works: pressure and room of the laboratory, and the bath."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from identify.notebook.measurement import Written
from identify.notebook.quantities import QuantityError, as_quantity
from identify.physics.constants import ICE_POINT, STANDARD_PRESSURE
from identify.physics.water import boiling_temperature

_USUAL_ROOM = ICE_POINT + 22.0
# A beaker that simmers is a little cooler than steam. Common practice.
_BELOW_BOILING = 1.0  # K


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
    room: float = _USUAL_ROOM
    bath: float = float("nan")

    def __post_init__(self) -> None:
        if not isfinite(self.bath):
            object.__setattr__(self, "bath", boiling_temperature(self.pressure) - _BELOW_BOILING)

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
    return f"{pascal / _MMHG:.0f} mmHg"


_MMHG = STANDARD_PRESSURE / 760.0  # Pa, within 2e-7
# Where people live and work, and what a bath of water or oil reaches. Common practice.
_LIMITS = {
    "pressure": (5.0e4, 1.1e5, "from 375 to 825 mmHg"),
    "room": (ICE_POINT + 5.0, ICE_POINT + 45.0, "from 5 to 45 °C"),
    "bath": (ICE_POINT + 30.0, ICE_POINT + 250.0, "from 30 to 250 °C"),
}


def _credible(name: str, value: float, read: str) -> float:
    lowest, highest, told = _LIMITS[name]
    if lowest <= value <= highest:
        return value
    raise QuantityError(read, f"is no {name} of a laboratory", f"give one {told}, with its unit")
