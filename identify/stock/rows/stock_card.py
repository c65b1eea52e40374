"""What a row states beside its identity, held against the compounds that the identity may mean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from identify.compounds.naming.meaning import Compound
from identify.stock.rows.boiling_points import BoilingPointChecks
from identify.stock.rows.stated_values import StatedValues


@dataclass(frozen=True)
class StockCard:
    """Formula, molar mass, percentages and boiling point of a row."""

    stated: StatedValues
    boiling_points: BoilingPointChecks

    def verdicts(self, compound: Compound) -> dict[str, bool]:
        """Return for each stated value whether it is the compound's."""
        verdicts = self.stated.verdicts(compound)
        is_wrong = self.boiling_points.is_wrong(self.stated, compound)
        if is_wrong is not None:
            verdicts["boiling point"] = not is_wrong
        return verdicts

    def fits(self, compound: Compound) -> bool:
        """Whether the row states something, and all of it is the compound's."""
        verdicts = self.verdicts(compound)
        return bool(verdicts) and all(verdicts.values())

    def only_fitting(self, compounds: Sequence[Compound]) -> Compound | None:
        """Return the one of several compounds that all stated values are right for.

        None where several are, or where nothing stated speaks against one of the others.
        """
        fitting = [compound for compound in compounds if self.fits(compound)]
        if len(fitting) != 1:
            return None
        others = [compound for compound in compounds if compound is not fitting[0]]
        is_sure = all(False in self.verdicts(other).values() for other in others)
        return fitting[0] if is_sure else None
