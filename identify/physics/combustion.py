"""Percent composition from the products of a combustion."""

from __future__ import annotations

# IUPAC Technical Report, Standard atomic weights of the elements 2021 (Pure Appl. Chem. 2022, 94,
# 573), conventional and abridged values [g/mol].
_CARBON, _HYDROGEN, _OXYGEN = 12.011, 1.008, 15.999


def percent_from_combustion(sample: float, carbon_dioxide: float, water: float) -> dict[str, float]:
    """Return the percentages of carbon and hydrogen, and of oxygen by difference.

    Parameters
    ----------
    sample, carbon_dioxide, water : float
        Masses of what was burned and of what was collected, in one unit.

    Returns
    -------
    dict of str to float
        Percent by mass of C, H and O; O below zero says that more was collected than burned.

    Raises
    ------
    ValueError
        If the sample has no mass.

    Examples
    --------
    Ethanol, 0.4310 g:

    >>> {e: round(p, 1) for e, p in percent_from_combustion(0.4310, 0.8235, 0.5057).items()}
    {'C': 52.1, 'H': 13.1, 'O': 34.7}
    """
    if not sample > 0.0:
        raise ValueError(f"the sample's mass is {sample:g}; it must be above zero")
    carbon = 100.0 * carbon_dioxide * _CARBON / (_CARBON + 2.0 * _OXYGEN) / sample
    hydrogen = 100.0 * water * 2.0 * _HYDROGEN / (2.0 * _HYDROGEN + _OXYGEN) / sample
    return {"C": carbon, "H": hydrogen, "O": 100.0 - carbon - hydrogen}
