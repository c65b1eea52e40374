"""How a class pours, as a command was told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from identify.cli.options.options import Text, option
from identify.cli.terminal.streams import Faults

if TYPE_CHECKING:
    from identify.stock.class_use.pouring import Pouring


@dataclass(frozen=True)
class PouringOptions:
    """Flask and class, for how much liquid it takes."""

    flask: Text = option("QUANTITY", "Brim volume of the flasks, in mL; else 285 mL.")
    students: int | None = option(
        "N", "In the class, shared among the bottles; else 24.", min=1, max=10_000
    )
    trials: int | None = option("N", "Weighings of each student; else 3.", min=1, max=20)


def pouring_given(given: PouringOptions, faults: Faults) -> Pouring | None:
    """Read flask, students and trials; None, the fault reported, where one cannot be used."""
    from identify.notebook.plausible import PLAUSIBLE
    from identify.notebook.quantity.quantities import QuantityError, read_quantity
    from identify.stock.class_use.pouring import Pouring

    told: dict[str, float] = {}
    if given.flask is not None:
        try:
            volume = read_quantity(given.flask, "volume", "mL")
            if not PLAUSIBLE["volume"].holds(volume):
                why = PLAUSIBLE["volume"].why
                raise QuantityError(given.flask, f"is not the volume of a flask: {why}", "check it")
            told["flask"] = volume.to("m3").value
        except QuantityError as error:
            faults.of_option("flask", error)
            return None
    usual = Pouring()
    return Pouring(
        told.get("flask", usual.flask),
        students=given.students or usual.students,
        trials=given.trials or usual.trials,
    )
