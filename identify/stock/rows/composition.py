"""Formula, molar mass and percentages that a row states, against its compound."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from identify.chemistry.formula import hill_formula, molar_mass, parse_formula
from identify.compounds.identities import Compound, Identities
from identify.notebook.findings import Finding, listed
from identify.notebook.limits import look_like_fractions
from identify.notebook.quantities import Quantity
from identify.physics.constants import ELEMENTS
from identify.stock.result import Change
from identify.stock.rows.cell_writer import CellWriter
from identify.stock.rows.stated_values import (
    ROUNDED_WEIGHTS,
    StatedValues,
    elements_of,
    half_a_digit,
    is_percent,
    percent_by,
)

# A sum that is off by more cannot come from rounding of any kind; common practice.
_SUM_WRONG = 0.3  # percentage points
_NAMED = 3
_DECIMALS = 2


@dataclass(frozen=True)
class CompositionChecks:
    """The checks of what a row states of composition.

    Parameters
    ----------
    identities : Identities
    pen : CellWriter
    """

    identities: Identities
    pen: CellWriter

    def findings(self, stated: StatedValues, compound: Compound) -> Iterator[Finding]:
        """Yield what is not the compound's."""
        for check in (self._formula, self._molar_mass, self._percent):
            yield from check(stated, compound)

    def changes(self, stated: StatedValues, compound: Compound) -> Iterator[Change]:
        """Yield what a corrected copy writes in place of cells that are not the compound's."""
        bottle, name = stated.bottle, compound.name
        counts = parse_formula(compound.formula)
        if stated.formula is not None and stated.formula != counts:
            yield self.pen.text(bottle, "formula", compound.formula, f"the formula of {name}")
        if stated.molar_mass is not None and stated.is_molar_mass_off(compound.molar_mass):
            right = Quantity(molar_mass(counts), "g/mol")
            reason = f"the molar mass of {name}"
            yield self.pen.number(bottle, "molar_mass", right, _DECIMALS, reason)
        for element in stated.wrong_elements(compound.percent):
            right = Quantity(compound.percent.get(element, 0.0), "%")
            reason = f"recomputed from {compound.formula}"
            yield self.pen.number(bottle, f"percent_{element}", right, _DECIMALS, reason)

    def percent_sum(self, stated: StatedValues, compound: Compound | None) -> Iterator[Finding]:
        """Yield a finding where percentages of all elements do not add up to 100."""
        values = stated.percent
        elements = set(elements_of(stated, compound))
        # Nobody knows what a row of unknown elements leaves out: more than 100 is too much yet.
        is_complete = bool(elements) and elements <= set(values)
        off = stated.percent_sum - 100.0
        # Cut off instead of rounded, each is off by up to a whole digit.
        allowed = sum(2.0 * half_a_digit(quantity, "%") for quantity in values.values())
        if not values or abs(off) <= allowed + 1e-9 or not (is_complete or off > 0.0):
            return
        sign = "more" if off > 0.0 else "less"
        yield Finding(
            "percent-sum",
            "error" if abs(off) > _SUM_WRONG else "warning",
            f"percent: {_written(values)} add up to {stated.percent_sum:.2f}, {abs(off):.2f} "
            f"{sign} than 100.",
            "Work them out again from the formula.",
            {"sum_percent": stated.percent_sum},
        )

    def others_fitting(self, stated: StatedValues, compound: Compound) -> list[Compound]:
        """Return other compounds of the table for which all is right that the row states."""
        table = self.identities.table
        fits = np.ones(len(table), dtype=bool)
        if stated.molar_mass is not None:
            stated_mass = stated.molar_mass.to("g/mol").value
            fits &= abs(table.number("molar_mass") - stated_mass) < 1.0
        for element, quantity in stated.percent.items():
            column = table.percent[:, ELEMENTS.index(element)]
            fits &= abs(column - quantity.to("%").value) < 1.0
        formula = None if stated.formula is None else hill_formula(stated.formula)
        found = []
        for place in np.flatnonzero(fits):
            if formula not in (None, table.text("formula")[place]):
                continue
            other = self.identities.of_place(int(place))
            if other.formula != compound.formula and all(stated.verdicts(other).values()):
                found.append(other)
        prior = table.number("prior")
        return sorted(found, key=lambda other: -prior[other.place or 0])

    # -------------------------------------------------------------------------- one by one

    def _formula(self, stated: StatedValues, compound: Compound) -> Iterator[Finding]:
        if stated.formula is None or stated.verdicts(compound)["formula"]:
            return
        right = parse_formula(compound.formula)
        different = [
            f"{element} {stated.formula.get(element, 0)} for {right.get(element, 0)}"
            for element in ELEMENTS
            if stated.formula.get(element, 0) != right.get(element, 0)
        ]
        yield _not_its(
            stated,
            "formula",
            f"is not {compound.formula}, which is {compound.name}'s ({', '.join(different)}).",
            {},
        )

    def _molar_mass(self, stated: StatedValues, compound: Compound) -> Iterator[Finding]:
        if stated.molar_mass is None or not stated.is_molar_mass_off(compound.molar_mass):
            return
        value = stated.molar_mass.to("g/mol").value
        counts = parse_formula(compound.formula)
        rounded = sum(ROUNDED_WEIGHTS[element] * number for element, number in counts.items())
        by_rounded = abs(value - rounded) <= half_a_digit(stated.molar_mass, "g/mol")
        reason = f"is not {compound.molar_mass:.2f} g/mol, the molar mass of {compound.name}"
        numbers = {"stated_g_per_mol": value, "expected_g_per_mol": compound.molar_mass}
        yield _not_its(stated, "molar_mass", f"{reason}{_by(by_rounded)}.", numbers, by_rounded)

    def _percent(self, stated: StatedValues, compound: Compound) -> Iterator[Finding]:
        wrong = stated.wrong_elements(compound.percent)
        if not wrong:
            return
        counts = parse_formula(compound.formula)
        rounded = percent_by(ROUNDED_WEIGHTS, counts)
        by_rounded = all(
            abs(stated.percent[element].to("%").value - rounded.get(element, 0.0))
            <= 2.0 * half_a_digit(stated.percent[element], "%")
            for element in wrong
        )
        said = [
            f"{element} {stated.percent[element].to('%').value:.4g} is "
            f"{compound.percent.get(element, 0.0):.2f}"
            for element in wrong
        ]
        hint = _by(by_rounded) or self._instead(stated, compound, wrong)
        headers = [stated.bottle.columns[f"percent_{element}"].header for element in wrong]
        yield Finding(
            "percent-wrong",
            "warning" if by_rounded else "error",
            f"{listed(headers)}: {listed(said)} in {compound.name}, {compound.formula}{hint}.",
            "Correct the percentages, or the identity.",
            {
                f"{element}_off_percent": stated.percent[element].to("%").value
                - compound.percent.get(element, 0.0)
                for element in wrong
            },
        )

    def _instead(self, stated: StatedValues, compound: Compound, wrong: Sequence[str]) -> str:
        """Say what the percentages would be right for."""
        if look_like_fractions(stated.percent_sum, len(stated.percent)):
            return "; these look like fractions, which are to be multiplied by 100"
        if len(wrong) == 2:
            first, second = wrong
            if is_percent(stated.percent[first], compound.percent.get(second, 0.0)) and is_percent(
                stated.percent[second], compound.percent.get(first, 0.0)
            ):
                return f"; those of {first} and {second} are exchanged"
        only = replace(stated, formula=None, molar_mass=None, boiling_point=None)
        others = self.others_fitting(only, compound) if len(stated.percent) > 1 else []
        # A composition that leaves elements out is no formula's.
        others = [one for one in others if set(one.percent) <= set(stated.percent)]
        if others:
            formulas = list(dict.fromkeys(one.formula for one in others))[:_NAMED]
            names = [one.name for one in others if one.formula == formulas[0]][:_NAMED]
            return f"; these are the percentages of {listed(formulas)}, such as {listed(names)}"
        return ""


def _by(rounded: bool) -> str:
    return "; it was worked out with rounded atomic weights" if rounded else ""


def _not_its(
    stated: StatedValues,
    column: str,
    reason: str,
    numbers: Mapping[str, float],
    is_doubt: bool = False,
) -> Finding:
    bottle = stated.bottle
    return Finding(
        f"{column.replace('_', '-')}-wrong",
        "warning" if is_doubt else "error",
        f'{bottle.columns[column].header}: "{bottle.text(column)}" {reason}',
        "Correct it, or the identity.",
        numbers,
    )


def _written(values: Mapping[str, Quantity]) -> str:
    return listed([f"{element} {one.to('%').value:.4g}" for element, one in values.items()])
