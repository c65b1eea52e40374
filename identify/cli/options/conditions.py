"""The laboratory that a command was told of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from identify.cli.options.options import Where
from identify.cli.terminal.streams import Faults

if TYPE_CHECKING:
    from identify.bench.laboratory import Laboratory


def laboratory_given(where: Where, faults: Faults) -> Laboratory | None:
    """Read pressure, room and bath; None, the fault reported, where one cannot be used."""
    from identify.bench.laboratory import Laboratory
    from identify.notebook.quantity.quantities import QuantityError

    try:
        return Laboratory.of(where.pressure, where.room, where.bath)
    except QuantityError as error:
        faults.of_option(error.field, error)
        return None
