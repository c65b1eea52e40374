"""What a match takes for granted: how the class works, which liquids are common, what agrees."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from identify.matching.totals import OUTSIDE, outside_share
from identify.notebook.errors import UnusableInput
from identify.observables.error.technique import Technique
from identify.observables.tolerances import Tolerances

Prior = Literal["classroom", "commerce", "uniform"]
DEFAULT_PRIOR: Prior = "classroom"
"""Whoever weighs a vapor is a class, nearly always."""


@dataclass(frozen=True)
class MatchSettings:
    """What a match takes for granted.

    Parameters
    ----------
    tolerances : Tolerances
    prior : {"classroom", "commerce", "uniform"}
        The table's column ``classroom`` or ``prior``, or all candidates alike.
    outside : float
        Assumed share of liquids that are not in the table.
    technique : Technique
        How well the class works.
    """

    tolerances: Tolerances
    prior: Prior
    outside: float
    technique: Technique

    @classmethod
    def of(
        cls,
        tolerances: Tolerances | None = None,
        prior: Prior = DEFAULT_PRIOR,
        outside: str | float = OUTSIDE,
        technique: Technique | str | None = None,
    ) -> MatchSettings:
        """Take what a caller gave, and the usual where nothing was.

        Where no technique is given, an explicit tolerance of the molar mass says it; else nothing
        is known of it.

        Raises
        ------
        ValueError
            If there is no such prior, share or technique.
        TypeError
            If the tolerances are none.
        """
        if not isinstance(tolerances, Tolerances | None):
            raise TypeError(f"tolerances: {tolerances!r} is not a Tolerances; make one of it")
        if prior not in get_args(Prior):
            raise UnusableInput(f'prior: "{prior}" is not one of {", ".join(get_args(Prior))}')
        tolerances = tolerances or Tolerances()
        known = _technique(technique, tolerances)
        return cls(tolerances, prior, outside_share(outside), known)


def _technique(technique: Technique | str | None, tolerances: Tolerances) -> Technique:
    if technique is None and tolerances.molar_mass_given:
        return Technique.of_tolerance(tolerances.molar_mass)
    return Technique.of(technique)
