"""Percent composition from what a sample burns to, with oxygen by difference."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import hypot, sqrt

from identify.calculations.working import Step
from identify.notebook.composition.combustion import PRODUCT_OF, grams
from identify.notebook.fields import Written
from identify.notebook.findings import Finding, listed
from identify.notebook.quantity.quantities import Quantity, QuantityError, as_quantity
from identify.notebook.serializing import Serializable, decimals, serialized
from identify.notebook.shown import Shown
from identify.notebook.statistics import to_uncertainty
from identify.physics.combustion import PRODUCTS, BurnedShare, Product

# A recovery beyond this many standard uncertainties is not chance.
_DOUBT = 3.0
_LOST = 1.0  # percent of the sample that absorbers may miss; common practice
# Within so many a percentage cannot be told from zero.
_COVERAGE = 2.0
_SAMPLE = "mass of the sample"


@dataclass(frozen=True)
class MassPercent(Serializable):
    """A percentage by mass and its standard uncertainty, in percentage points.

    `largest` is the reading that makes most of the uncertainty, and `share` the part of the
    variance that this makes, 0 to 1.
    """

    value: float = field(metadata=decimals(4))
    standard_uncertainty: float = field(metadata=decimals(4))
    largest: str = field(metadata=serialized(str, "largest_part"))
    share: float = field(metadata=decimals(4, "largest_part_share"))

    @classmethod
    def of(cls, value: float, contributions: Mapping[str, float]) -> MassPercent:
        """Add up what each reading contributes to the standard uncertainty."""
        size = hypot(*contributions.values())
        largest = max(contributions, key=lambda name: contributions[name])
        return cls(value, size, largest, (contributions[largest] / size) ** 2)

    def __str__(self) -> str:
        return f"{to_uncertainty(self.value, self.standard_uncertainty)} %"


@dataclass(frozen=True, repr=False)
class CompositionResult(Serializable, Shown):
    """Percent composition by element, what is doubtful in it, and the working."""

    percent: Mapping[str, MassPercent]
    findings: tuple[Finding, ...]
    work: tuple[Step, ...]

    main_table = "work"

    @property
    def headline(self) -> str:
        """The composition in a few words."""
        return ", ".join(f"{element} {share}" for element, share in self.percent.items())


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
    every = (burned, *masses.values())
    sample_g, sample_u = grams(burned, every)
    percent: dict[str, MassPercent] = {}
    work = []
    own: dict[str, float] = {}
    for product, mass in masses.items():
        weighed = grams(mass, every)
        one = BurnedShare.of(product, weighed, (sample_g, sample_u))
        own[f"mass of {product.formula}"] = one.by_mass
        parts = {f"mass of {product.formula}": one.by_mass, _SAMPLE: one.by_sample}
        percent[product.element] = share = MassPercent.of(one.value, parts)
        work.append(_step(product, mass, burned, share))
        work.append(_uncertainty_step(product, weighed, (sample_g, sample_u), share))
    total = sum(share.value for share in percent.values())
    left = MassPercent.of(100.0 - total, own | {_SAMPLE: total * sample_u / sample_g})
    findings = [*_recovery(total, left)]
    if not oxygen_by_difference:
        findings += _not_recovered(left)
    elif total < 100.0:
        findings += _oxygen(left, [one for one in ("C", "H") if one not in percent])
        work += _oxygen_steps(percent, left, 100.0 * sample_u / sample_g)
        percent["O"] = left
    return CompositionResult(percent, tuple(findings), tuple(work))


def _product(formula: str) -> Product:
    product = PRODUCT_OF.get(str(formula).strip())
    if product is None:
        known = ", ".join(PRODUCT_OF)
        raise QuantityError(str(formula), "is not a combustion product known here", f"use {known}")
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


def _step(product: Product, mass: Quantity, sample: Quantity, share: MassPercent) -> Step:
    count = "" if product.atoms == 1 else f"{product.atoms} "
    times = "" if product.atoms == 1 else f"{product.atoms} x "
    return Step(
        f"{product.element} from {product.name}",
        f"{product.element} = 100 m({product.formula}) {count}M({product.element}) / "
        f"M({product.formula}) / m(sample)",
        f"100 x {mass} x {times}{product.atomic_weight:g} / {product.molar_mass:.3f} / {sample}",
        str(share),
    )


def _uncertainty_step(
    product: Product, mass: tuple[float, float], sample: tuple[float, float], share: MassPercent
) -> Step:
    element = product.element
    return Step(
        "its standard uncertainty: of each mass as stated, else one of its last digit",
        f"u({element}) = {element} sqrt((u(m) / m({product.formula}))^2 + "
        "(u(sample) / m(sample))^2)",
        f"{share.value:.2f} % x sqrt(({mass[1]:g} / {mass[0]:g})^2 + "
        f"({sample[1]:g} / {sample[0]:g})^2)",
        str(share).split("± ")[-1],
    )


def _oxygen_steps(
    percent: Mapping[str, MassPercent], left: MassPercent, sample_u: float
) -> tuple[Step, Step]:
    """Return the working of oxygen; the sample's uncertainty is in percent."""
    shares = tuple(percent.values())
    # What is left of a share's uncertainty without the sample's part in it.
    own = [
        sqrt(max(share.standard_uncertainty**2 - (0.01 * share.value * sample_u) ** 2, 0.0))
        for share in shares
    ]
    total = sum(share.value for share in shares)
    return (
        Step(
            "oxygen, by difference",
            "O = 100 - all others",
            "100 - " + " - ".join(f"{share.value:.4f}" for share in shares),
            str(left),
        ),
        Step(
            "its standard uncertainty: the other masses' parts, and the sample's in their sum",
            "u(O) = sqrt(sum of (E u(m) / m)^2 + (sum of E u(sample) / m(sample))^2)",
            "sqrt("
            + " + ".join(f"{one:.4f}^2" for one in own)
            + f" + ({total:.2f} x {0.01 * sample_u:.3g})^2) %",
            str(left).split("± ")[-1],
        ),
    )


