"""A boiling point that a row states, against the consensus of the published ones."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot, isfinite

from identify.bench.laboratory import Laboratory, pressure_text
from identify.compounds.identities import Compound, Identities
from identify.compounds.table import ESTIMATED
from identify.notebook.findings import Finding
from identify.notebook.quantities import Quantity
from identify.notebook.usual import CARD_BOILING_POINT
from identify.physics.boiling import boiling_temperature
from identify.physics.constants import ICE_POINT
from identify.stock.result import Change
from identify.stock.rows.cell_writer import CellWriter
from identify.stock.rows.stated_values import StatedValues, half_a_digit

# Published curves agree on their slope to a few percent: of what the pressure changes.
_CARRIED = 0.05
_DOUBTFUL, _WRONG = 1.5, 3.0  # K: collections agree within a few tenths, handbooks within 1
_BEYOND = (2.0, 3.0)  # standard uncertainties: doubtful, wrong
_SAME = 1.0  # K, from the boiling point of something else that was perhaps meant
_KNOWN = 1.5  # K: standard uncertainty of a consensus above which it corrects nothing


@dataclass(frozen=True)
class BoilingPointChecks:
    """The boiling points of the table's compounds at any pressure.

    Parameters
    ----------
    identities : Identities
    laboratory : Laboratory
    """

    identities: Identities
    laboratory: Laboratory

    def at(self, compound: Compound, pressure: float) -> float:
        """Return where a compound boils under a pressure [degrees Celsius], NaN where unknown."""
        if compound.place is None or not isfinite(compound.boiling_point_C):
            return float("nan")
        curve = self.identities.table.vapor_curve[compound.place]
        normal = compound.boiling_point_C + ICE_POINT
        return float(boiling_temperature(pressure, normal, curve)) - ICE_POINT

    def is_off(self, stated: StatedValues, compound: Compound, beyond: int = 1) -> bool | None:
        """Whether the boiling point stated is wrong (1), or doubtful (0); None if not decidable."""
        if stated.boiling_point is None:
            return None
        expected = self.at(compound, stated.boiling_pressure)
        if not isfinite(expected):
            return None
        carried = _CARRIED * (expected - compound.boiling_point_C)
        uncertainty = hypot(compound.boiling_point_u, CARD_BOILING_POINT, carried)
        least = (_DOUBTFUL, _WRONG)[beyond] + half_a_digit(stated.boiling_point, "K")
        off = abs(stated.boiling_point.to("C").value - expected)
        return off > max(least, _BEYOND[beyond] * uncertainty)

    def findings(self, stated: StatedValues, compound: Compound) -> Iterator[Finding]:
        """Yield what there is to say of a boiling point that is stated, and of the consensus."""
        if self.is_off(stated, compound, beyond=0):
            yield self._wrong(stated, compound)
        if compound.place is None:
            return
        source = self.identities.table.text("boiling_point_source")[compound.place]
        if source == ESTIMATED or compound.boiling_point_u > _KNOWN:
            known = "is estimated from its structure" if source == ESTIMATED else "varies by source"
            yield Finding(
                "boiling-point-uncertain",
                "note",
                f"The boiling point of {compound.name} {known}: {compound.boiling_point_C:.1f} °C "
                f"with a standard uncertainty of {compound.boiling_point_u:.1f} K.",
                "Measure it in your laboratory, and state what you find with its pressure.",
                {
                    "boiling_point_C": compound.boiling_point_C,
                    "standard_uncertainty_K": compound.boiling_point_u,
                },
            )

    def change(self, stated: StatedValues, compound: Compound, pen: CellWriter) -> Change | None:
        """Return what a corrected copy writes, None where the right value is not known well."""
        if compound.boiling_point_u > _KNOWN or not self.is_off(stated, compound):
            return None
        expected = self.at(compound, stated.boiling_pressure)
        reason = f"where {compound.name} boils at {pressure_text(stated.boiling_pressure)}"
        return pen.number(
            stated.bottle, "boiling_point", Quantity(expected, "C"), decimals=1, reason=reason
        )

    def isomer_there(self, stated: StatedValues, compound: Compound) -> Compound | None:
        """Return the commonest isomer that boils where the row states, None where there is none."""
        if stated.boiling_point is None:
            return None
        celsius = stated.boiling_point.to("C").value
        for isomer in self.identities.of_formula(compound.formula):
            off = abs(self.at(isomer, stated.boiling_pressure) - celsius)
            if isomer.place != compound.place and off < _SAME:
                return isomer
        return None

    def _wrong(self, stated: StatedValues, compound: Compound) -> Finding:
        assert stated.boiling_point is not None
        expected = self.at(compound, stated.boiling_pressure)
        celsius = stated.boiling_point.to("C").value
        off = celsius - expected
        guess = self._instead(stated, compound, celsius)
        header = stated.bottle.columns["boiling_point"].header
        return Finding(
            "boiling-point-wrong",
            "error" if self.is_off(stated, compound) else "warning",
            f"{header}: {compound.name} boils at {expected:.1f} °C under "
            f"{pressure_text(stated.boiling_pressure)} (standard uncertainty "
            f"{compound.boiling_point_u:.1f} K); {celsius:.1f} °C is {abs(off):.1f} K too "
            f"{'high' if off > 0.0 else 'low'}.{guess}",
            "Look it up again, with the pressure that it holds for.",
            {"stated_C": celsius, "expected_C": expected, "off_K": off},
        )

    def _instead(self, stated: StatedValues, compound: Compound, celsius: float) -> str:
        """Say what the number would be right for."""
        expected = self.at(compound, stated.boiling_pressure)
        for unit in ("F", "K"):
            if abs(Quantity(celsius, unit).to("C").value - expected) < _SAME:
                return f" It is right in {'degrees Fahrenheit' if unit == 'F' else 'kelvin'}."
        here = self.laboratory.pressure
        if here != stated.boiling_pressure and abs(celsius - self.at(compound, here)) < _SAME:
            return f" It is right for {pressure_text(here)}, the pressure of this laboratory."
        isomer = self.isomer_there(stated, compound)
        if isomer is None:
            return ""
        there = self.at(isomer, stated.boiling_pressure)
        return f" It is where its isomer {isomer.name} boils ({there:.1f} °C)."
