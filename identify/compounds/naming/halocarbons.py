"""What the number of a halocarbon says of its atoms."""

from __future__ import annotations

import re

# Of 400 and above, numbers are given in order and say nothing.
_NUMBERED = re.compile(r"freon-([1-3]?)(\d)(\d)[a-z]{0,2}(?:b(\d))?")


def formula_of_number(folded: str) -> dict[str, int] | None:
    """Return how many atoms of each element the number of a halocarbon stands for.

    The hundreds are the carbon atoms less one, the tens the hydrogen atoms plus one, the ones the
    fluorine atoms; chlorine fills what is left, save the bromine atoms behind a B. Source: ASHRAE
    Standard 34, from memory.

    Parameters
    ----------
    folded : str
        As `identify.compounds.naming.spelling.folded_name` gives it.

    Returns
    -------
    dict or None
        None where the name is not such a number.

    Examples
    --------
    >>> formula_of_number("freon-113"), formula_of_number("freon-141b")
    ({'C': 2, 'Cl': 3, 'F': 3}, {'C': 2, 'H': 3, 'Cl': 2, 'F': 1})
    >>> formula_of_number("freon-114b2")
    {'C': 2, 'F': 4, 'Br': 2}
    """
    found = _NUMBERED.fullmatch(folded)
    if found is None:
        return None
    carbon, hydrogen = int(found[1] or 0) + 1, int(found[2]) - 1
    fluorine, bromine = int(found[3]), int(found[4] or 0)
    chlorine = 2 * carbon + 2 - hydrogen - fluorine - bromine
    counts = {"C": carbon, "H": hydrogen, "Cl": chlorine, "F": fluorine, "Br": bromine}
    return {element: count for element, count in counts.items() if count}