def _recovery(total: float, left: MassPercent) -> Iterator[Finding]:
    """Yield a finding where more was collected than was burned."""
    if total <= 100.0:
        return
    off = left.standard_uncertainty
    by_chance = total - 100.0 <= _DOUBT * off
    yield Finding(
        "recovery-above-100",
        "note" if by_chance else "error",
        f"What was collected holds {total:.2f} % of the sample's mass (standard uncertainty "
        f"{off:.2f}), more than was burned.",
        "Within the errors there is no oxygen in it."
        if by_chance
        else "Look at the masses again, whether the products were dry, and the absorbers new.",
        {"recovered_percent": total, "standard_uncertainty_percent": off},
    )


def _oxygen(left: MassPercent, missing: Sequence[str]) -> Iterator[Finding]:
    """Yield what is doubtful about oxygen by difference, where some elements were not weighed."""
    if left.value <= _COVERAGE * left.standard_uncertainty:
        yield Finding(
            "oxygen-within-errors",
            "note",
            f"What is left for oxygen is {left}, no more than the errors of the masses make.",
            "Within the errors there is no oxygen in it.",
            {"percent": left.value, "standard_uncertainty_percent": left.standard_uncertainty},
        )
    if missing:
        products = [one.name for one in PRODUCTS if one.element in missing]
        yield Finding(
            "left-holds-more",
            "warning",
            f"What is left for oxygen, {left}, holds {listed(missing)} as well: no "
            f"{listed(products)} was weighed.",
            "Give what the absorbers gained of it, or take this for no percentage of oxygen.",
            {"percent": left.value},
        )


def _not_recovered(left: MassPercent) -> Iterator[Finding]:
    """Yield a finding where the products hold less than the sample, and oxygen is not taken."""
    if left.value > max(_LOST, _DOUBT * left.standard_uncertainty):
        yield Finding(
            "recovery-below-100",
            "warning",
            f"{left} of the sample's mass is in nothing that was collected.",
            "If it holds oxygen, take that by difference; if not, an element was not looked for, "
            "or a product was not caught.",
            {"percent": left.value, "standard_uncertainty_percent": left.standard_uncertainty},
        )
