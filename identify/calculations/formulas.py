"""Empirical and molecular formulas from a percent composition, with the working."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from identify.calculations.working import Step
from identify.checks import check
from identify.chemistry.formula.nearest import nearest_formulas
from identify.chemistry.formula.search import (
    EmpiricalFormula,
    MolecularFormula,
    empirical_formulas,
    molecular_formulas,
)
from identify.notebook.fields import Written
from identify.notebook.findings import Finding, worst_first
from identify.notebook.measurement import Measurement
from identify.notebook.quantity.quantities import Quantity, QuantityError
from identify.notebook.serializing import plain, rounded
from identify.notebook.shown import Shown
from identify.observables.tolerances import Tolerances
from identify.physics.constants import ATOMIC_WEIGHTS

if TYPE_CHECKING:
    from identify.compounds.table import CandidateTable

_LARGEST_MULTIPLE = 8  # of the mole ratios in the working
_SHOWN = 10
_NO_FORMULA = "composition-no-formula"
_SAY_WHY = ("composition-valence", "percent-sum-high", "percent-as-fraction")
# Elements whose molecules have two atoms; textbook chemistry.
_DIATOMIC = ("H", "N", "O", "F", "Cl", "Br", "I")


@dataclass(frozen=True)
class KnownFormula:
    """A molecular formula, and how many compounds of the candidate table have it.

    None where elements are in it that the composition does not name.
    """

    formula: MolecularFormula
    known_compounds: int | None

    def to_dict(self) -> dict[str, Any]:
        """Return the formula as plain data."""
        return {
            "formula": self.formula.formula,
            "molar_mass": rounded(self.formula.molar_mass, 4),
            "multiple": self.formula.multiple,
            "rest": rounded(self.formula.rest, 4),
            "degree_of_unsaturation": self.formula.degree_of_unsaturation,
            "known_compounds": self.known_compounds,
        }


@dataclass(frozen=True, repr=False)
class FormulaResult(Shown):
    """All formulas that fit, the best first, what is doubtful, and the working.

    `nearest` are the possible formulas that come nearest, where none fits; otherwise empty.
    """

    empirical: tuple[EmpiricalFormula, ...]
    nearest: tuple[EmpiricalFormula, ...]
    molecular: tuple[KnownFormula, ...]
    findings: tuple[Finding, ...]
    work: tuple[Step, ...]

    main_table = "molecular"

    @property
    def headline(self) -> str:
        """The formulas in a few words."""
        formulas = [one.formula.formula for one in self.molecular]
        return ", ".join(formulas or [one.formula for one in self.empirical]) or "no formula fits"

    def to_dict(self) -> dict[str, Any]:
        """Return the result as plain data, ready for JSON."""
        return {
            "empirical": [_plain(one) for one in self.empirical],
            "nearest": [_plain(one) for one in self.nearest],
            "molecular": plain(self.molecular),
            "findings": plain(self.findings),
            "work": plain(self.work),
        }


def _plain(one: EmpiricalFormula) -> dict[str, Any]:
    shown = ("formula", "molar_mass", "largest_deviation", "rest", "deviations")
    return {name: rounded(getattr(one, name), 4) for name in shown}


def formulas(
    percent: Mapping[str, Written],
    molar_mass: Written | None = None,
    tolerance: float = Tolerances.percent,
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
    run = Measurement("composition", percent=percent, molar_mass=molar_mass)
    values = {element: quantity.to("%").value for element, quantity in run.percent.items()}
    for element, value in values.items():
        if value > 100.0:
            raise QuantityError(f"{value:g} %", "is above 100", "check it", f"percent {element}")
    mass = None if run.molar_mass is None else run.molar_mass.to("g/mol")
    fitting = empirical_formulas(values, tolerance)[:_SHOWN]
    molecular = [] if mass is None else _molecular(fitting, mass, candidates)
    findings = check(run, percent_tolerance=tolerance)
    if fitting:
        steps = list(_work(values, fitting[0]))
        if mass is not None:
            steps += _multiple(fitting[0], molecular, mass.value)
        findings += _one_element(fitting)
        return FormulaResult(tuple(fitting), (), tuple(molecular), tuple(findings), tuple(steps))
    nearest = tuple(nearest_formulas(values, tolerance))
    return FormulaResult((), nearest, (), tuple(_none_fits(findings, nearest, tolerance)), ())


def _molecular(
    fitting: Sequence[EmpiricalFormula], mass: Quantity, candidates: CandidateTable | None
) -> list[KnownFormula]:
    """Return the multiples of the formulas that have a molar mass, those that are known first."""
    from identify.compounds.loading import load_candidates

    width = Tolerances.molar_mass
    if mass.uncertainty is not None:
        width = min(200.0 * mass.uncertainty / mass.value, 50.0)
    known = Counter((candidates or load_candidates()).text("formula"))
    molecular = [
        KnownFormula(one, None if one.rest else known[one.formula])
        for empirical in fitting
        for one in molecular_formulas(empirical, mass.value, width)
    ]
    # One that is known is likelier than one that merely fits; the fit decides among equals.
    return sorted(molecular, key=lambda one: one.known_compounds == 0)


def _one_element(fitting: list[EmpiricalFormula]) -> Iterator[Finding]:
    """Yield a note where the composition is that of no compound but of an element."""
    best = fitting[0]
    if best.rest or len(best.counts) > 1:
        return
    (element,) = best.counts
    molecule = f"{element}2" if element in _DIATOMIC else element
    yield Finding(
        "element-alone",
        "note",
        f"All of it is {element}: this is an element ({molecule}), no compound.",
        "If there are other elements in it, give their percentages, or this one's alone.",
    )


def _none_fits(
    found: list[Finding], nearest: tuple[EmpiricalFormula, ...], tolerance: float
) -> list[Finding]:
    """Return the findings with one that says that no formula fits, and what is nearest."""
    if any(finding.code in _SAY_WHY for finding in found):
        return found
    # The checks compare more loosely, and name the nearest by a measure of their own.
    kept = [finding for finding in found if finding.code != _NO_FORMULA]
    message = f"No possible formula is within {tolerance:g} percentage points of every element."
    numbers = {"tolerance_percent": tolerance}
    if nearest:
        best = nearest[0]
        element, points = max(best.deviations.items(), key=lambda pair: abs(pair[1]))
        message += (
            f" Nearest is {best.formula}, with {abs(points):.1f} points "
            f"{'more' if points > 0.0 else 'less'} {element}."
        )
        numbers["nearest_off_percent"] = points
    advice = "Check the percentages; one of them may be wrong, or an element may be missing."
    kept.append(Finding(_NO_FORMULA, "warning", message, advice, numbers))
    return worst_first(kept)


_LEAST_SHOWN = 0.0005  # mol in 100 g: less is written as none


def _work(percent: Mapping[str, float], best: EmpiricalFormula) -> Iterator[Step]:
    """Yield the working as a notebook has it: moles in 100 g, their ratio, whole numbers."""
    each = {e: value / ATOMIC_WEIGHTS[e] for e, value in percent.items()}
    moles = {e: amount for e, amount in each.items() if amount >= _LEAST_SHOWN}
    if not moles:
        return
    for element, amount in moles.items():
        yield Step(
            f"moles of {element} in 100 g",
            f"n({element}) = m({element}) / M({element})",
            f"{percent[element]:.4g} g / {ATOMIC_WEIGHTS[element]:g} g/mol",
            f"{amount:.3f} mol",
        )
    least, smallest = min(moles.values()), min(best.counts.values(), default=1)
    ratios = {element: amount / least for element, amount in moles.items()}
    listed = whole = _ratio(ratios, 1)
    yield Step("divided by the smallest", "n / n(smallest)", f"n / {least:.3f}", listed)
    if 1 < smallest <= _LARGEST_MULTIPLE:
        whole = _ratio(ratios, smallest)
        yield Step("made whole", f"times {smallest}", f"{smallest} x ({listed})", whole)
    if all(round(smallest * ratio) == best.counts.get(e) for e, ratio in ratios.items()):
        yield Step("rounded", "to the nearest whole numbers", whole, best.formula)


def _ratio(ratios: Mapping[str, float], times: int) -> str:
    return " : ".join(f"{element} {times * ratio:.2f}" for element, ratio in ratios.items())


def _multiple(
    best: EmpiricalFormula, molecular: list[KnownFormula], molar_mass: float
) -> Iterator[Step]:
    for one in (known.formula for known in molecular):
        if one.counts == {e: one.multiple * count for e, count in best.counts.items()}:
            yield Step(
                "multiple",
                "M / M(empirical)",
                f"{molar_mass:.2f} / {best.molar_mass:.2f}",
                f"{molar_mass / best.molar_mass:.2f}, rounded {one.multiple}: {one.formula}",
            )
            return
