"""What a row states beside its identity, against what the identity has."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import TypeVar

from identify.chemistry.formula import FormulaError, parse_formula
from identify.compounds.identities import Compound
from identify.notebook.findings import Finding
from identify.notebook.quantities import Quantity
from identify.physics.constants import ATOMIC_WEIGHTS, ELEMENTS
from identify.tables.faults import TableError
from identify.tables.stock_rows import Bottle

# Tables of atomic weights differ by 2e-4 of the molar mass at most (sulfur 32.066 of 1983 and 32.06
# of today), and weights rounded to two decimals (H 1.01, C 12.01) by 3e-4 (hexane).
MOLAR_MASS_SLACK = 4e-4
# The same in percentage points: hydrogen in hexane is 16.37 %, and 16.40 % with H 1.01; sulfur and
# the halogens move by less.
PERCENT_SLACK = 0.05
# Weights as a classroom periodic table rounds them; common practice.
ROUNDED_WEIGHTS: Mapping[str, float] = {
    element: 35.5 if element == "Cl" else float(round(weight))
    for element, weight in ATOMIC_WEIGHTS.items()
}

_Read = TypeVar("_Read")


@dataclass(frozen=True)
class StatedValues:
    """What a row states beside its identity.

    Parameters
    ----------
    bottle : Bottle
    formula : mapping of str to int or None
    molar_mass : Quantity or None
    percent : mapping of str to Quantity
    boiling_point : Quantity or None
        None too where its pressure cannot be read.
    boiling_pressure : float
        In Pa.
    findings : tuple of Finding
        Cells that cannot be read.
    """

    bottle: Bottle
    formula: Mapping[str, int] | None
    molar_mass: Quantity | None
    percent: Mapping[str, Quantity]
    boiling_point: Quantity | None
    boiling_pressure: float
    findings: tuple[Finding, ...] = field(default=())

    @classmethod
    def of(cls, bottle: Bottle, laboratory_pressure: float) -> StatedValues:
        """Read a row's cells; the pressure is the laboratory's [Pa]."""
        findings: list[Finding] = []

        def read(reader: Callable[[], _Read]) -> _Read | None:
            try:
                return reader()
            except TableError as fault:
                findings.append(unreadable(bottle, fault))
                return None

        formula = read(lambda: _formula(bottle))
        molar_mass = read(lambda: bottle.quantity("molar_mass"))
        percent = {}
        for element in ELEMENTS:
            quantity = read(partial(bottle.quantity, f"percent_{element}"))
            if quantity is not None:
                percent[element] = quantity
        boiling_point = read(lambda: bottle.quantity("boiling_point"))
        pressure = read(lambda: bottle.boiling_pressure(laboratory_pressure))
        return cls(
            bottle,
            formula,
            molar_mass,
            percent,
            None if pressure is None else boiling_point,
            pressure or laboratory_pressure,
            tuple(findings),
        )

    @property
    def percent_sum(self) -> float:
        """Sum of the percentages."""
        return sum(quantity.to("%").value for quantity in self.percent.values())

    def verdicts(self, compound: Compound) -> dict[str, bool]:
        """Return whether each thing that is stated, but the boiling point, is a compound's."""
        verdicts = {}
        if self.formula is not None:
            verdicts["formula"] = self.formula == parse_formula(compound.formula)
        if self.molar_mass is not None:
            verdicts["molar mass"] = not self.is_molar_mass_off(compound.molar_mass)
        if self.percent:
            verdicts["percentages"] = not self.wrong_elements(compound.percent)
        return verdicts

    def is_molar_mass_off(self, right: float) -> bool:
        """Whether the molar mass stated is not this one [g/mol], rounding and slack allowed."""
        assert self.molar_mass is not None
        off = abs(self.molar_mass.to("g/mol").value - right)
        return off > MOLAR_MASS_SLACK * right + half_a_digit(self.molar_mass, "g/mol")

    def wrong_elements(self, right: Mapping[str, float]) -> list[str]:
        """Return the elements whose percentage is not that of a composition."""
        return [
            element
            for element, quantity in self.percent.items()
            if not is_percent(quantity, right.get(element, 0.0))
        ]


def is_percent(quantity: Quantity, right: float) -> bool:
    """Whether a percentage is this one, rounding and slack allowed."""
    off = abs(quantity.to("%").value - right)
    return off <= PERCENT_SLACK + half_a_digit(quantity, "%")


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


def percent_by(weights: Mapping[str, float], counts: Mapping[str, int]) -> dict[str, float]:
    """Return the percent by mass of each element with given atomic weights.

    Examples
    --------
    >>> percent_by(ROUNDED_WEIGHTS, {"C": 1, "H": 4})
    {'C': 75.0, 'H': 25.0}
    """
    masses = {element: weights[element] * number for element, number in counts.items()}
    total = sum(masses.values())
    return {element: 100.0 * mass / total for element, mass in masses.items()}


def unreadable(bottle: Bottle, fault: TableError) -> Finding:
    """Return the finding on a cell that cannot be read."""
    where = f"{bottle.file}, row {bottle.row}, "
    message = str(fault).removeprefix(where)
    return Finding("cell-unreadable", "error", message, "Correct the cell, or leave it empty.")


def _formula(bottle: Bottle) -> Mapping[str, int] | None:
    text = bottle.text("formula")
    if not text:
        return None
    try:
        return parse_formula(text)
    except FormulaError as error:
        raise bottle.fault("formula", str(error)) from None


def elements_of(stated: StatedValues, compound: Compound | None) -> Iterator[str]:
    """Yield the elements that the percentages should cover: of the compound, else the formula."""
    if compound is not None:
        yield from compound.percent
    elif stated.formula is not None:
        yield from stated.formula
