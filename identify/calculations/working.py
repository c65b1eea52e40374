"""The working of a calculation: line by line, as a notebook would show it."""

from __future__ import annotations

from dataclasses import dataclass

from identify.notebook.serializing import Serializable


@dataclass(frozen=True)
class Step(Serializable):
    """One line of the working.

    Parameters
    ----------
    what : str
        What is worked out.
    formula : str
        In symbols.
    numbers : str
        The same with the numbers put in.
    result : str
        With its unit.
    """

    what: str
    formula: str
    numbers: str
    result: str
