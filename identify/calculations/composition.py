"""Percent composition from what a sample burns to, with oxygen by difference."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot, sqrt
from typing import Any

from identify.calculations.working import Step
from identify.findings import Finding
from identify.measurement import Written
from identify.physics.combustion import PRODUCTS, Product
from identify.quantities import Quantity, QuantityError, as_quantity
from identify.statistics import justified

# Standard uncertainty of a weighing that states none: one unit of the last digit of the balance,
# which reads 1 mg at least. Common practice.
BALANCE = 0.001  # g
# A recovery beyond this many standard uncertainties is no chance.
_DOUBT = 3.0
_BY_FORMULA = {product.formula: product for product in PRODUCTS}


@dataclass(frozen=True)
class Share:
    """A percentage by mass and its standard uncertainty, in percentage points."""

    value: float
    standard_uncertainty: float

    def __str__(self) -> str:
        return f"{justified(self.value, self.standard_uncertainty)} %"


@dataclass(frozen=True)
class CompositionResult:
    """Percent composition by element, what is doubtful in it, and the working."""

    percent: Mapping[str, Share]
    findings: tuple[Finding, ...]
    work: tuple[Step, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the result as plain data, ready for JSON."""
        return {
            "percent": {
                element: {
                    "value": round(share.value, 4),
                    "standard_uncertainty": round(share.standard_uncertainty, 4),
                }
                for element, share in self.percent.items()
            },
            "findings": [finding.to_dict() for finding in self.findings],
            "work": [step.to_dict() for step in self.work],
        }


def composition(
    sample: Written, collected: Mapping[str, Written], oxygen_by_difference: bool = True
) -> CompositionResult:
    """Return the percent composition of a burned sample.

    Parameters
    ----------
    sample : quantity
        Mass of what was burned, plain numbers in g.
    collected : mapping of str to quantity
        Masses of what was weighed of it, by formula: ``CO2 H2O N2 SO2 AgCl AgBr AgI``.
    oxygen_by_difference : bool, default=True
        What is left to 100 % counts as oxygen. It carries the uncertainties of all the others.

    Returns
    -------
    CompositionResult

    Raises
    ------
    QuantityError
        If a mass cannot be read, is missing or zero, or is of a product not listed above.

    References
    ----------
    JCGM 100:2008 (GUM), section 5: first-order propagation. The sample's mass is in every
    percentage, so that its error moves all of them together.

    Examples
    --------
    >>> found = composition("0.4310 g", {"CO2": "0.8235 g", "H2O": "0.5057 g"})
    >>> print(*(f"{element} {share}" for element, share in found.percent.items()), sep="; ")
    C 52.146 ± 0.014 %; H 13.130 ± 0.004 %; O 34.723 ± 0.017 %
    """
    burned = _mass(sample, "sample")
    masses = {_product(formula): _mass(mass, formula) for formula, mass in collected.items()}
    if not masses:
        raise QuantityError("", "names nothing that was collected", "give CO2 and H2O at least")
    sample_g, sample_u = _grams(burned, burned, masses)
    percent: dict[str, Share] = {}
    work = []
    own = 0.0
    for product, mass in masses.items():
        mass_g, mass_u = _grams(mass, burned, masses)
        value = 100.0 * product.share * mass_g / sample_g
        by_mass = 100.0 * product.share * mass_u / sample_g
        own += by_mass * by_mass
        share = Share(value, hypot(by_mass, value * sample_u / sample_g))
        percent[product.element] = share
        work.append(_step(product, mass, burned, share))
    total = sum(share.value for share in percent.values())
    total_u = sqrt(own + (total * sample_u / sample_g) ** 2)
    findings = tuple(_recovery(total, total_u))
    if oxygen_by_difference and total < 100.0:
        left = Share(100.0 - total, total_u)
        others = " - ".join(f"{share.value:.2f}" for share in percent.values())
        work.append(
            Step("oxygen, by difference", "O = 100 - all others", f"100 - {others}", str(left))
        )
        percent["O"] = left
    return CompositionResult(percent, findings, tuple(work))


def _product(formula: str) -> Product:
    product = _BY_FORMULA.get(str(formula).strip())
    if product is None:
        known = ", ".join(_BY_FORMULA)
        raise QuantityError(str(formula), "is no product of a combustion here", f"use {known}")
    return product


def _mass(written: Written, field: str) -> Quantity:
    try:
        mass = as_quantity(written, "mass", "g")
    except QuantityError as error:
        error.field = field
        raise
    if mass is None or not mass.value > 0.0:
        raise QuantityError("" if mass is None else str(mass), "has no mass", "weigh it", field)
    return mass


def _grams(
    mass: Quantity, sample: Quantity, masses: Mapping[Product, Quantity]
) -> tuple[float, float]:
    """Return a mass and its standard uncertainty [g]: as stated, else by the balance's digit."""
    read = mass.to("g")
    if read.uncertainty is not None:
        return read.value, read.uncertainty
    # The finest of all: a spreadsheet drops zeros at the end.
    digits = (
        Quantity(one.last_digit, one.unit).to("g").value for one in (sample, *masses.values())
    )
    return read.value, min(BALANCE, *digits)


def _step(product: Product, mass: Quantity, sample: Quantity, share: Share) -> Step:
    count = "" if product.atoms == 1 else f"{product.atoms} "
    times = "" if product.atoms == 1 else f"{product.atoms} x "
    return Step(
        f"{product.element} from {product.name}",
        f"{product.element} = 100 m({product.formula}) {count}M({product.element}) / "
        f"M({product.formula}) / m(sample)",
        f"100 x {mass} x {times}{product.atomic_weight:g} / {product.molar_mass:.3f} / {sample}",
        str(share),
    )


def _recovery(total: float, total_u: float) -> list[Finding]:
    if total <= 100.0:
        return []
    by_chance = total - 100.0 <= _DOUBT * total_u
    return [
        Finding(
            "recovery-above-100",
            "note" if by_chance else "error",
            f"What was collected holds {total:.2f} % of the sample's mass (standard uncertainty "
            f"{total_u:.2f}), more than was burned.",
            "Within the errors there is no oxygen in it."
            if by_chance
            else "Look at the masses again, whether the products were dry, and the absorbers new.",
            {"recovered_percent": total, "standard_uncertainty_percent": total_u},
        )
    ]
