"""What the elements of a burned sample are weighed as."""

from __future__ import annotations

from dataclasses import dataclass

from identify.physics.constants import ATOMIC_WEIGHTS

_W = ATOMIC_WEIGHTS
_SILVER = 107.87  # g/mol; from the same table as the other atomic weights


@dataclass(frozen=True)
class Product:
    """A substance that an element of the sample is weighed as.

    Parameters
    ----------
    name : str
    element : str
    formula : str
    atoms : int
        Of the element in one formula.
    atomic_weight, molar_mass : float
        Of the element and of the product [g/mol].
    """

    name: str
    element: str
    formula: str
    atoms: int
    atomic_weight: float
    molar_mass: float

    @property
    def share(self) -> float:
        """Mass of the element over mass of the product."""
        return self.atoms * self.atomic_weight / self.molar_mass


PRODUCTS: tuple[Product, ...] = (
    Product("carbon dioxide", "C", "CO2", 1, _W["C"], _W["C"] + 2 * _W["O"]),
    Product("water", "H", "H2O", 2, _W["H"], 2 * _W["H"] + _W["O"]),
    Product("nitrogen", "N", "N2", 2, _W["N"], 2 * _W["N"]),
    Product("sulfur dioxide", "S", "SO2", 1, _W["S"], _W["S"] + 2 * _W["O"]),
    Product("silver chloride", "Cl", "AgCl", 1, _W["Cl"], _SILVER + _W["Cl"]),
    Product("silver bromide", "Br", "AgBr", 1, _W["Br"], _SILVER + _W["Br"]),
    Product("silver iodide", "I", "AgI", 1, _W["I"], _SILVER + _W["I"]),
)


@dataclass(frozen=True)
class BurnedShare:
    """The percentage of an element in a burned sample, and what makes it uncertain.

    Parameters
    ----------
    product : Product
    value : float
        Percent by mass.
    by_mass, by_sample : float
        What the standard uncertainty of the product's mass contributes to its own, and what the
        sample's does [percent]; the sample's is common to all elements.
    """

    product: Product
    value: float
    by_mass: float
    by_sample: float

    @classmethod
    def of(
        cls, product: Product, mass: tuple[float, float], sample: tuple[float, float]
    ) -> BurnedShare:
        """Work it out of two masses with their standard uncertainties, all in one unit."""
        value = 100.0 * product.share * mass[0] / sample[0]
        by_mass = 100.0 * product.share * mass[1] / sample[0]
        return cls(product, value, by_mass, value * sample[1] / sample[0])
