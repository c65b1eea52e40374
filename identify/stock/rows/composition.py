"""Stated formula, molar mass and percentages against those of the row's compound."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from identify.chemistry.formula import hill_formula, molar_mass, parse_formula
from identify.compounds.naming.meaning import Compound
from identify.compounds.naming.resolver import Resolver
from identify.notebook.findings import Finding, listed
from identify.notebook.plausible import look_like_fractions
from identify.notebook.quantity.quantities import Quantity
from identify.physics.constants import ATOMIC_WEIGHTS, ELEMENTS
from identify.stock.result import Change
from identify.stock.rows.cell_writer import CellWriter
from identify.stock.rows.identity import MAX_NAMES_IN_SENTENCE
from identify.stock.rows.stated_values import StatedValues, half_a_digit

# Weights as a classroom periodic table rounds them; common practice.
_ROUNDED_WEIGHTS: Mapping[str, float] = {
    element: 35.5 if element == "Cl" else float(round(weight))
    for element, weight in ATOMIC_WEIGHTS.items()
}
_BY_ROUNDED_WEIGHTS = "; it was worked out with rounded atomic weights"
# A sum that is off by more cannot come from rounding of any kind; common practice.
_MAX_SUM_OFF_BY_ROUNDING = 0.3  # percentage points
_CORRECTED_DECIMALS = 2
# Another compound is looked for among those this near to what is stated.
_MAX_MOLAR_MASS_OFF = 1.0  # g/mol
_MAX_PERCENT_OFF = 1.0  # percentage points


@dataclass(frozen=True)
class CompositionChecks:
    """The checks of what a row states of composition."""

    resolver: Resolver
    writer: CellWriter

    def findings(self, stated: StatedValues, compound: Compound) -> Iterator[Finding]:
        """Yield what is not the compound's."""
        yield from _formula(stated, compound)
        yield from _molar_mass(stated, compound)
        if wrong := stated.wrong_elements(compound):
            yield self._percent(stated, compound, wrong)
        else:
            # Percentages that are wrong one by one need not be told again that their sum is.
            yield from self.sum_findings(stated, compound)

    @staticmethod
    def sum_findings(stated: StatedValues, compound: Compound | None) -> Iterator[Finding]:
        """Yield a finding where percentages of all elements do not add up to 100.

        Of a row whose compound is not known, the formula says which elements there are. Where
        neither is known, nobody knows what is left out: then only a sum above 100 is told.
        """
        off = stated.percent_sum - 100.0
        if not stated.percent or (off < 0.0 and not _is_complete(stated, compound)):
            return
        # Cut off instead of rounded, each is off by up to a whole digit.
        digits = [half_a_digit(quantity, "%") for quantity in stated.percent.values()]
        if abs(off) <= 2.0 * sum(digits) + 1e-9:
            return
        said = [f"{element} {value:.4g}" for element, value in stated.percent_values.items()]
        yield Finding(
            "percent-sum",
            "error" if abs(off) > _MAX_SUM_OFF_BY_ROUNDING else "warning",
            f"percent: {listed(said)} add up to {stated.percent_sum:.2f}, {abs(off):.2f} "
            f"{'more' if off > 0.0 else 'less'} than 100.",
            "Work them out again from the formula.",
            {"sum_percent": stated.percent_sum},
        )

    def changes(self, stated: StatedValues, compound: Compound) -> Iterator[Change]:
        """Yield what a corrected copy writes in place of cells that are not the compound's."""
        bottle, name = stated.bottle, compound.name
        counts = parse_formula(compound.formula)
        if stated.formula not in (None, counts):
            yield self.writer.text(bottle, "formula", compound.formula, f"the formula of {name}")
        numbers = []
        if stated.is_molar_mass_off(compound):
            right = Quantity(molar_mass(counts), "g/mol")
            numbers.append(("molar_mass", right, f"the molar mass of {name}"))
        for element in stated.wrong_elements(compound):
            right = Quantity(compound.percent.get(element, 0.0), "%")
            numbers.append((f"percent_{element}", right, f"recomputed from {compound.formula}"))
        for column, right, reason in numbers:
            yield self.writer.number(bottle, column, right, _CORRECTED_DECIMALS, reason)

    def others_fitting(self, stated: StatedValues, compound: Compound) -> list[Compound]:
        """Return the table's compounds of another formula that fit all that the row states.

        The commonest come first.
        """
        table = self.resolver.table
        fits = np.ones(len(table), dtype=bool)
        if stated.molar_mass is not None:
            off = abs(table.number("molar_mass") - stated.molar_mass.to("g/mol").value)
            fits &= off < _MAX_MOLAR_MASS_OFF
        for element, value in stated.percent_values.items():
            off = abs(table.percent[:, ELEMENTS.index(element)] - value)
            fits &= off < _MAX_PERCENT_OFF
        if stated.formula is not None:
            fits &= np.array(table.text("formula")) == hill_formula(stated.formula)
        others = [self.resolver.of_place(int(place)) for place in np.flatnonzero(fits)]
        prior = table.number("prior")
        return sorted(
            (
                other
                for other in others
                if other.formula != compound.formula and all(stated.verdicts(other).values())
            ),
            key=lambda other: -prior[other.place or 0],
        )

    def _percent(self, stated: StatedValues, compound: Compound, wrong: Sequence[str]) -> Finding:
        values = stated.percent_values
        rounded = _rounded_percent(compound)
        by_rounded = all(
            abs(values[element] - rounded.get(element, 0.0))
            <= 2.0 * half_a_digit(stated.percent[element], "%")
            for element in wrong
        )
        right = {element: compound.percent.get(element, 0.0) for element in wrong}
        said = [f"{element} {values[element]:.4g} is {right[element]:.2f}" for element in wrong]
        headers = [stated.bottle.columns[f"percent_{element}"].header for element in wrong]
        hint = _BY_ROUNDED_WEIGHTS if by_rounded else self._right_for(stated, compound, wrong)
        return Finding(
            "percent-wrong",
            "warning" if by_rounded else "error",
            f"{listed(headers)}: {listed(said)} in {compound.name}, {compound.formula}{hint}.",
            "Correct the percentages, or the identity.",
            {f"{element}_off_percent": values[element] - right[element] for element in wrong},
        )

    def _right_for(self, stated: StatedValues, compound: Compound, wrong: Sequence[str]) -> str:
        """Say what the percentages would be right for."""
        if look_like_fractions(stated.percent_sum, len(stated.percent)):
            return "; these look like fractions, which are to be multiplied by 100"
        exchanged = dict(zip(wrong, reversed(wrong), strict=True))
        if len(wrong) == 2 and all(
            stated.is_percent(element, compound.percent.get(other, 0.0))
            for element, other in exchanged.items()
        ):
            return f"; those of {wrong[0]} and {wrong[1]} are exchanged"
        return self._of_another(stated, compound) if len(stated.percent) > 1 else ""

    def _of_another(self, stated: StatedValues, compound: Compound) -> str:
        """Say which formulas the percentages belong to; a formula's leave no element out."""
        only_percent = replace(stated, formula=None, molar_mass=None)
        others = [
            other
            for other in self.others_fitting(only_percent, compound)
            if set(other.percent) <= set(stated.percent)
        ]
        if not others:
            return ""
        formulas = list(dict.fromkeys(one.formula for one in others))[:MAX_NAMES_IN_SENTENCE]
        names = [one.name for one in others if one.formula == formulas[0]]
        return (
            f"; these are the percentages of {listed(formulas)}, such as "
            f"{listed(names[:MAX_NAMES_IN_SENTENCE])}"
        )


