"""A formula as it is written: reading and writing it, its molar mass and percent composition.

Every function that takes a formula as text raises `FormulaError` as `parse_formula` does.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from identify.notebook.errors import UnusableInput
from identify.notebook.quantity.units import excerpt, plain_characters
from identify.physics.constants import ATOMIC_WEIGHTS, ELEMENTS

Counts = Mapping[str, int]

_MAX_COUNT = 9999  # atoms of an element in a formula that is read
_MAX_FORMULA_LENGTH = 200  # characters
_TOKEN = re.compile(r"([A-Z][a-z]?)(\d*)|([(\[])|([)\]])(\d*)")


class FormulaError(UnusableInput):
    """A formula or a composition that cannot be used; the text says why and what to do."""


def parse_formula(formula: str) -> dict[str, int]:
    """Read a formula.

    Parameters
    ----------
    formula : str
        Such as ``"C2H6O"``, ``"CH3(CH2)2OH"``, ``"C₂H₄Cl₂"``; elements from `ELEMENTS`.

    Returns
    -------
    dict of str to int
        Atoms of each element, in the order of `ELEMENTS`.

    Raises
    ------
    FormulaError
        If it cannot be read, or names an element that is not in `ELEMENTS`.

    Examples
    --------
    >>> parse_formula("CH3(CH2)2OH")
    {'C': 3, 'H': 8, 'O': 1}
    """
    text = plain_characters(str(formula).strip())
    shown = excerpt(formula)
    if not 0 < len(text) <= _MAX_FORMULA_LENGTH:
        raise FormulaError(f'"{shown}" is not a formula; write it like C2H6O')
    counts = _counted(text, shown)
    if max(counts.values(), default=0) > _MAX_COUNT:
        raise FormulaError(f'"{shown}" has more than {_MAX_COUNT} atoms of an element; check')
    if not counts:
        raise FormulaError(f'"{shown}" has no element in it; write it like C2H6O')
    return {element: counts[element] for element in ELEMENTS if element in counts}


def _counted(text: str, shown: str) -> dict[str, int]:
    """Count the atoms of a formula, with its brackets multiplied out."""
    groups: list[dict[str, int]] = [{}]  # the formula, and the brackets that are open
    for element, number, opens, closes, repeats in _tokens(text, shown):
        if element:
            _add(groups[-1], {element: 1}, _multiplier(number, shown))
        elif opens:
            groups.append({})
        elif closes:
            if len(groups) == 1:
                raise FormulaError(f'"{shown}" closes a bracket that was not opened; add it')
            group = groups.pop()
            _add(groups[-1], group, _multiplier(repeats, shown))
    if len(groups) > 1:
        raise FormulaError(f'"{shown}" opens a bracket that is not closed; add it')
    return groups[0]


def _tokens(text: str, shown: str) -> Iterator[tuple[str, ...]]:
    """Yield element and number, or an opening bracket, or a closing one and its number."""
    position = 0
    while position < len(text):
        token = _TOKEN.match(text, position)
        if token is None:
            mark = "a space" if text[position].isspace() else f'"{excerpt(text[position])}"'
            raise FormulaError(
                f'"{shown}" has {mark} where an element should be; write it like C2H6O'
            )
        if token[1] and token[1] not in ATOMIC_WEIGHTS:
            raise FormulaError(
                f'"{shown}" has {token[1]}, which is not an element known here; '
                f"there are {', '.join(ELEMENTS)}"
            )
        position = token.end()
        yield token.groups()


def _multiplier(digits: str, shown: str) -> int:
    number = int(digits[:6]) if digits else 1
    if not 0 < number <= _MAX_COUNT:
        raise FormulaError(f'"{shown}" has {digits[:6]} atoms; write 1 to {_MAX_COUNT}')
    return number


def _add(counts: dict[str, int], group: Counts, times: int) -> None:
    for element, number in group.items():
        counts[element] = counts.get(element, 0) + number * times


def hill_formula(counts: Counts) -> str:
    """Write a formula in Hill order: C, H, then the others by alphabet; without C all by alphabet.

    Examples
    --------
    >>> hill_formula({"O": 1, "H": 6, "C": 2}), hill_formula({"H": 4, "Cl": 0, "Si": 1})
    ('C2H6O', 'H4Si')
    """
    present = {element: number for element, number in counts.items() if number}
    first = [e for e in ("C", "H") if e in present] if "C" in present else []
    order = [*first, *sorted(set(present) - set(first))]
    return "".join(f"{e}{present[e] if present[e] > 1 else ''}" for e in order)


def molar_mass(formula: str | Counts) -> float:
    """Return the molar mass of a formula [g/mol].

    Examples
    --------
    >>> round(molar_mass("C2H4Cl2"), 2)
    98.95
    """
    return sum(ATOMIC_WEIGHTS[element] * number for element, number in as_counts(formula).items())


def percent_composition(formula: str | Counts) -> dict[str, float]:
    """Return the percent by mass of each element.

    Examples
    --------
    >>> {element: round(value, 2) for element, value in percent_composition("CH4O").items()}
    {'C': 37.49, 'H': 12.58, 'O': 49.93}
    """
    counts = as_counts(formula)
    total = molar_mass(counts)
    return {e: 100.0 * ATOMIC_WEIGHTS[e] * number / total for e, number in counts.items()}


def as_counts(formula: str | Counts) -> Counts:
    """Return the atoms of each element, reading the formula where it is text."""
    return parse_formula(formula) if isinstance(formula, str) else formula
