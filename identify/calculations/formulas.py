"""Empirical and molecular formulas from a percent composition, with the working."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from identify.calculations.working import Step
from identify.checks import check
from identify.findings import Finding
from identify.formula.rules import ATOMIC_WEIGHTS
from identify.formula.search import (
    EmpiricalFormula,
    MolecularFormula,
    empirical_formulas,
    molecular_formulas,
)
from identify.measurement import Measurement, Written
from identify.quantities import QuantityError

if TYPE_CHECKING:
    from identify.candidates.table import CandidateTable

_LARGEST_MULTIPLE = 8  # of the mole ratios in the working
_SHOWN = 10


@dataclass(frozen=True)
class KnownFormula:
    """A molecular formula, and how many compounds of the candidate table have it."""

    formula: MolecularFormula
    known_compounds: int


@dataclass(frozen=True)
class FormulaResult:
    """All formulas that fit, the best first, what is doubtful, and the working."""

    empirical: tuple[EmpiricalFormula, ...]
    molecular: tuple[KnownFormula, ...]
    findings: tuple[Finding, ...]
    work: tuple[Step, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the result as plain data, ready for JSON."""
        return {
            "empirical": [
                {
                    "formula": one.formula,
                    "molar_mass": round(one.molar_mass, 4),
                    "largest_deviation": round(one.largest_deviation, 4),
                    "rest": round(one.rest, 4),
                }
                for one in self.empirical
            ],
            "molecular": [
                {
                    "formula": one.formula.formula,
                    "molar_mass": round(one.formula.molar_mass, 4),
                    "multiple": one.formula.multiple,
                    "degree_of_unsaturation": one.formula.degree_of_unsaturation,
                    "known_compounds": one.known_compounds,
                }
                for one in self.molecular
            ],
            "findings": [finding.to_dict() for finding in self.findings],
            "work": [step.to_dict() for step in self.work],
        }


def formulas(
    percent: Mapping[str, Written],
    molar_mass: Written | None = None,
    tolerance: float = 0.4,
    candidates: CandidateTable | None = None,
) -> FormulaResult:
    """Return the empirical formulas that fit a composition, and their molecular formulas.

    Parameters
    ----------
    percent : mapping of str to quantity
        Percent by mass by element.
    molar_mass : quantity, optional
        Plain numbers in g/mol; its tolerance is twice its uncertainty, 5 % where it states none.
    tolerance : float, default=0.4
        Percentage points an element.
    candidates : CandidateTable, optional
        Where known compounds are counted; the built-in table where not given.

    Returns
    -------
    FormulaResult

    Raises
    ------
    QuantityError
        If a percentage or the molar mass cannot be read.
    FormulaError
        If no percentage is above zero, or the tolerance cannot be used.

    Examples
    --------
    >>> found = formulas({"C": 24.27, "H": 4.07, "Cl": 71.65}, molar_mass=98.96)
    >>> found.empirical[0].formula, found.molecular[0].formula.formula
    ('CH2Cl', 'C2H4Cl2')
    """
    from identify.candidates.table import load_candidates

    run = Measurement("composition", percent=percent, molar_mass=molar_mass)
    values = {element: quantity.to("%").value for element, quantity in run.percent.items()}
    for element, value in values.items():
        if value > 100.0:
            raise QuantityError(f"{value:g} %", "is above 100", "check it", f"percent {element}")
    mass = None if run.molar_mass is None else run.molar_mass.to("g/mol")
    width = 5.0
    if mass is not None and mass.uncertainty is not None:
        width = min(200.0 * mass.uncertainty / mass.value, 50.0)
    fitting = empirical_formulas(values, tolerance)[:_SHOWN]
    known = Counter((candidates or load_candidates()).text("formula"))
    molecular = [
        KnownFormula(one, known[one.formula])
        for empirical in fitting
        if mass is not None
        for one in molecular_formulas(empirical, mass.value, width)
    ]
    # One that is known is likelier than one that merely fits; the fit decides among equals.
    molecular.sort(key=lambda one: one.known_compounds == 0)
    work = _work(values, fitting[0], molecular) if fitting else ()
    findings = check(run, percent_tolerance=tolerance)
    return FormulaResult(tuple(fitting), tuple(molecular), tuple(findings), work)


def _work(
    percent: Mapping[str, float], best: EmpiricalFormula, molecular: list[KnownFormula]
) -> tuple[Step, ...]:
    """Return the working as a notebook has it: moles in 100 g, their ratio, whole numbers."""
    moles = {e: value / ATOMIC_WEIGHTS[e] for e, value in percent.items() if value > 0.0}
    least = min(moles.values())
    steps = [
        Step(
            f"moles of {element} in 100 g",
            f"n({element}) = m({element}) / M({element})",
            f"{percent[element]:.4g} g / {ATOMIC_WEIGHTS[element]:g} g/mol",
            f"{amount:.3f} mol",
        )
        for element, amount in moles.items()
    ]
    ratios = {element: amount / least for element, amount in moles.items()}
    smallest = min(best.counts.values(), default=1)
    listed = " : ".join(f"{element} {ratio:.2f}" for element, ratio in ratios.items())
    steps.append(Step("divided by the smallest", "n / n(smallest)", f"n / {least:.3f}", listed))
    if 1 < smallest <= _LARGEST_MULTIPLE:
        whole = " : ".join(f"{e} {smallest * ratio:.2f}" for e, ratio in ratios.items())
        steps.append(Step("made whole", f"times {smallest}", f"{smallest} x ({listed})", whole))
    if molecular:
        one = next((m for m in molecular if m.formula.counts.keys() == best.counts.keys()), None)
        if one is not None:
            steps.append(
                Step(
                    "multiple",
                    "M / M(empirical)",
                    f"{one.formula.molar_mass:.2f} / {best.molar_mass:.2f}",
                    f"{one.formula.multiple}: {one.formula.formula}",
                )
            )
    return tuple(steps)
