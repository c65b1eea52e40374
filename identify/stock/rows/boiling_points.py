"""A stated boiling point against the consensus of the published ones."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot, isfinite
from typing import NamedTuple

from identify.bench.laboratory import Laboratory, pressure_text
from identify.compounds.naming.meaning import Compound
from identify.compounds.naming.resolver import Resolver
from identify.compounds.table import ESTIMATED
from identify.notebook.findings import Finding
from identify.notebook.quantity.quantities import Quantity
from identify.notebook.usual import CARD_BOILING_POINT
from identify.physics.boiling import boiling_temperature
from identify.physics.constants import ICE_POINT
from identify.stock.result import Change
from identify.stock.rows.cell_writer import CellWriter
from identify.stock.rows.stated_values import StatedValues, half_a_digit


class _Limit(NamedTuple):
    """How far off a boiling point may be: the larger of both."""

    kelvin: float
    standard_uncertainties: float


# Collections agree within a few tenths of a kelvin, handbooks within 1.
_DOUBTFUL, _WRONG = _Limit(1.5, 2.0), _Limit(3.0, 3.0)
# Published curves agree on their slope to a few percent: of what the pressure changes.
_SLOPE_UNCERTAINTY = 0.05
_SAME_BOILING_POINT = 1.0  # K, from that of something else that was perhaps meant
_MAX_CORRECTING_UNCERTAINTY = 1.5  # K: a consensus that is less certain corrects nothing


@dataclass(frozen=True)
class BoilingPointChecks:
    """The checks of a stated boiling point."""

    resolver: Resolver
    laboratory: Laboratory

    def is_wrong(self, stated: StatedValues, compound: Compound) -> bool | None:
        """Whether the stated boiling point cannot be the compound's; None if not decidable."""
        return self._is_beyond(_WRONG, stated, compound)

    def is_doubtful(self, stated: StatedValues, compound: Compound) -> bool | None:
        """Whether the stated boiling point is wrong or doubtful; None if not decidable."""
        return self._is_beyond(_DOUBTFUL, stated, compound)

    def findings(self, stated: StatedValues, compound: Compound) -> Iterator[Finding]:
        """Yield what there is to say of the stated boiling point, and of the consensus."""
        if self.is_doubtful(stated, compound):
            yield self._wrong(stated, compound)
        if compound.place is None:
            return
        source = self.resolver.table.text("boiling_point_source")[compound.place]
        if source == ESTIMATED or compound.boiling_point_u > _MAX_CORRECTING_UNCERTAINTY:
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

    def change(self, stated: StatedValues, compound: Compound, writer: CellWriter) -> Change | None:
        """Return what a corrected copy writes, None where the right value is not known well."""
        uncertain = compound.boiling_point_u > _MAX_CORRECTING_UNCERTAINTY
        if uncertain or not self.is_wrong(stated, compound):
            return None
        right = Quantity(self._at(compound, stated.boiling_pressure), "C")
        reason = f"where {compound.name} boils at {pressure_text(stated.boiling_pressure)}"
        return writer.number(stated.bottle, "boiling_point", right, decimals=1, reason=reason)

    def isomer_there(self, stated: StatedValues, compound: Compound) -> Compound | None:
        """Return the commonest isomer that boils where the row states, None where there is none."""
        if stated.boiling_point is None:
            return None
        celsius = stated.boiling_point.to("C").value
        for isomer in self.resolver.of_formula(compound.formula):
            off = abs(self._at(isomer, stated.boiling_pressure) - celsius)
            if isomer.place != compound.place and off < _SAME_BOILING_POINT:
                return isomer
        return None

    def _at(self, compound: Compound, pressure: float) -> float:
        """Return where a compound boils under a pressure [degrees Celsius], NaN where unknown."""
        if compound.place is None or not isfinite(compound.boiling_point_C):
            return float("nan")
        curve = self.resolver.table.vapor_curve[compound.place]
        normal = compound.boiling_point_C + ICE_POINT
        return float(boiling_temperature(pressure, normal, curve)) - ICE_POINT

    def _is_beyond(self, limit: _Limit, stated: StatedValues, compound: Compound) -> bool | None:
        if stated.boiling_point is None:
            return None
        expected = self._at(compound, stated.boiling_pressure)
        if not isfinite(expected):
            return None
        carried = _SLOPE_UNCERTAINTY * (expected - compound.boiling_point_C)
        uncertainty = hypot(compound.boiling_point_u, CARD_BOILING_POINT, carried)
        allowed = max(
            limit.kelvin + half_a_digit(stated.boiling_point, "K"),
            limit.standard_uncertainties * uncertainty,
        )
        return abs(stated.boiling_point.to("C").value - expected) > allowed

    def _wrong(self, stated: StatedValues, compound: Compound) -> Finding:
        assert stated.boiling_point is not None
        expected = self._at(compound, stated.boiling_pressure)
        celsius = stated.boiling_point.to("C").value
        off = celsius - expected
        header = stated.bottle.columns["boiling_point"].header
        return Finding(
            "boiling-point-wrong",
            "error" if self.is_wrong(stated, compound) else "warning",
            f"{header}: {compound.name} boils at {expected:.1f} °C under "
            f"{pressure_text(stated.boiling_pressure)} (standard uncertainty "
            f"{compound.boiling_point_u:.1f} K); {celsius:.1f} °C is {abs(off):.1f} K too "
            f"{'high' if off > 0.0 else 'low'}.{self._right_for(stated, compound, celsius)}",
            "Look it up again, with the pressure that it holds for.",
            {"stated_C": celsius, "expected_C": expected, "off_K": off},
        )

    def _right_for(self, stated: StatedValues, compound: Compound, celsius: float) -> str:
        """Say what the number would be right for."""
        pressure, here = stated.boiling_pressure, self.laboratory.pressure
        expected = self._at(compound, pressure)
        for unit, name in (("F", "degrees Fahrenheit"), ("K", "kelvin")):
            if abs(Quantity(celsius, unit).to("C").value - expected) < _SAME_BOILING_POINT:
                return f" It is right in {name}."
        if here != pressure and abs(celsius - self._at(compound, here)) < _SAME_BOILING_POINT:
            return f" It is right for {pressure_text(here)}, the pressure of this laboratory."
        isomer = self.isomer_there(stated, compound)
        if isomer is None:
            return ""
        there = self._at(isomer, pressure)
        return f" It is where its isomer {isomer.name} boils ({there:.1f} °C)."
