"""The masses of a combustion as they were weighed, and the percentages that follow from them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import hypot

from identify.notebook.quantity.quantities import Quantity
from identify.notebook.usual import BALANCE
from identify.physics.combustion import PRODUCTS, BurnedShare

# Percentage points: two combustions of one sample differ by more than a balance does. 0.4 is the
# usual limit for accepting an analysis, and half of it a standard uncertainty.
_NO_OXYGEN = 0.4
_AS_USUAL = 0.2

PRODUCT_OF = {product.formula: product for product in PRODUCTS}


def grams(mass: Quantity, all_masses: Iterable[Quantity]) -> tuple[float, float]:
    """Return a mass and its standard uncertainty [g]: as stated, else by the balance's digit.

    The digit is the finest of all the masses: a spreadsheet drops zeros at the end.
    """
    read = mass.to("g")
    if read.uncertainty is not None:
        return read.value, read.uncertainty
    digits = (Quantity(one.last_digit, one.unit).to("g").value for one in all_masses)
    return read.value, min(BALANCE, *digits)


def burned_percent(sample: Quantity, collected: Mapping[str, Quantity]) -> dict[str, Quantity]:
    """Return the percentages of the elements whose products were weighed, and of oxygen.

    Where carbon dioxide and water were weighed, what is left to 100 % is oxygen, as everywhere that
    a combustion is worked out; no more than `_NO_OXYGEN` is none. The weighings' uncertainty is
    stated only where it is larger than that of usual combustions, `_AS_USUAL`.

    Parameters
    ----------
    sample : quantity
        Mass of what was burned, above zero.
    collected : mapping of str to quantity
        Masses by formula, of `PRODUCT_OF`.

    Examples
    --------
    >>> masses = {"CO2": Quantity(0.8235, "g"), "H2O": Quantity(0.5057, "g")}
    >>> found = burned_percent(Quantity(0.4310, "g"), masses)
    >>> print(*(f"{element} {share}" for element, share in found.items()), sep="; ")
    C 52.146 %; H 13.13 %; O 34.723 %
    """
    every = (sample, *collected.values())
    burned = grams(sample, every)
    shares = [
        BurnedShare.of(PRODUCT_OF[formula], grams(mass, every), burned)
        for formula, mass in collected.items()
    ]
    percent = {
        one.product.element: _percent(one.value, hypot(one.by_mass, one.by_sample))
        for one in shares
    }
    left = 100.0 - sum(one.value for one in shares)
    # The sample's uncertainty is common to all elements, those of the products are not.
    of_left = hypot(sum(one.by_sample for one in shares), *(one.by_mass for one in shares))
    if {"C", "H"} <= percent.keys() and left > max(_NO_OXYGEN, 2.0 * of_left):
        percent["O"] = _percent(left, of_left)
    return percent


def _percent(value: float, uncertainty: float) -> Quantity:
    return Quantity(round(value, 3), "%", uncertainty if uncertainty > _AS_USUAL else None)