def _is_complete(stated: StatedValues, compound: Compound | None) -> bool:
    elements = (stated.formula or {}) if compound is None else compound.percent
    return bool(elements) and set(elements) <= set(stated.percent)


def _formula(stated: StatedValues, compound: Compound) -> Iterator[Finding]:
    right = parse_formula(compound.formula)
    if stated.formula is None or stated.formula == right:
        return
    different = [
        f"{element} {stated.formula.get(element, 0)} for {right.get(element, 0)}"
        for element in ELEMENTS
        if stated.formula.get(element, 0) != right.get(element, 0)
    ]
    reason = f"is not {compound.formula}, which is {compound.name}'s ({', '.join(different)})."
    yield _not_the_compounds(stated, "formula", reason, {})


def _molar_mass(stated: StatedValues, compound: Compound) -> Iterator[Finding]:
    if stated.molar_mass is None or not stated.is_molar_mass_off(compound):
        return
    value = stated.molar_mass.to("g/mol").value
    rounded = sum(_rounded_masses(compound).values())
    by_rounded = abs(value - rounded) <= half_a_digit(stated.molar_mass, "g/mol")
    reason = f"is not {compound.molar_mass:.2f} g/mol, the molar mass of {compound.name}"
    yield _not_the_compounds(
        stated,
        "molar_mass",
        f"{reason}{_BY_ROUNDED_WEIGHTS if by_rounded else ''}.",
        {"stated_g_per_mol": value, "expected_g_per_mol": compound.molar_mass},
        by_rounded,
    )


def _not_the_compounds(
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


def _rounded_masses(compound: Compound) -> dict[str, float]:
    """Return the mass of each element in a mole with rounded atomic weights [g/mol]."""
    counts = parse_formula(compound.formula)
    return {element: _ROUNDED_WEIGHTS[element] * number for element, number in counts.items()}


def _rounded_percent(compound: Compound) -> dict[str, float]:
    """Return the percent by mass of each element with rounded atomic weights."""
    masses = _rounded_masses(compound)
    total = sum(masses.values())
    return {element: 100.0 * mass / total for element, mass in masses.items()}
