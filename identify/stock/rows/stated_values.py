"""What a row states beside its identity, and which of it is a compound's."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

from identify.chemistry.formula import FormulaError, parse_formula
from identify.compounds.naming.meaning import Compound
from identify.notebook.findings import Finding
from identify.notebook.quantity.quantities import Quantity
from identify.physics.constants import ELEMENTS
from identify.tables.faults import TableError
from identify.tables.stock_rows import StockBottle

# Tables of atomic weights differ by 2e-4 of the molar mass at most (sulfur 32.066 of 1983 and 32.06
# of today), and weights rounded to two decimals (H 1.01, C 12.01) by 3e-4 (hexane).
_MOLAR_MASS_SLACK = 4e-4
# The same in percentage points: hydrogen in hexane is 16.37 %, and 16.40 % with H 1.01; sulfur and
# the halogens move by less.
_PERCENT_SLACK = 0.05

_Value = TypeVar("_Value")


@dataclass(frozen=True)
class StatedValues:
    """What a row states beside its identity.

    Parameters
    ----------
    bottle : StockBottle
    formula : mapping of str to int or None
    molar_mass : Quantity or None
    percent : mapping of str to Quantity
    boiling_point : Quantity or None
        None also where its pressure cannot be read.
    boiling_pressure : float
        In Pa.
    findings : tuple of Finding
        Cells that cannot be read.
    """

    bottle: StockBottle
    formula: Mapping[str, int] | None
    molar_mass: Quantity | None
    percent: Mapping[str, Quantity]
    boiling_point: Quantity | None
    boiling_pressure: float
    findings: tuple[Finding, ...] = ()

    @classmethod
    def of(cls, bottle: StockBottle, laboratory_pressure: float) -> StatedValues:
        """Read a row's cells; the pressure is the laboratory's [Pa]."""
        findings: list[Finding] = []

        def read(reader: Callable[[], _Value]) -> _Value | None:
            try:
                return reader()
            except TableError as fault:
                findings.append(unreadable(bottle, fault))
                return None

        formula = read(partial(_formula, bottle))
        molar_mass = read(partial(bottle.quantity, "molar_mass"))
        percent = {
            element: read(partial(bottle.quantity, f"percent_{element}")) for element in ELEMENTS
        }
        boiling_point = read(partial(bottle.quantity, "boiling_point"))
        pressure = read(partial(bottle.boiling_pressure, laboratory_pressure))
        return cls(
            bottle,
            formula,
            molar_mass,
            {element: stated for element, stated in percent.items() if stated is not None},
            None if pressure is None else boiling_point,
            pressure or laboratory_pressure,
            tuple(findings),
        )

    @property
    def percent_values(self) -> dict[str, float]:
        """The percentages as numbers."""
        return {element: quantity.to("%").value for element, quantity in self.percent.items()}

    @property
    def percent_sum(self) -> float:
        """Sum of the percentages."""
        return sum(self.percent_values.values())

    def verdicts(self, compound: Compound) -> dict[str, bool]:
        """Return for each stated value, except the boiling point, whether it is the compound's."""
        verdicts = {}
        if self.formula is not None:
            verdicts["formula"] = self.formula == parse_formula(compound.formula)
        if self.molar_mass is not None:
            verdicts["molar mass"] = not self.is_molar_mass_off(compound)
        if self.percent:
            verdicts["percentages"] = not self.wrong_elements(compound)
        return verdicts

    def is_molar_mass_off(self, compound: Compound) -> bool:
        """Whether the stated molar mass is not the compound's, rounding and slack allowed."""
        if self.molar_mass is None:
            return False
        off = abs(self.molar_mass.to("g/mol").value - compound.molar_mass)
        slack = _MOLAR_MASS_SLACK * compound.molar_mass
        return off > slack + half_a_digit(self.molar_mass, "g/mol")

    def wrong_elements(self, compound: Compound) -> list[str]:
        """Return the elements whose stated percentage is not the compound's."""
        return [
            element
            for element in self.percent
            if not self.is_percent(element, compound.percent.get(element, 0.0))
        ]

    def is_percent(self, element: str, right: float) -> bool:
        """Whether the stated percentage is this one, rounding and slack allowed."""
        off = abs(self.percent[element].to("%").value - right)
        return off <= _PERCENT_SLACK + half_a_digit(self.percent[element], "%")


def half_a_digit(quantity: Quantity, unit: str) -> float:
    """Return half a unit of the last digit written, in a unit; of temperatures, as a difference.

    Examples
    --------
    >>> half_a_digit(Quantity(46.07, "g/mol", text="46.07"), "g/mol")
    0.005
    """
    half = Quantity(quantity.value, quantity.unit, 0.5 * quantity.last_digit).to(unit).uncertainty
    assert half is not None
    return half


def unreadable(bottle: StockBottle, fault: TableError) -> Finding:
    """Return the finding on a cell that cannot be read."""
    message = str(fault).removeprefix(f"{bottle.file}, row {bottle.row}, ")
    return Finding("cell-unreadable", "error", message, "Correct the cell, or leave it empty.")


def _formula(bottle: StockBottle) -> Mapping[str, int] | None:
    text = bottle.text("formula")
    if not text:
        return None
    try:
        return parse_formula(text)
    except FormulaError as error:
        raise bottle.fault("formula", str(error)) from None
